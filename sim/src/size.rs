//! Thresholds, doses, times and limits that follow from pot, plumbing, plant and supply, each with
//! its arithmetic and source beside what the scenario says now.
//!
//! The bounds are those that [`check`](crate::check) tests against: what is proposed here is not
//! refuted there.
//!
//! ```
//! use drydown_sim::scenario::{Setup, Source};
//! use drydown_sim::size::{Judged, size};
//!
//! let source = Source::open("dry-week").unwrap();
//! let sizing = size(&source, &Setup::load(&source).unwrap());
//! let soak = sizing.line("soak").unwrap();
//! assert_eq!((soak.present, soak.judged()), (Some(30.0), Judged::Fits));
//! ```

mod answer;
mod asked;
mod dose;
mod limits;
mod power;
mod soil;
mod supply;

pub use asked::Asked;

pub use crate::check::current::{Part, Power};
pub use crate::check::solar::{Month, solar_radiation_mj};

use crate::check::figures::Figures;
use crate::check::{Finding, Severity, figure, findings};
use crate::error::InputError;
use crate::scenario::{Scenario, Setup, Source, vary};

/// What a line belongs to, in the order in which they are told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// When to start and when to stop.
    Soil,
    /// How much water at a time.
    Dose,
    /// What no opening and no day may exceed.
    Limits,
    /// What must follow from water, and how often it comes.
    Answer,
    /// Tank, head, flow, pots, contacts.
    Supply,
    /// Regulator, battery, sun.
    Power,
}

impl Group {
    /// All of them.
    pub const ALL: [Self; 6] =
        [Self::Soil, Self::Dose, Self::Limits, Self::Answer, Self::Supply, Self::Power];

    /// As a heading.
    pub const fn heading(self) -> &'static str {
        match self {
            Self::Soil => "When to start and stop",
            Self::Dose => "How much at a time",
            Self::Limits => "What may not be exceeded",
            Self::Answer => "What must follow",
            Self::Supply => "Water and plumbing",
            Self::Power => "Power",
        }
    }

    /// Its name in machine-readable output.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Soil => "soil",
            Self::Dose => "dose",
            Self::Limits => "limits",
            Self::Answer => "answer",
            Self::Supply => "supply",
            Self::Power => "power",
        }
    }
}

/// What a line says of the present value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judged {
    /// It is a figure that follows; there is nothing to choose.
    Told,
    /// The present value lies within what arithmetic allows.
    Fits,
    /// It does not.
    Change,
    /// It does not, no other would, and it is as near as they come: it works, and not well.
    Look,
    /// No value could.
    CannotWork,
}

impl Judged {
    /// Its name in machine-readable output.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Told => "told",
            Self::Fits => "fits",
            Self::Change => "change",
            Self::Look => "look",
            Self::CannotWork => "cannot-work",
        }
    }
}

/// One figure: what it is, what the scenario says, what arithmetic says, and why.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// What it belongs to.
    pub group: Group,
    /// Its stable name in machine-readable output.
    pub name: &'static str,
    /// What it is, in plain words: "the soak".
    pub what: String,
    /// The field of the scenario that it is about.
    pub field: Option<String>,
    /// What the scenario says or means now.
    pub present: Option<f64>,
    /// What follows.
    pub proposed: f64,
    /// Least that fits.
    pub least: Option<f64>,
    /// Most that fits.
    pub most: Option<f64>,
    /// The unit of all four.
    pub unit: &'static str,
    /// Whether what is proposed works, if not well, where nothing fits.
    pub bearable: bool,
    /// How it was reckoned, with the figures.
    pub arithmetic: String,
    /// Where that comes from.
    pub source: &'static str,
}

impl Line {
    /// A figure that follows and is no field of the scenario.
    fn told(
        (group, name, what): (Group, &'static str, &str),
        (value, unit): (f64, &'static str),
        arithmetic: String,
        source: &'static str,
    ) -> Self {
        let what = what.to_owned();
        let (field, present, least, most) = (None, None, None, None);
        let (proposed, bearable) = (value, false);
        Self {
            group,
            name,
            what,
            field,
            present,
            proposed,
            least,
            most,
            unit,
            bearable,
            arithmetic,
            source,
        }
    }

    /// About this field, which says or means so much.
    fn field(mut self, field: &str, present: Option<f64>) -> Self {
        self.field = Some(field.to_owned());
        self.present = present;
        self
    }

    /// What it is now, where no one field says it.
    fn now(mut self, present: f64) -> Self {
        self.present = Some(present);
        self
    }

    fn at_least(mut self, least: f64) -> Self {
        self.least = Some(least);
        self
    }

    fn at_most(mut self, most: f64) -> Self {
        self.most = Some(most);
        self
    }

    /// How a file that says the present value came to it: as it follows, or as it usually is where that
    /// fits as well.
    pub(crate) fn chosen(&self) -> Option<String> {
        let (present, unit) = (self.present?, self.unit);
        Some(if self.present == Some(self.proposed) {
            format!("So {present} {unit}")
        } else {
            let least = self.least.map(|least| format!(" no less than {} {unit}", figure(least)));
            let most = self.most.map(|most| format!(" no more than {} {unit}", figure(most)));
            let bounds = [least, most].into_iter().flatten().collect::<Vec<_>>().join(" and");
            format!("The usual {present} {unit} is{bounds} and stays")
        })
    }

    /// Whether a value lies within what arithmetic allows.
    pub fn fits(&self, value: f64) -> bool {
        // What is written is rounded: half a part in a thousand is no difference.
        let slack = |bound: f64| 5e-4 * bound.abs();
        self.least.is_none_or(|least| value >= least - slack(least))
            && self.most.is_none_or(|most| value <= most + slack(most))
    }

    /// What it says of the present value.
    pub fn judged(&self) -> Judged {
        if self.least.is_none() && self.most.is_none() {
            return Judged::Told;
        }
        if !self.fits(self.proposed) {
            return match self.present {
                _ if !self.bearable => Judged::CannotWork,
                Some(present) if present.to_bits() == self.proposed.to_bits() => Judged::Look,
                _ => Judged::Change,
            };
        }
        match self.present {
            Some(present) if self.fits(present) => Judged::Fits,
            _ => Judged::Change,
        }
    }
}

/// A sizing.
#[derive(Clone, Debug)]
pub struct Sizing {
    /// The figures, by group.
    pub lines: Vec<Line>,
    /// What the scenario does not say and a sizing wants to know.
    pub asked: Vec<Asked>,
    /// What arithmetic refutes in the scenario as it stands.
    pub refuted: Vec<Finding>,
    /// Current and battery, where the scenario says what there is.
    pub power: Option<Power>,
}

impl Sizing {
    /// The figure of that name.
    pub fn line(&self, name: &str) -> Option<&Line> {
        self.lines.iter().find(|line| line.name == name)
    }

    /// Whether something cannot work.
    pub fn is_bad(&self) -> bool {
        let mut lines = self.lines.iter();
        !self.refuted.is_empty() || lines.any(|line| line.judged() == Judged::CannotWork)
    }
}

/// Everything that follows from a scenario. The same scenario gives the same figures.
pub fn size(source: &Source, setup: &Setup) -> Sizing {
    of(source, setup, &Figures::of(setup))
}

fn of(source: &Source, setup: &Setup, figures: &Figures<'_>) -> Sizing {
    let mut lines = vec![];
    let band = soil::lines(figures, &mut lines);
    let dose = dose::lines(figures, band, &mut lines);
    limits::lines(figures, band, dose, &mut lines);
    answer::lines(figures, band, dose, &mut lines);
    supply::lines(figures, &mut lines);
    let power = Power::of(figures);
    if let Some(power) = &power {
        power::lines(power, figures, &mut lines);
    }
    lines.sort_by_key(|line| line.group);
    let mut refuted = findings(setup);
    refuted.retain(|finding| finding.severity == Severity::Refuted);
    Sizing { lines, asked: asked::of(source, setup), refuted, power }
}

/// Name of the figure that tells whether the reading can end a watering.
pub(crate) const OVERSHOOT: &str = "overshoot";

/// Fields of the controller: what a sizing may set. The rest was measured, or must be bought.
const SETTABLE: &str = "control.";

/// The scenario with each setting of the controller that does not fit replaced by what follows.
///
/// # Errors
/// What the reader refuses.
pub fn applied(source: &Source, scenario: &Scenario) -> Result<Scenario, InputError> {
    resized(source, scenario, false)
}

/// The scenario with every setting that `source` says replaced by what follows, as if nobody had
/// chosen it yet; of the others those that do not fit.
///
/// # Errors
/// What the reader refuses.
pub(crate) fn afresh(source: &Source, scenario: &Scenario) -> Result<Scenario, InputError> {
    resized(source, scenario, true)
}

/// One setting hangs on another: where a change leaves the next one unfit this is done again.
fn resized(source: &Source, scenario: &Scenario, afresh: bool) -> Result<Scenario, InputError> {
    const ROUNDS: usize = 8;
    let mut scenario = scenario.clone();
    for _ in 0..ROUNDS {
        let setup = Setup::of(source, scenario.clone())?;
        let figures = if afresh { Figures::afresh(&setup) } else { Figures::of(&setup) };
        let sizing = of(source, &setup, &figures);
        let changes: Vec<(&str, f64)> = sizing
            .lines
            .iter()
            .filter_map(|line| Some((line, line.field.as_deref()?)))
            .filter(|(_, field)| field.starts_with(SETTABLE))
            .filter(|(line, field)| match line.judged() {
                Judged::Change => true,
                // Where there is no room, the nearest to it leaves the rest sound.
                Judged::Fits | Judged::Look | Judged::CannotWork => {
                    afresh && source.says(field) && line.present != Some(line.proposed)
                }
                Judged::Told => false,
            })
            .map(|(line, field)| (field, line.proposed))
            .collect();
        if changes.is_empty() {
            break;
        }
        let changed = vary::set(source, &scenario, &changes)
            .and_then(|changed| Setup::of(source, changed.clone()).map(|_| changed));
        scenario = match changed {
            // Nobody wrote it: that no settings fit is told by the sizing of the last that can be.
            Err(_) if afresh => break,
            changed => changed?,
        };
    }
    Ok(scenario)
}
