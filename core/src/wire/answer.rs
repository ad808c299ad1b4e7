//! What became of an order or a change: done, or refused and why.

use core::fmt;

use super::codes::Coded;
use super::frame::{Body, Fields, FrameError, Sayable, VERSION};
use crate::guard::{Condition, Path};
use crate::probe::ProbeFault;
use crate::quantity::Millis;
use crate::zone::{
    Bound, ConfigError, Configuration, Event, Mode, Order, OrderRefusal, Outcome, Zone,
};

/// An answer.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Answer<'b> {
    /// It is done.
    Done,
    /// It waters, for so long at most: perhaps shorter than asked. What was really given is in the
    /// edge that tells of the closing.
    Opened(Millis),
    /// The dose is taken and will open when its record is written.
    Taken,
    /// The dose is taken and waits for something that passes within moments.
    Waits(Condition),
    /// The order is refused.
    Refused(OrderRefusal),
    /// The order was understood, and this forbids to open.
    Blocked(Condition),
    /// A setting is refused; nothing was changed.
    Setting {
        /// The field, at most 40 bytes.
        field: &'b str,
        /// Its value.
        value: u32,
        /// The bound that it broke.
        bound: Bound,
        /// Why the bound is there, at most 120 bytes.
        why: &'b str,
    },
    /// The settings stay in flash: only other firmware changes them.
    Fixed,
    /// The settings hold now, and could not be kept: a reset undoes them.
    NotKept,
    /// The device has no such zone.
    NoSuchZone,
    /// The zone has no such probe, or it could not be read.
    NoReading,
    /// Not while it waters or writes: ask again.
    NotNow,
    /// The device keeps nothing of what is asked for: no rows and days, or no findings.
    NothingKept,
    /// It is acknowledged, and this goes on standing in the way.
    StillBlocked(Condition),
    /// The request is of a version or kind that this device does not know.
    NotUnderstood {
        /// The version it speaks.
        speaks: u8,
    },
}

const FIELD: u8 = 40;
const WHY: u8 = 120;

impl Answer<'static> {
    /// To a request that the device does not know.
    pub const NOT_UNDERSTOOD: Self = Self::NotUnderstood { speaks: VERSION };

    /// What became of an order, after the turn that was shown it as
    /// [`Inputs::command`](crate::zone::Inputs::command).
    pub fn to_order<C: Configuration>(order: Order, zone: &Zone<C>, outcome: &Outcome) -> Self {
        for event in outcome.events.iter() {
            if let Event::OrderRefused(refusal) = event {
                return Self::Refused(*refusal);
            }
        }
        match order {
            Order::Acknowledge => {
                return still_blocked(zone).map_or(Self::Done, Self::StillBlocked);
            }
            Order::Water(_) => {}
            _ => return Self::Done,
        }
        if let Some(permit) = outcome.permit {
            return Self::Opened(permit.length);
        }
        let remote = zone.refusal().filter(|(path, _)| *path == Path::ManualRemote);
        match (zone.mode(), zone.under_way(), remote) {
            (Mode::Manual, None, Some((_, condition))) => Self::Waits(condition),
            (Mode::Manual, ..) => Self::Taken,
            (_, _, Some((_, condition))) => Self::Blocked(condition),
            _ => Self::NotNow,
        }
    }

    /// What became of a change of settings.
    pub const fn to_change(result: Result<(), ConfigError>) -> Self {
        match result {
            Ok(()) => Self::Done,
            Err(ConfigError { field, value, bound, why }) => {
                Self::Setting { field, value, bound, why }
            }
        }
    }
}

/// What an acknowledgement left: a lock-out that came again, a verdict that a probe goes on with, a record
/// that is lost.
fn still_blocked<C: Configuration>(zone: &Zone<C>) -> Option<Condition> {
    let of_probe = zone.reading().and_then(|reading| reading.fault).map(ProbeFault::condition);
    let assumed = zone.is_record_assumed().then_some(Condition::LimitReached);
    let locked = zone.lock_outs().conditions().blocking(Path::Automatic);
    locked.or(of_probe).or(assumed)
}

impl<'b> Answer<'b> {
    /// Whether what was asked for was refused.
    pub const fn is_refusal(&self) -> bool {
        !matches!(
            self,
            Self::Done | Self::Opened(_) | Self::Taken | Self::Waits(_) | Self::StillBlocked(_)
        )
    }

    pub(super) fn read(body: &mut Fields<'b>) -> Result<Self, FrameError> {
        Ok(match body.byte()? {
            1 => Self::Done,
            2 => Self::Opened(body.millis()?),
            3 => Self::Taken,
            4 => Self::Waits(body.word("condition")?),
            5 => Self::Refused(body.word("refusal")?),
            6 => Self::Blocked(body.word("condition")?),
            7 => {
                let (which, value, bound) = (body.byte()?, body.u32()?, body.u32()?);
                let bound = match which {
                    1 => Bound::AtLeast(bound),
                    2 => Bound::AtMost(bound),
                    _ => return Err(FrameError::Value("bound")),
                };
                let (field, why) = (body.text("field", FIELD)?, body.text("why", WHY)?);
                Self::Setting { field, value, bound, why }
            }
            8 => Self::NotKept,
            9 => Self::NoSuchZone,
            10 => Self::NoReading,
            11 => Self::NotNow,
            12 => Self::NotUnderstood { speaks: body.byte()? },
            13 => Self::StillBlocked(body.word("condition")?),
            14 => Self::Fixed,
            15 => Self::NothingKept,
            _ => return Err(FrameError::Value("answer")),
        })
    }
}

impl Sayable for Answer<'_> {
    fn kind(&self) -> u8 {
        0x47
    }

    fn write(&self, body: &mut Body<'_>) {
        match *self {
            Self::Done => body.byte(1),
            Self::Opened(length) => {
                body.byte(2);
                body.millis(length);
            }
            Self::Taken => body.byte(3),
            Self::Waits(condition) => {
                body.byte(4);
                body.byte(condition.code());
            }
            Self::Refused(refusal) => {
                body.byte(5);
                body.byte(refusal.code());
            }
            Self::Blocked(condition) => {
                body.byte(6);
                body.byte(condition.code());
            }
            Self::Setting { field, value, bound, why } => {
                body.byte(7);
                let (which, bound) = match bound {
                    Bound::AtLeast(bound) => (1, bound),
                    Bound::AtMost(bound) => (2, bound),
                };
                body.byte(which);
                body.u32(value);
                body.u32(bound);
                body.text(field, FIELD);
                body.text(why, WHY);
            }
            Self::Fixed => body.byte(14),
            Self::NotKept => body.byte(8),
            Self::NoSuchZone => body.byte(9),
            Self::NoReading => body.byte(10),
            Self::NotNow => body.byte(11),
            Self::NothingKept => body.byte(15),
            Self::NotUnderstood { speaks } => {
                body.byte(12);
                body.byte(speaks);
            }
            Self::StillBlocked(condition) => {
                body.byte(13);
                body.byte(condition.code());
            }
        }
    }
}

impl fmt::Display for Answer<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Done => f.write_str("done"),
            Self::Opened(length) => {
                write!(f, "watering for {}.{} s at most", length.0 / 1_000, length.0 % 1_000 / 100)
            }
            Self::Taken => f.write_str("taken: it opens once its record is written"),
            Self::Waits(condition) => write!(f, "taken, and waits: {}", condition.text()),
            Self::Refused(refusal) => f.write_str(Event::OrderRefused(refusal).text()),
            Self::Blocked(condition) => {
                write!(f, "refused: {}; {}", condition.text(), condition.remedy())
            }
            Self::Setting { field, value, bound, why } => {
                let (bounded, bound) = match bound {
                    Bound::AtLeast(bound) => ("at least", bound),
                    Bound::AtMost(bound) => ("at most", bound),
                };
                write!(f, "refused: {field} is {value}, must be {bounded} {bound}: {why}")
            }
            Self::Fixed => {
                f.write_str("refused: its settings stay in flash; new firmware has others")
            }
            Self::NotKept => f.write_str("it holds now, but could not be kept: a reset undoes it"),
            Self::NoSuchZone => f.write_str("the device has no such zone"),
            Self::NoReading => f.write_str("no such probe, or it cannot be read"),
            Self::NotNow => f.write_str("not now: ask again"),
            Self::NothingKept => f.write_str("the device keeps nothing of that kind"),
            Self::StillBlocked(condition) => {
                let (what, remedy) = (condition.text(), condition.remedy());
                write!(f, "acknowledged; still in the way: {what}; {remedy}")
            }
            Self::NotUnderstood { speaks } => {
                write!(f, "the device does not know this request; it speaks version {speaks}")
            }
        }
    }
}
