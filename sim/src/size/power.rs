//! Current by part, how long a battery lasts, how hot a regulator gets, and what is left when the
//! load starts.

use super::solar::{Month, months};
use super::{Group, Line};
use crate::check::figure;
use crate::check::figures::Figures;
use crate::scenario::schema::{PowerTable, RegulatorKind, SupplyKind};

/// Current of a motor at its start, as a multiple of that while it runs (limit-switch data notes:
/// 6 times); a coil has none.
const MOTOR_INRUSH: f64 = 6.0;
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

/// One part and what it takes.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// What it is.
    pub name: &'static str,
    /// mAh a day, at the supply's voltage.
    pub mah: f64,
    /// How that was reckoned.
    pub arithmetic: String,
}

/// Where the current goes.
#[derive(Clone, Debug, PartialEq)]
pub struct Power {
    /// What the scenario says of it.
    pub table: PowerTable,
    /// By part, on the mean day.
    pub parts: Vec<Part>,
    /// The same on the thirstiest day, all parts together, mAh.
    pub most_mah: f64,
    /// The panel month by month, if there is one.
    pub months: Option<[Month; 12]>,
}

/// Open time of valve or pump on the mean and on the thirstiest day, s.
fn open_s(figures: &Figures<'_>, leached: f64) -> (f64, f64) {
    if figures.band.is_none() {
        let times = 86_400.0 / (60.0 * figures.soak_min + figures.pulse_s);
        return (times * figures.pulse_s, times * figures.pulse_s);
    }
    let seconds = |litres: f64| litres / (1.0 - leached) / figures.flow_l_h(0) * 3600.0;
    let mean_s = seconds(figures.mean_given_l(0)).min(figures.limit_s);
    (mean_s, seconds(figures.most_given_l(0)).min(figures.limit_s).max(mean_s))
}

impl Power {
    /// What follows from the scenario; `None` where it says nothing of its supply.
    pub(crate) fn of(figures: &Figures<'_>, leached: f64) -> Option<Self> {
        let table = figures.setup.scenario.power.clone()?;
        let control = &figures.setup.scenario.control;
        let (mean_s, thirstiest_s) = open_s(figures, leached);
        let samples = |open_s: f64| {
            if figures.probe.is_none() {
                return 0.0;
            }
            let open = if control.sample_while_open { open_s / control.open_sample_s } else { 0.0 };
            1_440.0 / control.sample_min + open
        };
        let parts = table.parts(mean_s, samples(mean_s));
        let most = table.parts(thirstiest_s, samples(thirstiest_s));
        let site = &figures.setup.scenario.site;
        let months = table.panel_w.map(|panel_w| {
            let panel = (panel_w, table.panel_share, table.volts);
            months(site.latitude_deg, table.sunshine_share, panel)
        });
        Some(Self { most_mah: most.iter().map(|part| part.mah).sum(), parts, months, table })
    }

    /// All parts together on the mean day, mAh.
    pub fn a_day_mah(&self) -> f64 {
        self.parts.iter().map(|part| part.mah).sum()
    }

    /// What the battery can give, mAh; `None` on an adapter.
    pub fn usable_mah(&self) -> Option<f64> {
        let holds = self.table.battery_mah.filter(|_| self.table.supply == SupplyKind::Battery)?;
        Some(holds * self.table.usable_share)
    }

    /// Days that the battery lasts without sun; `None` on an adapter.
    pub fn days(&self) -> Option<f64> {
        Some(self.usable_mah()? / self.a_day_mah())
    }

    /// What the panel brings in a month, mAh a day; nothing where there is none.
    pub fn brings_mah(&self, month: i8) -> f64 {
        let month = self.months.iter().flatten().find(|one| one.month == month);
        month.map_or(0.0, |one| one.brings_mah)
    }
}

impl PowerTable {
    /// Milliamperes at the supply for one at the chip.
    fn at_supply(&self) -> f64 {
        match self.regulator {
            RegulatorKind::Linear => 1.0,
            RegulatorKind::Switching => self.logic_volts / (self.volts * self.efficiency),
        }
    }

    /// mAh a day by part, with so much open time and so many samples a day.
    pub fn parts(&self, open_s: f64, samples: f64) -> Vec<Part> {
        let at_supply = self.at_supply();
        let awake_s = (samples * self.awake_s + open_s).min(86_400.0);
        let probe_s = (samples * self.awake_s).min(86_400.0);
        let radio_s = 24.0 * self.radio_s_h;
        let part = |name, ma: f64, seconds: f64, share: f64| Part {
            name,
            mah: ma * share * seconds / 3600.0,
            arithmetic: if (share - 1.0).abs() < 1e-9 {
                format!("{} mA × {} s", figure(ma), figure(seconds))
            } else {
                format!(
                    "{} mA × {} at the supply × {} s",
                    figure(ma),
                    figure(share),
                    figure(seconds)
                )
            },
        };
        vec![
            part("always on", self.always_ma, 86_400.0, 1.0),
            part("chip asleep", self.sleep_ma, 86_400.0 - awake_s, at_supply),
            part("chip awake", self.awake_ma, awake_s, at_supply),
            part("probe", self.probe_ma, probe_s, at_supply),
            part("radio", self.radio_ma, radio_s, at_supply),
            part("coil or pump", 1e3 * self.load_a, open_s, 1.0),
        ]
    }

    /// Most current of the chip's side at once, mA at the chip's voltage.
    fn chip_most_ma(&self) -> f64 {
        self.awake_ma + self.probe_ma + self.radio_ma
    }

    /// Heat of a linear regulator with everything on, W.
    pub fn heat_w(&self) -> f64 {
        (self.volts - self.logic_volts).max(0.0) * self.chip_most_ma() / 1e3
    }

    /// Current when the load starts, A.
    pub fn start_a(&self, pumped: bool) -> f64 {
        let times = self.inrush.unwrap_or(if pumped { MOTOR_INRUSH } else { 1.0 });
        times * self.load_a + self.chip_most_ma() * self.at_supply() / 1e3
    }

    /// The chip's voltage when the load starts and the supply is lowest, V.
    pub fn dips_to_v(&self, pumped: bool) -> f64 {
        let lowest_v = self.least_volts.unwrap_or(self.volts);
        let there_v = lowest_v - self.start_a(pumped) * self.wiring_ohm - self.dropout_volts;
        there_v.min(self.logic_volts)
    }
}

pub(super) fn lines(power: &Power, figures: &Figures<'_>, lines: &mut Vec<Line>) {
    let table = &power.table;
    let pumped = figures.setup.scenario.water.pump_l_h.is_some();
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
    let Some(c_per_w) = table.regulator_c_per_w else {
        let named = (Group::Power, "regulator-heat", "the heat of the regulator");
        lines.push(Line::told(named, (heat_w, "W"), how, HEAT));
        return;
    };
    let junction_c = table.box_c + c_per_w * heat_w;
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
            MONTHS[month.month as usize - 1]
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

/// The months in words.
pub const MONTHS: [&str; 12] = [
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
