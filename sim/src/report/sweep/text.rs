//! A sweep for a terminal, 80 columns.

use super::words::{name, value};
use super::{MOST_LISTED, Telling, sentences};
use crate::report::text::{padded, paragraph, push_line, write_section};
use crate::sweep::case::{APPLIED_L, DRAINED_L, STRESS_H};
use crate::sweep::setting::Status;

/// Columns after the values: hours short, litres given, litres drained, whether it works.
const COLUMNS: [(&str, &str, usize); 4] =
    [("short", "h", 9), ("given", "L", 9), ("drained", "L", 11), ("holds", "", 7)];

/// The findings of a sweep as text.
pub fn text(telling: &Telling<'_>) -> String {
    let mut out = String::new();
    paragraph(&mut out, &format!("Settings for: {}", telling.base.setup().scenario.title), 0);
    out.push('\n');
    for section in sentences::of(telling) {
        write_section(&mut out, &section);
    }
    if telling.unbeaten.is_empty() {
        return out;
    }
    out.push_str("\nNOTHING TRIED BEATS THESE\n");
    let legend = "Hours in which plants were short of water in the worst run; water given and \
                  drained on average.";
    paragraph(&mut out, legend, 0);
    out.push('\n');
    write_table(&mut out, telling);
    out
}

fn write_table(out: &mut String, telling: &Telling<'_>) {
    let axes = &telling.asked.plan.axes;
    let rows: Vec<_> = telling.unbeaten.iter().take(MOST_LISTED).collect();
    let mut columns: Vec<Vec<String>> = vec![];
    for (at, axis) in axes.iter().enumerate() {
        let mut column = vec![name(&axis.path).to_owned()];
        column.extend(rows.iter().map(|setting| value(&axis.path, setting.values[at])));
        columns.push(column);
    }
    let widths: Vec<usize> = columns
        .iter()
        .map(|column| column.iter().map(|cell| cell.chars().count()).max().unwrap_or(0) + 2)
        .collect();
    for line in 0..=rows.len() {
        let cells =
            columns.iter().zip(&widths).map(|(column, &width)| padded(&column[line], width));
        let mut text: String = cells.collect();
        let figures = match line.checked_sub(1).map(|row| rows[row]) {
            None => COLUMNS.map(|(head, unit, _)| format!("{head} {unit}").trim_end().to_owned()),
            Some(setting) => [
                format!("{:.1}", setting.worst[STRESS_H]),
                format!("{:.2}", setting.mean[APPLIED_L]),
                format!("{:.2}", setting.mean[DRAINED_L]),
                if setting.status == Status::Works { "yes" } else { "no" }.to_owned(),
            ],
        };
        for (figure, (.., width)) in figures.iter().zip(COLUMNS) {
            text.extend(std::iter::repeat_n(' ', width.saturating_sub(figure.chars().count())));
            text.push_str(figure);
        }
        push_line(out, &text);
    }
    let more = telling.choice.front().len().saturating_sub(rows.len());
    if more > 0 {
        push_line(out, &format!("and {more} more, in the table of settings"));
    }
}
