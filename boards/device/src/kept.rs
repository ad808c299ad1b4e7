//! What is kept beside the record: rows, days, and the curve that was taken with the buttons.

use drydown::calibration::Curve;
use drydown::logbook::{Day, Row, Scribe};
use drydown::persist::Flash;
use drydown::wire::{Page, Paged};
use heapless::Deque;

use crate::board::Board;
use crate::calibrated;
use crate::store::{Queue, Region};

/// Bytes of the longest page.
const MOST_OF_PAGE: usize = 256;
/// Rows that wait while a valve is open or nothing may be written.
const WAITING: usize = 8;

/// The regions of flash of a device.
pub struct Regions<B: Board> {
    /// Records.
    pub records: B::Records,
    /// Rows.
    pub rows: Region<B::Rows>,
    /// Days.
    pub days: Region<B::Days>,
    /// Curve.
    pub curve: Region<B::Curve>,
}

/// The log in flash.
pub(crate) struct Kept<R: Flash, D: Flash, C: Flash> {
    rows: Queue<R>,
    days: Queue<D>,
    curve: Queue<C>,
    waiting: Deque<(Row, Option<Day>), WAITING>,
    end_of_rows: u32,
    end_of_days: u32,
}

fn whole<T: Paged>(item: &[u8]) -> Option<T> {
    T::from_page(item.get(..T::LENGTH)?)
}

impl<R: Flash, D: Flash, C: Flash> Kept<R, D, C> {
    pub fn new(rows: Region<R>, days: Region<D>, curve: Region<C>) -> Self {
        Self {
            rows: Queue::new(rows),
            days: Queue::new(days),
            curve: Queue::new(curve),
            waiting: Deque::new(),
            end_of_rows: 0,
            end_of_days: 0,
        }
    }

    /// After a boot: its number, and who writes on from what is found.
    pub fn scribe(&mut self) -> (u16, Scribe) {
        let (mut newest_day, mut last_row) = (None::<Day>, None::<Row>);
        self.days.each(|item| {
            newest_day = whole(item).or(newest_day);
            true
        });
        self.rows.each(|item| {
            last_row = whole(item).or(last_row);
            true
        });
        self.end_of_rows = last_row.map_or(0, |row| row.number.saturating_add(1));
        self.end_of_days = newest_day.map_or(0, |day| day.number.saturating_add(1));
        let boot = last_row.map_or(0, |row| row.boot.wrapping_add(1));
        let mut scribe = Scribe::new(boot, self.end_of_rows, self.end_of_days);
        let in_days = newest_day.map(|day| day.last_row);
        self.rows.each(|item| {
            if let Some(row) = whole::<Row>(item)
                && in_days.is_none_or(|last| row.number > last)
            {
                scribe.resume(&row);
            }
            true
        });
        (boot, scribe)
    }

    /// After a sleep: the numbers are known.
    pub const fn go_on(&mut self, ends: (u32, u32)) {
        (self.end_of_rows, self.end_of_days) = ends;
    }

    pub const fn ends(&self) -> (u32, u32) {
        (self.end_of_rows, self.end_of_days)
    }

    /// Takes a row to be written when it may be. The oldest that waits is given up for it.
    pub fn take(&mut self, row: Row, day: Option<Day>) {
        if self.waiting.is_full() {
            self.waiting.pop_front();
        }
        // There is room now.
        let _ = self.waiting.push_back((row, day));
    }

    pub fn has_waiting(&self) -> bool {
        !self.waiting.is_empty()
    }

    /// Writes one row that waits. Only while everything is closed.
    pub fn write_one(&mut self) {
        let Some((row, day)) = self.waiting.pop_front() else { return };
        self.rows.push(&row.to_bytes());
        self.end_of_rows = row.number.saturating_add(1);
        if let Some(day) = day {
            self.days.push(&day.to_bytes());
            self.end_of_days = day.number.saturating_add(1);
        }
    }

    /// Rows from a number on, as many as a page holds, in the bytes that are handed in.
    pub fn rows_from<'b>(&mut self, from: u32, into: &'b mut [u8; MOST_OF_PAGE]) -> Page<'b, Row> {
        page(&mut self.rows, from, self.end_of_rows, |row: &Row| row.number, into)
    }

    /// Days from a number on, likewise.
    pub fn days_from<'b>(&mut self, from: u32, into: &'b mut [u8; MOST_OF_PAGE]) -> Page<'b, Day> {
        page(&mut self.days, from, self.end_of_days, |day: &Day| day.number, into)
    }

    /// Keeps a curve; `false` if the flash refused.
    pub fn put_curve(&mut self, curve: &Curve) -> bool {
        self.curve.push(&calibrated::to_bytes(curve))
    }

    /// The newest curve that is kept.
    pub fn curve(&mut self) -> Option<Curve> {
        let mut newest = None;
        self.curve.each(|item| {
            newest = calibrated::from_bytes(item).or(newest);
            true
        });
        newest
    }
}

fn page<'b, T: Paged, F: Flash>(
    queue: &mut Queue<F>,
    from: u32,
    end: u32,
    number: impl Fn(&T) -> u32,
    into: &'b mut [u8; MOST_OF_PAGE],
) -> Page<'b, T> {
    let (mut first, mut length) = (None, 0);
    queue.each(|item| {
        let Some(bytes) = item.get(..T::LENGTH) else { return true };
        let Some(found) = T::from_page(bytes).map(|one| number(&one)).filter(|&n| n >= from) else {
            return true;
        };
        // A page is without gaps: where one was lost the next page begins.
        let next = first.map_or(found, |first: u32| first + (length / T::LENGTH) as u32);
        let Some(place) = into.get_mut(length..length + T::LENGTH).filter(|_| found == next) else {
            return false;
        };
        place.copy_from_slice(bytes);
        first = first.or(Some(found));
        length += T::LENGTH;
        length / T::LENGTH < Page::<T>::MOST
    });
    Page::new(first.unwrap_or(end), end, &into[..length])
}

#[cfg(test)]
mod tests {
    use core::convert::Infallible;
    use std::vec;
    use std::vec::Vec;

    use drydown::calibration::{Basis, CurvePoint};
    use drydown::quantity::{Moisture, RawCounts};

    use super::*;

    struct Ram(Vec<u8>);

    impl Flash for Ram {
        type Error = Infallible;
        const PAGE: usize = 1_024;
        const WORD: usize = 4;
        const PAGES: usize = 2;

        fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), Infallible> {
            into.copy_from_slice(&self.0[at..at + into.len()]);
            Ok(())
        }

        fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), Infallible> {
            self.0[at..at + bytes.len()].iter_mut().zip(bytes).for_each(|(kept, new)| *kept &= new);
            Ok(())
        }

        fn erase(&mut self, page: usize) -> Result<(), Infallible> {
            self.0[page * 1_024..][..1_024].fill(0xFF);
            Ok(())
        }
    }

    fn region() -> Region<Ram> {
        Region { flash: Ram(vec![0xFF; 2_048]), pages: 0..2 }
    }

    #[test]
    fn the_newest_curve_is_the_one_after_a_hundred() {
        let mut kept = Kept::new(region(), region(), region());
        assert_eq!(kept.curve(), None);
        for air in 2_000..2_100 {
            let ends = [(air, 0), (1_000, 10_000)].map(|(raw, centi)| CurvePoint {
                raw: RawCounts(raw),
                moisture: Moisture::try_from(centi).expect("at most 100 %"),
            });
            let curve = Curve::new(&ends, Basis::Span).expect("an ordinary curve");
            assert!(kept.put_curve(&curve));
            assert_eq!(kept.curve(), Some(curve));
        }
    }
}
