//! Drainage below the root zone, by closed forms that hold over any interval.

/// Free drainage under unit gradient, L·dθ/dt = −Ks·(θ/θs)^m (Black, Gardner & Thurtell 1969,
/// SSSAJ 33:655–660, with the conductivity of Campbell 1974), prepared for one layer.
///
/// "Field capacity" is a time in this law, not a number: 300 mm of loam hold 0.347 after one day
/// and still 0.290, above their 33 kPa value of 0.280, after ten.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UnitGradient {
    full_mm: f64,
    m_minus_1: f64,
    /// (m−1)·Ks/(L·θs), 1/h.
    rate_per_h: f64,
}

impl UnitGradient {
    /// A layer of `depth_mm` with saturated water content `theta_s`, conductivity `ks_mm_h` and
    /// exponent `m` > 1.
    pub fn new(depth_mm: f64, theta_s: f64, ks_mm_h: f64, m: f64) -> Self {
        let full_mm = depth_mm * theta_s;
        Self { full_mm, m_minus_1: m - 1.0, rate_per_h: (m - 1.0) * ks_mm_h / full_mm }
    }

    /// What leaves a layer holding `stored_mm` within `hours`, mm; never more than it holds.
    pub fn drained_mm(&self, stored_mm: f64, hours: f64) -> f64 {
        if stored_mm <= 0.0 {
            return 0.0;
        }
        // θ(t) = θ0·(1 + y)^(−1/(m−1)), y = (m−1)·Ks·t/(L·θs)·(θ0/θs)^(m−1): the published form
        // with θ0 taken out, so that a short interval keeps its digits.
        let y = self.rate_per_h * hours * (stored_mm / self.full_mm).powf(self.m_minus_1);
        let a = 1.0 / self.m_minus_1;
        if y < 1e-4 {
            // Nearly every call: three terms of the binomial series leave an error below y³.
            let series = 1.0 - 0.5 * (1.0 + a) * y * (1.0 - (2.0 + a) / 3.0 * y);
            return stored_mm * a * y * series;
        }
        -stored_mm * (-a * y.ln_1p()).exp_m1()
    }
}

/// Linear recession towards field capacity, q = (W − Wfc)/τ: the linearisation of an exponential
/// drainage law about field capacity. τ comes from a record, not from a table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LinearRecession {
    /// Time constant, h.
    pub tau_h: f64,
}

impl LinearRecession {
    /// What leaves of `above_mm` above field capacity within `hours`, mm.
    pub fn drained_mm(&self, above_mm: f64, hours: f64) -> f64 {
        -above_mm.max(0.0) * (-hours / self.tau_h).exp_m1()
    }
}
