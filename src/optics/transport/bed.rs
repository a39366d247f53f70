//! What beds too thick to see through send back.

use super::directions::{Directions, FOLLOWED};
use super::slab::{Depths, Fluxes};
use super::spline::{self, Axis};

/// µa / µs′. Below its least a bed sends back all but some millionths.
const RATIO: Axis = Axis::new(-40, 11);

/// What a bed sends back, as flux in each direction to flux in each direction, by µa / µs′.
#[derive(Debug)]
pub(super) struct Beds(Vec<[f64; FOLLOWED * FOLLOWED]>);

impl Beds {
    pub(super) fn new(directions: &Directions<FOLLOWED>) -> Self {
        let reflected: Vec<_> = (0..RATIO.knots())
            .map(|knot| {
                let mut slab = directions.slab(Depths {
                    absorption: RATIO.at(knot),
                    scattering: 1.0,
                });
                // Deep enough that nothing passes where next to nothing is absorbed.
                for _ in 0..24 {
                    slab = slab.doubled();
                }
                let mut sent = [0.0; FOLLOWED * FOLLOWED];
                sent.copy_from_slice(slab.reflected.as_slice());
                sent
            })
            .collect();
        Self(spline::controls(&reflected))
    }

    /// The bed of absorption coefficient µa and reduced scattering coefficient µs′.
    pub(super) fn sent_back(&self, absorption: f64, scattering: f64) -> Fluxes<FOLLOWED> {
        if scattering <= 0.0 {
            return Fluxes::zeros();
        }
        let ratio = absorption / scattering;
        let (knot, share) = RATIO.split(ratio.clamp(RATIO.least(), RATIO.most()));
        let around = self.0[knot..].first_chunk();
        let around = around.expect("a knot has four control points around it");
        let mut sum = [0.0; FOLLOWED * FOLLOWED];
        spline::add_weighted(&mut sum, around, spline::weights(share));
        // Beyond the table a bed is a black that sends back the less the more it absorbs.
        let beyond = (RATIO.most() / ratio).min(1.0);
        Fluxes::from_column_slice(&sum) * beyond
    }
}
