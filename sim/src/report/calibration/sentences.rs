//! What a calibration says, in plain sentences.

use drydown::calibration::Basis;

use crate::calibrate::Calibration;
use crate::calibrate::recheck::{Recheck, signed};
use crate::report::sentences::Section;

/// How good the news is, by the class of its colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum News {
    Good,
    Mixed,
    Bad,
}

/// A curve weighed in its own substrate is right within 2 to 4 % by volume (common practice).
const GOOD_PCT: f64 = 4.0;

fn of_what(basis: Basis) -> &'static str {
    match basis {
        Basis::Volumetric => "% by volume",
        Basis::Span => "% of the span from air to water",
    }
}

pub(super) fn of(calibration: &Calibration) -> (News, Vec<Section>) {
    let (news, answer) = match calibration.rechecks.last() {
        Some(look) => looked(look),
        None => usable(calibration),
    };
    let mut sections = vec![Section { heading: "Can I use it?", sentences: answer }];
    if let Some(look) = calibration.rechecks.last() {
        sections.push(Section { heading: "The two cups", sentences: cups(calibration, look) });
    }
    if let Some(moved) = &calibration.moved {
        sections.push(Section {
            heading: "Moved",
            sentences: vec![format!(
                "The curve of {} was moved by {}, {:.1} % of its span, by one known point. Its slope \
                 was taken over and not measured on this unit.",
                moved.from_probe.as_deref().unwrap_or("the former probe"),
                signed(moved.by_counts),
                moved.of_span_pct
            )],
        });
    }
    sections.push(Section { heading: "Curve", sentences: vec![calibration.why.clone()] });
    sections.push(Section { heading: "Reaches", sentences: vec![reaches(calibration)] });
    sections.push(Section { heading: "On the device", sentences: device(calibration) });
    if !calibration.remarks.is_empty() {
        let remarks = calibration.remarks.iter().map(|remark| sentence(remark)).collect();
        sections.push(Section { heading: "Noticed", sentences: remarks });
    }
    sections.push(Section { heading: "Next", sentences: next(calibration) });
    (news, sections)
}

fn sentence(remark: &str) -> String {
    let mut letters = remark.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", letters.as_str())
}

fn usable(calibration: &Calibration) -> (News, Vec<String>) {
    let (low, high) = calibration.range_pct;
    let what = of_what(calibration.basis);
    match calibration.whole_error_pct() {
        _ if calibration.basis == Basis::Span => (
            News::Mixed,
            vec![
                "For a band, yes; not for doses. Percent of the span says nothing about how much \
                 water there is."
                    .to_owned(),
            ],
        ),
        None => (
            News::Mixed,
            vec![format!(
                "To try with, yes. How far it is off between its {} points is unknown: read more points \
                 where the plant lives.",
                calibration.points.len()
            )],
        ),
        Some(error) if error <= GOOD_PCT => (
            News::Good,
            vec![format!(
                "Yes. From {low:.0} to {high:.0} % it is right within ±{error:.1} {what}, 19 times of 20."
            )],
        ),
        Some(error) => (
            News::Mixed,
            vec![format!(
                "With a wide margin. From {low:.0} to {high:.0} % it is right within ±{error:.1} {what}, \
                 19 times of 20; more points bring that down."
            )],
        ),
    }
}

fn looked(look: &Recheck) -> (News, Vec<String>) {
    let worst = look.cups.iter().map(|cup| cup.drift_pct.abs()).fold(0.0, f64::max);
    if look.keep {
        let told = format!(
            "Yes, go on with the curve. It has drifted by {worst:.1} % at worst; up to {:.1} % is let pass.",
            look.bound_pct
        );
        (News::Good, vec![told])
    } else {
        let told = format!(
            "No, calibrate again. It has drifted by {worst:.1} %; up to {:.1} % is let pass. Look for water \
             in the board's edge and for salt before you do.",
            look.bound_pct
        );
        (News::Bad, vec![told])
    }
}

fn cups(calibration: &Calibration, look: &Recheck) -> Vec<String> {
    let before = calibration.rechecks.iter().rev().nth(1);
    let days = |from: Option<jiff::civil::Date>| {
        let (then, now) = (from?, look.date?);
        Some((now - then).get_days())
    };
    look.cups
        .iter()
        .map(|cup| {
            let direction = if cup.drift_pct > 0.0 { "wetter" } else { "drier" };
            let since =
                days(calibration.date).map_or(String::new(), |days| format!(" in {days} days"));
            let mut told = format!(
                "In {}: {:.0}, {} since the calibration{since}, {:.1} % {direction}",
                cup.cup,
                cup.raw,
                signed(cup.drift_counts),
                cup.drift_pct.abs()
            );
            if let Some(last) = cup.since_last_counts {
                let days = days(before.and_then(|look| look.date));
                let since = days.map_or(String::new(), |days| format!(" {days} days ago"));
                let last = signed(last);
                told = format!("{told}; {last} since the last look{since}");
            }
            told + "."
        })
        .collect()
}

fn reaches(calibration: &Calibration) -> String {
    let (Some(dry), Some(wet)) = (calibration.points.first(), calibration.points.last()) else {
        return String::new();
    };
    format!(
        "From {:.1} to {:.1} {}, counts {:.0} to {:.0}. Beyond its ends the device shows the end itself: \
         nothing is foretold there.",
        dry.water_pct,
        wet.water_pct,
        of_what(calibration.basis),
        dry.raw,
        wet.raw
    )
}

fn device(calibration: &Calibration) -> Vec<String> {
    let device = &calibration.device;
    let mut told = vec![format!(
        "{} points in whole numbers follow the curve to {:.2} %.",
        device.points.len(),
        device.added_pct
    )];
    if let Some(drift) = device.drift {
        told.push(format!(
            "It takes back {:+.2} ± {:.2} % for each degree above {:.1} °C.",
            drift.pct_per_degree, drift.plus_minus, drift.reference_c
        ));
    }
    told
}

fn next(calibration: &Calibration) -> Vec<String> {
    let mut told = vec![];
    if let Some(error) = calibration.whole_error_pct() {
        told.push(format!(
            "Keep start at least {error:.1} % above the level at which plants run short, and stop as far \
             below what the drained pot reads."
        ));
    }
    told.push(
        "Look again at two cups in four weeks, after feeding, and at the change of season."
            .to_owned(),
    );
    told
}
