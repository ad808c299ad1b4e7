//! Start and stop: between what the drained soil reads and what the plants bear.

use std::fmt::Write;

use drydown::probe::CheckedProbe;

use super::dose::rounded;
use super::{Group, Line};
use crate::check::figure;
use crate::check::figures::Figures;
use crate::check::practice::{RIPPLES, STOP_MARGIN_PCT};
use crate::crop::depletion_fraction;
use crate::scenario::schema::SubstrateKind;

/// Least width of a band, % (common practice).
const LEAST_WIDTH_PCT: f64 = 5.0;
/// Time between readings, min: usual (common practice), and the longest that the library takes.
const USUAL_BETWEEN_MIN: f64 = 10.0;
const MOST_BETWEEN_MIN: f64 = 360.0;
/// Dry peat does not take water again: no start below this share of container capacity (common
/// practice, on Bartley et al. 2023).
const PEAT_FLOOR: f64 = 0.5;

const CAPACITY: &str = "water held after free drainage: container capacity (Milks, Fonteno & Larson \
    1989); in a bed what is left a day after wetting (Black, Gardner & Thurtell 1969, SSSAJ 33:655)";
const REFILL: &str = "FAO-56 eq. 82, 83 and 87, p of Table 22 with its note 2; in a substrate the \
    end of easily available water (De Boodt & Verdonck 1972, from memory), and for peat half of \
    container capacity (common practice, on Bartley et al. 2023, HortScience 58:79)";
const MARGIN: &str = "at least the error of the calibration, and 1 %: common practice";
const WIDTH: &str = "three times the daily ripple, 5 %, and what noise and ripple make together: \
    common practice; ripple of about 2 % in 10 K: MethodsX 2025, doi 10.1016/j.mex.2024.103100";
const STOP: &str = "below what the drained soil reads, less the margin and what is still on its way: \
    common practice";
const START: &str = "above the refill point by the margin, and below stop by the width of the band; \
    pots held within 2 to 3 % for 40 days: Nemali & van Iersel 2005, HortScience 40:1017D";
const BETWEEN: &str = "ten minutes: common practice; the thirstiest hour of the weather at the plants' \
    use: FAO-56 eq. 80";

/// The levels a sizing goes on with: those of the scenario where they fit, else what it proposes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Levels {
    /// Start, %.
    pub start_pct: f64,
    /// Stop, %.
    pub stop_pct: f64,
}

/// Easily available water of a substrate, % by volume, the low end of what handbooks give (from
/// memory; De Boodt & Verdonck 1972 for the terms).
pub(super) const fn easily_available_pct(kind: SubstrateKind) -> f64 {
    match kind {
        SubstrateKind::Peat | SubstrateKind::Coir => 20.0,
        SubstrateKind::BlackPeat => 15.0,
        SubstrateKind::Bark | SubstrateKind::Perlite => 5.0,
        SubstrateKind::Mix => 25.0,
    }
}

/// A tenth of a percent, to the wetter side.
fn up(value: f64) -> f64 {
    (value * 10.0 - 1e-6).ceil() / 10.0
}

fn down(value: f64) -> f64 {
    (value * 10.0 + 1e-6).floor() / 10.0
}

pub(super) fn lines(figures: &Figures<'_>, lines: &mut Vec<Line>) -> Levels {
    let drained_pct = 100.0 * figures.drained_theta(0);
    let group = Group::Soil;
    let bed = figures.setup.scenario.bed.as_ref();
    let (name, arithmetic) = match bed {
        Some(bed) => (
            "the drained soil",
            format!("{} under {} m of roots, a day after it was full", bed.soil, bed.root_depth_m),
        ),
        None => ("container capacity", "as the scenario says".to_owned()),
    };
    lines.push(Line::told((group, "drained", name), (drained_pct, "%"), arithmetic, CAPACITY));
    let (floor_pct, arithmetic) = refill(figures);
    lines.push(Line::told(
        (group, "refill", "the refill point"),
        (floor_pct, "%"),
        arithmetic,
        REFILL,
    ));
    let margin = margin(figures);
    let margin_pct = margin.proposed;
    lines.push(margin);
    let width = width(figures, 0.01 * floor_pct);
    let (width_pct, least_width_pct) = (width.proposed, width.least.unwrap_or_default());
    lines.push(width);
    let fitted = Fitted { drained_pct, floor_pct, margin_pct, width_pct, least_width_pct };
    let levels = fitted.levels(figures, lines);
    lines.extend(sampling(figures, levels.start_pct));
    levels
}

/// Time between readings, so that a plant is not short of water before enough of them agree.
fn sampling(figures: &Figures<'_>, start_pct: f64) -> Option<Line> {
    let short_pct = 100.0 * figures.stress_theta(0, &figures.thirstiest(0).1);
    // From a start below that the level itself is wrong, whatever the sampling.
    figures.probe.filter(|_| start_pct > short_pct)?;
    let agree = figures.setup.scenario.control.agree;
    let most_min = figures.longest_between_min(start_pct, short_pct).min(MOST_BETWEEN_MIN);
    let line = Line::told(
        (Group::Soil, "between-readings", "the time between readings"),
        (rounded(USUAL_BETWEEN_MIN, 0.0, most_min), "min"),
        format!(
            "{} min is usual; from {} % to {} %, short of water, the plants take {} min in the \
             thirstiest hour, and {agree} readings must agree in it: at most {} min",
            figure(USUAL_BETWEEN_MIN),
            figure(start_pct),
            figure(short_pct),
            figure(60.0 * (start_pct - short_pct) / figures.dries_pct_h()),
            figure(most_min)
        ),
        BETWEEN,
    )
    .field("control.sample_min", Some(figures.setup.scenario.control.sample_min))
    .at_most(most_min);
    Some(line)
}

/// Where plants run short of water, %: by depletion, and in a pot by its substrate; and how.
fn refill(figures: &Figures<'_>) -> (f64, String) {
    let pot = figures.pot();
    let (at, day) = figures.thirstiest(0);
    let short_pct = 100.0 * figures.stress_theta(0, &day);
    let (full_pct, dry_pct) = (100.0 * pot.medium.capacity(), 100.0 * pot.medium.wilting_point());
    let etc_mm = pot.planting.kcb * day.eto_mm;
    let p = depletion_fraction(pot.planting.depletion_fraction, etc_mm);
    let mut arithmetic = format!(
        "on day {} the plants take {} mm: p = {} + 0.04 × (5 − {}) = {}; {} − {} × ({} − {}) = {} %",
        at + 1,
        figure(etc_mm),
        figure(pot.planting.depletion_fraction),
        figure(etc_mm),
        figure(p),
        figure(full_pct),
        figure(p),
        figure(full_pct),
        figure(dry_pct),
        figure(short_pct),
    );
    let mut floor_pct = short_pct;
    let Some(container) = &figures.setup.scenario.container else { return (floor_pct, arithmetic) };
    let mut also = |level_pct: f64, how: String| {
        if level_pct > floor_pct {
            floor_pct = level_pct;
            arithmetic =
                format!("{how} = {} %; by depletion alone: {arithmetic}", figure(level_pct));
        }
    };
    if let Some(kind) = container.substrate {
        let easily_pct = easily_available_pct(kind);
        let how = format!("{} − {} % easily available", figure(full_pct), figure(easily_pct));
        also(full_pct - easily_pct, how);
        if matches!(kind, SubstrateKind::Peat | SubstrateKind::BlackPeat) {
            also(PEAT_FLOOR * full_pct, format!("peat: {PEAT_FLOOR} × {}", figure(full_pct)));
        }
    }
    also(container.shrinks_below_pct, "the substrate shrinks from the wall below this".to_owned());
    (floor_pct, arithmetic)
}

/// Error of the calibration, ± %: as said, or twice the weighing error.
fn calibration_error_pct(figures: &Figures<'_>) -> (f64, &'static str) {
    let probe = &figures.setup.scenario.probe;
    let said = probe.calibration_error_pct.is_some();
    (probe.error_pct(), if said { "as calibrated" } else { "twice the weighing error" })
}

/// Distance that start keeps from the refill point and stop from the drained soil.
fn margin(figures: &Figures<'_>) -> Line {
    let (error_pct, how) = calibration_error_pct(figures);
    Line::told(
        (Group::Soil, "margin", "the margin at both ends"),
        (up(error_pct.max(STOP_MARGIN_PCT)), "%"),
        format!(
            "calibration ± {} % ({how}), and no less than {} %",
            figure(error_pct),
            figure(STOP_MARGIN_PCT)
        ),
        MARGIN,
    )
}

/// Width of the band. Its least is what noise and ripple make: below that it waters by itself.
fn width(figures: &Figures<'_>, theta: f64) -> Line {
    let (noise_pct, ripple_pct) = (figures.noise_pct(theta), figures.ripple_pct());
    // Response supervision judges only what begins more than twice its threshold below stop.
    let detection = figures.setup.zone.config().response.detection;
    let owes_pct = figures.probe.map_or(0.0, |_| (2.0 * f64::from(detection) + 1.0) / 100.0);
    let least_pct = (noise_pct + ripple_pct).max(owes_pct);
    let width_pct = up(LEAST_WIDTH_PCT.max(RIPPLES * ripple_pct).max(least_pct));
    Line {
        least: Some(least_pct),
        present: width_now(figures),
        ..Line::told(
            (Group::Soil, "width", "the band from start to stop"),
            (width_pct, "%"),
            format!(
                "the greatest of {} %, {} × ripple {ripple_pct:.2} % = {:.2} %, and {least_pct:.2} %, up to \
                 a tenth: {} %; narrower than noise {} % + ripple {} % it waters although no plant drank, \
                 and within {} % of stop no answer is owed",
                figure(LEAST_WIDTH_PCT),
                figure(RIPPLES),
                RIPPLES * ripple_pct,
                figure(width_pct),
                figure(noise_pct),
                figure(ripple_pct),
                figure(owes_pct)
            ),
            WIDTH,
        )
    }
}

fn width_now(figures: &Figures<'_>) -> Option<f64> {
    Some(figures.stop_pct()? - figures.start_pct()?)
}

/// What start and stop are fitted between.
#[expect(clippy::struct_field_names, reason = "each ends in its unit")]
struct Fitted {
    drained_pct: f64,
    floor_pct: f64,
    margin_pct: f64,
    width_pct: f64,
    least_width_pct: f64,
}

impl Fitted {
    fn levels(&self, figures: &Figures<'_>, lines: &mut Vec<Line>) -> Levels {
        let Self { floor_pct, margin_pct, width_pct, least_width_pct, .. } = *self;
        let stop = self.stop(figures);
        let told_apart = |probe: &CheckedProbe| f64::from(probe.pull_out_floor().centi()) / 100.0;
        let told_apart_pct = figures.probe.map_or(0.0, told_apart);
        let least_pct = up((floor_pct + margin_pct).max(told_apart_pct));
        let lowest_stop_pct = least_pct + least_width_pct;
        let most_pct = stop.proposed;
        let now_stop = figures
            .kept(figures.stop_pct())
            .filter(|now| (lowest_stop_pct..=most_pct).contains(now));
        let stop_pct = now_stop.unwrap_or(most_pct);
        let highest_pct = down(stop_pct - least_width_pct);
        let start_pct = down(stop_pct - width_pct).max(least_pct).min(highest_pct);
        let now_start =
            figures.kept(figures.start_pct()).filter(|now| (least_pct..=highest_pct).contains(now));
        if figures.probe.is_some() {
            lines.push(stop.at_least(lowest_stop_pct).at_most(most_pct));
            lines.push(
                Line::told(
                    (Group::Soil, "start", "the start level"),
                    (start_pct, "%"),
                    format!(
                        "stop less the band: {} − {} = {} %; no lower than {floor_pct:.2} + {}, up to a \
                         tenth: {} %{}; no higher than {} − {least_width_pct:.2}, down to a tenth: {} %",
                        figure(stop_pct),
                        figure(width_pct),
                        figure(down(stop_pct - width_pct)),
                        figure(margin_pct),
                        figure(up(floor_pct + margin_pct)),
                        if told_apart_pct > floor_pct + margin_pct {
                            format!(
                                ", nor than {} %, below which a probe pulled out passes for thirst",
                                figure(least_pct)
                            )
                        } else {
                            String::new()
                        },
                        figure(stop_pct),
                        figure(highest_pct)
                    ),
                    START,
                )
                .field("control.start_pct", figures.start_pct())
                .at_least(least_pct)
                .at_most(highest_pct),
            );
        }
        Levels { start_pct: now_start.unwrap_or(start_pct), stop_pct }
    }

    fn stop(&self, figures: &Figures<'_>) -> Line {
        let Self { drained_pct, margin_pct, .. } = *self;
        let reads_pct = figures.probe.map_or(drained_pct, |probe| {
            figures.reads_pct(probe, 0.01 * drained_pct, figures.mean_c())
        });
        let way_l = if figures.ends_at_stop { figures.runs_on_l() } else { 0.0 };
        let way_pct = 100.0 * way_l / figures.pot().medium.volume_l();
        let stop_pct = down(reads_pct - margin_pct - way_pct);
        let mut arithmetic = format!(
            "the drained soil reads {reads_pct:.2} % at {} °C, less {} %",
            figure(figures.mean_c()),
            figure(margin_pct)
        );
        if way_l > 0.0 {
            let _ = write!(
                arithmetic,
                ", less {} L still on their way ({} L/h for {} min) in {} L: {way_pct:.2} %",
                figure(way_l),
                figure(figures.flow_l_h(0)),
                figure(figures.place().lag_min),
                figure(figures.pot().medium.volume_l()),
            );
        }
        let _ = write!(arithmetic, "; down to a tenth: {} %", figure(stop_pct));
        Line::told((Group::Soil, "stop", "the stop level"), (stop_pct, "%"), arithmetic, STOP)
            .field("control.stop_pct", figures.stop_pct())
    }
}
