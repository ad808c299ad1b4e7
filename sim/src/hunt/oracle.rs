//! Judges one run: a broken rule, a plant or a floor that came to harm in silence, plants that
//! starve although nothing failed, or what only hardware can stop.
//!
//! *A word* is what a person who looks in would see as a call for help: an alarm, a lock-out, a
//! verdict on the probe. That a watering was refused, because the 24 h limit is used up, say, is a
//! line on the display and no such word.

use serde::Serialize;

use crate::fault::{Kind, Scheduled};
use crate::person::{Act, Scheduled as Acted};
use crate::plumbing::PlumbingFault;
use crate::run::strips::Bin;
use crate::scenario::Setup;
use crate::scenario::schema::PolicyKind;
use crate::score::{Findings, Rule, RuleScore};

/// Stress coefficient (FAO-56 Eq. 84) below which plants are badly short of water: they use less
/// than half of what they would.
pub const BADLY: f64 = 0.5;
/// Stress coefficient below which plants are short of water: they use less than four fifths of it.
pub const SHORT: f64 = 0.8;
/// Stress coefficient below which plants are as good as dead: a tenth of it.
pub const DEAD: f64 = 0.1;
/// Hours that plants may be short of water before somebody is told: four days, the usual time after
/// which a device asks to be looked at.
pub const SHORT_H: f64 = 96.0;
/// Hours that plants may be badly short of water before somebody is told: one to look in, one to
/// come (common practice).
pub const THIRST_H: f64 = 48.0;
/// Hours before the end that somebody must have been told.
pub const NOTICE_H: f64 = 24.0;
/// Pores that hold air, below which roots lack it; 10 to 30 % after watering is asked of media.
pub const LEAST_AIR: f64 = 0.10;
/// Hours without air at the roots before somebody is told: the 48 h after which an alarm for soil
/// that is too wet is due (common practice), and a day.
pub const DROWNING_H: f64 = 72.0;
/// Litres on the floor that are nothing to speak of.
pub const MOST_SPILLED_L: f64 = 0.5;

/// Openings in a row that never reach the stop level, after which automatic rests.
const MISSED_STOPS: u32 = 3;
/// How long water runs off after rain.
const RUNS_OFF_MS: u64 = 2 * 3_600_000;

/// What was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Finding {
    /// A rule was broken.
    Rule(RuleScore),
    /// Plants were short of water for so many hours on end, up to this hour, without a word.
    Thirst {
        /// Hours.
        hours: f64,
        /// Hours by which somebody must have been told.
        bound_h: f64,
        /// When it was too late, hours from the start.
        at_h: f64,
    },
    /// Plants were short of water for so many hours on end, up to this hour, although nothing failed
    /// and nobody did anything: a word about it mends no setting.
    Starved {
        /// Hours.
        hours: f64,
        /// Hours that they may be.
        bound_h: f64,
        /// When it was too late, hours from the start.
        at_h: f64,
    },
    /// Roots lacked air for so many hours, up to this hour, without a word.
    Drowning {
        /// Hours.
        hours: f64,
        /// When it was too late, hours from the start.
        at_h: f64,
    },
    /// So many litres went to the floor without a word.
    Flood {
        /// Litres.
        litres: f64,
        /// What may reach the floor before somebody is told, litres.
        bound_l: f64,
        /// When it was too much, hours from the start.
        at_h: f64,
    },
}

impl Finding {
    /// Its name for programs.
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Rule(score) => score.rule.name(),
            Self::Thirst { .. } => "silent_thirst",
            Self::Starved { .. } => "starved_without_fault",
            Self::Drowning { .. } => "silent_drowning",
            Self::Flood { .. } => "silent_flood",
        }
    }

    /// In plain words, a sentence without its full stop.
    pub fn words(&self) -> String {
        match self {
            Self::Rule(score) => format!(
                "A rule was broken: {} was {} {unit}, it must be {} {} {unit}",
                score.rule.words(),
                plain(score.worst.unwrap_or_default()),
                if score.at_least { "at least" } else { "at most" },
                plain(score.bound),
                unit = score.unit,
            ),
            Self::Thirst { hours, at_h, .. } => format!(
                "The plants were short of water for {hours:.0} hours on end, up to hour {at_h:.0}, \
                 and no alarm called anybody"
            ),
            Self::Starved { hours, at_h, .. } => format!(
                "The plants were short of water for {hours:.0} hours on end, up to hour {at_h:.0}, \
                 although nothing failed: an alarm called somebody, and only a change of the setting \
                 helps"
            ),
            Self::Drowning { hours, at_h } => format!(
                "The roots lacked air for {hours:.0} hours, up to hour {at_h:.0}, and no alarm \
                 called anybody"
            ),
            Self::Flood { litres, bound_l, at_h } => format!(
                "{litres:.1} L had gone over the edge or to the floor by hour {at_h:.0} and no \
                 alarm called anybody; {bound_l:.1} L may before one does"
            ),
        }
    }
}

/// A number without needless digits.
fn plain(value: f64) -> f64 {
    (value * 1e3).round() / 1e3
}

/// Why only hardware can stop what happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Hardware {
    /// The valve stuck open.
    StuckOpen,
    /// The tank siphoned.
    Siphon,
    /// The closed valve wept.
    Weeping,
    /// Nothing looks at soil, flow or floor.
    NoEye,
    /// The device had no power or its program hung.
    NoVoice,
}

impl Hardware {
    /// In plain words, with what helps.
    pub const fn words(self) -> &'static str {
        match self {
            Self::StuckOpen => {
                "valve or pump stuck open: a tank no larger than the tray, a second shut-off"
            }
            Self::Siphon => "the tank siphoned: an air break, outlets above the tank",
            Self::Weeping => "the closed valve wept: a strainer, a tank no larger than the tray",
            Self::NoEye => {
                "nothing looks at soil, flow or floor: a probe, a flow sensor, a leak sensor"
            }
            Self::NoVoice => {
                "the device had no power or hung: a watchdog, a battery, somebody who looks in"
            }
        }
    }
}

/// The judgement on one run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Judgement {
    /// Nothing to report.
    Sound,
    /// Harm that only hardware can stop; with litres on the floor.
    OnlyHardware(Hardware, f64),
    /// A finding.
    Bad(Finding),
}

/// Judges a run. `spilled_l` is what the undisturbed run spills anyway.
pub fn judge(setup: &Setup, findings: &Findings, spilled_l: f64) -> Judgement {
    let run = Run { setup, findings, voice: Voice::of(setup, findings) };
    let mut hardware = None;
    for score in findings.rules.scores().into_iter().filter(|score| !score.held) {
        if run.was_mute(&score) {
            hardware = Some((Hardware::NoVoice, 0.0));
        } else if !run.was_misled(&score) {
            return Judgement::Bad(Finding::Rule(score));
        }
    }
    let harm = [run.thirst(), run.drowning(), run.flood(spilled_l), run.starved()];
    for judgement in harm {
        match judgement {
            Some(Judgement::Bad(finding)) => return Judgement::Bad(finding),
            Some(Judgement::OnlyHardware(why, litres)) => {
                hardware.get_or_insert((why, 0.0)).1 += litres;
            }
            _ => {}
        }
    }
    match hardware {
        Some((why, litres)) => Judgement::OnlyHardware(why, litres),
        None => Judgement::Sound,
    }
}

/// When the device called for somebody, and when it could not.
struct Voice {
    /// For each bin of the run.
    calls: Vec<bool>,
    /// From and until, ms, without power or hanging.
    mute: Vec<(u64, u64)>,
}

impl Voice {
    fn of(setup: &Setup, findings: &Findings) -> Self {
        let faults = setup.faults.faults().iter();
        let mute = faults
            .filter(|fault| matches!(fault.kind, Kind::PowerCut | Kind::LoopHangs))
            .map(|fault| (fault.from_ms, fault.until_ms));
        let mut voice = Self { calls: vec![], mute: mute.collect() };
        let strips = &findings.strips;
        let mut calling = false;
        for (index, bin) in strips.bins().iter().enumerate() {
            // Between two steps the display stays as it is, if it has power.
            let dark = voice.is_mute(index as u64 * strips.bin_ms());
            calling = bin.told.unwrap_or(calling && !dark);
            voice.calls.push(calling);
        }
        voice
    }

    fn calls(&self, bin: usize) -> bool {
        self.calls.get(bin).copied().unwrap_or(false)
    }

    fn is_mute(&self, t_ms: u64) -> bool {
        self.mute.iter().any(|&(from, until)| (from..until).contains(&t_ms))
    }

    fn mute_h(&self, end_ms: u64) -> f64 {
        let lasted = |&(from, until): &(u64, u64)| until.min(end_ms).saturating_sub(from);
        self.mute.iter().map(lasted).sum::<u64>() as f64 / 3.6e6
    }
}

/// What a word of the device does about harm.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Word {
    /// Somebody comes and sees to what failed.
    Helps,
    /// Nothing failed: it goes on as before.
    MendsNothing,
}

struct Run<'a> {
    setup: &'a Setup,
    findings: &'a Findings,
    voice: Voice,
}

/// A stretch in which harm goes on.
#[derive(Clone, Copy, Default)]
struct Streak {
    hours: f64,
    /// Of these, hours in which the device could have spoken.
    able_h: f64,
    heard: bool,
}

impl Run<'_> {
    fn has(&self, kind: Kind) -> Option<&Scheduled> {
        let duration_ms = self.findings.duration_ms;
        let faults = self.setup.faults.faults().iter();
        faults.filter(|fault| fault.from_ms < duration_ms).find(|fault| fault.kind == kind)
    }

    /// What let water through against orders.
    fn passed_by(&self) -> Option<Hardware> {
        let kinds = [
            (Kind::ValveStuckOpen, Hardware::StuckOpen),
            (Kind::Siphon, Hardware::Siphon),
            (Kind::ValveWeeping, Hardware::Weeping),
        ];
        kinds.into_iter().find(|(kind, _)| self.has(*kind).is_some()).map(|(_, why)| why)
    }

    fn has_probe(&self) -> bool {
        self.setup.scenario.control.policy != PolicyKind::Timer
    }

    fn watches_water(&self) -> bool {
        let fitted = &self.setup.scenario.signals;
        fitted.leak_sensor || fitted.flow_within.is_some()
    }

    /// A device without power cannot say that a plant suffers.
    fn was_mute(&self, score: &RuleScore) -> bool {
        let mute_h = self.voice.mute_h(self.findings.duration_ms);
        score.rule == Rule::S14 && score.worst.is_some_and(|worst| worst - mute_h <= score.bound)
    }

    /// A lock-out is right when somebody has changed what the probe reads.
    fn was_misled(&self, score: &RuleScore) -> bool {
        let changes = |act| matches!(act, Act::Feeds | Act::ReseatsProbe);
        score.rule == Rule::L2 && self.acts().any(|act| changes(act.act))
    }

    /// Follows harm bin by bin, to where it has lasted too long: without a word, or, where a word mends
    /// nothing, with or without. `harm` says whether a bin shows it and whether it is the worst.
    fn follow(
        &self,
        harm: impl Fn(&Bin) -> (bool, bool),
        bound_h: f64,
        word: Word,
    ) -> Option<(Streak, f64)> {
        let strips = &self.findings.strips;
        let bin_h = strips.bin_ms() as f64 / 3.6e6;
        let mut streak = Streak::default();
        for (index, bin) in strips.bins().iter().enumerate() {
            let from_ms = index as u64 * strips.bin_ms();
            let to_ms = from_ms + strips.bin_ms();
            let (harmed, worst) = if bin.truth.is_empty() { (false, false) } else { harm(bin) };
            if !harmed {
                streak = Streak::default();
                continue;
            }
            streak.hours += bin_h;
            streak.heard |= self.voice.calls(index);
            if !self.voice.is_mute(from_ms) {
                streak.able_h += bin_h;
            }
            let late = streak.hours >= bound_h || worst && streak.hours >= NOTICE_H;
            if late && (word == Word::MendsNothing || !streak.heard) {
                return Some((streak, to_ms as f64 / 3.6e6));
            }
        }
        None
    }

    /// Plants short of water for too long, and the bound that was passed, hours.
    fn too_dry(&self, word: Word) -> Option<(Streak, f64, f64)> {
        let badly = |bin: &Bin| (bin.ks.mean() < BADLY, bin.ks.mean() < DEAD);
        let short = |bin: &Bin| (bin.ks.mean() < SHORT, false);
        let badly = self.follow(badly, THIRST_H, word);
        let bound_h = if badly.is_some() { THIRST_H } else { SHORT_H };
        let (streak, at_h) = badly.or_else(|| self.follow(short, SHORT_H, word))?;
        Some((streak, bound_h, at_h))
    }

    fn thirst(&self) -> Option<Judgement> {
        let (streak, bound_h, at_h) = self.too_dry(Word::Helps)?;
        if streak.able_h < NOTICE_H.min(streak.hours) {
            return Some(Judgement::OnlyHardware(Hardware::NoVoice, 0.0));
        }
        Some(Judgement::Bad(Finding::Thirst { hours: streak.hours, bound_h, at_h }))
    }

    fn starved(&self) -> Option<Judgement> {
        // Somebody put it to work.
        let touched = self.acts().any(|act| act.act != Act::Initialises);
        if touched || !self.setup.faults.faults().is_empty() {
            return None;
        }
        let (Streak { hours, .. }, bound_h, at_h) = self.too_dry(Word::MendsNothing)?;
        Some(Judgement::Bad(Finding::Starved { hours, bound_h, at_h }))
    }

    fn drowning(&self) -> Option<Judgement> {
        let pores = 100.0 * self.setup.pots[0].medium.saturation();
        let harm =
            |bin: &crate::run::strips::Bin| (pores - bin.truth.mean() < 100.0 * LEAST_AIR, false);
        let (streak, at_h) = self.follow(harm, DROWNING_H, Word::Helps)?;
        let why = match self.passed_by() {
            _ if streak.able_h < NOTICE_H => Some(Hardware::NoVoice),
            // Without a probe nothing can tell a weeping valve from a dry day.
            Some(why) if !self.has_probe() => Some(why),
            _ => None,
        };
        Some(match why {
            Some(why) => Judgement::OnlyHardware(why, 0.0),
            None => Judgement::Bad(Finding::Drowning { hours: streak.hours, at_h }),
        })
    }

    fn flood(&self, spilled_l: f64) -> Option<Judgement> {
        let (passed_by, hose_off) = (self.passed_by(), self.has(Kind::HoseOff).is_some());
        let poured = |act: &Acted| act.act == Act::PoursCan;
        let poured_l: f64 = self.acts().filter(poured).map(|act| act.amount).sum();
        let usual_l = spilled_l + poured_l + self.by_hand_l(hose_off);
        let bound_l = usual_l + self.before_a_word_l(hose_off);
        let strips = &self.findings.strips;
        let (mut spilled_l, mut unheard_l, mut too_much, mut rained_ms) = (0.0, 0.0, None, None);
        for (index, bin) in strips.bins().iter().enumerate() {
            let from_ms = index as u64 * strips.bin_ms();
            let to_ms = from_ms + strips.bin_ms();
            if bin.rain_mm > 0.0 {
                rained_ms = Some(to_ms);
            }
            // What runs off in a cloudburst is nobody's doing, and the soil that rises by it
            // answers what was given before.
            if rained_ms.is_some_and(|end| from_ms < end + RUNS_OFF_MS) {
                unheard_l = 0.0;
                continue;
            }
            spilled_l += bin.spilled_l;
            // Once somebody was called, what runs later is counted anew.
            if self.voice.calls(index) {
                unheard_l = 0.0;
                continue;
            }
            unheard_l += bin.spilled_l;
            if unheard_l > bound_l {
                too_much.get_or_insert((0.0, to_ms)).0 = unheard_l;
            }
        }
        let seen_on_the_floor = self.setup.scenario.signals.leak_sensor && too_much.is_some();
        if let Some(why) = passed_by
            && !seen_on_the_floor
            && spilled_l > usual_l + MOST_SPILLED_L
        {
            return Some(Judgement::OnlyHardware(why, spilled_l));
        }
        let (litres, late_ms) = too_much?;
        if hose_off && !self.has_probe() && !self.watches_water() {
            return Some(Judgement::OnlyHardware(Hardware::NoEye, spilled_l));
        }
        Some(Judgement::Bad(Finding::Flood { litres, bound_l, at_h: late_ms as f64 / 3.6e6 }))
    }

    /// What may reach the floor before somebody is told, litres. With everything sound none
    /// should run over. With something wrong the limits promise that it ends: through a hose that
    /// came off, when so many doses went unanswered; with a probe that misleads, when three
    /// openings in a row never reached the stop level, and else with the 24 h limit.
    fn before_a_word_l(&self, hose_off: bool) -> f64 {
        if self.setup.faults.faults().is_empty() {
            return MOST_SPILLED_L;
        }
        let config = self.setup.zone.config();
        let (dose_ms, per_day_ms) = (config.limits.max_open.0, config.limits.per_day.0);
        let open_ms = if hose_off && self.watches_water() {
            dose_ms
        } else if hose_off {
            let tried_ms = config.response.judged_after.0.saturating_add(dose_ms);
            tried_ms.saturating_mul(u32::from(config.response.tries))
        } else if self.setup.scenario.control.policy == PolicyKind::Hysteresis {
            let whole_a_day = (per_day_ms / dose_ms.max(1)).max(1);
            per_day_ms.saturating_mul(MISSED_STOPS.div_ceil(whole_a_day))
        } else {
            per_day_ms
        };
        MOST_SPILLED_L + self.flow_l_h(hose_off) * f64::from(open_ms) / 3.6e6
    }

    /// What people ordered by hand, litres: who presses a button looks where the water goes.
    fn by_hand_l(&self, hose_off: bool) -> f64 {
        let longest_s = f64::from(self.setup.zone.config().limits.max_open.0) / 1e3;
        let by_hand =
            self.acts().filter(|act| matches!(act.act, Act::WatersByHand | Act::WatersFromAfar));
        let open_s: f64 = by_hand.map(|act| act.amount.min(longest_s)).sum();
        self.flow_l_h(hose_off) * open_s / 3600.0
    }

    fn acts(&self) -> impl Iterator<Item = Acted> + '_ {
        self.setup.acts.until(self.setup.duration_ms)
    }

    fn flow_l_h(&self, hose_off: bool) -> f64 {
        let fault = PlumbingFault { hose_off, ..PlumbingFault::default() };
        self.setup.line.flow_l_h(&self.setup.source, self.setup.stored, &fault)
    }
}
