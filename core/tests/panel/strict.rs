//! A display that bears no mistake: nothing beyond its edge, no pixel twice.

use core::convert::Infallible;

use embedded_graphics::Pixel;
use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::{OriginDimensions, Size};
use embedded_graphics::pixelcolor::BinaryColor;

pub struct Strict {
    size: Size,
    drawn: Vec<Option<BinaryColor>>,
    pub complaint: Option<String>,
}

impl Strict {
    pub fn new(width: u32, height: u32) -> Self {
        let drawn = vec![None; (width * height) as usize];
        Self { size: Size::new(width, height), drawn, complaint: None }
    }

    /// Whether a pixel of it is lit.
    pub fn is_lit(&self, x: u32, y: u32) -> bool {
        self.drawn[(y * self.size.width + x) as usize] == Some(BinaryColor::On)
    }

    /// How many pixels are lit.
    pub fn lit(&self) -> usize {
        self.drawn.iter().filter(|pixel| **pixel == Some(BinaryColor::On)).count()
    }

    /// A row of pixels, a mark for each that is lit.
    pub fn row(&self, y: u32) -> String {
        (0..self.size.width).map(|x| if self.is_lit(x, y) { '#' } else { '.' }).collect()
    }
}

impl OriginDimensions for Strict {
    fn size(&self) -> Size {
        self.size
    }
}

impl DrawTarget for Strict {
    type Color = BinaryColor;
    type Error = Infallible;

    fn draw_iter<I: IntoIterator<Item = Pixel<BinaryColor>>>(
        &mut self,
        pixels: I,
    ) -> Result<(), Infallible> {
        for Pixel(point, color) in pixels {
            let inside = u32::try_from(point.x).ok().zip(u32::try_from(point.y).ok());
            let inside = inside.filter(|&(x, y)| x < self.size.width && y < self.size.height);
            let Some((x, y)) = inside else {
                self.complaint.get_or_insert(format!("{point} lies beyond {}", self.size));
                continue;
            };
            let place = &mut self.drawn[(y * self.size.width + x) as usize];
            if place.replace(color).is_some() {
                self.complaint.get_or_insert(format!("{point} was drawn twice"));
            }
        }
        Ok(())
    }

    fn clear(&mut self, _: BinaryColor) -> Result<(), Infallible> {
        self.drawn.fill(None);
        Ok(())
    }
}
