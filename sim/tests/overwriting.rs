//! What a command may replace: a page a page of this program, and nothing else unless it is told to.

mod from_outside;

use from_outside::{Folder, drydown_in, stderr};

/// A table of invented readings with both ends and the drained pot.
const BENCH: &str = "point,raw,water_pct\nair,3200,0\nwater,1200,100\ndrained,1900,40\n";
/// What somebody wrote and has no second copy of.
const OWN: &str = "my only notes\n";

/// A folder with a log, a table of readings, a page and somebody's notes.
fn folder(name: &str) -> Folder {
    let folder = Folder::new(name);
    folder.write("bench.csv", BENCH);
    folder.write("own.txt", OWN);
    let output =
        drydown_in(&folder.0, &["run", "dry-week", "--log", "device.csv", "--page", "page.html"]);
    assert!(output.status.success(), "{}", stderr(&output));
    folder
}

fn text(folder: &Folder, name: &str) -> String {
    std::fs::read_to_string(folder.0.join(name)).expect("a file")
}

/// Every command and option that writes a page.
const PAGES: [&[&str]; 6] = [
    &["run", "dry-week", "--page"],
    &["leave", "dry-week", "--weathers", "1", "--days", "3", "--page"],
    &["fit", "device.csv", "--page"],
    &["replay", "device.csv", "--config", "dry-week", "--page"],
    &["calibrate", "bench.csv", "--wetter", "falls", "--page"],
    &["campaign", "dry-week", "--page"],
];
/// Every one that writes what may be somebody's only copy.
const DATA: [&[&str]; 6] = [
    &["run", "dry-week", "--log"],
    &["run", "dry-week", "--trace"],
    &["fit", "device.csv", "--scenario", "dry-week", "--out"],
    &["calibrate", "bench.csv", "--wetter", "falls", "--fragment"],
    &["hunt", "dry-week", "--cases", "1", "--out"],
    &["new"],
];

#[test]
fn what_is_somebodys_own_stays_as_it_is() {
    let folder = folder("overwriting-own");
    for args in PAGES.iter().chain(&DATA) {
        let option = args.last().filter(|last| last.starts_with("--")).unwrap_or(&"FILE");
        let output = drydown_in(&folder.0, &[args, &["own.txt"][..]].concat());
        assert_eq!(output.status.code(), Some(2), "{args:?}: {}", stderr(&output));
        let named = format!("{option} is `own.txt`, it is there already");
        assert!(stderr(&output).contains(&named), "{args:?}: {}", stderr(&output));
        assert_eq!(text(&folder, "own.txt"), OWN, "{args:?}");
    }
    // The input of a command is a file like any other.
    let log = text(&folder, "device.csv");
    for args in [
        &["fit", "device.csv", "--scenario", "dry-week", "--out", "device.csv"][..],
        &["fit", "device.csv", "--page", "device.csv"],
        &["run", "dry-week", "--log", "device.csv"],
    ] {
        let output = drydown_in(&folder.0, args);
        assert_eq!(output.status.code(), Some(2), "{args:?}: {}", stderr(&output));
        assert_eq!(text(&folder, "device.csv"), log, "{args:?}");
    }
}

#[test]
fn a_page_replaces_a_page() {
    let folder = folder("overwriting-page");
    let first = text(&folder, "page.html");
    // The last, a campaign, takes minutes.
    for args in &PAGES[1..5] {
        let output = drydown_in(&folder.0, &[args, &["page.html"][..]].concat());
        assert_ne!(output.status.code(), Some(2), "{args:?}: {}", stderr(&output));
        let now = text(&folder, "page.html");
        assert!(now.starts_with("<!DOCTYPE html>") && now.ends_with("</html>\n"), "{args:?}");
        assert_ne!(now, first, "{args:?}");
    }
    // A page that somebody else's program wrote is somebody's own.
    let other = "<!DOCTYPE html><title>mine</title>";
    folder.write("other.html", other);
    let output = drydown_in(&folder.0, &["run", "--page", "other.html"]);
    assert_eq!(output.status.code(), Some(2), "{}", stderr(&output));
    assert_eq!(text(&folder, "other.html"), other);
}

#[test]
fn told_to_it_replaces_the_whole_file() {
    let folder = folder("overwriting-told");
    let log = text(&folder, "device.csv");
    folder.write("long.csv", &"x".repeat(2 * log.len()));
    let args = ["run", "dry-week", "--log", "long.csv", "--overwrite"];
    let output = drydown_in(&folder.0, &args);
    assert!(output.status.success(), "{}", stderr(&output));
    assert_eq!(text(&folder, "long.csv"), log);
    // What is no file is written to without a word.
    let output = drydown_in(&folder.0, &["run", "dry-week", "--log", "/dev/null"]);
    assert!(output.status.success(), "{}", stderr(&output));
}
