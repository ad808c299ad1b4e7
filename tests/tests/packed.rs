//! What is packed as source: it compiles to the configuration it was packed from, and once it is
//! edited into something unsafe it does not compile. The compiler that judges is the one of these
//! tests, called on a crate of its own.
#![cfg(feature = "simulator")]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;

use drydown::persist::configuration::encode;
use drydown::policy::{BuiltIn, Timer};
use drydown::probe::FrostHold;
use drydown::quantity::Millis;
use drydown::zone::{CheckedZone, Probes, SignalRules, ZoneConfig};
use drydown_sim::pack::{Calibration, rust};
use drydown_sim::scenario::{Setup, Source};
use drydown_tests::configs::{all_fitted, trough};
use serde_json::Value;

/// Programs that print the image of a constant, each from its source, built at once.
struct Programs {
    folder: PathBuf,
    /// What the compiler has against each.
    errors: BTreeMap<String, String>,
}

impl Programs {
    fn build(sources: &[(String, String)]) -> Self {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("packed");
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
        let _ = std::fs::remove_dir_all(folder.join("src"));
        std::fs::create_dir_all(folder.join("src/bin")).expect("a folder");
        let manifest = format!(
            "[package]\nname = \"packed\"\nversion = \"0.1.0\"\nedition = \"2024\"\npublish = false\n\n\
             [dependencies]\ndrydown = {{ path = '{}' }}\n\n[workspace]\n",
            root.join("core").display()
        );
        std::fs::write(folder.join("Cargo.toml"), manifest).expect("a manifest");
        // The same versions of everything, of which none has to be fetched.
        std::fs::copy(root.join("Cargo.lock"), folder.join("Cargo.lock")).expect("the lock file");
        for (name, source) in sources {
            let program = format!(
                "#![allow(clippy::all)]\n{source}\nfn main() {{\n    let image = \
                 drydown::persist::configuration::encode(&ZONE).expect(\"a day\");\n    \
                 std::io::Write::write_all(&mut std::io::stdout(), &image).expect(\"it is taken\");\n}}\n"
            );
            let path = folder.join("src/bin").join(format!("{name}.rs"));
            std::fs::write(path, program).expect("a source");
        }
        let output = Command::new(env!("CARGO"))
            .args(["build", "--offline", "--keep-going", "--message-format", "json"])
            .arg("--manifest-path")
            .arg(folder.join("Cargo.toml"))
            .env("CARGO_TARGET_DIR", folder.join("target"))
            .env_remove("RUSTFLAGS")
            .output()
            .expect("cargo starts");
        let mut errors = BTreeMap::<String, String>::new();
        let mut seen = false;
        for line in String::from_utf8_lossy(&output.stdout).lines() {
            let Ok(message) = serde_json::from_str::<Value>(line) else { continue };
            seen |= message["reason"] == "build-finished";
            if message["reason"] == "compiler-message" && message["message"]["level"] == "error" {
                let name = message["target"]["name"].as_str().expect("a name").to_owned();
                *errors.entry(name).or_default() +=
                    message["message"]["rendered"].as_str().expect("a text");
            }
        }
        assert!(seen, "{}", String::from_utf8_lossy(&output.stderr));
        Self { folder, errors }
    }

    /// What the program prints.
    fn image(&self, name: &str) -> Vec<u8> {
        let program = self.folder.join("target/debug").join(name);
        let output = Command::new(program).output().expect("the program was built");
        assert!(output.status.success());
        output.stdout
    }
}

fn zone_of(text: &str) -> CheckedZone {
    Setup::load(&Source::from_text("scenario", text)).expect("a scenario").zone
}

fn shipped(name: &str) -> String {
    drydown_sim::scenario::shipped::text(name).expect("shipped").to_owned()
}

/// One of each kind that a configuration can be.
fn kinds() -> Vec<(String, CheckedZone)> {
    let timer = BuiltIn::Timer(Timer { dose: Millis::from_secs(30), every: Millis::from_hours(8) });
    let without = ZoneConfig { probes: Probes::None, policy: timer, ..trough() };
    let frost = Some(FrostHold::USUAL);
    let in_frost =
        ZoneConfig { signals: SignalRules { frost, ..SignalRules::default() }, ..without };
    let measured = shipped("dry-week")
        + "stance = \"test-dose\"\nstance_dose_s = 40\n\n[probe]\nmeasured_curve = [[1400, 75.0], \
           [1900, 35.5], [2650, 4.0]]\ncurve_pct_per_kelvin = -0.2\ncurve_reference_c = 21.5\n\n\
           [signals]\nflow_within = 0.3\n";
    let named = |name: &str, zone| (name.to_owned(), zone);
    vec![
        named("dry_week", zone_of(&shipped("dry-week"))),
        named("bare_pump", zone_of(&shipped("bare-pump"))),
        named("measured", zone_of(&measured)),
        named("timer", without.check().expect("a timer")),
        named("timer_in_frost", in_frost.check().expect("a timer")),
        named("all_fitted", all_fitted().check().expect("invented")),
    ]
}

/// What is edited in the constant of the dry week, and what the compiler says to it: field, value,
/// bound and why.
const UNSAFE: [(&str, &str, &str); 9] = [
    (
        "max_open: Millis::from_secs(1_150)",
        "max_open: Millis::from_hours(2)",
        "limits.max_open is 7200000, must be at most 3600000: no single opening may exceed the 24 h limit",
    ),
    (
        "per_day: Millis::from_hours(1)",
        "per_day: Millis::from_hours(30)",
        "limits.per_day is 108000000, must be at most 86400000: a window holds no more open time than its own length",
    ),
    (
        "min_closed: Millis::from_mins(1)",
        "min_closed: Millis(10)",
        "limits.min_closed is 10, must be at least 1000: relay, motor and pipe need a rest",
    ),
    (
        "watchdog: Millis::from_secs(2)",
        "watchdog: Millis::from_mins(5)",
        "timing.watchdog is 300000, must be at most 60000: a dead interrupt leaves the valve open for one watchdog period",
    ),
    (
        "tries: 3",
        "tries: 0",
        "response.tries is 0, must be at least 1: one unanswered dose is needed to know",
    ),
    ("agree: 3", "agree: 0", "policy.agree is 0, must be at least 1: "),
    ("smoothing: 1", "smoothing: 9", "smoothing: 9 is above 4"),
    (
        "Moisture::from_centi(5_100)",
        "Moisture::from_centi(5_500)",
        "band: start 5500 and stop 5500 (0.01 %): stop must be at least 1 above start",
    ),
    (
        "raw: RawCounts(1_895)",
        "raw: RawCounts(1_400)",
        "curve point 3: raw 1400 does not follow 1739; raw counts must only rise or only fall",
    ),
];

#[test]
fn what_is_packed_compiles_to_itself_and_what_is_unsafe_does_not() {
    let kinds = kinds();
    let source = |zone: &CheckedZone| rust(zone, "Invented", Calibration::Modelled);
    let week = source(&kinds[0].1);
    let edited = |from: &str, to: &str| {
        assert!(week.contains(from), "the source has no {from}:\n{week}");
        week.replacen(from, to, 1)
    };
    let mut sources: Vec<(String, String)> =
        kinds.iter().map(|(name, zone)| (name.clone(), source(zone))).collect();
    sources.push(("harmless".to_owned(), edited("from_centi(5_100)", "from_centi(5_050)")));
    for (number, (from, to, _)) in UNSAFE.iter().enumerate() {
        sources.push((format!("unsafe_{number}"), edited(from, to)));
    }
    let programs = Programs::build(&sources);
    for (name, zone) in &kinds {
        assert_eq!(programs.errors.get(name), None, "{name}");
        assert_eq!(programs.image(name), encode(zone).expect("a day"), "{name}");
    }
    // An edit that keeps every bound is a configuration of its own.
    assert_eq!(programs.errors.get("harmless"), None);
    assert_ne!(programs.image("harmless"), programs.image("dry_week"));
    for (number, (from, to, told)) in UNSAFE.iter().enumerate() {
        let error = programs.errors.get(&format!("unsafe_{number}"));
        let error = error.unwrap_or_else(|| panic!("{to} instead of {from} compiles"));
        assert!(error.contains("E0080") && error.contains(told), "{to}: {error}");
    }
    assert_eq!(programs.errors.len(), UNSAFE.len());
}
