//! A loss that runs at its full rate down to a threshold and then falls in proportion to what is
//! left: both the stress coefficient Ks (FAO-56 Eq. 84) and the reduction Kr (Eq. 74) have this
//! shape, and both integrate exactly.

/// d(depletion)/dt = rate · min(1, (limit − depletion)/(limit − threshold)).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct FallingRate {
    /// Depletion up to which the rate is full.
    pub threshold: f64,
    /// Depletion at which it ends; above the threshold.
    pub limit: f64,
}

impl FallingRate {
    /// What is lost within `hours` at full rate `rate` from `depletion`; never past the limit.
    pub(super) fn lost(&self, depletion: f64, rate: f64, hours: f64) -> f64 {
        if rate <= 0.0 || depletion >= self.limit {
            return 0.0;
        }
        let to_threshold = (self.threshold - depletion).max(0.0);
        if rate * hours <= to_threshold {
            return rate * hours;
        }
        let rest = hours - to_threshold / rate;
        let left = self.limit - depletion - to_threshold;
        // `exp_m1` keeps the digits of a millisecond.
        to_threshold - left * (-rate * rest / (self.limit - self.threshold)).exp_m1()
    }
}
