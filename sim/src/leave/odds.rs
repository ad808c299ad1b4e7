//! A count out of some runs, and how often it could be in truth.

/// How often something was seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Odds {
    /// So often.
    pub seen: u64,
    /// In so many.
    pub of: u64,
}

/// Confidence of a bound.
const CONFIDENCE: f64 = 0.95;

impl Odds {
    /// The most that its chance is, with 95 % confidence (Clopper & Pearson 1934, one-sided).
    pub fn at_most(self) -> f64 {
        at_most(self.seen, self.of, CONFIDENCE)
    }

    /// The least that its chance is, with 95 % confidence: what is not seen is at most the rest
    /// (Clopper & Pearson 1934, one-sided).
    pub fn at_least(self) -> f64 {
        1.0 - at_most(self.of - self.seen, self.of, CONFIDENCE)
    }
}

/// The chance at which seeing `seen` or fewer in `of` would be as rare as `1 − confidence` (Clopper &
/// Pearson 1934, Biometrika 26:404, upper side).
///
/// ```
/// use drydown_sim::leave::at_most;
/// // None in 20: 1 − 0.05^(1/20).
/// assert!((at_most(0, 20, 0.95) - 0.1391).abs() < 1e-4);
/// ```
pub fn at_most(seen: u64, of: u64, confidence: f64) -> f64 {
    if seen >= of {
        return 1.0;
    }
    let rare = 1.0 - confidence;
    let (mut low, mut high) = (0.0, 1.0);
    // Sixty halvings leave less than a float can tell apart.
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if at_most_seen(seen, of, middle) > rare { low = middle } else { high = middle }
    }
    f64::midpoint(low, high)
}

/// Chance of `seen` or fewer in `of`, each with `chance`.
fn at_most_seen(seen: u64, of: u64, chance: f64) -> f64 {
    // Term by term from the logarithm of the first, so that a thousand runs do not underflow.
    let (of, odds) = (of as f64, (chance / (1.0 - chance)).ln());
    let mut term = of * (-chance).ln_1p();
    let mut sum = term.exp();
    for k in 1..=seen {
        let k = k as f64;
        term += odds + ((of - k + 1.0) / k).ln();
        sum += term.exp();
    }
    sum
}
