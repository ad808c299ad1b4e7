//! What each part of the usual device costs: built once for every number in `DRYDOWN_PARTS`, with the
//! parts up to that number, the program grows by what the part needs that no part before it did.
#![no_std]
#![no_main]

use core::hint::black_box;

use drydown::calibration::Curve;
use drydown::cutoff::{Cutoff, Handle, Sequence};
use drydown::logbook::{Logbook, Scribe};
use drydown::persist::{FlashStore, RecordNumber, Stored, ZoneIndex};
use drydown::policy::{Hysteresis, LevelMemory, Policy, View};
use drydown::probe::{Burst, CheckedProbe, Context, ProbeState};
use drydown::quantity::{Millis, RawCounts};
use drydown::well::OfBoard;
use drydown::wire::{Answer, Around, DeviceEnd, Heard, MOST_BYTES, Reply, Report, Request, encode};
use drydown::zone::{Boot, BootCause, Inputs, Link, Outcome, Zone, turn_into};
use link_check::{BAND_OF_USUAL, Chip, Kept, PROBE_OF_USUAL, USUAL, WORDS};
use panic_never as _;

/// How many parts are in.
const PARTS: u8 = match option_env!("DRYDOWN_PARTS") {
    Some(digit) => digit.as_bytes()[0] - b'0',
    None => 0,
};
const CURVE: bool = PARTS >= 1;
const PROBE: bool = PARTS >= 2;
const POLICY: bool = PARTS >= 3;
const ZONE: bool = PARTS >= 4;
const CUT_OFF: bool = PARTS >= 5;
const FLASH: bool = PARTS >= 6;
const EDGES: bool = PARTS >= 7;
const ROWS: bool = PARTS >= 8;
const LINE: bool = PARTS >= 9;

/// Where records go, and come from after a reset.
trait Keeps {
    fn stored(&mut self) -> Stored;
    fn turn(&mut self, zone: &mut Zone, now: u64, inputs: &Inputs, outcome: &mut Outcome);
}

impl Keeps for Kept {
    fn stored(&mut self) -> Stored {
        black_box(Stored::Lost(RecordNumber::NONE))
    }

    fn turn(&mut self, zone: &mut Zone, now: u64, inputs: &Inputs, outcome: &mut Outcome) {
        turn_into(zone, self, now, inputs, outcome);
    }
}

impl Keeps for FlashStore<Chip, 1> {
    fn stored(&mut self) -> Stored {
        FlashStore::stored(self, ZoneIndex::FIRST, USUAL.ledger_plan())
    }

    fn turn(&mut self, zone: &mut Zone, now: u64, inputs: &Inputs, outcome: &mut Outcome) {
        let drives = [inputs.drive];
        let mut store = self.zone(ZoneIndex::FIRST, USUAL.ledger_plan(), &drives);
        turn_into(zone, &mut store, now, inputs, outcome);
    }
}

#[inline(never)]
fn curve(curve: &Curve) {
    black_box(curve.read(black_box(RawCounts(0)), None));
}

#[inline(never)]
fn probe(state: &mut ProbeState, probe: &CheckedProbe) {
    let counts = black_box([RawCounts(0); 8]);
    if let Ok(burst) = Burst::new(&counts) {
        state.age(black_box(Millis(0)));
        black_box(state.take(probe, &burst, &Context::default()));
    }
}

#[inline(never)]
fn policy(memory: &mut LevelMemory, policy: &Hysteresis) {
    let view = View { fresh: None, implausible: false, open: false, credited: Millis(0) };
    black_box(policy.ask(memory, &black_box(view)));
}

/// A turn of the line: a look, an order, who it is.
#[inline(never)]
fn line(end: &mut DeviceEnd, zone: &Zone, around: &Around<'_>, outcome: &Outcome) {
    let mut out = [0; MOST_BYTES];
    let (head, reply) = match end.take(around.now, black_box(0)) {
        Some(Heard::Request(head, request)) => {
            let answer = match request {
                Request::Order(order) => Answer::to_order(order, zone, outcome),
                _ => Answer::NotNow,
            };
            let looks = matches!(request, Request::Look);
            (
                head,
                if looks { Reply::Report(Report::of(zone, around)) } else { Reply::Answer(answer) },
            )
        }
        Some(Heard::Reply(head, answer)) => (head, Reply::Answer(answer)),
        None => return,
    };
    black_box(encode(head, &reply, &mut out));
}

fn device(mut store: impl Keeps) {
    let stored = store.stored();
    let boot = Boot::Start(black_box(BootCause::PowerOn));
    let mut zone = Zone::boot(USUAL, boot, &stored, None);
    let mut cutoff = Cutoff::new(&WORDS, Sequence::SINGLE);
    let mut handle = Handle::new(&WORDS);
    let mut outcome = Outcome::new();
    let mut logbook = Logbook::<16>::new();
    let mut scribe = Scribe::new(black_box(1), black_box(0), black_box(0));
    let mut end = DeviceEnd::new(black_box(Millis(30_000)));
    loop {
        let (now, drive) = if CUT_OFF {
            black_box(cutoff.tick(black_box(0)));
            handle.sample()
        } else {
            black_box((0, drydown::zone::Drive::default()))
        };
        let link = if LINE { end.link(now) } else { black_box(Link::Down) };
        let inputs = Inputs { burst: black_box(None), drive, link, ..Inputs::default() };
        store.turn(&mut zone, now, &inputs, &mut outcome);
        if CUT_OFF {
            handle.apply(&outcome);
            black_box(handle.may_feed());
        }
        if EDGES {
            logbook.note(now, &outcome);
            black_box(logbook.newest());
        }
        if ROWS && let Some((row, day)) = scribe.note(now, &zone, &inputs, &outcome) {
            black_box((row.to_bytes(), day.map(|day| day.to_bytes())));
        }
        if LINE {
            let (next, damaged) = (outcome.next, end.damaged());
            let last = logbook.newest();
            let (inputs, air, board) = (&inputs, black_box(None), black_box(OfBoard::default()));
            let around = Around { now, boot: 1, inputs, next, last, damaged, air, board };
            line(&mut end, &zone, &around, &outcome);
        }
        black_box(&outcome);
    }
}

/// Where the linker begins.
#[unsafe(no_mangle)]
pub extern "C" fn start() -> ! {
    let (mut state, mut memory) = (ProbeState::new(), black_box(BAND_OF_USUAL).blank());
    loop {
        if CURVE {
            curve(black_box(&PROBE_OF_USUAL.config().curve));
        }
        if PROBE {
            probe(&mut state, black_box(&PROBE_OF_USUAL));
        }
        if POLICY {
            policy(&mut memory, black_box(&BAND_OF_USUAL));
        }
        if FLASH {
            device(FlashStore::<Chip, 1>::open(Chip));
        } else if ZONE {
            device(Kept);
        }
    }
}
