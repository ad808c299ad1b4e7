//! The dangerous corners, and whether they were reached.

macro_rules! corners {
    ($($(#[$doc:meta])* $name:ident,)+) => {
        /// A corner that an exploration must have come to, or its rules were judged on nothing.
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
        pub enum Witness { $($(#[$doc])* $name,)+ }

        impl Witness {
            /// All of them.
            pub const ALL: &'static [Self] = &[$(Self::$name,)+];
        }
    };
}

corners! {
    /// Refused because the limit was used up.
    LimitUsedUp,
    /// The limit cut an opening short.
    CutByLimit,
    /// The limit was used up and an opening came again later in the same life.
    FreedAgain,
    /// A permit ended by the longest opening.
    EndedByLongest,
    /// A dose was given whole.
    DoseDone,
    /// The stop level ended an opening.
    StopReached,
    /// A person ended an opening.
    EndedByHand,
    /// The drive was on without an order.
    Unordered,
    /// Reset with the valve open.
    ResetWhileOpen,
    /// Reset between the record of an intent and its permit.
    ResetBeforePermit,
    /// A boot found an opening that had ended: its closing record was lost.
    LostClosingRecord,
    /// Reset before what the boot had made of its record was written down.
    ResetBeforeWritten,
    /// Locked out by resets while open.
    LockedByResets,
    /// Locked out by a store that fails.
    LockedByStore,
    /// Locked out by water not answered.
    LockedByNoResponse,
    /// Locked out by stop never reached.
    LockedByStop,
    /// A lock-out was lifted.
    LockOutLifted,
    /// Manual was handed back after its dose.
    HandedBack,
    /// Manual was handed back without a dose.
    HandedBackUnserved,
    /// The link was lost while a remote opening ran.
    LinkLostWhileOpen,
    /// The supply went busy between intent and permit.
    BusyBeforePermit,
    /// A fault ended an opening.
    FaultClosed,
    /// The cut-off ended an opening because no step came.
    DeadmanClosed,
    /// The clock ran backwards while open.
    BackwardsWhileOpen,
    /// The clock and the drive disagreed and that ended an opening.
    ClockClosed,
    /// The clock jumped forward and everything promised was credited at once.
    Jumped,
    /// An intent was given up because nobody confirmed it.
    NotRecorded,
    /// An intent was confirmed late and opened.
    ConfirmedLate,
    /// The record was lost.
    RecordLost,
    /// A person initialised the device.
    Initialised,
    /// After a loss the limit freed itself and an opening came.
    FreedAfterLoss,
    /// Woke with its state retained and opened later.
    OpenedAfterWake,
    /// The interrupt died with the valve open.
    InterruptDied,
    /// Refused for a probe without a signal.
    RefusedElectrical,
    /// Refused for a probe that shows what soil cannot do.
    RefusedImplausible,
    /// Refused for a stale reading.
    RefusedStale,
    /// Refused for frost.
    RefusedFrozen,
    /// Refused because the store may not be written now.
    RefusedStoreBusy,
    /// An opening ended while the store may not be written, and its record came later.
    WrittenLater,
    /// Two probes contradicted each other, and an opening was kept small for it.
    SmallDose,
    /// One of two probes failed, and the other carried on.
    CarriedOn,
    /// Refused while the valve rests.
    RefusedResting,
    /// Refused in the hold-off.
    RefusedHoldOff,
    /// A dose of the stance.
    Fallback,
    /// A pulse in bench mode.
    BenchPulse,
    /// A dose by hand although automatic is locked out.
    ByHandInLockOut,
    /// Switched off with the valve open.
    OffWhileOpen,
    /// L1 was owed and kept.
    Owed,
    /// Water was answered.
    Answered,
    /// A valve trailed its pump.
    Trailed,
    /// Told to look, where no demand is known.
    ToldToLook,
    /// Told that plants are overdue by their demand.
    ToldOverdue,
    /// Told that soil is too wet.
    ToldTooWet,
    /// Told that waterings follow each other too closely.
    ToldShortCycle,
    /// Told of want of water while switched off.
    ToldWhileOff,
    /// A zone waited for the supply that another used.
    Waited,
    /// A zone that waited came next.
    TookTurns,
    /// Two zones were open at the same time.
    Together,
    /// Two zones opened in the same round.
    TogetherAtOnce,
    /// A zone that was switched off let the other water as it liked.
    LetPast,
    /// An order was withdrawn before the interrupt had taken it.
    WithdrawnBeforeTaken,
}

/// Which corners were reached.
#[derive(Clone, Copy, PartialEq, Eq, Default, Debug)]
pub struct Witnesses(u64);

const _: () = assert!(Witness::ALL.len() <= 64);

impl Witnesses {
    /// One was reached.
    pub fn reach(&mut self, witness: Witness) {
        self.0 |= 1 << witness as u64;
    }

    /// One was reached if `holds`.
    pub fn reach_if(&mut self, holds: bool, witness: Witness) {
        if holds {
            self.reach(witness);
        }
    }

    /// Whether one was reached.
    pub fn has(self, witness: Witness) -> bool {
        self.0 & (1 << witness as u64) != 0
    }

    /// All that were reached.
    pub fn list(self) -> Vec<Witness> {
        Witness::ALL.iter().copied().filter(|witness| self.has(*witness)).collect()
    }
}
