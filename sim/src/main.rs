//! The program `drydown`.
fn main() {}
