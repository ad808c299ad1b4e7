//! The trade-off as a picture: hours short of water against litres given, and against litres
//! drained, one mark a setting.

use std::fmt::Write;

use svg::Document;
use svg::node::element::{Circle, Description, Group, Path, Title};

use super::words::{plain, setting};
use super::{MOST_POINTS, Telling};
use crate::report::axes::{Scale, dot, label, line, px};
use crate::report::units::{hours, litres};
use crate::sweep::case::{APPLIED_L, DRAINED_L, STRESS_H};
use crate::sweep::setting::{Setting, Status};

/// Width of the picture; one unit is one pixel on the page.
const WIDTH: f64 = 1_040.0;
const LEFT: f64 = 84.0;
const RIGHT: f64 = 150.0;
/// Height of each of the two panels, and the room above and between them.
const PANEL: f64 = 250.0;
const GAP: f64 = 44.0;
/// Room below the panels for the axis and its name.
const BELOW: f64 = 44.0;
/// Room for the key at the top.
const KEY: f64 = 30.0;

/// The picture as an SVG element, to stand in a page that styles its classes.
pub(super) fn svg(telling: &Telling<'_>) -> String {
    let ran = |setting: &&Setting| setting.status != Status::Refused;
    let shown: Vec<&Setting> = telling.points.iter().filter(ran).collect();
    let all = || shown.iter().copied().chain(&telling.unbeaten);
    let right = WIDTH - RIGHT;
    let stress_h = all().map(|setting| setting.worst[STRESS_H]);
    // From zero, where every such sweep should end up.
    let x = Scale::new(stress_h.chain([0.0]), LEFT, right).stretched();
    let given_base = KEY + PANEL;
    let drained_base = given_base + GAP + PANEL;
    let given = Scale::new(all().map(|setting| setting.mean[APPLIED_L]), given_base, KEY + 10.0);
    let drained = Scale::new(
        all().map(|setting| setting.mean[DRAINED_L]),
        drained_base,
        given_base + GAP + 10.0,
    );
    let height = drained_base + BELOW;
    let mut document = Document::new()
        .set("viewBox", format!("0 0 {WIDTH} {height}"))
        .set("width", WIDTH)
        .set("height", height)
        .set("role", "img")
        .set("aria-labelledby", "trade-title trade-desc")
        .add(
            Title::new("Hours short of water against water given and drained")
                .set("id", "trade-title"),
        )
        .add(
            Description::new()
                .set("id", "trade-desc")
                .add(svg::node::Text::new(described(telling, shown.len()))),
        )
        .add(key());
    for (scale, name) in [(given, "given, L"), (drained, "drained, L")] {
        document = document.add(frame(x, scale, name));
    }
    document = document
        .add(label(
            f64::midpoint(LEFT, right),
            height - 8.0,
            "name middle",
            "hours in which plants were short of water, worst run; stretched towards zero",
        ))
        .add(allowed(telling, x, drained_base))
        .add(points(telling, &shown, x, given, APPLIED_L))
        .add(front(telling, x, given))
        .add(points(telling, &shown, x, drained, DRAINED_L));
    if let Some(taken) = telling.taken() {
        for (scale, measure) in [(given, APPLIED_L), (drained, DRAINED_L)] {
            document = document.add(ring(&taken.setting, x, scale, measure));
        }
        let (at_x, at_y) = (taken.setting.worst[STRESS_H], taken.setting.mean[APPLIED_L]);
        document =
            document.add(label(x.at(at_x) + 12.0, given.at(at_y) + 4.0, "key", "recommended"));
    }
    document.to_string()
}

fn described(telling: &Telling<'_>, shown: usize) -> String {
    let all = if telling.choice.settings > MOST_POINTS {
        format!("{shown} of {} settings", telling.choice.settings)
    } else {
        format!("{shown} settings")
    };
    format!(
        "{all}, one mark each: how long plants were short of water in the worst run, against the \
         water given and the water drained on average. The line joins the results that nothing tried \
         beats. The tables hold the same figures."
    )
}

fn key() -> Group {
    let (mut group, mut x) = (Group::new(), LEFT);
    let marks = [("holds", "holds in every run"), ("fails", "fails in a run")];
    for (class, words) in marks {
        group = group.add(dot(x + 5.0, 12.0, 4.0, class)).add(label(x + 15.0, 16.0, "key", words));
        x += 40.0 + 6.5 * words.len() as f64;
    }
    let words = "nothing tried beats these";
    group = group.add(line((x, 12.0), (x + 26.0, 12.0), "unbeaten")).add(label(
        x + 33.0,
        16.0,
        "key",
        words,
    ));
    x += 60.0 + 6.5 * words.len() as f64;
    group.add(dot(x + 5.0, 12.0, 7.0, "taken")).add(label(x + 18.0, 16.0, "key", "recommended"))
}

fn frame(x: Scale, y: Scale, name: &str) -> Group {
    let mut group = Group::new();
    for tick in y.ticks() {
        let at = y.at(tick);
        group = group.add(line((x.at_low, at), (x.at_high, at), "grid")).add(label(
            x.at_low - 8.0,
            at + 4.0,
            "tick end",
            plain(tick),
        ));
    }
    for tick in x.ticks() {
        let at = x.at(tick);
        group = group.add(line((at, y.at_low), (at, y.at_low + 4.0), "grid")).add(label(
            at,
            y.at_low + 16.0,
            "tick middle",
            plain(tick),
        ));
    }
    group.add(label(x.at_high + 10.0, y.at_high + 4.0, "name", name))
}

/// Where more hours than are allowed begin.
fn allowed(telling: &Telling<'_>, x: Scale, base: f64) -> Group {
    let group = Group::new();
    if telling.most_stress_h > x.high {
        return group;
    }
    let at = x.at(telling.most_stress_h);
    group.add(line((at, KEY), (at, base), "level-short")).add(label(
        at + 4.0,
        KEY + 8.0,
        "level-name",
        format!("allowed: {}", hours(telling.most_stress_h)),
    ))
}

fn points(telling: &Telling<'_>, shown: &[&Setting], x: Scale, y: Scale, measure: usize) -> Group {
    let mut group = Group::new();
    for of in shown.iter().copied() {
        let class = if of.status == Status::Works { "holds" } else { "fails" };
        let told = format!(
            "{}: short for {}, {} given, {} drained",
            setting(&telling.asked.plan.axes, &of.values),
            hours(of.worst[STRESS_H]),
            litres(of.mean[APPLIED_L]),
            litres(of.mean[DRAINED_L]),
        );
        let mark = dot(x.at(of.worst[STRESS_H]), y.at(of.mean[measure]), 4.0, class);
        group = group.add(mark.add(Title::new(told)));
    }
    group
}

/// The unbeaten results joined by steps: between two of them nothing better was seen.
fn front(telling: &Telling<'_>, x: Scale, y: Scale) -> Path {
    let mut data = String::new();
    let mut last: Option<f64> = None;
    for &(stress_h, applied_l) in telling.choice.front() {
        let (at_x, at_y) = (px(x.at(stress_h)), px(y.at(applied_l)));
        // Writing to a string cannot fail.
        let _ = match last {
            None => write!(data, "M{at_x} {at_y}"),
            Some(last_y) => write!(data, "L{at_x} {}L{at_x} {at_y}", px(last_y)),
        };
        last = Some(y.at(applied_l));
    }
    Path::new().set("d", data).set("class", "unbeaten")
}

fn ring(of: &Setting, x: Scale, y: Scale, measure: usize) -> Circle {
    dot(x.at(of.worst[STRESS_H]), y.at(of.mean[measure]), 8.0, "taken")
}
