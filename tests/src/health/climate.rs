//! Climates to live in: the generator's spells with a year's swing. Invented, like all its numbers.

/// One climate.
#[derive(Clone, Copy, Debug)]
pub struct Climate {
    /// What it is called.
    pub name: &'static str,
    /// Whether soil may freeze.
    pub frosty: bool,
    /// Whether it rains on most days.
    pub rainy: bool,
    spell: &'static str,
    latitude_deg: f64,
    /// Warmest season's mean, its peak, and half the way to the coldest, °C.
    levels_c: [f64; 3],
}

const fn climate(
    name: &'static str,
    spell: &'static str,
    latitude_deg: f64,
    levels_c: [f64; 3],
) -> Climate {
    let [mean, peak, swing] = levels_c;
    // The coldest night lies as far below the season's mean as the peak above it.
    let frosty = mean - 2.0 * swing - (peak - mean) < 2.0;
    let rainy = spell.as_bytes()[0] == b'w';
    Climate { name, frosty, rainy, spell, latitude_deg, levels_c }
}

/// The climates.
pub const CLIMATES: [Climate; 8] = [
    climate("a dry coast", "dry", 36.0, [26.0, 36.0, 7.0]),
    climate("a mild coast", "ordinary", 43.0, [22.0, 31.0, 7.0]),
    climate("an inland valley with frost", "ordinary", 50.0, [20.0, 31.0, 11.0]),
    climate("a wet cool coast", "wet", 55.0, [16.0, 23.0, 5.5]),
    climate("the southern half", "ordinary", -35.0, [23.0, 33.0, 6.0]),
    climate("the rainy tropics", "wet", 5.0, [27.0, 33.0, 1.0]),
    climate("the far north", "ordinary", 62.0, [16.0, 25.0, 12.0]),
    climate("a dry highland", "dry", 20.0, [21.0, 31.0, 4.0]),
];

impl Climate {
    /// Site and weather as a scenario writes them; the weather's table is left open.
    pub fn text(&self) -> String {
        let [mean, peak, swing] = self.levels_c;
        format!(
            r#"
[site]
name = "Port Averley (invented)"
latitude_deg = {latitude}
longitude_deg = 5.1
elevation_m = 18
utc_offset_h = 0

[weather]
spell = "{spell}"
start = "2026-03-01"
t_mean_c = {mean}
t_peak_c = {peak}
season_swing_c = {swing}
"#,
            latitude = self.latitude_deg,
            spell = self.spell,
        )
    }
}
