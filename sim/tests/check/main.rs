//! What arithmetic refutes: each bound from both sides, the agreement with runs, and the command
//! from outside.

mod agreement;
mod bounds;
mod outside;
mod plain;
mod shipped;
mod soundness;
