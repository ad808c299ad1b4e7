//! What healthy device-years told although nothing was wrong.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};

use drydown::probe::ProbeFault;
use drydown::watch::Alarm;
use drydown_sim::score::Findings;

use super::DeviceYear;

/// Hours without air from which roots suffer (common practice).
const TOO_WET_H: f64 = 48.0;

/// Sums over device-years.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Device-years.
    pub years: u64,
    /// Waterings.
    pub waterings: u64,
    /// Lock-outs.
    pub lock_outs: BTreeMap<&'static str, u64>,
    /// Alarms, but for notices to look by hand.
    pub alarms: BTreeMap<&'static str, u64>,
    /// Alarms that the truth bears out: too wet, where roots lacked air for as long.
    pub true_alarms: u64,
    /// Notices to look by hand, of zones that know no demand.
    pub notices: u64,
    /// Probes not believed, but for frost.
    pub disbelieved: BTreeMap<&'static str, u64>,
    /// Frost holds.
    pub frosts: u64,
    /// Numbers of the years that told anything of the above, but for notices and frost.
    pub loud: Vec<u64>,
    /// Years in which a rule was broken.
    pub broken: Vec<u64>,
    /// Rain and evaporation in all, mm.
    pub eto_mm: f64,
    /// Hours in which plants were short of water.
    pub stress_h: f64,
}

impl Tally {
    fn add(&mut self, year: DeviceYear, findings: &Findings) {
        self.years += 1;
        self.waterings += u64::from(findings.valve.starts);
        self.eto_mm += findings.eto_mm;
        self.stress_h += findings.plants[0].stress_h;
        let mut loud = false;
        for (text, (_, times, _)) in &findings.lock_outs {
            *self.lock_outs.entry(text).or_default() += u64::from(*times);
            loud = true;
        }
        for (text, (alarm, times, _)) in &findings.alarms {
            if *alarm == Alarm::CheckByHand {
                self.notices += u64::from(*times);
            } else if *alarm == Alarm::TooWet && findings.plants[0].too_wet_h >= TOO_WET_H {
                self.true_alarms += u64::from(*times);
            } else {
                *self.alarms.entry(text).or_default() += u64::from(*times);
                loud = true;
            }
        }
        for (text, (fault, times)) in &findings.probe_faults {
            if *fault == ProbeFault::Frozen {
                self.frosts += u64::from(*times);
            } else {
                *self.disbelieved.entry(text).or_default() += u64::from(*times);
                loud = true;
            }
        }
        if loud {
            self.loud.push(year.0);
        }
        if !findings.rules.all_held() {
            self.broken.push(year.0);
        }
    }

    fn join(&mut self, other: Self) {
        self.years += other.years;
        self.waterings += other.waterings;
        self.notices += other.notices;
        self.true_alarms += other.true_alarms;
        self.frosts += other.frosts;
        self.eto_mm += other.eto_mm;
        self.stress_h += other.stress_h;
        self.loud.extend(other.loud);
        self.broken.extend(other.broken);
        for (mine, theirs) in [
            (&mut self.lock_outs, other.lock_outs),
            (&mut self.alarms, other.alarms),
            (&mut self.disbelieved, other.disbelieved),
        ] {
            for (text, times) in theirs {
                *mine.entry(text).or_default() += times;
            }
        }
        self.loud.sort_unstable();
        self.broken.sort_unstable();
    }

    /// Alarms in all, but for notices.
    pub fn alarms_in_all(&self) -> u64 {
        self.alarms.values().sum()
    }

    /// Lock-outs in all.
    pub fn lock_outs_in_all(&self) -> u64 {
        self.lock_outs.values().sum()
    }

    /// Disbelieved probes in all.
    pub fn disbelieved_in_all(&self) -> u64 {
        self.disbelieved.values().sum()
    }
}

/// Lives the given years on two threads; those with an air sensor first, those without second.
pub fn tallied(years: &[DeviceYear]) -> (Tally, Tally) {
    let next = AtomicU64::new(0);
    let work = || {
        let (mut with, mut without) = (Tally::default(), Tally::default());
        while let Some(year) = years.get(next.fetch_add(1, Ordering::Relaxed) as usize) {
            let tally = if year.knows_demand() { &mut with } else { &mut without };
            tally.add(*year, &year.lived());
        }
        (with, without)
    };
    std::thread::scope(|scope| {
        let other = scope.spawn(work);
        let (mut with, mut without) = work();
        let (further, further_without) = other.join().expect("a year that panics says so itself");
        with.join(further);
        without.join(further_without);
        (with, without)
    })
}
