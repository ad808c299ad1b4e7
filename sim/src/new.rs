//! From what a person can measure to a complete scenario: the answers, where each comes from, the
//! settings that follow, and the file with its comments.

mod answers;
mod build;
mod dialogue;
mod file;
mod ground;
mod options;
mod place;
mod plumbing;
mod probe;
mod substrate;

pub use answers::Answers;
pub use build::{Built, build};
pub use dialogue::{Asker, Terminal};
pub(crate) use file::ASSUMED;
pub use options::Options;
pub use substrate::{SubstrateRow, substrate_row};
