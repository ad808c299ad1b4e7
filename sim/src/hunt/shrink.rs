//! Makes a list as small and as plain as it will go while it still shows what it showed: parts are
//! left out, many together and then one by one, and what must stay is replaced by something
//! simpler. What the parts are is nothing to this room.

/// Something that may be left out or said more simply.
pub trait Part: Clone {
    /// Whether it may be left out.
    fn removable(&self) -> bool;

    /// What could stand in its place, the simplest first. Each must be simpler than this by an
    /// order without endless descent, or shrinking would only end with its tries.
    fn simpler(&self) -> Vec<Self>;
}

/// What is left.
#[derive(Clone, Debug, PartialEq)]
pub struct Shrunk<P> {
    /// The parts that had to stay.
    pub parts: Vec<P>,
    /// How often it was tried.
    pub tries: u32,
    /// Whether nothing more could be left out or simplified; otherwise the tries were used up.
    pub finished: bool,
}

/// Shrinks `parts`, for which `holds` is known to be true, with at most `most_tries` questions.
pub fn shrink<P: Part>(
    parts: Vec<P>,
    most_tries: u32,
    holds: impl FnMut(&[P]) -> bool,
) -> Shrunk<P> {
    let mut work = Work { parts, tries: 0, most_tries, holds };
    while !work.is_spent() {
        let removed = work.leave_out();
        let simplified = work.simplify();
        if !removed && !simplified && !work.is_spent() {
            return Shrunk { parts: work.parts, tries: work.tries, finished: true };
        }
    }
    Shrunk { parts: work.parts, tries: work.tries, finished: false }
}

struct Work<P, F> {
    parts: Vec<P>,
    tries: u32,
    most_tries: u32,
    holds: F,
}

impl<P: Part, F: FnMut(&[P]) -> bool> Work<P, F> {
    fn is_spent(&self) -> bool {
        self.tries >= self.most_tries
    }

    /// Takes the candidate over if it still holds.
    fn accept(&mut self, candidate: Vec<P>) -> bool {
        if self.is_spent() {
            return false;
        }
        self.tries += 1;
        let holds = (self.holds)(&candidate);
        if holds {
            self.parts = candidate;
        }
        holds
    }

    /// Leaves out half of the parts, then quarters, down to single ones.
    fn leave_out(&mut self) -> bool {
        let mut removed = false;
        let mut chunk = self.parts.len().div_ceil(2);
        while chunk > 0 {
            let mut from = 0;
            while from < self.parts.len() {
                let within = from..(from + chunk).min(self.parts.len());
                let stays = |at: &usize, part: &P| !within.contains(at) || !part.removable();
                let candidate: Vec<P> = (self.parts.iter().enumerate())
                    .filter(|(at, part)| stays(at, part))
                    .map(|(_, part)| part.clone())
                    .collect();
                if candidate.len() < self.parts.len() && self.accept(candidate) {
                    removed = true;
                } else {
                    from += chunk;
                }
            }
            chunk /= 2;
        }
        removed
    }

    /// Replaces each part by the simplest that holds, until none does.
    fn simplify(&mut self) -> bool {
        let mut simplified = false;
        for at in 0..self.parts.len() {
            while self.simplify_one(at) {
                simplified = true;
            }
        }
        simplified
    }

    fn simplify_one(&mut self, at: usize) -> bool {
        self.parts[at].simpler().into_iter().any(|simpler| {
            let mut candidate = self.parts.clone();
            candidate[at] = simpler;
            self.accept(candidate)
        })
    }
}
