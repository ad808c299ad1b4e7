//! Open time in any span of true time, twice: as it goes along, and by trying every window.

use std::collections::VecDeque;

/// An opening in true time, microseconds: from, until.
pub type Opening = (u64, u64);

/// The open time of the span that ends with the newest closing.
///
/// The open time of a sliding window grows only while the valve is open, so the worst window of
/// all ends at a closing: looking there is enough.
#[derive(Debug, Default)]
pub struct SlidingWindow {
    span: u64,
    kept: VecDeque<Opening>,
    sum: u64,
}

impl SlidingWindow {
    /// A window of `span` microseconds in which nothing was open yet.
    pub fn new(span: u64) -> Self {
        Self { span, ..Self::default() }
    }

    /// Adds an opening; answers the open time in the span that ends with it.
    pub fn add(&mut self, (from, until): Opening) -> u64 {
        self.kept.push_back((from, until));
        self.sum += until - from;
        let start = until.saturating_sub(self.span);
        while let Some(&(first, last)) = self.kept.front()
            && last <= start
        {
            self.sum -= last - first;
            self.kept.pop_front();
        }
        let before = self.kept.front().map_or(0, |&(first, _)| start.saturating_sub(first));
        self.sum - before
    }

    /// Forgets what ended by `instant`.
    pub fn forget(&mut self, instant: u64) {
        while let Some(&(first, last)) = self.kept.front()
            && last <= instant
        {
            self.sum -= last - first;
            self.kept.pop_front();
        }
    }
}

/// The most open time in any window of `span`, trying a window from every beginning and one to
/// every end.
pub fn by_brute_force(openings: &[Opening], span: u64) -> u64 {
    let within = |start: u64, end: u64| -> u64 {
        let overlap = |&(from, until): &Opening| until.min(end).saturating_sub(from.max(start));
        openings.iter().map(overlap).sum()
    };
    let starts = openings.iter().map(|&(from, _)| within(from, from + span));
    let ends = openings.iter().map(|&(_, until)| within(until.saturating_sub(span), until));
    starts.chain(ends).max().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_opening_that_leaves_the_window_counts_in_part() {
        // By hand: 10 open, 80 closed, 20 open: the window of 100 that ends at 110 holds
        // 0 of the first 10 but for the part after instant 10.
        let mut window = SlidingWindow::new(100);
        assert_eq!(window.add((0, 20)), 20);
        assert_eq!(window.add((90, 110)), 10 + 20);
        assert_eq!(window.add((130, 140)), 20 + 10);
        assert_eq!(by_brute_force(&[(0, 20), (90, 110), (130, 140)], 100), 30);
    }
}
