//! Nothing is refuted that a run does well: a few hundred scenarios at random, in generated weather,
//! and for each that is refuted the trouble in its run.

use drydown_sim::check::{Bound, Finding, Kind, Severity, findings};
use drydown_sim::noise::uniform;
use drydown_sim::run::{Pace, run};
use drydown_sim::scenario::{Setup, Source};
use drydown_sim::score::{Ended, Findings};

const SCENARIOS: u64 = 400;

/// Draws of one scenario.
struct Draw {
    seed: u64,
    drawn: u64,
}

impl Draw {
    fn even(&mut self, least: f64, most: f64) -> f64 {
        self.drawn += 1;
        least + (most - least) * uniform(self.seed, self.drawn, 977)
    }

    /// Evenly by ratio.
    fn ratio(&mut self, least: f64, most: f64) -> f64 {
        self.even(least.ln(), most.ln()).exp()
    }

    fn whole(&mut self, least: u32, most: u32) -> u32 {
        self.even(f64::from(least), f64::from(most) + 1.0).floor() as u32
    }
}

fn scenario(seed: u64) -> String {
    let mut draw = Draw { seed, drawn: 0 };
    let days = draw.whole(7, 14);
    let volume = draw.ratio(2.0, 40.0);
    let capacity = draw.even(50.0, 65.0);
    let start = draw.even(16.0, capacity - 2.0);
    let stop = start + draw.ratio(0.5, 25.0);
    let (lag, canopy) = (draw.ratio(0.5, 100.0), volume * draw.ratio(0.004, 0.03));
    let (emitters, flow) = (draw.whole(1, 4), draw.ratio(0.5, 8.0));
    let source = if draw.whole(0, 2) == 0 {
        "mains_head_m = 10".to_owned()
    } else {
        let tank = canopy * f64::from(days) * draw.ratio(0.7, 20.0);
        let least = draw.even(0.0, 1.2);
        format!(
            "tank_l = {tank}\ntank_depth_m = 0.4\noutlet_height_m = -1\nemitter_head_m = 1\n\
             valve_least_head_m = {least}"
        )
    };
    let longest = draw.ratio(30.0, 6000.0);
    let limit = longest * draw.ratio(1.3, 8.0);
    let policy = match draw.whole(0, 3) {
        0 => format!("metered\"\ndose_s = {}", longest * draw.even(0.2, 1.0)),
        1 => format!(
            "timer\"\ndose_s = {}\nevery_h = {}",
            longest * draw.even(0.2, 1.0),
            draw.ratio(2.0, 60.0)
        ),
        _ => "hysteresis\"".to_owned(),
    };
    let twin = if draw.whole(0, 2) == 0 {
        format!(
            "[[neighbour]]\nname = \"twin\"\nvolume_l = {}\ncanopy_m2 = {}\nemitters = {}\n\
             evaporation_share = {}\n",
            volume * draw.ratio(0.5, 2.0),
            canopy * draw.ratio(0.5, 2.0),
            draw.whole(1, 4),
            draw.even(0.6, 1.4)
        )
    } else {
        String::new()
    };
    let powered = if draw.whole(0, 3) == 0 { draw.ratio(0.2, 23.0) } else { 24.0 };
    let cuts: Vec<_> = (0..days)
        .filter(|_| powered < 24.0)
        .map(|day| {
            let at = 24.0 * f64::from(day) + powered;
            format!("[[fault]]\nkind = \"power-cut\"\nat_h = {at}\nfor_h = {}\n", 24.0 - powered)
        })
        .collect();
    format!(
        "title = \"At random\"\nabout = \"Invented.\"\ndays = {days}\nseed = {seed}\n\
         [site]\nname = \"Port Averley (invented)\"\nlatitude_deg = 43.2\nlongitude_deg = 5.1\n\
         elevation_m = 18\nutc_offset_h = 0\n\
         [weather]\nspell = \"dry\"\nstart = \"2026-07-06\"\nt_mean_c = {}\nt_peak_c = 34\nrain_share = 0\n\
         [container]\nvolume_l = {volume}\nheight_m = 0.2\nsaturation_pct = 82\n\
         container_capacity_pct = {capacity}\nwilting_pct = {}\nsaucer_l = {}\nbegins_pct = {}\n\
         [container.place]\nlag_min = {lag}\nspread_h = {}\nconcentration = {}\n\
         [crop]\nname = \"mint\"\ncanopy_m2 = {canopy}\n\
         [water]\nemitters = {emitters}\nemitter_l_h = {flow}\n{source}\n\
         [probe]\nnoise_counts = {}\npct_per_kelvin = {}\n\
         [control]\npolicy = \"{policy}\nstart_pct = {start}\nstop_pct = {stop}\nsoak_min = {}\n\
         sample_min = {}\nmax_open_s = {longest}\nlimit_24h_s = {limit}\nanswer_within_min = {}\n\
         {twin}{}",
        draw.even(18.0, 27.0),
        draw.even(12.0, 28.0),
        volume * draw.ratio(0.02, 0.3),
        draw.even(start.max(20.0), capacity),
        lag / 60.0 + draw.even(0.5, 4.0),
        draw.even(0.0, 1.0),
        draw.even(0.0, 15.0),
        draw.even(-0.2, 0.2),
        draw.ratio(2.0, 400.0),
        draw.ratio(1.0, 120.0),
        draw.ratio(5.0, 300.0),
        cuts.concat()
    )
}

/// Litres that the valve cannot let out of the tank.
fn stranded_l(setup: &Setup) -> Option<f64> {
    let water = &setup.scenario.water;
    let per_m = water.tank_l? / water.tank_depth_m;
    Some(per_m * (water.outlet_height_m + water.valve_least_head_m))
}

/// Whether the source ended before the watering could.
fn ran_out(setup: &Setup, run: &Findings) -> bool {
    let stranded_l = stranded_l(setup).unwrap_or(0.0);
    run.tank.is_some_and(|(_, left_l, dry_at)| dry_at.is_some() || left_l < stranded_l + 1e-3)
}

/// Whether the run shows the trouble; `None` where no single run must.
fn shows(finding: &Finding, setup: &Setup, run: &Findings) -> Option<bool> {
    let ended = |how| run.valve.ended_by.get(&how).copied().unwrap_or(0);
    let thirsty = |pot: usize| run.plants[pot].stress_h > 0.0;
    let anyone = || (0..run.plants.len()).any(thirsty);
    Some(match finding.kind {
        // Where the tank ends in mid-watering, what is under way still arrives.
        Kind::StopUnreachable | Kind::OpeningTooShort => {
            ended(Ended::Reached) == 0 || ran_out(setup, run)
        }
        Kind::StartBelowWilting => run.valve.starts == 0 || thirsty(0),
        Kind::Overshoot => {
            ended(Ended::Reached) == 0 || run.accounts.leached_l > 0.0 || ran_out(setup, run)
        }
        Kind::DoseOverflows => {
            ended(Ended::DoseDone) == 0 || run.accounts.spilled_l > 0.0 || anyone()
        }
        Kind::PulseLostInLine => run.accounts.applied_l < 1e-6,
        Kind::HeadRunsOut => run.tank?.1 > stranded_l(setup)? - 1e-6,
        Kind::TankTooSmall | Kind::LimitBelowUse | Kind::DosesBelowUse => anyone(),
        Kind::FewPoweredHours => thirsty(0),
        Kind::NeighbourShare => {
            let at: usize = finding.field.split('.').nth(1)?.parse().ok()?;
            match finding.bound {
                Bound::AtLeast(_) => thirsty(at + 1),
                // It is given away unless somebody lacks it.
                Bound::AtMost(_) => run.accounts.spilled_l > 0.5 || anyone(),
            }
        }
        _ => return None,
    })
}

#[test]
fn what_is_refuted_goes_wrong() {
    let mut seen = std::collections::BTreeMap::<&str, u32>::new();
    let (mut prepared, mut wrong) = (0, vec![]);
    for seed in 1..=SCENARIOS {
        let text = scenario(seed);
        // Some are bad input; that is another matter.
        let Ok(setup) = Setup::load(&Source::from_text("random.toml", &text)) else { continue };
        prepared += 1;
        let refuted: Vec<_> = findings(&setup)
            .into_iter()
            .filter(|finding| finding.severity == Severity::Refuted)
            .collect();
        if refuted.is_empty() {
            continue;
        }
        let found = run(&setup, Pace::Wake, None);
        let in_l = found.accounts.applied_l + found.accounts.rain_l;
        let open_l = found.balance_error_l;
        assert!(open_l.abs() < 1e-9 * (1.0 + in_l), "{seed}: {open_l} L of {in_l} L are nowhere");
        for finding in refuted {
            if let Some(shown) = shows(&finding, &setup, &found) {
                if !shown {
                    wrong.push(format!("{seed}: {finding}: {}", finding.why));
                }
                *seen.entry(finding.kind.name()).or_default() += 1;
            }
        }
    }
    assert!(wrong.is_empty(), "{seen:?}\n{}", wrong.join("\n"));
    assert!(prepared > SCENARIOS / 2, "{prepared} of {SCENARIOS} could be prepared");
    for kind in [
        "stop-unreachable",
        "start-below-wilting",
        "opening-too-short",
        "overshoot",
        "dose-overflows",
        "head-runs-out",
        "tank-too-small",
        "limit-below-use",
        "doses-below-use",
        "few-powered-hours",
        "neighbour-share",
    ] {
        assert!(seen.contains_key(kind), "none was {kind}: {seen:?}");
    }
}
