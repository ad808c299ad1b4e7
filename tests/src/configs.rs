//! Zone configurations the tests share. All numbers are invented.

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::guard::{Limits, ResponseConfig};
use drydown::policy::{BuiltIn, Hysteresis, Metered};
use drydown::probe::{CheckedProbe, ProbeConfig, Rail};
use drydown::quantity::{Flow, Millis, Moisture, RawCounts, Volume};
use drydown::soil::Band;
use drydown::zone::{ByHand, Probes, Sampling, ZoneConfig};

/// Counts of the invented probe in air and in water.
pub const AIR: RawCounts = RawCounts(2_850);
/// See [`AIR`].
pub const WATER: RawCounts = RawCounts(870);

/// Counts that the invented probe shows at a moisture, hundredths of a percent.
pub fn counts(centi: u16) -> RawCounts {
    let span = u32::from(AIR.0 - WATER.0);
    RawCounts(AIR.0 - (span * u32::from(centi) / 10_000) as u16)
}

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
