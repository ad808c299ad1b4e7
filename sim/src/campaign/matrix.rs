//! The matrix: which faults, when, with which policy, with or without a person.

use crate::fault::{Kind, Schedule, Scheduled};
use crate::person::{Act, Repeated};
use crate::scenario::Setup;
use crate::scenario::schema::PolicyKind;

use super::oracle::row_of;

const HOUR_MS: u64 = 3_600_000;
const DAY_MS: u64 = 24 * HOUR_MS;
/// How long before the fault a person presses the button: it strikes while water runs.
const PRESSED_BEFORE_MS: u64 = 60_000;

/// Whether a person waters as well.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Mode {
    /// Nobody is there.
    Automatic,
    /// A person gives the longest dose by hand once a day, a minute before the hour of the fault for
    /// the first time.
    ByHand,
}

impl Mode {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Automatic, Self::ByHand];

    /// Its name in machine-readable output.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Automatic => "automatic",
            Self::ByHand => "by_hand",
        }
    }

    /// The prepared scenario with this mode's person, if one is there, for a fault at this hour.
    /// `far_away`: they press on a screen, not at the device.
    pub fn setup(self, base: &Setup, hour: u8, far_away: bool) -> Setup {
        let mut setup = base.clone();
        if self == Self::ByHand {
            setup.acts.add(Repeated {
                act: if far_away { Act::WatersFromAfar } else { Act::WatersByHand },
                from_ms: onset_ms(hour) - PRESSED_BEFORE_MS,
                every_ms: Some(DAY_MS),
                amount: f64::from(base.zone.config().limits.max_open.0) / 1e3,
            });
        }
        setup
    }
}

/// One fault, or two that begin together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Faults {
    /// The first, or the only one.
    pub first: Kind,
    /// The second.
    pub second: Option<Kind>,
}

impl Faults {
    /// Every kind by itself.
    pub fn singles() -> impl Iterator<Item = Self> {
        Kind::ALL.iter().map(|&first| Self { first, second: None })
    }

    /// Every two kinds.
    pub fn pairs() -> impl Iterator<Item = Self> {
        Kind::ALL.iter().enumerate().flat_map(|(index, &first)| {
            Kind::ALL[index + 1..].iter().map(move |&second| Self { first, second: Some(second) })
        })
    }

    /// The kinds in it.
    pub fn kinds(self) -> impl Iterator<Item = Kind> {
        [Some(self.first), self.second].into_iter().flatten()
    }
}

/// One case.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Case {
    /// What goes wrong.
    pub faults: Faults,
    /// With which of the campaign's settings.
    pub policy: usize,
    /// With or without a person.
    pub mode: Mode,
    /// At which hour of the second day, 0..=23.
    pub hour: u8,
}

/// Which cases are run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Extent {
    /// Hours at which single faults begin.
    pub single_hours: Vec<u8>,
    /// Hours at which pairs begin.
    pub pair_hours: Vec<u8>,
    /// Modes in which pairs are run.
    pub pair_modes: Vec<Mode>,
    /// Policies with which pairs are run, of those the scenario allows.
    pub pair_policies: Vec<PolicyKind>,
}

/// The policies of a campaign, in its order.
pub const POLICIES: [PolicyKind; 3] =
    [PolicyKind::Hysteresis, PolicyKind::Metered, PolicyKind::Timer];

impl Extent {
    /// Everything: singles and pairs, each hour, each policy, with and without a person.
    pub fn full() -> Self {
        let hours: Vec<u8> = (0..24).collect();
        Self {
            single_hours: hours.clone(),
            pair_hours: hours,
            pair_modes: Mode::ALL.to_vec(),
            pair_policies: POLICIES.to_vec(),
        }
    }

    /// Singles at each hour in both modes; pairs at noon with nobody there.
    pub fn quick() -> Self {
        Self { pair_hours: vec![12], pair_modes: vec![Mode::Automatic], ..Self::full() }
    }

    /// The cases with these policies, singles first, in a fixed order.
    pub fn cases(&self, policies: &[PolicyKind]) -> Vec<Case> {
        let mut cases = vec![];
        let mut add = |faults: Faults, policy: usize, hours: &[u8], modes: &[Mode]| {
            for &mode in modes {
                cases.extend(hours.iter().map(|&hour| Case { faults, policy, mode, hour }));
            }
        };
        for faults in Faults::singles() {
            for policy in 0..policies.len() {
                add(faults, policy, &self.single_hours, &Mode::ALL);
            }
        }
        for faults in Faults::pairs() {
            for (policy, kind) in policies.iter().enumerate() {
                if self.pair_policies.contains(kind) {
                    add(faults, policy, &self.pair_hours, &self.pair_modes);
                }
            }
        }
        cases
    }
}

impl Case {
    /// When its faults begin.
    pub fn onset_ms(self) -> u64 {
        onset_ms(self.hour)
    }

    /// The prepared scenario with this case's faults, and its person.
    pub fn setup(self, base: &Setup) -> Setup {
        let from_ms = self.onset_ms();
        let faults = self.faults.kinds().map(|kind| Scheduled {
            kind,
            from_ms,
            until_ms: row_of(kind)
                .lasts_h
                .map_or(u64::MAX, |hours| from_ms + (hours * HOUR_MS as f64) as u64),
            amount: kind.amount().0,
        });
        // The person is far away where the link is what fails.
        let far_away = self.faults.kinds().any(|kind| kind == Kind::LinkLost);
        let setup = self.mode.setup(base, self.hour, far_away);
        Setup { faults: Schedule::new(faults.collect()), ..setup }
    }
}

/// When faults begin that begin at this hour.
fn onset_ms(hour: u8) -> u64 {
    DAY_MS + u64::from(hour) * HOUR_MS
}

/// A policy's name in machine-readable output.
pub const fn policy_name(policy: PolicyKind) -> &'static str {
    match policy {
        PolicyKind::Hysteresis => "hysteresis",
        PolicyKind::Metered => "metered",
        PolicyKind::Timer => "timer",
    }
}
