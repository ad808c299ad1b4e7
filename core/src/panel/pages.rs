//! The pages, drawn on any display of `embedded-graphics`.
//!
//! A page is a head line, and below it lines of 25 letters. [`Type`] says how large; what it
//! needs is checked, so that nothing runs off. Each pixel is drawn once after the page is cleared:
//! nothing lies over anything else, and a display without a buffer does not flicker.

mod sheet;

pub use sheet::Type;

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::{OriginDimensions, Size};
use embedded_graphics::pixelcolor::{BinaryColor, PixelColor};

use super::controls::{AllGuides, Calibration, Guides, Question, Work};
use super::glance::{Glance, last_line};
use super::line::{Degrees, Line, Percent, Span, line};
use super::words;
use crate::bench::{Check, Commissioning, Cup, Cups, Demonstration, Findings, Stage, Verdict};
use crate::calibration::{Basis, Progress};
use crate::quantity::{Millis, Moisture};
use crate::well::Well;
use crate::zone::{Deed, Mode};
use sheet::Sheet;

/// The line in which a page says what DO does.
const FOOT: i32 = sheet::LINES - 1;

/// Why a page was not drawn.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum DrawError<E> {
    /// The display is smaller than the letters need.
    TooSmall {
        /// What they need.
        needs: Size,
        /// What there is.
        has: Size,
    },
    /// Of the display.
    Display(E),
}

impl<E: core::fmt::Debug> core::fmt::Display for DrawError<E> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::TooSmall { needs, has } => write!(
                f,
                "display: {}x{} pixels; these letters need {}x{}",
                has.width, has.height, needs.width, needs.height
            ),
            Self::Display(error) => write!(f, "the display failed: {error:?}"),
        }
    }
}

impl<E: core::fmt::Debug> core::error::Error for DrawError<E> {}

impl<E> From<E> for DrawError<E> {
    fn from(error: E) -> Self {
        Self::Display(error)
    }
}

/// One page, with what it shows beside the [`Glance`].
#[derive(Clone, Copy, Debug)]
pub enum Page<'a> {
    /// Is it well, how moist, what does it do and why, when did it last water.
    Now,
    /// One thing that is wrong, counted from 0, and what a person can do.
    Trouble(u8),
    /// The 24 h limit and the last watering.
    Water,
    /// The air.
    Air,
    /// Give a dose of so long.
    Dose(Millis),
    /// Switch off, or back to automatic.
    Switch,
    /// I am working on it.
    Work(Work),
    /// Begin to calibrate the probe.
    Calibrate,
    /// A calibration under way.
    Calibrating(&'a Calibration),
    /// What was done at the pot.
    WhatWasDone(Question),
    /// Begin the checks of a new device, or go on with them: what they found so far.
    Checks(&'a Findings),
    /// All checks are made: begin them anew?
    CheckAnew,
    /// The checks, while they last. What its presses mean says
    /// [`commissioning_answer`](super::commissioning_answer).
    Commissioning(&'a Commissioning),
    /// Begin the demonstration with two cups.
    Demonstrate(Cups),
    /// The demonstration, while it lasts.
    Cups(&'a Demonstration),
}

impl Page<'_> {
    /// Clears the display and draws the page.
    ///
    /// # Errors
    /// [`DrawError::TooSmall`], and those of the display.
    pub fn draw<D>(
        &self,
        glance: &Glance,
        display: &mut D,
        letters: &Type,
    ) -> Result<(), DrawError<D::Error>>
    where
        D: DrawTarget + OriginDimensions,
        D::Color: PixelColor + From<BinaryColor>,
    {
        self.draw_guided::<AllGuides, D>(glance, display, letters)
    }

    /// The same, and only what a device that guides by `G` has: other pages stay blank and are not linked.
    ///
    /// # Errors
    /// As [`draw`](Page::draw).
    pub fn draw_guided<G: Guides, D>(
        &self,
        glance: &Glance,
        display: &mut D,
        letters: &Type,
    ) -> Result<(), DrawError<D::Error>>
    where
        D: DrawTarget + OriginDimensions,
        D::Color: PixelColor + From<BinaryColor>,
    {
        self.compose::<G, D>(glance, &mut Sheet::cleared(display, letters)?)?;
        Ok(())
    }

    fn compose<G: Guides, D>(
        &self,
        glance: &Glance,
        sheet: &mut Sheet<'_, D>,
    ) -> Result<(), D::Error>
    where
        D: DrawTarget,
        D::Color: PixelColor + From<BinaryColor>,
    {
        // The first page has a place of its own for it, and no answer to a question is refused.
        let told = glance.notice.filter(|_| !matches!(self, Self::Now | Self::WhatWasDone(_)));
        if let Some(notice) = told {
            sheet.tell(&notice.lines())?;
        }
        match *self {
            Self::Calibrate | Self::Calibrating(_) if !G::CALIBRATION => Ok(()),
            Self::Checks(_) | Self::CheckAnew | Self::Commissioning(_) if !G::CHECKS => Ok(()),
            Self::Demonstrate(_) | Self::Cups(_) if !G::CUPS => Ok(()),
            Self::Now => now(glance, sheet),
            Self::Trouble(index) => trouble(glance, index, sheet),
            Self::Water => water(glance, sheet),
            Self::Air => air(glance, sheet),
            Self::Dose(dose) => {
                sheet.head("Water by hand", words::mode(glance.mode))?;
                sheet.line(0, &line!("One dose of ", Span(dose), ","))?;
                sheet.line(1, "then back by itself.")?;
                sheet.line(2, &line!("24 h limit leaves ", Span(glance.left_by_hand)))?;
                if glance.is_watering() {
                    let [first, _] = glance.doing.lines();
                    sheet.line(3, &first)?;
                }
                let stop = "Press DO: stop";
                sheet.line(FOOT, if glance.is_to_stop() { stop } else { "Hold DO: give it" })
            }
            Self::Switch => {
                sheet.head("Switch", words::mode(glance.mode))?;
                let off = glance.mode == Mode::Off;
                let (first, second) = if off {
                    ("It is switched off.", "Alarms go on.")
                } else {
                    ("Off, it waters no more", "until somebody switches")
                };
                sheet.line(0, first)?;
                sheet.line(1, second)?;
                if !off {
                    sheet.line(2, "it on. Alarms go on.")?;
                }
                sheet.line(FOOT, if off { "Hold DO: automatic" } else { "Hold DO: switch off" })
            }
            Self::Work(work) => working(glance, work, sheet),
            Self::Calibrate => {
                sheet.head("Calibrate the probe", "")?;
                sheet.line(0, "Have ready what the probe")?;
                sheet.line(1, "shall be put in. Each")?;
                sheet.line(2, "point is kept when its")?;
                sheet.line(3, "reading is steady.")?;
                sheet.line(FOOT, "Hold DO: begin")
            }
            Self::Calibrating(calibration) => calibrating(calibration, sheet),
            Self::Checks(findings) => {
                let all = Check::ALL.len();
                let left = findings.count(None);
                sheet.head("Checks", &line!(all - left, " of ", all))?;
                sheet.line(0, "A new device is checked")?;
                sheet.line(1, "with water: have a bucket")?;
                sheet.line(2, "ready, and stay here.")?;
                if left == all {
                    sheet.line(3, "None is made yet")?;
                } else {
                    let [passed, failed, left_out] = VERDICTS.map(|one| findings.count(Some(one)));
                    sheet.line(3, &line!(passed, " passed, ", failed, " failed,"))?;
                    sheet.line(4, &line!(left_out, " left out, ", left, " to make"))?;
                }
                let (lead, anew) = ("Hold DO: lead me through", "Hold DO: check anew");
                sheet.line(FOOT, if left == 0 { anew } else { lead })
            }
            Self::CheckAnew => {
                sheet.head("Check anew?", "")?;
                sheet.line(0, "All checks are made. With")?;
                sheet.line(1, "the first new result what")?;
                sheet.line(2, "was found before is gone.")?;
                sheet.line(4, "NEXT: keep it")?;
                sheet.line(FOOT, "Hold DO: begin anew")
            }
            Self::Commissioning(sequence) => commissioning(sequence, sheet),
            Self::Demonstrate(cups) => {
                sheet.head("Two cups", "")?;
                sheet.line(0, "One dry, one wet: move")?;
                sheet.line(1, "the probe. Put the outlet")?;
                sheet.line(2, "over the dry one.")?;
                sheet.line(3, &line!(cups.pulses, " pulses of ", Span(cups.pulse)))?;
                sheet.line(4, "at most, then it ends.")?;
                sheet.line(FOOT, "Hold DO: begin")
            }
            Self::Cups(show) => cups(show, glance, sheet),
            Self::WhatWasDone(question) => {
                sheet.head("What was done?", "")?;
                for (index, deed) in (0_u8..).zip(Deed::ALL) {
                    let mark = if question.choice == index { ">" } else { " " };
                    let told = if question.told & 1 << index != 0 { "+" } else { " " };
                    sheet.line(index.into(), &line!(mark, told, " ", deed.text()))?;
                }
                let mark = if question.deed().is_none() { ">" } else { " " };
                sheet.line(FOOT - 1, &line!(mark, "  that was all"))?;
                sheet.line(FOOT, "NEXT: choose, hold DO: so")
            }
        }
    }
}

fn now<D>(glance: &Glance, sheet: &mut Sheet<'_, D>) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: PixelColor + From<BinaryColor>,
{
    // What it does tells how it is run, where the place is wanted for what is wrong.
    let right = match glance.troubles.len() {
        0 => line!(words::mode(glance.mode)),
        count => line!("press NEXT (", count, ")"),
    };
    sheet.well(glance.well, &right)?;
    let basis = |basis| match basis {
        Basis::Volumetric => "of volume",
        Basis::Span => "of span",
    };
    let (number, first, second) = match &glance.shown {
        Some(shown) if shown.believed => {
            let age = line!(Span(shown.age), " ago");
            (line!(Percent(shown.moisture), "%"), basis(shown.basis), age)
        }
        Some(shown) => {
            (line!(Percent(shown.moisture), "?"), "not believed", line!(basis(shown.basis)))
        }
        None if glance.probed => (line!("--.-%"), "no reading", Line::new()),
        None => (Line::new(), "no probe", Line::new()),
    };
    sheet.number(&number)?;
    sheet.beside(0, first)?;
    sheet.beside(1, &second)?;
    if let Some([start, stop]) = glance.levels {
        let believed = glance.shown.filter(|shown| shown.believed);
        sheet.scale(start, stop, believed.map(|shown| shown.moisture))?;
    }
    let [first, second] = match &glance.notice {
        Some(notice) => notice.lines(),
        None => glance.doing.lines(),
    };
    sheet.low_line(0, &first)?;
    sheet.low_line(1, &second)?;
    sheet.low_line(2, &last_line(glance))
}

fn trouble<D>(glance: &Glance, index: u8, sheet: &mut Sheet<'_, D>) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: PixelColor + From<BinaryColor>,
{
    let Some(trouble) = glance.troubles.get(usize::from(index)) else {
        return Ok(());
    };
    let words = trouble.words();
    let urgent = if trouble.is_urgent() { Well::NeedsYou } else { Well::LookSoon };
    let count = line!(index.saturating_add(1), " of ", glance.troubles.len());
    sheet.well(urgent, &count)?;
    sheet.line(0, words.what)?;
    sheet.line(2, words.act[0])?;
    sheet.line(3, words.act[1])?;
    sheet.line(FOOT, trouble.answer().text())
}

fn water<D>(glance: &Glance, sheet: &mut Sheet<'_, D>) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: PixelColor + From<BinaryColor>,
{
    sheet.head("Water in 24 h", words::mode(glance.mode))?;
    let [spent, limit] = glance.spent;
    sheet.line(0, &line!("Open ", Span(spent), " of ", Span(limit)))?;
    sheet.bar(1, spent, limit)?;
    match glance.last {
        Some(last) => {
            let path = words::path(last.closed.path);
            sheet.line(2, &line!("Last ", Span(last.ago), " ago"))?;
            sheet.line(3, &line!(path, ", ", Span(last.closed.on)))?;
            sheet.line(4, words::ended(last.closed.cause))?;
        }
        None => sheet.line(2, &last_line(glance))?,
    }
    sheet.line(FOOT, &line!(glance.openings, " waterings"))
}

fn air<D>(glance: &Glance, sheet: &mut Sheet<'_, D>) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: PixelColor + From<BinaryColor>,
{
    sheet.head("Air", "")?;
    match glance.air {
        Some(Ok(air)) => {
            sheet.line(0, &line!("Temperature ", Degrees(air.temperature), " C"))?;
            let (whole, tenth) = (air.humidity / 10, air.humidity % 10);
            sheet.line(1, &line!("Humidity ", whole, ".", tenth, " %"))?;
            match air.dew_point {
                Some(dew) => sheet.line(2, &line!("Dew point ", Degrees(dew), " C"))?,
                None => sheet.line(2, "Dew point below -45 C")?,
            }
            let hundredths = air.deficit_pa / 10;
            let (whole, rest) = (hundredths / 100, hundredths % 100);
            sheet.line(3, &line!("Deficit ", whole, ".", rest / 10, rest % 10, " kPa"))?;
        }
        Some(Err(fault)) => sheet.line(0, words::Words::air(fault).what)?,
        None => sheet.line(0, "No sensor")?,
    }
    sheet.line(FOOT, if glance.frozen { "Frost: it holds back" } else { "No frost hold" })
}

fn working<D>(glance: &Glance, work: Work, sheet: &mut Sheet<'_, D>) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: PixelColor + From<BinaryColor>,
{
    sheet.head("I am working on it", "")?;
    if work == Work::Nobody {
        sheet.line(0, "Automatic rests while you")?;
        sheet.line(1, "are at the pot, and goes")?;
        sheet.line(2, "on by itself if you")?;
        sheet.line(3, "forget.")?;
        sheet.line(FOOT, "Hold DO: I begin")
    } else {
        if work == Work::Begins {
            sheet.line(0, "Wait: it is ordered.")?;
        } else if glance.mode == Mode::Off {
            sheet.line(0, "It was switched off")?;
            sheet.line(1, "meanwhile, and stays off.")?;
        } else {
            sheet.line(0, "Automatic rests.")?;
            sheet.line(2, &line!("It goes on in ", Span(glance.bench_left)))?;
        }
        sheet.line(FOOT, "Hold DO: I am done")
    }
}

fn calibrating<D>(calibration: &Calibration, sheet: &mut Sheet<'_, D>) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: PixelColor + From<BinaryColor>,
{
    let basis = calibration.basis();
    let Some((point, of, moisture)) = calibration.asked() else {
        return Ok(());
    };
    sheet.head("Calibrating", &line!(point, " of ", of))?;
    let place = match (basis, moisture) {
        (Basis::Span, Moisture::ZERO) => line!("Hold it in air"),
        (Basis::Span, Moisture::FULL) => line!("Put it in water"),
        _ => line!("Put it in soil of ", Percent(moisture), " %"),
    };
    sheet.line(0, &place)?;
    let progress = match calibration.progress() {
        Progress::Waiting => line!("No reading yet"),
        Progress::Noisy { spread, most } => line!("Noisy: ", spread, ", at most ", most),
        Progress::Settling { seen, needed } => line!("Settling: ", seen, " of ", needed),
        Progress::Steady { raw } => line!("Steady at ", raw.0),
    };
    sheet.line(2, &progress)?;
    if calibration.was_refused() {
        sheet.line(3, "Not kept: not steady, or")?;
        sheet.line(4, "too near another point")?;
    }
    sheet.line(FOOT, "Hold DO: keep this point")
}

fn cups<D>(show: &Demonstration, glance: &Glance, sheet: &mut Sheet<'_, D>) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: PixelColor + From<BinaryColor>,
{
    sheet.head("Two cups", words::mode(glance.mode))?;
    sheet.line(0, show.cup().text())?;
    if let Cup::Refused(fault) = show.cup() {
        sheet.line(1, words::Words::probe(fault).what)?;
    }
    sheet.line(2, &line!("Pulses given: ", show.given(), " of ", show.pulses()))?;
    if glance.is_watering() {
        let [first, _] = glance.doing.lines();
        sheet.line(3, &first)?;
    }
    if show.cup() == Cup::Over {
        return sheet.line(FOOT, "Press DO: done");
    }
    sheet.line(4, "Press DO: end it")?;
    sheet.line(FOOT, "Hold DO: probe is in")
}

fn commissioning<D>(sequence: &Commissioning, sheet: &mut Sheet<'_, D>) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: PixelColor + From<BinaryColor>,
{
    let all = Check::ALL.len();
    let (check, foot) = match sequence.stage() {
        Stage::Ready(check) => (check, "NEXT later, hold DO begin"),
        Stage::Running(check) => (check, "Hold NEXT: leave it out"),
        Stage::Asks(check) => (check, "Hold DO no, NEXT yes"),
        Stage::Done => return commissioned(sequence.findings(), sheet),
    };
    sheet.head("Check", &line!(check as usize + 1, " of ", all))?;
    sheet.line(0, check.title())?;
    sheet.line(1, check.act()[0])?;
    sheet.line(2, check.act()[1])?;
    let state = match sequence.stage() {
        Stage::Asks(_) => line!("Did water flow?"),
        Stage::Running(Check::Resets) => line!(sequence.resets_left(), " resets to go"),
        Stage::Running(_) => line!("Runs for ", Span(sequence.elapsed())),
        _ => line!("Hold NEXT: leave it out"),
    };
    sheet.line(3, &state)?;
    let before = (check as usize).checked_sub(1).and_then(|index| Check::ALL.get(index));
    if let Some(last) = before.and_then(|check| found(sequence.findings(), *check)) {
        sheet.line(4, &last)?;
    } else if sequence.was_interrupted() {
        sheet.line(4, "Restarted by no power cut")?;
    }
    sheet.line(FOOT, foot)
}

/// In the order in which they are counted.
const VERDICTS: [Verdict; 3] = [Verdict::Passed, Verdict::Failed, Verdict::LeftOut];

/// How the last check ended, with its number.
fn found(findings: &Findings, check: Check) -> Option<Line> {
    let finding = findings.of(check)?;
    Some(match finding.verdict {
        Verdict::LeftOut => line!("Last left out"),
        verdict => {
            // Who stands there wants no more of a long time than its seconds.
            let (number, unit) = match (finding.number, check.unit()) {
                (ms @ 10_000.., "ms") => (ms / 1_000, "s"),
                short => short,
            };
            line!("Last ", verdict.text(), " ", number, " ", unit)
        }
    })
}

fn commissioned<D>(findings: &Findings, sheet: &mut Sheet<'_, D>) -> Result<(), D::Error>
where
    D: DrawTarget,
    D::Color: PixelColor + From<BinaryColor>,
{
    sheet.head("Checks are made", "")?;
    for (index, verdict) in (0..).zip(VERDICTS) {
        sheet.line(index, &line!(findings.count(Some(verdict)), " ", verdict.text()))?;
    }
    let failed = Check::ALL.into_iter().find(|check| {
        findings.of(*check).is_some_and(|finding| finding.verdict == Verdict::Failed)
    });
    if let Some(check) = failed {
        sheet.line(3, "The first that failed:")?;
        sheet.line(4, check.title())?;
    } else {
        let (all, some) = ("All passed", "None failed; not all made");
        sheet.line(3, if findings.is_good() { all } else { some })?;
        if let Some(last) = found(findings, Check::DayLimit) {
            sheet.line(4, &last)?;
        }
    }
    sheet.line(FOOT, "NEXT: done")
}
