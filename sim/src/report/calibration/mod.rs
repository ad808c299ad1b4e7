//! A calibration for people: sentences, a table of points, a picture. The same calibration gives the
//! same bytes.

mod html;
mod picture;
mod sentences;
mod text;

pub use html::html;
pub use text::text;

use crate::calibrate::Calibration;

fn title(of: &Calibration) -> String {
    let probe = of.probe.as_deref().map_or("a probe".to_owned(), |probe| format!("probe {probe}"));
    let substrate =
        of.substrate.as_deref().map_or(String::new(), |substrate| format!(" in {substrate}"));
    format!("Calibration of {probe}{substrate}")
}

/// The rows of the table of points: water, count, readings, spread, and what the taken shape missed
/// the point by when it was not shown it.
fn rows(of: &Calibration) -> Vec<[String; 5]> {
    let taken = of.compared.iter().find(|one| one.shape == of.shape);
    of.points
        .iter()
        .enumerate()
        .map(|(at, point)| {
            let miss = taken.and_then(|taken| taken.misses_pct.get(at).copied().flatten());
            [
                format!("{:.1}", point.water_pct),
                format!("{:.0}", point.raw),
                point.readings.to_string(),
                point.spread_counts.map_or(String::new(), |spread| format!("{spread:.1}")),
                miss.map_or(String::new(), |miss| format!("{miss:+.2}")),
            ]
        })
        .collect()
}

/// The heads of those columns, each with its unit.
const HEADS: [(&str, &str); 5] =
    [("water", "%"), ("count", ""), ("readings", ""), ("spread", "counts"), ("missed by", "%")];

/// What the last column says.
const MISSED: &str = "Missed by: what the curve says of a point when it is drawn without it, less \
                      what was weighed. The two ends cannot be left out, because nothing is foretold \
                      beyond the points.";
