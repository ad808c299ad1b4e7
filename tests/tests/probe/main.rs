//! The probe's verdicts: what must never be believed, and what must never be refused.
//!
//! Counts are those of a 12-bit converter at 3.3 V full scale: 2.3 V in air is 2 854, 0.7 V in water
//! is 869. Rates and limits are common practice unless a line says more.

mod any_input;
mod bench;
mod electrical;
mod falls;
mod frost;
mod limits;
mod pulled_out;
mod two_probes;
