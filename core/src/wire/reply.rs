//! What a device replies.

use core::marker::PhantomData;

use super::answer::Answer;
use super::fields::{marked, marks_of};
use super::frame::{Body, Fields, FrameError, MOST_BODY, Message, Sayable};
use super::report::Report;
use crate::bench::Findings;
use crate::logbook::{Day, Entry, Row};
use crate::probe::Burst;
use crate::quantity::{DeciCelsius, RawCounts};

/// What a device says of itself.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Identity<'b> {
    /// The board, in at most 32 bytes; of a longer one the end is left out.
    pub board: &'b str,
    /// The program and its version, likewise.
    pub firmware: &'b str,
    /// [`identity`](crate::persist::configuration::identity) of the configuration as it is in force:
    /// with the curve taken at the device and the settings changed since.
    pub config: u32,
    /// How many zones the device has.
    pub zones: u8,
    /// The number of the boot, counted by the board in its log: zero before there is one, and for ever where
    /// none is kept.
    pub boot: u16,
}

/// The counts of one look at a probe.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RawBurst {
    counts: [RawCounts; Burst::MOST],
    length: u8,
    /// Temperature beside it, if it was measured.
    pub temperature: Option<DeciCelsius>,
}

impl RawBurst {
    /// 1 to [`Burst::MOST`] counts; `None` for fewer or more.
    pub fn new(counts: &[RawCounts], temperature: Option<DeciCelsius>) -> Option<Self> {
        let length = u8::try_from(counts.len()).ok().filter(|&length| length > 0)?;
        let mut kept = [RawCounts(0); Burst::MOST];
        kept.get_mut(..counts.len())?.iter_mut().zip(counts).for_each(|(to, from)| *to = *from);
        Some(Self { counts: kept, length, temperature })
    }

    /// As many counts as a burst has at most.
    pub const fn whole(counts: [RawCounts; Burst::MOST], temperature: Option<DeciCelsius>) -> Self {
        Self { counts, length: Burst::MOST as u8, temperature }
    }

    /// The counts, in the order in which they were read.
    pub fn counts(&self) -> &[RawCounts] {
        self.counts.get(..usize::from(self.length)).unwrap_or_default()
    }
}

/// Something of fixed length of which a page holds several.
pub trait Paged: Sized {
    /// The number of a page of them.
    const KIND: u8;
    /// Bytes of one.
    const LENGTH: usize;

    /// One from its bytes; `None` unless every bit fits.
    fn from_page(bytes: &[u8]) -> Option<Self>;
}

/// Some of what a device keeps, in its order.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Page<'b, T> {
    /// The number of the first one here; above what was asked for where that is no longer kept.
    pub first: u32,
    /// The number after the newest one kept: where it ends for now.
    pub end: u32,
    bytes: &'b [u8],
    what: PhantomData<T>,
}

impl<'b, T: Paged> Page<'b, T> {
    /// The most that a page holds.
    pub const MOST: usize = (MOST_BODY - 9) / T::LENGTH;

    /// A page of whole ones, one behind the other as they are kept; more than fit are left out.
    pub fn new(first: u32, end: u32, bytes: &'b [u8]) -> Self {
        let most = Self::MOST.saturating_mul(T::LENGTH);
        let bytes = bytes.get(..most).unwrap_or(bytes);
        // `LENGTH` is no zero, but that the linker cannot know.
        let over = bytes.len().checked_rem(T::LENGTH).unwrap_or(0);
        let whole = bytes.len().saturating_sub(over);
        Self { first, end, bytes: bytes.get(..whole).unwrap_or_default(), what: PhantomData }
    }

    /// What is on the page, each with its number. One that does not fit its format is left out.
    pub fn iter(&self) -> impl Iterator<Item = (u32, T)> + 'b {
        let (first, all) = (self.first, self.bytes.chunks_exact(T::LENGTH.max(1)));
        // Counted from zero: where numbers end, one that is kept running would run over.
        let numbered =
            all.enumerate().map(move |(index, one)| (first.wrapping_add(index as u32), one));
        numbered.filter_map(|(number, bytes)| Some((number, T::from_page(bytes)?)))
    }

    /// How many are on it.
    pub const fn count(&self) -> u32 {
        match (self.bytes.len() as u32).checked_div(T::LENGTH as u32) {
            Some(count) => count,
            None => 0,
        }
    }

    fn read(body: &mut Fields<'b>) -> Result<Self, FrameError> {
        let (first, end, length) = (body.u32()?, body.u32()?, body.byte()?);
        let bytes = body.bytes(usize::from(length))?;
        let whole = bytes.len().checked_rem(T::LENGTH) == Some(0);
        if !whole || bytes.chunks_exact(T::LENGTH.max(1)).any(|one| T::from_page(one).is_none()) {
            return Err(FrameError::Value("page"));
        }
        Ok(Self { first, end, bytes, what: PhantomData })
    }
}

/// A reply.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[allow(clippy::large_enum_variant, reason = "it lives as long as it takes to write it")]
pub enum Reply<'b> {
    /// To [`Request::Who`](super::Request::Who).
    Identity(Identity<'b>),
    /// To [`Request::Look`](super::Request::Look).
    Report(Report),
    /// To [`Request::Edges`](super::Request::Edges).
    Edges(Page<'b, Entry>),
    /// To [`Request::Rows`](super::Request::Rows).
    Rows(Page<'b, Row>),
    /// To [`Request::Days`](super::Request::Days).
    Days(Page<'b, Day>),
    /// To [`Request::Probe`](super::Request::Probe).
    Burst(RawBurst),
    /// To orders and changes, and to what cannot be done.
    Answer(Answer<'b>),
    /// To [`Request::Findings`](super::Request::Findings). Of a device that was never commissioned:
    /// no check made.
    Findings(Findings),
}

/// The numbers of pages.
pub(crate) const EDGES: u8 = 0x43;
pub(crate) const ROWS: u8 = 0x44;
pub(crate) const DAYS: u8 = 0x45;

/// The most bytes of a name.
const NAME: u8 = 32;

impl Sayable for Identity<'_> {
    fn kind(&self) -> u8 {
        0x41
    }

    fn write(&self, body: &mut Body<'_>) {
        body.u32(self.config);
        body.byte(self.zones);
        body.u16(self.boot);
        body.text(self.board, NAME);
        body.text(self.firmware, NAME);
    }
}

impl<T: Paged> Sayable for Page<'_, T> {
    fn kind(&self) -> u8 {
        T::KIND
    }

    fn write(&self, body: &mut Body<'_>) {
        body.u32(self.first);
        body.u32(self.end);
        body.byte(self.bytes.len() as u8);
        body.0.put_all(self.bytes);
    }
}

impl Sayable for RawBurst {
    fn kind(&self) -> u8 {
        0x46
    }

    fn write(&self, body: &mut Body<'_>) {
        body.byte(marks_of([self.temperature.is_some()]));
        body.i16(self.temperature.unwrap_or_default().0);
        body.byte(self.length);
        for count in self.counts() {
            body.u16(count.0);
        }
    }
}

impl Sayable for Findings {
    fn kind(&self) -> u8 {
        0x48
    }

    fn write(&self, body: &mut Body<'_>) {
        body.0.put_all(&self.to_bytes());
    }
}

impl Reply<'_> {
    fn inner(&self) -> &dyn Sayable {
        match self {
            Self::Identity(identity) => identity,
            Self::Report(report) => report,
            Self::Edges(page) => page,
            Self::Rows(page) => page,
            Self::Days(page) => page,
            Self::Burst(burst) => burst,
            Self::Answer(answer) => answer,
            Self::Findings(findings) => findings,
        }
    }
}

impl Sayable for Reply<'_> {
    fn kind(&self) -> u8 {
        self.inner().kind()
    }

    fn write(&self, body: &mut Body<'_>) {
        self.inner().write(body);
    }
}

impl<'b> Message<'b> for Reply<'b> {
    fn read(kind: u8, body: &mut Fields<'b>) -> Result<Self, FrameError> {
        Ok(match kind {
            0x41 => {
                let (config, zones, boot) = (body.u32()?, body.byte()?, body.u16()?);
                let board = body.text("board", NAME)?;
                let firmware = body.text("firmware", NAME)?;
                Self::Identity(Identity { board, firmware, config, zones, boot })
            }
            0x42 => Self::Report(Report::read(body)?),
            EDGES => Self::Edges(Page::read(body)?),
            ROWS => Self::Rows(Page::read(body)?),
            DAYS => Self::Days(Page::read(body)?),
            0x46 => {
                let measured = body.marks(1)? != 0;
                let temperature = DeciCelsius(body.i16()?);
                let zero = DeciCelsius(0);
                let temperature = marked("temperature", measured, temperature, &zero)?;
                let length = usize::from(body.byte()?);
                let mut counts = [RawCounts(0); Burst::MOST];
                let places = counts.get_mut(..length).ok_or(FrameError::Value("counts"))?;
                for place in &mut *places {
                    *place = RawCounts(body.u16()?);
                }
                let burst = RawBurst::new(places, temperature);
                Self::Burst(burst.ok_or(FrameError::Value("counts"))?)
            }
            0x47 => Self::Answer(Answer::read(body)?),
            0x48 => {
                let bytes = body.bytes(Findings::BYTES)?.first_chunk();
                let findings = bytes.and_then(Findings::from_bytes);
                Self::Findings(findings.ok_or(FrameError::Value("findings"))?)
            }
            _ => return Err(FrameError::Kind(kind)),
        })
    }
}
