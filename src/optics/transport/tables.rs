//! All that is tabulated for one refractive index, each when first asked for.

use std::sync::OnceLock;

use super::bed::Beds;
use super::directions::{ASYMMETRY, CAUGHT, Directions, FOLLOWED};
use super::film::Films;
use super::sheet::Sheet;
use super::slab::{Behind, Depths, Fluxes, Slab};

/// Entries of a matrix from flux in each direction to flux in each direction.
const ENTRIES: usize = FOLLOWED * FOLLOWED;

/// All tables for one refractive index.
#[derive(Debug)]
pub(super) struct Tables {
    n: f64,
    directions: Directions<FOLLOWED>,
    bonded: OnceLock<Films>,
    laid: OnceLock<Films>,
    /// What slabs send back, then what they let pass.
    slabs: OnceLock<Sheet<{ 2 * ENTRIES }>>,
    beds: OnceLock<Beds>,
}

/// More of the directions that leave: through two surfaces, one after the other, those near total reflection pass far
/// less than the mean of all that leave.
fn through_two_surfaces(n: f64) -> Directions<9> {
    Directions::new(n, ASYMMETRY, CAUGHT)
}

impl Tables {
    pub(super) fn new(n: f64) -> Self {
        Self {
            n,
            directions: Directions::new(n, ASYMMETRY, CAUGHT),
            bonded: OnceLock::new(),
            laid: OnceLock::new(),
            slabs: OnceLock::new(),
            beds: OnceLock::new(),
        }
    }

    pub(super) fn n(&self) -> f64 {
        self.n
    }

    pub(super) fn directions(&self) -> &Directions<FOLLOWED> {
        &self.directions
    }

    /// The reading of one film on a diffuse backing, without what its surface mirrors.
    #[inline]
    pub(super) fn film(&self, depths: Depths, behind: Behind) -> f64 {
        match behind {
            Behind::Bonded(backing) => self
                .bonded
                .get_or_init(|| Films::bonded(&self.directions))
                .reading(depths, backing),
            Behind::Laid(backing) => self
                .laid
                .get_or_init(|| Films::laid(&through_two_surfaces(self.n)))
                .reading(depths, backing),
        }
    }

    /// The slab of these depths.
    pub(super) fn slab(&self, depths: Depths) -> Slab<FOLLOWED> {
        let slabs = self.slabs.get_or_init(|| {
            Sheet::new(&self.directions, |Slab { reflected, passed }| {
                let mut entries = [0.0; 2 * ENTRIES];
                entries[..ENTRIES].copy_from_slice(reflected.as_slice());
                entries[ENTRIES..].copy_from_slice(passed.as_slice());
                entries
            })
        });
        let entries = slabs.at(depths, |changed| changed);
        let (reflected, passed) = entries.split_at(ENTRIES);
        Slab {
            reflected: Fluxes::from_column_slice(reflected),
            passed: Fluxes::from_column_slice(passed),
        }
    }

    /// What a bed of absorption coefficient µa and reduced scattering coefficient µs′ sends back.
    pub(super) fn bed(&self, absorption: f64, scattering: f64) -> Fluxes<FOLLOWED> {
        let beds = self.beds.get_or_init(|| Beds::new(&self.directions));
        beds.sent_back(absorption, scattering)
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    /// How far a reading by the tables may be from one by adding matrices, in R.
    const TOLERANCE: f64 = 1e-4;

    /// From none at all to beyond the table's slabs, between its knots.
    const ABSORPTIONS: [f64; 13] = [
        0.0, 3e-6, 1e-4, 7e-4, 4e-3, 0.021, 0.13, 0.37, 0.9, 2.3, 7.1, 26.0, 45.0,
    ];
    const SCATTERINGS: [f64; 13] = [
        0.0, 2e-5, 6e-4, 3e-3, 0.011, 0.07, 0.31, 0.8, 2.9, 8.8, 33.0, 170.0, 900.0,
    ];

    fn all_depths() -> impl Iterator<Item = Depths> {
        ABSORPTIONS.into_iter().flat_map(|absorption| {
            SCATTERINGS.map(|scattering| Depths {
                absorption,
                scattering,
            })
        })
    }

    /// A slab so thick that nothing passes.
    fn direct_bed(directions: &Directions<FOLLOWED>, ratio: f64) -> Fluxes<FOLLOWED> {
        let mut slab = directions.slab(Depths {
            absorption: ratio,
            scattering: 1.0,
        });
        for _ in 0..22 {
            slab = slab.doubled();
        }
        slab.reflected
    }

    fn assert_films_agree<const N: usize>(
        tables: &Tables,
        directions: &Directions<N>,
        behind: fn(f64) -> Behind,
    ) {
        for depths in all_depths() {
            let slab = directions.slab(depths);
            for behind in [0.0, 0.045, 0.4, 0.86, 1.0].map(behind) {
                let exact = directions.read(&slab.over(&directions.sent_back(behind)));
                let table = tables.film(depths, behind);
                assert!(
                    (table - exact).abs() < TOLERANCE,
                    "{depths:?} {behind:?} at {}: {table} {exact}",
                    tables.n()
                );
            }
        }
    }

    #[test]
    fn films_agree_with_the_matrices() {
        for n in [1.4, 1.5] {
            let tables = Tables::new(n);
            assert_films_agree(&tables, tables.directions(), Behind::Bonded);
            assert_films_agree(&tables, &through_two_surfaces(n), Behind::Laid);
        }
    }

    #[test]
    fn slabs_on_a_bed_or_a_backing_agree_with_the_matrices() {
        for n in [1.4, 1.5] {
            let tables = Tables::new(n);
            let directions = tables.directions();
            let mut behinds: Vec<_> = [1e-9, 1e-4, 0.02, 0.3, 4.0, 100.0]
                .map(|ratio| (tables.bed(ratio, 1.0), direct_bed(directions, ratio)))
                .into();
            for reflectance in [0.0, 0.4, 1.0] {
                for behind in [Behind::Bonded(reflectance), Behind::Laid(reflectance)] {
                    let behind = directions.sent_back(behind);
                    behinds.push((behind, behind));
                }
            }
            for depths in all_depths() {
                let (table, exact) = (tables.slab(depths), directions.slab(depths));
                for (index, (behind, exact_behind)) in behinds.iter().enumerate() {
                    let table = directions.read(&table.over(behind));
                    let exact = directions.read(&exact.over(exact_behind));
                    assert!(
                        (table - exact).abs() < TOLERANCE,
                        "{n} {depths:?} {index}: {table} {exact}"
                    );
                }
            }
        }
    }

    #[test]
    fn a_deep_film_is_a_bed() {
        let tables = Tables::new(1.5);
        let directions = tables.directions();
        for ratio in [0.0, 1e-12, 1e-6, 1e-3, 0.02, 0.3, 4.0, 100.0, 1e4] {
            let read = directions.read(&tables.bed(ratio, 1.0));
            let exact = directions.read(&direct_bed(directions, ratio));
            assert_abs_diff_eq!(read, exact, epsilon = 2e-5);
        }
    }
}
