//! Tank, head and emitters.

use drydown_sim::check::{Bound, Kind, Severity};

use crate::plain::{changed, found, severity, steady};

/// A tank of 10 L, 0.2 m deep, 9.8 m above the outlets: 10 m of head when full.
fn tank(more: &[(&str, &str)], kind: Kind) -> Option<Severity> {
    let tank = "tank_l = 10\ntank_depth_m = 0.2\noutlet_height_m = -9.8";
    let changes: Vec<_> =
        [("mains_head_m = 10", tank)].into_iter().chain(more.iter().copied()).collect();
    severity(&changes, kind)
}

/// Nine tenths of 10 L (common practice) at 4 L/h: 8100 s.
#[test]
fn an_opening_that_empties_the_tank() {
    let longest = |longest| {
        let limit = ("limit_24h_s = 3600", "limit_24h_s = 20000");
        tank(&[("max_open_s = 1200", longest), limit], Kind::OpeningEmptiesTank)
    };
    assert_eq!(longest("max_open_s = 8099"), None);
    assert_eq!(longest("max_open_s = 8101"), Some(Severity::Refuted));
}

/// A tenth of a tank 1 m deep stands 0.1 m above its floor; the outlets are 0.5 m below.
#[test]
fn a_valve_that_the_last_of_the_tank_cannot_open() {
    let least = |least| {
        let low = [
            ("mains_head_m = 10", "tank_l = 10\ntank_depth_m = 1\noutlet_height_m = -0.5"),
            ("emitters = 2", least),
        ];
        severity(&low, Kind::HeadRunsOut)
    };
    assert_eq!(least("emitters = 2\nvalve_least_head_m = 0.59"), None);
    assert_eq!(least("emitters = 2\nvalve_least_head_m = 0.61"), Some(Severity::Refuted));
}

/// Compensating emitters need 5 m at least (common practice).
#[test]
fn compensating_emitters_on_little_head() {
    let head = |head, exponent| {
        severity(&[("mains_head_m = 10", head), ("emitters = 2", exponent)], Kind::EmitterStarved)
    };
    let compensating = "emitters = 2\nemitter_exponent = 0";
    assert_eq!(head("mains_head_m = 5", compensating), None);
    assert_eq!(head("mains_head_m = 4.9", compensating), Some(Severity::Look));
    assert_eq!(head("mains_head_m = 4.9", "emitters = 2"), None);
}

/// A pump's head: of 8 m at no flow and 40 L/h at no head, 4 L/h leave 8·(1 − 0.1) = 7.2 m; less a
/// lift of 2.2 m.
#[test]
fn compensating_emitters_on_a_pump() {
    let lift = |lift| {
        let pump = [
            ("mains_head_m = 10", "tank_l = 10\npump_l_h = 40\npump_head_m = 8"),
            ("emitters = 2", lift),
        ];
        severity(&pump, Kind::EmitterStarved)
    };
    assert_eq!(lift("emitters = 2\nemitter_exponent = 0\nlift_m = 2.1"), None);
    assert_eq!(lift("emitters = 2\nemitter_exponent = 0\nlift_m = 2.3"), Some(Severity::Look));
}

/// 15 % off the 4 L/h that two emitters of 2 L/h give, on either side (common practice).
#[test]
fn a_bucket_that_contradicts_the_plumbing() {
    let bucket = |got: &str| {
        let said = format!("emitters = 2\nmeasured_l_h = {got}");
        found(&steady(&changed(&[("emitters = 2", &said)]), 6.0), Kind::FlowNotAsMeasured)
    };
    assert_eq!(bucket("3.41"), None);
    assert_eq!(bucket("4.59"), None);
    for (got, bound, times) in
        [("3.39", Bound::AtLeast(3.4), "0.85"), ("4.61", Bound::AtMost(4.6), "1.15")]
    {
        let finding = bucket(got).expect("it is off");
        let off = (finding.bound.figure() - bound.figure()).abs();
        assert!(off < 1e-9 && finding.severity == Severity::Look, "{finding:?}");
        assert!(finding.why.contains(&format!("any opening is {times} times")), "{finding:?}");
    }
}

/// 0.6 L a day for ten days are 6 L, of 98 % of the tank and the soil's own 1.04 L. With 0.03 L a day
/// for the sun, 15 % leached (UF/IFAS ENH1268) and a tenth in reserve (common practice) 8.24 L are to
/// be drawn, from a tank of 8.40 L.
#[test]
fn a_tank_for_ten_days() {
    let holds = |holds: &str| {
        let away = [("days = 7", "days = 7\naway_days = 10"), ("mains_head_m = 10", holds)];
        severity(&away, Kind::TankTooSmall)
    };
    let rest = "tank_depth_m = 0.2\noutlet_height_m = -9.8";
    assert_eq!(holds(&format!("tank_l = 5.05\n{rest}")), Some(Severity::Refuted));
    assert_eq!(holds(&format!("tank_l = 5.07\n{rest}")), Some(Severity::Look));
    assert_eq!(holds(&format!("tank_l = 8.38\n{rest}")), Some(Severity::Look));
    assert_eq!(holds(&format!("tank_l = 8.42\n{rest}")), None);
}

/// Somebody refills on day five: the longest stretch without is then five days, 3 L, of
/// which the soil gives 1.04 L.
#[test]
fn a_tank_that_is_refilled() {
    let holds = |holds: &str| {
        let refilled = [
            ("days = 7", "days = 7\naway_days = 10"),
            ("mains_head_m = 10", holds),
            (
                "limit_24h_s = 3600",
                "limit_24h_s = 3600\n[[person]]\ndoes = \"refills-tank\"\nat_h = 120",
            ),
        ];
        severity(&refilled, Kind::TankTooSmall)
    };
    let rest = "tank_depth_m = 0.2\noutlet_height_m = -9.8";
    assert_eq!(holds(&format!("tank_l = 1.99\n{rest}")), Some(Severity::Refuted));
    assert_eq!(holds(&format!("tank_l = 4.25\n{rest}")), None);
}
