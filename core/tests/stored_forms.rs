//! What can be read from files is checked on the way in: no file makes a value that its
//! constructor refuses. Runs with the feature `serde`.
#![cfg(feature = "serde")]

use drydown::calibration::{Basis, Curve, CurvePoint, TemperatureTerm};
use drydown::policy::BuiltIn;
use drydown::quantity::{DeciCelsius, Moisture, RawCounts};
use drydown::soil::Band;
use drydown::zone::Event;
use serde_json::{from_str, to_string};

#[test]
fn a_band_whose_stop_is_not_above_start_is_refused() {
    let band = Band::new(Moisture::from_percent(25), Moisture::from_percent(35), 500).unwrap();
    assert_eq!(from_str::<Band>(&to_string(&band).unwrap()).unwrap(), band);
    assert!(from_str::<Band>(r#"{"start":3500,"stop":3500}"#).is_err());
    assert!(from_str::<Band>(r#"{"start":3500,"stop":2500}"#).is_err());
    assert!(from_str::<Band>(r#"{"start":2500,"stop":3500,"width":9}"#).is_err());
}

#[test]
fn a_policy_and_an_event_can_be_written_and_read() {
    let text = r#"{"hysteresis":{"band":{"start":2500,"stop":3500},"basis":"volumetric","agree":3,"soak":1800000}}"#;
    let policy: BuiltIn = from_str(text).unwrap();
    assert_eq!(to_string(&policy).unwrap(), text);
    for event in [Event::Woke, Event::Probe(0, None)] {
        assert_eq!(from_str::<Event>(&to_string(&event).unwrap()).unwrap(), event);
    }
}

#[test]
fn a_curve_comes_back_with_its_points_by_rising_counts() {
    let point =
        |raw, centi| CurvePoint { raw: RawCounts(raw), moisture: Moisture::from_centi(centi) };
    let points = [point(2_600, 800), point(2_000, 1_500), point(1_500, 4_000)];
    let term = TemperatureTerm { sixteenths_per_degree: -320, reference: DeciCelsius(215) };
    let plain = Curve::new(&points, Basis::Span).unwrap();
    for curve in [plain, plain.with_temperature(term).unwrap()] {
        let text = to_string(&curve).unwrap();
        assert_eq!(from_str::<Curve>(&text).unwrap(), curve, "{text}");
    }
    let text = to_string(&plain).unwrap();
    let listed = points.map(|point| text.find(&format!("\"raw\":{}", point.raw.0)));
    assert!(listed.is_sorted_by(|one, other| other < one), "{text}");
    for (of, by) in [("2000", "2600"), ("1500", "10001"), ("\"span\"", "\"none\"")] {
        assert!(from_str::<Curve>(&text.replacen(of, by, 1)).is_err(), "{of} by {by}");
    }
    let steep = to_string(&plain.with_temperature(term).unwrap()).unwrap().replace("-320", "-1601");
    assert!(from_str::<Curve>(&steep).is_err());
    assert_eq!(from_str::<Moisture>("10000").unwrap(), Moisture::FULL);
    assert!(from_str::<Moisture>("10001").is_err());
}
