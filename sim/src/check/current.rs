//! Current by part, how long a battery lasts, how hot a regulator gets, and what is left when the
//! load starts: the arithmetic that `size`, `check` and `leave` have in common.

use super::figure;
use super::figures::Figures;
use super::solar::{Month, months};
use crate::scenario::schema::{PowerTable, RegulatorKind, SupplyKind};

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
fn open_s(figures: &Figures<'_>) -> (f64, f64) {
    let (leached, _) = figures.leaching();
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
    pub(crate) fn of(figures: &Figures<'_>) -> Option<Self> {
        let table = figures.setup.scenario.power.clone()?;
        let control = &figures.setup.scenario.control;
        let (mean_s, thirstiest_s) = open_s(figures);
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
    pub(crate) fn chip_most_ma(&self) -> f64 {
        self.awake_ma + self.probe_ma + self.radio_ma
    }

    /// Heat of a linear regulator with everything on, W.
    pub fn heat_w(&self) -> f64 {
        (self.volts - self.logic_volts).max(0.0) * self.chip_most_ma() / 1e3
    }

    /// The junction of a linear regulator with everything on, °C, where its data sheet was said.
    pub fn junction_c(&self) -> Option<f64> {
        let c_per_w = self.regulator_c_per_w.filter(|_| self.regulator == RegulatorKind::Linear)?;
        Some(self.box_c + c_per_w * self.heat_w())
    }

    /// Current when the load starts, A.
    pub fn start_a(&self, pumped: bool) -> f64 {
        self.start_times(pumped) * self.load_a + self.chip_most_ma() * self.at_supply() / 1e3
    }

    /// The chip's voltage when the load starts and the supply is lowest, V.
    pub fn dips_to_v(&self, pumped: bool) -> f64 {
        let lowest_v = self.least_volts.unwrap_or(self.volts);
        let there_v = lowest_v - self.start_a(pumped) * self.wiring_ohm - self.dropout_volts;
        there_v.min(self.logic_volts)
    }
}
