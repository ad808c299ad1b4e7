//! Any counts, any times, any limits: properties, with a slow second way beside each sum.

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::probe::{Burst, Context, FlatLimit, FrostHold, ProbeConfig, ProbeState, Rail};
use drydown::quantity::{DeciCelsius, Millis, Moisture, RawCounts};
use proptest::prelude::*;

use crate::bench::{Bench, MINUTE, TEN_MINUTES, config, probe};

/// Any limits at all, checked or refused.
fn any_config() -> impl Strategy<Value = ProbeConfig> {
    let curve = (any::<u16>(), any::<u16>(), 0_u16..=10_000, 0_u16..=10_000).prop_filter_map(
        "two different points",
        |(x, y, one, other)| {
            let at = |raw, centi| CurvePoint {
                raw: RawCounts(raw),
                moisture: Moisture::from_centi(centi),
            };
            Curve::two_point(at(x, one), at(y, other), Basis::Volumetric).ok()
        },
    );
    let numbers = (1..=2_000_u16, 0..=4_u8, 10..=10_000_u16, 10..=10_000_u16, any::<u16>());
    let times = (60_000..=86_400_000_u32, 600_000..=604_800_000_u32, 0..=86_400_000_u32);
    (curve, numbers, times, any::<[bool; 3]>(), -400..=400_i16).prop_map(
        |(curve, (detection, smoothing, fall, pull, spread), times, flags, below)| {
            let (dry, wet) = (curve.driest().raw, curve.wettest().raw);
            let usable = (RawCounts(0), RawCounts(u16::MAX));
            let rail = if flags[0] { Rail::Low } else { Rail::High };
            let mut config = ProbeConfig::around(curve, dry, wet, usable, rail);
            // Within what the curve can span, so that most of these pass the check.
            let width = curve.wettest().moisture.above(curve.driest().moisture);
            let detection = 1 + detection % (width / 8 + 1);
            let pull = 10 + pull % (width / 2 + 1);
            config.detection = detection;
            config.drainage.rise = detection.saturating_mul(2);
            config.drainage.length = Millis(times.0);
            config.out_of_soil.step = detection.saturating_mul(2).saturating_add(1);
            config.out_of_soil.rate = pull;
            config.most_fall_per_hour = fall;
            config.smoothing = smoothing;
            config.most_spread = spread.max(1).min(config.highest.0 - config.lowest.0);
            config.flat = flags[1].then_some(FlatLimit { least: 1, within: Millis(times.1) });
            config.frost = flags[2].then_some(FrostHold {
                below: DeciCelsius(below),
                release: DeciCelsius(below + 20),
                release_after: Millis(times.2),
            });
            config
        },
    )
}

#[derive(Clone, Debug)]
enum Act {
    Take(Vec<u16>, Option<i16>, bool),
    Age(u32),
    Missed,
    Water,
    Acknowledge,
    Resume(Option<u16>),
}

fn any_act() -> impl Strategy<Value = Act> {
    prop_oneof![
        6 => (prop::collection::vec(any::<u16>(), 1..=8), any::<Option<i16>>(), any::<bool>())
            .prop_map(|(counts, temperature, watering)| Act::Take(counts, temperature, watering)),
        4 => (any::<u16>(), any::<bool>())
            .prop_map(|(count, watering)| Act::Take(vec![count], None, watering)),
        4 => any::<u32>().prop_map(Act::Age),
        4 => (0..3_600_000_u32).prop_map(Act::Age),
        1 => Just(Act::Missed),
        1 => Just(Act::Water),
        1 => Just(Act::Acknowledge),
        1 => any::<Option<u16>>().prop_map(Act::Resume),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4_000))]

    /// The probe's part of S13, which `boards/link-check` shows of the whole control path. Whatever the
    /// pins and the caller do: no panic (overflow checks are on in tests), a verdict
    /// that agrees with the counts, a moisture within its range.
    #[test]
    fn byte_soup_never_panics(config in any_config(), acts in prop::collection::vec(any_act(), 1..60)) {
        let checked = config.check();
        prop_assume!(checked.is_ok());
        let probe = checked.unwrap();
        let mut state = ProbeState::new();
        for act in acts {
            match act {
                Act::Take(counts, temperature, watering) => {
                    let counts: Vec<RawCounts> = counts.into_iter().map(RawCounts).collect();
                    let context =
                        Context { temperature: temperature.map(DeciCelsius), watering };
                    let reading = state.take(&probe, &Burst::new(&counts).unwrap(), &context);
                    prop_assert!(reading.moisture <= Moisture::FULL);
                    prop_assert_eq!(state.last(), Some(reading));
                    if reading.is_plausible() {
                        prop_assert!((config.lowest..=config.highest).contains(&reading.raw));
                        prop_assert_eq!(state.saved(), Some(reading.sample));
                    }
                }
                Act::Age(elapsed) => state.age(Millis(elapsed)),
                Act::Missed => state.missed(),
                Act::Water => state.water_given(),
                Act::Acknowledge => state.acknowledge(),
                Act::Resume(saved) => state.resume(saved.map(Moisture::from_centi)),
            }
        }
    }

    /// The median the slow way: sort, take the middle.
    #[test]
    fn median_and_spread_against_sorting(counts in prop::collection::vec(any::<u16>(), 1..=8)) {
        let raws: Vec<RawCounts> = counts.iter().copied().map(RawCounts).collect();
        let burst = Burst::new(&raws).unwrap();
        let mut sorted = counts.clone();
        sorted.sort_unstable();
        let middle = sorted.len() / 2;
        let median = if sorted.len() % 2 == 1 {
            sorted[middle]
        } else {
            sorted[middle - 1].midpoint(sorted[middle])
        };
        prop_assert_eq!(burst.median(), RawCounts(median));
        let left = if sorted.len() >= 5 { &sorted[1..sorted.len() - 1] } else { &sorted };
        prop_assert_eq!(burst.spread(), left[left.len() - 1] - left[0]);
    }

    /// The average the slow way, in f64: the integer one stays within 0.01 % and settles exactly.
    #[test]
    fn average_against_floating_point(
        smoothing in 0_u8..=4,
        start in 2_000_u16..=9_000,
        steps in prop::collection::vec(-100_i16..=100, 1..80),
    ) {
        let probe = ProbeConfig { smoothing, ..config(true) }.check().unwrap();
        let mut bench = Bench::new(probe);
        let mut expected: Option<f64> = None;
        for step in steps {
            let reading = bench.soil(TEN_MINUTES, start.saturating_add_signed(step));
            prop_assert_eq!(reading.fault, None);
            let sample = f64::from(reading.sample.centi());
            let average = expected.map_or(sample, |before| {
                before + (sample - before) / f64::from(1_u32 << smoothing)
            });
            let away = (f64::from(reading.moisture.centi()) - average).abs();
            prop_assert!(away <= 1.001, "{} from {}", away, average);
            expected = Some(average);
        }
        let mut last = bench.soil(TEN_MINUTES, start);
        for _ in 0..200 {
            last = bench.soil(TEN_MINUTES, start);
        }
        prop_assert_eq!(last.moisture, last.sample);
    }

    /// Rain, a can, a hose: rises of any size after any time are believed at once.
    #[test]
    fn wet_ward_steps_are_never_a_fault(
        falls: bool,
        first in 600_u16..=9_000,
        rises in prop::collection::vec((0_u16..=6_000, 1_u32..=4_000_000), 1..40),
    ) {
        let mut bench = Bench::new(config(falls).check().unwrap());
        let mut centi = first;
        prop_assert_eq!(bench.fault(MINUTE, centi), None);
        for (rise, after) in rises {
            centi = centi.saturating_add(rise).min(10_000);
            prop_assert_eq!(bench.fault(Millis(after), centi), None);
        }
    }

    /// Noise that stays within the detection threshold of the truth is no fault at any interval.
    #[test]
    fn noise_within_the_threshold_is_no_fault(
        truth in 1_000_u16..=9_000,
        noise in prop::collection::vec((-97_i16..=97, 1_000_u32..=3_600_000), 1..100),
    ) {
        let mut bench = Bench::new(probe());
        for (away, after) in noise {
            let fault = bench.fault(Millis(after), truth.saturating_add_signed(away));
            prop_assert_eq!(fault, None);
        }
    }

    /// In air at last, after any plausible past with waterings and resets: never believed, until it
    /// is back or acknowledged.
    #[test]
    fn air_after_any_past_is_never_believed(
        past in prop::collection::vec((1_000_u16..=9_500, 1_000_u32..=3_600_000, 0_u8..8), 1..30),
        hang in prop::collection::vec((0_u16..=200, 1_000_u32..=3_600_000, any::<bool>()), 1..30),
    ) {
        let mut bench = Bench::new(probe());
        let floor = bench.probe.pull_out_floor();
        for (centi, after, event) in past {
            bench.soil(Millis(after), centi);
            match event {
                0 => bench.reset(),
                1 => bench.state.water_given(),
                2 => bench.state.missed(),
                _ => {}
            }
        }
        prop_assume!(bench.state.saved().is_some_and(|saved| saved >= floor));
        let edge = bench.probe.config().out_of_soil.air_edge.0;
        for (drier, after, reset) in hang {
            if reset {
                bench.reset();
            }
            let reading = bench.raw(Millis(after), edge + drier);
            prop_assert!(!reading.is_plausible(), "{:?}", reading);
        }
    }

    /// The same calls in the same order end in the same state: nothing hidden decides.
    #[test]
    fn equal_pasts_are_equal_states(config in any_config(), acts in prop::collection::vec(any::<(u16, u32)>(), 1..30)) {
        let checked = config.check();
        prop_assume!(checked.is_ok());
        let probe = checked.unwrap();
        let mut bench = Bench::new(probe);
        for &(raw, after) in &acts {
            bench.raw(Millis(after), raw);
        }
        let mut again = Bench::new(probe);
        for &(raw, after) in &acts {
            // Ageing in two halves is ageing once.
            again.state.age(Millis(after / 2));
            again.raw(Millis(after - after / 2), raw);
        }
        prop_assert_eq!(bench.state, again.state);
    }
}
