//! The world around the control library: weather, soil, plumbing, faults, runs and reports.

pub mod bounds;
pub mod campaign;
pub mod check;
pub mod command;
pub mod crop;
pub mod error;
pub mod fault;
pub mod hunt;
pub mod leave;
pub mod new;
pub mod noise;
pub mod parallel;
pub mod person;
pub mod plumbing;
pub mod report;
pub mod run;
pub mod scenario;
pub mod score;
pub mod sensor;
pub mod size;
pub mod soil;
pub mod sweep;
pub mod weather;
pub mod world;
