//! A run takes its memory at the start: its steps take none, so its length does not matter.

use allocation_counter::{AllocationInfo, measure};
use drydown_sim::run::{Pace, run};
use drydown_sim::scenario::{Setup, Source};

/// A few nodes of the tables in which a report counts by reason: one for each reason first seen.
const FIRST_SEEN: u64 = 8;

/// Prepares and runs a scenario for so many days; what it counted says that it did run.
fn counted(name: &str, days: f64, pace: Pace) -> (AllocationInfo, u64, u32) {
    let source = Source::open(name).expect("it is shipped");
    let (mut steps, mut starts) = (0, 0);
    let info = measure(|| {
        let mut scenario = source.parse().expect("it is valid");
        scenario.days = days;
        let setup = Setup::of(&source, scenario).expect("it is valid");
        let findings = run(&setup, pace, None);
        (steps, starts) = (findings.control_steps, findings.valve.starts);
    });
    (info, steps, starts)
}

#[test]
fn ten_more_days_allocate_nothing_more() {
    // A pot with a pump, a bed in the rain and a trough: hysteresis and metered doses.
    for name in ["dry-week", "raised-bed", "bare-pump", "six-pots"] {
        for pace in [Pace::Wake, Pace::Every(60_000)] {
            let (short, few_steps, few) = counted(name, 2.0, pace);
            let (long, many_steps, many) = counted(name, 12.0, pace);
            assert!(many_steps > few_steps + 1_000 && many > few, "{name}: {many_steps} {many}");
            let more = long.count_total.abs_diff(short.count_total);
            assert!(
                more <= FIRST_SEEN,
                "{name}: {more} allocations in {} more steps and {} more waterings",
                many_steps - few_steps,
                many - few
            );
        }
    }
}

#[test]
fn a_year_holds_no_more_memory_than_a_fortnight() {
    // A chart has as many bins as divide its days evenly: in a fortnight more than in a year.
    let (fortnight, ..) = counted("raised-bed", 14.0, Pace::Wake);
    let (year, _, waterings) = counted("raised-bed", 365.0, Pace::Wake);
    assert!(waterings > 50, "{waterings}");
    let more = year.bytes_max.saturating_sub(fortnight.bytes_max);
    assert!(more < 4_096, "{more} bytes more than {}", fortnight.bytes_max);
}

#[test]
fn the_weather_of_half_a_century_takes_no_more_memory_than_that_of_a_year() {
    let walked = |days: f64| {
        let source = Source::open("raised-bed").expect("it is shipped");
        let mut scenario = source.parse().expect("it is valid");
        scenario.days = days;
        let (mut mm, mut made) = (0.0, 0);
        let info = measure(|| {
            let setup = Setup::of(&source, scenario).expect("it is valid");
            let course = &setup.weather.course;
            let mut today = course.day(0);
            for day in 0..days as u64 {
                course.follow(&mut today, day);
                mm += today.eto_mm_d();
                made += 1;
            }
        });
        assert!(mm > 100.0 && made == days as u64, "{mm} mm in {made} days");
        info
    };
    let (year, half_century) = (walked(365.0), walked(18_262.0));
    assert_eq!(year.bytes_max, half_century.bytes_max);
    assert_eq!(year.count_total, half_century.count_total);
}
