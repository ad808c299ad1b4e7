//! A replay for a terminal, 80 columns.

use super::{MOST_LISTED, Telling, moment, sections};
use crate::report::text::{padded, paragraph, push_line, wrapped, write_section};

/// Room for the moment.
const MOMENT: usize = 14;

/// A replay as text.
pub fn text(telling: &Telling<'_>) -> String {
    let mut out = String::new();
    paragraph(&mut out, &format!("{}, decided again", telling.name), 0);
    out.push('\n');
    for section in sections(telling) {
        write_section(&mut out, &section);
    }
    for one in telling.configured {
        if one.compared.differences.is_empty() {
            continue;
        }
        out.push('\n');
        push_line(&mut out, &format!("OTHERWISE WITH {}", one.name.to_uppercase()));
        for difference in one.compared.differences.iter().take(MOST_LISTED) {
            let mut at = moment(difference.at_s);
            for line in wrapped(&difference.what, 80 - MOMENT) {
                push_line(&mut out, &format!("{}{line}", padded(&at, MOMENT)));
                at.clear();
            }
        }
        let more = one.compared.differences.len().saturating_sub(MOST_LISTED);
        if more > 0 {
            push_line(&mut out, &format!("and {more} more"));
        }
    }
    out
}
