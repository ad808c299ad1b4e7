//! The curve that was taken with the buttons: how it is kept, and what it makes of a zone.

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::probe::ProbeConfig;
use drydown::quantity::{Moisture, RawCounts};
use drydown::zone::{CheckedZone, Probes, ZoneConfig};

use crate::board::Setup;

/// Bytes of a kept curve: version, basis, count of points, and four for each that there can be.
pub(crate) const LENGTH: usize = 3 + 4 * Curve::MOST;
const VERSION: u8 = 1;

/// The bytes of a curve. The queue that keeps them has a CRC of its own.
pub(crate) fn to_bytes(curve: &Curve) -> [u8; LENGTH] {
    let mut bytes = [0; LENGTH];
    let basis = match curve.basis() {
        Basis::Volumetric => 1,
        Basis::Span => 2,
    };
    let (head, points) = bytes.split_at_mut(3);
    let mut count = 0;
    for (place, point) in points.chunks_exact_mut(4).zip(curve.points()) {
        let (raw, moisture) = (point.raw.0.to_le_bytes(), point.moisture.centi().to_le_bytes());
        place.copy_from_slice(&[raw[0], raw[1], moisture[0], moisture[1]]);
        count += 1;
    }
    head.copy_from_slice(&[VERSION, basis, count]);
    bytes
}

/// The curve of some bytes, checked as one that is typed in.
pub(crate) fn from_bytes(bytes: &[u8]) -> Option<Curve> {
    let (&[VERSION, basis, count], points) = bytes.split_first_chunk::<3>()? else { return None };
    let basis = match basis {
        1 => Basis::Volumetric,
        2 => Basis::Span,
        _ => return None,
    };
    let none = CurvePoint { raw: RawCounts(0), moisture: Moisture::ZERO };
    let mut curve = [none; Curve::MOST];
    let places = curve.get_mut(..usize::from(count))?;
    for (place, bytes) in places.iter_mut().zip(points.chunks_exact(4)) {
        let &[a, b, c, d] = bytes.first_chunk()?;
        let moisture = Moisture::try_from(u16::from_le_bytes([c, d])).ok()?;
        *place = CurvePoint { raw: RawCounts(u16::from_le_bytes([a, b])), moisture };
    }
    Curve::new(places, basis).ok()
}

/// The zone with a curve taken at the device, if that passes the checks of one that is built in.
pub(crate) fn zone_with(setup: &Setup, curve: Curve) -> Option<CheckedZone> {
    let built_in = setup.probe()?;
    let (air, water) = (curve.driest().raw, curve.wettest().raw);
    // A probe counts up or down with water, and does not change sides: the points were taken the
    // wrong way round, and dry soil would read as moist.
    let was = &built_in.curve;
    if (air < water) != (was.driest().raw < was.wettest().raw) {
        return None;
    }
    let around = ProbeConfig::around(curve, air, water, setup.usable, setup.open_reads);
    // What is not the curve's stays as it was chosen.
    let probe = ProbeConfig {
        frost: built_in.frost,
        smoothing: built_in.smoothing,
        most_fall_per_hour: built_in.most_fall_per_hour,
        ..around
    };
    let probes = Probes::One(probe.check().ok()?);
    ZoneConfig { probes, ..*setup.zone.config() }.check().ok()
}

#[cfg(test)]
mod tests {
    use std::vec::Vec;

    use super::{from_bytes, to_bytes};
    use drydown::calibration::{Basis, Curve, CurvePoint};
    use drydown::quantity::{Moisture, RawCounts};

    fn curve() -> Curve {
        let points = [(3_000, 0), (2_100, 4_000), (1_000, 10_000)].map(|(raw, centi)| {
            let moisture = Moisture::try_from(centi).expect("at most 100 %");
            CurvePoint { raw: RawCounts(raw), moisture }
        });
        Curve::new(&points, Basis::Span).expect("an ordinary curve")
    }

    #[test]
    fn a_curve_comes_back_from_its_bytes() {
        assert_eq!(from_bytes(&to_bytes(&curve())), Some(curve()));
    }

    /// Of all bytes that one flipped bit can make, none is a curve that does not fall or rise.
    #[test]
    fn a_damaged_curve_is_checked_as_one_that_is_typed_in() {
        let bytes = to_bytes(&curve());
        let mut refused = 0;
        for bit in 0..bytes.len() * 8 {
            let mut damaged = bytes;
            damaged[bit / 8] ^= 1 << (bit % 8);
            match from_bytes(&damaged) {
                Some(read) => {
                    let points: Vec<CurvePoint> = read.points().collect();
                    assert_eq!(Curve::new(&points, read.basis()), Ok(read));
                }
                None => refused += 1,
            }
        }
        assert!(refused > 20, "{refused}");
        assert_eq!(from_bytes(&bytes[..2]), None);
        assert_eq!(from_bytes(&bytes[..10]), None);
    }
}
