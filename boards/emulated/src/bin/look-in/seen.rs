//! Somebody who stands at the device in its first seconds, looks, listens, and says with its buttons that
//! no water was given before.

use emulated::whole::{Emulated, Finger, Glass};
use semihosting::{print, println};

/// What they saw and heard so far.
pub struct Seen {
    look_lamp: bool,
    tone: Option<u16>,
    pictures: usize,
}

impl Seen {
    pub const NEXT: Finger = Finger::at(2_000..2_200);
    pub const DO: Finger = Finger::at(3_000..4_500);
    /// When they have left.
    pub const GONE_MS: u32 = 6_000;
    /// When they look at the display: before a press, after the first, after the second.
    const LOOKS_MS: [u32; 3] = [1_500, 2_800, 5_500];

    pub const fn new() -> Self {
        Self { look_lamp: false, tone: None, pictures: 0 }
    }

    /// Tells what is new.
    pub fn look(&mut self, now: u32, board: &Emulated<'_>, look_lamp: bool) {
        if look_lamp != self.look_lamp {
            self.look_lamp = look_lamp;
            println!("{now} ms: the look lamp is {}", if look_lamp { "lit" } else { "dark" });
        }
        if board.tone() != self.tone {
            self.tone = board.tone();
            match self.tone {
                Some(hertz) => println!("{now} ms: the sounder plays {hertz} Hz"),
                None => println!("{now} ms: the sounder is silent"),
            }
        }
        if Self::LOOKS_MS.get(self.pictures).is_some_and(|&at| now >= at) {
            self.pictures += 1;
            println!("the display at {now} ms:");
            show(board.bus().borrow().glass());
        }
    }
}

/// Two rows of pixels in a line of text.
fn show(glass: &Glass) {
    for row in (0..64).step_by(2) {
        print!("|");
        for column in 0..128 {
            let two = (glass.pixel(column, row), glass.pixel(column, row + 1));
            let both = match two {
                (false, false) => " ",
                (true, false) => "▀",
                (false, true) => "▄",
                (true, true) => "█",
            };
            print!("{}", if glass.is_lit() { both } else { " " });
        }
        println!("|");
    }
}
