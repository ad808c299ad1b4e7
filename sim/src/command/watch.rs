//! `drydown watch`: a live device: look, take over, hand back, pull its log.

use std::collections::VecDeque;
use std::io::{self, BufRead, Write};
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

use clap::{Args, ValueEnum};
use drydown::bench::Verdict;
use drydown::persist::ZoneIndex;
use drydown::well::Well;
use drydown::wire::{Report, Request};
use drydown::zone::{Event, Order};

use super::Printed;
use crate::error::InputError;
use crate::wire::address::Address;
use crate::wire::bench;
use crate::wire::caller::{Caller, LineError};
use crate::wire::readings::{self, Bench, Point};
use crate::wire::typed::{self, HELP, Typed};
use crate::wire::{kept, shown};

/// Formats of what is shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Shape {
    /// Lines for a person.
    #[default]
    Text,
    /// One object a look, for programs.
    Json,
}

/// Watch a live device: look, take over, hand back, pull its log
#[derive(Args, Clone, Debug)]
#[command(after_help = "Examples:\n  drydown watch serial:/dev/ttyACM0\n  \
    drydown watch tcp:192.0.2.7:7300 --log trough.csv\n  \
    drydown watch tcp:127.0.0.1:7300 --do 'water 20'\n\n\
    While it watches, type `help` to see what can be typed.\n\n\
    It ends with 0 where nobody is called, with 1 where something wants a look or somebody must come, as \
    on the device's display, or an order was refused; with 2 where the device cannot be asked.")]
pub struct WatchArgs {
    /// Where the device is: tcp:HOST:PORT, serial:PATH or serial:PATH@BAUD
    pub address: String,
    /// Which zone of the device
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub zone: u8,
    /// Seconds between two looks, 0.2 to 10
    #[arg(long, value_name = "SECONDS", default_value_t = 2.0)]
    pub every: f64,
    /// Leave after so many seconds
    #[arg(long = "for", value_name = "SECONDS")]
    pub lasts: Option<f64>,
    /// Look once and leave
    #[arg(long)]
    pub once: bool,
    /// Give this order, wait until it is done, and leave; may be repeated
    #[arg(long = "do", value_name = "ORDER")]
    pub orders: Vec<String>,
    /// Pull the kept rows of ten minutes into this new file: the log that fit, replay, explain and leave read
    #[arg(long, value_name = "FILE")]
    pub log: Option<PathBuf>,
    /// Pull the kept lines of days, a year of them, into this new file, for a spreadsheet
    #[arg(long, value_name = "FILE")]
    pub days: Option<PathBuf>,
    /// Fetch what the checks at the bench found into this new file, as the table "commissioned" of a
    /// scenario
    #[arg(long, value_name = "FILE")]
    pub bench: Option<PathBuf>,
    /// Add raw counts of the probe, read now, every conversion of each burst, to this table for calibrate
    #[arg(long, value_name = "FILE", requires = "point")]
    pub readings: Option<PathBuf>,
    /// What the probe stands in
    #[arg(long, value_enum, requires = "readings")]
    pub point: Option<Point>,
    /// Water content of the substrate, percent by volume
    #[arg(long, value_name = "PERCENT", requires = "readings")]
    pub water_pct: Option<f64>,
    /// How many bursts to read, one a second
    #[arg(long, value_name = "N", default_value_t = 5, requires = "readings")]
    pub bursts: u32,
    /// Which of the zone's probes
    #[arg(long, value_name = "N", default_value_t = 1, requires = "readings")]
    pub which: u8,
    /// Name of the probe, for the table
    #[arg(long, default_value = "", hide_default_value = true, requires = "readings")]
    pub probe: String,
    /// Name of the substrate, for the table
    #[arg(long, default_value = "", hide_default_value = true, requires = "readings")]
    pub substrate: String,
    /// Format of what is shown
    #[arg(long, value_enum, default_value_t)]
    pub format: Shape,
}

/// What is waited for at most beyond the length of a dose: hold-off, rest, a record.
const PATIENCE: Duration = Duration::from_secs(300);

/// Why watching ends.
enum Ends {
    /// What was wrong.
    Wrong(InputError),
    /// Nobody reads any more.
    Unread,
}

impl From<InputError> for Ends {
    fn from(error: InputError) -> Self {
        Self::Wrong(error)
    }
}

impl From<io::Error> for Ends {
    fn from(_: io::Error) -> Self {
        Self::Unread
    }
}

/// Watches a device.
///
/// # Errors
/// What is wrong with the options, or with the line to the device.
pub fn run(args: &WatchArgs) -> super::Result {
    let address: Address = args.address.parse()?;
    let zone =
        args.zone.checked_sub(1).and_then(ZoneIndex::new).ok_or_else(|| {
            InputError::new("must be from 1 to 4").field("--zone").value(args.zone)
        })?;
    let every = within("--every", args.every, 0.2, 10.0)?;
    let lasts = args.lasts.map(|lasts| within("--for", lasts, 0.0, 1e8)).transpose()?;
    if args.bursts == 0 || args.bursts > 600 {
        return Err(InputError::new("must be from 1 to 600").field("--bursts").value(args.bursts));
    }
    let orders = args.orders.iter().map(|order| typed::read(order)).collect::<Result<_, _>>()?;
    let bench = args.point.map(|point| Bench {
        point,
        water_pct: args.water_pct,
        probe: &args.probe,
        substrate: &args.substrate,
        date: jiff::ZonedDateTime::now().date(),
    });
    if let (Some(path), Some(bench)) = (&args.readings, &bench) {
        readings::check(path, bench)?;
    }
    let pulled = [("--log", &args.log), ("--days", &args.days), ("--bench", &args.bench)];
    let pulled = pulled.map(|(option, path)| (option, path.as_ref()));
    kept::check(&pulled, args.readings.as_slice())?;
    let caller = Caller::open(address, zone)?;
    let mut watch = Watch {
        caller,
        shape: args.format,
        every,
        edge: 0,
        boot: 0,
        now: 0,
        state: vec![],
        bad: false,
    };
    match watch.go(args, orders, lasts, bench.as_ref()) {
        Ok(()) | Err(Ends::Unread) => {}
        Err(Ends::Wrong(error)) => return Err(error),
    }
    Ok(Printed { text: String::new(), notes: vec![], bad: watch.bad })
}

fn within(field: &str, value: f64, least: f64, most: f64) -> Result<Duration, InputError> {
    if (least..=most).contains(&value) {
        Ok(Duration::from_secs_f64(value))
    } else {
        Err(InputError::new(format!("must be from {least} to {most} s")).field(field).value(value))
    }
}

/// A device that is being watched.
struct Watch {
    caller: Caller,
    shape: Shape,
    every: Duration,
    /// The number of the next edge to show, the boot since which edges are counted, and the device's clock when
    /// it was looked at last.
    edge: u32,
    boot: u16,
    now: u64,
    state: Vec<String>,
    bad: bool,
}

impl Watch {
    fn go(
        &mut self,
        args: &WatchArgs,
        orders: VecDeque<Typed>,
        lasts: Option<Duration>,
        bench: Option<&Bench<'_>>,
    ) -> Result<(), Ends> {
        let told = self.caller.who();
        let told = self.of(told)?;
        self.boot = told.boot;
        if self.shape == Shape::Text {
            say(&shown::told(&told))?;
        }
        // What happened before is in the log, and only what happens now is told. Of a device without one, which
        // counts no starts, all that it still knows.
        if self.boot > 0 {
            let edges = self.caller.edges(u32::MAX);
            self.edge = self.of(edges)?.end;
        }
        self.look(true)?;
        let only = args.once
            || !orders.is_empty()
            || args.log.is_some()
            || args.days.is_some()
            || args.bench.is_some()
            || args.readings.is_some();
        for typed in orders {
            self.give(typed, true)?;
        }
        if let (Some(path), Some(bench)) = (&args.readings, bench) {
            self.read_probe(args, path, bench)?;
        }
        if let Some(path) = &args.log {
            let pulled = kept::rows(&mut self.caller, path)?;
            self.note(&format!("{} rows in {}", pulled.written, path.display()), pulled.lost)?;
        }
        if let Some(path) = &args.days {
            let pulled = kept::days(&mut self.caller, path)?;
            self.note(&format!("{} days in {}", pulled.written, path.display()), pulled.lost)?;
        }
        if let Some(path) = &args.bench {
            let findings = bench::fetch(&mut self.caller, &told, path)?;
            let [passed, failed, left_out] = [Verdict::Passed, Verdict::Failed, Verdict::LeftOut]
                .map(|verdict| findings.count(Some(verdict)));
            self.note(
                &format!(
                    "checks at the bench: {passed} passed, {failed} failed, {left_out} left out, {} \
                     not made; in {}",
                    findings.count(None),
                    path.display()
                ),
                0,
            )?;
            // What was left out is neither good nor bad.
            self.bad |= failed > 0 || findings.count(None) > 0;
        }
        if !only || lasts.is_some() {
            self.stay(lasts, args.format == Shape::Text)?;
        }
        let last = self.caller.look();
        let last = self.of(last)?;
        // As the display calls somebody.
        self.bad |= last.signs.call() != Well::AllWell;
        Ok(())
    }

    fn of<T>(&self, result: Result<T, LineError>) -> Result<T, Ends> {
        result.map_err(|cause| Ends::Wrong(self.caller.error(&cause)))
    }

    fn note(&self, text: &str, lost: u32) -> Result<(), Ends> {
        if self.shape == Shape::Text {
            say(text)?;
        } else {
            say(&serde_json::json!({ "note": text }).to_string())?;
        }
        if lost > 0 {
            say(&format!("{lost} made room for newer ones while they were pulled"))?;
        }
        Ok(())
    }

    /// Looks, and shows what is new, or everything.
    fn look(&mut self, all: bool) -> Result<Report, Ends> {
        let report = self.caller.look();
        let report = self.of(report)?;
        if self.shape == Shape::Json {
            say(&shown::json(&report).to_string())?;
            return Ok(report);
        }
        self.show_edges(&report)?;
        let state = shown::state(&report);
        if all || state != self.state {
            for line in &state {
                if all || !self.state.contains(line) {
                    say(&format!("{} {line}", clock()))?;
                }
            }
            say(&format!("{} {}", clock(), shown::figures(&report)))?;
        }
        self.state = state;
        Ok(report)
    }

    fn show_edges(&mut self, report: &Report) -> Result<(), Ends> {
        // A device that was reset counts its edges anew, and one that counts no starts begins its clock again.
        let again = report.boot == 0 && report.now < self.now;
        if report.boot != self.boot || again {
            (self.boot, self.edge) = (report.boot, 0);
        }
        self.now = report.now;
        loop {
            let page = self.caller.edges(self.edge);
            let page = self.of(page)?;
            let Some(&(first, _)) = page.kept.first() else { break };
            if first > self.edge && self.edge > 0 {
                say(&format!("         {} edges went by unseen", first - self.edge))?;
            }
            for (number, entry) in &page.kept {
                let ago = (report.now / 1_000).saturating_sub(u64::from(entry.at_s));
                let given = match entry.event {
                    Event::Closed { on, .. } => {
                        format!("; open for {:.1} s", f64::from(on.0) / 1e3)
                    }
                    _ => String::new(),
                };
                say(&format!(
                    "{} > {}{given} ({} ago)",
                    clock(),
                    entry.event.text(),
                    shown::time(ago * 1_000)
                ))?;
                self.edge = number.saturating_add(1);
            }
            if self.edge >= page.end {
                break;
            }
        }
        Ok(())
    }

    /// Gives what was typed. `wait`: stays until a dose that it gives is over.
    fn give(&mut self, typed: Typed, wait: bool) -> Result<bool, Ends> {
        let request = match typed {
            Typed::Quit => return Ok(false),
            Typed::Help => {
                for line in HELP.lines() {
                    say(&format!("  {line}"))?;
                }
                return Ok(true);
            }
            Typed::Look => {
                self.look(true)?;
                return Ok(true);
            }
            Typed::Ask(request) => request,
        };
        let answer = self.caller.act(&request);
        let (answer, refused) = self.of(answer)?;
        self.bad |= refused;
        match self.shape {
            Shape::Text => say(&format!("{} {answer}", clock()))?,
            Shape::Json => {
                say(&serde_json::json!({ "answer": answer, "refused": refused }).to_string())?;
            }
        }
        if let Request::Order(Order::Water(length)) = request
            && wait
            && !refused
        {
            let until = Instant::now() + Duration::from_millis(u64::from(length.0)) + PATIENCE;
            while Instant::now() < until {
                std::thread::sleep(self.every);
                let report = self.look(false)?;
                if report.under_way.is_none() && report.mode != drydown::zone::Mode::Manual {
                    return Ok(true);
                }
            }
            self.bad = true;
            self.note("it has not ended by now; left alone, it ends by itself", 0)?;
        } else {
            self.look(false)?;
        }
        Ok(true)
    }

    fn read_probe(
        &mut self,
        args: &WatchArgs,
        path: &std::path::Path,
        bench: &Bench<'_>,
    ) -> Result<(), Ends> {
        let which = args.which.checked_sub(1).ok_or_else(|| {
            InputError::new("must be at least 1").field("--which").value(args.which)
        })?;
        for number in 0..args.bursts {
            if number > 0 {
                std::thread::sleep(Duration::from_secs(1));
            }
            let burst = self.caller.probe(which);
            let burst = self.of(burst)?;
            // One at a time: what was read is kept whatever comes next.
            readings::add(path, bench, std::slice::from_ref(&burst))?;
            let counts: Vec<_> = burst.0.iter().map(|count| count.0.to_string()).collect();
            self.note(&format!("raw {}", counts.join(" ")), 0)?;
        }
        self.note(&format!("{} readings in {}", args.bursts, path.display()), 0)
    }

    /// Stays, looks, and follows what is typed.
    fn stay(&mut self, lasts: Option<Duration>, listens: bool) -> Result<(), Ends> {
        let until = lasts.map(|lasts| Instant::now() + lasts);
        let mut lines = listens.then(typed_lines);
        if listens {
            say("type `help` to see what can be typed")?;
        }
        loop {
            let left = until.map(|until| until.saturating_duration_since(Instant::now()));
            if left.is_some_and(|left| left.is_zero()) {
                return Ok(());
            }
            let pause = left.map_or(self.every, |left| left.min(self.every));
            let line = if let Some(typed) = &lines {
                typed.recv_timeout(pause)
            } else {
                std::thread::sleep(pause);
                Err(RecvTimeoutError::Timeout)
            };
            match line {
                Ok(line) if line.trim().is_empty() => {}
                Ok(line) => match typed::read(&line) {
                    Ok(typed) => {
                        if !self.give(typed, false)? {
                            return Ok(());
                        }
                    }
                    Err(error) => say(&error.to_string())?,
                },
                Err(RecvTimeoutError::Timeout) => {
                    self.look(false)?;
                }
                // Nobody types any more; without an end that was asked for, that is one.
                Err(RecvTimeoutError::Disconnected) if until.is_none() => return Ok(()),
                Err(RecvTimeoutError::Disconnected) => lines = None,
            }
        }
    }
}

/// The lines of standard input as they come.
fn typed_lines() -> Receiver<String> {
    let (send, receive) = channel();
    // It waits for input that may never come, so nobody waits for it.
    std::thread::spawn(move || {
        for line in io::stdin().lock().lines().map_while(Result::ok) {
            if send.send(line).is_err() {
                break;
            }
        }
    });
    receive
}

fn clock() -> String {
    jiff::ZonedDateTime::now().strftime("%H:%M:%S").to_string()
}

fn say(line: &str) -> io::Result<()> {
    let mut out = io::stdout().lock();
    writeln!(out, "{line}")?;
    out.flush()
}
