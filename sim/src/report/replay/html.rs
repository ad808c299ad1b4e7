//! A replay as a page: sentences, picture, differences.

use maud::{PreEscaped, html};

use super::{MOST_LISTED, Telling, moment, picture, sections};
use crate::report::page::page;
use crate::report::units::glued;

/// What the list of differences needs beside the style of every page.
const MARKS: &str = "
.differences td { vertical-align: top; text-align: left; padding-right: 1rem; }
.differences td:first-child { white-space: nowrap; color: var(--soft); }
";

/// A replay as a page.
pub fn html(telling: &Telling<'_>) -> String {
    let same = telling.configured.iter().all(|one| one.compared.differences.is_empty());
    let class = if same { "answer yes" } else { "answer after" };
    let content = html! {
        section aria-label="Findings" {
            dl.findings {
                @for (index, section) in sections(telling).iter().enumerate() {
                    div class=[(index == 0).then_some(class)] {
                        dt { (section.heading) }
                        dd { @for sentence in &section.sentences { p { (glued(sentence)) } } }
                    }
                }
            }
        }
        section aria-labelledby="strip" {
            h2 #strip { "Side by side" }
            div.scrolls tabindex="0" role="group" aria-label="Strip chart, scrolls sideways" {
                (PreEscaped(picture::svg(telling)))
            }
        }
        @for one in telling.configured {
            @if !one.compared.differences.is_empty() {
                section {
                    h2 { "Otherwise with " (one.name) }
                    table.differences {
                        tbody {
                            @for it in one.compared.differences.iter().take(MOST_LISTED) {
                                tr { td { (moment(it.at_s)) } td { (glued(&it.what)) } }
                            }
                        }
                    }
                    @if one.compared.differences.len() > MOST_LISTED {
                        p.under { "and " (one.compared.differences.len() - MOST_LISTED) " more" }
                    }
                }
            }
        }
    };
    page(&format!("{}, decided again", telling.name), MARKS, &content)
}
