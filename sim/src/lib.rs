//! The world around the control library: weather, soil, plumbing, faults, runs and reports.

pub mod command;
pub mod error;
pub mod weather;
