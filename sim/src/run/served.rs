//! The simulated device's end of the line: whoever connects sees a live device, in simulated time
//! that is paced by a clock.

use std::collections::VecDeque;
use std::io::{ErrorKind, Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::time::{Duration, Instant};

use drydown::bench::Findings;
use drydown::logbook::{Day, Entry, Logbook, Row, Scribe};
use drydown::persist::Settings;
use drydown::persist::configuration::identity;
use drydown::quantity::{DeciCelsius, Millis};
use drydown::well::OfBoard;
use drydown::wire::{
    Answer, Around, DeviceEnd, Felt, Head, Heard, Identity, MOST_BYTES, Page, Paged, Reply, Report,
    Request, encode, zone_of,
};
use drydown::zone::{CheckedZone, Inputs, Link, Next, Outcome, Zone};

use crate::error::InputError;

/// Nothing is heard for so long, by the clock on the wall: the line counts as down.
const QUIET: Millis = Millis::from_secs(30);
/// Days that are kept.
const YEAR: usize = 366;
/// How long to sleep between two looks at the line.
const NAP: Duration = Duration::from_millis(2);

/// A line on which a simulated device is served, and what the device keeps across its resets.
pub struct Served {
    listener: TcpListener,
    stream: Option<TcpStream>,
    inbox: VecDeque<u8>,
    end: DeviceEnd,
    began: Instant,
    /// Simulated seconds in one on the wall.
    speed: f64,
    edges: Logbook<64>,
    scribe: Scribe,
    rows: VecDeque<Row>,
    days: VecDeque<Day>,
    boot: u16,
    settings: Settings,
    /// They are kept, and no longer pass.
    refused: bool,
    next: Next,
    /// What the last step was shown, and the temperature that it last was.
    inputs: Inputs,
    air: Option<DeciCelsius>,
    outcome: Option<Outcome>,
}

impl Served {
    /// Listens on `place`, `HOST:PORT`.
    ///
    /// # Errors
    /// That nobody can listen there.
    pub fn listen(place: &str, speed: f64) -> Result<Self, InputError> {
        let failed = |cause: std::io::Error| {
            InputError::new(format!("cannot be served on: {cause}"))
                .field("--serve")
                .value(format!("tcp:{place}"))
        };
        let listener = TcpListener::bind(place).map_err(failed)?;
        listener.set_nonblocking(true).map_err(failed)?;
        Ok(Self {
            listener,
            stream: None,
            inbox: VecDeque::new(),
            end: DeviceEnd::new(QUIET),
            began: Instant::now(),
            speed,
            edges: Logbook::new(),
            scribe: Scribe::new(0, 0, 0),
            rows: VecDeque::new(),
            days: VecDeque::new(),
            boot: 0,
            settings: Settings::default(),
            refused: false,
            next: Next { at: 0, sample: None, power_probe_at: None },
            inputs: Inputs::default(),
            air: None,
            outcome: None,
        })
    }

    /// Where it listens.
    ///
    /// # Errors
    /// The system's own.
    pub fn place(&self) -> std::io::Result<SocketAddr> {
        self.listener.local_addr()
    }

    /// The device boots: with what its owner changed, where that still passes.
    pub(super) fn boot(&mut self, built_in: &CheckedZone) -> CheckedZone {
        self.boot = self.boot.saturating_add(1);
        let next_row = self.rows.back().map_or(0, |row| row.number.saturating_add(1));
        let next_day = self.days.back().map_or(0, |day| day.number.saturating_add(1));
        self.scribe = Scribe::new(self.boot, next_row, next_day);
        let told = self.days.back().map(|day| day.last_row);
        for row in self.rows.iter().filter(|row| told.is_none_or(|last| row.number > last)) {
            self.scribe.resume(row);
        }
        self.edges = Logbook::new();
        self.end = DeviceEnd::new(QUIET);
        self.inbox.clear();
        let changed = built_in.with(&self.settings);
        self.refused = changed.is_err();
        changed.unwrap_or(*built_in)
    }

    /// Milliseconds on the wall: silence is a person's, and counts on no simulated clock.
    fn wall_ms(&self) -> u64 {
        self.began.elapsed().as_millis() as u64
    }

    pub(super) fn link(&self) -> Link {
        self.end.link(self.wall_ms())
    }

    /// Waits for the simulated instant `until_ms`, or for bytes that come before: returns the
    /// instant that was reached, after `from_ms`.
    pub(super) fn wait(&mut self, from_ms: u64, until_ms: u64) -> u64 {
        loop {
            self.hear();
            let reached = (self.began.elapsed().as_secs_f64() * 1e3 * self.speed) as u64;
            if reached >= until_ms {
                return until_ms;
            }
            if !self.inbox.is_empty() {
                return reached.max(from_ms + 1);
            }
            let left = (until_ms - reached) as f64 / self.speed / 1e3;
            std::thread::sleep(Duration::from_secs_f64(left).min(NAP));
        }
    }

    /// Takes what came, and a caller if there is none.
    fn hear(&mut self) {
        if self.stream.is_none() {
            // Another caller waits until this one is gone.
            self.stream = self.listener.accept().ok().and_then(|(stream, _)| {
                stream.set_nonblocking(true).ok()?;
                stream.set_nodelay(true).ok()?;
                Some(stream)
            });
        }
        let Some(stream) = &mut self.stream else { return };
        let mut bytes = [0; 256];
        match stream.read(&mut bytes) {
            Ok(0) => self.stream = None,
            Ok(count) => self.inbox.extend(&bytes[..count]),
            Err(cause) if is_early(cause.kind()) => {}
            Err(_) => self.stream = None,
        }
    }

    /// The next request that came; `None` when there is none. What comes while the link is cut is
    /// lost.
    pub(super) fn next_request(&mut self, cut: bool) -> Option<(Head, Request)> {
        if cut {
            self.inbox.clear();
        }
        while let Some(byte) = self.inbox.pop_front() {
            let wall_ms = self.wall_ms();
            match self.end.take(wall_ms, byte) {
                None => {}
                Some(Heard::Reply(head, answer)) => self.send(head, &Reply::Answer(answer)),
                Some(Heard::Request(head, request)) => match zone_of(head, 1) {
                    Ok(_) => return Some((head, request)),
                    Err(answer) => self.send(head, &Reply::Answer(answer)),
                },
            }
        }
        None
    }

    /// Looks at a turn of the device.
    pub(super) fn note(&mut self, now: u64, zone: &Zone, inputs: &Inputs, outcome: &Outcome) {
        self.edges.note(now, outcome);
        if let Some((row, day)) = self.scribe.note(now, zone, inputs, outcome) {
            keep(&mut self.rows, row, Scribe::TWO_WEEKS);
            if let Some(day) = day {
                keep(&mut self.days, day, YEAR);
            }
        }
        self.next = outcome.next;
        self.inputs = inputs.clone();
        self.air = inputs.air.and_then(|air| air.temperature).or(self.air);
        self.outcome = Some(outcome.clone());
    }

    /// Replies to what asks for nothing but a look, and to an order whose turn was just noted.
    pub(super) fn reply(&mut self, head: Head, request: Request, zone: &Zone, now: u64) {
        match request {
            Request::Who => {
                let told = Identity {
                    board: "simulated device",
                    firmware: concat!("drydown ", env!("CARGO_PKG_VERSION")),
                    config: identity(zone.config()),
                    zones: 1,
                    boot: self.boot,
                };
                self.send(head, &Reply::Identity(told));
            }
            Request::Look => {
                let felt = self.air.map(|temperature| Ok(Felt { temperature, humidity: None }));
                let around = Around {
                    now,
                    boot: self.boot,
                    inputs: &self.inputs,
                    next: self.next,
                    last: self.edges.newest(),
                    damaged: self.end.damaged(),
                    air: felt,
                    board: OfBoard { kept_refused: self.refused, ..OfBoard::default() },
                };
                self.send(head, &Reply::Report(Report::of(zone, &around)));
            }
            Request::Edges { from } => {
                let first = from.clamp(self.edges.dropped(), self.edges.end());
                let bytes: Vec<u8> = self
                    .edges
                    .from(first)
                    .take(Page::<Entry>::MOST)
                    .flat_map(Entry::to_bytes)
                    .collect();
                self.send(head, &Reply::Edges(Page::new(first, self.edges.end(), &bytes)));
            }
            Request::Rows { from } => {
                let (first, end, bytes) = page(&self.rows, from, |row| row.number, Row::to_bytes);
                self.send(head, &Reply::Rows(Page::new(first, end, &bytes)));
            }
            Request::Days { from } => {
                let (first, end, bytes) = page(&self.days, from, |day| day.number, Day::to_bytes);
                self.send(head, &Reply::Days(Page::new(first, end, &bytes)));
            }
            Request::Order(order) => {
                let answer = match &self.outcome {
                    Some(outcome) => Answer::to_order(order, zone, outcome),
                    None => Answer::NotNow,
                };
                self.answer(head, request, answer);
            }
            // Nobody stands at it who could check anything.
            Request::Findings => {
                self.send(head, &Reply::Findings(Findings::new(identity(zone.config()))));
            }
            Request::Probe { .. } | Request::Change(_) => {
                self.answer(head, request, Answer::NotNow);
            }
        }
    }

    /// The settings were changed, or not; they outlast a reset.
    pub(super) fn changed(&mut self, head: Head, settings: Settings, answer: Answer<'static>) {
        if answer == Answer::Done {
            self.settings = self.settings.changed(&settings);
        }
        self.answer(head, Request::Change(settings), answer);
    }

    fn answer(&mut self, head: Head, request: Request, answer: Answer<'static>) {
        self.end.remember(head, request, answer);
        self.send(head, &Reply::Answer(answer));
    }

    /// Sends a reply. A caller that does not take it in time is gone.
    pub(super) fn send(&mut self, head: Head, reply: &Reply<'_>) {
        let mut out = [0; MOST_BYTES];
        let mut bytes = encode(head, reply, &mut out);
        let until = Instant::now() + Duration::from_secs(1);
        while let Some(stream) = &mut self.stream {
            match stream.write(bytes) {
                Ok(count) if count == bytes.len() => return,
                Ok(count) if count > 0 => bytes = &bytes[count..],
                Err(cause) if is_early(cause.kind()) && Instant::now() < until => {
                    std::thread::sleep(NAP);
                }
                _ => self.stream = None,
            }
        }
    }
}

fn is_early(kind: ErrorKind) -> bool {
    matches!(kind, ErrorKind::WouldBlock | ErrorKind::Interrupted)
}

fn keep<T>(kept: &mut VecDeque<T>, new: T, most: usize) {
    if kept.len() >= most {
        kept.pop_front();
    }
    kept.push_back(new);
}

/// The number of the first on the page, the number after the newest, and the page's bytes.
fn page<T: Paged, const N: usize>(
    kept: &VecDeque<T>,
    from: u32,
    number: fn(&T) -> u32,
    bytes: fn(&T) -> [u8; N],
) -> (u32, u32, Vec<u8>) {
    let end = kept.back().map_or(0, |newest| number(newest).saturating_add(1));
    let first = from.max(kept.front().map_or(0, number)).min(end);
    let skipped = kept.iter().position(|one| number(one) >= first).unwrap_or(kept.len());
    let most = Page::<T>::MOST;
    (first, end, kept.iter().skip(skipped).take(most).flat_map(bytes).collect())
}
