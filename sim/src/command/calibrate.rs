//! `drydown calibrate`: from readings at the bench to a device's curve with its error.

use std::fs;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::Printed;
use super::asking::{Asks, Terminal};
use crate::calibrate::points::{Merging, Wetter};
use crate::calibrate::readings::{Place, Reading, Readings};
use crate::calibrate::{
    Bench, Calibration, Wanted, calibrate, offset, readings, recheck, top, world,
};
use crate::destination::{Destination, Overwriting};
use crate::error::InputError;
use crate::report::calibration;

/// Formats of the calibration.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// Sentences and tables for a person.
    #[default]
    Text,
    /// One object for programs; the form in which a calibration is kept.
    Json,
}

/// Turn readings of a probe into a curve with its error
#[derive(Args, Clone, Debug)]
#[command(after_help = "\
Readings: one row each, columns raw and water_pct (or mass_g, dry_mass_g, volume_ml), and \
point (air, water, drained or empty), t_c, probe, substrate, date where they are known; burst, every \
conversion of which raw is the median, as `drydown watch --readings` writes it.

Example:
  drydown calibrate bench.csv --wetter falls --fragment probe.toml
  drydown calibrate bench.csv --wetter falls --range 25..50 --page probe.html
  drydown calibrate bench.csv --wetter falls --format json > probe.json
  drydown calibrate new.csv --wetter falls --offset-only --earlier probe.json
  drydown calibrate cups.csv --wetter falls --recheck --earlier probe.json")]
#[expect(clippy::struct_excessive_bools, reason = "options that are given or not")]
pub struct CalibrateArgs {
    /// Readings: a table with commas, semicolons or tabs between its cells
    pub readings: PathBuf,
    /// Whether counts fall or rise when it gets wetter; asked at a terminal
    #[arg(long, value_enum)]
    pub wetter: Option<Wetter>,
    /// Only rows of this probe
    #[arg(long, value_name = "ID")]
    pub probe: Option<String>,
    /// Bits of the converter
    #[arg(long, default_value_t = 12, value_parser = clap::value_parser!(u8).range(8..=16))]
    pub bits: u8,
    /// Counts between which the converter can be believed; all but its two ends if not said
    #[arg(long, value_name = "LOW..HIGH", value_parser = range)]
    pub window: Option<(f64, f64)>,
    /// Water contents that the plant uses, % by volume
    #[arg(long, value_name = "LOW..HIGH", value_parser = range)]
    pub range: Option<(f64, f64)>,
    /// Count in the soaked pot after it has drained
    #[arg(long, value_name = "COUNT")]
    pub drained_raw: Option<f64>,
    /// Water that the drained pot holds, % by volume
    #[arg(long, value_name = "PCT")]
    pub drained_pct: Option<f64>,
    /// Take percent of the span from air to water instead of percent by volume
    #[arg(long)]
    pub span_only: bool,
    /// Mass of the pot with its substrate bone dry, g
    #[arg(long, value_name = "G")]
    pub dry_mass_g: Option<f64>,
    /// Volume of the substrate, mL
    #[arg(long, value_name = "ML")]
    pub volume_ml: Option<f64>,
    /// Standard deviation of one reading, counts: neighbours out of order by no more become one point
    #[arg(long, value_name = "COUNTS")]
    pub noise: Option<f64>,
    /// Make one point of any neighbours out of order
    #[arg(long)]
    pub merge: bool,
    /// A calibration kept with --format json
    #[arg(long, value_name = "FILE")]
    pub earlier: Option<PathBuf>,
    /// Move the earlier curve to another probe of the same type by one known point
    #[arg(long, requires = "earlier", conflicts_with = "recheck")]
    pub offset_only: bool,
    /// Compare two cups with the earlier calibration
    #[arg(long, requires = "earlier")]
    pub recheck: bool,
    /// Write the probe's table for a scenario to this file
    #[arg(long, value_name = "FILE")]
    pub fragment: Option<PathBuf>,
    /// What may be replaced
    #[command(flatten)]
    pub overwriting: Overwriting,
    /// Write a page with the picture to this file
    #[arg(long, value_name = "FILE")]
    pub page: Option<PathBuf>,
    /// Format of what is printed
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

fn range(text: &str) -> Result<(f64, f64), String> {
    let number = |text: &str| text.trim().parse::<f64>().ok().filter(|number| number.is_finite());
    match text.split_once("..").map(|(low, high)| (number(low), number(high))) {
        Some((Some(low), Some(high))) if low < high => Ok((low, high)),
        _ => Err("must be two rising numbers like 25..50".to_owned()),
    }
}

/// Reads the readings and returns the calibration.
///
/// # Errors
/// Names file, line, column or option, value and bound.
pub fn run(args: &CalibrateArgs) -> super::Result {
    run_asking(args, &mut Terminal)
}

/// The same, with somebody to ask what no option says.
///
/// # Errors
/// As [`run`].
pub fn run_asking(args: &CalibrateArgs, person: &mut dyn Asks) -> super::Result {
    let page = args.page.as_deref().map(|path| Destination::page("--page", path)).transpose()?;
    let fragment = args.fragment.as_deref();
    let fragment =
        fragment.map(|path| Destination::data("--fragment", path, args.overwriting)).transpose()?;
    let read: Vec<_> = [args.readings.clone()].into_iter().chain(args.earlier.clone()).collect();
    Destination::keep_apart(&[&page, &fragment], &read)?;
    let wanted = wanted(args)?;
    let earlier = match &args.earlier {
        None => None,
        Some(path) => Some(Calibration::kept(&read_text(path)?, &path.display().to_string())?),
    };
    let name = args.readings.display().to_string();
    let mut readings = read_bytes(&args.readings).and_then(|bytes| {
        readings::read(&bytes, &bench(args)).map_err(|error| error.file(name.as_str()))
    })?;
    let made = match (&earlier, args.recheck, args.offset_only) {
        (Some(earlier), true, _) => looked_at(earlier, &readings, &wanted),
        (Some(earlier), _, true) => offset::moved(earlier, &readings, &wanted),
        _ => full(args, &mut readings, &wanted, person),
    };
    let made = made.map_err(|error| match error.file {
        None if error.field.as_deref().is_none_or(|field| !field.starts_with("--")) => {
            error.file(name.as_str())
        }
        _ => error,
    })?;
    let mut notes = vec![];
    if !readings.ignored.is_empty() {
        notes.push(format!("columns not read: {}", readings.ignored.join(", ")));
    }
    if let Some(fragment) = fragment {
        fragment.write(world::table(&made)?)?;
        notes.push(format!("table for a scenario: {fragment}"));
    }
    if let Some(page) = page {
        page.write(calibration::html(&made))?;
        notes.push(format!("page: {page}"));
    }
    let text = match args.format {
        Format::Text => calibration::text(&made),
        // Strings, numbers and nulls cannot fail to serialise.
        Format::Json => {
            serde_json::to_string_pretty(&made).map(|text| text + "\n").unwrap_or_default()
        }
    };
    let bad = args.recheck && made.rechecks.last().is_some_and(|look| !look.keep);
    Ok(Printed { text, notes, bad })
}

fn read_bytes(path: &Path) -> Result<Vec<u8>, InputError> {
    fs::read(path)
        .map_err(|cause| InputError::new(format!("cannot be read: {cause}")).value(path.display()))
}

fn read_text(path: &Path) -> Result<String, InputError> {
    fs::read_to_string(path).map_err(|cause| {
        InputError::new(format!("cannot be read: {cause}")).field("--earlier").value(path.display())
    })
}

fn wanted(args: &CalibrateArgs) -> Result<Wanted, InputError> {
    let top = top(args.bits);
    let above = |option: &str, value: Option<f64>, most: f64| match value {
        Some(value) if !(value > 0.0 && value <= most) => {
            Err(InputError::new(format!("must be above 0 and at most {most}"))
                .field(option)
                .value(value))
        }
        _ => Ok(()),
    };
    above("--drained-raw", args.drained_raw, top)?;
    above("--drained-pct", args.drained_pct, 100.0)?;
    above("--dry-mass-g", args.dry_mass_g, 1e6)?;
    above("--volume-ml", args.volume_ml, 1e6)?;
    above("--noise", args.noise, top / 10.0)?;
    let window = args.window.unwrap_or((0.0, top));
    if window.0 < 0.0 || window.1 > top {
        return Err(InputError::new(format!("must lie within 0..{top}"))
            .field("--window")
            .value(format!("{}..{}", window.0, window.1)));
    }
    Ok(Wanted {
        bits: args.bits,
        window,
        range_pct: args.range,
        span_only: args.span_only,
        merging: Merging { always: args.merge, noise: args.noise },
    })
}

fn bench(args: &CalibrateArgs) -> readings::Bench {
    readings::Bench {
        top: top(args.bits),
        probe: args.probe.clone(),
        dry_mass_g: args.dry_mass_g,
        volume_ml: args.volume_ml,
        drained_pct: args.drained_pct,
    }
}

fn full(
    args: &CalibrateArgs,
    readings: &mut Readings,
    wanted: &Wanted,
    person: &mut dyn Asks,
) -> Result<Calibration, InputError> {
    third_reading(args, readings, person)?;
    let bench = Bench::of(readings, wanted)?;
    confirm(args.wetter, &bench, person)?;
    calibrate(readings, bench, wanted)
}

/// The drained pot, where there are only the two ends: from the options, else by asking.
fn third_reading(
    args: &CalibrateArgs,
    readings: &mut Readings,
    person: &mut dyn Asks,
) -> Result<(), InputError> {
    let only_ends = readings.used.iter().all(|one| matches!(one.place, Place::Air | Place::Water));
    let mut add = |raw: f64, pct: f64| {
        readings.used.push(Reading {
            line: None,
            place: Place::Drained,
            raw,
            water_pct: Some(pct),
            t_c: None,
            burst: vec![],
        });
    };
    match (args.drained_raw, args.drained_pct) {
        (Some(raw), Some(pct)) => add(raw, pct),
        (Some(_), None) => {
            return Err(InputError::new("needs --drained-pct beside it").field("--drained-raw"));
        }
        (None, known) if only_ends && !args.span_only => {
            let question = "Count in the soaked pot after it has drained (empty: none)?";
            let Some(raw) = asked(person, question, top(args.bits))? else { return Ok(()) };
            let pct = match known {
                Some(pct) => Some(pct),
                None => asked(person, "Water it then holds, % by volume?", 100.0)?,
            };
            if let Some(pct) = pct {
                add(raw, pct);
            }
        }
        _ => {}
    }
    Ok(())
}

fn asked(person: &mut dyn Asks, question: &str, most: f64) -> Result<Option<f64>, InputError> {
    let Some(answer) = person.ask(question).filter(|answer| !answer.is_empty()) else {
        return Ok(None);
    };
    match answer.replace(',', ".").parse::<f64>() {
        Ok(number) if number > 0.0 && number <= most => Ok(Some(number)),
        _ => Err(InputError::new(format!("must be a number above 0 and at most {most}"))
            .field("the answer")
            .value(answer)),
    }
}

/// Has the direction confirmed, so that swapped ends are caught.
fn confirm(said: Option<Wetter>, bench: &Bench, person: &mut dyn Asks) -> Result<(), InputError> {
    let (Some(dry), Some(wet)) = (bench.points.first(), bench.points.last()) else { return Ok(()) };
    let seen = format!(
        "counts go from {:.0} at the dry end to {:.0} at the wet end: they {} as it gets wetter",
        dry.raw,
        wet.raw,
        bench.wetter.verb()
    );
    let agreed = match said {
        Some(said) => said == bench.wetter,
        None => match person.ask(&format!("The {seen}. Is that so for this probe [y/n]?")) {
            Some(answer) => answer.eq_ignore_ascii_case("y") || answer.eq_ignore_ascii_case("yes"),
            None => {
                return Err(InputError::new(format!("is not said, and the {seen}"))
                    .field("--wetter")
                    .suggest("Confirm it with --wetter falls or --wetter rises"));
            }
        },
    };
    if agreed {
        return Ok(());
    }
    let error = InputError::new(format!("contradicts the readings: the {seen}")).field("--wetter");
    let error = match said {
        Some(Wetter::Falls) => error.value("falls"),
        Some(Wetter::Rises) => error.value("rises"),
        None => error,
    };
    Err(error.suggest("Were the dry and the wet readings swapped?"))
}

fn looked_at(
    earlier: &Calibration,
    readings: &Readings,
    wanted: &Wanted,
) -> Result<Calibration, InputError> {
    let mut now = earlier.clone();
    now.rechecks.push(recheck::recheck(earlier, readings, wanted)?);
    Ok(now)
}
