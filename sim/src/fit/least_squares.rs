//! Least squares with intervals: the steps are a kept crate's, the slopes are taken by differences.

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::storage::Owned;
use nalgebra::{DMatrix, DVector, Dyn};

use crate::calibrate::choice::student_t;

/// Something with numbers to find: what each setting of them misses the record by.
pub trait Missing {
    /// Fitted minus recorded, for these numbers; `None` where they cannot be.
    fn misses(&self, at: &[f64]) -> Option<Vec<f64>>;

    /// How far each number is moved to see what it does.
    fn steps(&self) -> Vec<f64>;
}

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// The numbers.
    pub at: Vec<f64>,
    /// Half of the 95 % interval of each.
    pub plus_minus: Vec<f64>,
    /// How alike two of them act on the record, −1 to 1, row by row.
    pub correlation: Vec<Vec<f64>>,
    /// Root mean square of how much each moves the record, by one unit of the number.
    pub effect: Vec<f64>,
    /// Root mean square of what is missed.
    pub rms: f64,
    /// Fitted minus recorded.
    pub misses: Vec<f64>,
}

struct Problem<'a, M> {
    of: &'a M,
    at: DVector<f64>,
}

impl<M: Missing> Problem<'_, M> {
    fn slopes(&self) -> Option<DMatrix<f64>> {
        let here = self.of.misses(self.at.as_slice())?;
        let steps = self.of.steps();
        let mut columns = vec![];
        for (index, step) in steps.iter().enumerate() {
            let moved = |by: f64| {
                let mut at = self.at.clone();
                at[index] += by;
                self.of.misses(at.as_slice())
            };
            let column = match (moved(*step), moved(-step)) {
                (Some(up), Some(down)) => {
                    up.iter().zip(&down).map(|(up, down)| (up - down) / (2.0 * step)).collect()
                }
                (Some(up), None) => {
                    up.iter().zip(&here).map(|(up, here)| (up - here) / step).collect()
                }
                (None, Some(down)) => {
                    here.iter().zip(&down).map(|(here, down)| (here - down) / step).collect()
                }
                (None, None) => return None,
            };
            columns.push(DVector::from_vec(column));
        }
        Some(DMatrix::from_columns(&columns))
    }
}

impl<M: Missing> LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_, M> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, at: &DVector<f64>) {
        self.at.copy_from(at);
    }

    fn params(&self) -> DVector<f64> {
        self.at.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        self.of.misses(self.at.as_slice()).map(DVector::from_vec)
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        self.slopes()
    }
}

/// Changes of the numbers or of the sum of squares smaller than this end the search.
const TOLERANCE: f64 = 1e-9;
/// Evaluations of the misses at most, for each number and one more.
const PATIENCE: usize = 40;
/// A number that moves the record by less than this share of the largest effect leaves no trace.
const NO_TRACE: f64 = 1e-9;

/// Finds the numbers with the least squares; `None` where there is no way to them.
pub fn find(of: &impl Missing, begin: &[f64]) -> Option<Found> {
    let problem = Problem { of, at: DVector::from_column_slice(begin) };
    let search = LevenbergMarquardt::new().with_tol(TOLERANCE).with_patience(PATIENCE);
    let (problem, report) = search.minimize(problem);
    // Out of patience is still the best of what was tried; its interval tells how good that is.
    if report.termination.was_usage_issue() || !report.objective_function.is_finite() {
        return None;
    }
    let misses = of.misses(problem.at.as_slice())?;
    let slopes = problem.slopes()?;
    let (n, p) = (misses.len() as f64, begin.len());
    let free = n - p as f64;
    if free < 1.0 {
        return None;
    }
    let squares: f64 = misses.iter().map(|miss| miss * miss).sum();
    let effect: Vec<f64> =
        (0..p).map(|column| (slopes.column(column).norm_squared() / n).sqrt()).collect();
    let most = effect.iter().fold(0.0_f64, |most, one| most.max(*one));
    if effect.iter().any(|one| *one <= NO_TRACE * most) {
        let unknown = vec![f64::INFINITY; p];
        let correlation = vec![vec![0.0; p]; p];
        return Some(Found {
            at: problem.at.as_slice().to_vec(),
            plus_minus: unknown,
            correlation,
            effect,
            rms: (squares / n).sqrt(),
            misses,
        });
    }
    let inverse = (slopes.transpose() * &slopes).try_inverse()?;
    // Neighbouring misses that are alike carry less than as many readings: the first-order form of the
    // effective sample size, n·(1 − ρ)/(1 + ρ).
    let alike = neighbours_alike(&misses).max(0.0);
    let variance = squares / free * (1.0 + alike) / (1.0 - alike).max(1e-6);
    let effective = (n * (1.0 - alike) / (1.0 + alike) - p as f64).max(1.0);
    let t = student_t(effective)?;
    let plus_minus = (0..p).map(|i| t * (variance * inverse[(i, i)]).sqrt()).collect();
    let correlation = (0..p)
        .map(|i| {
            (0..p).map(|j| inverse[(i, j)] / (inverse[(i, i)] * inverse[(j, j)]).sqrt()).collect()
        })
        .collect();
    Some(Found {
        at: problem.at.as_slice().to_vec(),
        plus_minus,
        correlation,
        effect,
        rms: (squares / n).sqrt(),
        misses,
    })
}

/// Correlation of each miss with the next.
fn neighbours_alike(misses: &[f64]) -> f64 {
    let squares: f64 = misses.iter().map(|miss| miss * miss).sum();
    let pairs: f64 = misses.windows(2).map(|pair| pair[0] * pair[1]).sum();
    if squares > 0.0 { (pairs / squares).min(0.999) } else { 0.0 }
}
