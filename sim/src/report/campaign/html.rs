//! The campaign as a page: the matrix as a picture, then its tables.

use maud::{Markup, PreEscaped, html};

use super::grid;
use super::rows::{Gathered, HEADS, figures, single, verdict};
use super::sentences::{self, Hardware};
use crate::campaign::Campaign;
use crate::campaign::matrix::Extent;
use crate::campaign::verdict::Verdict;
use crate::fault::{Family, Kind};
use crate::report::page::page;
use crate::report::units::glued;

const MATRIX_STYLE: &str = include_str!("matrix.css");

/// The campaign as a page. `name` is what the scenario was called on the command line. The same
/// campaign gives the same bytes.
pub fn html(name: &str, campaign: &Campaign, extent: &Extent) -> String {
    let gathered = Gathered::new(campaign);
    let scenario = campaign.settings.first().map(|one| &one.setup.scenario);
    let title = format!("Faults in: {}", scenario.map_or("", |one| one.title.as_str()));
    let wrong = sentences::wrong(campaign, &gathered);
    let content = html! {
        p.under { "scenario " (name) }
        (findings(campaign, extent, &wrong))
        (matrix(campaign, &gathered))
        (hardware_section(
            "beyond", "What no software stops, and what does",
            &sentences::beyond(campaign, &gathered),
        ))
        (hardware_section(
            "unseen", "What nothing fitted sees, and what would",
            &sentences::unseen(campaign, &gathered),
        ))
        (singles(campaign, &gathered))
    };
    page(&title, MATRIX_STYLE, &content)
}

fn findings(campaign: &Campaign, extent: &Extent, wrong: &[String]) -> Markup {
    html! {
        section aria-label="Findings" {
            dl.findings {
                div.answer { dt { "In short" } dd { p { (glued(&sentences::answer(campaign))) } } }
                @if !wrong.is_empty() {
                    div {
                        dt { "Not as it should be" }
                        dd { @for line in wrong { p { (glued(line)) } } }
                    }
                }
                div {
                    dt { "What was tried" }
                    dd { @for line in sentences::extent(campaign, extent) { p { (glued(&line)) } } }
                }
            }
        }
    }
}

fn matrix(campaign: &Campaign, gathered: &Gathered<'_>) -> Markup {
    html! {
        section aria-labelledby="matrix" {
            h2 #matrix { "Every fault against every other" }
            p.under {
                "Each fault by itself on the diagonal, each pair below it, at the row of the one and "
                "the column of the other. The mark is the worst over all cases."
            }
            ul.key {
                @for (verdict, count) in sentences::counted(campaign) {
                    @if verdict != Verdict::NotHere {
                        li {
                            (PreEscaped(grid::key(verdict))) " " (verdict.words())
                            " " span.count { (sentences::thousands(count)) " cases" }
                        }
                    }
                }
            }
            div.scrolls tabindex="0" role="group" aria-label="Matrix, scrolls sideways" {
                (PreEscaped(grid::svg(campaign, gathered)))
            }
        }
    }
}

fn hardware_section(id: &str, heading: &str, rows: &[Hardware]) -> Markup {
    html! {
        @if !rows.is_empty() {
            section aria-labelledby=(id) {
                h2 id=(id) { (heading) }
                dl.cautions {
                    @for row in rows {
                        dt { (row.words) }
                        dd { (glued(&row.figures())) ". Answered by " (row.answered_by) "." }
                    }
                }
            }
        }
    }
}

fn singles(campaign: &Campaign, gathered: &Gathered<'_>) -> Markup {
    html! {
        section aria-labelledby="singles" {
            h2 #singles { "Each fault by itself" }
            p.under {
                "The worst over all hours, with and without a person: water given and spilled after "
                "the fault; when the water first stood still; when the device first said that "
                "something is wrong; hours in which plants were short of water."
            }
            @for family in Family::ALL {
                h3 { (family.heading()) }
                div.scrolls tabindex="0" role="group" aria-label={ "Table: " (family.heading()) } {
                    table.singles {
                        thead {
                            tr {
                                th scope="col" { "watering" }
                                @for (head, unit) in HEADS {
                                    th scope="col" { (head) br; (unit) }
                                }
                                th scope="col" { "found" }
                            }
                        }
                        @for &kind in Kind::ALL.iter().filter(|kind| kind.family() == family) {
                            (single_rows(campaign, gathered, kind))
                        }
                    }
                }
            }
        }
    }
}

fn single_rows(campaign: &Campaign, gathered: &Gathered<'_>, kind: Kind) -> Markup {
    html! {
        tbody {
            tr { th colspan="7" scope="rowgroup" { (campaign.words(kind)) } }
            @for (index, settings) in campaign.settings.iter().enumerate() {
                @if let Some(worst) = gathered.with_policy(single(kind), index) {
                    tr class=[(worst.verdict == Verdict::Wrong).then_some("broken")] {
                        td { (sentences::policy(settings.policy)) }
                        @for cell in figures(&worst) { td { (glued(&cell)) } }
                        td { (verdict(&worst)) }
                    }
                }
            }
        }
    }
}
