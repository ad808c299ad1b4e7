//! What arithmetic refutes: each bound from both sides, the agreement with runs, and the command
//! from outside.

mod agreement;
mod bounds;
#[path = "../from_outside/mod.rs"]
mod from_outside;
mod outside;
mod plain;
mod shipped;
mod soundness;
