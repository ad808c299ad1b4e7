//! Emitters: how flow follows pressure, and how even a set of them is.
use crate::noise;

/// Flow q = k·H^x, litres/h, at head `head_m`. x is 0 for a compensating emitter, 0.5 for a
/// turbulent, 1 for a laminar one.
pub fn flow_l_h(k: f64, exponent: f64, head_m: f64) -> f64 {
    if head_m <= 0.0 { 0.0 } else { k * head_m.powf(exponent) }
}

/// Head, m, at which an emitter known to give `known_l_h` at `known_m` gives `wanted_l_h`; the
/// exponent must not be zero.
pub fn head_for_flow_m(known_l_h: f64, known_m: f64, exponent: f64, wanted_l_h: f64) -> f64 {
    known_m * (wanted_l_h / known_l_h).powf(1.0 / exponent)
}

/// How unit number `unit` of a batch deviates from its nominal flow: a factor about 1 with
/// coefficient of variation `cv`.
pub fn manufactured(seed: u64, unit: u64, cv: f64) -> f64 {
    (1.0 + cv * noise::gaussian(seed, 0, unit)).max(0.0)
}

/// Design emission uniformity, %, of `per_plant` emitters a plant: 100·(1 − 1.27·Cv/√n)·qmin/qavg
/// (Keller & Karmeli 1974).
pub fn emission_uniformity_pct(cv: f64, per_plant: u32, least: f64, mean: f64) -> f64 {
    100.0 * (1.0 - 1.27 * cv / f64::from(per_plant).sqrt()) * least / mean
}

/// Coefficient of uniformity, % (Christiansen 1942); `None` without a positive mean.
pub fn christiansen_pct(depths: &[f64]) -> Option<f64> {
    let mean = positive_mean(depths)?;
    let deviation: f64 = depths.iter().map(|d| (d - mean).abs()).sum();
    Some(100.0 * (1.0 - deviation / (depths.len() as f64 * mean)))
}

/// Low-quarter distribution uniformity, % (Merriam & Keller 1978): the mean of the lowest quarter
/// (rounded up to whole readings) over the mean; `None` without a positive mean.
pub fn low_quarter_pct(depths: &[f64]) -> Option<f64> {
    let mean = positive_mean(depths)?;
    let mut sorted = depths.to_vec();
    sorted.sort_by(f64::total_cmp);
    let quarter = depths.len().div_ceil(4);
    let low: f64 = sorted.iter().take(quarter).sum::<f64>() / quarter as f64;
    Some(100.0 * low / mean)
}

fn positive_mean(values: &[f64]) -> Option<f64> {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    (mean > 0.0).then_some(mean)
}
