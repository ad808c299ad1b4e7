//! What a board must have.

use drydown::calibration::Basis;
use drydown::panel::Settings;
use drydown::persist::Flash;
use drydown::probe::{ProbeConfig, Rail};
use drydown::quantity::{Millis, RawCounts};
use drydown::zone::{CheckedZone, Probes, Signals};
use embedded_hal::digital::{InputPin, OutputPin};

use crate::air::AirSensor;
use crate::screen::Screen;

/// The converter did not deliver.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Unread;

/// The hardware of a device, but for valve and pump: those belong to the timer interrupt.
pub trait Board {
    /// Its name, at most 32 bytes, as the look-in tells it.
    const NAME: &'static str;
    /// Whether somebody may look in over a line. What a board says no to is not linked: `hear` and `say`
    /// are never called.
    const LOOKS_IN: bool = true;
    /// Whether rows and days are kept. If not, nothing touches their flash, and who looks in hears so.
    const KEEPS_A_LOG: bool = true;
    /// Whether the buttons lead through the checks of a new device, and what those found is kept.
    const LEADS_CHECKS: bool = true;
    /// Whether the buttons lead through the demonstration with two cups.
    const LEADS_CUPS: bool = true;
    /// Whether it is laid aside for sleeps that its memory does not outlive. A board that says no begins
    /// each life with a start, and hands [`LaidAside::empty`](crate::LaidAside::empty) over.
    const LAYS_ASIDE: bool = true;
    /// A button's pin.
    type Key: InputPin;
    /// A lamp's pin.
    type Lamp: OutputPin;
    /// The display.
    type Screen: Screen;
    /// The sensor of air temperature and humidity.
    type Air: AirSensor;
    /// Flash for the records on which the 24 h limit stands.
    type Records: Flash;
    /// Flash for rows of ten minutes: 24 pages of 4 KiB hold two weeks. Where rows, days and curve
    /// are of one type, the code that writes them is there only once.
    type Rows: Flash;
    /// Flash for lines of days: 6 pages of 4 KiB hold a year.
    type Days: Flash;
    /// Flash for the curve that was taken with the buttons, and for what commissioning found; that of the
    /// rows where they stand among these.
    type Curve: Flash;

    /// Switches the probe on or off.
    fn power_probe(&mut self, on: bool);

    /// One conversion of the probe's output. It is called eight times in a row; nothing is drawn
    /// meanwhile, and the sounder is silent. A display that is lit stays lit, and a line may send on what
    /// it holds already. A board with a radio keeps it quiet here.
    ///
    /// # Errors
    /// The converter did not deliver; there is no reading then.
    fn probe_raw(&mut self) -> Result<u16, Unread>;

    /// The sounder: hertz, or silence.
    fn sound(&mut self, hertz: Option<u16>);

    /// The next byte that came over the line, if any.
    fn hear(&mut self) -> Option<u8>;

    /// Puts a byte on the line; `false` if it takes none now. It never waits.
    fn say(&mut self, byte: u8) -> bool;

    /// What was said is all for now: a line that gathers bytes sends them off.
    fn said(&mut self) {}

    /// Feeds the watchdog. Called where [`Handle::may_feed`](drydown::cutoff::Handle::may_feed)
    /// said so, and nowhere else but [`OnTheDesk`](crate::OnTheDesk), where nothing is driven.
    fn feed(&mut self);

    /// Whether the chip resets itself when its supply sags, as its registers say. If not it may run on
    /// and do anything: the log and the display tell somebody to switch it on.
    fn resets_on_brown_out(&self) -> bool;

    /// Float, leak sensor and what else is fitted; nothing unless the board says otherwise.
    fn signals(&mut self) -> Signals {
        Signals::default()
    }
}

/// What a maker chooses: the numbers of the zone, and what the buttons can do.
#[derive(Clone, Copy, Debug)]
pub struct Setup {
    /// The zone, with its probe as it is built in.
    pub zone: CheckedZone,
    /// Counts between which the converter can be trusted.
    pub usable: (RawCounts, RawCounts),
    /// Where a broken wire reads.
    pub open_reads: Rail,
    /// What the buttons can do.
    pub buttons: Settings,
    /// How long the display stays lit after a press.
    pub lit_for: Millis,
    /// After how long without a request the line counts as down, 60 s at most.
    pub quiet_after: Millis,
    /// The program and its version, at most 32 bytes.
    pub firmware: &'static str,
}

impl Setup {
    /// The one probe as it is built in; `None` for a zone that waters by the clock.
    pub(crate) const fn probe(&self) -> Option<&ProbeConfig> {
        match &self.zone.config().probes {
            Probes::One(probe) => Some(probe.config()),
            // This loop reads one.
            Probes::None | Probes::Two { .. } => None,
        }
    }

    /// The same. It does not compile where a curve that is taken with the buttons would be refused in any
    /// case: one that reads something else than the levels are percent of.
    #[must_use]
    pub const fn checked(self) -> Self {
        if let (Some((_, taken, _)), Some(levels)) = (self.buttons.calibration, self.zone.basis()) {
            assert!(
                matches!(
                    (taken, levels),
                    (Basis::Span, Basis::Span) | (Basis::Volumetric, Basis::Volumetric)
                ),
                "buttons.calibration takes a curve of another basis than the zone's levels have"
            );
        }
        self
    }
}
