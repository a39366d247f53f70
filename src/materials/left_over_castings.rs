//! The castings that tell what the physics leaves over, as a book keeps them.

use super::left_over::{LeftOver, LeftOverLaw, LeftOverPoint};
use super::makeup::Strengths;
use super::{Build, Casting, Shelf};
use crate::colour::Lab;
use crate::error::Result;

/// A casting that was read, and what the physics missed of it.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOverCasting {
    /// The chip's name in the book.
    pub swatch: String,
    /// As it was cast, all masses in grams.
    pub build: Build,
    /// What the physics said of it when it was calibrated, read as the book reads.
    pub physics: Lab,
    /// ΔL*, Δa* and Δb* from what the physics said to what was read.
    pub by: [f64; 3],
}

impl LeftOver {
    /// What `castings` tell by `law` of what the physics of `shelf` leaves over.
    ///
    /// A casting of which the physics says another colour by now is left out: a curve, a card or a setting has changed since.
    ///
    /// # Errors
    /// As [`Casting::new`].
    pub fn of(shelf: &Shelf, law: LeftOverLaw, castings: &[LeftOverCasting]) -> Result<Self> {
        /// What files round, in L*, a* or b*.
        const ROUNDED: f64 = 0.01;
        let weights = shelf.settings.viewing.weights();
        let strengths = Strengths::of(&shelf.bases, &shelf.pigments, shelf.settings.viewing);
        let mut points = Vec::with_capacity(castings.len());
        for each in castings {
            let casting = Casting::new(shelf, &each.build)?;
            let now = weights.lab(&casting.by_physics());
            let apart = [
                now.l - each.physics.l,
                now.a - each.physics.a,
                now.b - each.physics.b,
            ];
            let holds = apart.iter().all(|axis| axis.abs() <= ROUNDED);
            let makeup = casting.makeup(&strengths).filter(|_| holds);
            points.extend(makeup.map(|makeup| LeftOverPoint {
                chip: each.swatch.clone(),
                makeup,
                by: each.by,
            }));
        }
        let stale = castings.len() - points.len();
        Ok(Self::new(strengths, law, points, stale))
    }
}
