//! The scenario that follows from the answers, and whether it may be written.

use super::answers::{Answers, Ground, Opens, ProbeEnds, WaterFrom};
use super::file;
use super::substrate::substrate_row;
use crate::check::{Finding, Severity, findings};
use crate::error::InputError;
use crate::run::{Pace, run};
use crate::scenario::schema::ProbeTable;
use crate::scenario::{Scenario, Setup, Source};
use crate::score::{Answer, Verdict};
use crate::sensor::usual_noise;
use crate::size::{Judged, Line, OVERSHOOT, afresh, size};
use crate::soil::texture::TextureClass;
use serde::Serialize;
use std::fmt::Write;

/// Counts of bone-dry soil, as a share of the span from air to water (planning span of practice).
const DRY_SHARE: f64 = 1.0 / 9.0;
/// Settings before they are sized, so that there is something to prepare: this far below the drained
/// soil, %, and so long, s.
const FIRST_STOP_PCT: f64 = 4.0;
const FIRST_START_PCT: f64 = 9.0;
/// A probe pulled out passes for soil drier than about this, %; then the first start is nearer to stop.
const FIRST_DRY_PCT: f64 = 12.0;
const FIRST_NEAR_PCT: f64 = 6.5;
const FIRST_OPENING_S: f64 = 600.0;
const FIRST_LIMIT_S: f64 = 86_400.0;

/// A scenario ready to be written, or why not.
#[derive(Clone, Debug)]
pub struct Built {
    /// The scenario.
    pub scenario: Scenario,
    /// The file, with its comments.
    pub text: String,
    /// What arithmetic refutes; the file may be written where there is nothing.
    pub refuted: Vec<Finding>,
    /// What is to be looked at.
    pub look: Vec<Finding>,
    /// Settings for which there is no room between what bounds them, each with its figures.
    pub without_room: Vec<String>,
    /// What was measured or bought and does not fit, each with its figures.
    pub unfit: Vec<String>,
    /// What a run of it showed.
    pub answer: Answer,
}

impl Built {
    /// Whether it passes `check`, `size` and `run`.
    pub fn passes(&self) -> bool {
        self.refuted.is_empty()
            && self.without_room.is_empty()
            && self.answer.verdict != Verdict::No
    }
}

/// Builds the scenario, sizes it, checks it and runs it.
///
/// # Errors
/// An answer that contradicts another one.
pub fn build(answers: &Answers) -> Result<Built, InputError> {
    let first = Source::from_text("the answers", &rough(answers, Ends::AtStop)?);
    // Where the water is too fast for the probe, a sizing that ends at stop may be no scenario at all.
    let (first, setup) = match sized(first) {
        Ok((source, setup)) if ends_at_stop(&source, &setup) => (source, setup),
        _ => sized(Source::from_text("the answers", &rough(answers, Ends::WithItsDose)?))?,
    };
    let text = file::text(answers, &setup, &size(&first, &setup))?;
    // What is written is what is judged, not what it was made from.
    let source = Source::from_text("the new scenario", &text);
    let setup = Setup::load(&source)?;
    let sizing = size(&source, &setup);
    let amiss = sizing
        .lines
        .iter()
        .filter(|line| matches!(line.judged(), Judged::Change | Judged::CannotWork));
    let (settings, bought): (Vec<&Line>, Vec<&Line>) = amiss.partition(|line| is_setting(line));
    let told = |lines: Vec<&Line>| {
        lines.iter().map(|line| format!("{}: {}", line.what, line.arithmetic)).collect()
    };
    let (without_room, unfit) = (told(settings), told(bought));
    let (refuted, look) =
        findings(&setup).into_iter().partition(|one| one.severity == Severity::Refuted);
    let result = run(&setup, Pace::Wake, None);
    let mut answer = result.answer.clone();
    if !result.rules.all_held() {
        answer.verdict = Verdict::No;
    }
    Ok(Built { scenario: setup.scenario, text, refuted, look, without_room, unfit, answer })
}

/// What ends a watering.
#[derive(Clone, Copy)]
enum Ends {
    /// The reading.
    AtStop,
    /// Its measured dose.
    WithItsDose,
}

/// Whether the reading can end a watering: not where so much is still on its way when it meets stop
/// that no level fits.
fn ends_at_stop(source: &Source, setup: &Setup) -> bool {
    size(source, setup).lines.iter().all(|line| match line.judged() {
        Judged::Told | Judged::Fits | Judged::Look => true,
        Judged::Change => line.name != OVERSHOOT,
        Judged::CannotWork => line.name != OVERSHOOT && !is_setting(line),
    })
}

/// Whether it is about a setting of the controller, and not about what was measured or bought.
fn is_setting(line: &Line) -> bool {
    line.field.as_ref().is_some_and(|field| field.starts_with("control."))
}

fn sized(source: Source) -> Result<(Source, Setup), InputError> {
    let scenario = afresh(&source, &source.parse()?)?;
    let setup = Setup::of(&source, scenario)?;
    Ok((source, setup))
}

/// Water content that the drained soil holds, %.
fn drained_pct(ground: &Ground) -> Result<f64, InputError> {
    match ground {
        Ground::Pot { volume_l, substrate, drained_l: Some(litres), .. } => {
            let percent = 100.0 * litres / volume_l;
            let most = substrate_row(*substrate).pores_pct - 1.0;
            if (5.0..=most).contains(&percent) {
                return Ok(round(percent));
            }
            let bound = format!(
                "must be from {:.2} to {:.2}: 5 to {most} % of the pot, whose pores are the rest",
                0.05 * volume_l,
                most / 100.0 * volume_l
            );
            Err(InputError::new(bound).field("--drained-l").value(litres))
        }
        Ground::Pot { substrate, .. } => Ok(substrate_row(*substrate).drained_pct),
        // What a sizing takes a bed to hold, so that it begins near stop and not below start.
        Ground::Bed { soil, root_depth_m, .. } => {
            let class = TextureClass::named(soil);
            Ok(round(100.0 * class.map_or(0.3, |class| class.hydraulics().drained(*root_depth_m))))
        }
    }
}

fn round(value: f64) -> f64 {
    (10.0 * value).round() / 10.0
}

/// Bend of the probe's curve that reads `counts` in soil of water content `theta`.
fn bend(ends: &ProbeEnds, theta: f64) -> Result<f64, InputError> {
    let Some(counts) = ends.drained else { return Ok(1.5) };
    let dry = dry_counts(ends);
    let share = (dry - counts) / (dry - ends.water);
    let refuse = |bound: String| InputError::new(bound).field("--probe-drained").value(counts);
    if !(0.0..1.0).contains(&share) {
        let bound = format!("must lie between {dry:.0}, dry, and {:.0}, in water", ends.water);
        return Err(refuse(bound));
    }
    let bend = (share - theta) / (theta * (1.0 - share));
    if (-0.2..=10.0).contains(&bend) {
        return Ok((100.0 * bend.max(0.0)).round() / 100.0);
    }
    let least = theta * (dry - ends.water);
    Err(refuse(format!(
        "must be nearer to the count in water than {:.0}, and not as near as to be water: the pot \
         holds {:.0} %",
        dry - least,
        100.0 * theta
    )))
}

fn dry_counts(ends: &ProbeEnds) -> f64 {
    (ends.air + DRY_SHARE * (ends.water - ends.air)).round()
}

/// The plumbing so that its flow is the bucket's.
fn water(answers: &Answers) -> Result<String, InputError> {
    let plumbing = &answers.plumbing;
    let mut out = String::new();
    let from_tank_m = match plumbing.source {
        WaterFrom::Tank { litres, depth_m } => {
            let _ = writeln!(out, "tank_l = {litres}\ntank_depth_m = {depth_m}");
            let _ = writeln!(out, "outlet_height_m = {}", plumbing.outlet_height_m);
            depth_m - plumbing.outlet_height_m
        }
        WaterFrom::Mains(head_m) => {
            let _ = writeln!(out, "mains_head_m = {head_m}");
            head_m
        }
    };
    let flow = plumbing.flow_l_h;
    let head_m = match plumbing.drive {
        Opens::Valve(least_m) => {
            if from_tank_m <= least_m {
                let bound = format!(
                    "must be below {from_tank_m:.2} m, the head there is: such a valve would not open"
                );
                return Err(InputError::new(bound).field("--valve-head").value(least_m));
            }
            let _ = writeln!(out, "valve_least_head_m = {least_m}");
            from_tank_m
        }
        Opens::Pump { most_m, lift_m } => {
            if lift_m >= 0.95 * most_m {
                let bound =
                    format!("must be below {:.2} m: 95 % of what the pump lifts", 0.95 * most_m);
                return Err(InputError::new(bound).field("--lift").value(lift_m));
            }
            // Working well within its line of flow and head, through whatever outlets there are.
            let free = (125.0 * flow / (1.0 - lift_m / most_m)).ceil() / 100.0;
            let _ = writeln!(out, "pump_l_h = {free}\npump_head_m = {most_m}\nlift_m = {lift_m}");
            most_m * (1.0 - flow / free) - lift_m
        }
    };
    let each = flow / f64::from(plumbing.emitters);
    // Shortest digits that read back to the same head and flow.
    let _ = writeln!(
        out,
        "emitters = {}\nemitter_l_h = {each}\nemitter_head_m = {head_m}\nmeasured_l_h = {flow}\n\
         opening_s = {}",
        plumbing.emitters, plumbing.dead_s
    );
    Ok(out)
}

/// A scenario with the answers, and settings that can be prepared but are not sized yet.
fn rough(answers: &Answers, ends: Ends) -> Result<String, InputError> {
    let place = &answers.place;
    let drained = drained_pct(&answers.ground)?;
    let mut out = format!(
        "title = {}\nabout = \"\"\ndays = {}\naway_days = {}\n\n[site]\nname = {}\nlatitude_deg = {}\n\
         longitude_deg = {}\nelevation_m = {}\nutc_offset_h = {}\n\n[weather]\nspell = \"{}\"\n\
         start = \"{}\"\nt_mean_c = {}\nt_peak_c = {}\nrain_share = {}\nevaporation_share = {}\n\n",
        quoted(&answers.title),
        place.days,
        place.days,
        quoted(&place.name),
        place.latitude_deg,
        place.longitude_deg,
        place.elevation_m,
        (place.longitude_deg / 15.0).round(),
        place.weather,
        place.start,
        place.t_c.0,
        place.t_c.1,
        place.shares.0,
        place.shares.1,
    );
    let begins = drained - FIRST_STOP_PCT;
    let lag = answers.probe.lag_min;
    let canopy = match &answers.ground {
        Ground::Pot { substrate, volume_l, height_m, saucer_l, canopy_m2, .. } => {
            let row = substrate_row(*substrate);
            let wilting = row.wilting_pct.min(round(0.5 * drained));
            let _ = writeln!(
                out,
                "[container]\nvolume_l = {volume_l}\nheight_m = {height_m}\nsaturation_pct = {}\n\
                 container_capacity_pct = {drained}\nwilting_pct = {wilting}\nsaucer_l = {saucer_l}\n\
                 begins_pct = {begins}\nsubstrate = \"{}\"\n\n[container.place]\nlag_min = {lag}\n",
                row.pores_pct, row.name
            );
            (1e4 * canopy_m2).round() / 1e4
        }
        Ground::Bed { soil, area_m2, root_depth_m, wetted_share } => {
            let _ = writeln!(
                out,
                "[bed]\nsoil = \"{soil}\"\narea_m2 = {area_m2}\nroot_depth_m = {root_depth_m}\n\
                 wetted_share = {wetted_share}\nbegins_pct = {begins}\n\n[bed.place]\nlag_min = {lag}\n"
            );
            0.0
        }
    };
    let _ = writeln!(
        out,
        "[crop]\nname = \"{}\"\nstage = \"{}\"\ncanopy_m2 = {canopy}\n\n[water]\n{}",
        answers.crop,
        answers.stage,
        water(answers)?
    );
    out += &probe(answers, drained)?;
    out += &control(answers, ends, drained);
    Ok(out)
}

/// The probe: as it was calibrated, or by its ends.
fn probe(answers: &Answers, drained: f64) -> Result<String, InputError> {
    #[derive(Serialize)]
    struct Block<'a> {
        probe: &'a ProbeTable,
    }
    if let Some(probe) = &answers.calibrated {
        return toml::to_string(&Block { probe }).map(|table| table + "\n").map_err(|cause| {
            InputError::new(format!("cannot be written: {cause}")).field("probe")
        });
    }
    let probe = &answers.probe;
    Ok(format!(
        "[probe]\nair_counts = {}\ndry_counts = {}\nwater_counts = {}\nbend = {}\nbits = {}\n\
         noise_counts = {}\nunit_spread = 0\n\n",
        probe.air,
        dry_counts(probe),
        probe.water,
        bend(probe, drained / 100.0)?,
        probe.bits,
        usual_noise(probe.bits)
    ))
}

/// Settings to begin with: they can be prepared, and a sizing replaces each of them.
fn control(answers: &Answers, ends: Ends, drained: f64) -> String {
    let pumped = matches!(answers.plumbing.drive, Opens::Pump { .. });
    // A pump disturbs the converter; where the reading ends a watering there is no choice.
    let (policy, while_open) = match ends {
        Ends::AtStop => ("policy = \"hysteresis\"".to_owned(), true),
        Ends::WithItsDose => (format!("policy = \"metered\"\ndose_s = {FIRST_OPENING_S}"), !pumped),
    };
    format!(
        "[control]\n{policy}\nstart_pct = {}\nstop_pct = {}\nsoak_min = 60\nmin_closed_s = 60\n\
         max_open_s = {FIRST_OPENING_S}\nlimit_24h_s = {FIRST_LIMIT_S}\n\
         by_hand_24h_s = {FIRST_LIMIT_S}\nsample_min = 10\nsample_while_open = {while_open}\n",
        (drained - FIRST_START_PCT).max(FIRST_DRY_PCT.min(drained - FIRST_NEAR_PCT)),
        drained - FIRST_STOP_PCT,
    )
}

/// A string as TOML writes it.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}
