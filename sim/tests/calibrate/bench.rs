//! What benches and spreadsheets give, and what is made of it.

use drydown::calibration::Curve;
use drydown_sim::calibrate::shape::{Fitted, Shape};

use crate::from_outside::{Folder, changed, drydown_in, stderr, stdout};
use crate::{calibrated, read, refusal};

/// An invented probe that falls along a hyperbola, in an invented mix.
pub const BENCH: &str = "\
point,raw,water_pct,t_c,probe,substrate,date
air,3004,,21.0,A3,peat mix,2026-05-02
air,2998,,21.0,A3,peat mix,2026-05-02
water,1196,,21.0,A3,peat mix,2026-05-02
,2587,6.0,21.5,A3,peat mix,2026-05-02
,2574,6.0,21.5,A3,peat mix,2026-05-02
,2368,12.9,21.5,A3,peat mix,2026-05-02
,2162,21.0,21.5,A3,peat mix,2026-05-02
,2008,28.2,21.5,A3,peat mix,2026-05-02
,1897,33.6,21.5,A3,peat mix,2026-05-02
,1784,40.9,21.5,A3,peat mix,2026-05-02
drained,1675,49.0,21.5,A3,peat mix,2026-05-02
,1566,56.9,21.5,A3,peat mix,2026-05-02
";

const FALLS: [&str; 2] = ["--wetter", "falls"];

#[test]
fn spreadsheets_of_any_country_say_the_same() {
    let folder = Folder::new("calibrate-spreadsheets");
    let plain = calibrated(&folder, BENCH, &FALLS);
    assert_eq!((plain.readings, plain.points.len()), (9, 8));
    let semicolons = BENCH.replace(',', ";").replace('.', ",");
    let forms = [
        BENCH.replace('\n', "\r\n"),
        BENCH.replace(',', "\t"),
        format!("\u{feff}{BENCH}"),
        format!("\u{feff}{}", semicolons.replace('\n', "\r\n")),
        format!("# weighed in the shed\n\n{}", semicolons.replace("\n,", "\n\n,")),
        BENCH.replace("\nair,", "\nAir,").replacen("raw", "RAW", 1),
    ];
    for form in forms {
        assert_eq!(calibrated(&folder, &form, &FALLS), plain, "{form}");
    }
}

/// Every conversion kept is a reading whose median the program takes itself.
#[test]
fn a_burst_is_read_by_its_median() {
    let folder = Folder::new("calibrate-bursts");
    let header = "point,raw,burst,water_pct";
    let rest = ",,2368 2370 2367,12.9\n,1784,1783 1784 1790 1784,40.9\n";
    let made = calibrated(&folder, &format!("{header}\n{rest}"), &FALLS);
    let raws: Vec<f64> = made.points.iter().map(|point| point.raw).collect();
    assert_eq!(raws, [2_368.0, 1_784.0]);
    let noise = made.remarks.iter().find(|remark| remark.contains("scatters"));
    // Squares 4.667 and 30.75 over two and three: 2.66.
    let words = "one conversion scatters by 2.7 counts (standard deviation in 2 bursts)";
    assert_eq!(noise.map(String::as_str), Some(words));
    // A row that contradicts itself, or whose converter cannot be this one, is named and not used.
    let more = ",2000,1500 1500 1500,30\n,,1700 5000 1700,45\n";
    let made = calibrated(&folder, &format!("{header}\n{rest}{more}"), &FALLS);
    assert_eq!(made.points.len(), 2);
    for words in [
        "line 4: raw 2000 is not the median of its burst, 1500",
        "line 5: raw 5000 cannot come from this converter, which ends at 4095",
    ] {
        assert!(made.remarks.iter().any(|remark| remark.contains(words)), "{:?}", made.remarks);
    }
    for burst in ["1700 x", "1 2 3 4 5 6 7 8 9", "70000"] {
        let said = refusal(&folder, &format!("{header}\n{rest},,{burst},45\n"), &FALLS);
        let words =
            format!("line 4: burst is `{burst}`, it must be at most 8 counts from 0 to 65535");
        assert!(said.contains(&words), "{said}");
    }
}

#[test]
fn a_probe_that_rises_is_the_mirror_of_one_that_falls() {
    let folder = Folder::new("calibrate-rises");
    let falls = calibrated(&folder, BENCH, &FALLS);
    let mirrored: String = BENCH
        .lines()
        .map(|line| {
            let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
            if let Ok(raw) = cells[1].parse::<u32>() {
                cells[1] = (4_095 - raw).to_string();
            }
            cells.join(",") + "\n"
        })
        .collect();
    let rises = calibrated(&folder, &mirrored, &["--wetter", "rises"]);
    assert!(rises.counts_rise_when_wet && !falls.counts_rise_when_wet);
    assert_eq!(rises.shape, Shape::Monotone);
    for raw in (1_570..2_580).step_by(10) {
        let (one, other) = (read(&falls, f64::from(raw)), read(&rises, f64::from(4_095 - raw)));
        assert!((one - other).abs() < 0.1, "{raw}: {one} and {other}");
    }
}

#[test]
fn the_device_gets_at_most_sixteen_points_and_the_loss_is_what_it_says() {
    let folder = Folder::new("calibrate-device");
    let made = calibrated(&folder, BENCH, &FALLS);
    assert_eq!(Curve::MOST, 16);
    let device = made.device.curve(made.basis).expect("the library takes it");
    assert!(made.device.points.len() <= Curve::MOST);
    // Once more by hand: every count between the ends against the shape through the points.
    let points: Vec<(f64, f64)> = made.points.iter().map(|at| (at.raw, at.water_pct)).collect();
    let shape = Fitted::to(made.shape, &points).expect("a shape");
    let mut worst = 0.0_f64;
    for raw in 1_566..=2_580_u16 {
        let read = f64::from(device.read(drydown::quantity::RawCounts(raw), None).centi()) / 100.0;
        worst = worst.max((read - shape.at(f64::from(raw))).abs());
    }
    assert!((worst - made.device.added_pct).abs() < 1e-9, "{worst}");
    assert!(worst < 0.1, "{worst}");
    // Beyond the ends it stays at the ends.
    assert_eq!(read(&made, 1_000.0), read(&made, 1_566.0));
    assert_eq!(read(&made, 3_500.0), read(&made, 2_580.0));
}

#[test]
fn neighbours_out_of_order_are_named_and_merged_only_when_that_is_said() {
    let folder = Folder::new("calibrate-order");
    let table = BENCH.replace(",1897,33.6", ",2014,33.6");
    let told = refusal(&folder, &table, &FALLS);
    assert!(told.contains("line 10") && told.contains("28.2 % (line 9) reads 2008"), "{told}");
    assert!(told.contains("33.6 % (line 10) reads 2014") && told.contains("--merge"), "{told}");
    let too_quiet = refusal(&folder, &table, &[&FALLS[..], &["--noise", "2"]].concat());
    assert_eq!(too_quiet, told, "six counts are not the noise of two readings of ±2");
    for options in [["--merge"].as_slice(), &["--noise", "3"]] {
        let made = calibrated(&folder, &table, &[&FALLS[..], options].concat());
        let merged = made.points.iter().find(|at| at.readings == 2 && at.raw == 2_011.0);
        assert!((merged.expect("one point of two").water_pct - 30.9).abs() < 1e-9);
        assert!(
            made.remarks.iter().any(|told| told.contains("made one point")),
            "{:?}",
            made.remarks
        );
    }
}

#[test]
fn what_cannot_be_is_named_and_not_used() {
    let folder = Folder::new("calibrate-impossible-rows");
    let plain = calibrated(&folder, BENCH, &FALLS);
    for (row, why) in [
        (",2100,140,21,A3,,", "140.0 % by volume is not from 0 to 100 %"),
        (",5000,20,21,A3,,", "raw 5000 cannot come from this converter, which ends at 4095"),
        (",-3,20,21,A3,,", "raw -3 cannot come"),
        (",,20,21,A3,,", "it has no raw count"),
        (",2100,,21,A3,,", "it has no water content"),
        (",2100,24,210,A3,,", "t_c 210 is not from -20 to 70 °C"),
        ("air,3000,18.3,21,A3,,", "air does not hold 18.3 % of water"),
        (",3400,2,21,A3,,", "raw 3400 lies outside what the probe reads in air"),
    ] {
        let made = calibrated(&folder, &format!("{BENCH}{row}\n"), &FALLS);
        assert!(
            made.remarks.iter().any(|told| told.contains("line 14") && told.contains(why)),
            "{row}: {:?}",
            made.remarks
        );
        assert_eq!(made.points, plain.points, "{row}");
    }
}

/// A pot of 2 L weighed through one dry-down: the same numbers by weight as by volume.
#[test]
fn a_whole_pot_is_weighed_through_one_dry_down() {
    let folder = Folder::new("calibrate-pot");
    let rows = [(1_640, 1_100.0), (1_760, 900.0), (1_900, 700.0), (2_050, 520.0), (2_240, 340.0)];
    let by_mass: String =
        rows.iter().map(|(raw, water_g)| format!("{raw};{:.1}\n", 860.0 + water_g)).collect();
    let options = [&FALLS[..], &["--dry-mass-g", "860", "--volume-ml", "2000"]].concat();
    let pot = calibrated(&folder, &format!("raw;mass_g\n{}", by_mass.replace('.', ",")), &options);
    let by_volume: String =
        rows.iter().map(|(raw, water_g)| format!("{raw},{}\n", water_g / 20.0)).collect();
    let cups = calibrated(&folder, &format!("raw,water_pct\n{by_volume}"), &FALLS);
    assert_eq!(pot.device, cups.device);
    assert_eq!(pot.points[4].water_pct, 55.0);
}

/// With 62 % of the span read in the drained pot and 55 % of water weighed in it, each percent of the
/// span is 55 / 62 % by volume.
#[test]
fn the_drained_pot_turns_percent_of_the_span_into_percent_by_volume() {
    let folder = Folder::new("calibrate-drained");
    let ends = "point,raw\nair,2850\nwater,870\n";
    let raw = 2_850.0 - 0.62 * (2_850.0 - 870.0);
    let drained = raw.to_string();
    let options = [&FALLS[..], &["--drained-raw", &drained, "--drained-pct", "55"]].concat();
    let made = calibrated(&folder, ends, &options);
    for of_span in [10.0, 31.0, 50.0] {
        let expected = of_span * 55.0 / 62.0;
        let read = read(&made, 2_850.0 - of_span / 100.0 * (2_850.0 - 870.0));
        assert!((read - expected).abs() < 0.05, "{of_span}: {read} instead of {expected}");
    }
    // A soaked pot tells nothing of wetter soil.
    assert!((read(&made, 870.0) - 55.0).abs() < 0.05);
}

#[test]
fn the_table_for_a_scenario_is_run() {
    let folder = Folder::new("calibrate-fragment");
    let made = calibrated(&folder, BENCH, &[&FALLS[..], &["--fragment", "probe.toml"]].concat());
    let table = std::fs::read_to_string(folder.0.join("probe.toml")).expect("the table");
    // It says how far the curve is off, and a sizing keeps start and stop that far from their ends.
    let error_pct = made.whole_error_pct().expect("an error");
    assert!(table.contains(&format!("\ncalibration_error_pct = {error_pct:.1}\n")), "{table}");
    assert!(table.lines().all(|line| !line.starts_with('#') || line.chars().count() <= 80));
    folder.write("balcony.toml", &(changed("[control]", &format!("{table}\n[control]"))));
    let output = drydown_in(&folder.0, &["run", "balcony.toml"]);
    assert_ne!(output.status.code(), Some(2), "{}", stderr(&output));
    let told = stdout(&output).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("a curve of 16 points from a bench"), "{told}");
    // The simulated probe answers nearly like the one at the bench: what is left of the gap between
    // reading and true mean is the probe's place in the pot.
    let json = drydown_in(&folder.0, &["run", "balcony.toml", "--format", "json"]);
    let report: serde_json::Value = serde_json::from_slice(&json.stdout).expect("a report");
    let gap_pct = report["reading"]["largest_gap_pct"]["value"].as_f64().expect("a gap");
    assert!(gap_pct < 3.0, "{report}");
    assert!(report["valve"]["starts"].as_u64() > Some(2), "{report}");
}

/// Two ends and the drained pot: air is the dry end, and water is left out, which is said.
#[test]
fn that_the_reading_in_water_is_no_point_is_said_once() {
    let folder = Folder::new("calibrate-water");
    let ends = "point,raw,water_pct\nair,3000,\nwater,1200,\ndrained,1700,50\n";
    for (table, said) in [(BENCH, 1), (ends, 1), (&BENCH.replace("water,1196", "air,3001"), 0)] {
        let remarks = calibrated(&folder, table, &FALLS).remarks;
        let water =
            remarks.iter().filter(|one| one.contains("in water") && one.contains("no point"));
        assert_eq!(water.count(), said, "{remarks:?}");
    }
}

#[test]
fn a_table_with_a_bad_curve_names_its_field() {
    let folder = Folder::new("calibrate-bad-fragment");
    for (curve, named) in [
        ("[[1700, 50.0], [1800, 120.0]]", "probe.measured_curve.1.1 is `120`"),
        ("[[1700, 50.0], [1800, 55.0], [1900, 40.0]]", "probe.measured_curve.2 is a point of 40 %"),
        ("[[1700, 50.0]]", "probe.measured_curve has 1 of the 2 to 16 points"),
    ] {
        let table = format!("[probe]\nmeasured_curve = {curve}\n\n[control]");
        folder.write("bad.toml", &changed("[control]", &table));
        let output = drydown_in(&folder.0, &["run", "bad.toml"]);
        assert_eq!(output.status.code(), Some(2));
        let told = stderr(&output);
        assert!(told.contains(named) && told.contains("bad.toml, line "), "{told}");
    }
}

#[test]
fn the_page_is_the_same_twice_and_needs_nothing_else() {
    let folder = Folder::new("calibrate-page");
    let page = |name: &str| {
        calibrated(&folder, BENCH, &[&FALLS[..], &["--range", "25..50", "--page", name]].concat());
        std::fs::read_to_string(folder.0.join(name)).expect("the page")
    };
    let (one, other) = (page("one.html"), page("two.html"));
    assert_eq!(one, other);
    assert!(one.starts_with("<!DOCTYPE html>") && one.contains("<svg"));
    assert!(one.contains("right within ±") && !one.contains("<script") && !one.contains("href"));
    // A mark for each measured point and one in the key.
    assert_eq!(one.matches("class=\"weighed\"").count(), 8 + 1);
}

/// Every example of the help, as it is printed.
#[test]
fn the_examples_of_the_help_run() {
    let folder = Folder::new("calibrate-help");
    folder.write("bench.csv", BENCH);
    folder.write("new.csv", "raw,water_pct,probe\n1912,33.6,B1\n");
    folder.write(
        "cups.csv",
        "point,raw,probe,date\nair,3010,A3,2026-06-01\nwater,1190,A3,2026-06-01\n",
    );
    let help = stdout(&drydown_in(&folder.0, &["calibrate", "--help"]));
    let examples: Vec<&str> =
        help.lines().filter_map(|line| line.trim().strip_prefix("drydown ")).collect();
    assert_eq!(examples.len(), 5, "{help}");
    for example in examples {
        let (call, kept) = example.split_once(" > ").unwrap_or((example, ""));
        let args: Vec<&str> = call.split_whitespace().collect();
        let output = drydown_in(&folder.0, &args);
        assert!(output.status.success(), "{example}: {}", stderr(&output));
        if !kept.is_empty() {
            folder.write(kept, &stdout(&output));
        }
    }
    for name in ["probe.toml", "probe.html", "probe.json"] {
        assert!(folder.names().iter().any(|found| found == name), "{name}");
    }
}
