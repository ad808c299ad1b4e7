//! What a verdict means, and what a person can do about it.

use super::ProbeFault;

impl ProbeFault {
    /// The verdict in plain words.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Open => "probe not connected",
            Self::Short => "probe cable shorted",
            Self::Clipped => "probe signal beyond what the converter can read",
            Self::Noisy => "probe signal too noisy",
            Self::Flat => "probe signal does not move at all",
            Self::Rate => "probe dries faster than soil can",
            Self::OutOfSoil => "probe out of the soil",
            Self::DrierAfterWater => "probe reads drier after water",
            Self::Stale => "no recent reading of the probe",
            Self::Frozen => "frost: frozen soil reads dry",
        }
    }

    /// What a person can do.
    pub const fn remedy(self) -> &'static str {
        match self {
            Self::Open | Self::Short => "check plug, cable and probe",
            Self::Clipped => "check the wiring and the converter's range",
            Self::Noisy => "move cable away from pump and radio, check the supply",
            Self::Flat => "lift the probe and put it back; if it stays so, replace it",
            Self::Rate => "firm the soil around the probe",
            Self::OutOfSoil => "put the probe back firmly, then acknowledge at the device",
            Self::DrierAfterWater => {
                "check that the calibration's ends are not swapped, then acknowledge at the device"
            }
            Self::Stale => "check the probe and its wiring",
            Self::Frozen => "wait for the thaw",
        }
    }
}
