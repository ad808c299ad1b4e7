//! What a log told, for a terminal, 80 columns.

use super::{HEADS, rows, sentences};
use crate::fit::Fit;
use crate::report::text::{padded, paragraph, push_line, write_section};

/// Widths of the columns of the table of figures.
const WIDTHS: [usize; 5] = [28, 11, 9, 18, 0];

/// What a log told, as text.
pub fn text(name: &str, fit: &Fit) -> String {
    let mut out = String::new();
    paragraph(&mut out, &format!("What {name} tells"), 0);
    out.push('\n');
    for section in sentences::of(fit).1 {
        write_section(&mut out, &section);
    }
    let rows = rows(fit);
    if rows.is_empty() {
        return out;
    }
    out.push_str("\nFIGURES\n");
    for row in [HEADS.map(str::to_owned)].into_iter().chain(rows) {
        let cells = row.iter().zip(WIDTHS).map(|(cell, width)| padded(cell, width));
        push_line(&mut out, &cells.collect::<String>());
    }
    out
}
