//! The canonical form of a zone decides as the zone does, and zones that differ in nothing that decides
//! have one. Without it no exploration ends.

use std::fmt::Debug;

use drydown::guard::{Ledger, ResponseState};
use drydown::persist::{Image, Record, RecordNumber, Stored};
use drydown::policy::Policy;
use drydown::probe::Burst;
use drydown::quantity::{DeciCelsius, Millis, RawCounts};
use drydown::zone::{
    Air, Boot, BootCause, CheckedZone, Command, Configuration, Deed, Event, Horizon, Inputs, Link,
    Order, Origin, Outcome, Signals, Supply, Tank, Zone,
};
use drydown_tests::adversary::Dice;
use drydown_tests::configs::counts;
use drydown_tests::exploration::{Driving, Scene, Show};

use crate::scenes::{self, Form, UNIT};

const NEWEST: RecordNumber = RecordNumber { epoch: 3, sequence: 9 };
const LOST: Stored = Stored::Lost(RecordNumber::NONE);

fn boot<P: Policy + Copy>(scene: &Scene<P>, stored: &Stored) -> Zone<CheckedZone<P>> {
    Zone::boot(scene.device, Boot::Start(BootCause::PowerOn), stored, None)
}

/// Boots from what a new device writes down, changed.
fn boot_with<P: Policy + Copy>(
    scene: &Scene<P>,
    change: impl Fn(&mut Image),
) -> Zone<CheckedZone<P>> {
    let mut record = Record { number: NEWEST, ..boot(scene, &LOST).record() };
    change(&mut record.image);
    boot(scene, &Stored::Found(record))
}

/// A new zone that lives through these, a sampling period apart. Its first step comes before any
/// sample is due.
fn live<P: Policy + Copy>(scene: &Scene<P>, all: &[Inputs]) -> Zone<CheckedZone<P>> {
    let mut zone = boot(scene, &LOST);
    let mut now = 1 << 40;
    zone.step(now, &Inputs::default());
    for inputs in all {
        now += u64::from(scene.device.config().sampling.period.0);
        zone.step(now, inputs);
    }
    zone
}

fn raw(counts: u16) -> Inputs {
    Inputs { burst: Some(Burst::single(RawCounts(counts))), ..Inputs::default() }
}

fn soil(centi: u16) -> Inputs {
    raw(counts(centi).0)
}

/// Counts around `centi` that differ by more than any noise.
fn noisy(centi: u16) -> Inputs {
    let middle = counts(centi).0;
    let counts = [middle - 600, middle, middle + 600].map(RawCounts);
    Inputs { burst: Some(Burst::new(&counts).expect("three counts")), ..Inputs::default() }
}

fn air(temperature: Option<i16>) -> Inputs {
    let temperature = temperature.map(DeciCelsius);
    Inputs { air: Some(Air { temperature, demand: None }), ..Inputs::default() }
}

fn local(order: Order) -> Command {
    Command { order, origin: Origin::Local }
}

/// They are told apart as they are, and no longer in their canonical form.
#[track_caller]
fn one_form<P: Policy + Copy>(
    scene: &Scene<P>,
    mut one: Zone<CheckedZone<P>>,
    mut other: Zone<CheckedZone<P>>,
) where
    P::Memory: Debug + PartialEq,
{
    assert_ne!(one.state(), other.state(), "there is nothing to leave away");
    let at = Horizon { now: 0, number: NEWEST, soil: scene.soil };
    one.make_canonical(&at);
    other.make_canonical(&at);
    assert_eq!(one.state(), other.state());
}

#[test]
fn counts_and_levels_behind_a_fault_do_not_matter() {
    let scene = scenes::faults(Form::Quick);
    for first in [soil(2_400), Inputs::default()] {
        let after = |centi| live(&scene, &[first.clone(), noisy(centi)]);
        one_form(&scene, after(2_700), after(3_300));
    }
}

#[test]
fn counts_do_not_matter_where_the_level_is_the_same() {
    let scene = scenes::faults(Form::Quick);
    // Both beyond the wet end of the curve.
    one_form(&scene, live(&scene, &[raw(869)]), live(&scene, &[raw(860)]));
}

#[test]
fn of_an_average_the_last_sample_does_not_matter_once_the_probe_was_put_in_anew() {
    let scene = scenes::doubtful_soil(1_000);
    let reseated =
        Inputs { command: Some(local(Order::Tended(Deed::Reseated))), ..Inputs::default() };
    let averaged = |first, last| live(&scene, &[soil(first), soil(last), reseated.clone()]);
    one_form(&scene, averaged(2_500, 3_500), averaged(3_000, 3_000));
}

#[test]
fn where_soil_cannot_fall_too_fast_its_past_does_not_matter() {
    let scene = scenes::faults(Form::Quick);
    one_form(
        &scene,
        live(&scene, &[soil(2_400), soil(3_600)]),
        live(&scene, &[soil(3_600), soil(3_600)]),
    );
    one_form(
        &scene,
        live(&scene, &[soil(2_400), soil(2_400), noisy(2_400)]),
        live(&scene, &[soil(2_400), noisy(2_400), noisy(2_400)]),
    );
}

/// A thaw is over by the next look after so long, whenever the last one was.
#[test]
fn beyond_a_thaw_the_age_of_a_look_at_the_thermometer_does_not_matter() {
    let scene = scenes::thaw();
    // Of twelve steps the first so many in frost, one in warmth, and the rest unseen.
    let lived = |frosty| {
        let look = |step| match step {
            step if step < frosty => air(Some(-10)),
            step if step == frosty => air(Some(200)),
            _ => air(None),
        };
        live(&scene, &(0..12).map(look).collect::<Vec<_>>())
    };
    one_form(&scene, lived(1), lived(2));
}

#[test]
fn counts_beyond_their_bound_do_not_matter() {
    let scene = scenes::band_of_soil(Form::Quick);
    let config = scene.device.config();
    let resets = |resets| {
        boot_with(&scene, |image| {
            image.guard.unclosed = Some(17);
            image.guard.resets_while_open = resets;
        })
    };
    one_form(&scene, resets(config.timing.resets_while_open), resets(9));
    let missed = |missed| boot_with(&scene, |image| image.guard.missed_stops = missed);
    one_form(&scene, missed(3), missed(4));
    let given = |open| {
        let mut response = ResponseState::new();
        response.given(&config.response, open);
        boot_with(&scene, |image| image.guard.response = response)
    };
    let enough = config.response.judged_after;
    one_form(&scene, given(enough), given(enough.plus(Millis(1))));
    let unanswered = |doses| {
        let mut response = ResponseState::new();
        for _ in 0..doses {
            response.read(&config.response, scene.soil.0);
            response.given(&config.response, enough);
            response.read(&config.response, scene.soil.0);
            response.age(&config.response, config.response.window);
        }
        boot_with(&scene, |image| image.guard.response = response)
    };
    one_form(&scene, unanswered(config.response.tries), unanswered(config.response.tries + 1));
}

#[test]
fn neither_the_number_of_a_record_nor_the_slot_that_is_filled_matters() {
    let scene = scenes::band_of_soil(Form::Quick);
    let lost = |epoch| boot(&scene, &Stored::Lost(RecordNumber { epoch, sequence: 7 }));
    one_form(&scene, lost(1), lost(5));
    let plan = scene.device.ledger_plan();
    let turned = |slots| {
        let mut ledger = Ledger::empty();
        for _ in 0..slots {
            ledger.age(plan, plan.slot());
        }
        ledger.post(17);
        boot_with(&scene, |image| image.guard.ledger = ledger)
    };
    one_form(&scene, turned(0), turned(2));
}

/// One store failed one time more, at the same times: the other kept all until the first was tried
/// again, when an order made a record due there too.
#[test]
fn failures_of_a_store_do_not_matter_beyond_those_that_lock_out() {
    let scene = scenes::band_of_soil(Form::Quick);
    let mut all_failed = boot(&scene, &LOST);
    let mut one_kept = all_failed.clone();
    let (mut tries, mut newest, mut locked) = (0, None, 0);
    for now in (0..200).map(|step| step * u64::from(scene.unit)) {
        let due = all_failed.clone().step(now, &Inputs::default()).record.is_some();
        tries += u32::from(due);
        let reseated = local(Order::Tended(Deed::Reseated));
        let command = (due && tries == 2).then_some(reseated);
        let inputs = Inputs { command, ..Inputs::default() };
        all_failed.step(now, &inputs);
        let committed = newest.filter(|_| tries == 1);
        let outcome = one_kept.step(now, &Inputs { committed, ..inputs });
        newest = outcome.record.map(|record| record.number);
        locked += outcome.events.iter().filter(|edge| matches!(edge, Event::LockedOut(_))).count();
    }
    assert!(tries >= 6 && locked == 1, "{tries} {locked}");
    one_form(&scene, all_failed, one_kept);
}

/// What a step decides, as far as two zones can be compared that count records differently.
type Decided = (Option<(u32, u8)>, bool, Millis, u64, Option<u64>, Option<Record>, bool);

fn decided(
    outcome: &Outcome,
    now: u64,
    zone: &mut Zone<impl Configuration>,
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
        let second = &scene.mischief.second;
        let other = (!second.is_empty()).then(|| second[dice.below(second.len() as u64) as usize]);
        let second_burst = other.and_then(Show::burst);
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
            // Now and then nobody reads the thermometer.
            let cold = scene.mischief.frost && dice.hit(3);
            let temperature = (!dice.hit(4)).then_some(DeciCelsius(if cold { -50 } else { 200 }));
            steady.air = Some(Air { temperature, demand: None });
        }
        let inputs = Inputs {
            burst: show.burst(),
            second_burst,
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
        permits += decides_the_same(&scenes::two_probes(Form::Quick), seed);
        permits += decides_the_same(&scenes::doubtful_soil(100), seed);
        permits += decides_the_same(&scenes::doubtful_soil(1_000), seed);
        permits += decides_the_same(&scenes::thaw(), seed);
    }
    assert!(permits >= 10_000, "{permits}");
}
