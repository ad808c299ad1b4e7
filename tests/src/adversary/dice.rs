//! The throws by which an adversary decides.

/// A small fast generator, the same everywhere (splitmix64, Steele, Lea and Flood 2014), or throws
/// that somebody chose.
#[derive(Clone, Debug)]
pub struct Dice {
    source: Source,
    /// What was thrown, round by round, if it is written down.
    written: Option<Vec<Vec<u64>>>,
}

#[derive(Clone, Debug)]
enum Source {
    Seeded(u64),
    /// Two bytes a throw, and seeded ones when they have run out.
    Tape {
        bytes: Box<[u8]>,
        read: usize,
        after: u64,
    },
    /// Each round has throws of its own, so that a round that is left out shifts no other.
    Rounds {
        rounds: Box<[Vec<u64>]>,
        round: usize,
        read: usize,
    },
}

/// The throw of a round that has none left: it hits nothing.
pub(super) const NOTHING: u64 = u64::MAX;

impl Dice {
    /// Seeded.
    pub fn new(seed: u64) -> Self {
        Self { source: Source::Seeded(seed), written: None }
    }

    /// The throws of a tape, two bytes each, and seeded ones when it has run out.
    pub fn of_tape(tape: &[u8]) -> Self {
        Self { source: Source::Tape { bytes: tape.into(), read: 0, after: 0 }, written: None }
    }

    /// The throws of rounds; the first are those before the first round.
    pub(super) fn of_rounds(rounds: &[Vec<u64>]) -> Self {
        Self { source: Source::Rounds { rounds: rounds.into(), round: 0, read: 0 }, written: None }
    }

    /// Writes down what is thrown from now on.
    pub(super) fn writing(self) -> Self {
        Self { written: Some(vec![vec![]]), ..self }
    }

    /// What was thrown, round by round.
    pub(super) fn written(&self) -> Option<&[Vec<u64>]> {
        self.written.as_deref()
    }

    /// Whether throws that were chosen are left.
    pub fn has_more(&self) -> bool {
        match &self.source {
            Source::Seeded(_) => false,
            Source::Tape { bytes, read, .. } => read + 2 <= bytes.len(),
            Source::Rounds { rounds, round, .. } => round + 1 < rounds.len(),
        }
    }

    /// A round begins.
    pub(super) fn next_round(&mut self) {
        if let Source::Rounds { round, read, .. } = &mut self.source {
            (*round, *read) = (*round + 1, 0);
        }
        if let Some(written) = &mut self.written {
            written.push(vec![]);
        }
    }

    /// The next 64 bits.
    pub fn roll(&mut self) -> u64 {
        let thrown = match &mut self.source {
            Source::Seeded(state) => seeded(state),
            Source::Tape { bytes, read, after } => {
                on_tape(bytes, read).unwrap_or_else(|| seeded(after))
            }
            Source::Rounds { rounds, round, read } => {
                Some(in_round(rounds, *round, read)).filter(|throw| *throw != NOTHING).unwrap_or(0)
            }
        };
        self.write(thrown)
    }

    /// Below `bound`, which is not zero.
    // It is asked for a dozen times a step, and nearly always seeded.
    #[inline]
    pub fn below(&mut self, bound: u64) -> u64 {
        if let (Source::Seeded(state), None) = (&mut self.source, &self.written) {
            return spread(seeded(state), bound);
        }
        self.chosen_below(bound)
    }

    #[cold]
    fn chosen_below(&mut self, bound: u64) -> u64 {
        let thrown = match &mut self.source {
            Source::Seeded(state) => spread(seeded(state), bound),
            // Small bounds see the two bytes of a tape as they are, large ones a spread over their
            // range.
            Source::Tape { bytes, read, after } => on_tape(bytes, read)
                .map_or_else(|| spread(seeded(after), bound), |chosen| chosen % bound),
            Source::Rounds { rounds, round, read } => in_round(rounds, *round, read).min(bound - 1),
        };
        self.write(thrown)
    }

    /// True once in `one_in`.
    pub fn hit(&mut self, one_in: u64) -> bool {
        self.below(one_in) == 0
    }

    fn write(&mut self, thrown: u64) -> u64 {
        if let Some(round) = self.written.as_mut().and_then(|rounds| rounds.last_mut()) {
            round.push(thrown);
        }
        thrown
    }
}

/// Without a division.
fn spread(bits: u64, bound: u64) -> u64 {
    ((u128::from(bits) * u128::from(bound)) >> 64) as u64
}

fn on_tape(bytes: &[u8], read: &mut usize) -> Option<u64> {
    let &[low, high] = bytes.get(*read..*read + 2)? else { return None };
    *read += 2;
    let throw = u64::from(u16::from_le_bytes([low, high]));
    Some(throw | throw << 16 | throw << 32 | throw << 48)
}

fn in_round(rounds: &[Vec<u64>], round: usize, read: &mut usize) -> u64 {
    let throw = rounds.get(round).and_then(|throws| throws.get(*read));
    *read += 1;
    throw.copied().unwrap_or(NOTHING)
}

fn seeded(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}
