//! One run: the real controller in the modelled world, from start to end.

mod device;
pub mod log;
pub mod served;
pub mod signals;
pub mod strips;

use drydown::persist::{Record, Stored};
use drydown::zone::{Event, Inputs, Outcome, Zone};

use crate::board::{Board, BoardError};
use crate::scenario::Setup;
use crate::score::{Findings, Keeper};
use crate::world::World;
use device::{Device, End, Lines};
use served::Served;

/// How often the device steps.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pace {
    /// Only when the controller asked to be called, or a person pressed a button.
    #[default]
    Wake,
    /// Also every so many milliseconds while closed, as a maker's plain loop would. The decisions
    /// are the same.
    Every(u64),
}

/// One line of a full trace.
#[derive(Clone, Copy, Debug)]
pub struct TraceRow {
    /// True time, ms.
    pub t_ms: u64,
    /// True mean moisture of the probed soil, percent.
    pub true_pct: f64,
    /// The reading, percent, if there is one.
    pub reading_pct: Option<f64>,
    /// Raw count of the reading.
    pub raw: Option<u16>,
    /// Valve or pump is driven.
    pub open: bool,
    /// What happened in this step.
    pub event: Option<Event>,
    /// The probe was read in this step.
    pub sampled: bool,
    /// Why the reading is not believed, if it is not.
    pub doubt: Option<&'static str>,
    /// Air temperature, °C.
    pub air_c: f64,
    /// How long valve or pump have been driven since the start, ms.
    pub driven_ms: u64,
}

/// Who is shown each step of a run.
pub type Tracer<'a> = &'a mut dyn FnMut(&TraceRow);

/// One turn of the device, as a stranger sees it.
#[derive(Clone, Copy, Debug)]
pub struct Turn<'a> {
    /// True time, ms.
    pub t_ms: u64,
    /// What the device's clock showed.
    pub now: u64,
    /// What it was shown in its first step.
    pub inputs: &'a Inputs,
    /// What it wanted written, and whether that was kept: a step followed each that was.
    pub records: &'a [(Record, bool)],
    /// What it answered last, with the edges of all its steps.
    pub outcome: &'a Outcome,
    /// The zone after it.
    pub zone: &'a Zone,
}

/// Who watches a run from outside, in true time. Nothing that is done by it changes the run.
pub trait Watcher {
    /// The pins moved.
    fn pins(&mut self, t_ms: u64, open: bool);
    /// The interrupt that owns the pins has died: they stay as they are until a reset.
    fn interrupt_dies(&mut self, t_ms: u64);
    /// The device started, and found this in its store.
    fn boots(&mut self, t_ms: u64, stored: &Stored);
    /// The device took a turn; the pins have not followed yet.
    fn turns(&mut self, turn: &Turn<'_>);
}

/// Who looks on.
struct Onlookers<'a> {
    tracer: Option<Tracer<'a>>,
    watcher: Option<&'a mut dyn Watcher>,
}

/// Runs a scenario to its end.
pub fn run(setup: &Setup, pace: Pace, tracer: Option<Tracer<'_>>) -> Findings {
    run_served(setup, pace, tracer, None)
}

/// Runs a scenario to its end while somebody may talk to the device.
pub fn run_served(
    setup: &Setup,
    pace: Pace,
    tracer: Option<Tracer<'_>>,
    served: Option<&mut Served>,
) -> Findings {
    unboarded(run_before(setup, pace, Onlookers { tracer, watcher: None }, served, None))
}

/// Runs a scenario to its end while a board decides.
///
/// # Errors
/// What is wrong with the board, or with the line to it.
pub fn run_on_board(
    setup: &Setup,
    pace: Pace,
    tracer: Option<Tracer<'_>>,
    board: &mut Board,
) -> Result<Findings, BoardError> {
    run_before(setup, pace, Onlookers { tracer, watcher: None }, None, Some(board))
}

/// Runs a scenario to its end before a watcher.
pub fn run_watched(setup: &Setup, pace: Pace, watcher: &mut dyn Watcher) -> Findings {
    unboarded(run_before(
        setup,
        pace,
        Onlookers { tracer: None, watcher: Some(watcher) },
        None,
        None,
    ))
}

/// Only a board can fail.
fn unboarded(result: Result<Findings, BoardError>) -> Findings {
    match result {
        Ok(findings) => findings,
        Err(error) => unreachable!("no board takes part: {error}"),
    }
}

fn run_before(
    setup: &Setup,
    pace: Pace,
    mut onlookers: Onlookers<'_>,
    mut served: Option<&mut Served>,
    mut board: Option<&mut Board>,
) -> Result<Findings, BoardError> {
    let mut keeper = Keeper::new(setup);
    let mut world = World::new(setup);
    let mut store = drydown::persist::RamStore::new();
    let mut acts = setup.acts.until(setup.duration_ms).peekable();
    let mut t_ms = 0;
    let mut cause = drydown::zone::BootCause::PowerOn;
    while t_ms < setup.duration_ms {
        let words = drydown::cutoff::Words::new();
        if let Some(watcher) = &mut onlookers.watcher {
            watcher.boots(t_ms, &store.stored());
        }
        let on_board = match &mut board {
            Some(board) => Some(board.boot(&setup.zone, cause)?),
            None => None,
        };
        let lines = Lines { served: served.as_deref_mut(), board: on_board };
        let mut device = Device::boot(setup, pace, &words, &mut store, lines, cause, t_ms);
        let end = device.live(&mut world, &mut keeper, &mut acts, &mut onlookers)?;
        // Whatever ended this life, the pins are closed until the next one begins.
        let ended_ms = device.now_ms();
        if let Some(watcher) = &mut onlookers.watcher {
            watcher.pins(ended_ms, false);
        }
        keeper.drive(ended_ms, false);
        world.drive(ended_ms, false, &mut |stretch| keeper.stretch(stretch));
        (t_ms, cause) = match end {
            End::Finished => break,
            End::Reset { cause, back_in_ms } => (ended_ms + back_in_ms, cause),
            End::PowerCut { until_ms, record_lost } => {
                if record_lost {
                    store = drydown::persist::RamStore::new();
                    if let Some(board) = &mut board {
                        board.lose_record();
                    }
                }
                (until_ms, drydown::zone::BootCause::PowerOn)
            }
        };
        t_ms = t_ms.min(setup.duration_ms);
        world.advance_to(t_ms, &mut |stretch| keeper.stretch(stretch));
    }
    Ok(keeper.finish(setup, &mut world))
}
