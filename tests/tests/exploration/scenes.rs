//! The scenes. All numbers are invented; each is as small as its corner allows.
//!
//! The coarse unit is 1 050 ms. An opening of n units is charged n · 1 050 + 10 ms, widened by a
//! clock 2 % slow to at most n · 1 088 ms: 17 ledger units of 64 ms, with less than one to spare
//! in three. So a limit that is too wide by one ledger unit shows.

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::checked;
use drydown::guard::{Limits, ResponseConfig, Timing, Window};
use drydown::manifold::{Feed, ManifoldConfig};
use drydown::persist::{RecordNumber, Stored};
use drydown::policy::{BuiltIn, Hysteresis, Metered, Policy, Timer};
use drydown::probe::{CheckedProbe, Drainage, FrostHold, OutOfSoil, ProbeConfig, Rail};
use drydown::quantity::{Flow, Millis, Moisture, RawCounts, Volume};
use drydown::soil::Band;
use drydown::watch::{WatchConfig, WatchImage};
use drydown::zone::{
    Boot, BootCause, ByHand, CheckedZone, Command, Order, Origin, Probes, Sampling, SignalRules,
    Stance, Zone, ZoneConfig,
};
use drydown_tests::adversary::{Appetite, Wild};
use drydown_tests::configs::{AIR, WATER};
use drydown_tests::exploration::{
    AlarmScene, Keep, Mischief, Promised, Scene, SharedScene, Show, Together, Wants,
};
use drydown_tests::observer::Told;

/// The coarse unit, milliseconds.
pub const UNIT: u32 = 1_050;
/// Slots of the small ledger.
const SLOTS: u8 = 3;
/// Dry, in band and wet soil, hundredths of a percent; the band is 25 to 35 %.
const DRY: u16 = 2_400;
const IN_BAND: u16 = 3_000;
const WET: u16 = 3_600;

/// How much of it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Form {
    /// In every run of the tests.
    Quick,
    /// When it is asked for.
    Full,
}

impl Form {
    /// One of two.
    pub fn of<T>(self, quick: T, full: T) -> T {
        match self {
            Self::Quick => quick,
            Self::Full => full,
        }
    }
}

/// `n` units.
const fn units(n: u32) -> Millis {
    Millis(n * UNIT)
}

/// A limit that holds `n` openings of one unit.
const fn limit(n: u32) -> Millis {
    Millis(n * 17 * 64)
}

/// An opening of `n` units: the interrupt takes it ten milliseconds after the step.
const fn open(n: u32) -> Millis {
    Millis(n * UNIT + 10)
}

/// A window that the ledger stretches to `n` units.
const fn window(n: u32) -> Window {
    Window::scaled(Millis((n * UNIT * 100).div_ceil(102)), SLOTS)
}

fn probe(frost: Option<FrostHold>) -> CheckedProbe {
    let curve = Curve::two_point(
        CurvePoint { raw: AIR, moisture: Moisture::ZERO },
        CurvePoint { raw: WATER, moisture: Moisture::FULL },
        Basis::Volumetric,
    )
    .expect("two points");
    let usable = (RawCounts(100), RawCounts(3_900));
    let usual = ProbeConfig::around(curve, AIR, WATER, usable, Rail::Low);
    let config = ProbeConfig {
        smoothing: 0,
        flat: None,
        detection: 1_000,
        drainage: Drainage { rise: 1_000, ..usual.drainage },
        out_of_soil: OutOfSoil { step: 2_001, rate: 2_001, air_edge: AIR },
        frost,
        ..usual
    };
    config.check().expect("the invented probe")
}

/// What all scenes begin with.
fn base<P>(policy: P) -> ZoneConfig<P> {
    let usual = drydown_tests::configs::trough();
    ZoneConfig {
        probes: Probes::One(probe(None)),
        policy,
        sampling: Sampling {
            period: units(3),
            open_period: units(1),
            while_open: true,
            warm_up: units(1),
        },
        limits: Limits {
            max_open: open(2),
            min_open: Millis(1_000),
            // Widened it is 2 units less the ten milliseconds that closing takes.
            min_closed: Millis(2_042),
            per_day: limit(3),
            fallback_per_day: limit(3),
            local_per_day: limit(3),
            remote_per_day: limit(2),
            bench_per_day: limit(2),
        },
        timing: Timing {
            open_step: units(1),
            slack: units(1),
            hold_off: units(1),
            tick: Millis(10),
            watchdog: Millis::ZERO,
            run_down: Millis::ZERO,
            commit_wait: units(2),
            jumps_per_day: 0,
            resets_while_open: 2,
        },
        response: ResponseConfig {
            detection: 100,
            judged_after: open(1),
            window: units(3),
            tries: 2,
        },
        by_hand: ByHand {
            remote_longest: open(1),
            remote_acknowledge: false,
            bench_lasts: units(6),
        },
        stance: Stance::StayShut,
        signals: SignalRules::default(),
        watch: usual.watch,
        window: window(8),
    }
}

fn told<P>(config: &ZoneConfig<P>) -> Told {
    let window = u64::from(config.window.length().0);
    Told { window, slots: u64::from(SLOTS), ..Told::of(config, 3_500) }
}

fn scene<P: Policy + Copy>(
    name: &'static str,
    config: ZoneConfig<P>,
    wants: Wants,
    mischief: Mischief,
) -> Scene<P> {
    let device = config.check_all_but_policy().expect("an invented configuration");
    let soil = (Moisture::from_centi(DRY), Moisture::from_centi(WET));
    Scene { name, device, told: told(&config), wants, unit: UNIT, mischief, soil }
}

const GREEDY: Wild = Wild { appetite: Appetite::Greedy };

const BAND: Band = checked!(Band::new(Moisture::from_percent(25), Moisture::from_percent(35), 500));

const METERED: BuiltIn = BuiltIn::Metered(Metered {
    band: BAND,
    basis: Basis::Volumetric,
    agree: 1,
    dose: open(1),
    soak: units(3),
});

const HYSTERESIS: BuiltIn = BuiltIn::Hysteresis(Hysteresis {
    band: BAND,
    basis: Basis::Volumetric,
    agree: 2,
    soak: units(3),
});

const BELOW: Wants = Wants::Below { start: Moisture::from_percent(25), agree: 2, soak: units(3).0 };

const EVERY_DRY: Wants =
    Wants::Below { start: Moisture::from_percent(25), agree: 1, soak: units(3).0 };

const fn local(order: Order) -> Command {
    Command { order, origin: Origin::Local }
}

const fn remote(order: Order) -> Command {
    Command { order, origin: Origin::Remote }
}

/// Steps early, late and missing, resets at any step, and a policy that always asks.
pub fn limits(form: Form) -> Scene<Wild> {
    let base = base(GREEDY);
    let config = ZoneConfig {
        timing: Timing { hold_off: units(3), ..base.timing },
        window: window(form.of(8, 12)),
        ..base
    };
    let mischief = Mischief {
        shows: form.of(vec![Show::Soil(DRY)], vec![Show::Soil(DRY), Show::Soil(WET)]),
        early: true,
        late: vec![2, 6],
        resets: true,
        orders: vec![local(Order::Acknowledge)],
        ..Mischief::none(DRY, WET)
    };
    scene("limits", config, Wants::Always, mischief)
}

/// From start to stop, with soil that answers or does not.
pub fn band_of_soil(form: Form) -> Scene<BuiltIn> {
    let config = ZoneConfig { window: window(form.of(8, 12)), ..base(HYSTERESIS) };
    let mischief = Mischief {
        shows: vec![Show::Soil(DRY), Show::Soil(IN_BAND), Show::Soil(WET)],
        late: vec![2],
        early: form == Form::Full,
        orders: vec![local(Order::Acknowledge), remote(Order::Acknowledge)],
        ..Mischief::none(DRY, WET)
    };
    scene("band", config, BELOW, mischief)
}

/// A store that is slow, silent or fails, and resets between any two records.
pub fn store(form: Form) -> Scene<Wild> {
    let config = ZoneConfig { window: window(form.of(6, 10)), ..base(GREEDY) };
    let mischief = Mischief {
        shows: vec![Show::Soil(DRY)],
        keeps: form.of(
            vec![Keep::Slow, Keep::Silent, Keep::Not],
            vec![Keep::Prompt, Keep::Slow, Keep::Silent, Keep::Not],
        ),
        early: form == Form::Full,
        resets: true,
        orders: vec![local(Order::Acknowledge)],
        ..Mischief::none(DRY, WET)
    };
    scene("store", config, Wants::Always, mischief)
}

/// A supply that restarts the device again and again: what a boot makes of its record is written down
/// when the hold-off is over, and resets come before and after.
pub fn restarts(form: Form) -> Scene<Wild> {
    let config = ZoneConfig { window: window(form.of(6, 10)), ..base(GREEDY) };
    let mischief = Mischief {
        shows: vec![Show::Soil(DRY)],
        keeps: form.of(vec![Keep::Prompt, Keep::Silent], store(form).mischief.keeps),
        early: true,
        resets: true,
        orders: vec![local(Order::Acknowledge)],
        ..Mischief::none(DRY, WET)
    };
    let mut scene = scene("restarts", config, Wants::Always, mischief);
    scene.mischief.watch = Some(many_restarts(scene.device));
    scene
}

/// What a device has written of its watch when it has restarted as often as it tells of.
fn many_restarts<P: Policy + Copy>(device: CheckedZone<P>) -> WatchImage {
    let mut stored = Stored::Lost(RecordNumber::NONE);
    for _ in 0..=8 {
        let zone = Zone::boot(device, Boot::Start(BootCause::BrownOut), &stored, None);
        stored = Stored::Found(zone.record());
    }
    match stored {
        Stored::Found(record) => record.image.watch,
        Stored::Lost(_) => WatchImage::new(),
    }
}

/// Doses that a person orders, near and far, with a link that comes and goes.
pub fn by_hand(form: Form) -> Scene<BuiltIn> {
    let base = base(METERED);
    let config = ZoneConfig {
        limits: Limits {
            per_day: limit(form.of(2, 3)),
            fallback_per_day: limit(1),
            local_per_day: limit(2),
            remote_per_day: limit(1),
            bench_per_day: limit(1),
            ..base.limits
        },
        window: window(form.of(6, 8)),
        ..base
    };
    let mut orders =
        vec![local(Order::Water(open(2))), remote(Order::Water(open(2))), local(Order::Stop)];
    if form == Form::Full {
        orders.extend([local(Order::Off), local(Order::Automatic), local(Order::Acknowledge)]);
    }
    let mischief = Mischief {
        orders,
        link: true,
        supply: form == Form::Full,
        resets: true,
        ..Mischief::none(DRY, WET)
    };
    scene("by hand", config, EVERY_DRY, mischief)
}

/// S9: a clock that runs backwards and leaps, and a loop that is late.
pub fn clock(form: Form) -> Scene<Wild> {
    let base = base(GREEDY);
    let config = ZoneConfig {
        timing: Timing { jumps_per_day: 1, ..base.timing },
        by_hand: ByHand { bench_lasts: units(8), ..base.by_hand },
        limits: Limits { max_open: open(5), per_day: limit(5), ..base.limits },
        window: window(form.of(10, 12)),
        ..base
    };
    let mischief = Mischief {
        shows: vec![Show::Soil(DRY)],
        early: form == Form::Full,
        late: form.of(vec![], vec![2]),
        backwards: true,
        jumps: true,
        resets: true,
        ..Mischief::none(DRY, WET)
    };
    scene("clock", config, Wants::Always, mischief)
}

/// Blind while open, and every class of fault a probe can have.
pub fn faults(form: Form) -> Scene<Wild> {
    let base = base(GREEDY);
    let frost = FrostHold { release_after: Millis::ZERO, ..FrostHold::USUAL };
    let config = ZoneConfig {
        probes: Probes::One(probe(Some(frost))),
        sampling: Sampling { while_open: false, period: units(2), ..base.sampling },
        window: window(8),
        ..base
    };
    let mischief = Mischief {
        shows: vec![Show::Soil(DRY), Show::Soil(WET), Show::Open, Show::Air, Show::Nothing],
        early: form == Form::Full,
        late: vec![2],
        frost: true,
        resets: form == Form::Full,
        orders: vec![local(Order::Acknowledge)],
        ..Mischief::none(DRY, WET)
    };
    scene("faults", config, Wants::Always, mischief)
}

/// The record is lost, and a person initialises the device or does not.
pub fn lost_record(form: Form) -> Scene<Wild> {
    let config = ZoneConfig { window: window(form.of(8, 10)), ..base(GREEDY) };
    let mischief = Mischief {
        shows: vec![Show::Soil(DRY)],
        keeps: vec![Keep::Prompt, Keep::Silent],
        early: form == Form::Full,
        wipes: true,
        resets: true,
        orders: vec![local(Order::Initialise), local(Order::Acknowledge)],
        ..Mischief::none(DRY, WET)
    };
    scene("lost record", config, Wants::Always, mischief)
}

/// Deep sleep where it is allowed, and resets out of it.
pub fn sleep(form: Form) -> Scene<BuiltIn> {
    let config = ZoneConfig { window: window(form.of(8, 12)), ..base(HYSTERESIS) };
    let mischief = Mischief {
        sleeps: true,
        resets: true,
        late: vec![2],
        early: form == Form::Full,
        keeps: form.of(vec![Keep::Prompt], vec![Keep::Prompt, Keep::Slow]),
        ..Mischief::none(DRY, WET)
    };
    scene("sleep", config, BELOW, mischief)
}

/// A timed ration while automatic is blind or locked out.
pub fn stance(form: Form) -> Scene<BuiltIn> {
    let base = base(METERED);
    let config = ZoneConfig {
        stance: Stance::Ration { dose: open(1), every: units(4) },
        limits: Limits { fallback_per_day: limit(2), ..base.limits },
        window: window(8),
        ..base
    };
    let mischief = Mischief {
        shows: vec![Show::Soil(DRY), Show::Soil(WET), Show::Open, Show::Nothing],
        early: form == Form::Full,
        resets: form == Form::Full,
        orders: vec![local(Order::Acknowledge)],
        ..Mischief::none(DRY, WET)
    };
    scene("stance", config, EVERY_DRY, mischief)
}

/// A pump behind a valve that trails, an interrupt that dies, bench mode, an empty tank.
///
/// The limit holds one opening that ends by the watchdog, and little more.
pub fn bench(form: Form) -> Scene<BuiltIn> {
    let base = base(METERED);
    let once = Millis(77 * 64);
    let config = ZoneConfig {
        timing: Timing { run_down: Millis(500), watchdog: Millis(2 * UNIT + 10), ..base.timing },
        limits: Limits {
            per_day: once,
            fallback_per_day: once,
            local_per_day: once,
            bench_per_day: once,
            ..base.limits
        },
        window: window(form.of(6, 10)),
        ..base
    };
    let mut orders = vec![local(Order::Bench), local(Order::Water(open(1)))];
    if form == Form::Full {
        orders.extend([local(Order::Stop), local(Order::Automatic)]);
    }
    let mischief = Mischief {
        orders,
        tank: true,
        dead_interrupt: true,
        resets: form == Form::Full,
        ..Mischief::none(DRY, WET)
    };
    scene("bench", config, EVERY_DRY, mischief)
}

/// Timed doses without any probe, switched off and on, and a supply that comes and goes.
pub fn timer(form: Form) -> Scene<BuiltIn> {
    let every = units(3);
    let base = base(BuiltIn::Timer(Timer { dose: open(1), every }));
    let config = ZoneConfig { probes: Probes::None, window: window(form.of(6, 8)), ..base };
    let mischief = Mischief {
        early: form == Form::Full,
        late: form.of(vec![], vec![2]),
        supply: true,
        resets: true,
        keeps: form.of(vec![Keep::Slow], vec![Keep::Prompt, Keep::Slow, Keep::Not]),
        orders: vec![local(Order::Off), local(Order::Automatic)],
        ..Mischief::none(DRY, WET)
    };
    scene("timer", config, Wants::Unknown, mischief)
}

/// Two probes in one pot, that agree, contradict each other, or fail.
pub fn two_probes(form: Form) -> Scene<Wild> {
    let base = base(GREEDY);
    let probes = Probes::Two {
        first: probe(None),
        second: probe(None),
        // Dry and in band are 6 % apart, dry and wet 12 %.
        most_apart: 700,
        small_dose: open(1),
    };
    let config = ZoneConfig {
        probes,
        sampling: Sampling { while_open: false, period: units(2), ..base.sampling },
        window: window(form.of(6, 8)),
        ..base
    };
    let mischief = Mischief {
        shows: vec![Show::Soil(DRY), Show::Soil(IN_BAND), Show::Soil(WET), Show::Open],
        second: vec![Show::Soil(DRY), Show::Open, Show::Nothing],
        early: form == Form::Full,
        resets: form == Form::Full,
        orders: vec![local(Order::Acknowledge)],
        ..Mischief::none(DRY, WET)
    };
    scene("two probes", config, Wants::Always, mischief)
}

/// Falls that soil cannot make, an average, and a thaw that takes its time. Its ages have no end
/// soon enough to be exhausted: only the canonical form is tried on it.
pub fn doubtful_soil(detection: u16) -> Scene<Wild> {
    let base = base(GREEDY);
    let frost = FrostHold { release_after: units(700), ..FrostHold::USUAL };
    let narrow = *probe(Some(frost)).config();
    let doubtful = ProbeConfig {
        smoothing: 1,
        detection,
        drainage: Drainage { rise: 2 * detection, ..narrow.drainage },
        // However long ago the driest soil was seen, air is a pull-out.
        out_of_soil: OutOfSoil { rate: 2_390, ..narrow.out_of_soil },
        ..narrow
    };
    let config = ZoneConfig {
        probes: Probes::One(doubtful.check().expect("the invented probe")),
        sampling: Sampling { period: units(400), ..base.sampling },
        window: window(2_000),
        ..base
    };
    let mischief = Mischief {
        shows: vec![
            Show::Soil(DRY),
            Show::Soil(IN_BAND),
            Show::Soil(WET),
            Show::Air,
            Show::Open,
            Show::Nothing,
        ],
        frost: true,
        ..Mischief::none(DRY, WET)
    };
    scene("doubtful soil", config, Wants::Always, mischief)
}

/// Timed doses that wait for air to thaw. As above, only the canonical form is tried on it.
pub fn thaw() -> Scene<BuiltIn> {
    let base = base(BuiltIn::Timer(Timer { dose: open(1), every: units(3) }));
    let frost = FrostHold { release_after: units(7), ..FrostHold::USUAL };
    let signals = SignalRules { frost: Some(frost), ..base.signals };
    let config = ZoneConfig { probes: Probes::None, signals, window: window(6), ..base };
    let mischief = Mischief { frost: true, ..Mischief::none(DRY, WET) };
    scene("thaw", config, Wants::Unknown, mischief)
}

/// A store that may not be written while another zone waters.
pub fn store_busy(form: Form) -> Scene<Wild> {
    let config = ZoneConfig { window: window(form.of(6, 8)), ..base(GREEDY) };
    let mischief = Mischief {
        shows: vec![Show::Soil(DRY)],
        keeps: form.of(vec![Keep::Slow], vec![Keep::Slow, Keep::Silent]),
        store_busy: true,
        resets: true,
        orders: form.of(vec![], vec![local(Order::Acknowledge)]),
        ..Mischief::none(DRY, WET)
    };
    scene("store busy", config, Wants::Always, mischief)
}

/// Two zones of 20 and 30 L/h on a supply that gives so much.
fn shared(name: &'static str, most: u32, config: &ZoneConfig<Wild>) -> SharedScene {
    let flows = [20_000, 30_000];
    let device = config.check_all_but_policy().expect("an invented configuration");
    let supply = ManifoldConfig { most: Flow(most), flows: flows.map(Flow), feed: Feed::Mains };
    SharedScene {
        name,
        device,
        supply: supply.check(&[device; 2]).expect("each can be fed"),
        told: told(config),
        together: Together { flows, most, overtaken: 0 },
        unit: UNIT,
        early: false,
        late: vec![],
        resets: false,
        keeps: vec![[true; 2]],
        off: false,
    }
}

fn one_of_two() -> ZoneConfig<Wild> {
    let base = base(GREEDY);
    ZoneConfig {
        probes: Probes::None,
        timing: Timing { hold_off: units(3), ..base.timing },
        limits: Limits {
            max_open: open(1),
            per_day: limit(2),
            fallback_per_day: limit(2),
            local_per_day: limit(2),
            ..base.limits
        },
        window: window(8),
        ..base
    }
}

/// A supply that feeds one zone at a time.
pub fn in_turn(form: Form) -> SharedScene {
    SharedScene {
        resets: true,
        off: form == Form::Full,
        ..shared("in turn", 49_999, &one_of_two())
    }
}

/// A supply that feeds both, and a store that may lose the record of either.
pub fn side_by_side(form: Form) -> SharedScene {
    SharedScene {
        resets: form == Form::Full,
        keeps: vec![[true; 2], [false, true]],
        off: true,
        ..shared("side by side", 50_000, &one_of_two())
    }
}

/// Doses into soil that answers or does not, on and off.
fn alarms(name: &'static str, form: Form, demand: Option<u32>) -> AlarmScene {
    let base = base(METERED);
    let watch = WatchConfig {
        overdue_demand: Volume(50_000),
        overdue_after: units(6),
        too_wet: Moisture::from_centi(3_500),
        too_wet_after: units(5),
        short_interval: units(8),
        short_cycles: 1,
        rise: 1_000,
        commissioned_rise: 0,
    };
    let config = ZoneConfig { watch, window: window(16), ..base };
    AlarmScene {
        name,
        device: config.check().expect("an invented configuration"),
        promised: Promised {
            overdue_after: u64::from(watch.overdue_after.0),
            overdue_demand: u64::from(watch.overdue_demand.0),
            too_wet: (watch.too_wet.centi(), u64::from(watch.too_wet_after.0)),
            short: (watch.short_cycles, u64::from(watch.short_interval.0)),
            rise: watch.rise,
            settles_in: u64::from(config.response.window.0 + units(4).0),
        },
        unit: UNIT,
        shows: vec![Show::Soil(DRY), Show::Soil(IN_BAND), Show::Soil(WET)],
        demand,
        deeds: form.of(14, 18),
    }
}

/// Nobody tells what the plants use.
pub fn unknown_demand(form: Form) -> AlarmScene {
    alarms("unknown demand", form, None)
}

/// What the plants use is told with each sample.
pub fn known_demand(form: Form) -> AlarmScene {
    alarms("known demand", form, Some(10_000))
}
