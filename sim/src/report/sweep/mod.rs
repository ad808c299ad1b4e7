//! What a sweep showed, for people and for programs. The same rows give the same bytes.

mod html;
mod picture;
mod sentences;
mod tables;
mod text;
mod words;

use std::path::Path;

use crate::error::InputError;
use crate::scenario::vary::Base;
use crate::sweep::choice::Choice;
use crate::sweep::folder::Asked;
use crate::sweep::setting::{Setting, each};

pub use html::html;
pub use tables::{cases_json, settings_csv, settings_json};
pub use text::text;

/// Unbeaten settings that a page or text lists one by one.
const MOST_LISTED: usize = 20;
/// Points that a picture can show.
const MOST_POINTS: u64 = 4_000;

/// All that is told of a sweep or of what is done of it.
#[derive(Clone, Debug)]
pub struct Telling<'a> {
    base: &'a Base,
    asked: &'a Asked,
    choice: Choice,
    /// Hours short of water that are allowed.
    most_stress_h: f64,
    /// The unbeaten settings, least hours first, one for each pair of hours and litres.
    unbeaten: Vec<Setting>,
    /// Points for the picture: all settings, or every so many of them.
    points: Vec<Setting>,
}

impl<'a> Telling<'a> {
    /// Judges the rows that are written.
    ///
    /// # Errors
    /// They cannot be read.
    pub fn of(
        base: &'a Base,
        asked: &'a Asked,
        cases: &Path,
        most_stress_h: f64,
    ) -> Result<Self, InputError> {
        let choice = Choice::of(cases, &asked.plan, most_stress_h)?;
        let (mut unbeaten, mut points): (Vec<Setting>, Vec<Setting>) = (vec![], vec![]);
        let every = choice.settings.div_ceil(MOST_POINTS).max(1);
        let mut seen = 0;
        let pair = |setting: &Setting| crate::sweep::choice::counts(&setting.worst, &setting.mean);
        each(cases, &asked.plan, most_stress_h, |setting| {
            seen += 1;
            if choice.is_unbeaten(&setting) && unbeaten.len() < MOST_POINTS as usize {
                match unbeaten.iter_mut().find(|other| pair(other) == pair(&setting)) {
                    Some(other) if setting.values < other.values => *other = setting.clone(),
                    Some(_) => {}
                    None => unbeaten.push(setting.clone()),
                }
            }
            if (seen - 1_u64).is_multiple_of(every) {
                points.push(setting);
            }
            Ok(())
        })?;
        unbeaten.sort_by(|a, b| pair(a).0.total_cmp(&pair(b).0));
        Ok(Self { base, asked, choice, most_stress_h, unbeaten, points })
    }

    /// Whether every setting that belongs to this part is done.
    pub fn is_done(&self) -> bool {
        self.choice.settings == self.wanted()
    }

    /// Whether it is only a part of a sweep.
    pub fn is_part(&self) -> bool {
        self.asked.part[1] > 1
    }

    /// What to take, if all is done and something works.
    pub fn taken(&self) -> Option<&crate::sweep::choice::Taken> {
        if self.is_part() || !self.is_done() { None } else { self.choice.taken.as_ref() }
    }

    /// Whether every setting was refused by the scenario's reader.
    pub fn all_refused(&self) -> bool {
        self.choice.settings > 0
            && self.choice.counts[crate::sweep::setting::Status::Refused as usize]
                == self.choice.settings
    }

    fn wanted(&self) -> u64 {
        let [part, parts] = self.asked.part;
        let settings = self.asked.plan.part(part, parts);
        settings.end - settings.start
    }
}
