//! What a person is told, and what they can do.

/// What a person is told.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Alarm {
    /// The plants have used more than they got, by evaporative demand.
    Overdue,
    /// No water for long, and no demand known: look.
    CheckByHand,
    /// Too wet for too long.
    TooWet,
    /// Waterings follow each other too closely.
    ShortCycle,
    /// The soil answers less and less.
    WeakResponse,
    /// The tank is low.
    TankLow,
    /// Water flows while the valve is closed.
    FlowWhileClosed,
    /// The 24 h limit is used up and water is wanted: on two days running, or when most of it went
    /// without the stop level being reached.
    LimitSpent,
    /// The cut-off ends openings, because steps come too late.
    CutShort,
    /// Restart follows restart.
    KeepsRestarting,
}

impl Alarm {
    /// All alarms.
    pub const ALL: [Self; 10] = [
        Self::Overdue,
        Self::CheckByHand,
        Self::TooWet,
        Self::ShortCycle,
        Self::WeakResponse,
        Self::TankLow,
        Self::FlowWhileClosed,
        Self::LimitSpent,
        Self::CutShort,
        Self::KeepsRestarting,
    ];

    /// The alarm in plain words.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Overdue => "overdue for water",
            Self::CheckByHand => "no water for long: check by hand",
            Self::TooWet => "too wet for long",
            Self::ShortCycle => "watering far too often",
            Self::WeakResponse => "the soil answers water ever more weakly",
            Self::TankLow => "the tank is low",
            Self::FlowWhileClosed => "water flows while the valve is closed",
            Self::LimitSpent => "the 24 h limit is used up and the soil still asks for water",
            Self::CutShort => "waterings are cut short: the program runs late",
            Self::KeepsRestarting => "the device keeps restarting",
        }
    }

    /// What a person can do.
    pub const fn remedy(self) -> &'static str {
        match self {
            Self::Overdue => {
                "feel the soil; check the probe for a false wet reading; water by hand"
            }
            Self::CheckByHand => {
                "feel the soil; check the probe for a false wet reading and the rain switch; water by \
                 hand; in frost acknowledge"
            }
            Self::TooWet => "empty the saucer; check the valve for weeping and the stop level",
            Self::ShortCycle => "check for a leak, a loose probe or a band that is too narrow",
            Self::WeakResponse => "clean emitter and filter; check the probe's edge for water",
            Self::TankLow => "fill the tank",
            Self::FlowWhileClosed => "shut the supply by hand; clean or replace the valve",
            Self::LimitSpent => {
                "check probe, flow and levels; if plants need more, raise the limit at the device; \
                 then acknowledge"
            }
            Self::CutShort => "look what holds up the program: display, network, a slow sensor",
            Self::KeepsRestarting => "check supply and wiring, and what it does before a restart",
        }
    }

    /// All bits of alarms.
    pub(crate) const EVERY: u16 = (1 << Self::ALL.len()) - 1;

    pub(super) const fn bit(self) -> u16 {
        1 << self as u8
    }
}

/// The alarms that are raised.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Alarms(pub(super) u16);

impl Alarms {
    /// None of them.
    pub const NONE: Self = Self(0);

    /// The same with one more.
    #[must_use]
    pub const fn with(self, alarm: Alarm) -> Self {
        Self(self.0 | alarm.bit())
    }

    /// The same, with one more if it holds.
    #[must_use]
    pub(super) const fn and_if(self, holds: bool, alarm: Alarm) -> Self {
        if holds { self.with(alarm) } else { self }
    }

    /// Whether one is.
    pub const fn has(self, alarm: Alarm) -> bool {
        self.0 & alarm.bit() != 0
    }

    /// Whether none is.
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// One bit for each alarm, in the order of [`Alarm::ALL`], to be written down.
    pub(crate) const fn to_bits(self) -> u16 {
        self.0
    }

    /// Alarms from their bits; `None` if a bit stands for none.
    pub(crate) const fn from_bits(bits: u16) -> Option<Self> {
        if bits & !Alarm::EVERY == 0 { Some(Self(bits)) } else { None }
    }
}
