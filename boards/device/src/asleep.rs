//! How long a sleep is, and what of it is sure.

use drydown::quantity::Millis;

/// A nap shorter than this is not worth its beginning and its end.
const SHORTEST: Millis = Millis(100);

/// The next nap of a sleep that ends at `until`, no longer than the watchdog can be left alone; `None`:
/// the sleep is over.
pub(crate) fn next_nap(now: u64, until: u64, longest: Millis) -> Option<Millis> {
    let left = until.saturating_sub(now).min(u64::from(longest.0)) as u32;
    (left >= SHORTEST.0).then_some(Millis(left))
}

/// The time that is sure to have passed in so many counts of an oscillator that goes on in sleep, of
/// which `measured` counts took so many microseconds of a crystal.
///
/// Such an oscillator drifts with temperature and supply by some percent: what is not sure is not
/// credited, a sixteenth.
#[must_use]
pub fn sure(counts: u64, measured: (u64, u64)) -> Millis {
    let (of, us) = measured;
    let ms = u128::from(counts) * u128::from(us) / u128::from(of.max(1)) / 1_000;
    Millis(u32::try_from(ms / 16 * 15).unwrap_or(u32::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;

    const LONGEST: Millis = Millis(4_000);

    #[test]
    fn naps_add_up_to_the_sleep_and_none_is_too_long() {
        for sleep in [100, 101, 3_999, 4_000, 4_001, 600_000, 600_099] {
            let (mut now, mut naps) = (7, 0);
            while let Some(nap) = next_nap(now, 7 + sleep, LONGEST) {
                assert!(nap <= LONGEST && nap.0 >= 100, "{} ms of {sleep}", nap.0);
                now += u64::from(nap.0);
                naps += 1;
            }
            let left = 7 + sleep - now;
            assert!(left < 100, "{left} ms left of {sleep}");
            assert_eq!(naps, sleep / 4_000 + u64::from(sleep % 4_000 >= 100), "{sleep}");
        }
        assert_eq!(next_nap(0, 99, LONGEST), None);
        // The clock may be past the end: a nap lasts a little longer than it was set to.
        assert_eq!(next_nap(700, 600, LONGEST), None);
    }

    /// Of whatever speed the oscillator is: fifteen sixteenths of what passed, and never more.
    #[test]
    fn what_is_credited_is_short_of_what_passed_by_a_sixteenth() {
        for hertz in [17_000_u64, 32_000, 32_768, 47_000, 150_000] {
            let measured = (hertz, 1_000_000);
            for passed_ms in [0_u64, 1, 100, 4_000, 600_000, 86_400_000] {
                let credited = u64::from(sure(hertz * passed_ms / 1_000, measured).0);
                let most = passed_ms * 15 / 16;
                assert!(credited <= most, "{hertz} Hz: {credited} of {passed_ms} ms");
                assert!(credited + 16 >= most, "{hertz} Hz: {credited} of {passed_ms} ms");
            }
        }
    }

    #[test]
    fn one_that_was_not_measured_or_runs_for_ever_credits_nothing_that_is_not_a_number() {
        assert_eq!(sure(0, (0, 0)), Millis::ZERO);
        assert_eq!(sure(1_000, (0, 0)), Millis::ZERO);
        assert_eq!(sure(u64::MAX, (1, u64::MAX)), Millis(u32::MAX));
    }
}
