//! Parts of the simulator, each by itself: tested from here, as tests inside the library would have it
//! compiled twice.

mod fault;
mod hunt;
mod noise;
mod parallel;
mod rows;
mod rules;
mod shrink;
mod strips;
mod sweep;
mod typed;
mod unit;
