//! The bed model against a dry-down that was really recorded: Schwingbach, Hesse, 2015-06-28 to
//! 07-04, no rain, 10 cm depth (source and licence in the data file's header).
#![cfg(feature = "simulator")]
#![allow(missing_docs)]
use drydown_sim::soil::bed::{Bed, BedSpec};
use drydown_sim::soil::texture::TextureClass;
use drydown_sim::soil::{CropDemand, Forcing, Medium};

/// Daily reference evapotranspiration of the recorded week, mm: refet 0.5.0 (ASCE-EWRI 2005, short)
/// on the station's own records, 2015-06-28 to 07-04.
const WEEK_ETO_MM: [f64; 7] = [3.2075, 3.3840, 3.8694, 4.1801, 4.5493, 4.2028, 4.4008];

/// Hourly water content at 10 cm, 2015-06-28T00:00 to 07-04T23:00 (source in the file's header).
fn recorded_week() -> Vec<f64> {
    include_str!("../data/schwingbach-drydowns.csv")
        .lines()
        .skip_while(|line| !line.starts_with("2015-06-28T00:00"))
        .take(24 * 7)
        .map(|line| {
            let mut cells = line.split(',');
            assert_eq!(cells.nth(1), Some("0.0"), "it rained: {line}");
            cells.next().unwrap().parse().unwrap()
        })
        .collect()
}

/// The bed's hourly mean water content over the recorded week, for a root zone `depth_m` deep with
/// wilting point `wilting`. A closed turf (Kcb 0.90, p 0.40: FAO-56 Tables 17 and 22) on loam, no
/// bare surface; field capacity 0.29, within FAO-56 Table 19's range for loam; each day's demand
/// is a half sine from 06:00 to 19:00, the hours for which refet gives a positive value.
fn modelled_week(depth_m: f64, wilting: f64, start: f64) -> Vec<f64> {
    let soil = TextureClass::named("loam").unwrap().hydraulics();
    let spec = BedSpec { field_capacity: 0.29, wilting, ..BedSpec::of_soil(&soil, 1.0, depth_m) };
    let bed = Medium::Bed(Bed::new(&spec).unwrap());
    let crop = CropDemand {
        kcb: 0.90,
        kc_max: 1.0,
        exposed_wetted: 0.0,
        depletion_fraction: 0.40,
        canopy_m2: 0.0,
    };
    let mut state = bed.at_rest(start);
    let mut thetas = Vec::new();
    for hour in 0..24 * 7 {
        thetas.push(bed.theta_mean(&state));
        let angle = |h: f64| ((h - 6.0) / 13.0).clamp(0.0, 1.0) * std::f64::consts::PI;
        let clock = f64::from(hour % 24);
        let share = 0.5 * (angle(clock).cos() - angle(clock + 1.0).cos());
        let eto_mm_h = WEEK_ETO_MM[hour as usize / 24] * share;
        bed.advance(
            &mut state,
            3600.0,
            &Forcing { rain_mm_h: 0.0, applied_l_h: 0.0, eto_mm_h, crop },
        );
    }
    thetas
}

#[test]
fn a_recorded_dry_down_is_reproduced_with_two_fitted_figures() {
    let recorded = recorded_week();
    assert_eq!(recorded.len(), 168);
    let misses = |[depth, wilting]: [f64; 2]| -> Vec<f64> {
        let modelled = modelled_week(depth, wilting, recorded[0]);
        modelled.iter().zip(&recorded).map(|(m, r)| m - r).collect()
    };
    let rms = |e: &[f64]| (e.iter().map(|v| v * v).sum::<f64>() / e.len() as f64).sqrt();
    // Gauss–Newton on root depth and wilting point with one-sided differences.
    let mut x = [0.30, 0.15];
    let unfitted = rms(&misses(x));
    for _ in 0..12 {
        let e = misses(x);
        let step = [1e-4, 1e-5];
        let slope = |i: usize| -> Vec<f64> {
            let mut moved = x;
            moved[i] += step[i];
            misses(moved).iter().zip(&e).map(|(m, e)| (m - e) / step[i]).collect()
        };
        let (u, v) = (slope(0), slope(1));
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let (uu, uv, vv, ue, ve) =
            (dot(&u, &u), dot(&u, &v), dot(&v, &v), dot(&u, &e), dot(&v, &e));
        let determinant = uu * vv - uv * uv;
        x[0] = (x[0] - (vv * ue - uv * ve) / determinant).clamp(0.10, 1.0);
        x[1] = (x[1] - (uu * ve - uv * ue) / determinant).clamp(0.05, 0.23);
    }
    let [depth, wilting] = x;
    let fitted = rms(&misses(x));
    println!("root depth {depth:.4} m, wilting point {wilting:.4}, rms {fitted:.5} m³/m³");
    assert!(fitted <= 0.003, "rms {fitted} with {x:?}");
    assert!(unfitted > 0.003, "the start already fits: the test shows nothing");
    // An exponential through the same record (scipy curve_fit) tends to 0.1847 with rms 0.00123:
    // the wilting point is where the bed's own exponential tends.
    assert!((wilting - 0.1847).abs() <= 0.015, "the dry-down tends to {wilting}");
    assert!((0.15..0.45).contains(&depth), "a turf does not root to {depth} m");
}
