//! Current, battery, heat and sun, reckoned again.

use drydown_sim::scenario::schema::PowerTable;
use drydown_sim::size::{Judged, Month, solar_radiation_mj};

use crate::{line, near, sized};

/// A device at 12 V with a linear regulator.
const TABLE: &str = "supply = \"battery\"\nvolts = 12\nbattery_mah = 7000\nregulator = \"linear\"\n\
    regulator_c_per_w = 16\nsleep_ma = 0.01\nawake_ma = 40\nradio_ma = 120\nradio_s_h = 8\n\
    load_a = 0.3\n";

fn with(table: &str) -> String {
    format!("[power]\n{table}\n[control]")
}

fn table(text: &str) -> PowerTable {
    toml::from_str(text).expect("a table of power")
}

/// Each part by hand: 10 µA for a day 0.24 mAh; 40 mA for a second each ten minutes 1.6; the same
/// for the probe's 5 mA 0.2; 120 mA for 8 s of each hour 6.4; a coil of 0.3 A for 10 min 50, during
/// which the chip is awake for a further 6.67.
#[test]
fn each_part_is_current_times_time() {
    let parts = table(TABLE).parts(600.0, 144.0);
    let mah = |name: &str| parts.iter().find(|part| part.name == name).expect("a part").mah;
    near(mah("coil or pump"), 50.0, 1e-9);
    near(mah("radio"), 6.4, 1e-9);
    near(mah("probe"), 0.2, 1e-9);
    near(mah("chip awake"), 1.6 + 40.0 * 600.0 / 3600.0, 1e-9);
    near(mah("chip asleep"), 0.01 * (86_400.0 - 744.0) / 3600.0, 1e-9);
    // Through a converter of 85 % from 12 V to 3.3 V the chip's side costs 0.3235 of that.
    let switching = TABLE.replace("\"linear\"", "\"switching\"");
    let parts = table(&switching).parts(600.0, 144.0);
    let mah = |name: &str| parts.iter().find(|part| part.name == name).expect("a part").mah;
    near(mah("radio"), 6.4 * 3.3 / (12.0 * 0.85), 1e-9);
    near(mah("coil or pump"), 50.0, 1e-9);
}

/// A 7805 on a heat sink of 16 °C/W in all, from 12 V to 5 V at 1 A: 7 W, 137 °C at 25 °C (the
/// teaching example of ip331.com, "Linear Regulator Power Dissipation"); 12 V to 3.3 V at 0.5 A:
/// 4.35 W (vbatpower.com, "Linear Regulator Dissipation").
#[test]
fn a_linear_regulator_gets_as_hot_as_two_published_examples_say() {
    let hot = table(
        &TABLE
            .replace("awake_ma = 40", "awake_ma = 1000\nprobe_ma = 0\nlogic_volts = 5\nbox_c = 25")
            .replace("radio_ma = 120", "radio_ma = 0"),
    );
    near(hot.heat_w(), 7.0, 1e-9);
    near(hot.box_c + hot.regulator_c_per_w.expect("given") * hot.heat_w(), 137.0, 1e-9);
    let warm = table(
        &TABLE
            .replace("awake_ma = 40", "awake_ma = 500\nprobe_ma = 0")
            .replace("radio_ma = 120", "radio_ma = 0"),
    );
    near(warm.heat_w(), 4.35, 1e-9);
}

#[test]
fn a_regulator_beyond_its_junction_cannot_work() {
    // 8.7 V × 165 mA = 1.4355 W; with 65 °C/W in a box of 60 °C: 153.3 °C.
    let hot = with(&TABLE.replace("regulator_c_per_w = 16", "regulator_c_per_w = 65"));
    let heat = line(&[("[control]", &hot)], "regulator-heat");
    near(heat.proposed, 60.0 + 65.0 * 1.4355, 1e-6);
    assert_eq!(heat.judged(), Judged::CannotWork);
    assert_eq!(line(&[("[control]", &with(TABLE))], "regulator-heat").judged(), Judged::Fits);
}

/// A pump starts with six times its current: 12 V − (6 × 1.5 A + chip) × 1 Ω − 1.1 V.
#[test]
fn a_pump_that_resets_the_chip_as_it_starts_cannot_work() {
    let sags = TABLE.replace("load_a = 0.3", "load_a = 1.5\nwiring_ohm = 1\nleast_volts = 11.5");
    let power = table(&sags);
    near(power.start_a(true), 9.0 + 0.165, 1e-9);
    near(power.dips_to_v(true), 11.5 - 9.165 - 1.1, 1e-9);
    // A coil has no such start.
    near(power.start_a(false), 1.5 + 0.165, 1e-9);
    near(power.dips_to_v(false), 3.3, 1e-9);
    let pumped = [
        ("mains_head_m = 10", "tank_l = 20\npump_l_h = 10\npump_head_m = 30\nlift_m = 0"),
        ("[control]", &with(&sags)),
    ];
    let dips = line(&pumped, "brown-out");
    assert_eq!(dips.judged(), Judged::CannotWork);
    assert!(sized(&pumped, 6.0).1.is_bad());
}

#[test]
fn the_battery_lasts_what_it_gives_over_what_is_used() {
    let (setup, sizing) = sized(&[("[control]", &with(TABLE))], 6.0);
    let power = sizing.power.expect("a supply");
    let days = sizing.lines.iter().find(|one| one.name == "battery-days").expect("days").proposed;
    near(days, 0.8 * 7000.0 / power.a_day_mah(), 1e-9);
    // 0.6 L for the plants and 0.03 L for the sun at 4 L/h are 567 s of coil: 47.25 mAh.
    let coil = power.parts.iter().find(|part| part.name == "coil or pump").expect("the coil");
    near(coil.mah, 47.25, 1e-6);
    assert_eq!(setup.scenario.days.to_bits(), 7.0_f64.to_bits());
    let small = with(&TABLE.replace("7000", "100"));
    assert_eq!(line(&[("[control]", &small)], "battery").judged(), Judged::Change);
}

/// FAO-56 Example 10: Rio de Janeiro in May, 7.1 h of sunshine of 10.9, Ra 25.1 MJ/m² a day give
/// 14.5; Example 8 has that Ra for 15 May at 22°54' S.
#[test]
fn the_sun_gives_what_fao_56_reckons_for_rio_in_may() {
    near(solar_radiation_mj(25.1, 7.1 / 10.9), 14.5, 0.06);
    let panel = TABLE.replace(
        "load_a = 0.3",
        "load_a = 0.3\npanel_w = 5\npanel_share = 0.6\nsunshine_share = 0.6514",
    );
    let rio = [("latitude_deg = 43.2", "latitude_deg = -22.9"), ("[control]", &with(&panel))];
    let (_, sizing) = sized(&rio, 6.0);
    let months: [Month; 12] = sizing.power.and_then(|power| power.months).expect("a panel");
    near(months[4].radiation_mj, 14.5, 0.06);
    // 14.45 / 3.6 kWh/m² × 5 W × 0.6 at 12 V.
    near(months[4].brings_mah, 1e3 * 14.45 / 3.6 * 5.0 * 0.6 / 12.0, 4.0);
}

/// North of the tropics a panel is weakest in December and the month of the run alone is judged.
#[test]
fn a_panel_is_told_month_by_month_and_judged_in_the_month_of_the_run() {
    let panel = TABLE.replace("load_a = 0.3", "load_a = 0.3\npanel_w = 5");
    let (_, sizing) = sized(&[("[control]", &with(&panel))], 6.0);
    let sun: Vec<_> = sizing.lines.iter().filter(|one| one.name == "sun").collect();
    assert_eq!(sun.len(), 12);
    let weakest = sun.iter().min_by(|a, b| a.proposed.total_cmp(&b.proposed)).expect("a month");
    assert!(weakest.what.ends_with("December"), "{}", weakest.what);
    let judged: Vec<_> = sun.iter().filter(|one| one.judged() != Judged::Told).collect();
    assert!(judged.len() == 1 && judged[0].what.ends_with("July"), "{judged:?}");
}
