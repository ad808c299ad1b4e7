//! Every kind of fault: its name in a scenario, what it is in plain words, its amount, its source.

use serde::{Deserialize, Serialize};

use crate::scenario::schema::WaterTable;

/// Where in the device a fault sits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Family {
    /// Probe, its cable and its contact with the soil.
    Probe,
    /// Chip, converter, program, clock, record and power.
    Board,
    /// Valve, pump, pipe and source.
    Plumbing,
    /// Soil, plants, weather, people and link.
    Place,
}

impl Family {
    /// All families, in the order of the kinds.
    pub const ALL: [Self; 4] = [Self::Probe, Self::Board, Self::Plumbing, Self::Place];

    /// As a heading.
    pub const fn heading(self) -> &'static str {
        match self {
            Self::Probe => "Probe and its contact with the soil",
            Self::Board => "Chip, program, clock and power",
            Self::Plumbing => "Valve, pump and pipe",
            Self::Place => "Soil, plants, people and link",
        }
    }
}

macro_rules! kinds {
    ($($(#[$doc:meta])* $kind:ident $name:literal, $family:ident, $words:literal,
        $usual:literal in $least:literal..=$most:literal;)+) => {
        /// Kinds of fault, named as a scenario names them. `amount` is in the unit said here; where
        /// none is said it means nothing. Of two faults of the probe, or of the valve, that act at
        /// once the one named first here hides the other.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize, Serialize)]
        pub enum Kind { $($(#[$doc])* #[serde(rename = $name)] $kind,)+ }

        impl Kind {
            /// All kinds, by family.
            pub const ALL: &'static [Self] = &[$(Self::$kind,)+];

            /// Its name in a scenario.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$kind => $name,)+ }
            }

            /// The fault in plain words, where nothing is known of the plumbing.
            pub const fn words(self) -> &'static str {
                match self { $(Self::$kind => $words,)+ }
            }

            /// Where it sits.
            pub const fn family(self) -> Family {
                match self { $(Self::$kind => Family::$family,)+ }
            }

            /// The amount a scenario means when it gives none, with its least and most.
            pub const fn amount(self) -> (f64, f64, f64) {
                match self { $(Self::$kind => ($usual, $least, $most),)+ }
            }
        }
    };
}

impl Kind {
    /// The fault in plain words, of a valve or of a pump without one.
    pub const fn words_of(self, water: &WaterTable) -> &'static str {
        let pumped = match self {
            Self::ValveStuckOpen => "the pump cannot be switched off",
            Self::ValveNormallyOpen => "the pump runs while nothing drives it",
            Self::ValveStuckClosed => "the pump does not start",
            Self::CoilOverheats => "the pump cuts out on a long opening",
            Self::ValveClosesLate => "the pump stops late",
            _ => return self.words(),
        };
        if water.is_pumped() { pumped } else { self.words() }
    }
}

kinds! {
    /// The converter delivers nothing (a second converter unit cannot be read while the radio runs:
    /// ESP-IDF ADC pages, v3–v4.2).
    ProbeSilent "probe-silent", Probe, "the probe cannot be read", 0.0 in 0.0..=0.0;
    /// Unplugged, the input is pulled low.
    ProbeUnplugged "probe-unplugged", Probe, "the probe is unplugged", 0.0 in 0.0..=0.0;
    /// Unplugged, the input is pulled high.
    ProbeUnpluggedHigh "probe-unplugged-high", Probe,
        "the probe is unplugged and its input pulled up", 0.0 in 0.0..=0.0;
    /// Unplugged, the input floats: "readings are random" (ESP-IDF ADC page, v4.3.1).
    ProbeFloating "probe-floating", Probe, "the probe is unplugged and its input floats",
        0.0 in 0.0..=0.0;
    /// Unplugged, the input keeps the charge of the channel read before it: near `amount` counts
    /// (Arduino Stack Exchange 84728).
    ProbeFollowsNeighbour "probe-follows-neighbour", Probe,
        "the unplugged input follows another channel", 1_500.0 in 0.0..=65_535.0;
    /// Shorted to the supply.
    ProbeShorted "probe-shorted", Probe, "the probe cable is shorted", 0.0 in 0.0..=0.0;
    /// Shorted to ground.
    ProbeShortedLow "probe-shorted-low", Probe, "the probe cable is shorted to ground",
        0.0 in 0.0..=0.0;
    /// Stuck at one count, `amount`: a broken ground gives the same voltage in any medium
    /// (Robertson 2021, Protecting Capacitive Soil Moisture Sensors).
    ProbeFlat "probe-flat", Probe, "the probe is stuck at one count", 1_900.0 in 0.0..=65_535.0;
    /// The probe lies beside the pot (out-of-soil detection: R package myClim,
    /// `mc_prep_TMSoffsoil`).
    ProbeOut "probe-out", Probe, "the probe slips out of the soil", 0.0 in 0.0..=0.0;
    /// The probe is pushed up: `amount` is the share of the blade in air.
    ProbeHalfOut "probe-half-out", Probe, "the probe is pushed half out", 0.5 in 0.0..=1.0;
    /// A gap beside the blade: `amount` is its share in air, filled while water stands (poor
    /// installation can cost more than 10 % accuracy: METER, soil moisture sensor installation).
    ProbeAirGap "probe-air-gap", Probe, "an air gap opens along the probe", 0.15 in 0.0..=1.0;
    /// The discharge resistor is missing: a lag of `amount` seconds (two builders' write-ups of units
    /// that look alike; a sound one answers within 1 s, common practice).
    ProbeSlow "probe-slow", Probe, "the probe answers within minutes, not at once",
        300.0 in 0.0..=3_600.0;
    /// The probe sits where water comes late: a lag of `amount` minutes (Raper et al. 2015: one probe
    /// in 19 L sees little of the container).
    ProbeAnswersLate "probe-answers-late", Probe, "water reaches the probe an hour late",
        60.0 in 0.0..=1_440.0;
    /// Water creeps into the probe's edge: wetter by `amount` percent a day (abnormal after about six
    /// months, wet although bone-dry: Robertson 2021).
    ProbeCreepingWet "probe-creeping-wet", Probe, "water creeps into the probe's edge",
        0.5 in 0.0..=20.0;
    /// Temperature moves the reading by `amount` percent by volume more for each 10 °C (about 2 for
    /// several types: doi 10.1016/j.mex.2024.103100, 2025; the sign differs).
    ProbeTemperatureSwing "probe-temperature-swing", Probe, "the reading swings with temperature",
        2.0 in -20.0..=20.0;
    /// Salts make it read wetter by `amount` percent by volume (Kelleners et al. 2004).
    ProbeSalted "probe-salted", Probe, "fertiliser salts make the probe read wetter",
        5.0 in 0.0..=40.0;
    /// Another unit on the old curve, off by `amount` percent of the span, positive for drier
    /// (Schwamback et al. 2023: 63 units differ).
    ProbeSwapped "probe-swapped", Probe, "another probe is read with the old calibration",
        8.0 in -50.0..=50.0;
    /// The probe's supply is low by `amount` percent (5.8 % of reading for 4.9 % of supply
    /// were measured on one open design).
    ProbeSupplySags "probe-supply-sags", Probe, "the probe's supply sags", 5.0 in -20.0..=20.0;
    /// Disturbed by a radio or motor: `amount` counts of further noise ("bounce all over the place
    /// while the radio is active": micropython issue 7514).
    ProbeNoisy "probe-noisy", Probe, "the probe signal is disturbed", 300.0 in 0.0..=20_000.0;
    /// In one burst of five a single sample is off by `amount` counts (spike test: Dorigo et al. 2013).
    ProbeSpikes "probe-spikes", Probe, "single readings are far off", 600.0 in -20_000.0..=20_000.0;
    /// A share `amount` of all reads fails.
    ProbeOftenSilent "probe-often-silent", Probe, "most reads of the probe fail", 0.6 in 0.0..=1.0;
    /// Counts above `amount` are cut off (a converter usable to 2450 mV: ESP-IDF ADC page, v4.4).
    ConverterClips "converter-clips", Probe, "the converter cuts off its dry end",
        1_600.0 in 0.0..=65_535.0;
    /// The converter jumps by `amount` counts at each odd eighth of its range (erratum RP2040-E11,
    /// `kitanokitsune/rp2040adc_correction`).
    ConverterSteps "converter-steps", Probe, "the converter jumps at some counts",
        40.0 in 0.0..=1_000.0;
    /// The driver's correction wraps to 64400 above `amount` counts (esp-rs/esp-hal issue 1203).
    ConverterWraps "converter-wraps", Probe, "the converter's driver wraps when dry",
        1_600.0 in 0.0..=65_535.0;

    /// Reading the converter panics the driver; the chip is back after `amount` seconds (esp-rs/esp-hal
    /// issue 3061).
    ReadingResets "reading-resets", Board, "each reading restarts the chip", 60.0 in 1.0..=3_600.0;
    /// No power.
    PowerCut "power-cut", Board, "the power fails", 0.0 in 0.0..=0.0;
    /// The supply drops out for a second every `amount` minutes.
    PowerFlickers "power-flickers", Board, "the power drops out again and again",
        60.0 in 1.0..=1_440.0;
    /// Each opening pulls the supply down and resets the chip (a 12 V pump drew about 11 A at its
    /// start: Elektroda topic 4139014).
    BrownOut "brown-out", Board, "the supply dips at each opening", 0.0 in 0.0..=0.0;
    /// The chip wakes every hour and drives its pin for `amount` ms before the program runs (Stack
    /// Overflow question 77303193: about 30 ms).
    PinHighAtBoot "pin-high-at-boot", Board, "the pin is high while the chip boots",
        30.0 in 0.0..=60_000.0;
    /// The chip stops with its pins as they are, and no watchdog is fitted.
    ChipFreezes "chip-freezes", Board, "the chip freezes and no watchdog is fitted",
        0.0 in 0.0..=0.0;
    /// The chip stops with its pins as they are until the watchdog bites after `amount` seconds
    /// (Koopman 2014, Proper Watchdog Timer Use; 10 s at the most is common practice).
    WatchdogBites "watchdog-bites", Board, "the chip stops until the watchdog bites",
        8.0 in 0.1..=60.0;
    /// The main loop hangs: no steps, while the timer interrupt goes on (a display or air sensor holds
    /// the bus: Arduino forum 621054).
    LoopHangs "loop-hangs", Board, "the program hangs", 0.0 in 0.0..=0.0;
    /// Steps come `amount` seconds late.
    StepsLate "steps-late", Board, "the program runs late", 2.0 in 0.0..=3_600.0;
    /// A network call holds up each step for `amount` seconds.
    LoopBlocks "loop-blocks", Board, "the network holds up the program", 30.0 in 0.0..=3_600.0;
    /// The clock jumps once by `amount` hours.
    ClockJump "clock-jump", Board, "the clock jumps", 2.0 in -100_000.0..=100_000.0;
    /// The clock jumps back once by `amount` hours.
    ClockJumpsBack "clock-jumps-back", Board, "the clock jumps back", 2.0 in 0.0..=100_000.0;
    /// The clock that steps are given loses `amount` percent.
    ClockSlow "clock-slow", Board, "the clock runs slow", 2.0 in -50.0..=50.0;
    /// The 32-bit count of milliseconds wraps, as it does every 49.7 days (2³² ms).
    CounterWraps "counter-wraps", Board, "the millisecond counter wraps", 0.0 in 0.0..=0.0;
    /// The power fails for a minute while a record is written, and nothing of it is left.
    RecordLost "record-lost", Board, "a power cut destroys the record", 0.0 in 0.0..=0.0;
    /// Nothing can be written any more.
    StoreFails "store-fails", Board, "the record cannot be written", 0.0 in 0.0..=0.0;

    /// The valve stays open: grit under the diaphragm, a transistor failed short.
    ValveStuckOpen "valve-stuck-open", Plumbing, "the valve sticks open", 0.0 in 0.0..=0.0;
    /// The relay welds when it next closes (relay output module manual GFK-1504N, appendix B: contact
    /// life falls to 50 000 operations at 2 A).
    RelayWelds "relay-welds", Plumbing, "the relay welds at its next closing", 0.0 in 0.0..=0.0;
    /// A normally open valve was fitted: it passes when it is not driven.
    ValveNormallyOpen "valve-normally-open", Plumbing, "a normally open valve was fitted",
        0.0 in 0.0..=0.0;
    /// The valve stays closed, the pump is seized.
    ValveStuckClosed "valve-stuck-closed", Plumbing, "the valve sticks closed", 0.0 in 0.0..=0.0;
    /// The coil overheats and lets go after `amount` seconds of one opening.
    CoilOverheats "coil-overheats", Plumbing, "the coil lets go on a long opening",
        120.0 in 1.0..=3_600.0;
    /// The valve needs `amount` metres of head to open (2.04 m of water are 0.2 bar:
    /// industrialmonitordirect.com).
    ValveStarved "valve-starved", Plumbing, "the head is too low for the valve",
        2.04 in 0.0..=100.0;
    /// The valve closes `amount` seconds late (later than 30 s means stuck: a valve service case).
    ValveClosesLate "valve-closes-late", Plumbing, "the valve closes late", 30.0 in 0.0..=3_600.0;
    /// The closed valve lets through `amount` litres an hour.
    ValveWeeping "valve-weeping", Plumbing, "the closed valve weeps", 0.1 in 0.0..=100.0;
    /// The gate floats: a share `amount` of the flow passes while closed (electrace.net, transistor
    /// block).
    GateFloats "gate-floats", Plumbing, "the transistor is half on while off", 0.5 in 0.0..=1.0;
    /// The air break is gone: the tank siphons through the idle pump.
    Siphon "siphon", Plumbing, "the tank siphons", 0.0 in 0.0..=0.0;
    /// The tank is empty or the tap is shut.
    NoWater "no-water", Plumbing, "there is no water", 0.0 in 0.0..=0.0;
    /// The hose is off: everything goes to the floor.
    HoseOff "hose-off", Plumbing, "the hose comes off", 0.0 in 0.0..=0.0;
    /// The hose splits: a share `amount` of the water goes to the floor.
    HoseSplits "hose-splits", Plumbing, "the hose splits", 0.5 in 0.0..=1.0;
    /// Emitters clogged by `amount` (share of the opening; passages are 0.5–1.2 mm: Sustainability
    /// 12:1319).
    EmittersClogged "emitters-clogged", Plumbing, "the emitters clog", 0.6 in 0.0..=1.0;
    /// Emitters clog by a share `amount` a day.
    EmittersClogging "emitters-clogging", Plumbing, "the emitters clog day by day",
        0.1 in 0.0..=1.0;
    /// Emitters pop off: the line passes `amount` times as much.
    EmittersOff "emitters-off", Plumbing, "emitters pop off their line", 4.0 in 1.0..=100.0;

    /// Dry peat repels water: a share `amount` runs down the wall (Bartley et al. 2023, Hort. Science
    /// 58:79: one drying cost 21.5 vol % of uptake).
    PeatRepels "peat-repels", Place, "dry peat lets the water run past", 0.9 in 0.0..=1.0;
    /// The plants use `amount` times as much: grown, roots fill the pot.
    PlantsUseMore "plants-use-more", Place, "the plants use twice as much", 2.0 in 1.0..=10.0;
    /// The plants use only a share `amount`: cut back, or roots damaged by wet soil.
    PlantsUseLess "plants-use-less", Place, "the plants use far less", 0.3 in 0.0..=1.0;
    /// Rain of `amount` mm an hour.
    Cloudburst "cloudburst", Place, "a cloudburst fills the pot", 30.0 in 0.0..=300.0;
    /// The air is colder by `amount` K, and the soil with it: frozen soil reads dry (Mavrovic et al.
    /// 2021, HESS 25:1117).
    Frost "frost", Place, "frost comes", 30.0 in 0.0..=80.0;
    /// The link is lost.
    LinkLost "link-lost", Place, "the link is lost", 0.0 in 0.0..=0.0;
    /// The button for watering by hand sticks; each press asks for `amount` seconds.
    ButtonSticks "button-sticks", Place, "the button by hand sticks", 60.0 in 0.1..=86_400.0;
}
