//! Lamps and sounder as functions of state and time.

use drydown::guard::Path;
use drydown::panel::lights::{Pattern, Tune, look_lamp, water_lamp};
use drydown::panel::{Doing, Well};
use drydown::quantity::Millis;

use super::glances::doing;

/// A pattern over time, a mark each 50 ms.
fn strip(pattern: Pattern, length: u64) -> String {
    (0..length / 50).map(|slot| if pattern.is_lit(slot * 50) { '#' } else { '.' }).collect()
}

#[test]
fn patterns_are_as_drawn() {
    assert_eq!(strip(Pattern::DARK, 400), "........");
    assert_eq!(strip(Pattern::STEADY, 400), "########");
    assert_eq!(strip(Pattern::QUICK, 800), "####....####....");
    let pair = "###...###...................................................";
    assert_eq!(strip(Pattern::PAIR, 3_000), pair);
    assert_eq!(strip(Pattern::SLOW, 4_000), format!("{}{}", "#".repeat(40), ".".repeat(40)));
    assert_eq!(strip(Pattern::WINK, 10_000).matches('#').count(), 2);
    // The same at every time: no state, and no end of the counter.
    assert!(Pattern::STEADY.is_lit(u64::MAX) && !Pattern::DARK.is_lit(u64::MAX));
}

/// Against the division of 64 bits, which a host may use: where 32 bits run over, and at the end of time.
#[test]
fn a_rhythm_goes_on_for_ever() {
    let marks = [0, 1 << 32, 2 << 32, 77 << 32, u64::from(u32::MAX) << 32];
    let times = marks.into_iter().flat_map(|mark| mark..mark + 6_000);
    let last = u64::MAX - 6_000..=u64::MAX;
    let periods = [
        (Pattern::WINK, 5_000),
        (Pattern::SLOW, 4_000),
        (Pattern::PAIR, 3_000),
        (Pattern::QUICK, 400),
    ];
    for (now, (pattern, period)) in
        times.chain(last).flat_map(|now| periods.into_iter().map(move |one| (now, one)))
    {
        assert_eq!(pattern.is_lit(now), pattern.is_lit(now % period), "{pattern:?} at {now} ms");
    }
}

#[test]
fn each_grade_has_a_rhythm_of_its_own() {
    let all = [Well::AllWell, Well::LookSoon, Well::NeedsYou].map(look_lamp);
    assert_eq!(all, [Pattern::DARK, Pattern::PAIR, Pattern::QUICK]);
    let watering =
        Doing::Watering { path: Path::Automatic, given: Millis(0), of: Millis(0), until: None };
    assert_eq!(water_lamp(&doing(watering)), Pattern::STEADY);
    assert_eq!(water_lamp(&doing(Doing::Soaking(Millis(1)))), Pattern::SLOW);
    assert_eq!(water_lamp(&doing(Doing::Off)), Pattern::DARK);
    assert_eq!(water_lamp(&doing(Doing::MoistEnough(None))), Pattern::WINK);
}

#[test]
fn tunes_play_once_or_come_again() {
    let heard = |tune: Tune, at| tune.tone(Millis(at));
    assert_eq!(heard(Tune::TICK, 0), Some(2_000));
    assert_eq!(heard(Tune::TICK, 20), None);
    assert_eq!(heard(Tune::NO, 100), Some(500));
    assert_eq!(heard(Tune::NO, 180), None);
    assert_eq!(heard(Tune::NO, 60_100), None);
    assert_eq!(heard(Tune::COME, 700), Some(2_400));
    assert_eq!(heard(Tune::COME, 2_000), None);
    assert_eq!(heard(Tune::COME, 60_700), Some(2_400));
}
