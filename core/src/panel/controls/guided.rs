//! What a person is led through: a calibration, the checks of a new device, the demonstration with two cups.

use super::{BACK_AFTER, Controls, Key, Reply, Turn, Work, back, local};
use crate::bench::{Answer, Check, Commissioning, Demonstration, Findings, Stage};
use crate::calibration::{Basis, Capture, CaptureSettings, Progress};
use crate::panel::buttons::Press;
use crate::panel::glance::Glance;
use crate::panel::lights::Tune;
use crate::probe::Burst;
use crate::quantity::{Millis, Moisture};
use crate::zone::{Boot, Command, Configuration, Inputs, Mode, Order, Outcome, Zone};

/// The zone is stepped so often while a person is led, that the times of checks are right.
const LED_EVERY: Millis = Millis::from_secs(1);
/// After so long a check that waits for a person alone is left out.
const LEFT_OUT_AFTER: Millis = Millis::from_mins(10);

/// What the buttons lead a person through, if [`Settings`](super::Settings) have a page for it. What is left
/// out is not linked: a device that is short of flash says so here.
pub trait Guides {
    /// Guided calibration.
    const CALIBRATION: bool = true;
    /// The checks of a new device.
    const CHECKS: bool = true;
    /// The demonstration with two cups.
    const CUPS: bool = true;
}

/// Everything there is.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct AllGuides;

impl Guides for AllGuides {}

/// A calibration under way.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Calibration {
    capture: Capture,
    basis: Basis,
    points: &'static [Moisture],
    next: u8,
    refused: bool,
}

impl Calibration {
    /// None of its points is taken.
    pub(super) const fn new(
        (settings, basis, points): (CaptureSettings, Basis, &'static [Moisture]),
    ) -> Self {
        Self { capture: Capture::new(settings, basis), basis, points, next: 0, refused: false }
    }

    /// The point that is asked for: its number from 1, of how many, and its moisture.
    pub fn asked(&self) -> Option<(u8, u8, Moisture)> {
        let moisture = self.points.get(usize::from(self.next))?;
        Some((self.next.saturating_add(1), self.points.len() as u8, *moisture))
    }

    /// Percent of what.
    pub const fn basis(&self) -> Basis {
        self.basis
    }

    /// What it waits for.
    pub fn progress(&self) -> Progress {
        self.capture.progress()
    }

    /// Whether the last point was refused: too near another, or on the wrong side of it.
    pub const fn was_refused(&self) -> bool {
        self.refused
    }
}

/// What a person is led through, if anything.
#[derive(Clone, Debug)]
pub(super) enum Guided {
    Nothing,
    Calibration(Calibration),
    Checks(Commissioning),
    Cups(Demonstration),
}

/// What a press means while [`Page::Commissioning`](crate::panel::Page::Commissioning) is shown: DO held begins
/// a check or says that no water flowed, NEXT held says that it did or leaves the check out.
pub const fn commissioning_answer(stage: Stage, press: (Key, Press)) -> Option<Answer> {
    match (stage, press) {
        (Stage::Ready(_), (Key::Do, Press::Long)) => Some(Answer::Begin),
        (Stage::Asks(_), (Key::Do, Press::Long)) => Some(Answer::NoWater),
        (Stage::Asks(_), (Key::Next, Press::Long)) => Some(Answer::Water),
        (Stage::Ready(_) | Stage::Running(_), (Key::Next, Press::Long)) => Some(Answer::LeaveOut),
        _ => None,
    }
}

impl<G: Guides> Controls<G> {
    /// The calibration, while it lasts.
    pub(super) fn calibration(&mut self) -> Option<&mut Calibration> {
        match &mut self.guided {
            Guided::Calibration(calibration) if G::CALIBRATION => Some(calibration),
            _ => None,
        }
    }

    /// The checks, while they last.
    pub(super) const fn checks(&self) -> Option<&Commissioning> {
        match &self.guided {
            Guided::Checks(checks) if G::CHECKS => Some(checks),
            _ => None,
        }
    }

    /// The demonstration, while it lasts.
    pub(super) const fn cups(&self) -> Option<&Demonstration> {
        match &self.guided {
            Guided::Cups(show) if G::CUPS => Some(show),
            _ => None,
        }
    }

    /// A burst of the probe while a calibration is under way; otherwise it is not looked at.
    pub fn feed(&mut self, burst: &Burst) {
        if let Some(calibration) = self.calibration() {
            calibration.capture.feed(burst);
        }
    }

    /// After a boot: what was kept of the checks, and what runs now. A check of which the boot may be part
    /// goes on.
    pub fn resume_checks(&mut self, identity: u32, kept: Findings, boot: Boot) {
        self.findings = kept;
        if let Some(plan) = self.settings.checks
            && kept.under_way().is_some()
        {
            self.guided = Guided::Checks(Commissioning::resume(plan, identity, kept, boot));
        }
    }

    /// Begins the checks of what runs under this identity, or goes on with them. What was found of
    /// something else, or is complete, is not added to, and kept until there is something in its place.
    pub fn begin_checks(&mut self, identity: u32) {
        let Some(plan) = self.settings.checks else { return };
        let boot = Boot::Wake { slept: Millis::ZERO };
        let checks = Commissioning::resume(plan, identity, self.findings, boot);
        self.guided = Guided::Checks(checks);
    }

    /// What the checks found so far: keep it whenever it changed.
    pub const fn findings(&self) -> &Findings {
        match self.checks() {
            Some(checks) => checks.findings(),
            None => &self.findings,
        }
    }

    /// Whether checks or the two cups are under way: a device that sleeps meanwhile leads through none.
    pub const fn is_leading(&self) -> bool {
        self.checks().is_some() || self.cups().is_some()
    }

    /// Whether what is led through wants a step of the zone, so long after the last.
    pub fn wants_step(&self, stepped_ago: Millis) -> bool {
        let said = self.said.is_some() || self.moved;
        self.is_leading() && (said || stepped_ago >= LED_EVERY)
    }

    /// Tells before [`lead`](Self::lead) for how long nothing was heard over the link.
    pub const fn hear_link(&mut self, silent_for: Millis) {
        if let Guided::Checks(checks) = &mut self.guided
            && G::CHECKS
        {
            checks.hear_link(silent_for);
        }
    }

    /// Call it after each step of the zone, with what that was shown and what it decided, and the time
    /// since the step before. Answers the order that the next step is to be given.
    pub fn lead<C: Configuration>(
        &mut self,
        passed: Millis,
        zone: &Zone<C>,
        inputs: &Inputs,
        outcome: &Outcome,
    ) -> Option<Command> {
        let order = match &mut self.guided {
            Guided::Checks(checks) if G::CHECKS => {
                checks.step(passed, zone, inputs, outcome, self.said.take())
            }
            Guided::Cups(show) if G::CUPS => {
                show.step(zone, inputs, core::mem::take(&mut self.moved))
            }
            _ => None,
        };
        order.map(local)
    }

    /// Where nobody pressed anything for so long, ms, or work at the pot is over.
    pub(super) fn leave_what_is_over(&mut self, alone: u64) {
        match &self.guided {
            // They are work at the pot, and over with it.
            Guided::Calibration(_) | Guided::Cups(_) if self.work == Work::Nobody => {
                self.lead_no_more();
            }
            Guided::Checks(checks) if G::CHECKS => match checks.stage() {
                // Nothing has begun, or all is made: the record keeps it.
                Stage::Ready(_) | Stage::Done
                    if alone >= BACK_AFTER && u64::from(checks.elapsed().0) >= BACK_AFTER =>
                {
                    self.leave_checks();
                }
                Stage::Asks(_) | Stage::Running(Check::Resets)
                    if alone >= u64::from(LEFT_OUT_AFTER.0)
                        && checks.elapsed() >= LEFT_OUT_AFTER =>
                {
                    self.said = Some(Answer::LeaveOut);
                }
                _ => {}
            },
            _ => {}
        }
    }

    /// A press while checks are made.
    pub(super) fn at_checks(&mut self, press: (Key, Press), glance: &Glance) -> Reply {
        let Some(checks) = self.checks() else { return Reply::default() };
        let stage = checks.stage();
        if let Some(answer) = commissioning_answer(stage, press) {
            self.said = Some(answer);
            return Reply { tune: Some(Tune::DONE), ..Reply::default() };
        }
        if press != (Key::Next, Press::Short) || !matches!(stage, Stage::Ready(_) | Stage::Done) {
            return Reply::default();
        }
        self.leave_checks();
        // The probe was moved about: what was done is asked when the zone is back in automatic.
        let bench = glance.mode == Mode::Bench;
        self.work = if bench { Work::Goes } else { self.work };
        Reply { command: bench.then_some(local(Order::Automatic)), ..Reply::default() }
    }

    pub(super) fn leave_checks(&mut self) {
        self.findings = *self.findings();
        (self.guided, self.turn, self.said) = (Guided::Nothing, Turn::Now, None);
    }

    pub(super) fn take_point(&mut self, mode: Mode) -> Reply {
        let Some(calibration) = self.calibration() else { return Reply::default() };
        let Some((_, _, moisture)) = calibration.asked() else {
            return Reply::default();
        };
        calibration.refused = calibration.capture.take(moisture).is_err();
        if calibration.refused {
            return Reply { tune: Some(Tune::NO), ..Reply::default() };
        }
        calibration.next = calibration.next.saturating_add(1);
        let done = calibration.asked().is_none();
        let curve = calibration.capture.finish().ok().filter(|_| done);
        if done {
            self.guided = Guided::Nothing;
        }
        // At its end the probe goes back into the pot, which is asked about.
        let command = done.then_some(local(back(mode)));
        Reply { command, curve, tune: Some(Tune::DONE), ..Reply::default() }
    }

    /// Nothing to be rid of, and no code for it, where nobody is led through anything.
    pub(super) fn lead_no_more(&mut self) {
        if G::CALIBRATION || G::CHECKS || G::CUPS {
            self.guided = Guided::Nothing;
        }
    }
}
