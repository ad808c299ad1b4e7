//! The bounds of a hunt, checked: those of the table, and usual ones for what it does not say.

use serde::Serialize;

use super::table::{ActingTable, ComingTable, HuntTable};
use crate::campaign::oracle::{Expected, row_of};
use crate::error::InputError;
use crate::fault::Kind;
use crate::person::Act;
use crate::scenario::schema::PolicyKind;
use crate::scenario::{Scenario, Source, vary};

/// Device-days a hunt simulates if nobody says how many cases to try: some seconds.
const USUAL_DEVICE_DAYS: f64 = 2_000.0;
const FEWEST_CASES: f64 = 20.0;
const USUAL_CASES: f64 = 200.0;
const MOST_CASES: u32 = 1_000_000;
/// Most faults or acts that may be asked for in one case.
const MOST_AT_ONCE: u8 = 20;

/// A number that may move.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Moving {
    /// Its dotted path.
    pub name: String,
    /// What the scenario says.
    pub now: Option<f64>,
    /// Smallest value.
    pub least: f64,
    /// Largest value.
    pub most: f64,
    /// Whether it is a whole number.
    #[serde(skip)]
    pub whole: bool,
}

/// A kind of fault that may come.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Coming {
    /// What.
    pub kind: Kind,
    /// Shortest and longest, hours.
    pub for_h: (f64, f64),
    /// Least and most, in the unit of the kind; both zero where there is none.
    pub amount: (f64, f64),
}

/// An act that people may do.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Acting {
    /// What.
    pub does: Act,
    /// Least and most, in the unit of the act; both zero where there is none.
    pub amount: (f64, f64),
}

/// Within which bounds to look.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ranges {
    /// Cases to try.
    pub cases: u32,
    /// Seed of the cases.
    pub seed: u64,
    /// The scenario's seed may change.
    pub seeds: bool,
    /// Resets may come in storms.
    pub storms: bool,
    /// Most faults in one case.
    pub most_faults: u8,
    /// Most acts in one case.
    pub most_acts: u8,
    /// Numbers that may move.
    pub fields: Vec<Moving>,
    /// Faults that may come.
    pub faults: Vec<Coming>,
    /// Acts that people may do.
    pub acts: Vec<Acting>,
}

impl Ranges {
    /// The bounds of a scenario.
    ///
    /// # Errors
    /// A field that is no number of the scenario, a bound that it cannot take, bounds the wrong
    /// way round; with file, line, field, value and bound.
    pub fn of(source: &Source, scenario: &Scenario) -> Result<Self, InputError> {
        let usual = HuntTable::default();
        let table = scenario.hunt.as_ref().unwrap_or(&usual);
        let read = Read { source, scenario };
        let count = |name: &str, value: Option<u8>, usual: u8| {
            let value = value.unwrap_or(usual);
            let most = f64::from(MOST_AT_ONCE);
            source.within(&format!("hunt.{name}"), f64::from(value), 0.0, most).map(|_| value)
        };
        let usual_cases = (USUAL_DEVICE_DAYS / scenario.days).clamp(FEWEST_CASES, USUAL_CASES);
        let cases = table.cases.unwrap_or(usual_cases as u32);
        source.within("hunt.cases", f64::from(cases), 1.0, f64::from(MOST_CASES))?;
        Ok(Self {
            cases,
            seed: table.seed.unwrap_or(1),
            seeds: table.seeds.unwrap_or(true),
            storms: table.storms.unwrap_or(true),
            most_faults: count("most_faults", table.most_faults, 2)?,
            most_acts: count("most_acts", table.most_acts, 1)?,
            fields: read.fields(table)?,
            faults: read.faults(&table.faults)?,
            acts: read.acts(&table.acts)?,
        })
    }

    /// The same with another number of cases, as asked for on the command line.
    ///
    /// # Errors
    /// Not from 1 to a million.
    pub fn with_cases(self, cases: u32) -> Result<Self, InputError> {
        if (1..=MOST_CASES).contains(&cases) {
            return Ok(Self { cases, ..self });
        }
        let message = format!("must be from 1 to {MOST_CASES}");
        Err(InputError::new(message).field("--cases").value(cases))
    }
}

struct Read<'a> {
    source: &'a Source,
    scenario: &'a Scenario,
}

impl Read<'_> {
    fn fields(&self, table: &HuntTable) -> Result<Vec<Moving>, InputError> {
        let mut fields = vec![];
        let numbers = vary::numbers(self.scenario)?;
        for (index, field) in table.fields.iter().enumerate() {
            let at = |name: &str| format!("hunt.field.{index}.{name}");
            let placed = |name: &str, error: InputError| {
                let placed = self.source.error(&at(name), error.message);
                let value = error.value.unwrap_or_else(|| field.name.as_str().into());
                InputError { value: Some(value), suggestion: error.suggestion, ..placed }
            };
            let now = vary::get(self.source, self.scenario, &field.name)
                .map_err(|error| placed("name", error))?;
            let Some(number) = numbers.iter().find(|number| number.path == field.name) else {
                let message = "is not among the tables and list positions of this scenario";
                return Err(self.source.error(&at("name"), message).value(&field.name));
            };
            for (name, value) in [("least", field.least), ("most", field.most)] {
                vary::check(self.source, self.scenario, &field.name, value)
                    .map_err(|error| placed(name, error))?;
            }
            self.ordered(&at("least"), field.least, field.most)?;
            fields.push(Moving {
                name: field.name.clone(),
                now,
                least: field.least,
                most: field.most,
                whole: number.whole,
            });
        }
        Ok(fields)
    }

    fn ordered(&self, field: &str, least: f64, most: f64) -> Result<(), InputError> {
        if least <= most {
            return Ok(());
        }
        Err(self.source.error(field, format!("must be at most {most}")).value(least))
    }

    fn pair(
        &self,
        field: &str,
        pair: Option<[f64; 2]>,
        usual: (f64, f64),
        (min, max): (f64, f64),
    ) -> Result<(f64, f64), InputError> {
        let Some([least, most]) = pair else { return Ok(usual) };
        self.source.within(&format!("{field}.0"), least, min, max)?;
        self.source.within(&format!("{field}.1"), most, min, max)?;
        self.ordered(&format!("{field}.0"), least, most)?;
        Ok((least, most))
    }

    fn faults(&self, tables: &[ComingTable]) -> Result<Vec<Coming>, InputError> {
        if tables.is_empty() {
            let by_clock = self.scenario.control.policy == PolicyKind::Timer;
            let borne = Kind::ALL.iter().copied().filter(|&kind| is_borne(kind, by_clock));
            return Ok(borne.map(Coming::usual).collect());
        }
        let mut faults = vec![];
        for (index, table) in tables.iter().enumerate() {
            let at = |name: &str| format!("hunt.fault.{index}.{name}");
            let usual = Coming::usual(table.kind);
            let (_, min, max) = table.kind.amount();
            faults.push(Coming {
                kind: table.kind,
                for_h: self.pair(&at("for_h"), table.for_h, usual.for_h, (1e-4, 1e6))?,
                amount: self.pair(&at("amount"), table.amount, usual.amount, (min, max))?,
            });
        }
        Ok(faults)
    }

    fn acts(&self, tables: &[ActingTable]) -> Result<Vec<Acting>, InputError> {
        if tables.is_empty() {
            return Ok(Acting::usual(self.scenario));
        }
        let mut acts = vec![];
        for (index, table) in tables.iter().enumerate() {
            let (usual, min, max) = table.does.amount();
            let field = format!("hunt.act.{index}.amount");
            let amount = self.pair(&field, table.amount, (usual, usual), (min, max))?;
            acts.push(Acting { does: table.does, amount });
        }
        Ok(acts)
    }
}

/// Whether a device should bear a fault, or tell of it. What no software can stop or see, and a
/// level that is merely off, is the campaign's to show: here it would only be found again and again.
pub fn is_borne(kind: Kind, by_clock: bool) -> bool {
    let row = row_of(kind);
    let expected = if by_clock { row.by_clock } else { row.probed };
    match expected {
        Expected::CarriesOn
        | Expected::Says(_)
        | Expected::SaysIfShort(_)
        | Expected::LocksOut(..) => true,
        Expected::NoHarm | Expected::Beyond(_) | Expected::Unseen(_) => false,
    }
}

impl Coming {
    /// How long and how strong a fault is taken to come if nobody says: from what hardly shows to
    /// what a person finds after some days (common practice). A cut of the power or a hang
    /// ends within the day: a device that never runs again can keep no promise.
    fn usual(kind: Kind) -> Self {
        let for_h = match kind {
            Kind::PowerCut => (0.001, 12.0),
            Kind::LoopHangs => (0.001, 6.0),
            Kind::BrownOut | Kind::StepsLate => (0.05, 48.0),
            _ => (0.1, 96.0),
        };
        let amount = match kind {
            Kind::ProbeHalfOut => (0.1, 0.9),
            Kind::ProbeFlat => (0.0, 4_095.0),
            Kind::ProbeCreepingWet => (0.2, 5.0),
            Kind::ProbeNoisy => (20.0, 2_000.0),
            Kind::ValveWeeping => (0.01, 2.0),
            Kind::EmittersClogged => (0.1, 1.0),
            Kind::StepsLate => (0.1, 120.0),
            Kind::ClockJump => (-48.0, 48.0),
            _ => (0.0, 0.0),
        };
        Self { kind, for_h, amount }
    }
}

impl Acting {
    /// What passes by a device: buttons, a look from afar, a can. Nothing that leaves it switched
    /// off or its probe reading otherwise than calibrated.
    fn usual(scenario: &Scenario) -> Vec<Self> {
        let longest = scenario.control.max_open_s.max(2.0);
        let can_l = match (&scenario.container, &scenario.bed) {
            (Some(pot), _) => 0.1 * pot.volume_l,
            _ => 10.0,
        };
        vec![
            Self { does: Act::WatersByHand, amount: (1.0, 2.0 * longest) },
            Self { does: Act::WatersFromAfar, amount: (1.0, 2.0 * longest) },
            Self { does: Act::Stops, amount: (0.0, 0.0) },
            Self { does: Act::Acknowledges, amount: (0.0, 0.0) },
            Self { does: Act::PoursCan, amount: (0.1 * can_l, can_l) },
        ]
    }
}
