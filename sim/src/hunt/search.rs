//! The search: cases in order, the first that is bad, and the smallest file that still shows it.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::case::Draw;
use super::oracle::{Finding, Hardware, Judgement, judge};
use super::part::Part;
use super::ranges::Ranges;
use super::shrink::shrink;
use crate::error::InputError;
use crate::run::{Pace, run};
use crate::scenario::{Scenario, Setup, Source, vary};

/// Cases judged together; only where they end is a bad one looked for, so that what is counted
/// does not hang on the number of threads.
const BLOCK: u32 = 32;
/// Runs that shrinking may take.
const MOST_TRIES: u32 = 600;

/// What a hunt showed.
#[derive(Clone, Debug)]
pub struct Hunt {
    /// Within which bounds.
    pub ranges: Ranges,
    /// Cases that were run and judged, up to and with the first bad one.
    pub run: u32,
    /// Cases among them that the device's own check, or the reader, refused to run.
    pub refused: u32,
    /// Cases among them without any fault.
    pub faultless: u32,
    /// Days simulated in them.
    pub device_days: f64,
    /// What only hardware can stop.
    pub only_hardware: BTreeMap<Hardware, OnlyHardware>,
    /// The first finding.
    pub found: Option<Found>,
}

/// Cases in which harm was done that only hardware can stop.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct OnlyHardware {
    /// How many.
    pub cases: u32,
    /// Most litres on the floor in one of them.
    pub most_l: f64,
}

/// A finding and the smallest scenario that shows it.
#[derive(Clone, Debug)]
pub struct Found {
    /// The number of the case, from 0, the scenario itself.
    pub case: u32,
    /// What was found, as the smallest scenario shows it.
    pub finding: Finding,
    /// How many things the case changed, before shrinking.
    pub changes_before: usize,
    /// What the smallest scenario changes, in words.
    pub changes: Vec<String>,
    /// Runs that shrinking took.
    pub tries: u32,
    /// Whether nothing more could be left out.
    pub finished: bool,
    /// The smallest scenario.
    pub replay: Replay,
}

/// A scenario that shows a finding when it is run.
#[derive(Clone, Debug)]
pub struct Replay {
    /// The scenario.
    pub scenario: Scenario,
    /// Its file.
    pub text: String,
}

/// Looks for a finding. `progress` is told how many cases are done.
///
/// # Errors
/// What is wrong with the scenario.
pub fn hunt(
    source: &Source,
    base: &Scenario,
    ranges: &Ranges,
    progress: &mut dyn FnMut(u32),
) -> Result<Hunt, InputError> {
    let setup = Setup::of(source, base.clone())?;
    let calm = run(&setup, Pace::Wake, None);
    let openings_h: Vec<(f64, f64)> = (calm.waterings.iter())
        .map(|watering| {
            let from_h = watering.opened_ms as f64 / 3.6e6;
            (from_h, from_h + watering.open_s / 3600.0)
        })
        .collect();
    let spilled_l = calm.accounts.spilled_l;
    let bench = Bench { source, base, setup: &setup, spilled_l };
    let draw = Draw { ranges, base, openings_h: &openings_h };
    let mut hunt = Hunt {
        ranges: ranges.clone(),
        run: 0,
        refused: 0,
        faultless: 0,
        device_days: 0.0,
        only_hardware: BTreeMap::new(),
        found: None,
    };
    let mut next = 0;
    while next < ranges.cases && hunt.found.is_none() {
        let block = next..(next + BLOCK).min(ranges.cases);
        next = block.end;
        let judged: Vec<_> = block
            .into_par_iter()
            .map(|number| {
                // Case 0 is the scenario as it stands.
                let parts = draw.case(number);
                let judged = bench.judge(&parts);
                (number, parts, judged)
            })
            .collect();
        for (number, parts, judged) in judged {
            hunt.count(base, &parts, judged);
            if let Some(Judgement::Bad(finding)) = judged {
                hunt.found = Some(bench.found(number, parts, &finding)?);
                break;
            }
        }
        progress(hunt.run);
    }
    Ok(hunt)
}

impl Hunt {
    fn count(&mut self, base: &Scenario, parts: &[Part], judged: Option<Judgement>) {
        self.run += 1;
        let is_fault = |part: &Part| matches!(part, Part::Fault(_) | Part::OwnFault(_));
        match judged {
            None => self.refused += 1,
            Some(judged) => {
                self.device_days += base.days;
                self.faultless += u32::from(!parts.iter().any(is_fault));
                if let Judgement::OnlyHardware(why, litres) = judged {
                    let entry = self.only_hardware.entry(why).or_default();
                    entry.cases += 1;
                    entry.most_l = entry.most_l.max(litres);
                }
            }
        }
    }
}

/// Where cases are run and judged.
struct Bench<'a> {
    source: &'a Source,
    base: &'a Scenario,
    setup: &'a Setup,
    spilled_l: f64,
}

impl Bench<'_> {
    fn prepare(&self, parts: &[Part]) -> Result<Setup, InputError> {
        let scenario = Part::applied(parts, self.source, self.base)?;
        self.setup.like(self.source, scenario)
    }

    /// `None`: refused by the reader or by the device's own check.
    fn judge(&self, parts: &[Part]) -> Option<Judgement> {
        let setup = self.prepare(parts).ok()?;
        let findings = run(&setup, Pace::Wake, None);
        Some(judge(&setup, &findings, self.spilled_l))
    }

    /// Shrinks a bad case. The smaller one must show the same thing.
    fn found(&self, case: u32, parts: Vec<Part>, seen: &Finding) -> Result<Found, InputError> {
        let changes_before = Part::changes(&parts, self.base);
        let mut finding = *seen;
        let shrunk = shrink(parts, MOST_TRIES, |parts| match self.judge(parts) {
            Some(Judgement::Bad(smaller)) if smaller.name() == seen.name() => {
                finding = smaller;
                true
            }
            _ => false,
        });
        let scenario = Part::applied(&shrunk.parts, self.source, self.base)?;
        let text = vary::render(&scenario)?;
        let changes = shrunk.parts.iter().filter_map(|part| part.words(self.base)).collect();
        Ok(Found {
            case,
            finding,
            changes_before,
            changes,
            tries: shrunk.tries,
            finished: shrunk.finished,
            replay: Replay { scenario, text },
        })
    }
}
