//! The promises, restated from a configuration: what a stranger would read out of it.

use drydown::probe::ProbeConfig;
use drydown::quantity::Millis;
use drydown::zone::{Probes, ZoneConfig};

use super::{Sensors, Told};

impl Told {
    /// What a device of this configuration promises. `stop` is where its policy ends, hundredths of a
    /// percent. Window and slots are those every device has but the small ones of exploration.
    pub fn of<P>(config: &ZoneConfig<P>, stop: u16) -> Self {
        let (limits, timing, response) = (config.limits, config.timing, config.response);
        let ms = |time: Millis| u64::from(time.0);
        let usable = match &config.probes {
            Probes::One(probe) | Probes::Two { first: probe, .. } => {
                let ProbeConfig { usable_low, usable_high, .. } = *probe.config();
                (usable_low.0, usable_high.0)
            }
            Probes::None => (0, u16::MAX),
        };
        let frost = match &config.probes {
            Probes::One(probe) | Probes::Two { first: probe, .. } => probe.config().frost,
            Probes::None => config.signals.frost,
        };
        let frost_below = frost.map(|frost| frost.below);
        let pair = match &config.probes {
            Probes::Two { most_apart, small_dose, .. } => Some((*most_apart, ms(*small_dose))),
            _ => None,
        };
        let probed = !matches!(config.probes, Probes::None);
        let mut unit = 64;
        while ms(limits.per_day) / unit > 65_535 {
            unit *= 2;
        }
        Self {
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
            open_step: ms(timing.open_step),
            slack: ms(timing.slack),
            commit_wait: ms(timing.commit_wait),
            jumps: u64::from(timing.jumps_per_day),
            longest_promise: if probed { ms(config.sampling.period) } else { 3_600_000 },
            remote_longest: ms(config.by_hand.remote_longest),
            remote_acknowledge: config.by_hand.remote_acknowledge,
            resets_while_open: timing.resets_while_open,
            probed,
            sample_period: ms(config.sampling.period),
            usable,
            sensors: Sensors::of(config.signals.flow, config.signals.load),
            frost_below,
            lowest_supply_mv: config.signals.lowest_supply_mv,
            stop_and_detection: (stop, response.detection),
            judged: (ms(response.judged_after), ms(response.window), response.tries),
            pair,
            unit,
            slots: 25,
        }
    }
}
