//! Pots without a probe: the valve gives them their share of what the probed pot asks for. What
//! refutes a number of emitters here is what [`size`](crate::size) judges it by.

use super::figures::Figures;
use super::finding::{Bound, Finding, Kind, Severity, figure};
use super::practice::LEACHED;

/// Share by which a pot may come short before it is told (common practice).
const SHORT: f64 = 0.1;
/// Litres on the floor that are nothing to speak of (common practice).
const SOME_SPILLED_L: f64 = 0.5;

pub(super) fn check(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    if figures.probe.is_none() {
        return;
    }
    for pot in 1..figures.setup.pots.len() {
        let now = f64::from(figures.setup.scenario.neighbours[pot - 1].emitters);
        found.extend(Neighbour::of(figures, pot).finding(figures, now));
    }
}

/// What a pot without a probe takes, and what each of its emitters brings.
pub(crate) struct Neighbour {
    pot: usize,
    days: f64,
    /// What the probed pot takes a day, litres.
    pub probed_l: f64,
    /// What the plants of this one take a day, litres.
    pub need_l: f64,
    /// What one emitter brings a day when the probed pot has what it takes, litres.
    pub each_l: f64,
    /// What it brings a day at most besides, litres: the sun takes water from the probed pot too, and
    /// once that pot is brought from where it begins to stop.
    each_besides_l: f64,
    /// What it may fail to bring a day, litres: the probed pot lives on its own store first.
    each_less_l: f64,
    /// What this soil can give before its plants are short of water, litres.
    reserve_l: f64,
    /// What the sun takes from this soil a day at most, litres.
    evaporates_l: f64,
    /// What this soil and its saucer can take in before the floor is wet, litres; nothing without a
    /// saucer, for then all that drains is gone.
    room_l: Option<f64>,
}

impl Neighbour {
    pub(crate) fn of(figures: &Figures<'_>, pot: usize) -> Self {
        let setup = figures.setup;
        let days = figures.length_d();
        let now = f64::from(setup.scenario.neighbours[pot - 1].emitters);
        // Of what comes to the probed pot.
        let each = figures.flow_l_h(pot) / figures.flow_l_h(0) / now;
        let begins = |pot: usize| setup.pots[pot].medium.theta_mean(&setup.pots[pot].begins);
        let probed = &setup.pots[0].medium;
        let first_l = figures
            .stop_pct()
            .map_or(0.0, |stop_pct| (stop_pct / 100.0 - begins(0)).max(0.0) * probed.volume_l());
        let store_l = (begins(0) - figures.least_stress_theta(0)).max(0.0) * probed.volume_l();
        let medium = &setup.pots[pot].medium;
        let pores_l = (medium.saturation() - begins(pot)).max(0.0) * medium.volume_l();
        let saucer_l = Some(figures.saucer_l()).filter(|&litres| litres > 0.0);
        let probed_l = figures.mean_need_l(0);
        Self {
            pot,
            days,
            probed_l,
            need_l: figures.mean_need_l(pot),
            each_l: probed_l * each,
            each_besides_l: (figures.most_evaporated_l(0) + first_l / days) * each,
            each_less_l: store_l / days * each,
            reserve_l: figures.reserve_l(pot),
            evaporates_l: figures.most_evaporated_l(pot),
            room_l: saucer_l.map(|saucer_l| pores_l + saucer_l),
        }
    }

    /// What plants lack over the run at least, litres.
    fn missing_l(&self, emitters: f64) -> f64 {
        (self.need_l - emitters * (self.each_l + self.each_besides_l)) * self.days
    }

    /// What comes over the run and neither plants nor sun take, litres, at least.
    fn surplus_l(&self, emitters: f64) -> f64 {
        let gets_l = emitters * (self.each_l - self.each_less_l);
        (gets_l - self.need_l - self.evaporates_l) * self.days
    }

    /// How bad so many emitters are; `None` where they fit.
    pub(crate) fn severity(&self, emitters: f64) -> Option<Severity> {
        let gets_l = emitters * self.each_l;
        let floods =
            self.room_l.is_some_and(|room_l| self.surplus_l(emitters) > room_l + SOME_SPILLED_L);
        if self.missing_l(emitters) > self.reserve_l || floods {
            Some(Severity::Refuted)
        } else if gets_l < self.least_l() || gets_l > self.most_l() {
            Some(Severity::Look)
        } else {
            None
        }
    }

    /// Least and most that is not told, litres a day.
    fn least_l(&self) -> f64 {
        (1.0 - SHORT) * self.need_l
    }

    fn most_l(&self) -> f64 {
        self.need_l / (1.0 - LEACHED)
    }

    /// The emitters that fit, from so many to so many; they need not be whole.
    pub(crate) fn fitting(&self) -> (f64, f64) {
        let least = self.least_l() / self.each_l;
        let bridged =
            (self.need_l - self.reserve_l / self.days) / (self.each_l + self.each_besides_l);
        let floods = self.room_l.map_or(f64::INFINITY, |room_l| {
            let takes_l = self.need_l + self.evaporates_l + (room_l + SOME_SPILLED_L) / self.days;
            takes_l / (self.each_l - self.each_less_l).max(0.0)
        });
        (least.max(bridged), (self.most_l() / self.each_l).min(floods))
    }

    fn finding(&self, figures: &Figures<'_>, emitters: f64) -> Option<Finding> {
        let severity = self.severity(emitters)?;
        let gets_l = emitters * self.each_l;
        let name = &figures.setup.pots[self.pot].name;
        let told = format!(
            "When the probed pot has the {} L it takes a day, the {name} gets {} L; its plants take {} \
             L.",
            figure(self.probed_l),
            figure(gets_l),
            figure(self.need_l)
        );
        let days = figure(self.days);
        let refuted = severity == Severity::Refuted;
        let (bound, rest) = if gets_l < self.need_l && refuted {
            let besides_l = emitters * self.each_besides_l;
            let rest = format!(
                "In {days} days {} L are missing, and its soil can give {} L before they are short of \
                 water.",
                figure(self.missing_l(emitters)),
                figure(self.reserve_l)
            );
            (Bound::AtLeast(self.need_l - self.reserve_l / self.days - besides_l), rest)
        } else if gets_l < self.need_l {
            (Bound::AtLeast(self.least_l()), "It dries from week to week.".to_owned())
        } else {
            let over_l = (gets_l - self.need_l) * self.days;
            let rest = match self.room_l {
                None => "The rest drains away.".to_owned(),
                Some(room_l) if refuted => format!(
                    "In {days} days {} L more than plants and sun can take come to it, and its soil and \
                     saucer have room for {} L: the rest goes to the floor.",
                    figure(self.surplus_l(emitters)),
                    figure(room_l)
                ),
                Some(room_l) => format!(
                    "The rest drains into its saucer: {} L in {days} days, less what the sun takes; \
                     its soil and saucer have room for {} L.",
                    figure(over_l),
                    figure(room_l)
                ),
            };
            let flooding_l = self.fitting().1 * self.each_l;
            (Bound::AtMost(if refuted { flooding_l } else { self.most_l() }), rest)
        };
        Some(Finding {
            kind: Kind::NeighbourShare,
            severity,
            field: format!("neighbour.{}.emitters", self.pot - 1),
            value: gets_l,
            bound,
            why: format!("{told} {rest}"),
            remedy:
                "Give each pot emitters in proportion to what its plants take, or put the probe \
                     in the pot that comes off worst and large saucers under the others."
                    .to_owned(),
        })
    }
}
