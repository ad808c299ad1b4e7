//! What a zone does, told as a person would tell it.
//!
//! Every figure of the invented configurations is restated beside the check that rests on it.

mod another_limit;
mod boots;
mod by_step;
mod configuration;
mod cutoff;
mod fixed;
mod garden;
mod lock_outs;
mod logbook;
mod modes;
mod policies;
mod policies_alone;
mod policy_configuration;
mod response;
mod settings;
mod signals;
mod stance;
mod stop_never_reached;
mod told;
mod two_probes;
mod watch;
