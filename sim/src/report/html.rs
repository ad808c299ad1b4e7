//! The report of a run as a page.

use maud::{Markup, PreEscaped, html};

use super::calendar::Calendar;
use super::cautions::CAUTIONS;
use super::days::{Days, Stretch, length_in_days};
use super::page::page;
use super::sentences::{self, Section};
use super::units::glued;
use super::{chart, details, happenings};
use crate::scenario::Setup;
use crate::score::{Findings, Verdict};

/// The report of a run as a page: sentences, strip chart, days, details, cautions.
///
/// `name` is what the scenario was called on the command line. The same run gives the same bytes.
pub fn html(name: &str, setup: &Setup, findings: &Findings) -> String {
    let calendar = Calendar::new(setup);
    let happenings = happenings::of(setup, findings);
    let days = Days::of(setup, findings, &happenings);
    let title = &setup.scenario.title;
    let content = html! {
        p.under {
            (length_in_days(setup)) " from " (calendar.first_date()) ", "
            (setup.scenario.site.name)
        }
        (findings_section(&sentences::of(setup, findings), findings))
        section aria-labelledby="strip" {
            h2 #strip { "The run as a strip" }
            div.scrolls tabindex="0" role="group" aria-label="Strip chart, scrolls sideways" {
                (PreEscaped(chart::svg(setup, findings, &happenings, &days)))
            }
            p.about { (setup.scenario.about.trim()) }
        }
        (days_section(&calendar, &days))
        (details_section(name, setup, findings))
        section aria-labelledby="cautions" {
            h2 #cautions { "What no simulation can see" }
            dl.cautions {
                @for (heading, text) in CAUTIONS { dt { (heading) } dd { (text) } }
            }
        }
    };
    page(title, "", &content)
}

fn findings_section(sections: &[Section], findings: &Findings) -> Markup {
    let answer = match findings.answer.verdict {
        Verdict::Yes => "yes",
        Verdict::After => "after",
        Verdict::No => "no",
    };
    html! {
        section aria-label="Findings" {
            dl.findings {
                @for (index, section) in sections.iter().enumerate() {
                    @let class = if index == 0 { format!("answer {answer}") } else { String::new() };
                    div class=[(!class.is_empty()).then_some(class)] {
                        dt { (section.heading) }
                        dd { @for sentence in &section.sentences { p { (glued(sentence)) } } }
                    }
                }
            }
        }
    }
}

fn days_section(calendar: &Calendar, days: &Days) -> Markup {
    let heading =
        if days.each == 1 { "Day by day".to_owned() } else { format!("By {} days", days.each) };
    html! {
        section aria-labelledby="days" {
            h2 #days { (heading) }
            p.under {
                "Driest and wettest true moisture of the probed soil, the hottest hour, reference "
                "evapotranspiration, rain on the soil, hours in which the probed plants were "
                "short of water, and water given to all pots."
            }
            div.scrolls tabindex="0" role="group" aria-label="Table of days" {
                table.days {
                    thead {
                        tr {
                            th scope="col" { "day" }
                            @for (head, unit) in [
                                ("driest", "%"), ("wettest", "%"), ("hottest", "°C"), ("evap.", "mm"),
                                ("rain", "mm"), ("short", "h"), ("given", "L"),
                            ] { th scope="col" { (head) br; (unit) } }
                        }
                    }
                    @for row in &days.rows { (day_rows(calendar, days, row)) }
                }
            }
        }
    }
}

fn day_rows(calendar: &Calendar, days: &Days, row: &Stretch) -> Markup {
    let lines = row.lines(calendar, days.each);
    let (day, date) = days.label(calendar, row);
    html! {
        tbody {
            tr.figures {
                th scope="rowgroup" { span { (day) } " " span { (date) } }
                @match row.moisture {
                    Some((low, high)) => { td { (format!("{low:.1}")) } td { (format!("{high:.1}")) } }
                    None => { td {} td {} }
                }
                td { (format!("{:.1}", row.hottest.value)) }
                td { (format!("{:.1}", row.eto_mm)) }
                td { (format!("{:.1}", row.rain_mm)) }
                td { (format!("{:.1}", row.short_h)) }
                td { (format!("{:.2}", row.litres)) }
            }
            @if !lines.is_empty() {
                tr {
                    td.told colspan="8" {
                        ul {
                            @for (time, line) in &lines {
                                li {
                                    span.time { @if time.is_empty() { "in all" } @else { (time) } }
                                    " " (glued(line))
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn details_section(name: &str, setup: &Setup, findings: &Findings) -> Markup {
    html! {
        section aria-labelledby="details" {
            h2 #details { "Details" }
            dl.figures {
                div { dt { "scenario" } dd { (name) } }
                @for (name, value) in details::figures(setup, findings) {
                    div { dt { (name) } dd { (value) } }
                }
            }
            h3 { "Rules" }
            div.scrolls tabindex="0" role="group" aria-label="Table of rules" {
                table.rules {
                    thead { tr { @for head in details::RULE_HEADS { th scope="col" { (head) } } } }
                    tbody {
                        @for score in findings.rules.scores() {
                            @let [words, held, worst, bound, code] = details::rule(&score);
                            tr class=[(!score.held).then_some("broken")] {
                                th scope="row" { (words) }
                                td { (held) } td { (worst) } td { (bound) } td { (code) }
                            }
                        }
                    }
                }
            }
            p { (details::BESIDE_HEAD) }
            ul { @for rule in details::beside() { li { (rule) } } }
        }
    }
}
