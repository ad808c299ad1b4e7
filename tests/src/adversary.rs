//! A device of which an adversary owns everything but the guard: policy, clock, probe, buttons,
//! link, store, power. An observer watches it.

mod device;
mod mischief;
mod policy;

pub use device::{Device, Failure, Tamper};
pub use policy::{Appetite, Wild};

use drydown::guard::{Limits, ResponseConfig, Timing};
use drydown::probe::ProbeConfig;
use drydown::quantity::Millis;
use drydown::zone::{ByHand, CheckedZone, Probes, SignalRules, Stance, ZoneConfig};

use crate::configs;
use crate::observer::Told;

/// A small fast generator, the same everywhere (splitmix64, Steele, Lea and Flood 2014).
#[derive(Clone, Copy, Debug)]
pub struct Dice(u64);

impl Dice {
    /// Seeded.
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub const fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Below `bound`, which is not zero.
    pub const fn below(&mut self, bound: u64) -> u64 {
        self.roll() % bound
    }

    /// True once in `one_in`.
    pub const fn hit(&mut self, one_in: u64) -> bool {
        self.roll().is_multiple_of(one_in)
    }
}

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
pub const PLACES: [&str; 4] = ["trough", "pump", "blind", "ration"];

/// One of [`PLACES`].
///
/// # Panics
/// If an invented configuration were refused.
pub fn place(index: usize, appetite: Appetite) -> CheckedZone<Wild> {
    let trough = configs::trough();
    let policy = Wild { appetite };
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
    let config = match index {
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
        _ => ZoneConfig {
            stance: Stance::Ration { dose: Millis::from_secs(60), every: Millis::from_hours(6) },
            by_hand: ByHand { remote_acknowledge: true, ..base.by_hand },
            limits: Limits { min_closed: Millis::from_secs(5), ..base.limits },
            ..base
        },
    };
    config.check_all_but_policy().expect("an invented configuration")
}

/// What the observer is told of a device: the promises, restated from its configuration.
pub fn told(zone: &CheckedZone<Wild>) -> Told {
    let config = zone.config();
    let (limits, timing, response) = (config.limits, config.timing, config.response);
    let ms = |time: Millis| u64::from(time.0);
    let usable = match &config.probes {
        Probes::One(probe) => {
            let ProbeConfig { usable_low, usable_high, .. } = *probe.config();
            (usable_low.0, usable_high.0)
        }
        _ => (0, u16::MAX),
    };
    let probed = !matches!(config.probes, Probes::None);
    let mut unit = 64;
    while ms(limits.per_day) / unit > 65_535 {
        unit *= 2;
    }
    Told {
        window: 24 * 3_600_000,
        limits: [
            ms(limits.per_day),
            ms(limits.fallback_per_day),
            ms(limits.local_per_day),
            ms(limits.remote_per_day),
            ms(limits.bench_per_day),
        ],
        max_open: ms(limits.max_open),
        min_open: ms(limits.min_open),
        min_closed: ms(limits.min_closed),
        hold_off: ms(timing.hold_off),
        tick: ms(timing.tick),
        watchdog: ms(timing.watchdog),
        run_down: ms(timing.run_down),
        slack: ms(timing.slack),
        open_step: ms(timing.open_step),
        commit_wait: ms(timing.commit_wait),
        jumps: u64::from(timing.jumps_per_day),
        longest_promise: if probed { ms(config.sampling.period) } else { 3_600_000 },
        remote_longest: ms(config.by_hand.remote_longest),
        remote_acknowledge: config.by_hand.remote_acknowledge,
        resets_while_open: timing.resets_while_open,
        probed,
        sample_period: ms(config.sampling.period),
        usable,
        lowest_supply_mv: config.signals.lowest_supply_mv,
        stop_and_detection: (policy::STOP, response.detection),
        judged: (ms(response.judged_after), ms(response.window), response.tries),
        unit,
        slots: 25,
    }
}
