//! What a log told, for programs.

use serde::Serialize;

use crate::device_log::Skipped;
use crate::fit::dry_down::DryDowns;
use crate::fit::pot::Fitted;
use crate::fit::{Fit, Watered};

#[derive(Serialize)]
struct Told<'a> {
    readings: usize,
    hours: f64,
    skipped: Skipped,
    watered: Watered,
    dry_downs: Option<&'a DryDowns>,
    falls_pct_d: Option<f64>,
    pot: Option<Pot<'a>>,
}

#[derive(Serialize)]
struct Pot<'a> {
    figures: &'a [Fitted],
    warnings: &'a [String],
    rms_pct: f64,
    before_rms_pct: f64,
}

/// What a log told, as one object.
pub fn json(fit: &Fit) -> String {
    let told = Told {
        readings: fit.readings,
        hours: fit.hours,
        skipped: fit.skipped,
        watered: fit.watered,
        dry_downs: fit.dry_downs.as_ref(),
        falls_pct_d: fit.falls_pct_d,
        pot: fit.pot.as_ref().map(|pot| Pot {
            figures: &pot.figures,
            warnings: &pot.warnings,
            rms_pct: pot.rms_pct,
            before_rms_pct: pot.before_rms_pct,
        }),
    };
    // Strings, numbers and nulls cannot fail to serialise.
    serde_json::to_string_pretty(&told).map(|text| text + "\n").unwrap_or_default()
}
