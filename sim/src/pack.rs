//! The checked configuration of a scenario for a device: as an image, and as Rust source that does
//! not compile once it is edited into something unsafe.

use std::fmt::Write as _;

use drydown::calibration::{Basis, Curve};
use drydown::persist::configuration::{LENGTH, encode, identity};
use drydown::policy::{BuiltIn, Hysteresis, Metered, Timer};
use drydown::probe::{FrostHold, ProbeConfig, Rail};
use drydown::quantity::{Flow, Millis, Moisture, Volume};
use drydown::soil::Band;
use drydown::zone::{CheckedZone, Probes, SignalRules, Stance, ZoneConfig};

use crate::check;
use crate::error::InputError;
use crate::scenario::{Scenario, Setup, Source};
use crate::sheet::digits;

/// Where the probe's curve in a configuration comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Calibration {
    /// It reads no probe.
    NoProbe,
    /// From a bench.
    Measured,
    /// From the scenario's model of a probe, with a spread and weighing errors that were drawn.
    Modelled,
}

impl Calibration {
    fn of(scenario: &Scenario) -> Self {
        if !scenario.reads_a_probe() {
            Self::NoProbe
        } else if scenario.has_modelled_curve() {
            Self::Modelled
        } else {
            Self::Measured
        }
    }

    /// Whether the curve was measured; nothing where there is no probe.
    pub const fn is_measured(self) -> Option<bool> {
        match self {
            Self::NoProbe => None,
            Self::Measured => Some(true),
            Self::Modelled => Some(false),
        }
    }

    /// What must be said to whoever loads it, line by line.
    pub const fn caution(self) -> &'static [&'static str] {
        match self {
            Self::NoProbe | Self::Measured => &[],
            Self::Modelled => &[
                "NOT CALIBRATED: the probe's curve in it is modelled, not measured. No real",
                "probe reads by it. Do not let it water plants: calibrate your probe in your",
                "substrate (`drydown calibrate`), put the curve into the scenario as",
                "probe.measured_curve, and pack again.",
            ],
        }
    }
}

/// A configuration, packed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Packed {
    /// What the device reports when it runs it.
    pub identity: u32,
    /// As [`configuration::decode`](drydown::persist::configuration::decode) reads it.
    pub image: [u8; LENGTH],
    /// As source: a constant `ZONE`.
    pub source: String,
    /// Where its curve comes from.
    pub calibration: Calibration,
}

/// Packs the configuration of a scenario that arithmetic does not refute.
///
/// # Errors
/// What is refuted, and a copy without a calibration and flow test of its own, with file, line, field
/// and what to do.
pub fn pack(source: &Source, setup: &Setup) -> Result<Packed, InputError> {
    check::refuse(source, setup, &[])?;
    let image = encode(&setup.zone).ok_or_else(|| {
        source.error("control.limit_24h_s", "is kept over another span than a day")
    })?;
    let identity = identity(&setup.zone);
    let calibration = Calibration::of(&setup.scenario);
    let source = rust(&setup.zone, &setup.scenario.title, calibration);
    Ok(Packed { identity, image, source, calibration })
}

/// A configuration as Rust source: a constant `ZONE` that is checked when it is compiled. The title
/// stands in its first line, and below it that it is not calibrated, where it is not.
pub fn rust(zone: &CheckedZone, title: &str, calibration: Calibration) -> String {
    let config = zone.config();
    let mut out = String::new();
    let title = title.split_whitespace().collect::<Vec<_>>().join(" ");
    let _ = write!(out, "// Written by `drydown pack` from: {title}\n//\n");
    for line in calibration.caution() {
        let _ = writeln!(out, "// {line}");
    }
    if !calibration.caution().is_empty() {
        out.push_str("//\n");
    }
    let _ = write!(
        out,
        "// As it stands, the device that runs it reports the configuration {}. It can be edited;\n\
         // what the check of a configuration refuses ends the build, and its message names the field.\n\
         \n\
         /// The zone's configuration.\n\
         pub const ZONE: drydown::zone::CheckedZone = {{\n",
        digits(identity(zone))
    );
    used(&mut out, config);
    probes(&mut out, &config.probes);
    policy(&mut out, &config.policy);
    whole(&mut out, config);
    out += "};\n";
    out
}

/// What the source calls by name.
fn used(out: &mut String, config: &ZoneConfig) {
    let has_probe = !matches!(config.probes, Probes::None);
    let probes: Vec<&ProbeConfig> = match &config.probes {
        Probes::None => vec![],
        Probes::One(probe) => vec![probe.config()],
        Probes::Two { first, second, .. } => vec![first.config(), second.config()],
    };
    let (policy, has_band) = match &config.policy {
        BuiltIn::Hysteresis(_) => ("Hysteresis", true),
        BuiltIn::Metered(_) => ("Metered", true),
        BuiltIn::Timer(_) => ("Timer", false),
    };
    let mut calibration = vec![];
    if has_probe || has_band {
        calibration.push("Basis");
    }
    if has_probe {
        calibration.extend(["Curve", "CurvePoint"]);
    }
    let has_term = probes.iter().any(|probe| probe.curve.temperature_term().is_some());
    if has_term {
        calibration.push("TemperatureTerm");
    }
    let mut quantity = vec!["Millis", "Moisture", "Volume"];
    if config.signals.flow.is_some() {
        quantity.insert(0, "Flow");
    }
    if has_probe {
        quantity.insert(quantity.len() - 1, "RawCounts");
    }
    let has_frost =
        config.signals.frost.is_some() || probes.iter().any(|probe| probe.frost.is_some());
    if has_term || has_frost {
        quantity.insert(0, "DeciCelsius");
    }
    let mut probe = vec![];
    if has_probe {
        probe.push("Drainage");
        if probes.iter().any(|probe| probe.flat.is_some()) {
            probe.push("FlatLimit");
        }
    }
    if has_frost {
        probe.push("FrostHold");
    }
    if has_probe {
        probe.extend(["OutOfSoil", "ProbeConfig", "Rail"]);
    }
    let mut zone = vec!["ByHand"];
    if config.signals.flow.is_some() {
        zone.push("FlowRule");
    }
    if config.signals.load.is_some() {
        zone.push("LoadRule");
    }
    zone.extend(["Probes", "Sampling", "SignalRules", "Stance", "ZoneConfig"]);
    let lines = [
        ("calibration", calibration),
        ("checked", vec![]),
        ("guard", vec!["Limits", "ResponseConfig", "Timing", "Window"]),
        ("policy", vec!["BuiltIn", policy]),
        ("probe", probe),
        ("quantity", quantity),
        ("soil", if has_band { vec!["Band"] } else { vec![] }),
        ("watch", vec!["WatchConfig"]),
        ("zone", zone),
    ];
    for (module, names) in lines {
        match names.as_slice() {
            [] if module == "checked" => out.push_str("    use drydown::checked;\n"),
            [] => {}
            [name] => {
                let _ = writeln!(out, "    use drydown::{module}::{name};");
            }
            names => {
                let _ = writeln!(out, "    use drydown::{module}::{{{}}};", names.join(", "));
            }
        }
    }
}

/// A length of time by the largest unit in which it is whole.
fn time(Millis(ms): Millis) -> String {
    match ms {
        0 => "Millis::ZERO".to_owned(),
        ms if ms.is_multiple_of(3_600_000) => format!("Millis::from_hours({})", ms / 3_600_000),
        ms if ms.is_multiple_of(60_000) => format!("Millis::from_mins({})", ms / 60_000),
        ms if ms.is_multiple_of(1_000) => format!("Millis::from_secs({})", grouped(ms / 1_000)),
        ms => format!("Millis({})", grouped(ms)),
    }
}

fn level(moisture: Moisture) -> String {
    format!("Moisture::from_centi({})", grouped(u32::from(moisture.centi())))
}

fn flow(Flow(ml_h): Flow) -> String {
    format!("Flow({})", grouped(ml_h))
}

/// Digits in groups of three, as source is read.
fn grouped(number: u32) -> String {
    let digits = number.to_string();
    let mut out = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            out.push('_');
        }
        out.push(digit);
    }
    out
}

fn basis(basis: Basis) -> &'static str {
    match basis {
        Basis::Volumetric => "Basis::Volumetric",
        Basis::Span => "Basis::Span",
    }
}

fn probes(out: &mut String, probes: &Probes) {
    match probes {
        Probes::None => out.push_str("    let probes = Probes::None;\n"),
        Probes::One(one) => {
            probe(out, "probe", one.config());
            out.push_str("    let probes = Probes::One(probe);\n");
        }
        Probes::Two { first, second, most_apart, small_dose } => {
            probe(out, "first", first.config());
            probe(out, "second", second.config());
            let _ = writeln!(
                out,
                "    let (most_apart, small_dose) = ({}, {}); // apart in 0.01 %",
                grouped(u32::from(*most_apart)),
                time(*small_dose)
            );
            out.push_str(
                "    let probes = Probes::Two { first, second, most_apart, small_dose };\n",
            );
        }
    }
}

fn probe(out: &mut String, name: &str, probe: &ProbeConfig) {
    curve(out, &probe.curve);
    let counts = |counts: u16| format!("RawCounts({})", grouped(u32::from(counts)));
    let rail = match probe.open_reads {
        Rail::Low => "Rail::Low",
        Rail::High => "Rail::High",
    };
    let flat = probe.flat.map_or("None".to_owned(), |flat| {
        let within = time(flat.within);
        format!("Some(FlatLimit {{ least: {}, within: {within} }})", flat.least)
    });
    let frost = frost(probe.frost, "        ");
    let (drainage, out_of_soil) = (probe.drainage, probe.out_of_soil);
    let centi = |centi: u16| grouped(u32::from(centi));
    let _ = write!(
        out,
        "    // Falls, rises and steps in hundredths of a percent.\n    let {name} = ProbeConfig {{\n\
         \x20       curve,\n        lowest: {},\n        highest: {},\n        open_reads: {rail},\n\
         \x20       usable_low: {},\n        usable_high: {},\n        most_spread: {},\n\
         \x20       flat: {flat},\n        most_fall_per_hour: {},\n        detection: {},\n\
         \x20       drainage: Drainage {{ rise: {}, length: {} }},\n\
         \x20       out_of_soil: OutOfSoil {{ step: {}, rate: {}, air_edge: {} }},\n\
         \x20       smoothing: {},\n        frost: {frost},\n    }};\n    let {name} = \
         checked!({name}.check());\n",
        counts(probe.lowest.0),
        counts(probe.highest.0),
        counts(probe.usable_low.0),
        counts(probe.usable_high.0),
        centi(probe.most_spread),
        centi(probe.most_fall_per_hour),
        centi(probe.detection),
        centi(drainage.rise),
        time(drainage.length),
        centi(out_of_soil.step),
        centi(out_of_soil.rate),
        counts(out_of_soil.air_edge.0),
        probe.smoothing,
    );
}

fn curve(out: &mut String, curve: &Curve) {
    out.push_str("    let points = [\n");
    for point in curve.points() {
        let (raw, moisture) = (grouped(u32::from(point.raw.0)), level(point.moisture));
        let _ =
            writeln!(out, "        CurvePoint {{ raw: RawCounts({raw}), moisture: {moisture} }},");
    }
    let basis = basis(curve.basis());
    let _ = writeln!(out, "    ];\n    let curve = checked!(Curve::new(&points, {basis}));");
    if let Some(term) = curve.temperature_term() {
        let _ = writeln!(
            out,
            "    let term = TemperatureTerm {{\n        sixteenths_per_degree: {},\n        reference: \
             DeciCelsius({}),\n    }};\n    let curve = checked!(curve.with_temperature(term));",
            term.sixteenths_per_degree, term.reference.0
        );
    }
}

fn band(out: &mut String, band: Band) {
    let (start, stop) = (level(band.start()), level(band.stop()));
    let _ = writeln!(out, "    let band = checked!(Band::new({start}, {stop}, 1));");
}

fn policy(out: &mut String, policy: &BuiltIn) {
    let told = match *policy {
        BuiltIn::Hysteresis(Hysteresis { band: levels, basis: of, agree, soak }) => {
            band(out, levels);
            format!(
                "BuiltIn::Hysteresis(Hysteresis {{\n        band,\n        basis: {},\n        \
                 agree: {agree},\n        soak: {},\n    }})",
                basis(of),
                time(soak)
            )
        }
        BuiltIn::Metered(Metered { band: levels, basis: of, agree, dose, soak }) => {
            band(out, levels);
            format!(
                "BuiltIn::Metered(Metered {{\n        band,\n        basis: {},\n        agree: \
                 {agree},\n        dose: {},\n        soak: {},\n    }})",
                basis(of),
                time(dose),
                time(soak)
            )
        }
        BuiltIn::Timer(Timer { dose, every }) => {
            format!("BuiltIn::Timer(Timer {{ dose: {}, every: {} }})", time(dose), time(every))
        }
    };
    let _ = writeln!(out, "    let policy = {told};");
}

/// A frost hold, in a line that is so far indented.
fn frost(frost: Option<FrostHold>, by: &str) -> String {
    frost.map_or("None".to_owned(), |frost| {
        format!(
            "Some(FrostHold {{\n{by}    below: DeciCelsius({}),\n{by}    release: \
             DeciCelsius({}),\n{by}    release_after: {},\n{by}}})",
            frost.below.0,
            frost.release.0,
            time(frost.release_after)
        )
    })
}

fn signals(signals: &SignalRules) -> String {
    let flow = signals.flow.map_or("None".to_owned(), |rule| {
        format!(
            "Some(FlowRule {{\n                least: {},\n                most: {},\n                \
             grace: {},\n                most_closed: {},\n                closed_after: {},\n            }})",
            flow(rule.least),
            flow(rule.most),
            time(rule.grace),
            flow(rule.most_closed),
            time(rule.closed_after)
        )
    });
    let load = signals.load.map_or("None".to_owned(), |rule| {
        format!(
            "Some(LoadRule {{ least_ma: {}, most_ma: {}, grace: {} }})",
            rule.least_ma,
            rule.most_ma,
            time(rule.grace)
        )
    });
    let (supply, frost) = (signals.lowest_supply_mv, frost(signals.frost, "            "));
    format!(
        "SignalRules {{\n            flow: {flow},\n            load: {load},\n            \
         lowest_supply_mv: {supply},\n            frost: {frost},\n        }}"
    )
}

fn whole(out: &mut String, config: &ZoneConfig) {
    let ZoneConfig { sampling, limits, timing, response, by_hand, watch, .. } = *config;
    let stance = match config.stance {
        Stance::StayShut => "Stance::StayShut".to_owned(),
        Stance::TestDose { dose } => format!("Stance::TestDose {{ dose: {} }}", time(dose)),
        Stance::Ration { dose, every } => {
            format!("Stance::Ration {{ dose: {}, every: {} }}", time(dose), time(every))
        }
    };
    let Volume(demand) = watch.overdue_demand;
    out.push_str("    let zone = ZoneConfig {\n        probes,\n        policy,\n");
    let mut table = |name: &str, kind: &str, rows: &[(&str, String)]| {
        let _ = writeln!(out, "        {name}: {kind} {{");
        for (field, value) in rows {
            let _ = writeln!(out, "            {field}: {value},");
        }
        out.push_str("        },\n");
    };
    table(
        "sampling",
        "Sampling",
        &[
            ("period", time(sampling.period)),
            ("open_period", time(sampling.open_period)),
            ("while_open", sampling.while_open.to_string()),
            ("warm_up", time(sampling.warm_up)),
        ],
    );
    table(
        "limits",
        "Limits",
        &[
            ("max_open", time(limits.max_open)),
            ("min_open", time(limits.min_open)),
            ("min_closed", time(limits.min_closed)),
            ("per_day", time(limits.per_day)),
            ("fallback_per_day", time(limits.fallback_per_day)),
            ("local_per_day", time(limits.local_per_day)),
            ("remote_per_day", time(limits.remote_per_day)),
            ("bench_per_day", time(limits.bench_per_day)),
        ],
    );
    table(
        "timing",
        "Timing",
        &[
            ("open_step", time(timing.open_step)),
            ("slack", time(timing.slack)),
            ("hold_off", time(timing.hold_off)),
            ("tick", time(timing.tick)),
            ("watchdog", time(timing.watchdog)),
            ("run_down", time(timing.run_down)),
            ("commit_wait", time(timing.commit_wait)),
            ("jumps_per_day", timing.jumps_per_day.to_string()),
            ("resets_while_open", timing.resets_while_open.to_string()),
        ],
    );
    table(
        "response",
        "ResponseConfig",
        &[
            ("detection", grouped(u32::from(response.detection))),
            ("judged_after", time(response.judged_after)),
            ("window", time(response.window)),
            ("tries", response.tries.to_string()),
        ],
    );
    table(
        "by_hand",
        "ByHand",
        &[
            ("remote_longest", time(by_hand.remote_longest)),
            ("remote_acknowledge", by_hand.remote_acknowledge.to_string()),
            ("bench_lasts", time(by_hand.bench_lasts)),
        ],
    );
    table(
        "watch",
        "WatchConfig",
        &[
            ("overdue_demand", format!("Volume({})", grouped(demand))),
            ("overdue_after", time(watch.overdue_after)),
            ("too_wet", level(watch.too_wet)),
            ("too_wet_after", time(watch.too_wet_after)),
            ("short_interval", time(watch.short_interval)),
            ("short_cycles", watch.short_cycles.to_string()),
            ("rise", grouped(u32::from(watch.rise))),
            ("commissioned_rise", grouped(u32::from(watch.commissioned_rise))),
        ],
    );
    let signals = signals(&config.signals);
    let _ = write!(
        out,
        "        stance: {stance},\n        signals: {signals},\n        window: Window::DAY,\n    }};\n    \
         checked!(zone.check())\n"
    );
}
