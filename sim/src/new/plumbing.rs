//! Questions about water, what opens, and the bucket.

use super::answers::{Opens, Plumbing, WaterFrom};
use super::dialogue::{Asker, q};
use super::options::Options;
use crate::error::InputError;

impl Options {
    pub(super) fn plumbing(&self, ask: &mut Asker<'_>) -> Result<Plumbing, InputError> {
        let drive = ask.word(
            q("drive", "What opens: valve or pump"),
            self.drive.as_deref(),
            &["valve", "pump"],
            Some(if self.pump_head.is_some() || self.lift.is_some() { "pump" } else { "valve" }),
        )?;
        let pumped = drive == "pump";
        let (source, outlet_height_m) = self.source(ask, pumped)?;
        let opens = self.opens(ask, pumped)?;
        let dead_s = ask.number(
            q("dead-s", "Seconds from switching on to flow"),
            self.dead_s,
            (0.0, 120.0),
            Some(0.5),
        )?;
        let emitters = ask.whole(
            q("emitters", "Outlets at the pot"),
            self.emitters,
            (1.0, 1_000.0),
            Some(1.0),
        )?;
        let litres = ask.number(
            q("bucket-l", "Bucket test: litres from all outlets together"),
            self.bucket_l,
            (0.001, 10_000.0),
            None,
        )?;
        let seconds = ask.number(
            q("bucket-s", "Bucket test: in so many seconds"),
            self.bucket_s,
            (1.0, 86_400.0),
            Some(60.0),
        )?;
        Ok(Plumbing {
            source,
            outlet_height_m,
            drive: opens,
            dead_s,
            emitters: emitters as u32,
            flow_l_h: litres / seconds * 3600.0,
        })
    }

    /// Tank or mains, and how high the outlets are above the tank's floor, m.
    fn source(&self, ask: &mut Asker<'_>, pumped: bool) -> Result<(WaterFrom, f64), InputError> {
        let mains = self.mains_head.is_some()
            || (self.tank_l.is_none()
                && !pumped
                && ask.asks()
                && ask.word(
                    q("tank-l", "Water from a tank or the mains"),
                    None,
                    &["tank", "mains"],
                    Some("tank"),
                )? == "mains");
        let source = if mains {
            WaterFrom::Mains(ask.number(
                q("mains-head", "Head of the mains at the emitters in m (1 bar is 10.2 m)"),
                self.mains_head,
                (0.1, 120.0),
                None,
            )?)
        } else {
            WaterFrom::Tank {
                litres: ask.number(
                    q("tank-l", "Litres in the full tank"),
                    self.tank_l,
                    (0.1, 1e6),
                    None,
                )?,
                depth_m: ask.number(
                    q("tank-depth", "Depth of water in the full tank in m"),
                    self.tank_depth,
                    (0.02, 20.0),
                    Some(0.4),
                )?,
            }
        };
        let outlet_height_m = if mains {
            0.0
        } else {
            ask.number(
                q(
                    "outlet-height",
                    "Height of the outlets above the tank's floor in m (negative: below)",
                ),
                self.outlet_height,
                (-50.0, 50.0),
                None,
            )?
        };
        Ok((source, outlet_height_m))
    }

    /// Valve or pump.
    fn opens(&self, ask: &mut Asker<'_>, pumped: bool) -> Result<Opens, InputError> {
        Ok(if pumped {
            Opens::Pump {
                most_m: ask.number(
                    q("pump-head", "Head at which the pump gives nothing, in m, from its label"),
                    self.pump_head,
                    (0.05, 500.0),
                    Some(3.0),
                )?,
                lift_m: ask.number(
                    q("lift", "Height that it lifts, in m"),
                    self.lift,
                    (0.0, 500.0),
                    Some(0.3),
                )?,
            }
        } else {
            Opens::Valve(ask.number(
                q("valve-head", "Least head that the valve needs, in m, from its data sheet"),
                self.valve_head,
                (0.0, 100.0),
                Some(0.0),
            )?)
        })
    }
}
