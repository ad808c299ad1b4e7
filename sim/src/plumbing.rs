//! From the source to the pots: tank or mains, pump or valve, a line that must fill, emitters.
//!
//! A [`Line`] is prepared once; [`LineState`] and [`SourceState`] move. Several lines may draw on
//! one source. Every interval with a constant drive is exact: delays split it, a falling tank
//! level is integrated in closed form, and what is drawn equals what is delivered, lost, returned
//! and gained by the line.
pub mod emitter;
pub mod source;

use crate::bounds::{OutOfRange, within};
use source::{GravityFlow, GravityOutlet, Source, SourceState};

/// What rounding may leave in a tank that has run empty, litres.
const NOTHING_L: f64 = 1e-9;

/// Most outlets on one line.
pub const MAX_OUTLETS: usize = 8;

/// What moves the water.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Drive {
    /// A valve: head alone moves the water.
    Valve {
        /// Head below which it does not open, m: 0 for a direct-acting valve, 2–10 for a
        /// pilot-operated one (common practice).
        minimum_head_m: f64,
    },
    /// A pump with a straight flow–head line, as measured with a bucket at two heights.
    Pump {
        /// Flow against no head, litres/h.
        free_flow_l_h: f64,
        /// Head at which it gives nothing, m.
        shutoff_head_m: f64,
        /// Height it lifts the water, m, taken as steady while the tank empties.
        lift_m: f64,
        /// The outlet is open to the air above the tank's water, so that nothing siphons.
        air_break: bool,
    },
}

/// One outlet: a pot's share of the line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outlet {
    /// Emitters at this pot.
    pub emitters: u32,
    /// k of q = k·H^x of one emitter, litres/h at 1 m of head.
    pub k_l_h: f64,
    /// Factor of these units against nominal, from [`emitter::manufactured`].
    pub spread: f64,
}

/// What the line does when nothing flows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LineRest {
    /// Stays full.
    StaysFull,
    /// Runs out through the emitters.
    DrainsToOutlets {
        /// Time constant, s.
        tau_s: f64,
    },
    /// Runs back into the source.
    DrainsToSource {
        /// Time constant, s.
        tau_s: f64,
    },
}

/// What a line is.
#[derive(Clone, Debug, PartialEq)]
pub struct LineSpec {
    /// Pump or valve.
    pub drive: Drive,
    /// Its outlets, 1..=[`MAX_OUTLETS`].
    pub outlets: Vec<Outlet>,
    /// Exponent x shared by all emitters, 0..=1.
    pub exponent: f64,
    /// Height of the outlets above the floor of the tank, m; negative below it.
    pub outlet_height_m: f64,
    /// Volume of the line, litres: the first water fills it.
    pub line_l: f64,
    /// What it does when nothing flows.
    pub rest: LineRest,
    /// From drive on to flow, s.
    pub opening_s: f64,
    /// From drive off to no flow, s: valve closing, pump running down.
    pub closing_s: f64,
    /// How many times as much an open end passes as the emitters together, ≥ 1.
    pub open_end_factor: f64,
}

/// What a valve or a relay does whatever it is told.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Actuator {
    /// As it is told.
    #[default]
    Sound,
    /// Always open: grit under the diaphragm, a welded contact.
    StuckOpen,
    /// Never opens: open coil, connector off, seized pump.
    StuckClosed,
    /// Welds when it next opens and stays open from then on.
    Welds,
    /// Open when it is not driven.
    Inverted,
}

/// What coil or pump does, as its current shows it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Load {
    /// Nothing: it is not driven, or its circuit is open.
    #[default]
    None,
    /// What it does when all is well.
    Usual,
    /// A pump without water.
    RunsDry,
    /// A motor that is driven and does not turn.
    Seized,
    /// A coil so hot that it lets go.
    Hot,
}

/// What is wrong with the plumbing at this moment; the default is nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PlumbingFault {
    /// The valve or relay.
    pub actuator: Actuator,
    /// Seepage through the closed valve while there is head on it, litres/h.
    pub weep_l_h: f64,
    /// Share of the open flow that passes while closed, 0..=1.
    pub passes_closed: f64,
    /// Lets go after so many seconds of one opening.
    pub lets_go_after_s: Option<f64>,
    /// Closes so many seconds later.
    pub closes_late_s: f64,
    /// Head the valve needs beyond its own minimum, m; zero for none.
    pub needs_head_m: f64,
    /// Share of what leaves the line that is lost on the way, 0..=1.
    pub split: f64,
    /// Conductance gained by emitters that popped off, as a share of the sound line's.
    pub popped: f64,
    /// Share of every emitter's opening that is clogged, 0..=1.
    pub clog: f64,
    /// One outlet that is blocked entirely.
    pub blocked_outlet: Option<usize>,
    /// The hose is off: everything that leaves the line is lost.
    pub hose_off: bool,
    /// The source gives nothing: empty, or shut at the tap.
    pub source_dry: bool,
    /// The air break is under water or plugged.
    pub air_break_lost: bool,
}

/// What moves in a line.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LineState {
    driven: bool,
    flowing: bool,
    since_edge_s: f64,
    welded: bool,
    /// Water in the line, litres.
    pub held_l: f64,
}

impl LineState {
    /// Whether water is let through now, delays included; faults are not.
    pub fn flowing(&self) -> bool {
        self.flowing
    }
}

/// What one interval moved, litres: drawn − returned = delivered + lost + gain of the line.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Delivery {
    /// At each outlet, in the order of the specification.
    pub outlet_l: [f64; MAX_OUTLETS],
    /// On the floor.
    pub lost_l: f64,
    /// Taken from the source.
    pub drawn_l: f64,
    /// Run back into the source.
    pub returned_l: f64,
}

impl Delivery {
    /// At all outlets together, litres.
    pub fn delivered_l(&self) -> f64 {
        self.outlet_l.iter().sum()
    }
}

/// A line, prepared.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    drive: Drive,
    /// Conductance of each outlet, litres/h at 1 m.
    k_l_h: [f64; MAX_OUTLETS],
    k_total: f64,
    exponent: f64,
    outlet_height_m: f64,
    holds_l: f64,
    rest: LineRest,
    opening_s: f64,
    closing_s: f64,
    open_end_factor: f64,
    sound_pump_l_h: f64,
}

impl Line {
    /// Checks and prepares.
    ///
    /// # Errors
    /// [`OutOfRange`] with the first figure that cannot be.
    pub fn new(spec: &LineSpec) -> Result<Self, OutOfRange> {
        within("number of outlets", spec.outlets.len() as f64, 1.0, MAX_OUTLETS as f64)?;
        within("emitter exponent", spec.exponent, 0.0, 1.0)?;
        within("outlet height (m)", spec.outlet_height_m, -50.0, 50.0)?;
        within("line volume (L)", spec.line_l, 0.0, 1000.0)?;
        within("opening delay (s)", spec.opening_s, 0.0, 120.0)?;
        within("closing delay (s)", spec.closing_s, 0.0, 120.0)?;
        within("flow factor of an open end", spec.open_end_factor, 1.0, 1e4)?;
        match spec.rest {
            LineRest::StaysFull => {}
            LineRest::DrainsToOutlets { tau_s } | LineRest::DrainsToSource { tau_s } => {
                within("time constant of the emptying line (s)", tau_s, 0.1, 86_400.0)?;
            }
        }
        match spec.drive {
            Drive::Valve { minimum_head_m } => {
                within("minimum head of the valve (m)", minimum_head_m, 0.0, 100.0)?;
            }
            Drive::Pump { free_flow_l_h, shutoff_head_m, lift_m, .. } => {
                within("free flow of the pump (L/h)", free_flow_l_h, 0.01, 1e5)?;
                within("shut-off head of the pump (m)", shutoff_head_m, 0.05, 500.0)?;
                within("lift (m)", lift_m, 0.0, shutoff_head_m)?;
            }
        }
        let mut k_l_h = [0.0; MAX_OUTLETS];
        for (k, outlet) in k_l_h.iter_mut().zip(&spec.outlets) {
            within("emitters at an outlet", f64::from(outlet.emitters), 1.0, 1000.0)?;
            within("emitter coefficient k (L/h)", outlet.k_l_h, 1e-3, 1e5)?;
            within("spread of an emitter", outlet.spread, 0.0, 3.0)?;
            *k = f64::from(outlet.emitters) * outlet.k_l_h * outlet.spread;
        }
        let mut line = Self {
            drive: spec.drive,
            k_l_h,
            k_total: k_l_h.iter().sum(),
            exponent: spec.exponent,
            outlet_height_m: spec.outlet_height_m,
            holds_l: spec.line_l,
            rest: spec.rest,
            opening_s: spec.opening_s,
            closing_s: spec.closing_s,
            open_end_factor: spec.open_end_factor,
            sound_pump_l_h: 0.0,
        };
        line.sound_pump_l_h = line.pump_flow_l_h(line.k_total);
        Ok(line)
    }

    /// Moves line and source over `dt_s` seconds in which the drive stays as `drive_on` says.
    pub fn advance(
        &self,
        state: &mut LineState,
        source: &Source,
        stored: &mut SourceState,
        dt_s: f64,
        drive_on: bool,
        fault: &PlumbingFault,
    ) -> Delivery {
        let mut out = Delivery::default();
        if dt_s <= 0.0 {
            return out;
        }
        let line_before = state.held_l;
        if state.driven != drive_on {
            state.driven = drive_on;
            state.since_edge_s = 0.0;
        }
        let mut left = dt_s;
        if state.flowing != drive_on {
            let delay =
                if drive_on { self.opening_s } else { self.closing_s + fault.closes_late_s };
            let wait = (delay - state.since_edge_s).max(0.0);
            if wait < left {
                self.run(state, source, stored, wait, fault, &mut out);
                state.flowing = drive_on;
                left -= wait;
            }
        }
        self.run(state, source, stored, left, fault, &mut out);
        state.since_edge_s += dt_s;
        debug_assert!(
            (out.drawn_l
                - out.returned_l
                - out.delivered_l()
                - out.lost_l
                - (state.held_l - line_before))
                .abs()
                <= 1e-9 * (1.0 + out.drawn_l + line_before),
            "the balance does not close: {out:?}"
        );
        out
    }

    /// Whether the valve is open or the pump runs, whatever it is told.
    fn is_open(state: &LineState, fault: &PlumbingFault) -> bool {
        match fault.actuator {
            Actuator::Sound => state.flowing && !Self::lets_go(state, fault),
            Actuator::StuckOpen => true,
            Actuator::StuckClosed => false,
            Actuator::Welds => state.flowing || state.welded,
            Actuator::Inverted => !state.flowing,
        }
    }

    /// What a flow sensor at the valve or pump sees at this moment, litres/h.
    pub fn sensed_l_h(
        &self,
        state: &LineState,
        source: &Source,
        stored: SourceState,
        fault: &PlumbingFault,
    ) -> f64 {
        let through = self.flow_l_h(source, stored, fault);
        if Self::is_open(state, fault) {
            return through;
        }
        let seeps = match self.drive {
            Drive::Valve { .. } => {
                let most = source.falling_l(stored, self.outlet_height_m);
                if most > 0.0 && !fault.source_dry { fault.weep_l_h } else { 0.0 }
            }
            Drive::Pump { air_break, .. } => {
                let siphons = self.primed(state) && (!air_break || fault.air_break_lost);
                let head = source.head_m(stored, self.outlet_height_m);
                if siphons && head > 0.0 && !fault.source_dry {
                    emitter::flow_l_h(self.conductance(fault), self.exponent, head)
                } else {
                    0.0
                }
            }
        };
        seeps.max(fault.passes_closed * through)
    }

    /// What the current of coil or pump shows at this moment, `driven` or not. Grit under a diaphragm
    /// does not show in it.
    pub fn load(
        &self,
        state: &LineState,
        driven: bool,
        source: &Source,
        stored: SourceState,
        fault: &PlumbingFault,
    ) -> Load {
        let welded = fault.actuator == Actuator::Welds && state.welded;
        if !driven && !welded {
            return Load::None;
        }
        let stuck = fault.actuator == Actuator::StuckClosed;
        let lets_go = Self::lets_go(state, fault);
        match self.drive {
            Drive::Valve { .. } if stuck => Load::None,
            Drive::Valve { .. } if lets_go => Load::Hot,
            Drive::Pump { .. } if stuck => Load::Seized,
            Drive::Pump { .. } if lets_go => Load::None,
            Drive::Pump { .. } if fault.source_dry || source.usable_l(stored) <= NOTHING_L => {
                Load::RunsDry
            }
            _ => Load::Usual,
        }
    }

    fn lets_go(state: &LineState, fault: &PlumbingFault) -> bool {
        fault.lets_go_after_s.is_some_and(|after_s| state.since_edge_s >= after_s)
    }

    /// Full but for rounding.
    fn primed(&self, state: &LineState) -> bool {
        state.held_l >= self.holds_l * (1.0 - 1e-9)
    }

    /// Litres that valve or pump can draw from the source as it stands; infinite from the mains.
    pub fn drawable_l(&self, source: &Source, stored: SourceState) -> f64 {
        match self.drive {
            Drive::Valve { minimum_head_m } => {
                source.falling_l(stored, self.outlet_height_m + minimum_head_m)
            }
            Drive::Pump { .. } => source.usable_l(stored),
        }
    }

    /// Flow through the emitters at this moment if the line were full and the drive on, litres/h.
    pub fn flow_l_h(&self, source: &Source, stored: SourceState, fault: &PlumbingFault) -> f64 {
        let k = self.conductance(fault);
        let flow = match self.drive {
            Drive::Pump { .. } if source.usable_l(stored) > 0.0 => self.pumped(k, fault),
            Drive::Pump { .. } => 0.0,
            Drive::Valve { minimum_head_m } => {
                let head = source.head_m(stored, self.outlet_height_m);
                let needed = minimum_head_m.max(fault.needs_head_m);
                // A tank that is empty down to its intake gives nothing, however high it stands.
                let is_there = source.falling_l(stored, self.outlet_height_m) > NOTHING_L;
                if is_there && head > needed {
                    emitter::flow_l_h(k, self.exponent, head)
                } else {
                    0.0
                }
            }
        };
        if fault.source_dry { 0.0 } else { flow }
    }

    /// One stretch in which nothing switches.
    fn run(
        &self,
        state: &mut LineState,
        source: &Source,
        stored: &mut SourceState,
        dt_s: f64,
        fault: &PlumbingFault,
        out: &mut Delivery,
    ) {
        if dt_s <= 0.0 {
            return;
        }
        let hours = dt_s / 3600.0;
        state.welded = fault.actuator == Actuator::Welds && (state.welded || state.flowing);
        let open = Self::is_open(state, fault);
        let k = self.conductance(fault);
        let mut resting_s = if open { 0.0 } else { dt_s };
        let drawn = match self.drive {
            _ if fault.source_dry => 0.0,
            Drive::Valve { minimum_head_m } if open => {
                let needed = minimum_head_m.max(fault.needs_head_m);
                self.by_head(source, *stored, k, hours, needed).litres
            }
            _ if !open && fault.passes_closed > 0.0 => {
                resting_s = 0.0;
                let through = self.flow_l_h(source, *stored, fault) * hours;
                (through * fault.passes_closed).min(source.usable_l(*stored))
            }
            // What cannot leave does not seep either.
            Drive::Valve { .. } if fault.weep_l_h <= 0.0 || k <= 0.0 => 0.0,
            Drive::Valve { .. } => {
                resting_s = 0.0;
                (fault.weep_l_h * hours).min(source.falling_l(*stored, self.outlet_height_m))
            }
            Drive::Pump { .. } if open => {
                (self.pumped(k, fault) * hours).min(source.usable_l(*stored))
            }
            Drive::Pump { air_break, .. } => {
                if self.primed(state) && (!air_break || fault.air_break_lost) {
                    let siphoned = self.by_head(source, *stored, k, hours, 0.0);
                    resting_s = (hours - siphoned.hours) * 3600.0;
                    siphoned.litres
                } else {
                    0.0
                }
            }
        };
        if let Source::Tank(_) = source {
            stored.stored_l -= drawn;
        }
        out.drawn_l += drawn;
        let into_line = drawn.min((self.holds_l - state.held_l).max(0.0));
        state.held_l += into_line;
        self.hand_out(drawn - into_line, fault, out);
        if resting_s > 0.0 {
            self.empty_at_rest(state, source, stored, resting_s, fault, out);
        }
    }

    fn empty_at_rest(
        &self,
        state: &mut LineState,
        source: &Source,
        stored: &mut SourceState,
        dt_s: f64,
        fault: &PlumbingFault,
        out: &mut Delivery,
    ) {
        let leaving = |tau_s: f64| state.held_l * -(-dt_s / tau_s).exp_m1();
        match self.rest {
            LineRest::StaysFull => {}
            LineRest::DrainsToOutlets { tau_s } => {
                if fault.hose_off || self.conductance(fault) > 0.0 {
                    let litres = leaving(tau_s);
                    state.held_l -= litres;
                    self.hand_out(litres, fault, out);
                }
            }
            LineRest::DrainsToSource { tau_s } => {
                let litres = leaving(tau_s);
                state.held_l -= litres;
                let refused = stored.refill(source, litres);
                out.returned_l += litres - refused;
                out.lost_l += refused;
            }
        }
    }

    /// Splits what leaves the line among the outlets.
    fn hand_out(&self, litres: f64, fault: &PlumbingFault, out: &mut Delivery) {
        if litres <= 0.0 {
            return;
        }
        if fault.hose_off {
            out.lost_l += litres;
            return;
        }
        out.lost_l += litres * fault.split;
        let litres = litres * (1.0 - fault.split);
        let total = self.k_total - self.blocked(fault);
        for (i, (outlet, k)) in out.outlet_l.iter_mut().zip(self.k_l_h).enumerate() {
            if fault.blocked_outlet != Some(i) {
                *outlet += litres * k / total;
            }
        }
    }

    fn blocked(&self, fault: &PlumbingFault) -> f64 {
        fault.blocked_outlet.and_then(|i| self.k_l_h.get(i)).copied().unwrap_or(0.0)
    }

    /// Conductance of everything that is open, litres/h at 1 m.
    fn conductance(&self, fault: &PlumbingFault) -> f64 {
        if fault.hose_off {
            self.k_total * self.open_end_factor
        } else {
            // Rounding must not leave a conductance when the only outlet is blocked.
            let open = self.k_total - self.blocked(fault);
            if open <= 1e-12 * self.k_total {
                0.0
            } else {
                (open + fault.popped * self.k_total) * (1.0 - fault.clog.clamp(0.0, 1.0))
            }
        }
    }

    fn pumped(&self, k: f64, fault: &PlumbingFault) -> f64 {
        if fault.hose_off {
            self.pump_flow_l_h(f64::INFINITY)
        } else if k >= self.k_total && fault.popped <= 0.0 {
            self.sound_pump_l_h
        } else {
            self.pump_flow_l_h(k)
        }
    }

    /// Where the pump's line meets k·H^x, litres/h; an infinite `k` is an open end.
    fn pump_flow_l_h(&self, k: f64) -> f64 {
        let Drive::Pump { free_flow_l_h, shutoff_head_m, lift_m, .. } = self.drive else {
            return 0.0;
        };
        let given = |head: f64| free_flow_l_h * (1.0 - (head + lift_m) / shutoff_head_m);
        if k.is_infinite() {
            return given(0.0);
        }
        // The pump's flow falls with head and the emitters' rises: halve the bracket until it is
        // as fine as a double.
        let (mut low, mut high) = (0.0, shutoff_head_m - lift_m);
        for _ in 0..60 {
            let head = 0.5 * (low + high);
            if given(head) > emitter::flow_l_h(k, self.exponent, head) {
                low = head;
            } else {
                high = head;
            }
        }
        f64::min(given(low), k * high.powf(self.exponent))
    }

    /// What leaves by head alone within `hours` through conductance `k`.
    fn by_head(
        &self,
        source: &Source,
        stored: SourceState,
        k: f64,
        hours: f64,
        minimum_head_m: f64,
    ) -> GravityFlow {
        let outlet = GravityOutlet {
            height_m: self.outlet_height_m,
            minimum_head_m,
            k,
            exponent: self.exponent,
        };
        source.by_head(stored, &outlet, hours)
    }
}
