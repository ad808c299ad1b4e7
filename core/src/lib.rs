//! Moisture-controlled watering for microcontrollers: decides when a valve may open and when it
//! must close, and keeps its limits whatever policy, clock, probe, buttons or link do.
//!
//! # What it promises
//! - No clock, pin, global or flash inside: [`Zone::step`](zone::Zone::step) is handed the time and
//!   what was measured, and returns what to do and when to call next.
//! - No heap, no unsafe code, integers only in what decides. The control path links for a bare chip
//!   with a panic handler that does not exist.
//! - Nothing opens before it is written down; what drives the pins closes by itself.
//! - Every refusal, closing and lock-out has a reason in words.
//!
//! # The rules, and what enforces them
//! Their names are the same in the README, in tests and in the reports of the simulator; the README
//! tells each in full.
//! - **S1** closed through a hold-off after a reset: [`guard`], from [`Timing`](guard::Timing)
//! - **S2** no opening outlasts its permit, no permit the longest opening: [`guard`] hands it out,
//!   [`cutoff`] ends it
//! - **S3** rest between two openings: [`guard`], by credited time and by the count of [`cutoff`]
//! - **S4** the 24 h limit, across resets: [`guard::ledger`], charged in [`persist`] before it opens
//! - **S5** an implausible probe never opens in automatic: [`probe`] judges, [`guard::table`] blocks
//! - **S6** a fault closes in the step that sees it: [`guard::table`]
//! - **S7** unanswered water locks out: [`guard::response`]
//! - **S8** a dose by hand keeps all limits and hands back: [`guard`]; its end, in [`zone`]
//! - **S9** no fault of the clock lengthens an opening or widens the limit: [`zone`] credits at most
//!   what it promised, [`guard`] compares that with the ticks of [`cutoff`]
//! - **S10** zones on one supply never draw more than it gives: [`manifold`]; the order of valve and
//!   pump: [`cutoff`]
//! - **S11** too many resets while open lock out: [`guard`], counted from what [`persist`] kept
//! - **S12** every refusal, closing and lock-out has a reason: [`guard::table`], [`zone::Event`],
//!   kept in [`logbook`]
//! - **S13** no panic, no heap, no endless loop, no unsafe code: the whole library, by compiler and
//!   linker
//! - **S14** no plant dies in silence: [`watch`]
//! - **L1** what nothing forbids is given: [`guard`]; in turn with others: [`manifold`]
//! - **L2** a healthy zone does not lock itself out: [`guard::response`] gives several tries, [`probe`]
//!   doubts no rise
//! - **L3** every lock-out and alarm says what to do: [`Condition::remedy`](guard::Condition::remedy),
//!   [`Alarm::remedy`](watch::Alarm::remedy)
//!
//! # What it leaves to the board
//! A timer interrupt that calls [`Cutoff::tick`](cutoff::Cutoff::tick) and sets the pins; a
//! watchdog fed only after [`Handle::may_feed`](cutoff::Handle::may_feed); outputs that are off
//! while the chip is held in reset; bursts of raw counts; a place that keeps one record across power
//! cuts ([`Store`](persist::Store)).
//!
//! # What only hardware can do
//! Close a valve that grit holds open, part a welded relay, break a siphon. Use a normally-closed
//! valve, an outlet above the tank or an air break, a tray, and a second way to shut the supply.
//!
//! # Where things are
//! - [`zone`]: the state machine with its one step; start here
//! - [`policy`]: when to water; [`guard`]: whether it may; [`watch`]: what to tell
//! - [`probe`], [`calibration`], [`soil`]: from raw counts to a band
//! - [`manifold`]: several zones on one supply
//! - [`cutoff`]: the interrupt's side; [`persist`]: the record; [`logbook`]: the reasons
//! - [`air`]: temperature and humidity, believed or not
//! - [`mod@bench`]: commissioning with a record, and a demonstration
//! - `panel`: what a person at the pot sees, hears and presses (feature `panel`)
//! - [`wire`]: the line to a person far away: reports out, orders in
//! - [`hal`]: glue from embedded-hal 1.0; [`quantity`]: numbers with their unit; [`sentence`]: what a
//!   refusal says
//!
//! The README holds a complete main loop; it is compiled and run with these pages' examples.
//!
//! # Features
//! - `panel`: pages for a display, lights, sounder, buttons.
//! - `serde`: plain configuration and data types can be read and written; checked ones cannot, so
//!   that nothing unchecked comes in by that door.
//! - `defmt`: compact logging of plain configuration, inputs, outcomes, readings and errors.
#![no_std]

pub mod air;
pub mod bench;
mod bytes;
pub mod calibration;
pub mod cutoff;
pub mod guard;
pub mod hal;
pub mod logbook;
pub mod manifold;
#[cfg(feature = "panel")]
pub mod panel;
pub mod persist;
pub mod policy;
pub mod probe;
pub mod quantity;
pub mod sentence;
pub mod soil;
pub mod watch;
pub mod well;
pub mod wire;
pub mod zone;

/// The value of a check, or a build that fails: for `const` items and the `const fn`s they call.
/// Elsewhere it would be a panic of the running program: use the `Result`.
///
/// ```
/// use drydown::checked;
/// use drydown::quantity::Moisture;
/// use drydown::soil::Band;
///
/// const BAND: Band =
///     checked!(Band::new(Moisture::from_percent(26), Moisture::from_percent(38), 500));
/// assert_eq!(BAND.width(), 1_200);
/// ```
///
/// What is refused does not compile, and the compiler says what the error of the same check says at
/// run time, here `band: start 3800 and stop 2600 (0.01 %): stop must be at least 500 above start`:
///
/// ```compile_fail,E0080
/// use drydown::checked;
/// use drydown::quantity::Moisture;
/// use drydown::soil::Band;
///
/// const BAND: Band =
///     checked!(Band::new(Moisture::from_percent(38), Moisture::from_percent(26), 500));
/// assert_eq!(BAND.width(), 1_200);
/// ```
#[macro_export]
macro_rules! checked {
    ($result:expr) => {
        match $result {
            Ok(value) => value,
            Err(error) => panic!("{}", error.sentence().as_str()),
        }
    };
}

#[cfg(doctest)]
#[doc = include_str!("../../README.md")]
struct Readme;
