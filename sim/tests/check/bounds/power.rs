//! Regulator, brown-out and panel.

use drydown_sim::check::{Kind, Severity};

use crate::plain::severity;

/// At 12 V, the chip with probe and radio 40 + 5 + 120 mA at 3.3 V through a linear regulator.
const TABLE: &str = "[power]\nsupply = \"battery\"\nvolts = 12\nbattery_mah = 7000\n\
    regulator = \"linear\"\nsleep_ma = 0.01\nawake_ma = 40\nradio_ma = 120\nradio_s_h = 8\n\
    load_a = 0.3\n";

fn with(table: &str, kind: Kind) -> Option<Severity> {
    severity(&[("[control]", &format!("{table}\n[control]"))], kind)
}

/// 8.7 V × 165 mA = 1.4355 W; 65 K from the box of 60 °C to 125 °C (common practice) are 45.28 K/W.
#[test]
fn a_regulator_beyond_its_junction() {
    let rise = |c_per_w: f64| {
        with(&format!("{TABLE}regulator_c_per_w = {c_per_w}\n"), Kind::RegulatorTooHot)
    };
    assert_eq!(rise(45.2), None);
    assert_eq!(rise(45.3), Some(Severity::Refuted));
    // What its data sheet says nobody told.
    assert_eq!(with(TABLE, Kind::RegulatorTooHot), None);
}

/// From 4 V, 1.1 V of dropout and 2.7 V at which the chip resets leave 0.2 V, which 1 A takes from
/// 0.2 Ω: 0.835 A beside the chip's 0.165.
#[test]
fn a_load_that_resets_the_chip_as_it_starts() {
    let load = |amperes: &str| {
        let table = TABLE.replace("load_a = 0.3", &format!("least_volts = 4\nload_a = {amperes}"));
        with(&table, Kind::BrownsOutAtStart)
    };
    assert_eq!(load("0.83"), None);
    assert_eq!(load("0.84"), Some(Severity::Refuted));
}

/// What reaches level ground outside the atmosphere on 15 July at 43.2° N, MJ/m² (FAO-56 eq. 21 and 23
/// to 25).
fn outside_mj() -> f64 {
    let turn = 2.0 * std::f64::consts::PI * 196.0 / 365.0;
    let (latitude, declination) = (43.2_f64.to_radians(), 0.409 * (turn - 1.39).sin());
    let sunset = (-latitude.tan() * declination.tan()).acos();
    let lit = sunset * latitude.sin() * declination.sin()
        + latitude.cos() * declination.cos() * sunset.sin();
    24.0 * 60.0 / std::f64::consts::PI * 0.082 * (1.0 + 0.033 * turn.cos()) * lit
}

/// Of 10 W at n/N = 0.4 six tenths reach the battery of 12 V (common practice); what is always on takes
/// all that is used.
#[test]
fn a_panel_that_brings_less_than_is_used() {
    let brings_mah = 10.0 * 0.45 * outside_mj() / 3.6 * 0.6 / 12.0 * 1e3;
    let always = |share: f64| {
        let table = format!(
            "[power]\nsupply = \"battery\"\nvolts = 12\nbattery_mah = 7000\n\
             regulator = \"linear\"\nsleep_ma = 0\nawake_ma = 0\nprobe_ma = 0\nload_a = 0\n\
             panel_w = 10\nalways_ma = {}\n",
            share * brings_mah / 24.0
        );
        with(&table, Kind::PanelTooSmall)
    };
    assert_eq!(always(0.999), None);
    assert_eq!(always(1.001), Some(Severity::Refuted));
}
