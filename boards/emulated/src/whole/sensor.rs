//! The air sensor at the far end of the bus, in mild air that never quite stands still.

/// Commands of its data sheet (from memory): sleep, wake, measure with clock stretching off and
/// temperature first.
const SLEEP: u16 = 0xB098;
const WAKE: u16 = 0x3517;
const MEASURE: u16 = 0x7866;

/// The sensor.
pub struct Sensor {
    command: u16,
    taken: u8,
    given: u8,
    measured: Option<[u8; 6]>,
    /// How often it was asked.
    asked: u16,
}

impl Sensor {
    pub const ADDRESS: u8 = 0x70;

    pub const fn new() -> Self {
        Self { command: 0, taken: 0, given: 0, measured: None, asked: 0 }
    }

    /// A transaction begins or ends.
    pub const fn begin(&mut self) {
        (self.taken, self.given) = (0, 0);
    }

    pub const fn has_measured(&self) -> bool {
        self.measured.is_some()
    }

    /// A byte of a command; whether it is one.
    pub fn take(&mut self, byte: u8) -> bool {
        self.command = self.command << 8 | u16::from(byte);
        self.taken += 1;
        match (self.taken, self.command) {
            (1, _) | (2, SLEEP | WAKE) => true,
            (2, MEASURE) => {
                self.asked = self.asked.wrapping_add(1);
                // 21 °C and a little, 50 %, by the formulas of the data sheet.
                let temperature = (24_720 + 4 * (self.asked % 7)).to_be_bytes();
                let humidity = 0x8000_u16.to_be_bytes();
                let ([a, b], [c, d]) = (temperature, humidity);
                self.measured = Some([a, b, check(temperature), c, d, check(humidity)]);
                true
            }
            _ => false,
        }
    }

    /// The next byte of a measurement.
    pub fn give(&mut self) -> u8 {
        let byte = self.measured.and_then(|bytes| bytes.get(usize::from(self.given)).copied());
        self.given = self.given.saturating_add(1);
        // Nobody holds the wire.
        byte.unwrap_or(0xFF)
    }
}

/// CRC-8 with the polynomial 0x31 and the initial value 0xFF, as the data sheet gives it.
fn check(bytes: [u8; 2]) -> u8 {
    bytes.into_iter().fold(0xFF, |check, byte| {
        (0..8).fold(
            check ^ byte,
            |check: u8, _| {
                if check & 0x80 == 0 { check << 1 } else { check << 1 ^ 0x31 }
            },
        )
    })
}
