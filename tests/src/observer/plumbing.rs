//! Flow and load current, as somebody reads them who has the maker's windows on paper.

use drydown::guard::LockOut;
use drydown::zone::{Event, FlowRule, LoadRule, Signals};

use super::{Observer, Seen};

/// What flow and current must be while open, from so many milliseconds on.
#[derive(Clone, Copy, Debug)]
pub struct Window {
    /// The least.
    pub least: u32,
    /// The most.
    pub most: u32,
    /// For how long it may be anything.
    pub grace: u64,
}

impl Window {
    fn is_left(self, shown: Option<u32>, on_for: u64) -> bool {
        on_for >= self.grace && shown.is_some_and(|shown| shown < self.least || shown > self.most)
    }
}

/// What is fitted to tell of the plumbing.
#[derive(Clone, Copy, Debug, Default)]
pub struct Sensors {
    /// Flow while open, millilitres an hour.
    pub flow: Option<Window>,
    /// Current while open, milliamperes.
    pub load: Option<Window>,
    /// Most flow while closed, and for how many milliseconds more is borne.
    pub leak: Option<(u32, u64)>,
}

impl Sensors {
    /// Restated from the rules of a configuration.
    pub fn of(flow: Option<FlowRule>, load: Option<LoadRule>) -> Self {
        let ms = |time: drydown::quantity::Millis| u64::from(time.0);
        Self {
            flow: flow.map(|rule| Window {
                least: rule.least.0,
                most: rule.most.0,
                grace: ms(rule.grace),
            }),
            load: load.map(|rule| Window {
                least: rule.least_ma.into(),
                most: rule.most_ma.into(),
                grace: ms(rule.grace),
            }),
            leak: flow.map(|rule| (rule.most_closed.0, ms(rule.closed_after))),
        }
    }

    fn is_wrong(&self, signals: &Signals, on_for: u64) -> bool {
        let flow = signals.flow.map(|flow| flow.0);
        let load = signals.load_ma.map(u32::from);
        self.flow.is_some_and(|window| window.is_left(flow, on_for))
            || self.load.is_some_and(|window| window.is_left(load, on_for))
    }

    fn leaks(&self, signals: &Signals) -> bool {
        let flow = signals.flow.map_or(0, |flow| flow.0);
        self.leak.is_some_and(|(most, _)| flow > most)
    }
}

impl Observer {
    /// Plumbing that is wrong locks out; plumbing that is well does not.
    pub(super) fn looks_at_plumbing(&mut self, seen: &Seen, credited: u64) {
        let (sensors, at) = (self.told.sensors, seen.at);
        let drive = seen.inputs.drive;
        let on_for = u64::from(drive.on_ms.0);
        let wrong = drive.on && sensors.is_wrong(&seen.inputs.signals, on_for);
        // At the end of its permit, and after a late step, a drive may be on and the water over: what
        // is shown then is not judged, or in the step after it.
        let judged = !self.shown_late
            && self.permit.is_some_and(|permit| {
                let run = (self.now.credited - permit.counted).max(on_for + self.told.tick);
                run < permit.length
            });
        // Water on the floor is the greater trouble, and hides the less.
        let floods = seen.inputs.signals.leak == Some(true);
        // A person who stands there may go on; the table ends what is unattended.
        let locked = seen.lock_outs.has(LockOut::Plumbing) || floods;
        self.require(
            !wrong || !judged || !seen.outcome.renew || locked,
            "S6",
            at,
            (1, 0),
            "open with a wrong flow or load, and not locked out",
        );
        // Nobody knows of the time before the first sight of it, and who has looked begins anew.
        let leaks = !drive.on && sensors.leaks(&seen.inputs.signals) && !self.somebody_looked(seen);
        self.leaks_for = leaks.then(|| self.leaks_for.map_or(0, |before| before + credited));
        let borne = sensors.leak.map_or(u64::MAX, |(_, borne)| borne);
        let leaked = self.leaks_for.unwrap_or(0);
        self.require(
            leaked < borne || locked,
            "S6",
            at,
            (leaked, borne),
            "flow while closed, and not locked out",
        );
        let news = seen.outcome.events.contains(&Event::LockedOut(LockOut::Plumbing));
        self.counts.plumbing += u64::from(news);
        let cause = wrong && judged || leaked + 1 >= borne;
        self.require(!news || cause, "L1", at, (1, 0), "locked out, and the plumbing is well");
    }
}
