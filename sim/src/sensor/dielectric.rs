//! What a capacitive probe feels: permittivity.

/// Water content, m³/m³, of mineral soil with relative permittivity `epsilon` (Topp, Davis & Annan
/// 1980, Water Resour. Res. 16:574–582, Eq. 7), held to 0..=1. Made for ε 3–40; organic media read
/// low by it.
pub fn topp_theta(epsilon: f64) -> f64 {
    let e = epsilon;
    (-5.3e-2 + 2.92e-2 * e - 5.5e-4 * e * e + 4.3e-6 * e * e * e).clamp(0.0, 1.0)
}

/// Relative permittivity of water at `celsius`, 0–100 °C (Malmberg & Maryott 1956).
pub fn water_permittivity(celsius: f64) -> f64 {
    let t = celsius;
    87.740 - 0.40008 * t + 9.398e-4 * t * t - 1.410e-6 * t * t * t
}
