//! What is said, in the order in which a person asks. One structure feeds terminal and sheet.

use crate::fault::Kind;
use crate::leave::{
    Aged, Compares, FaultSpill, Figure, Lasts, Leave, Leaving, Logged, Odds, StanceCost, Trouble,
};
use crate::report::details::values;
use crate::report::units::{from_to, hours, length, litres, short};
use crate::scenario::schema::{FittedPart, StanceKind};

/// The answer to one question.
pub(super) struct Said {
    /// At most 18 characters.
    pub heading: &'static str,
    /// Whole sentences.
    pub sentences: Vec<String>,
}

/// Amounts beyond software whose faults are named.
const NAMED: usize = 4;
/// Less than this is shown as nothing, litres.
const NOTHING_L: f64 = 5e-4;

fn said(heading: &'static str, sentences: Vec<String>) -> Said {
    Said { heading, sentences }
}

/// The answer, without the list.
pub(super) fn answer(leave: &Leave) -> &'static str {
    leave.answer().words()
}

/// The list: what forbids it, then what to do first.
pub(super) fn unmet(leave: &Leave) -> Vec<String> {
    leave.unmet.iter().map(|item| item.text.clone()).collect()
}

/// What the list is called.
pub(super) const fn list_heading(answer: Leaving) -> &'static str {
    match answer {
        Leaving::Leave => "Nothing is unmet",
        Leaving::After => "To do first",
        Leaving::DoNot => "Why, and to do",
    }
}

/// All that is told below the list.
pub(super) fn all(leave: &Leave) -> Vec<Said> {
    vec![
        said("Worst spill", bounded(leave)),
        said("No software stops", beyond(leave)),
        said("Water", vec![water(leave)]),
        said("Power", vec![power(leave)]),
        said("Chances", chances(leave)),
        said("If it cannot water", stances(leave)),
        said("This build", build(leave)),
        said("Mode", vec![mode(leave)]),
        said("Its own log", logged(leave)),
        said("Measured", vec![measured(leave)]),
        said("Assumed", vec![assumed(leave)]),
    ]
}

fn bounded(leave: &Leave) -> Vec<String> {
    let spills = &leave.spills;
    let mut told = vec![];
    if let Some(worst) = spills.bounded.first() {
        told.push(if worst.spilled_l < NOTHING_L {
            format!("Of the {} faults that software bounds, none spills.", spills.bounded.len())
        } else {
            format!(
                "{}: {}, the worst of {} faults that software bounds{}.",
                litres(worst.spilled_l),
                worst.kind.words_of(&leave.setup.scenario.water),
                spills.bounded.len(),
                if worst.kind == Kind::HoseOff { ", in what it is set to do then" } else { "" }
            )
        });
    }
    told.push(format!(
        "Whatever policy, clock or buttons do, the 24 h limit lets {} through a sound line in a day.",
        litres(spills.a_day_l)
    ));
    told
}

fn beyond(leave: &Leave) -> Vec<String> {
    // Faults that spill as much are told together: it is one amount of water.
    let mut together: Vec<(String, Vec<&FaultSpill>)> = vec![];
    let (spilling, dry): (Vec<&FaultSpill>, Vec<&FaultSpill>) =
        leave.spills.beyond.iter().partition(|fault| fault.spilled_l >= NOTHING_L);
    for fault in spilling {
        let spilled = litres(fault.spilled_l);
        match together.last_mut() {
            Some((last, faults)) if *last == spilled => faults.push(fault),
            _ => together.push((spilled, vec![fault])),
        }
    }
    let told = |fault: &&FaultSpill| {
        let words = fault.kind.words_of(&leave.setup.scenario.water);
        format!("{words}, answered by {}", fault.answered_by.unwrap_or_default())
    };
    let (named, rest) = together.split_at(together.len().min(NAMED));
    let mut all: Vec<String> = named
        .iter()
        .map(|(spilled, faults)| {
            let faults: Vec<String> = faults.iter().map(told).collect();
            format!("{spilled}: {}.", faults.join("; "))
        })
        .collect();
    if let Some((most, _)) = rest.first() {
        let count: usize = rest.iter().map(|(_, faults)| faults.len()).sum();
        all.push(format!("{count} more, of at most {most}."));
    }
    if !dry.is_empty() {
        all.push(format!("{} more that spill nothing here.", dry.len()));
    }
    all
}

fn lasts(lasts: &Lasts, used: &str, days: f64) -> String {
    if lasts.days.is_infinite() {
        return format!("It lasts: as much comes as is used ({used} a day).");
    }
    let margin = if lasts.margin_days < 0.0 {
        format!("{} days short", short(-lasts.margin_days))
    } else {
        format!("{} days to spare", short(lasts.margin_days))
    };
    format!(
        "It lasts {} days, and you are away for {}: {margin}. In the worst weather {used} a day.",
        short(lasts.days),
        short(days)
    )
}

fn water(leave: &Leave) -> String {
    match &leave.water {
        Some(water) => {
            let by_log = leave.water_by_log().map_or(String::new(), |by_log| {
                let (used, lasts) = (litres(by_log.a_day), short(by_log.days));
                format!(" At the {used} a day of its log: {lasts} days.")
            });
            let told = lasts(water, &litres(water.a_day), leave.asked.days);
            format!("{told} A tenth is kept in reserve.{by_log}")
        }
        None => "From the mains: as long as it runs; what sticks open has no end.".to_owned(),
    }
}

fn power(leave: &Leave) -> String {
    match (&leave.supply, &leave.power) {
        (None, _) => "Not said: nothing is known of battery, regulator and brown-out.".to_owned(),
        (Some(supply), Some(power)) => {
            let told = lasts(power, &format!("{:.0} mAh", power.a_day), leave.asked.days);
            match supply.parts.iter().max_by(|a, b| a.mah.total_cmp(&b.mah)) {
                Some(most) => format!("{told} Most of it: {}.", most.name),
                None => told,
            }
        }
        (Some(_), None) => {
            "From an adapter, without a battery: after a power cut it goes on by itself, and the \
             plants wait meanwhile."
                .to_owned()
        }
    }
}

fn seen(odds: Odds) -> String {
    format!("{} of {}", odds.seen, odds.of)
}

/// Percent by which a whole one may be missed in the last places of a float.
const EVEN: f64 = 1e-6;

/// What a count says of the chance in truth, by the side that says more: of what was seen in most runs,
/// how often it must be at least. Rounded so that no more is claimed.
fn odds(odds: Odds) -> String {
    let (side, percent) = if 2 * odds.seen > odds.of {
        ("least", (100.0 * odds.at_least() + EVEN).floor())
    } else {
        ("most", (100.0 * odds.at_most() - EVEN).ceil())
    };
    format!("so in truth at {side} {percent:.0} % of the time (95 % confidence)")
}

fn chances(leave: &Leave) -> Vec<String> {
    let sound = &leave.sound;
    let what = if sound.measured { "runs of the measured weather" } else { "weathers" };
    let mut told = vec![
        format!(
            "Locks itself out although nothing is wrong: in {} {what}, {}.{}",
            seen(sound.locked_out),
            odds(sound.locked_out),
            match sound.locked_out_dry {
                0 => String::new(),
                dry if dry == sound.locked_out.seen =>
                    " Each time its tank had run dry.".to_owned(),
                dry => format!(" In {dry} of these its tank had run dry."),
            }
        ),
        format!(
            "A plant short of water for more than an hour: in {}, {}.",
            seen(sound.stressed),
            odds(sound.stressed)
        ),
    ];
    let (worst_h, pot) = &sound.worst_stress;
    if *worst_h > 0.0 {
        told.push(format!(
            "At worst {}, at the {pot}; in the scenario's own weather, which `drydown run --days {}` \
             shows, {}.",
            hours(*worst_h),
            short(leave.asked.days),
            hours(sound.own_stress_h)
        ));
    }
    told
}

const fn stance_words(stance: StanceKind) -> &'static str {
    match stance {
        StanceKind::StayShut => "Stays shut",
        StanceKind::TestDose => "One test dose a day",
        StanceKind::Ration => "A timed ration",
    }
}

/// One choice with both its costs. What is spilled above is not told as another spill.
fn stance(cost: &StanceCost, leave: &Leave) -> String {
    let set = leave.stances.set;
    let worst = leave.spills.bounded.first().filter(|worst| worst.kind == Kind::HoseOff);
    let is_above = |worst: &FaultSpill| (worst.spilled_l - cost.floor_l).abs() < NOTHING_L;
    let floor = if cost.stance == set && worst.is_some_and(is_above) {
        "the spill told above".to_owned()
    } else {
        format!("{} on the floor", litres(cost.floor_l))
    };
    let dose = match (cost.dose_s, cost.every_h) {
        (Some(dose_s), Some(every_h)) => format!(" of {} every {}", length(dose_s), hours(every_h)),
        (Some(dose_s), None) => format!(" of {}", length(dose_s)),
        (None, _) => String::new(),
    };
    format!(
        "{}{dose}{}: hose off, {floor}; probe unplugged, plants short of water for {}.",
        stance_words(cost.stance),
        if cost.stance == set { " (so it is set)" } else { "" },
        hours(cost.short_h)
    )
}

fn stances(leave: &Leave) -> Vec<String> {
    leave.stances.costs.iter().map(|cost| stance(cost, leave)).collect()
}

fn aged(aged: Option<Aged>) -> String {
    aged.map_or_else(
        || "never said".to_owned(),
        |aged| match aged.days {
            0 => "today".to_owned(),
            1 => "a day ago".to_owned(),
            days => format!("{days} days ago"),
        },
    )
}

const fn part_words(part: FittedPart) -> &'static str {
    match part {
        FittedPart::NormallyClosedValve => "a normally closed valve",
        FittedPart::SecondShutOff => "a second shut-off",
        FittedPart::NoRelay => "no relay",
        FittedPart::PullDown => "a pull-down at the driver",
        FittedPart::Watchdog => "an independent watchdog",
        FittedPart::AirBreak => "an air break",
        FittedPart::Strainer => "a strainer",
        FittedPart::TrayOrDrain => "a tray or drain",
        FittedPart::LeakShutOff => "a leak sensor that closes",
    }
}

fn build(leave: &Leave) -> Vec<String> {
    let build = &leave.build;
    let unit = match &build.units {
        (Some(calibrated), Some(fitted)) if calibrated == fitted => {
            format!(", made with the probe that is fitted ({fitted})")
        }
        (Some(calibrated), Some(fitted)) => {
            format!(", made with {calibrated}, and {fitted} is fitted")
        }
        _ => ", made with a probe nobody named".to_owned(),
    };
    let fitted: Vec<&str> = build.fitted.iter().map(|&part| part_words(part)).collect();
    let fitted = if fitted.is_empty() { "nothing named".to_owned() } else { fitted.join(", ") };
    let curve = if leave.setup.scenario.has_modelled_curve() {
        " The curve of this scenario is modelled, not measured."
    } else {
        ""
    };
    vec![
        format!(
            "Calibrated: {}{unit}.{curve} Flow measured: {}.",
            aged(build.calibrated),
            aged(build.flow_measured)
        ),
        format!(
            "Bench tests passed: {}. Watched for a week: {}.",
            aged(build.tested),
            aged(build.watched)
        ),
        format!("Fitted: {fitted}."),
    ]
}

fn mode(leave: &Leave) -> String {
    match (leave.asked.mode, leave.mode()) {
        (Some(mode), _) => format!("Left in {}, as somebody read it off.", mode.name()),
        (None, Some(mode)) => format!("Left in {}, as its log ends.", mode.name()),
        (None, None) => "Not known: nobody said what the display shows.".to_owned(),
    }
}

/// What its own log says, and how that is in the weathers.
fn logged(leave: &Leave) -> Vec<String> {
    let Some(log) = &leave.log else {
        return vec!["None was given: what the device really did is not known.".to_owned()];
    };
    let mut told = vec![given(log)];
    if log.is_short() {
        told.push("Too short to judge.".to_owned());
    }
    if !log.figures.is_empty() {
        let all: Vec<String> = log.figures.iter().map(against).collect();
        told.push(format!("{}.", capital(&all.join("; "))));
    }
    told.push(quiet(log));
    told.extend(log.skipped.words());
    told
}

/// What it gave, and when first.
fn given(log: &Logged) -> String {
    let by_hand = match log.by_hand {
        0 => String::new(),
        count => format!(", {count} of them by hand"),
    };
    let first = log.first_dose_d.map_or(String::new(), |days| {
        format!(" The first was {} days before its end.", short(days))
    });
    let tended = log.tended.map_or(String::new(), |(deed, days)| {
        format!(" Last at the pot: {deed}, {} days before its end.", short(days))
    });
    format!(
        "{} days: {} waterings{by_hand}, {} a day at the scenario's flow.{first}{tended}",
        short(log.days),
        log.waterings,
        litres(log.given_l_d)
    )
}

/// One figure beside that of the weathers.
fn against(figure: &Figure) -> String {
    let Figure { what, log, model: (least, most) } = *figure;
    let percent = |value: f64| format!("{value:.1}");
    match what {
        Compares::Used => format!(
            "used and drained {} a day (in these weathers {})",
            litres(log),
            from_to(litres(least), &litres(most))
        ),
        Compares::Dries => format!(
            "dries by {} % a day ({})",
            percent(log),
            from_to(percent(least), &percent(most))
        ),
        Compares::Rises => format!(
            "rises by {} % a litre ({})",
            percent(log),
            from_to(percent(least), &percent(most))
        ),
        Compares::Driest => {
            format!("driest {} % ({})", percent(log), from_to(percent(least), &percent(most)))
        }
    }
}

/// How long it ran without trouble, and what that was.
fn quiet(log: &Logged) -> String {
    let told = |trouble: &Trouble| {
        let often =
            if trouble.times > 1 { format!(", {} times", trouble.times) } else { String::new() };
        format!("{}{often}, last {} days before", trouble.words, short(trouble.before_end_d))
    };
    if log.troubles.is_empty() {
        return if log.has_holes {
            format!("No trouble in the {} days that it recorded.", short(log.recorded_d()))
        } else {
            format!("No trouble in all of its {} days.", short(log.days))
        };
    }
    let all: Vec<String> = log.troubles.iter().map(told).collect();
    format!("Without trouble for {} days up to its end; {}.", short(log.quiet_d), all.join("; "))
}

/// What the scenario says was measured.
fn facts(leave: &Leave) -> [(bool, &'static str); 7] {
    let scenario = &leave.setup.scenario;
    let has_flow = scenario.water.measured_l_h.is_some();
    [
        (leave.sound.measured, "the weather"),
        (has_flow && leave.bucket_against_plumbing().is_none(), "the flow"),
        (scenario.probe.measured_curve.is_some(), "the probe's curve"),
        (scenario.probe.calibration_error_pct.is_some(), "the error of the calibration"),
        (leave.supply.is_some(), "the current of each part"),
        (
            leave.build.watched.is_some() || leave.log.as_ref().is_some_and(Logged::is_watched),
            "a week of its waterings",
        ),
        (
            leave.log.as_ref().is_some_and(|log| !log.is_short() && !log.has_holes),
            "what it uses, dries and answers (its log)",
        ),
    ]
}

fn list(leave: &Leave, wanted: bool) -> Vec<&'static str> {
    let facts = facts(leave).into_iter();
    facts.filter(|(is, _)| *is == wanted).map(|(_, what)| what).collect()
}

fn measured(leave: &Leave) -> String {
    match list(leave, true).as_slice() {
        [] => "Nothing of this build.".to_owned(),
        some => format!("As the scenario says: {}.", some.join(", ")),
    }
}

fn assumed(leave: &Leave) -> String {
    let mut all = list(leave, false);
    all.extend(["soil and plants as described", "the probe's place"]);
    format!("{}. Nobody is there: no refill, no look.", capital(&all.join(", ")))
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

/// One rule as a row: words, held, worst, bound, runs, proof, code.
pub(super) fn rule(proof: &crate::leave::RuleProof, runs: u64) -> [String; 6] {
    let score = &proof.score;
    let (worst, bound) = values(score);
    [
        score.rule.words().to_owned(),
        if score.held { "held".to_owned() } else { "BROKEN".to_owned() },
        worst.unwrap_or_else(|| "did not arise".to_owned()),
        bound,
        format!("{} of {runs}", proof.came_up),
        format!("{} ({})", proof.proof, score.rule.name()),
    ]
}

/// Heads of these rows.
pub(super) const RULE_HEADS: [&str; 6] =
    ["What was watched", "", "worst", "bound", "in runs", "proved beside them by"];

/// "14 days from 6 Jul 2026 in Port Averley, 20 weathers".
pub(super) fn under(leave: &Leave) -> String {
    let asked = &leave.asked;
    format!(
        "{} days away, leaving on {}; {} {}; {}",
        short(asked.days),
        asked.on,
        asked.weathers,
        match (leave.sound.measured, asked.weathers) {
            (true, 1) => "run of the measured weather",
            (true, _) => "runs of the measured weather",
            (false, 1) => "weather",
            (false, _) => "weathers of its kind",
        },
        leave.setup.scenario.site.name
    )
}

/// What defers to whoever decides on the spot.
pub(super) const CAUTION: &str = "General information from a model, not advice for one installation: \
    local codes, the water supplier and licensed electricians and plumbers decide. Let somebody \
    nearby know where the stop-tap is.";
