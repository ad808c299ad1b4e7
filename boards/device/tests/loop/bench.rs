//! A board that is not there: its clock, its soil, its flash, its line.

use std::cell::{Cell, RefCell};
use std::collections::{BTreeSet, VecDeque};
use std::convert::Infallible;
use std::rc::Rc;

use device::{
    AirSensor, Board, Device, Fittings, Held, Keys, LaidAside, Region, Regions, Rested, Screen,
    Setup, Unread,
};
use drydown::air::Sample;
use drydown::bench::{Cups, Plan};
use drydown::calibration::{Basis, CaptureSettings, Curve, CurvePoint};
use drydown::checked;
use drydown::cutoff::{Cutoff, Sequence, Words};
use drydown::panel::{Settings, Type};
use drydown::persist::{Flash, FlashStore, Settings as Changed, ZoneIndex};
use drydown::policy::{BuiltIn, Hysteresis};
use drydown::probe::{ProbeConfig, Rail};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::soil::Band;
use drydown::wire::{Head, MOST_BYTES, MOST_FRAME, Receiver, Reply, Request, decode, encode};
use drydown::zone::{Boot, BootCause, CheckedZone, Drive, Probes, ZoneConfig};
use embedded_graphics::Pixel;
use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::{OriginDimensions, Size};
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};

const USABLE: (RawCounts, RawCounts) = (RawCounts(100), RawCounts(3_900));

const PROBE: ProbeConfig = {
    let (air, water) = (RawCounts(2_850), RawCounts(870));
    let dry = CurvePoint { raw: air, moisture: Moisture::ZERO };
    let wet = CurvePoint { raw: water, moisture: Moisture::FULL };
    let curve = checked!(Curve::two_point(dry, wet, Basis::Span));
    ProbeConfig::around(curve, air, water, USABLE, Rail::Low)
};

pub const ZONE: CheckedZone = {
    let policy = BuiltIn::Hysteresis(Hysteresis {
        band: checked!(Band::new(Moisture::from_percent(35), Moisture::from_percent(45), 500)),
        basis: Basis::Span,
        agree: 3,
        soak: Millis::from_mins(30),
    });
    let (max_open, per_day) = (Millis::from_mins(5), Millis::from_mins(20));
    let probes = Probes::One(checked!(PROBE.check()));
    checked!(ZoneConfig::usual(probes, policy, max_open, per_day).check())
};

pub static SETUP: Setup = Setup {
    zone: ZONE,
    usable: USABLE,
    open_reads: Rail::Low,
    buttons: Settings {
        dose: Millis::from_secs(30),
        calibration: Some((
            CaptureSettings::TWELVE_BITS,
            Basis::Span,
            &[Moisture::ZERO, Moisture::FULL],
        )),
        checks: Some(Plan::usual(Millis::from_secs(30))),
        cups: Some(Cups {
            dry: Moisture::from_percent(20),
            wet: Moisture::from_percent(60),
            pulse: Millis::from_secs(5),
            pulses: 4,
        }),
    },
    lit_for: Millis::from_mins(5),
    quiet_after: Millis::from_secs(30),
    firmware: "bench 0.1",
}
.checked();

/// What the tests turn, and what they see.
#[derive(Default)]
pub struct Outside {
    /// What the probe reads.
    pub raw: Cell<u16>,
    pub down: [Cell<bool>; 2],
    pub to_device: RefCell<VecDeque<u8>>,
    pub from_device: RefCell<Vec<u8>>,
    /// How often the line still has nothing to hear, and no room for a byte.
    pub line_waits: [Cell<u32>; 2],
    /// The line is torn out behind the last byte that is there to be heard.
    pub line_ends: Cell<bool>,
    pub driven: Cell<bool>,
    pub feedings: Cell<u32>,
    /// Pages of the log that were erased since the last feeding.
    pub erased: Cell<u32>,
    pub screen_answers: Cell<bool>,
    pub screen_starts: Cell<u32>,
    /// Whether the display is lit: it is after its start.
    pub screen_lit: Cell<bool>,
    /// Where the display shows light, as it was drawn last.
    pub pixels: RefCell<BTreeSet<(i32, i32)>>,
    /// The lamps of water and of calling.
    pub lit: [Cell<bool>; 2],
    pub air_asked: Cell<u32>,
    pub air_heard: Cell<u32>,
    pub air_silent: Cell<bool>,
    pub no_air: Cell<bool>,
    pub no_screen: Cell<bool>,
    /// Nobody fetches what the device says.
    pub unheard: Cell<bool>,
    pub probe_powered: Cell<bool>,
    pub tone: Cell<Option<u16>>,
}

/// Flash of pages of 1 KiB and words of 4 bytes in which bits only fall, and which must not be
/// touched while the valve is driven.
#[derive(Clone)]
pub struct Ram<const PAGES: usize> {
    bytes: Rc<RefCell<Vec<u8>>>,
    is_log: bool,
    outside: Rc<Outside>,
}

impl<const PAGES: usize> Ram<PAGES> {
    fn new(outside: &Rc<Outside>, is_log: bool) -> Self {
        let bytes = Rc::new(RefCell::new(vec![0xFF; PAGES * 1_024]));
        Self { bytes, is_log, outside: outside.clone() }
    }
}

impl<const PAGES: usize> Flash for Ram<PAGES> {
    type Error = Infallible;
    const PAGE: usize = 1_024;
    const WORD: usize = 4;
    const PAGES: usize = PAGES;

    fn read(&mut self, at: usize, into: &mut [u8]) -> Result<(), Infallible> {
        into.copy_from_slice(&self.bytes.borrow()[at..at + into.len()]);
        Ok(())
    }

    fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), Infallible> {
        assert!(!self.outside.driven.get(), "programmed while the valve is driven");
        let mut kept = self.bytes.borrow_mut();
        kept[at..at + bytes.len()].iter_mut().zip(bytes).for_each(|(kept, new)| *kept &= new);
        Ok(())
    }

    fn erase(&mut self, page: usize) -> Result<(), Infallible> {
        assert!(!self.outside.driven.get(), "erased while the valve is driven");
        if self.is_log {
            let erased = self.outside.erased.get() + 1;
            self.outside.erased.set(erased);
            assert_eq!(erased, 1, "two pages from one feeding of the watchdog to the next");
        }
        self.bytes.borrow_mut()[page * 1_024..][..1_024].fill(0xFF);
        Ok(())
    }
}

pub struct Wire(Rc<Outside>, usize);

impl ErrorType for Wire {
    type Error = Infallible;
}

impl InputPin for Wire {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(!self.0.down[self.1].get())
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(self.0.down[self.1].get())
    }
}

pub struct Lamp(Rc<Outside>, usize);

impl ErrorType for Lamp {
    type Error = Infallible;
}

impl OutputPin for Lamp {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0.lit[self.1].set(false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0.lit[self.1].set(true);
        Ok(())
    }
}

/// A display of 128×64.
pub struct Glass(Rc<Outside>);

impl OriginDimensions for Glass {
    fn size(&self) -> Size {
        Size::new(128, 64)
    }
}

impl DrawTarget for Glass {
    type Color = BinaryColor;
    type Error = Infallible;

    fn draw_iter<I: IntoIterator<Item = Pixel<BinaryColor>>>(
        &mut self,
        drawn: I,
    ) -> Result<(), Infallible> {
        let mut pixels = self.0.pixels.borrow_mut();
        for Pixel(at, color) in drawn {
            if color.is_on() {
                pixels.insert((at.x, at.y));
            } else {
                pixels.remove(&(at.x, at.y));
            }
        }
        Ok(())
    }
}

impl Screen for Glass {
    type Target = Self;

    fn is_fitted(&self) -> bool {
        !self.0.no_screen.get()
    }

    fn letters(&self) -> Type {
        Type::COMPACT
    }

    fn start(&mut self) -> bool {
        self.0.screen_starts.set(self.0.screen_starts.get() + 1);
        self.0.screen_lit.set(self.0.screen_answers.get());
        self.0.screen_answers.get()
    }

    fn target(&mut self) -> &mut Self::Target {
        self
    }

    fn show(&mut self) -> bool {
        true
    }

    fn light(&mut self, on: bool) -> bool {
        self.0.screen_lit.set(on);
        true
    }
}

/// A sensor in mild air that never quite stands still.
pub struct Air(Rc<Outside>);

impl AirSensor for Air {
    fn is_fitted(&self) -> bool {
        !self.0.no_air.get()
    }

    fn ask(&mut self) -> bool {
        self.0.air_asked.set(self.0.air_asked.get() + 1);
        true
    }

    fn answer(&mut self) -> Option<Sample> {
        if self.0.air_silent.get() {
            return None;
        }
        let heard = self.0.air_heard.get() + 1;
        self.0.air_heard.set(heard);
        Some(Sample { temperature_c: 21.0 + (heard % 7) as f32 / 100.0, humidity_pct: 50.0 })
    }
}

/// What a board leaves out: the line and more, all but the line, nothing.
pub const BARE: u8 = 0;
pub const SMALL: u8 = 1;
pub const WHOLE: u8 = 2;

pub struct Bench<const EXTENT: u8 = WHOLE>(pub Rc<Outside>);

impl<const EXTENT: u8> Bench<EXTENT> {
    fn line_waits(&self, way: usize) -> bool {
        let left = self.0.line_waits[way].get();
        self.0.line_waits[way].set(left.saturating_sub(1));
        left > 0
    }
}

impl<const EXTENT: u8> Board for Bench<EXTENT> {
    const NAME: &'static str = "bench";
    const LOOKS_IN: bool = EXTENT > BARE;
    const KEEPS_A_LOG: bool = EXTENT == WHOLE;
    const LEADS_CHECKS: bool = EXTENT == WHOLE;
    const LEADS_CUPS: bool = EXTENT == WHOLE;
    const LAYS_ASIDE: bool = EXTENT == WHOLE;
    type Key = Wire;
    type Lamp = Lamp;
    type Screen = Glass;
    type Air = Air;
    type Records = Ram<2>;
    type Rows = Ram<4>;
    type Days = Ram<2>;
    type Curve = Ram<2>;

    fn power_probe(&mut self, on: bool) {
        self.0.probe_powered.set(on);
    }

    fn probe_raw(&mut self) -> Result<u16, Unread> {
        assert!(self.0.tone.get().is_none(), "read while it sounds");
        if self.0.probe_powered.get() { Ok(self.0.raw.get()) } else { Err(Unread) }
    }

    fn sound(&mut self, hertz: Option<u16>) {
        self.0.tone.set(hertz);
    }

    fn hear(&mut self) -> Option<u8> {
        assert!(Self::LOOKS_IN, "it has no line");
        if self.line_waits(0) {
            return None;
        }
        let byte = self.0.to_device.borrow_mut().pop_front();
        assert!(byte.is_some() || !self.0.line_ends.get(), "the line is torn out");
        byte
    }

    fn say(&mut self, byte: u8) -> bool {
        assert!(Self::LOOKS_IN, "it has no line");
        if self.0.unheard.get() || self.line_waits(1) {
            return false;
        }
        self.0.from_device.borrow_mut().push(byte);
        true
    }

    fn resets_on_brown_out(&self) -> bool {
        true
    }

    fn feed(&mut self) {
        self.0.feedings.set(self.0.feedings.get() + 1);
        self.0.erased.set(0);
    }
}

/// The flash of a device, which outlives its resets.
#[derive(Clone)]
pub struct Kept {
    records: Ram<2>,
    rows: Ram<4>,
    days: Ram<2>,
    curve: Ram<2>,
}

/// A device on the bench, in one of its lives.
pub struct Stand<const EXTENT: u8 = WHOLE, C: Held = CheckedZone> {
    pub device: Device<'static, Bench<EXTENT>, C>,
    cutoff: Cutoff<'static>,
    ticks: u32,
    pub outside: Rc<Outside>,
    kept: Kept,
    tag: u32,
    /// Time for which the valve was driven, ms.
    pub given: u32,
    pub rested: Rested,
}

impl Stand {
    /// The first life: nothing is kept, and a person says that no water was given before.
    pub fn new() -> Self {
        Self::first()
    }
}

impl<const EXTENT: u8, C: Held> Stand<EXTENT, C> {
    /// The first life of any board.
    pub fn first() -> Self {
        let outside = Rc::new(Outside::default());
        outside.raw.set(1_500);
        let kept = Kept {
            records: Ram::new(&outside, false),
            rows: Ram::new(&outside, true),
            days: Ram::new(&outside, true),
            curve: Ram::new(&outside, true),
        };
        Self::boot(outside, kept, Boot::Start(BootCause::PowerOn), &mut LaidAside::empty())
    }

    fn boot(outside: Rc<Outside>, kept: Kept, boot: Boot, laid: &mut LaidAside<C>) -> Self {
        let words: &'static Words = Box::leak(Box::new(Words::new()));
        let Kept { records, rows, days, curve } = kept.clone();
        let fittings = Fittings {
            board: Bench(outside.clone()),
            keys: Keys::to_ground(Wire(outside.clone(), 0), Wire(outside.clone(), 1)),
            water_lamp: Lamp(outside.clone(), 0),
            look_lamp: Lamp(outside.clone(), 1),
            screen: Glass(outside.clone()),
            air: Air(outside.clone()),
            regions: Regions {
                records,
                rows: Region { flash: rows, pages: 0..4 },
                days: Region { flash: days, pages: 0..2 },
                curve: Some(Region { flash: curve, pages: 0..2 }),
            },
            use_bus: boot != Boot::Start(BootCause::Watchdog),
            somebody: matches!(boot, Boot::Start(_)),
        };
        Self {
            device: Device::boot(fittings, &SETUP, words, boot, laid),
            cutoff: Cutoff::new(words, Sequence::SINGLE),
            ticks: 0,
            outside,
            kept,
            tag: 0,
            given: 0,
            rested: Rested::Awake,
        }
    }

    /// The supply fails, and comes back.
    pub fn reset(self) -> Self {
        self.reset_by(BootCause::PowerOn)
    }

    pub fn reset_by(self, cause: BootCause) -> Self {
        self.outside.driven.set(false);
        self.outside.tone.set(None);
        Self::boot(self.outside, self.kept, Boot::Start(cause), &mut LaidAside::empty())
    }

    /// The supply fails, and comes back after another firmware kept these settings.
    pub fn reset_with(self, settings: &Changed) -> Self {
        let mut store = FlashStore::<_, 1>::open(self.kept.records.clone());
        let plan = ZONE.ledger_plan();
        let mut store = store.zone(ZoneIndex::FIRST, plan, &[Drive::default()]);
        store.put_settings(settings).expect("there is room");
        self.reset()
    }

    /// The supply fails, and comes back with the log's flash full of noise.
    pub fn reset_to_noise(self) -> Self {
        let mut state = 1_u32;
        let mut noise = |byte: &mut u8| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            *byte = (state >> 24) as u8;
        };
        self.kept.rows.bytes.borrow_mut().iter_mut().for_each(&mut noise);
        self.kept.days.bytes.borrow_mut().iter_mut().for_each(&mut noise);
        self.kept.curve.bytes.borrow_mut().iter_mut().for_each(&mut noise);
        self.outside.erased.set(0);
        self.reset()
    }

    /// Whether nothing was ever written beside the records.
    pub fn log_is_blank(&self) -> bool {
        let Kept { rows, days, curve, .. } = &self.kept;
        let blank = |bytes: &RefCell<Vec<u8>>| bytes.borrow().iter().all(|byte| *byte == 0xFF);
        blank(&rows.bytes) && blank(&days.bytes) && blank(&curve.bytes)
    }

    /// It falls asleep and wakes.
    pub fn sleep(mut self, slept: Millis) -> Self {
        let mut laid = LaidAside::empty();
        assert!(self.device.lay_aside(&mut laid), "it may not sleep");
        Self::boot(self.outside, self.kept, Boot::Wake { slept }, &mut laid)
    }

    /// It sleeps with its memory kept. Of each nap is told how long it may last; the answer is how long
    /// it did by the ticks of the interrupt, and whether somebody ended it.
    pub fn naps(&mut self, mut nap: impl FnMut(Millis) -> (Millis, bool)) {
        let Rested::Sleep(left) = self.rested else { panic!("{:?}", self.rested) };
        let Self { device, cutoff, ticks, .. } = self;
        device.sleep(left, Millis(4_000), |most| {
            let (lasted, somebody) = nap(most);
            *ticks += lasted.0;
            assert!(!cutoff.tick(*ticks).valve, "it waters asleep");
            somebody
        });
    }

    /// One interrupt and the round after it.
    pub fn round(&mut self) {
        self.tick(10);
    }

    pub fn tick(&mut self, ms: u32) {
        self.ticks += ms;
        let pins = self.cutoff.tick(self.ticks);
        self.outside.driven.set(pins.valve);
        self.given += u32::from(pins.valve) * ms;
        self.rested = self.device.round();
    }

    /// Long stretches in which nothing is driven and nobody is there.
    pub fn pass(&mut self, time: Millis) {
        for _ in 0..time.0 / 400 {
            self.tick(400);
            assert!(!self.outside.driven.get(), "it waters");
        }
    }

    pub fn run(&mut self, time: Millis) {
        for _ in 0..time.0 / 10 {
            self.round();
        }
    }

    /// Runs until something holds, and says how long that took; at most so long.
    pub fn until(&mut self, most: Millis, mut holds: impl FnMut(&Self) -> bool) -> Millis {
        let began = self.ticks;
        while !holds(self) {
            if self.ticks - began >= most.0 {
                let zone = self.device.zone();
                let shows = (zone.mode(), zone.reading(), zone.refusal(), zone.waits());
                panic!("it did not come in {} s: {shows:?}", most.0 / 1_000);
            }
            self.round();
        }
        Millis(self.ticks - began)
    }

    /// Asks, and takes the reply apart.
    pub fn ask<R>(&mut self, request: Request, look: impl FnOnce(Reply<'_>) -> R) -> R {
        let head = self.send(request);
        let outside = self.outside.clone();
        self.until(Millis::from_secs(5), |_| {
            outside.from_device.borrow().iter().filter(|byte| **byte == 0).count() >= 2
        });
        let bytes = self.outside.from_device.borrow();
        let mut receiver = Receiver::<MOST_FRAME>::new();
        let mut look = Some(look);
        for &byte in bytes.iter() {
            if let Some(Ok(frame)) = receiver.push(byte) {
                let (replied, reply) = decode::<Reply<'_>>(frame).expect("a whole reply");
                assert_eq!(replied, head);
                return look.take().expect("one reply")(reply);
            }
        }
        panic!("no reply");
    }

    /// Sends a request and does not wait.
    pub fn send(&mut self, request: Request) -> Head {
        self.tag += 1;
        let head = Head { zone: ZoneIndex::FIRST, tag: self.tag };
        let mut bytes = [0; MOST_BYTES];
        let sent = encode(head, &request, &mut bytes);
        self.outside.to_device.borrow_mut().extend(sent);
        self.outside.from_device.borrow_mut().clear();
        head
    }

    /// Presses a button for so long, and lets go.
    pub fn press(&mut self, key: usize, time: Millis) {
        self.outside.down[key].set(true);
        self.run(time);
        self.outside.down[key].set(false);
        self.run(Millis(100));
    }
}
