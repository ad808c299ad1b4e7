//! Source, pump or valve, line and emitters.

use super::Prepare;
use super::refused::told;
use crate::error::InputError;
use crate::plumbing::source::{Source as WaterSource, SourceState, Tank};
use crate::plumbing::{Drive, Line, LineRest, LineSpec, MAX_OUTLETS, Outlet};

impl Prepare<'_> {
    pub(super) fn water(&self) -> Result<(WaterSource, SourceState), InputError> {
        let table = &self.scenario.water;
        let (source, stored_l) = match (table.tank_l, table.mains_head_m) {
            (Some(holds_l), None) => {
                self.source.within("water.tank_l", holds_l, 0.1, 1e6)?;
                self.source.within("water.tank_depth_m", table.tank_depth_m, 0.02, 20.0)?;
                let begins = table.tank_begins_l.unwrap_or(holds_l);
                self.source.within("water.tank_begins_l", begins, 0.0, holds_l)?;
                let area_m2 = holds_l * 1e-3 / table.tank_depth_m;
                (WaterSource::Tank(Tank { holds_l, area_m2, unusable_l: 0.02 * holds_l }), begins)
            }
            (None, Some(head_m)) => (WaterSource::Mains { head_m }, 0.0),
            _ => {
                let message = "needs exactly one of `tank_l` and `mains_head_m`";
                return Err(self.source.error("water", message));
            }
        };
        let source = source.checked().map_err(|error| self.physical("water", &error))?;
        Ok((source, SourceState { stored_l }))
    }

    /// Why nothing flows at the start, by the field that holds it back.
    pub(super) fn no_flow(&self, source: &WaterSource, stored: SourceState) -> InputError {
        let table = &self.scenario.water;
        let head_m = source.head_m(stored, table.outlet_height_m);
        let least_m = table.valve_least_head_m;
        let (field, value, why) = if source.usable_l(stored) <= 0.0 {
            let why = "must be more: so little lies below what valve or pump can draw".to_owned();
            ("tank_begins_l", stored.stored_l, why)
        } else if table.is_pumped() {
            let most_m = told(table.pump_head_m);
            let why =
                format!("must be below {most_m} m, at which the pump (pump_head_m) gives nothing");
            ("lift_m", table.lift_m, why)
        } else if head_m > 0.0 {
            let why = format!(
                "must be below {} m, the head at the emitters at the start, or the valve never opens",
                told(head_m)
            );
            ("valve_least_head_m", least_m, why)
        } else if let Some(head_m) = table.mains_head_m {
            ("mains_head_m", head_m, "must be above 0 m, or nothing flows".to_owned())
        } else {
            let why = format!(
                "must be below {} m, where the water stands at the start, or nothing flows",
                told(head_m + table.outlet_height_m)
            );
            ("outlet_height_m", table.outlet_height_m, why)
        };
        self.source.error(&format!("water.{field}"), why).value(value)
    }

    pub(super) fn line(&self, pots: usize) -> Result<Line, InputError> {
        let table = &self.scenario.water;
        self.source.within("water.emitter_l_h", table.emitter_l_h, 0.01, 1e5)?;
        self.source.within("water.emitter_head_m", table.emitter_head_m, 0.01, 100.0)?;
        self.source.within("water.emitters", f64::from(table.emitters), 1.0, 1_000.0)?;
        if pots > MAX_OUTLETS {
            let message = format!("must be at most {} on one valve or pump", MAX_OUTLETS - 1);
            return Err(self.source.error("neighbour", message).value(pots - 1));
        }
        let k_l_h = table.emitter_l_h / table.emitter_head_m.powf(table.emitter_exponent);
        let mut outlets = vec![Outlet { emitters: table.emitters, k_l_h, spread: 1.0 }];
        outlets.extend(self.scenario.neighbours.iter().map(|pot| Outlet {
            emitters: pot.emitters,
            k_l_h,
            spread: 1.0 - pot.clogged,
        }));
        let drive = match table.pump_l_h {
            Some(free_flow_l_h) => Drive::Pump {
                free_flow_l_h,
                shutoff_head_m: table.pump_head_m,
                lift_m: table.lift_m,
                air_break: table.air_break,
            },
            None => Drive::Valve { minimum_head_m: table.valve_least_head_m },
        };
        let spec = LineSpec {
            drive,
            outlets,
            exponent: table.emitter_exponent,
            outlet_height_m: table.outlet_height_m,
            line_l: table.line_l,
            rest: LineRest::StaysFull,
            opening_s: table.opening_s,
            closing_s: table.closing_s,
            open_end_factor: 4.0,
        };
        Line::new(&spec).map_err(|error| self.physical("water", &error))
    }
}
