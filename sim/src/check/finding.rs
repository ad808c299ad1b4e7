//! One finding: what it is about, how bad, by which figures, and what to do.

use std::fmt;

/// How bad a finding is.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Severity {
    /// It cannot work as it is written.
    Refuted,
    /// It may work, and somebody should look first.
    Look,
}

impl Severity {
    /// Its stable name in machine-readable output.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Refuted => "refuted",
            Self::Look => "look",
        }
    }

    /// In plain words, to stand before the finding.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Refuted => "Cannot work",
            Self::Look => "Look at this",
        }
    }
}

/// The bound that a value broke, in the unit of its [`Kind`].
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Bound {
    /// It must be at least this.
    AtLeast(f64),
    /// It must be at most this.
    AtMost(f64),
}

impl Bound {
    /// The figure, whichever side it bounds.
    pub const fn figure(self) -> f64 {
        match self {
            Self::AtLeast(figure) | Self::AtMost(figure) => figure,
        }
    }
}

/// Defines the kinds with their stable name, what the value measures, the unit of value and bound,
/// and the source of the bound.
macro_rules! kinds {
    ($($(#[$doc:meta])* $kind:ident:
        $name:literal, $measure:literal, $unit:literal, $source:literal;)*) => {
        /// What a finding is about. The order is the order in which findings are told.
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
        #[non_exhaustive]
        pub enum Kind { $($(#[$doc])* $kind,)* }

        impl Kind {
            /// All kinds.
            pub const ALL: &[Self] = &[$(Self::$kind,)*];

            /// Its stable name in machine-readable output.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$kind => $name,)* }
            }

            /// What value and bound are figures of, in plain words: "the stop level".
            pub const fn measure(self) -> &'static str {
                match self { $(Self::$kind => $measure,)* }
            }

            /// The unit of value and bound.
            pub const fn unit(self) -> &'static str {
                match self { $(Self::$kind => $unit,)* }
            }

            /// Where the bound comes from.
            pub const fn source(self) -> &'static str {
                match self { $(Self::$kind => $source,)* }
            }
        }
    };
}

kinds! {
    /// A copied scenario reads its probe with the calibration of somebody else's.
    CalibrationNotOwn: "calibration-not-own", "what is recorded of this build's own calibration", "of 4 entries",
        "two probes of one kind read several percent apart, and a curve is of one substrate: common \
         practice";
    /// A copied scenario has the flow of somebody else's plumbing.
    FlowNotOwn: "flow-not-own", "what is recorded of this build's own flow test", "of 2 entries",
        "flow changes with head, hose and emitters of each build: common practice";
    /// The stop level lies above what the probe can read: every watering runs to its time limit.
    /// As a look: it lies so high that only passing water meets it.
    StopUnreachable: "stop-unreachable", "the stop level", "%",
        "container capacity: Milks, Fonteno & Larson 1989; drainage: Black, Gardner & Thurtell \
         1969, SSSAJ 33:655; margin of 1 %: common practice";
    /// Watering starts where the plant takes no more.
    StartBelowWilting: "start-below-wilting", "the start level", "%", "wilting point: FAO-56 eq. 82";
    /// Watering starts where the plants are already short of water on the thirstiest day.
    StartBelowStress: "start-below-stress", "the start level", "%",
        "readily available water: FAO-56 eq. 83 and 84, p of Table 22 with its note 2";
    /// The band is narrower than noise and daily temperature ripple of the reading.
    BandWithinNoise: "band-within-noise", "the band from start to stop", "%",
        "temperature ripple of about 2 % by volume in 10 K: MethodsX 2025, \
         doi 10.1016/j.mex.2024.103100; three standard deviations of noise: common practice";
    /// The longest opening ends before the reading can come from start to stop.
    OpeningTooShort: "opening-too-short", "the longest opening", "s",
        "longest opening 1.5 times the time from start to stop: common practice";
    /// The soil passes a level that matters before enough readings agree.
    SamplingTooCoarse: "sampling-too-coarse", "the time between readings", "min",
        "the thirstiest hour of the weather at the plants' use (FAO-56 eq. 80), and the probe's \
         floor of recognition";
    /// The dry end of the probe lies at the end of the converter's range or beyond it.
    DryEndClipped: "dry-end-clipped", "the count in air", "counts",
        "count in air within 90 % of the converter's usable range: common practice";
    /// The next watering may be decided before water has come to the probe.
    SoakShorterThanLag: "soak-shorter-than-lag", "the soak", "min",
        "soak of 20 min at least, and twice the time to the probe: common practice; 60 min gained \
         over 20 min in 3.8 L pots of pine bark (cyclic irrigation trials)";
    /// An answer is awaited for less than the time that water needs to the probe; refuted where all
    /// tries are judged before the first answer can come.
    AnswerTooEarly: "answer-too-early", "the time an answer is awaited", "min",
        "three times the time to the probe: common practice";
    /// What still runs when the probe says stop is a large part of the whole deficit.
    Overshoot: "overshoot", "the water still on its way at stop", "L", "a quarter of the deficit: common practice";
    /// One dose, or the longest opening, is more than substrate and saucer can hold.
    DoseOverflows: "dose-overflows", "the water of one opening", "L", "water balance: pore space left and saucer";
    /// The dose ends before water flows, or before the line is full.
    PulseLostInLine: "pulse-lost-in-line", "the length of a dose", "s",
        "dose = flow x (time - dead time): water balance; five dead times at least: common practice";
    /// Supervision judges an opening that cannot have raised the reading enough.
    JudgedTooSoon: "judged-too-soon", "the open time that is judged", "s",
        "a rise of twice the detection threshold: the controller's own rule";
    /// One dose is too small to be answered at all: a sound zone locks out. As a look: it is too
    /// small to be judged by itself, so that more water goes unanswered before lock-out.
    PulseTooSmallToJudge: "pulse-too-small-to-judge", "the length of one pulse", "s",
        "a rise of twice the detection threshold: the controller's own rule";
    /// The longest opening empties the tank.
    OpeningEmptiesTank: "opening-empties-tank", "the water of one opening", "L",
        "at most nine tenths of the tank in one opening: common practice";
    /// The head falls below what the valve needs while the tank still holds water.
    HeadRunsOut: "head-runs-out", "the head with a tenth of the tank left", "m", "head = level less height of the outlets; valves without \
        pressure aid need 2 to 10 m: common practice";
    /// A pressure-compensating emitter without the pressure it needs.
    EmitterStarved: "emitter-starved", "the head at the emitters", "m",
        "compensating emitters need 5 to 10 m: common practice";
    /// The flow that a bucket got is not what the scenario's plumbing gives.
    FlowNotAsMeasured: "flow-not-as-measured", "the flow that a bucket got", "L/h",
        "emitter law q = k·H^x and the head at the start; a bucket within 15 % of it: common practice";
    /// The tank does not last the days away.
    TankTooSmall: "tank-too-small", "the water in the tank", "L",
        "crop use: FAO-56 eq. 80; leaching below 15 %: UF/IFAS ENH1268; a tenth kept in reserve: \
         common practice";
    /// The 24 h limit lets through less than the plants use.
    LimitBelowUse: "limit-below-use", "the 24 h limit", "s",
        "crop use: FAO-56 eq. 80 (Kcb of Table 17); readily available water: eq. 83";
    /// One opening after the other, as soak or interval allow them, brings less than the plants use.
    DosesBelowUse: "doses-below-use", "the water of all the openings of a day", "L/day",
        "crop use: FAO-56 eq. 80 (Kcb of Table 17); readily available water: eq. 83";
    /// Commissioning, or watering by hand, leaves less of the 24 h limit than a day's use.
    LimitSpentByHand: "limit-spent-by-hand", "the 24 h limit", "s",
        "three measurements of flow of a minute each and one opening to its time limit: common \
         practice";
    /// The device has power for too few hours a day.
    FewPoweredHours: "few-powered-hours", "the time with power", "h/day",
        "time without power is credited as none: the controller's own rule";
    /// A pot without a probe gets less, or much more, than it needs when the probed pot is content.
    NeighbourShare: "neighbour-share", "the water that this pot gets", "L/day",
        "crop use: FAO-56 eq. 80; readily available water: eq. 83; leaching below 15 %: UF/IFAS \
         ENH1268; a tenth short: common practice";
    /// The relay's contacts wear out early at the starts that are to be expected.
    RelayWearsOut: "relay-wears-out", "the starts to be expected", "starts/day",
        "50 000 operations at 2 A and 200 000 at 0.7 A, inductive, 5 to 31 V DC: life table of a \
         relay output module (GFK-1504N, appendix B); five years: common practice";
    /// A linear regulator turns more into heat than it can give off.
    RegulatorTooHot: "regulator-too-hot", "the regulator's junction", "°C",
        "Tj = Ta + θJA × P: data sheets of linear regulators; 125 °C and 60 °C in a box in the sun: \
         common practice";
    /// As valve or pump start, the chip's voltage falls below what it resets at.
    BrownsOutAtStart: "browns-out-at-start", "the chip's voltage as the load starts", "V",
        "supply − start current × resistance − dropout; a motor starts with 6 times its running \
         current: limit-switch data notes";
    /// A panel brings less than the device takes in the month of the run.
    PanelTooSmall: "panel-too-small", "what the panel brings", "mAh/day",
        "Rs = (0.25 + 0.50 n/N) Ra: FAO-56 eq. 21 and 35; what is lost to heat, dirt and charging: \
         common practice";
}

/// One thing that arithmetic has against a scenario.
#[derive(Clone, PartialEq, Debug)]
pub struct Finding {
    /// What it is about.
    pub kind: Kind,
    /// How bad.
    pub severity: Severity,
    /// The field, as a dotted path in the scenario file: `control.stop_pct`, `fault.0.for_h`.
    pub field: String,
    /// What the field says or what follows from it, in the unit of the kind.
    pub value: f64,
    /// The bound it broke.
    pub bound: Bound,
    /// Why the bound is there, with the figures, in sentences.
    pub why: String,
    /// What to do about it, a sentence.
    pub remedy: String,
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let side = match self.bound {
            Bound::AtLeast(_) => "at least",
            Bound::AtMost(_) => "at most",
        };
        let (value, bound) = (figure(self.value), figure(self.bound.figure()));
        let (measure, unit) = (self.kind.measure(), self.kind.unit());
        write!(f, "{measure} is {value} {unit}, should be {side} {bound} {unit}")
    }
}

/// A figure for a program, rounded past what is measured, so that two machines print the same; none
/// for what is no number.
pub(crate) fn shown(value: f64) -> Option<f64> {
    value.is_finite().then(|| (value * 1e4).round() / 1e4)
}

/// A figure with the digits a person needs: three, and no more behind the point than that.
pub(crate) fn figure(value: f64) -> String {
    let digits = match value.abs() {
        v if v >= 99.95 => 0,
        v if v >= 9.995 => 1,
        _ => 2,
    };
    let text = format!("{value:.digits$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}
