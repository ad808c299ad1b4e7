//! What somebody far away asks a device for over its line.

use drydown::logbook::Entry;
use drydown::persist::{Settings, ZoneIndex};
use drydown::probe::Burst;
use drydown::quantity::RawCounts;
use drydown::well::OfBoard;
use drydown::wire::{Answer, Around, Felt, Head, Identity, Page, Paged, RawBurst, Report, Request};
use drydown::zone::{Drive, Next};

use super::Device;
use crate::air::{AirSensor, AirWatch};
use crate::board::Board;
use crate::held::Held;
use crate::kept::MOST_OF_PAGE;

impl<B: Board, C: Held> Device<'_, B, C> {
    /// Does what somebody far away asks for, or says why not.
    pub(super) fn see_to(
        &mut self,
        now: u64,
        closed: bool,
        head: Head,
        request: Request,
        stepped: bool,
    ) {
        let mut bytes = [0; MOST_OF_PAGE];
        let answer = match request {
            Request::Who => {
                let identity = Identity {
                    board: B::NAME,
                    firmware: self.setup.firmware,
                    config: C::identity(&self.zone),
                    zones: 1,
                    boot: self.boot,
                };
                return self.line.reply(head, &identity);
            }
            Request::Look => return self.line.reply(head, &self.report(now)),
            Request::Edges { from } => {
                return self.line.reply(head, &self.edges_from(from, &mut bytes));
            }
            Request::Rows { .. } | Request::Days { .. } if !B::KEEPS_A_LOG => Answer::NothingKept,
            // A page is found by a walk over all of the log. A long one takes as long as a step may come
            // late (reckoned: half a second for 256 KiB at 48 MHz), and the cut-off would close early.
            Request::Rows { .. } | Request::Days { .. } if self.may_be_open() => Answer::NotNow,
            Request::Rows { from } => {
                return self.line.reply(head, &self.kept.rows_from(from, &mut bytes));
            }
            Request::Days { from } => {
                return self.line.reply(head, &self.kept.days_from(from, &mut bytes));
            }
            Request::Findings if !B::LEADS_CHECKS => Answer::NothingKept,
            Request::Findings => return self.line.reply(head, self.controls.findings()),
            Request::Probe { which } => {
                let probed = which == 0 && self.setup.probe().is_some();
                if probed && self.asked.is_none() {
                    let warm_up = self.zone.config().config().sampling.warm_up;
                    self.asked = Some((head, now.saturating_add(u64::from(warm_up.0))));
                    return;
                }
                if probed { Answer::NotNow } else { Answer::NoReading }
            }
            Request::Order(order) if stepped => Answer::to_order(order, &self.zone, &self.outcome),
            Request::Order(_) => Answer::NotNow,
            Request::Change(settings) => self.change(closed, &settings),
        };
        self.line.answer(head, request, answer);
    }

    /// Whether the valve is open, or may open at the next interrupt.
    const fn may_be_open(&self) -> bool {
        self.inputs.drive.on || self.outcome.permit.is_some() || self.outcome.renew
    }

    fn report(&self, now: u64) -> Report {
        let shown = |at: u64| self.ahead.saturating_add(at);
        let next = Next { sample: self.next.sample.map(shown), ..self.next };
        let (inputs, last) = (&self.inputs, self.logbook.newest());
        let (boot, damaged) = (self.boot, self.line.damaged());
        let heard = self.parts.use_bus && self.parts.air.is_fitted();
        let air = self.air.state.current(&AirWatch::CONFIG).map(Felt::from);
        let air = heard.then_some(air);
        let board = OfBoard {
            no_brown_out_reset: !self.parts.board.resets_on_brown_out(),
            kept_refused: self.refused.any(),
            bus_left_alone: self.parts.leave_a_bus_alone(),
        };
        let now = shown(now);
        Report::of(&self.zone, &Around { now, boot, inputs, next, last, damaged, air, board })
    }

    fn edges_from<'b>(&self, from: u32, into: &'b mut [u8; MOST_OF_PAGE]) -> Page<'b, Entry> {
        let most = Page::<Entry>::MOST * <Entry as Paged>::LENGTH;
        let mut length = 0;
        let places = into[..most].chunks_exact_mut(<Entry as Paged>::LENGTH);
        for (place, entry) in places.zip(self.logbook.from(from)) {
            place.copy_from_slice(&entry.to_bytes());
            length += <Entry as Paged>::LENGTH;
        }
        let first = from.max(self.logbook.dropped()).min(self.logbook.end());
        Page::new(first, self.logbook.end(), &into[..length])
    }

    /// Other settings, from afar: checked, kept, and only while everything is closed.
    fn change(&mut self, closed: bool, settings: &Settings) -> Answer<'static> {
        if !C::CHANGES {
            return Answer::Fixed;
        }
        if !closed {
            return Answer::NotNow;
        }
        let answer = C::change(&mut self.zone, settings);
        if answer.is_refusal() {
            return answer;
        }
        // What is due next may have moved.
        self.next.at = 0;
        let kept = self.store.settings(ZoneIndex::FIRST).unwrap_or_default().changed(settings);
        // What was refused at the start would have these refused with it at the next.
        let kept = if self.zone.config().with(&kept).is_ok() { kept } else { *settings };
        let plan = *self.zone.config().ledger_plan();
        let drive = Drive { on: false, ..self.inputs.drive };
        let mut store = self.store.zone(ZoneIndex::FIRST, &plan, &[drive]);
        if store.put_settings(&kept).is_err() {
            return Answer::NotKept;
        }
        self.refused.settings = false;
        Answer::Done
    }

    /// The burst that somebody far away asked for, once the probe is warm.
    pub(super) fn answer_probe(&mut self, now: u64) {
        let Some((head, _)) = self.asked.filter(|(_, at)| now >= *at) else { return };
        self.asked = None;
        self.hush();
        let mut counts = [RawCounts(0); Burst::MOST];
        for count in &mut counts {
            let Ok(raw) = self.parts.board.probe_raw() else {
                return self.line.reply(head, &Answer::NoReading);
            };
            *count = RawCounts(raw);
        }
        let air = self.air.state.current(&AirWatch::CONFIG).ok();
        self.line.reply(head, &RawBurst::whole(counts, air.map(|air| air.temperature)));
    }
}
