//! What a log shows, for a terminal, 80 columns.

use super::{means, place, sections, todo};
use crate::explain::Explained;
use crate::report::sentences::Section;
use crate::report::text::{paragraph, push_line, write_section};

/// What a log shows, as text.
pub fn text(name: &str, of: &Explained) -> String {
    let mut out = String::new();
    paragraph(&mut out, &format!("What {name} shows"), 0);
    out.push('\n');
    for section in sections(of) {
        write_section(&mut out, &section);
    }
    for finding in &of.findings {
        out.push('\n');
        push_line(&mut out, &finding.pattern.heading().to_uppercase());
        let evidence = finding.evidence.iter();
        let parts = [
            Section { heading: "Means", sentences: vec![means(finding)] },
            Section {
                heading: "Because",
                sentences: evidence.map(|one| format!("{}: {}.", place(one), one.what)).collect(),
            },
            Section { heading: "What to do", sentences: vec![todo(finding)] },
        ];
        for part in &parts {
            write_section(&mut out, part);
        }
    }
    out
}
