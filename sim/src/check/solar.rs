//! A small panel, month by month.

use jiff::civil::date;

use crate::weather::radiation::{day_of_year, extraterrestrial_daily};

/// One month of a panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Month {
    /// 1 to 12.
    pub month: i8,
    /// Radiation on level ground, MJ/m² a day.
    pub radiation_mj: f64,
    /// What reaches the battery, mAh a day.
    pub brings_mah: f64,
}

/// Solar radiation on level ground, MJ/m² a day, from that outside the atmosphere and the share of
/// bright sunshine n/N (FAO-56 eq. 35 with the usual a = 0.25 and b = 0.50).
pub fn solar_radiation_mj(extraterrestrial_mj: f64, sunshine_share: f64) -> f64 {
    (0.25 + 0.50 * sunshine_share) * extraterrestrial_mj
}

/// Energy of a kilowatt-hour, MJ.
const MJ_A_KWH: f64 = 3.6;

/// A panel of `panel_w` (at 1 kW/m²) lying flat, at the middle of each month; `share` of its yield
/// reaches a battery of `volts`.
pub(super) fn months(
    latitude_deg: f64,
    sunshine_share: f64,
    (panel_w, share, volts): (f64, f64, f64),
) -> [Month; 12] {
    core::array::from_fn(|at| {
        let month = at as i8 + 1;
        // A common year; the fifteenth stands for the month (FAO-56 Table 2.5).
        let day = day_of_year(date(2026, month, 15));
        let outside_mj = extraterrestrial_daily(latitude_deg.to_radians(), day);
        let radiation_mj = solar_radiation_mj(outside_mj, sunshine_share);
        let brings_wh = panel_w * radiation_mj / MJ_A_KWH * share;
        Month { month, radiation_mj, brings_mah: 1e3 * brings_wh / volts }
    })
}

/// The months in words.
const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// A month in words, 1 to 12.
pub(crate) fn month_name(month: i8) -> &'static str {
    MONTHS[month as usize - 1]
}
