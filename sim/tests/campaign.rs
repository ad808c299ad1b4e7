//! What a campaign judges: only ways of watering that hold with nothing wrong, and faults that can
//! happen with the plumbing.

mod from_outside;

use drydown_sim::campaign::matrix::{Case, Extent, Faults, Mode, POLICIES};
use drydown_sim::campaign::oracle::{Expected, row_of};
use drydown_sim::campaign::verdict::Verdict;
use drydown_sim::campaign::{run_case, settings};
use drydown_sim::fault::Kind;
use drydown_sim::scenario::schema::PolicyKind;
use drydown_sim::scenario::{Source, shipped};
use from_outside::changed;

/// Measured doses of 500 s, at most 600 s open, from the mains at 25 m. 600 s of the 4 L/h at 10 m of
/// four emitters are 4.2 L there, and 28 L take 1.1 L from start to stop; through one emitter they are
/// 1.05 L, less than the plants leave of it in an hour, and a stop level is never met.
fn metered(emitters: u32) -> (Vec<settings::Settings>, Vec<String>) {
    let text = changed("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 500")
        .replace("tank_l = 70\ntank_depth_m = 0.35", "mains_head_m = 25")
        .replace("outlet_height_m = -1.0\n", "")
        .replace("emitters = 4", &format!("emitters = {emitters}"))
        .replace("max_open_s = 1150", "max_open_s = 600")
        .replace("limit_24h_s = 3600", "limit_24h_s = 9000")
        .replace("days = 7", "days = 4");
    built(&text)
}

/// The ways of watering with this plumbing, and what is said of those left out.
fn built(text: &str) -> (Vec<settings::Settings>, Vec<String>) {
    let source = Source::from_text("built.toml", text);
    let scenario = source.parse().expect("it reads");
    settings::of(&source, &scenario).expect("it is prepared")
}

fn policies(settings: &[settings::Settings]) -> Vec<PolicyKind> {
    settings.iter().map(|one| one.policy).collect()
}

/// Every fault would be blamed for a lock-out that comes without any.
#[test]
fn a_way_of_watering_that_locks_itself_out_unharmed_is_left_out_and_named() {
    let (all, notes) = metered(1);
    assert_eq!(policies(&all), [PolicyKind::Metered, PolicyKind::Timer], "{notes:?}");
    assert_eq!(notes.len(), 1, "{notes:?}");
    assert!(notes[0].starts_with("Left out: the hysteresis policy."), "{notes:?}");
    assert!(notes[0].contains("nothing wrong it locks itself out"), "{notes:?}");
    let (all, notes) = metered(4);
    assert_eq!(all.len(), 3, "{notes:?}");
}

/// The fault asks for 2.04 m; the mains give 25 m all the time, and the valve opens.
#[test]
fn no_valve_on_high_mains_is_starved() {
    let (all, _) = metered(4);
    let faults = Faults { first: Kind::ValveStarved, second: None };
    let case = Case { faults, policy: 1, mode: Mode::Automatic, hour: 12 };
    let outcome = run_case(case, &all[1]);
    assert_eq!(outcome.verdict, Verdict::NotHere, "{:?}", outcome.why);
}

/// 63 kinds of fault and 1 953 pairs of them; three policies, 24 hours, with a person and without.
#[test]
fn all_of_it_and_the_quick_form_are_as_large_as_is_said() {
    let (kinds, pairs) = (63, 63 * 62 / 2);
    assert_eq!(Kind::ALL.len(), kinds);
    assert_eq!(Extent::full().cases(&POLICIES).len(), 3 * 24 * 2 * (kinds + pairs));
    // Of the pairs noon only, with nobody there.
    assert_eq!(Extent::quick().cases(&POLICIES).len(), 3 * 24 * 2 * kinds + 3 * pairs);
}

/// Above a valve each happens, but for the siphon: that takes a pump in a tank above the outlets.
#[test]
fn whatever_no_software_stops_is_said_to_be_beyond_it() {
    let week = shipped::text("dry-week").expect("it is shipped");
    let uphill = shipped::text("bare-pump").expect("it is shipped");
    let downhill = uphill.replace("outlet_height_m = 0.3", "outlet_height_m = -0.3");
    let siphon = Faults { first: Kind::Siphon, second: None };
    for settings in built(uphill).0 {
        let case = Case { faults: siphon, policy: 0, mode: Mode::Automatic, hour: 12 };
        assert_eq!(run_case(case, &settings).verdict, Verdict::NotHere);
    }
    let all = [built(week).0, built(&downhill).0].concat();
    let beyond = |kind: &&Kind| matches!(row_of(**kind).by_clock, Expected::Beyond(_));
    let mut tried = vec![];
    for &kind in Kind::ALL.iter().filter(beyond) {
        let mut most_l = f64::NEG_INFINITY;
        for (at, settings) in all.iter().enumerate() {
            let faults = Faults { first: kind, second: None };
            let case = Case { faults, policy: at, mode: Mode::Automatic, hour: 12 };
            let outcome = run_case(case, settings);
            if outcome.verdict != Verdict::NotHere {
                assert!(outcome.verdict >= Verdict::Beyond, "{kind:?}: {:?}", outcome.verdict);
                most_l = most_l.max(outcome.after.spilled_l);
            }
        }
        assert!(most_l >= 0.0, "{kind:?} happens nowhere");
        // A tank of 5 L runs through a pot of 3 L.
        assert!(kind != Kind::Siphon || most_l > 1.0, "{most_l} L");
        tried.push(kind);
    }
    assert_eq!(tried.len(), 9, "{tried:?}");
}
