//! What a zone does, told as a person would tell it.
//!
//! Every figure of the invented configurations is restated beside the check that rests on it.

mod garden;
mod modes;
mod policies;
mod response;
mod signals;
mod stance;
mod two_probes;
mod watch;
