//! The real controller over the readings of a log: when it would have watered, and where that is not what
//! was done.
//!
//! What no log has comes from the scenario, watered as the log says: allowed hours, evaporative demand,
//! the level of the tank, rain. What neither knows is taken as not fitted, and told.
//!
//! The readings are those of what was done. After a decision that differs they no longer answer to the
//! replayed one, so each difference is judged where it stands: a lock-out that the log does not have is
//! told and acknowledged at once.

use drydown::cutoff::{Cutoff, Handle, Sequence, Words};
use drydown::persist::RamStore;
use drydown::probe::Burst;
use drydown::quantity::{DeciCelsius, RawCounts, Volume};
use drydown::zone::{Air, Boot, BootCause, Command, Event, Inputs, Link, Signals, Zone, turn};

use crate::device_log::{DeviceLog, Entry, Watering};
use crate::person::Act;
use crate::report::units::hours;
use crate::run::signals::{self, Demand};
use crate::scenario::Setup;
use crate::world::{Stretch, World};

/// One opening that the replayed controller decided.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// When, s since the first row.
    pub from_s: f64,
    /// Until when.
    pub to_s: f64,
    /// The reading it was decided on, percent.
    pub reading_pct: Option<f64>,
    /// What ended it.
    pub ended: &'static str,
}

/// What a configuration would have done.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Replayed {
    /// Its openings.
    pub openings: Vec<Opening>,
    /// What it refused or found wrong, and when, s.
    pub told: Vec<(f64, &'static str)>,
    /// Alarms it would have raised, and when, s.
    pub alarms: Vec<(f64, &'static str)>,
    /// Lock-outs that the log does not have, and when, s.
    pub lock_outs: Vec<(f64, &'static str)>,
    /// Its readings: s, percent.
    pub readings: Vec<(f64, f64)>,
    /// Where what is no reading came from: sentences.
    pub taken: Vec<String>,
}

/// The log as inputs at any moment: between two rows a count goes straight, across a gap there is none.
struct Recorded<'a> {
    log: &'a DeviceLog,
    rows: &'a [Entry],
    at: usize,
}

impl Recorded<'_> {
    fn burst(&mut self, t_ms: u64) -> Option<Burst> {
        let t_s = t_ms as f64 / 1e3;
        while self.rows.get(self.at + 1).is_some_and(|next| next.t_s <= t_s) {
            self.at += 1;
        }
        let here = self.rows.get(self.at)?;
        let raw = f64::from(here.raw?);
        let Some(next) = self.rows.get(self.at + 1) else {
            return (t_s - here.t_s < 1.0).then(|| Burst::single(RawCounts(raw as u16)));
        };
        if self.log.is_gap(here.t_s, next.t_s) {
            return (t_s - here.t_s < 1.0).then(|| Burst::single(RawCounts(raw as u16)));
        }
        let share = (t_s - here.t_s) / (next.t_s - here.t_s);
        let between = raw + share * (f64::from(next.raw?) - raw);
        Some(Burst::single(RawCounts(between.round() as u16)))
    }

    fn air(&self) -> Option<DeciCelsius> {
        let air_c = self.rows.get(self.at)?.air_c?;
        Some(DeciCelsius((air_c * 10.0).round() as i16))
    }
}

/// The scenario's world, watered as the log says.
struct Surroundings<'a> {
    setup: &'a Setup,
    world: World<'a>,
    /// What was done: ms, driven from then on; the next one first.
    edges: std::vec::IntoIter<(u64, bool)>,
    next: Option<(u64, bool)>,
    demand: Demand,
    begins_hour: u64,
}

impl<'a> Surroundings<'a> {
    fn new(setup: &'a Setup, log: &DeviceLog, waterings: &[Watering]) -> Self {
        let ms = |t_s: f64| (t_s * 1e3).round() as u64;
        let edges =
            waterings.iter().flat_map(|one| [(ms(one.from_s), true), (ms(one.to_s), false)]);
        let mut edges = edges.collect::<Vec<_>>().into_iter();
        Self {
            setup,
            world: World::new(setup),
            next: edges.next(),
            edges,
            demand: Demand::default(),
            begins_hour: begins_hour(setup, log),
        }
    }

    /// What the device is told at a moment beside its reading; at a reading, the demand since the last.
    fn told(&mut self, t_ms: u64, due: bool) -> (Signals, Option<Volume>) {
        let hours_allowed = signals::hours_allowed(self.setup, self.begins_hour, t_ms);
        if t_ms > self.setup.duration_ms {
            return (Signals { hours_allowed, ..Signals::default() }, None);
        }
        let mut keep = |_: &Stretch| {};
        while let Some((edge_ms, on)) = self.next.filter(|(edge_ms, _)| *edge_ms <= t_ms) {
            self.world.drive(edge_ms, on, &mut keep);
            self.next = self.edges.next();
        }
        let rain = self.setup.scenario.signals.rain_switch.then(|| {
            self.world.advance_to(t_ms, &mut keep);
            self.world.rains(t_ms)
        });
        if !due {
            return (Signals { hours_allowed, rain, ..Signals::default() }, None);
        }
        let sight = self.world.look(t_ms, &mut keep);
        let tank = signals::tank(self.setup, &sight);
        let demand = self.demand.tell(&sight);
        (Signals { hours_allowed, rain, tank, ..Signals::default() }, Some(demand))
    }
}

/// The hour of the day at which the log begins: its own, else the scenario's.
fn begins_hour(setup: &Setup, log: &DeviceLog) -> u64 {
    let scenario = setup.weather.course.begins().hour().unsigned_abs();
    log.begins_hour.unwrap_or(u64::from(scenario))
}

/// Where what is no reading comes from, and what nobody knows.
fn taken(setup: &Setup, log: &DeviceLog) -> Vec<String> {
    let fitted = &setup.scenario.signals;
    let (mut scenario, mut told) = (vec![], vec![]);
    if setup.scenario.control.air_sensor {
        scenario.push("the evaporative demand");
    }
    if fitted.rain_switch {
        scenario.push("rain");
    }
    if fitted.tank_low_l.is_some() || fitted.tank_empty_l.is_some() {
        scenario.push("the level of the tank");
    }
    if fitted.hours_allowed.is_some() {
        match log.begins_hour {
            Some(_) => told.push("Allowed hours go by the dates of the log.".to_owned()),
            None => told.push(format!(
                "Allowed hours as if the log began at {:02}:00, as the scenario does.",
                begins_hour(setup, log)
            )),
        }
    }
    if !scenario.is_empty() {
        told.push(format!(
            "From the scenario, begun at the first row and watered as was done: {}.",
            scenario.join(", ")
        ));
        let end_ms = log.longest().last().map_or(0.0, |last| last.t_s * 1e3);
        let beyond_h = (end_ms - setup.duration_ms as f64) / 3.6e6;
        if beyond_h > 0.0 {
            told.push(format!(
                "Its weather ends {} before the log does: from then on these are unknown.",
                hours(beyond_h)
            ));
        }
    }
    let unknown = [
        (fitted.leak_sensor, "water on the floor"),
        (fitted.flow_within.is_some(), "flow"),
        (fitted.current_within.is_some(), "the current of coil or pump"),
        (true, "link and supply voltage"),
    ];
    let unknown: Vec<&str> =
        unknown.into_iter().filter_map(|(is, what)| is.then_some(what)).collect();
    told.push(format!("Unknown, and taken as nothing wrong: {}.", unknown.join(", ")));
    told
}

/// Orders of a person, earliest first: the record begins empty, doses by hand and acknowledgements come as
/// the log has them.
fn orders(rows: &[Entry], waterings: &[Watering]) -> Vec<(u64, Command)> {
    let hand = |one: &Watering| {
        let order = Act::WatersByHand.order(one.to_s - one.from_s)?;
        Some(((one.from_s * 1e3) as u64, order))
    };
    let first = Act::Initialises.order(0.0).map(|order| (0, order));
    let acknowledged = rows
        .iter()
        .filter(|row| row.reason == Event::Acknowledged.text())
        .filter_map(|row| Some(((row.t_s * 1e3) as u64, Act::Acknowledges.order(0.0)?)));
    let by_hand = waterings.iter().filter(|one| one.by_hand).filter_map(hand);
    let mut all: Vec<_> = first.into_iter().chain(by_hand).chain(acknowledged).collect();
    all.sort_by_key(|(at_ms, _)| *at_ms);
    all
}

/// Whether the log has the same words within an hour.
fn says(rows: &[Entry], t_s: f64, words: &str) -> bool {
    rows.iter().any(|row| (row.t_s - t_s).abs() <= 3_600.0 && row.reason == words)
}

/// Runs the controller of a scenario over the longest stretch of a log.
pub fn replay(setup: &Setup, log: &DeviceLog, waterings: &[Watering]) -> Replayed {
    let rows = log.longest();
    let end_ms = rows.last().map_or(0, |last| (last.t_s * 1e3) as u64);
    let mut recorded = Recorded { log, rows, at: 0 };
    let orders = orders(rows, waterings);
    let mut orders = orders.iter().peekable();
    let words = Words::new();
    let mut cutoff = Cutoff::new(&words, Sequence::SINGLE);
    let mut handle = Handle::new(&words);
    let mut store = RamStore::new();
    let mut zone = Zone::boot(setup.zone, Boot::Start(BootCause::PowerOn), &store.stored(), None);
    let mut done = Replayed { taken: taken(setup, log), ..Replayed::default() };
    let mut surroundings = Surroundings::new(setup, log, waterings);
    let fitted_air = setup.scenario.control.air_sensor;
    let (mut t_ms, mut step_at, mut closes_at, mut permit_ends) = (0, 0, u64::MAX, u64::MAX);
    let mut sample_at: Option<u64> = None;
    let mut open = false;
    let mut acknowledges = false;
    loop {
        let pins = cutoff.tick(t_ms as u32);
        edge(&mut done, &mut open, pins.valve, t_ms, &zone);
        if !pins.valve {
            closes_at = u64::MAX;
        }
        let order = orders.next_if(|(at_ms, _)| *at_ms <= t_ms).map(|(_, order)| *order);
        let order = match order {
            None if acknowledges && !open => {
                acknowledges = false;
                Act::Acknowledges.order(0.0)
            }
            other => other,
        };
        if order.is_some() || t_ms >= step_at {
            let (now, drive) = handle.sample();
            let due = sample_at.is_some_and(|at| t_ms >= at);
            let burst = if due { recorded.burst(t_ms) } else { None };
            let (signals, demand) = surroundings.told(t_ms, due);
            let air = Air { temperature: recorded.air(), demand };
            let inputs = Inputs {
                burst,
                drive,
                link: Link::Up,
                command: order,
                air: (due && fitted_air).then_some(air),
                signals,
                ..Inputs::default()
            };
            let outcome = turn(&mut zone, &mut store, now, &inputs);
            handle.apply(&outcome);
            step_at = outcome.next.at.max(t_ms + 1);
            sample_at = outcome.next.sample;
            if let Some(permit) = outcome.permit {
                permit_ends = t_ms + u64::from(permit.length.0);
            }
            if outcome.permit.is_some() || outcome.renew {
                closes_at = permit_ends.min(t_ms + u64::from(outcome.step_within.0));
            }
            if due && let Some(reading) = zone.reading() {
                let percent = f64::from(reading.moisture.centi()) / 100.0;
                done.readings.push((t_ms as f64 / 1e3, percent));
            }
            for event in outcome.events.iter() {
                hear(&mut done, t_ms, *event);
                let locked = matches!(event, Event::LockedOut(_));
                if locked && !says(rows, t_ms as f64 / 1e3, event.text()) {
                    done.lock_outs.push((t_ms as f64 / 1e3, event.text()));
                    acknowledges = true;
                }
            }
            let pins = cutoff.tick(t_ms as u32);
            edge(&mut done, &mut open, pins.valve, t_ms, &zone);
        }
        if t_ms >= end_ms {
            return done;
        }
        let by_hand = orders.peek().map_or(u64::MAX, |(at_ms, _)| *at_ms);
        t_ms = step_at.min(closes_at).min(by_hand).min(end_ms).max(t_ms + 1);
    }
}

fn edge(done: &mut Replayed, open: &mut bool, now: bool, t_ms: u64, zone: &Zone) {
    let t_s = t_ms as f64 / 1e3;
    match (*open, now) {
        (false, true) => done.openings.push(Opening {
            from_s: t_s,
            to_s: t_s,
            reading_pct: zone.reading().map(|reading| f64::from(reading.moisture.centi()) / 100.0),
            ended: "",
        }),
        (true, false) => {
            if let Some(last) = done.openings.last_mut() {
                last.to_s = t_s;
            }
        }
        _ => {}
    }
    *open = now;
}

fn hear(done: &mut Replayed, t_ms: u64, event: Event) {
    match event {
        Event::Closed { .. } => {
            if let Some(last) = done.openings.last_mut() {
                last.ended = event.text();
            }
        }
        Event::Refused(..) | Event::LockedOut(_) | Event::Probe(_, Some(_)) => {
            done.told.push((t_ms as f64 / 1e3, event.text()));
        }
        Event::Alarm(_) => done.alarms.push((t_ms as f64 / 1e3, event.text())),
        _ => {}
    }
}

/// Where a configuration would have decided otherwise than was done.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// When, s since the first row.
    pub at_s: f64,
    /// What, and why: a sentence.
    pub what: String,
}

/// How a replay compares with what was done.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// Waterings decided alike.
    pub alike: usize,
    /// The others.
    pub differences: Vec<Difference>,
}

/// Two waterings that begin within so many usual intervals are the same decision.
const SAME: f64 = 1.5;
/// Doses that differ by less than this share, or by less than this many seconds, are alike.
const ALIKE_SHARE: f64 = 0.1;
const ALIKE_S: f64 = 15.0;
/// A refusal explains what was not done for so long, s.
const EXPLAINS_S: f64 = 86_400.0;

/// Compares what a configuration would have done with what was done.
pub fn compare(setup: &Setup, log: &DeviceLog, done: &[Watering], would: &Replayed) -> Compared {
    let same_s = SAME * log.usual_s.max(f64::from(setup.zone.config().sampling.period.0) / 1e3);
    let mut free: Vec<&Opening> = would.openings.iter().collect();
    let mut compared = Compared { alike: 0, differences: vec![] };
    let mut differs =
        |at_s: f64, what: String| compared.differences.push(Difference { at_s, what });
    let mut alike = 0;
    for one in done {
        let match_at = free.iter().position(|other| (other.from_s - one.from_s).abs() <= same_s);
        let Some(at) = match_at else {
            differs(one.from_s, format!("would not have watered: {}.", why_not(setup, one, would)));
            continue;
        };
        let other = free.remove(at);
        let (was_s, would_s) = (one.to_s - one.from_s, other.to_s - other.from_s);
        let apart = (was_s - would_s).abs();
        if apart <= ALIKE_S || apart <= ALIKE_SHARE * was_s {
            alike += 1;
        } else {
            let ended = if other.ended.is_empty() { "the log ended" } else { other.ended };
            differs(
                one.from_s,
                format!("{would_s:.0} s of water instead of {was_s:.0} s ({ended})."),
            );
        }
    }
    for other in free {
        let on = other.reading_pct.map_or(String::new(), |pct| format!(" at {pct:.1} %"));
        let start = setup
            .scenario
            .control
            .start_pct
            .map_or(String::new(), |start| format!(", start is {start} %"));
        let seconds = other.to_s - other.from_s;
        differs(other.from_s, format!("would have watered for {seconds:.0} s{on}{start}."));
    }
    for (at_s, words) in &would.lock_outs {
        differs(*at_s, format!("would have locked out: {words}."));
    }
    compared.alike = alike;
    compared.differences.sort_by(|one, other| one.at_s.total_cmp(&other.at_s));
    compared
}

fn why_not(setup: &Setup, one: &Watering, would: &Replayed) -> String {
    let open = would.openings.iter().find(|it| it.from_s <= one.from_s && it.to_s >= one.from_s);
    if let Some(open) = open {
        let minutes = (one.from_s - open.from_s) / 60.0;
        return format!("it had begun {minutes:.0} min before");
    }
    let before = would.readings.partition_point(|at| at.0 <= one.from_s + 1.0);
    let reading = before.checked_sub(1).map(|at| would.readings[at].1);
    if let (Some(start), Some(pct)) = (setup.scenario.control.start_pct, reading)
        && pct > start
    {
        return format!("it reads {pct:.1} %, above its start of {start} %");
    }
    let told = would.told.iter().rev().find(|(at_s, _)| *at_s <= one.from_s + 1.0);
    match told {
        Some((at_s, words)) if one.from_s - at_s < EXPLAINS_S => (*words).to_owned(),
        _ => "it was still resting after its last watering, or waited for readings to agree"
            .to_owned(),
    }
}
