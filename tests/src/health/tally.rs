//! What healthy device-years told although nothing was wrong.

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use drydown::probe::ProbeFault;
use drydown::watch::Alarm;
use drydown_sim::score::Findings;

use super::DeviceYear;

/// Hours without air from which roots suffer (common practice).
const TOO_WET_H: f64 = 48.0;

/// How often each thing was told.
pub type Counts = BTreeMap<&'static str, u64>;

/// What one device told in its year.
#[derive(Clone, Debug, Default)]
pub struct Told {
    /// Waterings.
    pub waterings: u64,
    /// Rain on the soil, litres.
    pub rain_l: f64,
    /// Hours in which its plants were short of water.
    pub stress_h: f64,
    /// Lock-outs.
    pub lock_outs: Counts,
    /// Alarms that the truth does not bear out, but for notices.
    pub alarms: Counts,
    /// Alarms that it does bear out: too wet, where roots lacked air for as long.
    pub true_alarms: u64,
    /// Notices to look by hand: of zones that know no demand, and in a long frost.
    pub notices: u64,
    /// Probes not believed, but for frost.
    pub disbelieved: Counts,
    /// Frost holds.
    pub frosts: u64,
}

impl Told {
    /// From what a run showed.
    pub fn of(findings: &Findings) -> Self {
        let plant = &findings.plants[0];
        let mut told = Self {
            waterings: u64::from(findings.valve.starts),
            rain_l: findings.accounts.rain_l,
            stress_h: plant.stress_h,
            ..Self::default()
        };
        for (text, (_, times, _)) in &findings.lock_outs {
            told.lock_outs.insert(text, u64::from(*times));
        }
        for (text, (alarm, times, _)) in &findings.alarms {
            let times = u64::from(*times);
            if *alarm == Alarm::CheckByHand {
                told.notices += times;
            } else if *alarm == Alarm::TooWet && plant.too_wet_h >= TOO_WET_H {
                told.true_alarms += times;
            } else {
                told.alarms.insert(text, times);
            }
        }
        for (text, (fault, times)) in &findings.probe_faults {
            if *fault == ProbeFault::Frozen {
                told.frosts += u64::from(*times);
            } else {
                told.disbelieved.insert(text, u64::from(*times));
            }
        }
        told
    }

    fn add(&mut self, other: &Self) {
        self.waterings += other.waterings;
        self.rain_l += other.rain_l;
        self.stress_h += other.stress_h;
        self.true_alarms += other.true_alarms;
        self.notices += other.notices;
        self.frosts += other.frosts;
        for (mine, theirs) in [
            (&mut self.lock_outs, &other.lock_outs),
            (&mut self.alarms, &other.alarms),
            (&mut self.disbelieved, &other.disbelieved),
        ] {
            for (text, times) in theirs {
                *mine.entry(text).or_default() += times;
            }
        }
    }

    /// Whether it told anything that it should not have.
    pub fn is_loud(&self) -> bool {
        !(self.lock_outs.is_empty() && self.alarms.is_empty() && self.disbelieved.is_empty())
    }
}

/// All of some counts.
pub fn in_all(counts: &Counts) -> u64 {
    counts.values().sum()
}

/// Sums over device-years.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Device-years.
    pub years: u64,
    /// What they told together.
    pub told: Told,
    /// Notices of devices that know demand and never meet frost: hardly any is due.
    pub unasked: u64,
    /// Numbers of the years that told what they should not have.
    pub loud: Vec<u64>,
}

impl Tally {
    /// Adds what a year told.
    pub fn add(&mut self, year: DeviceYear, told: &Told) {
        self.years += 1;
        self.told.add(told);
        if year.knows_demand() && !year.climate().frosty {
            self.unasked += told.notices;
        }
        if told.is_loud() {
            self.loud.push(year.0);
        }
    }
}

/// What the years told: those that know demand, then those that do not.
pub fn tallied(years: &[DeviceYear]) -> (Tally, Tally) {
    let (mut with, mut without) = (Tally::default(), Tally::default());
    let told = on_two_threads(years, |year| Told::of(&year.lived()));
    for (year, told) in years.iter().zip(&told) {
        let tally = if year.knows_demand() { &mut with } else { &mut without };
        tally.add(*year, told);
    }
    (with, without)
}

/// The answer to each item, in order, worked out on two threads.
///
/// # Panics
/// When the work does.
pub fn on_two_threads<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let next = AtomicUsize::new(0);
    let done = Mutex::new(vec![]);
    let worker = || {
        loop {
            let at = next.fetch_add(1, Ordering::Relaxed);
            let Some(item) = items.get(at) else { break };
            let answer = work(item);
            done.lock().expect("no worker died holding it").push((at, answer));
        }
    };
    std::thread::scope(|scope| {
        scope.spawn(worker);
        worker();
    });
    let mut done = done.into_inner().expect("both workers ended");
    done.sort_by_key(|(at, _)| *at);
    done.into_iter().map(|(_, answer)| answer).collect()
}
