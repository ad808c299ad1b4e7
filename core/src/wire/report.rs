//! How a zone does: all of it in one message.

use super::codes::{Coded, code_or_zero};
use super::fields::{marked, marks_of};
use super::frame::{Body, Fields, FrameError};
use super::request::{put_settings, settings};
use crate::calibration::Basis;
use crate::guard::{Condition, LockOuts, Path};
use crate::logbook::Entry;
use crate::persist::Settings;
use crate::policy::BuiltIn;
use crate::probe::{ProbeFault, Reading};
use crate::quantity::{Millis, Moisture, RawCounts};
use crate::watch::Alarms;
use crate::zone::{Configuration, Drive, Event, Mode, Next, Zone};

/// A report of one zone.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Report {
    /// The device's clock, ms.
    pub now: u64,
    /// The number of the boot since which that clock runs.
    pub boot: u16,
    /// How the zone is run.
    pub mode: Mode,
    /// The reading it acts on, with its verdict.
    pub reading: Option<Reading>,
    /// How old that is.
    pub reading_age: Millis,
    /// What its moisture is a percentage of; `None` without a probe.
    pub basis: Option<Basis>,
    /// What the policy goes by; `None` where it has no use for it.
    pub settings: Settings,
    /// What the drive reports: of the opening under way, or of the last one.
    pub drive: Drive,
    /// The way of the opening that is wanted, open or closing.
    pub under_way: Option<Path>,
    /// Why the last wish to open was refused, until one is granted.
    pub refusal: Option<(Path, Condition)>,
    /// The newest edge.
    pub last: Option<Entry>,
    /// Open time spent or held in the window of the 24 h limit.
    pub spent: Millis,
    /// That limit.
    pub per_day: Millis,
    /// Open time given since the boot, ms, by the drive's own report.
    pub given_ms: u64,
    /// Openings that ended since the boot.
    pub openings: u32,
    /// Steps that came late since the boot.
    pub late_steps: u32,
    /// Frames that were damaged on their way to the device.
    pub damaged: u32,
    /// Judged doses in a row that the soil did not answer.
    pub unanswered: u8,
    /// Boots in a row that found an opening not closed.
    pub resets_while_open: u8,
    /// Lock-outs in force.
    pub lock_outs: LockOuts,
    /// Alarms raised.
    pub alarms: Alarms,
    /// Time to the next reading, if there will be one.
    pub next_reading: Option<Millis>,
    /// Time since water last reached the soil, as far as is known.
    pub since_water: Millis,
}

/// What only the main loop knows of a zone.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Around {
    /// The device's clock.
    pub now: u64,
    /// The number of the boot.
    pub boot: u16,
    /// What the drive reports.
    pub drive: Drive,
    /// What is due next, as the last outcome said.
    pub next: Next,
    /// The newest edge of the logbook.
    pub last: Option<Entry>,
    /// [`DeviceEnd::damaged`](super::DeviceEnd::damaged).
    pub damaged: u32,
}

const READ: u8 = 1;
const PROBED: u8 = 2;
const DRIVEN: u8 = 4;
const EDGE: u8 = 8;
const SAMPLES: u8 = 16;

impl Report {
    /// The report of a zone.
    pub fn of(zone: &Zone<impl Configuration<Policy = BuiltIn>>, around: &Around) -> Self {
        let Around { now, boot, drive, next, last, damaged } = *around;
        let until = |at: u64| Millis(u32::try_from(at.saturating_sub(now)).unwrap_or(u32::MAX));
        let meters = zone.meters();
        // The zone keeps what it read last as it was. That a probe fell silent since it tells apart, and of
        // two the other may still be read.
        let silent = zone.probe_faults().contains(&Some(ProbeFault::Stale));
        let too_old = silent && zone.reading_age() > zone.believed_for();
        let stale = too_old.then_some(ProbeFault::Stale);
        let reading = zone.reading();
        Self {
            now,
            boot,
            mode: zone.mode(),
            reading: reading.map(|read| Reading { fault: read.fault.or(stale), ..read }),
            reading_age: zone.reading_age(),
            basis: zone.config().basis(),
            settings: zone.config().settings(),
            drive,
            under_way: zone.under_way(),
            refusal: zone.refusal(),
            last,
            spent: zone.spent(),
            per_day: zone.config().config().limits.per_day,
            given_ms: meters.open_ms,
            openings: meters.openings,
            late_steps: meters.late_steps,
            damaged,
            unanswered: zone.unanswered(),
            resets_while_open: zone.resets_while_open(),
            lock_outs: zone.lock_outs(),
            alarms: meters.watch.alarms(),
            next_reading: next.sample.map(until),
            since_water: meters.watch.since_water(),
        }
    }

    /// What is left of the 24 h limit.
    pub const fn left(&self) -> Millis {
        self.per_day.minus(self.spent)
    }

    pub(super) fn write(&self, body: &mut Body<'_>) {
        let there = [
            self.reading.is_some(),
            self.basis.is_some(),
            self.drive.on,
            self.last.is_some(),
            self.next_reading.is_some(),
        ];
        body.byte(marks_of(there));
        body.u64(self.now);
        body.u16(self.boot);
        body.byte(self.mode.code());
        let none = Moisture::ZERO;
        let unread = Reading { raw: RawCounts(0), sample: none, moisture: none, fault: None };
        let reading = self.reading.unwrap_or(unread);
        body.u16(reading.raw.0);
        body.moisture(reading.sample);
        body.moisture(reading.moisture);
        body.byte(code_or_zero(reading.fault));
        body.millis(self.reading_age);
        body.byte(code_or_zero(self.basis));
        put_settings(body, &self.settings);
        body.millis(self.drive.on_ms);
        body.millis(self.drive.off_ms);
        body.byte(code_or_zero(self.under_way));
        body.byte(code_or_zero(self.refusal.map(|(path, _)| path)));
        body.byte(code_or_zero(self.refusal.map(|(_, condition)| condition)));
        let last = self.last.unwrap_or(Entry { at_s: 0, event: Event::Woke });
        body.u32(last.at_s);
        body.event(last.event);
        body.millis(self.spent);
        body.millis(self.per_day);
        body.u64(self.given_ms);
        body.u32(self.openings);
        body.u32(self.late_steps);
        body.u32(self.damaged);
        body.byte(self.unanswered);
        body.byte(self.resets_while_open);
        body.byte(self.lock_outs.to_bits());
        body.u16(self.alarms.to_bits());
        body.millis(self.next_reading.unwrap_or(Millis::ZERO));
        body.millis(self.since_water);
    }

    pub(super) fn read(body: &mut Fields<'_>) -> Result<Self, FrameError> {
        let marks = body.marks(READ | PROBED | DRIVEN | EDGE | SAMPLES)?;
        let (now, boot, mode) = (body.u64()?, body.u16()?, body.word("mode")?);
        let raw = RawCounts(body.u16()?);
        let (sample, moisture) = (body.moisture("sample")?, body.moisture("moisture")?);
        let fault = body.word_or_none("verdict")?;
        let none = Moisture::ZERO;
        let unread = Reading { raw: RawCounts(0), sample: none, moisture: none, fault: None };
        let reading = Reading { raw, sample, moisture, fault };
        let reading = marked("reading", marks & READ != 0, reading, &unread)?;
        let reading_age = body.millis()?;
        let basis: Option<Basis> = body.word_or_none("basis")?;
        if basis.is_some() != (marks & PROBED != 0) {
            return Err(FrameError::Value("basis"));
        }
        let settings = settings(body)?;
        let (on_ms, off_ms) = (body.millis()?, body.millis()?);
        let drive = Drive { on: marks & DRIVEN != 0, on_ms, off_ms };
        let under_way = body.word_or_none("under_way")?;
        let path = body.word_or_none("refusal")?;
        let condition = body.word_or_none("refusal")?;
        let refusal = match (path, condition) {
            (Some(path), Some(condition)) => Some((path, condition)),
            (None, None) => None,
            _ => return Err(FrameError::Value("refusal")),
        };
        let last = Entry { at_s: body.u32()?, event: body.event()? };
        let last = marked("last", marks & EDGE != 0, last, &Entry { at_s: 0, event: Event::Woke })?;
        let (spent, per_day, given_ms) = (body.millis()?, body.millis()?, body.u64()?);
        let (openings, late_steps, damaged) = (body.u32()?, body.u32()?, body.u32()?);
        let (unanswered, resets_while_open) = (body.byte()?, body.byte()?);
        let lock_outs = LockOuts::from_bits(body.byte()?).ok_or(FrameError::Value("lock_outs"))?;
        let alarms = Alarms::from_bits(body.u16()?).ok_or(FrameError::Value("alarms"))?;
        let next_reading = body.millis()?;
        let next_reading =
            marked("next_reading", marks & SAMPLES != 0, next_reading, &Millis::ZERO)?;
        let since_water = body.millis()?;
        Ok(Self {
            now,
            boot,
            mode,
            reading,
            reading_age,
            basis,
            settings,
            drive,
            under_way,
            refusal,
            last,
            spent,
            per_day,
            given_ms,
            openings,
            late_steps,
            damaged,
            unanswered,
            resets_while_open,
            lock_outs,
            alarms,
            next_reading,
            since_water,
        })
    }
}
