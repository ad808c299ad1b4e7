//! What changed and what it means, against arithmetic by hand.

mod from_outside;

use drydown_sim::diff::{Consequence, Diff, diff};
use drydown_sim::scenario::{Source, shipped};
use drydown_sim::sheet::export;
use from_outside::{Folder, changed, drydown, drydown_in, example_of, stderr, stdout};
use serde_json::Value;

fn between(from: &str, to: &str) -> Diff {
    diff(&Source::from_text("a", from), &Source::from_text("b", to)).expect("both read")
}

fn week() -> &'static str {
    shipped::text("dry-week").expect("shipped")
}

fn consequence<'d>(diff: &'d Diff, what: &str) -> &'d Consequence {
    diff.consequences.iter().find(|one| one.what == what).unwrap_or_else(|| panic!("no {what}"))
}

fn near(value: f64, expected: f64) {
    assert!((value - expected).abs() < 1e-6 * expected.abs(), "{value} is not {expected}");
}

/// At 5.88 L/h the reading takes 870 s from 51 to 55 %, 1.42 L; from 45 % it takes 1570 s, 2.56 L. The
/// runs of both give 1.39 to 1.64 L and 2.61 to 2.80 L at a time.
#[test]
fn a_lower_start_waters_later_and_more_at_a_time() {
    let found = between(week(), &changed("start_pct = 51", "start_pct = 45"));
    assert_eq!(found.changes.len(), 1);
    let change = &found.changes[0];
    assert_eq!((change.field.as_str(), change.unit), ("control.start_pct", "%"));
    assert_eq!(
        change.means,
        "waters later, from drier soil; 2.56 L instead of 1.42 L used between two waterings"
    );
    let water = consequence(&found, "water used between two waterings");
    assert!((water.from - 5.88 * 870.0 / 3600.0).abs() < 0.001, "{}", water.from);
    assert!((water.to - 5.88 * 1570.0 / 3600.0).abs() < 0.001, "{}", water.to);
    assert_ne!(found.identities[0], found.identities[1]);
    // The way back is told the other way round.
    let back = between(&changed("start_pct = 51", "start_pct = 45"), week());
    assert!(back.changes[0].means.starts_with("waters earlier, from moister soil; 1.42 L instead"));
}

/// 5.88 L/h in 1150 s are 1.88 L, in 2300 s twice that.
#[test]
fn a_longer_opening_tells_its_water() {
    let found = between(week(), &changed("max_open_s = 1150", "max_open_s = 2300"));
    let water = consequence(&found, "most water of one opening");
    near(water.to, 2.0 * water.from);
    assert!((water.from - 5.88 * 1150.0 / 3600.0).abs() < 0.01, "{}", water.from);
    assert_eq!(found.changes[0].means, "3.76 L instead of 1.88 L in one opening at the most");
}

/// What a field has words of its own for is not told as another plant or another weather.
#[test]
fn a_beginning_and_a_name_are_told_as_such() {
    for (from, to, means) in [
        ("begins_pct = 50", "begins_pct = 40", "it begins with drier soil"),
        ("begins_pct = 50", "begins_pct = 52", "it begins with wetter soil"),
        ("name = \"Port Averley", "name = \"Sandmere", "another name of the place"),
    ] {
        let found = between(week(), &changed(from, to));
        let told: Vec<_> = found.changes.iter().map(|change| change.means.as_str()).collect();
        assert_eq!(told, [means], "{to}");
    }
}

/// Each change by itself: what another one does is not told of it.
#[test]
fn a_change_is_told_for_itself() {
    let both =
        changed("start_pct = 51", "start_pct = 45").replace("stop_pct = 55", "stop_pct = 57");
    let found = between(week(), &both);
    assert!(found.changes[0].means.contains("2.56 L instead of 1.42 L"), "{:?}", found.changes);
    // 1140 s at 5.88 L/h.
    assert!(found.changes[1].means.contains("1.86 L instead of 1.42 L"), "{:?}", found.changes);
    // Both: 12 % of 28 L are 3.36 L, of which the place of the probe gets more than its share.
    let both = consequence(&found, "water used between two waterings").to;
    assert!((2.9..3.36).contains(&both), "{both}");
}

/// 2 % at one count apart, and the two ends alike.
#[test]
fn another_curve_is_told_by_what_it_reads() {
    let with = |middle: &str| {
        week().to_owned()
            + &format!("\n[probe]\nmeasured_curve = [[1400, 75.0], {middle}, [2650, 4.0]]\n")
    };
    let found = between(&with("[1900, 35.0]"), &with("[1900, 33.0]"));
    assert_eq!(found.changes.len(), 1);
    let told = found.changes[0].means.strip_prefix("another calibration: at ").expect("told so");
    let (count, told) = told.split_once(' ').expect("a count");
    assert_eq!(told, "counts the device reads 2 % drier");
    // Moistures are rounded to 0.01 %, which 3 counts are here.
    assert!(count.parse::<u16>().expect("a count").abs_diff(1_900) <= 3, "{count}");
}

#[test]
fn what_cannot_work_any_more_is_named() {
    let low = changed("limit_24h_s = 3600", "limit_24h_s = 1200");
    let found = between(week(), &low);
    let kinds: Vec<&str> = found.newly_refuted.iter().map(|one| one.kind.name()).collect();
    assert_eq!(kinds, ["limit-below-use"]);
    assert!(found.no_longer_refuted.is_empty());
    let back = between(&low, week());
    assert_eq!((back.newly_refuted.len(), back.no_longer_refuted.len()), (0, 1));
}

#[test]
fn comments_order_and_usual_values_are_no_difference() {
    let (site, rest) = week().split_once("[weather]").expect("a table");
    let said = format!("{site}[weather]{rest}agree = 3 # as usual\n");
    assert!(between(week(), &said).is_same());
    // A sheet repeats its scenario.
    let sheet = export(&Source::from_text("a", week())).expect("a sheet").text;
    assert!(between(week(), &sheet).is_same());
    assert!(between(&sheet, &sheet).is_same());
}

/// A pot that one side does not have is one difference, not one for each of its fields.
#[test]
fn a_pot_more_is_one_difference() {
    let pots = shipped::text("six-pots").expect("shipped");
    let (first, _) = pots.rsplit_once("[[neighbour]]").expect("neighbours");
    let found = between(pots, first);
    let fields: Vec<&str> = found.changes.iter().map(|one| one.field.as_str()).collect();
    assert_eq!(fields, ["neighbour.4"]);
    assert_eq!(found.changes[0].means, "one pot fewer on the valve");
}

/// Whatever number of a scenario is changed, it is told with its field, and nothing else is.
#[test]
fn every_number_that_changes_is_told() {
    let source = Source::from_text("a", week());
    let scenario = source.parse().expect("it reads");
    let mut told = 0;
    for number in drydown_sim::scenario::vary::numbers(&scenario).expect("numbers") {
        let Some(value) = number.value else { continue };
        let step = if number.whole { 1.0 } else { 0.01 * value.abs().max(0.1) };
        for value in [value + step, value - step] {
            let change = [(number.path.as_str(), value)];
            let Ok(changed) = drydown_sim::scenario::vary::set(&source, &scenario, &change) else {
                continue;
            };
            let text = drydown_sim::scenario::vary::render(&changed).expect("TOML holds it");
            // One that does not fit the others is refused, and has no meaning.
            let Ok(found) = diff(&source, &Source::from_text("b", &text)) else { continue };
            let list = number.path.rsplit_once('.').filter(|(_, at)| at.parse::<u8>().is_ok());
            let field = list.map_or(number.path.as_str(), |(list, _)| list);
            let fields: Vec<&str> = found.changes.iter().map(|one| one.field.as_str()).collect();
            assert_eq!(fields, [field]);
            assert!(found.changes[0].means.len() > 8, "{field}: {}", found.changes[0].means);
            told += 1;
        }
    }
    assert!(told > 100, "{told} changes");
}

#[test]
fn the_example_of_the_help_works_and_ends_with_its_code() {
    let folder = Folder::new("diff");
    folder.write("balcony.toml", week());
    folder.write("balcony-2.toml", &changed("start_pct = 51", "start_pct = 50"));
    let example = example_of("diff");
    let output = drydown_in(&folder.0, &example);
    assert_eq!(output.status.code(), Some(1), "{}", stderr(&output));
    assert!(stdout(&output).contains("control.start_pct: 51 % → 50 %\n    waters later"));
    let output = drydown_in(&folder.0, &[&example[..], &["--format", "json"]].concat());
    let told: Value = serde_json::from_str(&stdout(&output)).expect("JSON");
    assert_eq!(told["same"], false);
    assert_eq!(told["changes"][0]["field"], "control.start_pct");
    assert_eq!(
        (&told["changes"][0]["from"], &told["changes"][0]["to"]),
        (&51.0.into(), &50.0.into())
    );
    let same = drydown_in(&folder.0, &["diff", "balcony.toml", "dry-week"]);
    assert_eq!((same.status.code(), stdout(&same).as_str()), (Some(0), "Nothing differs.\n"));
}

#[test]
fn what_cannot_be_read_ends_with_2_and_names_which() {
    let folder = Folder::new("diff-bad");
    let bad = folder.write("bad.toml", &changed("start_pct = 51", "start_pct = 60"));
    for args in [["diff", "dry-week", &bad], ["diff", &bad, "dry-week"]] {
        let output = drydown(&args);
        assert_eq!(output.status.code(), Some(2));
        assert!(stderr(&output).contains("bad.toml, line "), "{}", stderr(&output));
        assert!(stderr(&output).contains("control.start_pct"), "{}", stderr(&output));
    }
    assert_eq!(drydown(&["diff", "dry-week"]).status.code(), Some(2));
    assert_eq!(drydown(&["diff", "dry-week", "no-such"]).status.code(), Some(2));
}

/// A measured dose gives as much wherever stop lies.
#[test]
fn water_that_stays_the_same_is_not_told_as_changed() {
    let metered = |stop: &str| {
        changed("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 600")
            .replace("stop_pct = 55", stop)
    };
    let found = between(&metered("stop_pct = 55"), &metered("stop_pct = 56"));
    let change = found.changes.iter().find(|one| one.field == "control.stop_pct").expect("stop");
    assert_eq!(change.means, "stops later, with wetter soil");
}
