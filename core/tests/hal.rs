//! The glue against mock pins: which transactions reach them, in which order.

use drydown::cutoff::Pins;
use drydown::hal::{ActuatorError, Actuators, Debounced, NotFitted, Output, Polarity, burst_of};
use drydown::quantity::Millis;
use drydown::quantity::RawCounts;
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
fn a_pin_that_fails_to_close_does_not_keep_the_other_one_open() {
    let broken = || MockError::Io(ErrorKind::NotConnected);
    // The pump fails to stop: the valve behind it closes all the same.
    let (valve, mut valve_pin) =
        output(Polarity::ActiveHigh, &[set(State::Low), set(State::High), set(State::Low)]);
    let (pump, mut pump_pin) = output(
        Polarity::ActiveHigh,
        &[set(State::Low), set(State::High), set(State::Low).with_error(broken())],
    );
    let mut both = Actuators::new(valve, pump);
    both.set(Pins { valve: true, pump: true }).unwrap();
    let error = both.set(Pins { valve: true, pump: false }).unwrap_err();
    assert!(error.to_string().starts_with("the pump's pin failed"), "{error}");
    valve_pin.done();
    pump_pin.done();

    // The valve fails to close: the pump was stopped before it.
    let (valve, mut valve_pin) = output(
        Polarity::ActiveLow,
        &[set(State::High), set(State::Low), set(State::High).with_error(broken())],
    );
    let (pump, mut pump_pin) = output(
        Polarity::ActiveHigh,
        &[set(State::Low), set(State::High), set(State::Low), set(State::Low)],
    );
    let mut both = Actuators::new(valve, pump);
    both.set(Pins { valve: true, pump: true }).unwrap();
    let error = both.set(Pins::CLOSED).unwrap_err();
    assert!(error.to_string().starts_with("the valve's pin failed"), "{error}");
    valve_pin.done();
    pump_pin.done();
}

#[test]
fn a_valve_on_its_own_and_a_bare_pump_need_no_second_pin() {
    let transactions = [set(State::Low), set(State::High), set(State::Low)];
    let (valve, mut pin) = output(Polarity::ActiveHigh, &transactions);
    let mut alone = Actuators::new(valve, NotFitted::OUTPUT);
    alone.set(Pins { valve: true, pump: true }).unwrap();
    alone.set(Pins::CLOSED).unwrap();
    pin.done();

    let transactions = [set(State::High), set(State::Low), set(State::High)];
    let (pump, mut pin) = output(Polarity::ActiveLow, &transactions);
    let mut alone = Actuators::new(NotFitted::OUTPUT, pump);
    alone.set(Pins { valve: true, pump: true }).unwrap();
    alone.set(Pins::CLOSED).unwrap();
    pin.done();
}

#[test]
fn a_pin_that_cannot_be_switched_off_becomes_no_output() {
    let broken = MockError::Io(ErrorKind::NotConnected);
    let mut pin = Mock::new(&[set(State::Low).with_error(broken)]);
    assert!(Output::off(pin.clone(), Polarity::ActiveHigh).is_err());
    pin.done();
}

/// What a button believes after each look, one every `passed`, held for 30 ms.
fn believed(levels: &[u8], passed: Millis) -> Vec<bool> {
    let looks: Vec<_> = levels
        .iter()
        .map(|level| Transaction::get(if *level == 1 { State::High } else { State::Low }))
        .collect();
    let mut pin = Mock::new(&looks);
    let mut button = Debounced::new(pin.clone(), Polarity::ActiveHigh, Millis(30));
    let believed = looks.iter().map(|_| button.look(passed).unwrap()).collect();
    pin.done();
    believed
}

#[test]
fn an_input_must_hold_before_it_is_believed() {
    let (yes, no) = (true, false);
    // On from the third look on, seen for 30 ms at the sixth; off again from the seventh on.
    let answers = believed(&[1, 0, 1, 1, 1, 1, 0, 0, 0, 0], Millis(10));
    assert_eq!(answers, [no, no, no, no, no, yes, yes, yes, yes, no]);
}

#[test]
fn one_look_after_a_long_pause_is_no_proof() {
    // Each look comes a second after the last: a single one may have met a spike.
    assert_eq!(believed(&[0, 1, 0, 1, 1], Millis(1_000)), [false, false, false, false, true]);
}

#[test]
fn an_input_that_cannot_be_read_keeps_what_was_believed_and_waits_anew() {
    let broken = || MockError::Io(ErrorKind::NotConnected);
    let mut pin = Mock::new(&[
        Transaction::get(State::Low),
        Transaction::get(State::High).with_error(broken()),
        Transaction::get(State::Low),
        Transaction::get(State::Low),
        Transaction::get(State::High).with_error(broken()),
    ]);
    let mut float = Debounced::new(pin.clone(), Polarity::ActiveLow, Millis(10));
    assert!(!float.is_on(), "off until it was seen on");
    assert!(!float.look(Millis(10)).unwrap());
    assert!(float.look(Millis(10)).is_err());
    assert!(!float.look(Millis(10)).unwrap());
    assert!(float.look(Millis(10)).unwrap());
    assert!(float.look(Millis(10)).is_err());
    assert!(float.is_on());
    pin.done();
}

#[test]
fn a_burst_holds_what_was_read_in_order_and_one_failed_read_is_no_burst() {
    let mut reads = [1_700, 4_095, 1_702, 1_701, 1_699, 1_703, 1_698, 1_704].into_iter();
    let burst = burst_of(|| reads.next().ok_or(())).unwrap();
    // Sorted: 1698 1699 1700 1701 | 1702 1703 1704 4095; the middle, rounded down, and the spread
    // without both ends.
    assert_eq!((burst.median(), burst.spread()), (RawCounts(1_701), 5));
    assert_eq!(reads.next(), None);
    for failing in 0..8 {
        let mut at = 0;
        let read = || {
            at += 1;
            if at == failing + 1 { Err("bus stuck") } else { Ok(1_700_u16) }
        };
        assert!(burst_of(read).is_none(), "read {failing} failed");
    }
}
