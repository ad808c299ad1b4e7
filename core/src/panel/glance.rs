//! What a person wants to know at a glance, as data: read off a zone, its inputs and its edges.

use super::line::{Line, Percent, Span, line};
use super::trouble::{Trouble, Troubles};
use super::words::{self, Words};
use crate::air::{AirFault, Climate};
use crate::calibration::Basis;
use crate::guard::{Cause, Closed, Condition, Path};
use crate::manifold::Need;
use crate::policy::{Policy as _, Waits};
use crate::quantity::{Millis, Moisture};
use crate::well::{Signs, Well};
use crate::zone::{Configuration, Event, Inputs, Mode, OrderRefusal, Outcome, Probes, Zone};

/// How long a refusal stays on the page.
const TOLD_FOR: u64 = 15_000;

/// Why a person was told no.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Refusal {
    /// The dose was refused for a condition on its path.
    Dose(Path, Condition),
    /// The order was not followed.
    Order(OrderRefusal),
}

impl Refusal {
    /// Who asked is told no by this edge. What automatic is refused shows in what the zone does.
    const fn of(event: Event) -> Option<Self> {
        match event {
            Event::Refused(Path::Automatic | Path::Fallback, _) => None,
            Event::Refused(path, condition) => Some(Self::Dose(path, condition)),
            Event::OrderRefused(refusal) => Some(Self::Order(refusal)),
            _ => None,
        }
    }

    /// Whether nothing comes of what was asked for; a dose may be taken and wait.
    const fn is_final(self) -> bool {
        !matches!(self, Self::Dose(_, condition) if condition.passes_soon())
    }
}

/// Whether a step refused what somebody asked for, once for all.
pub(super) fn refuses(outcome: &Outcome) -> bool {
    outcome.events.iter().any(|event| Refusal::of(*event).is_some_and(Refusal::is_final))
}

/// A refusal that is told now, and how long what it was for still lasts, if that is known.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Notice {
    /// Why.
    pub refusal: Refusal,
    /// Time until it passes.
    pub left: Option<Millis>,
    /// The dose is taken, and comes when this passes.
    pub waits: bool,
}

impl Notice {
    /// Its two lines: that it was refused or waits, with the countdown, and why.
    pub fn lines(&self) -> [Line; 2] {
        let what = match self.refusal {
            Refusal::Dose(_, condition) => Words::condition(condition).what,
            Refusal::Order(refusal) => Words::order(refusal).what,
        };
        let told = if self.waits { "Waits" } else { "Refused" };
        let first = if let Some(left) = self.left {
            line!(told, ": ", Span(left), " to go")
        } else {
            line!(told)
        };
        [first, line!(what)]
    }
}

/// What of the edges is still shown after their step. Keep it beside the zone.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Recent {
    /// How long the last permit was.
    permitted: Option<Millis>,
    closed: Option<(u64, Closed)>,
    refused: Option<(u64, Refusal)>,
}

impl Recent {
    /// Nothing has happened yet.
    pub const fn new() -> Self {
        Self { permitted: None, closed: None, refused: None }
    }

    /// Takes in the edges of a step.
    pub fn note(&mut self, now: u64, outcome: &Outcome) {
        for event in outcome.events.iter() {
            match *event {
                Event::Opened { length, .. } => self.permitted = Some(length),
                Event::Closed { path, cause, on } => {
                    self.closed = Some((now, Closed { path, cause, on }));
                }
                event => {
                    let refused = Refusal::of(event).map(|refusal| (now, refusal));
                    self.refused = refused.or(self.refused);
                }
            }
        }
    }
}

/// What the probe shows.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Shown {
    /// How moist; the last that was believed if this is not.
    pub moisture: Moisture,
    /// Percent of what.
    pub basis: Basis,
    /// Whether it is believed.
    pub believed: bool,
    /// How old it is.
    pub age: Millis,
}

/// The last watering since the start.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct LastWater {
    /// How long ago it ended.
    pub ago: Millis,
    /// How it came about, what ended it, how long it was.
    pub closed: Closed,
}

/// What it does, and why.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Doing {
    /// The intention is being written down, or waits for the supply.
    AboutToWater,
    /// Water flows.
    Watering {
        /// How it came about.
        path: Path,
        /// For how long already.
        given: Millis,
        /// For how long at the most.
        of: Millis,
        /// The level at which it ends before, if it ends by one.
        until: Option<Moisture>,
    },
    /// The valve was told to close.
    Closing,
    /// Switched off.
    Off,
    /// Bench mode, or somebody works at the pot; so long still.
    Bench(Millis),
    /// Something is in the way of watering; it passes in so long, if that is known.
    Hindered(Condition, Option<Millis>),
    /// The soil is moist enough.
    MoistEnough(Option<Moisture>),
    /// The soil was dry for so long of so long.
    Dry {
        /// So long already.
        for_: Millis,
        /// So long it must be.
        of: Millis,
    },
    /// Water given soaks in; so long still.
    Soaking(Millis),
    /// A dose by the clock comes in so long.
    NextDose(Millis),
    /// A policy that does not say what it waits for.
    Unsaid,
}

impl Doing {
    /// What it does and why, in two lines.
    pub fn lines(&self) -> [Line; 2] {
        match *self {
            Self::AboutToWater => [line!("About to water"), line!("writes it down first")],
            Self::Watering { path, given, of, until } => {
                let by = words::path(path);
                let second = if let Some(stop) = until {
                    line!(by, ": up to ", Percent(stop), " %")
                } else {
                    line!(by, ": ", Span(of), " in all")
                };
                [line!("Watering for ", Span(given)), second]
            }
            Self::Closing => [line!("Closing the valve"), Line::new()],
            Self::Off => [line!("Switched off"), line!("It does not water")],
            Self::Bench(left) => [line!("At the bench: ", Span(left)), line!("then automatic")],
            Self::Hindered(condition, left) => {
                let first = if let Some(left) = left {
                    line!("No water for ", Span(left))
                } else {
                    line!("No water for now")
                };
                [first, line!(Words::condition(condition).what)]
            }
            Self::MoistEnough(Some(start)) => {
                [line!("Moist enough"), line!("waters at ", Percent(start), " %")]
            }
            Self::MoistEnough(None) => [line!("Moist enough"), Line::new()],
            Self::Dry { for_, of } => [dry(for_, of), line!("waters if it stays so")],
            Self::Soaking(left) => {
                [line!("Soaking in: ", Span(left)), line!("then it looks again")]
            }
            Self::NextDose(left) => [line!("Next dose in ", Span(left)), line!("by the clock")],
            Self::Unsaid => [line!("Automatic"), Line::new()],
        }
    }
}

/// "Dry for 12 of 20 min": both in the unit of the longer one.
fn dry(for_: Millis, of: Millis) -> Line {
    let (unit, name) = match of.0 / 1_000 {
        0..100 => (1_000, "s"),
        100..7_200 => (60_000, "min"),
        _ => (3_600_000, "h"),
    };
    line!("Dry for ", for_.0 / unit, " of ", of.0 / unit, " ", name)
}

/// What a person standing at the pot wants to know.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Glance {
    /// Whether it is well.
    pub well: Well,
    /// How it is run.
    pub mode: Mode,
    /// Whether there is a probe.
    pub probed: bool,
    /// What the probe shows; `None` before the first reading.
    pub shown: Option<Shown>,
    /// Start and stop level.
    pub levels: Option<[Moisture; 2]>,
    /// What it does and why.
    pub doing: Doing,
    /// The last watering since the start.
    pub last: Option<LastWater>,
    /// Time since water last reached the soil from anywhere, as far as is known.
    pub no_water_for: Millis,
    /// What is wrong.
    pub troubles: Troubles,
    /// What was just refused.
    pub notice: Option<Notice>,
    /// Open time spent of the 24 h limit, and that limit.
    pub spent: [Millis; 2],
    /// What a person at the device may still give.
    pub left_by_hand: Millis,
    /// Openings since the start.
    pub openings: u32,
    /// The air, if there is a sensor.
    pub air: Option<Result<Climate, AirFault>>,
    /// Frost holds it back.
    pub frozen: bool,
    /// Time left in bench mode.
    pub bench_left: Millis,
}

impl Glance {
    /// Whether water flows.
    pub const fn is_watering(&self) -> bool {
        matches!(self.doing, Doing::Watering { .. } | Doing::AboutToWater)
    }

    /// Whether there is water that a press of DO stops: it flows, or a dose by hand still waits.
    pub fn is_to_stop(&self) -> bool {
        self.is_watering() || self.mode == Mode::Manual
    }

    /// Reads it off a zone that was just stepped with these inputs.
    pub fn of<C: Configuration>(
        zone: &Zone<C>,
        recent: &Recent,
        inputs: &Inputs,
        now: u64,
    ) -> Self {
        let config = zone.config().config();
        let basis = match &config.probes {
            Probes::None => None,
            Probes::One(probe) | Probes::Two { first: probe, .. } => Some(probe.basis()),
        };
        let reading = zone.reading();
        let shown = reading.zip(basis).map(|(reading, basis)| Shown {
            moisture: reading.moisture,
            basis,
            believed: reading.is_plausible() && zone.reading_age() <= zone.believed_for(),
            age: zone.reading_age(),
        });
        let levels = config.policy.start().zip(config.policy.stop());
        let signs = Signs::of(zone, inputs);
        let since = |then: u64| Millis(u32::try_from(now.saturating_sub(then)).unwrap_or(u32::MAX));
        let notice = recent.refused.and_then(|(at, refusal)| {
            let (waits, left) = match refusal {
                Refusal::Dose(path, condition) => {
                    // Who is told no walks away: a dose that still waits is told until it comes.
                    let waits = zone.mode() == Mode::Manual && !refusal.is_final();
                    let waits = waits && zone.under_way().is_none();
                    (waits, zone.passes_in(path, condition, inputs.drive))
                }
                Refusal::Order(_) => (false, None),
            };
            let told = waits || now.saturating_sub(at) < TOLD_FOR;
            told.then_some(Notice { refusal, left, waits })
        });
        Self {
            well: signs.well(zone.mode()),
            mode: zone.mode(),
            probed: basis.is_some(),
            shown,
            levels: levels.map(|(start, stop)| [start, stop]),
            doing: doing(zone, recent, inputs),
            last: recent.closed.map(|(at, closed)| LastWater { ago: since(at), closed }),
            no_water_for: zone.meters().watch.since_water(),
            troubles: Troubles::of(&signs),
            notice,
            spent: [zone.spent(), config.limits.per_day],
            left_by_hand: zone.left(Path::ManualLocal),
            openings: zone.meters().openings,
            air: None,
            frozen: signs.conditions.has(Condition::Frozen),
            bench_left: zone.bench_left(),
        }
    }

    /// With what an air sensor shows.
    #[must_use]
    pub fn with_air(mut self, air: Result<Climate, AirFault>) -> Self {
        if let Err(fault) = air {
            self.add_if(true, Trouble::Air(fault));
        }
        self.air = Some(air);
        self
    }

    /// With whether the chip resets itself when its supply sags.
    #[must_use]
    pub fn with_brown_out_reset(mut self, on: bool) -> Self {
        self.add_if(!on, Trouble::NoBrownOutReset);
        self
    }

    /// With whether the firmware refuses settings or a curve that are kept.
    #[must_use]
    pub fn with_kept_refused(mut self, refused: bool) -> Self {
        self.add_if(refused, Trouble::KeptRefused);
        self
    }

    /// Adds what the zone does not know of.
    fn add_if(&mut self, holds: bool, trouble: Trouble) {
        if holds {
            self.troubles.add(trouble);
            // What the zone does not know of is never urgent.
            self.well = self.well.max(Well::LookSoon);
        }
    }
}

fn doing<C: Configuration>(zone: &Zone<C>, recent: &Recent, inputs: &Inputs) -> Doing {
    let config = zone.config().config();
    match zone.need() {
        Need::Intended => return Doing::AboutToWater,
        Need::Closing => return Doing::Closing,
        Need::Open => {
            let path = zone.open().unwrap_or(Path::Automatic);
            let by_level = path == Path::Automatic && config.policy.stops_at_level();
            let given = if inputs.drive.on { inputs.drive.on_ms } else { Millis::ZERO };
            let of = recent.permitted.unwrap_or(config.limits.max_open);
            let until = config.policy.stop().filter(|_| by_level);
            return Doing::Watering { path, given, of, until };
        }
        Need::Nothing | Need::Wanted => {}
    }
    if zone.mode() == Mode::Off {
        return Doing::Off;
    }
    if !zone.bench_left().is_zero() {
        return Doing::Bench(zone.bench_left());
    }
    if let Some(condition) = zone.hindrance(Path::Automatic, inputs)
        // The rest of the valve is shorter than what the soil needs: the soak tells more.
        && condition != Condition::MinClosed
    {
        let left = zone.passes_in(Path::Automatic, condition, inputs.drive);
        return Doing::Hindered(condition, left);
    }
    match zone.waits() {
        Waits::Unsaid => Doing::Unsaid,
        Waits::Time(left) => Doing::NextDose(left),
        Waits::Level { soak, .. } if !soak.is_zero() => Doing::Soaking(soak),
        Waits::Level { agreeing: 0, .. } if !is_dry(zone) => {
            Doing::MoistEnough(config.policy.start())
        }
        // The first reading that agrees has been dry for no time yet.
        Waits::Level { agreeing: 0, agree, .. } => {
            let of = config.sampling.period.0.saturating_mul(u32::from(agree.saturating_sub(1)));
            Doing::Dry { for_: Millis::ZERO, of: Millis(of) }
        }
        Waits::Level { agreeing, agree, .. } => {
            let period = config.sampling.period.0;
            let for_ = period.saturating_mul(u32::from(agreeing.saturating_sub(1)));
            let of = Millis(period.saturating_mul(u32::from(agree.saturating_sub(1))));
            Doing::Dry { for_: Millis(for_).plus(zone.reading_age()).min(of), of }
        }
    }
}

/// Whether the last reading was at or below start, although it may not count towards a watering.
fn is_dry<C: Configuration>(zone: &Zone<C>) -> bool {
    let start = zone.config().config().policy.start();
    zone.reading().zip(start).is_some_and(|(reading, start)| reading.moisture <= start)
}

/// The line that tells of the last watering.
pub(super) fn last_line(glance: &Glance) -> Line {
    match glance.last {
        Some(LastWater { ago, closed: Closed { cause: Cause::Unordered, .. } }) => {
            line!("Ran unasked ", Span(ago), " ago")
        }
        Some(last) => line!("Watered ", Span(last.ago), " ago"),
        None => line!("No water seen for ", Span(glance.no_water_for)),
    }
}
