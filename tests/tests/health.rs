//! A healthy zone stays silent.
use drydown_tests::health::{DeviceYear, tallied};

#[test]
fn try_it() {
    let n: u64 = std::env::var("N").map_or(64, |n| n.parse().expect("a number"));
    let years: Vec<_> = (0..n).map(DeviceYear).collect();
    let (with, without) = tallied(&years);
    println!("{with:#?}\n{without:#?}");
    if std::env::var("D").is_ok() {
        for year in with.loud.iter().chain(&without.loud) {
            let f = DeviceYear(*year).lived();
            let title = DeviceYear(*year).scenario().lines().next().unwrap().to_owned();
            println!(
                "{title} {} starts {} stress {:.0} wet {:.0} {:?} {:?} {:?} refused {:?} ends {:?}",
                DeviceYear(*year).knows_demand(),
                f.valve.starts,
                f.plants[0].stress_h,
                f.plants[0].too_wet_h,
                f.alarms.iter().map(|(t, a)| (t, a.1)).collect::<Vec<_>>(),
                f.probe_faults.iter().map(|(t, a)| (t, a.1)).collect::<Vec<_>>(),
                f.lock_outs.iter().map(|(t, a)| (t, a.1)).collect::<Vec<_>>(),
                f.refusals,
                f.valve.ended_by
            );
        }
    }
}
