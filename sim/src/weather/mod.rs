//! Weather: the reader of station files, a seeded generator, and reference evapotranspiration.
//!
//! Formulas are those of FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes and Smith
//! 1998, "FAO-56" below) and of the ASCE-EWRI standardised reference evapotranspiration equation
//! (2005); equation numbers are theirs.
//!
//! Reference evapotranspiration describes open, watered, unshaded grass. On a balcony, under
//! glass or indoors it is an index of demand, not the demand.

pub mod atmosphere;
pub mod course;
pub mod csv;
pub mod daily;
pub mod evapotranspiration;
pub mod gaps;
pub mod generate;
pub mod hourly;
pub mod radiation;
pub mod series;
