//! A pot or trough: substrate that drains to container capacity within minutes, a saucer that
//! catches it and gives it back, and peat that shrinks from the wall when it gets too dry.
use super::bed::few_limited;
use super::falling::FallingRate;
use super::probe_layer::{ProbeLayer, ProbePlace};
use super::retention::VanGenuchten;
use super::surface::{Surface, hours_until_gone};
use super::{Capacity, Fluxes, Forcing, State};
use crate::bounds::{OutOfRange, within};
use crate::crop::total_evaporable_mm;

/// Longest interval, h, while roots under stress and a wet saucer work on the same water.
const COUPLED_STEP_H: f64 = 1.0 / 60.0;

/// A substrate that stops taking water once it has dried and shrunk.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shrinkage {
    /// Mean water content below which it lets go of the wall, m³/m³.
    pub below: f64,
    /// Mean water content above which it takes water again, m³/m³; above the first.
    pub until: f64,
    /// Share of the water that runs past it meanwhile, 0..=1.
    pub share: f64,
}

/// A saucer or closed outer pot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Saucer {
    /// Free volume up to its edge, litres.
    pub holds_l: f64,
    /// Time constant with which the substrate draws it up again, h.
    pub draw_up_h: f64,
}

/// What a container is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ContainerSpec {
    /// Volume of the substrate, litres.
    pub volume_l: f64,
    /// Surface of the substrate, m².
    pub surface_m2: f64,
    /// Total pore space, m³/m³.
    pub saturation: f64,
    /// Water held after free drainage, m³/m³; falls with the height of the pot.
    pub container_capacity: f64,
    /// Water content at which the plant takes no more, m³/m³.
    pub wilting: f64,
    /// Water content that stays however long it dries, m³/m³.
    pub air_dry: f64,
    /// Time constant with which water above container capacity leaves by the hole, min; the
    /// porosity test waits 10–15 min for all of it.
    pub hole_min: f64,
    /// Depth of the layer that dries by evaporation, m.
    pub evaporation_depth_m: f64,
    /// Rate at which the surface takes water, litres/h.
    pub infiltration_l_h: f64,
    /// Room between substrate and rim, litres.
    pub headspace_l: f64,
    /// The saucer, if there is one.
    pub saucer: Option<Saucer>,
    /// Shrinkage, if the substrate does that.
    pub shrinkage: Option<Shrinkage>,
    /// Where the probe sits.
    pub probe: ProbePlace,
}

impl ContainerSpec {
    /// A pot of `volume_l` and `height_m` filled with `substrate`, no saucer: container capacity by
    /// the height of the pot, wilting at the tension where a substrate's water is "hardly
    /// available" (100 cm; De Boodt & Verdonck 1972, from memory), the rest common practice.
    pub fn of_substrate(substrate: &VanGenuchten, volume_l: f64, height_m: f64) -> Self {
        let surface_m2 = volume_l * 1e-3 / height_m;
        Self {
            volume_l,
            surface_m2,
            saturation: substrate.theta_s,
            container_capacity: substrate.container_capacity(100.0 * height_m),
            wilting: substrate.theta(100.0),
            air_dry: substrate.theta_r,
            hole_min: 4.0,
            evaporation_depth_m: 0.05_f64.min(0.5 * height_m),
            // The gravity flow through the saturated surface.
            infiltration_l_h: substrate.ks_cm_d * 10.0 / 24.0 * surface_m2,
            headspace_l: 0.1 * volume_l,
            saucer: None,
            shrinkage: None,
            probe: ProbePlace::default(),
        }
    }
}

/// A container, prepared.
#[derive(Clone, Debug, PartialEq)]
pub struct Container {
    figures: Capacity,
    capacity_l: f64,
    available_l: f64,
    saturated_l: f64,
    driest_l: f64,
    hole_h: f64,
    infiltration_l_h: f64,
    surface: Surface,
    evaporation: FallingRate,
    saucer: Option<Saucer>,
    shrinkage: Option<Shrinkage>,
    probe: ProbeLayer,
}

impl Container {
    /// Checks and prepares.
    ///
    /// # Errors
    /// [`OutOfRange`] with the first figure that cannot be.
    pub fn new(spec: &ContainerSpec) -> Result<Self, OutOfRange> {
        let volume_l = within("substrate volume (L)", spec.volume_l, 0.02, 5000.0)?;
        let surface = within("substrate surface (m²)", spec.surface_m2, 0.0005, 50.0)?;
        let height_m = volume_l * 1e-3 / surface;
        within("saturation (m³/m³)", spec.saturation, 0.1, 0.98)?;
        let cc = spec.container_capacity;
        within("container capacity (m³/m³)", cc, 0.05, spec.saturation - 0.005)?;
        within("wilting point (m³/m³)", spec.wilting, 0.001, cc - 0.01)?;
        within("air-dry water content (m³/m³)", spec.air_dry, 0.0, spec.wilting)?;
        within("drain time constant (min)", spec.hole_min, 0.05, 1440.0)?;
        within("evaporation depth (m)", spec.evaporation_depth_m, 0.005, height_m)?;
        within("infiltration (L/h)", spec.infiltration_l_h, 1e-4, 1e6)?;
        within("headspace (L)", spec.headspace_l, 0.0, volume_l)?;
        if let Some(saucer) = &spec.saucer {
            within("saucer volume (L)", saucer.holds_l, 0.001, 1000.0)?;
            within("draw-up time constant (h)", saucer.draw_up_h, 0.05, 240.0)?;
        }
        if let Some(shrinkage) = &spec.shrinkage {
            within("shrinkage limit (m³/m³)", shrinkage.below, 0.0, cc - 0.01)?;
            within("re-wetting limit (m³/m³)", shrinkage.until, shrinkage.below, cc)?;
            within("share running past", shrinkage.share, 0.0, 1.0)?;
        }
        let tew = total_evaporable_mm(cc, spec.wilting, spec.evaporation_depth_m);
        Ok(Self {
            figures: Capacity {
                volume_l,
                surface_m2: surface,
                wilting: spec.wilting,
                full: cc,
                saturation: spec.saturation,
                topsoil_evaporable_mm: tew,
            },
            capacity_l: cc * volume_l,
            available_l: (cc - spec.wilting) * volume_l,
            saturated_l: spec.saturation * volume_l,
            driest_l: spec.air_dry * volume_l,
            hole_h: spec.hole_min / 60.0,
            infiltration_l_h: spec.infiltration_l_h,
            surface: Surface { holds_l: spec.headspace_l },
            // FAO-56 Table 19 gives no substrate; the ratio of loam, 0.45, stands in.
            evaporation: FallingRate { threshold: 0.45 * tew, limit: tew },
            saucer: spec.saucer,
            shrinkage: spec.shrinkage,
            probe: ProbeLayer::new(&spec.probe, volume_l)?,
        })
    }

    /// Whether the substrate lets go of the wall at mean water content `theta`.
    pub(super) fn shrinks_at(&self, theta: f64) -> bool {
        self.shrinkage.is_some_and(|s| theta < s.below)
    }

    pub(super) fn figures(&self) -> &Capacity {
        &self.figures
    }

    pub(super) fn advance(&self, s: &mut State, hours: f64, f: &Forcing) -> Fluxes {
        let p = f.crop.depletion_fraction.clamp(0.1, 0.8);
        let stress_l = self.capacity_l - p * self.available_l;
        // Roots under stress follow the water that the saucer gives back; each closed form knows
        // only its own process, so that they take turns a minute long. Rare: a dried-out pot
        // with water under it.
        let lowest_l = s.water_l - demand_l_h(f) * hours;
        let turns = if s.saucer_l > 0.0 && lowest_l < stress_l {
            (hours / COUPLED_STEP_H).ceil().max(1.0)
        } else {
            1.0
        };
        let mut out = Fluxes::default();
        for _ in 0..turns as u32 {
            out += self.advance_once(s, hours / turns, p, f);
        }
        out
    }

    fn advance_once(&self, s: &mut State, hours: f64, p: f64, f: &Forcing) -> Fluxes {
        let mut out = Fluxes {
            rained_l: f.rain_mm_h.max(0.0) * self.figures.surface_m2 * hours,
            applied_l: f.applied_l_h.max(0.0) * hours,
            ..Fluxes::default()
        };
        let (soaked, over_rim) =
            self.surface.soak(&mut s.pond_l, out.inflow_l(), self.infiltration_l_h, hours);
        out.spilled_l = over_rim;
        let bypass = match self.shrinkage {
            Some(shrinkage) if s.shrunken => shrinkage.share * soaked,
            _ => 0.0,
        };
        let entering = soaked - bypass;

        let eto = f.eto_mm_h.max(0.0);
        let mut evaporated = self.evaporate(s, eto, hours, entering, f);
        let rooted = s.water_l + 0.5 * (entering - evaporated);
        let roots = FallingRate { threshold: p * self.available_l, limit: self.available_l };
        let mut transpired = roots.lost(self.capacity_l - rooted, demand_l_h(f), hours);
        let net = entering - evaporated - transpired;
        let mut water = self.exchange(s, net, bypass > 0.0, hours);
        // In the order in which they happen: what stands over the edge is gone before the roots
        // make room.
        self.catch_in_saucer(s, &mut out, bypass + water.drained_first);
        water.drawn_up = water.drawn_up.min(s.saucer_l);
        s.saucer_l -= water.drawn_up;
        self.catch_in_saucer(s, &mut out, water.drained_last);
        let drained = water.drained_first + water.drained_last;
        let end = s.water_l + net - drained + water.drawn_up;
        let losses = transpired + evaporated;
        if end < 0.0 && losses > 0.0 {
            // A tiny pot over hours: roots and sun count on water that the hole let go. Scale
            // their share back to what was there.
            let share = 1.0 + end / losses;
            transpired *= share;
            evaporated *= share;
        }
        s.water_l = end.max(0.0);
        out.transpired_l = transpired;
        out.evaporated_l = evaporated;
        self.back_up(s, &mut out);

        let theta = s.water_l / self.figures.volume_l;
        if let Some(shrinkage) = self.shrinkage {
            s.shrunken =
                if s.shrunken { theta <= shrinkage.until } else { theta < shrinkage.below };
        }
        self.probe.advance(&mut s.arriving, entering, hours, self.figures.saturation - theta);
        out
    }

    /// Evaporation from the exposed surface, litres (FAO-56 Eq. 71 and 74 in continuous form).
    fn evaporate(&self, s: &mut State, eto: f64, hours: f64, entering_l: f64, f: &Forcing) -> f64 {
        let wetting_mm = entering_l / self.figures.surface_m2;
        let before = (s.topsoil_depletion_mm - 0.5 * wetting_mm).max(0.0);
        let few = f.crop.exposed_wetted.clamp(0.0, 1.0);
        let exposed_m2 = few * self.figures.surface_m2;
        let drying = few_limited(&self.evaporation, few, f.crop.kc_max - f.crop.kcb, f.crop.kc_max);
        let lost = drying.map_or(0.0, |(law, coefficient)| {
            exposed_m2 * law.lost(before, coefficient * eto / few, hours)
        });
        let evaporated = lost.min((s.water_l - self.driest_l).max(0.0));
        let dried = if exposed_m2 > 0.0 { evaporated / exposed_m2 } else { 0.0 };
        s.topsoil_depletion_mm =
            (before + dried - 0.5 * wetting_mm).clamp(0.0, self.evaporation.limit);
        evaporated
    }

    /// Above container capacity the hole lets go, below it the saucer gives back, both with their
    /// time constant, while `net_l` comes in (or goes) steadily.
    fn exchange(&self, s: &State, net_l: f64, bypassed: bool, hours: f64) -> Exchange {
        let rate = net_l / hours;
        let mut x = s.water_l - self.capacity_l;
        let mut left = hours;
        let mut water = Exchange { drained_first: 0.0, drawn_up: 0.0, drained_last: 0.0 };
        if x > 0.0 {
            let (lost, spent) = relax(x, rate, self.hole_h, left);
            water.drained_first = lost;
            left -= spent;
            x = 0.0;
        }
        if left > 0.0 && (x < 0.0 || rate < 0.0) {
            let offered = s.saucer_l > 0.0 || bypassed || water.drained_first > 0.0;
            let spent = if let Some(saucer) = self.saucer.filter(|_| offered) {
                let (gained, spent) = relax(-x, -rate, saucer.draw_up_h, left);
                water.drawn_up = gained;
                spent
            } else if rate > 0.0 {
                (-x / rate).min(left)
            } else {
                left
            };
            left -= spent;
        }
        if left > 0.0 && rate > 0.0 {
            water.drained_last = relax(0.0, rate, self.hole_h, left).0;
        }
        water
    }

    /// What came through the hole or past the substrate: into the saucer, over its edge, or away.
    fn catch_in_saucer(&self, s: &mut State, out: &mut Fluxes, litres: f64) {
        out.leached_l += litres;
        if let Some(saucer) = self.saucer {
            let level = s.saucer_l + litres;
            s.saucer_l = level.min(saucer.holds_l);
            out.spilled_l += level - s.saucer_l;
        } else {
            out.drained_l += litres;
        }
    }

    /// Hours until nothing stands on the substrate any more; infinite while it does not fall.
    pub(super) fn pond_gone_h(&self, s: &State, f: &Forcing) -> f64 {
        let inflow = f.rain_mm_h.max(0.0) * self.figures.surface_m2 + f.applied_l_h.max(0.0);
        hours_until_gone(s.pond_l, inflow, self.infiltration_l_h)
    }

    /// Above saturation water stands on the substrate, and above the rim it runs over.
    fn back_up(&self, s: &mut State, out: &mut Fluxes) {
        let surplus = s.water_l - self.saturated_l;
        if surplus > 0.0 {
            s.water_l = self.saturated_l;
            let standing = s.pond_l + surplus;
            s.pond_l = standing.min(self.surface.holds_l);
            out.spilled_l += standing - s.pond_l;
        }
    }
}

/// What an unstressed canopy takes, litres/h.
fn demand_l_h(f: &Forcing) -> f64 {
    f.crop.kcb.max(0.0) * f.crop.canopy_m2.max(0.0) * f.eto_mm_h.max(0.0)
}

/// Litres through the hole and back, in the order in which they move.
struct Exchange {
    drained_first: f64,
    drawn_up: f64,
    drained_last: f64,
}

/// x' = rate − x/τ from `x` ≥ 0, ended where x comes back to zero. Returns what flowed through
/// x/τ and how long it took.
fn relax(x: f64, rate: f64, tau: f64, hours: f64) -> (f64, f64) {
    if rate < 0.0 {
        let empty_after = tau * (x / (-rate * tau)).ln_1p();
        if empty_after < hours {
            return ((x + rate * empty_after).max(0.0), empty_after);
        }
    }
    let change = (rate * tau - x) * -(-hours / tau).exp_m1();
    ((rate * hours - change).max(0.0), hours)
}
