//! The bins of a run.

use drydown_sim::run::strips::{MOST, Strips};

#[test]
fn days_are_made_of_whole_bins_or_bins_of_whole_days() {
    const DAY_MS: u64 = 86_400_000;
    for days in [1, 7, 10, 30, 365, 3_650, 18_250] {
        let strips = Strips::new(days * DAY_MS);
        let bin_ms = strips.bin_ms();
        assert!(bin_ms >= 600_000 && strips.bins().len() <= MOST, "{days} days: {bin_ms} ms");
        assert!(DAY_MS.is_multiple_of(bin_ms) || bin_ms.is_multiple_of(DAY_MS), "{days}: {bin_ms}");
        // No coarser than it must be, but for what makes it even.
        assert!(strips.bins().len() > MOST / 3 || bin_ms == 600_000, "{days} days: {bin_ms} ms");
    }
}
