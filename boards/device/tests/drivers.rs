//! The drivers against mock pins and a mock bus: which transactions reach them.

use device::{AirSensor, Keys, Oled, Screen, Shtc3};
use drydown::air::{AirFault, Climate};
use drydown::panel::{Key, Press};
use drydown::quantity::{DeciCelsius, Millis};
use embedded_hal::i2c::{ErrorKind, NoAcknowledgeSource};
use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::digital::{Mock as Pin, State, Transaction as Level};
use embedded_hal_mock::eh1::i2c::{Mock as Bus, Transaction};
use std::io;

/// CRC-8 with the polynomial 0x31 and the initial value 0xFF, as the sensor's data sheet gives it.
fn crc(bytes: [u8; 2]) -> u8 {
    bytes.into_iter().fold(0xFF, |crc, byte| {
        (0..8)
            .fold(crc ^ byte, |crc: u8, _| if crc & 0x80 == 0 { crc << 1 } else { crc << 1 ^ 0x31 })
    })
}

/// The data sheet's own example: 0xBEEF has the check 0x92.
#[test]
fn the_check_of_the_sensor_is_that_of_its_data_sheet() {
    assert_eq!(crc([0xBE, 0xEF]), 0x92);
}

fn measured(temperature: [u8; 2], humidity: [u8; 2]) -> Vec<u8> {
    let [a, b] = temperature;
    let [c, d] = humidity;
    vec![a, b, crc(temperature), c, d, crc(humidity)]
}

/// Command and formulas of the sensor's data sheet (from memory): 0x7866 measures with clock
/// stretching off, temperature first; T = −45 + 175·raw/2^16, humidity = 100·raw/2^16.
#[test]
fn the_air_is_what_the_sensor_measured() {
    let expected = [
        Transaction::write(0x70, vec![0x78, 0x66]),
        Transaction::read(0x70, measured([0x66, 0x66], [0x80, 0x00])),
    ];
    let mut bus = Bus::new(&expected);
    let mut sensor = Shtc3::new(bus.clone());
    assert!(sensor.ask());
    let sample = sensor.answer().expect("it answered");
    let climate = Climate::of(sample).expect("ordinary air");
    assert_eq!((climate.temperature, climate.humidity), (DeciCelsius(249), 500));
    bus.done();
}

#[test]
fn a_damaged_measurement_is_none_and_an_impossible_one_is_not_believed() {
    let mut damaged = measured([0x66, 0x66], [0x80, 0x00]);
    damaged[1] ^= 1;
    let mut bus = Bus::new(&[
        Transaction::read(0x70, damaged),
        Transaction::read(0x70, measured([0xBE, 0xEF], [0xBE, 0xEF])),
    ]);
    let mut sensor = Shtc3::new(bus.clone());
    assert!(sensor.answer().is_none());
    // 85.5 °C.
    assert_eq!(Climate::of(sensor.answer().expect("whole")), Err(AirFault::Beyond));
    bus.done();
}

const NOBODY: ErrorKind = ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address);

#[test]
fn a_display_that_is_not_there_says_so() {
    // The first command of the initialisation: display off.
    let mut bus = Bus::new(&[Transaction::write(0x3C, vec![0x00, 0xAE]).with_error(NOBODY)]);
    let mut screen = Oled::new(bus.clone());
    assert!(!screen.start());
    bus.done();
}

#[test]
fn an_air_sensor_that_is_not_there_says_so() {
    let mut bus = Bus::new(&[Transaction::write(0x70, vec![0x78, 0x66]).with_error(NOBODY)]);
    let mut sensor = Shtc3::new(bus.clone());
    assert!(!sensor.ask());
    bus.done();
}

fn levels(levels: &[State]) -> Vec<Level> {
    levels.iter().map(|level| Level::get(*level)).collect()
}

#[test]
fn of_two_buttons_at_once_the_one_that_stops_water_counts() {
    use State::{High, Low};
    // Up, down until believed, up until believed.
    let pressed = levels(&[High, Low, Low, High, High]);
    let (next, act) = (Pin::new(&pressed), Pin::new(&pressed));
    let mut keys = Keys::to_ground(next.clone(), act.clone());
    let mut seen = Vec::new();
    for _ in 0..5 {
        seen.extend(keys.look(Millis(40)));
    }
    assert_eq!(seen, [(Key::Do, Press::Short)]);
    for mut pin in [next, act] {
        pin.done();
    }
}

/// Whether it is stuck, wet, or woke the chip.
#[test]
fn a_button_that_is_down_at_the_start_is_not_pressed_until_it_was_let_go() {
    use State::{High, Low};
    for every in [1_u32, 10, 40, 400] {
        let held = 3_000 / every as usize;
        let let_go = 80_u32.div_ceil(every) as usize + 1;
        let mut seen_by_act = vec![Low; held];
        seen_by_act.extend(vec![High; let_go]);
        seen_by_act.extend(vec![Low; held]);
        let act = Pin::new(&levels(&seen_by_act));
        let next = Pin::new(&levels(&vec![High; seen_by_act.len()]));
        let mut keys = Keys::to_ground(next.clone(), act.clone());
        let mut presses = Vec::new();
        for look in 0..seen_by_act.len() {
            presses.extend(keys.look(Millis(every)).map(|press| (look >= held, press)));
        }
        assert_eq!(presses, [(true, (Key::Do, Press::Long))], "a look every {every} ms");
        for mut pin in [next, act] {
            pin.done();
        }
    }
}

#[test]
fn a_button_that_cannot_be_read_is_not_pressed() {
    let broken = MockError::Io(io::ErrorKind::Other);
    let next = Pin::new(&[Level::get(State::Low).with_error(broken.clone())]);
    let act = Pin::new(&[Level::get(State::Low).with_error(broken)]);
    let mut keys = Keys::to_ground(next.clone(), act.clone());
    assert_eq!(keys.look(Millis(40)), None);
    for mut pin in [next, act] {
        pin.done();
    }
}
