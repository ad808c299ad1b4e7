//! A bystander at the manifold: says when zones on one supply broke the rule they share (S10).
//!
//! Written from the text of the rule and sharing no code with what it watches. It sees the pins at
//! every interrupt, what each drive reported, and what each zone told; it is told the flows, and
//! which drives somebody tampers with. Times are true milliseconds.

use drydown::guard::Condition;
use drydown::zone::{Event, Outcome};

/// What the zones of one supply were promised.
#[derive(Clone, Debug)]
pub struct Promise<const N: usize> {
    /// The flow of each zone, and the most of all together.
    pub flows: [u64; N],
    /// See `flows`.
    pub most: u64,
    /// A valve is open this long before its pump starts, if there is a pump.
    pub lead: u64,
    /// A valve trails its pump by this at the most.
    pub run_down: u64,
    /// Longest time between two interrupts.
    pub tick: u64,
    /// Zones that want water at every instant, so that their place in the queue can be judged.
    pub always: [bool; N],
    /// The longest a zone may have to wait that could be given water.
    pub longest_wait: u64,
    /// The span of the limit, and the open time of each zone in any such span.
    pub window: u64,
    /// See `window`.
    pub limits: [u64; N],
}

/// What was seen, by which a test shows that it has looked at something.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Sights {
    /// Valves that opened.
    pub openings: u64,
    /// Openings that began while another zone was open.
    pub together: u64,
    /// Waits that ended with water.
    pub waits: u64,
    /// The longest of them.
    pub longest_wait: u64,
    /// Starts and stops of the pump.
    pub pump_edges: u64,
    /// Times a valve trailed.
    pub trails: u64,
    /// Times a pump went on for another zone when a zone ended.
    pub handed_over: u64,
    /// Openings past a zone that could not run beside a stuck one.
    pub past_stuck: u64,
    /// Most open time found in a window, of a thousand.
    pub fullest: u64,
}

#[derive(Clone, Copy, Debug)]
struct Wait<const N: usize> {
    since: u64,
    opened: [u32; N],
}

/// The bystander.
#[derive(Clone, Debug)]
pub struct Bystander<const N: usize> {
    promise: Promise<N>,
    /// What was broken, in the order in which it was seen.
    pub broken: Vec<String>,
    /// What was seen.
    pub sights: Sights,
    valves: [bool; N],
    pump: bool,
    reported: [bool; N],
    stuck: [bool; N],
    opened_at: [u64; N],
    pumped: [bool; N],
    pump_stopped_at: Option<u64>,
    /// Until when each zone was ordered to be open.
    ordered_until: [u64; N],
    lasted: [u64; N],
    permit: [u64; N],
    waits: [Option<Wait<N>>; N],
    opened_last: Vec<(u64, usize)>,
    water: [Vec<(u64, u64)>; N],
}

impl<const N: usize> Bystander<N> {
    /// Watches from a moment at which nothing is open.
    pub fn new(promise: Promise<N>) -> Self {
        Self {
            promise,
            broken: vec![],
            sights: Sights::default(),
            valves: [false; N],
            pump: false,
            reported: [false; N],
            stuck: [false; N],
            opened_at: [0; N],
            pumped: [false; N],
            pump_stopped_at: None,
            ordered_until: [0; N],
            lasted: [0; N],
            permit: [0; N],
            waits: [None; N],
            opened_last: vec![],
            water: core::array::from_fn(|_| vec![]),
        }
    }

    fn breaks(&mut self, at: u64, what: impl Into<String>) {
        if self.broken.len() < 20 {
            self.broken.push(format!("{at}: {}", what.into()));
        }
    }

    /// What draws from the supply, as far as anybody knows.
    fn draws(&self, zone: usize) -> bool {
        self.valves[zone] || self.reported[zone]
    }

    /// One interrupt.
    pub fn interrupt(&mut self, at: u64, valves: &[bool; N], pump: bool) {
        let (before, pump_before) = (self.valves, self.pump);
        (self.valves, self.pump) = (*valves, pump);
        for zone in 0..N {
            if valves[zone] && !before[zone] {
                (self.opened_at[zone], self.pumped[zone]) = (at, false);
                self.sights.openings += 1;
                let others = (0..N).filter(|&other| other != zone && self.draws(other));
                self.sights.together += u64::from(others.count() > 0);
                let flow: u64 =
                    (0..N).filter(|&one| self.draws(one)).map(|one| self.promise.flows[one]).sum();
                if flow > self.promise.most {
                    self.breaks(at, format!("zone {zone} opens, {flow} mL/h in all"));
                }
            }
            if !valves[zone] && before[zone] {
                self.closed(at, zone);
            }
        }
        self.order_of_pump(at, before, pump_before);
        for zone in (0..N).filter(|&zone| valves[zone]) {
            let Promise { lead, run_down, tick, .. } = self.promise;
            if pump && at > self.ordered_until[zone] + tick {
                self.breaks(at, format!("zone {zone} is pumped beyond its order"));
            }
            // It leads its pump, or trails it. A neighbour's pump may have run during the lead.
            let leads = at <= self.opened_at[zone] + lead + run_down + 2 * tick;
            let stopped = self.pump_stopped_at.filter(|_| self.pumped[zone]);
            let trails = stopped.is_some_and(|stopped| at <= stopped + run_down + tick);
            if !pump && !leads && !trails {
                self.breaks(at, format!("zone {zone} is open without a pump"));
            }
            self.pumped[zone] |= pump;
        }
    }

    fn order_of_pump(&mut self, at: u64, before: [bool; N], pump_before: bool) {
        let Promise { lead, run_down, .. } = self.promise;
        let (valves, pump) = (self.valves, self.pump);
        let led = (0..N).any(|zone| valves[zone] && at - self.opened_at[zone] >= lead);
        if pump && !led {
            self.breaks(at, "the pump runs before a valve was open for its lead");
        }
        let ended = (0..N).any(|zone| before[zone] && !valves[zone]);
        if pump_before && !pump {
            self.pump_stopped_at = Some(at);
            self.sights.trails += u64::from(valves.contains(&true));
        }
        if pump_before && !valves.contains(&true) && run_down > 0 {
            self.breaks(at, "the last valve closed and its pump had not stopped before");
        }
        self.sights.handed_over += u64::from(pump_before && pump && ended);
        self.sights.pump_edges += u64::from(pump_before != pump);
    }

    fn closed(&mut self, at: u64, zone: usize) {
        let lasted = at - self.opened_at[zone];
        self.lasted[zone] += lasted;
        let Promise { run_down, tick, window, limits, .. } = self.promise;
        let trail = if run_down > 0 { run_down + tick } else { 0 };
        if lasted > self.permit[zone] + tick + trail {
            self.breaks(at, format!("zone {zone} was open for {lasted}"));
        }
        let from = at.saturating_sub(window);
        let water = &mut self.water[zone];
        water.push((self.opened_at[zone], at));
        water.retain(|&(_, end)| end > from);
        let in_window: u64 = water.iter().map(|&(begin, end)| end - begin.max(from)).sum();
        if in_window > limits[zone] {
            self.breaks(at, format!("zone {zone} was open for {in_window} in a window"));
        }
        let fullest = in_window * 1_000 / limits[zone].max(1);
        self.sights.fullest = self.sights.fullest.max(fullest);
    }

    /// What the drives report to a round, and which of them say so only because somebody meddles.
    pub fn reports(&mut self, at: u64, on: &[bool; N], stuck: &[bool; N]) {
        (self.reported, self.stuck) = (*on, *stuck);
        // What opened in one round opened together.
        for (opened_at, zone) in core::mem::take(&mut self.opened_last) {
            self.count_opening(opened_at, zone);
        }
        for zone in 0..N {
            let excused = self.is_excused(zone);
            let Some(wait) = &mut self.waits[zone] else { continue };
            if excused {
                *wait = Wait { since: at, opened: [0; N] };
            } else if at > wait.since.saturating_add(self.promise.longest_wait) {
                let since = wait.since;
                self.waits[zone] = None;
                self.breaks(at, format!("zone {zone} waits since {since}"));
            }
        }
    }

    /// Whether a zone could not run although all the others were closed, but for the stuck.
    fn is_excused(&self, zone: usize) -> bool {
        let stuck = (0..N).filter(|&one| self.stuck[one] && one != zone);
        let flow: u64 = stuck.map(|one| self.promise.flows[one]).sum();
        flow > 0 && flow + self.promise.flows[zone] > self.promise.most
    }

    /// What a zone answered.
    pub fn told(&mut self, at: u64, zone: usize, outcome: &Outcome) {
        if let Some(permit) = outcome.permit {
            self.permit[zone] = u64::from(permit.length.0);
            self.ordered_until[zone] = at + self.permit[zone];
            self.lasted[zone] = 0;
            if let Some(wait) = self.waits[zone].take() {
                self.sights.waits += 1;
                self.sights.longest_wait = self.sights.longest_wait.max(at - wait.since);
            }
            self.opened_last.push((at, zone));
        } else if !outcome.renew {
            self.ordered_until[zone] = self.ordered_until[zone].min(at);
        }
        for event in outcome.events.iter() {
            match event {
                Event::Refused(_, Condition::SupplyBusy | Condition::StoreBusy) => {
                    let begun = Wait { since: at, opened: [0; N] };
                    let judged = self.promise.always[zone];
                    self.waits[zone] = self.waits[zone].or(judged.then_some(begun));
                }
                Event::Refused(..) | Event::Mode(_) | Event::LockedOut(_) => {
                    self.waits[zone] = None;
                }
                // The drive counts from the interrupt that opens to the one that closes. What
                // nobody saw run (the next step came too late) is charged in full and told as 0.
                Event::Closed { on, .. }
                    if on.0 > 0 && u64::from(on.0) + self.promise.tick < self.lasted[zone] =>
                {
                    let (on, lasted) = (on.0, self.lasted[zone]);
                    self.breaks(at, format!("zone {zone} counts {on} of {lasted}"));
                }
                _ => {}
            }
        }
    }

    /// A zone came to water: no other may see that twice while it waits.
    fn count_opening(&mut self, at: u64, zone: usize) {
        for other in 0..N {
            let excused = self.is_excused(other);
            let Some(wait) = &mut self.waits[other] else { continue };
            if excused {
                self.sights.past_stuck += 1;
            }
            if excused || wait.since >= at {
                continue;
            }
            wait.opened[zone] += 1;
            if wait.opened[zone] > 1 {
                let since = wait.since;
                self.breaks(
                    at,
                    format!("zone {zone} came twice, zone {other} waits since {since}"),
                );
            }
        }
    }

    /// A person gave a zone an order, its store fails or its drive runs by itself: what it waits
    /// for is no longer known.
    pub fn ordered(&mut self, zone: usize) {
        self.waits[zone] = None;
    }

    /// The chip was reset, and every pin with it.
    pub fn reset(&mut self, at: u64) {
        for zone in (0..N).filter(|&zone| self.valves[zone]).collect::<Vec<_>>() {
            self.closed(at, zone);
        }
        (self.valves, self.pump, self.pump_stopped_at) = ([false; N], false, None);
        (self.reported, self.stuck, self.waits) = ([false; N], [false; N], [None; N]);
        self.opened_last.clear();
        (self.ordered_until, self.lasted) = ([0; N], [0; N]);
    }
}
