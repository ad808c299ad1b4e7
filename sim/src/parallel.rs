//! Many runs on all cores, their results in order, in the same memory however many there are.

use std::ops::Range;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rayon::prelude::*;

use crate::error::InputError;

/// Jobs handed out at once for each thread: what waits for its turn is held in memory, and the last
/// of them keeps the others waiting.
const EACH: u64 = 32;

/// Threads to run on.
#[derive(Debug)]
pub struct Threads(rayon::ThreadPool);

impl Threads {
    /// So many threads, or one for each core.
    ///
    /// # Errors
    /// None, more than 1,024, or as many as the machine will not start.
    pub fn new(wanted: Option<usize>) -> Result<Self, InputError> {
        let bad = |message: String| {
            let error = InputError::new(message).field("--threads");
            wanted.map_or(error.clone(), |wanted| error.value(wanted))
        };
        if wanted.is_some_and(|wanted| !(1..=1_024).contains(&wanted)) {
            return Err(bad("must be from 1 to 1024".to_owned()));
        }
        rayon::ThreadPoolBuilder::new()
            .num_threads(wanted.unwrap_or(0))
            .build()
            .map(Self)
            .map_err(|cause| bad(format!("cannot be started: {cause}")))
    }

    /// Does `work` for each number of the range, as many at once as there are threads, and hands
    /// what it gives to `take` in the order of the numbers. The same results in the same order for
    /// any number of threads.
    ///
    /// # Errors
    /// The first error of `take`, which ends it.
    pub fn in_order<T: Send, E>(
        &self,
        range: Range<u64>,
        work: impl Fn(u64) -> T + Sync,
        mut take: impl FnMut(u64, T) -> Result<(), E>,
    ) -> Result<(), E> {
        let window = EACH * self.0.current_num_threads() as u64;
        let mut from = range.start;
        while from < range.end {
            let to = range.end.min(from + window);
            let jobs = (0..(to - from) as usize).into_par_iter().with_max_len(1);
            let done: Vec<T> = self.0.install(|| jobs.map(|job| work(from + job as u64)).collect());
            for (number, result) in (from..to).zip(done) {
                take(number, result)?;
            }
            from = to;
        }
        Ok(())
    }
}

/// How far it has come and how long it will still take, on standard error if that is a terminal;
/// `done` of `total` were done before.
pub fn progress(done: u64, total: u64) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(total), ProgressDrawTarget::stderr());
    // The template is fixed and has no mistake.
    if let Ok(style) = ProgressStyle::with_template("{bar:30} {pos} of {len} runs, {eta} left") {
        bar.set_style(style);
    }
    bar.set_position(done);
    bar.reset_eta();
    bar
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_come_in_order_and_an_error_ends_it() {
        for threads in [1, 2, 5] {
            let threads = Threads::new(Some(threads)).expect("they start");
            let mut seen = vec![];
            let result = threads.in_order(
                3..1_000,
                |number| number * number,
                |number, square| {
                    seen.push(square);
                    if number == 700 { Err("enough") } else { Ok(()) }
                },
            );
            assert_eq!(result, Err("enough"));
            assert_eq!(seen, (3..=700).map(|number| number * number).collect::<Vec<u64>>());
        }
        assert!(Threads::new(Some(0)).is_err());
    }
}
