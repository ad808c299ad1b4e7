//! The probe: its converter, how often it is read, and how far it is from the water.

use super::figures::Figures;
use super::finding::{Bound, Finding, Kind, Severity, figure};
use super::practice::ANSWER_LAGS;

/// Share of the usable range within which the count in air should lie (common practice).
const AIR_WITHIN: f64 = 0.9;

pub(super) fn check(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    if figures.probe.is_none() {
        return;
    }
    sampling(figures, found);
    dry_end(figures, found);
    soak(figures, found);
    answer(figures, found);
}

/// How far the soil dries while the readings agree.
fn sampling(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let (Some(probe), Some(start_pct)) = (figures.probe, figures.start_pct()) else { return };
    let control = &figures.setup.scenario.control;
    let readings = f64::from(control.agree);
    let dries_pct_h = figures.dries_pct_h();
    let floor_pct = f64::from(probe.pull_out_floor().centi()) / 100.0;
    let wilting_pct = 100.0 * figures.pot().medium.wilting_point();
    let short_pct = 100.0 * figures.stress_theta(0, &figures.thirstiest(0).1);
    let longest_min = |level_pct: f64| figures.longest_between_min(start_pct, level_pct);
    let (severity, level_pct, consequence) = if control.sample_min > longest_min(floor_pct) {
        let consequence = "There a probe that has left the soil can no longer be told from thirst.";
        (Severity::Refuted, floor_pct, consequence)
    } else if control.sample_min > longest_min(wilting_pct) {
        (Severity::Refuted, wilting_pct, "There the plants wilt.")
    } else if start_pct > short_pct && control.sample_min > longest_min(short_pct) {
        (Severity::Look, short_pct, "There the plants are short of water.")
    } else {
        return;
    };
    if start_pct <= level_pct {
        // The level itself is wrong, whatever the sampling: another finding says so.
        return;
    }
    found.push(Finding {
        kind: Kind::SamplingTooCoarse,
        severity,
        field: "control.sample_min".to_owned(),
        value: control.sample_min,
        bound: Bound::AtMost(longest_min(level_pct)),
        why: format!(
            "In the thirstiest hour the plants dry this soil by {} % an hour. Until {} readings \
             agree it falls from {} % to below {} %. {consequence}",
            figure(dries_pct_h),
            figure(readings),
            figure(start_pct),
            figure(level_pct)
        ),
        remedy: "Read more often, or start at a higher level.".to_owned(),
    });
}

/// Counts of the dry end against the converter's range, as the controller is told it: from 1 % to
/// 98 % of full scale.
fn dry_end(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let (Some(probe), unit) = (figures.probe, &figures.setup.probe) else { return };
    let config = probe.config();
    let (low, high) = (f64::from(config.usable_low.0), f64::from(config.usable_high.0));
    let air = unit.air_counts();
    let field = "probe.air_counts".to_owned();
    let (refuted, bound) = if unit.falls_when_wet() {
        let near = low + AIR_WITHIN * (high - low);
        if air >= high {
            (true, Bound::AtMost(high))
        } else if air > near {
            (false, Bound::AtMost(near))
        } else {
            return;
        }
    } else {
        let near = high - AIR_WITHIN * (high - low);
        if air <= low {
            (true, Bound::AtLeast(low))
        } else if air < near {
            (false, Bound::AtLeast(near))
        } else {
            return;
        }
    };
    let why = if refuted {
        "In air this probe is beyond what its converter can tell apart: pulled out, bone dry, \
         unplugged and shorted give the same count, and none of them can be named."
    } else {
        "In air this probe is near the end of the converter's range, where many converters are bent \
         and where a little more of anything clips."
    };
    found.push(Finding {
        kind: Kind::DryEndClipped,
        severity: if refuted { Severity::Refuted } else { Severity::Look },
        field,
        value: air,
        bound,
        why: why.to_owned(),
        remedy:
            "Divide the signal by two resistors, or choose a wider range of the converter, and \
                 calibrate again."
                .to_owned(),
    });
}

/// Soak against the time that water needs to the probe.
fn soak(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let lag_min = figures.place().lag_min;
    let soak_min = figures.soak_min;
    let least_min = figures.least_soak_min();
    if soak_min >= least_min {
        return;
    }
    let refuted = soak_min < lag_min;
    let consequence = if refuted {
        "The next watering is decided by a reading that has not seen the last one."
    } else {
        "It ends before the reading has come to rest."
    };
    found.push(Finding {
        kind: Kind::SoakShorterThanLag,
        severity: if refuted { Severity::Refuted } else { Severity::Look },
        field: "control.soak_min".to_owned(),
        value: soak_min,
        bound: Bound::AtLeast(if refuted { lag_min } else { least_min }),
        why: format!(
            "Water needs {} min to the probe and goes on spreading there; the soak lasts {} min. \
             {consequence}",
            figure(lag_min),
            figure(soak_min)
        ),
        remedy: format!(
            "Let it soak for {} min, 60 are better; or move the probe nearer to the emitter.",
            figure(least_min)
        ),
    });
}

/// Time to judgement against the time that water needs to the probe. A late answer still clears what
/// was judged unanswered, so a sound zone locks out only where all its tries come before it.
fn answer(figures: &Figures<'_>, found: &mut Vec<Finding>) {
    let lag_min = figures.place().lag_min;
    let control = &figures.setup.scenario.control;
    let within_min = control.answer_within_min;
    if within_min >= ANSWER_LAGS * lag_min {
        return;
    }
    // From one dose to the next: the soak, and the readings that agree after it.
    let next_min = figures.soak_min + f64::from(control.agree) * control.sample_min;
    let tries = f64::from(control.answer_tries);
    let least_min = lag_min - (tries - 1.0) * next_min;
    let refuted = within_min < least_min;
    let consequence = if refuted {
        "All tries are judged before the first answer can come: a sound zone locks itself out."
    } else {
        "A slow answer counts as none, and enough of them in a row lock the zone out."
    };
    found.push(Finding {
        kind: Kind::AnswerTooEarly,
        severity: if refuted { Severity::Refuted } else { Severity::Look },
        field: "control.answer_within_min".to_owned(),
        value: within_min,
        bound: Bound::AtLeast(if refuted { least_min } else { ANSWER_LAGS * lag_min }),
        why: format!(
            "Water needs {} min to the probe, and its answer is awaited for {} min after closing. \
             {consequence}",
            figure(lag_min),
            figure(within_min)
        ),
        remedy: format!("Await the answer for {} min.", figure(ANSWER_LAGS * lag_min)),
    });
}
