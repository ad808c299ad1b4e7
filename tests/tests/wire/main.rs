//! The line to a person far away: its definition, its messages, damage on the way, and what a
//! device does with what it hears. All names and figures of devices are invented.

mod damage;
mod device;
mod log;
mod messages;
mod orders;
mod stuffing;
mod words;
