//! Healthy devices over simulated years: nothing is wrong with them, so nothing may be told.
//!
//! A device-year is one garden in one climate with one probe as it came out of the box. Gardens,
//! climates and probes are invented; the depth of the storms is one that a station recorded.
//! Each has a number, and the number alone says everything about it: [`DeviceYear::scenario`] is
//! what `drydown run` replays.

pub mod climate;
pub mod detection;
pub mod garden;
mod tally;

use drydown_sim::noise;
use drydown_sim::run::{Pace, run};
use drydown_sim::scenario::{Setup, Source};
use drydown_sim::score::Findings;

use climate::{CLIMATES, Climate};
use garden::{GARDENS, Garden};
pub use tally::{Counts, Tally, Told, in_all, tallied};

/// Length of a device-year, days.
pub const YEAR_DAYS: f64 = 365.0;
/// Share of the devices without an air sensor. They know no demand, and no frost: frozen soil reads
/// dry, and without a thermometer nothing can tell it from thirst, so they stand where it never
/// freezes.
const WITHOUT_AIR_SENSOR: f64 = 0.25;

/// Channels of the noise that draws a probe.
const DRAW: u64 = 900;

/// One device for one year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DeviceYear(pub u64);

impl DeviceYear {
    /// Whether it has an air sensor, and so a reckoning of evaporative demand.
    pub fn knows_demand(self) -> bool {
        self.draw(4) >= WITHOUT_AIR_SENSOR || self.climate().frosty
    }

    /// Whether it waters all summer: where it rains every day, and in long frost, many a fault
    /// stays without consequence.
    pub fn waters(self) -> bool {
        !self.climate().rainy && !self.climate().frosty
    }

    fn garden(self) -> &'static Garden {
        &GARDENS[(self.0 % GARDENS.len() as u64) as usize]
    }

    /// Moves on by one each round of gardens, so that every garden comes into every climate.
    fn climate(self) -> &'static Climate {
        let round = self.0 / GARDENS.len() as u64;
        &CLIMATES[((self.0 + round) % CLIMATES.len() as u64) as usize]
    }

    fn draw(self, what: u64) -> f64 {
        noise::uniform(self.0, 0, DRAW + what)
    }

    /// The scenario, whole, as a file would hold it.
    pub fn scenario(self) -> String {
        let (garden, climate) = (self.garden(), self.climate());
        let pick = |what: u64, of: &[f64]| of[(self.draw(what) * of.len() as f64) as usize];
        let storms_a_year = pick(0, &[0.0, 3.0, 12.0]);
        let noise_counts = pick(1, &[4.0, 8.0, 15.0]);
        let pct_per_kelvin = pick(2, &[-0.15, 0.05, 0.15, 0.2]);
        let drift = 3.0 * self.draw(3) - 1.5;
        format!(
            r#"title = "Device-year {number}: {garden} in {climate}"
about = "Invented: a healthy device for a year."
days = {YEAR_DAYS}
seed = {number}
{site}storms_a_year = {storms_a_year}
storm_mm = 86
rain_share = {rain_share}
evaporation_share = {evaporation_share}
{text}
air_sensor = {air_sensor}
[signals]
rain_switch = {rain_switch}
[probe]
noise_counts = {noise_counts}
pct_per_kelvin = {pct_per_kelvin}
drift_pct_per_year = {drift:.2}
"#,
            number = self.0,
            garden = garden.name,
            climate = climate.name,
            site = climate.text(),
            rain_share = garden.rain_share,
            evaporation_share = garden.evaporation_share,
            text = garden.text,
            air_sensor = self.knows_demand(),
            rain_switch = garden.rain_share > 0.0,
        )
    }

    /// The year prepared.
    ///
    /// # Panics
    /// When the scenario is refused: then it is written wrongly.
    pub fn setup(self) -> Setup {
        let text = self.scenario();
        let setup = Setup::load(&Source::from_text("device-year.toml", &text));
        setup.unwrap_or_else(|error| panic!("{error}\n{text}"))
    }

    /// Lives it.
    pub fn lived(self) -> Findings {
        run(&self.setup(), Pace::Wake, None)
    }
}
