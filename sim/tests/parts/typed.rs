//! What a person types to a device.

use drydown::persist::Settings;
use drydown::quantity::{Millis, Moisture};
use drydown::wire::Request;
use drydown::zone::Order;
use drydown_sim::wire::typed::{HELP, Typed, read};

#[test]
fn every_line_of_the_help_can_be_typed() {
    for line in HELP.lines() {
        let typed = line.split("  ").next().unwrap();
        assert!(read(typed).is_ok(), "{line}");
    }
}

#[test]
fn times_and_levels_have_their_units() {
    let water = |text: &str| read(&format!("water {text}"));
    let ask = |length| Typed::Ask(Request::Order(Order::Water(length)));
    assert_eq!(water("20").unwrap(), ask(Millis::from_secs(20)));
    assert_eq!(water("1.5m").unwrap(), ask(Millis::from_secs(90)));
    for wrong in ["", "-1", "x", "5d", "nan", "inf", "1e12", "2000h"] {
        assert!(water(wrong).is_err(), "{wrong}");
    }
    let set = Settings { start: Some(Moisture::from_centi(2_850)), ..Settings::default() };
    assert_eq!(read(" set  start 28.5% ").unwrap(), Typed::Ask(Request::Change(set)));
    let soak = Settings { soak: Some(Millis::from_mins(45)), ..Settings::default() };
    assert_eq!(read("set soak 45").unwrap(), Typed::Ask(Request::Change(soak)));
    for wrong in ["set start 101", "set start", "set per_day 3", "water", "open", "set stop nan"] {
        assert!(read(wrong).is_err(), "{wrong}");
    }
}
