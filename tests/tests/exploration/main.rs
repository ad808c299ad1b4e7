//! Every history of small devices, as far as histories go.
//!
//! `DRYDOWN_EXPLORE=full cargo test --release -p drydown-tests --test exploration` is the long form.

mod exhausted;
mod red;
mod same;
mod scenes;
