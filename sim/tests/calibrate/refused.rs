//! Bad input: each case names what is wrong, where, and within which bound, and ends with exit code 2.

use crate::bench::BENCH;
use crate::from_outside::{Folder, drydown_in, stderr};
use crate::{calibrated, refusal};

const ENDS: &str = "point,raw\nair,2850\nwater,870\n";

#[test]
#[allow(clippy::too_many_lines, reason = "one table of what is refused")]
fn bad_readings_and_options_are_named() {
    let folder = Folder::new("calibrate-refused");
    let soil = |rows: &str| format!("raw,water_pct\n{rows}");
    let cases: [(&str, String, &[&str], &[&str]); 26] = [
        ("no column", "count,water_pct\n2000,20\n".into(), &[], &["line 1: raw is missing"]),
        ("empty", String::new(), &[], &["the file is empty"]),
        ("a word", soil("2000,wet\n"), &[], &["line 2: water_pct is `wet`, it must be a number"]),
        (
            "decimal commas between commas",
            soil("2000,20,5\n"),
            &[],
            &["line 2", "2 cells", "semicolons"],
        ),
        ("twice", "raw,raw\n1,2\n".into(), &[], &["line 1: raw stands twice"]),
        ("thousands", "raw;water_pct\n2.000,5;20\n".into(), &[], &["line 2: raw is `2.000,5`"]),
        (
            "a place",
            "point,raw\nmud,2000\n".into(),
            &[],
            &["line 2: point is `mud`", "air, water, drained"],
        ),
        (
            "two probes",
            "raw,water_pct,probe\n2000,20,A\n1900,30,B\n".into(),
            &[],
            &["more than one probe", "A, B"],
        ),
        ("another probe", soil("2000,20\n"), &["--probe", "C"], &["--probe is `C`"]),
        (
            "two substrates",
            "raw,water_pct,substrate\n2000,20,peat\n1900,30,loam\n".into(),
            &[],
            &["line 3: substrate is `loam`", "`peat`"],
        ),
        (
            "a day",
            "raw,water_pct,date\n2000,20,2.5.26\n".into(),
            &[],
            &["line 2: date is `2.5.26`"],
        ),
        (
            "shares for percent",
            soil("2000,0.20\n1800,0.35\n1600,0.45\n"),
            &[],
            &["water_pct of the wettest point is `0.45`", "above 1 %", "45 rather than 0.45"],
        ),
        (
            "one point",
            soil("2000,20\n"),
            &[],
            &["the number of usable points is `1`", "at least 2"],
        ),
        ("direction unsaid", BENCH.into(), &[], &["--wetter is not said", "2580", "1566", "fall"]),
        (
            "direction wrong",
            BENCH.into(),
            &["--wetter", "rises"],
            &["--wetter is `rises`", "swapped"],
        ),
        (
            "ends swapped",
            BENCH.replace("\nair", "\nAIR").replace("\nwater", "\nair").replace("AIR", "water"),
            &["--wetter", "falls"],
            &["1196 in air to 3001 in water", "swapped"],
        ),
        (
            "same count",
            soil("2000,20\n2000,40\n"),
            &["--wetter", "falls"],
            &["raw is `2000 at both`"],
        ),
        (
            "span too small",
            soil("2000,20\n1970,40\n"),
            &["--wetter", "falls"],
            &["30 counts", "at least 82"],
        ),
        (
            "span within noise",
            soil("2000,20\n1700,40\n"),
            &["--wetter", "falls", "--noise", "40"],
            &["300 counts", "at least 400"],
        ),
        (
            "clipped dry end",
            BENCH.replace("air,3004", "air,4095").replace("air,2998", "air,4095"),
            &["--wetter", "falls"],
            &["line 2: raw is `4095`", "between 0 and 4095", "in air", "two resistors"],
        ),
        (
            "window",
            BENCH.into(),
            &["--wetter", "falls", "--window", "150..2900"],
            &["line 2: raw is `3001`", "150 and 2900"],
        ),
        (
            "range beyond",
            BENCH.into(),
            &["--wetter", "falls", "--range", "25..70"],
            &["--range is `25..70`", "6.0 to 56.9 %"],
        ),
        (
            "two ends",
            ENDS.into(),
            &["--wetter", "falls"],
            &["two ends", "--drained-raw", "--span-only"],
        ),
        (
            "drained without water",
            "point,raw\nair,2850\ndrained,1600\n".into(),
            &[],
            &["line 3: water_pct needs", "--drained-pct"],
        ),
        (
            "mass alone",
            "raw,mass_g\n2000,900\n".into(),
            &[],
            &["line 2: mass_g needs", "--dry-mass-g"],
        ),
        (
            "span in a scenario",
            ENDS.into(),
            &["--wetter", "falls", "--span-only", "--fragment", "x.toml"],
            &["--fragment needs water contents by volume"],
        ),
    ];
    for (case, table, options, named) in cases {
        let told = refusal(&folder, &table, options);
        for part in named {
            assert!(told.contains(part), "{case}: no `{part}` in: {told}");
        }
        let about_an_option = told.starts_with("--");
        assert!(about_an_option || told.starts_with("readings.csv"), "{case}: {told}");
    }
    assert!(!folder.names().contains(&"x.toml".to_owned()), "nothing is written");
}

#[test]
fn options_out_of_bounds_are_named() {
    let folder = Folder::new("calibrate-options");
    for (options, named) in [
        (["--drained-pct", "140"], "--drained-pct is `140`, it must be above 0 and at most 100"),
        (["--volume-ml", "0"], "--volume-ml is `0`"),
        (["--noise", "900"], "--noise is `900`, it must be above 0 and at most 409.5"),
        (["--window", "0..5000"], "--window is `0..5000`, it must lie within 0..4095"),
        (["--range", "50..25"], "two rising numbers"),
        (["--bits", "24"], "24"),
        (["--drained-raw", "1600"], "--drained-raw needs --drained-pct"),
    ] {
        let told = refusal(&folder, ENDS, &options);
        assert!(told.contains(named), "{options:?}: {told}");
    }
}

#[test]
fn bytes_that_are_no_text_are_refused() {
    let folder = Folder::new("calibrate-bytes");
    std::fs::write(folder.0.join("readings.csv"), b"raw,water_pct\n2000,20\n19\xff0,30\n").unwrap();
    let output = drydown_in(&folder.0, &["calibrate", "readings.csv"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("readings.csv, line 3: the file is not UTF-8 text"));
    let gone = drydown_in(&folder.0, &["calibrate", "nowhere.csv"]);
    assert_eq!(gone.status.code(), Some(2));
    assert!(stderr(&gone).contains("`nowhere.csv` cannot be read"));
}

#[test]
fn a_kept_calibration_is_checked_when_it_comes_back() {
    let folder = Folder::new("calibrate-kept");
    let made = calibrated(&folder, BENCH, &["--wetter", "falls"]);
    let kept = serde_json::to_string(&made).expect("it is written");
    let cups = "point,raw\nair,3010\nwater,1190\n";
    for (text, named) in [
        (kept.replacen("\"probe\"", "\"probes\"", 1), "is no calibration that this program wrote"),
        (kept[..kept.len() / 2].to_owned(), "is no calibration that this program wrote"),
        (kept.replacen("\"raw\":1566,", "\"raw\":3566,", 1), "device.points holds a curve"),
    ] {
        folder.write("kept.json", &text);
        let told = refusal(&folder, cups, &["--recheck", "--earlier", "kept.json"]);
        assert!(told.contains(named) && told.starts_with("kept.json"), "{told}");
    }
}
