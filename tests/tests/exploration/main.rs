//! Every history of small devices, as far as histories go.
//!
//! `DRYDOWN_EXPLORE=full` explores larger scenes: `tests/explore` is the long run.

mod canonical;
mod exhausted;
mod red;
mod same;
mod scenes;
