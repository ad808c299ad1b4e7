//! Every history of so many deeds of a device, judged by what a person is told: S14.
//!
//! Alarms decide nothing, so the canonical form of a zone leaves them away, and their ages go on as
//! long as nobody waters. Therefore not every history is looked at here, but every one up to a
//! length, with the alarms as part of what is compared.

use std::hash::{Hash, Hasher};

use drydown::guard::Path;
use drydown::persist::{RecordNumber, Stored};
use drydown::quantity::Volume;
use drydown::watch::Alarm;
use drydown::zone::{
    Air, Boot, BootCause, CheckedZone, Command, Event, Inputs, Mode, Order, Origin, Zone,
};

use super::bystander::Broken;
use super::drive::Driving;
use super::scene::Show;
use super::search::{Fingerprint, Found, Tell, exhaust, shortest_way};
use super::witness::{Witness, Witnesses};
use crate::configs::{AIR, WATER};

/// When a person is to be told. Milliseconds, and hundredths of a percent.
#[derive(Clone, Copy, Debug)]
pub struct Promised {
    /// Time without water, where no demand is known.
    pub overdue_after: u64,
    /// Demand without water, microlitres, where it is known.
    pub overdue_demand: u64,
    /// From which level, for how long.
    pub too_wet: (u16, u64),
    /// So many intervals in a row shorter than this.
    pub short: (u8, u64),
    /// The smallest rise that is water.
    pub rise: u16,
    /// How long after its end a watering may take to show, and the longest step besides.
    pub settles_in: u64,
}

/// A device that is watched, and what may happen to it.
#[derive(Clone, Debug)]
pub struct AlarmScene {
    /// Its name.
    pub name: &'static str,
    /// The device.
    pub device: CheckedZone,
    /// What it promises.
    pub promised: Promised,
    /// The coarse unit of time, milliseconds.
    pub unit: u32,
    /// What the probe may show at any sample; by it a wet and a dry reading are told apart.
    pub shows: Vec<Show>,
    /// Demand that is told with each sample, microlitres; `None`: there is no input for it.
    pub demand: Option<u32>,
    /// Deeds in a history.
    pub deeds: u8,
}

/// One step of a history.
#[derive(Clone, Copy, Debug)]
enum Deed {
    Step { wait: u32, show: Option<Show> },
    Order(Order),
}

/// What a stranger with a watch knows. Times are milliseconds; `None`: never.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
struct Known {
    /// Since a rise showed water, or since the start.
    since_rise: u32,
    /// Demand told since then.
    demand: u64,
    /// The same, but for what was told before a watering had settled, and before the reading fell to
    /// a new low in a device that waters.
    demand_unseen: u64,
    since_closed: Option<u32>,
    lowest: Option<u16>,
    /// The driest that was seen since the last rise, as far as it counts as use.
    dried_to: Option<u16>,
    /// Since the first of the wet readings in a row, and since the last that was not wet.
    wet_for: Option<u32>,
    since_not_wet: u32,
    short_in_row: u8,
}

#[derive(Clone)]
struct World {
    zone: Zone,
    drive: Driving,
    now: u64,
    due: u32,
    sample: Option<u32>,
    left: u8,
    known: Known,
}

struct Ground<'s> {
    scene: &'s AlarmScene,
    witnesses: Witnesses,
}

/// The level of counts by the invented curve.
fn level(show: Show) -> Option<u16> {
    let counts = show.burst()?.median().0;
    let below = u32::from(AIR.0.saturating_sub(counts)) * 10_000;
    Some((below / u32::from(AIR.0 - WATER.0)) as u16)
}

impl World {
    fn first(scene: &AlarmScene) -> Self {
        let lost = Stored::Lost(RecordNumber::NONE);
        let zone = Zone::boot(scene.device, Boot::Start(BootCause::PowerOn), &lost, None);
        let mut world = Self {
            zone,
            drive: Driving::default(),
            now: 0,
            due: scene.unit,
            sample: None,
            left: scene.deeds,
            known: Known::default(),
        };
        let order = Command { order: Order::Initialise, origin: Origin::Local };
        world.turn(&Inputs { command: Some(order), ..Inputs::default() });
        world
    }

    fn fingerprint(&self) -> u64 {
        let mut hasher = Fingerprint::default();
        self.zone.state().hash(&mut hasher);
        (self.drive, self.left, self.known).hash(&mut hasher);
        // It has no hash of its own: nothing else compares it.
        format!("{:?}", self.zone.meters().watch).hash(&mut hasher);
        hasher.finish()
    }

    /// A step, the record it asks for kept at once, and the steps that follow.
    fn turn(&mut self, inputs: &Inputs) -> Vec<Event> {
        let (mut shown, mut events) = (inputs.clone(), vec![]);
        loop {
            shown.drive = self.drive.sample();
            let outcome = self.zone.step(self.now, &shown);
            events.extend(outcome.events.iter().copied());
            let Some(record) = outcome.record else {
                self.drive.apply(&outcome);
                self.due = outcome.next.at.saturating_sub(self.now) as u32;
                let sample = outcome.next.sample;
                self.sample = sample.map(|at| at.saturating_sub(self.now) as u32);
                return events;
            };
            shown = Inputs {
                burst: None,
                command: None,
                air: None,
                committed: Some(record.number),
                ..shown
            };
        }
    }

    fn ahead(&self, ground: &mut Ground, tell: &mut Tell<Self>) {
        let scene = ground.scene;
        if self.left == 0 {
            return;
        }
        let wait = self.due.div_ceil(scene.unit) * scene.unit;
        let sampled = self.sample.is_some_and(|at| wait >= at);
        let shows: Vec<_> =
            if sampled { scene.shows.iter().copied().map(Some).collect() } else { vec![None] };
        for show in shows {
            self.clone().deed(ground, Deed::Step { wait, show }, tell);
        }
        let off = self.zone.mode() == Mode::Off;
        let order = if off { Order::Automatic } else { Order::Off };
        self.clone().deed(ground, Deed::Order(order), tell);
    }

    fn deed(mut self, ground: &mut Ground, deed: Deed, tell: &mut Tell<Self>) {
        let (scene, timing) = (ground.scene, ground.scene.device.config().timing);
        let mut inputs = Inputs::default();
        let (mut wait, mut seen) = (0, None);
        match deed {
            Deed::Step { wait: passes, show } => {
                wait = passes;
                self.drive.run(wait, timing.tick.0, timing.run_down.0);
                self.now += u64::from(wait);
                inputs.burst = show.and_then(Show::burst);
                seen = show.and_then(level);
                let demand = scene.demand.filter(|_| show.is_some());
                inputs.air =
                    demand.map(|demand| Air { temperature: None, demand: Some(Volume(demand)) });
            }
            Deed::Order(order) => {
                inputs.command = Some(Command { order, origin: Origin::Local });
            }
        }
        self.left -= 1;
        let events = self.turn(&inputs);
        let off = self.zone.mode() == Mode::Off;
        let told = inputs.air.and_then(|air| air.demand).map_or(0, |demand| u64::from(demand.0));
        self.known.pass(&scene.promised, wait, told);
        self.known.look(&scene.promised, seen, off);
        for event in &events {
            if let Event::Closed { path, .. } = event {
                self.known.closed(&scene.promised, *path);
            }
        }
        let grid = matches!(deed, Deed::Step { show: Some(_), .. });
        let broken = if grid { self.judge(ground, off) } else { None };
        let line = || format!("{deed:?} -> next +{} {events:?}", self.due);
        tell(&self, broken, &line);
    }

    /// On the grid every alarm that is due is raised, and none that is not.
    fn judge(&self, ground: &mut Ground, off: bool) -> Option<Broken> {
        let (promised, known) = (&ground.scene.promised, &self.known);
        let raised = |alarm| self.zone.meters().watch.is_raised(alarm);
        let mut broken = None;
        let mut hold = |alarm: Alarm, due: bool, may: bool, (seen, bound): (u64, u64)| {
            let what = match (raised(alarm), due, may) {
                (false, true, _) => "silent where a person should be told",
                (true, _, false) => "told without a reason",
                _ => return,
            };
            broken = broken.or(Some(Broken { rule: "S14", what, seen, bound }));
        };
        // Water that rose slowly may count from when it had settled.
        let settled = known
            .since_closed
            .map_or(u64::MAX, |closed| u64::from(closed).saturating_sub(promised.settles_in));
        let since = u64::from(known.since_rise);
        let unknown = ground.scene.demand.is_none();
        let due = unknown && since.min(settled) >= promised.overdue_after;
        let may = unknown && since >= promised.overdue_after;
        hold(Alarm::CheckByHand, due, may, (since, promised.overdue_after));
        let due = known.demand_unseen >= promised.overdue_demand;
        let may = known.demand >= promised.overdue_demand;
        hold(Alarm::Overdue, due, may, (known.demand_unseen, promised.overdue_demand));
        let (_, after) = promised.too_wet;
        let wet = known.wet_for.map_or(0, u64::from);
        let may = known.wet_for.is_some() && u64::from(known.since_not_wet) >= after;
        hold(Alarm::TooWet, known.wet_for.is_some() && wet >= after, may, (wet, after));
        let (times, _) = promised.short;
        let short = known.short_in_row >= times;
        let pair = (u64::from(known.short_in_row), u64::from(times));
        hold(Alarm::ShortCycle, short, short, pair);
        for (alarm, witness) in [
            (Alarm::CheckByHand, Witness::ToldToLook),
            (Alarm::Overdue, Witness::ToldOverdue),
            (Alarm::TooWet, Witness::ToldTooWet),
            (Alarm::ShortCycle, Witness::ToldShortCycle),
        ] {
            ground.witnesses.reach_if(raised(alarm), witness);
        }
        let any = raised(Alarm::CheckByHand) || raised(Alarm::Overdue);
        ground.witnesses.reach_if(any && off, Witness::ToldWhileOff);
        broken
    }
}

impl Known {
    fn pass(&mut self, promised: &Promised, wait: u32, demand: u64) {
        // Beyond these nothing new is due.
        let most = 4 * promised.overdue_after.min(u64::from(u32::MAX) / 4) as u32;
        self.since_rise = (self.since_rise + wait).min(most);
        self.since_closed = self.since_closed.map(|closed| (closed + wait).min(most));
        self.wet_for = self.wet_for.map(|wet| (wet + wait).min(most));
        self.since_not_wet = (self.since_not_wet + wait).min(most);
        let (_, interval) = promised.short;
        if self.since_closed.is_some_and(|closed| u64::from(closed) >= interval) {
            // What comes next, comes not too soon.
            self.short_in_row = 0;
        }
        self.demand += demand;
        let settles = |closed: u32| u64::from(closed) < promised.settles_in;
        if self.since_closed.is_some_and(settles) {
            self.demand_unseen = 0;
        } else {
            self.demand_unseen += demand;
        }
    }

    /// A reading: a rise is water from whatever cause.
    fn look(&mut self, promised: &Promised, level: Option<u16>, off: bool) {
        let Some(level) = level else { return };
        let lowest = self.lowest.map_or(level, |lowest| lowest.min(level));
        self.lowest = Some(lowest);
        let dried_to = self.dried_to.unwrap_or(level);
        self.dried_to = Some(dried_to);
        if level - lowest >= promised.rise {
            (self.since_rise, self.demand, self.demand_unseen) = (0, 0, 0);
            (self.lowest, self.dried_to) = (Some(level), Some(level));
        } else if off {
            self.dried_to = Some(dried_to.min(level));
        } else if dried_to.saturating_sub(level) >= promised.rise {
            // Use that the reading showed.
            (self.dried_to, self.demand_unseen) = (Some(level), 0);
        }
        if level >= promised.too_wet.0 {
            self.wet_for = self.wet_for.or(Some(0));
        } else {
            (self.wet_for, self.since_not_wet) = (None, 0);
        }
    }

    fn closed(&mut self, promised: &Promised, path: Path) {
        if path == Path::Automatic {
            let (_, interval) = promised.short;
            let short = self.since_closed.is_some_and(|since| u64::from(since) < interval);
            self.short_in_row = if short { self.short_in_row + 1 } else { 0 };
            self.since_closed = Some(0);
        }
    }
}

/// Every history of the scene, or those that `most` worlds hold.
pub fn explore_alarms(scene: &AlarmScene, most: u64) -> Found {
    let mut ground = Ground { scene, witnesses: Witnesses::default() };
    let ahead = |world: &World, tell: &mut Tell<World>| world.ahead(&mut ground, tell);
    let found = exhaust(World::first(scene), World::fingerprint, ahead, most);
    Found { witnesses: ground.witnesses, ..found }
}

/// The shortest history that breaks a promise; empty if none does.
pub fn shortest_alarms(scene: &AlarmScene, most: u64) -> Vec<String> {
    let mut ground = Ground { scene, witnesses: Witnesses::default() };
    let ahead = |world: &World, tell: &mut Tell<World>| world.ahead(&mut ground, tell);
    shortest_way(World::first(scene), World::fingerprint, ahead, most)
}
