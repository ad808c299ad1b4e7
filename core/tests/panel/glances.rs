//! Glances of invented states.

use drydown::air::{Climate, Sample};
use drydown::calibration::Basis;
use drydown::guard::{Cause, Closed, Path};
use drydown::panel::{Doing, Glance, LastWater, Shown, Trouble, Troubles, Well};
use drydown::quantity::{Millis, Moisture};
use drydown::zone::Mode;

pub fn minutes(minutes: u32) -> Millis {
    Millis::from_mins(minutes)
}

/// A pot that is well: 31.4 % between 25 and 35 %, watered three hours ago.
pub fn well() -> Glance {
    Glance {
        well: Well::AllWell,
        mode: Mode::Automatic,
        probed: true,
        shown: Some(Shown {
            moisture: Moisture::from_centi(3_140),
            basis: Basis::Volumetric,
            believed: true,
            age: minutes(4),
        }),
        levels: Some([Moisture::from_percent(25), Moisture::from_percent(35)]),
        doing: Doing::MoistEnough(Some(Moisture::from_percent(25))),
        last: Some(LastWater {
            ago: Millis::from_hours(3),
            closed: Closed { path: Path::Automatic, cause: Cause::StopReached, on: minutes(12) },
        }),
        no_water_for: Millis::from_hours(3),
        troubles: Troubles::default(),
        notice: None,
        spent: [minutes(12), minutes(60)],
        left_by_hand: minutes(48),
        openings: 214,
        air: Climate::of(Sample { temperature_c: 25.0, humidity_pct: 50.0 }).ok().map(Ok),
        frozen: false,
        bench_left: Millis::ZERO,
    }
}

/// The same while it does something else.
pub fn doing(doing: Doing) -> Glance {
    Glance { doing, ..well() }
}

/// The same with troubles.
pub fn troubled(troubles: &[Trouble]) -> Glance {
    let urgent = troubles.iter().any(|trouble| trouble.is_urgent());
    let well_or_not = if urgent { Well::NeedsYou } else { Well::LookSoon };
    Glance { well: well_or_not, troubles: troubles.iter().copied().collect(), ..well() }
}
