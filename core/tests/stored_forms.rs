//! What can be read from files is checked on the way in: no file makes a value that its
//! constructor refuses. Runs with the feature `serde`.
#![cfg(feature = "serde")]

use drydown::policy::BuiltIn;
use drydown::quantity::Moisture;
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
