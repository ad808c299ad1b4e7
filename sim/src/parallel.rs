//! Many runs on all cores, their results in order, in the same memory however many there are.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::mpsc::channel;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::error::InputError;

/// Results for each thread that may wait for their turn.
pub const WAITING: u64 = 32;

/// Threads to run on.
#[derive(Debug)]
pub struct Threads(rayon::ThreadPool);

/// What the threads agree on.
struct Counter {
    /// The next number to be begun.
    next: u64,
    /// Numbers below this one may be begun.
    open_to: u64,
    end: u64,
}

/// The numbers that are handed out.
struct Numbers {
    counter: Mutex<Counter>,
    changed: Condvar,
}

impl Numbers {
    fn counter(&self) -> MutexGuard<'_, Counter> {
        // Nothing that could panic is done while it is held.
        self.counter.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The next number, once there is room for its result; `None` when there are no more.
    fn next(&self) -> Option<u64> {
        let mut counter = self.counter();
        while counter.next < counter.end && counter.next >= counter.open_to {
            counter = self.changed.wait(counter).unwrap_or_else(PoisonError::into_inner);
        }
        let number = counter.next;
        (number < counter.end).then(|| {
            counter.next += 1;
            number
        })
    }

    fn open_to(&self, number: u64) {
        self.counter().open_to = number;
        self.changed.notify_all();
    }

    fn stop(&self) {
        self.counter().end = 0;
        self.changed.notify_all();
    }
}

/// Stops the others when the thread that holds it panics: the result they wait for never comes.
struct StopOnPanic<'a>(&'a Numbers);

impl Drop for StopOnPanic<'_> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            self.0.stop();
        }
    }
}

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
    /// what it gives to `take` in the order of the numbers, each as soon as it is its turn. The same
    /// results in the same order for any number of threads.
    ///
    /// # Errors
    /// The first error of `take`, which ends it.
    pub fn in_order<T: Send, E>(
        &self,
        range: Range<u64>,
        work: impl Fn(u64) -> T + Sync,
        mut take: impl FnMut(u64, T) -> Result<(), E>,
    ) -> Result<(), E> {
        let threads = self.0.current_num_threads();
        let window = WAITING * threads as u64;
        let mut turn = range.start;
        let counter = Counter { next: turn, open_to: turn + window, end: range.end };
        let numbers = &Numbers { counter: Mutex::new(counter), changed: Condvar::new() };
        let work = &work;
        self.0.in_place_scope(|scope| {
            let (results, received) = channel();
            for _ in 0..threads {
                let results = results.clone();
                scope.spawn(move |_| {
                    let _guard = StopOnPanic(numbers);
                    while let Some(number) = numbers.next() {
                        // Nobody receives any more only after an error.
                        let _ = results.send((number, work(number)));
                    }
                });
            }
            drop(results);
            let _guard = StopOnPanic(numbers);
            let mut waiting = BTreeMap::new();
            for (number, result) in received {
                waiting.insert(number, result);
                while let Some(result) = waiting.remove(&turn) {
                    if let Err(error) = take(turn, result) {
                        numbers.stop();
                        return Err(error);
                    }
                    turn += 1;
                }
                numbers.open_to(turn + window);
            }
            Ok(())
        })
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
