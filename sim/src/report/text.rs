//! The report for a terminal, 80 columns, no colour.

use std::fmt::Write;

use super::calendar::Calendar;
use super::days::{Days, length_in_days};
use super::sentences::{self, Section};
use super::units::{NO_BREAK, glued};
use super::{details, happenings};
use crate::scenario::Setup;
use crate::score::Findings;

pub(super) const WIDTH: usize = 80;
/// Widths of the columns of the table of days, after the day itself.
const CELLS: [usize; 7] = [8, 8, 8, 7, 6, 7, 7];
/// Where the sentences stand; the headings are left of it.
const TEXT_AT: usize = 20;

/// The report of a run as text: sentences, days, details; at most 80 columns wide.
///
/// The same run gives the same bytes.
pub fn text(setup: &Setup, findings: &Findings) -> String {
    let calendar = Calendar::new(setup);
    let happenings = happenings::of(setup, findings);
    let mut out = String::new();
    paragraph(&mut out, &setup.scenario.title, 0);
    let site = &setup.scenario.site.name;
    let subtitle = format!("{} from {}, {site}", length_in_days(setup), calendar.first_date());
    paragraph(&mut out, &subtitle, 0);
    out.push('\n');
    for section in sentences::of(setup, findings) {
        write_section(&mut out, &section);
    }
    out.push('\n');
    paragraph(&mut out, setup.scenario.about.trim(), 0);
    let days = Days::of(setup, findings, &happenings);
    write_days(&mut out, &calendar, &days);
    write_details(&mut out, setup, findings);
    out
}

pub(super) fn write_section(out: &mut String, section: &Section) {
    let mut heading = section.heading;
    for sentence in &section.sentences {
        for line in wrapped(sentence, WIDTH - TEXT_AT) {
            push_line(out, &format!("{}{line}", padded(heading, TEXT_AT)));
            heading = "";
        }
    }
}

fn write_days(out: &mut String, calendar: &Calendar, days: &Days) {
    out.push_str("\nDAY BY DAY\n");
    let legend = "Driest and wettest true moisture of the probed soil in % by volume; hottest hour; \
                  reference evapotranspiration (evap.); rain on the soil; hours in which the probed \
                  plants were short of water; water given to all pots.";
    paragraph(out, legend, 0);
    out.push('\n');
    let labels: Vec<_> = days
        .rows
        .iter()
        .map(|row| {
            let (day, date) = days.label(calendar, row);
            format!("{day}  {date}")
        })
        .collect();
    let label_width = labels.iter().map(|label| label.chars().count()).max().unwrap_or(0);
    for heads in [
        ["driest", "wettest", "hottest", "evap.", "rain", "short", "given"],
        ["%", "%", "°C", "mm", "mm", "h", "L"],
    ] {
        push_line(out, &table_row("", label_width, &heads.map(str::to_owned)));
    }
    for (row, label) in days.rows.iter().zip(&labels) {
        let (driest, wettest) =
            row.moisture.map_or((String::new(), String::new()), |(low, high)| {
                (format!("{low:.1}"), format!("{high:.1}"))
            });
        let cells = [
            driest,
            wettest,
            format!("{:.1}", row.hottest.value),
            format!("{:.1}", row.eto_mm),
            format!("{:.1}", row.rain_mm),
            format!("{:.1}", row.short_h),
            format!("{:.2}", row.litres),
        ];
        push_line(out, &table_row(label, label_width, &cells));
        for (time, line) in row.lines(calendar, days.each) {
            let lead = format!("  {}  ", if time.is_empty() { "in all" } else { &time });
            let at = lead.chars().count();
            for (index, part) in wrapped(&line, WIDTH - at).iter().enumerate() {
                let lead = if index == 0 { lead.as_str() } else { "" };
                push_line(out, &format!("{}{part}", padded(lead, at)));
            }
        }
    }
}

fn table_row(label: &str, label_width: usize, cells: &[String]) -> String {
    let mut line = padded(label, label_width);
    for (cell, width) in cells.iter().zip(CELLS) {
        let blanks = width.saturating_sub(cell.chars().count());
        line.extend(std::iter::repeat_n(' ', blanks));
        line.push_str(cell);
    }
    line
}

fn write_details(out: &mut String, setup: &Setup, findings: &Findings) {
    out.push_str("\nDETAILS\n");
    let figures = details::figures(setup, findings);
    let width = figures.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0) + 2;
    for (name, value) in figures {
        for (index, part) in wrapped(&value, WIDTH - width).iter().enumerate() {
            let name = if index == 0 { name } else { "" };
            push_line(out, &format!("{}{part}", padded(name, width)));
        }
    }
    out.push_str("\nRULES\n");
    let rows: Vec<_> = findings.rules.scores().iter().map(details::rule).collect();
    for [words, held, worst, bound, code] in
        std::iter::once(details::RULE_HEADS.map(str::to_owned)).chain(rows)
    {
        let (words, held, bound) = (padded(&words, 50), padded(&held, 5), padded(&bound, 11));
        push_line(out, &format!("{words}{held}{worst:>9} {bound}{code}"));
    }
    paragraph(out, details::BESIDE_HEAD, 0);
    for rule in details::beside() {
        paragraph(out, &rule, 4);
    }
}

pub(super) fn padded(text: &str, width: usize) -> String {
    let blanks = width.saturating_sub(text.chars().count());
    let mut padded = text.to_owned();
    padded.extend(std::iter::repeat_n(' ', blanks));
    padded
}

pub(super) fn push_line(out: &mut String, line: &str) {
    out.push_str(line.trim_end());
    out.push('\n');
}

pub(crate) fn paragraph(out: &mut String, text: &str, indent: usize) {
    for line in wrapped(text, WIDTH - indent) {
        let _ = writeln!(out, "{}{line}", " ".repeat(indent));
    }
}

/// The text in lines of at most `width` characters; a longer word is cut.
pub(crate) fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    let mut used = 0;
    for word in glued(text).split(' ') {
        let letters: Vec<char> = word.replace(NO_BREAK, " ").chars().collect();
        for part in letters.chunks(width) {
            let gap = usize::from(used > 0);
            if used + gap + part.len() > width {
                lines.push(String::new());
                used = 0;
            }
            let gap = usize::from(used > 0);
            if let Some(line) = lines.last_mut() {
                line.extend(std::iter::repeat_n(' ', gap).chain(part.iter().copied()));
            }
            used += gap + part.len();
        }
    }
    lines
}
