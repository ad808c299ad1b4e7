//! Settings that somebody changes while the device runs, also from far away, and sends again.

use drydown::persist::Settings;
use drydown::policy::{BuiltIn, Policy};
use drydown::quantity::{Millis, Moisture};
use drydown::zone::{CheckedZone, Zone};

use super::{Appetite, Device, Dice, Persona, Wild};

/// A policy that a device in the adversary's hands may have.
pub trait InHand: Policy + Copy {
    /// Whether it has settings that somebody can change.
    const HAS_SETTINGS: bool;

    /// Whether it asks for water in each step.
    fn always_asks(&self) -> bool;

    /// Changes the settings of a running zone. Whether it took them.
    fn change(zone: &mut Zone<CheckedZone<Self>>, settings: &Settings) -> bool;

    /// What a device boots with when it kept them.
    fn kept(config: &CheckedZone<Self>, settings: &Settings) -> Option<CheckedZone<Self>>;
}

impl InHand for Wild {
    const HAS_SETTINGS: bool = false;

    fn always_asks(&self) -> bool {
        self.appetite == Appetite::Greedy
    }

    fn change(_: &mut Zone<CheckedZone<Self>>, _: &Settings) -> bool {
        false
    }

    fn kept(_: &CheckedZone<Self>, _: &Settings) -> Option<CheckedZone<Self>> {
        None
    }
}

impl InHand for BuiltIn {
    const HAS_SETTINGS: bool = true;

    fn always_asks(&self) -> bool {
        false
    }

    fn change(zone: &mut Zone<CheckedZone<Self>>, settings: &Settings) -> bool {
        zone.change(settings).is_ok()
    }

    fn kept(config: &CheckedZone<Self>, settings: &Settings) -> Option<CheckedZone<Self>> {
        config.with(settings).ok()
    }
}

/// Changes of settings that were taken and refused.
#[derive(Clone, Copy, Debug, Default)]
pub struct Changes {
    /// Taken while nothing was open.
    pub closed: u64,
    /// Taken while it was open.
    pub open: u64,
    /// Refused.
    pub refused: u64,
}

impl Changes {
    /// Both together.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            closed: self.closed + other.closed,
            open: self.open + other.open,
            refused: self.refused + other.refused,
        }
    }
}

impl<P: InHand> Device<P> {
    /// Somebody far away or at the pot changes settings, or sends what holds already.
    pub(super) fn bend_settings(&mut self) {
        if !P::HAS_SETTINGS {
            return;
        }
        let persona = self.persona;
        let changes = persona.does(Persona::ButtonMasher, 10 * self.rarely, &mut self.dice)
            || persona.does(Persona::LinkFlapping, 10 * self.rarely, &mut self.dice)
            || self.dice.hit(300);
        if !changes {
            return;
        }
        let settings = thrown(&mut self.dice);
        let open = self.drive.is_open();
        let taken = P::change(&mut self.zone, &settings);
        let count = match (taken, open) {
            (false, _) => &mut self.changes.refused,
            (true, false) => &mut self.changes.closed,
            (true, true) => &mut self.changes.open,
        };
        *count += 1;
        self.note(|device| format!("{} {settings:?}, taken: {taken}", device.at));
        // Now and then they are not kept, and the next reset undoes them.
        if taken && !self.dice.hit(4) {
            self.config = P::kept(&self.config, &settings).unwrap_or(self.config);
        }
    }
}

/// Some of the settings, within bounds and beyond.
fn thrown(dice: &mut Dice) -> Settings {
    let start = 1_500 + dice.below(2_000) as u16;
    let stop = start + dice.below(2_000) as u16;
    let mut time = |most: u64| {
        let most = dice.below(most) + 1;
        dice.hit(3).then(|| Millis(dice.below(most) as u32))
    };
    let (dose, soak, cadence) = (time(600_000), time(7_200_000), time(86_400_000));
    let level = |centi| Some(Moisture::from_centi(centi));
    let (start, stop) = match dice.below(4) {
        0 => (level(start), None),
        1 => (None, level(stop)),
        2 => (level(start), level(stop)),
        _ => (None, None),
    };
    Settings { start, stop, dose, soak, cadence }
}
