//! A sweep as a page: sentences, picture, the settings nothing beats.

use maud::{Markup, PreEscaped, html};

use super::words::{name, value};
use super::{MOST_LISTED, Telling, picture, sentences};
use crate::report::page::page;
use crate::report::units::glued;
use crate::sweep::case::{APPLIED_L, DRAINED_L, STRESS_H};
use crate::sweep::setting::Status;

/// What the picture of a sweep needs beside the style of every page.
const MARKS: &str = "
svg .holds { fill: var(--truth); stroke: none; fill-opacity: .75; }
svg .fails { fill: none; stroke: var(--soft); stroke-width: 1; }
svg .unbeaten { fill: none; stroke: var(--water); stroke-width: 1.8; }
svg .taken { fill: none; stroke: var(--yes); stroke-width: 2.4; }
.settings td, .settings thead th { text-align: right; padding-left: .8rem; }
.settings tr.taken td { font-weight: 600; }
";

/// The findings of a sweep as a page. The same rows give the same bytes.
pub fn html(telling: &Telling<'_>) -> String {
    let scenario = &telling.base.setup().scenario;
    let title = format!("Settings for: {}", scenario.title);
    let content = html! {
        p.under { (scenario.site.name) }
        (findings(telling))
        section aria-labelledby="trade" {
            h2 #trade { "Plants against water" }
            div.scrolls tabindex="0" role="group" aria-label="Picture, scrolls sideways" {
                (PreEscaped(picture::svg(telling)))
            }
            p.about { (scenario.about.trim()) }
        }
        @if !telling.unbeaten.is_empty() { (unbeaten(telling)) }
        section aria-labelledby="means" {
            h2 #means { "What this means" }
            p.about {
                "A setting holds when after every run one would leave it, no rule was "
                "broken, and plants were not short of water for longer than is allowed. "
                "It is a promise about these runs of a model, never about your plants: "
                "stay with a new setting for its first weeks."
            }
        }
    };
    page(&title, MARKS, &content)
}

fn findings(telling: &Telling<'_>) -> Markup {
    let verdict = if telling.is_part() || !telling.is_done() {
        "after"
    } else if telling.taken().is_some() {
        "yes"
    } else {
        "no"
    };
    html! {
        section aria-label="Findings" {
            dl.findings {
                @for (index, section) in sentences::of(telling).iter().enumerate() {
                    @let class = if index == 0 { format!("answer {verdict}") } else { String::new() };
                    div class=[(!class.is_empty()).then_some(class)] {
                        dt { (section.heading) }
                        dd { @for sentence in &section.sentences { p { (glued(sentence)) } } }
                    }
                }
            }
        }
    }
}

fn unbeaten(telling: &Telling<'_>) -> Markup {
    let axes = &telling.asked.plan.axes;
    let taken = telling.taken().map(|taken| taken.setting.number);
    let more = telling.choice.front().len().saturating_sub(MOST_LISTED);
    html! {
        section aria-labelledby="unbeaten" {
            h2 #unbeaten { "Nothing tried beats these" }
            p.under {
                "Hours in which plants were short of water in the worst run; water given and drained "
                "on average."
            }
            div.scrolls tabindex="0" role="group" aria-label="Table of settings" {
                table.settings {
                    thead {
                        tr {
                            @for axis in axes { th scope="col" { (name(&axis.path)) } }
                            @for head in ["short, h", "given, L", "drained, L", "holds"] {
                                th scope="col" { (head) }
                            }
                        }
                    }
                    tbody {
                        @for setting in telling.unbeaten.iter().take(MOST_LISTED) {
                            tr class=[(taken == Some(setting.number)).then_some("taken")] {
                                @for (axis, &at) in axes.iter().zip(&setting.values) {
                                    td { (value(&axis.path, at)) }
                                }
                                td { (format!("{:.1}", setting.worst[STRESS_H])) }
                                td { (format!("{:.2}", setting.mean[APPLIED_L])) }
                                td { (format!("{:.2}", setting.mean[DRAINED_L])) }
                                td { @if setting.status == Status::Works { "yes" } @else { "no" } }
                            }
                        }
                    }
                }
            }
            @if more > 0 { p.under { "And " (more) " more, in the table of settings." } }
        }
    }
}
