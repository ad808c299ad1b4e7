//! The checks of a new device, one after the other: what a person does, what the device proposes, and
//! how it is judged.
//!
//! Put the outlet into a bucket: the last checks give as much water as the limits let through, and the
//! 24 h limit is used up after them as far as bench mode may.

use super::findings::{Finding, Findings, Verdict};
use crate::guard::{Cause, Closed, Condition, LockOut, Path};
use crate::probe::ProbeFault;
use crate::quantity::{Millis, Moisture};
use crate::zone::{
    Boot, BootCause, Configuration, Deed, Event, Inputs, Link, Mode, Order, Outcome, Zone,
};

/// One check.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Check {
    /// Without power no water flows. The device may lose its power along: then it is over when it starts
    /// again because the power came on, and no other restart counts for it.
    PowerOff,
    /// Resets let no water through.
    Resets,
    /// A probe pulled out of the soil is refused.
    ProbeOut,
    /// A probe that is unplugged is refused.
    ProbeOpen,
    /// A probe whose input is shorted is refused.
    ProbeShorted,
    /// One pulse comes, ends, and shows.
    Pulse,
    /// A dose from afar ends when the link is lost.
    LinkLost,
    /// A dose by hand ends at the longest opening.
    ByHandEnds,
    /// The 24 h limit holds.
    DayLimit,
}

/// What is done and read at a check: in lines of 25 letters, for a small display.
struct Script {
    title: &'static str,
    act: [&'static str; 2],
    unit: &'static str,
}

/// A row of the script. One that does not fit does not compile.
const fn script(
    title: &'static str,
    first: &'static str,
    second: &'static str,
    unit: &'static str,
) -> Script {
    assert!(title.len() <= 25 && first.len() <= 25 && second.len() <= 25 && unit.len() <= 2);
    Script { title, act: [first, second], unit }
}

//                               1234567890123456789012345
const POWER_OFF: Script =
    script("Power off, no water", "Cut the power of valve", "or pump and watch", "s");
const RESETS: Script =
    script("Resets let none through", "Reset the device again", "and again, and watch", "x");
const PROBE_OUT: Script =
    script("Pulled out: refused", "Begin with it in soil,", "then pull it out", "ms");
const PROBE_OPEN: Script =
    script("Unplugged: refused", "Begin with it in soil,", "then unplug it", "ms");
const PROBE_SHORTED: Script =
    script("Shorted: refused", "Begin with it in soil,", "then short its input", "ms");
const PULSE: Script =
    script("One pulse shows", "Probe in the pot, outlet", "where it shall be", "ms");
const LINK_LOST: Script =
    script("Link lost: it closes", "Give a dose from afar,", "then cut the link", "ms");
const BY_HAND: Script =
    script("By hand: it ends", "Outlet into a bucket;", "then only watch", "ms");
const DAY_LIMIT: Script =
    script("The 24 h limit holds", "Outlet into a bucket;", "then only watch", "ms");

impl Check {
    /// All of them, in their order.
    pub const ALL: [Self; 9] = [
        Self::PowerOff,
        Self::Resets,
        Self::ProbeOut,
        Self::ProbeOpen,
        Self::ProbeShorted,
        Self::Pulse,
        Self::LinkLost,
        Self::ByHandEnds,
        Self::DayLimit,
    ];

    const fn script(self) -> Script {
        match self {
            Self::PowerOff => POWER_OFF,
            Self::Resets => RESETS,
            Self::ProbeOut => PROBE_OUT,
            Self::ProbeOpen => PROBE_OPEN,
            Self::ProbeShorted => PROBE_SHORTED,
            Self::Pulse => PULSE,
            Self::LinkLost => LINK_LOST,
            Self::ByHandEnds => BY_HAND,
            Self::DayLimit => DAY_LIMIT,
        }
    }

    /// What it shows, in a line.
    pub const fn title(self) -> &'static str {
        self.script().title
    }

    /// What a person does, in two lines.
    pub const fn act(self) -> [&'static str; 2] {
        self.script().act
    }

    /// The unit of its number: seconds watched; resets counted; milliseconds until it was refused,
    /// until the soil answered, from the last that was heard over the link to the closing, of open time
    /// given.
    pub const fn unit(self) -> &'static str {
        self.script().unit
    }

    /// Whether a person must say whether water flowed.
    const fn is_watched(self) -> bool {
        matches!(self, Self::PowerOff | Self::Resets)
    }

    /// The verdict that the probe must get.
    const fn expected(self) -> Option<ProbeFault> {
        match self {
            Self::ProbeOut => Some(ProbeFault::OutOfSoil),
            Self::ProbeOpen => Some(ProbeFault::Open),
            Self::ProbeShorted => Some(ProbeFault::Short),
            _ => None,
        }
    }

    fn after(self) -> Option<Self> {
        Self::ALL.into_iter().find(|check| *check > self)
    }
}

/// What the maker sets.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Plan {
    /// How long a person watches without power.
    pub watch_for: Millis,
    /// How many resets are made.
    pub resets: u8,
    /// The pulse that proves the valve.
    pub pulse: Millis,
    /// How long a verdict on the probe may take, and a person the time to bring it about.
    pub patience: Millis,
}

impl Plan {
    /// Five minutes without power, twenty resets, two minutes for a verdict (common practice), and a
    /// pulse of this length, which must be enough to show in the pot.
    pub const fn usual(pulse: Millis) -> Self {
        let (watch_for, patience) = (Millis::from_mins(5), Millis::from_mins(2));
        Self { watch_for, resets: 20, pulse, patience }
    }
}

/// What a person says.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Answer {
    /// Begin this check, or go on with it.
    Begin,
    /// No water flowed.
    NoWater,
    /// Water flowed.
    Water,
    /// Leave this check out.
    LeaveOut,
}

/// Where it stands.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Stage {
    /// A check waits for a person to begin, or to go on.
    Ready(Check),
    /// A check runs.
    Running(Check),
    /// A person is asked whether water flowed.
    Asks(Check),
    /// All are made.
    Done,
}

/// The commissioning of one zone.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Commissioning {
    plan: Plan,
    /// Of what is checked. A record of something else, or one that is complete, is kept until the first
    /// result of this one takes its place.
    identity: u32,
    findings: Findings,
    stage: Stage,
    /// Since this stage began.
    elapsed: Millis,
    /// Open time given in this check in bench mode, of openings that ended.
    given: Millis,
    /// The water of this check was ordered.
    ordered: bool,
    /// The reading before the pulse.
    before: Option<Moisture>,
    /// Since the event that a time is measured from: the opening, the loss of the link.
    since: Option<Millis>,
    /// For how long the link has been silent, as the device told last.
    silent: Millis,
    /// The opening of this check ended so.
    closed: Option<Closed>,
    /// The check without power had begun, and a restart that is no part of it came between.
    interrupted: bool,
}

impl Commissioning {
    /// Begins with the first check.
    pub const fn new(plan: Plan, identity: u32) -> Self {
        Self::with(plan, identity, Findings::new(identity))
    }

    const fn with(plan: Plan, identity: u32, findings: Findings) -> Self {
        Self {
            plan,
            identity,
            findings,
            stage: Stage::Ready(Check::PowerOff),
            elapsed: Millis::ZERO,
            given: Millis::ZERO,
            ordered: false,
            before: None,
            since: None,
            silent: Millis::ZERO,
            closed: None,
            interrupted: false,
        }
    }

    /// Goes on after a boot with what was kept of what runs under this identity, or begins anew over what
    /// was kept of something else or is complete. A power cut or a reset that was part of a check counts
    /// for it; any other check that was under way begins again.
    pub fn resume(plan: Plan, identity: u32, kept: Findings, boot: Boot) -> Self {
        let mut this = Self::with(plan, identity, kept);
        if kept.count(None) == Check::ALL.len() {
            this.findings.identity = identity;
        }
        this.stage = match kept.under_way {
            Some(Check::PowerOff) if matches!(boot, Boot::Start(BootCause::PowerOn)) => {
                Stage::Asks(Check::PowerOff)
            }
            Some(Check::PowerOff) => {
                // A supply that is cut may sag first, and what follows is still the cut. After any other
                // restart the next one, perhaps weeks from now, is no part of the check.
                if boot != Boot::Start(BootCause::BrownOut) {
                    this.findings.under_way = None;
                }
                this.interrupted = true;
                Stage::Ready(Check::PowerOff)
            }
            Some(Check::Resets) => {
                let reset = matches!(boot, Boot::Start(_));
                this.findings.resets = kept.resets.saturating_add(u8::from(reset));
                this.resets_stage()
            }
            Some(check) => Stage::Ready(check),
            None => this.first_open(),
        };
        this
    }

    /// Where it stands.
    pub const fn stage(&self) -> Stage {
        self.stage
    }

    /// What was found so far: keep it whenever it changed, at a boot too.
    pub const fn findings(&self) -> &Findings {
        &self.findings
    }

    /// Whether the check without power had begun, and a restart that is no part of it came between.
    pub fn was_interrupted(&self) -> bool {
        self.interrupted && self.stage == Stage::Ready(Check::PowerOff)
    }

    /// Tells before a step for how long nothing was heard over the link: its loss is counted from there,
    /// and where nobody tells from when it counts as down.
    pub const fn hear_link(&mut self, silent_for: Millis) {
        self.silent = silent_for;
    }

    /// Resets still to be made.
    pub const fn resets_left(&self) -> u8 {
        self.plan.resets.saturating_sub(self.findings.resets)
    }

    /// How long this stage has lasted.
    pub const fn elapsed(&self) -> Millis {
        self.elapsed
    }

    /// Whether the next result begins another record than the one that is kept.
    fn begins_anew(&self) -> bool {
        self.findings.identity != self.identity || self.findings.is_complete()
    }

    fn first_open(&self) -> Stage {
        if self.begins_anew() {
            return Stage::Ready(Check::PowerOff);
        }
        let open = Check::ALL.into_iter().find(|check| self.findings.of(*check).is_none());
        open.map_or(Stage::Done, Stage::Ready)
    }

    const fn resets_stage(&self) -> Stage {
        if self.resets_left() == 0 {
            Stage::Asks(Check::Resets)
        } else {
            Stage::Running(Check::Resets)
        }
    }

    fn enter(&mut self, stage: Stage) {
        self.stage = stage;
        self.elapsed = Millis::ZERO;
    }

    fn conclude(&mut self, check: Check, verdict: Verdict, number: u32) {
        if self.begins_anew() {
            self.findings = Findings::new(self.identity);
        }
        self.findings.set(check, Finding { verdict, number });
        (self.findings.under_way, self.findings.resets) = (None, 0);
        self.enter(check.after().map_or(Stage::Done, Stage::Ready));
    }

    /// Call it after each step of the zone, with what that was shown and what it decided, the time
    /// since the last call, and what a person said. Answers the order that the next step is to be
    /// given, at the device.
    pub fn step<C: Configuration>(
        &mut self,
        elapsed: Millis,
        zone: &Zone<C>,
        inputs: &Inputs,
        outcome: &Outcome,
        answer: Option<Answer>,
    ) -> Option<Order> {
        self.elapsed = self.elapsed.plus(elapsed);
        self.since = self.since.map(|since| since.plus(elapsed));
        match (self.stage, answer) {
            (
                Stage::Ready(check) | Stage::Running(check) | Stage::Asks(check),
                Some(Answer::LeaveOut),
            ) => {
                self.conclude(check, Verdict::LeftOut, 0);
                zone.under_way().map(|_| Order::Stop)
            }
            (Stage::Ready(check), Some(Answer::Begin)) => self.begin(check, zone),
            (Stage::Asks(check), Some(Answer::NoWater)) => {
                self.conclude(check, Verdict::Passed, self.watched(check));
                None
            }
            (Stage::Asks(check) | Stage::Running(check), Some(Answer::Water))
                if check.is_watched() =>
            {
                self.conclude(check, Verdict::Failed, self.watched(check));
                None
            }
            (Stage::Running(check), _) => self.run(check, zone, inputs, outcome),
            _ => None,
        }
    }

    /// The number of a check that a person watches: seconds, of which the device saw these itself, or
    /// resets.
    const fn watched(&self, check: Check) -> u32 {
        match check {
            Check::Resets => self.findings.resets as u32,
            _ => self.since_or_zero().0 / 1_000,
        }
    }

    const fn since_or_zero(&self) -> Millis {
        match self.since {
            Some(since) => since,
            None => Millis::ZERO,
        }
    }

    /// A person begins a check, or goes on with it.
    fn begin<C: Configuration>(&mut self, check: Check, zone: &Zone<C>) -> Option<Order> {
        let going_on = self.findings.under_way == Some(check);
        if !going_on {
            (self.given, self.before) = (Millis::ZERO, None);
        }
        (self.ordered, self.since, self.closed) = (false, None, None);
        let sound = zone.reading().is_some_and(|reading| reading.is_plausible());
        let needs_probe = check.expected().is_some() || check == Check::Pulse;
        // Bench mode reads the probe often: it may be sound in some seconds.
        if needs_probe && !sound {
            return Some(Order::Bench);
        }
        if check == Check::LinkLost && zone.config().config().by_hand.remote_longest.is_zero() {
            self.conclude(check, Verdict::LeftOut, 0);
            return None;
        }
        self.findings.under_way = Some(check);
        self.enter(match check {
            Check::Resets => self.resets_stage(),
            check => Stage::Running(check),
        });
        match check {
            Check::PowerOff => {
                self.since = Some(Millis::ZERO);
                None
            }
            Check::Resets => None,
            Check::LinkLost | Check::ByHandEnds => Some(Order::Automatic),
            _ => Some(Order::Bench),
        }
    }

    fn run<C: Configuration>(
        &mut self,
        check: Check,
        zone: &Zone<C>,
        inputs: &Inputs,
        outcome: &Outcome,
    ) -> Option<Order> {
        let opened = outcome.events.iter().find_map(|event| match event {
            Event::Opened { path, .. } => Some(*path),
            _ => None,
        });
        if opened.is_some() {
            self.closed = None;
        }
        for event in outcome.events.iter() {
            if let Some(closed) = event.closed()
                && !matches!(closed.path, Path::Automatic | Path::Fallback)
            {
                self.closed = Some(closed);
                let bench = closed.path == Path::Bench;
                self.given = self.given.plus(if bench { closed.on } else { Millis::ZERO });
            }
        }
        match check {
            Check::PowerOff | Check::Resets => {
                let flows = inputs.signals.flow.is_some_and(|flow| flow.0 > 0);
                if flows || opened.is_some() || inputs.drive.on {
                    self.conclude(check, Verdict::Failed, self.watched(check));
                } else if check == Check::PowerOff && self.elapsed >= self.plan.watch_for {
                    self.enter(Stage::Asks(check));
                }
                None
            }
            Check::ProbeOut | Check::ProbeOpen | Check::ProbeShorted => {
                self.refuses(check, zone, inputs, opened.is_some())
            }
            Check::Pulse => self.pulse(zone, opened),
            Check::LinkLost => {
                self.link_lost(zone, inputs, opened);
                None
            }
            Check::ByHandEnds => self.by_hand_ends(zone),
            Check::DayLimit => self.day_limit(zone, inputs),
        }
    }

    /// The right verdict, and automatic refused for it.
    fn refuses<C: Configuration>(
        &mut self,
        check: Check,
        zone: &Zone<C>,
        inputs: &Inputs,
        opened: bool,
    ) -> Option<Order> {
        let fault = zone.reading().and_then(|reading| reading.fault);
        let blocked = matches!(
            zone.hindrance(Path::Automatic, inputs),
            Some(Condition::ProbeElectrical | Condition::ProbeImplausible)
        );
        if opened || self.elapsed >= self.plan.patience {
            self.conclude(check, Verdict::Failed, self.elapsed.0);
        } else if fault.is_some() && fault == check.expected() && blocked {
            self.conclude(check, Verdict::Passed, self.elapsed.0);
            // It goes back into the soil at another place than it came from.
            return Some(Order::Tended(Deed::Reseated));
        }
        None
    }

    /// A pulse as long as it was ordered, and a reading that rises by it.
    fn pulse<C: Configuration>(&mut self, zone: &Zone<C>, opened: Option<Path>) -> Option<Order> {
        let check = Check::Pulse;
        let config = zone.config().config();
        if opened == Some(Path::Bench) {
            self.since = Some(Millis::ZERO);
        }
        let reading = zone.reading().filter(crate::probe::Reading::is_plausible);
        let Some(since) = self.since else {
            return self.order_water(check, zone, self.plan.pulse, reading.map(|it| it.moisture));
        };
        let risen = reading.zip(self.before).is_some_and(|(reading, before)| {
            reading.moisture.above(before) >= config.response.detection
        });
        let locked = zone.lock_outs().has(LockOut::Plumbing);
        match self.closed {
            _ if locked => self.conclude(check, Verdict::Failed, since.0),
            Some(closed) if !self.is_as_ordered(zone, closed) => {
                self.conclude(check, Verdict::Failed, closed.on.0);
            }
            Some(_) if risen => self.conclude(check, Verdict::Passed, since.0),
            _ if since >= config.response.window || zone.bench_left().is_zero() => {
                self.conclude(check, Verdict::Failed, since.0);
            }
            _ => {}
        }
        None
    }

    /// Done as a dose, and as long as the cut-off's clock may make it.
    fn is_as_ordered<C: Configuration>(&self, zone: &Zone<C>, closed: Closed) -> bool {
        let timing = zone.config().config().timing;
        let apart = Millis(closed.on.0.abs_diff(self.plan.pulse.0));
        let most = Millis(self.plan.pulse.0 / 50).plus(timing.tick).plus(timing.run_down);
        closed.cause == Cause::DoseDone && apart <= most.plus(timing.tick)
    }

    /// Orders the water of a check once its mode has come; a zone that refuses it fails the check.
    fn order_water<C: Configuration>(
        &mut self,
        check: Check,
        zone: &Zone<C>,
        length: Millis,
        before: Option<Moisture>,
    ) -> Option<Order> {
        let bench = !zone.bench_left().is_zero();
        let wanted = matches!(check, Check::Pulse | Check::DayLimit);
        let waits = zone.mode() == Mode::Manual || zone.under_way().is_some();
        if !self.ordered && bench == wanted && !waits {
            (self.ordered, self.before) = (true, before);
            return Some(Order::Water(length));
        }
        // The order was dropped, or never taken.
        let patience = self.plan.patience;
        if self.closed.is_none() && !waits && self.elapsed >= patience {
            self.conclude(check, Verdict::Failed, self.elapsed.0);
        }
        None
    }

    fn link_lost<C: Configuration>(
        &mut self,
        zone: &Zone<C>,
        inputs: &Inputs,
        opened: Option<Path>,
    ) {
        let check = Check::LinkLost;
        if opened == Some(Path::ManualRemote) {
            self.ordered = true;
        }
        if self.ordered && inputs.link == Link::Down && self.since.is_none() {
            self.since = Some(Millis::ZERO);
        }
        let timing = zone.config().config().timing;
        let most = timing.open_step.plus(timing.slack).plus(timing.tick).plus(timing.run_down);
        match self.closed.filter(|_| self.ordered) {
            Some(Closed { path: Path::ManualRemote, cause, .. }) => {
                let since = self.since_or_zero();
                let good = cause == Cause::Fault(Condition::LinkDown) && since <= most;
                let verdict = if good { Verdict::Passed } else { Verdict::Failed };
                self.conclude(check, verdict, since.max(self.silent).0);
            }
            _ if !self.ordered && self.elapsed >= self.plan.watch_for => {
                self.conclude(check, Verdict::Failed, self.elapsed.0);
            }
            _ => {}
        }
    }

    /// Twice the longest opening is asked for; the longest opening is given, and handed back.
    fn by_hand_ends<C: Configuration>(&mut self, zone: &Zone<C>) -> Option<Order> {
        let check = Check::ByHandEnds;
        let config = zone.config().config();
        let longest = config.limits.max_open;
        if let Some(closed) = self.closed.filter(|closed| closed.path == Path::ManualLocal) {
            let most = longest.plus(Millis(longest.0 / 50)).plus(config.timing.tick);
            let most = most.plus(config.timing.run_down);
            let ended = closed.cause == Cause::TimeLimit && closed.on <= most;
            let good = ended && zone.mode() == Mode::Automatic;
            self.conclude(check, if good { Verdict::Passed } else { Verdict::Failed }, closed.on.0);
            return None;
        }
        self.order_water(check, zone, longest.plus(longest), None)
    }

    /// One longest opening after the other, until the limit refuses.
    fn day_limit<C: Configuration>(&mut self, zone: &Zone<C>, inputs: &Inputs) -> Option<Order> {
        let check = Check::DayLimit;
        let limits = zone.config().config().limits;
        let most = limits.bench_per_day;
        if self.given > most || zone.spent() > limits.per_day {
            self.conclude(check, Verdict::Failed, self.given.0);
            return Some(Order::Stop);
        }
        if zone.hindrance(Path::Bench, inputs) == Some(Condition::LimitReached) {
            // Spent before any check gave water, the limit has shown nothing.
            let by_hand = self
                .findings
                .of(Check::ByHandEnds)
                .is_some_and(|found| found.verdict == Verdict::Passed);
            let shown = by_hand || !self.given.is_zero();
            let verdict = if shown { Verdict::Passed } else { Verdict::LeftOut };
            self.conclude(check, verdict, self.given.0);
            return None;
        }
        if self.ordered && zone.bench_left().is_zero() {
            // Bench mode is over; only a person makes it go on.
            self.enter(Stage::Ready(check));
            return None;
        }
        if self.closed.take().is_some() {
            self.ordered = false;
            self.elapsed = Millis::ZERO;
        }
        self.order_water(check, zone, limits.max_open, None)
    }
}
