//! The device's end of the line: what the wire and the rows of the log add to a device, with the panic
//! handler that does not exist. The features `without-line` and `without-rows` leave them out again,
//! so that the price of each is seen.
#![no_std]
#![no_main]

use core::hint::black_box;

use drydown::bench::Findings;
use drydown::logbook::{Day, Entry, Logbook, Row, Scribe};
use drydown::persist::configuration::identity;
use drydown::persist::{RecordNumber, Settings, Stored};
use drydown::quantity::{Millis, RawCounts};
use drydown::well::OfBoard;
use drydown::wire::{
    Answer, Around, DeviceEnd, Heard, Identity, MOST_BYTES, Page, RawBurst, Reply, Report, Request,
    encode, zone_of,
};
use drydown::zone::{Boot, BootCause, CheckedZone, Inputs, Outcome, Zone};
use link_check::ZONE;
use panic_never as _;

const LINE: bool = !cfg!(feature = "without-line");
const ROWS: bool = !cfg!(feature = "without-rows");

/// What a request is replied with, each part of it unknown to the compiler.
#[inline(never)]
fn reply<'b>(
    request: Request,
    zone: &mut Zone,
    around: &Around<'_>,
    outcome: &Outcome,
    kept: &'b [u8],
) -> Reply<'b> {
    match request {
        Request::Who => Reply::Identity(Identity {
            board: "bench",
            firmware: black_box("line 0.1"),
            config: identity(zone.config()),
            zones: 1,
            boot: around.boot,
        }),
        Request::Look => Reply::Report(Report::of(zone, around)),
        Request::Edges { from } => Reply::Edges(Page::<Entry>::new(from, black_box(9), kept)),
        Request::Rows { from } => Reply::Rows(Page::<Row>::new(from, black_box(9), kept)),
        Request::Days { from } => Reply::Days(Page::<Day>::new(from, black_box(9), kept)),
        Request::Probe { which } => {
            let counts = black_box([RawCounts(u16::from(which)); 8]);
            match RawBurst::new(&counts, black_box(None)) {
                Some(burst) => Reply::Burst(burst),
                None => Reply::Answer(Answer::NoReading),
            }
        }
        Request::Order(order) => Reply::Answer(Answer::to_order(order, zone, outcome)),
        Request::Change(settings) => Reply::Answer(Answer::to_change(zone.change(&settings))),
        Request::Findings => Reply::Findings(Findings::new(black_box(0))),
    }
}

/// One turn of the line.
#[inline(never)]
fn turn_of_line(end: &mut DeviceEnd, zone: &mut Zone, around: &Around<'_>, outcome: &Outcome) {
    let mut out = [0; MOST_BYTES];
    let kept = black_box([0_u8; 232]);
    let (head, reply) = match end.take(around.now, black_box(0)) {
        Some(Heard::Request(head, request)) => {
            let reply = match zone_of(head, 1) {
                Ok(_) => reply(request, zone, around, outcome, &kept),
                Err(answer) => Reply::Answer(answer),
            };
            (head, reply)
        }
        Some(Heard::Reply(head, answer)) => (head, Reply::Answer(answer)),
        None => return,
    };
    black_box(encode(head, &reply, &mut out));
}

/// The rows of the log.
#[inline(never)]
fn write(scribe: &mut Scribe, zone: &Zone, inputs: &Inputs, outcome: &Outcome) {
    if let Some((row, day)) = scribe.note(black_box(0), zone, inputs, outcome) {
        black_box((row.to_bytes(), day.map(|day| day.to_bytes())));
    }
}

fn live() -> Option<()> {
    let built_in: CheckedZone = black_box(ZONE).check().ok()?;
    let config = built_in.with(&black_box(Settings::default())).ok()?;
    let stored = Stored::Lost(RecordNumber::NONE);
    let mut zone = Zone::boot(config, Boot::Start(BootCause::PowerOn), &stored, None);
    let mut end = DeviceEnd::new(black_box(Millis(30_000)));
    let mut scribe = Scribe::new(black_box(1), black_box(0), black_box(0));
    let mut logbook = Logbook::<16>::new();
    while black_box(true) {
        let inputs = Inputs { link: end.link(black_box(0)), ..black_box(Inputs::default()) };
        let outcome = zone.step(black_box(0), &inputs);
        logbook.note(black_box(0), &outcome);
        if ROWS {
            write(&mut scribe, &zone, &inputs, &outcome);
        }
        let around = Around {
            now: black_box(0),
            boot: 1,
            inputs: &inputs,
            next: outcome.next,
            last: logbook.newest(),
            damaged: end.damaged(),
            air: black_box(None),
            board: black_box(OfBoard::default()),
        };
        if LINE {
            turn_of_line(&mut end, &mut zone, &around, &outcome);
        }
    }
    Some(())
}

/// Where the linker begins.
#[unsafe(no_mangle)]
pub extern "C" fn start() -> ! {
    loop {
        black_box(live());
    }
}
