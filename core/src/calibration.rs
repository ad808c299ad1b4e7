//! From raw counts to moisture: the curve of one probe in one substrate, and taking it at the bench.
//!
//! Counts may fall or rise as the soil gets wetter; the curve takes its direction from its points.
//! Between points it is straight, outside them it stays at the end point: a fitted line that runs on
//! past its last weighed pot would invent moistures nobody measured.

mod capture;
mod curve;

pub use capture::{Capture, CaptureError, CaptureSettings, Progress};
pub use curve::{Basis, Curve, CurveError, CurvePoint, TemperatureTerm};
