//! What one reading tells of all that was in doubt: curves, drops, thickness.

use nalgebra::{DMatrix, DVector, Matrix3, Vector3};

use super::cup::{skin, skin_mut};
use crate::colour::{Lab, TristimulusWeights};
use crate::forecast::Doubt;
use crate::materials::{Casting, Shelf};

/// What a reading tells of all that was in doubt.
pub(super) struct Learnt<'shelf> {
    casting: Casting<'shelf>,
    /// Each doubt, with the standard deviations that it is off by.
    off: Vec<(Doubt, f64)>,
}

impl<'shelf> Learnt<'shelf> {
    /// What is learnt of `casting`, which was seen as this colour with these standard deviations of its L*, a* and b*.
    ///
    /// Source: the update by one reading is the iterated extended Kalman filter, B. M. Bell, F. W. Cathey (1993), IEEE
    /// Transactions on Automatic Control 38, 294–297.
    pub(super) fn from(
        casting: &Casting<'shelf>,
        (seen_lab, sd): (Lab, [f64; 3]),
        weights: &TristimulusWeights,
    ) -> Self {
        const ROUNDS: usize = 5;
        const NUDGE: f64 = 0.05;
        let seen = |casting: &Casting<'_>| {
            let lab = weights.lab(&casting.reading());
            Vector3::new(lab.l, lab.a, lab.b)
        };
        let doubts = casting.doubts();
        let measured = Vector3::new(seen_lab.l, seen_lab.a, seen_lab.b);
        let moved = |off: &DVector<f64>| {
            let doubts = doubts.iter().zip(off.iter());
            doubts.fold(casting.clone(), |casting, (doubt, sds)| {
                doubt.applied(&casting, *sds)
            })
        };
        let mut noise = Matrix3::from_diagonal(&Vector3::from(sd.map(|sd| sd.powi(2))));
        for (axis, own) in casting.own_spread().into_iter().enumerate() {
            noise[(axis, axis)] += own.powi(2);
        }
        let mut off = DVector::zeros(doubts.len());
        for _ in 0..ROUNDS {
            let here = moved(&off);
            let at = seen(&here);
            let mut slopes = DMatrix::zeros(3, doubts.len());
            for (column, doubt) in doubts.iter().enumerate() {
                let step = (seen(&doubt.applied(&here, NUDGE)) - at) / NUDGE;
                slopes.set_column(column, &step);
            }
            let surprise = DVector::from_column_slice((measured - at).as_slice()) + &slopes * &off;
            let spread =
                &slopes * slopes.transpose() + DMatrix::from_iterator(3, 3, noise.iter().copied());
            // The reading's own noise keeps it away from singular.
            let Some(factor) = spread.cholesky() else {
                break;
            };
            off = slopes.transpose() * factor.solve(&surprise);
        }
        Self {
            casting: moved(&off),
            off: doubts.into_iter().zip(off.iter().copied()).collect(),
        }
    }

    /// The casting with all that is learnt.
    pub(super) fn casting(&self) -> &Casting<'shelf> {
        &self.casting
    }

    /// Gives the portions of the cup of `casting` the masses that they seem to have come out at.
    pub(super) fn weigh(&self, casting: &mut Casting<'_>) {
        let learnt = &skin(&self.casting).portions;
        for portion in &mut skin_mut(casting).portions {
            let colorant = portion.colorant();
            // What was not in when it was read is as it was measured out.
            if let Some(seen) = learnt.iter().find(|seen| seen.colorant() == colorant) {
                portion.mass = seen.mass;
            }
        }
    }

    /// `shelf` with what was learnt of its materials.
    pub(super) fn shelf(&self, shelf: &Shelf) -> Shelf {
        let mut learnt = shelf.clone();
        for (doubt, sds) in &self.off {
            if doubt.is_of_calibration() {
                doubt.alter(&mut learnt, &shelf.joint_directions, *sds);
            }
        }
        learnt
    }
}
