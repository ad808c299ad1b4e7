//! Questions about the probe.

use super::answers::ProbeEnds;
use super::dialogue::{Asker, q};
use super::options::Options;
use crate::error::InputError;

impl Options {
    pub(super) fn probe(&self, ask: &mut Asker<'_>) -> Result<ProbeEnds, InputError> {
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
            ask.number(q("bits", "Bits of the converter"), self.bits, (8.0, 16.0), Some(12.0))?;
        let lag_min = ask.number(
            q("lag-min", "Minutes from water to the first change of the reading"),
            self.lag_min,
            (0.1, 240.0),
            Some(6.0),
        )?;
        Ok(ProbeEnds { air, water, drained, bits: bits.round() as u8, lag_min })
    }
}
