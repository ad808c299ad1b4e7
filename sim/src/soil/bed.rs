//! A bed in open ground: one root zone over free-draining soil, under the dual crop coefficient.
use super::drainage::UnitGradient;
use super::falling::FallingRate;
use super::probe_layer::{ProbeLayer, ProbePlace};
use super::surface::{Surface, hours_until_gone};
use super::texture::Hydraulics;
use super::{Capacity, Fluxes, Forcing, State};
use crate::bounds::{OutOfRange, within};
use crate::crop::total_evaporable_mm;

/// What a bed is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BedSpec {
    /// Area, m².
    pub area_m2: f64,
    /// Share of the area that watering wets, 0.01..=1 (FAO-56 Table 20: trickle 0.3–0.4).
    pub wetted_fraction: f64,
    /// Depth of the roots, m.
    pub root_depth_m: f64,
    /// Depth of the layer that dries by evaporation, m (FAO-56: 0.10–0.15).
    pub evaporation_depth_m: f64,
    /// Readily evaporable water of that layer, mm (FAO-56 Table 19).
    pub readily_evaporable_mm: f64,
    /// Wilting point, m³/m³.
    pub wilting: f64,
    /// Field capacity, m³/m³: where depletion is counted from. Drainage does not use it.
    pub field_capacity: f64,
    /// Saturation, m³/m³.
    pub saturation: f64,
    /// Saturated conductivity, mm/h.
    pub ks_mm_h: f64,
    /// Exponent m of K = Ks·(θ/θs)^m.
    pub conductivity_exponent: f64,
    /// Steady rate at which the surface takes water, mm/h.
    pub infiltration_mm_h: f64,
    /// Depth of water that can stand on the wetted area before it runs off, mm.
    pub ponding_mm: f64,
    /// Where the probe sits.
    pub probe: ProbePlace,
}

impl BedSpec {
    /// A flat bed of one soil with roots to `root_depth_m`, watered by drip: a third of the area
    /// wetted (FAO-56 Table 20), evaporation from the top 0.10 m, 5 mm of water can stand
    /// (common practice), and the surface takes half the saturated conductivity (Rawls,
    /// Brakensiek & Miller 1983).
    pub fn of_soil(soil: &Hydraulics, area_m2: f64, root_depth_m: f64) -> Self {
        let evaporation_depth_m = root_depth_m.min(0.10);
        let tew = total_evaporable_mm(soil.field_capacity, soil.wilting_point, evaporation_depth_m);
        Self {
            area_m2,
            wetted_fraction: 1.0 / 3.0,
            root_depth_m,
            evaporation_depth_m,
            // FAO-56 Table 19: the readily evaporable part is close to 0.45 of the whole in loam.
            readily_evaporable_mm: 0.45 * tew,
            wilting: soil.wilting_point,
            field_capacity: soil.field_capacity,
            saturation: soil.saturation,
            ks_mm_h: soil.ks_mm_h,
            conductivity_exponent: soil.conductivity_exponent(),
            infiltration_mm_h: 0.5 * soil.ks_mm_h,
            ponding_mm: 5.0,
            probe: ProbePlace::default(),
        }
    }
}

/// A bed, prepared: what can be computed once is.
#[derive(Clone, Debug, PartialEq)]
pub struct Bed {
    figures: Capacity,
    wetted_m2: f64,
    infiltration_mm_h: f64,
    surface: Surface,
    evaporation: FallingRate,
    field_capacity_mm: f64,
    available_mm: f64,
    saturated_mm: f64,
    /// Below this neither roots nor sun take anything: the topsoil at half the wilting point, the
    /// rest at the wilting point (FAO-56 Eq. 73).
    driest_mm: f64,
    drainage: UnitGradient,
    probe: ProbeLayer,
}

impl Bed {
    /// Checks and prepares.
    ///
    /// # Errors
    /// [`OutOfRange`] with the first figure that cannot be.
    pub fn new(spec: &BedSpec) -> Result<Self, OutOfRange> {
        let area = within("bed area (m²)", spec.area_m2, 0.01, 1e6)?;
        within("wetted fraction", spec.wetted_fraction, 0.01, 1.0)?;
        within("root depth (m)", spec.root_depth_m, 0.02, 3.0)?;
        let ze =
            within("evaporation depth (m)", spec.evaporation_depth_m, 0.005, spec.root_depth_m)?;
        within("saturation (m³/m³)", spec.saturation, 0.1, 0.98)?;
        within("field capacity (m³/m³)", spec.field_capacity, 0.02, spec.saturation - 0.005)?;
        within("wilting point (m³/m³)", spec.wilting, 0.001, spec.field_capacity - 0.01)?;
        within("saturated conductivity (mm/h)", spec.ks_mm_h, 0.001, 10_000.0)?;
        within("conductivity exponent", spec.conductivity_exponent, 3.0, 60.0)?;
        within("infiltration (mm/h)", spec.infiltration_mm_h, 0.001, 10_000.0)?;
        within("ponding (mm)", spec.ponding_mm, 0.0, 500.0)?;
        let tew = total_evaporable_mm(spec.field_capacity, spec.wilting, ze);
        within("readily evaporable water (mm)", spec.readily_evaporable_mm, 0.0, 0.95 * tew)?;
        let depth_mm = 1000.0 * spec.root_depth_m;
        let volume_l = depth_mm * area;
        let wetted_m2 = area * spec.wetted_fraction;
        Ok(Self {
            figures: Capacity {
                volume_l,
                surface_m2: area,
                wilting: spec.wilting,
                full: spec.field_capacity,
                saturation: spec.saturation,
                topsoil_evaporable_mm: tew,
            },
            wetted_m2,
            infiltration_mm_h: spec.infiltration_mm_h,
            surface: Surface { holds_l: spec.ponding_mm * wetted_m2 },
            evaporation: FallingRate { threshold: spec.readily_evaporable_mm, limit: tew },
            field_capacity_mm: spec.field_capacity * depth_mm,
            available_mm: (spec.field_capacity - spec.wilting) * depth_mm,
            saturated_mm: spec.saturation * depth_mm,
            driest_mm: spec.wilting * (depth_mm - 500.0 * ze),
            drainage: UnitGradient::new(
                depth_mm,
                spec.saturation,
                spec.ks_mm_h,
                spec.conductivity_exponent,
            ),
            probe: ProbeLayer::new(&spec.probe, volume_l)?,
        })
    }

    pub(super) fn figures(&self) -> &Capacity {
        &self.figures
    }

    pub(super) fn advance(&self, s: &mut State, hours: f64, f: &Forcing) -> Fluxes {
        let area = self.figures.surface_m2;
        let rain = f.rain_mm_h.max(0.0);
        let soaking_rain = rain.min(self.infiltration_mm_h);
        let mut out = Fluxes {
            rained_l: rain * area * hours,
            applied_l: f.applied_l_h.max(0.0) * hours,
            ..Fluxes::default()
        };
        let (soaked_l, run_off_l) =
            self.surface.soak(&mut s.pond_l, out.applied_l, self.uptake_l_h(soaking_rain), hours);
        out.spilled_l = run_off_l;
        // Rain that the ground does not take runs on over other ground: nobody spilled it.
        let run_on_l = (rain - soaking_rain) * area * hours;
        let rain_mm = soaking_rain * hours;
        let entering = rain_mm + soaked_l / area;

        let eto = f.eto_mm_h.max(0.0);
        let mut evaporated = self.evaporate(s, eto, hours, rain_mm + soaked_l / self.wetted_m2, f);

        // Half of what comes and goes by the surface before roots and drainage, half after:
        // second order in the interval with one evaluation of each law.
        let start = s.water_l / area;
        let half_surface = 0.5 * (entering - evaporated);
        let rooted = start + half_surface;
        let p = f.crop.depletion_fraction.clamp(0.1, 0.8);
        let roots = FallingRate { threshold: p * self.available_mm, limit: self.available_mm };
        let mut transpired =
            roots.lost(self.field_capacity_mm - rooted, f.crop.kcb.max(0.0) * eto, hours);
        let drained = self.drainage.drained_mm(rooted - 0.5 * transpired, hours);
        let end = rooted - transpired - drained + half_surface;
        let losses = transpired + evaporated;
        if end < 0.0 && losses > 0.0 {
            // A shallow bed over hours: the halves overlap. Scale the losses back to what was there.
            let share = 1.0 + end / losses;
            transpired *= share;
            evaporated *= share;
        }
        let surplus = (end - self.saturated_mm).max(0.0);
        s.water_l = (end - surplus).max(0.0) * area;
        out.transpired_l = transpired * area;
        out.evaporated_l = evaporated * area;
        out.drained_l = drained * area + run_on_l;
        out.spilled_l += surplus * area;

        let room = self.figures.saturation - s.water_l / self.figures.volume_l;
        self.probe.advance(&mut s.arriving, entering * area, hours, room);
        out
    }

    /// Hours until nothing stands on the bed any more; infinite while it does not fall.
    pub(super) fn pond_gone_h(&self, s: &State, f: &Forcing) -> f64 {
        let soaking_rain = f.rain_mm_h.clamp(0.0, self.infiltration_mm_h);
        hours_until_gone(s.pond_l, f.applied_l_h.max(0.0), self.uptake_l_h(soaking_rain))
    }

    /// What the wetted part still takes besides the rain, litres/h.
    fn uptake_l_h(&self, soaking_rain_mm_h: f64) -> f64 {
        (self.infiltration_mm_h - soaking_rain_mm_h) * self.wetted_m2
    }

    /// FAO-56 Eq. 71, 74 and 77 in continuous form; mm over the whole bed.
    fn evaporate(&self, s: &mut State, eto: f64, hours: f64, wetting_mm: f64, f: &Forcing) -> f64 {
        let before = (s.topsoil_depletion_mm - 0.5 * wetting_mm).max(0.0);
        let few = f.crop.exposed_wetted.clamp(0.0, 1.0);
        let drying = few_limited(&self.evaporation, few, f.crop.kc_max - f.crop.kcb, f.crop.kc_max);
        let lost = drying.map_or(0.0, |(law, coefficient)| {
            few * law.lost(before, coefficient * eto / few, hours)
        });
        let area = self.figures.surface_m2;
        let evaporated = lost.min((s.water_l / area - self.driest_mm).max(0.0));
        let dried = if few > 0.0 { evaporated / few } else { 0.0 };
        s.topsoil_depletion_mm =
            (before + dried - 0.5 * wetting_mm).clamp(0.0, self.evaporation.limit);
        evaporated
    }
}

/// Eq. 71: Ke = min(Kr·(Kc max − Kcb), few·Kc max). Where the second limit binds, the full rate
/// lasts until Kr has fallen to it. `None` when nothing evaporates.
pub(super) fn few_limited(
    law: &FallingRate,
    few: f64,
    spare: f64,
    kc_max: f64,
) -> Option<(FallingRate, f64)> {
    if few <= 0.0 || spare <= 0.0 {
        return None;
    }
    let share = (few * kc_max / spare).min(1.0);
    let threshold = law.limit - share * (law.limit - law.threshold);
    Some((FallingRate { threshold, limit: law.limit }, share * spare))
}
