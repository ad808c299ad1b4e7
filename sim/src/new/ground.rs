//! Questions about the pot or the bed.

use super::answers::Ground;
use super::dialogue::{Asker, q};
use super::options::Options;
use super::substrate::SUBSTRATES;
use crate::error::InputError;
use crate::scenario::schema::SubstrateKind;
use crate::soil::texture::CLASSES;

impl Options {
    pub(super) fn ground(&self, ask: &mut Asker<'_>) -> Result<Ground, InputError> {
        let says_pot = self.pot_l.is_some() || self.substrate.is_some();
        let says_bed = self.bed_soil.is_some() || self.bed_area.is_some();
        let bed = says_bed
            || (!says_pot
                && ask.asks()
                && ask.word(
                    q("bed-soil", "Is it a pot or a bed"),
                    None,
                    &["pot", "bed"],
                    Some("pot"),
                )? == "bed");
        if bed {
            let soils = CLASSES.map(|class| class.name);
            return Ok(Ground::Bed {
                soil: ask.word(
                    q("bed-soil", "The bed's soil by texture, like sandy loam or loam"),
                    self.bed_soil.as_deref(),
                    &soils,
                    None,
                )?,
                area_m2: ask.number(
                    q("bed-area", "Area of the bed in m²"),
                    self.bed_area,
                    (0.01, 10_000.0),
                    None,
                )?,
                root_depth_m: ask.number(
                    q("root-depth", "Depth of its roots in m"),
                    self.root_depth,
                    (0.05, 3.0),
                    Some(0.3),
                )?,
                wetted_share: ask.number(
                    q("wetted-share", "Share of it that the emitters wet (drip: 0.3 to 0.4)"),
                    self.wetted_share,
                    (0.05, 1.0),
                    Some(0.35),
                )?,
            });
        }
        let volume_l = ask.number(
            q("pot-l", "Litres of substrate in the pot: length × width × height in dm"),
            self.pot_l,
            (0.05, 5_000.0),
            None,
        )?;
        let height_m = ask.number(
            q("pot-height", "Height of the substrate in m"),
            self.pot_height,
            (0.03, 2.0),
            None,
        )?;
        let names = SUBSTRATES.map(|row| row.name);
        let name = ask.word(
            q("substrate", "Substrate: peat, black-peat, coir, bark, perlite or mix"),
            self.substrate.as_deref(),
            &names,
            None,
        )?;
        let kind = SUBSTRATES
            .iter()
            .find(|row| row.name == name)
            .map_or(SubstrateKind::Mix, |row| row.kind);
        let drained_l = match self.drained_l {
            None if !ask.asks() => None,
            given => Some(ask.number(
                q("drained-l", "Kilograms of water in it, soaked and drained (0: not weighed)"),
                given,
                (0.0, 5_000.0),
                Some(0.0),
            )?)
            .filter(|litres| *litres > 0.0),
        };
        let saucer_l = ask.number(
            q("saucer-l", "Litres the saucer holds (0: none)"),
            self.saucer_l,
            (0.0, 1_000.0),
            Some(0.0),
        )?;
        let across_m = ask.number(
            q("canopy-across", "How far the leaves spread, m across, seen from above"),
            self.canopy_across,
            (0.04, 11.0),
            None,
        )?;
        let canopy_m2 = core::f64::consts::FRAC_PI_4 * across_m * across_m;
        Ok(Ground::Pot { substrate: kind, volume_l, height_m, drained_l, saucer_l, canopy_m2 })
    }
}
