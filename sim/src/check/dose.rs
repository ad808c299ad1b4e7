//! One opening: what it brings against what soil and saucer hold, what the line swallows, and what
//! supervision can see of it.

use super::figures::Figures;
use super::finding::{Bound, Finding, Kind, Severity, figure};
use super::practice::{DEAD_TIMES, RUNS_ON};

pub(super) fn check(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    overshoot(figures, found);
    overflow(figures, found);
    pulse(figures, found);
    if figures.probe.is_some() {
        judged(figures, found);
    }
}

/// Water that is on its way when the reading meets stop.
fn overshoot(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let Some(start_pct) = figures.start_pct().filter(|_| figures.ends_at_stop) else { return };
    let flow_l_h = figures.flow_l_h(0);
    let runs_on_l = figures.runs_on_l();
    let deficit_l = figures.deficit_l(start_pct);
    if deficit_l <= 0.0 || runs_on_l <= RUNS_ON * deficit_l {
        return;
    }
    let given_l = figures.seconds_to_stop(0.0).map(|seconds| flow_l_h * seconds / 3600.0);
    let refuted = given_l.is_none_or(|given_l| given_l > deficit_l);
    let consequence = if refuted {
        "By then the soil has more than it can hold, every time."
    } else {
        "The soil ends wetter than stop says."
    };
    found.push(Finding {
        kind: Kind::Overshoot,
        severity: if refuted { Severity::Refuted } else { Severity::Look },
        field: "water.emitter_l_h".to_owned(),
        value: runs_on_l,
        bound: Bound::AtMost(RUNS_ON * deficit_l),
        why: format!(
            "Water needs {} min to the probe. At {} L/h, {} L are on their way when the reading \
             meets stop, of {} L from start to what the drained soil holds. {consequence}",
            figure(figures.place().lag_min),
            figure(flow_l_h),
            figure(runs_on_l),
            figure(deficit_l)
        ),
        remedy: "Give measured doses, fit emitters of less flow, or move the probe nearer to the \
                 water."
            .to_owned(),
    });
}

/// The largest opening against the room in each pot.
fn overflow(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    if figures.setup.scenario.container.is_none() {
        return;
    }
    // How much drier than start it may be when a watering begins: the probe reads wetter in the
    // warmth, and the readings must agree.
    let late = (figures.ripple_pct() + figures.dries_while_agreeing_pct()) / 100.0;
    let pots = figures.setup.pots.iter().enumerate().map(|(at, pot)| {
        let from = match figures.start_pct() {
            Some(start_pct) => start_pct / 100.0,
            // By the clock alone: as dry as the plants can take it.
            None => figures.stress_theta(at, &figures.thirstiest(at).1),
        };
        let room_l = figures.room_l(at, from);
        let given_l = figures.flow_l_h(at) * figures.pulse_s / 3600.0;
        let always = given_l > room_l + late * pot.medium.volume_l();
        (at, given_l, room_l, always && figures.saucer_l() > 0.0)
    });
    let over = pots.filter(|(_, given_l, room_l, _)| given_l > room_l);
    let Some((at, given_l, room_l, always)) =
        over.max_by(|a, b| a.3.cmp(&b.3).then((a.1 / a.2).total_cmp(&(b.1 / b.2))))
    else {
        return;
    };
    let name = &figures.setup.pots[at].name;
    let (severity, what, when) = if figures.ends_at_stop {
        (
            Severity::Look,
            "The longest opening",
            "When the probe does not say stop in time, the rest",
        )
    } else if always && at == 0 {
        (Severity::Refuted, "Each dose", "The rest")
    } else {
        (Severity::Look, "A dose", "When the soil is no drier than start, the rest")
    };
    let longest_s = room_l / figures.flow_l_h(at) * 3600.0;
    found.push(Finding {
        kind: Kind::DoseOverflows,
        severity,
        field: figures.pulse_field().to_owned(),
        value: given_l,
        bound: Bound::AtMost(room_l),
        why: format!(
            "{what} brings {} L to the {name}; its soil and saucer have room for {} L. {when} goes \
             to the floor.",
            figure(given_l),
            figure(room_l)
        ),
        remedy: format!("Allow {} s at most, or use a larger saucer.", figure(longest_s)),
    });
}

/// Dead time of pump or valve, and the first filling of the line.
fn pulse(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let water = &figures.setup.scenario.water;
    let fill_s = figures.fill_s();
    let dead_s = water.opening_s;
    let pulse_s = figures.pulse_s;
    let (severity, bound, why) = if pulse_s <= dead_s {
        let why = format!(
            "Water flows {} s after the drive is switched on. A dose of {} s ends before that and \
             brings nothing.",
            figure(dead_s),
            figure(pulse_s)
        );
        (Severity::Refuted, dead_s, why)
    } else if pulse_s <= dead_s + fill_s {
        let why = format!(
            "The line takes {} L, {} s of flow, before anything comes out. The first dose, and each \
             one after the line has run empty, brings nothing.",
            figure(water.line_l),
            figure(fill_s)
        );
        (Severity::Look, dead_s + fill_s, why)
    } else if !figures.ends_at_stop && pulse_s < DEAD_TIMES * figures.dead_s() {
        let why = format!(
            "Of {} s up to {} s bring nothing: {} s until it flows, and {} s where the line has run \
             empty. The dose is smaller than flow times time by more than a fifth.",
            figure(pulse_s),
            figure(figures.dead_s()),
            figure(dead_s),
            figure(fill_s)
        );
        (Severity::Look, DEAD_TIMES * figures.dead_s(), why)
    } else {
        return;
    };
    found.push(Finding {
        kind: Kind::PulseLostInLine,
        severity,
        field: figures.pulse_field().to_owned(),
        value: pulse_s,
        bound: Bound::AtLeast(bound),
        why,
        remedy:
            "Give longer doses less often, shorten the line, or measure the dose with a cup as it \
                 is given."
                .to_owned(),
    });
}

/// Response supervision: each dose must be able to answer, and be large enough to be judged.
fn judged(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let response = figures.setup.zone.config().response;
    let detection = f64::from(response.detection) / 1e4;
    let flow_l_h = figures.flow_l_h(0);
    let needed_s = figures.judgeable_s();
    let judged_s = figures.judged_s();
    if judged_s < needed_s {
        found.push(Finding {
            kind: Kind::JudgedTooSoon,
            severity: Severity::Look,
            field: "control.answer_after_s".to_owned(),
            value: judged_s,
            bound: Bound::AtLeast(needed_s),
            why: format!(
                "At {} L/h, {} s raise the whole soil by {} %; supervision should see twice the {} % \
                 it can tell from noise. An opening that is cut short is judged unanswered though \
                 all is sound.",
                figure(flow_l_h),
                figure(judged_s),
                figure(200.0 * detection * judged_s / needed_s),
                figure(100.0 * detection)
            ),
            remedy: format!(
                "Judge after {} s, or measure how long it takes at commissioning.",
                figure(1.5 * needed_s)
            ),
        });
    }
    if figures.ends_at_stop {
        return;
    }
    let answers_s = figures.answers_s();
    let least_s = figures.least_judged(figures.start_pct()).value;
    let pulses = (judged_s / figures.pulse_s).ceil();
    let small = figures.pulse_s < answers_s;
    // Where the temperature of a day moves the reading by as much, it passes for an answer.
    let by_chance = figures.ripple_pct() + figures.noise_pct(figures.pot().medium.capacity());
    let refuted = small && by_chance < 100.0 * detection;
    if figures.pulse_s >= least_s {
        return;
    }
    let lost_l =
        f64::from(response.tries) * pulses * figures.pulse_s / 3600.0 * figures.setup.flow_l_h;
    let why = if small {
        format!(
            "One dose of {} s raises the reading by less than the {} % that count as an answer. Each \
             dose is given at start, so that they do not add up: {} L.",
            figure(figures.pulse_s),
            figure(100.0 * detection),
            if refuted {
                format!("a sound zone locks itself out after {}", figure(lost_l))
            } else {
                format!(
                    "only the temperature of the day keeps it from locking out after {}",
                    figure(lost_l)
                )
            }
        )
    } else {
        format!(
            "One dose of {} s is too small to be judged by itself; {} are judged together. With the \
             hose off, {} L reach the floor before the zone locks out.",
            figure(figures.pulse_s),
            figure(pulses),
            figure(lost_l)
        )
    };
    found.push(Finding {
        kind: Kind::PulseTooSmallToJudge,
        severity: if refuted { Severity::Refuted } else { Severity::Look },
        field: figures.pulse_field().to_owned(),
        value: figures.pulse_s,
        bound: Bound::AtLeast(if small { answers_s } else { least_s }),
        why,
        remedy: format!("Give doses of {} s or more, less often.", figure(least_s)),
    });
}
