//! Anything that can be said, made up.

use drydown::air::AirFault;
use drydown::bench::Findings;
use drydown::calibration::Basis;
use drydown::guard::{Cause, Condition, Conditions, LockOut, Path, blocks};
use drydown::logbook::{Day, DayReadings, Entry, Row, RowReading};
use drydown::manifold::Need;
use drydown::persist::{Settings, ZoneIndex};
use drydown::policy::Waits;
use drydown::probe::pair::PairAlarm;
use drydown::probe::{ProbeFault, Reading};
use drydown::quantity::{DeciCelsius, Millis, Moisture, RawCounts};
use drydown::watch::{Alarm, Alarms};
use drydown::well::{OfBoard, Signs};
use drydown::wire::{Answer, Felt, Head, RawBurst, Report, Request};
use drydown::zone::{BootCause, Bound, ClockEdge, Deed, Drive, Event, Mode, Order, OrderRefusal};
use drydown_tests::crc::crc32;
use proptest::option::of;
use proptest::prelude::*;
use proptest::sample::select;

pub const MODES: [Mode; 4] = [Mode::Automatic, Mode::Manual, Mode::Off, Mode::Bench];
pub const BOOTS: [BootCause; 4] =
    [BootCause::PowerOn, BootCause::BrownOut, BootCause::Watchdog, BootCause::Reset];
pub const CLOCKS: [ClockEdge; 2] = [ClockEdge::Backwards, ClockEdge::Late];
pub const NEEDS: [Need; 5] =
    [Need::Nothing, Need::Wanted, Need::Intended, Need::Open, Need::Closing];
pub const FAULTS: [ProbeFault; 10] = [
    ProbeFault::Open,
    ProbeFault::Short,
    ProbeFault::Clipped,
    ProbeFault::Noisy,
    ProbeFault::Flat,
    ProbeFault::Rate,
    ProbeFault::OutOfSoil,
    ProbeFault::DrierAfterWater,
    ProbeFault::Stale,
    ProbeFault::Frozen,
];
pub const REFUSALS: [OrderRefusal; 6] = [
    OrderRefusal::Busy,
    OrderRefusal::LocalOnly,
    OrderRefusal::SwitchedOff,
    OrderRefusal::RemoteAcknowledgement,
    OrderRefusal::NothingToInitialise,
    OrderRefusal::TooShort,
];
const PLAIN_CAUSES: [Cause; 7] = [
    Cause::StopReached,
    Cause::DoseDone,
    Cause::TimeLimit,
    Cause::DayLimit,
    Cause::ByHand,
    Cause::Deadman,
    Cause::Unordered,
];

pub fn causes() -> Vec<Cause> {
    let faults = Condition::ALL.iter().map(|&condition| Cause::Fault(condition));
    PLAIN_CAUSES.into_iter().chain(faults).collect()
}

fn millis() -> impl Strategy<Value = Millis> {
    any::<u32>().prop_map(Millis)
}

fn moisture() -> impl Strategy<Value = Moisture> {
    (0..=10_000_u16).prop_map(Moisture::from_centi)
}

fn celsius() -> impl Strategy<Value = DeciCelsius> {
    // The lowest number stands for no temperature where there is no mark.
    (i16::MIN + 1..=i16::MAX).prop_map(DeciCelsius)
}

pub fn head() -> impl Strategy<Value = Head> {
    let zone = (0..4_u8).prop_map(|zone| ZoneIndex::new(zone).unwrap());
    (zone, any::<u32>()).prop_map(|(zone, tag)| Head { zone, tag })
}

fn path() -> impl Strategy<Value = Path> {
    select(Path::ALL.as_slice())
}

fn condition() -> impl Strategy<Value = Condition> {
    select(Condition::ALL)
}

fn fault() -> impl Strategy<Value = ProbeFault> {
    select(FAULTS.as_slice())
}

fn pair() -> impl Strategy<Value = PairAlarm> {
    prop_oneof![
        fault().prop_map(PairAlarm::FirstFailed),
        fault().prop_map(PairAlarm::SecondFailed),
        Just(PairAlarm::BothFailed),
        any::<u16>().prop_map(PairAlarm::Apart),
    ]
}

pub fn event() -> impl Strategy<Value = Event> {
    prop_oneof![
        select(BOOTS.as_slice()).prop_map(Event::Booted),
        Just(Event::Woke),
        Just(Event::RecordLost),
        Just(Event::OpeningNotClosed),
        (path(), millis()).prop_map(|(path, length)| Event::Opened { path, length }),
        (path(), select(causes()), millis()).prop_map(|(path, cause, on)| Event::Closed {
            path,
            cause,
            on
        }),
        (path(), condition()).prop_map(|(path, condition)| Event::Refused(path, condition)),
        select(LockOut::ALL.as_slice()).prop_map(Event::LockedOut),
        Just(Event::Acknowledged),
        Just(Event::Initialised),
        select(MODES.as_slice()).prop_map(Event::Mode),
        select(REFUSALS.as_slice()).prop_map(Event::OrderRefused),
        select(Deed::ALL.as_slice()).prop_map(Event::Tended),
        (any::<u8>(), of(fault())).prop_map(|(which, fault)| Event::Probe(which, fault)),
        of(pair()).prop_map(Event::Pair),
        select(CLOCKS.as_slice()).prop_map(Event::Clock),
        select(Alarm::ALL.as_slice()).prop_map(Event::Alarm),
        select(Alarm::ALL.as_slice()).prop_map(Event::AlarmOver),
    ]
}

pub fn entry() -> impl Strategy<Value = Entry> {
    (any::<u32>(), event()).prop_map(|(at_s, event)| Entry { at_s, event })
}

pub fn settings() -> impl Strategy<Value = Settings> {
    (of(moisture()), of(moisture()), of(millis()), of(millis()), of(millis())).prop_map(
        |(start, stop, dose, soak, cadence)| Settings { start, stop, dose, soak, cadence },
    )
}

pub fn order() -> impl Strategy<Value = Order> {
    prop_oneof![
        Just(Order::Automatic),
        Just(Order::Off),
        millis().prop_map(Order::Water),
        Just(Order::Stop),
        Just(Order::Bench),
        Just(Order::Acknowledge),
        Just(Order::Initialise),
        select(Deed::ALL.as_slice()).prop_map(Order::Tended),
    ]
}

pub fn request() -> impl Strategy<Value = Request> {
    prop_oneof![
        Just(Request::Who),
        Just(Request::Look),
        any::<u32>().prop_map(|from| Request::Edges { from }),
        any::<u32>().prop_map(|from| Request::Rows { from }),
        any::<u32>().prop_map(|from| Request::Days { from }),
        any::<u8>().prop_map(|which| Request::Probe { which }),
        order().prop_map(Request::Order),
        settings().prop_map(Request::Change),
        Just(Request::Findings),
    ]
}

/// Nothing of this is longer than fits.
const TEXTS: [(&str, &str); 3] = [
    ("", ""),
    ("settings.stop", "from start on water must owe an answer (hundredths of a percent)"),
    ("limits.fallback_per_day", "Lücken im Rand: ½"),
];

pub fn answer() -> impl Strategy<Value = Answer<'static>> {
    let bound =
        prop_oneof![any::<u32>().prop_map(Bound::AtLeast), any::<u32>().prop_map(Bound::AtMost)];
    prop_oneof![
        Just(Answer::Done),
        millis().prop_map(Answer::Opened),
        Just(Answer::Taken),
        condition().prop_map(Answer::Waits),
        select(REFUSALS.as_slice()).prop_map(Answer::Refused),
        condition().prop_map(Answer::Blocked),
        condition().prop_map(Answer::StillBlocked),
        (select(TEXTS.as_slice()), any::<u32>(), bound).prop_map(|((field, why), value, bound)| {
            Answer::Setting { field, value, bound, why }
        }),
        Just(Answer::Fixed),
        Just(Answer::NothingKept),
        Just(Answer::NotKept),
        Just(Answer::NoSuchZone),
        Just(Answer::NoReading),
        Just(Answer::NotNow),
        any::<u8>().prop_map(|speaks| Answer::NotUnderstood { speaks }),
    ]
}

/// What can be found is made up from its bytes: the library writes none but what it found.
pub fn findings() -> impl Strategy<Value = Findings> {
    let row = prop_oneof![
        Just([0; 5]),
        (1..=3_u8, any::<[u8; 4]>()).prop_map(|(mark, [a, b, c, d])| [mark, a, b, c, d]),
    ];
    let under_way = prop_oneof![0..9_u8, Just(u8::MAX)];
    (under_way, any::<u8>(), any::<[u8; 4]>(), prop::collection::vec(row, 9)).prop_map(
        |(under_way, resets, identity, rows)| {
            let head = [&[1, under_way, resets, 0], identity.as_slice()].concat();
            let body = [head, rows.concat()].concat();
            let bytes = [body.as_slice(), &crc32(&body).to_le_bytes()].concat();
            Findings::from_bytes(&bytes.try_into().unwrap()).expect("every bit fits")
        },
    )
}

pub fn burst() -> impl Strategy<Value = RawBurst> {
    let counts = prop::collection::vec(any::<u16>().prop_map(RawCounts), 1..=8);
    (counts, of(celsius())).prop_map(|(counts, air)| RawBurst::new(&counts, air).unwrap())
}

fn reading() -> impl Strategy<Value = Reading> {
    (any::<u16>(), moisture(), moisture(), of(fault())).prop_map(
        |(raw, sample, moisture, fault)| Reading { raw: RawCounts(raw), sample, moisture, fault },
    )
}

fn waits() -> impl Strategy<Value = Waits> {
    prop_oneof![
        Just(Waits::Unsaid),
        millis().prop_map(Waits::Time),
        (0..=9_u8, 0..=9_u8, millis()).prop_map(|(one, other, soak)| Waits::Level {
            agreeing: one.min(other),
            agree: one.max(other),
            soak,
        }),
    ]
}

/// The lock-outs of a zone cannot be made up from outside; a row's bytes can say any of them.
pub fn report() -> impl Strategy<Value = Report> {
    let drive = (any::<bool>(), millis(), millis()).prop_map(|(on, on_ms, off_ms)| Drive {
        on,
        on_ms,
        off_ms,
    });
    let identity = (any::<u64>(), any::<u16>(), select(MODES.as_slice()));
    let basis = of(select([Basis::Volumetric, Basis::Span].as_slice()));
    let seen = (of(reading()), millis(), basis, settings(), drive);
    let wishes = (path(), of((path(), condition())), of(entry()));
    let counters = (any::<u64>(), any::<u32>(), any::<u32>(), any::<u32>());
    let times = (millis(), millis(), of(millis()), millis());
    let bits = (any::<u8>(), any::<u8>(), day());
    (identity, seen, wishes, counters, times, bits, standing()).prop_map(
        |(
            (now, boot, mode),
            (reading, reading_age, basis, settings, drive),
            (path, refusal, last),
            (given_ms, openings, late_steps, damaged),
            (spent, per_day, next_reading, since_water),
            (unanswered, resets_while_open, day),
            ((need, bench_left, waits), (hindrance, hindrance_afar), (two, pair), air, signs),
        )| {
            let closed = matches!(need, Need::Nothing | Need::Wanted);
            let probes = basis.and(two);
            let both = matches!(probes, Some([Some(_), Some(_)]));
            let pair = pair.filter(|pair| match pair {
                PairAlarm::Apart(_) => both,
                _ => probes.is_some(),
            });
            let (probe, record_assumed, [no_brown_out_reset, kept_refused, bus_left_alone]) =
                signs.0;
            let held = signs.1.into_iter().filter(|one| {
                let locks = LockOut::ALL.into_iter().any(|lock_out| lock_out.condition() == *one);
                !locks && ![Condition::Off, Condition::LinkDown].contains(one)
            });
            let conditions = held
                .fold(day.lock_outs.conditions(), Conditions::with)
                .and_if(mode == Mode::Off, Condition::Off);
            let board = OfBoard { no_brown_out_reset, kept_refused, bus_left_alone };
            Report {
                now,
                boot,
                mode,
                reading,
                reading_age,
                basis,
                settings,
                drive,
                under_way: (!closed).then_some(path),
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
                signs: Signs {
                    lock_outs: day.lock_outs,
                    record_assumed,
                    conditions,
                    probe,
                    pair,
                    alarms: day.alarms,
                    air: air.err(),
                    board,
                },
                next_reading,
                since_water,
                need,
                bench_left: match mode {
                    Mode::Automatic => Millis::ZERO,
                    Mode::Bench => bench_left.max(Millis(1)),
                    Mode::Manual | Mode::Off => bench_left,
                },
                hindrance: hindrance
                    .filter(|(condition, _)| closed && blocks(*condition, Path::Automatic)),
                hindrance_afar: hindrance_afar
                    .filter(|condition| closed && blocks(*condition, Path::ManualRemote)),
                waits,
                probes,
                air: air.ok().flatten(),
            }
        },
    )
}

type Hindrances = (Option<(Condition, Option<Millis>)>, Option<Condition>);
type TwoProbes = (Option<[Option<Reading>; 2]>, Option<PairAlarm>);
type Marks = (Option<ProbeFault>, bool, [bool; 3]);

type Standing =
    ((Need, Millis, Waits), Hindrances, TwoProbes, Result<Option<Felt>, AirFault>, Held);
type Held = (Marks, Vec<Condition>);

/// What a report says beside its counters: how it waits, what is in the way, two probes, air, signs.
fn standing() -> impl Strategy<Value = Standing> {
    let need = select(NEEDS.as_slice());
    let felt = (any::<i16>(), of(0..=1_000_u16)).prop_map(|(temperature, humidity)| Felt {
        temperature: DeciCelsius(temperature),
        humidity,
    });
    let air = prop_oneof![of(felt).prop_map(Ok), select(AirFault::ALL.as_slice()).prop_map(Err)];
    let marks = (of(fault()), any::<bool>(), any::<[bool; 3]>());
    (
        (need, millis(), waits()),
        (of((condition(), of(millis()))), of(condition())),
        (of([of(reading()), of(reading())]), of(pair())),
        air,
        (marks, prop::collection::vec(condition(), 0..4)),
    )
}

pub fn row() -> impl Strategy<Value = Row> {
    let reading = (any::<u16>(), moisture(), of(fault()))
        .prop_map(|(raw, moisture, fault)| RowReading { raw: RawCounts(raw), moisture, fault });
    let numbers = (any::<u32>(), any::<u16>(), any::<u32>());
    let state = (select(MODES.as_slice()), any::<bool>());
    (numbers, of(reading), state, of(event()), of(celsius()), millis()).prop_map(
        |((number, boot, at_s), reading, (mode, driven), reason, air, dose)| Row {
            number,
            boot,
            at_s,
            reading,
            mode,
            driven,
            reason,
            air,
            dose,
        },
    )
}

pub fn day() -> impl Strategy<Value = Day> {
    let readings = (moisture(), moisture(), moisture(), 1..=u16::MAX).prop_map(
        |(lowest, highest, mean, plausible)| DayReadings { lowest, highest, mean, plausible },
    );
    let alarms = prop::collection::vec(select(Alarm::ALL.as_slice()), 0..4)
        .prop_map(|alarms| alarms.into_iter().fold(Alarms::NONE, Alarms::with));
    let numbers = (any::<u32>(), any::<u16>(), any::<u32>(), any::<u32>());
    let counts = (any::<u16>(), any::<u16>(), millis());
    (numbers, of(readings), counts, 0..64_u8, alarms, of((celsius(), celsius()))).prop_map(
        |((number, boot, at_s, last_row), readings, counts, bits, alarms, air)| {
            let (doubtful, openings, dose) = counts;
            let lock_outs = drydown::guard::LockOuts::NONE;
            let day = Day {
                number,
                boot,
                at_s,
                last_row,
                readings,
                doubtful,
                openings,
                dose,
                lock_outs,
                alarms,
                air,
            };
            // Only bytes can say that something is locked out.
            let mut bytes = day.to_bytes();
            bytes[30] = bits;
            Day::from_bytes(&bytes).expect("64 sets of six lock-outs")
        },
    )
}
