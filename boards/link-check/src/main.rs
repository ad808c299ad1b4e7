//! The whole control path, linked for a bare chip. It fails to link if any of it can panic.
#![no_std]
#![no_main]

use core::hint::black_box;

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::cutoff::{Cutoff, Handle, Sequence, Words};
use drydown::guard::{Limits, ResponseConfig, Timing, Window};
use drydown::logbook::Logbook;
use drydown::persist::RamStore;
use drydown::policy::{BuiltIn, Hysteresis};
use drydown::probe::{Burst, ProbeConfig, Rail};
use drydown::quantity::{Millis, Moisture, RawCounts, Volume};
use drydown::soil::Band;
use drydown::watch::WatchConfig;
use drydown::zone::{
    Boot, BootCause, ByHand, CheckedZone, Inputs, Probes, Retained, Sampling, SignalRules, Stance,
    Zone, ZoneConfig, turn,
};
use panic_never as _;

/// Numbers are invented; an unsafe one would not compile.
const CONFIG: CheckedZone = {
    let (air, water) = (RawCounts(2_850), RawCounts(870));
    let ends = (
        CurvePoint { raw: air, moisture: Moisture::ZERO },
        CurvePoint { raw: water, moisture: Moisture::FULL },
    );
    let Ok(curve) = Curve::two_point(ends.0, ends.1, Basis::Volumetric) else {
        panic!("the curve is refused")
    };
    let usable = (RawCounts(100), RawCounts(3_900));
    let Ok(probe) = ProbeConfig::around(curve, air, water, usable, Rail::Low).check() else {
        panic!("the probe is refused")
    };
    let Ok(band) = Band::new(Moisture::from_percent(25), Moisture::from_percent(35), 500) else {
        panic!("the band is refused")
    };
    let limit = Millis::from_mins(60);
    let config = ZoneConfig {
        probes: Probes::One(probe),
        policy: BuiltIn::Hysteresis(Hysteresis {
            band,
            basis: Basis::Volumetric,
            agree: 3,
            soak: Millis::from_mins(20),
        }),
        sampling: Sampling {
            period: Millis::from_mins(10),
            open_period: Millis::from_secs(10),
            while_open: true,
            warm_up: Millis(200),
        },
        limits: Limits {
            max_open: Millis::from_mins(30),
            min_open: Millis::from_secs(10),
            min_closed: Millis::from_secs(60),
            per_day: limit,
            fallback_per_day: limit,
            local_per_day: limit,
            remote_per_day: limit,
            bench_per_day: limit,
        },
        timing: Timing {
            open_step: Millis(1_000),
            slack: Millis(500),
            hold_off: Millis::from_secs(60),
            tick: Millis(10),
            watchdog: Millis(2_000),
            run_down: Millis::ZERO,
            commit_wait: Millis::from_secs(2),
            jumps_per_day: 4,
            resets_while_open: 3,
        },
        response: ResponseConfig {
            detection: 100,
            judged_after: Millis::from_mins(10),
            window: Millis::from_mins(20),
            tries: 3,
        },
        by_hand: ByHand {
            remote_longest: Millis::from_mins(5),
            remote_acknowledge: false,
            bench_lasts: Millis::from_mins(30),
        },
        stance: Stance::StayShut,
        signals: SignalRules { flow: None, load: None, lowest_supply_mv: 0 },
        watch: WatchConfig {
            overdue_demand: Volume::from_ml(3_000),
            overdue_after: Millis::from_hours(72),
            too_wet: Moisture::from_percent(50),
            too_wet_after: Millis::from_hours(48),
            short_interval: Millis::from_hours(4),
            short_cycles: 3,
            rise: 200,
            commissioned_rise: 0,
        },
        window: Window::DAY,
    };
    match config.check() {
        Ok(checked) => checked,
        Err(_) => panic!("the configuration is refused"),
    }
};

static WORDS: Words = Words::new();

/// Where the linker begins.
#[unsafe(no_mangle)]
pub extern "C" fn start() -> ! {
    let mut store = RamStore::new();
    let mut retained = Retained::empty();
    let mut cutoff = Cutoff::new(&WORDS, Sequence::SINGLE);
    let mut handle = Handle::new(&WORDS);
    let mut logbook = Logbook::<16>::new();
    let boot = black_box(Boot::Start(BootCause::PowerOn));
    let mut zone = Zone::boot(CONFIG, boot, &store.stored(), retained.take());
    loop {
        black_box(cutoff.tick(black_box(0)));
        let (now, drive) = handle.sample();
        let burst = Burst::single(black_box(RawCounts(0)));
        let inputs = black_box(Inputs { drive, burst: Some(burst), ..Inputs::default() });
        let outcome = turn(&mut zone, &mut store, now, &inputs);
        handle.apply(&outcome);
        logbook.note(now, &outcome);
        black_box(zone.retain(&mut retained));
        black_box(handle.may_feed());
        black_box(&logbook);
    }
}
