//! The findings of a sweep in plain sentences.

use super::words::{counted, name, setting, value};
use super::{Telling, words};
use crate::report::sentences::Section;
use crate::report::units::{hours, litres};
use crate::sweep::case::{APPLIED_L, DRAINED_L, STRESS_H};
use crate::sweep::choice::{Margin, Taken};
use crate::sweep::setting::{Setting, Status};

/// Everything that is said first, in order.
pub(super) fn of(telling: &Telling<'_>) -> Vec<Section> {
    let mut said = vec![("Recommended", recommended(telling))];
    if let Some(taken) = telling.taken() {
        said.push(("Room around it", room(telling, taken)));
    }
    said.push(("Tried", tried(telling)));
    said.push(("What works", fared(telling)));
    said.push(("Varied", varied(telling)));
    said.into_iter().map(|(heading, sentences)| Section { heading, sentences }).collect()
}

fn recommended(telling: &Telling<'_>) -> Vec<String> {
    if telling.is_part() {
        let [part, parts] = telling.asked.part;
        return vec![format!(
            "Nothing yet: this is part {part} of {parts}. Put the parts together."
        )];
    }
    if !telling.is_done() {
        return vec!["Nothing yet: not all settings are done.".to_owned()];
    }
    let axes = &telling.asked.plan.axes;
    match (telling.taken(), &telling.choice.least_bad) {
        (Some(taken), _) => {
            let mut sentences = vec![
                format!("{}.", capital(&setting(axes, &taken.setting.values))),
                cost(telling, &taken.setting),
            ];
            if !taken.setting.ends_quiet() {
                sentences.push(
                    "Careful: a run of it ends with an alarm still on, and so does every setting \
                     that works."
                        .to_owned(),
                );
            }
            if !taken.setting.reason.is_empty() {
                sentences.push(format!("Still to do: {}", taken.setting.reason));
            }
            sentences
        }
        (None, Some(least_bad)) => vec![
            "None of the settings tried can be recommended: each breaks something.".to_owned(),
            format!(
                "The least bad is {}: it failed in {} of {}. {}",
                setting(axes, &least_bad.values),
                least_bad.failing,
                counted(least_bad.runs, "run"),
                least_bad.reason
            ),
        ],
        (None, None) => vec!["None of the settings tried can be set up at all.".to_owned()],
    }
}

fn cost(telling: &Telling<'_>, of: &Setting) -> String {
    let short = match of.worst[STRESS_H] {
        h if h < 0.05 => "no plant was ever short of water".to_owned(),
        h => format!("plants were short of water for {} at the most", hours(h)),
    };
    let quiet = of.ends_quiet() && telling.choice.left_calling > 0;
    let among = match (quiet, telling.taken().is_some_and(|taken| taken.has_room)) {
        (false, false) => "",
        (false, true) => " and whose neighbours hold too,",
        (true, false) => " and end without an alarm,",
        (true, true) => ", end without an alarm and have neighbours that hold too,",
    };
    format!(
        "In {} {short}; {} were given and {} drained on average. Of all settings that work{among} it \
         gives the least.",
        counted(of.runs, "run"),
        litres(of.mean[APPLIED_L]),
        litres(of.mean[DRAINED_L]),
    )
}

fn room(telling: &Telling<'_>, taken: &Taken) -> Vec<String> {
    let axes = &telling.asked.plan.axes;
    let mut sentences = vec![];
    if !taken.has_room {
        sentences.push(
            "Careful: a setting right beside it fails, and no setting that works has more room."
                .to_owned(),
        );
    }
    for ((axis, margin), &at) in axes.iter().zip(&taken.margins).zip(&taken.setting.values) {
        let named = capital(name(&axis.path));
        let beyond = |fails: f64, way: &str| {
            let apart = value(&axis.path, (fails - at).abs());
            format!("{} ({apart} {way}) fails", value(&axis.path, fails))
        };
        let within = match *margin {
            Margin { lower_fails: None, higher_fails: None } => {
                "no value tried fails while the others stay".to_owned()
            }
            Margin { lower_fails: Some(low), higher_fails: None } => {
                format!("{}; no higher value tried does", beyond(low, "lower"))
            }
            Margin { lower_fails: None, higher_fails: Some(high) } => {
                format!("{}; no lower value tried does", beyond(high, "higher"))
            }
            Margin { lower_fails: Some(low), higher_fails: Some(high) } => {
                format!("{}, and {}", beyond(low, "lower"), beyond(high, "higher"))
            }
        };
        let untried = if at <= axis.from {
            "; nothing lower was tried"
        } else if at >= axis.to {
            "; nothing higher was tried"
        } else {
            ""
        };
        sentences.push(format!("{named}: {within}{untried}."));
    }
    sentences.push(match &taken.nearest_failing {
        Some(values) => format!("The nearest setting that fails: {}.", setting(axes, values)),
        None => "No setting tried fails.".to_owned(),
    });
    sentences
}

fn tried(telling: &Telling<'_>) -> Vec<String> {
    let plan = &telling.asked.plan;
    let (weathers, probes) = (plan.seeds.len() as u64, plan.units.len() as u64);
    let days = words::plain(telling.base.setup().scenario.days);
    let done = if telling.is_done() {
        counted(telling.choice.settings, "setting")
    } else {
        format!("{} of {}", telling.choice.settings, counted(telling.wanted(), "setting"))
    };
    vec![format!(
        "{done}, each run {} for {days} days: with {} and {} of the same kind.",
        if plan.runs_each() == 1 {
            "once".to_owned()
        } else {
            format!("{} times", plan.runs_each())
        },
        counted(weathers, "weather"),
        counted(probes, "probe"),
    )]
}

fn fared(telling: &Telling<'_>) -> Vec<String> {
    let allowed = hours(telling.most_stress_h);
    let said = |status: Status, count: u64| match (status, count) {
        (Status::Works, 1) => "holds in every run".to_owned(),
        (Status::Works, _) => "hold in every run".to_owned(),
        (Status::Short, 1) => {
            format!("leaves plants short of water for more than {allowed} in a run")
        }
        (Status::Short, _) => {
            format!("leave plants short of water for more than {allowed} in a run")
        }
        (Status::Unsafe, 1) => "ends a run in a state one should not leave".to_owned(),
        (Status::Unsafe, _) => "end a run in a state one should not leave".to_owned(),
        (Status::BreaksRule, 1) => "breaks a rule".to_owned(),
        (Status::BreaksRule, _) => "break a rule".to_owned(),
        (Status::Refused, _) => "cannot be set up, such as a start above its stop".to_owned(),
    };
    let counts = Status::ALL.into_iter().zip(telling.choice.counts);
    let mut sentences: Vec<String> = counts
        .filter(|&(status, count)| count > 0 || status == Status::Works)
        .map(|(status, count)| format!("{count} {}.", said(status, count)))
        .collect();
    let calling = telling.choice.left_calling;
    if calling > 0 {
        let them = match (calling, telling.choice.counts[Status::Works as usize]) {
            (1, 1) => "It ends".to_owned(),
            (all, works) if all == works => "All of those that hold end".to_owned(),
            (1, _) => "1 of those that hold ends".to_owned(),
            (some, _) => format!("{some} of those that hold end"),
        };
        sentences.push(format!("{them} a run with an alarm still on."));
    }
    let pairs = telling.choice.front().len() as u64;
    if pairs > 0 {
        sentences.push(format!(
            "{} that nothing tried beats: less time short of water costs more water there.",
            if pairs == 1 {
                "There is 1 result".to_owned()
            } else {
                format!("There are {pairs} results")
            }
        ));
    }
    sentences
}

fn varied(telling: &Telling<'_>) -> Vec<String> {
    let plan = &telling.asked.plan;
    let axes = plan.axes.iter().map(|axis| {
        let (path, named) = (&axis.path, name(&axis.path));
        let range = if axis.from < axis.to {
            format!("{} to {}", value(path, axis.from), value(path, axis.to))
        } else {
            value(path, axis.from)
        };
        let told = if named == path { named.to_owned() } else { format!("{named} ({path})") };
        match plan.sample {
            Some(_) => format!("{}: {range}, spread evenly.", capital(&told)),
            None => format!(
                "{}: {range}, {}.",
                capital(&told),
                counted(axis.values.len() as u64, "value")
            ),
        }
    });
    axes.collect()
}

fn capital(text: &str) -> String {
    // A dotted path keeps its spelling.
    let first_word = text.split(' ').next().unwrap_or_default();
    if first_word.contains('.') {
        return text.to_owned();
    }
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
