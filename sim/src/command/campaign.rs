//! `drydown campaign`: every fault and every two of them, and what a maker finds afterwards.

use std::io::{IsTerminal, Write};
use std::path::PathBuf;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use clap::Args;

use super::Printed;
use super::run::Format;
use crate::campaign::matrix::Extent;
use crate::campaign::verdict::Verdict;
use crate::campaign::{Campaign, run_all, settings};
use crate::destination::Destination;
use crate::report::campaign as report;
use crate::scenario::{Source, shipped};

/// A run that is longer than this is cut: the fault begins on the second day.
const MOST_DAYS: f64 = 7.0;
/// A fault on the second day and two days to see what follows.
const LEAST_DAYS: f64 = 4.0;

/// Try every fault, and every two together, at each hour of a day
#[derive(Args, Clone, Debug)]
#[command(
    about = "Try every fault, and every two together, and say what a maker finds afterwards",
    long_about = "Try every fault, and every two together, and say what a maker finds afterwards.\n\n\
        Each fault begins on the second day of the scenario, at each hour of that day, for each \
        way of watering (until the stop level is read, in measured doses, by the clock alone), with nobody there and with a person who waters by \
        hand once a day. Pairs are thinned to one hour and nobody there; --full runs them at each \
        hour, with and without a person.",
    after_help = "Example: drydown campaign balcony.toml --page campaign.html"
)]
pub struct CampaignArgs {
    /// Scenario file, or the name of a shipped scenario
    #[arg(default_value = shipped::BUILT_IN)]
    pub scenario: String,
    /// Run pairs at each hour too, with and without a person
    #[arg(long)]
    pub full: bool,
    /// Run for so many days, from 4 to 60, instead of the scenario's, of which 7 at the most
    #[arg(long)]
    pub days: Option<f64>,
    /// Format of what is printed
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
    /// Write the matrix as a page to this file
    #[arg(long, value_name = "FILE")]
    pub page: Option<PathBuf>,
}

/// Runs the campaign and returns its report.
///
/// # Errors
/// What is wrong with scenario, weather or options, or a file that cannot be written.
pub fn run(args: &CampaignArgs) -> super::Result {
    let source = Source::open(&args.scenario)?;
    let mut scenario = source.parse()?;
    let field = if args.days.is_some() { "--days" } else { "days" };
    let days = args.days.unwrap_or(scenario.days.min(MOST_DAYS));
    scenario.days = source.within(field, days, LEAST_DAYS, 60.0)?;
    let (settings, mut notes) = settings::of(&source, &scenario)?;
    let extent = if args.full { Extent::full() } else { Extent::quick() };
    let page = args.page.as_deref().map(|path| Destination::page("--page", path)).transpose()?;
    let progress = Progress::new();
    let campaign = run_all(settings, &extent, &|done, all| progress.tell(done, all));
    progress.end();
    if let Some(page) = page {
        page.write(report::html(&args.scenario, &campaign, &extent))?;
        notes.push(format!("matrix page: {page}"));
    }
    let text = match args.format {
        Format::Text => report::text(&campaign, &extent),
        Format::Json => report::json(&args.scenario, &campaign, &extent),
        Format::Csv => report::csv(&campaign),
    };
    Ok(Printed { text, notes, bad: is_bad(&campaign) })
}

fn is_bad(campaign: &Campaign) -> bool {
    campaign.outcomes.iter().any(|outcome| outcome.verdict == Verdict::Wrong)
}

/// One line on a terminal: how far, and how long it will take yet.
struct Progress {
    begun: Instant,
    told: Option<Mutex<Instant>>,
}

impl Progress {
    const EVERY: Duration = Duration::from_millis(250);

    fn new() -> Self {
        let begun = Instant::now();
        Self { begun, told: std::io::stderr().is_terminal().then(|| Mutex::new(begun)) }
    }

    fn tell(&self, done: usize, all: usize) {
        // Whoever comes while another tells it leaves it to them.
        let Some(Ok(mut told)) = self.told.as_ref().map(Mutex::try_lock) else { return };
        if told.elapsed() < Self::EVERY {
            return;
        }
        *told = Instant::now();
        let spent = self.begun.elapsed().as_secs_f64();
        let left = spent / done as f64 * (all - done) as f64;
        // A line of progress that cannot be shown is not missed.
        let _ = write!(std::io::stderr(), "\r{done} of {all} cases, about {left:.0} s left   ");
    }

    fn end(&self) {
        if self.told.is_some() {
            let _ = write!(std::io::stderr(), "\r{:60}\r", "");
        }
    }
}
