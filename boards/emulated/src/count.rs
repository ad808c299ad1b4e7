//! Instructions executed, in a QEMU that advances its clock by a fixed time with each of them
//! (`-icount shift=N`, 2^N ns). Without that switch the figures mean nothing.

/// Counts instructions.
pub struct Counter {
    /// What the counting itself costs: it is taken off.
    empty: u32,
}

#[cfg(target_arch = "arm")]
impl Counter {
    /// Ticks of 24 bits.
    const MOST: u32 = 0xFF_FFFF;
    /// Instructions as a share of ticks. microbit: ticks of 62.5 ns, instructions of 2^6 ns.
    #[cfg(processor = "cortex-m0")]
    const INSTRUCTIONS: (u32, u32) = (125, 128);
    /// mps2-an385: ticks of 40 ns, instructions of 2^5 ns.
    #[cfg(not(processor = "cortex-m0"))]
    const INSTRUCTIONS: (u32, u32) = (5, 4);

    /// Starts the processor's own timer. `None` the second time.
    pub fn start() -> Option<Self> {
        let mut timer = cortex_m::Peripherals::take()?.SYST;
        timer.set_clock_source(cortex_m::peripheral::syst::SystClkSource::Core);
        timer.set_reload(Self::MOST);
        timer.clear_current();
        timer.enable_counter();
        Some(Self { empty: 0 }.without_reading())
    }

    fn now(&self) -> u32 {
        Self::MOST - cortex_m::peripheral::SYST::get_current()
    }

    fn between(before: u32, after: u32) -> u32 {
        let ticks = after.wrapping_sub(before) & Self::MOST;
        let (instructions, of) = Self::INSTRUCTIONS;
        (u64::from(ticks) * u64::from(instructions)).div_ceil(u64::from(of)) as u32
    }
}

#[cfg(target_arch = "riscv32")]
impl Counter {
    /// The processor counts by itself.
    pub fn start() -> Option<Self> {
        Some(Self { empty: 0 }.without_reading())
    }

    fn now(&self) -> u32 {
        riscv::register::minstret::read() as u32
    }

    fn between(before: u32, after: u32) -> u32 {
        after.wrapping_sub(before)
    }
}

impl Counter {
    fn without_reading(mut self) -> Self {
        let nothing = |_| {
            let begun = self.begin();
            self.since(begun)
        };
        self.empty = (0..64).map(nothing).min().unwrap_or(0);
        self
    }

    /// Counting begins.
    #[inline(never)]
    pub fn begin(&self) -> u32 {
        self.now()
    }

    /// Instructions since it began.
    #[inline(never)]
    pub fn since(&self, begun: u32) -> u32 {
        Self::between(begun, self.now()).saturating_sub(self.empty)
    }
}
