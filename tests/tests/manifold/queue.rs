//! The queue alone, against a list kept by hand.

use drydown::manifold::{Manifold, Need};
use drydown::zone::Supply;
use drydown_tests::adversary::Appetite;
use proptest::prelude::*;

use super::{supply, zone};

const ZONES: usize = 5;

/// The rule as a person would keep it on paper: who has water, and who came when.
#[derive(Debug)]
struct Paper {
    flows: [u32; ZONES],
    most: u32,
    has: [bool; ZONES],
    /// Decided to close, for so long, and not seen off.
    closing: [Option<u64>; ZONES],
    queue: Vec<usize>,
    patience: u64,
}

impl Paper {
    fn sum(&self, which: impl Fn(usize) -> bool) -> u32 {
        (0..ZONES).filter(|&zone| which(zone)).map(|zone| self.flows[zone]).sum()
    }

    fn is_stuck(&self, zone: usize) -> bool {
        self.closing[zone].is_some_and(|since| since >= self.patience)
    }

    fn may_start(&self, zone: usize) -> bool {
        let stuck = self.sum(|one| self.is_stuck(one));
        let in_front = self.queue.iter().take_while(|&&one| one != zone);
        let served_first = in_front.filter(|&&one| self.flows[one] + stuck <= self.most).copied();
        let before: u32 = served_first.map(|one| self.flows[one]).sum();
        self.sum(|one| self.has[one]) + before + self.flows[zone] <= self.most
    }

    fn note(&mut self, zone: usize, need: Need) {
        self.has[zone] = matches!(need, Need::Intended | Need::Open | Need::Closing);
        let since = self.closing[zone].unwrap_or(0);
        self.closing[zone] = (need == Need::Closing).then_some(since);
        match (need, self.queue.iter().position(|&one| one == zone)) {
            (Need::Wanted, None) => self.queue.push(zone),
            (Need::Wanted, Some(_)) | (_, None) => {}
            (_, Some(place)) => {
                self.queue.remove(place);
            }
        }
    }
}

/// What a zone does next: time passes, or it is stepped with luck of its own.
fn deeds() -> impl Strategy<Value = Vec<(usize, u8, u64)>> {
    proptest::collection::vec((0..ZONES, any::<u8>(), 0..3_000_u64), 1..200)
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(2_000) })]

    /// Whatever the zones do, the manifold answers as the list on paper, and what has water keeps
    /// to the bound.
    #[test]
    fn the_supply_is_handed_out_as_on_paper(
        flows in proptest::array::uniform5(1..10_u32),
        spare in 0..12_u32,
        deeds in deeds(),
    ) {
        let most = flows.iter().max().copied().unwrap_or(1) + spare;
        let zones = [zone(Appetite::Greedy, 10, 60); ZONES];
        let mut manifold = Manifold::new(supply(most, flows, false, &zones));
        // Two open steps with slack and tick, as the zones of this file have them.
        let patience = 2 * (1_000 + 500 + 50);
        let mut paper = Paper {
            flows, most, patience, has: [false; ZONES], closing: [None; ZONES], queue: vec![],
        };
        let (mut now, mut needs) = (0, [Need::Nothing; ZONES]);
        for (zone, luck, passed) in deeds {
            now += passed;
            manifold.age(now);
            for since in paper.closing.iter_mut().flatten() {
                *since += passed;
            }
            prop_assert_eq!(manifold.is_stuck(zone), paper.is_stuck(zone));
            let place = paper.queue.iter().position(|&one| one == zone);
            prop_assert_eq!(manifold.waiting(zone).map(usize::from), place);
            let granted = manifold.supply(zone) == Supply::Granted;
            let need = match needs[zone] {
                Need::Nothing | Need::Wanted => {
                    prop_assert_eq!(granted, paper.may_start(zone), "{:?}", paper);
                    match luck % 8 {
                        0 | 1 => Need::Nothing,
                        2 => Need::Wanted,
                        _ if granted => Need::Intended,
                        _ => Need::Wanted,
                    }
                }
                Need::Intended => {
                    prop_assert!(granted);
                    [Need::Nothing, Need::Wanted, Need::Intended, Need::Open][usize::from(luck % 4)]
                }
                Need::Open => [Need::Open, Need::Closing][usize::from(luck & 1)],
                Need::Closing => [Need::Closing, Need::Nothing][usize::from(luck & 1)],
            };
            needs[zone] = need;
            manifold.note(zone, need, false);
            paper.note(zone, need);
            prop_assert!(paper.sum(|one| paper.has[one]) <= most);
        }
    }

    /// The state holds no clock: two manifolds that lived the same at other times are equal.
    #[test]
    fn the_same_life_at_another_time_is_the_same_state(
        start in any::<u32>(),
        deeds in deeds(),
    ) {
        let zones = [zone(Appetite::Greedy, 10, 60); ZONES];
        let supply = supply(9, [3, 4, 5, 6, 7], false, &zones);
        let needs =
            [Need::Nothing, Need::Wanted, Need::Intended, Need::Open, Need::Closing, Need::Closing];
        let live = |start: u64| {
            let (mut manifold, mut now) = (Manifold::new(supply), start);
            manifold.age(now);
            for &(zone, luck, passed) in &deeds {
                now += passed;
                manifold.age(now);
                manifold.note(zone, needs[usize::from(luck % 6)], luck & 64 != 0);
            }
            *manifold.state()
        };
        prop_assert_eq!(live(0), live(u64::from(start) << 16));
    }
}

#[test]
fn a_drive_that_is_on_without_an_order_takes_its_share_from_those_not_yet_open() {
    let zones = [zone(Appetite::Greedy, 10, 60); 2];
    let mut manifold = Manifold::new(supply(5, [3, 3], false, &zones));
    assert_eq!(manifold.supply(0), Supply::Granted);
    manifold.note(0, Need::Intended, false);
    // Nobody ordered this; it closes as soon as it is seen.
    for need in [Need::Closing, Need::Nothing, Need::Wanted] {
        manifold.note(1, need, true);
        assert_eq!(manifold.supply(0), Supply::Busy);
        manifold.note(1, Need::Nothing, false);
        assert_eq!(manifold.supply(0), Supply::Granted);
    }
}

#[test]
fn a_zone_that_is_not_there_is_given_nothing() {
    let zones = [zone(Appetite::Greedy, 10, 60); 2];
    let mut manifold = Manifold::new(supply(5, [3, 3], false, &zones));
    manifold.note(2, Need::Open, true);
    assert_eq!(manifold.supply(2), Supply::Busy);
    assert_eq!(manifold.supply(0), Supply::Granted);
    assert_eq!((manifold.is_stuck(7), manifold.waiting(7)), (false, None));
}
