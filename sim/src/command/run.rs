//! `drydown run`: one scenario from start to end.

use std::fs::File;
use std::io::Write;
use std::path::PathBuf;
use std::time::Instant;

use clap::{Args, ValueEnum};

use super::{Printed, said_by};
use crate::board::{Board, Patience, Traffic};
use crate::destination::{Destination, Overwriting};
use crate::device_log::Writer;
use crate::error::InputError;
use crate::report;
use crate::rows::Rows;
use crate::run::served::Served;
use crate::run::{Pace, TraceRow, Tracer, run_on_board, run_served};
use crate::scenario::{Setup, Source, shipped};
use crate::score::Verdict;
use crate::wire::address::Address;

/// Formats of the report.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// Sentences and tables for a person.
    #[default]
    Text,
    /// One object for programs.
    Json,
    /// Tables for a spreadsheet.
    Csv,
}

/// Run a scenario and say whether it could be left alone
#[derive(Args, Clone, Debug)]
#[command(after_help = "Example: drydown run balcony.toml --page balcony.html")]
pub struct RunArgs {
    /// Scenario file, or the name of a shipped scenario
    #[arg(default_value = shipped::BUILT_IN)]
    pub scenario: String,
    /// Run another weather of the same kind: a number that picks it, the same weather for the same
    /// number; usually the scenario's own
    #[arg(long, value_name = "NUMBER")]
    pub seed: Option<u64>,
    /// Run for so many days instead of the scenario's
    #[arg(long)]
    pub days: Option<f64>,
    /// Format of what is printed
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
    /// Write the report as a page with the strip chart to this file
    #[arg(long, value_name = "FILE")]
    pub page: Option<PathBuf>,
    /// Write the log that the device would keep to this file
    #[arg(long, value_name = "FILE")]
    pub log: Option<PathBuf>,
    /// Write every step as CSV to this file
    #[arg(long, value_name = "FILE")]
    pub trace: Option<PathBuf>,
    /// What may be replaced
    #[command(flatten)]
    pub overwriting: Overwriting,
    /// Be a device that `drydown watch` can talk to while the run goes on, in real time:
    /// tcp:HOST:PORT
    #[arg(long, value_name = "ADDRESS")]
    pub serve: Option<String>,
    /// With --serve: simulated seconds in one second on the wall
    #[arg(long, value_name = "TIMES", default_value_t = 1.0, requires = "serve")]
    pub speed: f64,
    /// Step every so many seconds as well, not only when the controller asks
    #[arg(long, value_name = "SECONDS")]
    pub every: Option<u32>,
    /// Let a board decide, at tcp:HOST:PORT, serial:PATH or serial:PATH@BAUD
    #[arg(long, value_name = "ADDRESS", conflicts_with = "serve")]
    pub board: Option<String>,
}

/// Runs the scenario and returns its report.
///
/// # Errors
/// What is wrong with scenario, weather or options, or a file that cannot be written.
pub fn run(args: &RunArgs) -> super::Result {
    let source = Source::open(&args.scenario)?;
    let mut scenario = source.parse()?;
    if let Some(seed) = args.seed {
        scenario.seed = seed;
    }
    if let Some(days) = args.days {
        scenario.days = days;
    }
    let setup = Setup::of(&source, scenario).map_err(|error| said_by(args.days, error))?;
    let pace = match args.every {
        Some(0) => {
            return Err(InputError::new("must be at least 1 s").field("--every").value(0));
        }
        Some(seconds) => Pace::Every(u64::from(seconds) * 1_000),
        None => Pace::Wake,
    };
    let page = args.page.as_deref().map(|path| Destination::page("--page", path)).transpose()?;
    let trace = args.trace.as_deref();
    let trace =
        trace.map(|path| Destination::data("--trace", path, args.overwriting)).transpose()?;
    let log = args.log.as_deref();
    let log = log.map(|path| Destination::data("--log", path, args.overwriting)).transpose()?;
    Destination::keep_apart(&[&page, &trace, &log], &source.files(&setup.scenario))?;
    let mut served = served(args)?;
    // Before the files: where no board is, none is begun.
    let mut board = OnLine::open(args)?;
    let slow = args.serve.is_some() || args.board.is_some();
    let mut growing = Growing::begin(trace, log, slow)?;
    let mut notes = vec![];
    let wanted = growing.is_wanted();
    let mut see = |row: &TraceRow| growing.see(row);
    let tracer = wanted.then_some(&mut see as Tracer<'_>);
    let findings = match &mut board {
        Some(OnLine { board, address, .. }) => {
            run_on_board(&setup, pace, tracer, board).map_err(|error| error.told(address))?
        }
        None => run_served(&setup, pace, tracer, served.as_mut()),
    };
    growing.end()?;
    notes.extend(board.as_ref().map(OnLine::note));
    if let Some(page) = page {
        page.write(report::html(&args.scenario, &setup, &findings))?;
        notes.push(format!("report page: {page}"));
    }
    let text = match args.format {
        Format::Text => report::text(&setup, &findings),
        Format::Json => report::json(&args.scenario, &setup, &findings),
        Format::Csv => report::csv(&setup, &findings),
    };
    let bad = findings.answer.verdict == Verdict::No || !findings.rules.all_held();
    Ok(Printed { text, notes, bad })
}

/// The line on which the run's device is served, if it is; says where on standard error at once.
fn served(args: &RunArgs) -> Result<Option<Served>, InputError> {
    let Some(address) = &args.serve else { return Ok(None) };
    if !(0.01..=1e6).contains(&args.speed) {
        return Err(InputError::new("must be from 0.01 to 1000000")
            .field("--speed")
            .value(args.speed));
    }
    let Ok(Address::Tcp(place)) = address.parse() else {
        return Err(InputError::new("must be tcp:HOST:PORT")
            .field("--serve")
            .value(address)
            .suggest("tcp:127.0.0.1:7300 is seen by this machine alone"));
    };
    let served = Served::listen(&place, args.speed)?;
    if let Ok(place) = served.place() {
        let _ = writeln!(std::io::stderr(), "a simulated device, for: drydown watch tcp:{place}");
    }
    Ok(Some(served))
}

/// A board that decides, and the line to it.
struct OnLine {
    address: Address,
    begun: Instant,
    board: Board,
}

impl OnLine {
    /// The board that was named, if one was.
    fn open(args: &RunArgs) -> Result<Option<Self>, InputError> {
        let named = |error: InputError| error.field("--board");
        let Some(address) = &args.board else { return Ok(None) };
        let address: Address = address.parse().map_err(named)?;
        let begun = Instant::now();
        let board = Board::new(address.open().map_err(named)?, Patience::default());
        Ok(Some(Self { address, begun, board }))
    }

    /// What is told of the line when the run is over.
    fn note(&self) -> String {
        let Traffic { answers, repeated, damaged } = self.board.traffic();
        format!(
            "decided by the board at {}: {answers} answers in {:.1} s, {repeated} requests \
             repeated, {damaged} damaged frames; its configuration is {:08x}",
            self.address,
            self.begun.elapsed().as_secs_f64(),
            self.board.identity().unwrap_or_default(),
        )
    }
}

/// The files that grow with the run: every step, and the log that the device would keep. An interrupted
/// run keeps whole rows, a slow one all that it had.
struct Growing<'a> {
    trace: Option<(Destination<'a>, Rows<File>)>,
    log: Option<(Destination<'a>, Writer<Rows<File>>)>,
    failed: Option<InputError>,
}

impl<'a> Growing<'a> {
    fn begin(
        trace: Option<Destination<'a>>,
        log: Option<Destination<'a>>,
        slow: bool,
    ) -> Result<Self, InputError> {
        let trace = match trace {
            Some(place) => {
                let mut out = Rows::new(place.create()?, slow);
                writeln!(out, "time_s,true_pct,reading_pct,raw_counts,open,event")
                    .map_err(|cause| place.cannot(&cause))?;
                Some((place, out))
            }
            None => None,
        };
        let log = match log {
            Some(place) => {
                let out = Writer::new(Rows::new(place.create()?, slow));
                Some((place, out.map_err(|cause| place.cannot(&cause))?))
            }
            None => None,
        };
        Ok(Self { trace, log, failed: None })
    }

    const fn is_wanted(&self) -> bool {
        self.trace.is_some() || self.log.is_some()
    }

    /// Writes what a step adds. After a failure it writes no more.
    fn see(&mut self, row: &TraceRow) {
        if self.failed.is_some() {
            return;
        }
        let Self { trace, log, failed } = self;
        let traced = trace.as_mut().map(|(place, out)| (*place, write_row(out, row)));
        let logged = log.as_mut().map(|(place, out)| (*place, out.see(row)));
        for (place, written) in traced.into_iter().chain(logged) {
            if let Err(cause) = written {
                *failed = Some(place.cannot(&cause));
            }
        }
    }

    /// Writes out what waits in memory.
    fn end(self) -> Result<(), InputError> {
        if let Some(failed) = self.failed {
            return Err(failed);
        }
        let log = self.log.map(|(place, out)| (place, out.into_inner()));
        for (place, mut out) in self.trace.into_iter().chain(log) {
            out.flush().map_err(|cause| place.cannot(&cause))?;
        }
        Ok(())
    }
}

fn write_row(out: &mut impl Write, row: &TraceRow) -> std::io::Result<()> {
    let seconds = row.t_ms as f64 / 1e3;
    write!(out, "{seconds:.3},{:.3},", row.true_pct)?;
    if let Some(percent) = row.reading_pct {
        write!(out, "{percent:.2}")?;
    }
    write!(out, ",")?;
    if let Some(raw) = row.raw {
        write!(out, "{raw}")?;
    }
    let event = row.event.map_or("", |event| event.text());
    writeln!(out, ",{},\"{event}\"", u8::from(row.open))
}
