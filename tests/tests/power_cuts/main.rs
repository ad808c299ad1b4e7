//! Power cuts at every place where the store writes or erases, once, twice and three times.
//!
//! After each cut a boot must find, of every zone, the state that was kept last or one that was
//! being written when the power went; it must go on working; and over all lives of the device no
//! 24 h may see more water than the limit.

mod device;
mod doubles;
mod limit;
mod month;
mod ruins;
mod store;
