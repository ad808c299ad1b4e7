//! Soil and water laws against published values and reference libraries. Every figure is typed in
//! from the source named beside it.
#![cfg(feature = "simulator")]
#![allow(missing_docs)]
// The saturation of silty clay, 0.5235, happens to lie near π/6.
#![allow(clippy::approx_constant)]
use drydown_sim::sensor::dielectric::{topp_theta, water_permittivity};
use drydown_sim::soil::drainage::{LinearRecession, UnitGradient};
use drydown_sim::soil::infiltration::{GreenAmpt, WettedBulb};
use drydown_sim::soil::retention::{CARSEL_PARRISH, Campbell, VanGenuchten};
use drydown_sim::soil::texture::{Texture, TextureClass};

#[track_caller]
fn near(what: &str, got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "{what}: {got}, published {expected} ± {tolerance}"
    );
}

/// Saxton & Rawls 2006 Eq. 1–5, 15, 16, 18 with organic matter 2.5 %, computed with the Python
/// package ptfkit 0.4.0: sand, clay, θ1500, θ33, θs (m³/m³), Ks (mm/h).
const SAXTON_RAWLS: [(&str, f64, f64, f64, f64, f64, f64); 12] = [
    ("sand", 0.88, 0.05, 0.0502, 0.1028, 0.4617, 108.15),
    ("loamy sand", 0.8, 0.05, 0.051, 0.1202, 0.4602, 96.67),
    ("sandy loam", 0.65, 0.1, 0.0808, 0.1792, 0.4499, 50.3),
    ("loam", 0.4, 0.2, 0.137, 0.2796, 0.4595, 15.48),
    ("silt loam", 0.2, 0.15, 0.1099, 0.3052, 0.4787, 16.12),
    ("silt", 0.1, 0.05, 0.0574, 0.3045, 0.479, 21.99),
    ("sandy clay loam", 0.6, 0.25, 0.1657, 0.267, 0.4341, 11.26),
    ("clay loam", 0.3, 0.35, 0.218, 0.3579, 0.4772, 4.32),
    ("silty clay loam", 0.1, 0.35, 0.2152, 0.3818, 0.5112, 5.68),
    ("silty clay", 0.1, 0.45, 0.2678, 0.4091, 0.5235, 3.67),
    ("sandy clay", 0.5, 0.4, 0.2486, 0.3611, 0.4438, 1.39),
    ("clay", 0.25, 0.5, 0.2979, 0.4206, 0.4984, 1.14),
];

#[test]
fn texture_regressions_match_the_reference_package() {
    for (name, sand, clay, wp, fc, sat, ks) in SAXTON_RAWLS {
        let soil = Texture::new(sand, clay, 2.5).unwrap().hydraulics();
        near(&format!("{name} wilting point"), soil.wilting_point, wp, 0.0002);
        near(&format!("{name} field capacity"), soil.field_capacity, fc, 0.0002);
        near(&format!("{name} saturation"), soil.saturation, sat, 0.0002);
        near(&format!("{name} conductivity"), soil.ks_mm_h, ks, 0.02);
        let by_name = TextureClass::named(name).unwrap().hydraulics();
        assert_eq!(soil, by_name, "{name}: the class point is another soil");
    }
}

#[test]
fn texture_classes_match_the_printed_table() {
    // Saxton & Rawls 2006 Table 3, % by volume and mm/h, from memory.
    for (name, wp, fc, sat, ks) in [
        ("sand", 5.0, 10.0, 46.0, 108.1),
        ("sandy loam", 8.0, 18.0, 45.0, 50.3),
        ("loam", 14.0, 28.0, 46.0, 15.5),
        ("silt loam", 11.0, 31.0, 48.0, 16.1),
        ("clay loam", 22.0, 36.0, 48.0, 4.3),
        ("clay", 30.0, 42.0, 50.0, 1.1),
    ] {
        let soil = TextureClass::named(name).unwrap().hydraulics();
        near(&format!("{name} wilting point"), 100.0 * soil.wilting_point, wp, 0.8);
        near(&format!("{name} field capacity"), 100.0 * soil.field_capacity, fc, 0.8);
        near(&format!("{name} saturation"), 100.0 * soil.saturation, sat, 0.8);
        near(&format!("{name} conductivity"), soil.ks_mm_h, ks, 0.1);
    }
}

#[test]
fn texture_curve_passes_the_two_tensions_it_is_drawn_through() {
    for (name, ..) in SAXTON_RAWLS {
        let soil = TextureClass::named(name).unwrap().hydraulics();
        // Saxton & Rawls 2006 Eq. 11, 14, 15: 33 and 1500 kPa.
        near(name, soil.tension_kpa(soil.field_capacity), 33.0, 1e-9);
        near(name, soil.tension_kpa(soil.wilting_point), 1500.0, 1e-6);
        near(name, soil.conductivity_mm_h(soil.saturation), soil.ks_mm_h, 1e-9);
        assert!(soil.air_entry_kpa >= 0.0);
    }
}

#[test]
fn packing_costs_pore_space_as_published() {
    // Saxton & Rawls 2006 Eq. 6–9 by hand for loam: ρN = (1 − 0.4595)·2.65 = 1.4323 g/cm³, times
    // 1.1 = 1.5756; θs = 1 − 1.5756/2.65 = 0.4054; θ33 = 0.2796 − 0.2·0.0541 = 0.2688.
    let packed = Texture::new(0.4, 0.2, 2.5).unwrap().packed(1.1).unwrap();
    near("density", packed.density_g_cm3, 1.5756, 0.0005);
    near("saturation", packed.saturation, 0.4054, 0.0002);
    near("field capacity", packed.field_capacity, 0.2688, 0.0002);
}

#[test]
fn texture_out_of_range_names_field_value_and_bound() {
    let error = Texture::new(0.2, 0.7, 2.0).unwrap_err().to_string();
    assert_eq!(error, "clay (mass fraction) is 0.7; it must lie between 0 and 0.6");
}

fn loam() -> VanGenuchten {
    // Carsel & Parrish 1988, loam.
    VanGenuchten { theta_r: 0.078, theta_s: 0.43, alpha_per_cm: 0.036, n: 1.56, ks_cm_d: 24.96 }
}

#[test]
fn van_genuchten_matches_the_reference_package() {
    // unsatfit 6.3: tension cm, θ.
    for (h, theta) in
        [(10.0, 0.4074), (33.0, 0.3387), (100.0, 0.2421), (330.0, 0.1654), (15000.0, 0.0884)]
    {
        near(&format!("theta at {h} cm"), loam().theta(h), theta, 0.0002);
    }
    // unsatfit 6.3, five digits.
    for (h, theta) in
        [(10.0, 0.40739), (100.0, 0.24213), (330.0, 0.16538), (1000.0, 0.12525), (15000.0, 0.08838)]
    {
        near(&format!("theta at {h} cm"), loam().theta(h), theta, 0.000_006);
    }
    // unsatfit 6.3: tension cm, K cm/d, tolerance.
    for (h, k, tolerance) in
        [(10.0, 5.377, 0.00538), (100.0, 0.03392, 3.39e-5), (330.0, 0.0006903, 6.9e-7)]
    {
        near(&format!("conductivity at {h} cm"), loam().conductivity_cm_d(h), k, tolerance);
    }
}

#[test]
fn class_means_are_those_of_carsel_and_parrish() {
    // Carsel & Parrish 1988, Water Resour. Res. 24:755–769: θr, θs, α 1/cm, n, Ks cm/d.
    let printed = [
        ("sand", 0.045, 0.43, 0.145, 2.68, 712.8),
        ("loamy sand", 0.057, 0.41, 0.124, 2.28, 350.2),
        ("sandy loam", 0.065, 0.41, 0.075, 1.89, 106.1),
        ("loam", 0.078, 0.43, 0.036, 1.56, 24.96),
        ("silt", 0.034, 0.46, 0.016, 1.37, 6.00),
        ("silt loam", 0.067, 0.45, 0.020, 1.41, 10.80),
        ("sandy clay loam", 0.100, 0.39, 0.059, 1.48, 31.44),
        ("clay loam", 0.095, 0.41, 0.019, 1.31, 6.24),
        ("silty clay loam", 0.089, 0.43, 0.010, 1.23, 1.68),
        ("sandy clay", 0.100, 0.38, 0.027, 1.23, 2.88),
        ("silty clay", 0.070, 0.36, 0.005, 1.09, 0.48),
        ("clay", 0.068, 0.38, 0.008, 1.09, 4.80),
    ];
    for ((name, soil), (wanted, theta_r, theta_s, alpha_per_cm, n, ks_cm_d)) in
        CARSEL_PARRISH.into_iter().zip(printed)
    {
        assert_eq!(name, wanted);
        assert_eq!(soil, VanGenuchten { theta_r, theta_s, alpha_per_cm, n, ks_cm_d });
        soil.checked().unwrap();
    }
}

#[test]
fn container_capacity_falls_with_the_height_of_the_pot() {
    // Method of Milks, Fonteno & Larson 1989; parameters invented; values by unsatfit 6.3.
    let substrate =
        VanGenuchten { theta_r: 0.15, theta_s: 0.90, alpha_per_cm: 0.30, n: 1.6, ks_cm_d: 1000.0 };
    for (height, capacity) in [(6.0, 0.7534), (10.0, 0.6763), (15.0, 0.6098), (20.0, 0.5626)] {
        near(&format!("{height} cm"), substrate.container_capacity(height), capacity, 0.0005);
    }
}

#[test]
fn campbell_inverts_and_conducts_by_its_exponent() {
    // Campbell 1974 with the loam of Saxton & Rawls 2006: b = B = 1/λ = 1/0.187, m = 2b + 3 = 13.7.
    let soil = Campbell { air_entry_kpa: 4.0, theta_s: 0.4595, b: 1.0 / 0.187, ks_mm_h: 15.48 };
    near("exponent", soil.conductivity_exponent(), 13.70, 0.01);
    near("at air entry", soil.theta(2.0), 0.4595, 1e-12);
    for kpa in [5.0, 33.0, 1500.0] {
        near("tension there and back", soil.tension_kpa(soil.theta(kpa)), kpa, 1e-9 * kpa);
    }
    // Half of saturation conducts 2^−13.70 of saturated: 15.48·7.51e-5 = 1.163e-3 mm/h.
    near("dry conductivity", soil.conductivity_mm_h(0.4595 / 2.0), 1.163e-3, 0.01e-3);
}

#[test]
fn free_drainage_matches_the_published_law() {
    // Black, Gardner & Thurtell 1969 with Campbell 1974: 300 mm of loam (Saxton & Rawls 2006
    // Eq. 17 parameters by ptfkit 0.4.0) from saturation.
    let layer = UnitGradient::new(300.0, 0.4595, 15.476, 13.702);
    for (hours, theta) in [(6.0, 0.3847), (24.0, 0.3471), (48.0, 0.3291), (240.0, 0.2902)] {
        let start = 0.4595 * 300.0;
        let left = (start - layer.drained_mm(start, hours)) / 300.0;
        near(&format!("after {hours} h"), left, theta, 0.0005);
        let mut stored = start;
        for _ in 0..1000 {
            stored -= layer.drained_mm(stored, hours / 1000.0);
        }
        near(&format!("after {hours} h in steps"), stored / 300.0, left, 1e-9);
    }
}

#[test]
fn a_moment_of_drainage_keeps_the_digits_of_the_law() {
    // The law as printed, θs·[(θ0/θs)^(1−m) + (m−1)·Ks·t/(L·θs)]^(−1/(m−1)), for the same loam.
    let (full, m, ks) = (0.4595 * 300.0, 13.702f64, 15.476);
    let layer = UnitGradient::new(300.0, 0.4595, ks, m);
    for (share, seconds) in [(1.0, 0.2), (1.0, 60.0), (0.8, 60.0), (0.7, 600.0), (0.6, 3600.0)] {
        let spent = (m - 1.0) * ks * seconds / 3600.0 / full;
        let end = full * (f64::powf(share, 1.0 - m) + spent).powf(-1.0 / (m - 1.0));
        let drained = layer.drained_mm(share * full, seconds / 3600.0);
        near(&format!("{share} for {seconds} s"), drained, share * full - end, 1e-6 * drained);
    }
}

#[test]
fn linear_recession_matches_a_numerical_solution() {
    // scipy 1.17 solve_ivp, 40 mm with τ = 1 d, at days 1, 2, 3.
    let store = LinearRecession { tau_h: 24.0 };
    for (days, left) in [(1.0, 14.7152), (2.0, 5.4134), (3.0, 1.9915)] {
        near(&format!("day {days}"), 40.0 - store.drained_mm(40.0, 24.0 * days), left, 0.0001);
    }
}

#[test]
fn permittivity_of_soil_and_water() {
    // Topp, Davis & Annan 1980 Eq. 7.
    for (epsilon, theta) in [
        (3.0, 0.0298),
        (5.0, 0.0798),
        (10.0, 0.1883),
        (15.0, 0.2758),
        (20.0, 0.3454),
        (25.0, 0.4004),
        (30.0, 0.4441),
        (40.0, 0.5102),
    ] {
        near(&format!("permittivity {epsilon}"), topp_theta(epsilon), theta, 0.0001);
    }
    assert!(topp_theta(1.0).abs() < 1e-12, "the polynomial is negative in air: held to zero");
    // Malmberg & Maryott 1956, computed with Pedophysics 0.1.5.
    for (celsius, epsilon) in
        [(0.0, 87.74), (10.0, 83.83), (20.0, 80.1), (25.0, 78.3), (30.0, 76.55), (40.0, 73.15)]
    {
        near(&format!("water at {celsius} °C"), water_permittivity(celsius), epsilon, 0.02);
    }
}

#[test]
fn green_ampt_matches_the_textbook() {
    // Chow, Maidment & Mays 1988, Examples 4.3.1 and 4.4.1 (from memory): silt loam, cm and hours.
    let soil = GreenAmpt::new(0.65, 16.7, 0.340);
    let taken = soil.cumulative(1.0);
    near("cumulative", taken, 3.17, 0.02);
    near("rate", soil.rate(taken), 1.81, 0.02);
    near("ponding at 1 cm/h", soil.time_to_ponding(1.0).unwrap(), 10.5, 0.06);
    near("ponding at 5 cm/h", soil.time_to_ponding(5.0).unwrap(), 0.17, 0.006);
    assert_eq!(soil.time_to_ponding(0.6), None);
    // The root must satisfy the equation itself over any time.
    for t in [1e-6, 0.01, 1.0, 1000.0] {
        let f = soil.cumulative(t);
        let s = 16.7 * 0.340;
        near(&format!("equation at {t} h"), f - s * (1.0 + f / s).ln(), 0.65 * t, 1e-6 * (1.0 + t));
    }
}

#[test]
fn wetted_bulb_matches_both_printed_forms() {
    // Schwartzman & Zur 1986 (from memory): 10 L at 4 L/h, Ks 1e-5 m/s.
    let bulb = WettedBulb::under_emitter(10.0, 4.0, 1e-5);
    near("width", bulb.width_m, 0.45, 0.02);
    near("depth", bulb.depth_m, 0.38, 0.02);
    // The form with litres and litres/h, quoted by other papers: W = 0.031·V^0.22·(Ks/q)^−0.17,
    // Z = 29.2·V^0.63·(Ks/q)^0.45.
    let ratio: f64 = 1e-5 / 4.0;
    near("width, mixed units", bulb.width_m, 0.031 * 10f64.powf(0.22) * ratio.powf(-0.17), 0.01);
    near("depth, mixed units", bulb.depth_m, 29.2 * 10f64.powf(0.63) * ratio.powf(0.45), 0.01);
}
