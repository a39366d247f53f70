//! What is known of how a cup came out, beside what was poured.

use super::looks::Looks;
use crate::colour::Lab;
use crate::materials::Geometry;

/// What tells of how a cup came out.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Evidence {
    /// An instrument's reading, under the book's viewing.
    Reading {
        /// The colour.
        lab: Lab,
        /// How it was read; as the book says where nothing is stated.
        geometry: Geometry,
    },
    /// The eye's word, beside the tone.
    Looks(Looks),
    /// Nothing but what was poured, which is known to be other than planned.
    Poured,
}

/// Standard deviation of a reading of L*, a* or b*. Common practice, no source.
const READING_SD: f64 = 0.25;

impl Evidence {
    /// The colour that was seen, with one standard deviation of its L*, a* and b*; `None` where none was.
    pub(crate) fn seen(&self, tone: Lab) -> Option<(Lab, [f64; 3])> {
        match self {
            Self::Reading { lab, .. } => Some((*lab, [READING_SD; 3])),
            Self::Looks(looks) => Some(looks.beside(tone)),
            Self::Poured => None,
        }
    }

    /// How that was seen; as the book says where it was not by an instrument.
    pub(super) fn geometry(&self) -> Geometry {
        match self {
            Self::Reading { geometry, .. } => *geometry,
            Self::Looks(_) | Self::Poured => Geometry::default(),
        }
    }
}
