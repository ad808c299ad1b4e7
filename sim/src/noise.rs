//! Noise that depends on *when* it is asked for and not on how often: a hash of seed, time and
//! channel. A run that wakes the controller once an hour and one that steps it every second see
//! the same value at the same instant.

/// Standard deviation of the sum of four independent 16-bit uniform numbers: 65536·√(4/12).
const SUM_OF_FOUR_SD: f64 = 37_837.227;
const SUM_OF_FOUR_MEAN: f64 = 131_070.0;

/// 64 well-mixed bits for one seed, one instant and one channel.
///
/// Each input passes the finaliser of `SplitMix64` (Steele, Lea & Flood 2014) before the next is
/// added, so that neighbouring instants and channels are unrelated.
pub fn bits(seed: u64, t_ms: u64, channel: u64) -> u64 {
    mix(mix(mix(seed).wrapping_add(t_ms)).wrapping_add(channel))
}

/// Uniform in 0..1.
pub fn uniform(seed: u64, t_ms: u64, channel: u64) -> f64 {
    // The upper 53 bits fill a double's fraction exactly.
    (bits(seed, t_ms, channel) >> 11) as f64 / (1u64 << 53) as f64
}

/// Mean 0, standard deviation 1, within ±3.5: a sum of four uniforms. The far tail of a true
/// normal is missing; what makes spikes is a fault of its own.
pub fn gaussian(seed: u64, t_ms: u64, channel: u64) -> f64 {
    let b = bits(seed, t_ms, channel);
    let sum = (b & 0xFFFF) + (b >> 16 & 0xFFFF) + (b >> 32 & 0xFFFF) + (b >> 48);
    (sum as f64 - SUM_OF_FOUR_MEAN) / SUM_OF_FOUR_SD
}

const fn mix(x: u64) -> u64 {
    let z = x.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}
