//! The campaign for a terminal, 80 columns, no colour.

use super::rows::{Gathered, HEADS, figures, single, verdict};
use super::sentences::{self, Hardware};
use crate::campaign::Campaign;
use crate::campaign::matrix::{Extent, policy_name};
use crate::fault::{Family, Kind};
use crate::report::text::{WIDTH, padded, paragraph, push_line, wrapped};

/// Width of the name of a policy, and of each figure after it.
const POLICY: usize = 13;
const FIGURES: [usize; 5] = [7, 8, 10, 10, 6];
const INDENT: usize = 2;

/// The campaign as text; at most 80 columns wide. The same campaign gives the same bytes.
pub fn text(campaign: &Campaign, extent: &Extent) -> String {
    let gathered = Gathered::new(campaign);
    let mut out = String::new();
    if let Some(settings) = campaign.settings.first() {
        paragraph(&mut out, &format!("Faults in: {}", settings.setup.scenario.title), 0);
        out.push('\n');
    }
    paragraph(&mut out, &sentences::answer(campaign), 0);
    out.push('\n');
    for sentence in sentences::extent(campaign, extent) {
        paragraph(&mut out, &sentence, 0);
    }
    out.push('\n');
    for (verdict, count) in sentences::counted(campaign) {
        push_line(&mut out, &format!("{:>10}  {}", sentences::thousands(count), verdict.words()));
    }
    let wrong = sentences::wrong(campaign, &gathered);
    if !wrong.is_empty() {
        out.push_str("\nNOT AS IT SHOULD BE\n");
        for line in wrong {
            item(&mut out, &line);
        }
    }
    out.push_str("\nWHAT NO SOFTWARE STOPS, AND WHAT DOES\n");
    for row in sentences::beyond(campaign, &gathered) {
        hardware(&mut out, &row);
    }
    let unseen = sentences::unseen(campaign, &gathered);
    if !unseen.is_empty() {
        out.push_str("\nWHAT NOTHING FITTED SEES, AND WHAT WOULD\n");
        for row in unseen {
            hardware(&mut out, &row);
        }
    }
    table(&mut out, campaign, &gathered);
    out
}

fn item(out: &mut String, text: &str) {
    for (index, line) in wrapped(text, WIDTH - INDENT).iter().enumerate() {
        push_line(out, &format!("{}{line}", if index == 0 { "- " } else { "  " }));
    }
}

fn hardware(out: &mut String, row: &Hardware) {
    let figures = row.figures();
    item(out, &format!("{}: {figures}. Answered by {}.", row.words, row.answered_by));
}

fn table(out: &mut String, campaign: &Campaign, gathered: &Gathered<'_>) {
    out.push_str("\nEACH FAULT BY ITSELF\n");
    let legend = "The worst over all hours, with and without a person: water given and spilled after \
                  the fault; when the water first stood still; when the device first said that \
                  something is wrong; hours in which plants were short of water.";
    paragraph(out, legend, 0);
    for family in Family::ALL {
        out.push('\n');
        paragraph(out, &family.heading().to_uppercase(), 0);
        let [names, units] = [HEADS.map(|(name, _)| name), HEADS.map(|(_, unit)| unit)];
        for heads in [names, units] {
            push_line(out, &row("", &heads.map(str::to_owned), ""));
        }
        for &kind in Kind::ALL.iter().filter(|kind| kind.family() == family) {
            push_line(out, &format!("{} ({})", campaign.words(kind), kind.name()));
            for (index, settings) in campaign.settings.iter().enumerate() {
                let Some(worst) = gathered.with_policy(single(kind), index) else { continue };
                let name = policy_name(settings.policy);
                push_line(out, &row(name, &figures(&worst), &verdict(&worst)));
            }
        }
    }
}

fn row(name: &str, cells: &[String; 5], verdict: &str) -> String {
    let mut line = padded(&format!("{}{name}", " ".repeat(INDENT)), POLICY);
    for (cell, width) in cells.iter().zip(FIGURES) {
        let blanks = width.saturating_sub(cell.chars().count());
        line.extend(std::iter::repeat_n(' ', blanks));
        line.push_str(cell);
    }
    format!("{line}  {verdict}")
}
