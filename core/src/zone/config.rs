//! What a zone is told once, and the check that refuses what is unsafe.

use core::fmt;

use super::mode::Stance;
use super::readings::stale_after;
use super::signals::SignalRules;
use crate::calibration::Basis;
use crate::guard::ledger::{Plan, widen};
use crate::guard::{Limits, ResponseConfig, Rules, Timing, Window};
use crate::policy::BuiltIn;
use crate::probe::CheckedProbe;
use crate::quantity::{Millis, Moisture, Volume};
use crate::sentence::Sentence;
use crate::watch::WatchConfig;

/// The probes of a zone.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[allow(clippy::large_enum_variant, reason = "one a zone, by value: there is no heap")]
pub enum Probes {
    /// None: only a policy that needs no readings.
    None,
    /// One.
    One(CheckedProbe),
    /// Two in the same soil.
    Two {
        /// The first.
        first: CheckedProbe,
        /// The second; its curve has the same basis.
        second: CheckedProbe,
        /// Difference, in hundredths of a percent, above which they contradict each other.
        most_apart: u16,
        /// Longest opening while they do.
        small_dose: Millis,
    },
}

/// When the probe is read.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sampling {
    /// Time between samples while closed, 1 s..=6 h.
    pub period: Millis,
    /// Time between samples while open, at least one open step.
    pub open_period: Millis,
    /// Whether samples taken while open are any good. Where the pump disturbs the converter they
    /// are not, and only policies that end by dose are allowed.
    pub while_open: bool,
    /// How long the probe must have power before a sample; where it is sampled while open, three
    /// open periods at the most.
    pub warm_up: Millis,
}

/// What a person may do by hand.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ByHand {
    /// Longest dose a person far away may give; zero: none. Five minutes are common practice.
    pub remote_longest: Millis,
    /// Whether a person far away may lift a flood-class lock-out, once in 24 h.
    pub remote_acknowledge: bool,
    /// How long bench mode lasts: long enough for one pulse after a start, up to 2 h.
    pub bench_lasts: Millis,
}

/// Everything a zone is told.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct ZoneConfig<P = BuiltIn> {
    /// The probes.
    pub probes: Probes,
    /// The policy.
    pub policy: P,
    /// When the probe is read.
    pub sampling: Sampling,
    /// The limits.
    pub limits: Limits,
    /// The times.
    pub timing: Timing,
    /// Response supervision.
    pub response: ResponseConfig,
    /// What a person may do by hand.
    pub by_hand: ByHand,
    /// What to do when automatic cannot water.
    pub stance: Stance,
    /// Optional signals and their limits.
    pub signals: SignalRules,
    /// Alarms.
    pub watch: WatchConfig,
    /// The span of the 24 h limit.
    pub window: Window,
}

/// A bound that a value broke.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Bound {
    /// It must be at least this.
    AtLeast(u32),
    /// It must be at most this.
    AtMost(u32),
}

impl Bound {
    /// A sentence that goes on with the value that broke this bound.
    pub(crate) const fn broken(
        self,
        start: Sentence,
        field: &str,
        value: u32,
        why: &str,
    ) -> Sentence {
        let (side, bound) = match self {
            Self::AtLeast(least) => (", must be at least ", least),
            Self::AtMost(most) => (", must be at most ", most),
        };
        let start = start.words(field).words(" is ").number(value as i64);
        start.words(side).number(bound as i64).words(": ").words(why)
    }
}

/// Why a configuration is refused: field, value, bound and reason.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ConfigError {
    /// The field, as a path.
    pub field: &'static str,
    /// Its value, in the unit of the field: milliseconds for times.
    pub value: u32,
    /// The bound it broke.
    pub bound: Bound,
    /// Why the bound is there.
    pub why: &'static str,
}

impl fmt::Display for ConfigError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.sentence().as_str())
    }
}

impl core::error::Error for ConfigError {}

impl ConfigError {
    /// What is refused and why, for a `const` too.
    pub const fn sentence(&self) -> Sentence {
        self.bound.broken(Sentence::new(), self.field, self.value, self.why)
    }
}

/// A configuration that passed its check. There is no other way to make one.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct CheckedZone<P = BuiltIn> {
    config: ZoneConfig<P>,
    rules: Rules,
}

impl<P: Copy> CheckedZone<P> {
    /// What was checked.
    pub const fn config(&self) -> &ZoneConfig<P> {
        &self.config
    }

    /// How open time becomes ledger units.
    pub const fn ledger_plan(&self) -> &Plan {
        &self.rules.plan
    }

    /// What the readings are a percentage of; `None` without a probe.
    pub const fn basis(&self) -> Option<Basis> {
        match &self.config.probes {
            Probes::None => None,
            Probes::One(probe) | Probes::Two { first: probe, .. } => Some(probe.basis()),
        }
    }

    pub(crate) const fn rules(&self) -> &Rules {
        &self.rules
    }

    /// Puts in a policy that was checked with everything else as it is here.
    pub(super) const fn set_policy(&mut self, policy: P) {
        self.config.policy = policy;
    }
}

/// One bound of the check: a field, its value, and what it must keep to.
macro_rules! require {
    ($field:literal, $value:expr, at least $least:expr, $why:literal) => {
        if $value < $least {
            let bound = Bound::AtLeast($least);
            return Err(ConfigError { field: $field, value: $value, bound, why: $why });
        }
    };
    ($field:literal, $value:expr, at most $most:expr, $why:literal) => {
        if $value > $most {
            let bound = Bound::AtMost($most);
            return Err(ConfigError { field: $field, value: $value, bound, why: $why });
        }
    };
}

const HOUR: u32 = 3_600_000;

impl<P: Copy> ZoneConfig<P> {
    /// What is common practice around what only the maker knows: probe, policy, the longest
    /// opening and the open time in any 24 h. Override single fields with `..ZoneConfig::usual(…)`
    /// and measure `response.judged_after` at commissioning: here it is half the longest opening.
    pub const fn usual(probes: Probes, policy: P, max_open: Millis, per_day: Millis) -> Self {
        Self {
            probes,
            policy,
            sampling: Sampling {
                period: Millis::from_mins(10),
                open_period: Millis::from_secs(10),
                while_open: true,
                warm_up: Millis::from_secs(1),
            },
            limits: Limits {
                max_open,
                min_open: Millis::from_secs(1),
                min_closed: Millis::from_secs(60),
                per_day,
                fallback_per_day: per_day,
                local_per_day: per_day,
                remote_per_day: per_day,
                bench_per_day: per_day,
            },
            timing: Timing {
                open_step: Millis::from_secs(1),
                slack: Millis(500),
                hold_off: Millis::from_secs(60),
                tick: Millis(10),
                watchdog: Millis::from_secs(2),
                run_down: Millis::ZERO,
                commit_wait: Millis::from_secs(2),
                jumps_per_day: 4,
                resets_while_open: 3,
            },
            response: ResponseConfig {
                detection: 100,
                judged_after: Millis(max_open.0.div_ceil(2)),
                window: Millis::from_mins(45),
                tries: 3,
            },
            by_hand: ByHand {
                remote_longest: Millis::from_mins(5).min(max_open),
                remote_acknowledge: false,
                bench_lasts: Millis::from_mins(30),
            },
            stance: Stance::StayShut,
            signals: SignalRules { flow: None, load: None, lowest_supply_mv: 0, frost: None },
            watch: WatchConfig {
                overdue_demand: Volume::from_ml(3_000),
                overdue_after: Millis::from_hours(96),
                too_wet: Moisture::from_percent(65),
                too_wet_after: Millis::from_hours(48),
                short_interval: Millis::from_mins(30),
                short_cycles: 6,
                rise: 150,
                commissioned_rise: 0,
            },
            window: Window::DAY,
        }
    }

    /// Checks everything but the policy's own numbers: for a policy of one's own. The shipped
    /// ones have [`check`](ZoneConfig::check).
    ///
    /// # Errors
    /// The first field that is out of bounds.
    pub const fn check_all_but_policy(self) -> Result<CheckedZone<P>, ConfigError> {
        match self.first_error() {
            Some(error) => Err(error),
            None => Ok(CheckedZone { rules: self.rules(), config: self }),
        }
    }

    const fn first_error(&self) -> Option<ConfigError> {
        let parts = [
            self.check_timing(),
            self.check_limits(),
            self.check_sampling(),
            self.check_supervision(),
            self.check_by_hand(),
            self.check_signals(),
        ];
        let mut part = 0;
        while part < parts.len() {
            if let Err(error) = parts[part] {
                return Some(error);
            }
            part += 1;
        }
        None
    }

    const fn rules(&self) -> Rules {
        let timing = self.timing;
        // Trailing ends at an interrupt too, so a run-down takes up to one tick more of its own.
        let trail = if timing.run_down.is_zero() {
            Millis::ZERO
        } else {
            timing.run_down.plus(timing.tick)
        };
        // The last feeding came by a step that was due, but may have come late by the slack.
        let unwatched = if timing.watchdog.is_zero() {
            Millis::ZERO
        } else {
            timing.watchdog.plus(timing.slack)
        };
        let extra = timing.tick.plus(unwatched).plus(trail);
        let longest_promise = self.longest_promise();
        let plan = Plan::new(
            self.window,
            self.limits.per_day,
            timing.jumps_per_day as u32,
            longest_promise.plus(timing.slack),
            timing.tick,
            extra,
        );
        // While the valve rests a step is due each open step, so a jump is credited no more.
        let jump = timing.open_step.plus(timing.slack);
        let jumps = Millis(jump.0.saturating_mul(timing.jumps_per_day as u32));
        let rest = widen(self.limits.min_closed).plus(jumps);
        Rules { limits: self.limits, timing, response: self.response, longest_promise, rest, plan }
    }

    /// The longest time to the next step.
    const fn longest_promise(&self) -> Millis {
        let closed =
            if let Probes::None = self.probes { Millis(HOUR) } else { self.sampling.period };
        closed.max(self.timing.open_step)
    }

    /// So many forward jumps are credited as much as a clock 2 % fast shows in the window. Spent
    /// water, which must outlast them all, is then free again within little more than two windows.
    const fn most_jumps(&self) -> u32 {
        let window = (self.window.length().0 / 50).saturating_add(self.window.length().0);
        match window.checked_div(self.longest_promise().plus(self.timing.slack).0) {
            Some(jumps) => jumps,
            None => 0,
        }
    }

    const fn check_timing(&self) -> Result<(), ConfigError> {
        let timing = self.timing;
        require!("timing.open_step", timing.open_step.0, at least 100, "a step takes time");
        require!("timing.open_step", timing.open_step.0, at most 10_000,
            "a fault is seen once a step");
        require!("timing.slack", timing.slack.0, at least 1, "no loop is exactly on time");
        require!("timing.slack", timing.slack.0, at most 10_000,
            "a hung loop closes one step and the slack later");
        require!("timing.hold_off", timing.hold_off.0, at most HOUR,
            "a device that restarts often must still come to water");
        require!("timing.tick", timing.tick.0, at least 1, "the interrupt has a period");
        require!("timing.tick", timing.tick.0, at most 1_000,
            "an opening outlasts its permit by up to one tick");
        require!("timing.slack", timing.slack.0, at least timing.tick.0,
            "the clock moves by whole ticks, so a step that is on time may come one late");
        require!("timing.watchdog", timing.watchdog.0, at most 60_000,
            "a dead interrupt leaves the valve open for one watchdog period");
        if !timing.watchdog.is_zero() {
            let step = timing.open_step.plus(timing.slack).plus(timing.tick);
            require!("timing.watchdog", timing.watchdog.0, at least step.0,
                "while open it is fed once a step, which may come late");
        }
        require!("timing.run_down", timing.run_down.0, at most 2_000,
            "a valve may trail its pump by two seconds");
        require!("timing.commit_wait", timing.commit_wait.0, at least 1,
            "a store needs time to confirm");
        require!("timing.commit_wait", timing.commit_wait.0, at most 60_000,
            "an unconfirmed intention must not linger");
        require!("timing.resets_while_open", timing.resets_while_open as u32, at least 1,
            "at least one reset must happen before it locks out");
        require!("timing.resets_while_open", timing.resets_while_open as u32, at most 20,
            "each reset while open gives water nobody metered");
        Ok(())
    }

    const fn check_limits(&self) -> Result<(), ConfigError> {
        let limits = self.limits;
        let plan = self.rules().plan;
        let window = self.window.length();
        require!("limits.min_open", limits.min_open.0, at least self.timing.tick.0,
            "a shorter opening may fall between two looks of the interrupt");
        require!("limits.max_open", limits.max_open.0, at least limits.min_open.0,
            "the longest opening is not shorter than the shortest");
        require!("limits.max_open", limits.max_open.0, at most limits.per_day.0,
            "no single opening may exceed the 24 h limit");
        require!("limits.min_closed", limits.min_closed.0, at least 1_000,
            "relay, motor and pipe need a rest");
        require!("limits.min_closed", limits.min_closed.0, at most 600_000,
            "it protects hardware; time for the soil is the policy's soak");
        require!("limits.per_day", limits.per_day.0, at most window.0,
            "a window holds no more open time than its own length");
        let dearest = plan.holding(limits.min_open) as u32;
        require!("limits.per_day", plan.limit() as u32, at least dearest,
            "the 24 h limit must hold the shortest opening with its charge (in ledger units)");
        require!("limits.fallback_per_day", limits.fallback_per_day.0, at most limits.per_day.0,
            "a path's limit is part of the 24 h limit");
        require!("limits.local_per_day", limits.local_per_day.0, at most limits.per_day.0,
            "a path's limit is part of the 24 h limit");
        require!("limits.remote_per_day", limits.remote_per_day.0, at most limits.per_day.0,
            "a path's limit is part of the 24 h limit");
        require!("limits.bench_per_day", limits.bench_per_day.0, at most limits.per_day.0,
            "a path's limit is part of the 24 h limit");
        Ok(())
    }

    const fn check_sampling(&self) -> Result<(), ConfigError> {
        let sampling = self.sampling;
        require!("sampling.period", sampling.period.0, at least 1_000, "soil is slow");
        require!("sampling.period", sampling.period.0, at most 6 * HOUR,
            "a small pot dries within hours");
        require!("sampling.open_period", sampling.open_period.0, at least self.timing.open_step.0,
            "there is one sample a step at the most");
        require!("sampling.open_period", sampling.open_period.0, at most sampling.period.0,
            "an open valve is watched more closely than a closed one");
        require!("sampling.warm_up", sampling.warm_up.0, at most sampling.period.0,
            "the probe is switched on after the sample before");
        if sampling.while_open {
            let most = stale_after(sampling.open_period);
            require!("sampling.warm_up", sampling.warm_up.0, at most most.0,
                "an opening whose first sample comes later is ended for want of a reading");
        }
        require!("timing.jumps_per_day", self.timing.jumps_per_day as u32, at most self.most_jumps(),
            "credited a promised interval each, they may add no more than a second day");
        if let Probes::Two { first, second, small_dose, .. } = &self.probes {
            require!("probes.second.basis", second.basis() as u32, at least first.basis() as u32,
                "two probes in one soil are read on the same basis");
            require!("probes.second.basis", second.basis() as u32, at most first.basis() as u32,
                "two probes in one soil are read on the same basis");
            require!("probes.small_dose", small_dose.0, at least self.limits.min_open.0,
                "a shorter opening is not worth making");
        }
        Ok(())
    }

    const fn check_supervision(&self) -> Result<(), ConfigError> {
        let response = self.response;
        require!("response.detection", response.detection as u32, at least 1,
            "an answer is a rise");
        require!("response.detection", response.detection as u32, at most 2_000,
            "a rise of more than 20 % may never come");
        require!("response.tries", response.tries as u32, at least 1,
            "one unanswered dose is needed to know");
        require!("response.tries", response.tries as u32, at most 10,
            "each try gives water that may go to the floor");
        require!("response.judged_after", response.judged_after.0, at least 1,
            "some water must have been given");
        require!("response.judged_after", response.judged_after.0, at most self.limits.per_day.0,
            "water that a day's limit cannot reach is never judged");
        require!("response.window", response.window.0, at least 1_000,
            "water takes time to the probe");
        require!("response.window", response.window.0, at most 24 * HOUR,
            "what nobody judges within a day runs on");
        require!("watch.rise", self.watch.rise as u32, at least 1,
            "otherwise every reading passes for water and nothing is ever overdue");
        require!("watch.overdue_demand", self.watch.overdue_demand.0, at least 1,
            "an alarm that is always raised tells nothing");
        require!("watch.overdue_after", self.watch.overdue_after.0, at least 1,
            "an alarm that is always raised tells nothing");
        require!("watch.too_wet_after", self.watch.too_wet_after.0, at least 1,
            "an alarm that is always raised tells nothing");
        Ok(())
    }

    const fn check_signals(&self) -> Result<(), ConfigError> {
        if let Some(flow) = self.signals.flow {
            require!("signals.flow.most", flow.most.0, at least flow.least.0,
                "no flow would be right");
            require!("signals.flow.closed_after", flow.closed_after.0, at least 1_000,
                "a line drains after closing");
            require!("signals.flow.closed_after", flow.closed_after.0, at most HOUR,
                "a valve that does not close floods");
        }
        if let Some(load) = self.signals.load {
            require!("signals.load.most_ma", load.most_ma as u32, at least load.least_ma as u32,
                "no current would be right");
        }
        if let Some(frost) = self.signals.frost {
            require!("signals.frost", !matches!(self.probes, Probes::None) as u32, at most 0,
                "a probe has a frost hold of its own");
            let (below, release) = (frost.below.0 as i32, frost.release.0 as i32);
            let under = if below < 0 { below.unsigned_abs() } else { 0 };
            require!("signals.frost.below (0.1 degrees under zero)", under, at most 0,
                "water freezes at zero, in pipe and valve as in the soil");
            let release = if release < 0 { 0 } else { release.unsigned_abs() };
            require!("signals.frost.release", release, at least below.unsigned_abs() + 1,
                "a hold that begins and ends at one temperature flutters (0.1 °C)");
            require!("signals.frost.release", release, at most 1_000,
                "air that never comes to be so warm holds for good (0.1 °C)");
            require!("signals.frost.release_after", frost.release_after.0, at most 24 * HOUR,
                "a day above it is a thaw");
        }
        Ok(())
    }

    const fn check_by_hand(&self) -> Result<(), ConfigError> {
        require!("by_hand.remote_longest", self.by_hand.remote_longest.0,
            at most self.limits.max_open.0, "no opening is longer than the longest");
        let rest = self.rules().rest.max(self.timing.hold_off);
        let one_pulse = rest.plus(self.timing.commit_wait).plus(self.timing.open_step);
        require!("by_hand.bench_lasts", self.by_hand.bench_lasts.0, at least one_pulse.0,
            "a pulse waits for hold-off, the valve's rest and its record");
        require!("by_hand.bench_lasts", self.by_hand.bench_lasts.0, at most 2 * HOUR,
            "bench mode ends by itself");
        if let Some((dose, every)) = self.stance.dose() {
            require!("stance.dose", dose.0, at least self.limits.min_open.0,
                "a shorter opening is not worth making");
            require!("stance.dose", dose.0, at most self.limits.max_open.0,
                "a dose is one opening");
            let plan = self.rules().plan;
            let longest = plan.longest(plan.share(self.limits.fallback_per_day));
            require!("stance.dose", dose.0, at most longest.0,
                "its own limit must hold one dose with its charge");
            require!("stance.every", every.0, at least widen(self.limits.min_closed).0,
                "doses keep the shortest closed time");
        }
        Ok(())
    }
}

impl ZoneConfig<BuiltIn> {
    /// Checks everything. In a `const` an unsafe configuration does not compile:
    ///
    /// ```
    /// # use drydown::{checked, policy::{BuiltIn, Timer}, quantity::Millis};
    /// # use drydown::zone::{CheckedZone, Probes, ZoneConfig};
    /// # const DAILY: BuiltIn =
    /// #     BuiltIn::Timer(Timer { dose: Millis::from_secs(30), every: Millis::from_hours(24) });
    /// const PER_DAY: Millis = Millis::from_mins(10);
    /// const ZONE: CheckedZone =
    ///     checked!(ZoneConfig::usual(Probes::None, DAILY, Millis::from_mins(10), PER_DAY).check());
    /// # assert_eq!(ZONE.config().limits.max_open, PER_DAY);
    /// ```
    ///
    /// A single opening longer than the 24 h limit ends the build with `limits.max_open`:
    ///
    /// ```compile_fail,E0080
    /// # use drydown::{checked, policy::{BuiltIn, Timer}, quantity::Millis};
    /// # use drydown::zone::{CheckedZone, Probes, ZoneConfig};
    /// # const DAILY: BuiltIn =
    /// #     BuiltIn::Timer(Timer { dose: Millis::from_secs(30), every: Millis::from_hours(24) });
    /// const PER_DAY: Millis = Millis::from_mins(10);
    /// const ZONE: CheckedZone =
    ///     checked!(ZoneConfig::usual(Probes::None, DAILY, Millis::from_mins(11), PER_DAY).check());
    /// # assert_eq!(ZONE.config().limits.max_open, PER_DAY);
    /// ```
    ///
    /// # Errors
    /// The first field that is out of bounds.
    pub const fn check(self) -> Result<CheckedZone, ConfigError> {
        match self.check_policy() {
            Err(error) => Err(error),
            Ok(()) => self.check_all_but_policy(),
        }
    }

    const fn check_policy(&self) -> Result<(), ConfigError> {
        let basis = match &self.probes {
            Probes::None => None,
            Probes::One(probe) | Probes::Two { first: probe, .. } => Some(probe.basis()),
        };
        let (band, agree, soak, wants) = match &self.policy {
            BuiltIn::Hysteresis(policy) => {
                require!("sampling.while_open", self.sampling.while_open as u32, at least 1,
                    "a stop level can only be seen by sampling while open");
                (policy.band, policy.agree, policy.soak, policy.basis)
            }
            BuiltIn::Metered(policy) => {
                let dose = policy.dose;
                require!("policy.dose", dose.0, at least self.limits.min_open.0,
                    "a shorter opening is not worth making");
                require!("policy.dose", dose.0, at most self.limits.max_open.0,
                    "a dose is one opening");
                let plan = self.rules().plan;
                require!("limits.per_day", plan.limit() as u32, at least plan.holding(dose) as u32,
                    "the 24 h limit must hold one dose with its charge (in ledger units)");
                require!("policy.basis", policy.basis as u32, at most Basis::Volumetric as u32,
                    "from a share of the probe's span follows no amount of water");
                (policy.band, policy.agree, policy.soak, policy.basis)
            }
            BuiltIn::Timer(policy) => {
                require!("policy.dose", policy.dose.0, at least self.limits.min_open.0,
                    "a shorter opening is not worth making");
                require!("policy.dose", policy.dose.0, at most self.limits.max_open.0,
                    "a dose is one opening");
                let plan = self.rules().plan;
                let needed = plan.holding(policy.dose) as u32;
                require!("limits.per_day", plan.limit() as u32, at least needed,
                    "the 24 h limit must hold one dose with its charge (in ledger units)");
                require!("policy.every", policy.every.0, at least widen(self.limits.min_closed).0,
                    "doses keep the shortest closed time");
                return Ok(());
            }
        };
        require!("policy.agree", agree as u32, at least 1, "one reading must say so");
        require!("policy.agree", agree as u32, at most 10, "a plant waits for all of them");
        require!("policy.soak", soak.0, at least self.limits.min_closed.0,
            "the soak is not shorter than the shortest closed time");
        let Some(basis) = basis else {
            return Err(ConfigError {
                field: "probes",
                value: 0,
                bound: Bound::AtLeast(1),
                why: "this policy decides by readings",
            });
        };
        let floor = match &self.probes {
            Probes::None => 0,
            Probes::One(probe) => probe.pull_out_floor().centi() as u32,
            Probes::Two { first, second, .. } => {
                let floors = (first.pull_out_floor().centi(), second.pull_out_floor().centi());
                if floors.0 > floors.1 { floors.0 as u32 } else { floors.1 as u32 }
            }
        };
        let wettest = match &self.probes {
            Probes::None => Moisture::FULL,
            Probes::One(probe) => probe.wettest(),
            Probes::Two { first, second, .. } => {
                let (first, second) = (first.wettest(), second.wettest());
                if first.centi() < second.centi() { first } else { second }
            }
        };
        let start = band.start().centi() as u32;
        require!("policy.start", start, at least floor,
            "from drier soil a probe pulled out could pass for thirst (hundredths of a percent)");
        // Response supervision judges only what begins more than this below stop.
        let answered = start + 2 * self.response.detection as u32 + 1;
        require!("policy.stop", band.stop().centi() as u32, at least answered,
            "from start on water must owe an answer (hundredths of a percent)");
        require!("policy.stop", band.stop().centi() as u32, at most wettest.centi() as u32,
            "beyond its wettest point the curve shows nothing wetter (hundredths of a percent)");
        require!("policy.basis", wants as u32, at least basis as u32,
            "levels and curve are percent of the same thing");
        require!("policy.basis", wants as u32, at most basis as u32,
            "levels and curve are percent of the same thing");
        Ok(())
    }
}
