//! Lines of text that fit a page, and the numbers in them.

use core::fmt;

use crate::quantity::{DeciCelsius, Millis, Moisture};

/// Letters in a line of every page: 25 of five pixels are 125 of 128.
pub const COLUMNS: usize = 25;

/// One line of a page. What is written into it fits; the tests try every text at every value.
pub type Line = heapless::String<COLUMNS>;

/// What can stand in a line. By `fmt` a whole device takes four thousand bytes of flash more.
pub(super) trait Piece {
    /// Writes it at the end.
    fn put(&self, line: &mut Line);
}

impl Piece for str {
    /// A text that did not fit would be left out: the tests, which keep debug assertions, try that none
    /// is.
    // Sixty places call it: built into each it takes five hundred bytes more.
    #[inline(never)]
    fn put(&self, line: &mut Line) {
        let put = line.push_str(self);
        debug_assert!(put.is_ok(), "no room for {self:?} after {line:?}");
    }
}

impl<P: Piece + ?Sized> Piece for &P {
    fn put(&self, line: &mut Line) {
        P::put(self, line);
    }
}

impl Piece for u32 {
    fn put(&self, line: &mut Line) {
        let mut place = 1;
        while *self / place >= 10 {
            place *= 10;
        }
        while place > 0 {
            let digit = (*self / place % 10) as u8;
            let put = line.push(char::from(b'0' + digit));
            debug_assert!(put.is_ok(), "no room for {self} in {line:?}");
            place /= 10;
        }
    }
}

impl Piece for u8 {
    fn put(&self, line: &mut Line) {
        u32::from(*self).put(line);
    }
}

impl Piece for u16 {
    fn put(&self, line: &mut Line) {
        u32::from(*self).put(line);
    }
}

impl Piece for usize {
    fn put(&self, line: &mut Line) {
        (*self as u32).put(line);
    }
}

/// Writes a line of its pieces.
macro_rules! line {
    ($($piece:expr),+) => {{
        let mut line = $crate::panel::line::Line::new();
        $($crate::panel::line::Piece::put(&$piece, &mut line);)+
        line
    }};
}
pub(super) use line;

/// A length of time in at most seven letters: `99 s`, `119 min`, `71 h`, `49 d`. It is rounded down,
/// so that a countdown shows nothing that is over.
///
/// ```
/// use drydown::panel::Span;
/// use drydown::quantity::Millis;
/// assert_eq!(Span(Millis::from_mins(100)).to_string(), "100 min");
/// assert_eq!(Span(Millis::from_mins(120)).to_string(), "2 h");
/// ```
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Span(pub Millis);

impl Piece for Span {
    fn put(&self, line: &mut Line) {
        let seconds = self.0.0 / 1_000;
        let minutes = seconds / 60;
        let hours = minutes / 60;
        let (number, unit) = if seconds < 100 {
            (seconds, " s")
        } else if minutes < 120 {
            (minutes, " min")
        } else if hours < 72 {
            (hours, " h")
        } else {
            (hours / 24, " d")
        };
        number.put(line);
        unit.put(line);
    }
}

impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&line!(self))
    }
}

/// A moisture with one decimal, rounded down: `31.4`.
pub(super) struct Percent(pub Moisture);

impl Piece for Percent {
    fn put(&self, line: &mut Line) {
        tenths(self.0.centi() / 10, line);
    }
}

/// A temperature with one decimal: `-0.4`.
pub(super) struct Degrees(pub DeciCelsius);

impl Piece for Degrees {
    fn put(&self, line: &mut Line) {
        if self.0.0 < 0 {
            "-".put(line);
        }
        tenths(self.0.0.unsigned_abs(), line);
    }
}

fn tenths(number: u16, line: &mut Line) {
    (number / 10).put(line);
    ".".put(line);
    (number % 10).put(line);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_span_changes_its_unit_where_it_says() {
        for (ms, text) in [
            (0, "0 s"),
            (999, "0 s"),
            (99_999, "99 s"),
            (100_000, "1 min"),
            (119 * 60_000 + 59_999, "119 min"),
            (120 * 60_000, "2 h"),
            (72 * 3_600_000 - 1, "71 h"),
            (72 * 3_600_000, "3 d"),
            (96 * 3_600_000 - 1, "3 d"),
            (u32::MAX, "49 d"),
        ] {
            assert_eq!(line!(Span(Millis(ms))), text);
        }
    }

    #[test]
    fn a_whole_number_has_all_its_digits_and_no_more() {
        for (number, text) in [
            (0, "0"),
            (9, "9"),
            (10, "10"),
            (100, "100"),
            (1_020, "1020"),
            (u32::MAX, "4294967295"),
        ] {
            assert_eq!(line!(number), text);
        }
    }

    #[test]
    fn one_decimal_and_a_sign_where_there_is_one() {
        for (centi, text) in
            [(0, "0.0"), (9, "0.0"), (10, "0.1"), (3_149, "31.4"), (10_000, "100.0")]
        {
            assert_eq!(line!(Percent(Moisture::from_centi(centi))), text);
        }
        for (tenths, text) in [(0, "0.0"), (-4, "-0.4"), (4, "0.4"), (-123, "-12.3"), (215, "21.5")]
        {
            assert_eq!(line!(Degrees(DeciCelsius(tenths))), text);
        }
    }
}
