//! The unit of a field, which its name ends with.

/// The unit in which a field is told; empty for what has none, or a word.
pub fn of(field: &str) -> &'static str {
    // A position in a list has the unit of the list.
    let named = field.split('.').rfind(|part| part.parse::<usize>().is_err());
    let name = named.unwrap_or_default();
    let ends = UNITS.iter().filter(|(end, _)| name.ends_with(end));
    ends.max_by_key(|(end, _)| end.len()).map_or("", |(_, unit)| unit)
}

const UNITS: &[(&str, &str)] = &[
    ("_pct", "%"),
    ("pct_per_kelvin", "%/K"),
    ("pct_per_year", "%/year"),
    ("_s", "s"),
    ("_min", "min"),
    ("_h", "h"),
    ("_s_h", "s/h"),
    ("_24h_s", "s"),
    ("_l", "L"),
    ("_l_h", "L/h"),
    ("_m", "m"),
    ("_m2", "m²"),
    ("_mm", "mm"),
    ("_c", "°C"),
    ("_deg", "°"),
    ("_counts", "counts"),
    ("days", "days"),
    ("volts", "V"),
    ("_volts", "V"),
    ("_mah", "mAh"),
    ("_ma", "mA"),
    ("_a", "A"),
    ("_ohm", "Ω"),
    ("_w", "W"),
    ("_c_per_w", "°C/W"),
];
