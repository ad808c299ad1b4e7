//! Each alarm at its very bound: raised by what its configuration says, not by a step less.

use super::*;
use crate::guard::Condition;
use crate::zone::Events;

/// All numbers are invented, no two alike.
const CONFIG: WatchConfig = WatchConfig {
    overdue_demand: Volume(500_000),
    overdue_after: Millis::from_hours(72),
    too_wet: Moisture::from_percent(45),
    too_wet_after: Millis::from_hours(30),
    short_interval: Millis::from_hours(5),
    short_cycles: 3,
    rise: 150,
    commissioned_rise: 400,
};

/// A reading every ten minutes.
const GRID: Millis = Millis::from_mins(10);

struct Watched {
    config: WatchConfig,
    watch: Watch,
    level: u16,
    seen: Seen,
}

impl Watched {
    fn new(watch: Watch) -> Self {
        let seen = Seen {
            credited: GRID,
            fresh: None,
            last: None,
            demand: None,
            rain: false,
            temperature: None,
            frozen: false,
            relied_on: true,
            opened: false,
            closed: None,
            limit_reached: false,
            per_day: Millis::from_mins(60),
            tank_low: false,
            leaking: false,
            on_grid: true,
            settles_in: Millis::from_mins(20),
        };
        Self { config: CONFIG, watch, level: 3_000, seen }
    }

    /// One step with this of it changed, and a reading at the level.
    fn step(&mut self, change: impl FnOnce(&mut Seen)) {
        let level = Some(Moisture::from_centi(self.level));
        let mut seen = Seen { fresh: level, last: level, ..self.seen };
        change(&mut seen);
        self.watch.step(&self.config, &seen, &mut Events::default());
    }

    fn pass(&mut self, time: Millis) {
        self.step(|seen| seen.credited = time);
    }

    fn told(&self, alarm: Alarm) -> bool {
        assert_eq!(self.watch.is_raised(alarm), self.watch.alarms().has(alarm));
        assert_eq!(self.watch.is_any_raised(), !self.watch.alarms().is_empty());
        self.watch.is_raised(alarm)
    }

    /// An automatic opening that ended by this, in a step in which no time passes.
    fn closed(&mut self, cause: Cause, on: Millis) {
        self.closed_on(Path::Automatic, cause, on);
    }

    fn closed_on(&mut self, path: Path, cause: Cause, on: Millis) {
        let closed = Some(Closed { path, cause, on });
        self.step(|seen| (seen.credited, seen.closed) = (Millis::ZERO, closed));
    }
}

fn resumed(image: WatchImage, unwritten: Millis) -> Watch {
    let mut watch = Watch::new();
    watch.resume(&image, unwritten);
    watch
}

fn watched() -> Watched {
    Watched::new(Watch::new())
}

const MS: Millis = Millis(1);

#[test]
fn nothing_is_told_of_a_quiet_day() {
    let mut quiet = watched();
    for _ in 0..144 {
        quiet.pass(GRID);
    }
    assert!(!quiet.watch.is_any_raised() && quiet.watch.alarms().is_empty());
    assert_eq!(quiet.watch.since_water(), Millis::from_hours(24));
}

#[test]
fn too_wet_is_the_level_itself_for_its_whole_time() {
    let mut wet = watched();
    wet.level = 4_499;
    wet.pass(CONFIG.too_wet_after);
    wet.pass(CONFIG.too_wet_after);
    assert!(!wet.told(Alarm::TooWet));
    wet.level = 4_500;
    wet.pass(CONFIG.too_wet_after.minus(MS));
    assert!(!wet.told(Alarm::TooWet));
    // Without a new reading the last one goes on.
    wet.step(|seen| (seen.credited, seen.fresh) = (MS, None));
    assert!(wet.told(Alarm::TooWet));
    wet.level = 4_499;
    wet.pass(MS);
    assert!(!wet.told(Alarm::TooWet));
}

#[test]
fn nothing_is_told_between_two_points_of_the_grid() {
    let mut wet = watched();
    wet.level = 4_500;
    wet.step(|seen| (seen.credited, seen.on_grid) = (CONFIG.too_wet_after, false));
    assert!(!wet.told(Alarm::TooWet));
    wet.pass(Millis::ZERO);
    assert!(wet.told(Alarm::TooWet));
}

#[test]
fn overdue_is_the_demand_itself_until_a_rise_that_is_water() {
    let mut dry = watched();
    dry.pass(GRID);
    let use_up = |dry: &mut Watched, demand| dry.step(|seen| seen.demand = Some(Volume(demand)));
    use_up(&mut dry, 499_999);
    assert!(!dry.told(Alarm::Overdue));
    use_up(&mut dry, 1);
    assert!(dry.told(Alarm::Overdue));
    dry.level += CONFIG.rise - 1;
    dry.pass(GRID);
    assert!(dry.told(Alarm::Overdue), "that rise is no water");
    dry.level += 1;
    dry.pass(GRID);
    assert!(!dry.told(Alarm::Overdue));
    assert_eq!(dry.watch.since_water(), Millis::ZERO);
    use_up(&mut dry, 499_999);
    assert!(!dry.told(Alarm::Overdue), "it counts anew");
}

#[test]
fn soil_that_is_seen_to_dry_is_not_overdue_while_automatic_would_water_within_a_day() {
    let dried = |relied_on, wanting| {
        let mut dry = watched();
        dry.pass(GRID);
        dry.watch.wants(true, wanting);
        dry.step(|seen| (seen.relied_on, seen.demand) = (relied_on, Some(Volume(400_000))));
        dry.level -= CONFIG.rise;
        dry.step(|seen| (seen.relied_on, seen.demand) = (relied_on, Some(Volume(100_000))));
        dry.told(Alarm::Overdue)
    };
    assert!(!dried(true, MET_WITHIN.minus(MS)));
    assert!(dried(true, MET_WITHIN));
    assert!(dried(false, MS));
    // Falling by less is not yet seen.
    let mut dry = watched();
    dry.pass(GRID);
    dry.step(|seen| seen.demand = Some(Volume(400_000)));
    dry.level -= CONFIG.rise - 1;
    dry.step(|seen| seen.demand = Some(Volume(100_000)));
    assert!(dry.told(Alarm::Overdue));
}

#[test]
fn a_want_is_over_when_it_was_not_felt_for_half_a_day() {
    let wanting = |unfelt: Millis| {
        let mut watch = Watch::new();
        watch.wants(false, MET_WITHIN);
        assert!(watch.wanting.is_zero());
        watch.wants(true, Millis::ZERO);
        assert_eq!(watch.wanting, MS);
        watch.wants(true, Millis::from_hours(3));
        watch.wants(false, unfelt);
        watch.wanting
    };
    let almost = UNWANTED.minus(MS);
    assert_eq!(wanting(almost), Millis::from_hours(3).plus(MS).plus(almost));
    assert_eq!(wanting(UNWANTED), Millis::ZERO);
}

#[test]
fn check_by_hand_comes_where_nobody_tells_the_demand() {
    let mut alone = watched();
    alone.pass(CONFIG.overdue_after.minus(MS));
    assert!(!alone.told(Alarm::CheckByHand));
    assert_eq!(alone.watch.due_in(&CONFIG), Some(MS));
    alone.pass(MS);
    assert!(alone.told(Alarm::CheckByHand));
    assert_eq!(alone.watch.due_in(&CONFIG), None);
    alone.step(|seen| seen.demand = Some(Volume(1)));
    assert!(!alone.told(Alarm::CheckByHand), "now it is known");
    alone.pass(DEMAND_KNOWN_FOR.minus(MS));
    assert!(!alone.told(Alarm::CheckByHand));
    assert_eq!(alone.watch.due_in(&CONFIG), Some(MS));
    alone.pass(MS);
    assert!(alone.told(Alarm::CheckByHand), "known no more");
}

/// Frost, or rain that does not end: what is told of the demand is not believed for ever.
#[test]
fn under_long_frost_or_rain_a_known_demand_is_no_reason_not_to_look() {
    let long: [fn(&mut Seen); 2] = [|seen| seen.frozen = true, |seen| seen.rain = true];
    for long in long {
        let mut held = watched();
        held.seen.demand = Some(Volume(1));
        long(&mut held.seen);
        held.pass(CONFIG.overdue_after.minus(MS));
        assert!(!held.told(Alarm::CheckByHand));
        held.pass(MS);
        assert!(held.told(Alarm::CheckByHand));
        held.watch.acknowledge();
        held.pass(MS);
        assert!(!held.told(Alarm::CheckByHand), "a person has looked");
    }
}

/// An hour of dew on the switch each morning: nothing is counted within a day of it, so for ever.
#[test]
fn dew_on_the_switch_each_day_does_not_silence_it() {
    let half = Volume(CONFIG.overdue_demand.0 / 2);
    let mut dewy = watched();
    for looks in 0..2 {
        // Twice what makes them overdue, a half each day.
        for day in 0..4 {
            assert!(!dewy.told(Alarm::CheckByHand), "{looks} looks, day {day}");
            dewy.step(|seen| (seen.credited, seen.rain) = (HOUR, true));
            dewy.step(|seen| (seen.credited, seen.demand) = (DAY.minus(HOUR), Some(half)));
        }
        assert!(dewy.told(Alarm::CheckByHand) && !dewy.told(Alarm::Overdue));
        dewy.watch.acknowledge();
        dewy.step(|seen| (seen.credited, seen.rain) = (MS, true));
    }
    assert!(!dewy.told(Alarm::CheckByHand), "a person has looked");
    // A dry day, and what they use is counted again.
    dewy.pass(DAY);
    dewy.step(|seen| (seen.credited, seen.demand) = (HOUR, Some(CONFIG.overdue_demand)));
    assert!(dewy.told(Alarm::Overdue) && !dewy.told(Alarm::CheckByHand));
}

/// Showers that the soil shows serve its plants, and soil that is seen to dry accounts for them.
#[test]
fn showers_that_the_soil_shows_ask_for_nobody() {
    for lifts in [2 * CONFIG.rise, 0] {
        let mut showery = watched();
        for _ in 0..20 {
            showery.level = 3_000 + lifts;
            showery.step(|seen| (seen.credited, seen.rain) = (HOUR, true));
            showery.level = 3_000;
            let (credited, demand) = (DAY.minus(HOUR), Some(CONFIG.overdue_demand));
            showery.step(|seen| (seen.credited, seen.demand) = (credited, demand));
        }
        assert_eq!(showery.told(Alarm::CheckByHand), lifts == 0);
    }
}

/// An input that tells of no demand for ever tells nothing, but where it freezes.
#[test]
fn a_demand_of_nothing_for_ever_is_not_known() {
    for frozen in [false, true] {
        let mut silent = watched();
        silent.step(|seen| (seen.credited, seen.demand) = (Millis::ZERO, Some(Volume(1))));
        (silent.seen.demand, silent.seen.frozen) = (Some(Volume(0)), frozen);
        silent.pass(CONFIG.overdue_after.minus(MS));
        assert!(!silent.told(Alarm::CheckByHand));
        silent.seen.frozen = false;
        silent.pass(MS);
        assert_eq!(silent.told(Alarm::CheckByHand), !frozen);
    }
}

#[test]
fn demand_counts_again_a_day_after_rain() {
    let used = |since_rain| {
        let mut rained = watched();
        rained.step(|seen| (seen.rain, seen.demand) = (true, Some(Volume(500_000))));
        rained.step(|seen| {
            (seen.credited, seen.demand) = (since_rain, Some(Volume(500_000)));
        });
        rained.told(Alarm::Overdue)
    };
    assert!(!used(RAIN_SERVES.minus(MS)));
    assert!(used(RAIN_SERVES));
    // 2^26 ms of rain serve all of it, a half of that half.
    assert_eq!(rained_on(Volume(1_000), Millis(1 << 26)), Volume(0));
    assert_eq!(rained_on(Volume(1_000), Millis(1 << 25)), Volume(500));
    assert_eq!(rained_on(Volume(1_000), Millis(3 << 26)), Volume(0));
}

#[test]
fn short_cycles_are_counted_in_a_row_of_automatic_openings() {
    let mut cycling = watched();
    let shorter = CONFIG.short_interval.minus(MS);
    cycling.closed(Cause::DoseDone, MS);
    for interval in [shorter, shorter, CONFIG.short_interval, shorter, shorter] {
        cycling.pass(interval);
        cycling.closed(Cause::DoseDone, MS);
        assert!(!cycling.told(Alarm::ShortCycle));
    }
    cycling.pass(Millis::from_hours(1));
    cycling.closed_on(Path::ManualLocal, Cause::DoseDone, MS);
    assert!(!cycling.told(Alarm::ShortCycle), "water by hand is none of them");
    cycling.closed(Cause::DoseDone, MS);
    assert!(cycling.told(Alarm::ShortCycle));
    cycling.pass(CONFIG.short_interval);
    cycling.closed(Cause::DoseDone, MS);
    assert!(!cycling.told(Alarm::ShortCycle));
}

/// Commissioned are 4 % for 1 000 s: of 500 s half of that is 1 %.
#[test]
fn a_weak_response_is_less_than_half_of_what_was_commissioned() {
    let risen = |rise: u16| {
        let mut weak = watched();
        weak.step(|seen| seen.opened = true);
        weak.closed(Cause::DoseDone, Millis::from_secs(500));
        weak.level += rise;
        weak.pass(weak.seen.settles_in.minus(MS));
        assert!(!weak.told(Alarm::WeakResponse), "too early to say");
        weak.level -= rise.min(30);
        weak.pass(MS);
        weak
    };
    assert!(!risen(100).told(Alarm::WeakResponse));
    let mut weak = risen(99);
    assert!(weak.told(Alarm::WeakResponse));
    // It stands through a reset until a watering shows otherwise.
    let mut after = Watched::new(resumed(weak.watch.image(), GRID));
    after.pass(GRID);
    assert!(after.told(Alarm::WeakResponse));
    weak = after;
    weak.closed(Cause::DoseDone, Millis::from_secs(500));
    weak.level += 100;
    weak.pass(weak.seen.settles_in);
    assert!(!weak.told(Alarm::WeakResponse));
}

/// What is known of waterings fades, and stays a share of rise by time.
#[test]
fn the_response_is_that_of_the_last_waterings() {
    let mut watch = watched();
    let water = |watch: &mut Watched, rise| {
        watch.level = 2_000;
        watch.pass(GRID);
        watch.closed(Cause::DoseDone, Millis::from_secs(5_000));
        watch.level += rise;
        watch.pass(watch.seen.settles_in);
    };
    for _ in 0..40 {
        water(&mut watch, 2_000);
        assert!(watch.watch.open_sum <= 60_000 && watch.watch.rise_sum <= 60_000);
        assert!(!watch.told(Alarm::WeakResponse));
    }
    let row = (1..40).find(|_| {
        water(&mut watch, 0);
        watch.told(Alarm::WeakResponse)
    });
    // Of 30 000 to 60 000 s remembered, half as weak takes as long again.
    assert!((6..=14).contains(&row.expect("told in the end")), "{row:?}");
}

/// It fades by halves: beyond 60 000 s of open time, 600 % of rise and sixteen waterings, and not before.
#[test]
fn what_is_known_of_waterings_is_halved_when_it_is_too_much() {
    let known_of = |seconds: &[u32], rise: u16| {
        let mut watch = watched();
        for &seconds in seconds {
            watch.level = 2_000;
            watch.pass(GRID);
            watch.closed(Cause::DoseDone, Millis::from_secs(seconds));
            watch.level += rise;
            watch.pass(watch.seen.settles_in);
        }
        (watch.watch.open_sum, watch.watch.rise_sum)
    };
    let known = |seconds: &[u32]| known_of(seconds, 1_000);
    assert_eq!(known(&[60_000]), (60_000, 1_000));
    assert_eq!(known(&[60_001]), (30_000, 500));
    assert_eq!(known(&[40_000, 40_000]), (40_000, 1_000));
    assert_eq!(known(&[5; 16]), (80, 16_000));
    assert_eq!(known(&[5; 17]), (42, 8_500));
    assert_eq!(known(&[5; 25]), (82, 16_500));
    assert_eq!(known(&[0]), (1, 1_000), "at least a second");
    assert_eq!(known_of(&[5; 8], 7_500), (40, 60_000));
    assert_eq!(known_of(&[5; 8], 7_502), (20, 30_008));
}

/// Through the longest memory and the steepest rise that can be told: 655 % for 1 000 s.
#[test]
fn a_response_is_judged_rightly_however_long_the_watering() {
    let mut weak = watched();
    weak.config.commissioned_rise = u16::MAX;
    weak.pass(GRID);
    weak.closed(Cause::DoseDone, Millis::from_secs((1 << 16) + 2));
    weak.level += 100;
    weak.pass(weak.seen.settles_in);
    assert!(weak.told(Alarm::WeakResponse));
}

#[test]
fn a_limit_that_is_in_the_way_on_two_days_is_told() {
    let mut limited = watched();
    let reached = |limited: &mut Watched, after| {
        limited.step(|seen| (seen.credited, seen.limit_reached) = (after, true));
        limited.told(Alarm::LimitSpent)
    };
    assert!(!reached(&mut limited, GRID));
    assert!(!reached(&mut limited, TWO_DAYS.minus(MS).minus(MS)));
    assert!(reached(&mut limited, MS));
    limited.pass(NO_LIMIT.minus(MS));
    assert!(limited.told(Alarm::LimitSpent));
    limited.pass(MS);
    assert!(!limited.told(Alarm::LimitSpent), "no longer in the way");
    assert!(!reached(&mut limited, GRID), "it counts anew");
    assert!(reached(&mut limited, TWO_DAYS));
    limited.watch.acknowledge();
    limited.pass(MS);
    assert!(!limited.told(Alarm::LimitSpent), "a person has looked");
}

/// Half of the limit's 60 min.
#[test]
fn a_limit_that_falls_short_of_stop_is_told_at_once() {
    let short = |causes: &[(Cause, Millis)]| {
        let mut limited = watched();
        for &(cause, on) in causes {
            limited.closed(cause, on);
        }
        limited.step(|seen| seen.limit_reached = true);
        limited.told(Alarm::LimitSpent)
    };
    let half = Millis::from_mins(30);
    assert!(short(&[(Cause::TimeLimit, half)]));
    assert!(!short(&[(Cause::TimeLimit, half.minus(MS))]));
    assert!(short(&[(Cause::TimeLimit, half.minus(MS)), (Cause::DayLimit, MS)]));
    assert!(short(&[(Cause::DayLimit, half), (Cause::ByHand, MS)]));
    for met in [Cause::StopReached, Cause::DoseDone] {
        assert!(!short(&[(Cause::TimeLimit, half), (met, MS)]), "{met:?}");
        assert!(short(&[(Cause::TimeLimit, MS), (met, MS), (Cause::TimeLimit, half)]), "{met:?}");
    }
    assert!(!short(&[(Cause::StopReached, half)]));
}

#[test]
fn stop_reached_ends_what_was_told_of_the_limit() {
    let mut limited = watched();
    limited.closed(Cause::TimeLimit, Millis::from_mins(30));
    limited.step(|seen| seen.limit_reached = true);
    assert!(limited.told(Alarm::LimitSpent));
    limited.closed(Cause::DoseDone, MS);
    assert!(limited.told(Alarm::LimitSpent));
    limited.closed(Cause::StopReached, MS);
    assert!(!limited.told(Alarm::LimitSpent));
}

#[test]
fn openings_that_the_cut_off_ends_are_told_in_a_row() {
    let mut cut = watched();
    let ends = [Cause::Deadman, Cause::Deadman, Cause::DoseDone, Cause::Deadman, Cause::Deadman];
    for cause in ends {
        cut.closed(cause, MS);
        assert!(!cut.told(Alarm::CutShort));
    }
    cut.closed(Cause::Deadman, MS);
    assert!(cut.told(Alarm::CutShort));
    // A reset forgets nothing of it, and one that was well before adds nothing.
    let mut after = Watched::new(resumed(cut.watch.image(), GRID));
    after.pass(GRID);
    assert!(after.told(Alarm::CutShort));
    after.closed(Cause::DoseDone, MS);
    assert!(!after.told(Alarm::CutShort));
    let mut well = Watched::new(resumed(after.watch.image(), GRID));
    well.closed(Cause::Deadman, MS);
    assert!(!well.told(Alarm::CutShort));
    cut.watch.acknowledge();
    cut.pass(GRID);
    assert!(!cut.told(Alarm::CutShort));
}

#[test]
fn restarts_are_told_when_none_was_followed_by_four_quiet_hours() {
    let mut image = WatchImage::new();
    for restarts in 1..=8 {
        let mut device = Watched::new(resumed(image, GRID));
        device.pass(QUIET.minus(MS));
        assert_eq!(device.told(Alarm::KeepsRestarting), restarts == 8, "{restarts}");
        image = device.watch.image();
    }
    let mut device = Watched::new(resumed(image, GRID));
    device.pass(QUIET.minus(MS));
    assert!(device.told(Alarm::KeepsRestarting));
    device.pass(MS);
    assert!(!device.told(Alarm::KeepsRestarting));
}

#[test]
fn a_boot_tells_of_restarts_before_any_reading() {
    let at_boot = |before| {
        let image = WatchImage { restarts: before, ..WatchImage::new() };
        let mut watch = resumed(image, GRID);
        let is_new = watch.raise_restarts();
        (watch.is_raised(Alarm::KeepsRestarting), is_new)
    };
    assert_eq!(at_boot(6), (false, false));
    assert_eq!(at_boot(7), (true, true));
    assert_eq!(at_boot(255), (true, true));
}

/// Units of 2^16 ms: what raises an alarm when it grows is rounded up, and older by what no record
/// tells; what raises one when it is short is rounded down and left alone.
#[test]
fn ages_err_towards_the_alarm_through_a_reset() {
    const UNIT: u32 = 1 << 16;
    let mut device = watched();
    device.level = 4_500;
    device.closed(Cause::DoseDone, MS);
    device.pass(Millis(3 * UNIT + 1));
    let unwritten = Millis(5 * UNIT);
    let after = resumed(device.watch.image(), unwritten);
    assert_eq!(after.since_water, Millis(9 * UNIT));
    assert_eq!(after.wet_for, Millis(9 * UNIT));
    assert_eq!(after.since_opening, Millis(3 * UNIT));
    device.pass(Millis(UNIT - 1));
    let after = resumed(device.watch.image(), unwritten);
    assert_eq!((after.since_water, after.wet_for), (Millis(9 * UNIT), Millis(9 * UNIT)));
    assert_eq!(after.since_opening, Millis(4 * UNIT));
    // Soil that was not too wet has not become so.
    device.level = 4_499;
    device.pass(MS);
    assert_eq!(resumed(device.watch.image(), unwritten).wet_for, Millis::ZERO);
}

/// What the plants used while nothing was written, by their mean since they got water.
#[test]
fn a_reset_adds_the_use_of_the_time_that_no_record_tells() {
    const UNIT: u32 = 1 << 16;
    let used = |after, unwritten| {
        let mut device = watched();
        device.pass(Millis(after));
        device.step(|seen| (seen.credited, seen.demand) = (Millis::ZERO, Some(Volume(90_000))));
        let resumed = resumed(device.watch.image(), Millis(unwritten));
        assert_eq!(resumed.unseen, resumed.used);
        resumed.used.0
    };
    assert_eq!(used(9 * UNIT, 3 * UNIT), 120_000);
    assert_eq!(used(9 * UNIT, 9 * UNIT), 180_000);
    assert_eq!(used(9 * UNIT, 12 * UNIT), 180_000);
    assert_eq!(used(9 * UNIT, 0), 180_000);
}

#[test]
fn an_image_is_made_of_its_parts_and_of_no_others() {
    let parts = ([0x05, 0x02], [3, 4], [5, 6, 7], Volume(8));
    let image = WatchImage::from_parts(0x0205, parts.1, parts.2, parts.3).expect("ten alarms");
    assert_eq!(image.to_parts(), parts);
    for bit in 0..16 {
        let image = WatchImage::from_parts(1 << bit, parts.1, parts.2, parts.3);
        assert_eq!(image.is_some(), bit < Alarm::ALL.len(), "bit {bit}");
    }
}

/// Where no probe shows it, water that was given counts, unless a fault cut it off or soil is frozen.
#[test]
fn without_a_reading_an_opening_counts_unless_it_was_cut() {
    let counts = |cause, frozen| {
        let mut blind = watched();
        let none = |seen: &mut Seen| (seen.fresh, seen.last, seen.frozen) = (None, None, frozen);
        blind.step(none);
        blind.step(|seen| {
            none(seen);
            seen.closed = Some(Closed { path: Path::Automatic, cause, on: MS });
        });
        blind.watch.since_water().is_zero()
    };
    for cause in
        [Cause::StopReached, Cause::DoseDone, Cause::TimeLimit, Cause::DayLimit, Cause::ByHand]
    {
        assert!(counts(cause, false), "{cause:?}");
        assert!(!counts(cause, true), "{cause:?} in frost");
    }
    for cause in [Cause::Fault(Condition::TankEmpty), Cause::Deadman, Cause::Unordered] {
        assert!(!counts(cause, false), "{cause:?}");
    }
}

/// The mark that a rise is measured from follows by half a percent an hour, and by 0.2 % for each
/// tenth of a degree.
#[test]
fn a_creep_and_a_warming_are_no_water() {
    let risen = |hours: u32, by: u16, warmer: i16| {
        let mut creeping = watched();
        creeping.seen.temperature = Some(DeciCelsius(150));
        creeping.pass(GRID);
        creeping.level += by;
        creeping.step(|seen| {
            seen.credited = Millis::from_hours(hours);
            seen.temperature = Some(DeciCelsius(150 + warmer));
        });
        creeping.watch.since_water().is_zero()
    };
    assert!(risen(0, 150, 0) && !risen(0, 149, 0));
    assert!(risen(1, 200, 0) && !risen(1, 199, 0));
    assert!(risen(5, 400, 0) && !risen(5, 399, 0));
    assert!(risen(0, 190, 2) && !risen(0, 189, 2));
    assert!(risen(0, 150, -9) && !risen(0, 149, -9), "colder air lowers no mark");
}

#[test]
fn what_was_told_and_counted_stands_through_a_reset() {
    let reset = |device: &Watched| {
        let mut after = Watched::new(resumed(device.watch.image(), GRID));
        after.pass(GRID);
        after
    };
    let mut limited = watched();
    limited.closed(Cause::TimeLimit, Millis::from_mins(30));
    assert!(!reset(&limited).told(Alarm::LimitSpent));
    limited.step(|seen| seen.limit_reached = true);
    assert!(reset(&limited).told(Alarm::LimitSpent));
    let mut cycling = watched();
    for _ in 0..3 {
        cycling.closed(Cause::DoseDone, MS);
        cycling.pass(Millis::from_hours(1));
    }
    assert!(!cycling.told(Alarm::ShortCycle));
    let mut cycling = reset(&cycling);
    cycling.closed(Cause::DoseDone, MS);
    assert!(cycling.told(Alarm::ShortCycle));
}

/// Zero is how a maker says that nothing is known of it.
#[test]
fn what_has_no_bound_is_not_told() {
    let mut device = watched();
    device.config.short_cycles = 0;
    device.pass(GRID);
    for _ in 0..3 {
        device.closed(Cause::DoseDone, MS);
        assert!(!device.told(Alarm::ShortCycle));
    }
    // Found weak by a firmware that knew how the soil answers, and then by one that does not.
    let mut image = WatchImage::new();
    image.raised = Alarm::WeakResponse.bit();
    for (commissioned_rise, told) in [(CONFIG.commissioned_rise, true), (0, false)] {
        let mut device = Watched::new(resumed(image, GRID));
        device.config.commissioned_rise = commissioned_rise;
        device.pass(GRID);
        assert_eq!(device.told(Alarm::WeakResponse), told);
    }
}

#[test]
fn an_alarm_told_twice_is_told() {
    for alarm in Alarm::ALL {
        assert!(Alarms::NONE.with(alarm).with(alarm).has(alarm), "{alarm:?}");
    }
}
