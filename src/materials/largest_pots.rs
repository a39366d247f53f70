//! How much of a base can be used up within its pot life.

use super::{Grams, Kind};

/// The largest pots that a pair of hands uses up within their pot lives: a skin has four minutes where a foam has one and a half, so
/// that one number does not serve both.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LargestPots {
    /// Of any base; all in one pot where `None`.
    pub any: Option<Grams>,
    /// Of a foam; as of any where `None`.
    pub foam: Option<Grams>,
}

impl LargestPots {
    /// That of a base of this `kind`; all in one pot where `None`.
    pub fn of(self, kind: Kind) -> Option<Grams> {
        match kind {
            Kind::Foam => self.foam.or(self.any),
            Kind::Skin | Kind::Paint => self.any,
        }
    }

    /// What these do not say as `others` have it.
    #[must_use]
    pub fn or(self, others: Self) -> Self {
        Self {
            any: self.any.or(others.any),
            foam: self.foam.or(others.foam),
        }
    }
}
