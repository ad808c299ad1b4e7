//! The rows of a bench: a raw count against what the probe stood in.
//!
//! Columns are found by name; all but `raw` or `burst` may be left out:
//!
//! | column | meaning |
//! | --- | --- |
//! | `point` | `air`, `water`, `drained` (the soaked pot after it has drained), or empty: substrate of known water content |
//! | `raw` | the converter's count, or millivolts |
//! | `burst` | every conversion of the burst of which `raw` is the median, with spaces between; the median is taken of it where `raw` is empty |
//! | `water_pct` | water content, percent by volume |
//! | `mass_g`, `dry_mass_g`, `volume_ml` | instead of it: mass as read, mass bone dry, both with the same vessel, and volume of the substrate |
//! | `t_c` | temperature of the probe, °C |
//! | `probe`, `substrate` | which unit, in what |
//! | `date` | the day, `2026-05-02` |

use drydown::probe::Burst;
use drydown::quantity::RawCounts;
use jiff::civil::Date;

use crate::error::{InputError, readable};
use crate::spreadsheet::{Row, Table};

/// What a probe stood in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// Free air.
    Air,
    /// Water.
    Water,
    /// Substrate, soaked and drained: container capacity.
    Drained,
    /// Substrate of known water content.
    Soil,
}

impl Place {
    /// Its word in a file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Air => "air",
            Self::Water => "water",
            Self::Drained => "drained",
            Self::Soil => "soil",
        }
    }
}

/// One reading that can be used.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Its line; `None` for one given as an option.
    pub line: Option<u64>,
    /// What the probe stood in.
    pub place: Place,
    /// The count.
    pub raw: f64,
    /// Water content of the substrate, percent by volume.
    pub water_pct: Option<f64>,
    /// Temperature of the probe, °C.
    pub t_c: Option<f64>,
    /// The conversions of which the count is the median, where they were kept.
    pub burst: Vec<RawCounts>,
}

/// The readings of one probe in one substrate.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Readings {
    /// Those that can be used, in the order of the file.
    pub used: Vec<Reading>,
    /// What is wrong with each of the others; a sentence that names the line.
    pub unused: Vec<String>,
    /// Which probe.
    pub probe: Option<String>,
    /// In what.
    pub substrate: Option<String>,
    /// The latest day in the file.
    pub date: Option<Date>,
    /// Columns that were not read.
    pub ignored: Vec<String>,
}

/// What is said beside the file.
#[derive(Clone, Debug, PartialEq)]
pub struct Bench {
    /// The converter's largest count.
    pub top: f64,
    /// Only rows of this probe.
    pub probe: Option<String>,
    /// Mass bone dry, g, where the file has no column for it.
    pub dry_mass_g: Option<f64>,
    /// Volume of the substrate, mL, where the file has no column for it.
    pub volume_ml: Option<f64>,
    /// Water content of the drained pot where its row does not say it, percent by volume.
    pub drained_pct: Option<f64>,
}

const KNOWN: [&str; 11] = [
    "point",
    "raw",
    "burst",
    "water_pct",
    "mass_g",
    "dry_mass_g",
    "volume_ml",
    "t_c",
    "probe",
    "substrate",
    "date",
];

/// Coldest and hottest probe that is believed, °C.
const TEMPERATURES_C: (f64, f64) = (-20.0, 70.0);

struct Columns([Option<usize>; KNOWN.len()]);

impl Columns {
    fn of(table: &Table) -> Self {
        Self(KNOWN.map(|name| table.column(name)))
    }

    fn at(&self, name: &str) -> Option<usize> {
        KNOWN.iter().position(|known| *known == name).and_then(|at| self.0[at])
    }
}

/// Reads the readings in the bytes of a file.
///
/// # Errors
/// Names the line, column, value and bound of the first thing that cannot be read. A row that can
/// be read and cannot be true is no error: it is not used, and named.
pub fn read(bytes: &[u8], bench: &Bench) -> Result<Readings, InputError> {
    let table = Table::read(bytes)?;
    table.regular()?;
    let columns = Columns::of(&table);
    if columns.at("raw").or(columns.at("burst")).is_none() {
        let missing = InputError::new("is missing from the header").field("raw");
        return Err(missing.line(table.header_line).suggest(
            "The columns are point, raw, water_pct (or mass_g, dry_mass_g and volume_ml), t_c, \
             probe, substrate and date",
        ));
    }
    let mut readings = Readings::default();
    readings
        .ignored
        .extend(table.header.iter().filter(|name| !KNOWN.contains(&name.as_str())).cloned());
    let mut probes: Vec<&str> = vec![];
    for row in &table.rows {
        let text = |name: &str| columns.at(name).map_or("", |column| row.cell(column));
        let probe = text("probe");
        if !probe.is_empty() && !probes.contains(&probe) {
            probes.push(probe);
        }
        if bench.probe.as_deref().is_some_and(|wanted| wanted != probe) {
            continue;
        }
        let substrate = text("substrate");
        if !substrate.is_empty() {
            match &readings.substrate {
                Some(before) if before != substrate => {
                    return Err(InputError::new(format!(
                        "must be `{before}` as above: a curve is of one substrate"
                    ))
                    .line(row.line)
                    .field("substrate")
                    .value(substrate));
                }
                _ => readings.substrate = Some(substrate.to_owned()),
            }
        }
        readings.date = readings.date.max(date(row, text("date"))?);
        match reading(&table, &columns, row, bench)? {
            Ok(reading) => readings.used.push(reading),
            Err(why) => readings.unused.push(format!("line {}: {why}", row.line)),
        }
    }
    readings.probe = match (&bench.probe, probes.as_slice()) {
        (Some(wanted), found) if !found.contains(&wanted.as_str()) => {
            let error = InputError::new("is not in the file").field("--probe").value(wanted);
            return Err(if found.is_empty() {
                error
            } else {
                error.suggest(format!("It has {}", found.join(", ")))
            });
        }
        (Some(wanted), _) => Some(wanted.clone()),
        (None, [one]) => Some((*one).to_owned()),
        (None, []) => None,
        (None, several) => {
            return Err(InputError::new("holds more than one probe, and every one has its curve")
                .field("the file")
                .suggest(format!("Name one with --probe: {}", several.join(", "))));
        }
    };
    Ok(readings)
}

fn date(row: &Row, text: &str) -> Result<Option<Date>, InputError> {
    if text.is_empty() {
        return Ok(None);
    }
    let day = text.parse().map_err(|_| {
        InputError::new("must be a day like 2026-05-02").line(row.line).field("date").value(text)
    })?;
    Ok(Some(day))
}

/// A row: what it says, or why that cannot be.
type Judged = Result<Reading, String>;

fn reading(
    table: &Table,
    columns: &Columns,
    row: &Row,
    bench: &Bench,
) -> Result<Judged, InputError> {
    let number = |name: &str| match columns.at(name) {
        Some(column) => table.number(row, column),
        None => Ok(None),
    };
    let word = columns.at("point").map_or("", |column| row.cell(column));
    let place = match word.to_lowercase().as_str() {
        "air" => Place::Air,
        "water" => Place::Water,
        "drained" => Place::Drained,
        "" | "soil" => Place::Soil,
        _ => {
            return Err(InputError::new(
                "must be air, water, drained, or empty for substrate of \
                 known water content",
            )
            .line(row.line)
            .field("point")
            .value(word));
        }
    };
    let (raw, t_c) = (number("raw")?, number("t_c")?);
    let (water_pct, mass_g) = (number("water_pct")?, number("mass_g")?);
    let dry_mass_g = number("dry_mass_g")?.or(bench.dry_mass_g);
    let volume_ml = number("volume_ml")?.or(bench.volume_ml);
    let burst = conversions(row, columns.at("burst").map_or("", |column| row.cell(column)))?;
    let raw = match (raw, Burst::new(&burst).ok().map(|burst| f64::from(burst.median().0))) {
        (Some(raw), Some(median)) if (raw - median).abs() > 0.0 => {
            return Ok(Err(format!("raw {raw} is not the median of its burst, {median}")));
        }
        (raw, median) => raw.or(median),
    };
    let Some(raw) = raw else { return Ok(Err("it has no raw count".into())) };
    let mut counts = burst.iter().map(|count| f64::from(count.0)).chain([raw]);
    if let Some(raw) = counts.find(|raw| !(0.0..=bench.top).contains(raw)) {
        return Ok(Err(format!(
            "raw {} cannot come from this converter, which ends at {}",
            readable(raw.to_string()),
            bench.top
        )));
    }
    if let Some(t_c) = t_c {
        let (coldest, hottest) = TEMPERATURES_C;
        if !(coldest..=hottest).contains(&t_c) {
            return Ok(Err(format!("t_c {t_c} is not from {coldest} to {hottest} °C")));
        }
    }
    let water_pct = match (place, water_pct, mass_g) {
        (Place::Air, Some(pct), _) if pct.abs() > 0.0 => {
            return Ok(Err(format!("air does not hold {pct} % of water")));
        }
        (Place::Water, Some(pct), _) if (pct - 100.0).abs() > 0.0 => {
            return Ok(Err(format!("water is 100 %, not {pct} %, of water")));
        }
        (Place::Air | Place::Water, ..) => None,
        (_, Some(pct), _) => Some(pct),
        (_, None, Some(mass_g)) => match (dry_mass_g, volume_ml) {
            (Some(dry_g), Some(volume_ml)) if volume_ml > 0.0 => {
                if mass_g < dry_g {
                    return Ok(Err(format!("mass_g {mass_g} is below the dry mass, {dry_g} g")));
                }
                // Water weighs 1 g/mL.
                Some(100.0 * (mass_g - dry_g) / volume_ml)
            }
            (_, Some(volume_ml)) if volume_ml <= 0.0 => {
                return Ok(Err(format!("volume_ml {volume_ml} must be above 0")));
            }
            _ => {
                return Err(InputError::new(
                    "needs the mass of the same pot bone dry and the volume of the substrate",
                )
                .line(row.line)
                .field("mass_g")
                .suggest(
                    "Give columns dry_mass_g and volume_ml, or --dry-mass-g and --volume-ml",
                ));
            }
        },
        (Place::Drained, None, None) => match bench.drained_pct {
            Some(pct) => Some(pct),
            None => {
                return Err(InputError::new("needs the water that the drained pot holds")
                    .line(row.line)
                    .field("water_pct")
                    .suggest(
                        "Weigh the pot, or give the container capacity of the substrate with \
                         --drained-pct",
                    ));
            }
        },
        (Place::Soil, None, None) => {
            let why = "it has no water content, and its column `point` does not say air, water, \
                 drained or empty";
            return Ok(Err(why.into()));
        }
    };
    if let Some(pct) = water_pct
        && !(0.0..=100.0).contains(&pct)
    {
        return Ok(Err(format!("{pct:.1} % by volume is not from 0 to 100 %")));
    }
    Ok(Ok(Reading { line: Some(row.line), place, raw, water_pct, t_c, burst }))
}

/// The conversions of a burst, in the order in which they were read.
fn conversions(row: &Row, text: &str) -> Result<Vec<RawCounts>, InputError> {
    let counts: Result<Vec<_>, _> = text.split_whitespace().map(str::parse).collect();
    match counts {
        Ok(counts) if counts.len() <= Burst::MOST => {
            Ok(counts.into_iter().map(RawCounts).collect())
        }
        _ => Err(InputError::new(format!(
            "must be at most {} counts from 0 to 65535 with spaces between",
            Burst::MOST
        ))
        .line(row.line)
        .field("burst")
        .value(text)),
    }
}
