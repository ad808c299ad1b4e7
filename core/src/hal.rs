//! Glue from the embedded-hal 1.0 traits: valve and pump pins, buttons and switches, bursts.

use core::convert::Infallible;
use core::fmt;

use embedded_hal::digital::{ErrorType, InputPin, OutputPin, PinState};

use crate::cutoff::{BankPins, Pins};
use crate::probe::Burst;
use crate::quantity::{Millis, RawCounts};

/// Which level means *on*.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Polarity {
    /// High is on: a low-side transistor whose gate a resistor holds low through reset.
    ActiveHigh,
    /// Low is on: many relay boards. Such an output is on while the pin floats low at boot.
    ActiveLow,
}

impl Polarity {
    /// The level that stands for `on`.
    pub const fn level(self, on: bool) -> PinState {
        match (self, on) {
            (Self::ActiveHigh, true) | (Self::ActiveLow, false) => PinState::High,
            (Self::ActiveHigh, false) | (Self::ActiveLow, true) => PinState::Low,
        }
    }
}

/// One output with its polarity.
#[derive(Debug)]
pub struct Output<P> {
    pin: P,
    polarity: Polarity,
}

impl<P: OutputPin> Output<P> {
    /// Takes the pin and drives it off.
    ///
    /// # Errors
    /// Of the pin. It is lost with the error: an output that cannot be switched off must not be
    /// used.
    pub fn off(mut pin: P, polarity: Polarity) -> Result<Self, P::Error> {
        pin.set_state(polarity.level(false))?;
        Ok(Self { pin, polarity })
    }

    /// Drives it on or off.
    ///
    /// # Errors
    /// Of the pin.
    pub fn set(&mut self, on: bool) -> Result<(), P::Error> {
        self.pin.set_state(self.polarity.level(on))
    }
}

/// Stands where no pin is: the pump of a valve on its own, the valve of a bare pump.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct NotFitted;

impl NotFitted {
    /// An output that leads nowhere.
    pub const OUTPUT: Output<Self> = Output { pin: Self, polarity: Polarity::ActiveHigh };
}

impl ErrorType for NotFitted {
    type Error = Infallible;
}

impl OutputPin for NotFitted {
    fn set_low(&mut self) -> Result<(), Infallible> {
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}

/// Why the actuators could not be set.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ActuatorError<V, P> {
    /// The valve's pin; the pump was switched off.
    Valve(V),
    /// The pump's pin; the valve was switched off.
    Pump(P),
}

impl<V: fmt::Debug, P: fmt::Debug> fmt::Display for ActuatorError<V, P> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Valve(error) => write!(f, "the valve's pin failed: {error:?}"),
            Self::Pump(error) => write!(f, "the pump's pin failed: {error:?}"),
        }
    }
}

impl<V: fmt::Debug, P: fmt::Debug> core::error::Error for ActuatorError<V, P> {}

/// Valve and pump together: the one place where the cut-off's decision becomes pin levels. An
/// actuator that is not there is [`NotFitted::OUTPUT`].
#[derive(Debug)]
pub struct Actuators<V, P> {
    valve: Output<V>,
    pump: Output<P>,
}

impl<V: OutputPin, P: OutputPin> Actuators<V, P> {
    /// Two outputs that are both off.
    pub const fn new(valve: Output<V>, pump: Output<P>) -> Self {
        Self { valve, pump }
    }

    /// Sets both pins. The pump is set first when it stops and last when it starts.
    ///
    /// # Errors
    /// Of either pin. The other one is then off, whatever was asked.
    pub fn set(&mut self, pins: Pins) -> Result<(), ActuatorError<V::Error, P::Error>> {
        if !pins.pump {
            self.set_pump(false)?;
        }
        if let Err(error) = self.valve.set(pins.valve) {
            // Its own error could tell no more.
            let _ = self.pump.set(false);
            return Err(ActuatorError::Valve(error));
        }
        if pins.pump { self.set_pump(true) } else { Ok(()) }
    }

    fn set_pump(&mut self, on: bool) -> Result<(), ActuatorError<V::Error, P::Error>> {
        self.pump.set(on).map_err(|error| {
            let _ = self.valve.set(false);
            ActuatorError::Pump(error)
        })
    }
}

/// A pin of a bank that could not be set; everything else was switched off.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum BankError<V, P> {
    /// A valve's, counted from 0.
    Valve(u8, V),
    /// The pump's.
    Pump(P),
}

impl<V: fmt::Debug, P: fmt::Debug> fmt::Display for BankError<V, P> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Valve(valve, error) => {
                write!(f, "the pin of valve {valve} (counted from 0) failed: {error:?}")
            }
            Self::Pump(error) => write!(f, "the pump's pin failed: {error:?}"),
        }
    }
}

impl<V: fmt::Debug, P: fmt::Debug> core::error::Error for BankError<V, P> {}

/// The valves of a bank and their pump; on the mains that is [`NotFitted::OUTPUT`].
#[derive(Debug)]
pub struct BankActuators<V, P, const N: usize> {
    valves: [Output<V>; N],
    pump: Output<P>,
}

impl<V: OutputPin, P: OutputPin, const N: usize> BankActuators<V, P, N> {
    /// Outputs that are all off.
    pub const fn new(valves: [Output<V>; N], pump: Output<P>) -> Self {
        Self { valves, pump }
    }

    /// Sets all pins. The pump is set first when it stops and last when it starts; valves open
    /// before others close, so that a running pump never meets only closed ones.
    ///
    /// # Errors
    /// Of the first pin that fails. All others are then off, whatever was asked.
    pub fn set(&mut self, pins: BankPins<N>) -> Result<(), BankError<V::Error, P::Error>> {
        let result = self.set_in_order(pins);
        if result.is_err() {
            // Their own errors could tell no more.
            let _ = self.pump.set(false);
            for valve in &mut self.valves {
                let _ = valve.set(false);
            }
        }
        result
    }

    fn set_in_order(&mut self, pins: BankPins<N>) -> Result<(), BankError<V::Error, P::Error>> {
        if !pins.pump {
            self.pump.set(false).map_err(BankError::Pump)?;
        }
        for now in [true, false] {
            for (index, (valve, &open)) in self.valves.iter_mut().zip(&pins.valves).enumerate() {
                if open == now {
                    valve.set(open).map_err(|error| BankError::Valve(index as u8, error))?;
                }
            }
        }
        if pins.pump { self.pump.set(true).map_err(BankError::Pump) } else { Ok(()) }
    }
}

/// A button or float switch that must hold its level before it is believed.
#[derive(Debug)]
pub struct Debounced<P> {
    pin: P,
    polarity: Polarity,
    hold: Millis,
    on: bool,
    /// How long the looks at the pin have differed from what is believed; `None` if the last one
    /// did not.
    differs_for: Option<Millis>,
}

impl<P: InputPin> Debounced<P> {
    /// An input that counts as off until it was on for `hold`; 20 to 50 ms for a button, seconds
    /// for a float that sloshes (common practice). Look several times within `hold`: what the pin
    /// did between two looks is not seen.
    pub const fn new(pin: P, polarity: Polarity, hold: Millis) -> Self {
        Self { pin, polarity, hold, on: false, differs_for: None }
    }

    /// Looks at the pin, `passed` after the last look; answers the level that is believed.
    ///
    /// Only time between two looks that both differ counts: when the pin turned before the first
    /// of them nobody knows, and one look at a spike after a long pause is no proof.
    ///
    /// # Errors
    /// Of the pin. What was believed before stays, and the wait starts anew.
    pub fn look(&mut self, passed: Millis) -> Result<bool, P::Error> {
        let differed_for = self.differs_for.take();
        let on = self.polarity.level(true) == PinState::from(self.pin.is_high()?);
        if on != self.on {
            let differs_for = differed_for.map_or(Millis::ZERO, |before| before.plus(passed));
            if differs_for >= self.hold {
                self.on = on;
            } else {
                self.differs_for = Some(differs_for);
            }
        }
        Ok(self.on)
    }

    /// Whether the last look saw what is believed.
    pub const fn is_settled(&self) -> bool {
        self.differs_for.is_none()
    }

    /// What is believed, without looking.
    pub const fn is_on(&self) -> bool {
        self.on
    }
}

/// Takes a burst with a function that reads one raw count.
///
/// Converters lie outside embedded-hal 1.0, so each board brings its own five lines for `read`. A
/// failed read is no reading, least of all a zero: one failure and there is no burst.
///
/// ```
/// use drydown::hal::burst_of;
/// use drydown::quantity::RawCounts;
///
/// let mut counts = [1_700, 1_703, 1_699, 1_701, 1_702, 1_700, 1_698, 1_701].into_iter();
/// let burst = burst_of(|| counts.next().ok_or("no more")).expect("eight reads");
/// assert_eq!(burst.median(), RawCounts(1_700));
/// assert!(burst_of(|| Err::<u16, _>("bus stuck")).is_none());
/// ```
pub fn burst_of<E>(mut read: impl FnMut() -> Result<u16, E>) -> Option<Burst> {
    let mut counts = [RawCounts(0); Burst::MOST];
    for count in &mut counts {
        *count = RawCounts(read().ok()?);
    }
    Burst::new(&counts).ok()
}
