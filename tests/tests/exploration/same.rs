//! What stands for the real thing in the exploration is the same as the real thing.

use drydown::cutoff::{Cutoff, Handle, Sequence, Words};
use drydown::persist::{Record, RecordNumber, Stored};
use drydown::policy::Policy;
use drydown::quantity::Millis;
use drydown::zone::{
    Boot, BootCause, Command, Drive, Horizon, Inputs, Link, Order, Origin, Outcome, Signals,
    Supply, Tank, Zone,
};
use drydown_tests::adversary::Dice;
use drydown_tests::exploration::{Driving, Scene, Show};

use crate::scenes::{self, Form, UNIT};

/// The same orders to the real cut-off and to what stands for it, and the same pins at every
/// interrupt, the same reports after every wait.
#[test]
fn the_drive_moves_as_the_cut_off_does() {
    let mut dice = Dice::new(1);
    for round in 0..300 {
        let run_down = if round % 2 == 0 { 0 } else { 500 };
        let tick = [10, 70, 150][round % 3];
        let words = Words::new();
        let sequence = Sequence { lead: Millis::ZERO, run_down: Millis(run_down) };
        let mut cutoff = Cutoff::new(&words, sequence);
        let mut handle = Handle::new(&words);
        let (mut driving, mut ticks) = (Driving::default(), 0_u32);
        let mut open = cutoff.tick(ticks).valve;
        let mut zone = Zone::boot(
            scenes::limits(Form::Quick).device,
            Boot::Start(BootCause::PowerOn),
            &Stored::Lost(RecordNumber::NONE),
            None,
        );
        let blank = zone.step(0, &Inputs::default());
        for _ in 0..200 {
            let (_, drive) = handle.sample();
            assert_eq!(drive, driving.sample());
            let outcome = answer(&blank, drive, &mut dice);
            handle.apply(&outcome);
            driving.apply(&outcome);
            let wait = tick * dice.below(40) as u32;
            let edges = driving.run(wait, tick, run_down);
            let (mut opened, mut closed) = (None, None);
            for passed in (tick..=wait).step_by(tick as usize) {
                let valve = cutoff.tick(ticks + passed).valve;
                match (open, valve) {
                    (false, true) => opened = Some(passed),
                    (true, false) => closed = Some(passed),
                    _ => {}
                }
                open = valve;
            }
            ticks += wait;
            assert_eq!((edges.opened, edges.closed), (opened, closed));
            assert_eq!(driving.is_open(), open);
        }
    }
}

/// A permit where nothing runs, otherwise a renewal or neither.
fn answer(blank: &Outcome, drive: Drive, dice: &mut Dice) -> Outcome {
    let path = drydown::guard::Path::Automatic;
    let length = Millis(1 + dice.below(4_000) as u32);
    let permits = !drive.on && dice.hit(2);
    Outcome {
        permit: permits.then_some(drydown::zone::Permit { length, path }),
        renew: !permits && dice.below(4) > 0,
        step_within: Millis(1 + dice.below(3_000) as u32),
        ..blank.clone()
    }
}

/// What a step decides, as far as two zones can be compared that count records differently.
type Decided = (Option<(u32, u8)>, bool, Millis, u64, Option<u64>, Option<Record>, bool);

fn decided(
    outcome: &Outcome,
    now: u64,
    zone: &mut Zone<impl Policy + Copy>,
    at: &Horizon,
) -> Decided {
    let image = outcome.record.map(|_| {
        zone.make_canonical(at);
        zone.record()
    });
    (
        outcome.permit.map(|permit| (permit.length.0, permit.path as u8)),
        outcome.renew,
        outcome.step_within,
        outcome.next.at - now,
        outcome.next.sample.map(|at| at.saturating_sub(now)),
        image,
        outcome.rest == drydown::zone::Rest::Deep,
    )
}

/// A zone that is put into its canonical form after every step decides in every step as one that
/// never is: nothing that decides was left away, and all that decides is in the state.
fn decides_the_same<P: Policy + Copy>(scene: &Scene<P>, seed: u64) -> u32 {
    let mut dice = Dice::new(seed);
    let cause = Boot::Start(BootCause::PowerOn);
    let lost = Stored::Lost(RecordNumber::NONE);
    let mut real = Zone::boot(scene.device, cause, &lost, None);
    let mut canonical = real.clone();
    let mut now = 1 << 40;
    let (mut drive, mut committed, mut shown) = (Driving::default(), None, None);
    let mut permits = 0;
    let mut steady = Inputs::default();
    for step in 0..4_000 {
        let shows = &scene.mischief.shows;
        let show =
            if step == 0 { Show::Nothing } else { shows[dice.below(shows.len() as u64) as usize] };
        let order = match dice.below(24) {
            _ if step == 0 => Some(Order::Initialise),
            0 => Some(Order::Water(Millis(UNIT * (1 + dice.below(3) as u32)))),
            1 => Some(Order::Off),
            2..5 => Some(Order::Automatic),
            5 => Some(Order::Bench),
            6 => Some(Order::Stop),
            7 => Some(Order::Acknowledge),
            _ => None,
        };
        let origin = if step > 0 && dice.hit(3) { Origin::Remote } else { Origin::Local };
        if dice.hit(10) {
            steady.link = if dice.hit(4) { Link::Down } else { Link::Up };
            steady.supply = if dice.hit(4) { Supply::Busy } else { Supply::Granted };
            let tank = dice.hit(6).then_some(Tank::Empty);
            steady.signals = Signals { tank, ..Signals::default() };
        }
        let inputs = Inputs {
            burst: show.burst(),
            drive: drive.sample(),
            command: order.map(|order| Command { order, origin }),
            ..steady.clone()
        };
        let horizon =
            Horizon { now, number: RecordNumber { epoch: 0, sequence: 1 }, soil: scene.soil };
        let one = real.step(now, &Inputs { committed, ..inputs.clone() });
        let other = canonical.step(now, &Inputs { committed: shown, ..inputs });
        let mut copy = real.clone();
        let expected = decided(&one, now, &mut copy, &horizon);
        assert_eq!(
            decided(&other, now, &mut canonical, &horizon),
            expected,
            "{} {step}",
            scene.name
        );
        canonical.make_canonical(&horizon);
        copy.make_canonical(&horizon);
        assert_eq!(copy.state(), canonical.state(), "{} {step}", scene.name);
        permits += u32::from(one.permit.is_some());
        if let Some(record) = one.record {
            let kept = dice.below(8) > 0;
            (committed, shown) = (kept.then_some(record.number), kept.then_some(horizon.number));
        }
        drive.apply(&one);
        let due = (one.next.at - now) as u32;
        let wait = match dice.below(12) {
            0 => 0,
            1 => due + dice.below(20_000) as u32,
            2..5 => dice.below(u64::from(due) + 1) as u32,
            _ => due,
        };
        let wait = wait.div_ceil(10) * 10;
        let timing = scene.device.config().timing;
        drive.run(wait, timing.tick.0, timing.run_down.0);
        now += u64::from(wait);
        if dice.hit(50) {
            now -= dice.below(30_000);
        }
    }
    permits
}

#[test]
fn the_canonical_zone_decides_as_the_real_one() {
    let mut permits = 0;
    for seed in 0..40 {
        permits += decides_the_same(&scenes::limits(Form::Quick), seed);
        permits += decides_the_same(&scenes::band_of_soil(Form::Quick), seed);
        permits += decides_the_same(&scenes::faults(Form::Quick), seed);
        permits += decides_the_same(&scenes::stance(Form::Quick), seed);
        permits += decides_the_same(&scenes::timer(Form::Quick), seed);
    }
    assert!(permits >= 10_000, "{permits}");
}
