//! What a person far away may ask of a device.

use super::codes::Coded;
use super::fields::{marked, marks_of};
use super::frame::{Body, CHECK, Fields, FrameError, HEAD, Message, Sayable};
use crate::persist::Settings;
use crate::quantity::{Millis, Moisture};
use crate::zone::{Command, Deed, Order, Origin};

/// A request. It says nothing of its origin: what comes by the line comes from afar.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Request {
    /// Who are you? Replied to by an [`Identity`](super::Identity).
    Who,
    /// How do you do? By a [`Report`](super::Report). Asked every few seconds it keeps the link up.
    Look,
    /// The edges kept, from a number on. By a page of them.
    Edges {
        /// The number of the first.
        from: u32,
    },
    /// The rows kept, from a number on. By a page of them.
    Rows {
        /// The number of the first.
        from: u32,
    },
    /// The lines of days kept, from a number on. By a page of them.
    Days {
        /// The number of the first.
        from: u32,
    },
    /// Read a probe now, for calibration: the zone is not shown it. By a
    /// [`RawBurst`](super::RawBurst).
    Probe {
        /// 0 is the first probe of the zone.
        which: u8,
    },
    /// Follow an order. By an [`Answer`](super::Answer).
    Order(Order),
    /// Go by other settings; what is `None` stays as it is. By an answer too.
    Change(Settings),
    /// What was found at commissioning? By the [`Findings`](crate::bench::Findings) so far.
    Findings,
}

/// The most bytes of a message: the settings.
const MOST: usize = 1 + 2 * 2 + 3 * 4;

impl Request {
    /// The most bytes of a request's frame: what a device's [`Receiver`](super::Receiver) holds.
    pub const MOST_FRAME: usize = HEAD + MOST + CHECK;

    /// The order for the next step, if it is one.
    pub const fn command(&self) -> Option<Command> {
        match *self {
            Self::Order(order) => Some(Command { order, origin: Origin::Remote }),
            _ => None,
        }
    }

    /// Whether it may change something, so that it must not be followed twice.
    pub const fn acts(&self) -> bool {
        matches!(self, Self::Order(_) | Self::Change(_))
    }
}

impl Sayable for Request {
    fn kind(&self) -> u8 {
        match self {
            Self::Who => 1,
            Self::Look => 2,
            Self::Edges { .. } => 3,
            Self::Rows { .. } => 4,
            Self::Days { .. } => 5,
            Self::Probe { .. } => 6,
            Self::Order(_) => 7,
            Self::Change(_) => 8,
            Self::Findings => 9,
        }
    }

    fn write(&self, body: &mut Body<'_>) {
        match *self {
            Self::Who | Self::Look | Self::Findings => {}
            Self::Edges { from } | Self::Rows { from } | Self::Days { from } => body.u32(from),
            Self::Probe { which } => body.byte(which),
            Self::Order(order) => {
                let (code, length) = match order {
                    Order::Automatic => (1, Millis::ZERO),
                    Order::Off => (2, Millis::ZERO),
                    Order::Water(length) => (3, length),
                    Order::Stop => (4, Millis::ZERO),
                    Order::Bench => (5, Millis::ZERO),
                    Order::Acknowledge => (6, Millis::ZERO),
                    Order::Initialise => (7, Millis::ZERO),
                    Order::Tended(deed) => (8, Millis(u32::from(deed.code()))),
                };
                body.byte(code);
                body.millis(length);
            }
            Self::Change(settings) => put_settings(body, &settings),
        }
    }
}

impl Message<'_> for Request {
    fn read(kind: u8, body: &mut Fields<'_>) -> Result<Self, FrameError> {
        Ok(match kind {
            1 => Self::Who,
            2 => Self::Look,
            3 => Self::Edges { from: body.u32()? },
            4 => Self::Rows { from: body.u32()? },
            5 => Self::Days { from: body.u32()? },
            6 => Self::Probe { which: body.byte()? },
            7 => {
                let (code, length) = (body.byte()?, body.millis()?);
                let order = match code {
                    1 => Order::Automatic,
                    2 => Order::Off,
                    3 => Order::Water(length),
                    4 => Order::Stop,
                    5 => Order::Bench,
                    6 => Order::Acknowledge,
                    7 => Order::Initialise,
                    8 => Order::Tended(deed(length)?),
                    _ => return Err(FrameError::Value("order")),
                };
                if code != 3 && code != 8 && !length.is_zero() {
                    return Err(FrameError::Value("order.length"));
                }
                Self::Order(order)
            }
            8 => Self::Change(settings(body)?),
            9 => Self::Findings,
            _ => return Err(FrameError::Kind(kind)),
        })
    }
}

fn deed(number: Millis) -> Result<Deed, FrameError> {
    let code = u8::try_from(number.0).ok();
    code.and_then(Deed::from_code).ok_or(FrameError::Value("order.deed"))
}

pub(super) fn put_settings(body: &mut Body<'_>, settings: &Settings) {
    let Settings { start, stop, dose, soak, cadence } = *settings;
    body.byte(marks_of([
        start.is_some(),
        stop.is_some(),
        dose.is_some(),
        soak.is_some(),
        cadence.is_some(),
    ]));
    for level in [start, stop] {
        body.moisture(level.unwrap_or(Moisture::ZERO));
    }
    for time in [dose, soak, cadence] {
        body.millis(time.unwrap_or(Millis::ZERO));
    }
}

pub(super) fn settings(body: &mut Fields<'_>) -> Result<Settings, FrameError> {
    let marks = body.marks(0b1_1111)?;
    let mut level =
        |field, bit: u8| marked(field, marks & bit != 0, body.moisture(field)?, &Moisture::ZERO);
    let (start, stop) = (level("start", 1)?, level("stop", 2)?);
    let mut time = |field, bit: u8| marked(field, marks & bit != 0, body.millis()?, &Millis::ZERO);
    let (dose, soak, cadence) = (time("dose", 4)?, time("soak", 8)?, time("cadence", 16)?);
    Ok(Settings { start, stop, dose, soak, cadence })
}
