//! Two wires that each end can only pull low, and what hangs at their far end. It sees levels and edges,
//! and knows nothing of the transactions that the controller means.

use core::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use super::glass::Glass;
use super::sensor::Sensor;
use crate::rig;

/// Whether the far end holds the clock low. A reset of the controller does not make it let go.
static CLOCK_HELD: AtomicBool = AtomicBool::new(false);

/// When the controller first found it held, ms; zero: not yet.
static WAITS_SINCE: AtomicU32 = AtomicU32::new(0);

/// From now on the far end holds the clock low whenever the controller lets go of it.
pub fn hold_clock() {
    CLOCK_HELD.store(true, Ordering::Relaxed);
}

/// Since when the controller waits for the clock, ms.
pub fn waits_since() -> Option<u32> {
    Some(WAITS_SINCE.load(Ordering::Relaxed)).filter(|&at| at != 0)
}

/// The levels of the wires, or what an end would have them be.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Levels {
    pub clock: bool,
    pub data: bool,
}

/// What the far end does between two edges.
#[derive(Clone, Copy)]
enum Phase {
    /// Nobody is spoken to.
    Idle,
    /// So many bits of a byte came.
    Receiving { bits: u8, byte: u8 },
    /// A byte came: the acknowledgement is on the wire.
    Acknowledging,
    /// So many bits of a byte went.
    Sending { bits: u8, byte: u8 },
    /// A byte went: whether more is wanted is on the wire.
    Asking { more: bool },
}

/// To whom the controller speaks.
#[derive(Clone, Copy)]
enum Spoken {
    /// The next byte says.
    Address,
    Glass,
    Sensor {
        reads: bool,
    },
}

/// The wires, with a display and an air sensor.
pub struct Wires {
    levels: Levels,
    phase: Phase,
    spoken: Spoken,
    /// What the far end makes of the data wire.
    data: bool,
    glass: Glass,
    sensor: Sensor,
}

impl Wires {
    pub const fn new() -> Self {
        Self {
            levels: Levels { clock: true, data: true },
            phase: Phase::Idle,
            spoken: Spoken::Address,
            data: true,
            glass: Glass::new(),
            sensor: Sensor::new(),
        }
    }

    pub const fn glass(&self) -> &Glass {
        &self.glass
    }

    /// What the wires are when the controller would have them so.
    pub fn drive(&mut self, wanted: Levels) -> Levels {
        let before = self.levels;
        let held = CLOCK_HELD.load(Ordering::Relaxed);
        if wanted.clock && held && waits_since().is_none() {
            WAITS_SINCE.store(rig::now(), Ordering::Relaxed);
        }
        let clock = wanted.clock && !held;
        let data = wanted.data && self.data;
        match (before.clock, clock) {
            (true, true) if before.data != data => self.start_or_stop(!data),
            (false, true) => self.rises(data),
            (true, false) => self.falls(),
            _ => {}
        }
        self.levels = Levels { clock, data: wanted.data && self.data };
        self.levels
    }

    fn start_or_stop(&mut self, starts: bool) {
        self.data = true;
        if starts {
            self.spoken = Spoken::Address;
            self.phase = Phase::Receiving { bits: 0, byte: 0 };
        } else {
            self.phase = Phase::Idle;
        }
        self.glass.begin();
        self.sensor.begin();
    }

    /// The clock rises: what is on the wire counts.
    fn rises(&mut self, data: bool) {
        match &mut self.phase {
            Phase::Receiving { bits, byte } => {
                *byte = *byte << 1 | u8::from(data);
                *bits += 1;
            }
            Phase::Asking { more } => *more = !data,
            Phase::Idle | Phase::Acknowledging | Phase::Sending { .. } => {}
        }
    }

    /// The clock falls: the next bit goes onto the wire.
    fn falls(&mut self) {
        self.phase = match self.phase {
            Phase::Receiving { bits: 8, byte } => {
                let taken = self.take(byte);
                self.data = !taken;
                if taken { Phase::Acknowledging } else { Phase::Idle }
            }
            Phase::Acknowledging => {
                self.data = true;
                match self.spoken {
                    Spoken::Sensor { reads: true } => self.send_next(),
                    _ => Phase::Receiving { bits: 0, byte: 0 },
                }
            }
            Phase::Sending { bits: 8, .. } => {
                self.data = true;
                Phase::Asking { more: false }
            }
            Phase::Sending { bits, byte } => self.send(bits, byte),
            Phase::Asking { more: true } => self.send_next(),
            Phase::Asking { more: false } => Phase::Idle,
            phase @ (Phase::Idle | Phase::Receiving { .. }) => phase,
        };
        if matches!(self.phase, Phase::Idle) {
            self.data = true;
        }
    }

    fn send_next(&mut self) -> Phase {
        let byte = self.sensor.give();
        self.send(0, byte)
    }

    fn send(&mut self, bits: u8, byte: u8) -> Phase {
        self.data = byte & 0x80 != 0;
        Phase::Sending { bits: bits + 1, byte: byte << 1 }
    }

    /// A byte came; whether somebody takes it.
    fn take(&mut self, byte: u8) -> bool {
        match self.spoken {
            Spoken::Address => {
                let reads = byte & 1 != 0;
                self.spoken = match byte >> 1 {
                    Glass::ADDRESS if !reads => Spoken::Glass,
                    Sensor::ADDRESS if !reads || self.sensor.has_measured() => {
                        Spoken::Sensor { reads }
                    }
                    _ => return false,
                };
                true
            }
            Spoken::Glass => {
                self.glass.take(byte);
                true
            }
            Spoken::Sensor { .. } => self.sensor.take(byte),
        }
    }
}
