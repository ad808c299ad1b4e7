//! The whole device under cuts: the 24 h limit holds over all its lives, and it goes on watering.

use drydown::persist::flash::years_of_life;
use drydown::zone::{BootCause, Event};
use drydown_tests::configs::pump;
use drydown_tests::flash::{MockFlash, Powered};

use super::device::{Device, End};
use super::doubles::NeverReadBack;

const HOUR: u64 = 3_600_000;
const DAY: u64 = 24 * HOUR;
/// Open time in any 24 h that the configuration under test allows.
const LIMIT: u64 = 90_000;

/// Twelve slots a page, so that pages turn often.
type Small = MockFlash<1_360, 16, 2>;
/// Pages as many controllers have them: forty slots.
type Large = MockFlash<4_096, 4, 2>;

fn device<F: Powered>(flash: F) -> Device<F> {
    Device::new(&pump().check().expect("the invented pump"), flash)
}

/// What must hold of a device at any time.
pub fn check<F: Powered>(device: &Device<F>) -> Result<(), String> {
    let most = device.most_in(DAY);
    if most > LIMIT {
        return Err(format!("{most} ms of water within 24 h, the limit is {LIMIT} ms"));
    }
    if device.flash().misused() {
        return Err("a word was programmed twice".into());
    }
    Ok(())
}

/// Lives on for a day and two hours: waters again, within the limit, and is not locked out.
pub fn goes_on<F: Powered>(mut device: Device<F>) -> Result<(), String> {
    let (seen, before) = (device.log.len(), device.water.len());
    if device.live(device.time + DAY + 2 * HOUR, |_| {}) == End::Cut {
        return Err("cut without a cut".into());
    }
    check(&device)?;
    if device.water.len() == before {
        return Err(format!("never watered again: {:?}", &device.log[seen..]));
    }
    let locked = device.log.iter().any(|event| matches!(event, Event::LockedOut(_)));
    if locked { Err("locked out".into()) } else { Ok(()) }
}

#[test]
fn without_a_cut_the_limit_is_used_up_and_kept() {
    let mut device = device(Small::new(1));
    device.live(3 * DAY, |_| {});
    check(&device).unwrap();
    // A witness that the limit is what holds it: it comes within three doses of it.
    assert!(device.most_in(DAY) > LIMIT - 3 * 5_000, "{} ms", device.most_in(DAY));
    // Seventeen doses fit into the limit.
    assert!(device.water.len() > 2 * 17, "{} openings", device.water.len());
    assert!(device.flash().erases() > 10, "{} pages were erased", device.flash().erases());
}

/// Cut after cut at drawn places: nothing that was given is ever forgotten.
#[test]
fn storms_of_cuts_widen_no_limit() {
    let mut watered = 0;
    for seed in 0..60_u64 {
        let mut device = device(Small::new(seed));
        let mut work = seed;
        for _ in 0..40 {
            // A cheap spread of cut places: multiples of a prime.
            work = (work + 7_919) % 997;
            device.flash().set_budget(Some(work % [9, 60, 400, 997][(work % 4) as usize]));
            device.live(device.time + 5 * HOUR, |_| {});
            let kept = device.boot(BootCause::BrownOut).and_then(|()| check(&device));
            kept.unwrap_or_else(|error| panic!("{seed}: {error}"));
        }
        watered += device.water.len();
    }
    assert!(watered > 600, "{watered} openings");
}

/// A flash that in each life works for an hour, and for four more programs nothing and says it
/// did; gives how often the zone watered in those.
fn dead_at_times<F: Powered>(flash: F) -> Result<usize, String> {
    let mut device = device(flash);
    let mut unrecorded = 0;
    for _ in 0..12 {
        device.live(device.time + HOUR, |_| {});
        device.flash().idle_programs(u32::MAX);
        let before = device.water.len();
        device.live(device.time + 4 * HOUR, |_| {});
        unrecorded += device.water.len() - before;
        device.flash().idle_programs(0);
        device.boot(BootCause::BrownOut)?;
    }
    check(&device)?;
    Ok(unrecorded)
}

#[test]
fn an_idle_write_is_no_record_and_opens_nothing() {
    assert_eq!(dead_at_times(Large::new(3)), Ok(0));
}

#[test]
fn this_check_notices_a_store_that_reads_nothing_back() {
    let found = dead_at_times(NeverReadBack::new(Large::new(3))).unwrap_err();
    assert!(found.contains("neither old nor new"), "{found}");
}

/// Records a day of a zone that waters, and what it means for the flash.
#[test]
fn the_life_of_the_flash_is_what_the_documentation_says() {
    let mut device = device(Large::new(5));
    device.live(DAY, |_| {});
    let (records, openings) = (device.records.len(), device.water.len());
    device.live(21 * DAY, |_| {});
    let records = (device.records.len() - records) as f64 / 20.0;
    let openings = (device.water.len() - openings) as f64 / 20.0;
    // Age records, and three for each opening.
    let expected = 24.0 + 3.0 * openings;
    assert!(records <= expected && records > 0.8 * expected, "{records}, {openings} openings");
    // 2 pages of 4 096 B take 36 slots of 112 B beside their heads; 2 are taken over, 3 to spare.
    assert_eq!(years_of_life(4_096, 4, 2, 1, 10_000, 48), 2 * 31 * 10_000 / (48 * 365));
    // Flash that outlives the count of years is said to last as long as can be said.
    assert_eq!(years_of_life(1 << 20, 4, 1_000, 1, u32::MAX, 1), u32::MAX);
    // What the flash itself counted: a page erased for each 31 records, or for more.
    let per_erase = device.records.len() as f64 / f64::from(device.flash().erases());
    assert!(per_erase >= 31.0, "{per_erase} records for each page erased");
}
