//! The world around the control library: weather, soil, plumbing, faults, runs and reports.
