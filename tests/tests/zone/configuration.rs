//! EMPTY
