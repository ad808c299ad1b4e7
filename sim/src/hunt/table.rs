//! The table `[hunt]` of a scenario: what may move, what may come, and how often to try.

use serde::{Deserialize, Serialize};

use crate::fault::Kind;
use crate::person::Act;

/// Within which bounds to look. Whatever is not said has a usual value.
#[derive(Clone, Debug, Default, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct HuntTable {
    /// Cases to try.
    pub cases: Option<u32>,
    /// Seed of the cases; 1 if not said.
    pub seed: Option<u64>,
    /// Whether the scenario's own seed may change, and with it generated weather, probe unit,
    /// noise and weighing. Yes if not said.
    pub seeds: Option<bool>,
    /// Whether resets may come in storms. Yes if not said.
    pub storms: Option<bool>,
    /// Most faults in one case, resets of a storm not counted; 2 if not said, 0: none.
    pub most_faults: Option<u8>,
    /// Most acts of people in one case; 1 if not said, 0: none.
    pub most_acts: Option<u8>,
    /// Numbers of the scenario that may move.
    #[serde(default, rename = "field", skip_serializing_if = "Vec::is_empty")]
    pub fields: Vec<MovingTable>,
    /// Kinds of fault that may come; every kind if none is said.
    #[serde(default, rename = "fault", skip_serializing_if = "Vec::is_empty")]
    pub faults: Vec<ComingTable>,
    /// Acts that people may do; what a button or a can does, if none is said.
    #[serde(default, rename = "act", skip_serializing_if = "Vec::is_empty")]
    pub acts: Vec<ActingTable>,
}

/// A number that may move.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct MovingTable {
    /// Its dotted path, as `control.stop_pct`.
    pub name: String,
    /// Smallest value.
    pub least: f64,
    /// Largest value.
    pub most: f64,
}

/// A kind of fault that may come.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct ComingTable {
    /// What goes wrong.
    pub kind: Kind,
    /// Shortest and longest, hours.
    pub for_h: Option<[f64; 2]>,
    /// Least and most, in the unit of the kind.
    pub amount: Option<[f64; 2]>,
}

/// An act that people may do.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct ActingTable {
    /// What.
    pub does: Act,
    /// Least and most, in the unit of the act.
    pub amount: Option<[f64; 2]>,
}
