//! A calibration as a page: sentences, picture, points.

use maud::{PreEscaped, html};

use super::sentences::{self, News};
use super::{HEADS, MISSED, picture, rows, title};
use crate::calibrate::Calibration;
use crate::report::page::page;
use crate::report::units::glued;

/// What the picture of a calibration needs beside the style of every page.
const MARKS: &str = "
svg .weighed { fill: var(--paper); stroke: var(--ink); stroke-width: 1.8; }
svg .node { stroke: var(--water); stroke-width: 1.6; }
svg .miss { stroke: var(--no); stroke-width: 2.4; }
svg .zero { stroke: var(--soft); stroke-width: 1; }
.points td, .points thead th { text-align: right; padding-left: 1rem; }
";

/// A calibration as a page.
pub fn html(calibration: &Calibration) -> String {
    let (news, sections) = sentences::of(calibration);
    let class = match news {
        News::Good => "answer yes",
        News::Mixed => "answer after",
        News::Bad => "answer no",
    };
    let content = html! {
        p.under {
            (calibration.readings) " readings, " (calibration.points.len()) " points"
            @if let Some(date) = calibration.date { ", " (date.strftime("%-d %B %Y").to_string()) }
        }
        section aria-label="Findings" {
            dl.findings {
                @for (index, section) in sections.iter().enumerate() {
                    div class=[(index == 0).then_some(class)] {
                        dt { (section.heading) }
                        dd { @for sentence in &section.sentences { p { (glued(sentence)) } } }
                    }
                }
            }
        }
        section aria-labelledby="curve" {
            h2 #curve { "The curve" }
            div.scrolls tabindex="0" role="group" aria-label="Picture, scrolls sideways" {
                (PreEscaped(picture::svg(calibration)))
            }
        }
        section aria-labelledby="points" {
            h2 #points { "Points" }
            @if !calibration.compared.is_empty() { p.under { (MISSED) } }
            div.scrolls tabindex="0" role="group" aria-label="Table of points" {
                table.points {
                    thead { tr { @for (head, unit) in HEADS { th scope="col" { (head) br; (unit) } } } }
                    tbody {
                        @for row in rows(calibration) {
                            tr { @for cell in &row { td { (cell) } } }
                        }
                    }
                }
            }
        }
        section aria-labelledby="device" {
            h2 #device { "Curve of the device" }
            p.under { "Count and percent; straight between two points, constant beyond the ends." }
            div.scrolls tabindex="0" role="group" aria-label="Table of the device's curve" {
                table.points {
                    thead { tr { th scope="col" { "count" } th scope="col" { "%" } } }
                    tbody {
                        @for point in &calibration.device.points {
                            tr { td { (point.raw) } td { (format!("{:.2}", point.water_pct)) } }
                        }
                    }
                }
            }
        }
    };
    page(&title(calibration), MARKS, &content)
}
