//! The bounds a physical input must keep, and the error that names the one it broke.
use std::fmt;

/// A physical input outside the range in which its model means anything.
#[derive(Clone, Debug, PartialEq)]
pub struct OutOfRange {
    /// What the input is called, with its unit.
    pub field: &'static str,
    /// What was given.
    pub value: f64,
    /// Smallest value allowed.
    pub min: f64,
    /// Largest value allowed.
    pub max: f64,
}

impl fmt::Display for OutOfRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { field, value, min, max } = self;
        write!(f, "{field} is {value}; it must lie between {min} and {max}")
    }
}

impl std::error::Error for OutOfRange {}

/// `value` if it lies in `min..=max`.
///
/// # Errors
/// [`OutOfRange`] otherwise, and for what is not a number.
///
/// ```
/// use drydown_sim::bounds::within;
/// assert_eq!(within("root depth (m)", 0.3, 0.02, 3.0), Ok(0.3));
/// assert!(within("root depth (m)", f64::NAN, 0.02, 3.0).is_err());
/// ```
pub fn within(field: &'static str, value: f64, min: f64, max: f64) -> Result<f64, OutOfRange> {
    if value >= min && value <= max {
        Ok(value)
    } else {
        Err(OutOfRange { field, value, min, max })
    }
}
