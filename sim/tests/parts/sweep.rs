//! The plan of a sweep: which settings, in which order.

use drydown_sim::sweep::plan::{Axis, Plan};

fn axis(count: u32) -> Axis {
    let values = (0..count).map(f64::from).collect();
    Axis { path: String::new(), from: 0.0, to: 1.0, values, whole: false }
}

fn plan(axes: Vec<Axis>, sample: Option<u64>) -> Plan {
    Plan { sample, seeds: vec![1, 2], units: vec![1, 2, 3], axes }
}

#[test]
fn each_setting_of_a_grid_comes_once_and_the_first_few_reach_over_it() {
    for counts in [[1, 1, 1], [5, 5, 3], [2, 7, 6], [9, 1, 4]] {
        let plan = plan(counts.map(axis).to_vec(), None);
        let count = plan.settings();
        let mut seen: Vec<u64> = (0..count).map(|setting| plan.grid_index(setting)).collect();
        seen.sort_unstable();
        assert_eq!(seen, (0..count).collect::<Vec<u64>>());
    }
    let plan = plan(vec![axis(5), axis(5), axis(3)], None);
    let first: Vec<_> = (0..8).map(|setting| plan.values(setting)[0] as u8).collect();
    assert!((0..5).all(|value| first.contains(&value)), "{first:?}");
}

#[test]
fn the_spread_is_the_published_sequence() {
    // Roberts 2018: for d = 2 the root is 1.32471795724474602596 (the plastic number), so that
    // the steps are its inverse 0.7548776662466927 and that squared, 0.5698402909980532.
    let plan = plan(vec![axis(2), axis(2)], Some(3));
    let exact = [(0.5 + 0.754_877_666, 0.5 + 0.569_840_291), (0.009_755, 0.639_681)];
    for (setting, (x, y)) in exact.into_iter().enumerate() {
        let values = plan.values(setting as u64);
        assert!((values[0] - x % 1.0).abs() < 1e-3, "{values:?}");
        assert!((values[1] - y % 1.0).abs() < 1e-3, "{values:?}");
    }
}

#[test]
fn parts_follow_each_other_and_leave_nothing_out() {
    let plan = plan(vec![axis(5), axis(2)], None);
    let parts: Vec<_> = (1..=3).map(|part| plan.part(part, 3)).collect();
    assert_eq!(parts, [0..3, 3..6, 6..10]);
    assert_eq!(plan.case(0), (0, 0, 0));
    assert_eq!(plan.case(10), (1, 1, 1));
}
