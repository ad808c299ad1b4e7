//! The display, and when it is drawn.

use core::convert::Infallible;

use drydown::panel::{Controls, Glance, Guides, Type};
use drydown::quantity::Millis;
use embedded_graphics::Pixel;
use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::{OriginDimensions, Size};
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_hal::i2c::I2c;
use ssd1306::mode::{BufferedGraphicsMode, DisplayConfig};
use ssd1306::prelude::{DisplayRotation, DisplaySize128x64, I2CInterface};
use ssd1306::{I2CDisplayInterface, Ssd1306};

/// A display that pages are drawn on, then shown at once.
pub trait Screen {
    /// What is drawn on.
    type Target: DrawTarget<Color = BinaryColor> + OriginDimensions;

    /// Whether there is one: one that is not is never missed.
    fn is_fitted(&self) -> bool {
        true
    }

    /// How large its letters are.
    fn letters(&self) -> Type;

    /// Prepares it; `false` if it does not answer.
    fn start(&mut self) -> bool;

    /// What is drawn on.
    fn target(&mut self) -> &mut Self::Target;

    /// Shows what was drawn; `false` if it does not answer.
    fn show(&mut self) -> bool;

    /// Lights it or leaves it dark; `false` if it does not answer.
    fn light(&mut self, on: bool) -> bool;
}

type Panel128x64<I> =
    Ssd1306<I2CInterface<I>, DisplaySize128x64, BufferedGraphicsMode<DisplaySize128x64>>;

/// The usual small display on I2C, 128×64.
pub struct Oled<I>(Panel128x64<I>);

impl<I: I2c> Oled<I> {
    /// At its usual address.
    pub fn new(bus: I) -> Self {
        let interface = I2CDisplayInterface::new(bus);
        let display = Ssd1306::new(interface, DisplaySize128x64, DisplayRotation::Rotate0);
        Self(display.into_buffered_graphics_mode())
    }
}

impl<I: I2c> Screen for Oled<I> {
    type Target = Panel128x64<I>;

    fn letters(&self) -> Type {
        Type::COMPACT
    }

    fn start(&mut self) -> bool {
        self.0.init().is_ok()
    }

    fn target(&mut self) -> &mut Self::Target {
        &mut self.0
    }

    fn show(&mut self) -> bool {
        self.0.flush().is_ok()
    }

    fn light(&mut self, on: bool) -> bool {
        self.0.set_display_on(on).is_ok()
    }
}

/// No display is fitted: it never answers.
pub struct NoScreen;

impl Screen for NoScreen {
    type Target = Self;

    fn is_fitted(&self) -> bool {
        false
    }

    fn letters(&self) -> Type {
        Type::COMPACT
    }

    fn start(&mut self) -> bool {
        false
    }

    fn target(&mut self) -> &mut Self {
        self
    }

    fn show(&mut self) -> bool {
        false
    }

    fn light(&mut self, _: bool) -> bool {
        false
    }
}

impl OriginDimensions for NoScreen {
    fn size(&self) -> Size {
        Size::zero()
    }
}

impl DrawTarget for NoScreen {
    type Color = BinaryColor;
    type Error = Infallible;

    fn draw_iter<I: IntoIterator<Item = Pixel<BinaryColor>>>(
        &mut self,
        _: I,
    ) -> Result<(), Infallible> {
        Ok(())
    }
}

/// Time between two drawings, ms: often enough for seconds that count down.
const REDRAWN: u64 = 250;
/// Time until a display that did not answer is tried again, ms.
const TRIED_AGAIN: u64 = 30_000;

/// When the display is drawn: while somebody looks, four times a second; else it is dark.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Drawing {
    /// When it next has something to do.
    due: u64,
    started: bool,
    lit: bool,
}

impl Drawing {
    pub const fn new() -> Self {
        Self { due: 0, started: false, lit: false }
    }

    /// Whether the display was lit last, and not made dark since.
    pub const fn is_lit(&self) -> bool {
        self.lit
    }

    /// Whether a page is drawn now.
    pub const fn is_due(&self, now: u64) -> bool {
        now >= self.due
    }

    /// Draws a page if `wanted`, or leaves the display dark. A display that fails is left alone for
    /// a while: the rest of the device does not wait for it.
    pub fn draw<S: Screen, G: Guides>(
        &mut self,
        now: u64,
        screen: &mut S,
        wanted: bool,
        controls: &Controls<G>,
        glance: &Glance,
    ) {
        self.due = now.saturating_add(REDRAWN);
        if !self.follow(screen, wanted, controls, glance) {
            *self = Self { due: now.saturating_add(TRIED_AGAIN), ..Self::new() };
        }
    }

    fn follow<S: Screen, G: Guides>(
        &mut self,
        screen: &mut S,
        wanted: bool,
        controls: &Controls<G>,
        glance: &Glance,
    ) -> bool {
        if !self.started {
            self.started = screen.start();
            self.lit = self.started;
            if !self.started {
                return false;
            }
        }
        if wanted != self.lit {
            if !screen.light(wanted) {
                return false;
            }
            self.lit = wanted;
        }
        let letters = screen.letters();
        !wanted
            || controls
                .page(glance)
                .draw_guided::<G, S::Target>(glance, screen.target(), &letters)
                .is_ok()
                && screen.show()
    }
}

/// Whether somebody may be looking: a press was not long ago.
pub(crate) fn is_looked_at(now: u64, pressed: Option<u64>, lit_for: Millis) -> bool {
    pressed.is_some_and(|pressed| now.saturating_sub(pressed) < u64::from(lit_for.0))
}
