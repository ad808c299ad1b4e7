//! What a log told, as a page: sentences, picture, figures.

use maud::{PreEscaped, html};

use super::{HEADS, picture, rows, sentences};
use crate::fit::Fit;
use crate::report::page::page;
use crate::report::units::glued;

/// What the picture of a fit needs beside the style of every page.
const MARKS: &str = "
svg .recorded { fill: var(--read); stroke: none; }
svg .miss-area { fill: var(--area); stroke: var(--ink); stroke-width: .8; }
svg .zero { stroke: var(--soft); stroke-width: 1; }
.figures-found td { text-align: right; padding-left: 1rem; }
.figures-found td:last-child { text-align: left; }
.figures-found tbody th { font-weight: 400; }
";

/// What a log told, as a page.
pub fn html(name: &str, fit: &Fit) -> String {
    let (good, sections) = sentences::of(fit);
    let class = if good { "answer yes" } else { "answer after" };
    let rows = rows(fit);
    let content = html! {
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
        @if let Some(picture) = picture::svg(fit) {
            section aria-labelledby="against" {
                h2 #against { "Fitted against recorded" }
                div.scrolls tabindex="0" role="group" aria-label="Picture, scrolls sideways" {
                    (PreEscaped(picture))
                }
            }
        }
        @if !rows.is_empty() {
            section aria-labelledby="figures" {
                h2 #figures { "Figures" }
                div.scrolls tabindex="0" role="group" aria-label="Table of figures" {
                    table.figures-found {
                        thead { tr { @for head in HEADS { th scope="col" { (head) } } } }
                        tbody {
                            @for [what, cells @ ..] in &rows {
                                tr { th scope="row" { (what) } @for cell in cells { td { (cell) } } }
                            }
                        }
                    }
                }
            }
        }
    };
    page(&format!("What {name} tells"), MARKS, &content)
}
