//! What the program says on a terminal: no line wider than one, and a sentence for each word on the
//! command line that it cannot take.

mod from_outside;

use from_outside::{Folder, drydown, drydown_in, example_of, stderr, stdout};

const COMMANDS: [&str; 17] = [
    "new",
    "check",
    "size",
    "leave",
    "run",
    "sweep",
    "hunt",
    "campaign",
    "watch",
    "weather",
    "calibrate",
    "fit",
    "replay",
    "explain",
    "sheet",
    "diff",
    "pack",
];

const WIDTH: usize = 80;

fn fits(what: &str, text: &str) {
    // A usage line is a pattern of words, which is not wrapped.
    for line in text.lines().filter(|line| !line.starts_with("Usage: ")) {
        assert!(line.chars().count() <= WIDTH, "{what}: {} columns: {line}", line.chars().count());
    }
}

#[test]
fn no_help_is_wider_than_a_terminal_or_says_a_word_of_the_code() {
    for command in COMMANDS {
        let help = stdout(&drydown(&[command, "--help"]));
        assert!(help.contains("Example"), "{command}: {help}");
        fits(command, &help);
        for word in ["policy", "verdict of", "the scenario's seed", "this seed", "each policy"] {
            assert!(!help.contains(word), "{command}: {word}: {help}");
        }
    }
    fits("--help", &stdout(&drydown(&["--help"])));
}

#[test]
fn nothing_told_is_wider_than_a_terminal() {
    let folder = Folder::new("said-wide");
    let said = |args: &[&str]| {
        let output = drydown_in(&folder.0, args);
        stdout(&output) + &stderr(&output)
    };
    fits("new", &said(&example_of("new")));
    fits("new, with all missing", &said(&["new", "other.toml", "--crop", "mint"]));
    let small = [&example_of("new")[..], &["--tank-l", "1"]].concat();
    let tank = small.iter().position(|word| *word == "--tank-l").expect("a tank");
    let mut small = [&small[..tank], &small[tank + 2..]].concat();
    small[1] = "small.toml";
    let refused = said(&small);
    assert!(refused.contains("nothing was written"), "{refused}");
    fits("new, refused", &refused);
    for args in [
        &["check", "six-pots"][..],
        &["size", "basil.toml"],
        &["size", "six-pots"],
        &["run", "basil.toml"],
        &["run", "dry-week", "--log", "device.csv"],
        &["fit", "device.csv"],
        &["fit", "device.csv", "--scenario", "dry-week"],
        &["replay", "device.csv", "--config", "dry-week"],
        &["hunt", "dry-week", "--cases", "8"],
        &["sweep", "basil.toml", "--days", "2", "--values", "2", "--seeds", "1", "--units", "1"],
    ] {
        fits(&args.join(" "), &said(args));
    }
}

#[test]
fn a_word_that_cannot_be_taken_is_told_in_a_sentence() {
    for (args, said) in [
        (&["rum"][..], "`rum` is no command. Is `run` meant?"),
        (&["bogus"], "`bogus` is no command. `drydown --help` lists them"),
        (&["run", "--day", "3"], "--day is no option here. Is --days meant?"),
        (&["run", "--x"], "--x is no option here. The command's own --help lists its options"),
        (&["run", "a", "b"], "`b` is one word more than the command takes"),
        (&["run", "--days", "x"], "--days is `x`, it must be a number"),
        (&["run", "--every", "2.5"], "--every is `2.5`, it must be a whole number, 0 or more"),
        (&["run", "--days"], "--days needs a value after it"),
        (&["run", "--days", "1", "--days", "2"], "--days may be given once only"),
        (&["run", "--format", "xml"], "--format is `xml`, it must be one of: text, json, csv"),
        (
            &["run", "--board", "tcp:a:1", "--serve", "tcp:b:1"],
            "--board cannot be given together with --serve",
        ),
        (
            &["run", "--log", "a.csv", "--trace", "a.csv"],
            "--log is `a.csv`, it must be another file than that of --trace",
        ),
        (&["new"], "Still missing: FILE"),
        (&["fit"], "Still missing: LOG"),
        (&["watch", "tcp:a:1", "--zone", "300"], "--zone is `300`, it must be in 0..=255"),
        (
            &["sweep", "--shard", "3/2"],
            "--shard is `3/2`, it must read K/N with K from 1 to N, and N at most 10000",
        ),
    ] {
        let output = drydown(args);
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert_eq!(stderr(&output).trim_end(), said, "{args:?}");
        assert!(stdout(&output).is_empty(), "{args:?}");
    }
}
