//! The report of a run: complete, in order, in a grower's words, and the same every time.
#![cfg(feature = "simulator")]

use drydown_sim::report::{csv, html, text};
use drydown_sim::run::{Pace, run};
use drydown_sim::scenario::{Setup, Source, shipped};
use drydown_sim::score::{Findings, tank_days};

/// The order in which the findings are told.
const IN_ORDER: [&str; 9] = [
    "Would I leave it?",
    "Driest",
    "Waterings",
    "Water ",
    "Closest call",
    "Reading and truth",
    "Refused, reported",
    "Stuck open tonight",
    "Measured, assumed",
];

/// A trough in Port Averley, an invented town, with `more` at the end.
fn trough(days: f64, begins: &str, latitude_deg: f64, more: &str) -> String {
    format!(
        r#"
title = "A trough"
about = "Invented."
days = {days}
[site]
name = "Port Averley (invented)"
latitude_deg = {latitude_deg}
longitude_deg = 5.1
elevation_m = 18
utc_offset_h = 0
[weather]
spell = "dry"
start = "{begins}"
t_mean_c = 24
t_peak_c = 33
[container]
volume_l = 28
height_m = 0.17
saturation_pct = 82
container_capacity_pct = 58
wilting_pct = 20
saucer_l = 3
begins_pct = 56
[crop]
name = "sweet pepper"
canopy_m2 = 0.45
[water]
tank_l = 70
outlet_height_m = -1.0
emitters = 4
emitter_l_h = 4
[control]
policy = "hysteresis"
start_pct = 50.5
stop_pct = 55
max_open_s = 1500
limit_24h_s = 4200
{more}"#
    )
}

const QUIET: &str = "";
const HOSE_OFF: &str = r#"
[signals]
leak_sensor = true
[[fault]]
kind = "hose-off"
at_h = 12
"#;
const PROBE_OUT: &str = r#"
[[fault]]
kind = "probe-out"
at_h = 50.5
for_h = 20
[[person]]
does = "acknowledges"
at_h = 71
"#;
const NEIGHBOURS: &str = r#"
[[neighbour]]
name = "shaded pot"
volume_l = 6
canopy_m2 = 0.15
emitters = 1
evaporation_share = 0.5
[[neighbour]]
name = "blocked pot"
volume_l = 6
canopy_m2 = 0.1
emitters = 1
clogged = 0.9
"#;

/// Monday, 6 July 2026 by the Gregorian calendar.
const MONDAY: &str = "2026-07-06";

fn ran(scenario: &str) -> (Setup, Findings) {
    let source = Source::from_text("test.toml", scenario);
    let setup = Setup::load(&source).unwrap_or_else(|error| panic!("{error}"));
    let findings = run(&setup, Pace::Wake, None);
    (setup, findings)
}

fn all_sorts() -> Vec<(Setup, Findings)> {
    let week = |more| ran(&trough(4.0, MONDAY, 43.2, more));
    let mut all: Vec<_> = [QUIET, HOSE_OFF, PROBE_OUT, NEIGHBOURS].into_iter().map(week).collect();
    all.push(ran(&trough(90.0, MONDAY, 43.2, HOSE_OFF)));
    all
}

/// What stands before the days.
fn first_screen(text: &str) -> &str {
    text.split("DAY BY DAY").next().expect("a split has a first part")
}

fn first_of_page(page: &str) -> &str {
    let main = page.split("<main>").nth(1).expect("the page has a main part");
    main.split("id=\"strip\"").next().expect("a split has a first part")
}

/// One line, however it was wrapped.
fn unwrapped(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_same_run_gives_the_same_bytes() {
    let scenario = trough(4.0, MONDAY, 43.2, PROBE_OUT);
    let ((setup, first), (_, second)) = (ran(&scenario), ran(&scenario));
    assert_eq!(text(&setup, &first), text(&setup, &second));
    assert_eq!(csv(&setup, &first), csv(&setup, &second));
    assert_eq!(html("test.toml", &setup, &first), html("test.toml", &setup, &second));
}

#[test]
fn every_section_is_there_in_order() {
    for (setup, findings) in all_sorts() {
        let told = text(&setup, &findings);
        let mut at = 0;
        for heading in IN_ORDER {
            let found = told.lines().skip(at).position(|line| line.starts_with(heading));
            at += found.unwrap_or_else(|| panic!("no {heading:?} after line {at} of\n{told}")) + 1;
        }
        let page = html("test.toml", &setup, &findings);
        let mut rest = page.as_str();
        for heading in
            IN_ORDER.map(str::trim).iter().chain(&["<svg", "Day by day", "Rules", "Legionella"])
        {
            // A run of many days is told by more than one day a row.
            let heading = if *heading == "Day by day" { "id=\"days\"" } else { heading };
            let Some((_, after)) = rest.split_once(heading) else { panic!("no {heading:?}") };
            rest = after;
        }
    }
}

/// The first word that only the program's makers use: one of theirs, or a rule's code.
fn word_of_the_program(screen: &str) -> Option<&str> {
    const WORDS: [&str; 9] =
        ["policy", "verdict", "seed", "shard", "hysteresis", "permit", "ledger", "enum", "config"];
    let is_code = |word: &str| {
        let number = word.strip_prefix(['S', 'L']).unwrap_or_default();
        !number.is_empty() && number.chars().all(|letter| letter.is_ascii_digit())
    };
    let mut words = screen.split(|letter: char| !letter.is_alphanumeric());
    words.find(|word| WORDS.contains(&word.to_lowercase().as_str()) || is_code(word))
}

#[test]
fn the_first_screen_has_no_word_of_the_program() {
    for (setup, findings) in all_sorts() {
        let told = text(&setup, &findings);
        let page = html("test.toml", &setup, &findings);
        for screen in [first_screen(&told), first_of_page(&page)] {
            assert_eq!(word_of_the_program(screen), None, "{screen}");
        }
        let (_, rules) = told.split_once("\nRULES\n").expect("every report has the rules");
        assert_eq!(word_of_the_program(rules), Some("S1"), "the codes are in the details");
    }
}

/// 47400.2 s are nothing that a person reads.
#[test]
fn long_times_of_the_rules_are_told_in_minutes_and_hours() {
    for (setup, findings) in all_sorts() {
        let told = text(&setup, &findings);
        let (_, rules) = told.split_once("\nRULES\n").expect("every report has the rules");
        let words: Vec<&str> = rules.split_whitespace().collect();
        let in_seconds = words.windows(2).filter(|pair| pair[1] == "s");
        for pair in in_seconds {
            assert!(pair[0].parse::<f64>().expect("a number") < 120.0, "{} s: {rules}", pair[0]);
        }
        let limit = rules.lines().find(|line| line.ends_with("S4")).expect("the 24 h limit");
        assert!(limit.contains("≤ 70 min"), "{limit}");
    }
}

#[test]
fn a_fault_of_a_pump_is_not_one_of_a_valve() {
    let pump = shipped::text("bare-pump").expect("shipped").to_owned();
    let (setup, findings) =
        ran(&(pump + "\n[[fault]]\nkind = \"valve-stuck-closed\"\nat_h = 30\n"));
    let told = text(&setup, &findings);
    for fault in ["fault: the pump does not start", "Put in on purpose: the pump does not start"] {
        assert!(told.contains(fault), "{told}");
    }
    let page = html("test.toml", &setup, &findings);
    assert!(page.contains("fault: the pump does not start"));
    assert!(!page.contains("the valve sticks closed"));
}

#[test]
fn the_text_is_at_most_80_columns_wide() {
    for (setup, findings) in all_sorts() {
        for line in text(&setup, &findings).lines() {
            assert!(line.chars().count() <= 80, "{} columns: {line}", line.chars().count());
        }
    }
}

#[test]
fn a_lock_out_says_what_to_do() {
    let (setup, findings) = ran(&trough(4.0, MONDAY, 43.2, HOSE_OFF));
    assert!(!findings.lock_outs.is_empty(), "the hose must have wetted the leak sensor");
    let todo = "find the leak, then acknowledge at the device";
    let told = text(&setup, &findings);
    let screen = unwrapped(first_screen(&told));
    let reported = screen.split("Refused, reported").nth(1).expect("every report has it");
    assert!(reported.starts_with(" Locked itself out"), "{reported}");
    assert!(reported.contains(todo), "{reported}");
    let page = html("test.toml", &setup, &findings);
    assert!(unwrapped(first_of_page(&page)).contains(todo));
}

/// 8 July 2026 is a Wednesday; 50.5 h after midnight before the 6th it is half past two there.
#[test]
fn a_fault_is_told_with_day_date_and_time_and_so_is_its_answer() {
    let (setup, findings) = ran(&trough(4.0, MONDAY, 43.2, PROBE_OUT));
    let told = text(&setup, &findings);
    assert!(unwrapped(first_screen(&told)).contains("day 3 (Wed 8 Jul), 02:30"), "{told}");
    let day = told.split("\nday 3  Wed 8 Jul").nth(1).expect("day three is a row");
    let day = unwrapped(day.split("\nday 4").next().expect("a split has a first part"));
    assert!(day.contains("02:30 fault: the probe slips out of the soil"), "{day}");
    assert!(day.contains("does not believe the probe: probe out of the soil"), "{day}");
}

#[test]
fn each_pot_is_named_and_the_blocked_one_is_thirsty() {
    let (setup, findings) = ran(&trough(4.0, MONDAY, 43.2, NEIGHBOURS));
    let told = text(&setup, &findings);
    let screen = unwrapped(first_screen(&told));
    for pot in ["Probed pot: ", "Shaded pot: ", "Blocked pot: "] {
        assert!(screen.contains(pot), "{pot} in {screen}");
    }
    assert!(screen.contains("Short of water: blocked pot ("), "{screen}");
}

#[test]
fn days_and_waterings_of_the_table_add_up() {
    for (setup, findings) in all_sorts() {
        let table = csv(&setup, &findings);
        let mut lines = table.lines();
        let names: Vec<_> = lines.next().expect("a header").split(',').collect();
        let at = |name: &str| names.iter().position(|other| *other == name).expect("the column");
        let (row, water, count) = (at("row"), at("water_l"), at("waterings"));
        let (mut days_l, mut each_l, mut counted, mut rows) = (0.0, 0.0, 0, 0);
        for line in lines {
            let cells: Vec<_> = line.split(',').collect();
            assert_eq!(cells.len(), names.len(), "{line}");
            let litres: f64 = cells[water].parse().expect("a number");
            match cells[row] {
                "day" => {
                    days_l += litres;
                    counted += cells[count].parse::<usize>().expect("a count");
                }
                "watering" => {
                    each_l += litres;
                    rows += 1;
                }
                other => panic!("unknown row {other}"),
            }
        }
        assert!(rows > 0 && counted == rows, "{counted} counted, {rows} rows");
        // Each figure is rounded to a millilitre.
        assert!((days_l - each_l).abs() < 1e-3 * rows as f64, "{days_l} and {each_l}");
    }
}

/// Void elements of the HTML standard (WHATWG HTML, section 13.1.2) that a page of this kind uses.
const VOID: [&str; 6] = ["meta", "br", "hr", "img", "link", "input"];

/// The tags that stay open or close what is not open.
fn unbalanced(page: &str) -> Result<(), String> {
    let mut open: Vec<&str> = vec![];
    for part in page.split('<').skip(1) {
        let (tag, _) = part.split_once('>').ok_or_else(|| format!("no end: <{part}"))?;
        if tag.starts_with('!') || tag.ends_with('/') {
            continue;
        }
        let name = tag.split_whitespace().next().unwrap_or_default();
        if let Some(closed) = name.strip_prefix('/') {
            match open.pop() {
                Some(opened) if opened == closed => {}
                opened => return Err(format!("</{closed}> closes {opened:?}")),
            }
        } else if !VOID.contains(&name) {
            open.push(name);
        }
    }
    if open.is_empty() { Ok(()) } else { Err(format!("never closed: {open:?}")) }
}

#[test]
fn the_page_is_well_formed_and_needs_nothing_from_elsewhere() {
    assert!(unbalanced("<p><b>x</p></b>").is_err(), "the check itself must be able to fail");
    for (setup, findings) in all_sorts() {
        let page = html("<test> & \"more\".toml", &setup, &findings);
        unbalanced(&page).unwrap_or_else(|error| panic!("{error}"));
        assert!(page.contains("&lt;test&gt; &amp;"), "names are escaped");
        let bare = page.replace("http://www.w3.org/2000/svg", "");
        for word in
            ["http:", "https:", "src=", "href=", "url(", "@import", "<script", "NaN", "inf "]
        {
            assert!(!bare.contains(word), "{word}");
        }
        for word in ["<title id=\"chart-title\">", "<desc id=\"chart-desc\">", "role=\"img\""] {
            assert!(page.contains(word), "{word}");
        }
    }
}

/// FAO-56 Example 9: on 3 September at 20° S the sun is up for 11.7 h.
#[test]
fn nights_are_as_long_as_the_sun_is_down() {
    let (setup, findings) = ran(&trough(1.0, "2026-09-03", -20.0, QUIET));
    let page = html("test.toml", &setup, &findings);
    let figure = |tag: &str, name: &str| -> f64 {
        let text = tag.split(&format!(" {name}=\"")).nth(1).expect("the attribute");
        text.split('"').next().expect("a split has a first part").parse().expect("a number")
    };
    let tags = |class: &'static str| {
        page.split('<').filter(move |tag| tag.contains(&format!("class=\"{class}\"")))
    };
    let night: f64 = tags("night").map(|tag| figure(tag, "width")).sum();
    let midnights: Vec<f64> = tags("midnight").map(|tag| figure(tag, "x1")).collect();
    let day = midnights.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        - midnights.iter().copied().fold(f64::INFINITY, f64::min);
    let sun_h = 24.0 * (1.0 - night / day);
    assert!((sun_h - 11.7).abs() < 0.05, "{sun_h} h");
}

#[test]
fn a_valve_stuck_open_tonight_gives_what_it_gives_when_it_sticks() {
    // Told at midnight after two days, and tried in a run in which it sticks at that midnight: on a
    // tank that a night empties, on outlets above the tank's floor, and on the mains. In the dark the
    // plants take next to nothing.
    let small = ("tank_l = 70", "tank_l = 40");
    let high = ("outlet_height_m = -1.0", "tank_depth_m = 0.5\noutlet_height_m = 0.3");
    let mains = ("tank_l = 70\noutlet_height_m = -1.0", "mains_head_m = 10");
    for (change, ends) in [(small, "the empty tank"), (high, "whoever"), (mains, "stop-tap")] {
        let with = |days: f64, fault: &str| {
            let text = trough(days, "2026-07-06", 43.2, fault).replace(change.0, change.1);
            run(&Setup::load(&Source::from_text("trough.toml", &text)).unwrap(), Pace::Wake, None)
        };
        let told = with(2.0, "").stuck_open;
        let sticks = "[[fault]]\nkind = \"valve-stuck-open\"\nat_h = 48\n";
        let after = with(2.0 + told.hours / 24.0, sticks).after_fault.unwrap();
        assert!(told.stopped_by.contains(ends), "{}: {}", change.1, told.stopped_by);
        let runs_over_l = told.litres - told.taken_l;
        let case = change.1;
        assert!((told.litres - after.applied_l).abs() < 0.02, "{case}: {told:?}, {after:?}");
        // By seven in the morning plants have drunk a little of it.
        assert!(
            (0.0..0.8).contains(&(runs_over_l - after.spilled_l)),
            "{case}: {told:?}, {after:?}"
        );
    }
}

#[test]
fn a_tank_lasts_no_longer_than_its_outlets_let_it() {
    // 70 L standing 0.5 m high, outlets 0.3 m above the floor: 28 L can be drawn.
    let text = trough(2.0, "2026-07-06", 43.2, "")
        .replace("outlet_height_m = -1.0", "tank_depth_m = 0.5\noutlet_height_m = 0.3");
    let setup = Setup::load(&Source::from_text("trough.toml", &text)).unwrap();
    let findings = run(&setup, Pace::Wake, None);
    let lasts = tank_days(&findings).unwrap();
    let expected = 28.0 / (findings.accounts.applied_l / 2.0);
    assert!((lasts - expected).abs() < 1e-9 * expected, "{lasts} days, by hand {expected}");
}
