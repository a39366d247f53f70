//! A recipe as if drops could be split.

/// Amounts of some pigments, each in its strongest drops.
#[derive(Clone, Debug)]
pub(crate) struct Relaxed {
    /// `(pigment, amount)`, amounts positive.
    pub(crate) amounts: Vec<(usize, f64)>,
    /// Mean ΔE00 from the aims.
    pub(crate) delta_e: f64,
}
