//! What a case changes, part by part: each can be left out, said more simply, and told in words.

use super::shrink;
use crate::scenario::schema::{FaultTable, PersonTable};
use crate::scenario::{Scenario, Source, vary};

/// One thing in which a case differs from the scenario it came from, or that the scenario itself
/// brings along and that may prove needless.
#[derive(Clone, Debug)]
pub enum Part {
    /// The length of the run.
    Days(f64),
    /// The seed.
    Seed(u64),
    /// A number that moved.
    Moved {
        /// Its dotted path.
        name: String,
        /// What it is.
        is: f64,
        /// What the scenario says.
        was: Option<f64>,
        /// Whether it is a whole number.
        whole: bool,
        /// Where it may lie.
        within: (f64, f64),
    },
    /// A fault that came.
    Fault(FaultTable),
    /// An act of a person.
    Act(PersonTable),
    /// A fault of the scenario itself, by its place in the file.
    OwnFault(usize),
    /// An act of the scenario itself.
    OwnAct(usize),
    /// A pot beside the probed one.
    Neighbour(usize),
}

impl Part {
    /// What a scenario brings along.
    pub(super) fn own(scenario: &Scenario) -> Vec<Self> {
        let mut parts = vec![Self::Days(scenario.days)];
        parts.extend((0..scenario.faults.len()).map(Self::OwnFault));
        parts.extend((0..scenario.persons.len()).map(Self::OwnAct));
        parts.extend((0..scenario.neighbours.len()).map(Self::Neighbour));
        parts
    }

    /// The scenario these parts make of `base`.
    ///
    /// # Errors
    /// A number that the scenario cannot take.
    pub(super) fn applied(
        parts: &[Self],
        source: &Source,
        base: &Scenario,
    ) -> Result<Scenario, crate::error::InputError> {
        let moved: Vec<(&str, f64)> = (parts.iter())
            .filter_map(|part| match part {
                Self::Moved { name, is, .. } => Some((name.as_str(), *is)),
                _ => None,
            })
            .collect();
        let mut scenario =
            if moved.is_empty() { base.clone() } else { vary::set(source, base, &moved)? };
        let kept = |own: fn(&Self) -> Option<usize>| parts.iter().filter_map(own);
        let faults = kept(|part| if let Self::OwnFault(at) = part { Some(*at) } else { None });
        let acts = kept(|part| if let Self::OwnAct(at) = part { Some(*at) } else { None });
        let pots = kept(|part| if let Self::Neighbour(at) = part { Some(*at) } else { None });
        scenario.faults = faults.map(|at| scenario.faults[at].clone()).collect();
        scenario.persons = acts.map(|at| scenario.persons[at].clone()).collect();
        scenario.neighbours = pots.map(|at| scenario.neighbours[at].clone()).collect();
        scenario.hunt = None;
        for part in parts {
            match part {
                Self::Days(days) => scenario.days = *days,
                Self::Seed(seed) => scenario.seed = *seed,
                Self::Fault(fault) => scenario.faults.push(fault.clone()),
                Self::Act(act) => scenario.persons.push(act.clone()),
                _ => {}
            }
        }
        Ok(scenario)
    }

    /// How many things the parts change or add in `base`.
    pub(super) fn changes(parts: &[Self], base: &Scenario) -> usize {
        parts.iter().filter(|part| part.words(base).is_some()).count()
    }

    /// The change in words; `None` for what the scenario itself says.
    pub(super) fn words(&self, base: &Scenario) -> Option<String> {
        match self {
            Self::Seed(seed) if *seed == base.seed => None,
            Self::Seed(seed) => Some(format!("seed is {seed} instead of {}", base.seed)),
            Self::Moved { name, is, was: Some(was), .. } => {
                Some(format!("{name} is {is} instead of {was}"))
            }
            Self::Moved { name, is, was: None, .. } => Some(format!("{name} is {is}")),
            Self::Fault(fault) => Some(told(
                fault.kind.words_of(&base.water),
                fault.at_h,
                fault.for_h.map(|hours| format!("for {hours} h")),
                fault.amount,
            )),
            Self::Act(act) => {
                let again = act.every_h.map(|hours| format!("again every {hours} h"));
                Some(told(act.does.words(), act.at_h, again, act.amount))
            }
            Self::Days(_) | Self::OwnFault(_) | Self::OwnAct(_) | Self::Neighbour(_) => None,
        }
    }
}

fn told(what: &str, at_h: f64, span: Option<String>, amount: Option<f64>) -> String {
    let mut words = format!("{what} at {at_h} h");
    if let Some(span) = span {
        words = format!("{words} {span}");
    }
    if let Some(amount) = amount {
        words = format!("{words}, amount {amount}");
    }
    words
}

impl shrink::Part for Part {
    fn removable(&self) -> bool {
        !matches!(self, Self::Days(_))
    }

    fn simpler(&self) -> Vec<Self> {
        match self {
            Self::Days(days) => shorter(*days).into_iter().map(Self::Days).collect(),
            Self::Moved { name, is, was, whole, within } => {
                let mut nearer = nearer(*is, *was, *whole);
                nearer.retain(|value| (within.0..=within.1).contains(value));
                let moved = |is| {
                    let (name, was, whole, within) = (name.clone(), *was, *whole, *within);
                    Self::Moved { name, is, was, whole, within }
                };
                nearer.into_iter().map(moved).collect()
            }
            Self::Fault(fault) => plainer_fault(fault).into_iter().map(Self::Fault).collect(),
            Self::Act(act) => plainer_act(act).into_iter().map(Self::Act).collect(),
            Self::Seed(_) | Self::OwnFault(_) | Self::OwnAct(_) | Self::Neighbour(_) => vec![],
        }
    }
}

/// Shortest run worth keeping, days.
const SHORTEST_DAYS: f64 = 0.25;

/// Shorter runs, in quarters of a day.
pub fn shorter(days: f64) -> Vec<f64> {
    let quarters = |days: f64| ((days * 4.0).ceil() / 4.0).max(SHORTEST_DAYS);
    let candidates = [days / 2.0, days * 0.75, days - 1.0, days - 0.25].map(quarters);
    candidates.into_iter().filter(|&shorter| shorter < days).collect()
}

/// Significant digits a number is written with.
pub fn digits(value: f64) -> usize {
    let written = format!("{:e}", value.abs());
    let mantissa = written.split('e').next().unwrap_or_default();
    mantissa.chars().filter(char::is_ascii_digit).count()
}

/// A number with at most so many significant digits.
pub fn rounded(value: f64, significant: usize) -> f64 {
    format!("{value:.*e}", significant.saturating_sub(1)).parse().unwrap_or(value)
}

/// The same number with fewer digits.
pub fn rounder(value: f64) -> impl Iterator<Item = f64> {
    let has = digits(value);
    (1..has)
        .map(move |significant| rounded(value, significant))
        .filter(move |&fewer| digits(fewer) < has)
}

/// Rounder, or halfway back to what it was with no more digits.
pub fn nearer(is: f64, was: Option<f64>, whole: bool) -> Vec<f64> {
    let mut candidates: Vec<f64> = rounder(is).collect();
    if let Some(was) = was {
        let half = rounded(f64::midpoint(is, was), digits(is));
        if (half - was).abs() < (is - was).abs() {
            candidates.push(half);
        }
    }
    candidates.retain(|value| !whole || value.fract() == 0.0);
    candidates
}

/// A rounder or an earlier hour.
pub fn earlier(at_h: f64) -> Vec<f64> {
    let mut hours: Vec<f64> = if at_h > 0.0 { vec![0.0] } else { vec![] };
    hours.extend([24.0, 1.0, 0.1, 0.01].map(|grain| (at_h / grain).round() * grain));
    hours.push((at_h / 2.0).floor());
    let plain = |hours: f64| rounded(hours, 6);
    let mut hours: Vec<f64> = hours.into_iter().map(plain).collect();
    let simpler = |&hours: &f64| {
        let (has, had) = (digits(hours), digits(at_h));
        hours >= 0.0 && (has < had || has == had && hours < at_h)
    };
    hours.retain(simpler);
    hours
}

fn plainer_fault(fault: &FaultTable) -> Vec<FaultTable> {
    let mut plainer = vec![];
    if fault.for_h.is_some() {
        plainer.push(FaultTable { for_h: None, ..fault.clone() });
    }
    if fault.amount.is_some() {
        plainer.push(FaultTable { amount: None, ..fault.clone() });
    }
    plainer
        .extend(earlier(fault.at_h).into_iter().map(|at_h| FaultTable { at_h, ..fault.clone() }));
    for for_h in fault.for_h.into_iter().flat_map(rounder) {
        plainer.push(FaultTable { for_h: Some(for_h), ..fault.clone() });
    }
    for amount in fault.amount.into_iter().flat_map(rounder) {
        plainer.push(FaultTable { amount: Some(amount), ..fault.clone() });
    }
    plainer
}

fn plainer_act(act: &PersonTable) -> Vec<PersonTable> {
    let mut plainer = vec![];
    if act.amount.is_some() {
        plainer.push(PersonTable { amount: None, ..act.clone() });
    }
    plainer.extend(earlier(act.at_h).into_iter().map(|at_h| PersonTable { at_h, ..act.clone() }));
    for amount in act.amount.into_iter().flat_map(rounder) {
        plainer.push(PersonTable { amount: Some(amount), ..act.clone() });
    }
    plainer
}
