//! The pins of several valves and their pump: in which order levels reach them, and what is left
//! when one of them fails.

use std::cell::RefCell;
use std::rc::Rc;

use drydown::cutoff::BankPins;
use drydown::hal::{BankActuators, BankError, NotFitted, Output, Polarity};
use embedded_hal::digital::{ErrorKind, ErrorType, OutputPin};

/// What reached the pins: `A` valve A on, `a` off, `P` and `p` the pump.
type Wire = Rc<RefCell<String>>;

struct Pin {
    name: char,
    wire: Wire,
    broken: bool,
}

impl ErrorType for Pin {
    type Error = ErrorKind;
}

impl Pin {
    fn level(&self, letter: char) -> Result<(), ErrorKind> {
        if self.broken && letter.is_ascii_uppercase() {
            return Err(ErrorKind::Other);
        }
        self.wire.borrow_mut().push(letter);
        Ok(())
    }
}

impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), ErrorKind> {
        self.level(self.name.to_ascii_lowercase())
    }

    fn set_high(&mut self) -> Result<(), ErrorKind> {
        self.level(self.name)
    }
}

/// Three valves and a pump, of which one cannot be switched on.
fn bank(broken: char) -> (BankActuators<Pin, Pin, 3>, Wire) {
    let wire = Wire::default();
    let pin = |name| Pin { name, wire: Rc::clone(&wire), broken: name == broken };
    let off = |name| Output::off(pin(name), Polarity::ActiveHigh).expect("switching off works");
    let bank = BankActuators::new([off('A'), off('B'), off('C')], off('P'));
    wire.borrow_mut().clear();
    (bank, wire)
}

fn pins(open: &str) -> BankPins<3> {
    let valves = ['A', 'B', 'C'].map(|name| open.contains(name));
    BankPins { valves, pump: open.contains('P') }
}

#[test]
fn the_pump_is_last_on_and_first_off_and_valves_open_before_others_close() {
    let (mut bank, wire) = bank(' ');
    let mut set = |open: &str| {
        bank.set(pins(open)).expect("the pins work");
        std::mem::take(&mut *wire.borrow_mut())
    };
    assert_eq!(set("BP"), "BacP");
    // B hands over to C with the pump running: it never meets only closed valves.
    assert_eq!(set("CP"), "CabP");
    assert_eq!(set("C"), "pCab");
    assert_eq!(set(""), "pabc");
}

#[test]
fn a_pin_that_fails_leaves_everything_off() {
    let (mut bank, wire) = self::bank('B');
    let error = bank.set(pins("ABP")).expect_err("valve B is broken");
    assert_eq!(error, BankError::Valve(1, ErrorKind::Other));
    assert!(error.to_string().starts_with("the pin of valve 1 (counted from 0) failed"), "{error}");
    assert_eq!(*wire.borrow(), "Apabc");

    let (mut bank, wire) = self::bank('P');
    let error = bank.set(pins("CP")).expect_err("the pump is broken");
    assert_eq!(error, BankError::Pump(ErrorKind::Other));
    assert!(error.to_string().starts_with("the pump's pin failed"), "{error}");
    assert_eq!(*wire.borrow(), "Cabpabc");
}

#[test]
fn valves_on_the_mains_need_no_pump() {
    let wire = Wire::default();
    let pin = |name| Pin { name, wire: Rc::clone(&wire), broken: false };
    let off = |name| Output::off(pin(name), Polarity::ActiveHigh).expect("switching off works");
    let mut bank = BankActuators::new([off('A'), off('B'), off('C')], NotFitted::OUTPUT);
    wire.borrow_mut().clear();
    bank.set(pins("AP")).expect("the pins work");
    assert_eq!(*wire.borrow(), "Abc");
}
