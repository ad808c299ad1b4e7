//! What a log shows, as a page: sentences, picture, and each finding with its evidence.

use maud::{PreEscaped, html};

use super::{means, moment, picture, sections, todo};
use crate::explain::Explained;
use crate::report::page::page;
use crate::report::units::glued;

/// What evidence needs beside the style of every page.
const MARKS: &str = "
.evidence { margin: .4rem 0; }
.evidence td { vertical-align: top; text-align: left; padding-right: 1rem; }
.evidence td:first-child, .evidence td:nth-child(2) { white-space: nowrap; color: var(--soft); }
.found p { max-width: 46rem; }
@media (max-width: 40rem) { .evidence td:nth-child(2) { display: none; } }
";

/// What a log shows, as a page.
pub fn html(name: &str, of: &Explained) -> String {
    let healthy = of.troubles().next().is_none();
    let class = if healthy { "answer yes" } else { "answer after" };
    let content = html! {
        section aria-label="Findings" {
            dl.findings {
                @for (index, section) in sections(of).iter().enumerate() {
                    div class=[(index == 0).then_some(class)] {
                        dt { (section.heading) }
                        dd { @for sentence in &section.sentences { p { (glued(sentence)) } } }
                    }
                }
            }
        }
        section aria-labelledby="course" {
            h2 #course { "The log" }
            div.scrolls tabindex="0" role="group" aria-label="Strip chart, scrolls sideways" {
                (PreEscaped(picture::svg(of)))
            }
        }
        @for (index, finding) in of.findings.iter().enumerate() {
            section.found {
                h2 { (index + 1) ". " (finding.pattern.heading()) }
                p { (glued(&means(finding))) }
                div.scrolls tabindex="0" role="group" aria-label="Table of evidence" {
                    table.evidence {
                        tbody {
                            @for one in &finding.evidence {
                                tr {
                                    td { (moment(one.at_h)) }
                                    td { "line " (one.line) }
                                    td { (glued(&one.what)) }
                                }
                            }
                        }
                    }
                }
                p { strong { "What to do: " } (glued(&todo(finding))) }
            }
        }
    };
    page(&format!("What {name} shows"), MARKS, &content)
}
