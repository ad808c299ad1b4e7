//! Every world there is, until no new one comes up.
//!
//! Plain, and not one of the kept model checkers: what is judged here is the step between two
//! worlds, not a world; a corner reached in a step must not make two worlds of one; and a set of
//! fingerprints with those not yet looked at takes a tenth of the memory of a checker that keeps
//! the way to each. The world found last is looked at first, which keeps the fewest of them
//! waiting: a world is kilobytes, its fingerprint eight bytes. When a rule is broken the way to it
//! is looked for again, breadth first, and is the shortest.

use std::collections::{HashMap, HashSet, VecDeque};
use std::fmt;
use std::hash::{BuildHasherDefault, Hash, Hasher};

use drydown::policy::Policy;

use super::bystander::Broken;
use super::scene::Scene;
use super::witness::Witnesses;
use super::world::{Ground, World};

/// A 64-bit hash that is the same in every run, from the multipliers of splitmix64 (Steele, Lea
/// and Flood 2014). Short words are gathered first.
#[derive(Clone, Copy)]
pub struct Fingerprint {
    state: u64,
    gathered: u64,
    bits: u32,
}

impl Default for Fingerprint {
    fn default() -> Self {
        Self { state: 0x243f_6a88_85a3_08d3, gathered: 0, bits: 0 }
    }
}

impl Fingerprint {
    /// One to one in the state for every word, so that nothing is lost on the way.
    #[inline]
    fn mix(&mut self, word: u64) {
        let mixed = (self.state.rotate_left(27) ^ word).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        self.state = mixed ^ (mixed >> 31);
    }

    #[inline]
    fn gather(&mut self, word: u32, bits: u32) {
        self.gathered = self.gathered << bits | u64::from(word);
        self.bits += bits;
        if self.bits > 32 {
            self.mix(self.gathered);
            (self.gathered, self.bits) = (0, 0);
        }
    }
}

impl Hasher for Fingerprint {
    #[inline]
    fn write(&mut self, bytes: &[u8]) {
        let (words, rest) = bytes.as_chunks::<8>();
        for word in words {
            self.mix(u64::from_le_bytes(*word));
        }
        for &byte in rest {
            self.gather(u32::from(byte), 8);
        }
    }

    #[inline]
    fn write_u8(&mut self, i: u8) {
        self.gather(u32::from(i), 8);
    }

    #[inline]
    fn write_u16(&mut self, i: u16) {
        self.gather(u32::from(i), 16);
    }

    #[inline]
    fn write_u32(&mut self, i: u32) {
        self.gather(i, 32);
    }

    #[inline]
    fn write_u64(&mut self, i: u64) {
        self.mix(i);
    }

    /// Lengths and the names of variants: all of them are short.
    #[inline]
    fn write_usize(&mut self, i: usize) {
        self.gather(i as u32, 8);
    }

    #[inline]
    fn finish(&self) -> u64 {
        let mut last = *self;
        last.mix(self.gathered);
        let mixed = (last.state ^ (last.state >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }
}

/// A fingerprint is its own hash.
#[derive(Clone, Copy, Default)]
pub struct Same(u64);

impl Hasher for Same {
    fn write(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.0 = self.0 << 8 | u64::from(byte);
        }
    }

    fn write_u64(&mut self, i: u64) {
        self.0 = i;
    }

    fn finish(&self) -> u64 {
        self.0
    }
}

type Seen = HashSet<u64, BuildHasherDefault<Same>>;

/// What an exploration came to.
#[derive(Clone, Debug)]
pub struct Found {
    /// Distinct worlds.
    pub worlds: u64,
    /// Steps taken, from each world every one that may come next.
    pub steps: u64,
    /// Most worlds waiting at a time.
    pub waiting: usize,
    /// Every world was looked at.
    pub exhausted: bool,
    /// Corners reached.
    pub witnesses: Witnesses,
    /// Most open time found in a window, microseconds.
    pub fullest: u64,
    /// The first rule broken.
    pub broken: Option<Broken>,
}

impl fmt::Display for Found {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { worlds, steps, waiting, exhausted, fullest, .. } = self;
        write!(
            f,
            "{worlds} worlds, {steps} steps, {waiting} waiting at most, exhausted \
             {exhausted}, {fullest} us in the fullest window, {:?}",
            self.witnesses.list()
        )?;
        self.broken.map_or(Ok(()), |broken| write!(f, ", {broken:?}"))
    }
}

/// Says of a world that came up which rule the step to it broke, and in a line what was done.
pub(super) type Tell<'t, W> = dyn FnMut(&W, Option<Broken>, &dyn Fn() -> String) + 't;

/// Every world that can be come to from the first, until no new one comes up, a rule is broken, or
/// `most` were found. Corners and the fullest window are the caller's to fill in.
pub(super) fn exhaust<W: Clone>(
    first: W,
    fingerprint: impl Fn(&W) -> u64,
    mut ahead: impl FnMut(&W, &mut Tell<W>),
    most: u64,
) -> Found {
    let mut seen = Seen::default();
    seen.insert(fingerprint(&first));
    let mut waiting = vec![first];
    let mut found = Found {
        worlds: 1,
        steps: 0,
        waiting: 1,
        exhausted: false,
        witnesses: Witnesses::default(),
        fullest: 0,
        broken: None,
    };
    while let Some(world) = waiting.pop() {
        ahead(&world, &mut |after: &W, broken, _: &dyn Fn() -> String| {
            found.steps += 1;
            found.broken = found.broken.or(broken);
            if seen.insert(fingerprint(after)) {
                found.worlds += 1;
                waiting.push(after.clone());
            }
        });
        found.waiting = found.waiting.max(waiting.len());
        if found.broken.is_some() || found.worlds >= most {
            break;
        }
    }
    found.exhausted = waiting.is_empty() && found.broken.is_none();
    found
}

/// The shortest history that breaks a rule, one line a step; empty if none of `most` worlds does.
pub(super) fn shortest_way<W: Clone>(
    first: W,
    fingerprint: impl Fn(&W) -> u64,
    mut ahead: impl FnMut(&W, &mut Tell<W>),
    most: u64,
) -> Vec<String> {
    let mut from: HashMap<u64, (u64, String)> = HashMap::new();
    let start = fingerprint(&first);
    from.insert(start, (start, "first step".to_owned()));
    let mut waiting = VecDeque::from([first]);
    let mut end = None;
    while let Some(world) = waiting.pop_front() {
        let before = fingerprint(&world);
        ahead(&world, &mut |after: &W, broken, line: &dyn Fn() -> String| {
            if let Some(broken) = broken.filter(|_| end.is_none()) {
                end = Some((before, format!("{}\n  {broken:?}", line())));
            }
            let print = fingerprint(after);
            if end.is_none() && !from.contains_key(&print) {
                from.insert(print, (before, line()));
                waiting.push_back(after.clone());
            }
        });
        if end.is_some() || from.len() as u64 >= most {
            break;
        }
    }
    let Some((mut at, last)) = end else { return vec![] };
    let mut lines = vec![last];
    while at != start {
        let (before, line) = &from[&at];
        lines.push(line.clone());
        at = *before;
    }
    lines.reverse();
    lines
}

/// Explores a scene until it is exhausted, a rule is broken, or `most` worlds were found.
pub fn explore<P: Policy + Copy>(scene: &Scene<P>, most: u64) -> Found
where
    P::Memory: Hash,
{
    let mut ground = Ground::new(scene);
    let first = World::first(&mut ground);
    let ahead = |world: &World<P>, tell: &mut Tell<World<P>>| {
        world.ahead(&mut ground, &mut |ahead| {
            tell(ahead.world, ahead.broken, &|| ahead.in_words());
        });
    };
    let found = exhaust(first, World::fingerprint, ahead, most);
    Found { witnesses: ground.witnesses, fullest: ground.fullest, ..found }
}

/// The shortest history of a scene that breaks a rule, one line a step; empty if none does.
pub fn shortest<P: Policy + Copy>(scene: &Scene<P>, most: u64) -> Vec<String>
where
    P::Memory: Hash,
{
    let mut ground = Ground::new(scene);
    let first = World::first(&mut ground);
    let ahead = |world: &World<P>, tell: &mut Tell<World<P>>| {
        world.ahead(&mut ground, &mut |ahead| {
            tell(ahead.world, ahead.broken, &|| ahead.in_words());
        });
    };
    shortest_way(first, World::fingerprint, ahead, most)
}
