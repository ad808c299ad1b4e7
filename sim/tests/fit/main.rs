//! `drydown fit`: figures come back out of logs that hide them, and a recorded dry-down gives the figures
//! of a reference library.

#[path = "../from_outside/mod.rs"]
mod from_outside;

mod logs;
mod recorded;
mod recovered;
