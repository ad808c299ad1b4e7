//! The probe as one unit of its kind, and the calibration somebody made of it.

use drydown::calibration::{Basis, Curve, CurvePoint, TemperatureTerm};
use drydown::quantity::{DeciCelsius, Moisture, RawCounts};

use super::Prepare;
use crate::error::InputError;
use crate::noise;
use crate::sensor::{Probe, ProbeSpec};

/// Channel of the counter-based noise for weighing errors.
const WEIGHING: u64 = 48;
const DAYS_A_YEAR: f64 = 365.25;

impl Prepare<'_> {
    pub(super) fn probe(&self) -> Result<Probe, InputError> {
        let table = &self.scenario.probe;
        let top = f64::from((1_u32 << table.bits.min(16)) - 1);
        let spec = ProbeSpec {
            air: table.air_counts,
            dry: table.dry_counts,
            water: table.water_counts,
            bend: table.bend,
            per_kelvin: table.pct_per_kelvin / 100.0,
            creep_per_day: table.drift_pct_per_year / 100.0 / DAYS_A_YEAR,
            noise: table.noise_counts,
            bits: table.bits,
            window: (0, top as u16),
            unit_spread: table.unit_spread,
            ..ProbeSpec::default()
        };
        Probe::new(&spec, self.scenario.unit()).map_err(|error| self.physical("probe", &error))
    }

    /// The curve as a person weighed it: the unit's true counts at moistures that are each a
    /// little off.
    pub(super) fn curve(&self, probe: &Probe) -> Result<Curve, InputError> {
        let table = &self.scenario.probe;
        if let Some(measured) = &table.measured_curve {
            return self.measured_curve(measured);
        }
        self.source.within("probe.weighing_error_pct", table.weighing_error_pct, 0.0, 10.0)?;
        let mut points = vec![];
        for (index, &percent) in table.calibrated_at_pct.iter().enumerate() {
            let field = format!("probe.calibrated_at_pct.{index}");
            self.source.within(&field, percent, 0.0, 100.0)?;
            let off = noise::gaussian(self.scenario.unit(), index as u64, WEIGHING);
            let weighed = (percent + table.weighing_error_pct * off).clamp(0.0, 100.0);
            points.push(CurvePoint {
                raw: RawCounts(probe.transfer(percent / 100.0).round() as u16),
                moisture: Moisture::from_centi((weighed * 100.0).round() as u16),
            });
        }
        Curve::new(&points, Basis::Volumetric)
            .map_err(|error| self.refused_curve("probe.calibrated_at_pct", &error))
    }

    /// The curve of a real bench, as it is.
    fn measured_curve(&self, measured: &[(u16, f64)]) -> Result<Curve, InputError> {
        let table = &self.scenario.probe;
        let mut points = vec![];
        for (index, &(raw, percent)) in measured.iter().enumerate() {
            self.source.within(&format!("probe.measured_curve.{index}.1"), percent, 0.0, 100.0)?;
            let moisture = Moisture::from_centi((percent * 100.0).round() as u16);
            points.push(CurvePoint { raw: RawCounts(raw), moisture });
        }
        let refused = |error| self.refused_curve("probe.measured_curve", &error);
        let curve = Curve::new(&points, Basis::Volumetric).map_err(refused)?;
        let (Some(per_kelvin), Some(reference_c)) =
            (table.curve_pct_per_kelvin, table.curve_reference_c)
        else {
            return Ok(curve);
        };
        let term = TemperatureTerm {
            sixteenths_per_degree: (per_kelvin * 1_600.0).round() as i16,
            reference: DeciCelsius((reference_c * 10.0).round() as i16),
        };
        curve.with_temperature(term).map_err(refused)
    }
}
