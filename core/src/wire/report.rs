//! How a zone does: all of it in one message.

use super::codes::{Coded, code_or_zero, condition_bits, conditions};
use super::fields::{marked, marks_of};
use super::frame::{Body, Fields, FrameError, Sayable};
use super::request::{put_settings, settings};
use crate::air::{AirFault, Climate};
use crate::calibration::Basis;
use crate::guard::{Condition, LockOut, LockOuts, Path, blocks};
use crate::logbook::Entry;
use crate::manifold::Need;
use crate::persist::Settings;
use crate::policy::{BuiltIn, Waits};
use crate::probe::pair::PairAlarm;
use crate::probe::{ProbeFault, Reading};
use crate::quantity::{DeciCelsius, Millis, Moisture, RawCounts};
use crate::watch::Alarms;
use crate::well::{OfBoard, Signs, Well};
use crate::zone::{Configuration, Drive, Event, Inputs, Link, Mode, Next, Probes, Zone};

/// The air as a device believes it.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Felt {
    /// Temperature.
    pub temperature: DeciCelsius,
    /// Relative humidity, tenths of a percent, at most 1 000; `None` where the sensor is of warmth alone.
    pub humidity: Option<u16>,
}

impl From<Climate> for Felt {
    fn from(climate: Climate) -> Self {
        Self { temperature: climate.temperature, humidity: Some(climate.humidity) }
    }
}

/// A report of one zone.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Report {
    /// The device's clock, ms.
    pub now: u64,
    /// The number of the boot since which that clock runs, as in [`Identity`](super::Identity::boot).
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
    /// What shows whether it is well: lock-outs, alarms and what is in the way now among it.
    pub signs: Signs,
    /// Time to the next reading, if there will be one.
    pub next_reading: Option<Millis>,
    /// Time since water last reached the soil, as far as is known.
    pub since_water: Millis,
    /// What it wants of its supply: whether it is about to open, open, closing.
    pub need: Need,
    /// Time left in bench mode.
    pub bench_left: Millis,
    /// What is in the way of automatic, while closed, and how long still if that is known.
    pub hindrance: Option<(Condition, Option<Millis>)>,
    /// What a dose from afar would be refused for, while closed.
    pub hindrance_afar: Option<Condition>,
    /// What automatic waits for if nothing is in its way.
    pub waits: Waits,
    /// Where there are two probes, what each showed last with its own verdict.
    pub probes: Option<[Option<Reading>; 2]>,
    /// The air, where a sensor is fitted and believed. Why it is not is among the signs.
    pub air: Option<Felt>,
}

/// What only the main loop knows of a zone.
#[derive(Clone, Copy, Debug)]
pub struct Around<'i> {
    /// The device's clock.
    pub now: u64,
    /// The number of the boot.
    pub boot: u16,
    /// What the last step was shown.
    pub inputs: &'i Inputs,
    /// What is due next, as the last outcome said.
    pub next: Next,
    /// The newest edge of the logbook.
    pub last: Option<Entry>,
    /// [`DeviceEnd::damaged`](super::DeviceEnd::damaged).
    pub damaged: u32,
    /// The air, where a sensor is fitted.
    pub air: Option<Result<Felt, AirFault>>,
    /// What the board knows of itself.
    pub board: OfBoard,
}

const READ: u8 = 1;
const PROBED: u8 = 2;
const DRIVEN: u8 = 4;
const EDGE: u8 = 8;
const SAMPLES: u8 = 16;
const TWO: u8 = 32;
const FIRST: u8 = 64;
const SECOND: u8 = 128;

const ASSUMED: u8 = 1;
const NO_RESET: u8 = 2;
const REFUSED: u8 = 4;
const ALONE: u8 = 8;
const PASSES: u8 = 16;
const FELT: u8 = 32;
const HUMID: u8 = 64;

impl Report {
    /// The report of a zone.
    pub fn of(zone: &Zone<impl Configuration<Policy = BuiltIn>>, around: &Around<'_>) -> Self {
        let Around { now, boot, next, last, damaged, air, board, .. } = *around;
        let shown = around.inputs;
        // Who asks is there; and what is shown once was seen already.
        let inputs = Inputs {
            burst: None,
            second_burst: None,
            committed: shown.committed,
            supply: shown.supply,
            store: shown.store,
            drive: shown.drive,
            link: Link::Up,
            command: None,
            air: shown.air,
            signals: shown.signals,
        };
        let drive = inputs.drive;
        let until = |at: u64| Millis(u32::try_from(at.saturating_sub(now)).unwrap_or(u32::MAX));
        let meters = zone.meters();
        // The zone keeps what it read last as it was. That a probe fell silent since it tells apart, and of
        // two the other may still be read.
        let silent = zone.probe_faults().contains(&Some(ProbeFault::Stale));
        let too_old = silent && zone.reading_age() > zone.believed_for();
        let stale = too_old.then_some(ProbeFault::Stale);
        let reading = zone.reading();
        let hindrance = zone.hindrance(Path::Automatic, &inputs);
        let two = matches!(zone.config().config().probes, Probes::Two { .. });
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
            signs: Signs { air: air.and_then(Result::err), board, ..Signs::of(zone, &inputs) },
            next_reading: next.sample.map(until),
            since_water: meters.watch.since_water(),
            need: zone.need(),
            bench_left: zone.bench_left(),
            hindrance: hindrance
                .map(|condition| (condition, zone.passes_in(Path::Automatic, condition, drive))),
            hindrance_afar: zone.hindrance(Path::ManualRemote, &inputs),
            waits: zone.waits(),
            probes: two.then(|| zone.readings()),
            air: air.and_then(Result::ok),
        }
    }

    /// What is left of the 24 h limit.
    pub const fn left(&self) -> Millis {
        self.per_day.minus(self.spent)
    }

    /// Whether it is well, as its display would say.
    pub fn well(&self) -> Well {
        self.signs.well(self.mode)
    }

    pub(super) fn read(body: &mut Fields<'_>) -> Result<Self, FrameError> {
        let marks = body.marks(u8::MAX)?;
        let (now, boot, mode) = (body.u64()?, body.u16()?, body.word("mode")?);
        let reading = reading(body, "reading", marks & READ != 0)?;
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
        let (is, signs) = signs(body, lock_outs, alarms)?;
        let (need, bench_left) = (body.word("need")?, body.millis()?);
        let hindrance = body.word_or_none("hindrance")?;
        let left = marked("hindrance", is & PASSES != 0, body.millis()?, &Millis::ZERO)?;
        let hindrance = match (hindrance, left) {
            (None, Some(_)) => return Err(FrameError::Value("hindrance")),
            (condition, left) => condition.map(|condition| (condition, left)),
        };
        let hindrance_afar = body.word_or_none("hindrance_afar")?;
        let waits = waits(body)?;
        let first = self::reading(body, "first probe", marks & FIRST != 0)?;
        let second = self::reading(body, "second probe", marks & SECOND != 0)?;
        let probes = marked("probes", marks & TWO != 0, [first, second], &[None; 2])?;
        let temperature = DeciCelsius(body.i16()?);
        let temperature = marked("air", is & FELT != 0, temperature, &DeciCelsius(0))?;
        let humidity = marked("humidity", is & HUMID != 0, body.u16()?, &0)?;
        let air = temperature.map(|temperature| Felt { temperature, humidity });
        let report = Self {
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
            signs,
            next_reading,
            since_water,
            need,
            bench_left,
            hindrance,
            hindrance_afar,
            waits,
            probes,
            air,
        };
        match report.impossible(humidity) {
            Some(field) => Err(FrameError::Value(field)),
            None => Ok(report),
        }
    }

    /// The field in which it says what no zone can: each part of it may be, and not with the others.
    fn impossible(&self, humidity: Option<u16>) -> Option<&'static str> {
        let signs = &self.signs;
        let said = |lock_out: LockOut| signs.conditions.has(lock_out.condition());
        let locked = LockOut::ALL.into_iter().all(|one| said(one) == signs.lock_outs.has(one));
        let off = signs.conditions.has(Condition::Off) == (self.mode == Mode::Off);
        let bench = match self.mode {
            Mode::Bench => !self.bench_left.is_zero(),
            Mode::Automatic => self.bench_left.is_zero(),
            Mode::Manual | Mode::Off => true,
        };
        let closed = matches!(self.need, Need::Nothing | Need::Wanted);
        let hinders = |path: Path, condition: Option<Condition>| {
            condition.is_none_or(|condition| closed && blocks(condition, path))
        };
        let both = matches!(self.probes, Some([Some(_), Some(_)]));
        let pair = match signs.pair {
            Some(PairAlarm::Apart(_)) => both,
            Some(_) => self.probes.is_some(),
            None => true,
        };
        let damp = humidity.is_none_or(|humidity| self.air.is_some() && humidity <= 1_000);
        let held = [
            ("lock_outs", locked),
            // Whoever reads it was there.
            ("conditions", off && !signs.conditions.has(Condition::LinkDown)),
            ("bench_left", bench),
            ("need", self.under_way.is_none() == closed),
            ("hindrance", hinders(Path::Automatic, self.hindrance.map(|(condition, _)| condition))),
            ("hindrance_afar", hinders(Path::ManualRemote, self.hindrance_afar)),
            ("pair", pair),
            ("probes", self.probes.is_none() || self.basis.is_some()),
            ("air", damp && (self.air.is_none() || signs.air.is_none())),
        ];
        held.into_iter().find(|(_, holds)| !holds).map(|(field, _)| field)
    }
}

impl Sayable for Report {
    fn kind(&self) -> u8 {
        0x42
    }

    fn write(&self, body: &mut Body<'_>) {
        let [first, second] = self.probes.unwrap_or_default();
        let there = [
            self.reading.is_some(),
            self.basis.is_some(),
            self.drive.on,
            self.last.is_some(),
            self.next_reading.is_some(),
            self.probes.is_some(),
            first.is_some(),
            second.is_some(),
        ];
        body.byte(marks_of(there));
        body.u64(self.now);
        body.u16(self.boot);
        body.byte(self.mode.code());
        put_reading(body, self.reading);
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
        body.byte(self.signs.lock_outs.to_bits());
        body.u16(self.signs.alarms.to_bits());
        body.millis(self.next_reading.unwrap_or(Millis::ZERO));
        body.millis(self.since_water);
        let OfBoard { no_brown_out_reset, kept_refused, bus_left_alone } = self.signs.board;
        let passes = self.hindrance.and_then(|(_, left)| left);
        let humidity = self.air.and_then(|air| air.humidity);
        body.byte(marks_of([
            self.signs.record_assumed,
            no_brown_out_reset,
            kept_refused,
            bus_left_alone,
            passes.is_some(),
            self.air.is_some(),
            humidity.is_some(),
        ]));
        body.u32(condition_bits(self.signs.conditions));
        body.byte(code_or_zero(self.signs.probe));
        body.event(Event::Pair(self.signs.pair));
        body.byte(code_or_zero(self.signs.air));
        body.byte(self.need.code());
        body.millis(self.bench_left);
        body.byte(code_or_zero(self.hindrance.map(|(condition, _)| condition)));
        body.millis(passes.unwrap_or(Millis::ZERO));
        body.byte(code_or_zero(self.hindrance_afar));
        put_waits(body, self.waits);
        put_reading(body, first);
        put_reading(body, second);
        body.i16(self.air.map_or(0, |air| air.temperature.0));
        body.u16(humidity.unwrap_or(0));
    }
}

const UNREAD: Reading =
    Reading { raw: RawCounts(0), sample: Moisture::ZERO, moisture: Moisture::ZERO, fault: None };

fn put_reading(body: &mut Body<'_>, reading: Option<Reading>) {
    let reading = reading.unwrap_or(UNREAD);
    body.u16(reading.raw.0);
    body.moisture(reading.sample);
    body.moisture(reading.moisture);
    body.byte(code_or_zero(reading.fault));
}

fn reading(
    body: &mut Fields<'_>,
    field: &'static str,
    is: bool,
) -> Result<Option<Reading>, FrameError> {
    let raw = RawCounts(body.u16()?);
    let (sample, moisture) = (body.moisture("sample")?, body.moisture("moisture")?);
    let fault = body.word_or_none("verdict")?;
    marked(field, is, Reading { raw, sample, moisture, fault }, &UNREAD)
}

/// The signs, and the marks of what stands behind them.
fn signs(
    body: &mut Fields<'_>,
    lock_outs: LockOuts,
    alarms: Alarms,
) -> Result<(u8, Signs), FrameError> {
    let marks = body.marks(ASSUMED | NO_RESET | REFUSED | ALONE | PASSES | FELT | HUMID)?;
    let conditions = conditions(body.u32()?).ok_or(FrameError::Value("conditions"))?;
    let probe = body.word_or_none("probe")?;
    let Event::Pair(pair) = body.event()? else { return Err(FrameError::Value("pair")) };
    let air = body.word_or_none("air")?;
    let board = OfBoard {
        no_brown_out_reset: marks & NO_RESET != 0,
        kept_refused: marks & REFUSED != 0,
        bus_left_alone: marks & ALONE != 0,
    };
    let record_assumed = marks & ASSUMED != 0;
    Ok((marks, Signs { lock_outs, record_assumed, conditions, probe, pair, alarms, air, board }))
}

fn put_waits(body: &mut Body<'_>, waits: Waits) {
    let (kind, agreeing, agree, time) = match waits {
        Waits::Unsaid => (1, 0, 0, Millis::ZERO),
        Waits::Level { agreeing, agree, soak } => (2, agreeing, agree, soak),
        Waits::Time(left) => (3, 0, 0, left),
    };
    body.byte(kind);
    body.byte(agreeing);
    body.byte(agree);
    body.millis(time);
}

fn waits(body: &mut Fields<'_>) -> Result<Waits, FrameError> {
    let (kind, agreeing, agree, time) = (body.byte()?, body.byte()?, body.byte()?, body.millis()?);
    match (kind, agreeing, agree) {
        (1, 0, 0) if time.is_zero() => Ok(Waits::Unsaid),
        (2, ..) if agreeing <= agree => Ok(Waits::Level { agreeing, agree, soak: time }),
        (3, 0, 0) => Ok(Waits::Time(time)),
        _ => Err(FrameError::Value("waits")),
    }
}
