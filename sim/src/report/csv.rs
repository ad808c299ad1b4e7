//! Days and waterings for a spreadsheet: one table, one header.

use super::calendar::Calendar;
use super::days::Days;
use super::happenings;
use crate::scenario::Setup;
use crate::score::Findings;

/// Column names, with their units.
const HEADER: &str = "row,day,date,clock,days,driest_pct,wettest_pct,hottest_c,eto_mm,rain_mm,\
                      short_of_water_h,waterings,water_l,open_s,how,ended,from_pct,to_pct";

/// Days and waterings as one CSV table.
///
/// `row` says which: `day` (or several days, as `days` tells, where the run is longer than 60) or
/// `watering`. `day` counts from 1; `clock` is the station's standard time at which the row begins;
/// columns that do not belong to a row are empty. Moisture is percent by volume: the true mean of
/// the probed soil in `driest_pct` and `wettest_pct`, the reading in `from_pct` and `to_pct`;
/// `short_of_water_h` is of the probed plants, `water_l` of all pots. The same run gives the same
/// bytes.
pub fn csv(setup: &Setup, findings: &Findings) -> String {
    let calendar = Calendar::new(setup);
    let days = Days::of(setup, findings, &happenings::of(setup, findings));
    let when = |t_ms: u64| {
        format!("{},{},{}", calendar.day(t_ms), calendar.date(t_ms), calendar.clock(t_ms))
    };
    let mut lines = vec![HEADER.to_owned()];
    for row in &days.rows {
        let length = calendar.day(row.to_ms.saturating_sub(1)) + 1 - calendar.day(row.from_ms);
        let (driest, wettest) =
            row.moisture.map_or((None, None), |(low, high)| (Some(low), Some(high)));
        lines.push(format!(
            "day,{},{length},{},{},{:.1},{:.2},{:.2},{:.2},{},{:.3},,,,,",
            when(row.from_ms),
            optional(driest),
            optional(wettest),
            row.hottest.value,
            row.eto_mm,
            row.rain_mm,
            row.short_h,
            row.waterings,
            row.litres,
        ));
    }
    for watering in &findings.waterings {
        lines.push(format!(
            "watering,{},,,,,,,,,{:.3},{:.1},{},{},{},{}",
            when(watering.opened_ms),
            watering.litres,
            watering.open_s,
            path(watering.path),
            watering.ended.name(),
            optional(watering.from_pct),
            optional(watering.to_pct),
        ));
    }
    lines.join("\n") + "\n"
}

fn optional(value: Option<f64>) -> String {
    value.map_or_else(String::new, |value| format!("{value:.2}"))
}

const fn path(path: drydown::guard::Path) -> &'static str {
    use drydown::guard::Path;
    match path {
        Path::Automatic => "automatic",
        Path::Fallback => "fallback",
        Path::ManualLocal => "manual_local",
        Path::ManualRemote => "manual_remote",
        Path::Bench => "bench",
    }
}
