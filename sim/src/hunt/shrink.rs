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

#[cfg(test)]
mod tests {
    use super::*;

    /// A number that may go to any smaller one by halving or by one; a fixed one must stay.
    #[derive(Clone, Debug, PartialEq)]
    struct Number {
        value: u32,
        fixed: bool,
    }

    impl Part for Number {
        fn removable(&self) -> bool {
            !self.fixed
        }

        fn simpler(&self) -> Vec<Self> {
            let smaller = [self.value / 2, self.value.saturating_sub(1)];
            let smaller = smaller.into_iter().filter(|&value| value < self.value);
            smaller.map(|value| Self { value, ..*self }).collect()
        }
    }

    fn numbers(values: &[u32]) -> Vec<Number> {
        values.iter().map(|&value| Number { value, fixed: false }).collect()
    }

    fn values(parts: &[Number]) -> Vec<u32> {
        parts.iter().map(|part| part.value).collect()
    }

    #[test]
    fn what_does_not_matter_is_left_out_and_what_matters_stays() {
        let parts = numbers(&(0..64).collect::<Vec<_>>());
        let both = |parts: &[Number]| {
            parts.iter().any(|part| part.value >= 17) && parts.iter().any(|part| part.value == 40)
        };
        let shrunk = shrink(parts, 10_000, both);
        // 40 alone is both.
        assert_eq!((values(&shrunk.parts), shrunk.finished), (vec![40], true));
    }

    #[test]
    fn two_that_only_work_together_are_both_kept_at_their_least() {
        let parts = numbers(&[3, 90, 8, 77, 5]);
        let holds = |parts: &[Number]| parts.iter().filter(|part| part.value >= 60).count() == 2;
        assert_eq!(values(&shrink(parts, 10_000, holds).parts), [60, 60]);
    }

    #[test]
    fn a_part_that_may_not_go_is_still_simplified() {
        let mut parts = numbers(&[9, 31, 12]);
        parts[1].fixed = true;
        let shrunk = shrink(parts, 10_000, |parts| parts.iter().any(|part| part.value >= 6));
        assert_eq!(values(&shrunk.parts), [6]);
        assert!(shrunk.parts[0].fixed);
    }

    #[test]
    fn nothing_smaller_that_holds_is_left_by_single_steps() {
        // A sum is the case in which halves hold and single steps still go on.
        let parts = numbers(&[40, 1, 25, 7, 13]);
        let holds = |parts: &[Number]| values(parts).iter().sum::<u32>() >= 50;
        let shrunk = shrink(parts, 10_000, holds);
        assert_eq!(values(&shrunk.parts).iter().sum::<u32>(), 50);
        for at in 0..shrunk.parts.len() {
            let mut fewer = shrunk.parts.clone();
            fewer.remove(at);
            assert!(!holds(&fewer), "{:?}", shrunk.parts);
        }
    }

    #[test]
    fn it_stops_when_its_tries_are_used_up_and_says_so() {
        let parts = numbers(&(100..200).collect::<Vec<_>>());
        let mut asked = 0;
        let shrunk = shrink(parts, 5, |parts| {
            asked += 1;
            parts.len() > 2
        });
        assert_eq!((shrunk.tries, asked, shrunk.finished), (5, 5, false));
        assert!(shrunk.parts.len() > 2);
    }
}
