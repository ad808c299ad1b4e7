//! Against published tables and a reference library.

use drydown_sim::calibrate::shape::{Fitted, Shape};

use crate::from_outside::Folder;
use crate::{calibrated, read, refusal};

/// Makers' linearisation tables of two analogue probes, mV at 0, 5, … 50 % by volume, as carried by the
/// R package `FDR2soilmoisture` 0.219 (Unlicense, `inst/example`), and the worst error of a straight
/// line through 0 and 50 %, computed from the tables elsewhere.
const TABLES: [(&str, [u16; 11], f64); 4] = [
    ("impedance, mineral", [90, 170, 280, 400, 510, 620, 720, 810, 880, 940, 1000], 4.62),
    ("impedance, organic", [40, 110, 192, 283, 400, 500, 600, 700, 780, 850, 920], 2.50),
    ("profile, mineral", [257, 379, 497, 595, 677, 749, 810, 860, 899, 930, 956], 10.19),
    ("profile, organic", [177, 280, 394, 501, 590, 667, 734, 793, 843, 882, 914], 8.24),
];

fn table(millivolts: &[u16; 11], steps: &[usize]) -> String {
    let rows = steps.iter().map(|&step| format!("{},{}\n", millivolts[step], 5 * step));
    "raw,water_pct\n".to_owned() + &rows.collect::<String>()
}

fn worst(of: &drydown_sim::calibrate::Calibration, millivolts: &[u16; 11]) -> f64 {
    (0..11)
        .map(|step| (read(of, f64::from(millivolts[step])) - 5.0 * step as f64).abs())
        .fold(0.0, f64::max)
}

#[test]
fn two_points_are_as_wrong_as_the_published_tables_say_and_six_are_not() {
    let folder = Folder::new("calibrate-published");
    for (name, millivolts, published) in TABLES {
        let options = ["--wetter", "rises"];
        let two = calibrated(&folder, &table(&millivolts, &[0, 10]), &options);
        let away = worst(&two, &millivolts);
        assert!((away - published).abs() < 0.02, "{name}: {away} instead of {published}");
        assert_eq!(two.plus_minus_pct, None, "two points know nothing of their error");

        let six = calibrated(&folder, &table(&millivolts, &[0, 2, 4, 6, 8, 10]), &options);
        assert_eq!(six.shape, Shape::Monotone, "{name}: {}", six.why);
        let away = worst(&six, &millivolts);
        assert!(away < 1.0, "{name}: {away}");
        // The rows between were never shown: the stated error holds for them.
        let stated = six.whole_error_pct().expect("six points know their error");
        assert!(away <= stated, "{name}: {away} against {stated}");
    }
}

/// `scipy` 1.17.1: `PchipInterpolator` and `linregress` over these six points.
#[test]
fn shapes_are_those_of_a_reference_library() {
    let points: Vec<(f64, f64)> = [90.0, 280.0, 510.0, 720.0, 880.0, 1000.0]
        .into_iter()
        .zip((0..6).map(|step| 10.0 * f64::from(step)))
        .collect();
    let monotone = Fitted::to(Shape::Monotone, &points).expect("a curve");
    for (raw, expected) in [
        (95.0, 0.28341),
        (170.0, 4.416494),
        (400.0, 15.274897),
        (620.0, 24.999242),
        (810.0, 35.276619),
        (940.0, 44.694839),
        (995.0, 49.540054),
    ] {
        let found = monotone.at(raw);
        assert!((found - expected).abs() < 1e-6, "{raw}: {found} instead of {expected}");
    }
    let line = Fitted::to(Shape::Line, &points).expect("a line");
    assert!((line.at(0.0) - -5.634460547504023).abs() < 1e-9);
    assert!((line.at(1.0) - line.at(0.0) - 0.05281803542673107).abs() < 1e-9);
    let reciprocal = Fitted::to(Shape::Reciprocal, &points).expect("a line on 1/count");
    assert!((reciprocal.at(1.0) - (37.840805645023664 - 3820.0432136568206)).abs() < 1e-6);
}

/// Counts of two ring-oscillator probes in air and in water, 2022 and again in 2023, from
/// `sensor_calibration.txt` of the same package. Of six units these moved farthest: 174 in air, 125
/// in water.
#[test]
fn published_units_moved_from_one_year_to_the_next_by_so_many_counts() {
    let folder = Folder::new("calibrate-moved");
    for (unit, then, now, moved) in [
        ("218", [18850, 9005], [19024, 8947], [174.0, -58.0]),
        ("221", [18901, 9202], [18871, 9077], [-30.0, -125.0]),
    ] {
        let cups = |[air, water]: [u32; 2], year: u32| {
            format!(
                "point,raw,probe,date\nair,{air},{unit},{year}-01-01\nwater,{water},{unit},{year}-01-01\n"
            )
        };
        let options = ["--wetter", "falls", "--bits", "16"];
        let kept =
            calibrated(&folder, &cups(then, 2022), &[&options[..], &["--span-only"]].concat());
        folder.write("kept.json", &serde_json::to_string(&kept).expect("it is written"));
        let look = calibrated(
            &folder,
            &cups(now, 2023),
            &[&options[..], &["--recheck", "--earlier", "kept.json"]].concat(),
        );
        let cups = &look.rechecks.last().expect("a look").cups;
        let found: Vec<f64> = cups.iter().map(|cup| cup.drift_counts).collect();
        assert_eq!(found, moved, "unit {unit}");
        // Counts fall when wet: more counts are drier. Both stay within 2 % of a span near 10 000.
        assert!(cups[0].drift_pct * moved[0] < 0.0, "unit {unit}");
        assert!(look.rechecks[0].keep, "unit {unit}");
    }
}

/// The same file has a row of 10 000 counts in air and 900 000 in water: no converter of 16 bits says
/// the second.
#[test]
fn a_published_impossible_row_is_named() {
    let folder = Folder::new("calibrate-impossible");
    let told = refusal(
        &folder,
        "point,raw\nair,10000\nwater,900000\n",
        &["--wetter", "falls", "--bits", "16", "--span-only"],
    );
    assert!(told.contains("line 3: raw 900000 cannot come from this converter"), "{told}");
}
