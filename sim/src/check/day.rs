//! Water a day: what the plants use against what limit, pace, hands and power let through.

use super::figures::{Day, Figures};
use super::finding::{Bound, Finding, Kind, Severity, figure};
use super::practice::LIMIT_USES;
use crate::fault;

pub(super) fn check(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    limit(figures, found);
    pace(figures, found);
    by_hand(figures, found);
    powered(figures, found);
}

/// The run of days in which a pot loses most of its water though the limit is used up daily.
struct Spell {
    /// First and last day, counted from 0.
    days: (usize, usize),
    /// Use less rain and cans over the spell, litres.
    need_l: f64,
    /// What is missing at its end, litres.
    missing_l: f64,
}

impl Spell {
    /// The worst spell when day `d` lets `through(d)` litres to the pot.
    fn worst(days: &[Day], through: impl Fn(usize) -> f64) -> Option<Self> {
        let (mut worst, mut running): (Option<Self>, Option<Self>) = (None, None);
        for (at, day) in days.iter().enumerate() {
            let need_l = day.use_l - day.brought_l;
            let missing_l = need_l - through(at);
            let before = running.take().filter(|spell| spell.missing_l > 0.0);
            let spell = match before {
                Some(spell) => Self {
                    days: (spell.days.0, at),
                    need_l: spell.need_l + need_l,
                    missing_l: spell.missing_l + missing_l,
                },
                None => Self { days: (at, at), need_l, missing_l },
            };
            if worst.as_ref().is_none_or(|worst| spell.missing_l > worst.missing_l) {
                worst = Some(Self { ..spell });
            }
            running = Some(spell);
        }
        worst
    }

    fn length(&self) -> f64 {
        (self.days.1 - self.days.0 + 1) as f64
    }
}

/// What a pot lacks when only so much comes to it a day.
struct Shortfall {
    severity: Severity,
    /// What should come a day at least, litres.
    least_l: f64,
    /// Use of the pot's thirstiest day, litres.
    thirstiest_l: f64,
    /// The pot.
    pot: usize,
    /// The figures, in sentences.
    why: String,
}

impl Shortfall {
    /// The pot that comes off worst when each gets its flow for `open_s` a day. `what` lets it
    /// through: "The limit".
    fn worst(figures: &Figures<'_>, open_s: f64, what: &str) -> Option<Self> {
        let pots = 0..figures.setup.pots.len();
        let lacking = pots.filter_map(|pot| Self::at(figures, pot, open_s, what));
        lacking.max_by(|a, b| {
            let open_s = |lack: &Self| lack.least_l / figures.flow_l_h(lack.pot);
            b.severity.cmp(&a.severity).then(open_s(a).total_cmp(&open_s(b)))
        })
    }

    fn at(figures: &Figures<'_>, pot: usize, open_s: f64, what: &str) -> Option<Self> {
        let days = figures.days(pot);
        let through_l = open_s / 3600.0 * figures.flow_l_h(pot);
        let reserve_l = figures.reserve_l(pot);
        let spell = Spell::worst(&days, |_| through_l).filter(|spell| spell.missing_l > 0.0)?;
        let (thirstiest, day) = figures.thirstiest(pot);
        let name = &figures.setup.pots[pot].name;
        let refuted = spell.missing_l > reserve_l;
        let why = if refuted {
            format!(
                "From day {} to day {} the plants of the {name} need {} L. {what} lets {} L a day \
                 through to them, and the soil can give {} L before they are short of water: {} L \
                 are missing.",
                spell.days.0 + 1,
                spell.days.1 + 1,
                figure(spell.need_l),
                figure(through_l),
                figure(reserve_l),
                figure(spell.missing_l - reserve_l)
            )
        } else {
            format!(
                "On day {} the plants of the {name} take {} L. {what} lets {} L a day through to \
                 them; the soil's own store of {} L bridges it, this time.",
                thirstiest + 1,
                figure(day.use_l),
                figure(through_l),
                figure(reserve_l)
            )
        };
        Some(Self {
            severity: if refuted { Severity::Refuted } else { Severity::Look },
            least_l: if refuted { (spell.need_l - reserve_l) / spell.length() } else { day.use_l },
            thirstiest_l: day.use_l,
            pot,
            why,
        })
    }
}

/// The 24 h limit against the use.
fn limit(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let Some(lack) = Shortfall::worst(figures, figures.limit_s, "The limit") else { return };
    let open_s = |litres: f64| litres / figures.flow_l_h(lack.pot) * 3600.0;
    let twice_s = LIMIT_USES * open_s(lack.thirstiest_l);
    found.push(Finding {
        kind: Kind::LimitBelowUse,
        severity: lack.severity,
        field: "control.limit_24h_s".to_owned(),
        value: figures.limit_s,
        bound: Bound::AtLeast(open_s(lack.least_l)),
        why: lack.why,
        remedy: format!(
            "Allow {} s, twice the use of the thirstiest day, if the floor can bear {} L; or fit \
             emitters of more flow.",
            figure(twice_s),
            figure(twice_s / 3600.0 * figures.setup.flow_l_h)
        ),
    });
}

/// Doses as often as the policy can give them, against the use.
fn pace(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let times = 86_400.0 / (60.0 * figures.soak_min + figures.pulse_s);
    let what = format!("One opening of {} s after the other", figure(figures.pulse_s));
    let Some(lack) = Shortfall::worst(figures, times * figures.pulse_s, &what) else { return };
    let pulse_l = figures.pulse_s / 3600.0 * figures.flow_l_h(lack.pot);
    let field = if figures.band.is_some() { "control.soak_min" } else { "control.every_h" };
    found.push(Finding {
        kind: Kind::DosesBelowUse,
        severity: lack.severity,
        field: field.to_owned(),
        value: times * pulse_l,
        bound: Bound::AtLeast(lack.least_l),
        why: lack.why,
        remedy: format!(
            "Give {} L at a time, or the same more often.",
            figure(2.0 * lack.thirstiest_l / times)
        ),
    });
}

/// What a person's hands take from the limit: at commissioning, and as the scenario says.
fn by_hand(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let by_hand_s = f64::from(figures.setup.zone.config().limits.local_per_day.0) / 1e3;
    let hands = figures.hands(figures.max_open_s);
    let least_s = figures.least_limit_s(hands, by_hand_s);
    if figures.limit_s >= least_s {
        return;
    }
    let taken_s = hands.taken_s.min(by_hand_s);
    found.push(Finding {
        kind: Kind::LimitSpentByHand,
        severity: Severity::Look,
        field: "control.limit_24h_s".to_owned(),
        value: figures.limit_s,
        bound: Bound::AtLeast(least_s),
        why: format!(
            "{} takes {} s of open time from the 24 h limit. Of the {} s that the plants need on the \
             thirstiest day, automatic has {} s left until that time has passed.",
            hands.what,
            figure(taken_s),
            figure(figures.busiest().open_s),
            figure((figures.limit_s - taken_s).max(0.0))
        ),
        remedy: "Leave a day between commissioning and leaving, measure shorter, or set \
                 `by_hand_24h_s` so that a part is kept for automatic."
            .to_owned(),
    });
}

/// Power a day, from the power cuts on schedule.
struct Power {
    /// Where the first cut stands in the file.
    field: String,
    /// Powered hours of each day.
    hours: Vec<f64>,
    /// Longest stretch with power, h.
    longest_h: f64,
}

impl Power {
    /// `None` when the power never fails.
    fn of(figures: &Figures<'_>) -> Option<Self> {
        let setup = figures.setup;
        let faults = &setup.scenario.faults;
        let first = faults.iter().position(|fault| fault.kind == fault::Kind::PowerCut)?;
        let total_h = setup.duration_ms as f64 / 3.6e6;
        let mut cuts: Vec<(f64, f64)> = faults
            .iter()
            .filter(|fault| fault.kind == fault::Kind::PowerCut)
            .map(|fault| (fault.at_h, fault.for_h.map_or(total_h, |for_h| fault.at_h + for_h)))
            .collect();
        cuts.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut stretches = vec![];
        let mut from = 0.0;
        for (begins, ends) in cuts {
            stretches.push((from, begins.min(total_h)));
            from = f64::max(from, ends);
        }
        stretches.push((from, total_h));
        stretches.retain(|(from, to)| to > from);
        let days = (total_h / 24.0).ceil() as usize;
        let hours = (0..days).map(|day| {
            let (begins, ends) = (24.0 * day as f64, 24.0 * (day + 1) as f64);
            let within = stretches.iter().map(|(from, to)| to.min(ends) - from.max(begins));
            within.map(|hours| hours.max(0.0)).sum()
        });
        Some(Self {
            field: format!("fault.{first}.for_h"),
            hours: hours.collect(),
            longest_h: stretches.iter().map(|(from, to)| to - from).fold(0.0, f64::max),
        })
    }
}

/// Time without power frees nothing of the limit, and each start waits before it may water.
fn powered(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let Some(power) = Power::of(figures) else { return };
    let zone = figures.setup.zone.config();
    let hold_off_h = f64::from(zone.timing.hold_off.0) / 3.6e6;
    let wait_h = hold_off_h.max(match figures.band {
        // The first reading comes at once.
        Some(_) => {
            let control = &figures.setup.scenario.control;
            (f64::from(control.agree) - 1.0) * control.sample_min / 60.0
        }
        None => figures.soak_min / 60.0,
    });
    let slot_h = f64::from(figures.setup.zone.ledger_plan().slot().0) / 3.6e6;
    let frees = power.longest_h >= slot_h;
    let mean_h = power.hours.iter().sum::<f64>() / power.hours.len() as f64;
    let limit_l = figures.limit_s / 3600.0 * figures.flow_l_h(0);
    let need_l = figures.mean_need_l(0);
    let share = |day: usize| match power.hours.get(day) {
        Some(hours) if frees => hours / 24.0,
        _ => 0.0,
    };
    let spell = Spell::worst(&figures.days(0), |day| limit_l * share(day));
    // The ledger may be empty when the spell begins: one whole limit on top.
    let lacks = spell.is_some_and(|spell| spell.missing_l > limit_l + figures.reserve_l(0));
    let severity = if lacks { Severity::Refuted } else { Severity::Look };
    let (severity, value, bound, why) = if power.longest_h < wait_h {
        let why = format!(
            "After each start the device holds off and waits for its readings or its interval, {} h. \
             The power never lasts longer than {} h, so it never waters.",
            figure(wait_h),
            figure(power.longest_h)
        );
        (Severity::Refuted, power.longest_h, wait_h, why)
    } else if !frees {
        let why = format!(
            "The 24 h limit frees itself in steps of {} h with power, and the power never lasts \
             longer than {} h: the {} L of the limit are all that the plants ever get, at {} L a \
             day.",
            figure(slot_h),
            figure(power.longest_h),
            figure(limit_l),
            figure(need_l)
        );
        (severity, power.longest_h, slot_h, why)
    } else {
        let why = format!(
            "The 24 h limit frees itself only while there is power, {} h a day here: of {} L a day \
             it lets {} L through in the long run, and the plants use {} L.",
            figure(mean_h),
            figure(limit_l),
            figure(limit_l * mean_h / 24.0),
            figure(need_l)
        );
        (severity, mean_h, 24.0 * need_l / limit_l, why)
    };
    if value < bound {
        found.push(Finding {
            kind: Kind::FewPoweredHours,
            severity,
            field: power.field,
            value,
            bound: Bound::AtLeast(bound),
            why,
            remedy:
                "Give the device power for longer, from a battery for instance, or raise the 24 h \
                     limit in the same measure if the floor can bear it."
                    .to_owned(),
        });
    }
}
