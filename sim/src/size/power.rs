//! What the supply gives and the parts take, line by line.

use super::{Group, Line};
use crate::check::current::Power;
use crate::check::figure;
use crate::check::figures::Figures;
use crate::check::solar::month_name;
use crate::scenario::schema::{PowerTable, RegulatorKind, SupplyKind};

/// Cells of a battery that stays for weeks: days it should last without sun (common practice).
const CLOUDY_DAYS: f64 = 5.0;

const PARTS: &str = "current × time of each part; the chip's side through its regulator; probe 5 mA \
    while it is on (starter-kit manual); usable share for age and cold: common practice";
const HEAT: &str = "P = (Vin − Vout) × I, Tj = Ta + θJA × P: data sheets of linear regulators; 125 °C \
    and 60 °C in a box in the sun: common practice";
const DIP: &str = "supply − start current × resistance − dropout; a motor starts with 6 times its \
    running current (limit-switch data notes); a 12 V pump drew about 11 A at its start (Elektroda \
    topic 4139014)";
const SUN: &str = "Rs = (0.25 + 0.50 n/N) Ra: FAO-56 eq. 21 and 35; a panel lying flat; what is lost \
    to heat, dirt and charging: common practice";

pub(super) fn lines(power: &Power, figures: &Figures<'_>, lines: &mut Vec<Line>) {
    let table = &power.table;
    let pumped = figures.setup.scenario.water.is_pumped();
    let (group, a_day) = (Group::Power, power.a_day_mah());
    for part in &power.parts {
        let line =
            Line::told((group, "part", ""), (part.mah, "mAh/day"), part.arithmetic.clone(), PARTS);
        lines.push(Line { what: part.name.to_owned(), ..line });
    }
    lines.push(Line::told(
        (group, "a-day", "all of it on the mean day"),
        (a_day, "mAh/day"),
        format!("the sum; {} mAh on the thirstiest day", figure(power.most_mah)),
        PARTS,
    ));
    heat(table, lines);
    dip(table, pumped, lines);
    let away = figures.setup.scenario.away_days.unwrap_or(figures.setup.scenario.days);
    battery(power, figures, away, lines);
    adapter(table, pumped, lines);
}

fn heat(table: &PowerTable, lines: &mut Vec<Line>) {
    if table.regulator != RegulatorKind::Linear {
        return;
    }
    let heat_w = table.heat_w();
    let how = format!(
        "({} − {}) V × {} mA = {} W",
        figure(table.volts),
        figure(table.logic_volts),
        figure(table.chip_most_ma()),
        figure(heat_w)
    );
    let Some((c_per_w, junction_c)) = table.regulator_c_per_w.zip(table.junction_c()) else {
        let named = (Group::Power, "regulator-heat", "the heat of the regulator");
        lines.push(Line::told(named, (heat_w, "W"), how, HEAT));
        return;
    };
    let line = Line::told(
        (Group::Power, "regulator-heat", "the regulator's junction"),
        (junction_c, "°C"),
        format!(
            "{how}; {} °C in the box + {} °C/W × {} W",
            figure(table.box_c),
            figure(c_per_w),
            figure(heat_w)
        ),
        HEAT,
    );
    lines.push(line.now(junction_c).at_most(table.regulator_most_c));
}

fn dip(table: &PowerTable, pumped: bool, lines: &mut Vec<Line>) {
    let dips_to_v = table.dips_to_v(pumped);
    lines.push(
        Line::told(
            (Group::Power, "brown-out", "the chip's voltage as the load starts"),
            (dips_to_v, "V"),
            format!(
                "{} V − {} A × {} Ω − {} V of dropout, at most {} V; it resets below {} V: {} V to \
                 spare",
                figure(table.least_volts.unwrap_or(table.volts)),
                figure(table.start_a(pumped)),
                figure(table.wiring_ohm),
                figure(table.dropout_volts),
                figure(table.logic_volts),
                figure(table.brown_out_volts),
                figure(dips_to_v - table.brown_out_volts)
            ),
            DIP,
        )
        .now(dips_to_v)
        .at_least(table.brown_out_volts),
    );
}

fn battery(power: &Power, figures: &Figures<'_>, away: f64, lines: &mut Vec<Line>) {
    let (Some(usable), Some(days)) = (power.usable_mah(), power.days()) else { return };
    let a_day = power.a_day_mah();
    let table = &power.table;
    let now = table.battery_mah.unwrap_or_default();
    let wanted = if power.months.is_some() { CLOUDY_DAYS } else { away };
    let least = a_day * wanted / table.usable_share;
    lines.push(
        Line::told(
            (Group::Power, "battery", "what the battery holds"),
            (now.max(least.ceil()), "mAh"),
            format!(
                "{} mAh a day × {} days / {} usable = {} mAh",
                figure(a_day),
                figure(wanted),
                figure(table.usable_share),
                figure(least)
            ),
            PARTS,
        )
        .field("power.battery_mah", Some(now))
        .at_least(least),
    );
    lines.push(Line::told(
        (Group::Power, "battery-days", "the days it lasts without sun"),
        (days, "days"),
        format!("{} mAh / {} mAh a day", figure(usable), figure(a_day)),
        PARTS,
    ));
    let Some(months) = power.months else { return };
    let here = figures.setup.weather.course.begins().month();
    for month in months {
        let short = month.brings_mah < a_day;
        let line = Line::told(
            (Group::Power, "sun", ""),
            (month.brings_mah, "mAh/day"),
            format!(
                "{} MJ/m² a day on level ground at n/N {}; {} mAh are used{}",
                figure(month.radiation_mj),
                figure(table.sunshine_share),
                figure(a_day),
                if short { ": the battery runs down" } else { "" }
            ),
            SUN,
        );
        let what = format!(
            "a panel of {} W in {}",
            figure(table.panel_w.unwrap_or_default()),
            month_name(month.month)
        );
        let line = Line { what, ..line };
        // Only the month of the run is judged; the others are for planning.
        lines.push(if month.month == here {
            line.now(month.brings_mah).at_least(a_day)
        } else {
            line
        });
    }
}

fn adapter(table: &PowerTable, pumped: bool, lines: &mut Vec<Line>) {
    let Some(supply_a) = table.supply_a.filter(|_| table.supply == SupplyKind::Adapter) else {
        return;
    };
    let start_a = table.start_a(pumped);
    lines.push(
        Line::told(
            (Group::Power, "adapter", "what the adapter can give"),
            (supply_a.max(start_a), "A"),
            format!("{} A as the load starts, with the chip, probe and radio on", figure(start_a)),
            DIP,
        )
        .field("power.supply_a", Some(supply_a))
        .at_least(start_a),
    );
}
