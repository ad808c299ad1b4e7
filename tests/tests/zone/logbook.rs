//! The record of edges.

use drydown::logbook::{Entry, Logbook};
use drydown::zone::{Event, Order, Origin};
use drydown_tests::configs::trough;

use super::garden::{Garden, HOUR, SECOND};

#[test]
fn one_line_takes_at_most_twelve_bytes() {
    let bytes = size_of::<Entry>();
    println!("a line of the logbook takes {bytes} bytes");
    assert!(bytes <= 12, "{bytes}");
}

/// Notes a morning of orders, and what really happened.
fn morning<const N: usize>() -> (Logbook<N>, Vec<(u64, Event)>) {
    let mut garden = Garden::with_soil(trough(), 3_000);
    garden.forget();
    let mut book = Logbook::<N>::new();
    for round in 0..6 {
        let order = if round % 2 == 0 { Order::Off } else { Order::Automatic };
        garden.order(order, Origin::Local);
        let now = garden.now();
        book.note(now, garden.outcome.as_ref().expect("a step"));
        garden.run(HOUR / 2 + SECOND);
    }
    let modes = garden.log.into_iter().filter(|(_, event)| matches!(event, Event::Mode(_)));
    (book, modes.collect())
}

#[test]
fn lines_stand_in_the_order_of_events_with_their_second() {
    let (book, happened) = morning::<16>();
    let lines: Vec<_> = book.lines().map(|line| (line.at_s, line.event)).collect();
    let expected: Vec<_> =
        happened.iter().map(|&(at, event)| ((at / 1_000) as u32, event)).collect();
    assert_eq!(lines, expected);
    assert_eq!(lines.len(), 6);
    assert_eq!(book.dropped(), 0);
}

#[test]
fn the_oldest_make_room_and_are_counted() {
    let (book, happened) = morning::<4>();
    let lines: Vec<_> = book.lines().map(|line| (line.at_s, line.event)).collect();
    let newest: Vec<_> =
        happened[2..].iter().map(|&(at, event)| ((at / 1_000) as u32, event)).collect();
    assert_eq!(lines, newest);
    assert_eq!(book.dropped(), 2);
}
