//! The loop around a turn.
//!
//! One round looks at everything once and waits for nothing: buttons, line, probe, a step if one is
//! due, the watchdog, the log, lamps, sounder, display. The board calls it after every interrupt and
//! rests as it is told.

mod afar;
mod rest;

pub use rest::Rested;

use core::marker::PhantomData;

use drydown::air::AirState;
use drydown::calibration::Curve;
use drydown::cutoff::{Handle, Words};
use drydown::hal::burst_of;
use drydown::logbook::{Logbook, Scribe};
use drydown::panel::lights::{Tune, look_lamp, water_lamp};
use drydown::panel::{Controls, Glance, Guides, Key, Press, Recent, Well};
use drydown::persist::{FlashStore, Stored, ZoneIndex};
use drydown::probe::Burst;
use drydown::quantity::Millis;
use drydown::wire::{Head, Request};
use drydown::zone::{
    Boot, CheckedZone, Command, Deed, Drive, Inputs, Next, Order, Origin, Outcome, Rest, Retained,
    Signals, Zone, turn_into,
};
use embedded_hal::digital::{OutputPin, PinState};

use crate::air::{AirSensor, AirWatch};
use crate::board::{Board, Setup};
use crate::calibrated::zone_with;
use crate::held::{Held, Refused};
use crate::kept::{Kept, Regions};
use crate::keys::Keys;
use crate::laid_aside::LaidAside;
use crate::line::LookIn;
use crate::screen::{Drawing, Screen, is_looked_at};
use crate::store::Pushed;

/// Edges kept in memory.
const EDGES: usize = 16;
/// What a probe read is no measure of what it reads by another curve.
const FORGET_READINGS: Command =
    Command { order: Order::Tended(Deed::Reseated), origin: Origin::Local };

/// What a device is made of, beside valve and pump.
pub struct Fittings<B: Board> {
    /// What has no trait of its own.
    pub board: B,
    /// NEXT and DO.
    pub keys: Keys<B::Key>,
    /// The lamp that tells of water.
    pub water_lamp: B::Lamp,
    /// The lamp that calls somebody.
    pub look_lamp: B::Lamp,
    /// The display.
    pub screen: B::Screen,
    /// The air sensor.
    pub air: B::Air,
    /// Flash.
    pub regions: Regions<B>,
    /// Whether display and air sensor are used in this life. Their bus can stand still for ever, and
    /// then the watchdog bites: after such a reset the device waters on without them, over sleeps too.
    pub use_bus: bool,
    /// Whether somebody may be there: a button woke the chip, or the supply came on.
    pub somebody: bool,
}

/// What the buttons lead through, as board and configuration have it.
struct Led<B, C>(PhantomData<(B, C)>);

impl<B: Board, C: Held> Guides for Led<B, C> {
    const CALIBRATION: bool = C::CHANGES;
    const CHECKS: bool = B::LEADS_CHECKS;
    const CUPS: bool = B::LEADS_CUPS;
}

/// A whole device but for the interrupt that owns the valve.
pub struct Device<'w, B: Board, C: Held = CheckedZone> {
    setup: &'static Setup,
    parts: Parts<B>,
    store: FlashStore<B::Records, 1>,
    kept: Kept<B::Rows, B::Days, B::Curve>,
    handle: Handle<'w>,
    zone: Zone<C>,
    recent: Recent,
    scribe: Scribe,
    boot: u16,
    logbook: Logbook<EDGES>,
    controls: Controls<Led<B, C>>,
    line: LookIn,
    air: AirWatch,
    drawing: Drawing,
    /// What the last step was shown, but for what counts once, and what it answered.
    inputs: Inputs,
    outcome: Outcome,
    next: Next,
    rest: Rest,
    /// The clock at the last round, and what a clock that outlives sleeps is ahead of it.
    now: u64,
    ahead: u64,
    /// The clock at the last step.
    stepped: u64,
    /// The clock when it woke last.
    woke: u64,
    pressed: Option<u64>,
    command: Option<Command>,
    asked: Option<(Head, u64)>,
    /// A curve that was just taken, until it may be written; then the readings by the one before are
    /// to be forgotten, in the record too; then the chip is to be restarted.
    curve: Option<Curve>,
    forget: bool,
    restart: bool,
    /// What commissioning found is not kept yet.
    unkept: bool,
    /// How this life began, until the checks know of it.
    booted: Option<Boot>,
    refused: Refused,
    tune: Option<(u64, Tune)>,
    tone: Option<u16>,
    /// What is wrong calls somebody, and how urgently.
    call: Well,
}

/// What the flash holds.
struct Found<B: Board, C> {
    store: FlashStore<B::Records, 1>,
    kept: Kept<B::Rows, B::Days, B::Curve>,
    /// The zone as it is built in, with what was changed at the device and from afar.
    config: C,
    refused: Refused,
}

impl<B: Board, C: Held> Found<B, C> {
    #[inline(never)]
    fn look(regions: Regions<B>, setup: &Setup) -> Self {
        let Regions { records, rows, days, curve } = regions;
        let mut store = FlashStore::open(records);
        let mut kept = Kept::new(rows, days, curve);
        let curve = if C::CHANGES { kept.curve() } else { None };
        let changed = if C::CHANGES { store.settings(ZoneIndex::FIRST) } else { None };
        let (config, refused) = C::with_kept(setup, curve, &changed.unwrap_or_default());
        Self { store, kept, config, refused }
    }
}

struct Parts<B: Board> {
    board: B,
    keys: Keys<B::Key>,
    lamps: [B::Lamp; 2],
    screen: B::Screen,
    air: B::Air,
    use_bus: bool,
}

impl<B: Board> Parts<B> {
    /// Whether a display or an air sensor is left alone: no page can say so.
    fn leave_a_bus_alone(&self) -> bool {
        !self.use_bus && (self.screen.is_fitted() || self.air.is_fitted())
    }
}

impl<'w, B: Board, C: Held> Device<'w, B, C> {
    /// Brings the device to life from what is found in flash, or from what was laid aside. Who names no `C`
    /// says `let device: Device<'_, _> = …`: then it can be changed.
    // In three calls, and apart from the rounds: what each takes of the stack is free again for the next.
    #[inline(never)]
    pub fn boot(
        fittings: Fittings<B>,
        setup: &'static Setup,
        words: &'w Words,
        boot: Boot,
        laid_aside: &mut LaidAside<C>,
    ) -> Self {
        let Fittings { board, keys, water_lamp, look_lamp, screen, air, regions, .. } = fittings;
        let Fittings { use_bus, somebody, .. } = fittings;
        let use_bus = match (boot, &laid_aside.around) {
            (Boot::Wake { .. }, Some(aside)) if B::LAYS_ASIDE => use_bus && aside.use_bus,
            _ => use_bus,
        };
        let found = Found::look(regions, setup);
        #[cfg(feature = "defmt")]
        if !board.resets_on_brown_out() {
            defmt::warn!("the chip's brown-out reset is off: see the board's README");
        }
        let parts = Parts { board, keys, lamps: [water_lamp, look_lamp], screen, air, use_bus };
        let mut device = Self::live(parts, found, setup, words, (boot, laid_aside));
        device.pressed = somebody.then_some(device.ahead);
        device
    }

    #[inline(never)]
    fn live(
        parts: Parts<B>,
        found: Found<B, C>,
        setup: &'static Setup,
        words: &'w Words,
        (boot, laid_aside): (Boot, &mut LaidAside<C>),
    ) -> Self {
        let Found { mut store, mut kept, config, refused } = found;
        // Taken whatever the cause is, as the zone's own is below.
        let around = if B::LAYS_ASIDE { laid_aside.around.take() } else { None };
        let stored = store.stored(ZoneIndex::FIRST, config.checked().ledger_plan());
        let slept = if let Boot::Wake { slept } = boot { Some(slept) } else { None };
        let boot = match (boot, &around) {
            (Boot::Wake { slept }, Some(aside)) => {
                Boot::Wake { slept: slept.plus(aside.unstepped) }
            }
            _ => boot,
        };
        let booted = Some(boot);
        let zone = Self::begin(config, boot, &stored, &mut laid_aside.zone);
        let aside = around.zip(slept);
        let mut controls = Controls::guided(setup.buttons);
        controls.go_on_asking(aside.as_ref().and_then(|(aside, _)| aside.question));
        let (ahead, air_state, recent, (boot, scribe)) = if let Some((aside, slept)) = aside {
            let mut air = aside.air;
            air.age(slept);
            kept.go_on(aside.ends);
            let ahead = aside.shown.saturating_add(u64::from(slept.0));
            (ahead, air, aside.recent, (aside.boot, aside.scribe))
        } else {
            let scribe = if B::KEEPS_A_LOG { kept.scribe() } else { (0, Scribe::new(0, 0, 0)) };
            (0, AirState::new(), Recent::new(), scribe)
        };
        Self {
            setup,
            parts,
            store,
            kept,
            handle: Handle::new(words),
            zone,
            recent,
            boot,
            scribe,
            logbook: Logbook::new(),
            controls,
            line: LookIn::new(setup.quiet_after),
            air: AirWatch::with(air_state),
            drawing: Drawing::new(),
            inputs: Inputs::default(),
            outcome: Outcome::new(),
            next: Next { at: 0, sample: None, power_probe_at: None },
            rest: Rest::Stay,
            now: 0,
            stepped: 0,
            woke: 0,
            ahead,
            pressed: None,
            command: None,
            asked: None,
            curve: None,
            forget: false,
            restart: false,
            unkept: false,
            booted,
            refused,
            tune: None,
            tone: None,
            call: Well::AllWell,
        }
    }

    /// Brings the zone to life. What was laid aside is taken whatever the cause is: what is left of an
    /// earlier life is never used twice.
    // Apart from all else that begins: built into that it takes nearly three thousand bytes more.
    #[inline(never)]
    fn begin(config: C, boot: Boot, stored: &Stored, retained: &mut Retained<C>) -> Zone<C> {
        Zone::boot(config, boot, stored, if B::LAYS_ASIDE { retained.take() } else { None })
    }

    /// One round.
    pub fn round(&mut self) -> Rested {
        let (now, drive) = self.handle.sample();
        let passed = Millis(u32::try_from(now.saturating_sub(self.now)).unwrap_or(u32::MAX));
        self.now = now;
        self.air.age(passed);
        if let Some(boot) = self.booted.take() {
            self.resume_checks(boot);
            // Whoever brought new firmware is still there.
            if self.refused.any() && self.pressed.is_some() {
                self.tune = Some((now, Tune::NO));
            }
        }
        let press = self.parts.keys.look(passed);
        let request = self.line.look(now, &mut self.parts.board);
        let stepped = self.step_if_due(now, drive, request);
        let fed = self.feed();
        let closed = !drive.on && self.zone.under_way().is_none();
        // From one feeding to the next the log erases one page at the most, and none while open.
        self.kept.may_erase(closed && fed);
        if let Some((head, request)) = request {
            self.see_to(now, closed, head, request, stepped);
        }
        if closed {
            self.write();
        }
        if self.parts.use_bus {
            self.air.look(now, &mut self.parts.air);
        }
        self.panel(now, press);
        self.rested(now, closed)
    }

    /// Feeds the watchdog if that is earned; whether it did.
    fn feed(&mut self) -> bool {
        let may = self.handle.may_feed();
        if may {
            self.parts.board.feed();
        }
        may
    }

    /// Checks that were under way go on: a reset may be part of one.
    // Not in the boot, which has the deepest stack.
    #[inline(never)]
    fn resume_checks(&mut self, boot: Boot) {
        if B::LEADS_CHECKS
            && let Some(kept) = self.kept.findings()
        {
            self.controls.resume_checks(C::identity(&self.zone), kept, boot);
            self.unkept = *self.controls.findings() != kept;
        }
    }

    /// Steps if it is time, or if there is anything new; whether it did.
    fn step_if_due(&mut self, now: u64, drive: Drive, request: Option<(Head, Request)>) -> bool {
        let from_afar = request.and_then(|(_, request)| request.command());
        let forget = self.forget && from_afar.is_none();
        let command =
            if forget { Some(FORGET_READINGS) } else { from_afar.or_else(|| self.command.take()) };
        // Not by the curve that is to be forgotten.
        let sample = !forget && self.next.sample.is_some_and(|at| now >= at);
        let signals = self.parts.board.signals();
        let warm = self.next.power_probe_at.is_some_and(|at| now >= at) || self.asked.is_some();
        self.parts.board.power_probe(warm);
        let stepped_ago = now.saturating_sub(self.stepped).min(u64::from(u32::MAX)) as u32;
        let due = now >= self.next.at || sample || self.controls.wants_step(Millis(stepped_ago));
        if !due && command.is_none() && signals == self.inputs.signals {
            return false;
        }
        let burst = if sample { self.burst() } else { None };
        if let Some(burst) = &burst {
            self.controls.feed(burst);
        }
        self.step(now, drive, burst, command, signals);
        if forget {
            (self.forget, self.restart) = (false, true);
        }
        if self.controls.is_leading() {
            self.lead(Millis(stepped_ago));
        }
        (self.inputs.burst, self.inputs.command) = (None, None);
        self.next = self.outcome.next;
        self.rest = self.outcome.rest;
        true
    }

    fn step(
        &mut self,
        now: u64,
        drive: Drive,
        burst: Option<Burst>,
        command: Option<Command>,
        signals: Signals,
    ) {
        let air = Some(self.air.state.for_zone(&AirWatch::CONFIG, None));
        let link = self.line.link(now);
        let inputs = Inputs { burst, drive, link, command, air, signals, ..Inputs::default() };
        let plan = *self.zone.config().ledger_plan();
        let mut store = self.store.zone(ZoneIndex::FIRST, &plan, &[drive]);
        turn_into(&mut self.zone, &mut store, now, &inputs, &mut self.outcome);
        let outcome = &self.outcome;
        self.handle.apply(outcome);
        self.stepped = now;
        #[cfg(feature = "defmt")]
        if !outcome.events.is_empty() {
            defmt::info!("{=u64} ms: {}", now, outcome.events);
        }
        let shown = self.ahead.saturating_add(now);
        if B::LOOKS_IN {
            self.logbook.note(shown, outcome);
        }
        self.recent.note(shown, outcome);
        if let Some(tune) = self.controls.hear(&inputs, outcome) {
            self.tune = Some((now, tune));
        }
        if B::KEEPS_A_LOG
            && let Some((row, day)) = self.scribe.note(shown, &self.zone, &inputs, outcome)
        {
            self.kept.take(row, day);
        }
        self.inputs = inputs;
    }

    /// What a check or the two cups make of the step that was just taken, the one before it being so
    /// long ago.
    #[inline(never)]
    fn lead(&mut self, passed: Millis) {
        let before = *self.controls.findings();
        if B::LOOKS_IN {
            self.controls.hear_link(self.line.silent_for(self.now));
        }
        let order = self.controls.lead(passed, &self.zone, &self.inputs, &self.outcome);
        // What a person pressed meanwhile comes first.
        self.command = self.command.take().or(order);
        self.unkept |= *self.controls.findings() != before;
    }

    /// Eight conversions in a row, with nothing else at work.
    fn burst(&mut self) -> Option<Burst> {
        self.hush();
        let board = &mut self.parts.board;
        burst_of(|| board.probe_raw())
    }

    fn hush(&mut self) {
        if self.tone.take().is_some() {
            self.parts.board.sound(None);
        }
    }

    /// Writes what waits for a closed valve.
    fn write(&mut self) {
        if B::KEEPS_A_LOG {
            self.kept.write_one();
        }
        if B::LEADS_CHECKS && self.unkept {
            let pushed = self.kept.put_findings(self.controls.findings());
            self.unkept = pushed == Pushed::Later;
            if pushed == Pushed::Refused {
                self.tune = Some((self.now, Tune::NO));
            }
        }
        let Some(curve) = self.curve.as_ref().filter(|_| C::CHANGES) else { return };
        match self.kept.put_curve(curve) {
            Pushed::Later => return,
            Pushed::Kept => self.forget = true,
            // A restart would be for nothing; the person hears that it failed.
            Pushed::Refused => self.tune = Some((self.now, Tune::NO)),
        }
        self.curve = None;
    }

    /// Lamps, sounder, buttons, display.
    fn panel(&mut self, now: u64, press: Option<(Key, Press)>) {
        let shown = self.ahead.saturating_add(now);
        if B::LOOKS_IN {
            self.answer_probe(now);
        }
        let air = self.air.state.current(&AirWatch::CONFIG);
        let glance = Glance::of(&self.zone, &self.recent, &self.inputs, shown);
        let heard = self.parts.use_bus && self.parts.air.is_fitted();
        let glance = if heard { glance.with_air(air) } else { glance };
        let glance = glance.with_brown_out_reset(self.parts.board.resets_on_brown_out());
        let glance = glance.with_kept_refused(self.refused.any());
        if press.is_some() {
            self.pressed = Some(shown);
        }
        let reply = self.controls.press(shown, press, &glance);
        self.command = reply.command.or(self.command);
        if B::LEADS_CHECKS && reply.checks {
            self.controls.begin_checks(C::identity(&self.zone));
        }
        let mut tune = reply.tune;
        if C::CHANGES
            && let Some(curve) = reply.curve
        {
            // One that the next life would not take is not kept, and the person hears it.
            self.curve = Some(curve).filter(|curve| zone_with(self.setup, *curve).is_some());
            tune = if self.curve.is_some() { tune } else { Some(Tune::NO) };
        }
        if let Some(tune) = tune {
            self.tune = Some((now, tune));
        }
        let least = if self.parts.leave_a_bus_alone() { Well::LookSoon } else { Well::AllWell };
        // Who switched it off knows.
        let call = if glance.troubles.is_empty() { Well::AllWell } else { glance.well };
        self.call = call.max(least);
        let lit = [water_lamp(&glance), look_lamp(glance.well.max(least))];
        for (lamp, pattern) in self.parts.lamps.iter_mut().zip(lit) {
            // A lamp that fails hinders nobody.
            let _ = lamp.set_state(PinState::from(pattern.is_lit(shown)));
        }
        self.sound(now, shown);
        if self.parts.use_bus && self.drawing.is_due(now) {
            let wanted = is_looked_at(shown, self.pressed, self.setup.lit_for);
            self.drawing.draw(now, &mut self.parts.screen, wanted, &self.controls, &glance);
        }
    }

    fn sound(&mut self, now: u64, shown: u64) {
        let played = self.tune.and_then(|(since, tune)| {
            tune.tone(Millis(u32::try_from(now.saturating_sub(since)).unwrap_or(u32::MAX)))
        });
        let tone = played.or_else(|| self.controls.tone(shown));
        if tone != self.tone {
            self.tone = tone;
            self.parts.board.sound(tone);
        }
    }

    /// An order of who stands at the device, where no display leads to it: a jumper, a button more. The next
    /// round gives it.
    pub const fn order(&mut self, order: Order) {
        self.command = Some(Command { order, origin: Origin::Local });
    }

    /// The board.
    pub fn board(&mut self) -> &mut B {
        &mut self.parts.board
    }

    /// The zone, to be looked at.
    pub const fn zone(&self) -> &Zone<C> {
        &self.zone
    }
}
