//! Commissioning and demonstration, on a zone with its cut-off and a pot that answers.

#[allow(dead_code, reason = "shared with other tests, which need more of it")]
#[path = "../../../tests/src/configs.rs"]
mod configs;
#[allow(dead_code, reason = "shared with other tests, which need more of it")]
#[path = "../../../tests/src/rig.rs"]
mod rig;

mod commissioning;
mod cups;
mod findings;
mod pot;
