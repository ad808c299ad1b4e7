//! The record of a device's checks at the bench, as a scenario says it: hexadecimal digits.

use drydown::bench::{Check, Findings};

/// The record as digits.
pub fn digits(findings: &Findings) -> String {
    findings.to_bytes().iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The record of some digits; `None` unless they are as many as it takes and its check fits.
///
/// ```
/// use drydown::bench::Findings;
/// use drydown_sim::bench_record::{digits, read};
///
/// let none_made = Findings::new(7);
/// assert_eq!(read(&digits(&none_made)), Some(none_made));
/// assert_eq!(read(&digits(&none_made).replacen('1', "2", 1)), None);
/// ```
pub fn read(digits: &str) -> Option<Findings> {
    let value = |digit: u8| char::from(digit).to_digit(16);
    let pairs = digits.as_bytes().chunks_exact(2);
    let bytes: Vec<u8> = pairs
        .map(|pair| Some((value(pair[0])? << 4 | value(pair[1])?) as u8))
        .collect::<Option<_>>()?;
    let whole = digits.len().is_multiple_of(2);
    Findings::from_bytes(&bytes.try_into().ok().filter(|_| whole)?)
}

/// What a check found, in a line.
pub fn told(findings: &Findings, check: Check) -> String {
    match findings.of(check) {
        Some(found) => {
            let (title, verdict) = (check.title(), found.verdict.text());
            format!("{title}: {verdict}, {} {}", found.number, check.unit())
        }
        None => format!("{}: not made", check.title()),
    }
}
