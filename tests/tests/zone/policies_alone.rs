//! The shipped policies by themselves, against a reckoning of their own from what they promise.

use drydown::calibration::Basis;
use drydown::policy::{BuiltIn, Demand, Ends, Hysteresis, Metered, Policy, Timer, View, Waits};
use drydown::quantity::{Millis, Moisture};
use drydown_tests::adversary::Dice;
use drydown_tests::configs::band;

const AGREE: u8 = 3;
const SOAK: Millis = Millis(5_000);
const DOSE: Millis = Millis(700);
const EVERY: Millis = Millis(9_000);

fn hysteresis() -> Hysteresis {
    Hysteresis { band: band(), basis: Basis::Volumetric, agree: AGREE, soak: SOAK }
}

fn metered() -> Metered {
    Metered { band: band(), basis: Basis::Volumetric, agree: AGREE, dose: DOSE, soak: SOAK }
}

const TIMER: Timer = Timer { dose: DOSE, every: EVERY };

/// All that happened since the last opening ended.
#[derive(Default)]
struct Since {
    ended: bool,
    credited: u32,
    /// Levels in a row; an implausible reading clears them.
    levels: Vec<Moisture>,
}

impl Since {
    fn see(&mut self, view: View) {
        self.credited += view.credited.0;
        self.levels.extend(view.fresh);
        if view.implausible {
            self.levels.clear();
        }
    }

    fn agreeing(&self) -> u8 {
        let dry = self.levels.iter().rev().take_while(|level| **level <= band().start());
        dry.count().min(usize::from(AGREE)) as u8
    }

    fn soak_left(&self) -> Millis {
        let soak = if self.ended { SOAK.0 } else { 0 };
        Millis(soak.saturating_sub(self.credited))
    }

    fn is_thirsty(&self) -> bool {
        self.agreeing() == AGREE && self.soak_left().is_zero()
    }

    fn to_dose(&self) -> Millis {
        Millis(EVERY.0.saturating_sub(self.credited))
    }
}

/// Lives through readings and openings; what is asked for and awaited at each step is compared with
/// `demand`, `due` and `waits`. Answers how often it asked while closed.
fn live<P: Policy>(
    policy: &P,
    seed: u64,
    demand: impl Fn(&Since, View) -> Option<Demand>,
    due: impl Fn(&Since) -> Option<Millis>,
    waits: impl Fn(&Since) -> Waits,
) -> u32 {
    let mut dice = Dice::new(seed);
    let (mut memory, mut since) = (policy.blank(), Since::default());
    let (mut open, mut asked) = (false, 0);
    for step in 0..20_000 {
        // On the levels themselves more often than beside them.
        let level = [2_499, 2_500, 2_501, 3_499, 3_500, 3_501][dice.below(6) as usize];
        let level = if dice.hit(2) { level.min(2_500) } else { level };
        let view = View {
            fresh: dice.hit(2).then_some(Moisture::from_centi(level)),
            implausible: false,
            open,
            credited: Millis(dice.below(1_500) as u32),
        };
        let implausible = view.fresh.is_none() && dice.hit(20);
        let view = View { implausible, ..view };
        if !open {
            since.see(view);
        }
        let answer = policy.ask(&mut memory, &view);
        assert_eq!(answer, demand(&since, view), "{step}");
        if !open {
            assert_eq!(policy.due_in(&memory), due(&since), "{step}");
            assert_eq!(policy.waits(&memory), waits(&since), "{step}");
            asked += u32::from(answer.is_some());
        }
        // The guard may refuse what is asked, and end what is open.
        if open && (answer.is_none() || dice.hit(9)) {
            policy.ended(&mut memory);
            since = Since { ended: true, ..Since::default() };
            open = false;
        } else if answer.is_some() && dice.hit(3) {
            open = true;
        }
    }
    asked
}

fn waits_for_level(since: &Since) -> Waits {
    Waits::Level { agreeing: since.agreeing(), agree: AGREE, soak: since.soak_left() }
}

fn due_after_soak(since: &Since) -> Option<Millis> {
    let soak = since.soak_left();
    (since.agreeing() == AGREE && !soak.is_zero()).then_some(soak)
}

fn from_start_to_stop(since: &Since, view: View) -> Option<Demand> {
    let wants = if view.open {
        view.fresh.is_none_or(|level| level < band().stop())
    } else {
        since.is_thirsty()
    };
    wants.then_some(Demand { length: Millis::MAX, ends: Ends::AtStop })
}

fn one_dose(since: &Since, view: View) -> Option<Demand> {
    (view.open || since.is_thirsty()).then_some(Demand { length: DOSE, ends: Ends::ByDose })
}

fn by_the_clock(since: &Since, view: View) -> Option<Demand> {
    let wants = view.open || since.to_dose().is_zero();
    wants.then_some(Demand { length: DOSE, ends: Ends::ByDose })
}

fn due_at_dose(since: &Since) -> Option<Millis> {
    Some(since.to_dose()).filter(|left| !left.is_zero())
}

fn waits_for_dose(since: &Since) -> Waits {
    Waits::Time(since.to_dose())
}

#[test]
fn they_ask_and_wait_as_they_say() {
    for seed in 0..4 {
        let by_level = |asked: u32| assert!(asked > 300, "{asked}");
        let both = [BuiltIn::Hysteresis(hysteresis()), BuiltIn::Metered(metered())];
        let (due, waits) = (due_after_soak, waits_for_level);
        by_level(live(&hysteresis(), seed, from_start_to_stop, due, waits));
        by_level(live(&both[0], seed, from_start_to_stop, due, waits));
        by_level(live(&metered(), seed, one_dose, due, waits));
        by_level(live(&both[1], seed, one_dose, due, waits));
        by_level(live(&TIMER, seed, by_the_clock, due_at_dose, waits_for_dose));
        by_level(live(&BuiltIn::Timer(TIMER), seed, by_the_clock, due_at_dose, waits_for_dose));
    }
}

/// Start, stop, whether it ends at stop, whether it needs a probe.
type Told = (Option<Moisture>, Option<Moisture>, bool, bool);

fn told(policy: &impl Policy) -> Told {
    (policy.start(), policy.stop(), policy.stops_at_level(), policy.needs_probe())
}

#[test]
fn their_levels_are_those_of_their_band() {
    let (start, stop) = (Some(Moisture::from_percent(25)), Some(Moisture::from_percent(35)));
    assert_eq!(told(&hysteresis()), (start, stop, true, true));
    assert_eq!(told(&metered()), (start, stop, false, true));
    assert_eq!(told(&TIMER), (None, None, false, false));
    for (chosen, expected) in [
        (BuiltIn::Hysteresis(hysteresis()), told(&hysteresis())),
        (BuiltIn::Metered(metered()), told(&metered())),
        (BuiltIn::Timer(TIMER), told(&TIMER)),
    ] {
        assert_eq!(told(&chosen), expected);
    }
}

/// A memory of another policy is as none: it waits anew and asks for nothing.
#[test]
fn a_memory_of_another_policy_begins_anew() {
    let (level, timer) = (BuiltIn::Metered(metered()), BuiltIn::Timer(TIMER));
    let view = View { fresh: None, implausible: false, open: true, credited: Millis(1) };
    for (one, other) in [(level, timer), (timer, level)] {
        let mut memory = other.blank();
        assert_eq!(one.due_in(&memory), None);
        assert_eq!(one.waits(&memory), Waits::Unsaid);
        assert_eq!(one.ask(&mut memory, &view), None);
        assert_eq!(memory, one.blank());
        memory = other.blank();
        one.ended(&mut memory);
        assert_eq!(memory, one.blank());
    }
}
