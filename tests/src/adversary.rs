//! A device of which an adversary owns everything but the guard: policy, clock, probe, buttons,
//! link, store, power. An observer watches it.

mod device;
mod dice;
mod history;
mod mischief;
mod policy;
mod settings;

pub use device::{Device, Failure, Tamper};
pub use dice::Dice;
pub use history::{History, Lie};
pub use policy::{Appetite, Wild};
pub use settings::{Changes, InHand};

use drydown::guard::{Limits, ResponseConfig, Timing};
use drydown::policy::{BuiltIn, Hysteresis, Metered, Policy, Timer};
use drydown::quantity::{Millis, Moisture};
use drydown::zone::{ByHand, CheckedZone, Probes, SignalRules, Stance, ZoneConfig};

use crate::configs;
use crate::observer::Told;

/// What the adversary is fond of.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Persona {
    /// Leaves everything alone, but for a greedy policy: L1 is owed to it.
    Calm,
    /// Resets at any instant, most of all while the valve is open.
    ResetStorm,
    /// Resets that find the store wiped.
    WipedStore,
    /// A store that fails, is slow, or keeps and does not confirm.
    LostCommits,
    /// A clock that stops, runs backwards, jitters and jumps.
    JitteringClock,
    /// A main loop that hangs.
    DeadLoop,
    /// An interrupt that dies with the valve open.
    DeadInterrupt,
    /// A link that comes and goes under remote orders.
    LinkFlapping,
    /// Every button at once.
    ButtonMasher,
    /// All of it together, each more rarely.
    Everything,
}

impl Persona {
    /// All of them.
    pub const ALL: [Self; 10] = [
        Self::Calm,
        Self::ResetStorm,
        Self::WipedStore,
        Self::LostCommits,
        Self::JitteringClock,
        Self::DeadLoop,
        Self::DeadInterrupt,
        Self::LinkFlapping,
        Self::ButtonMasher,
        Self::Everything,
    ];

    /// Once in so many chances, if this persona does `what`; `Everything` does it more rarely.
    pub(crate) fn does(self, what: Self, one_in: u64, dice: &mut Dice) -> bool {
        (self == what && dice.hit(one_in)) || (self == Self::Everything && dice.hit(one_in * 6))
    }
}

/// The devices the adversary is let loose on. All numbers are invented.
pub const PLACES: [&str; 6] = ["trough", "pump", "blind", "ration", "pair", "fitted"];

/// One of [`PLACES`].
///
/// # Panics
/// If an invented configuration were refused.
pub fn place(index: usize, appetite: Appetite) -> CheckedZone<Wild> {
    let config = fitted_with(index, Wild { appetite });
    config.check_all_but_policy().expect("an invented configuration")
}

/// One of [`PLACES`] with a policy that has settings.
///
/// # Panics
/// If an invented configuration were refused.
pub fn with_settings(index: usize) -> CheckedZone {
    let policy = match (index, configs::trough().policy, configs::pump().policy) {
        (1, _, BuiltIn::Metered(pump)) => BuiltIn::Metered(Metered { agree: 1, ..pump }),
        (2, ..) => {
            BuiltIn::Timer(Timer { dose: Millis::from_mins(2), every: Millis::from_hours(1) })
        }
        (_, BuiltIn::Hysteresis(trough), _) => {
            BuiltIn::Hysteresis(Hysteresis { agree: 1, soak: Millis::from_mins(2), ..trough })
        }
        (_, policy, _) => policy,
    };
    fitted_with(index, policy).check().expect("an invented configuration")
}

fn fitted_with<P: Policy>(index: usize, policy: P) -> ZoneConfig<P> {
    let trough = configs::trough();
    let base = ZoneConfig {
        probes: trough.probes,
        policy,
        sampling: trough.sampling,
        limits: Limits {
            max_open: Millis::from_mins(8),
            per_day: Millis::from_mins(20),
            local_per_day: Millis::from_mins(15),
            remote_per_day: Millis::from_mins(10),
            bench_per_day: Millis::from_mins(10),
            ..trough.limits
        },
        timing: Timing { open_step: Millis(5_000), watchdog: Millis(8_000), ..trough.timing },
        response: ResponseConfig { judged_after: Millis::from_mins(4), ..trough.response },
        by_hand: trough.by_hand,
        stance: Stance::StayShut,
        signals: SignalRules { lowest_supply_mv: 3_000, ..SignalRules::default() },
        watch: trough.watch,
        window: trough.window,
    };
    match index {
        0 => base,
        1 => {
            let pump = configs::pump();
            ZoneConfig {
                sampling: pump.sampling,
                limits: pump.limits,
                timing: Timing {
                    open_step: Millis(1_000),
                    watchdog: Millis(2_000),
                    run_down: Millis(500),
                    tick: Millis(7),
                    ..pump.timing
                },
                response: pump.response,
                by_hand: pump.by_hand,
                ..base
            }
        }
        2 => ZoneConfig {
            probes: Probes::None,
            limits: Limits {
                max_open: Millis::from_mins(30),
                min_open: Millis::from_mins(1),
                min_closed: Millis::from_mins(10),
                per_day: Millis::from_mins(75),
                fallback_per_day: Millis::from_mins(10),
                local_per_day: Millis::from_mins(60),
                remote_per_day: Millis::from_mins(30),
                bench_per_day: Millis::from_mins(10),
            },
            timing: Timing {
                open_step: Millis(10_000),
                slack: Millis(2_000),
                hold_off: Millis::ZERO,
                watchdog: Millis(60_000),
                jumps_per_day: 24,
                ..base.timing
            },
            ..base
        },
        3 => ZoneConfig {
            stance: Stance::Ration { dose: Millis::from_secs(60), every: Millis::from_hours(6) },
            by_hand: ByHand { remote_acknowledge: true, ..base.by_hand },
            limits: Limits { min_closed: Millis::from_secs(5), ..base.limits },
            ..base
        },
        4 => ZoneConfig {
            probes: Probes::Two {
                first: configs::probe(),
                second: configs::probe(),
                most_apart: 500,
                small_dose: Millis::from_secs(40),
            },
            ..base
        },
        _ => ZoneConfig {
            probes: Probes::One(configs::probe_in_frost(Millis::from_mins(30))),
            signals: SignalRules {
                flow: Some(configs::FLOW),
                load: Some(configs::LOAD),
                ..base.signals
            },
            timing: Timing { run_down: Millis(500), ..base.timing },
            ..base
        },
    }
}

/// A device whose limit is fifty units of the ledger and goes into one opening: by so little water
/// what the charge is widened for hides no unit more. All numbers are invented.
///
/// # Panics
/// If the invented configuration were refused.
pub fn thimble(appetite: Appetite) -> CheckedZone<Wild> {
    let trough = configs::trough();
    let all = Millis(3_200);
    let config = ZoneConfig {
        probes: Probes::None,
        policy: Wild { appetite },
        sampling: trough.sampling,
        limits: Limits {
            max_open: all,
            min_open: Millis(500),
            per_day: all,
            fallback_per_day: all,
            local_per_day: all,
            remote_per_day: all,
            bench_per_day: all,
            ..trough.limits
        },
        timing: Timing { watchdog: Millis::ZERO, hold_off: Millis::ZERO, ..trough.timing },
        response: ResponseConfig { judged_after: Millis(1_000), ..trough.response },
        by_hand: ByHand { remote_longest: all, ..trough.by_hand },
        stance: Stance::StayShut,
        signals: SignalRules::default(),
        watch: trough.watch,
        window: trough.window,
    };
    config.check_all_but_policy().expect("an invented configuration")
}

/// What the observer is told of a device.
pub fn told<P: Policy + Copy>(zone: &CheckedZone<P>) -> Told {
    let config = zone.config();
    Told::of(config, config.policy.stop().map_or(0, Moisture::centi))
}
