//! What an adversary did to a device, round by round, as a text that does it again.

use std::fmt;
use std::str::FromStr;

use super::dice::NOTHING;
use super::{Appetite, Device, Dice, Failure, PLACES, Persona, Tamper, place, told};
use crate::observer::Told;

/// A device, who has it in hand, and what he throws in each round.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct History {
    /// Its place among [`PLACES`].
    pub place: usize,
    /// Who has it in hand.
    pub persona: Persona,
    /// How its policy asks.
    pub appetite: Appetite,
    /// The first are the throws before the first round.
    rounds: Vec<Vec<u64>>,
}

/// What is wrong with such a device, or what its observer is told more strictly than it knows.
pub type Lie<'a> = (Tamper, &'a dyn Fn(Told) -> Told);

/// Rounds that shrinking may play: some ten seconds.
const MOST_PLAYED: usize = 40_000_000;

impl History {
    /// What seeded dice do to a device until it breaks a rule, within so many steps; `None` if it
    /// breaks none.
    pub fn of_seed(
        (place, persona, appetite): (usize, Persona, Appetite),
        seed: u64,
        steps: u64,
        lie: Lie,
    ) -> Option<Self> {
        let history = Self { place, persona, appetite, rounds: vec![] };
        let mut device = history.device(Dice::new(seed).writing(), lie);
        device.run(steps).err()?;
        let rounds = device.dice.written()?.to_vec();
        Some(Self { rounds, ..history })
    }

    /// Rounds, without what came before the first.
    pub fn rounds(&self) -> usize {
        self.rounds.len().saturating_sub(1)
    }

    fn device(&self, dice: Dice, (tamper, lie): Lie) -> Device {
        let config = place(self.place, self.appetite);
        Device::new(config, lie(told(&config)), self.persona, tamper, dice)
    }

    /// Does it again.
    ///
    /// # Errors
    /// The first rule that is broken, with the last steps before.
    pub fn replay(&self, lie: Lie) -> Result<(), Failure> {
        let mut device = self.device(Dice::of_rounds(&self.rounds), lie);
        device.keep_log();
        device.run_chosen(u64::MAX / 2)
    }

    fn breaks(&self, lie: Lie) -> Option<&'static str> {
        let mut device = self.device(Dice::of_rounds(&self.rounds), lie);
        device.run_chosen(u64::MAX / 2).err().map(|failure| failure.violation.rule)
    }

    /// As little of it as still breaks the same rule: fewer rounds, then fewer throws.
    #[must_use]
    pub fn shrunk(mut self, lie: Lie) -> Self {
        let Some(rule) = self.breaks(lie) else { return self };
        let mut played = 0;
        let mut still_breaks = |less: &Self| {
            played += less.rounds.len();
            played <= MOST_PLAYED && less.breaks(lie) == Some(rule)
        };
        let mut size = self.rounds();
        while size > 0 {
            let mut at = 1;
            while at < self.rounds.len() {
                let until = (at + size).min(self.rounds.len());
                let mut less = self.clone();
                less.rounds.drain(at..until);
                if still_breaks(&less) {
                    self = less;
                } else {
                    at = until;
                }
            }
            size /= 2;
        }
        for round in 0..self.rounds.len() {
            for throw in 0..self.rounds[round].len() {
                let mut less = self.clone();
                less.rounds[round][throw] = NOTHING;
                if still_breaks(&less) {
                    self = less;
                }
            }
            while self.rounds[round].last() == Some(&NOTHING) {
                self.rounds[round].pop();
            }
        }
        self
    }
}

impl fmt::Display for History {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{} {:?} {:?}", PLACES[self.place], self.persona, self.appetite)?;
        for round in &self.rounds {
            // A round in which nothing is thrown is a line too.
            f.write_str("-")?;
            for throw in round {
                if *throw == NOTHING { f.write_str(" .")? } else { write!(f, " {throw}")? }
            }
            writeln!(f)?;
        }
        Ok(())
    }
}

impl FromStr for History {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let mut lines = text.lines();
        let first = lines.next().ok_or("line 1: it is empty")?;
        let known = |name: &str, of: &[&str]| of.iter().position(|one| *one == name);
        let mut words = first.split_whitespace();
        let mut word = || words.next().unwrap_or_default();
        let place = word();
        let place = known(place, &PLACES)
            .ok_or(format!("line 1: {place:?} is no place: {}", PLACES.join(", ")))?;
        let who = word();
        let persona = Persona::ALL.into_iter().find(|one| format!("{one:?}") == who);
        let persona = persona.ok_or(format!("line 1: {who:?} is no persona"))?;
        let appetite = match word() {
            "Greedy" => Appetite::Greedy,
            "Fickle" => Appetite::Fickle,
            doses => {
                let length = doses.strip_prefix("Doses(").and_then(|rest| rest.strip_suffix(')'));
                let length = length.and_then(|length| length.parse().ok());
                Appetite::Doses(length.ok_or(format!("line 1: {doses:?} is no appetite"))?)
            }
        };
        let rounds = lines.enumerate().map(|(index, line)| {
            let throws = line.strip_prefix('-').ok_or("a round begins with a dash".to_owned());
            let throws = throws.and_then(|throws| {
                throws
                    .split_whitespace()
                    .map(|throw| match throw {
                        "." => Ok(NOTHING),
                        number => number.parse().map_err(|_| format!("{number:?} is no throw")),
                    })
                    .collect::<Result<Vec<u64>, String>>()
            });
            throws.map_err(|why| format!("line {}: {why}", index + 2))
        });
        let rounds = rounds.collect::<Result<_, _>>()?;
        Ok(Self { place, persona, appetite, rounds })
    }
}
