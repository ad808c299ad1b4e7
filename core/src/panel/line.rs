//! Lines of text that fit a page, and the numbers in them.

use core::fmt;

use crate::quantity::{DeciCelsius, Millis, Moisture};

/// Letters in a line of every page: 25 of five pixels are 125 of 128.
pub const COLUMNS: usize = 25;

/// One line of a page. What is written into it fits; the tests try every text at every value.
pub type Line = heapless::String<COLUMNS>;

/// Writes a line. A text that did not fit would lack its end: the tests, which keep debug
/// assertions, try that none does.
macro_rules! line {
    ($($part:tt)*) => {{
        let mut line = $crate::panel::line::Line::new();
        let written = core::fmt::Write::write_fmt(&mut line, format_args!($($part)*));
        debug_assert!(written.is_ok(), "no room after {line:?}");
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

impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let seconds = self.0.0 / 1_000;
        let minutes = seconds / 60;
        let hours = minutes / 60;
        if seconds < 100 {
            write!(f, "{seconds} s")
        } else if minutes < 120 {
            write!(f, "{minutes} min")
        } else if hours < 72 {
            write!(f, "{hours} h")
        } else {
            write!(f, "{} d", hours / 24)
        }
    }
}

/// A moisture with one decimal, rounded down: `31.4`.
pub(super) struct Percent(pub Moisture);

impl fmt::Display for Percent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tenths = self.0.centi() / 10;
        write!(f, "{}.{}", tenths / 10, tenths % 10)
    }
}

/// A temperature with one decimal: `-0.4`.
pub(super) struct Degrees(pub DeciCelsius);

impl fmt::Display for Degrees {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tenths = self.0.0.unsigned_abs();
        let sign = if self.0.0 < 0 { "-" } else { "" };
        write!(f, "{sign}{}.{}", tenths / 10, tenths % 10)
    }
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
            assert_eq!(line!("{}", Span(Millis(ms))), text);
        }
    }

    #[test]
    fn one_decimal_and_a_sign_where_there_is_one() {
        for (centi, text) in
            [(0, "0.0"), (9, "0.0"), (10, "0.1"), (3_149, "31.4"), (10_000, "100.0")]
        {
            assert_eq!(line!("{}", Percent(Moisture::from_centi(centi))), text);
        }
        for (tenths, text) in [(0, "0.0"), (-4, "-0.4"), (4, "0.4"), (-123, "-12.3"), (215, "21.5")]
        {
            assert_eq!(line!("{}", Degrees(DeciCelsius(tenths))), text);
        }
    }
}
