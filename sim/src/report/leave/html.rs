//! The page as a file that prints on one sheet.

use maud::{Markup, PreEscaped, html as markup};

use super::picture;
use super::sentences::{self, CAUTION, RULE_HEADS};
use crate::leave::Leave;
use crate::report::page::page;
use crate::report::units::glued;
use crate::score::PROVED_BESIDE;

const STYLE: &str = include_str!("leave.css");

/// The page: answer, list, picture, sentences, rules. The same question gives the same bytes.
pub fn html(leave: &Leave) -> String {
    let answer = leave.answer();
    let content = markup! {
        p.under { (sentences::under(leave)) }
        section aria-label="Answer" {
            p class=(format!("answer {}", answer.name())) { (answer.words()) }
            @if !leave.unmet.is_empty() {
                h2 { (sentences::list_heading(answer)) }
                ol.unmet {
                    @for item in &leave.unmet {
                        li class=[item.forbids.then_some("forbids")] { (glued(&item.text)) }
                    }
                }
            }
        }
        div.scrolls tabindex="0" role="group" aria-label="How long water and power last" {
            (PreEscaped(picture::svg(leave)))
        }
        section aria-label="Findings" {
            dl.findings {
                @for said in sentences::all(leave) {
                    div {
                        dt { (said.heading) }
                        dd { @for sentence in &said.sentences { p { (glued(sentence)) } } }
                    }
                }
            }
        }
        (rules(leave))
        p.about { (CAUTION) }
    };
    page(&leave.setup.scenario.title, STYLE, &content)
}

/// A short cell stays in one line.
fn together(cell: &str) -> String {
    cell.replace(' ', "\u{a0}")
}

fn rules(leave: &Leave) -> Markup {
    markup! {
        section aria-labelledby="rules" {
            h2 #rules { "Rules, and the proof behind each" }
            div.scrolls tabindex="0" role="group" aria-label="Table of rules" {
                table.rules {
                    thead { tr { @for head in RULE_HEADS { th scope="col" { (head) } } } }
                    tbody {
                        @for proof in &leave.rules {
                            @let [words, held, worst, bound, runs, by] =
                                sentences::rule(proof, leave.sound.runs);
                            tr class=[(!proof.score.held).then_some("broken")] {
                                th scope="row" { (words) }
                                td { (held) } td { (together(&worst)) } td { (together(&bound)) }
                                td { (together(&runs)) } td { (by) }
                            }
                        }
                        @for beside in PROVED_BESIDE {
                            tr {
                                th scope="row" { (beside.words) }
                                td {} td {} td {} td {}
                                td { (beside.proof) " (" (beside.name) ")" }
                            }
                        }
                    }
                }
            }
        }
    }
}
