//! Substrates as handbooks give them.

use crate::scenario::schema::SubstrateKind;

/// A substrate as handbooks give it, % by volume.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SubstrateRow {
    /// Its name as an option and in a scenario.
    pub name: &'static str,
    /// What it is.
    pub kind: SubstrateKind,
    /// Total pore space, middle of the range.
    pub pores_pct: f64,
    /// Water at −10 cm, middle of the range.
    pub drained_pct: f64,
    /// Water that plants hardly take, below −100 cm.
    pub wilting_pct: f64,
}

const fn row(name: &'static str, kind: SubstrateKind, figures: [f64; 3]) -> SubstrateRow {
    let [pores_pct, drained_pct, wilting_pct] = figures;
    SubstrateRow { name, kind, pores_pct, drained_pct, wilting_pct }
}

/// Middles of handbook ranges (from memory: De Boodt & Verdonck 1972; Bilderback et al. 2005 for the
/// mix). The last column is what is left when easily available and buffering water are gone.
pub(super) const SUBSTRATES: [SubstrateRow; 6] = [
    row("peat", SubstrateKind::Peat, [94.0, 65.0, 33.0]),
    row("black-peat", SubstrateKind::BlackPeat, [88.0, 77.0, 50.0]),
    row("coir", SubstrateKind::Coir, [94.0, 70.0, 35.0]),
    row("bark", SubstrateKind::Bark, [80.0, 38.0, 22.0]),
    row("perlite", SubstrateKind::Perlite, [92.0, 33.0, 20.0]),
    row("mix", SubstrateKind::Mix, [80.0, 55.0, 20.0]),
];

/// The row of a substrate.
pub fn substrate_row(kind: SubstrateKind) -> SubstrateRow {
    let [first, ..] = SUBSTRATES;
    SUBSTRATES.into_iter().find(|row| row.kind == kind).unwrap_or(first)
}
