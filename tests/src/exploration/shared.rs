//! Two real zones on one supply, stepped by the real round of a manifold.
//!
//! What a single zone promises is judged in the other scenes; here it is what they promise
//! together, and S1 to S4 of each again, because a queue must not bend them.

use std::hash::{Hash, Hasher};

use drydown::guard::Plan;
use drydown::manifold::{CheckedManifold, Manifold, Need, round};
use drydown::persist::{Record, RecordNumber, SharedStore, Stored};
use drydown::quantity::Moisture;
use drydown::zone::{
    Boot, BootCause, CheckedZone, Command, Drive, Event, Horizon, Inputs, Mode, Order, Origin,
    Outcome, Zone,
};

use super::bystander::Broken;
use super::drive::{Driving, Edges};
use super::past::Past;
use super::search::{Fingerprint, Found, Tell, exhaust, shortest_way};
use super::witness::{Witness, Witnesses};
use crate::adversary::Wild;
use crate::observer::Told;

/// What the clock shows at the last round, in every world.
const NOW: u64 = 1 << 40;
const NEWEST: RecordNumber = RecordNumber { epoch: 0, sequence: 1 };
const OLDER: RecordNumber = RecordNumber { epoch: 0, sequence: 0 };

/// What two zones on one supply are held to.
#[derive(Clone, Copy, Debug)]
pub struct Together {
    /// What each draws.
    pub flows: [u32; 2],
    /// The most they may draw together.
    pub most: u32,
    /// How often the other may be permitted while one waits.
    pub overtaken: u8,
}

/// Two zones of one configuration on one supply, and what may happen to them.
#[derive(Clone, Debug)]
pub struct SharedScene {
    /// Its name.
    pub name: &'static str,
    /// Each of the zones.
    pub device: CheckedZone<Wild>,
    /// Their supply.
    pub supply: CheckedManifold<2>,
    /// What each promises.
    pub told: Told,
    /// What both promise.
    pub together: Together,
    /// The coarse unit of time, milliseconds.
    pub unit: u32,
    /// Rounds one unit after the last, earlier than due.
    pub early: bool,
    /// Rounds so many units later than due.
    pub late: Vec<u32>,
    /// Resets, at any round and when one is due.
    pub resets: bool,
    /// Which records the store may keep.
    pub keeps: Vec<[bool; 2]>,
    /// The first zone is switched off and on again.
    pub off: bool,
}

/// One step of a history.
#[derive(Clone, Copy, Debug)]
enum Deed {
    Round { wait: u32, order: Option<Order>, keeps: [bool; 2] },
    Reset { wait: u32, keeps: [bool; 2] },
}

/// What a stranger with a stop-watch knows of one of the zones.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
struct Watched {
    past: Past,
    open_for: Option<u32>,
    off_for: u32,
    /// Length, age, and whether it was taken.
    permit: Option<(u32, u32, bool)>,
    hold_off_left: u32,
    /// It waits since then, and so often the other was permitted.
    overtaken: Option<u8>,
}

/// All that a history has come to.
#[derive(Clone)]
struct World {
    zones: [Zone<CheckedZone<Wild>>; 2],
    manifold: Manifold<2>,
    drives: [Driving; 2],
    stored: [Option<Record>; 2],
    /// The stored record is the newest that was handed out.
    current: [bool; 2],
    due: u32,
    watched: [Watched; 2],
}

/// What is found on the way.
struct Ground<'s> {
    scene: &'s SharedScene,
    witnesses: Witnesses,
    fullest: u64,
}

/// Keeps what it may, and remembers what it was handed.
struct Keeping {
    keeps: [bool; 2],
    kept: [Option<Record>; 2],
    handed: [bool; 2],
    while_open: bool,
}

impl SharedStore<2> for Keeping {
    fn may_write(&self, drives: &[Drive; 2]) -> bool {
        drives.iter().all(|drive| !drive.on)
    }

    fn put(
        &mut self,
        zone: usize,
        _: &Plan,
        drives: &[Drive; 2],
        record: &Record,
    ) -> Option<RecordNumber> {
        self.while_open |= drives.iter().any(|drive| drive.on);
        self.handed[zone] = true;
        if !self.keeps[zone] {
            return None;
        }
        self.kept[zone] = Some(*record);
        Some(record.number)
    }
}

/// The first rule broken.
#[derive(Default)]
struct Verdict(Option<Broken>);

impl Verdict {
    fn require(
        &mut self,
        holds: bool,
        rule: &'static str,
        what: &'static str,
        (seen, bound): (u64, u64),
    ) {
        if !holds && self.0.is_none() {
            self.0 = Some(Broken { rule, what, seen, bound });
        }
    }
}

fn horizon() -> Horizon {
    // Nothing is read here.
    Horizon { now: NOW, number: NEWEST, soil: (Moisture::ZERO, Moisture::FULL) }
}

/// What a boot makes of a record, as a record: no two that come to the same differ.
fn settled(scene: &SharedScene, record: Record) -> Record {
    let found = Stored::Found(record);
    let mut zone = Zone::boot(scene.device, Boot::Start(BootCause::Reset), &found, None);
    zone.make_canonical(&horizon());
    zone.record()
}

impl Watched {
    fn pass(
        &mut self,
        told: &Told,
        wait: u32,
        edges: Edges,
        verdict: &mut Verdict,
        fullest: &mut u64,
    ) {
        let closed = edges.closed.filter(|_| self.open_for.is_some() || edges.opened.is_some());
        let until = closed.unwrap_or(wait);
        self.past.age(told, until);
        if let Some((_, age, _)) = &mut self.permit {
            *age += until;
        }
        if let Some(at) = edges.opened {
            let off = u64::from(self.off_for.saturating_add(at)) * 100 / 102;
            verdict.require(
                off >= told.min_closed,
                "S3",
                "opened too soon",
                (off, told.min_closed),
            );
            let own = matches!(self.permit, Some((_, _, false)));
            verdict.require(own, "S2", "opened without a permit of its own", (1, 0));
            let left = u64::from(self.hold_off_left);
            verdict.require(left == 0, "S1", "opened in the hold-off", (left, 0));
            if let Some((_, _, taken)) = &mut self.permit {
                *taken = true;
            }
            self.open_for = Some(0);
        }
        let opened = edges.opened.unwrap_or(0);
        match (self.open_for, closed) {
            (Some(open), Some(at)) => {
                self.closes(told, open + at - opened, verdict, fullest);
                self.past.age(told, wait - at);
                self.off_for = wait - at;
            }
            (Some(open), None) => self.open_for = Some(open + wait - opened),
            (None, _) => self.off_for = self.off_for.saturating_add(wait),
        }
        self.off_for = self.off_for.min(told.min_closed as u32 * 2);
    }

    fn closes(&mut self, told: &Told, length: u32, verdict: &mut Verdict, fullest: &mut u64) {
        (self.open_for, self.off_for) = (None, 0);
        self.past.add(length);
        let (used, limit) = (self.past.used(told), told.limits[0] * 1_000);
        *fullest = (*fullest).max(used);
        verdict.require(used <= limit, "S4", "more than the limit in one window", (used, limit));
        if let Some((longest, age, _)) = self.permit.take() {
            let pair = (u64::from(age), u64::from(longest) + told.tick);
            verdict.require(pair.0 <= pair.1, "S2", "outlasted its permit", pair);
        }
    }

    /// Where within the wait that is over it was open.
    fn open_within(before: bool, wait: u32, edges: Edges) -> Option<(u32, u32)> {
        let from = if before { Some(0) } else { edges.opened };
        from.map(|from| (from, edges.closed.unwrap_or(wait)))
    }
}

impl World {
    fn first(ground: &mut Ground) -> Self {
        let scene = ground.scene;
        let lost = Stored::Lost(RecordNumber::NONE);
        let mut zone = Zone::boot(scene.device, Boot::Start(BootCause::PowerOn), &lost, None);
        let order = Command { order: Order::Initialise, origin: Origin::Local };
        zone.step(NOW, &Inputs { command: Some(order), ..Inputs::default() });
        let stored = Some(settled(scene, zone.record()));
        let world = Self {
            zones: [zone.clone(), zone],
            manifold: Manifold::new(scene.supply),
            drives: [Driving::default(); 2],
            stored: [stored; 2],
            current: [true; 2],
            due: 1,
            watched: [Watched { off_for: u32::MAX / 2, ..Watched::default() }; 2],
        };
        let mut first = world.clone();
        let deed = Deed::Reset { wait: 0, keeps: [true; 2] };
        world.reset(ground, deed, &mut |after: &Self, _, _: &dyn Fn() -> String| {
            first = after.clone();
        });
        first
    }

    fn fingerprint(&self) -> u64 {
        let mut hasher = Fingerprint::default();
        for zone in &self.zones {
            zone.state().hash(&mut hasher);
        }
        self.manifold.state().hash(&mut hasher);
        (self.drives, self.stored, self.current, self.watched).hash(&mut hasher);
        hasher.finish()
    }

    fn ahead(&self, ground: &mut Ground, tell: &mut Tell<Self>) {
        let scene = ground.scene;
        let due = self.due.div_ceil(scene.unit) * scene.unit;
        let mut waits = vec![due];
        if scene.early && due > scene.unit {
            waits.push(scene.unit);
        }
        waits.extend(scene.late.iter().map(|late| due + late * scene.unit));
        for &keeps in &scene.keeps {
            for &wait in &waits {
                self.clone().round(ground, Deed::Round { wait, order: None, keeps }, tell);
            }
            if scene.off {
                let off = self.zones[0].mode() == Mode::Off;
                let order = Some(if off { Order::Automatic } else { Order::Off });
                self.clone().round(ground, Deed::Round { wait: 0, order, keeps }, tell);
            }
            if scene.resets {
                for wait in [0, due] {
                    self.clone().reset(ground, Deed::Reset { wait, keeps }, tell);
                }
            }
        }
    }

    /// True time passes: what is open together keeps to what the supply gives.
    fn pass(&mut self, ground: &mut Ground, wait: u32, verdict: &mut Verdict) {
        let (scene, timing) = (ground.scene, ground.scene.device.config().timing);
        let open = self.watched.map(|watched| watched.open_for.is_some());
        let edges =
            self.drives.each_mut().map(|drive| drive.run(wait, timing.tick.0, timing.run_down.0));
        let within = |zone: usize| Watched::open_within(open[zone], wait, edges[zone]);
        let overlap = within(0).zip(within(1)).is_some_and(|(a, b)| a.0.max(b.0) < a.1.min(b.1));
        let Together { flows, most, .. } = scene.together;
        let drawn = if overlap { flows[0] + flows[1] } else { 0 };
        ground.witnesses.reach_if(overlap, Witness::Together);
        let pair = (u64::from(drawn), u64::from(most));
        verdict.require(drawn <= most, "S10", "more than the supply gives", pair);
        for (watched, edges) in self.watched.iter_mut().zip(edges) {
            watched.pass(&scene.told, wait, edges, verdict, &mut ground.fullest);
        }
    }

    fn round(mut self, ground: &mut Ground, deed: Deed, tell: &mut Tell<Self>) {
        let Deed::Round { wait, order, keeps } = deed else { return };
        let mut verdict = Verdict::default();
        self.pass(ground, wait, &mut verdict);
        for watched in &mut self.watched {
            // True time: what a zone credits itself of a late round goes by its own promise.
            watched.hold_off_left = watched.hold_off_left.saturating_sub(wait);
        }
        self.answer(ground, deed, (wait, order), keeps, verdict, tell);
    }

    fn reset(mut self, ground: &mut Ground, deed: Deed, tell: &mut Tell<Self>) {
        let Deed::Reset { wait, keeps } = deed else { return };
        let (scene, mut verdict) = (ground.scene, Verdict::default());
        self.pass(ground, wait, &mut verdict);
        for (zone, watched) in self.watched.iter_mut().enumerate() {
            if let Some(open) = watched.open_for {
                ground.witnesses.reach(Witness::ResetWhileOpen);
                watched.closes(&scene.told, open, &mut verdict, &mut ground.fullest);
            }
            (watched.permit, watched.overtaken) = (None, None);
            watched.hold_off_left = scene.told.hold_off as u32;
            let found = self.stored[zone].map_or(Stored::Lost(RecordNumber::NONE), Stored::Found);
            let cause = Boot::Start(BootCause::BrownOut);
            self.zones[zone] = Zone::boot(scene.device, cause, &found, None);
        }
        self.manifold = Manifold::new(scene.supply);
        (self.drives, self.current) = ([Driving::default(); 2], [true; 2]);
        self.answer(ground, deed, (0, None), keeps, verdict, tell);
    }

    /// One round of the real loop.
    fn answer(
        &mut self,
        ground: &mut Ground,
        deed: Deed,
        (shown, order): (u32, Option<Order>),
        keeps: [bool; 2],
        mut verdict: Verdict,
        tell: &mut Tell<Self>,
    ) {
        let scene = ground.scene;
        let now = NOW + u64::from(shown);
        let command = order.map(|order| Command { order, origin: Origin::Local });
        let inputs = [0, 1].map(|zone| Inputs {
            drive: self.drives[zone].sample(),
            command: command.filter(|_| zone == 0),
            ..Inputs::default()
        });
        let mut store = Keeping { keeps, kept: [None; 2], handed: [false; 2], while_open: false };
        let (drives, mut outcomes) = (&mut self.drives, vec![]);
        let found = round(
            &mut self.manifold,
            &mut self.zones,
            &mut store,
            now,
            &inputs,
            |zone, outcome| {
                drives[zone].apply(outcome);
                outcomes.push((zone, outcome.clone()));
            },
        );
        verdict.require(!store.while_open, "contract", "written while a valve is open", (1, 0));
        self.judge(ground, &inputs, &outcomes, keeps, &mut verdict);
        self.due = found.at().saturating_sub(now) as u32;
        // The clock of the manifold is taken back with that of the zones.
        self.manifold.age(NOW);
        let most = 2 * scene.told.min_closed as u32;
        for zone in 0..2 {
            self.zones[zone].make_canonical(&horizon());
            self.drives[zone] = self.drives[zone].canonical(most);
            if let Some(record) = store.kept[zone] {
                (self.stored[zone], self.current[zone]) = (Some(settled(scene, record)), true);
            }
            self.current[zone] &= store.kept[zone].is_some() || !store.handed[zone];
            if let Some(stored) = &mut self.stored[zone] {
                stored.number = if self.current[zone] { NEWEST } else { OLDER };
            }
        }
        let line = || {
            let told = outcomes.iter().map(|(zone, outcome)| {
                let permit = outcome.permit.map(|permit| permit.length.0);
                let events = &outcome.events[..];
                format!("\n    zone {zone}: permit {permit:?} renew {} {events:?}", outcome.renew)
            });
            format!("{deed:?} -> next +{}{}", self.due, told.collect::<String>())
        };
        tell(self, verdict.0, &line);
    }

    /// Turns are kept, and water that nothing stands in the way of comes.
    fn judge(
        &mut self,
        ground: &mut Ground,
        inputs: &[Inputs; 2],
        outcomes: &[(usize, Outcome)],
        keeps: [bool; 2],
        verdict: &mut Verdict,
    ) {
        let Together { flows, most, overtaken } = ground.scene.together;
        let told = &ground.scene.told;
        let fit = flows[0] + flows[1] <= most;
        let mut permits = [false; 2];
        for (zone, outcome) in outcomes {
            if let Some(permit) = outcome.permit {
                permits[*zone] = true;
                let left = u64::from(self.watched[*zone].hold_off_left);
                verdict.require(left == 0, "S1", "permit in the hold-off", (left, 0));
                let pair = (u64::from(permit.length.0), told.max_open);
                verdict.require(pair.0 <= pair.1, "S2", "permit too long", pair);
                self.watched[*zone].permit = Some((permit.length.0, 0, false));
            }
            let used_up = Event::Refused(
                drydown::guard::Path::Automatic,
                drydown::guard::Condition::LimitReached,
            );
            ground.witnesses.reach_if(outcome.events.contains(&used_up), Witness::LimitUsedUp);
        }
        ground.witnesses.reach_if(permits == [true; 2], Witness::TogetherAtOnce);
        let drives = [inputs[0].drive.on, inputs[1].drive.on];
        for zone in 0..2 {
            let other = 1 - zone;
            let waits = self.zones[zone].need() == Need::Wanted;
            let before = self.watched[zone].overtaken;
            let times = before.map(|times| times + u8::from(permits[other]));
            if let Some(times) = times {
                let pair = (u64::from(times), u64::from(overtaken));
                verdict.require(times <= overtaken, "L1", "overtaken while it waits", pair);
                ground.witnesses.reach_if(permits[zone], Witness::TookTurns);
            }
            self.watched[zone].overtaken =
                waits.then_some(times.unwrap_or(0).min(overtaken)).filter(|_| !permits[zone]);
            ground.witnesses.reach_if(waits && drives[other], Witness::Waited);
            // An order that was withdrawn before the interrupt took it.
            if self.watched[zone].open_for.is_none() && !self.drives[zone].sample().on {
                self.watched[zone].permit = None;
            }
            let off = self.zones[zone].mode() == Mode::Off;
            ground.witnesses.reach_if(off && permits[other], Witness::LetPast);
            let alone = !drives[other] && !permits[other];
            // A round that comes later than an opening and the rest after it were long finds a report
            // that may be of the opening before: the zone holds its share until it is sure.
            let need = self.zones[other].need();
            let unsure = need == Need::Open && !ground.scene.late.is_empty();
            let idle = alone && need != Need::Intended && !unsure && keeps[zone];
            verdict.require(!(waits && idle), "L1", "waits for a supply that nobody uses", (1, 0));
            let held_up = waits && fit && !drives[other] && !unsure && keeps == [true; 2];
            verdict.require(!held_up, "L1", "waits although both are fed", (1, 0));
        }
    }
}

fn ground(scene: &SharedScene) -> Ground<'_> {
    Ground { scene, witnesses: Witnesses::default(), fullest: 0 }
}

/// Explores a shared scene until it is exhausted, a rule is broken, or `most` worlds were found.
pub fn explore_shared(scene: &SharedScene, most: u64) -> Found {
    let mut ground = ground(scene);
    let first = World::first(&mut ground);
    let ahead = |world: &World, tell: &mut Tell<World>| world.ahead(&mut ground, tell);
    let found = exhaust(first, World::fingerprint, ahead, most);
    Found { witnesses: ground.witnesses, fullest: ground.fullest, ..found }
}

/// The shortest history of a shared scene that breaks a rule; empty if none does.
pub fn shortest_shared(scene: &SharedScene, most: u64) -> Vec<String> {
    let mut ground = ground(scene);
    let first = World::first(&mut ground);
    let ahead = |world: &World, tell: &mut Tell<World>| world.ahead(&mut ground, tell);
    shortest_way(first, World::fingerprint, ahead, most)
}
