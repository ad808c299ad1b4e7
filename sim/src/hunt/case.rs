//! One case, drawn by its number: what moves, what comes, when.

use super::part::{Part, rounded};
use super::ranges::{Acting, Coming, Moving, Ranges};
use crate::fault::Kind;
use crate::noise;
use crate::scenario::Scenario;
use crate::scenario::schema::{FaultTable, PersonTable};

/// Largest seed that is drawn: short enough to be typed.
const MOST_SEED: f64 = 9_999.0;
/// How long before and after a watering counts as near it, hours.
const NEAR_H: f64 = 0.1;
/// Digits of a drawn number.
const DIGITS: usize = 3;

/// What a case is drawn from.
pub struct Draw<'a> {
    /// The bounds.
    pub ranges: &'a Ranges,
    /// The scenario itself.
    pub base: &'a Scenario,
    /// When the undisturbed run watered, hours from and to.
    pub openings_h: &'a [(f64, f64)],
}

/// Numbers by chance, fixed by seed, case and the order in which they are asked for.
struct Dice {
    seed: u64,
    case: u64,
    thrown: u64,
}

impl Dice {
    fn uniform(&mut self) -> f64 {
        self.thrown += 1;
        noise::uniform(self.seed, self.case, self.thrown)
    }

    fn one_in(&mut self, times: f64) -> bool {
        self.uniform() * times < 1.0
    }

    fn between(&mut self, (least, most): (f64, f64)) -> f64 {
        least + (most - least) * self.uniform()
    }

    /// As often between 1 and 10 as between 10 and 100; evenly where the bounds do not allow it.
    fn by_scale(&mut self, (least, most): (f64, f64)) -> f64 {
        if least <= 0.0 {
            return self.between((least, most));
        }
        self.between((least.ln(), most.ln())).exp().clamp(least, most)
    }

    fn at_most(&mut self, most: u8) -> u8 {
        (self.uniform() * (f64::from(most) + 1.0)) as u8
    }

    fn one_of<'a, T>(&mut self, list: &'a [T]) -> Option<&'a T> {
        list.get((self.uniform() * list.len() as f64) as usize)
    }
}

impl Draw<'_> {
    /// What the case of this number changes. Number 0 changes nothing.
    pub fn case(&self, number: u32) -> Vec<Part> {
        let mut parts = Part::own(self.base);
        if number == 0 {
            return parts;
        }
        let mut dice = Dice { seed: self.ranges.seed, case: u64::from(number), thrown: 0 };
        if self.ranges.seeds && !dice.one_in(4.0) {
            parts.push(Part::Seed((1.0 + dice.uniform() * MOST_SEED) as u64));
        }
        for field in &self.ranges.fields {
            if dice.one_in(2.0) {
                parts.push(moved(&mut dice, field));
            }
        }
        // One case in four has no fault: only then a lock-out is a false one.
        if !dice.one_in(4.0) {
            for _ in 0..dice.at_most(self.ranges.most_faults) {
                let fault = dice.one_of(&self.ranges.faults).copied();
                parts.extend(fault.map(|coming| Part::Fault(self.fault(&mut dice, coming))));
            }
            if self.ranges.storms && dice.one_in(8.0) {
                self.storm(&mut dice, &mut parts);
            }
        }
        for _ in 0..dice.at_most(self.ranges.most_acts) {
            let act = dice.one_of(&self.ranges.acts).copied();
            parts.extend(act.map(|acting| Part::Act(self.act(&mut dice, acting))));
        }
        parts
    }

    /// Any hour of the run, as often one near a watering of the undisturbed run: most of what can
    /// go wrong does so while water flows, and little of the time it does. Some things are wrong
    /// from the start.
    fn hour(&self, dice: &mut Dice) -> f64 {
        if dice.one_in(8.0) {
            return 0.0;
        }
        let any = (0.0, self.base.days * 24.0);
        let near = if dice.one_in(2.0) { dice.one_of(self.openings_h).copied() } else { None };
        let hour = match near {
            Some((from, to)) => dice.between((from - NEAR_H, to + NEAR_H)),
            None => dice.between(any),
        };
        // To a ten-thousandth of an hour, a third of a second.
        (hour.clamp(any.0, any.1) * 1e4).round() / 1e4
    }

    fn fault(&self, dice: &mut Dice, coming: Coming) -> FaultTable {
        let Coming { kind, for_h, amount } = coming;
        let at_h = self.hour(dice);
        // What nobody mends stays to the end; a clock that jumped has no end.
        let stays = kind == Kind::ClockJump
            || dice.one_in(2.0) && !matches!(kind, Kind::PowerCut | Kind::LoopHangs);
        FaultTable {
            kind,
            at_h,
            for_h: (!stays).then(|| inside(dice.by_scale(for_h), for_h)),
            amount: (amount != (0.0, 0.0)).then(|| inside(dice.by_scale(amount), amount)),
        }
    }

    /// Short cuts of the power in a row: a loose plug, a pump that pulls the supply down.
    fn storm(&self, dice: &mut Dice, parts: &mut Vec<Part>) {
        let mut at_h = self.hour(dice);
        let apart_h = dice.by_scale((0.005, 0.5));
        for _ in 0..2 + dice.at_most(10) {
            parts.push(Part::Fault(FaultTable {
                kind: Kind::PowerCut,
                at_h: (at_h * 1e4).round() / 1e4,
                for_h: Some(rounded(dice.by_scale((0.0005, 0.005)), 1)),
                amount: None,
            }));
            at_h += dice.between((0.5 * apart_h, 1.5 * apart_h));
        }
    }

    fn act(&self, dice: &mut Dice, acting: Acting) -> PersonTable {
        let Acting { does, amount } = acting;
        PersonTable {
            does,
            at_h: self.hour(dice),
            every_h: None,
            amount: (amount != (0.0, 0.0)).then(|| inside(dice.by_scale(amount), amount)),
        }
    }
}

/// A drawn number with few digits, still within its bounds.
fn inside(value: f64, (least, most): (f64, f64)) -> f64 {
    rounded(value, DIGITS).clamp(least, most)
}

/// A moved number; often at one of its bounds, where most that is wrong begins.
fn moved(dice: &mut Dice, field: &Moving) -> Part {
    let bounds = (field.least, field.most);
    let drawn = match (dice.one_in(4.0), dice.one_in(2.0)) {
        (true, true) => field.least,
        (true, false) => field.most,
        (false, _) => inside(dice.between(bounds), bounds),
    };
    let is = if field.whole { drawn.round() } else { drawn };
    let was = field.now;
    let within = was.map_or(bounds, |was| (field.least.min(was), field.most.max(was)));
    Part::Moved { name: field.name.clone(), is, was, whole: field.whole, within }
}
