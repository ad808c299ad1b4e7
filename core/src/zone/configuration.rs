//! Where a zone has its configuration: by value, so that settings may change it, or in flash.

use core::fmt::Debug;
use core::marker::PhantomData;

use super::{CheckedZone, ZoneConfig};
use crate::guard::{Plan, Rules};
use crate::policy::Policy;

/// A configuration that nobody changes while the device runs, known to the compiler.
///
/// A zone that goes by it ([`InFlash`]) takes no memory for it, and what it has no use for is not
/// linked: a second probe, a flow meter, a ration. There is nothing to set from far away and no
/// curve to capture at the bench: what is wrong in it is mended by new firmware.
///
/// ```
/// # use drydown::policy::{BuiltIn, Timer};
/// # use drydown::quantity::Millis;
/// use drydown::checked;
/// use drydown::persist::{RamStore, Store};
/// use drydown::zone::{
///     Boot, BootCause, CheckedZone, Fixed, InFlash, Inputs, Probes, Zone, ZoneConfig, turn,
/// };
///
/// # const DAILY: BuiltIn =
/// #     BuiltIn::Timer(Timer { dose: Millis::from_secs(30), every: Millis::from_hours(24) });
/// /// Herbs by the clock, all numbers invented.
/// enum Herbs {}
///
/// impl Fixed for Herbs {
///     type Policy = BuiltIn;
///     const ZONE: &CheckedZone = &{
///         let (max_open, per_day) = (Millis::from_mins(1), Millis::from_mins(3));
///         checked!(ZoneConfig::usual(Probes::None, DAILY, max_open, per_day).check())
///     };
/// }
///
/// let mut store = RamStore::new();
/// let boot = Boot::Start(BootCause::PowerOn);
/// let mut zone = Zone::boot(InFlash::<Herbs>::new(), boot, &store.stored(), None);
/// let outcome = turn(&mut zone, &mut store, 0, &Inputs::default());
/// assert!(outcome.permit.is_none());
/// ```
pub trait Fixed {
    /// The policy that it goes by.
    type Policy: Policy + Copy + 'static;
    /// The configuration.
    const ZONE: &CheckedZone<Self::Policy>;
}

/// Stands for a [`Fixed`] configuration, and takes no memory.
pub struct InFlash<F>(PhantomData<F>);

impl<F> InFlash<F> {
    /// What `F` says.
    pub const fn new() -> Self {
        Self(PhantomData)
    }
}

impl<F> Default for InFlash<F> {
    fn default() -> Self {
        Self::new()
    }
}

impl<F> Clone for InFlash<F> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<F> Copy for InFlash<F> {}

impl<F> Debug for InFlash<F> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("InFlash")
    }
}

/// What became of a changed policy.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Change {
    /// There is none.
    None,
    /// It waits for what is open to close.
    Waits,
    /// It holds from now on.
    Made,
}

mod sealed {
    pub trait Sealed {}
}

/// A checked configuration as a zone holds it: a [`CheckedZone`], or one that is [`InFlash`].
pub trait Configuration: sealed::Sealed {
    /// The policy that it goes by.
    type Policy: Policy + Copy;
    /// A changed policy that waits for what is open to close.
    type Waiting: Copy;
    /// None that waits.
    const UNCHANGED: Self::Waiting;

    /// What was checked.
    fn checked(&self) -> &CheckedZone<Self::Policy>;

    /// Goes by what waits, once the valve is `closed`.
    fn take(&mut self, waiting: &mut Self::Waiting, closed: bool) -> Change;
}

impl<P> sealed::Sealed for CheckedZone<P> {}

impl<P: Policy + Copy> Configuration for CheckedZone<P> {
    type Policy = P;
    type Waiting = Option<P>;
    const UNCHANGED: Option<P> = None;

    fn checked(&self) -> &Self {
        self
    }

    fn take(&mut self, waiting: &mut Option<P>, closed: bool) -> Change {
        if !closed {
            return if waiting.is_some() { Change::Waits } else { Change::None };
        }
        let Some(policy) = waiting.take() else { return Change::None };
        self.set_policy(policy);
        Change::Made
    }
}

impl<F> sealed::Sealed for InFlash<F> {}

impl<F: Fixed> Configuration for InFlash<F> {
    type Policy = F::Policy;
    type Waiting = ();
    const UNCHANGED: () = ();

    fn checked(&self) -> &CheckedZone<F::Policy> {
        F::ZONE
    }

    fn take(&mut self, (): &mut (), _closed: bool) -> Change {
        Change::None
    }
}

/// The parts of a checked configuration, however a zone holds it.
pub(super) trait Parts: Configuration {
    fn config(&self) -> &ZoneConfig<Self::Policy> {
        self.checked().config()
    }

    fn rules(&self) -> &Rules {
        self.checked().rules()
    }

    fn ledger_plan(&self) -> &Plan {
        self.checked().ledger_plan()
    }
}

impl<C: Configuration> Parts for C {}
