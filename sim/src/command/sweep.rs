//! `drydown sweep`: many settings against many weathers and probes, and which one to take.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use clap::Args;

use super::run::Format;
use super::{Printed, said_by};
use crate::error::InputError;
use crate::parallel::Threads;
use crate::report::sweep::{self as told, Telling};
use crate::scenario::schema::PolicyKind;
use crate::scenario::vary::{self, Base};
use crate::scenario::{Source, shipped};
use crate::sweep::case::prepared;
use crate::sweep::folder::{Asked, Folder, PAGE, RECOMMENDED, RESULT, SETTINGS};
use crate::sweep::plan::{Axis, MOST_EACH, Plan};
use crate::sweep::{run as run_sweep, usual_axes};

/// Try many settings against many weathers and probes, and say which one to take
#[derive(Args, Clone, Debug)]
#[command(after_help = "\
Examples:
  drydown sweep balcony.toml
  drydown sweep balcony.toml --vary control.start_pct=46..54
  drydown sweep balcony.toml --shard 1/2 --out one     (and 2/2 elsewhere)
  drydown sweep --merge one two --out whole

All results are left in the folder of the sweep. A sweep that was stopped goes on when it is called \
again in the same words.")]
pub struct SweepArgs {
    /// Scenario file, or the name of a shipped scenario
    #[arg(default_value = shipped::BUILT_IN)]
    pub scenario: String,
    /// Vary a number of the scenario; without any: start, stop and the 24 h limit
    #[arg(long, value_name = "PATH=FROM..TO[:VALUES]|A,B,..", allow_hyphen_values = true)]
    pub vary: Vec<String>,
    /// Values on each range that does not say how many
    #[arg(long, value_name = "N", default_value_t = 5)]
    pub values: u32,
    /// Spread so many settings evenly over the ranges instead of trying every combination
    #[arg(long, value_name = "N")]
    pub sample: Option<u64>,
    /// Weathers to try each setting with, each drawn anew; usually 3, and 1 where the weather is
    /// measured
    #[arg(long, value_name = "N")]
    pub seeds: Option<u64>,
    /// Probes of the same kind to try each setting with; usually 3, and 1 without a probe
    #[arg(long, value_name = "N")]
    pub units: Option<u64>,
    /// Run for so many days instead of the scenario's
    #[arg(long)]
    pub days: Option<f64>,
    /// Hours in which plants may be short of water in a run
    #[arg(long, value_name = "HOURS", default_value_t = 1.0)]
    pub short_hours: f64,
    /// Folder of the sweep; usually drydown-sweep-NAME
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// Forget what the folder holds and begin anew
    #[arg(long)]
    pub anew: bool,
    /// Run part K of N only, so that several machines can share the work; --merge puts the parts
    /// together
    #[arg(long, value_name = "K/N", value_parser = part)]
    pub shard: Option<[u64; 2]>,
    /// Put the parts in these folders together instead of running
    #[arg(long, value_name = "FOLDER", num_args = 1.., requires = "out",
        conflicts_with_all = ["vary", "sample", "seeds", "units", "days", "shard", "fields"])]
    pub merge: Vec<PathBuf>,
    /// Threads to run on; usually one for each core
    #[arg(long, value_name = "N")]
    pub threads: Option<usize>,
    /// Format of what is printed: the findings, or the table of settings
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
    /// Print the table of single runs instead of that of settings
    #[arg(long)]
    pub cases: bool,
    /// List the numbers of the scenario that can be varied, with their bounds
    #[arg(long)]
    pub fields: bool,
}

fn part(text: &str) -> Result<[u64; 2], String> {
    let parsed = text.split_once('/').and_then(|(part, of)| {
        let (part, of) = (part.parse().ok()?, of.parse().ok()?);
        (1 <= part && part <= of && of <= 10_000).then_some([part, of])
    });
    parsed.ok_or_else(|| "must read K/N with K from 1 to N, and N at most 10000".to_owned())
}

/// Runs the sweep or goes on with it, leaves the results in its folder and returns the findings.
///
/// # Errors
/// What is wrong with scenario or options, or a folder that holds something else.
pub fn run(args: &SweepArgs) -> super::Result {
    if !(0.0..=1e6).contains(&args.short_hours) {
        let error = InputError::new("must be from 0 to 1000000").field("--short-hours");
        return Err(error.value(args.short_hours));
    }
    if !args.merge.is_empty() {
        let into = args.out.clone().unwrap_or_default();
        let (base, folder) = Folder::merge(&args.merge, &into, args.anew)?;
        return finish(args, &base, &folder);
    }
    let source = Source::open(&args.scenario)?;
    let mut scenario = source.parse()?;
    if let Some(days) = args.days {
        scenario.days = days;
    }
    let base = Base::of(source, scenario).map_err(|error| said_by(args.days, error))?;
    if args.fields {
        return fields(args, &base);
    }
    let plan = plan(args, &base)?;
    can_be_set_up(&base, &plan)?;
    let threads = Threads::new(args.threads)?;
    let asked = Asked::new(plan, args.shard.unwrap_or([1, 1]));
    let path = args.out.clone().unwrap_or_else(|| usual_folder(args));
    let mut folder = Folder::open(&path, &base, &asked, args.anew)?;
    let cases = folder.cases();
    run_sweep(&base, &asked.plan, &mut folder, &threads, |path| {
        let telling = Telling::of(&base, &asked, &cases, args.short_hours)?;
        write(&path.join(PAGE), |out| {
            out.write_all(told::html(&telling).as_bytes()).map_err(|cause| cannot(path, &cause))
        })
    })?;
    finish(args, &base, &folder)
}

fn usual_folder(args: &SweepArgs) -> PathBuf {
    let name = Path::new(&args.scenario).file_stem().unwrap_or_default().to_string_lossy();
    let part = args.shard.map(|[part, of]| format!("-part-{part}-of-{of}")).unwrap_or_default();
    PathBuf::from(format!("drydown-sweep-{name}{part}"))
}

fn plan(args: &SweepArgs, base: &Base) -> Result<Plan, InputError> {
    let scenario = &base.setup().scenario;
    let axes = if args.vary.is_empty() {
        usual_axes(base, args.values)?
    } else {
        let axes = args.vary.iter().map(|text| Axis::parse(base, text, args.values));
        axes.collect::<Result<_, _>>()?
    };
    let measured = base.setup().weather.course.is_measured();
    let seeds = args.seeds.unwrap_or(if measured { 1 } else { 3 });
    if measured && seeds > 1 {
        let error = InputError::new("must be 1: the weather is measured and stays what it was");
        return Err(error.field("--seeds").value(seeds));
    }
    let no_probe = scenario.control.policy == PolicyKind::Timer;
    let units = args.units.unwrap_or(if no_probe { 1 } else { 3 });
    Plan {
        sample: args.sample,
        seeds: numbered(base, "--seeds", "seed", scenario.seed, seeds)?,
        units: numbered(base, "--units", "probe.unit", scenario.unit(), units)?,
        axes,
    }
    .checked()
}

/// So many numbers from the scenario's own on.
fn numbered(
    base: &Base,
    option: &str,
    path: &str,
    first: u64,
    count: u64,
) -> Result<Vec<u64>, InputError> {
    if !(1..=MOST_EACH).contains(&count) {
        let message = format!("must be from 1 to {MOST_EACH}");
        return Err(InputError::new(message).field(option).value(count));
    }
    let last = first.saturating_add(count - 1);
    vary::check(base.source(), &base.setup().scenario, path, last as f64)?;
    Ok((first..=last).collect())
}

/// Settings looked at for one that can be set up, before anything is run.
const LOOKED_AT: u64 = 10_000;

fn can_be_set_up(base: &Base, plan: &Plan) -> Result<(), InputError> {
    let mut first_error = None;
    for setting in 0..plan.settings().min(LOOKED_AT) {
        match prepared(base, plan, &plan.values(setting), plan.seeds[0], plan.units[0]) {
            Ok(_) => return Ok(()),
            Err(error) => {
                first_error.get_or_insert(error);
            }
        }
    }
    first_error.map_or(Ok(()), |error| {
        Err(error.suggest("None of the settings can be set up: this is the first one's reason"))
    })
}

fn cannot(path: &Path, cause: &io::Error) -> InputError {
    InputError::new(format!("cannot be written: {cause}")).field("--out").value(path.display())
}

/// Writes a file as a whole: beside its place first, then moved there.
fn write(
    path: &Path,
    fill: impl FnOnce(&mut BufWriter<File>) -> Result<(), InputError>,
) -> Result<(), InputError> {
    let mut draft = path.as_os_str().to_owned();
    draft.push(".new");
    let failed = |cause: io::Error| cannot(path, &cause);
    let mut out = BufWriter::new(File::create(&draft).map_err(failed)?);
    fill(&mut out)?;
    out.flush().and_then(|()| fs::rename(&draft, path)).map_err(failed)
}

/// Makes everything else from the rows, and prints.
fn finish(args: &SweepArgs, base: &Base, folder: &Folder) -> super::Result {
    let (path, cases) = (folder.path(), folder.cases());
    let telling = Telling::of(base, folder.asked(), &cases, args.short_hours)?;
    write(&path.join(SETTINGS), |out| told::settings_csv(&telling, &cases, out))?;
    write(&path.join(RESULT), |out| told::settings_json(&telling, &cases, out))?;
    write(&path.join(PAGE), |out| {
        out.write_all(told::html(&telling).as_bytes()).map_err(|cause| cannot(path, &cause))
    })?;
    let mut notes = vec![format!("page with the picture: {}", path.join(PAGE).display())];
    let recommended = path.join(RECOMMENDED);
    if let Some(taken) = telling.taken() {
        let plan = &folder.asked().plan;
        // Weather and probe stay those of the scenario, which are the first of the plan.
        let paths = plan.axes.iter().map(|axis| axis.path.as_str());
        let changes: Vec<_> = paths.zip(taken.setting.values.iter().copied()).collect();
        vary::write(base.source(), &base.set(&changes)?.scenario, &recommended)?;
        notes.push(format!("to run the recommended: drydown run {}", recommended.display()));
    } else if recommended.exists() {
        fs::remove_file(&recommended).map_err(|cause| cannot(&recommended, &cause))?;
    }
    let bad = !telling.is_part() && telling.taken().is_none();
    let plan = &folder.asked().plan;
    let text = match (args.format, args.cases) {
        (Format::Text, false) => told::text(&telling),
        (Format::Text | Format::Csv, true) => return copied(&cases, notes, bad),
        (Format::Csv, false) => return copied(&path.join(SETTINGS), notes, bad),
        (Format::Json, false) => return copied(&path.join(RESULT), notes, bad),
        (Format::Json, true) => {
            // A reader that closed the pipe has seen what it wanted.
            let _ = told::cases_json(plan, &cases, &mut BufWriter::new(io::stdout().lock()));
            String::new()
        }
    };
    Ok(Printed { text, notes, bad })
}

/// A file to standard output without holding it in memory.
fn copied(path: &Path, notes: Vec<String>, bad: bool) -> super::Result {
    let mut file = File::open(path).map_err(|cause| cannot(path, &cause))?;
    // A reader that closed the pipe has seen what it wanted.
    let _ = io::copy(&mut file, &mut io::stdout().lock());
    Ok(Printed { text: String::new(), notes, bad })
}

/// The numbers of the scenario, one a row.
fn fields(args: &SweepArgs, base: &Base) -> super::Result {
    let numbers = vary::numbers(&base.setup().scenario)?;
    let now = |value: Option<f64>| value.map_or(String::new(), |value| value.to_string());
    Ok(Printed::fine(match args.format {
        Format::Text => {
            let head = format!("{:<34}{:>10}  {:>8} to\n", "number", "now", "from");
            let rows = numbers.iter().map(|number| {
                let (now, whole) = (now(number.value), if number.whole { ", whole" } else { "" });
                let vary::Standing { path, min, max, .. } = number;
                format!("{path:<34}{now:>10}  {min:>8} to {max}{whole}\n")
            });
            std::iter::once(head).chain(rows).collect()
        }
        Format::Csv => {
            let rows = numbers.iter().map(|number| {
                let (now, whole) = (now(number.value), u8::from(number.whole));
                format!("{},{now},{},{},{whole}\n", number.path, number.min, number.max)
            });
            std::iter::once("path,now,min,max,whole\n".to_owned()).chain(rows).collect()
        }
        Format::Json => {
            let rows = numbers.iter().map(|number| {
                serde_json::json!({
                    "path": number.path, "now": number.value, "min": number.min,
                    "max": number.max, "whole": number.whole,
                })
            });
            let object = serde_json::json!({ "numbers": rows.collect::<Vec<_>>() });
            serde_json::to_string_pretty(&object).map(|text| text + "\n").unwrap_or_default()
        }
    }))
}
