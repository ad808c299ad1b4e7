//! Where a zone has its configuration: by value, so that settings may change it, or in flash.

use core::fmt::Debug;
use core::marker::PhantomData;

use self::held::{Change, Held, Waiting};
use super::remembered::held::Remembered as _;
use super::{CheckedZone, ProbeMemory, Probes, TwoProbes, ZoneConfig};
use crate::guard::{Plan, Rules};
use crate::policy::Policy;

/// A configuration that nobody changes while the device runs, known to the compiler.
///
/// A zone that goes by it ([`InFlash`]) takes no memory for it, and what it has no use for is not
/// linked: a second probe, a flow meter, a ration. It has no settings to change and takes no curve that
/// was captured at the bench: what is wrong in it is mended by new firmware.
///
/// ```
/// # use drydown::policy::{BuiltIn, Timer};
/// # use drydown::quantity::Millis;
/// use drydown::checked;
/// use drydown::persist::{RamStore, Store};
/// use drydown::zone::{
///     Boot, BootCause, CheckedZone, Fixed, InFlash, Inputs, OneProbe, Probes, Zone, ZoneConfig, turn,
/// };
///
/// # const DAILY: BuiltIn =
/// #     BuiltIn::Timer(Timer { dose: Millis::from_secs(30), every: Millis::from_hours(24) });
/// /// Herbs by the clock, all numbers invented.
/// enum Herbs {}
///
/// impl Fixed for Herbs {
///     type Policy = BuiltIn;
///     type Probes = OneProbe;
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
///
/// Of two probes both must be remembered, else it does not build:
///
/// ```compile_fail,E0080
/// # use drydown::calibration::{Basis, Curve, CurvePoint};
/// # use drydown::checked;
/// # use drydown::policy::{BuiltIn, Timer};
/// # use drydown::probe::{CheckedProbe, ProbeConfig, Rail};
/// # use drydown::quantity::{Millis, Moisture, RawCounts};
/// # use drydown::zone::{CheckedZone, Fixed, InFlash, OneProbe, Probes, ZoneConfig};
/// # const PROBE: CheckedProbe = {
/// #     let (air, water) = (RawCounts(2_850), RawCounts(870));
/// #     let dry = CurvePoint { raw: air, moisture: Moisture::ZERO };
/// #     let wet = CurvePoint { raw: water, moisture: Moisture::FULL };
/// #     let curve = checked!(Curve::two_point(dry, wet, Basis::Span));
/// #     let usable = (RawCounts(100), RawCounts(3_900));
/// #     checked!(ProbeConfig::around(curve, air, water, usable, Rail::Low).check())
/// # };
/// # const DAILY: BuiltIn =
/// #     BuiltIn::Timer(Timer { dose: Millis::from_secs(30), every: Millis::from_hours(24) });
/// enum Bed {}
///
/// impl Fixed for Bed {
///     type Policy = BuiltIn;
///     type Probes = OneProbe; // `TwoProbes` builds
///     const ZONE: &CheckedZone = &{
///         let small_dose = Millis::from_secs(15);
///         let probes = Probes::Two { first: PROBE, second: PROBE, most_apart: 800, small_dose };
///         let (max_open, per_day) = (Millis::from_mins(1), Millis::from_mins(3));
///         checked!(ZoneConfig::usual(probes, DAILY, max_open, per_day).check())
///     };
/// }
///
/// let _ = InFlash::<Bed>::new();
/// ```
pub trait Fixed {
    /// The policy that it goes by.
    type Policy: Policy + Copy + 'static;
    /// What is remembered of its probes: [`OneProbe`](super::OneProbe), or [`TwoProbes`].
    type Probes: ProbeMemory;
    /// The configuration. It may not have more probes than are remembered.
    const ZONE: &CheckedZone<Self::Policy>;
}

/// Stands for a [`Fixed`] configuration, and takes no memory.
pub struct InFlash<F>(PhantomData<F>);

impl<F: Fixed> InFlash<F> {
    /// More probes than are remembered do not build.
    const REMEMBERED: () = assert!(
        F::Probes::PROBES > 1 || !matches!(F::ZONE.config().probes, Probes::Two { .. }),
        "the configuration has two probes, and only one is remembered"
    );

    /// By themselves: what is looked up in them would else keep all of the configuration in flash.
    const RULES: &Rules = &{ *F::ZONE.rules() };

    /// What `F` says.
    pub const fn new() -> Self {
        let () = Self::REMEMBERED;
        Self(PhantomData)
    }
}

impl<F: Fixed> Default for InFlash<F> {
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

/// A checked configuration as a zone holds it: a [`CheckedZone`], or one that is [`InFlash`].
pub trait Configuration: held::Held {
    /// The policy that it goes by.
    type Policy: Policy + Copy;
    /// What is remembered of its probes.
    type Probes: ProbeMemory;

    /// What was checked.
    fn checked(&self) -> &CheckedZone<Self::Policy>;
}

// Where nobody else reaches it.
pub(super) mod held {
    use crate::guard::Rules;

    /// A policy that waits to be put in: only who checked it makes one.
    #[derive(Clone, Copy, Debug)]
    pub struct Waiting<P>(pub(in crate::zone) Option<P>);

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

    pub trait Held {
        /// The rules of what was checked.
        fn held_rules(&self) -> &Rules;

        /// A changed policy that waits for what is open to close.
        type Waiting: Copy;
        /// None that waits.
        const UNCHANGED: Self::Waiting;

        /// Goes by what waits, once the valve is `closed`.
        fn take(&mut self, waiting: &mut Self::Waiting, closed: bool) -> Change;
    }
}

impl<P: Policy + Copy> Configuration for CheckedZone<P> {
    type Policy = P;
    // It may be changed to one with two.
    type Probes = TwoProbes;

    fn checked(&self) -> &Self {
        self
    }
}

impl<P: Policy + Copy> Held for CheckedZone<P> {
    fn held_rules(&self) -> &Rules {
        self.rules()
    }

    type Waiting = Waiting<P>;
    const UNCHANGED: Waiting<P> = Waiting(None);

    fn take(&mut self, waiting: &mut Waiting<P>, closed: bool) -> Change {
        if !closed {
            return if waiting.0.is_some() { Change::Waits } else { Change::None };
        }
        let Some(policy) = waiting.0.take() else { return Change::None };
        self.set_policy(policy);
        Change::Made
    }
}

impl<F: Fixed> Configuration for InFlash<F> {
    type Policy = F::Policy;
    type Probes = F::Probes;

    fn checked(&self) -> &CheckedZone<F::Policy> {
        F::ZONE
    }
}

impl<F: Fixed> Held for InFlash<F> {
    fn held_rules(&self) -> &Rules {
        Self::RULES
    }

    type Waiting = ();
    const UNCHANGED: () = ();

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
        self.held_rules()
    }

    fn ledger_plan(&self) -> &Plan {
        self.checked().ledger_plan()
    }
}

impl<C: Configuration> Parts for C {}
