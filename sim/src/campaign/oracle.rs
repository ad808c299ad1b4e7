//! What a maker should find after each fault, written down before any run: one row a kind.

use drydown::guard::LockOut;

use crate::fault::Kind;
use crate::scenario::Scenario;
use crate::scenario::schema::{PolicyKind, WaterTable};
use crate::score::Rule;

/// What should be found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Expected {
    /// Waters on: no lock-out, and no more thirst than without the fault but for its length and half
    /// a day.
    CarriesOn,
    /// Whatever it does, it keeps the rules, and no plant suffers without a word.
    NoHarm,
    /// Says so within so many hours.
    Says(f64),
    /// The same, where plants go short of water by it: the reading is a level soil could have.
    SaysIfShort(f64),
    /// Locks itself out for this within so many hours.
    LocksOut(LockOut, f64),
    /// No software can stop it: what can.
    Beyond(&'static str),
    /// Nothing that is fitted shows it: what would.
    Unseen(&'static str),
}

/// What may be fitted beside a probe that shows what is wrong with the plumbing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sensor {
    /// A flow sensor at the valve.
    Flow,
    /// The measured current of coil or pump.
    Current,
    /// That of a pump.
    PumpCurrent,
    /// A leak sensor on the floor.
    Leak,
    /// A float in the tank that says empty.
    TankFloat,
}

impl Sensor {
    const fn is_fitted(self, scenario: &Scenario) -> bool {
        let Scenario { signals, water, .. } = scenario;
        match self {
            Self::Flow => signals.flow_within.is_some(),
            Self::Current => signals.current_within.is_some(),
            Self::PumpCurrent => signals.current_within.is_some() && water.is_pumped(),
            Self::Leak => signals.leak_sensor,
            Self::TankFloat => signals.tank_empty_l.is_some(),
        }
    }
}

/// One row: what should be found after one kind of fault.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// The fault.
    pub kind: Kind,
    /// How long it lasts, hours; to the end if not said.
    pub lasts_h: Option<f64>,
    /// With a policy that reads the probe.
    pub probed: Expected,
    /// With a policy that goes by the clock.
    pub by_clock: Expected,
    /// How much longer than allowed water may run, s: a watchdog's time, a slow valve.
    pub further_s: f64,
    /// Rules of the device that this fault takes out of its hands.
    pub excused: &'static [Rule],
    /// What shows it whatever the policy, where it is fitted, and within how many hours.
    pub shown: &'static [(Sensor, f64)],
}

impl Row {
    /// What should be found with this policy and these sensors.
    pub fn expected(&self, policy: PolicyKind, scenario: &Scenario) -> Expected {
        let unshown = match policy {
            PolicyKind::Timer => self.by_clock,
            PolicyKind::Hysteresis | PolicyKind::Metered => self.probed,
        };
        match (unshown, self.shown_within(scenario)) {
            // Told or not, nothing stops it.
            (Expected::Beyond(part), _) => Expected::Beyond(part),
            (_, Some(hours)) => Expected::Says(hours),
            (unshown, None) => unshown,
        }
    }

    /// Within how many hours one of these sensors shows it.
    pub fn shown_within(&self, scenario: &Scenario) -> Option<f64> {
        let fitted = self.shown.iter().filter(|(sensor, _)| sensor.is_fitted(scenario));
        fitted.map(|(_, hours)| *hours).reduce(f64::min)
    }
}

/// What answers a fault that no software can stop, or would show one: `part` names it for a valve.
pub const fn part_for(kind: Kind, part: &'static str, water: &WaterTable) -> &'static str {
    match kind {
        Kind::ValveStuckOpen if water.is_pumped() => {
            "a second switch in series and a tank no bigger than may be spilled"
        }
        Kind::ValveNormallyOpen if water.is_pumped() => {
            "a switch that is off while nothing drives it"
        }
        _ => part,
    }
}

/// A sample comes every ten minutes and three may be missed: an hour is ample.
const AT_ONCE: Expected = Expected::Says(1.0);
/// Rule S14: no thirst without a word for longer than four days.
const BEFORE_IT_DIES: Expected = Expected::SaysIfShort(96.0);
/// Within a day the soil is dry enough to ask, and three doses go unanswered within another.
const NO_ANSWER: Expected = Expected::LocksOut(LockOut::NoResponse, 72.0);
const FLOW_SENSOR: Expected = Expected::Unseen("a flow sensor, or a probe");
const NOTHING: &[Rule] = &[];
/// Flow while closed is seen at the next look, an hour away at the most.
const FLOWS_ON: &[(Sensor, f64)] = &[(Sensor::Flow, 1.0)];
/// Flow that is wrong while open is seen when the soil next asks for water, or the clock.
const FLOWS_WRONG: &[(Sensor, f64)] = &[(Sensor::Flow, 72.0)];
/// A chip that does not run can neither close nor speak.
const DEAD: &[Rule] = &[Rule::S2, Rule::S4, Rule::S6, Rule::S8, Rule::S14];

const fn row(kind: Kind, probed: Expected, by_clock: Expected) -> Row {
    Row { kind, lasts_h: None, probed, by_clock, further_s: 0.0, excused: NOTHING, shown: &[] }
}

const fn same(kind: Kind, expected: Expected) -> Row {
    row(kind, expected, expected)
}

/// A fault of the probe: the clock does not read it.
const fn probe(kind: Kind, expected: Expected) -> Row {
    row(kind, expected, Expected::CarriesOn)
}

const fn lasting(hours: f64, row: Row) -> Row {
    Row { lasts_h: Some(hours), ..row }
}

const fn shown(shown: &'static [(Sensor, f64)], row: Row) -> Row {
    Row { shown, ..row }
}

/// What should be found after this kind of fault.
#[expect(clippy::match_same_arms, reason = "a table by family, each row with its own why")]
pub const fn row_of(kind: Kind) -> Row {
    use Expected::{Beyond, CarriesOn, LocksOut, NoHarm, Says, SaysIfShort, Unseen};
    match kind {
        Kind::ProbeSilent
        | Kind::ProbeUnplugged
        | Kind::ProbeUnpluggedHigh
        | Kind::ProbeFloating
        | Kind::ProbeShorted
        | Kind::ProbeShortedLow
        | Kind::ProbeOut
        | Kind::ProbeHalfOut
        | Kind::ProbeNoisy => probe(kind, AT_ONCE),
        Kind::ProbeFlat => probe(kind, Says(24.0)),
        // A level that soil could have: only thirst that is not answered gives it away.
        Kind::ProbeFollowsNeighbour | Kind::ConverterClips => probe(kind, BEFORE_IT_DIES),
        // Shows once the soil is dry enough to ask for water.
        Kind::ConverterWraps => probe(kind, SaysIfShort(72.0)),
        Kind::ProbeSpikes => probe(kind, CarriesOn),
        // A level that is off by a little, or late, is a level that soil could have; what it does to
        // the plants is shown. A test before building finds these.
        Kind::ProbeSlow
        | Kind::ProbeAirGap
        | Kind::ProbeAnswersLate
        | Kind::ProbeCreepingWet
        | Kind::ProbeTemperatureSwing
        | Kind::ProbeSalted
        | Kind::ProbeSwapped
        | Kind::ProbeSupplySags
        | Kind::ProbeOftenSilent
        | Kind::ConverterSteps => probe(kind, NoHarm),

        Kind::ReadingResets => probe(kind, BEFORE_IT_DIES),
        Kind::PowerCut => lasting(12.0, same(kind, CarriesOn)),
        Kind::PowerFlickers
        | Kind::ClockJump
        | Kind::ClockJumpsBack
        | Kind::ClockSlow
        | Kind::CounterWraps => same(kind, CarriesOn),
        Kind::BrownOut => same(kind, LocksOut(LockOut::ResetsWhileOpen, 72.0)),
        Kind::PinHighAtBoot => {
            same(kind, Beyond("another pin, and a resistor that pulls the output to off"))
        }
        Kind::ChipFreezes => Row {
            excused: DEAD,
            ..same(kind, Beyond("an independent watchdog, fed only by a finished step"))
        },
        Kind::WatchdogBites => Row { further_s: 8.0, ..same(kind, CarriesOn) },
        Kind::LoopHangs => Row {
            excused: &[Rule::S14],
            ..same(kind, Beyond("an independent watchdog that starts the program anew"))
        },
        // Later than the second that is common practice for a loop.
        Kind::StepsLate | Kind::LoopBlocks => same(kind, NoHarm),
        Kind::RecordLost => same(kind, AT_ONCE),
        Kind::StoreFails => same(kind, LocksOut(LockOut::StoreFailed, 72.0)),

        Kind::ValveStuckOpen => shown(
            FLOWS_ON,
            same(kind, Beyond("a second valve in series and a tank no bigger than may be spilled")),
        ),
        // It is open at its next closing.
        Kind::RelayWelds => shown(
            FLOWS_WRONG,
            same(kind, Beyond("a second contact in series, or a transistor for the relay")),
        ),
        Kind::ValveNormallyOpen => shown(FLOWS_ON, same(kind, Beyond("a normally closed valve"))),
        Kind::ValveWeeping => {
            same(kind, Beyond("a strainer before the valve; a second valve in series"))
        }
        Kind::GateFloats => {
            shown(FLOWS_ON, same(kind, Beyond("a resistor that pulls the gate down")))
        }
        Kind::Siphon => same(kind, Beyond("an air break above the highest level of the tank")),
        Kind::ValveStuckClosed => shown(
            &[(Sensor::Flow, 72.0), (Sensor::Current, 72.0)],
            row(kind, NO_ANSWER, FLOW_SENSOR),
        ),
        Kind::ValveStarved => shown(FLOWS_WRONG, row(kind, NO_ANSWER, FLOW_SENSOR)),
        Kind::NoWater => shown(
            &[(Sensor::Flow, 72.0), (Sensor::PumpCurrent, 72.0), (Sensor::TankFloat, 1.0)],
            row(kind, NO_ANSWER, Unseen("a float switch in the tank, or a probe")),
        ),
        Kind::HoseOff => shown(
            &[(Sensor::Flow, 72.0), (Sensor::Leak, 72.0)],
            row(kind, NO_ANSWER, Unseen("a leak sensor on the floor, or a probe")),
        ),
        Kind::HoseSplits => shown(
            &[(Sensor::Leak, 72.0)],
            row(kind, NoHarm, Unseen("a leak sensor on the floor, or a probe")),
        ),
        Kind::CoilOverheats => shown(
            &[(Sensor::Flow, 72.0), (Sensor::PumpCurrent, 72.0)],
            row(kind, NoHarm, FLOW_SENSOR),
        ),
        Kind::EmittersClogged => shown(FLOWS_WRONG, row(kind, NoHarm, FLOW_SENSOR)),
        // It takes days until the flow has left its window.
        Kind::EmittersClogging => shown(&[(Sensor::Flow, 120.0)], row(kind, NoHarm, FLOW_SENSOR)),
        Kind::ValveClosesLate => Row { further_s: 30.0, ..same(kind, CarriesOn) },
        Kind::EmittersOff => shown(FLOWS_WRONG, same(kind, NoHarm)),

        Kind::PeatRepels => row(kind, NO_ANSWER, Unseen("a probe; wet the pot from below")),
        Kind::PlantsUseMore => row(kind, NoHarm, Unseen("a probe, or a bigger ration")),
        Kind::PlantsUseLess => row(kind, CarriesOn, NoHarm),
        Kind::Cloudburst => lasting(1.0, same(kind, CarriesOn)),
        Kind::Frost => lasting(10.0, row(kind, AT_ONCE, CarriesOn)),
        Kind::LinkLost => same(kind, CarriesOn),
        Kind::ButtonSticks => same(kind, NoHarm),
    }
}
