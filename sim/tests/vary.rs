//! Numbers of a scenario by dotted path: the list is whole, its bounds are the reader's, and a
//! scenario written back runs to the same bytes.

use std::fs;
use std::path::Path;

use drydown_sim::report;
use drydown_sim::run::{Pace, run};
use drydown_sim::scenario::vary::{self, Base, NUMBERS};
use drydown_sim::scenario::{Setup, Source, shipped::SHIPPED};
use toml::Value;

fn base(name: &str) -> Base {
    Base::load(Source::open(name).expect("it is shipped")).expect("it is valid")
}

/// The scenario's text with one value put at a path, whatever it is.
fn with(base: &Base, path: &str, value: Value) -> String {
    let text = vary::render(&base.setup().scenario).expect("it is rendered");
    let mut document: Value = toml::from_str(&text).expect("it is TOML");
    let (parent, last) = path.rsplit_once('.').unwrap_or(("", path));
    let mut here = &mut document;
    for part in parent.split('.').filter(|part| !part.is_empty()) {
        here = match here {
            Value::Array(array) => &mut array[part.parse::<usize>().expect("a position")],
            Value::Table(table) => &mut table[part],
            _ => panic!("{path} leads nowhere"),
        };
    }
    match here {
        Value::Table(table) => drop(table.insert(last.to_owned(), value)),
        Value::Array(array) => array[last.parse::<usize>().expect("a position")] = value,
        _ => panic!("{path} leads nowhere"),
    }
    toml::to_string(&document).expect("it is written")
}

#[test]
fn the_reader_refuses_what_lies_beyond_each_listed_bound() {
    let mut seen = vec![];
    for shipped in SHIPPED {
        let base = base(shipped.name);
        for number in vary::numbers(&base.setup().scenario).expect("they are listed") {
            if number.value.is_none() {
                continue;
            }
            let by = if number.whole { 1.0 } else { 0.001 + 1e-3 * number.max.abs() };
            for beyond in [number.min - by, number.max + by] {
                let value =
                    if number.whole { Value::Integer(beyond as i64) } else { Value::Float(beyond) };
                let source = Source::from_text("changed.toml", &with(&base, &number.path, value));
                assert!(
                    Setup::load(&source).is_err(),
                    "{}: {} = {beyond} is accepted",
                    shipped.name,
                    number.path
                );
            }
            seen.push(number.path);
        }
    }
    for path in ["control.start_pct", "fault.0.at_h", "neighbour.4.clogged", "water.line_l"] {
        assert!(seen.iter().any(|seen| seen == path), "{path} was not tried");
    }
}

#[test]
fn every_number_of_the_file_is_listed() {
    // A pot, a bed, a fault and a person in one document: what it does not make is a valid
    // scenario, what it makes is every table there is.
    let base = base("six-pots");
    let text = vary::render(&base.setup().scenario).expect("it is rendered")
        + "[bed]\nsoil = 'loam'\narea_m2 = 1\nroot_depth_m = 0.3\nbegins_pct = 30\n[bed.place]\n\
           [[fault]]\nkind = 'clock-jump'\nat_h = 1\n[[person]]\ndoes = 'pours-can'\nat_h = 1\n\
           [power]\nsupply = 'battery'\nvolts = 12\nregulator = 'linear'\nsleep_ma = 1\n\
           awake_ma = 40\nload_a = 0.3\n[commissioned]\n";
    let scenario = Source::from_text("all.toml", &text).parse().expect("it is read");
    let text = vary::render(&scenario).expect("it is rendered");
    let unknown = |table: &str, key: &str, value: Value| {
        let mut document: Value = toml::from_str(&text).expect("it is TOML");
        let mut here = &mut document;
        for part in table.split('.').filter(|part| !part.is_empty()) {
            here = match here {
                Value::Array(array) => &mut array[0],
                Value::Table(tables) => tables.get_mut(part).expect("the table is there"),
                _ => panic!("{table} leads nowhere"),
            };
        }
        let Value::Table(fields) = here else { panic!("{table} is no table") };
        fields.insert(key.to_owned(), value);
        let result: Result<drydown_sim::scenario::Scenario, _> = document.try_into();
        result.err().map(|error| error.message().to_owned())
    };
    let tables = [
        "",
        "site",
        "weather",
        "container",
        "container.place",
        "bed",
        "bed.place",
        "crop",
        "water",
        "probe",
        "control",
        "signals",
        "power",
        "commissioned",
        "neighbour.0",
        "fault.0",
        "person.0",
    ];
    let mut fields = 0;
    for table in tables {
        let told = unknown(table, "no-such-field", Value::Boolean(true)).expect("it is refused");
        for name in told.split('`').skip(3).step_by(2) {
            fields += 1;
            let takes_a_number = unknown(table, name, Value::Integer(1)).is_none();
            let path = if table.is_empty() { name.to_owned() } else { format!("{table}.{name}") };
            let pattern = path.replace(".0.", ".*.");
            let listed = NUMBERS.iter().any(|number| number.path == pattern);
            assert_eq!(listed, takes_a_number, "{path}");
        }
    }
    assert!(fields > 100, "only {fields} fields were tried");
}

#[test]
fn a_scenario_written_back_runs_to_the_same_bytes() {
    for shipped in SHIPPED {
        let base = base(shipped.name);
        let changed = base.set(&[("days", 3.0), ("seed", 5.0)]).expect("it is valid");
        let text = vary::render(&changed.scenario).expect("it is rendered");
        let again = Setup::load(&Source::from_text(shipped.name, &text)).expect("it reads back");
        let json = |setup: &Setup| report::json("x", setup, &run(setup, Pace::Wake, None));
        assert_eq!(json(&changed), json(&again), "{}", shipped.name);
    }
}

#[test]
fn weather_of_ones_own_goes_along_with_the_scenario() {
    let folder = std::env::temp_dir().join(format!("drydown-vary-{}", std::process::id()));
    let (here, there) = (folder.join("here"), folder.join("there"));
    fs::create_dir_all(&here).and_then(|()| fs::create_dir_all(&there)).expect("folders");
    let text = include_str!("../scenarios/real-dry-week.toml")
        .replace("schwingbach-dry-week.csv", "mine.csv");
    let csv = include_bytes!("../scenarios/schwingbach-dry-week.csv");
    fs::write(here.join("a.toml"), text).expect("a file");
    fs::write(here.join("mine.csv"), csv).expect("a file");
    let open = |path: &Path| Source::open(&path.display().to_string()).expect("it opens");
    let base = Base::load(open(&here.join("a.toml"))).expect("it is valid");
    vary::write(base.source(), &base.setup().scenario, &there.join("b.toml")).expect("written");
    assert_eq!(fs::read(there.join("mine.csv")).expect("it went along"), csv);
    Setup::load(&open(&there.join("b.toml"))).expect("it is found there");
    fs::write(there.join("mine.csv"), "another").expect("a file");
    let error = vary::write(base.source(), &base.setup().scenario, &there.join("c.toml"));
    assert!(error.expect_err("it is in the way").to_string().contains("mine.csv"));
    assert!(!there.join("c.toml").exists());
    fs::remove_dir_all(&folder).expect("it is removed");
}

#[test]
fn what_is_taken_over_gives_what_preparing_anew_gives() {
    let base = base("real-dry-week");
    for changes in [
        &[("control.start_pct", 49.0)][..],
        &[("weather.evaporation_share", 0.7)],
        &[("seed", 9.0)],
        &[("days", 2.0)],
        &[("probe.unit", 9.0)],
    ] {
        let taken = base.set(changes).expect("it is valid");
        let anew = Setup::of(base.source(), taken.scenario.clone()).expect("it is valid");
        let json = |setup: &Setup| report::json("x", setup, &run(setup, Pace::Wake, None));
        assert_eq!(json(&taken), json(&anew), "{changes:?}");
    }
}

#[test]
fn an_error_names_file_field_value_and_bound() {
    let base = base("dry-week");
    let told = |path: &str, value: f64| base.set(&[(path, value)]).expect_err("bad").to_string();
    assert_eq!(
        told("control.start", 50.0),
        "dry-week: control.start is no number of a scenario. Is `control.start_pct` meant?"
    );
    assert!(told("max_open_s", 50.0).ends_with("Is `control.max_open_s` meant?"));
    let text = told("container.height_m", 3.0);
    assert!(text.starts_with("dry-week, line "), "{text}");
    assert!(text.ends_with("container.height_m is `3`, it must be from 0.03 to 2"), "{text}");
    let text = told("control.agree", 2.5);
    assert!(text.ends_with("control.agree is `2.5`, it must be a whole number"), "{text}");
    let text = told("fault.0.at_h", 2.5);
    assert!(text.contains("fault.0.at_h cannot be set"), "{text}");
    let text = told("control.start_pct", 56.0);
    assert!(text.contains("control.start_pct is `56`, it must be below stop_pct"), "{text}");
    assert!(told("container.height_m", f64::NAN).contains("must be from 0.03 to 2"));
}
