//! The run as a strip of bins for a chart: as many for a year as for a week.

/// Most bins.
pub const MOST: usize = 1_400;

const MINUTE_MS: u64 = 60_000;
const DAY_MS: u64 = 1_440 * MINUTE_MS;

/// Extremes and mean of one quantity in one bin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// Smallest.
    pub min: f64,
    /// Largest.
    pub max: f64,
    sum: f64,
    weight: f64,
}

impl Span {
    const EMPTY: Self = Self { min: f64::INFINITY, max: f64::NEG_INFINITY, sum: 0.0, weight: 0.0 };

    fn add(&mut self, value: f64, weight: f64) {
        // Nothing here is not a number, and a comparison is cheaper than asking for that.
        self.min = if value < self.min { value } else { self.min };
        self.max = if value > self.max { value } else { self.max };
        self.sum += value * weight;
        self.weight += weight;
    }

    /// Whether anything fell into it.
    pub fn is_empty(&self) -> bool {
        self.weight <= 0.0
    }

    /// Mean.
    pub fn mean(&self) -> f64 {
        self.sum / self.weight
    }
}

/// One bin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bin {
    /// True moisture of the probed soil, percent.
    pub truth: Span,
    /// Plausible reading, percent.
    pub reading: Span,
    /// Reference evapotranspiration, mm/h.
    pub eto: Span,
    /// Air temperature, °C.
    pub air: Span,
    /// Tank, litres.
    pub tank: Span,
    /// Saucer, litres.
    pub saucer: Span,
    /// Stress coefficient of the probed plants.
    pub ks: Span,
    /// Rain, mm.
    pub rain_mm: f64,
    /// Water that went over the edge of any pot or to the floor, litres.
    pub spilled_l: f64,
    /// Whether an alarm, a lock-out or a verdict on a probe stood in any step; `None` without one.
    pub told: Option<bool>,
}

impl Bin {
    const EMPTY: Self = Self {
        truth: Span::EMPTY,
        reading: Span::EMPTY,
        eto: Span::EMPTY,
        air: Span::EMPTY,
        tank: Span::EMPTY,
        saucer: Span::EMPTY,
        ks: Span::EMPTY,
        rain_mm: 0.0,
        spilled_l: 0.0,
        told: None,
    };
}

/// The bins of a run.
#[derive(Clone, Debug)]
pub struct Strips {
    bin_ms: u64,
    bins: Vec<Bin>,
    /// Up to here it is written down already that the device called for nobody.
    quiet_until_ms: u64,
}

impl Strips {
    /// Bins for a run of this length: ten minutes each, or longer if there would be too many. Each day
    /// is made of whole bins, or each bin of whole days.
    pub fn new(duration_ms: u64) -> Self {
        let least_ms = duration_ms.div_ceil(MOST as u64).max(10 * MINUTE_MS);
        let minutes = least_ms.div_ceil(MINUTE_MS)..1_440;
        let mut of_a_day = minutes.map(|minutes| minutes * MINUTE_MS);
        let bin_ms = of_a_day
            .find(|bin_ms| DAY_MS.is_multiple_of(*bin_ms))
            .unwrap_or_else(|| least_ms.next_multiple_of(DAY_MS));
        let count = duration_ms.div_ceil(bin_ms).max(1) as usize;
        Self { bin_ms, bins: vec![Bin::EMPTY; count], quiet_until_ms: 0 }
    }

    /// Length of a bin, ms.
    pub fn bin_ms(&self) -> u64 {
        self.bin_ms
    }

    /// The bins in order.
    pub fn bins(&self) -> &[Bin] {
        &self.bins
    }

    fn bin(&mut self, t_ms: u64) -> &mut Bin {
        let index = ((t_ms.saturating_sub(1)) / self.bin_ms) as usize;
        let last = self.bins.len() - 1;
        &mut self.bins[index.min(last)]
    }

    /// Adds a committed stretch of the probed pot.
    pub fn world(&mut self, stretch: &crate::world::Stretch) {
        let weight = stretch.dt_s;
        let bin = self.bin(stretch.t_ms);
        bin.truth.add(100.0 * stretch.theta, weight);
        bin.eto.add(stretch.eto_mm_h, weight);
        bin.air.add(stretch.air_c, weight);
        bin.tank.add(stretch.tank_l, weight);
        bin.saucer.add(stretch.saucer_l, weight);
        bin.ks.add(stretch.ks, weight);
        bin.rain_mm += stretch.rain_mm_h * weight / 3600.0;
    }

    /// Adds what a committed stretch of any pot spilled.
    pub fn spilled(&mut self, t_ms: u64, litres: f64) {
        self.bin(t_ms).spilled_l += litres;
    }

    /// Adds a step in which the device called for somebody, or did not.
    pub fn told(&mut self, t_ms: u64, telling: bool) {
        if !telling && t_ms < self.quiet_until_ms {
            return;
        }
        // A step belongs to the stretch that begins with it.
        let told = &mut self.bin(t_ms + 1).told;
        *told = Some(telling || *told == Some(true));
        self.quiet_until_ms = (t_ms / self.bin_ms + 1) * self.bin_ms;
    }

    /// Adds a plausible reading.
    pub fn reading(&mut self, t_ms: u64, percent: f64) {
        self.bin(t_ms).reading.add(percent, 1.0);
    }
}
