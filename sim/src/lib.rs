//! The world around the control library: weather, soil, plumbing, faults, runs and reports.
pub mod bounds;
pub mod crop;
pub mod noise;
pub mod plumbing;
pub mod sensor;
pub mod soil;
