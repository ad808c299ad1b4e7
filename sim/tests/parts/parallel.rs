//! Work on several threads: in order, in bounded memory, to an end.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread;
use std::time::Duration;

use drydown_sim::parallel::{Threads, WAITING};

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

#[test]
fn a_slow_one_keeps_no_more_waiting_than_the_window_holds() {
    let (begun, threads) = (AtomicU64::new(0), Threads::new(Some(3)).expect("they start"));
    let mut taken = 0;
    let work = |number: u64| {
        if number == 5 {
            thread::sleep(Duration::from_millis(50));
        }
        begun.fetch_max(number, Ordering::SeqCst);
        number
    };
    let result = threads.in_order(0..5_000, work, |number, _| {
        assert!(begun.load(Ordering::SeqCst) <= number + 3 * WAITING + 3);
        taken += 1;
        Ok::<(), ()>(())
    });
    assert_eq!((result, taken), (Ok(()), 5_000));
}

#[test]
fn a_panic_ends_it_instead_of_waiting_for_ever() {
    let threads = Threads::new(Some(2)).expect("they start");
    let fails = || {
        threads.in_order(
            0..1_000,
            |number| assert!(number != 70, "as the test wants it"),
            |_, ()| Ok::<(), ()>(()),
        )
    };
    let caught = catch_unwind(AssertUnwindSafe(fails));
    assert!(caught.is_err());
}
