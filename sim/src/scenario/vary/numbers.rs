//! Every number a scenario can hold, with the bounds the reader keeps it to.
//!
//! A bound that hangs on another field (a start level below its stop level, a capacity below the
//! pore space) is not listed here: the reader says it when the scenario is prepared.

use super::super::schema::Scenario;

/// A number of the scenario file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Number {
    /// Its dotted path; `*` stands for a position in a list.
    pub path: &'static str,
    /// Smallest value.
    pub min: f64,
    /// Largest value.
    pub max: f64,
    /// Whether it is a whole number.
    pub whole: bool,
}

const fn real(path: &'static str, min: f64, max: f64) -> Number {
    Number { path, min, max, whole: false }
}

const fn whole(path: &'static str, min: f64, max: f64) -> Number {
    Number { path, min, max, whole: true }
}

/// Largest whole number up to which a float holds each exactly: 2^53 − 1.
pub(super) const LARGEST_WHOLE: f64 = 9_007_199_254_740_991.0;

/// All of them, in the order of the schema.
pub const NUMBERS: &[Number] = &[
    real("days", 0.01, 36_600.0),
    whole("seed", 0.0, LARGEST_WHOLE),
    real("away_days", 0.1, 366.0),
    real("site.latitude_deg", -90.0, 90.0),
    real("site.longitude_deg", -180.0, 180.0),
    real("site.elevation_m", -430.0, 6_000.0),
    real("site.wind_height_m", 0.5, 200.0),
    real("site.utc_offset_h", -12.0, 14.0),
    whole("weather.fill_gaps_h", 0.0, 8_784.0),
    real("weather.t_mean_c", -30.0, 45.0),
    real("weather.t_peak_c", -29.0, 70.0),
    real("weather.season_swing_c", 0.0, 30.0),
    real("weather.rain_share", 0.0, 1.0),
    real("weather.storms_a_year", 0.0, 100.0),
    real("weather.storm_mm", 0.0, 150.0),
    real("weather.evaporation_share", 0.0, 3.0),
    real("container.volume_l", 0.05, 5_000.0),
    real("container.height_m", 0.03, 2.0),
    real("container.saturation_pct", 10.0, 98.0),
    real("container.container_capacity_pct", 5.0, 97.5),
    real("container.wilting_pct", 0.1, 96.5),
    real("container.saucer_l", 0.0, 1_000.0),
    real("container.begins_pct", 1.0, 98.0),
    real("container.shrinks_below_pct", 0.0, 96.5),
    real("container.place.lag_min", 0.1, 240.0),
    real("container.place.spread_h", 0.0, 240.0),
    real("container.place.concentration", 0.0, 20.0),
    real("bed.area_m2", 0.01, 10_000.0),
    real("bed.root_depth_m", 0.05, 3.0),
    real("bed.wetted_share", 0.05, 1.0),
    real("bed.begins_pct", 1.0, 98.0),
    real("bed.place.lag_min", 0.1, 240.0),
    real("bed.place.spread_h", 0.0, 240.0),
    real("bed.place.concentration", 0.0, 20.0),
    real("crop.canopy_m2", 0.0, 100.0),
    real("water.tank_l", 0.1, 1e6),
    real("water.tank_begins_l", 0.0, 1e6),
    real("water.tank_depth_m", 0.02, 20.0),
    real("water.mains_head_m", 0.1, 120.0),
    real("water.pump_l_h", 0.01, 1e5),
    real("water.pump_head_m", 0.05, 500.0),
    real("water.lift_m", 0.0, 500.0),
    real("water.valve_least_head_m", 0.0, 100.0),
    whole("water.emitters", 1.0, 1_000.0),
    real("water.emitter_l_h", 0.01, 1e5),
    real("water.emitter_head_m", 0.01, 100.0),
    real("water.emitter_exponent", 0.0, 1.0),
    real("water.outlet_height_m", -50.0, 50.0),
    real("water.line_l", 0.0, 1_000.0),
    real("water.opening_s", 0.0, 120.0),
    real("water.closing_s", 0.0, 120.0),
    real("water.measured_l_h", 0.01, 1e5),
    real("water.supply_l_h", 0.01, 1e6),
    real("water.rated_on_s", 1.0, 1e6),
    real("probe.air_counts", 0.0, 65_535.0),
    real("probe.dry_counts", 0.0, 65_535.0),
    real("probe.water_counts", 0.0, 65_535.0),
    real("probe.bend", 0.0, 10.0),
    real("probe.noise_counts", 0.0, 65_535.0),
    whole("probe.bits", 8.0, 16.0),
    real("probe.pct_per_kelvin", -2.0, 2.0),
    real("probe.drift_pct_per_year", -20.0, 20.0),
    whole("probe.unit", 0.0, LARGEST_WHOLE),
    real("probe.unit_spread", 0.0, 0.2),
    real("probe.calibrated_at_pct.*", 0.0, 100.0),
    real("probe.weighing_error_pct", 0.0, 10.0),
    real("probe.curve_pct_per_kelvin", -1.0, 1.0),
    real("probe.curve_reference_c", -20.0, 70.0),
    real("probe.calibration_error_pct", 0.0, 20.0),
    real("control.start_pct", 0.0, 100.0),
    real("control.stop_pct", 0.0, 100.0),
    real("control.dose_s", 0.0, 86_400.0),
    real("control.every_h", 0.0, 1_000.0),
    real("control.soak_min", 0.0, 10_080.0),
    whole("control.agree", 1.0, 10.0),
    real("control.sample_min", 0.02, 360.0),
    real("control.open_sample_s", 1.0, 21_600.0),
    whole("control.smoothing", 0.0, 4.0),
    real("control.max_open_s", 0.001, 86_400.0),
    real("control.min_open_s", 0.001, 86_400.0),
    real("control.min_closed_s", 1.0, 600.0),
    real("control.limit_24h_s", 0.001, 86_400.0),
    real("control.by_hand_24h_s", 0.0, 86_400.0),
    real("control.answer_after_s", 0.001, 86_400.0),
    real("control.answer_within_min", 0.02, 1_440.0),
    whole("control.answer_tries", 1.0, 10.0),
    real("control.stance_dose_s", 0.0, 86_400.0),
    real("control.stance_every_h", 0.0, 1_000.0),
    real("control.overdue_l", 0.01, 4_000.0),
    real("control.overdue_h", 0.0, 1_000.0),
    real("control.too_wet_pct", 1.0, 100.0),
    real("signals.tank_low_l", 0.0, 1e6),
    real("signals.tank_empty_l", 0.0, 1e6),
    real("signals.flow_within", 0.01, 0.9),
    real("signals.current_within", 0.01, 0.9),
    whole("signals.hours_allowed.*", 0.0, 24.0),
    real("power.volts", 1.0, 60.0),
    real("power.least_volts", 1.0, 60.0),
    real("power.supply_a", 0.01, 100.0),
    real("power.battery_mah", 1.0, 1e6),
    real("power.usable_share", 0.05, 1.0),
    real("power.wiring_ohm", 0.0, 100.0),
    real("power.logic_volts", 0.9, 12.0),
    real("power.dropout_volts", 0.0, 5.0),
    real("power.brown_out_volts", 0.5, 12.0),
    real("power.efficiency", 0.1, 1.0),
    real("power.regulator_c_per_w", 1.0, 1_000.0),
    real("power.regulator_most_c", 50.0, 200.0),
    real("power.box_c", -20.0, 100.0),
    real("power.always_ma", 0.0, 10_000.0),
    real("power.sleep_ma", 0.0, 10_000.0),
    real("power.awake_ma", 0.0, 10_000.0),
    real("power.awake_s", 0.0, 3_600.0),
    real("power.probe_ma", 0.0, 1_000.0),
    real("power.radio_ma", 0.0, 10_000.0),
    real("power.radio_s_h", 0.0, 3_600.0),
    real("power.load_a", 0.0, 60.0),
    real("power.inrush", 1.0, 20.0),
    real("power.panel_w", 0.01, 10_000.0),
    real("power.panel_share", 0.05, 1.0),
    real("power.sunshine_share", 0.0, 1.0),
    real("neighbour.*.volume_l", 0.05, 5_000.0),
    real("neighbour.*.canopy_m2", 0.0, 100.0),
    whole("neighbour.*.emitters", 1.0, 1_000.0),
    real("neighbour.*.evaporation_share", 0.0, 3.0),
    real("neighbour.*.clogged", 0.0, 0.99),
    real("fault.*.at_h", 0.0, 1e6),
    real("fault.*.for_h", 1e-4, 1e6),
    real("fault.*.amount", -1e5, 1e5),
    real("person.*.at_h", 0.0, 1e6),
    real("person.*.every_h", 0.1, 1e6),
    real("person.*.amount", 0.0, 1e6),
];

impl Number {
    /// The number a path means, whatever its list positions.
    pub(super) fn at(path: &str) -> Option<&'static Self> {
        NUMBERS.iter().find(|number| {
            let mut parts = path.split('.');
            number.path.split('.').all(|wanted| {
                parts.next().is_some_and(|part| {
                    wanted == part || wanted == "*" && part.parse::<usize>().is_ok()
                })
            }) && parts.next().is_none()
        })
    }

    /// Its bounds in this scenario: an amount's hang on the kind of fault or act.
    pub(super) fn bounds(&self, scenario: &Scenario, path: &str) -> (f64, f64) {
        let index = || path.split('.').nth(1).and_then(|part| part.parse::<usize>().ok());
        let amount = match self.path {
            "fault.*.amount" => {
                index().and_then(|at| scenario.faults.get(at)).map(|fault| fault.kind.amount())
            }
            "person.*.amount" => {
                index().and_then(|at| scenario.persons.get(at)).map(|person| person.does.amount())
            }
            _ => None,
        };
        amount.map_or((self.min, self.max), |(_, least, most)| (least, most))
    }
}
