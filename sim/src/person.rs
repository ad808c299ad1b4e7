//! What a person does: pours, refills, feeds, re-seats the probe, presses buttons.

use drydown::quantity::Millis;
use drydown::zone::{Command, Order, Origin};
use serde::{Deserialize, Serialize};

/// Acts of a person, named as a scenario names them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Act {
    /// Pours a can of `amount` litres over the probed pot.
    PoursCan,
    /// Fills the tank by `amount` litres, or to the brim.
    RefillsTank,
    /// Feeds: from now on the probe reads wetter by `amount` percent.
    Feeds,
    /// Takes the probe out and puts it back: from now on it reads drier by `amount` percent.
    ReseatsProbe,
    /// Empties the saucer.
    EmptiesSaucer,
    /// Waters by hand at the device for `amount` seconds.
    WatersByHand,
    /// Waters from afar for `amount` seconds.
    WatersFromAfar,
    /// Switches off.
    SwitchesOff,
    /// Switches to automatic.
    SwitchesOn,
    /// Acknowledges at the device.
    Acknowledges,
    /// Ends what is open.
    Stops,
    /// At first start-up: declares that no water was given before.
    Initialises,
}

impl Act {
    /// The act in plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::PoursCan => "a person pours a can of water",
            Self::RefillsTank => "a person refills the tank",
            Self::Feeds => "a person feeds the plants",
            Self::ReseatsProbe => "a person re-seats the probe",
            Self::EmptiesSaucer => "a person empties the saucer",
            Self::WatersByHand => "a person waters by hand",
            Self::WatersFromAfar => "a person waters from afar",
            Self::SwitchesOff => "a person switches off",
            Self::SwitchesOn => "a person switches to automatic",
            Self::Acknowledges => "a person acknowledges",
            Self::Stops => "a person stops the watering",
            Self::Initialises => "a person initialises the device",
        }
    }

    /// The order this act gives the device, if it is one.
    pub fn order(self, amount: f64) -> Option<Command> {
        let local = |order| Some(Command { order, origin: Origin::Local });
        let length = Millis((amount * 1e3) as u32);
        match self {
            Self::WatersByHand => local(Order::Water(length)),
            Self::WatersFromAfar => {
                Some(Command { order: Order::Water(length), origin: Origin::Remote })
            }
            Self::SwitchesOff => local(Order::Off),
            Self::SwitchesOn => local(Order::Automatic),
            Self::Acknowledges => local(Order::Acknowledge),
            Self::Stops => local(Order::Stop),
            Self::Initialises => local(Order::Initialise),
            Self::PoursCan
            | Self::RefillsTank
            | Self::Feeds
            | Self::ReseatsProbe
            | Self::EmptiesSaucer => None,
        }
    }

    /// The amount a scenario means when it gives none, with its least and most.
    pub const fn amount(self) -> (f64, f64, f64) {
        match self {
            Self::PoursCan => (1.0, 0.0, 100.0),
            Self::RefillsTank => (1e6, 0.0, 1e6),
            Self::Feeds | Self::ReseatsProbe => (2.0, 0.0, 30.0),
            Self::WatersByHand | Self::WatersFromAfar => (60.0, 0.1, 86_400.0),
            _ => (0.0, 0.0, 0.0),
        }
    }
}

/// An act on its schedule.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scheduled {
    /// What.
    pub act: Act,
    /// When, milliseconds of true time.
    pub at_ms: u64,
    /// How much.
    pub amount: f64,
}

/// An act done once, or again and again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Repeated {
    /// What.
    pub act: Act,
    /// When first, milliseconds of true time.
    pub from_ms: u64,
    /// After how long again, milliseconds, not zero.
    pub every_ms: Option<u64>,
    /// How much.
    pub amount: f64,
}

impl Repeated {
    /// An act without an amount, done once.
    pub const fn once(act: Act, at_ms: u64) -> Self {
        Self { act, from_ms: at_ms, every_ms: None, amount: 0.0 }
    }
}

/// What people do in a run. The acts are not listed: a can poured every day for fifty years is one
/// entry.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Schedule(Vec<Repeated>);

impl Schedule {
    /// A schedule; of acts at one instant the one named first comes first.
    pub const fn new(acts: Vec<Repeated>) -> Self {
        Self(acts)
    }

    /// One more; of acts at one instant it comes last.
    pub fn add(&mut self, act: Repeated) {
        self.0.push(act);
    }

    /// The acts before `until_ms`, in order of time.
    pub fn until(&self, until_ms: u64) -> Acts<'_> {
        let next_ms = self.0.iter().map(|repeated| repeated.from_ms).collect();
        Acts { schedule: &self.0, next_ms, until_ms }
    }
}

/// Acts in order of time.
#[derive(Clone, Debug)]
pub struct Acts<'a> {
    schedule: &'a [Repeated],
    /// When each is done next.
    next_ms: Vec<u64>,
    until_ms: u64,
}

impl Iterator for Acts<'_> {
    type Item = Scheduled;

    fn next(&mut self) -> Option<Scheduled> {
        let all = self.schedule.iter().zip(&mut self.next_ms);
        let (repeated, next_ms) = all.min_by_key(|(_, next_ms)| **next_ms)?;
        if *next_ms >= self.until_ms {
            return None;
        }
        let at_ms = *next_ms;
        *next_ms = repeated.every_ms.map_or(u64::MAX, |every_ms| at_ms.saturating_add(every_ms));
        Some(Scheduled { act: repeated.act, at_ms, amount: repeated.amount })
    }
}
