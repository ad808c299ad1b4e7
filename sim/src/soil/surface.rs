//! Water that arrives faster than the surface takes it stands, and then runs off.

/// A surface that takes up to a rate and holds up to a volume.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Surface {
    /// Most that can stand, litres.
    pub holds_l: f64,
}

impl Surface {
    /// Over `hours`: `inflow_l` arrives steadily, up to `uptake_l_h` soaks in. Returns what soaked
    /// in and what ran off; `pond_l` becomes what stands.
    pub(super) fn soak(
        self,
        pond_l: &mut f64,
        inflow_l: f64,
        uptake_l_h: f64,
        hours: f64,
    ) -> (f64, f64) {
        let offered = *pond_l + inflow_l;
        if offered <= 0.0 {
            return (0.0, 0.0);
        }
        // Exact: either water stood throughout, or everything offered went in.
        let soaked = offered.min(uptake_l_h * hours);
        let standing = offered - soaked;
        *pond_l = standing.min(self.holds_l);
        (soaked, standing - *pond_l)
    }
}

/// Hours until `pond_l` has gone in while `inflow_l_h` arrives; infinite if it does not fall.
pub(super) fn hours_until_gone(pond_l: f64, inflow_l_h: f64, uptake_l_h: f64) -> f64 {
    let falls = uptake_l_h - inflow_l_h;
    if falls > 0.0 { pond_l / falls } else { f64::INFINITY }
}
