//! Zone configurations the tests share. All numbers are invented.

use drydown::calibration::{Basis, Curve, CurvePoint, TemperatureTerm};
use drydown::guard::{Limits, ResponseConfig, Timing, Window};
use drydown::policy::{BuiltIn, Hysteresis, Metered};
use drydown::probe::{CheckedProbe, Drainage, FrostHold, OutOfSoil, ProbeConfig, Rail};
use drydown::quantity::{DeciCelsius, Flow, Millis, Moisture, RawCounts, Volume};
use drydown::soil::Band;
use drydown::watch::WatchConfig;
use drydown::zone::{
    ByHand, FlowRule, LoadRule, Probes, Sampling, SignalRules, Stance, ZoneConfig,
};

/// Counts of the invented probe in air and in water.
pub const AIR: RawCounts = RawCounts(2_850);
/// See [`AIR`].
pub const WATER: RawCounts = RawCounts(870);

/// Counts that the invented probe shows at a moisture, hundredths of a percent.
pub fn counts(centi: u16) -> RawCounts {
    let span = u32::from(AIR.0 - WATER.0);
    RawCounts(AIR.0 - (span * u32::from(centi) / 10_000) as u16)
}

/// What counts of the invented probe stand for, hundredths of a percent: within [`COUNT`].
pub fn level(counts: u16) -> u16 {
    (u32::from(AIR.0.saturating_sub(counts)) * 10_000 / u32::from(AIR.0 - WATER.0)) as u16
}

/// What a count of the invented probe is worth, hundredths of a percent, rounded up.
pub const COUNT: u16 = 6;

/// A probe calibrated in two points, falling when wet, without smoothing or flat-line limit.
///
/// # Panics
/// If the invented numbers were refused.
pub fn probe() -> CheckedProbe {
    let curve = Curve::two_point(
        CurvePoint { raw: AIR, moisture: Moisture::ZERO },
        CurvePoint { raw: WATER, moisture: Moisture::FULL },
        Basis::Volumetric,
    )
    .expect("two points");
    let usable = (RawCounts(100), RawCounts(3_900));
    let config = ProbeConfig::around(curve, AIR, WATER, usable, Rail::Low);
    ProbeConfig { smoothing: 0, flat: None, ..config }.check().expect("the invented probe")
}

/// The same probe where soil freezes: in frost until it was warm for so long.
///
/// # Panics
/// If the invented numbers were refused.
pub fn probe_in_frost(release_after: Millis) -> CheckedProbe {
    let frost = FrostHold { release_after, ..FrostHold::USUAL };
    ProbeConfig { frost: Some(frost), ..*probe().config() }.check().expect("the invented probe")
}

/// A band of 25 to 35 %.
///
/// # Panics
/// If the invented numbers were refused.
pub fn band() -> Band {
    Band::new(Moisture::from_percent(25), Moisture::from_percent(35), 500).expect("a band")
}

/// Hysteresis from 25 to 35 %, ten-minute samples, at most 30 min open and 60 min in 24 h.
pub fn trough() -> ZoneConfig {
    let policy = BuiltIn::Hysteresis(Hysteresis {
        band: band(),
        basis: Basis::Volumetric,
        agree: 3,
        soak: Millis::from_mins(20),
    });
    let (max_open, per_day) = (Millis::from_mins(30), Millis::from_mins(60));
    let usual = ZoneConfig::usual(Probes::One(probe()), policy, max_open, per_day);
    ZoneConfig {
        sampling: Sampling { warm_up: Millis(200), ..usual.sampling },
        limits: Limits {
            min_open: Millis::from_secs(10),
            fallback_per_day: Millis::from_mins(10),
            remote_per_day: Millis::from_mins(20),
            bench_per_day: Millis::from_mins(30),
            ..usual.limits
        },
        response: ResponseConfig {
            judged_after: Millis::from_mins(10),
            window: Millis::from_mins(20),
            ..usual.response
        },
        ..usual
    }
}

/// A bare pump of 4 L/min: metered doses of five seconds.
///
/// # Panics
/// If the invented numbers were refused.
pub fn pump() -> ZoneConfig {
    let dose = Volume::from_ml(333).time_at(Flow(240_000)).expect("it flows");
    let base = trough();
    ZoneConfig {
        policy: BuiltIn::Metered(Metered {
            band: band(),
            basis: Basis::Volumetric,
            agree: 3,
            dose,
            soak: Millis::from_mins(30),
        }),
        sampling: Sampling { while_open: false, ..base.sampling },
        limits: Limits {
            max_open: Millis::from_secs(15),
            min_open: Millis::from_secs(1),
            per_day: Millis::from_secs(90),
            fallback_per_day: Millis::from_secs(20),
            local_per_day: Millis::from_secs(60),
            remote_per_day: Millis::from_secs(30),
            bench_per_day: Millis::from_secs(30),
            ..base.limits
        },
        by_hand: ByHand { remote_longest: Millis::from_secs(10), ..base.by_hand },
        response: ResponseConfig { judged_after: Millis::from_secs(4), ..base.response },
        ..base
    }
}

/// A curve by percent of volume through counts and hundredths of a percent.
///
/// # Panics
/// If the points are no curve.
pub fn curve(points: &[(u16, u16)]) -> Curve {
    let point = |&(raw, centi): &(u16, u16)| CurvePoint {
        raw: RawCounts(raw),
        moisture: Moisture::from_centi(centi),
    };
    let points: Vec<CurvePoint> = points.iter().map(point).collect();
    Curve::new(&points, Basis::Volumetric).expect("an invented curve")
}

/// Listed from the dry end; the image has it by rising counts.
fn first_of_two() -> CheckedProbe {
    let term = TemperatureTerm { sixteenths_per_degree: -320, reference: DeciCelsius(215) };
    let curve = curve(&[(2_850, 0), (1_500, 4_200), (870, 10_000)]).with_temperature(term);
    let usable = (RawCounts(100), RawCounts(3_900));
    let (air, water) = (RawCounts(2_850), RawCounts(870));
    let around = ProbeConfig::around(curve.expect("a mild term"), air, water, usable, Rail::Low);
    let probe = ProbeConfig { frost: Some(FrostHold::USUAL), ..around };
    probe.check().expect("the first invented probe")
}

/// One that counts upwards when it gets wet, and has nothing that can be left out.
fn second_of_two() -> CheckedProbe {
    let probe = ProbeConfig {
        curve: curve(&[(700, 500), (2_600, 9_000)]),
        lowest: RawCounts(500),
        highest: RawCounts(2_800),
        open_reads: Rail::High,
        usable_low: RawCounts(80),
        usable_high: RawCounts(3_950),
        most_spread: 190,
        flat: None,
        most_fall_per_hour: 900,
        detection: 120,
        drainage: Drainage { rise: 180, length: Millis::from_hours(1) },
        out_of_soil: OutOfSoil { step: 600, rate: 450, air_edge: RawCounts(800) },
        smoothing: 0,
        frost: None,
    };
    probe.check().expect("the second invented probe")
}

/// What a flow sensor must show of an invented line.
pub const FLOW: FlowRule = FlowRule {
    least: Flow(9_000),
    most: Flow(16_000),
    grace: Millis::from_secs(20),
    most_closed: Flow(240),
    closed_after: Millis::from_mins(1),
};

/// What an invented pump draws.
pub const LOAD: LoadRule = LoadRule { least_ma: 180, most_ma: 420, grace: Millis(700) };

/// Everything that can be fitted is: two probes, flow and current, and no default kept. It is what the
/// committed image `configuration-v1.bin` holds.
///
/// # Panics
/// If the invented numbers were refused.
pub fn all_fitted() -> ZoneConfig {
    let small_dose = Millis::from_secs(20);
    let (first, second) = (first_of_two(), second_of_two());
    let band = Band::new(Moisture::from_percent(25), Moisture::from_percent(35), 500);
    ZoneConfig {
        probes: Probes::Two { first, second, most_apart: 800, small_dose },
        policy: BuiltIn::Metered(Metered {
            band: band.expect("a band"),
            basis: Basis::Volumetric,
            agree: 4,
            dose: Millis::from_secs(45),
            soak: Millis::from_mins(30),
        }),
        sampling: Sampling {
            period: Millis::from_mins(10),
            open_period: Millis::from_secs(10),
            while_open: false,
            warm_up: Millis(200),
        },
        limits: Limits {
            max_open: Millis::from_mins(2),
            min_open: Millis::from_secs(2),
            min_closed: Millis::from_secs(45),
            per_day: Millis::from_mins(20),
            fallback_per_day: Millis::from_mins(5),
            local_per_day: Millis::from_mins(15),
            remote_per_day: Millis::from_mins(10),
            bench_per_day: Millis::from_mins(4),
        },
        timing: Timing {
            open_step: Millis::from_secs(1),
            slack: Millis(500),
            hold_off: Millis::from_mins(1),
            tick: Millis(10),
            watchdog: Millis::from_secs(2),
            run_down: Millis(1_500),
            commit_wait: Millis(2_500),
            jumps_per_day: 4,
            resets_while_open: 3,
        },
        response: ResponseConfig {
            detection: 110,
            judged_after: Millis::from_mins(1),
            window: Millis::from_mins(45),
            tries: 2,
        },
        by_hand: ByHand {
            remote_longest: Millis::from_secs(90),
            remote_acknowledge: true,
            bench_lasts: Millis::from_mins(30),
        },
        stance: Stance::Ration { dose: Millis::from_secs(30), every: Millis::from_hours(8) },
        signals: SignalRules {
            flow: Some(FLOW),
            load: Some(LOAD),
            lowest_supply_mv: 3_300,
            frost: None,
        },
        watch: WatchConfig {
            overdue_demand: Volume(2_500_000),
            overdue_after: Millis::from_hours(96),
            too_wet: Moisture::from_percent(64),
            too_wet_after: Millis::from_hours(48),
            short_interval: Millis(1_750_000),
            short_cycles: 6,
            rise: 150,
            commissioned_rise: 210,
        },
        window: Window::DAY,
    }
}
