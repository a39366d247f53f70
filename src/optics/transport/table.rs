//! α, β and γ of a film, and what a bed sends back, tabulated for one refractive index.

use std::sync::OnceLock;

use nalgebra::SVector;

use super::directions::{Directions, Fluxes};
use super::slab::{Behind, Slab, inverse};
use super::spline::{self, Values};
use super::{CAUGHT, Depths, FOLLOWED, Transport};
use crate::optics::surface::diffuse_reflectance_from_outside;

/// All tables for one refractive index.
#[derive(Debug)]
pub(super) struct Tables {
    n: f64,
    directions: Directions<FOLLOWED>,
    bonded: FilmTable,
    /// For what lies behind air, which few ask for.
    laid: OnceLock<FilmTable>,
    beds: Vec<Values>,
}

/// What a bed too thick to see through sends back.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bed {
    /// Share of diffuse light that meets it from within.
    pub(super) within: f64,
    /// Share of a perpendicular beam in air, through its surface, without what that mirrors.
    pub(super) read: f64,
}

/// Knots a doubling.
const KNOTS_A_DOUBLING: usize = 2;

/// An axis of a film's table: optical depths from 2^`first` to 2^`last`, knots evenly spaced in the logarithm.
struct Axis {
    first: i32,
    last: i32,
}

const ABSORPTION: Axis = Axis {
    first: -16,
    last: 6,
};
const SCATTERING: Axis = Axis {
    first: -14,
    last: 11,
};
/// µa / µs′ of beds.
const RATIO: Axis = Axis {
    first: -24,
    last: 11,
};

impl Axis {
    const fn knots(&self) -> usize {
        (self.last - self.first).unsigned_abs() as usize * KNOTS_A_DOUBLING + 1
    }

    /// The least depth that is looked up: a spline is poor in its first doubling.
    fn least(&self) -> f64 {
        f64::from(self.first + 1).exp2()
    }

    /// The greatest depth that is looked up: a spline is poor in its last doubling.
    fn most(&self) -> f64 {
        f64::from(self.last - 1).exp2()
    }

    /// The depth at a knot.
    fn depth(&self, knot: usize) -> f64 {
        (f64::from(self.first) + knot as f64 / KNOTS_A_DOUBLING as f64).exp2()
    }

    /// Where a depth lies along the knots.
    fn place(&self, depth: f64) -> f64 {
        (depth.log2() - f64::from(self.first)) * KNOTS_A_DOUBLING as f64
    }
}

impl Tables {
    pub(super) fn new(n: f64) -> Self {
        let directions = Directions::new(n, Transport::ASYMMETRY, CAUGHT);
        Self {
            n,
            bonded: FilmTable::new(Film::bonded, &directions),
            laid: OnceLock::new(),
            beds: beds(&directions),
            directions,
        }
    }

    pub(super) fn n(&self) -> f64 {
        self.n
    }

    pub(super) fn directions(&self) -> &Directions<FOLLOWED> {
        &self.directions
    }

    /// The reading of a film, without what its surface mirrors.
    pub(super) fn film(&self, depths: Depths, behind: Behind) -> f64 {
        let (table, behind) = match behind {
            Behind::Bonded(reflectance) => (&self.bonded, reflectance),
            Behind::Laid(reflectance) => {
                let new = || FilmTable::new(Film::laid, &self.directions);
                (self.laid.get_or_init(new), reflectance)
            }
        };
        let ThreeNumbers {
            own,
            both_ways,
            again,
        } = table.at(depths);
        own + both_ways * behind / (1.0 - again * behind)
    }

    /// A bed of absorption coefficient µa and reduced scattering coefficient µs′.
    pub(super) fn bed(&self, absorption: f64, scattering: f64) -> Bed {
        if scattering <= 0.0 {
            return Bed {
                within: 0.0,
                read: 0.0,
            };
        }
        let ratio = absorption / scattering;
        let place = RATIO.place(ratio.clamp(RATIO.least(), RATIO.most()));
        let (knot, share) = spline::split(place, RATIO.knots());
        let weights = spline::weights(share);
        let [within, read] = [0, 1].map(|value| -> f64 {
            let controls = &self.beds[knot..knot + 4];
            controls
                .iter()
                .zip(weights)
                .map(|(control, weight)| weight * control[value])
                .sum()
        });
        // Beyond the table a bed is a black that sends back the less the more it absorbs.
        let beyond = (RATIO.most() / ratio).min(1.0);
        Bed {
            within: within * beyond,
            read: read * beyond,
        }
    }
}

/// What a film sends back over a diffuse backing Rg: α + β Rg / (1 − γ Rg).
#[derive(Clone, Copy, Debug)]
struct ThreeNumbers {
    /// α: over black.
    own: f64,
    /// β: through the film to the backing, and from there out.
    both_ways: f64,
    /// γ: from the backing back to it.
    again: f64,
}

/// ln α, ln β and γ over the logarithms of the two optical depths.
#[derive(Debug)]
struct FilmTable {
    controls: Vec<[Values; SCATTERING.knots() + 2]>,
}

impl FilmTable {
    fn new(
        film: impl Fn(&Directions<FOLLOWED>, &Slab<FOLLOWED>) -> Film,
        directions: &Directions<FOLLOWED>,
    ) -> Self {
        let (rows, columns) = (ABSORPTION.knots(), SCATTERING.knots());
        let mut values = vec![vec![[0.0; 4]; columns]; rows];
        // Along a diagonal each slab is twice one before it: the next is had by one doubling.
        let mut slabs: Vec<Vec<Option<Slab<FOLLOWED>>>> = vec![vec![None; columns]; rows];
        for row in 0..rows {
            for column in 0..columns {
                let half = row
                    .checked_sub(KNOTS_A_DOUBLING)
                    .zip(column.checked_sub(KNOTS_A_DOUBLING))
                    .and_then(|(row, column)| slabs[row][column].take());
                let slab = half.map_or_else(
                    || {
                        directions.slab(Depths {
                            absorption: ABSORPTION.depth(row),
                            scattering: SCATTERING.depth(column),
                        })
                    },
                    |half| half.doubled(),
                );
                let ThreeNumbers {
                    own,
                    both_ways,
                    again,
                } = film(directions, &slab).three_numbers(directions);
                // A film that lets next to nothing pass keeps a logarithm.
                values[row][column] = [own.ln(), both_ways.max(f64::MIN_POSITIVE).ln(), again, 0.0];
                slabs[row][column] = Some(slab);
            }
        }
        let along: Vec<Vec<Values>> = values.iter().map(|row| spline::controls(row)).collect();
        let mut controls = vec![[[0.0; 4]; SCATTERING.knots() + 2]; rows + 2];
        for column in 0..columns + 2 {
            let across: Vec<Values> = along.iter().map(|row| row[column]).collect();
            for (row, control) in spline::controls(&across).into_iter().enumerate() {
                controls[row][column] = control;
            }
        }
        Self { controls }
    }

    fn at(&self, depths: Depths) -> ThreeNumbers {
        let Depths {
            mut absorption,
            mut scattering,
        } = depths;
        // Deeper than the table's films nothing passes, and the ratio alone counts.
        let shrink = (ABSORPTION.most() / absorption).min(SCATTERING.most() / scattering);
        if shrink < 1.0 {
            absorption *= shrink;
            scattering *= shrink;
        }
        // Thinner than its thinnest, all is a straight line in the depths.
        let (x, y) = (
            absorption.max(ABSORPTION.least()),
            scattering.max(SCATTERING.least()),
        );
        let (row, across) = spline::split(ABSORPTION.place(x), ABSORPTION.knots());
        let (column, along) = spline::split(SCATTERING.place(y), SCATTERING.knots());
        let mut at = self.sum(row, column, spline::weights(across), spline::weights(along));
        let mut own = 1.0;
        if absorption < x {
            let slope = self.sum(row, column, spline::slopes(across), spline::weights(along));
            add(&mut at, line(absorption, x), slope);
        }
        if scattering < y {
            let mut slope = self.sum(row, column, spline::weights(across), spline::slopes(along));
            // α itself may vanish with scattering; its logarithm may not be drawn out straight.
            own += line(scattering, y) * slope[0];
            slope[0] = 0.0;
            add(&mut at, line(scattering, y), slope);
        }
        ThreeNumbers {
            own: own * at[0].exp(),
            both_ways: at[1].exp(),
            again: at[2],
        }
    }

    #[inline]
    fn sum(&self, row: usize, column: usize, across: [f64; 4], along: [f64; 4]) -> Values {
        let mut sum = [0.0; 4];
        for (controls, across) in self.controls[row..row + 4].iter().zip(across) {
            for (control, along) in controls[column..column + 4].iter().zip(along) {
                let weight = across * along;
                for (sum, value) in sum.iter_mut().zip(control) {
                    *sum += weight * value;
                }
            }
        }
        sum
    }
}

/// How many knots away `depth` lies on the tangent at `least`, where a straight line in the depth is meant.
fn line(depth: f64, least: f64) -> f64 {
    (depth / least - 1.0) / std::f64::consts::LN_2 * KNOTS_A_DOUBLING as f64
}

fn add(sum: &mut Values, factor: f64, values: Values) {
    for (sum, value) in sum.iter_mut().zip(values) {
        *sum += factor * value;
    }
}

/// A film seen from both sides: from above as matrices, from the backing as fluxes to and from it.
struct Film {
    /// Flux sent up per unit flux from above.
    reflected: Fluxes<FOLLOWED>,
    /// Flux that reaches the top per unit flux from the backing.
    up: SVector<f64, FOLLOWED>,
    /// Flux that meets the backing per unit flux from above.
    down: SVector<f64, FOLLOWED>,
    /// Flux that comes back to the backing, by the film alone.
    again: f64,
}

impl Film {
    fn bonded(directions: &Directions<FOLLOWED>, slab: &Slab<FOLLOWED>) -> Self {
        let Slab { reflected, passed } = slab;
        Self {
            reflected: *reflected,
            up: passed * directions.diffuse,
            down: passed.row_sum().transpose(),
            again: (reflected * directions.diffuse).sum(),
        }
    }

    /// The film has a lower surface of its own, through which it meets the card.
    fn laid(directions: &Directions<FOLLOWED>, slab: &Slab<FOLLOWED>) -> Self {
        let Slab { reflected, passed } = slab;
        let mirrored = Fluxes::from_diagonal(&directions.mirrored);
        let leaving = directions.leaving();
        let between = inverse(Fluxes::identity() - reflected * mirrored);
        let mirrored_up = passed * mirrored * between;
        let entering = directions.entering();
        Self {
            reflected: reflected + mirrored_up * passed,
            up: (mirrored_up * reflected + passed) * entering,
            down: (between * passed).tr_mul(&leaving),
            again: leaving.dot(&(between * reflected * entering))
                + diffuse_reflectance_from_outside(directions.n()),
        }
    }

    /// The film below the air surface, read by a perpendicular beam.
    fn three_numbers(&self, directions: &Directions<FOLLOWED>) -> ThreeNumbers {
        let mirrored = Fluxes::from_diagonal(&directions.mirrored);
        let leaving = directions.leaving();
        let between = inverse(Fluxes::identity() - self.reflected * mirrored);
        let beam = directions.beam();
        let sent_up = between * self.reflected.column(FOLLOWED - 1) * beam;
        let from_backing = between * self.up;
        let to_backing = self.down[FOLLOWED - 1] * beam + self.down.dot(&(mirrored * sent_up));
        ThreeNumbers {
            own: leaving.dot(&sent_up),
            both_ways: to_backing * leaving.dot(&from_backing),
            again: self.again + self.down.dot(&(mirrored * from_backing)),
        }
    }
}

fn beds(directions: &Directions<FOLLOWED>) -> Vec<Values> {
    let values: Vec<Values> = (0..RATIO.knots())
        .map(|knot| {
            // Deep enough that neither scattering alone nor absorption alone lets light pass.
            let ratio = RATIO.depth(knot);
            let mut slab = directions.slab(Depths {
                absorption: ratio,
                scattering: 1.0,
            });
            for _ in 0..24 {
                slab = slab.doubled();
            }
            let within = (slab.reflected * directions.diffuse).sum();
            [within, directions.read(&slab.reflected), 0.0, 0.0]
        })
        .collect();
    spline::controls(&values)
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    /// The reading by adding matrices, without tables.
    fn direct(directions: &Directions<FOLLOWED>, depths: Depths, behind: Behind) -> f64 {
        let within = directions.slab(depths).over(&directions.sent_back(behind));
        directions.read(&within)
    }

    #[test]
    fn the_table_agrees_with_the_matrices_to_1e_4() {
        for n in [1.4, 1.5] {
            let tables = Tables::new(n);
            // From none at all to beyond the table's films, between its knots.
            let depths = [
                0.0, 3e-6, 1e-4, 7e-4, 4e-3, 0.021, 0.13, 0.37, 0.9, 2.3, 7.1, 26.0, 45.0,
            ];
            let scatterings = [
                0.0, 2e-5, 6e-4, 3e-3, 0.011, 0.07, 0.31, 0.8, 2.9, 8.8, 33.0, 170.0, 900.0,
            ];
            for absorption in depths {
                for scattering in scatterings {
                    let depths = Depths {
                        absorption,
                        scattering,
                    };
                    for reflectance in [0.0, 0.045, 0.4, 0.86, 1.0] {
                        for behind in [Behind::Bonded(reflectance), Behind::Laid(reflectance)] {
                            let table = tables.film(depths, behind);
                            let exact = direct(&tables.directions, depths, behind);
                            assert!(
                                (table - exact).abs() < 1e-4,
                                "{n} {depths:?} {behind:?}: {table} {exact}"
                            );
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn a_deep_film_is_a_bed() {
        let tables = Tables::new(1.5);
        for ratio in [1e-3, 0.02, 0.3, 4.0, 100.0] {
            let deep = Depths {
                absorption: 200.0 * ratio,
                scattering: 200.0,
            };
            let bed = tables.bed(ratio, 1.0);
            let read = direct(&tables.directions, deep, Behind::Bonded(0.0));
            assert_abs_diff_eq!(bed.read, read, epsilon = 2e-5);
        }
    }
}
