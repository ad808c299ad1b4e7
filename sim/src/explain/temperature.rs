//! What temperature does to a reading, told from the log alone.
//!
//! Probes move by about 2 percent by volume for 10 °C, of either sign (doi 10.1016/j.mex.2024.103100), so a
//! warm afternoon can look like a dose and a cold night like a drain. In the colder half of a day plants
//! hardly drink and the soil changes slowly: what the reading does then from one hour to the next, beside
//! its mean fall, goes with the air.

use super::course::{Course, Seen};

/// Hours over which a change is taken, and how much of it must be there.
const OVER_H: f64 = 1.05;
const LEAST_H: f64 = 0.9;
/// Fewest changes, and the least scatter of their temperatures, K².
const LEAST: usize = 100;
const LEAST_SCATTER: f64 = 0.05;
/// Changes that fit least are left out: rain does not go with the air.
const KEPT: f64 = 0.8;
const ROUNDS: usize = 3;

/// Percent per kelvin; 0 where the log cannot tell.
pub fn per_kelvin(course: &Course<'_>) -> f64 {
    let all = changes(course);
    let mut kept = all.clone();
    let mut slope = 0.0;
    for _ in 0..ROUNDS {
        let count = kept.len() as f64;
        let mean = |of: fn(&(f64, f64)) -> f64| kept.iter().map(of).sum::<f64>() / count;
        let (kelvin, percent) = (mean(|one| one.0), mean(|one| one.1));
        let scatter: f64 = kept.iter().map(|one| (one.0 - kelvin).powi(2)).sum();
        if kept.len() < LEAST || scatter < count * LEAST_SCATTER {
            return 0.0;
        }
        slope = kept.iter().map(|one| (one.0 - kelvin) * (one.1 - percent)).sum::<f64>() / scatter;
        let miss = |one: &(f64, f64)| (one.1 - percent - slope * (one.0 - kelvin)).abs();
        let mut misses: Vec<f64> = all.iter().map(miss).collect();
        misses.sort_by(f64::total_cmp);
        let most = misses[((misses.len() - 1) as f64 * KEPT) as usize];
        kept = all.iter().filter(|one| miss(one) <= most).copied().collect();
    }
    slope
}

/// What air and reading changed by within an hour, in the colder half of a day, where no dose moved the
/// soil.
fn changes(course: &Course<'_>) -> Vec<(f64, f64)> {
    let read = |row: &Seen<'_>| Some((row.t_h, row.entry.air_c?, row.level?));
    let read: Vec<(f64, f64, f64)> = course.rows.iter().filter_map(read).collect();
    let (mut from, mut first, mut sum) = (0, 0, 0.0);
    let mut found = vec![];
    for (at, &(t_h, air_c, level)) in read.iter().enumerate() {
        sum += air_c;
        while read[first].0 < t_h - 24.0 {
            sum -= read[first].1;
            first += 1;
        }
        let mean_c = sum / (at - first + 1) as f64;
        while read[from].0 < t_h - OVER_H {
            from += 1;
        }
        let (from_h, from_c, from_level) = read[from];
        let cold = from_c < mean_c && air_c < mean_c;
        if cold && t_h - from_h >= LEAST_H && !course.answers(from_h, t_h) {
            found.push((air_c - from_c, level - from_level));
        }
    }
    found
}
