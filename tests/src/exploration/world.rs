//! One world: all that a history has come to, and every world one step ahead of it.

use std::hash::{Hash, Hasher};

use drydown::guard::{Condition, Path};
use drydown::persist::{Record, RecordNumber, Stored};
use drydown::policy::Policy;
use drydown::quantity::Millis;
use drydown::zone::{
    Air, Boot, BootCause, CheckedZone, Command, Horizon, Inputs, Link, Order, Origin, Outcome,
    Rest, Retained, Signals, Supply, Tank, Writing, Zone,
};

use super::bystander::{Broken, Bystander, Court};
use super::drive::Driving;
use super::scene::{Keep, Mischief, Scene, Show};
use super::search::Fingerprint;
use super::witness::{Witness, Witnesses};
use crate::observer::Seen;

/// What the clock shows at the last step, in every world.
const NOW: u64 = 1 << 40;
/// The number of the newest record, in every world.
const NEWEST: RecordNumber = RecordNumber { epoch: 0, sequence: 1 };
/// The number of any other.
const OLDER: RecordNumber = RecordNumber { epoch: 0, sequence: 0 };

/// What is around the device and stays as it is until it changes.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[allow(clippy::struct_excessive_bools, reason = "each may change by itself")]
struct Around {
    busy: bool,
    store_busy: bool,
    link_down: bool,
    tank_empty: bool,
    cold: bool,
}

/// What the first and the second probe show, where a sample is due and there is such a probe.
type Sample = [Option<Show>; 2];

/// One step of a history.
#[derive(Clone, Copy, Debug)]
pub enum Deed {
    /// A step, so long after the last.
    Step {
        /// True time since the last, milliseconds.
        wait: u32,
        /// What the clock shows of it; `None`: it ran backwards.
        shown: Option<u32>,
        /// What the probes show, if the step brings a sample.
        show: Sample,
    },
    /// An order, in a step of its own.
    Order(Command),
    /// Something around the device changes, and a step sees it.
    Turns(&'static str),
    /// A reset, so long after the last step.
    Reset {
        /// True time since the last step, milliseconds.
        wait: u32,
        /// The store is found wiped.
        wiped: bool,
    },
    /// A deep sleep and the wake.
    Sleep {
        /// How long.
        slept: u32,
        /// What the probes show then.
        show: Sample,
    },
    /// The interrupt dies, and the watchdog bites.
    InterruptDies,
}

/// What a step led to.
pub struct Ahead<'a, P: Policy + Copy> {
    /// What was done.
    pub deed: Deed,
    /// What the store did with each record that came of it.
    pub kept: &'a [Keep],
    /// What the zone answered last.
    pub outcome: &'a Outcome,
    /// The world after it.
    pub world: &'a World<P>,
    /// The rule it broke.
    pub broken: Option<Broken>,
}

impl<P: Policy + Copy> Ahead<'_, P> {
    /// What was done and what came of it.
    pub fn in_words(&self) -> String {
        let Self { deed, kept, outcome, .. } = self;
        let permit = outcome.permit.map(|permit| (permit.path, permit.length.0));
        format!(
            "{deed:?} {kept:?} -> permit {permit:?} renew {} next +{} {:?}",
            outcome.renew,
            outcome.step_within.0,
            &outcome.events[..]
        )
    }
}

/// All that a history has come to.
#[derive(Clone)]
pub struct World<P: Policy + Copy> {
    zone: Zone<CheckedZone<P>>,
    drive: Driving,
    stored: Option<Record>,
    /// The stored record is the newest that was handed out.
    current: bool,
    /// It is known to be kept.
    confirmed: bool,
    around: Around,
    since_jump: u32,
    due: u32,
    sample: Option<u32>,
    deep: bool,
    bystander: Bystander,
}

/// What is the same for every world of a scene, and what is found on the way.
pub struct Ground<'a, P> {
    /// The scene.
    pub scene: &'a Scene<P>,
    /// Corners reached.
    pub witnesses: Witnesses,
    /// Most open time in a window, microseconds.
    pub fullest: u64,
}

impl<'a, P> Ground<'a, P> {
    /// Nothing found yet.
    pub fn new(scene: &'a Scene<P>) -> Self {
        Self { scene, witnesses: Witnesses::default(), fullest: 0 }
    }
}

impl<P: Policy + Copy> World<P>
where
    P::Memory: Hash,
{
    /// A device with a record that says that nothing was given, switched on for the first time.
    pub fn first(ground: &mut Ground<P>) -> Self {
        let scene = ground.scene;
        let lost = Stored::Lost(RecordNumber::NONE);
        let cause = Boot::Start(BootCause::PowerOn);
        let mut zone = Zone::boot(scene.device, cause, &lost, None);
        let order = Command { order: Order::Initialise, origin: Origin::Local };
        zone.step(NOW, &Inputs { command: Some(order), ..Inputs::default() });
        let mut world = Self {
            zone,
            drive: Driving::default(),
            stored: None,
            current: false,
            confirmed: false,
            around: Around::default(),
            since_jump: u32::MAX,
            due: 1,
            sample: None,
            deep: false,
            bystander: Bystander::new(&scene.told),
        };
        world.stored = Some(Self::settled(scene, &world.zone.record()).0);
        let mut first = None;
        let booting = world.clone();
        booting.reset(ground, 0, false, &mut |ahead| {
            first = first.take().or_else(|| Some(ahead.world.clone()));
        });
        first.unwrap_or(world)
    }

    /// What all that decides comes to.
    pub fn fingerprint(&self) -> u64 {
        let mut hasher = Fingerprint::default();
        self.zone.state().hash(&mut hasher);
        self.drive.hash(&mut hasher);
        (self.stored, self.current, self.confirmed).hash(&mut hasher);
        (self.around, self.since_jump, self.bystander).hash(&mut hasher);
        hasher.finish()
    }

    /// Everything that may happen next.
    pub fn ahead(&self, ground: &mut Ground<P>, tell: &mut impl FnMut(&Ahead<P>)) {
        let scene = ground.scene;
        let mischief = &scene.mischief;
        let unit = scene.unit;
        let due = self.due.div_ceil(unit) * unit;
        self.steps(ground, due, Some(due), tell);
        if mischief.early && due > unit {
            self.steps(ground, unit, Some(unit), tell);
        }
        // What is credited of a late step stays on the grid only if the promise was.
        if self.due.is_multiple_of(unit) {
            for late in &mischief.late {
                let wait = due + late * unit;
                self.steps(ground, wait, Some(wait), tell);
            }
            let apart = u64::from(self.since_jump) * 100 >= scene.told.window * 102;
            if mischief.jumps && apart {
                self.steps(ground, 0, Some(1_000 * unit), tell);
            }
        }
        if mischief.backwards {
            self.steps(ground, due, None, tell);
        }
        for &command in &mischief.orders {
            let inputs = Inputs { command: Some(command), ..self.inputs() };
            self.clone().step(ground, Deed::Order(command), (0, Some(0)), &inputs, tell);
        }
        if mischief.supply {
            self.turn(ground, "supply", |around| around.busy ^= true, tell);
        }
        if mischief.store_busy {
            self.turn(ground, "store", |around| around.store_busy ^= true, tell);
        }
        if mischief.link {
            self.turn(ground, "link", |around| around.link_down ^= true, tell);
        }
        if mischief.tank {
            self.turn(ground, "tank", |around| around.tank_empty ^= true, tell);
        }
        if mischief.frost {
            self.turn(ground, "frost", |around| around.cold ^= true, tell);
        }
        if mischief.resets {
            self.clone().reset(ground, 0, false, tell);
            self.clone().reset(ground, due, false, tell);
        }
        if mischief.wipes {
            self.clone().reset(ground, 0, true, tell);
        }
        if mischief.sleeps && self.deep {
            self.sleep(ground, due, tell);
        }
        if mischief.dead_interrupt && self.drive.is_open() {
            let mut world = self.clone();
            world.judge(ground, Bystander::interrupt_dies);
            world.boot(ground, Deed::InterruptDies, BootCause::Watchdog, None, tell);
        }
    }

    /// Something around the device changes, and a step sees it at once.
    fn turn(
        &self,
        ground: &mut Ground<P>,
        what: &'static str,
        turn: impl FnOnce(&mut Around),
        tell: &mut impl FnMut(&Ahead<P>),
    ) {
        let mut world = self.clone();
        turn(&mut world.around);
        let inputs = world.inputs();
        world.step(ground, Deed::Turns(what), (0, Some(0)), &inputs, tell);
    }

    /// A step so long after the last, with everything the probe may show if it is asked.
    fn steps(
        &self,
        ground: &mut Ground<P>,
        wait: u32,
        shown: Option<u32>,
        tell: &mut impl FnMut(&Ahead<P>),
    ) {
        for show in self.shows(ground.scene, shown.unwrap_or(0)) {
            let inputs = self.sampled(show);
            let deed = Deed::Step { wait, shown, show };
            self.clone().step(ground, deed, (wait, shown), &inputs, tell);
        }
    }

    fn shows(&self, scene: &Scene<P>, shown: u32) -> Vec<Sample> {
        if self.sample.is_none_or(|sample| shown < sample) {
            return vec![[None; 2]];
        }
        let Mischief { shows, second, .. } = &scene.mischief;
        if second.is_empty() {
            return shows.iter().map(|&first| [Some(first), None]).collect();
        }
        let both = |&first| second.iter().map(move |&second| [Some(first), Some(second)]);
        shows.iter().flat_map(both).collect()
    }

    /// Inputs with a sample in them.
    fn sampled(&self, sample: Sample) -> Inputs {
        let [burst, second_burst] = sample.map(|show| show.and_then(Show::burst));
        Inputs { burst, second_burst, ..self.inputs() }
    }

    fn inputs(&self) -> Inputs {
        let Around { busy, store_busy, link_down, tank_empty, cold } = self.around;
        Inputs {
            store: if store_busy { Writing::Busy } else { Writing::Allowed },
            committed: self.confirmed.then_some(NEWEST),
            supply: if busy { Supply::Busy } else { Supply::Granted },
            link: if link_down { Link::Down } else { Link::Up },
            air: Some(Air { temperature: Some(Scene::<P>::air(cold)), demand: None }),
            signals: Signals { tank: tank_empty.then_some(Tank::Empty), ..Signals::default() },
            ..Inputs::default()
        }
    }

    /// Calls on the bystander and keeps what he saw.
    fn judge(
        &mut self,
        ground: &mut Ground<P>,
        judge: impl FnOnce(&mut Bystander, &mut Court),
    ) -> Option<Broken> {
        let scene = ground.scene;
        let mut court = Court {
            told: &scene.told,
            wants: scene.wants,
            broken: None,
            witnesses: ground.witnesses,
            fullest: ground.fullest,
        };
        judge(&mut self.bystander, &mut court);
        (ground.witnesses, ground.fullest) = (court.witnesses, court.fullest);
        court.broken
    }

    /// True time passes.
    fn pass(&mut self, ground: &mut Ground<P>, wait: u32) -> Option<Broken> {
        let timing = ground.scene.device.config().timing;
        let edges = self.drive.run(wait, timing.tick.0, timing.run_down.0);
        self.since_jump = self.since_jump.saturating_add(wait);
        self.judge(ground, |bystander, court| bystander.pass(court, wait, edges))
    }

    fn step(
        mut self,
        ground: &mut Ground<P>,
        deed: Deed,
        (wait, shown): (u32, Option<u32>),
        inputs: &Inputs,
        tell: &mut impl FnMut(&Ahead<P>),
    ) {
        let broken = self.pass(ground, wait);
        if let Some(ahead) = shown.and_then(|shown| shown.checked_sub(wait)).filter(|&by| by > 0) {
            // The counter of the drive leaps with the clock; the bystander's watch does not.
            self.drive.leap(ahead);
            self.since_jump = 0;
            ground.witnesses.reach(Witness::Jumped);
        }
        let open = self.bystander.sees_open();
        ground.witnesses.reach_if(open && shown.is_none(), Witness::BackwardsWhileOpen);
        let now = shown.map_or(NOW - 5_000, |shown| NOW + u64::from(shown));
        let made = Made { deed, kept: vec![], broken };
        self.answer(ground, made, now, shown.unwrap_or(0), inputs, tell);
    }

    /// The zone answers, and the store does what it may with the record that comes of it.
    fn answer(
        &mut self,
        ground: &mut Ground<P>,
        mut made: Made,
        now: u64,
        shown: u32,
        inputs: &Inputs,
        tell: &mut impl FnMut(&Ahead<P>),
    ) {
        let inputs = Inputs { drive: self.drive.sample(), ..inputs.clone() };
        let outcome = self.zone.step(now, &inputs);
        let (reading, mode) = (self.zone.reading(), self.zone.mode());
        let seen = Seen {
            at: 0,
            now,
            inputs: &inputs,
            outcome: &outcome,
            reading,
            mode,
            lock_outs: self.zone.lock_outs(),
            demand: false,
        };
        let spent = u64::from(self.zone.spent().0);
        let broken = self.judge(ground, |by, court| by.step(court, &seen, shown, spent));
        made.broken = made.broken.or(broken);
        self.due = outcome.next.at.saturating_sub(now) as u32;
        self.sample = outcome.next.sample.map(|at| at.saturating_sub(now) as u32);
        self.deep = outcome.rest == Rest::Deep;
        let Some(record) = outcome.record else {
            self.drive.apply(&outcome);
            self.finish(ground, &made, &outcome, tell);
            return;
        };
        let most = ground.scene.mischief.keeps.len();
        for index in 0..most {
            let keep = ground.scene.mischief.keeps[index];
            let (mut world, mut made) = (self.clone(), made.clone());
            made.kept.push(keep);
            (world.current, world.confirmed) = (false, false);
            if keep != Keep::Not {
                let (settled, broken) = Self::settled(ground.scene, &record);
                made.broken = made.broken.or(broken);
                world.stored = Some(settled);
                world.bystander.keeps(&record);
                world.current = true;
            }
            // A turn is three steps at the most.
            if keep == Keep::Prompt && made.kept.len() < 3 {
                let committed = Some(record.number);
                let asked = Inputs { burst: None, second_burst: None, ..inputs.clone() };
                let again = Inputs { command: None, committed, ..asked };
                world.confirmed = true;
                world.answer(ground, made, now, 0, &again, tell);
            } else {
                world.confirmed = matches!(keep, Keep::Slow | Keep::Prompt);
                world.drive.apply(&outcome);
                world.finish(ground, &made, &outcome, tell);
            }
        }
    }

    /// What a boot makes of a record, as a record: no two that come to the same differ. Whether
    /// a boot makes the same of both is looked at each time.
    fn settled(scene: &Scene<P>, record: &Record) -> (Record, Option<Broken>) {
        let boot = |record: Record| {
            let (cause, found) = (Boot::Start(BootCause::Reset), Stored::Found(record));
            let mut zone = Zone::boot(scene.device, cause, &found, None);
            zone.make_canonical(&horizon(scene));
            zone
        };
        let watched = |mut record: Record| {
            record.image.watch = scene.mischief.watch.unwrap_or(record.image.watch);
            record
        };
        let zone = boot(watched(*record));
        let settled = watched(zone.record());
        let same = boot(settled).state() == zone.state();
        let what = "a boot makes something else of what it made of the record";
        let broken = Broken { rule: "boot", what, seen: 1, bound: 0 };
        (settled, (!same).then_some(broken))
    }

    fn finish(
        &mut self,
        ground: &Ground<P>,
        made: &Made,
        outcome: &Outcome,
        tell: &mut impl FnMut(&Ahead<P>),
    ) {
        let scene = ground.scene;
        self.zone.make_canonical(&horizon(scene));
        if let Some(stored) = &mut self.stored {
            stored.number = if self.current { NEWEST } else { OLDER };
        }
        let rest = scene.device.config().limits.min_closed.0;
        self.drive = self.drive.canonical(2 * rest);
        self.since_jump = if scene.mischief.jumps {
            self.since_jump.min((scene.told.window * 102).div_ceil(100) as u32)
        } else {
            0
        };
        let Made { deed, broken, .. } = *made;
        tell(&Ahead { deed, kept: &made.kept, outcome, world: self, broken });
    }

    fn stored(&self) -> Stored {
        self.stored.map_or(Stored::Lost(RecordNumber::NONE), Stored::Found)
    }

    fn reset(
        mut self,
        ground: &mut Ground<P>,
        wait: u32,
        wiped: bool,
        tell: &mut impl FnMut(&Ahead<P>),
    ) {
        let broken = self.pass(ground, wait);
        if wiped {
            self.stored = None;
        }
        self.boot(ground, Deed::Reset { wait, wiped }, BootCause::BrownOut, broken, tell);
    }

    /// A boot that is no wake, and its first step.
    fn boot(
        mut self,
        ground: &mut Ground<P>,
        deed: Deed,
        cause: BootCause,
        broken: Option<Broken>,
        tell: &mut impl FnMut(&Ahead<P>),
    ) {
        let stored = self.stored();
        let held = self.zone.hindrance(Path::Automatic, &self.inputs()) == Some(Condition::HoldOff);
        let unwritten = held && ground.scene.mischief.watch.is_some();
        let judged = self.judge(ground, |by, court| {
            court.witnesses.reach_if(unwritten, Witness::ResetBeforeWritten);
            by.boots(court, &stored);
        });
        // State laid aside for a sleep that a reset ended is not to be used.
        let mut retained = Retained::empty();
        if self.deep {
            self.zone.retain(&mut retained);
        }
        self.zone = Zone::boot(ground.scene.device, Boot::Start(cause), &stored, retained.take());
        self.drive = Driving::default();
        (self.current, self.confirmed) = (true, false);
        let inputs = self.inputs();
        let made = Made { deed, kept: vec![], broken: broken.or(judged) };
        self.answer(ground, made, NOW, 0, &inputs, tell);
    }

    /// A deep sleep: the chip is off, so is the cut-off, and the timer that wakes it tells how
    /// long.
    fn sleep(&self, ground: &mut Ground<P>, slept: u32, tell: &mut impl FnMut(&Ahead<P>)) {
        for show in self.shows(ground.scene, slept) {
            let mut world = self.clone();
            let mut retained = Retained::empty();
            world.zone.retain(&mut retained);
            let broken = world.pass(ground, slept);
            let (stored, wake) = (world.stored(), Boot::Wake { slept: Millis(slept) });
            world.zone = Zone::boot(ground.scene.device, wake, &stored, retained.take());
            world.drive = Driving::default();
            world.bystander.wakes(slept);
            world.confirmed = false;
            let inputs = world.sampled(show);
            let made = Made { deed: Deed::Sleep { slept, show }, kept: vec![], broken };
            world.answer(ground, made, NOW, 0, &inputs, tell);
        }
    }
}

/// What was done on the way to a world.
#[derive(Clone)]
struct Made {
    deed: Deed,
    kept: Vec<Keep>,
    broken: Option<Broken>,
}

fn horizon<P>(scene: &Scene<P>) -> Horizon {
    Horizon { now: NOW, number: NEWEST, soil: scene.soil }
}
