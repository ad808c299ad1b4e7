//! Why something is refused, in words that a compiler can put together too: formatting does not run
//! in a `const`.

/// A sentence of at most [`Sentence::MOST`] bytes.
///
/// ```
/// use drydown::sentence::Sentence;
/// const TOLD: Sentence = Sentence::new().words("tries: ").number(-3).words(" is below ").number(1);
/// assert_eq!(TOLD.as_str(), "tries: -3 is below 1");
/// ```
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Sentence {
    bytes: [u8; Sentence::MOST],
    length: usize,
}

impl Sentence {
    /// The longest sentence, in bytes.
    pub const MOST: usize = 240;

    /// Nothing said yet.
    #[allow(clippy::new_without_default, reason = "a default is no constant")]
    pub const fn new() -> Self {
        Self { bytes: [0; Self::MOST], length: 0 }
    }

    /// The same with these words after it; words that no longer fit are left out.
    #[must_use]
    pub const fn words(self, words: &str) -> Self {
        self.followed_by(words.as_bytes())
    }

    /// The same with a number after it, as a whole or not at all.
    #[must_use]
    pub const fn number(self, number: i64) -> Self {
        let mut digits = [b'-'; 20];
        let mut free: &mut [u8] = &mut digits;
        let mut rest = number.unsigned_abs();
        while let [before @ .., digit] = free {
            *digit = b'0' + (rest % 10) as u8;
            rest /= 10;
            free = before;
            if rest == 0 {
                break;
            }
        }
        let unused = free.len().saturating_sub((number < 0) as usize);
        match digits.split_at_checked(unused) {
            Some((_, told)) => self.followed_by(told),
            None => self,
        }
    }

    /// A value that is outside of a bound.
    pub(crate) const fn outside(field: &str, value: i64, side: &str, bound: i64) -> Self {
        Self::new().words(field).words(": ").number(value).words(side).number(bound)
    }

    /// What is said.
    pub const fn as_str(&self) -> &str {
        if let Some((told, _)) = self.bytes.split_at_checked(self.length)
            && let Ok(told) = core::str::from_utf8(told)
        {
            told
        } else {
            ""
        }
    }

    const fn followed_by(mut self, mut more: &[u8]) -> Self {
        let length = self.length.saturating_add(more.len());
        if let Some((_, mut free)) = self.bytes.split_at_mut_checked(self.length)
            && free.len() >= more.len()
        {
            while let ([place, places @ ..], [byte, bytes @ ..]) = (free, more) {
                *place = *byte;
                (free, more) = (places, bytes);
            }
            self.length = length;
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::Sentence;

    #[test]
    fn numbers_are_told_to_their_ends() {
        for (number, told) in [
            (0, "0"),
            (-1, "-1"),
            (10, "10"),
            (-1_600, "-1600"),
            (i64::MAX, "9223372036854775807"),
            (i64::MIN, "-9223372036854775808"),
        ] {
            assert_eq!(Sentence::new().words("is ").number(number).as_str().get(3..), Some(told));
        }
    }

    /// Half a number would be another one, and half a letter none.
    #[test]
    fn what_does_not_fit_is_left_out_as_a_whole() {
        let degree = "°";
        let mut full = Sentence::new().words("-");
        while full.as_str().len() + degree.len() < Sentence::MOST {
            full = full.words(degree);
        }
        assert_eq!(full.as_str().len(), Sentence::MOST - 1);
        assert_eq!(full.words(degree), full);
        assert_eq!(full.number(-1), full);
        let last = full.number(7);
        assert_eq!((last.as_str().len(), last.as_str().ends_with("°7")), (Sentence::MOST, true));
        assert_eq!(last.number(7), last);
    }
}
