//! A configuration that stays in flash decides as the same one by value.

use std::fmt::{Debug, Write as _};

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::checked;
use drydown::cutoff::{Cutoff, Handle, Sequence, Words};
use drydown::persist::{RamStore, Stored};
use drydown::policy::{BuiltIn, Hysteresis, Metered, Timer};
use drydown::probe::{Burst, CheckedProbe, FrostHold, ProbeConfig, Rail};
use drydown::quantity::{DeciCelsius, Millis, Moisture, RawCounts, Volume};
use drydown::soil::Band;
use drydown::zone::{
    Air, Boot, BootCause, CheckedZone, Command, Configuration, Event, Fixed, InFlash, Inputs, Kept,
    Link, OneProbe, Order, Origin, Outcome, Probes, Retained, Signals, Stance, Supply, Tank,
    TwoProbes, Zone, ZoneConfig, turn,
};
use drydown_tests::configs::{AIR, WATER, counts};
use proptest::prelude::*;

const PROBE: CheckedProbe = {
    let curve = checked!(Curve::two_point(
        CurvePoint { raw: AIR, moisture: Moisture::ZERO },
        CurvePoint { raw: WATER, moisture: Moisture::FULL },
        Basis::Volumetric,
    ));
    let usable = (RawCounts(100), RawCounts(3_900));
    let usual = ProbeConfig::around(curve, AIR, WATER, usable, Rail::Low);
    checked!(ProbeConfig { frost: Some(FrostHold::USUAL), ..usual }.check())
};
const BAND: Band = checked!(Band::new(Moisture::from_percent(25), Moisture::from_percent(35), 500));
const SOAK: Millis = Millis::from_mins(20);
const BASIS: Basis = Basis::Volumetric;

const fn usual(probes: &Probes, policy: BuiltIn) -> ZoneConfig {
    ZoneConfig::usual(*probes, policy, Millis::from_mins(10), Millis::from_mins(30))
}

/// One probe, a band.
enum Trough {}

impl Fixed for Trough {
    type Policy = BuiltIn;
    type Probes = OneProbe;
    const ZONE: &CheckedZone = &{
        let policy =
            BuiltIn::Hysteresis(Hysteresis { band: BAND, basis: BASIS, agree: 3, soak: SOAK });
        checked!(usual(&Probes::One(PROBE), policy).check())
    };
}

/// Two probes, metered doses, and a ration while automatic cannot water.
enum Bed {}

impl Fixed for Bed {
    type Policy = BuiltIn;
    type Probes = TwoProbes;
    const ZONE: &CheckedZone = &{
        let small_dose = Millis::from_secs(15);
        let probes = Probes::Two { first: PROBE, second: PROBE, most_apart: 800, small_dose };
        let dose = Millis::from_secs(40);
        let policy =
            BuiltIn::Metered(Metered { band: BAND, basis: BASIS, agree: 2, dose, soak: SOAK });
        let stance = Stance::Ration { dose: Millis::from_secs(20), every: Millis::from_hours(6) };
        checked!(ZoneConfig { stance, ..usual(&probes, policy) }.check())
    };
}

/// No probe, by the clock.
enum Herbs {}

impl Fixed for Herbs {
    type Policy = BuiltIn;
    type Probes = OneProbe;
    const ZONE: &CheckedZone = &{
        let timer = Timer { dose: Millis::from_secs(90), every: Millis::from_hours(4) };
        checked!(usual(&Probes::None, BuiltIn::Timer(timer)).check())
    };
}

/// One part of a history: what is shown, and what is ordered.
type Part = (u8, u16, u16);

fn inputs((kind, one, other): Part) -> Inputs {
    let burst = |level: u16| Burst::single(counts(level % 10_001));
    let order = match kind {
        0..4 => Some(Order::Water(Millis(u32::from(one)))),
        4 => Some(Order::Off),
        5..8 => Some(Order::Automatic),
        8 => Some(Order::Bench),
        9..14 => Some(Order::Acknowledge),
        14..20 => Some(Order::Initialise),
        _ => None,
    };
    let origin = if kind % 2 == 0 { Origin::Local } else { Origin::Remote };
    // Mostly soil that dries and is watered, now and then a probe that shows anything.
    let level = |drawn: u16| if kind % 8 == 7 { drawn } else { 2_000 + drawn % 1_200 };
    Inputs {
        burst: (kind % 16 != 3).then(|| burst(level(one))),
        second_burst: (kind % 16 != 5).then(|| burst(level(other))),
        supply: if kind % 32 == 1 { Supply::Busy } else { Supply::Granted },
        link: if kind % 4 == 1 { Link::Up } else { Link::Down },
        command: order.map(|order| Command { order, origin }),
        air: (kind % 4 == 0).then(|| Air {
            temperature: Some(DeciCelsius((other % 300).cast_signed() - 20)),
            demand: Some(Volume(u32::from(one % 4_000))),
        }),
        signals: Signals {
            tank: (kind == 40).then_some(Tank::Empty),
            rain: (kind % 64 == 9).then_some(true),
            ..Signals::default()
        },
        ..Inputs::default()
    }
}

/// A zone that came to life, the same in a place of its own as handed on.
fn booted<C: Configuration<Policy = BuiltIn> + Copy>(
    config: C,
    boot: Boot,
    stored: &Stored,
    kept: Option<Kept<C>>,
) -> Zone<C>
where
    Zone<C>: Debug,
{
    let mut place = None;
    let there = format!("{:?}", Zone::boot_into(&mut place, config, boot, stored, kept.clone()));
    let zone = Zone::boot(config, boot, stored, kept);
    assert_eq!(format!("{zone:?}"), there);
    zone
}

/// What a device decides in a history, with what it shows after each turn. Where it may sleep deeply it
/// does at times, and at times it is reset.
fn lived<C: Configuration<Policy = BuiltIn> + Copy>(
    config: C,
    parts: &[Part],
) -> (Vec<Outcome>, String)
where
    Zone<C>: Debug,
{
    let words = Words::new();
    let (mut cutoff, mut handle) = (Cutoff::new(&words, Sequence::SINGLE), Handle::new(&words));
    let mut store = RamStore::new();
    let mut zone = booted(config, Boot::Start(BootCause::PowerOn), &store.stored(), None);
    let mut place = Retained::empty();
    let mut ticks = 10;
    let mut outcomes = Vec::new();
    let mut shown = String::new();
    for part in parts {
        let boot = match part.0 % 64 {
            21..=23 if zone.retain(&mut place) => Some(Boot::Wake { slept: Millis(part.1.into()) }),
            24 => Some(Boot::Start(BootCause::Watchdog)),
            _ => None,
        };
        if let Some(boot) = boot {
            zone = booted(config, boot, &store.stored(), place.take());
        }
        cutoff.tick(ticks);
        let (now, drive) = handle.sample();
        let outcome = turn(&mut zone, &mut store, now, &Inputs { drive, ..inputs(*part) });
        handle.apply(&outcome);
        cutoff.tick(ticks);
        ticks += (outcome.next.at - now) as u32;
        outcomes.push(outcome);
        let acted_on = zone.reading().map(|reading| (reading, zone.reading_age()));
        writeln!(shown, "{acted_on:?} {:?} {:?}", zone.readings(), zone.waits()).expect("room");
    }
    (outcomes, format!("{shown}{:?} {:?}", zone.record(), zone.meters()))
}

/// Answers how often it opened, and how often it woke.
fn decides_the_same<F: Fixed<Policy = BuiltIn>>(parts: &[Part]) -> (usize, usize) {
    let (by_value, shown) = lived(*F::ZONE, parts);
    let (fixed, shown_fixed) = lived(InFlash::<F>::new(), parts);
    assert_eq!(by_value, fixed);
    assert_eq!(shown, shown_fixed);
    let opened = by_value.iter().filter(|outcome| outcome.permit.is_some()).count();
    let woke = by_value.iter().filter(|outcome| outcome.events.contains(&Event::Woke)).count();
    (opened, woke)
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(100) })]

    #[test]
    fn a_configuration_in_flash_decides_as_one_by_value(
        parts in proptest::collection::vec(any::<Part>(), 1..400),
    ) {
        decides_the_same::<Trough>(&parts);
        decides_the_same::<Bed>(&parts);
        decides_the_same::<Herbs>(&parts);
    }
}

/// Soil that dries from reading to reading, and whose owner declares the record to be empty; asleep
/// between most readings.
#[test]
fn and_what_is_compared_waters_and_sleeps() {
    let kind = |round| match round {
        0 => 14,
        round if round % 3 == 0 => 21,
        _ => 20,
    };
    let drying: Vec<Part> = (0..600).map(|round| (kind(round), 400, 400)).collect();
    for (opened, woke) in [
        decides_the_same::<Trough>(&drying),
        decides_the_same::<Bed>(&drying),
        decides_the_same::<Herbs>(&drying),
    ] {
        assert!(opened > 0 && woke > 0, "opened {opened}, woke {woke} times");
    }
}

/// Nothing of the configuration is in the memory of such a zone.
#[test]
fn a_configuration_in_flash_takes_no_memory() {
    let by_value = size_of::<Zone>();
    let fixed = size_of::<Zone<InFlash<Trough>>>();
    assert!(by_value >= fixed + size_of::<CheckedZone>(), "{by_value} and {fixed} bytes");
}
