//! From time and value to a place on the strip.

use std::fmt::Write;

/// The time axis.
#[derive(Clone, Copy, Debug)]
pub(super) struct Time {
    pub(super) duration_ms: u64,
    pub(super) left: f64,
    pub(super) right: f64,
}

impl Time {
    pub(super) fn x(&self, t_ms: u64) -> f64 {
        let share = t_ms.min(self.duration_ms) as f64 / self.duration_ms.max(1) as f64;
        self.left + share * (self.right - self.left)
    }
}

/// A value axis: `low` at the bottom, `height` below the top.
#[derive(Clone, Copy, Debug)]
pub(super) struct Value {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) top: f64,
    pub(super) height: f64,
}

impl Value {
    pub(super) fn y(&self, value: f64) -> f64 {
        let span = (self.high - self.low).max(1e-9);
        let share = ((value - self.low) / span).clamp(0.0, 1.0);
        self.top + (1.0 - share) * self.height
    }
}

/// A polyline that is broken where a value is missing for longer than `bridge` steps.
pub(super) fn path(points: impl Iterator<Item = Option<(f64, f64)>>, bridge: usize) -> String {
    let mut out = String::new();
    let mut missing = usize::MAX;
    for point in points {
        let Some((x, y)) = point else {
            missing = missing.saturating_add(1);
            continue;
        };
        let pen = if missing > bridge { 'M' } else { 'L' };
        // Writing to a string cannot fail.
        let _ = write!(out, "{pen}{x:.1} {y:.1}");
        missing = 0;
    }
    out
}
