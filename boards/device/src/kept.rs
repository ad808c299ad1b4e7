//! What is kept beside the record: rows, days, and what was found with the buttons: the curve, and the
//! record of commissioning.

use drydown::bench::Findings;
use drydown::calibration::Curve;
use drydown::logbook::{Day, Row, Scribe};
use drydown::persist::Flash;
use drydown::wire::{Page, Paged};
use heapless::Deque;

use crate::board::Board;
use crate::calibrated;
use crate::store::{Erases, Pushed, Queue, Region};

/// Bytes of the longest page.
pub(crate) const MOST_OF_PAGE: usize = 256;
/// Bytes of what was found with the buttons. Each item holds curve and findings, so that neither goes
/// with the page of the other; zeros where there is none.
const FOUND: usize = calibrated::LENGTH + Findings::BYTES;
/// Behind so many rows what was found is written again, where it stands among them: the page of the
/// oldest is erased with all that is in it, and the others must hold it too. They hold three times as many.
const AGAIN: u32 = 1_024;
const _: () = assert!(Row::LENGTH < calibrated::LENGTH, "a row must be told from what was found");
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
    /// Curve, and what commissioning found. `None`, where no two pages are left for them: they stand among
    /// the rows, of which the region less a page must hold more than a thousand.
    pub curve: Option<Region<B::Curve>>,
}

/// The log in flash.
pub(crate) struct Kept<R: Flash, D: Flash, C: Flash> {
    rows: Queue<R>,
    days: Queue<D>,
    curve: Option<Queue<C>>,
    /// What was found is to be written among the rows again.
    again: bool,
    waiting: Deque<Row, WAITING>,
    /// A day that waits for its last row.
    day: Option<Day>,
    /// The erases that may be now.
    erases: Erases,
    end_of_rows: u32,
    end_of_days: u32,
}

impl<R: Flash, D: Flash, C: Flash> Kept<R, D, C> {
    /// Pages of rows, of days, and of what was found, if that has any of its own.
    ///
    /// # Panics
    /// If a flash has no such pages, or if those of the rows are too short to have what was found among
    /// them.
    pub fn new(rows: Region<R>, days: Region<D>, curve: Option<Region<C>>) -> Self {
        // A row takes 64 bytes at most, where the words are of 32.
        let beside_one = rows.pages.len().saturating_sub(1) * R::PAGE / 64;
        assert!(
            curve.is_some() || beside_one > AGAIN as usize,
            "the rows' region less a page is too short to have the curve among them"
        );
        Self {
            rows: Queue::new(rows),
            days: Queue::new(days),
            curve: curve.map(Queue::new),
            again: false,
            waiting: Deque::new(),
            day: None,
            // One for all that a cut left half erased, before the first round.
            erases: 1,
            end_of_rows: 0,
            end_of_days: 0,
        }
    }

    /// After a boot: its number, and who writes on from what is found.
    pub fn scribe(&mut self) -> (u16, Scribe) {
        let (mut newest_day, mut last_row) = (None::<Day>, None::<Row>);
        self.days.each(&mut self.erases, |item| {
            newest_day = Day::from_page(item).or(newest_day);
            true
        });
        self.rows.each(&mut self.erases, |item| {
            last_row = Row::from_page(item).or(last_row);
            true
        });
        self.end_of_rows = last_row.map_or(0, |row| row.number.saturating_add(1));
        self.end_of_days = newest_day.map_or(0, |day| day.number.saturating_add(1));
        let boot = last_row.map_or(0, |row| row.boot.wrapping_add(1));
        let mut scribe = Scribe::new(boot, self.end_of_rows, self.end_of_days);
        let in_days = newest_day.map(|day| day.last_row);
        self.rows.each(&mut self.erases, |item| {
            if let Some(row) = Row::from_page(item)
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

    /// Takes a row to be written when it may be, and the day that it ends. The oldest row that waits is
    /// given up for it, and a day that has waited for a whole day.
    pub fn take(&mut self, row: Row, day: Option<Day>) {
        if self.waiting.is_full() {
            self.waiting.pop_front();
        }
        // There is room now.
        let _ = self.waiting.push_back(row);
        self.day = day.or(self.day);
    }

    pub fn has_waiting(&self) -> bool {
        self.day.is_some() || !self.waiting.is_empty() || self.again
    }

    /// Says whether one page may be erased now: only while everything is closed, and after the
    /// watchdog was fed.
    pub const fn may_erase(&mut self, may: bool) {
        self.erases = may as Erases;
    }

    /// Writes one thing that waits, a row as a rule. Only while everything is closed.
    pub fn write_one(&mut self) {
        if self.again {
            let found = self.found();
            // Of a device without any there is nothing to keep.
            self.again = found != [0; FOUND] && self.put(&found) == Pushed::Later;
            return;
        }
        let next = self.waiting.front();
        if let Some(day) = self.day.filter(|day| next.is_none_or(|row| row.number > day.last_row)) {
            if self.days.push(&day.to_bytes(), &mut self.erases) != Pushed::Later {
                self.end_of_days = day.number.saturating_add(1);
                self.day = None;
            }
            return;
        }
        let Some(row) = next else { return };
        if self.rows.push(&row.to_bytes(), &mut self.erases) != Pushed::Later {
            self.end_of_rows = row.number.saturating_add(1);
            self.again = self.curve.is_none() && self.end_of_rows.is_multiple_of(AGAIN);
            self.waiting.pop_front();
        }
    }

    /// Rows from a number on, as many as a page holds, in the bytes that are handed in.
    pub fn rows_from<'b>(&mut self, from: u32, into: &'b mut [u8; MOST_OF_PAGE]) -> Page<'b, Row> {
        page(&mut self.rows, &mut self.erases, from, self.end_of_rows, |row: &Row| row.number, into)
    }

    /// Days from a number on, likewise.
    pub fn days_from<'b>(&mut self, from: u32, into: &'b mut [u8; MOST_OF_PAGE]) -> Page<'b, Day> {
        page(&mut self.days, &mut self.erases, from, self.end_of_days, |day: &Day| day.number, into)
    }

    /// Keeps a curve, beside what commissioning found.
    pub fn put_curve(&mut self, curve: &Curve) -> Pushed {
        let mut found = self.found();
        found[..calibrated::LENGTH].copy_from_slice(&calibrated::to_bytes(curve));
        self.put(&found)
    }

    /// Keeps what commissioning found, beside the curve.
    pub fn put_findings(&mut self, findings: &Findings) -> Pushed {
        let mut found = self.found();
        found[calibrated::LENGTH..].copy_from_slice(&findings.to_bytes());
        self.put(&found)
    }

    fn put(&mut self, found: &[u8; FOUND]) -> Pushed {
        match &mut self.curve {
            Some(curve) => curve.push(found, &mut self.erases),
            None => self.rows.push(found, &mut self.erases),
        }
    }

    /// The curve that is kept.
    pub fn curve(&mut self) -> Option<Curve> {
        calibrated::from_bytes(&self.found()[..calibrated::LENGTH])
    }

    /// What commissioning found, as it is kept.
    pub fn findings(&mut self) -> Option<Findings> {
        Findings::from_bytes(self.found().last_chunk()?)
    }

    /// The newest item. One of an earlier firmware ends behind its curve.
    fn found(&mut self) -> [u8; FOUND] {
        let mut newest = [0; FOUND];
        let see = |item: &[u8]| {
            if item.len() >= calibrated::LENGTH {
                let bytes = item.iter().copied().chain(core::iter::repeat(0));
                newest.iter_mut().zip(bytes).for_each(|(place, byte)| *place = byte);
            }
            true
        };
        match &mut self.curve {
            Some(curve) => curve.each(&mut self.erases, see),
            None => self.rows.each(&mut self.erases, see),
        }
        newest
    }
}

fn page<'b, T: Paged, F: Flash>(
    queue: &mut Queue<F>,
    erases: &mut Erases,
    from: u32,
    end: u32,
    number: impl Fn(&T) -> u32,
    into: &'b mut [u8; MOST_OF_PAGE],
) -> Page<'b, T> {
    let (mut first, mut length) = (None, 0);
    queue.each(erases, |item| {
        let Some(found) = T::from_page(item).map(|one| number(&one)).filter(|&n| n >= from) else {
            return true;
        };
        // A page is without gaps: where one was lost the next page begins.
        let next = first.map_or(found, |first: u32| first + (length / T::LENGTH) as u32);
        let Some(place) = into.get_mut(length..length + T::LENGTH).filter(|_| found == next) else {
            return false;
        };
        place.copy_from_slice(item);
        first = first.or(Some(found));
        length += T::LENGTH;
        length / T::LENGTH < Page::<T>::MOST
    });
    Page::new(first.unwrap_or(end), end, &into[..length])
}

#[cfg(test)]
mod tests {
    use core::cell::Cell;
    use std::rc::Rc;
    use std::vec::Vec;

    use drydown::calibration::{Basis, CurvePoint};
    use drydown::guard::LockOuts;
    use drydown::quantity::{Millis, Moisture, RawCounts};
    use drydown::watch::Alarms;
    use drydown::zone::Mode;

    use super::*;
    use crate::store::Refused;

    /// Four pages; how often one was erased, whether the flash takes anything, and how many erases from
    /// now the supply fails in the middle of one.
    struct Ram<const PAGE: usize = 1_024> {
        bytes: Vec<u8>,
        erased: Rc<Cell<u32>>,
        refuses: bool,
        cut: Option<u32>,
    }

    impl<const PAGE: usize> Ram<PAGE> {
        fn blank() -> Self {
            let bytes = std::vec![0xFF; 4 * PAGE];
            Self { bytes, erased: Rc::default(), refuses: false, cut: None }
        }
    }

    impl<const PAGE: usize> Flash for Ram<PAGE> {
        type Error = Refused;
        const PAGE: usize = PAGE;
        const WORD: usize = 4;
        const PAGES: usize = 4;

        fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), Refused> {
            into.copy_from_slice(&self.bytes[at..at + into.len()]);
            Ok(())
        }

        fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), Refused> {
            if self.refuses {
                return Err(Refused);
            }
            let kept = &mut self.bytes[at..at + bytes.len()];
            kept.iter_mut().zip(bytes).for_each(|(kept, new)| *kept &= new);
            Ok(())
        }

        fn erase(&mut self, page: usize) -> Result<(), Refused> {
            self.erased.set(self.erased.get() + 1);
            self.cut = self.cut.map(|left| left - 1);
            let cut = self.cut == Some(0);
            self.refuses |= cut;
            self.bytes[page * PAGE..][..if cut { PAGE / 2 } else { PAGE }].fill(0xFF);
            if cut { Err(Refused) } else { Ok(()) }
        }
    }

    fn region() -> Region<Ram> {
        filled(|_| 0xFF)
    }

    fn filled(byte: impl FnMut(usize) -> u8) -> Region<Ram> {
        let bytes = (0..4_096).map(byte).collect();
        Region { flash: Ram { bytes, ..Ram::blank() }, pages: 0..4 }
    }

    /// Four pages of noise that differs with each seed.
    fn noise(seed: u32) -> Region<Ram> {
        let mut state = seed.wrapping_mul(0x9E37_79B9) | 1;
        filled(|_| {
            state ^= state << 13;
            state ^= state >> 17;
            state ^= state << 5;
            (state >> 24) as u8
        })
    }

    /// Every item is kept at last, whatever was in the flash, and never are two pages erased at once.
    #[test]
    fn noise_is_begun_anew_a_page_at_a_time() {
        let mut begun = 0;
        for seed in 0..300 {
            let region = noise(seed);
            let erased = region.flash.erased.clone();
            let mut queue = Queue::new(region);
            let mut rounds = 0;
            loop {
                let before = erased.get();
                let mut erases = 0;
                assert_ne!(queue.push(b"row", &mut erases), Pushed::Refused);
                assert_eq!(erased.get(), before, "seed {seed}: erased when it might not");
                erases = 1;
                let pushed = queue.push(b"row", &mut erases);
                assert!(erased.get() <= before + 1, "seed {seed}: two pages at once");
                rounds += 1;
                assert!(rounds < 20, "seed {seed}: {pushed:?} for ever");
                if pushed == Pushed::Kept {
                    break;
                }
                begun += u32::from(queue.is_begun_anew());
            }
            let mut found = 0;
            queue.each(&mut 0, |item| {
                found += u32::from(item == b"row");
                true
            });
            assert!(found > 0, "seed {seed}: it is kept, and not found");
        }
        assert!(begun > 0, "noise of which none is begun anew shows nothing");
    }

    #[test]
    fn when_it_is_full_an_item_waits_until_a_page_may_be_erased() {
        let region = region();
        let erased = region.flash.erased.clone();
        let mut queue = Queue::new(region);
        let mut waited = 0;
        for item in 0..1_000_u32 {
            let before = erased.get();
            if queue.push(&item.to_le_bytes(), &mut 0) == Pushed::Later {
                waited += 1;
                assert_eq!(erased.get(), before, "erased when it might not");
                assert_eq!(queue.push(&item.to_le_bytes(), &mut 1), Pushed::Kept);
                assert_eq!(erased.get(), before + 1);
            }
        }
        assert!(waited > 1, "it was never full");
        let mut newest = None;
        queue.each(&mut 0, |item| {
            newest = item.first_chunk().map(|bytes| u32::from_le_bytes(*bytes));
            true
        });
        assert_eq!(newest, Some(999));
    }

    /// A cut in the middle of an erase leaves a page without its first bytes.
    #[test]
    fn a_page_half_erased_is_erased_when_it_may_be_and_the_others_are_shown() {
        let mut queue = Queue::new(region());
        for item in 0..400_u32 {
            queue.push(&item.to_le_bytes(), &mut 1);
        }
        let mut flash = queue.into_flash();
        flash.bytes[1_024..1_024 + 512].fill(0xFF);
        let erased = flash.erased.clone();
        let before = erased.get();
        let mut queue = Queue::new(Region { flash, pages: 0..4 });
        queue.each(&mut 0, |_| true);
        assert_eq!(erased.get(), before, "reading erased when it might not");
        let mut shown = 0;
        queue.each(&mut 1, |_| {
            shown += 1;
            true
        });
        assert_eq!(erased.get(), before + 1);
        assert!(shown > 100, "{shown} of the others");
    }

    #[test]
    fn a_flash_that_refuses_is_not_worn_by_trying() {
        for seed in 0..50 {
            let mut region = noise(seed);
            region.flash.refuses = true;
            let erased = region.flash.erased.clone();
            let mut queue = Queue::new(region);
            let refused =
                (0..1_000).filter(|_| queue.push(b"row", &mut 1) == Pushed::Refused).count();
            assert!(refused > 900, "seed {seed}: {refused} given up");
            assert!(erased.get() <= 12, "seed {seed}: {} erases", erased.get());
        }
    }

    #[test]
    fn the_newest_curve_is_the_one_after_a_hundred() {
        let mut kept = Kept::new(region(), region(), Some(region()));
        assert_eq!(kept.curve(), None);
        for air in 2_000..2_100 {
            kept.may_erase(true);
            assert_eq!(kept.put_curve(&curve_to(air)), Pushed::Kept);
            assert_eq!(kept.curve(), Some(curve_to(air)));
        }
    }

    fn curve_to(air: u16) -> Curve {
        let ends = [(air, 0), (1_000, 10_000)].map(|(raw, centi)| CurvePoint {
            raw: RawCounts(raw),
            moisture: Moisture::try_from(centi).expect("at most 100 %"),
        });
        Curve::new(&ends, Basis::Span).expect("an ordinary curve")
    }

    /// However often the one is written, the page of the other is erased for it.
    #[test]
    fn neither_the_curve_nor_the_findings_are_lost_for_the_other() {
        let mut kept = Kept::new(region(), region(), Some(region()));
        assert_eq!((kept.curve(), kept.findings()), (None, None));
        assert_eq!(kept.put_curve(&curve_to(2_000)), Pushed::Kept);
        for identity in 0..200 {
            kept.may_erase(true);
            assert_eq!(kept.put_findings(&Findings::new(identity)), Pushed::Kept);
            assert_eq!(kept.findings(), Some(Findings::new(identity)));
        }
        assert_eq!(kept.curve(), Some(curve_to(2_000)));
        for air in 2_001..2_200 {
            kept.may_erase(true);
            assert_eq!(kept.put_curve(&curve_to(air)), Pushed::Kept);
        }
        assert_eq!(kept.curve(), Some(curve_to(2_199)));
        assert_eq!(kept.findings(), Some(Findings::new(199)));
        let flash = kept.curve.expect("pages of its own").into_flash();
        assert!(flash.erased.get() > 4, "no page was ever full");
    }

    /// An item of the firmware before this is a curve and nothing else.
    #[test]
    fn a_curve_that_an_earlier_firmware_kept_is_found() {
        let mut kept = Kept::new(region(), region(), Some(region()));
        assert_eq!(kept.put_findings(&Findings::new(1)), Pushed::Kept);
        let bytes = calibrated::to_bytes(&curve_to(2_500));
        let pages = kept.curve.as_mut().expect("pages of its own");
        assert_eq!(pages.push(&bytes, &mut 1), Pushed::Kept);
        assert_eq!((kept.curve(), kept.findings()), (Some(curve_to(2_500)), None));
    }

    /// Rows and days as long sectors of flash keep them, of which there are two each and none for the curve.
    type InSectors = Kept<Ram<131_072>, Ram<16_384>, Ram<131_072>>;

    fn in_sectors(rows: Ram<131_072>) -> InSectors {
        let days = Region { flash: Ram::blank(), pages: 0..2 };
        Kept::new(Region { flash: rows, pages: 0..2 }, days, None)
    }

    /// Writes rows until the supply fails in the middle of an erase, the flash being cut then.
    fn rows_until_the_cut(kept: &mut InSectors, from: u32) -> u32 {
        for number in from..from + 20_000 {
            kept.take(row(number), None);
            while kept.has_waiting() {
                kept.may_erase(true);
                kept.write_one();
                if kept.rows.flash().refuses {
                    return number;
                }
            }
        }
        panic!("no page was erased");
    }

    #[test]
    fn what_was_found_stands_among_the_rows_through_a_cut_in_any_erase() {
        let mut kept = in_sectors(Ram::blank());
        assert_eq!((kept.curve(), kept.findings()), (None, None));
        assert_eq!(kept.put_findings(&Findings::new(7)), Pushed::Kept);
        assert_eq!(kept.put_curve(&curve_to(2_000)), Pushed::Kept);
        let mut number = 0;
        for erase in 1..=4 {
            kept.rows.flash().cut = Some(erase);
            number = rows_until_the_cut(&mut kept, number);
            let mut flash = kept.rows.into_flash();
            (flash.refuses, flash.cut) = (false, None);
            kept = in_sectors(flash);
            let found = (kept.curve(), kept.findings());
            assert_eq!(found, (Some(curve_to(2_000)), Some(Findings::new(7))), "erase {erase}");
            let (_, scribe) = kept.scribe();
            assert!(kept.ends().0.abs_diff(number) <= 1, "{:?} {number} {scribe:?}", kept.ends());
        }
        // Rows of two weeks all the same, without a gap where it stands.
        let mut bytes = [0; MOST_OF_PAGE];
        let mut next = kept.rows_from(0, &mut bytes).first;
        assert!(kept.ends().0 - next > 2_016, "{next} of {:?}", kept.ends());
        while next < kept.ends().0 {
            let page = kept.rows_from(next, &mut bytes);
            assert_eq!(page.first, next);
            next += page.count();
        }
    }

    /// Where nothing was found, nothing is written for it.
    #[test]
    fn rows_of_a_device_without_a_curve_are_rows_alone() {
        let mut kept = in_sectors(Ram::blank());
        for number in 0..2_100 {
            kept.take(row(number), None);
            while kept.has_waiting() {
                kept.may_erase(true);
                kept.write_one();
            }
        }
        let mut lengths = Vec::new();
        kept.rows.each(&mut 0, |item| {
            lengths.push(item.len());
            true
        });
        assert_eq!(lengths, std::vec![Row::LENGTH; 2_100]);
    }

    /// Two sectors of 16 KiB, whatever is erased: one alone holds a leap year.
    #[test]
    fn days_of_a_year_are_there_at_any_time() {
        let mut queue = Queue::new(Region { flash: Ram::<16_384>::blank(), pages: 0..2 });
        for number in 0..1_500 {
            let pushed = queue.push(&day(number, 144 * number).to_bytes(), &mut 1);
            assert_eq!(pushed, Pushed::Kept);
            let mut first = None;
            queue.each(&mut 0, |item| {
                first = first.or(Day::from_page(item).map(|day| day.number));
                true
            });
            let held = number + 1 - first.expect("a day");
            assert!(held >= 366.min(number + 1), "{held} days at {number}");
        }
    }

    fn row(number: u32) -> Row {
        let (boot, at_s, mode) = (0, 600 * number, Mode::Automatic);
        let dose = Millis::ZERO;
        Row {
            number,
            boot,
            at_s,
            reading: None,
            mode,
            driven: false,
            reason: None,
            air: None,
            dose,
        }
    }

    fn day(number: u32, last_row: u32) -> Day {
        Day {
            number,
            boot: 0,
            at_s: 600 * last_row,
            last_row,
            readings: None,
            doubtful: 0,
            openings: 0,
            dose: Millis::ZERO,
            lock_outs: LockOuts::NONE,
            alarms: Alarms::NONE,
            air: None,
        }
    }

    /// Whatever waited, nobody reads of a day of which rows are missing.
    #[test]
    fn a_day_is_written_behind_its_last_row() {
        let mut kept = Kept::new(region(), region(), Some(region()));
        for number in 0..400 {
            let ends = number % 10 == 9;
            kept.take(row(number), ends.then(|| day(number / 10, number)));
            // After each third day nothing may be written for half of the next one.
            if number % 30 < 5 {
                continue;
            }
            for _ in 0..3 {
                kept.may_erase(true);
                let (rows, days) = kept.ends();
                kept.write_one();
                let (more_rows, more_days) = kept.ends();
                assert!(more_rows - rows + (more_days - days) <= 1, "one at a time");
                assert!(more_days == days || rows == 10 * more_days, "{rows} {more_days}");
            }
        }
        assert_eq!(kept.ends(), (400, 40));
        assert!(!kept.has_waiting());
    }
}
