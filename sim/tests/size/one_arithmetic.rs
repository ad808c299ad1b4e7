//! One arithmetic: what `new` writes, `size` proposes and `check` tests is reckoned in one place.

use drydown_sim::check::{Severity, findings};
use drydown_sim::new::{Answers, Asker, Built, Options, build};
use drydown_sim::scenario::shipped::{SHIPPED, text};
use drydown_sim::scenario::vary::Base;
use drydown_sim::scenario::{Setup, Source};
use drydown_sim::size::{Judged, Line, applied, size};

use crate::plain::{METERED, changed};

/// Everything that a person may answer, each with some values over what is usual.
const SUBSTRATES: [&str; 6] = ["peat", "black-peat", "coir", "bark", "perlite", "mix"];
const VOLUMES_L: [f64; 5] = [0.4, 1.5, 3.0, 10.0, 40.0];
const SAUCERS: [f64; 3] = [0.0, 0.06, 0.2];
const CROPS: [&str; 4] = ["mint", "tomato", "lettuce", "strawberry"];
/// Canopy area over the pot's own.
const CANOPIES: [f64; 3] = [0.6, 1.2, 2.5];
/// Litres an hour and litre of pot.
const FLOWS: [f64; 5] = [0.15, 0.6, 1.5, 5.0, 25.0];
const LAGS_MIN: [f64; 4] = [1.0, 4.0, 6.0, 20.0];
const WARMTHS_C: [f64; 3] = [12.0, 19.0, 26.0];
const SOILS: [&str; 3] = ["sandy loam", "loam", "clay loam"];

/// Draws one value after the other from a number.
struct Draw(u64);

impl Draw {
    fn of<T: Copy>(&mut self, values: &[T]) -> T {
        let count = values.len() as u64;
        let value = values[(self.0 % count) as usize];
        self.0 /= count;
        value
    }
}

fn drawn(number: u64) -> Options {
    // An odd factor visits every number of 64 bits once.
    let mut draw = Draw(number.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 8);
    let volume_l = draw.of(&VOLUMES_L);
    let height_m = 0.17 * (volume_l / 4.0).cbrt();
    let flow_l_h = volume_l * draw.of(&FLOWS);
    let mut options = Options {
        crop: Some(draw.of(&CROPS).to_owned()),
        probe_air: Some(2900.0),
        probe_water: Some(1150.0),
        latitude: Some(43.2),
        start: Some(draw.of(&["2026-07-06", "2026-05-01"]).to_owned()),
        days: Some(draw.of(&[3.0, 10.0])),
        t_mean: Some(draw.of(&WARMTHS_C)),
        lag_min: Some(draw.of(&LAGS_MIN)),
        dead_s: Some(draw.of(&[0.0, 0.5, 8.0])),
        bucket_l: Some(flow_l_h / 60.0),
        ..Options::default()
    };
    if draw.of(&[false, false, false, false, true]) {
        options.bed_soil = Some(draw.of(&SOILS).to_owned());
        options.bed_area = Some(volume_l / 10.0);
        options.root_depth = Some(draw.of(&[0.2, 0.4]));
        options.wetted_share = Some(draw.of(&[0.4, 0.8]));
    } else {
        options.pot_l = Some(volume_l);
        options.pot_height = Some(height_m);
        options.substrate = Some(draw.of(&SUBSTRATES).to_owned());
        options.saucer_l = Some(volume_l * draw.of(&SAUCERS));
        let area_m2 = volume_l / 1e3 / height_m * draw.of(&CANOPIES);
        options.canopy_across = Some(2.0 * (area_m2 / core::f64::consts::PI).sqrt());
    }
    match draw.of(&["tank", "mains", "pump"]) {
        "mains" => options.mains_head = Some(10.0),
        source => {
            options.tank_l = Some(40.0 + 4.0 * volume_l);
            options.tank_depth = Some(0.4);
            options.outlet_height = Some(-0.6);
            options.pump_head = (source == "pump").then_some(2.0);
        }
    }
    options
}

fn built(number: u64) -> (Answers, Built) {
    let answers = drawn(number).answers(Asker::new(None)).expect("all answers");
    let built = build(&answers).unwrap_or_else(|error| panic!("{error}: {answers:?}"));
    (answers, built)
}

fn of_the_controller(field: Option<&str>) -> bool {
    field.is_some_and(|field| field.starts_with("control."))
}

/// What `new` writes: `check` refuses nothing of it and has nothing against a setting, and `size`
/// changes none.
#[test]
fn what_new_writes_is_what_size_proposes_and_check_lets_pass() {
    let (mut written, mut at_stop, mut no_room) = (0, 0, 0);
    for number in 0..240 {
        let (answers, built) = built(number);
        no_room += u32::from(!built.without_room.is_empty());
        if !built.passes() {
            continue;
        }
        written += 1;
        let source = Source::from_text("new.toml", &built.text);
        let setup = Setup::load(&source).expect("it reads back");
        at_stop += u32::from(setup.scenario.control.dose_s.is_none());
        let against: Vec<_> = findings(&setup)
            .into_iter()
            .filter(|one| one.severity == Severity::Refuted || of_the_controller(Some(&one.field)))
            .collect();
        assert!(against.is_empty(), "{number}: {answers:?}: {against:#?}");
        let unfit: Vec<_> = size(&source, &setup)
            .lines
            .into_iter()
            .filter(|line| matches!(line.judged(), Judged::Change | Judged::CannotWork))
            .filter(|line| of_the_controller(line.field.as_deref()))
            .collect();
        assert!(unfit.is_empty(), "{number}: {answers:?}: {unfit:#?}");
    }
    assert!(written > 120, "only {written} were written, {no_room} had no room");
    assert!((1..80).contains(&no_room), "{no_room} had no room");
    assert!((20..written - 20).contains(&at_stop), "{at_stop} of {written} end at stop");
}

/// Where a sizing lets every setting stand, `check` has nothing against any: two settings at a time
/// of the plain scenario, turned through what they may be.
#[test]
fn check_has_nothing_against_settings_that_size_lets_stand() {
    let turned: [(&str, &[f64]); 9] = [
        ("control.start_pct", &[44.0, 50.0, 51.0, 53.0, 56.0]),
        ("control.stop_pct", &[52.0, 55.0, 57.0, 58.5, 62.0]),
        ("control.dose_s", &[20.0, 100.0, 269.0, 271.0, 500.0, 700.0, 1500.0]),
        ("control.soak_min", &[10.0, 19.0, 21.0, 45.0, 200.0, 500.0, 1400.0]),
        ("control.max_open_s", &[100.0, 400.0, 600.0, 700.0, 1500.0, 2000.0]),
        ("control.limit_24h_s", &[300.0, 700.0, 1500.0, 2000.0, 3000.0, 9000.0]),
        ("control.by_hand_24h_s", &[100.0, 800.0, 1500.0, 1800.0]),
        ("control.answer_within_min", &[2.0, 8.0, 12.0, 60.0]),
        ("control.sample_min", &[1.0, 10.0, 90.0, 300.0]),
    ];
    let (mut stood, mut spoken) = (0, 0);
    for text in [changed(&[]), changed(&METERED)] {
        let source = Source::from_text("plain.toml", &text);
        let scenario = applied(&source, &source.parse().expect("it reads")).expect("it is sized");
        let base = Base::of(source.clone(), scenario).expect("it is prepared");
        for (at, (field, values)) in turned.iter().enumerate() {
            for (other, others) in &turned[at + 1..] {
                for (value, second) in
                    values.iter().flat_map(|value| others.iter().map(move |other| (*value, *other)))
                {
                    // What the controller itself refuses has nothing to judge.
                    let Ok(setup) = base.set(&[(*field, value), (*other, second)]) else {
                        continue;
                    };
                    let against: Vec<_> = findings(&setup)
                        .into_iter()
                        .filter(|one| of_the_controller(Some(&one.field)))
                        .collect();
                    spoken += usize::from(!against.is_empty());
                    let sizing = size(&source, &setup);
                    let mut lines = sizing.lines.iter();
                    if lines.all(|line| matches!(line.judged(), Judged::Fits | Judged::Told)) {
                        stood += 1;
                        assert!(
                            against.is_empty(),
                            "{field} = {value}, {other} = {second}: {against:#?}"
                        );
                    }
                }
            }
        }
    }
    assert!(stood > 40 && spoken > 200, "{stood} stood, {spoken} were spoken of");
}

/// Where a shipped scenario keeps a figure that `size` would change, its own comment says why; where
/// it does not, there is no such comment.
#[test]
fn a_shipped_scenario_agrees_with_its_sizing_or_says_why_not() {
    const BEGINS: &str = "# Where `drydown size` proposes otherwise, and why";
    for shipped in SHIPPED {
        let source = Source::open(shipped.name).expect("shipped");
        let setup = Setup::load(&source).expect("shipped");
        let name = |line: Line| line.field.unwrap_or(line.what);
        let lines = size(&source, &setup).lines.into_iter();
        let mut differ: Vec<String> = lines
            .filter(|line| matches!(line.judged(), Judged::Change | Judged::CannotWork))
            .map(name)
            .collect();
        let (_, notes) =
            text(shipped.name).expect("shipped").split_once(BEGINS).unwrap_or_default();
        let mut named: Vec<String> = notes
            .lines()
            .skip(1)
            .filter_map(|line| line.strip_prefix("# ").filter(|rest| !rest.starts_with(' ')))
            .filter_map(|line| Some(line.split_once(": ")?.0.to_owned()))
            .collect();
        differ.sort();
        named.sort();
        assert_eq!(named, differ, "{}", shipped.name);
    }
}
