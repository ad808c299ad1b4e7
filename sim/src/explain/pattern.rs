//! The patterns that a log can show: what each means and what to do about it.

use serde::Serialize;

macro_rules! patterns {
    ($($(#[$doc:meta])* $name:ident $id:literal $head:literal $kind:ident, $means:literal, $todo:literal;)+) => {
        /// A pattern in a log, in the order in which several are told.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
        #[serde(rename_all = "kebab-case")]
        pub enum Pattern { $($(#[$doc])* $name,)+ }

        impl Pattern {
            /// All of them.
            pub const ALL: &'static [Self] = &[$(Self::$name,)+];

            /// Its name for programs.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$name => $id,)+ }
            }

            /// As a heading, at most 18 characters.
            pub const fn heading(self) -> &'static str {
                match self { $(Self::$name => $head,)+ }
            }

            /// What it means, a sentence without its full stop.
            pub const fn means(self) -> &'static str {
                match self { $(Self::$name => $means,)+ }
            }

            /// What to do, a sentence without its full stop.
            pub const fn todo(self) -> &'static str {
                match self { $(Self::$name => $todo,)+ }
            }

            /// Whether somebody has to do something.
            pub const fn is_trouble(self) -> bool {
                match self { $(Self::$name => Kind::$kind.is_trouble(),)+ }
            }
        }
    };
}

#[derive(Clone, Copy)]
enum Kind {
    Trouble,
    Passing,
}

impl Kind {
    const fn is_trouble(self) -> bool {
        matches!(self, Self::Trouble)
    }
}

patterns! {
    /// Rises that no dose explains, steady and without end.
    WaterWhileClosed "water-while-closed" "Water while closed" Trouble,
        "Water comes while the valve is closed: stuck open, weeping, a welded relay, or a siphon",
        "Shut the supply by hand now. Clean the valve's seat and the strainer; if it still passes, \
         replace valve or relay. Nothing the device decides can close it";
    /// A dose is followed by nothing.
    NoWater "no-water" "No water arrives" Trouble,
        "Water was given and none reached the probe: tank empty or tap shut, hose off, or the valve or \
         pump does not move. The log alone cannot tell which",
        "Look in this order: water in the tank, tap open, hose on and in the pot, valve clicks or pump \
         hums, filter free. Water by hand, then acknowledge at the device";
    /// The device's own level sensor says so.
    TankEmpty "tank-empty" "Tank empty" Trouble, "The tank is empty", "Fill the tank";
    /// The device's own sensor on the floor says so.
    Leak "leak" "Water on the floor" Trouble,
        "There is water on the floor: the hose is off or split, or the saucer ran over",
        "Dry the sensor, find the leak, then acknowledge at the device";
    /// A dose is followed by a small part of what it was.
    RunsPast "runs-past" "Water runs past" Trouble,
        "Next to nothing of the water reaches the probe: it runs past the roots, repelled by dry substrate or \
         through a channel; or an emitter is nearly blocked, or most is lost through a split hose",
        "Stand the pot in water for half an hour to wet it from below, firm the soil, and give small doses \
         with rests between. Before that hold a cup under the emitter for a minute, and walk along the hose";
    /// A dose moves the soil less than it did.
    LessArrives "less-arrives" "Less water arrives" Trouble,
        "Less water arrives for each minute than before: a clogging emitter or filter, or a split hose",
        "Hold a cup under the emitter for a minute and compare with what it was. Clean emitter and \
         filter, and walk along the hose";
    /// A dose moves the soil more than it did.
    MoreArrives "more-arrives" "More water arrives" Trouble,
        "More water arrives for each minute than before: emitters off their line, or a higher pressure",
        "Look whether every emitter is on, measure the flow with a bucket, and enter it anew";
    /// The plant takes more, day by day.
    DrinksMore "drinks-more" "Drinks more" Trouble,
        "The plant uses more than before in the same warmth: it has grown, or stands in more sun and \
         wind",
        "Compare tank and 24 h limit with what it uses now; run drydown size again with the bigger \
         plant";
    /// The plant takes less, day by day.
    DrinksLess "drinks-less" "Drinks less" Trouble,
        "The soil dries far more slowly than before in the same warmth: the plant was cut back, or its \
         roots or leaves are ill; or the probe has begun to read wet",
        "Feel the soil at the probe. Where it is dry the probe is at fault; where it is wet look at \
         the roots and let it dry";
    /// Reads wetter day by day although no water comes.
    WetDrift "wet-drift" "Probe drifts wet" Trouble,
        "The probe drifts wet: the reading climbs or stands although no water was given and the plant \
         goes on",
        "Feel the soil and water by hand if it is dry. Take the probe out, dry it, check it in two \
         cups; seal its edge or replace it, then calibrate again";
    /// Reads like air.
    ProbeOut "probe-out" "Probe out" Trouble,
        "The probe is out of the soil",
        "Put the probe back firmly where it was, then acknowledge at the device";
    /// Drier at once than soil can be, and not as dry as air.
    ProbeFell "probe-fell" "Reading fell" Trouble,
        "The reading fell faster than soil can dry: the probe is partly out or a gap has opened beside \
         it, its supply has fallen, or another probe is read with the old calibration",
        "Push the probe in to its mark and firm the soil around it; if it sits well, measure its supply. \
         After a swap calibrate again";
    /// Scatter.
    ProbeNoisy "probe-noisy" "Probe disturbed" Trouble,
        "The probe's signal is disturbed: radio, motor or supply, or an input that floats",
        "Check the plug first. Then move the cable away from pump and radio, read while the radio \
         rests, and look at the probe's supply";
    /// No signal of a probe.
    ProbeWiring "probe-wiring" "Probe wiring" Trouble,
        "The probe gives no sound signal: unplugged, shorted, not read, or beyond the converter's range",
        "Check plug, cable and probe; where they are sound, check how the converter is read";
    /// Does not move.
    ProbeStuck "probe-stuck" "Probe stuck" Trouble,
        "The probe stands still at one count whatever the soil does",
        "Check ground wire and plug, dip the probe into water, replace it if it does not move";
    /// The end points are swapped.
    EndsSwapped "ends-swapped" "Ends swapped" Trouble,
        "The probe reads drier after water: the ends of the calibration may be swapped",
        "Calibrate again and look which end is wet";
    /// Openings end in resets.
    BrownOut "brown-out" "Brown-out" Trouble,
        "The supply breaks down when the valve or pump starts, and the chip restarts",
        "Measure the supply while it opens. Give pump or valve its own supply, thicker wires, a \
         flyback diode or snubber; then acknowledge at the device";
    /// Restarts that have nothing to do with openings.
    PowerUnsteady "power-unsteady" "Power unsteady" Trouble,
        "The device lost its power or restarted, again and again",
        "Check plug, supply, battery and the log of what it did just before";
    /// Nothing can be written.
    RecordFails "record-fails" "Record fails" Trouble,
        "The device cannot keep its record, so it does not water",
        "Replace the memory or the board, then acknowledge at the device";
    /// Watered by hand without end.
    ByHandOn "by-hand-on" "By hand, always" Trouble,
        "Watering by hand was asked for again and again: a button that sticks, or manual left on",
        "Look at the button and who presses it from afar; the device kept its 24 h limit";
    /// The main loop is late.
    RunsLate "runs-late" "Program late" Trouble,
        "The program runs late: something holds it up, and the cut-off had to end a watering",
        "Look what holds it up: display, network, a slow sensor";
    /// Clock.
    ClockWrong "clock-wrong" "Clock wrong" Trouble,
        "The device's clock jumps or runs wrong",
        "Check how the clock is set and read; the limits were kept by elapsed time";
    /// An alarm that nothing above explains.
    Told "told" "Alarm" Trouble,
        "The device raised an alarm that the rest of the log does not explain",
        "Do what the alarm asks for";
    /// Rises that no dose explains, and that pass.
    Rain "rain" "Rain or a can" Passing,
        "Water came that the device did not give: rain, or somebody's can",
        "Nothing";
    /// A person watered.
    ByHand "by-hand" "By hand" Passing, "Somebody watered by hand", "Nothing";
    /// Frozen soil.
    Frost "frost" "Frost" Passing,
        "Frost: frozen soil reads dry, and the device waits for the thaw",
        "Nothing, unless the plant should not freeze";
}

impl Pattern {
    /// What it meant where the log shows that it is over, a sentence without its full stop; nothing
    /// where the sentence tells what happened, or no log shows its end.
    pub const fn meant(self) -> Option<&'static str> {
        Some(match self {
            Self::ProbeOut => "The probe was out of the soil",
            Self::ProbeNoisy => {
                "The probe's signal was disturbed: radio, motor or supply, or an input that floated"
            }
            Self::ProbeWiring => {
                "The probe gave no sound signal: unplugged, shorted, not read, or beyond the \
                 converter's range"
            }
            Self::ProbeStuck => "The probe stood still at one count whatever the soil did",
            _ => return None,
        })
    }

    /// What it means where it happened a single time, a sentence without its full stop.
    pub const fn means_once(self) -> Option<&'static str> {
        match self {
            Self::PowerUnsteady => Some("The device lost its power or restarted, once"),
            _ => None,
        }
    }
}
