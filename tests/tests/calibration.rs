//! Calibration curves against published tables and against a straight line in floating point.

use drydown::calibration::{
    Basis, Capture, CaptureError, CaptureSettings, Curve, CurveError, CurvePoint, Progress,
    TemperatureTerm,
};
use drydown::probe::Burst;
use drydown::quantity::{DeciCelsius, Moisture, RawCounts};
use proptest::prelude::*;

fn at(raw: u16, centi: u16) -> CurvePoint {
    CurvePoint { raw: RawCounts(raw), moisture: Moisture::from_centi(centi) }
}

fn read(curve: &Curve, raw: u16) -> u16 {
    curve.read(RawCounts(raw), None).centi()
}

/// The second way: a straight line in f64 between the neighbours, ends held.
fn straight(points: &[CurvePoint], raw: u16) -> f64 {
    let mut sorted = points.to_vec();
    sorted.sort_by_key(|point| point.raw);
    let (first, last) = (sorted[0], sorted[sorted.len() - 1]);
    if raw <= first.raw.0 {
        return f64::from(first.moisture.centi());
    }
    if raw >= last.raw.0 {
        return f64::from(last.moisture.centi());
    }
    let segment = sorted.windows(2).find(|pair| raw <= pair[1].raw.0).unwrap();
    let (x0, y0) = (f64::from(segment[0].raw.0), f64::from(segment[0].moisture.centi()));
    let (x1, y1) = (f64::from(segment[1].raw.0), f64::from(segment[1].moisture.centi()));
    y0 + (y1 - y0) * (f64::from(raw) - x0) / (x1 - x0)
}

/// Every one of the 65 536 counts: monotone, exact at the points, held outside, within 0.01 %.
fn exhaust(points: &[CurvePoint]) {
    let curve = Curve::new(points, Basis::Volumetric).unwrap();
    let mut before = read(&curve, 0);
    for raw in 0..=u16::MAX {
        let centi = read(&curve, raw);
        if curve.falls() {
            assert!(centi <= before, "rises at {raw}: {before} to {centi}");
        } else {
            assert!(centi >= before, "falls at {raw}: {before} to {centi}");
        }
        let away = (f64::from(centi) - straight(points, raw)).abs();
        assert!(away <= 1.0, "{away} from the line at {raw} of {points:?}");
        before = centi;
    }
    for point in points {
        assert_eq!(curve.read(point.raw, None), point.moisture);
    }
    let dry = points.iter().map(|point| point.moisture).min().unwrap();
    let wet = points.iter().map(|point| point.moisture).max().unwrap();
    let (low, high) = if curve.falls() { (wet, dry) } else { (dry, wet) };
    assert_eq!(curve.read(RawCounts(0), None), low);
    assert_eq!(curve.read(RawCounts(u16::MAX), None), high);
    assert_eq!((curve.driest().moisture, curve.wettest().moisture), (dry, wet));
}

#[test]
fn every_count_of_steep_flat_short_and_long_curves() {
    exhaust(&[at(0, 0), at(65_535, 10_000)]);
    exhaust(&[at(0, 10_000), at(65_535, 0)]);
    exhaust(&[at(30_000, 0), at(30_001, 10_000)]);
    exhaust(&[at(30_000, 10_000), at(30_001, 0)]);
    exhaust(&[at(0, 0), at(65_535, 1)]);
    exhaust(&[at(0, 0), at(1, 9_999), at(65_535, 10_000)]);
    exhaust(&[at(65_535, 10_000), at(65_534, 1), at(0, 0)]);
    exhaust(&[at(2854, 0), at(869, 10_000)]);
    exhaust(&[
        at(2700, 300),
        at(2400, 900),
        at(2200, 1500),
        at(1900, 2300),
        at(1700, 3100),
        at(1550, 4000),
        at(1450, 5000),
        at(1400, 6000),
    ]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn every_count_of_any_curve(
        raws in prop::collection::btree_set(any::<u16>(), 2..=16),
        moistures in prop::collection::btree_set(0_u16..=10_000, 16),
        falls: bool,
        listed_backwards: bool,
    ) {
        let mut moistures: Vec<u16> = moistures.into_iter().take(raws.len()).collect();
        if falls {
            moistures.reverse();
        }
        let mut points: Vec<CurvePoint> =
            raws.into_iter().zip(moistures).map(|(raw, centi)| at(raw, centi)).collect();
        if listed_backwards {
            points.reverse();
        }
        exhaust(&points);
    }

    #[test]
    fn the_inverse_comes_back(
        raws in prop::collection::btree_set(any::<u16>(), 2..=16),
        moistures in prop::collection::btree_set(0_u16..=10_000, 16),
        falls: bool,
        wanted in 0_u16..=10_000,
    ) {
        let mut moistures: Vec<u16> = moistures.into_iter().take(raws.len()).collect();
        if falls {
            moistures.reverse();
        }
        let points: Vec<CurvePoint> =
            raws.into_iter().zip(moistures).map(|(raw, centi)| at(raw, centi)).collect();
        let curve = Curve::new(&points, Basis::Volumetric).unwrap();
        let raw = curve.raw_at(Moisture::from_centi(wanted)).0;
        let kept = wanted.clamp(curve.driest().moisture.centi(), curve.wettest().moisture.centi());
        // No neighbouring count is nearer to the wanted moisture on the straight line.
        let miss = |raw: u16| (straight(&points, raw) - f64::from(kept)).abs();
        prop_assert!(miss(raw) <= miss(raw.saturating_add(1)) + 1e-6);
        prop_assert!(miss(raw) <= miss(raw.saturating_sub(1)) + 1e-6);
    }

    /// The integer term against f64, and the curve still monotone at any temperature.
    #[test]
    fn temperature_term_against_floating_point(
        sixteenths in -1_600_i16..=1_600,
        reference in -200_i16..=500,
        now in any::<i16>(),
    ) {
        let term =
            TemperatureTerm { sixteenths_per_degree: sixteenths, reference: DeciCelsius(reference) };
        let plain = Curve::new(&[at(2854, 0), at(869, 10_000)], Basis::Span).unwrap();
        let curve = plain.with_temperature(term).unwrap();
        let apart = (f64::from(now) - f64::from(reference)).clamp(-500.0, 500.0) / 10.0;
        let drift = f64::from(sixteenths) / 16.0 * apart;
        let mut before = 10_000;
        for raw in (800..2_900).step_by(7) {
            let centi = curve.read(RawCounts(raw), Some(DeciCelsius(now))).centi();
            let expected = (f64::from(read(&plain, raw)) - drift).clamp(0.0, 10_000.0);
            // To the nearest; the slope itself is short by 2^-16 at most, over 500 tenths of a degree.
            prop_assert!((f64::from(centi) - expected).abs() <= 0.51, "{centi} for {expected}");
            prop_assert!(centi <= before);
            before = centi;
        }
    }
}

/// Makers' linearisation tables of two analogue probes, V against m³/m³, as carried by the R package
/// `FDR2soilmoisture` 0.219 (Unlicense, `inst/example`). Rows at theta 0 and 0.5, and the row where a
/// straight line between those is worst; the error was computed from the whole table.
#[test]
fn a_two_point_line_is_as_wrong_as_the_published_tables_say() {
    const ROWS: [(&str, u16, u16, u16, u16, u16); 4] = [
        // name, mV at theta 0, mV at 0.50, worst row: theta in 0.01 %, its mV, error in 0.01 %
        ("impedance, mineral", 90, 1000, 3000, 720, 462),
        ("impedance, organic", 40, 920, 3500, 700, 250),
        ("profile capacitance, mineral", 257, 956, 2500, 749, 1019),
        ("profile capacitance, organic", 177, 914, 2500, 667, 824),
    ];
    for (name, dry, wet, theta, volts, error) in ROWS {
        let line = Curve::two_point(at(dry, 0), at(wet, 5000), Basis::Volumetric).unwrap();
        let away = read(&line, volts).abs_diff(theta);
        assert!(away.abs_diff(error) <= 1, "{name}: {away} instead of {error}");
    }
}

/// The same table, impedance probe in mineral soil: every second row as a point, the rows between
/// them as the check.
#[test]
fn six_points_bring_the_same_probe_within_one_percent() {
    let curve = Curve::new(
        &[at(90, 0), at(280, 1000), at(510, 2000), at(720, 3000), at(880, 4000), at(1000, 5000)],
        Basis::Volumetric,
    )
    .unwrap();
    for (millivolts, theta) in [(170, 500), (400, 1500), (620, 2500), (810, 3500), (940, 4500)] {
        assert!(read(&curve, millivolts).abs_diff(theta) <= 100, "at {millivolts} mV");
    }
}

/// Topp, Davis and Annan 1980, Water Resources Research 16:574-582, eq. 7. Counts are permittivity
/// times 1 000; eight points, all permittivities between them.
#[test]
fn a_curve_through_topps_polynomial_stays_near_it() {
    let topp = |e: f64| -5.3e-2 + 2.92e-2 * e - 5.5e-4 * e.powi(2) + 4.3e-6 * e.powi(3);
    let knots = [3.0, 6.0, 10.0, 15.0, 20.0, 26.0, 33.0, 40.0];
    let points = knots.map(|e| at((e * 1e3) as u16, (topp(e) * 1e4).round() as u16));
    let curve = Curve::new(&points, Basis::Volumetric).unwrap();
    for raw in 3_000..=40_000_u16 {
        let expected = topp(f64::from(raw) / 1e3) * 1e4;
        let away = (f64::from(read(&curve, raw)) - expected).abs();
        // The paper's own spread about the curve is 1.3 vol %.
        assert!(away < 65.0, "{away} at {raw}");
    }
    // Below the span it holds the end instead of following the polynomial under zero.
    assert!(topp(1.0) < 0.0);
    assert_eq!(read(&curve, 1_000), read(&curve, 3_000));
}

/// The example on the data page of a common capacitive probe, for a 10-bit converter: air 520, water 260, the wet section ends
/// at 350. So wet soil ends at 65 % of the span, and 80 % of the span lies inside free water.
#[test]
fn the_wet_end_of_soil_is_far_from_the_wet_end_of_the_span() {
    let span = Curve::two_point(at(520, 0), at(260, 10_000), Basis::Span).unwrap();
    assert_eq!(read(&span, 350), 6_538);
    assert_eq!(span.raw_at(Moisture::from_percent(80)), RawCounts(312));
    assert_eq!(span.basis(), Basis::Span);
}

/// Warming from 4 to 14 °C moved a reading by −0.02 m³/m³ (doi:10.1016/j.mex.2024.103100,
/// abstract).
#[test]
fn a_published_drift_is_taken_back() {
    let curve = Curve::new(&[at(2700, 500), at(1500, 4100)], Basis::Volumetric).unwrap();
    let term = TemperatureTerm { sixteenths_per_degree: -320, reference: DeciCelsius(40) };
    let curve = curve.with_temperature(term).unwrap();
    let warm = curve.raw_at(Moisture::from_centi(2_300));
    assert_eq!(curve.read(warm, None).centi(), 2_300);
    assert_eq!(curve.read(warm, Some(DeciCelsius(40))).centi(), 2_300);
    assert_eq!(curve.read(warm, Some(DeciCelsius(140))).centi(), 2_500);
    assert_eq!(curve.temperature_term(), Some(term));
}

#[test]
fn a_refused_curve_names_the_point_and_the_bound() {
    let basis = Basis::Volumetric;
    assert_eq!(Curve::new(&[], basis), Err(CurveError::PointCount { count: 0 }));
    assert_eq!(Curve::new(&[at(1, 1)], basis), Err(CurveError::PointCount { count: 1 }));
    let one_too_many: Vec<CurvePoint> = (0..17).map(|i| at(i * 10, i * 10)).collect();
    assert_eq!(Curve::new(&one_too_many, basis), Err(CurveError::PointCount { count: 17 }));
    let (raw, previous) = (RawCounts(2100), RawCounts(2000));
    let turned = Curve::new(&[at(2600, 800), at(2000, 1500), at(2100, 2200)], basis);
    assert_eq!(turned, Err(CurveError::RawOrder { index: 2, raw, previous }));
    let same = Curve::new(&[at(2600, 800), at(2600, 1500)], basis);
    let (raw, previous) = (RawCounts(2600), RawCounts(2600));
    assert_eq!(same, Err(CurveError::RawOrder { index: 1, raw, previous }));
    let (moisture, previous) = (Moisture::from_centi(1400), Moisture::from_centi(1500));
    let wrong = Curve::new(&[at(2600, 800), at(2000, 1500), at(1900, 1400)], basis);
    assert_eq!(wrong, Err(CurveError::MoistureOrder { index: 2, moisture, previous }));
    assert_eq!(
        wrong.unwrap_err().to_string(),
        "curve point 2: moisture 1400 (0.01 %) does not follow 1500; moisture must only rise or only fall"
    );
    let good = Curve::new(&[at(2600, 800), at(2000, 1500)], basis).unwrap();
    for slope in [1_601, -1_601, i16::MIN] {
        let term = TemperatureTerm { sixteenths_per_degree: slope, reference: DeciCelsius(200) };
        let refused = good.with_temperature(term);
        assert_eq!(refused, Err(CurveError::TemperatureSlope { sixteenths_per_degree: slope }));
    }
}

const SETTINGS: CaptureSettings =
    CaptureSettings { agreeing: 4, tolerance: 8, most_spread: 40, least_span: 60 };

fn feed(capture: &mut Capture, raw: u16, times: u8) -> Progress {
    for _ in 0..times {
        capture.feed(&Burst::single(RawCounts(raw)));
    }
    capture.progress()
}

#[test]
fn capture_waits_until_a_creeping_probe_has_settled() {
    let mut capture = Capture::new(SETTINGS, Basis::Volumetric);
    assert_eq!(capture.progress(), Progress::Waiting);
    assert_eq!(capture.take(Moisture::ZERO), Err(CaptureError::NotSteady(Progress::Waiting)));
    // A unit without its discharge resistor creeps: five counts a burst never stay within eight.
    for raw in (1_500..2_000).step_by(5) {
        let progress = capture.feed(&Burst::single(RawCounts(raw)));
        assert!(matches!(progress, Progress::Settling { .. }), "{progress:?} at {raw}");
        assert!(capture.take(Moisture::ZERO).is_err());
    }
    assert_eq!(feed(&mut capture, 2_400, 3), Progress::Settling { seen: 3, needed: 4 });
    let noisy = Burst::new(&[RawCounts(2_400), RawCounts(2_400), RawCounts(2_441)]).unwrap();
    assert_eq!(capture.feed(&noisy), Progress::Noisy { spread: 41, most: 40 });
    let wide = Burst::new(&[RawCounts(2_400), RawCounts(2_400), RawCounts(2_440)]).unwrap();
    assert_eq!(capture.feed(&wide), Progress::Settling { seen: 1, needed: 4 });
    assert_eq!(feed(&mut capture, 2_400, 1), Progress::Settling { seen: 2, needed: 4 });
    assert_eq!(feed(&mut capture, 2_408, 2), Progress::Steady { raw: RawCounts(2_404) });
    // A steady reading serves one point only.
    assert_eq!(capture.take(Moisture::from_centi(900)), Ok(at(2_404, 900)));
    assert_eq!(capture.progress(), Progress::Waiting);
}

#[test]
fn capture_refuses_what_would_spoil_the_curve_and_keeps_what_it_had() {
    let mut capture = Capture::new(SETTINGS, Basis::Volumetric);
    for (raw, centi) in [(2_600, 800), (1_500, 4_000), (2_000, 2_000)] {
        feed(&mut capture, raw, 4);
        capture.take(Moisture::from_centi(centi)).unwrap();
    }
    let kept = [at(1_500, 4_000), at(2_000, 2_000), at(2_600, 800)];
    assert_eq!(capture.points(), kept);

    feed(&mut capture, 2_059, 4);
    assert_eq!(
        capture.take(Moisture::from_centi(1_900)),
        Err(CaptureError::TooClose { raw: RawCounts(2_059), other: RawCounts(2_000), least: 60 })
    );
    feed(&mut capture, 2_300, 4);
    let refused = capture.take(Moisture::from_centi(2_500));
    assert!(matches!(refused, Err(CaptureError::NotMonotone { .. })), "{refused:?}");
    assert_eq!(capture.points(), kept);
    // The reading is still steady: name it rightly.
    assert_eq!(capture.take(Moisture::from_centi(1_300)), Ok(at(2_300, 1_300)));

    // Sixty counts from another are enough.
    feed(&mut capture, 2_060, 4);
    assert_eq!(capture.take(Moisture::from_centi(1_900)), Ok(at(2_060, 1_900)));
    assert!(capture.discard(Moisture::from_centi(1_900)));

    assert!(capture.discard(Moisture::from_centi(2_000)));
    assert!(!capture.discard(Moisture::from_centi(2_000)));
    let curve = capture.finish().unwrap();
    let points: Vec<CurvePoint> = curve.points().collect();
    assert_eq!(points, [at(1_500, 4_000), at(2_300, 1_300), at(2_600, 800)]);
}

#[test]
fn capture_holds_sixteen_points_and_needs_two() {
    let mut capture = Capture::new(SETTINGS, Basis::Volumetric);
    assert_eq!(capture.finish(), Err(CurveError::PointCount { count: 0 }));
    for step in 0..16 {
        feed(&mut capture, 1_000 + step * 100, 4);
        capture.take(Moisture::from_centi(500 + step * 300)).unwrap();
    }
    feed(&mut capture, 3_000, 4);
    assert_eq!(capture.take(Moisture::from_centi(9_000)), Err(CaptureError::Full));
    assert_eq!(capture.finish().unwrap().points().count(), 16);
}

/// Whichever way counts and moisture go, two points that share either are no curve.
#[test]
fn points_that_share_a_count_or_a_moisture_are_refused() {
    for (raws, levels) in [
        ([1_000, 2_000, 3_000], [1_000, 2_000, 3_000]),
        ([1_000, 2_000, 3_000], [3_000, 2_000, 1_000]),
        ([3_000, 2_000, 1_000], [1_000, 2_000, 3_000]),
        ([3_000, 2_000, 1_000], [3_000, 2_000, 1_000]),
    ] {
        let curve = |raws: [u16; 3], levels: [u16; 3]| {
            let points: Vec<_> =
                raws.into_iter().zip(levels).map(|(raw, level)| at(raw, level)).collect();
            Curve::new(&points, Basis::Volumetric)
        };
        assert!(curve(raws, levels).is_ok());
        let (raw, previous) = (RawCounts(2_000), RawCounts(2_000));
        let shared = curve([raws[0], 2_000, 2_000], levels);
        assert_eq!(shared, Err(CurveError::RawOrder { index: 2, raw, previous }));
        let (moisture, previous) = (Moisture::from_centi(2_000), Moisture::from_centi(2_000));
        let shared = curve(raws, [levels[0], 2_000, 2_000]);
        assert_eq!(shared, Err(CurveError::MoistureOrder { index: 2, moisture, previous }));
    }
}

#[test]
fn the_steepest_temperature_term_is_taken() {
    let good = Curve::new(&[at(2600, 800), at(2000, 1500)], Basis::Volumetric).unwrap();
    for slope in [TemperatureTerm::STEEPEST, -TemperatureTerm::STEEPEST] {
        let term = TemperatureTerm { sixteenths_per_degree: slope, reference: DeciCelsius(200) };
        let curve = good.with_temperature(term).expect("at the bound");
        assert_eq!(curve.temperature_term(), Some(term));
    }
}

#[test]
fn a_point_that_is_not_taken_says_why() {
    let raw = RawCounts(2_059);
    let because = CurveError::PointCount { count: 1 };
    for (error, text) in [
        (CaptureError::NotSteady(Progress::Waiting), "no reading yet"),
        (
            CaptureError::NotSteady(Progress::Noisy { spread: 61, most: 40 }),
            "noisy: one burst spreads over 61 counts; at most 40",
        ),
        (
            CaptureError::NotSteady(Progress::Settling { seen: 2, needed: 4 }),
            "still settling: 2 of 4 medians agree",
        ),
        (CaptureError::NotSteady(Progress::Steady { raw }), "steady at 2059"),
        (CaptureError::Full, "16 points already; discard one first"),
        (
            CaptureError::TooClose { raw, other: RawCounts(2_000), least: 60 },
            "raw 2059 is too close to the point at 2000; at least 60 counts apart",
        ),
    ] {
        assert_eq!(error.to_string(), text);
    }
    let turned = CaptureError::NotMonotone { point: at(2_059, 1_900), because };
    let begins = "raw 2059 as 1900 (0.01 %) contradicts the points so far: ";
    assert_eq!(turned.to_string(), format!("{begins}{because}"));
    assert!(because.to_string().contains('1'));
}

#[test]
fn points_that_are_no_curve_are_told_with_what_is_wrong() {
    let (raw, moisture) = (RawCounts(2_100), Moisture::from_centi(1_400));
    let order = CurveError::RawOrder { index: 2, raw, previous: RawCounts(2_000) };
    let wet = Moisture::from_centi(1_500);
    let levels = CurveError::MoistureOrder { index: 3, moisture, previous: wet };
    let only = "must only rise or only fall";
    for (error, told) in [
        (CurveError::PointCount { count: 17 }, "curve: 17 points; needs 2 to 16".to_owned()),
        (order, format!("curve point 2: raw 2100 does not follow 2000; raw counts {only}")),
        (
            levels,
            format!("curve point 3: moisture 1400 (0.01 %) does not follow 1500; moisture {only}"),
        ),
        (
            CurveError::MoistureRange { index: 4, moisture: Moisture::FULL },
            "curve point 4: moisture 10000 (0.01 %) is above 10000".to_owned(),
        ),
        (
            CurveError::TemperatureSlope { sixteenths_per_degree: -1_601 },
            "curve temperature term: -1601 sixteenths per degree; bound is 1600 either way"
                .to_owned(),
        ),
    ] {
        assert_eq!(error.to_string(), told);
    }
}
