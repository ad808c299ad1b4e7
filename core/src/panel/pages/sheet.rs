//! A display that is being drawn on: head, lines, number, ruler, bar, and where each stands.

#![allow(clippy::cast_possible_wrap, reason = "a display has far fewer than 2^31 pixels")]

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::{OriginDimensions, Point, Size};
use embedded_graphics::image::ImageRaw;
use embedded_graphics::mono_font::ascii::{FONT_5X8, FONT_8X13, FONT_10X20};
use embedded_graphics::mono_font::mapping::GlyphMapping;
use embedded_graphics::mono_font::{MonoFont, MonoTextStyleBuilder};
use embedded_graphics::pixelcolor::{BinaryColor, PixelColor};
use embedded_graphics::text::{Baseline, Text};
use embedded_graphics::{Drawable, Pixel};

use super::DrawError;
use crate::panel::line::{COLUMNS, Line, Percent, line};
use crate::quantity::{Millis, Moisture};
use crate::well::Well;

/// Lines of a page below its head.
pub(super) const LINES: i32 = 6;
/// Letters of the large number: `100.0%`.
const NUMBER: i32 = 6;

/// What a large number is written with.
const FIGURES: &str = "%-.0123456789?";

/// Of [`FONT_10X20`] what a number needs: all of it takes two thousand bytes more.
const NUMBERS: MonoFont<'static> = MonoFont {
    image: ImageRaw::new(include_bytes!("number.raw"), 10 * FIGURES.len() as u32),
    glyph_mapping: &Figures,
    ..FONT_10X20
};

/// Where a figure stands among [`FIGURES`].
struct Figures;

impl GlyphMapping for Figures {
    fn index(&self, letter: char) -> usize {
        FIGURES.bytes().position(|figure| char::from(figure) == letter).unwrap_or(FIGURES.len() - 1)
    }
}

/// Where a letter stands in a whole font: by what it is, where the fonts' own mapping walks over all
/// letters before it.
struct Printed;

impl GlyphMapping for Printed {
    fn index(&self, letter: char) -> usize {
        let letter = if matches!(letter, ' '..='~') { letter } else { '?' };
        letter as usize - ' ' as usize
    }
}

const fn printed(font: MonoFont<'static>) -> MonoFont<'static> {
    MonoFont { glyph_mapping: &Printed, ..font }
}

const SMALL: MonoFont<'static> = printed(FONT_5X8);
const MEDIUM: MonoFont<'static> = printed(FONT_8X13);
const BIG: MonoFont<'static> = printed(FONT_10X20);

/// How large the letters are.
#[derive(Clone, Copy, Debug)]
pub struct Type {
    body: &'static MonoFont<'static>,
    number: &'static MonoFont<'static>,
}

impl Type {
    /// For 128×64.
    pub const COMPACT: Self = Self { body: &SMALL, number: &NUMBERS };
    /// For 203×99 and more, such as 240×135.
    pub const MIDDLE: Self = Self { body: &MEDIUM, number: &NUMBERS };
    /// For 253×148 and more, such as 320×240.
    pub const LARGE: Self = Self { body: &BIG, number: &NUMBERS };

    /// The smallest display it fits on: head, rule and six lines. In none of the three sizes does the
    /// first page need more, with its number and its scale.
    pub const fn needs(&self) -> Size {
        let letter = self.body.character_size;
        Size::new(letter.width * COLUMNS as u32 + 3, letter.height * 7 + 8)
    }
}

/// A display that is being drawn on.
pub(super) struct Sheet<'a, D> {
    pub display: &'a mut D,
    pub letters: &'a Type,
    pub size: Size,
    /// Lines in whose place something else was told.
    taken: core::ops::Range<i32>,
}

impl<'a, D> Sheet<'a, D>
where
    D: DrawTarget + OriginDimensions,
    D::Color: From<BinaryColor>,
{
    /// A cleared display, if the letters fit it.
    pub fn cleared(display: &'a mut D, letters: &'a Type) -> Result<Self, DrawError<D::Error>> {
        let (needs, has) = (letters.needs(), display.size());
        if has.width < needs.width || has.height < needs.height {
            return Err(DrawError::TooSmall { needs, has });
        }
        display.clear(BinaryColor::Off.into())?;
        Ok(Self { display, letters, size: has, taken: 0..0 })
    }
}

impl<D> Sheet<'_, D>
where
    D: DrawTarget,
    D::Color: PixelColor + From<BinaryColor>,
{
    fn body(&self) -> (i32, i32) {
        let size = self.letters.body.character_size;
        (size.width as i32, size.height as i32)
    }

    fn width(&self) -> i32 {
        self.size.width as i32
    }

    /// Height that nothing needs, to be shared out between lines.
    fn spare(&self) -> i32 {
        (self.size.height - self.letters.needs().height) as i32
    }

    fn text(
        &mut self,
        font: &'static MonoFont<'static>,
        at: Point,
        text: &str,
        dark: bool,
    ) -> Result<(), D::Error> {
        let (ink, ground) = if dark {
            (BinaryColor::Off, BinaryColor::On)
        } else {
            (BinaryColor::On, BinaryColor::Off)
        };
        let style = MonoTextStyleBuilder::new()
            .font(font)
            .text_color(ink.into())
            .background_color(ground.into())
            .build();
        Text::with_baseline(text, at, style, Baseline::Top).draw(self.display)?;
        Ok(())
    }

    /// The head line: what the page is about, and at the right a word more.
    pub fn head(&mut self, left: &str, right: &str) -> Result<(), D::Error> {
        self.head_line(left, right, false)
    }

    /// The head line of a page that says whether it is well; dark on light when somebody is needed.
    pub fn well(&mut self, well: Well, right: &str) -> Result<(), D::Error> {
        self.head_line(well.text(), right, well == Well::NeedsYou)
    }

    fn head_line(&mut self, left: &str, right: &str, dark: bool) -> Result<(), D::Error> {
        debug_assert!(left.len() + right.len() < COLUMNS, "{left:?} runs into {right:?}");
        let (letter, height) = self.body();
        let font = self.letters.body;
        let after_left = 1 + letter * left.len() as i32;
        let before_right = self.width() - 1 - letter * right.len() as i32;
        self.text(font, Point::new(1, 0), left, dark)?;
        self.text(font, Point::new(before_right, 0), right, dark)?;
        if dark {
            let rows = 0..height;
            let gaps = [0..1, after_left..before_right, self.width() - 1..self.width()];
            let ground = gaps.into_iter().flat_map(|gap| {
                rows.clone().flat_map(move |y| gap.clone().map(move |x| Point::new(x, y)))
            });
            self.display.draw_iter(ground.map(|point| Pixel(point, BinaryColor::On.into())))?;
        }
        let rule = (0..self.width()).map(|x| Pixel(Point::new(x, height), BinaryColor::On.into()));
        self.display.draw_iter(rule)
    }

    /// Tells something in the place of the two lines before the last, whatever the page has there. Call it
    /// before those are drawn.
    pub fn tell(&mut self, lines: &[Line; 2]) -> Result<(), D::Error> {
        let first = LINES - 3;
        for (index, line) in (first..).zip(lines) {
            self.line(index, line)?;
        }
        self.taken = first..first + 2;
        Ok(())
    }

    /// A line below the head, counted from 0.
    pub fn line(&mut self, index: i32, text: &str) -> Result<(), D::Error> {
        if self.taken.contains(&index) {
            return Ok(());
        }
        let top = self.line_top(index);
        self.text(self.letters.body, Point::new(1, top), text, false)
    }

    fn line_top(&self, index: i32) -> i32 {
        let (_, height) = self.body();
        height + 2 + index * (height + 1) + self.spare() * index / LINES
    }

    /// Where the large number begins.
    fn number_top(&self) -> i32 {
        self.body().1 + 2 + self.spare() / 5
    }

    pub fn number(&mut self, text: &str) -> Result<(), D::Error> {
        let top = self.number_top();
        self.text(self.letters.number, Point::new(1, top), text, false)
    }

    /// A short line beside the large number, the upper or the lower one.
    pub fn beside(&mut self, index: i32, text: &str) -> Result<(), D::Error> {
        let (_, height) = self.body();
        let number = self.letters.number.character_size;
        let left = 1 + NUMBER * number.width as i32 + 3;
        let top = self.number_top() + index * (height + 1);
        self.text(self.letters.body, Point::new(left, top), text, false)
    }

    /// Where the scale begins: below the number and what stands beside it.
    fn scale_top(&self) -> i32 {
        let (_, height) = self.body();
        let number = self.letters.number.character_size.height as i32;
        self.number_top() + number.max(2 * height + 1) + 1 + self.spare() / 5
    }

    /// One of the three lines at the bottom of the first page.
    pub fn low_line(&mut self, index: i32, text: &str) -> Result<(), D::Error> {
        let (_, height) = self.body();
        let gap = self.spare() / 5;
        let top = self.scale_top() + height + 1 + gap + index * (height + gap);
        self.text(self.letters.body, Point::new(1, top), text, false)
    }

    /// A ruler with a post at start and one at stop, each with its number beside it, and the reading
    /// as a wedge that stays at the end when it lies far beyond.
    pub fn scale(
        &mut self,
        start: Moisture,
        stop: Moisture,
        reading: Option<Moisture>,
    ) -> Result<(), D::Error> {
        let (letter, height) = self.body();
        let top = self.scale_top();
        let font = self.letters.body;
        let right = line!(Percent(stop));
        self.text(font, Point::new(1, top), &line!(Percent(start)), false)?;
        let right_at = self.width() - 1 - letter * 5;
        let at = self.width() - 1 - letter * right.len() as i32;
        self.text(font, Point::new(at, top), &right, false)?;
        let (from, to) = (1 + letter * 5 + 2, right_at - 2);
        let beyond = (to - from) / 8;
        let (low, high) = (from + beyond, to - beyond);
        let mark = reading.map(|reading| {
            let width = i32::from(stop.above(start)).max(1);
            let above = i32::from(reading.centi()) - i32::from(start.centi());
            (low + above * (high - low) / width).clamp(from, to)
        });
        let bottom = height - 1;
        let pixels = (0..height).flat_map(|y| (from..=to).map(move |x| (x, y)));
        let lit = pixels.filter(|&(x, y)| {
            let post = x == low || x == high;
            // Its point stands just above the ruler.
            let wedge = mark.is_some_and(|mark| (x - mark).abs() * 2 <= bottom - 2 - y);
            post || y == bottom || wedge
        });
        let on = BinaryColor::On.into();
        self.display.draw_iter(lit.map(|(x, y)| Pixel(Point::new(x, top + y), on)))
    }

    /// How much of a whole is spent.
    pub fn bar(&mut self, index: i32, part: Millis, whole: Millis) -> Result<(), D::Error> {
        let (_, height) = self.body();
        let top = self.line_top(index);
        let (from, to) = (1, self.width() - 2);
        let filled = from + share_of(to - from, part, whole);
        let pixels = (0..height).flat_map(|y| (from..=to).map(move |x| (x, y)));
        let lit = pixels.filter(|&(x, y)| {
            let frame = y == 0 || y == height - 1 || x == from || x == to;
            frame || x <= filled
        });
        let on = BinaryColor::On.into();
        self.display.draw_iter(lit.map(|(x, y)| Pixel(Point::new(x, top + y), on)))
    }
}

/// As many of so many pixels as a part is of the whole, rounded down. Counted: nothing else on a
/// device wants a division of 64 bits, which takes six hundred bytes of flash.
fn share_of(pixels: i32, part: Millis, whole: Millis) -> i32 {
    let (part, whole) = (i64::from(part.0.min(whole.0)), i64::from(whole.0.max(1)));
    let all = i64::from(pixels) * part;
    (1..=pixels).take_while(|&pixel| i64::from(pixel) * whole <= all).count() as i32
}

#[cfg(test)]
mod tests {
    use embedded_graphics::mono_font::MonoTextStyle;

    use super::*;

    const WIDTH: usize = 10 * FIGURES.len();

    /// The pixels of a line, lit or dark.
    #[derive(PartialEq, Eq, Debug)]
    struct Strip([[bool; WIDTH]; 20]);

    impl OriginDimensions for Strip {
        fn size(&self) -> Size {
            Size::new(WIDTH as u32, 20)
        }
    }

    impl DrawTarget for Strip {
        type Color = BinaryColor;
        type Error = core::convert::Infallible;

        fn draw_iter<I: IntoIterator<Item = Pixel<BinaryColor>>>(
            &mut self,
            pixels: I,
        ) -> Result<(), Self::Error> {
            for Pixel(at, color) in pixels {
                self.0[at.y as usize][at.x as usize] = color.is_on();
            }
            Ok(())
        }
    }

    /// Against the division of 64 bits, which a host may use.
    #[test]
    fn a_share_is_that_of_the_division() {
        let times =
            [0, 1, 2, 59_999, 60_000, 1_800_000, 86_399_999, 86_400_000, u32::MAX - 1, u32::MAX];
        for (part, whole) in times.iter().flat_map(|part| times.map(|whole| (*part, whole))) {
            for pixels in [0, 1, 61, 125, 253, 1_021] {
                let part_of = u64::from(part.min(whole));
                let expected = pixels * part_of / u64::from(whole.max(1));
                let share = share_of(pixels as i32, Millis(part), Millis(whole));
                assert_eq!(share as u64, expected, "{part} of {whole} in {pixels}");
            }
        }
    }

    #[test]
    fn the_figures_of_a_number_are_those_of_the_whole_font() {
        let [figures, whole] = [&NUMBERS, &FONT_10X20].map(|font| {
            let mut strip = Strip([[false; WIDTH]; 20]);
            let style = MonoTextStyle::new(font, BinaryColor::On);
            let drawn =
                Text::with_baseline(FIGURES, Point::zero(), style, Baseline::Top).draw(&mut strip);
            assert!(drawn.is_ok());
            strip
        });
        assert!(whole.0.iter().flatten().any(|&lit| lit));
        assert_eq!(figures, whole);
    }
}
