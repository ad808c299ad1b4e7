//! Two buttons: NEXT turns the page, DO does what the page says.
//!
//! | | pressed | held |
//! | --- | --- | --- |
//! | NEXT | the next page, the next choice | the first page |
//! | DO | silence, and stop what is open or waits | what the last line of the page says |
//!
//! A press never does what no page says. Held on the pages in turn: acknowledge each trouble, give a
//! timed dose, switch off and back to automatic, *I am working on it*, calibrate, make the checks of a
//! new device, show what it does in two cups. While the checks last, what a press means says
//! [`commissioning_answer`]. In the cups DO held says that the probe stands in one again, and pressed
//! gives up.
//!
//! One [`Order::Acknowledge`] answers for every trouble that a look ends. So it is given when the last
//! of them was shown and held: a lock-out that came up meanwhile is not lifted unseen.
//!
//! *I am working on it* is bench mode under another name: automatic rests, nobody far away can open
//! anything, and it ends by itself. At its end a person is asked what was done. What they tell becomes
//! [`Order::Tended`]: a probe that was put in anew is judged anew, water by hand is no longer overdue.
//! Who tells nothing changes nothing: what the probe then shows is still judged by what it showed. The
//! question comes before all else, as its answer may be what ends a trouble, until NEXT is held. Then it
//! stands where else one says that one works, until it is answered. A calibration and the two cups are
//! such work too, and end as it does: when they are done, given up, or bench mode is over.

mod guided;

pub use guided::{AllGuides, Calibration, Guides, commissioning_answer};

use core::marker::PhantomData;

use self::guided::Guided;
use super::buttons::Press;
use super::glance::{Glance, refuses};
use super::lights::{Tune, of_minute};
use super::pages::Page;
use super::trouble::{self, Trouble, Troubles};
use crate::bench::{Answer, Cup, Cups, Demonstration, Findings, Plan};
use crate::calibration::{Basis, CaptureSettings, Curve};
use crate::quantity::{Millis, Moisture};
use crate::zone::{Command, Deed, Inputs, Mode, Order, Origin, Outcome};

/// After so long without a press the first page comes back.
const BACK_AFTER: u64 = 60_000;
/// After so long what was silenced sounds again.
const SILENT_FOR: u64 = 12 * 3_600_000;

/// Which button.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Key {
    /// NEXT.
    Next,
    /// DO.
    Do,
}

/// What the buttons can do on this device.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Settings {
    /// A dose by hand.
    pub dose: Millis,
    /// Guided calibration: when a reading is steady, percent of what, and the points in the order in
    /// which a person is asked for them, two to eight. `None`: no such page.
    pub calibration: Option<(CaptureSettings, Basis, &'static [Moisture])>,
    /// The checks of a new device. `None`: no such page.
    pub checks: Option<Plan>,
    /// The demonstration with two cups. `None`: no such page.
    pub cups: Option<Cups>,
}

/// Whether somebody works at the pot.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Work {
    /// Nobody does.
    Nobody,
    /// Ordered, and not yet seen to have begun.
    Begins,
    /// Somebody does.
    Goes,
}

/// What is chosen on the page that asks what was done.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Question {
    /// The choice: a deed of [`Deed::ALL`], or one beyond the last: that was all.
    pub choice: u8,
    /// What was told already, one bit each.
    pub told: u8,
}

impl Question {
    /// The deed that is chosen; `None`: that was all.
    pub fn deed(self) -> Option<Deed> {
        Deed::ALL.get(usize::from(self.choice)).copied()
    }
}

/// What a press led to. An order sounds by what becomes of it: see [`Controls::hear`].
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Reply {
    /// An order for the next step.
    pub command: Option<Command>,
    /// A curve that was just taken. Keep it, check a probe with it, and restart with that.
    pub curve: Option<Curve>,
    /// What the sounder plays to the press; `None` to an order, of which [`Controls::hear`] tells.
    pub tune: Option<Tune>,
    /// The checks are asked for: call [`Controls::begin_checks`].
    pub checks: bool,
}

/// The pages in turn.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Turn {
    Now,
    Trouble(Trouble),
    Water,
    Air,
    Dose,
    Switch,
    Work,
    Calibrate,
    Checks,
    /// Whether a record that is complete is to give way: reached by DO alone.
    Anew,
    Cups,
}

/// The state of the buttons: which page, who works, what is silenced.
#[derive(Clone, Debug)]
pub struct Controls<G = AllGuides> {
    settings: Settings,
    turn: Turn,
    pressed_at: u64,
    work: Work,
    question: Option<Question>,
    /// It comes no longer before all pages.
    set_aside: bool,
    guided: Guided,
    /// What the checks found, while none are made.
    findings: Findings,
    /// What a person said to a check, for the step that follows.
    said: Option<Answer>,
    /// A person said that the probe stands in a cup again, for the step that follows.
    moved: bool,
    /// The order of the last press, until a step was shown it.
    ordered: Option<Order>,
    silenced: Option<(u64, Troubles)>,
    /// The troubles that a person was shown and has answered, until all are.
    looked_at: Troubles,
    /// Since when something urgent sounds.
    sounds_since: Option<u64>,
    guides: PhantomData<G>,
}

const fn local(order: Order) -> Command {
    Command { order, origin: Origin::Local }
}

/// The order that ends bench mode; what somebody switched off meanwhile stays off.
const fn back(mode: Mode) -> Order {
    if matches!(mode, Mode::Off) { Order::Off } else { Order::Automatic }
}

impl Controls {
    /// The first page, nothing pressed.
    pub const fn new(settings: Settings) -> Self {
        Self::guided(settings)
    }
}

impl<G: Guides> Controls<G> {
    /// The first page, nothing pressed, of a device that leads a person through no more than `G` says.
    pub const fn guided(settings: Settings) -> Self {
        let calibration = if G::CALIBRATION { settings.calibration } else { None };
        let checks = if G::CHECKS { settings.checks } else { None };
        let cups = if G::CUPS { settings.cups } else { None };
        Self {
            settings: Settings { calibration, checks, cups, ..settings },
            turn: Turn::Now,
            pressed_at: 0,
            work: Work::Nobody,
            question: None,
            set_aside: false,
            guided: Guided::Nothing,
            findings: Findings::new(0),
            said: None,
            moved: false,
            ordered: None,
            silenced: None,
            looked_at: Troubles::NONE,
            sounds_since: None,
            guides: PhantomData,
        }
    }

    /// Whether somebody works at the pot.
    pub const fn work(&self) -> Work {
        self.work
    }

    /// Call it after each step, with the press if there was one.
    pub fn press(&mut self, now: u64, press: Option<(Key, Press)>, glance: &Glance) -> Reply {
        self.follow(now, glance);
        let Some((key, press)) = press else {
            return self.alone(now, glance);
        };
        self.pressed_at = now;
        let reply = match (key, press) {
            (Key::Next, _) | (Key::Do, Press::Long) if self.checks().is_some() => {
                self.at_checks((key, press), glance)
            }
            (Key::Next, Press::Long) if self.asks_first() => {
                (self.set_aside, self.turn) = (true, Turn::Now);
                Reply::default()
            }
            (Key::Next, Press::Short) => {
                self.next(glance);
                Reply::default()
            }
            (Key::Next, Press::Long) => self.give_up(glance),
            (Key::Do, Press::Short) => self.short(now, glance),
            (Key::Do, Press::Long) => self.long(glance),
        };
        self.ordered = reply.command.map(|command| command.order).filter(|_| reply.tune.is_none());
        let tick = if self.ordered.is_none() { Some(Tune::TICK) } else { None };
        Reply { tune: reply.tune.or(tick), ..reply }
    }

    /// Call it after each step, with what that was shown and what it decided. Answers what the sounder
    /// plays to the order of a press once it was followed or refused.
    pub fn hear(&mut self, inputs: &Inputs, outcome: &Outcome) -> Option<Tune> {
        self.ordered.filter(|order| inputs.command == Some(local(*order)))?;
        self.ordered = None;
        if !refuses(outcome) {
            return Some(Tune::DONE);
        }
        if self.work == Work::Begins {
            self.work = Work::Nobody;
            self.lead_no_more();
        }
        Some(Tune::NO)
    }

    /// The page to draw.
    pub fn page(&self, glance: &Glance) -> Page<'_> {
        if let Some(question) = self.asked() {
            return Page::WhatWasDone(question);
        }
        match &self.guided {
            Guided::Nothing => {}
            Guided::Calibration(calibration) => return Page::Calibrating(calibration),
            Guided::Checks(checks) => return Page::Commissioning(checks),
            Guided::Cups(show) => return Page::Cups(show),
        }
        // What is not there any more has no page.
        match self.turn {
            Turn::Now => Page::Now,
            Turn::Trouble(shown) => {
                glance.troubles.place_of(shown).map_or(Page::Now, Page::Trouble)
            }
            Turn::Water => Page::Water,
            Turn::Air if glance.air.is_none() => Page::Now,
            Turn::Air => Page::Air,
            Turn::Dose => Page::Dose(self.settings.dose),
            Turn::Switch => Page::Switch,
            Turn::Work => Page::Work(self.work),
            Turn::Calibrate => Page::Calibrate,
            Turn::Checks => Page::Checks(&self.findings),
            Turn::Anew => Page::CheckAnew,
            Turn::Cups => self.settings.cups.map_or(Page::Now, Page::Demonstrate),
        }
    }

    /// The tone of the sounder now, hertz; `None`: silence.
    pub fn tone(&self, now: u64) -> Option<u16> {
        let since = now.saturating_sub(self.sounds_since?);
        Tune::COME.tone(Millis(u32::from(of_minute(since))))
    }

    /// What time and the zone did meanwhile.
    fn follow(&mut self, now: u64, glance: &Glance) {
        if now.saturating_sub(self.pressed_at) >= BACK_AFTER {
            self.turn = Turn::Now;
            self.looked_at = Troubles::NONE;
        }
        self.looked_at.keep_those_of(&glance.troubles);
        if let Some((_, known)) = &mut self.silenced {
            known.drop_what_was_answered(&glance.troubles);
        }
        let bench = !glance.bench_left.is_zero();
        self.work = match self.work {
            Work::Begins | Work::Goes if bench => Work::Goes,
            // The page is that of a check, and so are its presses.
            Work::Goes if self.checks().is_some() => Work::Goes,
            Work::Goes => {
                self.ask();
                Work::Nobody
            }
            // The order is taken by the next step; refused, it never begins.
            Work::Begins if now.saturating_sub(self.pressed_at) < 5_000 => Work::Begins,
            _ => Work::Nobody,
        };
        self.leave_what_is_over(now.saturating_sub(self.pressed_at));
        let urgent = glance.troubles.iter().any(|trouble| {
            let known = self
                .silenced
                .as_ref()
                .is_some_and(|(until, known)| now < *until && known.contains(trouble));
            trouble.is_urgent() && !known
        });
        self.sounds_since = urgent.then(|| self.sounds_since.unwrap_or(now));
    }

    /// Two cups that got all their pulses, and that nobody presses for any more, are over. That is counted from
    /// the end of the water: the last pulse may have waited long, and whoever watched it sees its result.
    fn alone(&mut self, now: u64, glance: &Glance) -> Reply {
        let cup = self.cups().map(Demonstration::cup);
        if cup.is_some() && glance.is_watering() {
            self.pressed_at = now;
        }
        if cup == Some(Cup::Over) && now.saturating_sub(self.pressed_at) >= BACK_AFTER {
            self.give_up(glance)
        } else {
            Reply::default()
        }
    }

    /// Back to the first page, whatever one is led through. Work at the pot ends by that: what was done
    /// is asked when the zone is back in automatic.
    fn give_up(&mut self, glance: &Glance) -> Reply {
        let led = self.calibration().is_some() || self.cups().is_some();
        self.turn = Turn::Now;
        self.lead_no_more();
        let ends = led && !glance.bench_left.is_zero();
        Reply { command: ends.then_some(local(back(glance.mode))), ..Reply::default() }
    }

    fn ask(&mut self) {
        self.go_on_asking(Some(Question { choice: 0, told: 0 }));
        self.turn = Turn::Now;
    }

    /// The question that waits for its answer.
    pub const fn question(&self) -> Option<Question> {
        self.question
    }

    /// Asks what an earlier life was still asking.
    pub const fn go_on_asking(&mut self, question: Option<Question>) {
        (self.question, self.set_aside) = (question, false);
    }

    /// Whether the question comes before all pages.
    const fn asks_first(&self) -> bool {
        self.question.is_some() && !self.set_aside
    }

    /// The question, where it is shown.
    fn asked(&self) -> Option<Question> {
        self.question.filter(|_| self.asks_first() || self.turn == Turn::Work)
    }

    fn next(&mut self, glance: &Glance) {
        if let Some(question) = self.asked() {
            let choice = (question.choice + 1) % (Deed::ALL.len() as u8 + 1);
            self.question = Some(Question { choice, ..question });
            return;
        }
        if !matches!(self.guided, Guided::Nothing) {
            return;
        }
        let trouble = |index: u8| {
            let trouble = glance.troubles.get(usize::from(index));
            trouble.map_or(Turn::Water, |trouble| Turn::Trouble(*trouble))
        };
        self.turn = match self.turn {
            Turn::Now => trouble(0),
            Turn::Trouble(shown) => {
                trouble(glance.troubles.place_of(shown).map_or(0, |index| index.saturating_add(1)))
            }
            Turn::Water if glance.air.is_some() => Turn::Air,
            Turn::Water | Turn::Air => Turn::Dose,
            Turn::Dose => Turn::Switch,
            Turn::Switch => Turn::Work,
            Turn::Work if self.settings.calibration.is_some() => Turn::Calibrate,
            Turn::Work | Turn::Calibrate if self.settings.checks.is_some() => Turn::Checks,
            Turn::Work | Turn::Calibrate | Turn::Checks if self.settings.cups.is_some() => {
                Turn::Cups
            }
            Turn::Anew => Turn::Checks,
            Turn::Work | Turn::Calibrate | Turn::Checks | Turn::Cups => Turn::Now,
        };
    }

    fn short(&mut self, now: u64, glance: &Glance) -> Reply {
        if self.sounds_since.take().is_some() {
            let until = now.saturating_add(SILENT_FOR);
            self.silenced = Some((until, glance.troubles.clone()));
        }
        // What is open in the two cups ends with them.
        if self.cups().is_some() {
            return self.give_up(glance);
        }
        // Whatever sounds: who presses DO while water runs wants it to stop, and a dose that waits not to
        // come. A check orders its own, and waits for it.
        let stops =
            if self.checks().is_some() { glance.is_watering() } else { glance.is_to_stop() };
        Reply { command: stops.then_some(local(Order::Stop)), ..Reply::default() }
    }

    fn long(&mut self, glance: &Glance) -> Reply {
        if let Some(question) = self.asked() {
            return self.answer(question);
        }
        if self.calibration().is_some() {
            return self.take_point(glance.mode);
        }
        if self.cups().is_some() {
            // Before bench mode has come nothing is asked yet.
            self.moved = !glance.bench_left.is_zero();
            let tune = if self.moved { Tune::DONE } else { Tune::NO };
            return Reply { tune: Some(tune), ..Reply::default() };
        }
        let order = match self.turn {
            Turn::Trouble(shown) if glance.troubles.contains(&shown) => {
                if let Some(reply) = self.look_at(shown, glance) {
                    return reply;
                }
                shown.answer().order()
            }
            Turn::Now | Turn::Water | Turn::Air | Turn::Trouble(_) => None,
            Turn::Dose => Some(Order::Water(self.settings.dose)),
            Turn::Switch if glance.mode == Mode::Off => Some(Order::Automatic),
            Turn::Switch => Some(Order::Off),
            Turn::Work if self.work == Work::Nobody => Some(self.begin()),
            // The question comes when the zone is back in automatic.
            Turn::Work => Some(back(glance.mode)),
            Turn::Calibrate => {
                let begun = self.settings.calibration.map(Calibration::new);
                begun.map(|begun| {
                    self.guided = Guided::Calibration(begun);
                    self.begin()
                })
            }
            Turn::Cups => {
                let begun = self.settings.cups.map(Demonstration::new);
                begun.map(|begun| {
                    self.guided = Guided::Cups(begun);
                    self.begin()
                })
            }
            Turn::Checks if self.findings.is_complete() => {
                self.turn = Turn::Anew;
                return Reply::default();
            }
            Turn::Checks | Turn::Anew => {
                return Reply { checks: true, tune: Some(Tune::DONE), ..Reply::default() };
            }
        };
        let tune = if order.is_some() { None } else { Some(Tune::NO) };
        Reply { command: order.map(local), tune, ..Reply::default() }
    }

    /// Begins work at the pot.
    const fn begin(&mut self) -> Order {
        self.work = Work::Begins;
        Order::Bench
    }

    /// Takes in that a person has looked at a trouble, and turns to the next that the same order would
    /// end; `None`: there is none.
    fn look_at(&mut self, shown: Trouble, glance: &Glance) -> Option<Reply> {
        if shown.answer() != trouble::Answer::Looked {
            return None;
        }
        if !self.looked_at.contains(&shown) {
            self.looked_at.add(shown);
        }
        let unseen = glance.troubles.iter().find(|other| {
            other.answer() == trouble::Answer::Looked && !self.looked_at.contains(other)
        })?;
        self.turn = Turn::Trouble(*unseen);
        Some(Reply::default())
    }

    fn answer(&mut self, question: Question) -> Reply {
        let command = question.deed().map(|deed| local(Order::Tended(deed)));
        self.question = command.map(|_| Question {
            told: question.told | 1 << question.choice,
            choice: Deed::ALL.len() as u8,
        });
        let tune = if command.is_some() { None } else { Some(Tune::DONE) };
        Reply { command, tune, ..Reply::default() }
    }
}
