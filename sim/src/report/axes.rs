//! Two axes in round steps, and the marks that stand between them.

use svg::node::element::{Circle, Group, Line, Text};

use super::units::short;

/// About so many marks on an axis.
const TICKS: f64 = 6.0;
/// What an axis spans at the least: less is nothing.
const LEAST_SPAN: f64 = 0.1;

/// An axis from zero or from the least value to the largest, in round steps.
#[derive(Clone, Copy)]
pub(super) struct Scale {
    pub(super) low: f64,
    pub(super) high: f64,
    step: f64,
    pub(super) at_low: f64,
    pub(super) at_high: f64,
    /// Stretched towards zero as a square root is: a setting that failed for a whole season would
    /// else press all others into one line.
    stretched: bool,
}

impl Scale {
    pub(super) fn new(values: impl Iterator<Item = f64>, at_low: f64, at_high: f64) -> Self {
        let (least, most) = values
            .filter(|value| value.is_finite())
            .fold((f64::INFINITY, 0.0_f64), |(low, high), value| (low.min(value), high.max(value)));
        // Where nothing lies near zero, the room down to it says nothing.
        let from = if least.is_finite() && least > 0.6 * most { least } else { 0.0 };
        Self::over(from, most, at_low, at_high)
    }

    /// An axis that covers two values.
    pub(super) fn over(from: f64, to: f64, at_low: f64, at_high: f64) -> Self {
        let span = (to - from).max(LEAST_SPAN);
        let rough = span / TICKS;
        let decade = 10_f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .map(|round| round * decade)
            .into_iter()
            .find(|&step| step >= rough)
            .unwrap_or(rough);
        let low = (from / step).floor() * step;
        let high = (((from + span) / step).ceil() * step).max(low + step);
        Self { low, high, step, at_low, at_high, stretched: false }
    }

    /// The same, stretched towards zero.
    pub(super) fn stretched(self) -> Self {
        Self { stretched: true, ..self }
    }

    pub(super) fn at(&self, value: f64) -> f64 {
        let share = (value - self.low) / (self.high - self.low);
        let share = if self.stretched { share.max(0.0).sqrt() } else { share };
        self.at_low + share * (self.at_high - self.at_low)
    }

    pub(super) fn ticks(self) -> impl Iterator<Item = f64> {
        let count = ((self.high - self.low) / self.step).round() as u32;
        (0..=count).map(move |tick| self.low + f64::from(tick) * self.step)
    }
}

pub(super) fn px(value: f64) -> String {
    format!("{:.1}", value + 0.0)
}

pub(super) fn label(x: f64, y: f64, class: &str, text: impl Into<String>) -> Text {
    Text::new(text).set("x", px(x)).set("y", px(y)).set("class", class)
}

pub(super) fn line(from: (f64, f64), to: (f64, f64), class: &str) -> Line {
    Line::new()
        .set("x1", px(from.0))
        .set("y1", px(from.1))
        .set("x2", px(to.0))
        .set("y2", px(to.1))
        .set("class", class)
}

pub(super) fn dot(x: f64, y: f64, radius: f64, class: &str) -> Circle {
    Circle::new().set("cx", px(x)).set("cy", px(y)).set("r", px(radius)).set("class", class)
}

/// The lines and numbers of both axes, and what the lower one counts. Its lines come down from `top`
/// to the `base` of the picture.
pub(super) fn grid(x: Scale, y: Scale, top: f64, base: f64, counted: &str) -> Group {
    let mut group = Group::new();
    for tick in y.ticks() {
        let at = y.at(tick);
        group = group.add(line((x.at_low, at), (x.at_high, at), "grid")).add(label(
            x.at_low - 8.0,
            at + 4.0,
            "tick end",
            short(tick),
        ));
    }
    for tick in x.ticks() {
        let at = x.at(tick);
        group = group.add(line((at, top), (at, base + 4.0), "grid")).add(label(
            at,
            base + 16.0,
            "tick middle",
            short(tick),
        ));
    }
    group.add(label(f64::midpoint(x.at_low, x.at_high), base + 36.0, "name middle", counted))
}
