//! Glances and records of invented states.

use drydown::air::{AirFault, Climate, Sample};
use drydown::bench::Findings;
use drydown::calibration::Basis;
use drydown::guard::{Cause, Closed, Path};
use drydown::panel::{Doing, Glance, LastWater, Shown, Trouble, Troubles, Well};
use drydown::quantity::{Millis, Moisture};
use drydown::zone::Mode;

pub fn minutes(minutes: u32) -> Millis {
    Millis::from_mins(minutes)
}

/// What a sensor of the air shows at so many degrees and percent.
pub fn air(temperature_c: f32, humidity_pct: f32) -> Result<Climate, AirFault> {
    Climate::of(Sample { temperature_c, humidity_pct })
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
        air: Some(air(25.0, 50.0)),
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

/// What the checks found, by the table of its bytes: the check under way with the resets it counted, and
/// the marks and numbers of the first checks.
pub fn record([under_way, resets]: [u8; 2], rows: &[(u8, u32)]) -> Findings {
    let mut bytes = [0; Findings::BYTES];
    bytes[..3].copy_from_slice(&[1, under_way, resets]);
    for (place, (mark, number)) in bytes[8..53].chunks_exact_mut(5).zip(rows) {
        place[0] = *mark;
        place[1..].copy_from_slice(&number.to_le_bytes());
    }
    let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(&bytes[..53]);
    bytes[53..].copy_from_slice(&crc.to_le_bytes());
    Findings::from_bytes(&bytes).expect("every bit fits")
}

/// Of which no check is under way.
pub const NONE_UNDER_WAY: [u8; 2] = [u8::MAX, 0];
