//! Tinted part B that was not used up.

use jiff::civil::Date;

use super::{Grams, Poured};

/// Part B of a skin that was tinted and not used: closed, it keeps as part B does (common practice, no source).
#[derive(Clone, Debug, PartialEq)]
pub struct LeftPartB {
    /// The part that it was tinted for.
    pub part: String,
    /// The day on which that was.
    pub made: Date,
    /// The cup whose part B it is, without its fibre, which goes in pot by pot.
    pub poured: Poured,
    /// What is left of it, pigment and all.
    pub left: Grams,
}
