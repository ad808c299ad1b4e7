//! The whole device under cuts at every write, every erase and every word of its life: once,
//! twice, and a third time at drawn places.
//!
//! A cut falls before and within each word that is programmed and in each stage of an erase. After
//! each the boot must find the old record and settings or the new, and a book that shows no less
//! water than was given; after the first the device must go on watering within its limit, without
//! a lock-out, for more than a day.
//!
//! `DRYDOWN_CUTS=full` lives thirty days, and four on a second kind of flash: `tests/power_cuts` is
//! the long run.

use drydown::persist::Settings;
use drydown::quantity::Moisture;
use drydown::zone::{BootCause, Event};
use drydown_tests::configs::pump;
use drydown_tests::flash::{MockFlash, Powered};

use super::device::{Device, End};
use super::doubles::{ErasedTooSoon, NeverChecked};
use super::limit::{check, goes_on};

const HOUR: u64 = 3_600_000;

/// Twelve slots a page, so that pages turn often.
type Small = MockFlash<1_360, 16, 2>;
/// Pages and words as many controllers have them.
type Usual = MockFlash<4_096, 4, 2>;

/// How much of a life is cut, and how.
#[derive(Clone, Copy)]
struct Extent {
    hours: u64,
    /// Everything the device writes after a cut is cut again, up to so many writes.
    again: u32,
    /// One second cut in so many is followed by a third.
    third: u64,
    /// One second cut in so many is followed by a day of life.
    lives_on: u64,
}

/// What was done, to the last.
#[derive(Clone, Copy, PartialEq, Eq, Default, Debug)]
struct Counts {
    /// Turns and changes of settings in which the flash worked.
    writes: u32,
    erases: u32,
    changes: u32,
    /// Resets that are part of the life, and those of them that water flowed in.
    resets: u32,
    resets_while_open: u32,
    once: u64,
    twice: u64,
    thrice: u64,
    /// Stretches of more than a day that were lived after a cut.
    lived_on: u64,
}

/// What the device does next.
#[derive(Clone, Copy)]
enum Deed {
    Turn,
    Change(Settings),
}

fn perform<F: Powered>(device: &mut Device<F>, deed: Deed, end: u64) -> End {
    match deed {
        Deed::Turn => device.turn(end),
        Deed::Change(settings) => device.change(settings),
    }
}

/// The device after a cut at this unit of work and the boot that follows; `None`: the deed was
/// done before.
fn cut<F: Powered>(
    before: &Device<F>,
    deed: Deed,
    unit: u64,
    seed: u64,
) -> Result<Option<Device<F>>, String> {
    let mut device = before.clone();
    device.flash().reseed(seed);
    device.flash().set_budget(Some(unit));
    if perform(&mut device, deed, u64::MAX) == End::Time {
        return Ok(None);
    }
    device.boot(BootCause::BrownOut)?;
    check(&device)?;
    Ok(Some(device))
}

/// `SplitMix64` (Steele, Lea and Flood 2014), as a hash.
fn mixed(seed: u64) -> u64 {
    let mut z = seed.wrapping_add(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// Cuts what a device writes after a cut, beginning with the deed that was cut.
fn cut_again<F: Powered>(
    device: &Device<F>,
    first: Deed,
    extent: &Extent,
    counts: &mut Counts,
) -> Result<(), String> {
    let (mut device, mut deed, mut writes) = (device.clone(), first, 0);
    while writes < extent.again {
        let before = device.clone();
        perform(&mut device, deed, u64::MAX);
        let wrote = matches!(deed, Deed::Change(_)) || device.records.len() > before.records.len();
        if wrote {
            writes += 1;
            for unit in 0.. {
                let seed = mixed(counts.twice ^ unit << 40);
                let place = |error| format!("write {writes} after it, unit {unit}: {error}");
                let Some(twice) = cut(&before, deed, unit, seed).map_err(place)? else { break };
                counts.twice += 1;
                if counts.twice.is_multiple_of(extent.third) {
                    counts.thrice += u64::from(third(twice.clone(), seed).map_err(place)?);
                }
                if counts.twice.is_multiple_of(extent.lives_on) {
                    counts.lived_on += 1;
                    lives_on(twice).map_err(place)?;
                }
            }
        }
        deed = Deed::Turn;
    }
    Ok(())
}

/// A third cut at a drawn place; says whether it fell.
fn third<F: Powered>(mut device: Device<F>, seed: u64) -> Result<bool, String> {
    // As far as the third record, or a page that is begun and erased.
    device.flash().set_budget(Some(mixed(seed) % 200));
    if device.live(device.time + 6 * HOUR, |_| {}) == End::Time {
        return Ok(false);
    }
    device.boot(BootCause::BrownOut)?;
    check(&device)?;
    // What only reads well for a while is found out by the boots that follow.
    device.boot(BootCause::BrownOut)?;
    device.boot(BootCause::BrownOut)?;
    Ok(true)
}

/// Lives on within the limit. Resets in a row that found water flowing may have locked it.
fn lives_on<F: Powered>(mut device: Device<F>) -> Result<(), String> {
    device.live(device.time + 26 * HOUR, |_| {});
    check(&device)
}

/// Lives, and at every write and erase is cut. Each day has a reset, every second day one while
/// water flows; every third day a person changes settings.
fn lived<F: Powered>(flash: F, extent: &Extent) -> Result<Counts, String> {
    let mut device = Device::new(&pump().check().expect("the invented pump"), flash);
    let mut counts = Counts::default();
    let (mut next_reset, mut next_change) = (2 * HOUR, 4 * HOUR);
    while device.time < extent.hours * HOUR {
        let flowing = counts.resets.is_multiple_of(2);
        if device.time >= next_reset && device.is_open() == flowing {
            device.boot(BootCause::BrownOut)?;
            counts.resets += 1;
            counts.resets_while_open += u32::from(flowing);
            next_reset += 23 * HOUR;
        }
        let mut deed = Deed::Turn;
        if device.time >= next_change && !device.is_open() {
            let start = Some(Moisture::from_centi(2_400 + (counts.changes % 50) as u16));
            deed = Deed::Change(Settings { start, ..Settings::default() });
            counts.changes += 1;
            next_change += 71 * HOUR;
        }
        let before = device.clone();
        perform(&mut device, deed, u64::MAX);
        check(&device)?;
        if matches!(deed, Deed::Change(_)) || device.records.len() > before.records.len() {
            counts.writes += 1;
            for unit in 0.. {
                let place = |error| format!("{} s, unit {unit}: {error}", before.time / 1_000);
                let seed = mixed(counts.once);
                let Some(cut) = cut(&before, deed, unit, seed).map_err(place)? else { break };
                counts.once += 1;
                cut_again(&cut, deed, extent, &mut counts).map_err(place)?;
                counts.lived_on += 1;
                goes_on(cut).map_err(place)?;
            }
        }
        if device.log.contains(&Event::LockedOut(drydown::guard::LockOut::ResetsWhileOpen)) {
            return Err("the life itself locks out".into());
        }
        device.forget();
    }
    counts.erases = device.flash().erases();
    Ok(counts)
}

fn is_full() -> bool {
    std::env::var("DRYDOWN_CUTS").is_ok_and(|form| form == "full")
}

/// In every run of the tests.
const QUICK: Extent = Extent { hours: 8, again: 1, third: 16, lives_on: 256 };

#[test]
fn a_cut_anywhere_in_a_life_is_survived() {
    if !is_full() {
        let expected = Counts {
            writes: 36,
            erases: 5,
            changes: 1,
            resets: 1,
            resets_while_open: 1,
            once: 628,
            twice: 25_212,
            thrice: 1_575,
            lived_on: 726,
        };
        assert_eq!(lived(Small::new(2), &QUICK), Ok(expected));
        return;
    }
    let full = Extent { hours: 30 * 24, lives_on: 1_024, ..QUICK };
    let small = lived(Small::new(2), &full).unwrap();
    println!("words of 16 bytes, thirty days: {small:?}");
    // Four times as many words a record, and pages that hold three times as many records.
    let usual = lived(Usual::new(2), &Extent { hours: 4 * 24, ..full }).unwrap();
    println!("words of 4 bytes, four days: {usual:?}");
    assert!(small.once + small.twice + usual.once + usual.twice >= 1_000_000);
    let expected = Counts {
        writes: 2_093,
        erases: 306,
        changes: 11,
        resets: 32,
        resets_while_open: 16,
        once: 40_156,
        twice: 1_812_512,
        thrice: 109_675,
        lived_on: 41_926,
    };
    assert_eq!(small, expected);
    assert!(usual.writes > 100 && usual.twice > 50 * usual.once, "{usual:?}");
}

#[test]
fn a_life_notices_a_store_that_checks_no_crc() {
    let found = lived(NeverChecked::new(Small::new(2)), &QUICK).unwrap_err();
    assert!(found.contains("neither old nor new"), "{found}");
}

#[test]
fn a_life_notices_a_store_that_erases_too_soon() {
    let found = lived(ErasedTooSoon::new(Small::new(2)), &QUICK).unwrap_err();
    assert!(found.contains("neither old nor new"), "{found}");
}
