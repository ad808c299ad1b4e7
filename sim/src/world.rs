//! The world as it moves: soil, plants, line, tank and probe between two instants.
//!
//! It is *committed* only at anchors (the hour, an edge of the drive, of a fault or of a person's
//! act) and on a grid that depends on nothing but the committed state. What anybody looks at in
//! between is computed from the last commit and thrown away. So a run that wakes only when the
//! controller asks and one that steps every minute see the same world, bit for bit.

use crate::crop::Climate;
use crate::fault::Wrong;
use crate::person::Act;
use crate::plumbing::source::{Source, SourceState};
use crate::plumbing::{Actuator, Delivery, LineState, Load, MAX_OUTLETS, PlumbingFault};
use crate::scenario::Setup;
use crate::sensor::{Probe, ProbeState};
use crate::soil::{CropDemand, Fluxes, Forcing, Medium, State};
use crate::weather::course::{Day, Hour};

const HOUR_MS: u64 = 3_600_000;
/// Added to the air temperature in FAO-56 Eq. 52 (Hargreaves), °C.
const HARGREAVES_C: f64 = 17.8;
/// Grid while water flows in the line.
const FLOWING_MS: u64 = 10_000;
/// A line that passes less than this drips: the soil's own grid is fine enough, litres/h.
const DRIP_L_H: f64 = 0.5;
/// Grid while water moves in the soil.
const MOVING_MS: u64 = 60_000;
/// Grid of a quiet soil.
const QUIET_MS: u64 = 600_000;
/// How long water moves in the soil after it was given.
const SETTLES_MS: u64 = 3 * HOUR_MS;
/// How long water stands in a gap after it ran (common practice: minutes).
const STANDS_MS: u64 = 600_000;
/// How fast a wet floor dries.
const FLOOR_DRIES_H: f64 = 4.0;

/// Litres since the start, all pots together.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Accounts {
    /// Drawn through pump or valve, less what ran back, and poured by hand.
    pub applied_l: f64,
    /// Rain on the soil.
    pub rain_l: f64,
    /// Used by the plants.
    pub transpired_l: f64,
    /// Evaporated from the soil.
    pub evaporated_l: f64,
    /// Drained for good, or emptied from a saucer by hand.
    pub drained_l: f64,
    /// On the floor.
    pub spilled_l: f64,
    /// Run through a hole, whether a saucer caught it or not.
    pub leached_l: f64,
}

/// What moves.
#[derive(Clone, Copy, Debug)]
struct Moving {
    pots: [State; MAX_OUTLETS],
    line: LineState,
    stored: SourceState,
    probe: ProbeState,
}

/// What can be seen of the world at one instant.
#[derive(Clone, Copy, Debug)]
pub struct Sight {
    /// Mean water content of the probed soil, m³/m³.
    pub theta_mean: f64,
    /// The probe's own state.
    pub probe: ProbeState,
    /// Water in the tank, litres.
    pub tank_l: f64,
    /// Flow in the line, litres/h.
    pub flow_l_h: f64,
    /// What coil or pump does.
    pub load: Load,
    /// Air temperature, °C.
    pub air_c: f64,
    /// Water stands on the floor, litres.
    pub floor_l: f64,
    /// Water stands on the probed soil, or ran onto it moments ago.
    pub stands: bool,
    /// Water the probed plants were asked for since the start, litres.
    pub demand_l: f64,
}

/// What a valve stuck open gives: see [`World::stuck_open`].
#[derive(Clone, Copy, Debug)]
pub struct Stuck {
    /// Drawn from the source, litres.
    pub drawn_l: f64,
    /// Of that what stays in line, soil and saucers, litres.
    pub kept_l: f64,
    /// Whether it still flows at the end.
    pub flows_on: bool,
    /// Whether nothing more can be drawn from the tank.
    pub is_empty: bool,
}

/// One committed stretch of the probed soil and its neighbours, for whoever keeps score.
#[derive(Clone, Copy, Debug)]
pub struct Stretch {
    /// End of the stretch, ms.
    pub t_ms: u64,
    /// Its length, s.
    pub dt_s: f64,
    /// Pot, 0 the probed one.
    pub pot: usize,
    /// Mean water content at its end, m³/m³.
    pub theta: f64,
    /// Stress coefficient at its end.
    pub ks: f64,
    /// Water content below which the plants are short of water today, m³/m³.
    pub short_below: f64,
    /// Air-filled pores at its end, m³/m³.
    pub air: f64,
    /// Water in the saucer, litres.
    pub saucer_l: f64,
    /// Tank, litres.
    pub tank_l: f64,
    /// Reference evapotranspiration, mm/h.
    pub eto_mm_h: f64,
    /// Rain, mm/h.
    pub rain_mm_h: f64,
    /// Air temperature, °C.
    pub air_c: f64,
    /// Water applied to this pot in the stretch, litres.
    pub applied_l: f64,
    /// Water that went over this pot's edge; with the probed pot, also what the line lost, litres.
    pub spilled_l: f64,
    /// Water drawn by the whole line in the stretch, litres.
    pub drawn_l: f64,
}

/// The world of one run.
#[derive(Clone, Debug)]
pub struct World<'a> {
    setup: &'a Setup,
    t_ms: u64,
    next_grid_ms: u64,
    next_fault_ms: u64,
    moving: Moving,
    drive_on: bool,
    driven_since_ms: u64,
    driven_ms: u64,
    wrong: Wrong,
    moved_at_ms: u64,
    demand: [CropDemand; MAX_OUTLETS],
    today: Day,
    accounts: Accounts,
    /// The same when the first fault began.
    before_faults: Accounts,
    storage_at_start_l: f64,
    floor_l: f64,
    demand_l: f64,
    /// What feeding and re-seating added to the apparent water content.
    apparent: f64,
}

impl<'a> World<'a> {
    /// The world at the start of a run.
    pub fn new(setup: &'a Setup) -> Self {
        let first = setup.pots[0].begins;
        let mut pots = [first; MAX_OUTLETS];
        for (state, pot) in pots.iter_mut().zip(&setup.pots) {
            *state = pot.begins;
        }
        let theta = setup.pots[0].medium.theta_probe(&first);
        let moving = Moving {
            pots,
            line: LineState::default(),
            stored: setup.stored,
            probe: Probe::settled(theta),
        };
        let idle = CropDemand {
            kcb: 0.0,
            kc_max: 1.0,
            exposed_wetted: 0.0,
            depletion_fraction: 0.5,
            canopy_m2: 0.0,
        };
        let mut world = Self {
            setup,
            t_ms: 0,
            next_grid_ms: QUIET_MS,
            next_fault_ms: setup.faults.next_edge(0).unwrap_or(u64::MAX),
            moving,
            drive_on: false,
            driven_since_ms: 0,
            driven_ms: 0,
            wrong: setup.faults.at(0),
            moved_at_ms: 0,
            demand: [idle; MAX_OUTLETS],
            today: setup.weather.course.day(0),
            accounts: Accounts::default(),
            before_faults: Accounts::default(),
            storage_at_start_l: 0.0,
            floor_l: 0.0,
            demand_l: 0.0,
            apparent: 0.0,
        };
        world.storage_at_start_l = world.storage_l();
        world.new_demand();
        world
    }

    /// Litres since the start.
    pub fn accounts(&self) -> &Accounts {
        &self.accounts
    }

    /// Litres from the start to the onset of the first fault; to now if there is none yet.
    pub fn accounts_before_faults(&self) -> &Accounts {
        &self.before_faults
    }

    /// Change of what pots, saucers and line hold since the start, litres.
    pub fn storage_change_l(&self) -> f64 {
        self.storage_l() - self.storage_at_start_l
    }

    /// What came in less what went out and stayed: zero to rounding, litres.
    pub fn balance_error_l(&self) -> f64 {
        let a = &self.accounts;
        a.applied_l + a.rain_l
            - a.transpired_l
            - a.evaporated_l
            - a.drained_l
            - a.spilled_l
            - self.storage_change_l()
    }

    /// Water in the tank, litres; none with a mains supply.
    pub fn tank_l(&self) -> f64 {
        self.moving.stored.stored_l
    }

    /// What would follow in so many hours from now if the valve stuck open, all else sound, in the
    /// dark and without rain.
    pub fn stuck_open(&self, hours: f64) -> Stuck {
        let Moving { mut pots, mut line, mut stored, .. } = self.moving;
        let Setup { line: plumbing, source, .. } = self.setup;
        let fault = PlumbingFault { actuator: Actuator::StuckOpen, ..PlumbingFault::default() };
        let (mut drawn_l, mut kept_l) = (0.0, 0.0);
        let dt_s = MOVING_MS as f64 / 1e3;
        for _ in 0..(hours * 3600.0 / dt_s).ceil() as u32 {
            let delivery = plumbing.advance(&mut line, source, &mut stored, dt_s, false, &fault);
            drawn_l += delivery.drawn_l;
            kept_l += delivery.drawn_l - delivery.lost_l;
            for (at, (pot, state)) in self.setup.pots.iter().zip(&mut pots).enumerate() {
                let forcing = Forcing {
                    rain_mm_h: 0.0,
                    applied_l_h: delivery.outlet_l[at] / dt_s * 3600.0,
                    eto_mm_h: 0.0,
                    crop: self.demand[at],
                };
                let fluxes = pot.medium.advance(state, dt_s, &forcing);
                kept_l -= fluxes.drained_l + fluxes.spilled_l;
            }
        }
        Stuck {
            drawn_l,
            kept_l: kept_l.max(0.0),
            flows_on: plumbing.flow_l_h(source, stored, &fault) > 0.0,
            is_empty: source.usable_l(stored) < 1e-6,
        }
    }

    fn storage_l(&self) -> f64 {
        let pots = &self.moving.pots[..self.setup.pots.len()];
        pots.iter().map(Medium::storage_l).sum::<f64>() + self.moving.line.held_l
    }

    /// The weather now, with what is wrong in it.
    fn hour(&self) -> Hour {
        let hour = self.today.hour(self.t_ms / HOUR_MS);
        let t_air_c = hour.t_air_c - self.wrong.colder_k;
        // Colder air takes up less, by the temperature term of FAO-56 Eq. 52.
        let asks = (t_air_c + HARGREAVES_C) / (hour.t_air_c + HARGREAVES_C);
        let asks = if self.wrong.colder_k > 0.0 { asks.clamp(0.0, 1.0) } else { 1.0 };
        Hour {
            eto_mm_h: hour.eto_mm_h * asks,
            rain_mm_h: hour.rain_mm_h + self.wrong.rain_mm_h,
            t_air_c,
        }
    }

    fn new_day(&mut self) {
        let day = self.t_ms / (24 * HOUR_MS);
        if day != self.today.number() {
            self.setup.weather.course.follow(&mut self.today, day);
            self.new_demand();
        }
    }

    /// Crop coefficients change once a day.
    fn new_demand(&mut self) {
        let eto_mm_d = self.today.eto_mm_d();
        for (demand, pot) in self.demand.iter_mut().zip(&self.setup.pots) {
            *demand = pot.planting.demand(eto_mm_d * pot.evaporation_share, Climate::STANDARD);
        }
    }

    fn forcing(&self, pot: usize, applied_l_h: f64) -> Forcing {
        let hour = self.hour();
        let demand = self.demand[pot];
        Forcing {
            rain_mm_h: hour.rain_mm_h,
            applied_l_h,
            eto_mm_h: hour.eto_mm_h * self.setup.pots[pot].evaporation_share,
            crop: CropDemand { kcb: demand.kcb * self.wrong.use_factor, ..demand },
        }
    }

    fn run_line(&self, state: &mut LineState, stored: &mut SourceState, dt_s: f64) -> Delivery {
        let (line, source) = (&self.setup.line, &self.setup.source);
        line.advance(state, source, stored, dt_s, self.drive_on, &self.wrong.plumbing)
    }

    /// Moves one pot over a stretch in which `litres` reach it, some of which may run past its soil
    /// and out for good.
    fn run_pot(&self, state: &mut State, pot: usize, dt_s: f64, litres: f64) -> Fluxes {
        let past_l = litres * self.wrong.runs_past;
        let forcing = self.forcing(pot, (litres - past_l) / dt_s * 3600.0);
        let mut fluxes = self.setup.pots[pot].medium.advance(state, dt_s, &forcing);
        fluxes.applied_l += past_l;
        fluxes.drained_l += past_l;
        fluxes.leached_l += past_l;
        fluxes
    }

    fn follow(&self, probe: &mut ProbeState, soil: &State, dt_s: f64) {
        let theta = self.setup.pots[0].medium.theta_probe(soil) + self.apparent;
        let further_s = self.wrong.probe_lag_s;
        self.setup.probe.follow_with(probe, dt_s, theta.max(0.0), further_s);
    }

    /// Commits everything up to `t_ms`, telling `keep` of each stretch.
    pub fn advance_to(&mut self, t_ms: u64, keep: &mut impl FnMut(&Stretch)) {
        loop {
            let hour_ends = (self.t_ms / HOUR_MS + 1) * HOUR_MS;
            let next = self.next_grid_ms.min(hour_ends).min(self.next_fault_ms);
            if next > t_ms {
                return;
            }
            self.commit(next, keep);
        }
    }

    /// Commits to exactly `t_ms`: an anchor.
    fn anchor(&mut self, t_ms: u64, keep: &mut impl FnMut(&Stretch)) {
        self.advance_to(t_ms, keep);
        if self.t_ms < t_ms {
            self.commit(t_ms, keep);
        }
    }

    fn commit(&mut self, t_ms: u64, keep: &mut impl FnMut(&Stretch)) {
        let dt_s = (t_ms - self.t_ms) as f64 / 1e3;
        let Moving { mut line, mut stored, mut probe, .. } = self.moving;
        let delivery = self.run_line(&mut line, &mut stored, dt_s);
        self.accounts.applied_l += delivery.drawn_l - delivery.returned_l;
        self.accounts.spilled_l += delivery.lost_l;
        let hour = self.hour();
        let mut spilled_l = delivery.lost_l;
        for pot in 0..self.setup.pots.len() {
            let litres = delivery.outlet_l[pot];
            let mut soil = self.moving.pots[pot];
            let fluxes = self.run_pot(&mut soil, pot, dt_s, litres);
            self.moving.pots[pot] = soil;
            let a = &mut self.accounts;
            a.rain_l += fluxes.rained_l;
            a.transpired_l += fluxes.transpired_l;
            a.evaporated_l += fluxes.evaporated_l;
            a.drained_l += fluxes.drained_l;
            a.spilled_l += fluxes.spilled_l;
            a.leached_l += fluxes.leached_l;
            spilled_l += fluxes.spilled_l;
            let (medium, state) = (&self.setup.pots[pot].medium, &soil);
            let p = self.demand[pot].depletion_fraction;
            keep(&Stretch {
                t_ms,
                dt_s,
                pot,
                theta: medium.theta_mean(state),
                ks: medium.ks(state, p),
                short_below: medium.capacity() - p * (medium.capacity() - medium.wilting_point()),
                air: medium.air_fraction(state),
                saucer_l: state.saucer_l,
                tank_l: self.level_l(stored),
                eto_mm_h: hour.eto_mm_h,
                rain_mm_h: hour.rain_mm_h,
                air_c: hour.t_air_c,
                applied_l: litres,
                spilled_l: fluxes.spilled_l + if pot == 0 { delivery.lost_l } else { 0.0 },
                drawn_l: delivery.drawn_l,
            });
        }
        self.follow(&mut probe, &self.moving.pots[0], dt_s);
        let pot = &self.setup.pots[0];
        let canopy_mm_h = hour.eto_mm_h * pot.evaporation_share * self.demand[0].kcb;
        self.demand_l += canopy_mm_h * self.demand[0].canopy_m2 * dt_s / 3600.0;
        if self.floor_l > 0.0 {
            self.floor_l *= (-dt_s / 3600.0 / FLOOR_DRIES_H).exp();
        }
        self.floor_l += spilled_l;
        if delivery.drawn_l > 0.0 || hour.rain_mm_h > 0.0 {
            self.moved_at_ms = t_ms;
        }
        (self.moving.line, self.moving.stored, self.moving.probe) = (line, stored, probe);
        self.t_ms = t_ms;
        if t_ms >= self.next_fault_ms {
            self.next_fault_ms = self.setup.faults.next_edge(t_ms).unwrap_or(u64::MAX);
        }
        if !self.setup.faults.is_empty() {
            self.wrong = self.setup.faults.at(t_ms);
        }
        if self.setup.faults.onset_ms().is_none_or(|onset_ms| t_ms <= onset_ms) {
            self.before_faults = self.accounts;
        }
        self.new_day();
        self.regrid(delivery.drawn_l > DRIP_L_H * dt_s / 3600.0);
    }

    fn regrid(&mut self, flowed: bool) {
        let settling =
            self.t_ms.saturating_sub(self.moved_at_ms) < SETTLES_MS && self.moved_at_ms > 0;
        let step = if flowed {
            FLOWING_MS
        } else if settling || self.moving.pots[0].pond_l > 0.0 {
            MOVING_MS
        } else {
            QUIET_MS
        };
        self.next_grid_ms = self.t_ms + step;
    }

    /// The drive was switched at `t_ms`.
    pub fn drive(&mut self, t_ms: u64, on: bool, keep: &mut impl FnMut(&Stretch)) {
        self.anchor(t_ms, keep);
        self.driven_ms = self.driven_ms(t_ms);
        self.driven_since_ms = t_ms;
        self.drive_on = on;
        self.regrid(true);
    }

    /// How long the drive has been on until `t_ms`, ms since the start.
    pub fn driven_ms(&self, t_ms: u64) -> u64 {
        self.driven_ms + if self.drive_on { t_ms.saturating_sub(self.driven_since_ms) } else { 0 }
    }

    /// What can be seen at `t_ms`, which must not lie before the last commit.
    pub fn look(&mut self, t_ms: u64, keep: &mut impl FnMut(&Stretch)) -> Sight {
        self.advance_to(t_ms, keep);
        let dt_s = (t_ms - self.t_ms) as f64 / 1e3;
        let Moving { mut line, mut stored, mut probe, .. } = self.moving;
        let mut soil = self.moving.pots[0];
        let mut demand_l = self.demand_l;
        let hour = self.hour();
        if dt_s > 0.0 {
            let delivery = self.run_line(&mut line, &mut stored, dt_s);
            let litres = delivery.outlet_l[0];
            self.run_pot(&mut soil, 0, dt_s, litres);
            self.follow(&mut probe, &soil, dt_s);
            let share = self.setup.pots[0].evaporation_share;
            let demand = &self.demand[0];
            let canopy_mm_h = hour.eto_mm_h * share * demand.kcb;
            demand_l += canopy_mm_h * demand.canopy_m2 * dt_s / 3600.0;
        }
        let Setup { line: plumbing, source, .. } = self.setup;
        let fault = &self.wrong.plumbing;
        let flow_l_h = plumbing.sensed_l_h(&line, source, stored, fault);
        let load = plumbing.load(&line, self.drive_on, source, stored, fault);
        let wetted = self.moved_at_ms > 0 && t_ms - self.moved_at_ms < STANDS_MS;
        Sight {
            theta_mean: self.setup.pots[0].medium.theta_mean(&soil),
            probe,
            tank_l: self.level_l(stored),
            flow_l_h,
            load,
            air_c: hour.t_air_c,
            floor_l: self.floor_l,
            stands: wetted || soil.pond_l > 0.0,
            demand_l,
        }
    }

    /// What a float in the tank stands on: of a tank without water nothing, whatever comes back into
    /// it when the fault is over.
    fn level_l(&self, stored: SourceState) -> f64 {
        if self.wrong.plumbing.source_dry { 0.0 } else { stored.stored_l }
    }

    /// Whether it rains at `t_ms`, which must lie in the hour of the last commit or just at its end.
    pub fn rains(&self, t_ms: u64) -> bool {
        self.today.hour(t_ms / HOUR_MS).rain_mm_h + self.wrong.rain_mm_h > 0.0
    }

    /// What is wrong now.
    pub const fn wrong(&self) -> &Wrong {
        &self.wrong
    }

    /// A person does something to the world at `t_ms`.
    pub fn act(&mut self, t_ms: u64, act: Act, amount: f64, keep: &mut impl FnMut(&Stretch)) {
        self.anchor(t_ms, keep);
        match act {
            Act::PoursCan => {
                self.moving.pots[0].pond_l += amount;
                self.accounts.applied_l += amount;
                self.moved_at_ms = t_ms;
                self.regrid(true);
            }
            Act::RefillsTank => {
                if let Source::Tank(_) = self.setup.source {
                    self.moving.stored.refill(&self.setup.source, amount);
                }
            }
            Act::Feeds => self.apparent += amount / 100.0,
            Act::ReseatsProbe => self.apparent -= amount / 100.0,
            Act::EmptiesSaucer => {
                for state in &mut self.moving.pots[..self.setup.pots.len()] {
                    self.accounts.drained_l += state.saucer_l;
                    state.saucer_l = 0.0;
                }
            }
            Act::WatersByHand
            | Act::WatersFromAfar
            | Act::SwitchesOff
            | Act::SwitchesOn
            | Act::Acknowledges
            | Act::Stops
            | Act::Initialises => {}
        }
    }
}
