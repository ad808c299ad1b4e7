//! Build sheets from outside: sent, built again, refused until they are measured anew.

mod from_outside;

use drydown::bench::{Check, Findings};
use drydown::persist::configuration::identity;
use drydown_sim::check::{Kind, Severity, findings};
use drydown_sim::scenario::{Setup, Source, shipped};
use drydown_sim::sheet::{digits, export, import};
use from_outside::{Folder, changed, drydown, drydown_in, stderr, stdout};
use serde_json::Value;

/// The built-in scenario as somebody built it: curve, flow and dates of their own. All invented.
fn built() -> String {
    changed("line_l = 0.15", "line_l = 0.15\nmeasured_l_h = 5.9")
        + "\n[probe]\nmeasured_curve = [[1400, 75.0], [1900, 35.5], [2650, 4.0]]\n\
           calibration_error_pct = 0.8\n\n[commissioned]\ncalibrated_unit = \"A7\"\nfitted_unit = \
           \"A7\"\ncalibrated_on = \"2026-06-20\"\nflow_measured_on = \"2026-06-21\"\ntested_on = \
           \"2026-06-22\"\nfitted = [\"normally-closed-valve\"]\n"
}

fn source(text: &str) -> Source {
    Source::from_text("scenario.toml", text)
}

/// Every sheet that comes of this one's copies is this one, byte for byte.
fn goes_round(text: &str) -> (String, String) {
    let sheet = export(&source(text)).expect("a sheet").text;
    let copy = import(&source(&sheet)).expect("a copy").text;
    let again = export(&source(&copy)).expect("the sheet of a copy").text;
    assert_eq!(again, sheet);
    (sheet, copy)
}

/// Fields for which a copy is refused.
fn refused_for(text: &str) -> Vec<(Kind, String, f64)> {
    let found = findings(&Setup::load(&source(text)).expect("a scenario")).into_iter();
    let kinds = [Kind::CalibrationNotOwn, Kind::FlowNotOwn];
    let copied = found.filter(|one| kinds.contains(&one.kind));
    copied
        .map(|one| {
            assert_eq!(one.severity, Severity::Refuted);
            (one.kind, one.field, one.value)
        })
        .collect()
}

#[test]
fn export_import_export_is_the_same_sheet_byte_for_byte() {
    for one in shipped::SHIPPED {
        // Those whose figures are meant to be refuted have no sheet.
        let refuted = findings(&Setup::load(&source(one.text)).expect("shipped")).into_iter();
        if refuted.filter(|found| found.severity == Severity::Refuted).count() == 0 {
            goes_round(one.text);
        }
    }
    let (sheet, copy) = goes_round(&built());
    assert!(sheet.starts_with(&built()), "the author's own text comes first");
    assert!(copy.starts_with(&built()));
    // Without a line end at the end, and with those of another system.
    goes_round(built().trim_end());
    goes_round(&built().replace('\n', "\r\n"));
}

#[test]
fn a_sheet_holds_what_a_builder_wants_to_know() {
    let own = source(&built());
    let exported = export(&own).expect("a sheet");
    let sheet = exported.sheet;
    let setup = Setup::load(&own).expect("a scenario");
    assert_eq!(sheet.configuration, digits(identity(&setup.zone)));
    assert_eq!(sheet.firmware, concat!("drydown ", env!("CARGO_PKG_VERSION")));
    let calibration = sheet.calibration.expect("it has a probe");
    assert_eq!(
        (calibration.unit.as_deref(), calibration.on.as_deref()),
        (Some("A7"), Some("2026-06-20"))
    );
    assert!(calibration.measured);
    assert_eq!(calibration.points, [(1_400, 75.0), (1_900, 35.5), (2_650, 4.0)]);
    assert!((calibration.error_pct - 0.8).abs() < 1e-12);
    assert_eq!(sheet.commissioning.flow_l_h, Some(5.9));
    assert_eq!(sheet.commissioning.tested_on.as_deref(), Some("2026-06-22"));
    // What the file does not say, with its usual value; what it says is not assumed.
    assert_eq!(sheet.assumed.get("control.agree"), Some(&3.0));
    assert_eq!(sheet.assumed.get("control.soak_min"), None);
    assert!(exported.text.contains("\"control.agree\" = 3.0\n"));
}

/// The record of the device's own commissioning, in hexadecimal digits as the device keeps it.
#[test]
fn the_record_of_the_bench_is_told_check_by_check() {
    let record: String =
        Findings::new(0x1234_abcd).to_bytes().iter().map(|byte| format!("{byte:02x}")).collect();
    let with = |record: &str| built() + &format!("bench_record = \"{record}\"\n");
    let (sheet, _) = goes_round(&with(&record));
    assert!(
        sheet.contains("[sheet.commissioning.bench]\nconfiguration = \"1234abcd\"\ngood = false\n")
    );
    assert!(sheet.contains(&format!("\"{}: not made\"", Check::ALL[0].title())), "{sheet}");
    for wrong in ["", "00", &record[2..], &record.replace('1', "2"), &"zz".repeat(Findings::BYTES)]
    {
        let error = export(&source(&with(wrong))).expect_err("no record").to_string();
        assert!(error.contains("commissioned.bench_record is `"), "{error}");
        assert!(error.contains("must be the 114 hexadecimal digits"), "{error}");
    }
}

#[test]
fn a_copy_is_refused_until_each_of_its_own_figures_is_there() {
    let (sheet, copy) = goes_round(&built());
    let (calibration, flow) = (Kind::CalibrationNotOwn, Kind::FlowNotOwn);
    assert_eq!(refused_for(&built()), []);
    // Nobody's figures are in a sheet.
    let of_sheet = |kind| (kind, "sheet".to_owned(), 0.0);
    assert_eq!(refused_for(&sheet), [of_sheet(calibration), of_sheet(flow)]);
    // The author's figures are all there, and are not the copier's.
    let missing = |kind, field: &str, value| (kind, field.to_owned(), value);
    let flow_missing = missing(flow, "commissioned.flow_measured_on", 1.0);
    assert_eq!(
        refused_for(&copy),
        [missing(calibration, "probe.measured_curve", 2.0), flow_missing.clone()]
    );
    let mut text = copy;
    let mut change = |from: &str, to: &str| {
        assert!(text.contains(from), "no {from}");
        text = text.replacen(from, to, 1);
        refused_for(&text)
    };
    let found = change("[1900, 35.5]", "[1930, 34.0]");
    assert_eq!(
        found,
        [missing(calibration, "commissioned.calibrated_on", 3.0), flow_missing.clone()]
    );
    let found = change("calibrated_on = \"2026-06-20\"", "calibrated_on = \"2026-08-01\"");
    assert_eq!(found, std::slice::from_ref(&flow_missing));
    // Another mark on the probe that was calibrated than on the one in the soil.
    let found = change("calibrated_unit = \"A7\"", "calibrated_unit = \"B1\"");
    assert_eq!(found, [missing(calibration, "commissioned.fitted_unit", 3.0), flow_missing]);
    assert_eq!(change("fitted_unit = \"A7\"", "fitted_unit = \"B1\"").len(), 1);
    assert_eq!(
        change("flow_measured_on = \"2026-06-21\"", "flow_measured_on = \"2026-08-02\""),
        []
    );
    // What no longer has a value is not measured either.
    assert_eq!(change("measured_l_h = 5.9\n", "")[0].1, "water.measured_l_h");
}

/// A timer needs no probe, so no calibration; what it gives still hangs on the flow.
#[test]
fn a_copied_timer_owes_its_flow_alone() {
    let timer = built()
        .replace("policy = \"hysteresis\"", "policy = \"timer\"\ndose_s = 600\nevery_h = 8")
        .replace("start_pct = 51\nstop_pct = 55\n", "");
    let (_, copy) = goes_round(&timer);
    let kinds: Vec<Kind> = refused_for(&copy).into_iter().map(|(kind, ..)| kind).collect();
    assert_eq!(kinds, [Kind::FlowNotOwn]);
}

/// What a copier adds at the end of the file is kept, and a sheet of theirs is their own.
#[test]
fn a_copy_that_was_measured_is_a_build_of_its_own() {
    let modelled = changed("line_l = 0.15", "line_l = 0.15\nmeasured_l_h = 5.7");
    let (_, copy) = goes_round(&modelled);
    let own = copy
        + "\n[probe]\nmeasured_curve = [[1410, 74.0], [1930, 34.0], [2600, 5.0]]\n\n[commissioned]\n\
           calibrated_unit = \"B1\"\nfitted_unit = \"B1\"\ncalibrated_on = \"2026-08-01\"\n\
           flow_measured_on = \"2026-08-02\"\n";
    assert_eq!(refused_for(&own), []);
    let (sheet, _) = goes_round(&own);
    assert!(sheet.contains("unit = \"B1\"") && !sheet.contains("[copied]"), "{sheet}");
}

#[test]
fn a_sheet_that_was_changed_or_cut_is_refused() {
    let (sheet, _) = goes_round(&built());
    let refused = |text: &str, message: &str| {
        let error = import(&source(text)).expect_err(message).to_string();
        assert!(error.contains(message), "{error} should say {message}");
    };
    refused(&built(), "sheet is missing: this is no build sheet");
    refused(&sheet.replace("start_pct = 51", "start_pct = 50"), "sheet.crc is `");
    refused(&sheet.replace("# Build sheet, written", "# Build sheet, read"), "sheet was changed");
    refused(&(sheet.clone() + "\n# Mine.\n"), "sheet was changed");
    refused(&sheet.replace("version = 1\n", "version = 2\n"), "sheet.version is `2`, it must be 1");
    refused(&sheet.replace("configuration =", "configration ="), "configuration");
    // Cut anywhere in what the sheet adds.
    for length in (built().len() + 1..sheet.len() - 1).step_by(37) {
        assert!(import(&source(&sheet[..length])).is_err(), "cut at {length}");
    }
    // Any one letter or digit.
    let mut tried = 0;
    for place in (0..sheet.len()).step_by(7) {
        let Some(there) = sheet[place..].chars().next().filter(char::is_ascii_alphanumeric) else {
            continue;
        };
        let other = if there == '7' { '8' } else { '7' };
        let changed = format!("{}{other}{}", &sheet[..place], &sheet[place + 1..]);
        assert!(import(&source(&changed)).is_err(), "{other} for {there} at {place}");
        tried += 1;
    }
    assert!(tried > 300, "{tried}");
    // Mail that changed line ends did no harm.
    let mailed = import(&source(&sheet.replace('\n', "\r\n"))).expect("the same lines");
    assert_eq!(mailed.text, import(&source(&sheet)).expect("the same").text);
    let error = export(&source(&sheet)).expect_err("it is one already").to_string();
    assert!(error.contains("sheet is there: this is a build sheet already"), "{error}");
    let touched = import(&source(&sheet)).expect("a copy").text.replace("# A copy", "# My copy");
    let error = export(&source(&touched)).expect_err("the mark was touched").to_string();
    assert!(error.contains("copied must stay as `drydown sheet import` wrote it"), "{error}");
}

#[test]
fn what_arithmetic_refutes_has_no_sheet() {
    let high = changed("stop_pct = 55", "stop_pct = 74");
    let error = export(&source(&high)).expect_err("it cannot work").to_string();
    assert!(error.contains("control.stop_pct is refused by `drydown check`"), "{error}");
}

#[test]
fn the_examples_of_the_help_work_and_overwrite_nothing() {
    let folder = Folder::new("sheet");
    folder.write("balcony.toml", &built());
    let example = |verb: &str| {
        let help = stdout(&drydown(&["sheet", verb, "--help"]));
        let (_, example) = help.split_once("Example: drydown ").expect("an example");
        example.lines().next().unwrap_or_default().split(' ').map(str::to_owned).collect()
    };
    let (export, import): (Vec<String>, Vec<String>) = (example("export"), example("import"));
    let call = |args: &[String]| {
        let args: Vec<&str> = args.iter().map(String::as_str).collect();
        drydown_in(&folder.0, &args)
    };
    let output = call(&export);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(
        stdout(&output).contains("Calibration of the probe A7, 2026-06-20: 3 points, measured")
    );
    let output = call(&import);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(stdout(&output).contains("It must not water by itself yet."));
    assert!(stdout(&output).contains("(probe.measured_curve)"));
    for args in [&export, &import] {
        let output = call(args);
        assert_eq!(output.status.code(), Some(2));
        assert!(stderr(&output).contains("is there already, and is not overwritten"));
        let again = [args.as_slice(), &["--overwrite".to_owned()]].concat();
        assert_eq!(call(&again).status.code(), Some(0));
    }
    // The verbs of the overview are these.
    let help = stdout(&drydown(&["sheet", "--help"]));
    assert!(help.contains(&export.join(" ")) && help.contains(&import.join(" ")), "{help}");
}

/// What `new` assumed stands in the file and is marked there: a sheet of it counts both that and what the
/// file leaves out.
#[test]
fn what_was_assumed_is_counted() {
    let folder = Folder::new("sheet-assumed");
    let made = drydown_in(&folder.0, &from_outside::example_of("new"));
    assert_eq!(made.status.code(), Some(0), "{}", stderr(&made));
    let text = std::fs::read_to_string(folder.0.join("basil.toml")).expect("the file");
    let marked = text.matches("\n# Assumed").count();
    assert!(marked >= 5, "{text}");
    let export = ["sheet", "export", "basil.toml", "-o", "sheet.toml"];
    let told = stdout(&drydown_in(&folder.0, &export));
    let counted = format!("taken as usual: 0.\nMarked in it as assumed: {marked}.");
    assert!(told.contains(&counted), "{told}");
    let told = stdout(&drydown(&["sheet", "export", "dry-week", "--format", "json"]));
    let told: Value = serde_json::from_str(&told).expect("JSON");
    assert_eq!(told["marked_as_assumed"], 0);
    assert!(told["sheet"]["assumed"].as_object().is_some_and(|all| all.len() > 10));
}

/// A copy of a week that runs well runs well too, by what another build measured.
#[test]
fn a_run_of_a_copy_says_what_it_lacks() {
    let folder = Folder::new("copy-run");
    let call = |args: &[&str]| stdout(&drydown_in(&folder.0, args));
    assert!(call(&["run", "dry-week"]).contains("Would I leave it?   Yes. Nothing went wrong"));
    call(&["sheet", "export", "dry-week", "-o", "sheet.toml"]);
    call(&["sheet", "import", "sheet.toml", "-o", "mine.toml"]);
    let run = call(&["run", "mine.toml"]);
    assert!(run.contains("Would I leave it?   Yes, after this: Calibrate this probe"), "{run}");
}

/// What asks whether it may water by itself says no to a copy, and names the field.
#[test]
fn check_leave_and_pack_refuse_a_copy() {
    let folder = Folder::new("copy");
    folder.write("balcony.toml", &built());
    let call = |args: &[&str]| drydown_in(&folder.0, args);
    assert_eq!(call(&["check", "balcony.toml"]).status.code(), Some(0));
    call(&["sheet", "export", "balcony.toml", "-o", "sheet.toml"]);
    call(&["sheet", "import", "sheet.toml", "-o", "mine.toml"]);
    let output = call(&["check", "mine.toml", "--format", "json"]);
    assert_eq!(output.status.code(), Some(1));
    let told: Value = serde_json::from_str(&stdout(&output)).expect("JSON");
    assert_eq!(told["findings"][0]["kind"], "calibration-not-own");
    assert_eq!(told["findings"][1]["kind"], "flow-not-own");
    let output = call(&["pack", "mine.toml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("probe.measured_curve is refused by `drydown check`"));
    let output = call(&["pack", "sheet.toml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("sheet is refused by `drydown check`"), "{}", stderr(&output));
    let leave = ["leave", "mine.toml", "--days", "3", "--weathers", "1", "--mode", "automatic"];
    let output = call(&[&leave[..], &["--on", "2026-07-06", "--format", "json"]].concat());
    assert_eq!(output.status.code(), Some(1), "{}", stderr(&output));
    let told: Value = serde_json::from_str(&stdout(&output)).expect("JSON");
    assert_eq!(told["answer"], "do-not-leave");
    let unmet = told["unmet"].to_string();
    assert!(
        unmet.contains("probe.measured_curve") && unmet.contains("drydown calibrate"),
        "{unmet}"
    );
    // It may be run: a model floods nothing.
    assert_ne!(call(&["run", "mine.toml", "--days", "1"]).status.code(), Some(2));
}

/// A weather file of the author's own goes along, and is known by its check.
#[test]
fn a_weather_file_is_sent_along_and_known_again() {
    let folder = Folder::new("sheet-weather");
    let measured = shipped::text("real-dry-week").expect("shipped");
    let weather = shipped::weather("schwingbach-dry-week.csv").expect("shipped");
    let weather = String::from_utf8(weather.to_vec()).expect("text");
    folder.write("own.toml", &measured.replace("schwingbach-dry-week.csv", "roof.csv"));
    folder.write("roof.csv", &(weather.clone() + "\n"));
    let output = drydown_in(&folder.0, &["sheet", "export", "own.toml", "-o", "sheet.toml"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(stderr(&output).contains("send this file along: roof.csv"));
    std::fs::create_dir(folder.0.join("there")).expect("a folder");
    let import = ["sheet", "import", "sheet.toml", "-o", "there/mine.toml"];
    let output = drydown_in(&folder.0, &import);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(folder.0.join("there/roof.csv").exists());
    folder.write("roof.csv", &(weather + "\n\n"));
    let output = drydown_in(&folder.0, &["sheet", "import", "sheet.toml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("sheet.weather_crc is `"), "{}", stderr(&output));
    std::fs::remove_file(folder.0.join("roof.csv")).expect("it was there");
    let output = drydown_in(&folder.0, &["sheet", "import", "sheet.toml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("weather.file is `roof.csv`"), "{}", stderr(&output));
}
