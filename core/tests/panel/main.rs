//! The panel: what it shows of a zone, how its pages look, what its buttons order.

#[allow(dead_code, reason = "shared with other tests, which need more of it")]
#[path = "../../../tests/src/configs.rs"]
mod configs;
#[allow(dead_code, reason = "shared with other tests, which need more of it")]
#[path = "../../../tests/src/rig.rs"]
mod rig;

mod buttons;
mod fits;
mod glances;
mod lights;
mod pictures;
mod shows;
mod stand;
mod strict;
mod turns;
