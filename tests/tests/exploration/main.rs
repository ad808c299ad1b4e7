//! Every history of small scenes, to the end.
mod scenes;

use std::hash::Hash;

use drydown::policy::Policy;
use drydown_tests::exploration::{Scene, explore, shortest};
use scenes::Form;

fn trial<P: Policy + Copy>(scene: Scene<P>)
where
    P::Memory: Hash,
{
    let start = std::time::Instant::now();
    let most = std::env::var("MOST").map_or(400_000, |most| most.parse().unwrap());
    let found = explore(&scene, most);
    println!("{} {found} {:?}", scene.name, start.elapsed());
    if found.broken.is_some() {
        for line in shortest(&scene, 1_000_000) {
            println!("  {} {line}", scene.name);
        }
    }
}

fn form() -> Form {
    if std::env::var("DRYDOWN_EXPLORE").is_ok_and(|form| form == "full") {
        Form::Full
    } else {
        Form::Quick
    }
}

#[test]
fn limits() {
    trial(scenes::limits(form()));
}
#[test]
fn band() {
    trial(scenes::band_of_soil(form()));
}
#[test]
fn store() {
    trial(scenes::store(form()));
}
#[test]
fn by_hand() {
    trial(scenes::by_hand(form()));
}
#[test]
fn clock() {
    trial(scenes::clock(form()));
}
#[test]
fn faults() {
    trial(scenes::faults(form()));
}
#[test]
fn lost_record() {
    trial(scenes::lost_record(form()));
}
#[test]
fn sleep() {
    trial(scenes::sleep(form()));
}
#[test]
fn stance() {
    trial(scenes::stance(form()));
}
#[test]
fn bench() {
    trial(scenes::bench(form()));
}
#[test]
fn timer() {
    trial(scenes::timer(form()));
}
