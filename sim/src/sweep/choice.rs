//! Which settings nothing beats, which one to take, and how far it is to one that fails.

use std::path::Path;

use super::case::{APPLIED_L, Measures, STRESS_H};
use super::plan::{Axis, Plan};
use super::setting::{Setting, Status, each};
use crate::error::InputError;

/// Everything that is judged over all settings of a sweep, or of what is done of it.
#[derive(Clone, Debug)]
pub struct Choice {
    /// Settings that are done.
    pub settings: u64,
    /// So many of each status, in the order of [`Status::ALL`].
    pub counts: [u64; 5],
    /// Of those that work: so many of which a run ends with an alarm still on.
    pub left_calling: u64,
    /// Worst hours short of water and mean litres that nothing beats, by rising hours.
    front: Vec<(f64, f64)>,
    /// What to take, if anything works.
    pub taken: Option<Taken>,
    /// If nothing works: what fails least.
    pub least_bad: Option<Setting>,
}

/// The setting to take.
#[derive(Clone, Debug)]
pub struct Taken {
    /// Which.
    pub setting: Setting,
    /// Whether the settings next to it hold as well.
    pub has_room: bool,
    /// How far it is on each axis of a grid to a value that fails; nothing for a sample.
    pub margins: Vec<Margin>,
    /// The nearest setting that fails, each axis measured in shares of its range.
    pub nearest_failing: Option<Vec<f64>>,
}

/// How far one may go on one axis while the others stay.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Margin {
    /// The next lower value that fails.
    pub lower_fails: Option<f64>,
    /// The next higher value that fails.
    pub higher_fails: Option<f64>,
}

/// The two counts by which settings are compared: worst hours short of water, mean litres given.
pub fn counts(worst: &Measures, mean: &Measures) -> (f64, f64) {
    (worst[STRESS_H], mean[APPLIED_L])
}

fn beats(a: (f64, f64), b: (f64, f64)) -> bool {
    a.0 <= b.0 && a.1 <= b.1 && a != b
}

impl Choice {
    /// Judges the settings whose runs are written. A setting works when after every run one would
    /// leave it, no rule was broken and no plant was short of water for longer than
    /// `most_stress_h`. Taken is, of those that work, end every run without an alarm and have
    /// neighbours that do not fail, the one that gives the least water on average. Where none has
    /// all of this, room goes first: who reads a recommendation must not find a device that calls
    /// for help, if another setting spares it. Equals are decided by the lower values, in the order
    /// of the axes.
    ///
    /// # Errors
    /// The rows cannot be read.
    pub fn of(cases: &Path, plan: &Plan, most_stress_h: f64) -> Result<Self, InputError> {
        let mut choice = Self {
            settings: 0,
            counts: [0; 5],
            left_calling: 0,
            front: vec![],
            taken: None,
            least_bad: None,
        };
        let mut field = Field { plan, statuses: vec![None; plan.settings() as usize] };
        each(cases, plan, most_stress_h, |setting| {
            field.put(setting.number, setting.status);
            choice.settings += 1;
            choice.counts[setting.status as usize] += 1;
            let works = setting.status == Status::Works;
            choice.left_calling += u64::from(works && !setting.ends_quiet());
            if setting.status != Status::Refused {
                choice.add_to_front(counts(&setting.worst, &setting.mean));
                if choice.least_bad.as_ref().is_none_or(|least| less_bad(&setting, least)) {
                    choice.least_bad = Some(setting);
                }
            }
            Ok(())
        })?;
        if choice.counts[Status::Works as usize] > 0 {
            choice.least_bad = None;
            choice.taken = field.take(cases, most_stress_h)?;
        }
        Ok(choice)
    }

    /// Whether nothing tried gives both less stress and less water than this.
    pub fn is_unbeaten(&self, setting: &Setting) -> bool {
        setting.status != Status::Refused
            && self.front.contains(&counts(&setting.worst, &setting.mean))
    }

    /// The unbeaten pairs of hours and litres, by rising hours.
    pub fn front(&self) -> &[(f64, f64)] {
        &self.front
    }

    fn add_to_front(&mut self, new: (f64, f64)) {
        if self.front.iter().any(|&old| old == new || beats(old, new)) {
            return;
        }
        self.front.retain(|&old| !beats(new, old));
        let at = self.front.partition_point(|&old| old.0 < new.0);
        self.front.insert(at, new);
    }
}

fn less_bad(a: &Setting, b: &Setting) -> bool {
    let key = |setting: &Setting| (setting.failing, setting.status);
    key(a) < key(b) || key(a) == key(b) && counts(&a.worst, &a.mean) < counts(&b.worst, &b.mean)
}

/// What became of each setting, by where it stands.
struct Field<'a> {
    plan: &'a Plan,
    /// By grid index, or by number where there is no grid.
    statuses: Vec<Option<Status>>,
}

impl Field<'_> {
    fn is_grid(&self) -> bool {
        self.plan.sample.is_none()
    }

    fn index(&self, setting: u64) -> u64 {
        if self.is_grid() { self.plan.grid_index(setting) } else { setting }
    }

    fn put(&mut self, setting: u64, status: Status) {
        let index = self.index(setting) as usize;
        self.statuses[index] = Some(status);
    }

    fn fails(&self, index: usize) -> bool {
        self.statuses[index].is_some_and(Status::fails)
    }

    fn take(&self, cases: &Path, most_stress_h: f64) -> Result<Option<Taken>, InputError> {
        let thriftier = |new: &Setting, old: &Setting| {
            let (new_l, old_l) = (new.mean[APPLIED_L], old.mean[APPLIED_L]);
            new_l < old_l || new_l.total_cmp(&old_l).is_eq() && new.values < old.values
        };
        // Whether it ends quiet, whether it has room, and which it is.
        let mut best: Option<(bool, bool, Setting)> = None;
        each(cases, self.plan, most_stress_h, |setting| {
            if setting.status != Status::Works {
                return Ok(());
            }
            let quiet = setting.ends_quiet();
            let Some((best_quiet, best_room, best_setting)) = &best else {
                best = Some((quiet, self.has_room(&setting), setting));
                return Ok(());
            };
            let thrifty = thriftier(&setting, best_setting);
            // Room is asked for last: in a sample it means a look at every setting.
            if (quiet, true, thrifty) <= (*best_quiet, *best_room, false) {
                return Ok(());
            }
            let room = self.has_room(&setting);
            if (quiet, room, thrifty) > (*best_quiet, *best_room, false) {
                best = Some((quiet, room, setting));
            }
            Ok(())
        })?;
        Ok(best.map(|(_, has_room, setting)| Taken {
            has_room,
            margins: self.margins(&setting),
            nearest_failing: self.nearest_failing(&setting.values).map(|(_, values)| values),
            setting,
        }))
    }

    /// In a grid: no setting one step away on any axis fails. In a sample: none lies nearer than
    /// settings lie apart when they are spread evenly.
    fn has_room(&self, setting: &Setting) -> bool {
        if !self.is_grid() {
            let spacing = (self.plan.settings() as f64).powf(-1.0 / self.plan.axes.len() as f64);
            let nearest = self.nearest_failing(&setting.values);
            return nearest.is_none_or(|(distance, _)| distance > spacing);
        }
        let places = self.plan.places(self.plan.grid_index(setting.number));
        !places.iter().enumerate().any(|(axis, &place)| {
            let beside = [place.checked_sub(1), Some(place + 1)];
            beside.into_iter().flatten().any(|beside| self.fails_beside(&places, axis, beside))
        })
    }

    /// Whether the setting that stands elsewhere on one axis fails; past its end nothing does.
    fn fails_beside(&self, places: &[usize], elsewhere: usize, place: usize) -> bool {
        if place >= self.plan.axes[elsewhere].values.len() {
            return false;
        }
        let index = self.plan.axes.iter().enumerate().fold(0, |index, (at, axis)| {
            let place = if at == elsewhere { place } else { places[at] };
            index * axis.values.len() + place
        });
        self.fails(index)
    }

    fn margins(&self, setting: &Setting) -> Vec<Margin> {
        if !self.is_grid() {
            return vec![];
        }
        let places = self.plan.places(self.plan.grid_index(setting.number));
        let axes = self.plan.axes.iter().enumerate();
        let margin = |(at, axis): (usize, &Axis)| {
            let fails = |&place: &usize| self.fails_beside(&places, at, place);
            let value = |place: usize| axis.values[place];
            Margin {
                lower_fails: (0..places[at]).rev().find(fails).map(value),
                higher_fails: (places[at] + 1..axis.values.len()).find(fails).map(value),
            }
        };
        axes.map(margin).collect()
    }

    /// The nearest setting that fails and how far it is, each axis in shares of its range.
    fn nearest_failing(&self, values: &[f64]) -> Option<(f64, Vec<f64>)> {
        let settings = 0..self.plan.settings();
        let failing = settings.filter(|&setting| self.fails(self.index(setting) as usize));
        let measured = failing.map(|setting| {
            let there = self.plan.values(setting);
            let axes = self.plan.axes.iter().zip(values.iter().zip(&there));
            let square = axes.map(|(axis, (&a, &b))| axis.apart(a, b).powi(2)).sum::<f64>();
            (square.sqrt(), there)
        });
        measured.min_by(|a, b| {
            a.0.total_cmp(&b.0)
                .then_with(|| a.1.partial_cmp(&b.1).unwrap_or(std::cmp::Ordering::Equal))
        })
    }
}
