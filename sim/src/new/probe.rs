//! Questions about the probe, or the table that a calibration made of it.

use super::answers::ProbeEnds;
use super::dialogue::{Asker, q};
use super::options::Options;
use crate::error::InputError;
use crate::scenario::Source;
use crate::scenario::schema::ProbeTable;

impl Options {
    /// The table that a calibration wrote, if one is given.
    pub(super) fn calibrated(&self) -> Result<Option<ProbeTable>, InputError> {
        let Some(path) = &self.probe_table else { return Ok(None) };
        let text = std::fs::read_to_string(path).map_err(|cause| {
            let error = InputError::new(format!("cannot be read: {cause}"));
            error.field("--probe-table").value(path)
        })?;
        let source = Source::from_text(path, &text);
        let table = source.parse_probe()?;
        if table.measured_curve.is_none() {
            let error = source.error("probe.measured_curve", "is missing: no curve was measured");
            return Err(error.suggest("drydown calibrate --fragment writes a table that has one"));
        }
        Ok(Some(table))
    }

    pub(super) fn probe(
        &self,
        ask: &mut Asker<'_>,
        calibrated: Option<&ProbeTable>,
    ) -> Result<ProbeEnds, InputError> {
        if let Some(table) = calibrated {
            let (air, water, bits) = (table.air_counts, table.water_counts, table.bits);
            return Ok(ProbeEnds { air, water, drained: None, bits, lag_min: self.lag(ask)? });
        }
        let counts = (0.0, 65_535.0);
        let air = ask.number(
            q("probe-air", "Raw count of the probe in air"),
            self.probe_air,
            counts,
            None,
        )?;
        let water = ask.number(
            q("probe-water", "Raw count in water, up to its mark"),
            self.probe_water,
            counts,
            None,
        )?;
        let drained = match self.probe_drained {
            None if !ask.asks() => None,
            given => Some(ask.number(
                q("probe-drained", "Raw count in the pot, soaked and drained (0: not read)"),
                given,
                counts,
                Some(0.0),
            )?)
            .filter(|counts| *counts > 0.0),
        };
        let bits =
            ask.whole(q("bits", "Bits of the converter"), self.bits, (8.0, 16.0), Some(12.0))?;
        let lag_min = self.lag(ask)?;
        Ok(ProbeEnds { air, water, drained, bits: bits as u8, lag_min })
    }

    fn lag(&self, ask: &mut Asker<'_>) -> Result<f64, InputError> {
        ask.number(
            q("lag-min", "Minutes from water to the first change of the reading"),
            self.lag_min,
            (0.1, 240.0),
            Some(6.0),
        )
    }
}
