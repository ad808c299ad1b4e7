//! `drydown new`: by options and by asking, what it writes, what it refuses, and what it leaves alone.

mod from_outside;

use std::fs;
use std::io::Cursor;

use clap::Parser;
use drydown_sim::command::new::NewArgs;
use drydown_sim::new::{Answers, Asker, Options, Terminal, build};
use drydown_sim::scenario::{Setup, Source};
use drydown_sim::size::{Judged, size};
use from_outside::{Folder, drydown, drydown_in, example_of, stderr, stdout};

/// A basil pot, all that has no usual value.
const POT: &str = "--crop mint --pot-l 3 --pot-height 0.16 --substrate mix --saucer-l 0.5 \
    --canopy-across 0.25 --tank-l 10 --tank-depth 0.25 --outlet-height -0.5 --bucket-l 0.03 \
    --probe-air 2900 --probe-water 1150 --latitude 43.2 --longitude 5.1 --start 2026-07-06 --days 10 \
    --t-mean 24";

fn words(file: &str, options: &str) -> Vec<String> {
    let options = options.split_whitespace().map(str::to_owned);
    ["new".to_owned(), file.to_owned()].into_iter().chain(options).collect()
}

fn options(text: &str) -> Options {
    #[derive(Parser)]
    #[command(allow_negative_numbers = true)]
    struct Program {
        #[command(flatten)]
        args: NewArgs,
    }
    let words = words("unused.toml", text);
    Program::parse_from(words).args.options
}

fn answers(text: &str) -> Answers {
    options(text).answers(Asker::new(None)).expect("all answers")
}

fn setup(text: &str) -> Setup {
    let built = build(&answers(text)).expect("it is built");
    Setup::load(&Source::from_text("new.toml", &built.text)).expect("it reads back")
}

fn near(value: f64, expected: f64, within: f64) {
    assert!((value - expected).abs() <= within, "{value} is not {expected}");
}

#[test]
fn the_example_of_its_help_writes_a_file_that_passes_check_and_run() {
    let folder = Folder::new("new-help");
    let output = drydown_in(&folder.0, &example_of("new"));
    assert_eq!(output.status.code(), Some(0), "{}{}", stdout(&output), stderr(&output));
    assert_eq!(folder.names(), ["basil.toml"]);
    for command in ["check", "run", "size"] {
        let output = drydown_in(&folder.0, &[command, "basil.toml"]);
        assert_eq!(output.status.code(), Some(0), "{command}: {}", stdout(&output));
    }
    let text = fs::read_to_string(folder.0.join("basil.toml")).expect("the file");
    // Every setting that was reckoned says how, and from where.
    for field in ["start_pct", "dose_s", "soak_min", "max_open_s", "min_closed_s", "limit_24h_s"] {
        let (before, _) = text.split_once(&format!("\n{field} = ")).expect(field);
        let above: Vec<&str> =
            before.lines().rev().take_while(|line| line.starts_with('#')).collect();
        assert!(above.iter().any(|line| line.contains("Source: ")), "{field}: {above:?}");
        assert!(above.last().is_some_and(|line| line.contains(':')), "{field}: {above:?}");
    }
    assert!(text.lines().all(|line| !line.starts_with('#') || line.chars().count() <= 98));
    assert!(text.contains("Assumed"), "{text}");
}

/// The flow that the scenario gives is the bucket's, whatever drives it.
#[test]
fn the_flow_is_the_buckets() {
    near(setup(POT).flow_l_h, 1.8, 1e-9);
    let pump = POT.replace("--bucket-l 0.03", "--drive pump --lift 0.4 --pump-head 2 --bucket-l 1");
    let pumped = setup(&pump);
    near(pumped.flow_l_h, 60.0, 1e-6);
    assert_eq!(pumped.scenario.control.dose_s.map(|dose| dose < 30.0), Some(true));
    let mains = POT
        .replace("--tank-l 10 --tank-depth 0.25 --outlet-height -0.5", "--mains-head 12")
        .replace("--bucket-l 0.03", "--emitters 3 --bucket-l 0.1");
    let from_mains = setup(&mains);
    near(from_mains.flow_l_h, 6.0, 1e-9);
    assert_eq!(from_mains.scenario.water.emitters, 3);
}

/// The soaked and drained pot weighed: 1.44 L in 3 L are 48 %. The third reading bends the curve so
/// that this much water reads the count that was seen.
#[test]
fn weighing_and_a_third_reading_replace_what_handbooks_say() {
    let weighed = setup(&format!("{POT} --drained-l 1.44 --probe-drained 1700"));
    let container = weighed.scenario.container.as_ref().expect("a pot");
    near(container.container_capacity_pct, 48.0, 1e-9);
    near(weighed.probe.transfer(0.48), 1700.0, 3.0);
    let assumed = setup(POT);
    near(assumed.scenario.container.as_ref().expect("a pot").container_capacity_pct, 55.0, 1e-9);
    assert!(answers(POT).assumed.contains(&"drained-l"));
    let said = answers(&format!("{POT} --drained-l 1.44 --probe-drained 1700"));
    assert!(!said.assumed.contains(&"drained-l") && !said.assumed.contains(&"probe-drained"));
}

/// The same probe at a converter of 10 bits: a quarter of the counts, and of their noise.
#[test]
fn a_coarser_converter_comes_to_the_same_levels() {
    let fine = setup(POT).scenario.control;
    let probe = "--bits 10 --probe-air 725 --probe-water 287.5";
    let coarse = setup(&POT.replace("--probe-air 2900 --probe-water 1150", probe));
    near(coarse.scenario.probe.noise_counts, 2.0, 1e-9);
    let coarse = coarse.scenario.control;
    for (fine, coarse) in [(fine.start_pct, coarse.start_pct), (fine.stop_pct, coarse.stop_pct)] {
        near(coarse.expect("a level"), fine.expect("a level"), 0.5);
    }
}

#[test]
fn a_bed_is_built_as_well() {
    let bed = "--crop lettuce --bed-soil loam --bed-area 3 --root-depth 0.3 --wetted-share 0.7 --mains-head 10 --emitters 8 \
        --bucket-l 0.27 --probe-air 2900 --probe-water 1150 --latitude 43.2 --start 2026-05-18 --days 14 \
        --t-mean 18 --weather ordinary --rain-share 1";
    let built = build(&answers(bed)).expect("it is built");
    assert!(built.passes(), "{:?} {}", built.refuted, built.answer.reason);
    assert!(built.scenario.bed.is_some() && built.scenario.container.is_none());
    // Loam takes half of 15.5 mm/h (Saxton & Rawls 2006, Table 3; Rawls, Brakensiek & Miller 1983);
    // 16.2 L/h on 0.3 × 3 m² run off, and that is said. So do 12 mm/h, between the two.
    let between = bed.replace("--wetted-share 0.7", "--wetted-share 0.45");
    let built = build(&answers(&between)).expect("it is built");
    assert!(built.unfit.iter().any(|unfit| unfit.contains("12 mm/h")), "{:?}", built.unfit);
    let narrow = bed.replace("--wetted-share 0.7", "--wetted-share 0.3");
    let built = build(&answers(&narrow)).expect("it is built");
    assert!(built.unfit.iter().any(|unfit| unfit.contains("18 mm/h")), "{:?}", built.unfit);
    assert!(!built.passes(), "{}", built.answer.reason);
}

/// Strawberries under a tank, in the three sandy classes: the bed begins watered, as its comment
/// says, and not at the 33 kPa figure, which lies below the start of a bed that drains for days.
#[test]
fn a_bed_of_sandy_soil_begins_watered() {
    for soil in ["sand", "loamy sand", "sandy loam"] {
        let bed = "--crop strawberry --bed-area 2 --root-depth 0.25 --wetted-share 0.5 \
            --tank-l 300 --tank-depth 0.5 --outlet-height -0.8 --emitters 20 --bucket-l 0.2 \
            --probe-air 2900 --probe-water 1150 --latitude 50.5 --longitude 8.5 --start 2026-06-01 \
            --days 14 --t-mean 17 --weather ordinary --rain-share 1";
        let answers =
            Options { bed_soil: Some(soil.to_owned()), ..options(bed) }.answers(Asker::new(None));
        let built = build(&answers.expect("all answers")).expect(soil);
        let begins_pct = built.scenario.bed.as_ref().expect("a bed").begins_pct;
        let start_pct = built.scenario.control.start_pct.expect("a start");
        assert!(begins_pct > start_pct, "{soil}: begins at {begins_pct}, start {start_pct}");
        assert!(built.passes(), "{soil}: {:?} {}", built.without_room, built.answer.reason);
    }
}

/// Rain heavier than loam takes runs off any garden: it is no water that the device spilled.
#[test]
fn rain_that_runs_off_a_bed_is_no_reason_to_stay() {
    let bed = "--crop strawberry --bed-soil loam --bed-area 2 --root-depth 0.25 --wetted-share 1 \
        --tank-l 300 --tank-depth 0.5 --outlet-height -0.8 --emitters 20 --bucket-l 0.15 \
        --probe-air 2900 --probe-water 1150 --latitude 50.5 --longitude 8.5 --start 2026-06-01 \
        --days 14 --t-mean 17 --weather wet --rain-share 1";
    let built = build(&answers(bed)).expect("it is built");
    assert!(built.passes(), "{:?} {}", built.without_room, built.answer.reason);
}

#[test]
fn what_is_written_is_what_a_sizing_proposes() {
    let built = build(&answers(POT)).expect("it is built");
    assert!(built.passes());
    let source = Source::from_text("new.toml", &built.text);
    let setup = Setup::load(&source).expect("it reads back");
    let unfit: Vec<_> = size(&source, &setup)
        .lines
        .into_iter()
        .filter(|line| line.judged() == Judged::Change)
        .filter(|line| line.field.as_ref().is_some_and(|field| field.starts_with("control.")))
        .collect();
    assert!(unfit.is_empty(), "{unfit:#?}");
}

/// A probe that was calibrated comes with its table: the file has its curve, and asks for no counts.
#[test]
fn a_calibrated_probe_is_taken_as_it_is() {
    let folder = Folder::new("new-table");
    let curve = "measured_curve = [[1894, 55.0], [2400, 27.5], [2903, 0.0]]\n";
    let table = format!(
        "[probe]\nair_counts = 2903\ndry_counts = 2890\nwater_counts = 1148\nbend = 0.11\nbits = 12\nunit_spread = 0\n{curve}"
    );
    folder.write("probe.toml", &table);
    folder.write("bare.toml", &table.replace(curve, ""));
    folder.write("week.toml", &table.replace("bend", "bent"));
    let call = |file: &str, more: &str| {
        let options = POT.replace("--probe-air 2900 --probe-water 1150", more);
        drydown_in(&folder.0, &words(file, &options).iter().map(String::as_str).collect::<Vec<_>>())
    };
    let output = call("mint.toml", "--probe-table probe.toml");
    assert_eq!(output.status.code(), Some(0), "{}{}", stdout(&output), stderr(&output));
    assert!(!stdout(&output).contains("--probe-drained"), "{}", stdout(&output));
    let path = folder.0.join("mint.toml").display().to_string();
    let setup = Setup::load(&Source::open(&path).expect("there")).expect("it reads back");
    let made = &setup.scenario.probe;
    assert_eq!(made.measured_curve, Some(vec![(1894, 55.0), (2400, 27.5), (2903, 0.0)]));
    assert_eq!((made.dry_counts, made.bend, made.unit_spread), (2890.0, 0.11, 0.0));
    let text = fs::read_to_string(&path).expect("the file");
    assert!(
        text.contains("# Assumed: so few points do not tell how far the curve is off."),
        "{text}"
    );
    for (more, named) in [
        ("--probe-table nowhere.toml", "--probe-table is `nowhere.toml`, it cannot be read"),
        ("--probe-table bare.toml", "probe.measured_curve"),
        ("--probe-table week.toml", "week.toml, line 5: "),
        ("--probe-table probe.toml --probe-air 2900", "--probe-air"),
    ] {
        let output = call("other.toml", more);
        assert_eq!(output.status.code(), Some(2), "{more}");
        assert!(stderr(&output).contains(named), "{more}: {}", stderr(&output));
        assert!(!folder.0.join("other.toml").exists());
    }
}

/// Counts of air and water the wrong way round are a probe that counts up; nobody but the reader knows.
#[test]
fn which_way_the_probe_counts_is_said() {
    let folder = Folder::new("new-way");
    for (name, ends, told) in [
        (
            "down",
            "--probe-air 2900 --probe-water 1150",
            "counts down when it gets wet: 2900 in air, 1150 in water",
        ),
        (
            "up",
            "--probe-air 1150 --probe-water 2900",
            "counts up when it gets wet: 1150 in air, 2900 in water",
        ),
    ] {
        let options = POT.replace("--probe-air 2900 --probe-water 1150", ends);
        let file = format!("{name}.toml");
        let output = drydown_in(
            &folder.0,
            &words(&file, &options).iter().map(String::as_str).collect::<Vec<_>>(),
        );
        assert_eq!(output.status.code(), Some(0), "{}{}", stdout(&output), stderr(&output));
        let text = fs::read_to_string(folder.0.join(file)).expect("the file");
        for said in [stdout(&output), text.replace("\n# ", " ")] {
            let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(said.contains(told), "{name}: {said}");
        }
    }
}

/// Above each setting stands how it was reckoned, and that ends with the number that is written.
#[test]
fn each_setting_is_what_its_comment_comes_to() {
    let built = build(&answers(POT)).expect("it is built");
    let lines: Vec<&str> = built.text.lines().collect();
    let mut reckoned = std::collections::BTreeMap::new();
    for (at, line) in lines.iter().enumerate() {
        let Some((field, value)) = line.split_once(" = ") else { continue };
        let above = lines[..at].iter().rev().map_while(|line| line.strip_prefix("# "));
        let comment = above.collect::<Vec<_>>().into_iter().rev().collect::<Vec<_>>().join(" ");
        let Some((how, _)) = comment.split_once(" Source: ") else { continue };
        let value: f64 = value.parse().expect("a number");
        let comes_to = format!(". So {value} ");
        // The one whose usual value is more than it must be.
        let kept = field == "answer_within_min" && how.contains(&format!(". The usual {value} "));
        assert!(how.contains(&comes_to) || kept, "{field} = {value}: {how}");
        reckoned.insert(field, how.to_owned());
    }
    assert_eq!(reckoned.len(), 11, "{:?}", reckoned.keys());
    // By hand: 1.5 × 180 s; three times six minutes; 3 × 6.716 h and a day at least.
    for (field, told) in [
        ("max_open_s", "1.5 × a dose of 180 s = 270 s"),
        ("answer_within_min", "3 × 6 min to the probe = 18 min, and no less than 10 min"),
        ("answer_within_min", "The usual 45 min is no less than 18 min and stays"),
        ("overdue_h", "h on the mildest day = 20.1 h, and no sooner than 24 h"),
        ("soak_min", "60 min is good; at least 20 min and 2 × 6 min to the probe: 20 min"),
        ("sample_min", "10 min is usual; "),
    ] {
        assert!(reckoned[field].contains(told), "{field}: {}", reckoned[field]);
    }
    // Start is stop less the band, whose width `size` reckons: a tenth more than the greatest.
    let source = Source::from_text("new.toml", &built.text);
    let sizing = size(&source, &Setup::load(&source).expect("it reads back"));
    let width = sizing.line("width").expect("the band");
    let (start, stop) = (built.scenario.control.start_pct, built.scenario.control.stop_pct);
    near(stop.expect("a level") - start.expect("a level"), width.proposed, 1e-9);
    let exact = width.arithmetic.split(" % = ").nth(1).and_then(|rest| rest.split(' ').next());
    let exact: f64 = exact.expect("three times the ripple").parse().expect("a number");
    assert!(exact <= width.proposed && exact > width.proposed - 0.1, "{}", width.arithmetic);
    let written = format!("up to a tenth: {} %;", width.proposed);
    assert!(width.arithmetic.contains(&written), "{}", width.arithmetic);
}

#[test]
fn no_file_is_overwritten() {
    let folder = Folder::new("new-there");
    let file = folder.write("mine.toml", "mine");
    let words = words(&file, POT);
    let output = drydown(&words.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("mine.toml") && stderr(&output).contains("overwritten"));
    assert_eq!(fs::read_to_string(&file).expect("the file"), "mine");
}

#[test]
fn what_is_missing_is_named_all_at_once() {
    let folder = Folder::new("new-missing");
    let output = drydown_in(&folder.0, &["new", "a.toml", "--crop", "mint"]);
    assert_eq!(output.status.code(), Some(2));
    let error = stderr(&output);
    for option in ["pot-l", "pot-height", "substrate", "bucket-l", "probe-air", "latitude", "days"]
    {
        assert!(error.contains(&format!("--{option} (")), "{option}: {error}");
    }
    assert!(!error.contains("--crop"), "{error}");
    assert!(folder.names().is_empty());
}

#[test]
fn a_bad_answer_is_named_with_its_bound_and_nothing_is_written() {
    let folder = Folder::new("new-bad");
    for (from, to, named) in [
        ("--pot-l 3", "--pot-l 0", "`0`, it must be from 0.05 to 5000"),
        ("--pot-l 3", "--pot-l NaN", "--pot-l"),
        ("--crop mint", "--crop basil", "--crop is `basil`"),
        ("--substrate mix", "--substrate sand", "--substrate is `sand`"),
        ("--start 2026-07-06", "--start July", "--start is `July`"),
        ("--bucket-l 0.03", "--bucket-l -1", "--bucket-l"),
        ("--tank-l 10", "--tank-l 10 --drained-l 3.2", "--drained-l is `3.2`"),
        ("--tank-l 10", "--tank-l 10 --probe-drained 2800", "--probe-drained is `2800`"),
        ("--tank-l 10", "--tank-l 10 --valve-head 0.8", "--valve-head is `0.8`"),
        ("--tank-l 10", "--tank-l 10 --drive pump --lift 3", "--lift is `3`"),
        ("--tank-l 10", "--tank-l 10 --mains-head 10", "--mains-head"),
        (
            "--tank-l 10",
            "--tank-l 10 --emitters 2.5",
            "--emitters is `2.5`, it must be a whole number",
        ),
        ("--tank-l 10", "--tank-l 10 --bits 10.5", "--bits is `10.5`, it must be a whole number"),
        ("--probe-water 1150", "--probe-water 2895", "the answers"),
    ] {
        assert!(POT.contains(from), "{from}");
        let words = words("a.toml", &POT.replacen(from, to, 1));
        let output = drydown_in(&folder.0, &words.iter().map(String::as_str).collect::<Vec<_>>());
        assert_eq!(output.status.code(), Some(2), "{to}: {}", stderr(&output));
        assert!(stderr(&output).contains(named), "{to}: {}", stderr(&output));
        assert!(folder.names().is_empty(), "{to}");
    }
}

#[test]
fn what_cannot_work_is_refused_with_the_number_and_not_written() {
    let folder = Folder::new("new-refused");
    let words = words("a.toml", &POT.replace("--tank-l 10", "--tank-l 1"));
    let output = drydown_in(&folder.0, &words.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!(output.status.code(), Some(1), "{}", stderr(&output));
    let text = stdout(&output);
    assert!(text.contains("nothing was written") && text.contains("water.tank_l"), "{text}");
    assert!(folder.names().is_empty());
}

/// At a terminal what no option says is asked for; a wrong answer is asked again, an empty one takes
/// the usual, and the answers are those that options give.
#[test]
fn asking_gives_what_options_give() {
    let lines = [
        "pot",
        "0",
        "3",
        "0.16",
        "sand",
        "mix",
        "",
        "0.5",
        "0,25",
        "mint",
        "",
        "",
        "tank",
        "10",
        "0.25",
        "-0.5",
        "",
        "",
        "",
        "0.03",
        "",
        "2900",
        "1150",
        "",
        "",
        "",
        "",
        "43.2",
        "5.1",
        "",
        "2026-07-06",
        "10",
        "24",
        "",
        "",
        "",
        "",
        "",
    ];
    let mut input = Cursor::new(lines.join("\n") + "\n");
    let mut output = vec![];
    let terminal = Terminal { input: &mut input, output: &mut output };
    let asked = Options::default().answers(Asker::new(Some(terminal))).expect("all answers");
    let told = String::from_utf8(output).expect("words");
    assert_eq!(asked, Answers { assumed: asked.assumed.clone(), ..answers(POT) }, "{told}");
    assert!(told.contains("`0` does not do: it must be from 0.05 to 5000"), "{told}");
    assert!(told.contains("`sand` does not do"), "{told}");
    assert!(told.contains("[mid]"), "{told}");
}

#[test]
fn a_terminal_that_is_closed_is_an_error_and_not_a_loop() {
    let mut input = Cursor::new("pot\n");
    let mut output = vec![];
    let terminal = Terminal { input: &mut input, output: &mut output };
    let error = Options::default().answers(Asker::new(Some(terminal))).expect_err("closed");
    assert!(error.to_string().contains("--pot-l"), "{error}");
}

/// An answer that nothing would be made of is refused, not dropped.
#[test]
fn answers_that_contradict_each_other_are_refused() {
    let folder = Folder::new("new-both");
    for (more, one, other) in [
        ("--bed-soil sand --bed-area 2", "--bed-soil", "--pot-l"),
        ("--mains-head 20", "--tank-l", "--mains-head"),
        ("--valve-head 2 --lift 1", "--valve-head", "--lift"),
    ] {
        let words = words("both.toml", &format!("{POT} {more}"));
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let output = drydown_in(&folder.0, &words);
        assert_eq!(output.status.code(), Some(2), "{more}");
        let error = stderr(&output);
        assert!(error.contains(one) && error.contains(other), "{more}: {error}");
        assert!(folder.names().is_empty());
    }
}
