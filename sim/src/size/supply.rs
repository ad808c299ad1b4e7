//! Flow, head, tank, the pots that share a valve, and the contacts that switch it.

use super::{Group, Line};
use crate::check::figures::Figures;
use crate::check::neighbours::Neighbour;
use crate::check::practice::{LEACHED, RESERVE};
use crate::check::{Severity, figure};
use crate::soil::bed::BedSpec;
use crate::soil::texture::TextureClass;

/// Share of what a supply gives that zones may draw together (common practice).
const OF_SUPPLY: f64 = 0.8;
/// Years that contacts should last (common practice).
const YEARS: f64 = 5.0;
/// Metres of water in a bar.
const METRES_A_BAR: f64 = 10.2;

const FLOW: &str = "emitter law q = k·H^x and the head at the start; what counts is the bucket: volume \
    in 60 s, three times (common practice)";
const SHARE: &str = "by emitters: the whole flow empties the tank and floods the floor, the pot's \
    flow fills the pot";
const HEAD: &str = "head = level less height of the outlets; 1 bar is 10.2 m; valves with pressure \
    aid need 2 to 10 m, direct-acting ones none: common practice";
const PUMP_HEAD: &str = "a straight line from the pump's flow without head to its head without flow; 1 bar \
    is 10.2 m";
const TANK: &str = "crop use: FAO-56 eq. 80; leaching below 15 %: UF/IFAS ENH1268; a tenth kept in \
    reserve: common practice";
const NEIGHBOUR: &str = "emitters in proportion to use: crop use by FAO-56 eq. 80; a tenth short: \
    common practice; leaching below 15 %: UF/IFAS ENH1268";
const SUPPLY: &str = "four fifths of what the supply gives: common practice";
const INFILTRATION: &str = "basic infiltration rate: half the saturated conductivity (Rawls, Brakensiek \
    & Miller 1983) of the texture class, Saxton & Rawls 2006 eq. 16; it varies a hundredfold in the \
    field";
const RELAY: &str = "50 000 operations at 2 A and 200 000 at 0.7 A, inductive, 5 to 31 V DC: life \
    table of a relay output module (GFK-1504N, appendix B); five years: common practice";

pub(super) fn lines(figures: &Figures<'_>, lines: &mut Vec<Line>) {
    flow(figures, lines);
    head(figures, lines);
    supply(figures, lines);
    tank(figures, lines);
    for pot in 1..figures.setup.pots.len() {
        neighbour(figures, pot, lines);
    }
    infiltration(figures, lines);
    relay(figures, lines);
}

fn flow(figures: &Figures<'_>, lines: &mut Vec<Line>) {
    let setup = figures.setup;
    let water = &setup.scenario.water;
    let told = Line::told(
        (Group::Supply, "flow-at-valve", "the flow of all outlets together"),
        (setup.flow_l_h, "L/h"),
        match water.measured_l_h {
            Some(measured) => format!(
                "the scenario's plumbing gives {} L/h at {} m of head; a bucket got {} L/h",
                figure(setup.flow_l_h),
                figure(figures.head_m()),
                figure(measured)
            ),
            None => format!(
                "the scenario's plumbing at {} m of head; not measured",
                figure(figures.head_m())
            ),
        },
        FLOW,
    );
    let (least, most) = figures.bucket_l_h();
    lines.push(match water.measured_l_h {
        Some(measured) => {
            told.field("water.measured_l_h", Some(measured)).at_least(least).at_most(most)
        }
        None => told,
    });
    let share = setup.scenario.probed_share();
    lines.push(Line::told(
        (Group::Supply, "flow-at-pot", "the flow at the probed pot"),
        (figures.flow_l_h(0), "L/h"),
        format!(
            "{} L/h of all outlets, {} % of their emitters",
            figure(setup.flow_l_h),
            figure(100.0 * share)
        ),
        SHARE,
    ));
}

fn head(figures: &Figures<'_>, lines: &mut Vec<Line>) {
    let water = &figures.setup.scenario.water;
    if water.is_pumped() {
        lines.push(Line::told(
            (Group::Supply, "head", "the head at the emitters"),
            (figures.head_m(), "m"),
            format!(
                "{} m without flow × (1 − {} of {} L/h) − {} m of lift",
                figure(water.pump_head_m),
                figure(figures.setup.flow_l_h),
                figure(water.pump_l_h.unwrap_or_default()),
                figure(water.lift_m)
            ),
            PUMP_HEAD,
        ));
        return;
    }
    let full_m = figures.head_m();
    let (low_m, how) = match water.tank_l {
        Some(_) => {
            let low_m = figures.low_head_m();
            let how = format!(
                "{} m as it stands; {RESERVE} × {} m {} {} m with a tenth left",
                figure(full_m),
                figure(water.tank_depth_m),
                if water.outlet_height_m < 0.0 { "+" } else { "−" },
                figure(water.outlet_height_m.abs())
            );
            (low_m, how)
        }
        None => (full_m, "the mains, as the scenario says".to_owned()),
    };
    lines.push(
        Line::told(
            (Group::Supply, "head", "the head that the valve needs"),
            (water.valve_least_head_m.min(low_m.max(0.0)), "m"),
            format!("{how} = {} m or {} bar there is", figure(low_m), figure(low_m / METRES_A_BAR)),
            HEAD,
        )
        .field("water.valve_least_head_m", Some(water.valve_least_head_m))
        .at_most(low_m),
    );
}

fn supply(figures: &Figures<'_>, lines: &mut Vec<Line>) {
    let setup = figures.setup;
    let Some(most_l_h) = setup.scenario.water.supply_l_h else { return };
    lines.push(
        Line::told(
            (Group::Supply, "of-supply", "the flow of all pots on this supply"),
            (setup.flow_l_h.min(OF_SUPPLY * most_l_h), "L/h"),
            format!(
                "{} L/h for {} pots; {OF_SUPPLY} × {} L/h may be drawn",
                figure(setup.flow_l_h),
                setup.pots.len(),
                figure(most_l_h)
            ),
            SUPPLY,
        )
        .now(setup.flow_l_h)
        .at_most(OF_SUPPLY * most_l_h),
    );
}

fn tank(figures: &Figures<'_>, lines: &mut Vec<Line>) {
    let Some(usable_l) = figures.usable_l() else { return };
    let setup = figures.setup;
    let a_day_l = figures.given_a_day_l();
    let days = figures.days_on_the_tank();
    let least_l = figures.planned_l(a_day_l * days);
    let stored_l = setup.stored.stored_l;
    lines.push(
        Line::told(
            (Group::Supply, "tank", "the water in the tank"),
            (stored_l.max((10.0 * least_l).ceil() / 10.0), "L"),
            format!(
                "{} L a day for {} × {} days / {} / {}, and what lies too low to be drawn: {} L",
                figure(a_day_l),
                match setup.pots.len() {
                    1 => "1 pot".to_owned(),
                    more => format!("{more} pots"),
                },
                figure(days),
                1.0 - LEACHED,
                1.0 - RESERVE,
                figure(least_l)
            ),
            TANK,
        )
        .field("water.tank_l", Some(stored_l))
        .at_least(least_l),
    );
    lines.push(Line::told(
        (Group::Supply, "tank-days", "the days it lasts"),
        ((1.0 - LEACHED) * (1.0 - RESERVE) * usable_l / a_day_l.max(1e-6), "days"),
        format!(
            "{} of {} L can be drawn × {} × {} / {} L a day",
            figure(usable_l),
            figure(stored_l),
            1.0 - LEACHED,
            1.0 - RESERVE,
            figure(a_day_l)
        ),
        TANK,
    ));
}

/// Water on the wetted ground of a bed against what it takes.
fn infiltration(figures: &Figures<'_>, lines: &mut Vec<Line>) {
    let Some(bed) = &figures.setup.scenario.bed else { return };
    let Some(class) = TextureClass::named(&bed.soil) else { return };
    let takes_mm_h =
        BedSpec::of_soil(&class.hydraulics(), bed.area_m2, bed.root_depth_m).infiltration_mm_h;
    let wetted_m2 = bed.area_m2 * bed.wetted_share;
    let falls_mm_h = figures.flow_l_h(0) / wetted_m2;
    lines.push(
        Line::told(
            (Group::Supply, "on-the-ground", "the water on the wetted ground"),
            (falls_mm_h.min(takes_mm_h), "mm/h"),
            format!(
                "{} L/h on {} × {} m² = {} mm/h; {} takes about {} mm/h, and the rest runs off",
                figure(figures.flow_l_h(0)),
                figure(bed.wetted_share),
                figure(bed.area_m2),
                figure(falls_mm_h),
                bed.soil,
                figure(takes_mm_h)
            ),
            INFILTRATION,
        )
        .now(falls_mm_h)
        .at_most(takes_mm_h),
    );
}

/// The emitters of a pot without a probe.
fn neighbour(figures: &Figures<'_>, pot: usize, lines: &mut Vec<Line>) {
    if figures.probe.is_none() {
        return;
    }
    let setup = figures.setup;
    let now = f64::from(setup.scenario.neighbours[pot - 1].emitters);
    let neighbour = Neighbour::of(figures, pot);
    let (probed_l, need_l, each_l) = (neighbour.probed_l, neighbour.need_l, neighbour.each_l);
    if probed_l <= 0.0 || need_l <= 0.0 {
        return;
    }
    let (least, most) = neighbour.fitting();
    // Emitters come whole: of the two numbers next to the use the one that does least harm.
    let exact = need_l / each_l;
    let harm = |emitters: f64| match neighbour.severity(emitters) {
        None => 0,
        Some(Severity::Look) => 1,
        Some(Severity::Refuted) => 2,
    };
    let nearer = |a: f64, b: f64| (exact - a).abs().total_cmp(&(exact - b).abs());
    let (below, above) = (exact.floor().max(1.0), exact.ceil().max(1.0));
    let first = harm(below).cmp(&harm(above)).then(nearer(below, above));
    let proposed = if first.is_le() { below } else { above };
    let line = Line::told(
        (Group::Supply, "neighbour-emitters", ""),
        (proposed, "emitters"),
        format!(
            "its plants take {} L a day; one of its emitters brings {} L when the probed pot gets \
             its {} L. Emitters come whole: {} to {} would fit",
            figure(need_l),
            figure(each_l),
            figure(probed_l),
            figure(least),
            figure(most)
        ),
        NEIGHBOUR,
    );
    let what = format!("the emitters at the {}", setup.pots[pot].name);
    lines.push(
        Line { what, bearable: harm(proposed) < 2, ..line }
            .field(&format!("neighbour.{}.emitters", pot - 1), Some(now))
            .at_least(least)
            .at_most(most),
    );
}

fn relay(figures: &Figures<'_>, lines: &mut Vec<Line>) {
    let (operations, load) = figures.relay();
    let starts = figures.starts_a_day();
    let years = operations / starts.max(1e-6) / 365.0;
    lines.push(
        Line::told(
            (Group::Supply, "relay-years", "the years a relay would last"),
            (years.max(YEARS), "years"),
            format!(
                "{} operations with a {load}, over {} starts a day; {YEARS} years are asked for. A \
                 transistor does not wear",
                figure(operations),
                figure(starts)
            ),
            RELAY,
        )
        .now(years)
        .at_least(YEARS),
    );
}
