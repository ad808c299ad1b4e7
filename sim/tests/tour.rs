//! The ten minutes of the README, command by command as they are printed there.

mod from_outside;

use from_outside::{Folder, drydown_in, stderr, stdout};

const README: &str = include_str!("../../README.md");
const READINGS: &str = include_str!("../readings/port-averley.csv");

/// The commands of the tour, each with its words; a backslash carries a line on.
fn commands() -> Vec<Vec<String>> {
    let (_, tour) = README.split_once("\n## Ten minutes").expect("the tour");
    let (tour, _) = tour.split_once("\n## ").expect("what follows it");
    let (_, block) = tour.split_once("```console\n").expect("its commands");
    let (block, _) = block.split_once("```").expect("their end");
    let lines = block.replace("\\\n", " ");
    lines.lines().map(words).collect()
}

/// The words of a line as a shell takes them; a word in quotes is one.
fn words(line: &str) -> Vec<String> {
    let quoted = line.split('"').enumerate();
    quoted
        .flat_map(|(at, part)| {
            if at % 2 == 1 {
                vec![part.to_owned()]
            } else {
                part.split_whitespace().map(str::to_owned).collect()
            }
        })
        .collect()
}

#[test]
fn every_command_of_the_tour_ends_well_and_leaves_what_the_next_one_reads() {
    let folder = Folder::new("tour");
    std::fs::create_dir_all(folder.0.join("sim/readings")).expect("a folder");
    folder.write("sim/readings/port-averley.csv", READINGS);
    let commands = commands();
    let verbs: Vec<&str> = commands.iter().map(|words| words[1].as_str()).collect();
    assert_eq!(
        verbs,
        ["calibrate", "new", "size", "check", "run", "explain", "fit", "replay", "leave", "pack"],
        "the tour as it was promised"
    );
    let mut said = vec![];
    for words in &commands {
        assert_eq!(words[0], "drydown");
        let args: Vec<&str> = words[1..].iter().map(String::as_str).collect();
        let output = drydown_in(&folder.0, &args);
        assert_eq!(output.status.code(), Some(0), "{args:?}: {}", stderr(&output));
        said.push(stdout(&output));
    }
    let text = |name: &str| std::fs::read_to_string(folder.0.join(name)).expect(name);
    for page in ["probe.html", "fit.html", "replay.html", "leave.html"] {
        assert!(text(page).starts_with("<!DOCTYPE html>"), "{page}");
    }
    assert!(text("probe.toml").contains("\n[probe]\n"));
    assert!(
        text("fitted.toml").contains("[container]") && text("device.csv").lines().count() > 1_400
    );
    // One pot: what it holds drained is what the calibration took, and its curve is read by all through.
    let of = |command: usize, option: &str| {
        let at = commands[command].iter().position(|word| word == option).expect(option);
        commands[command][at + 1].parse::<f64>().expect("a number")
    };
    let drained_pct = 100.0 * of(1, "--drained-l") / of(1, "--pot-l");
    assert!((drained_pct - of(0, "--drained-pct")).abs() < 1e-9, "{drained_pct} %");
    let mint: toml::Table = text("mint.toml").parse().expect("a scenario");
    let fragment: toml::Table = text("probe.toml").parse().expect("a table");
    let curve = |table: &toml::Table| table["probe"]["measured_curve"].clone();
    assert_eq!(curve(&mint), curve(&fragment));
    let holds = mint["container"]["container_capacity_pct"].as_float().expect("a number");
    assert!((holds - drained_pct).abs() < 1e-9, "{holds} %");
    assert!(said[4].contains("Would I leave it?   Yes."), "{}", said[4]);
    assert!(!said[9].contains("NOT CALIBRATED") && !text("zone.rs").contains("NOT CALIBRATED"));
    // What the README says of it.
    let leave = &said[8];
    assert!(leave.contains("\nLEAVE AFTER DOING THIS.\n"), "{leave}");
    assert!(leave.contains("No trouble in all of its 10 days."), "{leave}");
    assert!(!leave.contains("contradicts") && !leave.contains("Try it with weather"), "{leave}");
    assert!(said[5].contains("Healthy: nothing in this log asks for anybody."), "{}", said[5]);
    assert!(text("zone.rs").contains("pub const ZONE"));
    // A second time it would write over what is kept, and says so instead.
    let again: Vec<&str> = commands[4][1..].iter().map(String::as_str).collect();
    assert_eq!(drydown_in(&folder.0, &again).status.code(), Some(2));
}

#[test]
fn the_readings_are_said_to_be_invented() {
    assert!(READINGS.starts_with("# Invented") && READINGS.contains("Port Averley"));
    assert!(README.contains("are invented, like the town"));
}
