//! A swapped probe, and the monthly look at two cups.

use crate::bench::BENCH;
use crate::from_outside::{Folder, drydown_in, stderr, stdout};
use crate::{calibrated, read, refusal};

fn kept(folder: &Folder) -> drydown_sim::calibrate::Calibration {
    let made = calibrated(folder, BENCH, &["--wetter", "falls"]);
    folder.write("kept.json", &serde_json::to_string(&made).expect("it is written"));
    made
}

#[test]
fn one_known_point_moves_the_whole_curve() {
    let folder = Folder::new("calibrate-offset");
    let former = kept(&folder);
    let offset = ["--offset-only", "--earlier", "kept.json"];
    // The same curve 23 counts higher, told by one pot, or by air.
    let at = former.device.points.iter().find(|at| at.water_pct > 30.0 && at.water_pct < 40.0);
    let at = at.expect("a point in the middle");
    let pot = format!("raw,water_pct,probe\n{},{},B1\n", at.raw + 23, at.water_pct);
    for table in [pot.as_str(), "point,raw,probe\nair,3024,B1\n"] {
        let moved = calibrated(&folder, table, &offset);
        for raw in (1_600..2_560).step_by(40) {
            assert_eq!(read(&moved, f64::from(raw + 23)), read(&former, f64::from(raw)), "{raw}");
        }
        assert_eq!(moved.probe.as_deref(), Some("B1"));
        let how = moved.moved.expect("it says how");
        assert_eq!((how.by_counts, how.from_probe.as_deref()), (23.0, Some("A3")));
    }
    for (table, named) in [
        ("raw,water_pct\n1900,33\n1700,47\n", "the number of usable points is `2`"),
        ("raw,water_pct\n2100,33\n", "must be at most 101, 10 % of the curve's span"),
        ("raw,water_pct\n1300,70\n", "within 6.0 to 56.9 %"),
    ] {
        let told = refusal(&folder, table, &offset);
        assert!(told.contains(named), "{told}");
    }
}

#[test]
fn two_cups_a_month_tell_the_drift_since_the_calibration_and_since_the_last_look() {
    let folder = Folder::new("calibrate-recheck");
    let former = kept(&folder);
    let (air, water) = (former.ends.air_raw.unwrap(), former.ends.water_raw.unwrap());
    let cups = |date: &str, by: f64| {
        format!(
            "point,raw,probe,date\nair,{},A3,{date}\nwater,{},A3,{date}\n",
            air + by,
            water + by
        )
    };
    let recheck = ["--recheck", "--earlier", "kept.json"];
    let first = calibrated(&folder, &cups("2026-06-01", -10.0), &recheck);
    folder.write("kept.json", &serde_json::to_string(&first).expect("it is written"));
    let second = calibrated(&folder, &cups("2026-07-01", -16.0), &recheck);
    let cup = &second.rechecks[1].cups[0];
    assert_eq!((cup.drift_counts, cup.since_last_counts), (-16.0, Some(-6.0)));
    // 50.9 % by volume over 1 014 counts.
    assert!((cup.drift_pct - 16.0 * 50.9 / 1_014.0).abs() < 0.05, "{}", cup.drift_pct);
    assert!(second.rechecks[1].keep);

    folder.write("readings.csv", &cups("2026-08-01", -80.0));
    let call = [&["calibrate", "readings.csv"], &recheck[..]].concat();
    let output = drydown_in(&folder.0, &call);
    assert_eq!(output.status.code(), Some(1), "a drifted probe is a bad finding");
    let told = stdout(&output);
    assert!(told.contains("No, calibrate again") && told.contains("wetter"), "{told}");
    assert!(told.contains("-80 counts since the calibration in 91"), "{told}");
    assert!(stderr(&output).is_empty());

    let other = refusal(&folder, &cups("2026-08-01", 0.0).replace("A3", "B1"), &recheck);
    assert!(other.contains("probe is `B1`, it must be `A3`"), "{other}");
    let one = refusal(&folder, "point,raw\nair,3000\n", &recheck);
    assert!(one.contains("the number of cups is `1`, it must be 2"), "{one}");
}
