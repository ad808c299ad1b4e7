//! What a supply is refused for, and in which words.

use drydown::cutoff::Sequence;
use drydown::manifold::{Feed, ManifoldConfig, ManifoldError};
use drydown::quantity::{Flow, Millis};
use drydown_tests::adversary::Appetite;

use super::zone;

const PUMP: Feed = Feed::Pump(Sequence { lead: Millis(200), run_down: Millis(700) });

fn refused(most: u32, flows: [u32; 2], feed: Feed) -> Option<ManifoldError> {
    let zones = [zone(Appetite::Greedy, 10, 60); 2];
    ManifoldConfig { most: Flow(most), flows: flows.map(Flow), feed }.check(&zones).err()
}

fn pump(lead: u32, run_down: u32) -> Feed {
    Feed::Pump(Sequence { lead: Millis(lead), run_down: Millis(run_down) })
}

#[test]
fn each_bound_is_kept_to_the_last_unit_and_named_with_zone_value_and_bound() {
    assert_eq!(refused(40_000, [40_000, 1], PUMP), None);
    assert_eq!(refused(u32::MAX - 1, [1, 1], Feed::Mains), None);
    assert_eq!(refused(2, [1, 1], pump(999, 700)), None);
    let cases = [
        (
            refused(40_000, [40_001, 1], PUMP),
            "zone 0 (counted from 0): flows is 40001, must be at most 40000",
        ),
        (refused(40_000, [5, 0], PUMP), "zone 1 (counted from 0): flows is 0, must be at least 1"),
        (refused(u32::MAX, [5, 5], PUMP), "most is 4294967295, must be at most 4294967294"),
        (refused(9, [5, 5], pump(0, 2_001)), "feed.run_down is 2001, must be at most 2000"),
        (refused(9, [5, 5], pump(10_001, 0)), "feed.lead is 10001, must be at most 10000"),
        // The zones of these tests are charged with 700 ms, and open for a second at least.
        (
            refused(9, [5, 5], pump(0, 701)),
            "zone 0 (counted from 0): timing.run_down is 700, must be at least 701",
        ),
        (
            refused(9, [5, 5], pump(1_000, 0)),
            "zone 0 (counted from 0): limits.min_open is 1000, must be at least 1001",
        ),
    ];
    for (error, words) in cases {
        let error = error.expect(words);
        let told = error.to_string();
        assert!(told.starts_with(words), "{words}: {told}");
        assert!(told.len() > words.len() + 10, "it says why: {told}");
    }
}

#[test]
fn a_supply_feeds_one_to_sixteen_zones() {
    let most = Flow(1);
    let one = zone(Appetite::Greedy, 10, 60);
    let none = ManifoldConfig { most, flows: [], feed: Feed::Mains }
        .check::<drydown_tests::adversary::Wild>(&[]);
    assert!(none.unwrap_err().to_string().starts_with("flows is 0, must be at least 1"));
    let sixteen = ManifoldConfig { most, flows: [Flow(1); 16], feed: Feed::Mains };
    assert!(sixteen.check(&[one; 16]).is_ok());
    let more = ManifoldConfig { most, flows: [Flow(1); 17], feed: Feed::Mains };
    let error = more.check(&[one; 17]).unwrap_err();
    assert!(error.to_string().starts_with("flows is 17, must be at most 16"));
}

#[test]
fn a_valve_on_the_mains_does_not_trail() {
    let zones = [zone(Appetite::Greedy, 10, 60); 1];
    let config = |feed| ManifoldConfig { most: Flow(9), flows: [Flow(9)], feed };
    let sequence = |feed| config(feed).check(&zones).expect("a supply").sequence();
    assert_eq!(sequence(Feed::Mains).run_down, Millis(0));
    assert_eq!(sequence(PUMP).run_down, Millis(700));
}
