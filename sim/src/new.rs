//! From what a person can measure to a complete scenario: the answers, where each comes from, the
//! settings that follow, and the file with its comments.

mod answers;
mod build;
mod dialogue;
mod file;

pub use answers::{Answers, Options, SubstrateRow, substrate_row};
pub use build::{Built, build};
pub use dialogue::{Asker, Terminal};
