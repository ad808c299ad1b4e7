//! The display at the far end of the bus: what its controller makes of bytes.

/// Columns, and rows of eight pixels.
const COLUMNS: usize = 128;
const ROWS: usize = 8;

/// Whether the bytes of a transaction are commands or pixels: its first says.
#[derive(Clone, Copy)]
enum Meant {
    NotYet,
    Commands,
    Pixels,
}

/// What the display shows: 128×64 pixels, a byte for eight below each other.
pub struct Glass {
    pixels: [[u8; COLUMNS]; ROWS],
    lit: bool,
    meant: Meant,
    /// The command whose arguments are awaited, and those that came.
    command: u8,
    arguments: [u8; 2],
    came: u8,
    /// The window that is written, first and last, and where in it.
    columns: (u8, u8),
    rows: (u8, u8),
    at: (u8, u8),
}

impl Glass {
    pub(super) const ADDRESS: u8 = 0x3C;

    pub(super) const fn new() -> Self {
        let (columns, rows) = ((0, COLUMNS as u8 - 1), (0, ROWS as u8 - 1));
        let pixels = [[0; COLUMNS]; ROWS];
        let (lit, meant) = (false, Meant::NotYet);
        Self {
            pixels,
            lit,
            meant,
            command: 0,
            arguments: [0; 2],
            came: 0,
            columns,
            rows,
            at: (0, 0),
        }
    }

    /// Whether it is lit.
    pub const fn is_lit(&self) -> bool {
        self.lit
    }

    /// Whether a pixel is lit, the first at the upper left.
    pub fn pixel(&self, column: usize, row: usize) -> bool {
        let byte = self.pixels.get(row / 8).and_then(|strip| strip.get(column));
        byte.is_some_and(|byte| byte >> (row % 8) & 1 != 0)
    }

    /// A transaction begins or ends.
    pub(super) const fn begin(&mut self) {
        self.meant = Meant::NotYet;
    }

    pub(super) fn take(&mut self, byte: u8) {
        match self.meant {
            Meant::NotYet => {
                self.meant = if byte & 0x40 == 0 { Meant::Commands } else { Meant::Pixels };
            }
            Meant::Commands => self.obey(byte),
            Meant::Pixels => self.paint(byte),
        }
    }

    /// How many arguments a command of the data sheet has (from memory), of those that the driver gives.
    const fn arguments_of(command: u8) -> u8 {
        match command {
            0x21 | 0x22 => 2,
            0x20 | 0x81 | 0x8D | 0xA8 | 0xD3 | 0xD5 | 0xD9 | 0xDA | 0xDB => 1,
            _ => 0,
        }
    }

    fn obey(&mut self, byte: u8) {
        if self.came < Self::arguments_of(self.command) {
            if let Some(place) = self.arguments.get_mut(usize::from(self.came)) {
                *place = byte;
            }
            self.came += 1;
        } else {
            (self.command, self.came) = (byte, 0);
        }
        if self.came == Self::arguments_of(self.command) {
            let [first, last] = self.arguments;
            match self.command {
                0xAE => self.lit = false,
                0xAF => self.lit = true,
                0x21 => (self.columns, self.at.0) = ((first, last), first),
                0x22 => (self.rows, self.at.1) = ((first, last), first),
                _ => {}
            }
        }
    }

    /// Column by column, then the next row of the window.
    fn paint(&mut self, byte: u8) {
        let (column, row) = self.at;
        let strip = self.pixels.get_mut(usize::from(row));
        if let Some(place) = strip.and_then(|strip| strip.get_mut(usize::from(column))) {
            *place = byte;
        }
        self.at = if column < self.columns.1 {
            (column + 1, row)
        } else if row < self.rows.1 {
            (self.columns.0, row + 1)
        } else {
            (self.columns.0, self.rows.0)
        };
    }
}
