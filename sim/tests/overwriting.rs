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
const DATA: [&[&str]; 9] = [
    &["run", "dry-week", "--log"],
    &["run", "dry-week", "--trace"],
    &["fit", "device.csv", "--scenario", "dry-week", "--out"],
    &["calibrate", "bench.csv", "--wetter", "falls", "--fragment"],
    &["hunt", "dry-week", "--cases", "1", "--out"],
    &["new"],
    &["pack", "dry-week", "--image"],
    &["pack", "dry-week", "--source"],
    &["sheet", "export", "dry-week", "--out"],
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

/// What is begun must be able to end: where one file cannot be written, none is.
#[test]
fn where_one_file_has_no_folder_none_is_begun() {
    let folder = Folder::new("overwriting-no-folder");
    std::fs::create_dir(folder.0.join("place")).expect("a folder");
    for (option, path, said) in [
        ("--page", "nowhere/p.html", "No such file"),
        ("--log", "nowhere/l.csv", "No such file"),
        ("--log", "/proc/l.csv", "cannot be written"),
        ("--trace", "place", "cannot be written"),
    ] {
        let others = ["--page", "--log", "--trace"].into_iter().filter(|other| *other != option);
        let others: Vec<_> = others.flat_map(|other| [other, other.trim_matches('-')]).collect();
        let args = [&["run", "dry-week", option, path][..], &others].concat();
        let output = drydown_in(&folder.0, &args);
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(stderr(&output).contains(&format!("{option} is `{path}`")), "{}", stderr(&output));
        assert!(stderr(&output).contains(said), "{}", stderr(&output));
        let left = std::fs::read_dir(&folder.0).expect("the folder").count();
        assert_eq!(left, 1, "{args:?} left something behind");
    }
}

#[test]
fn two_outputs_are_two_files_and_none_is_what_was_read() {
    let folder = folder("overwriting-twins");
    let week = drydown_sim::scenario::shipped::text("dry-week").expect("it is shipped");
    folder.write("week.toml", week);
    std::fs::create_dir(folder.0.join("sub")).expect("a folder");
    let twice = "must be another file than that of";
    let read = "must be another file than what is read";
    std::os::unix::fs::symlink("new.x", folder.0.join("link.x")).expect("a link to nothing");
    let export = drydown_in(&folder.0, &["sheet", "export", "week.toml", "--out", "sheet.toml"]);
    assert!(export.status.success(), "{}", stderr(&export));
    folder.write("probe.toml", "[probe]\n");
    let refused: [(&[&str], &str); 11] = [
        (&["new", "probe.toml", "--probe-table", "probe.toml", "--overwrite"], read),
        (&["run", "week.toml", "--log", "link.x", "--trace", "new.x", "--overwrite"], twice),
        (&["hunt", "week.toml", "--out", "week.toml", "--overwrite"], read),
        (&["sheet", "export", "week.toml", "--out", "week.toml", "--overwrite"], read),
        (&["sheet", "import", "sheet.toml", "--out", "sheet.toml", "--overwrite"], read),
        (&["run", "week.toml", "--page", "new.x", "--trace", "sub/../new.x"], twice),
        (&["run", "week.toml", "--log", "new.x", "--trace", "./new.x"], twice),
        (&["run", "week.toml", "--trace", "./week.toml", "--overwrite"], read),
        (&["pack", "week.toml", "--image", "new.x", "--source", "new.x"], twice),
        (
            &["fit", "device.csv", "--scenario", "week.toml", "--out", "device.csv", "--overwrite"],
            read,
        ),
        (
            &[
                "calibrate",
                "bench.csv",
                "--wetter",
                "falls",
                "--fragment",
                "bench.csv",
                "--overwrite",
            ],
            read,
        ),
    ];
    let log = text(&folder, "device.csv");
    for (args, said) in refused {
        let output = drydown_in(&folder.0, args);
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(stderr(&output).contains(said), "{args:?}: {}", stderr(&output));
        assert!(!folder.0.join("new.x").exists(), "{args:?}");
    }
    assert_eq!(text(&folder, "week.toml"), week);
    assert_eq!(text(&folder, "bench.csv"), BENCH);
    assert_eq!(text(&folder, "device.csv"), log);
}
