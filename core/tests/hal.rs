//! The glue against mock pins: which transactions reach them, in which order.

use drydown::cutoff::Pins;
use drydown::hal::{ActuatorError, Actuators, Debounced, Output, Polarity};
use drydown::quantity::Millis;
use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::digital::{Mock, State, Transaction};
use std::io::ErrorKind;

fn set(state: State) -> Transaction {
    Transaction::set(state)
}

fn output(polarity: Polarity, transactions: &[Transaction]) -> (Output<Mock>, Mock) {
    let pin = Mock::new(transactions);
    (Output::off(pin.clone(), polarity).expect("the mock works"), pin)
}

#[test]
fn an_output_starts_off_whatever_its_polarity() {
    let (mut high, mut pin) =
        output(Polarity::ActiveHigh, &[set(State::Low), set(State::High), set(State::Low)]);
    high.set(true).unwrap();
    high.set(false).unwrap();
    pin.done();
    let (mut low, mut pin) = output(Polarity::ActiveLow, &[set(State::High), set(State::Low)]);
    low.set(true).unwrap();
    pin.done();
}

#[test]
fn the_pump_starts_after_the_valve_and_stops_before_it() {
    let (valve, mut valve_pin) = output(
        Polarity::ActiveHigh,
        &[set(State::Low), set(State::High), set(State::High), set(State::Low)],
    );
    let (pump, mut pump_pin) = output(
        Polarity::ActiveHigh,
        &[set(State::Low), set(State::High), set(State::Low), set(State::Low)],
    );
    let mut both = Actuators::new(valve, pump);
    both.set(Pins { valve: true, pump: true }).unwrap();
    both.set(Pins { valve: true, pump: false }).unwrap();
    both.set(Pins::CLOSED).unwrap();
    valve_pin.done();
    pump_pin.done();
}

#[test]
fn a_pin_that_fails_leaves_the_other_one_off() {
    let broken = || MockError::Io(ErrorKind::NotConnected);
    let (valve, mut valve_pin) =
        output(Polarity::ActiveHigh, &[set(State::Low), set(State::High).with_error(broken())]);
    let (pump, mut pump_pin) = output(Polarity::ActiveHigh, &[set(State::Low), set(State::Low)]);
    let result = Actuators::new(valve, pump).set(Pins { valve: true, pump: true });
    assert!(matches!(result, Err(ActuatorError::Valve(_))));
    valve_pin.done();
    pump_pin.done();

    let (valve, mut valve_pin) =
        output(Polarity::ActiveHigh, &[set(State::Low), set(State::High), set(State::Low)]);
    let (pump, mut pump_pin) =
        output(Polarity::ActiveHigh, &[set(State::Low), set(State::High).with_error(broken())]);
    let result = Actuators::new(valve, pump).set(Pins { valve: true, pump: true });
    assert!(matches!(result, Err(ActuatorError::Pump(_))));
    valve_pin.done();
    pump_pin.done();
}

#[test]
fn an_input_must_hold_before_it_is_believed() {
    let levels = [1, 0, 1, 1, 1, 0, 0, 0]
        .map(|level| Transaction::get(if level == 1 { State::High } else { State::Low }));
    let mut pin = Mock::new(&levels);
    let mut button = Debounced::new(pin.clone(), Polarity::ActiveHigh, Millis(30));
    let believed: Vec<bool> = levels.iter().map(|_| button.look(Millis(10)).unwrap()).collect();
    assert_eq!(believed, [false, false, false, false, true, true, true, false]);
    pin.done();
}

#[test]
fn an_input_that_cannot_be_read_keeps_what_was_believed() {
    let mut pin = Mock::new(&[
        Transaction::get(State::Low),
        Transaction::get(State::High).with_error(MockError::Io(ErrorKind::NotConnected)),
        Transaction::get(State::Low),
    ]);
    let mut float = Debounced::new(pin.clone(), Polarity::ActiveLow, Millis(10));
    assert!(float.look(Millis(10)).unwrap());
    assert!(float.look(Millis(10)).is_err());
    assert!(float.is_on());
    assert!(float.look(Millis(10)).unwrap());
    pin.done();
}
