//! The page for a terminal, 80 columns.

use std::fmt::Write;

use super::sentences::{self, CAUTION};
use crate::leave::Leave;
use crate::report::text::{WIDTH, padded, paragraph, push_line, wrapped};
use crate::score::PROVED_BESIDE;

/// Where sentences stand.
const TEXT_AT: usize = 20;

/// The page as text, at most 80 columns wide. The same question gives the same bytes.
pub fn text(leave: &Leave) -> String {
    let mut out = String::new();
    paragraph(&mut out, &leave.setup.scenario.title, 0);
    paragraph(&mut out, &sentences::under(leave), 0);
    let _ = write!(out, "\n{}\n", sentences::answer(leave).to_uppercase());
    for (index, item) in sentences::unmet(leave).iter().enumerate() {
        let lead = format!("{:>3}. ", index + 1);
        for (at, part) in wrapped(item, WIDTH - lead.len()).iter().enumerate() {
            let lead = if at == 0 { lead.as_str() } else { "     " };
            push_line(&mut out, &format!("{lead}{part}"));
        }
    }
    out.push('\n');
    for said in sentences::all(leave) {
        let mut heading = said.heading;
        for sentence in &said.sentences {
            for line in wrapped(sentence, WIDTH - TEXT_AT) {
                push_line(&mut out, &format!("{}{line}", padded(heading, TEXT_AT)));
                heading = "";
            }
        }
    }
    out.push_str("\nRULES\n");
    for proof in &leave.rules {
        let [words, held, worst, bound, runs, by] = sentences::rule(proof, leave.sound.runs);
        paragraph(
            &mut out,
            &format!("{words}: {held}; worst {worst}, bound {bound}, {runs} runs"),
            0,
        );
        paragraph(&mut out, &format!("proved beside them by {by}"), 4);
    }
    for beside in PROVED_BESIDE {
        paragraph(&mut out, &format!("{}: not scored in a run of one zone", beside.words), 0);
        paragraph(&mut out, &format!("proved by {} ({})", beside.proof, beside.name), 4);
    }
    out.push('\n');
    paragraph(&mut out, CAUTION, 0);
    out
}
