//! Quantities as a person reads them: few digits, the unit always beside the number.

/// A number with one decimal, without it where it is zero.
pub(crate) fn short(value: f64) -> String {
    let text = format!("{value:.1}");
    let text = text.strip_suffix(".0").unwrap_or(&text);
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Percent by volume.
pub(super) fn percent(value: f64) -> String {
    format!("{} %", short(value))
}

/// A volume: millilitres below a litre, three digits above.
pub(crate) fn litres(value: f64) -> String {
    match value.abs() {
        l if l < 0.0005 => "0 L".to_owned(),
        l if l < 0.9995 => format!("{:.0} mL", value * 1e3),
        l if l < 9.995 => format!("{value:.2} L"),
        l if l < 99.95 => format!("{value:.1} L"),
        _ => format!("{value:.0} L"),
    }
}

/// A length of time given in seconds.
pub(crate) fn length(seconds: f64) -> String {
    if seconds < 119.95 {
        format!("{} s", short(seconds))
    } else if seconds < 7_200.0 {
        format!("{} min", short(seconds / 60.0))
    } else {
        hours(seconds / 3_600.0)
    }
}

/// A length of time given in hours.
pub(crate) fn hours(hours: f64) -> String {
    match hours {
        h if h > 0.0 && h < 0.05 => "a few minutes".to_owned(),
        h if h < 9.95 => format!("{} h", short(h)),
        h => format!("{h:.0} h"),
    }
}

/// How often.
pub(super) fn times(count: u32) -> String {
    match count {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        more => format!("{more} times"),
    }
}

/// A count with its noun.
pub(super) fn counted(count: u32, noun: &str) -> String {
    if count == 1 { format!("1 {noun}") } else { format!("{count} {noun}s") }
}

/// "2 reached the stop level": a count with the words for what ended so many waterings.
pub(super) fn ended_so_often(count: u32, words: &str) -> String {
    if count == 1 {
        format!("1 {words}")
    } else {
        format!("{count} {}", words.replace(" its ", " their "))
    }
}

/// Joins a number and its unit or month, so that no line breaks between them.
pub(super) fn glued(text: &str) -> String {
    const AFTER_A_NUMBER: [&str; 20] = [
        "%", "L", "mL", "h", "min", "s", "mm", "°C", "Jan", "Feb", "Mar", "Apr", "May", "Jun",
        "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
    ];
    let mut out = String::with_capacity(text.len());
    for word in text.split_whitespace() {
        let bare = word.trim_end_matches(['.', ',', ';', ':', ')']);
        let after_number = out.ends_with(|last: char| last.is_ascii_digit());
        if after_number && AFTER_A_NUMBER.contains(&bare) {
            out.push(NO_BREAK);
        } else if !out.is_empty() {
            out.push(' ');
        }
        out.push_str(word);
    }
    out
}

/// The space at which no line breaks.
pub(super) const NO_BREAK: char = '\u{a0}';

/// "1.2 L to 1.7 L", or only one of them where they read the same.
pub(super) fn from_to(from: String, to: &str) -> String {
    if from == to { from } else { format!("{from} to {to}") }
}
