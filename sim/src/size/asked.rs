//! What a sizing wants to know and the scenario does not say.

use crate::scenario::schema::{RegulatorKind, SupplyKind};
use crate::scenario::{Setup, Source};

/// One figure that is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Asked {
    /// The field in which the scenario would say it.
    pub field: &'static str,
    /// How a person gets it.
    pub how: &'static str,
    /// What is taken meanwhile.
    pub meanwhile: &'static str,
}

const fn asked(field: &'static str, how: &'static str, meanwhile: &'static str) -> Asked {
    Asked { field, how, meanwhile }
}

/// What is missing, in the order of the file.
pub(super) fn of(source: &Source, setup: &Setup) -> Vec<Asked> {
    let scenario = &setup.scenario;
    let (water, probed) = (&scenario.water, scenario.control.start_pct.is_some());
    let mut wanted = vec![];
    let mut ask = |missing: bool, item: Asked| {
        if missing {
            wanted.push(item);
        }
    };
    ask(
        scenario.container.as_ref().is_some_and(|pot| pot.substrate.is_none()),
        asked(
            "container.substrate",
            "what the substrate is for the most part: peat, black-peat, coir, bark, perlite or mix",
            "depletion alone sets the refill point",
        ),
    );
    let place =
        if scenario.bed.is_some() { "bed.place.lag_min" } else { "container.place.lag_min" };
    ask(
        probed && !source.says(place),
        asked(place, "minutes from opening to the first change of the reading", "6 min"),
    );
    ask(
        water.measured_l_h.is_none(),
        asked(
            "water.measured_l_h",
            "a bucket under all outlets: volume in 60 s, three times",
            "the emitters' law at the head",
        ),
    );
    ask(
        !water.is_pumped() && !source.says("water.valve_least_head_m"),
        asked(
            "water.valve_least_head_m",
            "the least pressure on the valve's data sheet, in metres (1 bar is 10.2 m)",
            "none: a direct-acting valve",
        ),
    );
    ask(
        setup.pots.len() > 1 && water.supply_l_h.is_none(),
        asked(
            "water.supply_l_h",
            "a bucket under tap or pump with everything open",
            "enough for all pots",
        ),
    );
    ask(
        water.rated_on_s.is_none(),
        asked(
            "water.rated_on_s",
            "the rating of coil or pump: how long it may be driven at a stretch",
            "for ever",
        ),
    );
    ask(
        probed && scenario.probe.calibration_error_pct.is_none(),
        asked(
            "probe.calibration_error_pct",
            "the ± of your calibration over the range that the plants use",
            "twice the weighing error",
        ),
    );
    let Some(power) = &scenario.power else {
        ask(
            true,
            asked(
                "power",
                "a table [power]: supply, volts, regulator, sleep_ma, awake_ma, load_a",
                "nothing is said of battery, regulator and brown-out",
            ),
        );
        return wanted;
    };
    ask(
        power.supply == SupplyKind::Battery && power.battery_mah.is_none(),
        asked("power.battery_mah", "what the battery is said to hold", "no days are told"),
    );
    ask(
        power.supply == SupplyKind::Adapter && power.supply_a.is_none(),
        asked("power.supply_a", "the current on the adapter's label", "it is not judged"),
    );
    ask(
        power.regulator == RegulatorKind::Linear && power.regulator_c_per_w.is_none(),
        asked(
            "power.regulator_c_per_w",
            "junction to air on the regulator's data sheet, °C/W",
            "its heat is told in watts only",
        ),
    );
    wanted
}
