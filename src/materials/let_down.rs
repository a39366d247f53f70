//! Let-downs that stand ready: a pigment stirred into clear base beforehand, so that a drop is finer.

use std::fmt;

use jiff::Span;
use jiff::civil::Date;
use serde::{Serialize, Serializer};

use super::{Colorant, Grams};
use crate::error::{Error, Result};

/// A let-down in its jar.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LetDown {
    /// The pigment and the ratio, which is above 1.
    #[serde(rename = "let_down")]
    pub colorant: Colorant,
    /// The lot of the pigment that was stirred in; empty where unknown.
    pub lot: String,
    /// The base that it is for: it is stirred into part B of this one, or into the base itself if that comes as one part.
    pub base: String,
    /// The day on which it was made.
    #[serde(serialize_with = "as_written")]
    pub made: Date,
    /// What is left of it.
    #[serde(rename = "mass_g")]
    pub mass: Grams,
    /// The last day on which it is good.
    #[serde(serialize_with = "as_written")]
    pub keeps_until: Date,
}

fn as_written<S: Serializer>(
    value: &impl fmt::Display,
    to: S,
) -> std::result::Result<S::Ok, S::Error> {
    to.collect_str(value)
}

impl LetDown {
    /// How long one keeps, closed and dry, if nobody knows better, days: about a week. Common practice, no source.
    const KEEPS_DAYS: i32 = 7;

    /// The smallest mass that is told of one.
    pub const LEAST: Grams = Grams(0.001);

    /// What no such mass shows, and a sum of them may be off by.
    pub(super) const UNSEEN: Grams = Grams(0.000_5 + 1e-9);

    /// The last day of one that was made on the day `made`, if nobody knows better.
    pub fn usual_end(made: Date) -> Date {
        made.saturating_add(Span::new().days(Self::KEEPS_DAYS))
    }

    /// Refuses what is no let-down.
    ///
    /// # Errors
    /// A pigment without the ratio.
    pub fn check_ratio(colorant: &Colorant) -> Result<()> {
        if colorant.let_down > 1.0 {
            return Ok(());
        }
        let finding = format!("`{colorant}` names no ratio of a let-down");
        Err(Error::input(finding).mend(format!("write `{colorant} 1:10` for one part in ten")))
    }

    /// Whether as much as `wanted` is left of it.
    pub fn holds(&self, wanted: Grams) -> bool {
        self.mass.0 >= wanted.0 - Self::UNSEEN.0
    }

    /// Whether its time is over on the day `day`.
    pub fn is_past(&self, day: Date) -> bool {
        day > self.keeps_until
    }
}
