//! The usual device with a display of 128×64 and two buttons, linked for a bare chip to see what the
//! panel costs: the difference to `usual`.
//!
//! It is linked and not run. What comes from outside goes through [`black_box`].
#![no_std]
#![no_main]

use core::convert::Infallible;
use core::hint::black_box;

use drydown::air::{AirConfig, AirState, Sample};
use drydown::calibration::{Basis, CaptureSettings};
use drydown::cutoff::{Cutoff, Handle, Sequence};
use drydown::panel::{Button, Controls, Glance, Key, Recent, Settings, Type, lights};
use drydown::persist::{RecordNumber, Stored};
use drydown::quantity::{Millis, Moisture};
use drydown::zone::{Boot, BootCause, Inputs, Zone, turn};
use embedded_graphics::Pixel;
use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::{OriginDimensions, Size};
use embedded_graphics::pixelcolor::BinaryColor;
use link_check::{Kept, USUAL, WORDS};

const SETTINGS: Settings = Settings {
    dose: Millis::from_secs(40),
    calibration: Some((
        CaptureSettings::TWELVE_BITS,
        Basis::Span,
        &[Moisture::ZERO, Moisture::FULL],
    )),
    checks: None,
    cups: None,
};

/// A frame of 1 KiB, as a common display driver keeps it.
struct Frame([u8; 1_024]);

impl OriginDimensions for Frame {
    fn size(&self) -> Size {
        Size::new(128, 64)
    }
}

impl DrawTarget for Frame {
    type Color = BinaryColor;
    type Error = Infallible;

    fn draw_iter<I: IntoIterator<Item = Pixel<BinaryColor>>>(
        &mut self,
        pixels: I,
    ) -> Result<(), Infallible> {
        for Pixel(point, color) in pixels {
            let (x, y) = (point.x as usize & 127, point.y as usize & 63);
            if let Some(byte) = self.0.get_mut(y / 8 * 128 + x) {
                let bit = 1 << (y % 8);
                *byte = if color.is_on() { *byte | bit } else { *byte & !bit };
            }
        }
        Ok(())
    }
}

/// The display's text has branches that can panic. The control path has none: see the other programs.
#[panic_handler]
fn halt(_: &core::panic::PanicInfo) -> ! {
    loop {
        core::hint::spin_loop();
    }
}

/// Where the linker begins.
#[unsafe(no_mangle)]
pub extern "C" fn start() -> ! {
    let mut cutoff = Cutoff::new(&WORDS, Sequence::SINGLE);
    let mut handle = Handle::new(&WORDS);
    let boot = Boot::Start(black_box(BootCause::PowerOn));
    let stored = black_box(Stored::Lost(RecordNumber::NONE));
    let mut zone = Zone::boot(USUAL, boot, &stored, None);
    let mut air = AirState::new();
    let mut recent = Recent::new();
    let mut controls = Controls::new(SETTINGS);
    let mut buttons = [Button::new(); 2];
    let mut frame = Frame([0; 1_024]);
    let mut command = None;
    loop {
        black_box(cutoff.tick(black_box(0)));
        let (now, drive) = handle.sample();
        air.age(black_box(Millis(10)));
        let sample = Sample::from_milli(black_box(21_000), black_box(50_000));
        let climate = air.take(&AirConfig::USUAL, sample);
        let air = Some(air.for_zone(&AirConfig::USUAL, None));
        let inputs = Inputs { burst: black_box(None), drive, air, command, ..Inputs::default() };
        let outcome = turn(&mut zone, &mut Kept, now, &inputs);
        handle.apply(&outcome);
        recent.note(now, &outcome);
        let heard = controls.hear(&inputs, &outcome);
        let glance = Glance::of(&zone, &recent, &inputs, now).with_air(climate);
        let [next, do_it] = &mut buttons;
        let next = next.look(black_box(true), black_box(Millis(10)));
        let do_it = do_it.look(black_box(true), black_box(Millis(10)));
        let press = next.map(|press| (Key::Next, press));
        let press = press.or(do_it.map(|press| (Key::Do, press)));
        if let Some(burst) = &inputs.burst {
            controls.feed(burst);
        }
        let reply = controls.press(now, press, &glance);
        command = reply.command;
        black_box(controls.page(&glance).draw(&glance, &mut frame, &Type::COMPACT).is_ok());
        black_box((
            lights::water_lamp(&glance).is_lit(now),
            lights::look_lamp(glance.well).is_lit(now),
        ));
        black_box((controls.tone(now), heard.or(reply.tune), reply.curve, &frame.0));
        black_box((handle.may_feed(), &outcome));
    }
}
