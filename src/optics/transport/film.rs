//! One film on a diffuse backing: three numbers say all of it.

use nalgebra::SVector;

use super::directions::Directions;
use super::sheet::Sheet;
use super::slab::{Depths, Fluxes, Slab, solve};
use crate::optics::surface::diffuse_reflectance_from_outside;

/// What films read over a diffuse backing, without what their surface mirrors, by their two optical depths.
///
/// A film sends back α + β Rg / (1 − γ Rg) over a backing Rg: α over black, β through the film to the backing and from
/// there out, γ from the backing back to it. Tabulated are ln α, ln β and γ.
#[derive(Debug)]
pub(super) struct Films(Sheet<3>);

impl Films {
    /// Films bonded to what they lie on.
    pub(super) fn bonded<const N: usize>(directions: &Directions<N>) -> Self {
        Self::new(directions, Film::bonded)
    }

    /// Films with air beneath.
    pub(super) fn laid<const N: usize>(directions: &Directions<N>) -> Self {
        Self::new(directions, Film::laid)
    }

    fn new<const N: usize>(
        directions: &Directions<N>,
        film: impl Fn(&Directions<N>, &Slab<N>) -> Film<N>,
    ) -> Self {
        Self(Sheet::new(directions, |slab| {
            let [own, both_ways, again] = film(directions, slab).three_numbers(directions);
            // A film that lets next to nothing pass keeps a logarithm.
            [own.ln(), both_ways.max(f64::MIN_POSITIVE).ln(), again]
        }))
    }

    /// The reading of a film over a backing of this reflectance.
    #[inline]
    pub(super) fn reading(&self, depths: Depths, backing: f64) -> f64 {
        // α itself may vanish with scattering: a straight line is α's own, not its logarithm's.
        let changed = |[own, both_ways, again]: [f64; 3]| [own.max(-1.0).ln_1p(), both_ways, again];
        let [own, both_ways, again] = self.0.at(depths, changed);
        own.exp() + both_ways.exp() * backing / (1.0 - again * backing)
    }
}

/// A film seen from both sides: from above as matrices, from the backing as fluxes to and from it.
struct Film<const N: usize> {
    /// Flux sent up per unit flux from above.
    reflected: Fluxes<N>,
    /// Flux that reaches the top per unit flux from the backing.
    up: SVector<f64, N>,
    /// Flux that meets the backing per unit flux from above.
    down: SVector<f64, N>,
    /// Flux that comes back to the backing, by the film alone.
    again: f64,
}

impl<const N: usize> Film<N> {
    fn bonded(directions: &Directions<N>, slab: &Slab<N>) -> Self {
        let Slab { reflected, passed } = slab;
        Self {
            reflected: *reflected,
            up: passed * directions.diffuse,
            down: passed.row_sum().transpose(),
            again: (reflected * directions.diffuse).sum(),
        }
    }

    /// The film has a lower surface of its own, through which it meets the card.
    fn laid(directions: &Directions<N>, slab: &Slab<N>) -> Self {
        let Slab { reflected, passed } = slab;
        let mirrored = Fluxes::from_diagonal(&directions.mirrored);
        let leaving = directions.leaving();
        let entering = directions.entering();
        let between = Fluxes::identity() - reflected * mirrored;
        let down = solve(between, *passed);
        let reflected_down = solve(between, reflected * entering);
        Self {
            reflected: reflected + passed * mirrored * down,
            up: passed * (mirrored * reflected_down + entering),
            down: down.tr_mul(&leaving),
            again: leaving.dot(&reflected_down) + diffuse_reflectance_from_outside(directions.n()),
        }
    }

    /// α, β and γ of the film below the air surface, read by a perpendicular beam.
    fn three_numbers(&self, directions: &Directions<N>) -> [f64; 3] {
        let mirrored = Fluxes::from_diagonal(&directions.mirrored);
        let leaving = directions.leaving();
        let between = Fluxes::identity() - self.reflected * mirrored;
        let beam = directions.beam();
        let sent_up = solve(between, self.reflected.column(N - 1) * beam);
        let from_backing = solve(between, self.up);
        let to_backing = self.down[N - 1] * beam + self.down.dot(&(mirrored * sent_up));
        [
            leaving.dot(&sent_up),
            to_backing * leaving.dot(&from_backing),
            self.again + self.down.dot(&(mirrored * from_backing)),
        ]
    }
}
