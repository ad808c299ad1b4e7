//! The units in which a difference tells its fields.

use drydown_sim::diff::unit::of;

#[test]
fn a_unit_is_read_off_the_end_of_a_name() {
    let units = [
        ("control.limit_24h_s", "s"),
        ("control.start_pct", "%"),
        ("water.emitter_l_h", "L/h"),
        ("power.radio_s_h", "s/h"),
        ("probe.curve_pct_per_kelvin", "%/K"),
        ("probe.calibrated_at_pct", "%"),
        ("fault.0.for_h", "h"),
        ("power.regulator_c_per_w", "°C/W"),
        ("control.agree", ""),
        ("water.tank_l", "L"),
        ("power.load_a", "A"),
    ];
    for (field, unit) in units {
        assert_eq!(of(field), unit, "{field}");
    }
}
