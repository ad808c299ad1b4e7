//! What would be refused now, and when that passes: for the eye, decided nowhere.

use super::{Guard, Phase, Rules};
use crate::guard::ledger::widen;
use crate::guard::table::{Condition, Conditions, Path};
use crate::quantity::Millis;
use crate::zone::Drive;

impl Guard {
    /// What a wish of the shortest opening on this path would be refused for, beside the
    /// `conditions` from outside; `None` while something is under way.
    pub(crate) fn hindrance(
        &self,
        rules: &Rules,
        conditions: Conditions,
        path: Path,
    ) -> Option<Condition> {
        if !matches!(self.phase, Phase::Closed) {
            return None;
        }
        conditions
            .with_all(self.conditions())
            .and_if(!self.rested, Condition::MinClosed)
            .and_if(self.left(rules, path) < rules.limits.min_open, Condition::LimitReached)
            .blocking(path)
    }

    /// Whether the ledger only counts as spent because no record was found.
    pub(crate) const fn is_assumed(&self) -> bool {
        self.assumed
    }

    /// The longest opening that the 24 h limit of this path still holds.
    pub(crate) fn left(&self, rules: &Rules, path: Path) -> Millis {
        let share = rules.plan.share(rules.limits.of(path));
        rules.plan.longest(share.saturating_sub(self.used()))
    }

    /// Time until a condition passes by itself on this path, as far as the guard knows.
    pub(crate) fn passes_in(
        &self,
        rules: &Rules,
        drive: Drive,
        path: Path,
        condition: Condition,
    ) -> Option<Millis> {
        let left = match condition {
            Condition::HoldOff => self.hold_off,
            Condition::Clock => self.clock_hold,
            Condition::NotRecorded => self.back_off,
            Condition::MinClosed => {
                widen(rules.limits.min_closed).minus(drive.off_ms).max(self.rest_left)
            }
            Condition::LimitReached => {
                let share = rules.plan.share(rules.limits.of(path));
                let needed = rules.plan.charge(rules.limits.min_open);
                return self.ledger.holds_in(&rules.plan, share, needed);
            }
            _ => return None,
        };
        (!left.is_zero()).then_some(left)
    }
}
