//! What a sweep tries: its axes, its weathers and its probes, and the order of it all.

use serde::{Deserialize, Serialize};

use crate::error::InputError;
use crate::scenario::vary::{self, Base};

/// One number of the scenario that is varied.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
pub struct Axis {
    /// Its dotted path.
    pub path: String,
    /// Smallest value.
    pub from: f64,
    /// Largest value.
    pub to: f64,
    /// The values of a grid, rising.
    pub values: Vec<f64>,
    /// Whether it is a whole number.
    pub whole: bool,
}

/// What is tried.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
pub struct Plan {
    /// So many settings spread evenly over the ranges; without it the grid of all values.
    pub sample: Option<u64>,
    /// Seeds of the weather.
    pub seeds: Vec<u64>,
    /// Numbers of the probe's unit.
    pub units: Vec<u64>,
    /// What is varied.
    #[serde(rename = "vary")]
    pub axes: Vec<Axis>,
}

/// Most settings.
pub const MOST_SETTINGS: u64 = 10_000_000;
/// Most weathers or probes.
pub const MOST_EACH: u64 = 100_000;

impl Axis {
    /// Reads `PATH=FROM..TO`, `PATH=FROM..TO:VALUES` or `PATH=A,B,C`; `count` values where it does
    /// not say how many.
    ///
    /// # Errors
    /// What does not read so, a path that is no number of a scenario, a value out of its bounds.
    pub fn parse(base: &Base, text: &str, count: u32) -> Result<Self, InputError> {
        let bad = |message: &str| InputError::new(message).field("--vary").value(text);
        let shape = || bad("must read PATH=FROM..TO, PATH=FROM..TO:VALUES or PATH=A,B,C");
        let number = |text: &str| text.trim().parse::<f64>().map_err(|_| shape());
        let (path, values) = text.split_once('=').ok_or_else(shape)?;
        let path = path.trim();
        match path {
            "seed" => return Err(bad("is the weather's number: use --seeds")),
            "probe.unit" => return Err(bad("is the probe's number: use --units")),
            _ => {}
        }
        if let Some((from, rest)) = values.split_once("..") {
            let (to, count) = match rest.split_once(':') {
                Some((to, count)) => (to, count.trim().parse().map_err(|_| shape())?),
                None => (rest, count),
            };
            return Self::range(base, path, number(from)?, number(to)?, count);
        }
        let values = values.split(',').map(number).collect::<Result<Vec<_>, _>>()?;
        Self::of(base, path, values)
    }

    /// So many values, evenly from the smallest to the largest.
    ///
    /// # Errors
    /// A path that is no number of a scenario, a value out of its bounds, ends in the wrong order,
    /// no values or more than 10,000.
    pub fn range(
        base: &Base,
        path: &str,
        from: f64,
        to: f64,
        count: u32,
    ) -> Result<Self, InputError> {
        let bad = |message: String| InputError::new(message).field("--vary");
        if !(1..=10_000).contains(&count) {
            return Err(bad(format!("must have from 1 to 10000 values for {path}")).value(count));
        }
        if from > to {
            return Err(bad(format!("must not begin above its end, {to}, for {path}")).value(from));
        }
        let ends = Self::of(base, path, vec![from, to])?;
        let last = f64::from(count.max(2) - 1);
        let values = (0..count).map(|step| ends.at(f64::from(step) / last));
        let mut values: Vec<f64> = values.collect();
        values.dedup();
        Ok(Self { values, ..ends })
    }

    fn of(base: &Base, path: &str, mut values: Vec<f64>) -> Result<Self, InputError> {
        let (source, scenario) = (base.source(), &base.setup().scenario);
        for &value in &values {
            vary::set(source, scenario, &[(path, value)])?;
        }
        values.sort_by(f64::total_cmp);
        values.dedup();
        let (Some(&from), Some(&to)) = (values.first(), values.last()) else {
            return Err(InputError::new("must have a value").field("--vary").value(path));
        };
        let whole = vary::is_whole(path);
        Ok(Self { path: path.to_owned(), from, to, values, whole })
    }

    /// The value at a share of the range, with no more digits than a thousandth of it needs.
    fn at(&self, share: f64) -> f64 {
        let span = self.to - self.from;
        let value = self.from + share * span;
        if share <= 0.0 || span <= 0.0 {
            return self.from;
        }
        if share >= 1.0 {
            return self.to;
        }
        let digits = if self.whole { 0 } else { -((span / 1e3).log10().floor() as i32) };
        let scale = 10_f64.powi(digits.abs());
        let rounded = if digits < 0 {
            (value / scale).round() * scale
        } else {
            (value * scale).round() / scale
        };
        rounded.clamp(self.from, self.to)
    }

    /// Its range as the option says it: `FROM..TO:VALUES`.
    pub fn range_words(&self) -> String {
        match self.values.len() {
            1 => self.from.to_string(),
            count => format!("{}..{}:{count}", self.from, self.to),
        }
    }

    /// Its values as the option says them: `A,B,C`.
    pub fn list_words(&self) -> String {
        self.values.iter().map(f64::to_string).collect::<Vec<_>>().join(",")
    }

    /// How far two values lie apart, as a share of the range.
    pub fn apart(&self, a: f64, b: f64) -> f64 {
        if self.to > self.from { (a - b).abs() / (self.to - self.from) } else { 0.0 }
    }
}

impl Plan {
    /// A plan that can be carried out.
    ///
    /// # Errors
    /// No axis, one twice, too many settings, samples over listed values.
    pub fn checked(self) -> Result<Self, InputError> {
        let bad = |field: &str, message: &str| InputError::new(message).field(field);
        for (index, axis) in self.axes.iter().enumerate() {
            if self.axes[..index].iter().any(|other| other.path == axis.path) {
                return Err(bad("--vary", "stands there twice").value(&axis.path));
            }
        }
        if self.axes.is_empty() {
            return Err(bad("--vary", "must name at least one number of the scenario"));
        }
        let settings = match self.sample {
            Some(sample) => Some(sample),
            None => self
                .axes
                .iter()
                .try_fold(1_u64, |all, axis| all.checked_mul(axis.values.len() as u64)),
        };
        match settings {
            Some(1..=MOST_SETTINGS) => Ok(self),
            Some(count) => {
                let field = if self.sample.is_some() { "--sample" } else { "--vary" };
                let message = format!("must make from 1 to {MOST_SETTINGS} settings");
                Err(bad(field, &message).value(count))
            }
            None => Err(bad("--vary", &format!("must make at most {MOST_SETTINGS} settings"))),
        }
    }

    /// Settings in all.
    pub fn settings(&self) -> u64 {
        let grid = || self.axes.iter().map(|axis| axis.values.len() as u64).product();
        self.sample.unwrap_or_else(grid)
    }

    /// Runs of each setting.
    pub fn runs_each(&self) -> u64 {
        (self.seeds.len() * self.units.len()) as u64
    }

    /// The values of a setting, one for each axis.
    pub fn values(&self, setting: u64) -> Vec<f64> {
        if self.sample.is_some() {
            return self.spread(setting);
        }
        let places = self.places(self.grid_index(setting));
        self.axes.iter().zip(places).map(|(axis, place)| axis.values[place]).collect()
    }

    /// The setting's point of the additive recurrence `R_d`: multiples of the powers of the inverse of
    /// the one root above 1 of x^(d+1) = x + 1, modulo 1, from one half (M. Roberts 2018, "The
    /// unreasonable effectiveness of quasirandom sequences"). Any number of its points covers the
    /// ranges evenly, and so do the first few of many.
    fn spread(&self, setting: u64) -> Vec<f64> {
        let power = 1.0 / (self.axes.len() as f64 + 1.0);
        // The iteration of Roberts converges by a factor of at least 3 a turn.
        let root = (0..60).fold(2.0_f64, |root, _| (1.0 + root).powf(power));
        let mut step = 1.0;
        let point = |axis: &Axis| {
            step /= root;
            axis.at((0.5 + step * (setting + 1) as f64).fract())
        };
        self.axes.iter().map(point).collect()
    }

    /// Where a setting of a grid stands in it. They are done in leaps of about the golden section of
    /// their number, so that the first few already reach over all of the grid.
    pub fn grid_index(&self, setting: u64) -> u64 {
        let count = self.settings();
        let leap = leap(count);
        (u128::from(setting) * u128::from(leap) % u128::from(count)) as u64
    }

    /// The places on the axes of a grid index; the last axis counts fastest.
    pub fn places(&self, grid_index: u64) -> Vec<usize> {
        let mut rest = grid_index;
        let mut places = vec![0; self.axes.len()];
        for (place, axis) in places.iter_mut().zip(&self.axes).rev() {
            let count = axis.values.len() as u64;
            *place = (rest % count) as usize;
            rest /= count;
        }
        places
    }

    /// The setting, seed and unit of a case.
    pub fn case(&self, number: u64) -> (u64, usize, usize) {
        let within = (number % self.runs_each()) as usize;
        (number / self.runs_each(), within / self.units.len(), within % self.units.len())
    }

    /// The settings of part `part` of `parts`, counted from 1.
    pub fn part(&self, part: u64, parts: u64) -> std::ops::Range<u64> {
        let until = |part: u64| self.settings() * part / parts;
        until(part - 1)..until(part)
    }
}

/// The number nearest below the golden section of `count` that has no divisor in common with it.
fn leap(count: u64) -> u64 {
    let golden = (count as f64 * 0.618_033_988_749_894_9) as u64;
    (1..=golden.max(1)).rev().find(|&leap| shares_none(leap, count)).unwrap_or(1)
}

fn shares_none(mut a: u64, mut b: u64) -> bool {
    while b > 0 {
        (a, b) = (b, a % b);
    }
    a == 1
}
