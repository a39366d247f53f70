//! The directions that light is followed along inside a casting, and what the surface does to each.

use nalgebra::{DMatrix, SVector};

use super::slab::{Behind, Depths, Fluxes, Slab, solve};
use crate::optics::surface::{diffuse_reflectance_from_outside, diffuse_reflectance_from_within};

/// Directions each way that the model follows, the beam among them: three that the surface reflects whole, two
/// that leave.
pub(super) const FOLLOWED: usize = 6;
/// Those of them that the surface reflects whole.
pub(super) const CAUGHT: usize = 3;
/// Mean cosine of scattering, taken for every pigment.
pub(super) const ASYMMETRY: f64 = 0.65;

/// What the surface mirrors beyond the angle of total reflection: all, but for a trace that keeps light between two such
/// surfaces countable.
const CAUGHT_WHOLE: f64 = 1.0 - 1e-9;

/// `N` directions each way, of which the last is the entering beam alone.
///
/// Those that the surface reflects whole, and those that leave, are the nodes of two Gauss rules in the cosine; the
/// surface's reflectance is averaged over each node's share of cosines. The beam is perpendicular, feeds the others
/// and is fed by none.
#[derive(Clone, Debug)]
pub struct Directions<const N: usize> {
    n: f64,
    asymmetry: f64,
    cosine: SVector<f64, N>,
    /// Share of diffuse flux in each direction; they sum to 1.
    pub(super) diffuse: SVector<f64, N>,
    /// Reflectance of the surface from within.
    pub(super) mirrored: SVector<f64, N>,
    /// Flux scattered on, and back, per unit flux and depth where nothing is absorbed.
    ahead: Fluxes<N>,
    back: Fluxes<N>,
}

impl<const N: usize> Directions<N> {
    /// Directions in a medium of refractive index `n` (at least 1), whose scattering has mean cosine `asymmetry` (0 up to,
    /// not including, 1). Of the `N` directions `caught` are reflected whole. The rest, but for the beam, leave; one at
    /// least must.
    ///
    /// # Panics
    /// If one of these is out of its range; if some are caught at `n` = 1, where a surface reflects nothing whole, or none
    /// above it.
    pub fn new(n: f64, asymmetry: f64, caught: usize) -> Self {
        assert!(
            (1.0..f64::INFINITY).contains(&n),
            "a refractive index of {n}; expected 1 or more"
        );
        assert!(
            (0.0..1.0).contains(&asymmetry),
            "an asymmetry of {asymmetry}; expected 0 up to, not including, 1"
        );
        assert!(
            caught + 2 <= N,
            "{caught} of {N} directions caught; expected to leave one and the beam"
        );
        assert_eq!(
            caught > 0,
            n > 1.0,
            "{caught} directions caught at a refractive index of {n}; expected none at 1 and some above it"
        );
        let critical = (1.0 - 1.0 / (n * n)).sqrt();
        let leaving = N - 1 - caught;
        let inner = gauss(caught, 0.0, critical);
        let outer = gauss(leaving, critical, 1.0);
        let mut edges = vec![critical];
        for (_, weight) in &outer {
            edges.push(edges[edges.len() - 1] + weight);
        }
        let mut cosine = SVector::<f64, N>::repeat(1.0);
        let mut weight = SVector::<f64, N>::zeros();
        let mut mirrored = SVector::<f64, N>::repeat(CAUGHT_WHOLE);
        for (index, (node, share)) in inner.iter().chain(&outer).enumerate() {
            cosine[index] = *node;
            weight[index] = *share;
            if index >= caught {
                let edge = index - caught;
                mirrored[index] = mean_mirrored(n, edges[edge], edges[edge + 1].min(1.0));
            }
        }
        let mut diffuse: SVector<f64, N> = weight.component_mul(&cosine) * 2.0;
        diffuse /= diffuse.sum();
        // Over all leaving directions, what a few nodes mirror is made exact.
        let left: f64 = (caught..N - 1)
            .map(|index| diffuse[index] * (1.0 - mirrored[index]))
            .sum();
        let exact = (1.0 - diffuse_reflectance_from_within(n)) / left;
        for index in caught..N - 1 {
            mirrored[index] = 1.0 - exact * (1.0 - mirrored[index]);
        }
        mirrored[N - 1] = ((n - 1.0) / (n + 1.0)).powi(2);
        let (ahead, back) = scattered(&cosine, &weight, asymmetry);
        Self {
            n,
            asymmetry,
            cosine,
            diffuse,
            mirrored,
            ahead,
            back,
        }
    }

    /// The slab of these depths.
    ///
    /// # Panics
    /// If a depth is negative, infinite or not a number.
    pub fn slab(&self, depths: Depths) -> Slab<N> {
        let Depths {
            absorption,
            scattering,
        } = depths;
        for depth in [absorption, scattering] {
            assert!(
                (0.0..f64::INFINITY).contains(&depth),
                "an optical depth of {depth}; expected a number of 0 or more"
            );
        }
        let (depth, albedo) = self.cut(depths);
        let least = self.cosine.min();
        // Twice over this, the fourth-order start errs by less than 1e-6.
        let thin = 0.2 * least;
        let (mut start, mut doublings) = (depth, 0);
        while start > thin {
            start /= 2.0;
            doublings += 1;
        }
        let start = self.start(start, albedo);
        (0..doublings).fold(start, |slab, _| slab.doubled())
    }

    /// Optical depth and albedo once the sharp peak of forward scattering, which `N` directions cannot tell from no
    /// scattering, is cut.
    fn cut(&self, depths: Depths) -> (f64, f64) {
        let peak = self.asymmetry.powi(moments(N));
        let scattered = depths.scattering / (1.0 - self.asymmetry) * (1.0 - peak);
        let depth = depths.absorption + scattered;
        let albedo = if depth > 0.0 { scattered / depth } else { 0.0 };
        (depth, albedo)
    }

    /// A slab so thin that a few terms of its solution will do: two of half the depth and one of the whole, each right to
    /// second order, weighted so that the third-order errors go.
    ///
    /// Source: W. J. Wiscombe (1976), Journal of Quantitative Spectroscopy and Radiative Transfer 16, 637–658 (the
    /// diamond start); L. F. Richardson (1911), Philosophical Transactions A 210, 307–357.
    fn start(&self, depth: f64, albedo: f64) -> Slab<N> {
        let whole = self.diamond(depth, albedo);
        let halves = self.diamond(depth / 2.0, albedo).doubled();
        let mixed = |halves: &Fluxes<N>, whole: &Fluxes<N>| (halves * 4.0 - whole) / 3.0;
        Slab {
            reflected: mixed(&halves.reflected, &whole.reflected),
            passed: mixed(&halves.passed, &whole.passed),
        }
    }

    fn diamond(&self, depth: f64, albedo: f64) -> Slab<N> {
        let lost =
            Fluxes::from_diagonal(&self.cosine.map(|cosine| 1.0 / cosine)) - self.ahead * albedo;
        let back = self.back * albedo;
        // Sums and differences of the two ways decay each by a law of its own.
        let decay = |rate: Fluxes<N>| {
            let half = rate * (depth / 2.0);
            solve(Fluxes::identity() + half, Fluxes::identity() - half)
        };
        let (sums, differences) = (decay(lost - back), decay(lost + back));
        Slab {
            reflected: (sums - differences) / 2.0,
            passed: (sums + differences) / 2.0,
        }
    }

    /// Flux sent back, in each direction, per unit flux in each direction that meets what lies behind.
    pub fn sent_back(&self, behind: Behind) -> Fluxes<N> {
        match behind {
            Behind::Bonded(reflectance) => {
                self.diffuse * SVector::<f64, N>::repeat(reflectance).transpose()
            }
            Behind::Laid(reflectance) => {
                let outside = diffuse_reflectance_from_outside(self.n);
                let card = reflectance / (1.0 - outside * reflectance);
                let left = self.leaving() * card;
                Fluxes::from_diagonal(&self.mirrored) + self.entering() * left.transpose()
            }
        }
    }

    /// What is sent back by a body that itself sends back `within`, behind a wall that is bonded to it over the share `wet`
    /// (0–1) and has gas behind it over the rest: there the wall mirrors, and what passes it meets the body diffuse. Light
    /// is mixed in the body and leaves it by either way.
    pub(super) fn behind_wall(&self, within: &Fluxes<N>, wet: f64) -> Fluxes<N> {
        let gas = 1.0 - wet;
        let whole = SVector::<f64, N>::repeat(1.0).transpose();
        let bonded = Fluxes::from_diagonal_element(wet);
        let inward = bonded + self.diffuse * self.leaving().transpose() * gas;
        let outward = bonded + self.entering() * whole * gas;
        let again = self.diffuse * whole * (gas * diffuse_reflectance_from_outside(self.n));
        let back = solve(Fluxes::identity() - within * again, within * inward);
        Fluxes::from_diagonal(&self.mirrored) * gas + outward * back
    }

    /// Flux inside, in each direction, per unit of diffuse flux that meets the surface from air.
    pub(super) fn entering(&self) -> SVector<f64, N> {
        let through = self.diffuse.component_mul(&self.leaving());
        through * ((1.0 - diffuse_reflectance_from_outside(self.n)) / through.sum())
    }

    /// What leaves through the surface of a body that sends back `within`, per unit of a perpendicular beam in air; without
    /// what the surface itself mirrors.
    pub fn read(&self, within: &Fluxes<N>) -> f64 {
        self.read_open(within, 1.0)
    }

    /// The same of an open face: of a body of which the share `wet` (0–1) has the surface, and the rest none. There the beam
    /// enters diffuse, and all that comes up leaves.
    pub(super) fn read_open(&self, within: &Fluxes<N>, wet: f64) -> f64 {
        let mirrored = Fluxes::from_diagonal(&self.mirrored) * wet;
        let beam = within.column(N - 1) * (wet * self.beam()) + within * self.diffuse * (1.0 - wet);
        let up = solve(Fluxes::identity() - within * mirrored, beam);
        up.sum() - up.dot(&self.mirrored) * wet
    }

    /// Share of each direction's flux that leaves through the surface.
    pub(super) fn leaving(&self) -> SVector<f64, N> {
        self.mirrored.map(|mirrored| 1.0 - mirrored)
    }

    /// Refractive index of the medium.
    pub(super) fn n(&self) -> f64 {
        self.n
    }

    /// Share of the beam that enters.
    pub(super) fn beam(&self) -> f64 {
        1.0 - self.mirrored[N - 1]
    }
}

/// How many moments of the phase function are kept: as many as there are directions that scatter.
fn moments(directions: usize) -> i32 {
    // At most a few dozen.
    i32::try_from(directions - 1).unwrap_or(i32::MAX)
}

/// Scattering on and back of the Henyey–Greenstein law less its peak, as flux to flux.
fn scattered<const N: usize>(
    cosine: &SVector<f64, N>,
    weight: &SVector<f64, N>,
    asymmetry: f64,
) -> (Fluxes<N>, Fluxes<N>) {
    let peak = asymmetry.powi(moments(N));
    let mut ahead = Fluxes::<N>::zeros();
    let mut back = Fluxes::<N>::zeros();
    for from in 0..N {
        for to in 0..N {
            let mut polynomials = [legendre(cosine[from]), legendre(cosine[to])];
            let (mut on, mut against) = (0.0, 0.0);
            let mut power = 1.0;
            let mut sign = 1.0;
            for order in 0..N - 1 {
                let moment = (power - peak) / (1.0 - peak);
                let both: f64 = polynomials.iter_mut().filter_map(Iterator::next).product();
                let term = (2.0 * order as f64 + 1.0) * moment * both;
                on += term;
                against += sign * term;
                power *= asymmetry;
                sign = -sign;
            }
            let share = weight[to] / (2.0 * cosine[from]);
            ahead[(to, from)] = on * share;
            back[(to, from)] = against * share;
        }
        // The rule's few nodes sum the last moment a little wrong: what is scattered goes somewhere.
        let sum = ahead.column(from).sum() + back.column(from).sum();
        let scale = 1.0 / (cosine[from] * sum);
        ahead.column_mut(from).scale_mut(scale);
        back.column_mut(from).scale_mut(scale);
    }
    (ahead, back)
}

/// The Legendre polynomials of orders 0, 1, 2, … at `x`.
fn legendre(x: f64) -> impl Iterator<Item = f64> {
    let mut last = (1.0, 0.0);
    (0..).map(move |order: u32| {
        let (value, before) = last;
        let order = f64::from(order);
        last = (
            ((2.0 * order + 1.0) * x * value - order * before) / (order + 1.0),
            value,
        );
        value
    })
}

/// Nodes and weights of Gauss's rule of `count` points from `low` to `high`.
///
/// Source: G. H. Golub, J. H. Welsch (1969), Mathematics of Computation 23, 221–230.
fn gauss(count: usize, low: f64, high: f64) -> Vec<(f64, f64)> {
    // The solver takes no empty matrix.
    if count == 0 {
        return Vec::new();
    }
    let jacobi = DMatrix::from_fn(count, count, |row, column| {
        if row.abs_diff(column) == 1 {
            let order = row.max(column) as f64;
            order / (4.0 * order * order - 1.0).sqrt()
        } else {
            0.0
        }
    });
    let solved = jacobi.symmetric_eigen();
    let mut rule: Vec<(f64, f64)> = (0..count)
        .map(|index| {
            let node = low + (high - low) * (solved.eigenvalues[index] + 1.0) / 2.0;
            (node, (high - low) * solved.eigenvectors[(0, index)].powi(2))
        })
        .collect();
    rule.sort_by(|one, other| one.0.total_cmp(&other.0));
    rule
}

/// Fresnel's reflectance from within, unpolarised, averaged by flux over cosines from `low` to `high`.
fn mean_mirrored(n: f64, low: f64, high: f64) -> f64 {
    const STEPS: u32 = 2000;
    let (mut mirrored, mut all) = (0.0, 0.0);
    for step in 0..STEPS {
        let cosine = low + (high - low) * (f64::from(step) + 0.5) / f64::from(STEPS);
        let outside = (1.0 - n * n * (1.0 - cosine * cosine)).max(0.0).sqrt();
        let perpendicular = ((n * cosine - outside) / (n * cosine + outside)).powi(2);
        let parallel = ((cosine - n * outside) / (cosine + n * outside)).powi(2);
        mirrored += cosine * (perpendicular + parallel) / 2.0;
        all += cosine;
    }
    mirrored / all
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn diffuse_light_is_mirrored_from_within_as_by_the_closed_form() {
        for n in [1.2, 1.33, 1.5, 1.8] {
            let directions: Directions<FOLLOWED> = Directions::new(n, ASYMMETRY, CAUGHT);
            let mirrored = directions.diffuse.dot(&directions.mirrored);
            assert_abs_diff_eq!(mirrored, diffuse_reflectance_from_within(n), epsilon = 1e-8);
        }
    }

    #[test]
    fn a_slab_that_absorbs_nothing_loses_nothing() {
        let directions: Directions<FOLLOWED> = Directions::new(1.5, ASYMMETRY, CAUGHT);
        for scattering in [1e-3, 0.1, 1.0, 30.0, 1000.0] {
            let slab = directions.slab(Depths {
                absorption: 0.0,
                scattering,
            });
            let all = slab.reflected + slab.passed;
            for from in 0..FOLLOWED {
                assert_abs_diff_eq!(all.column(from).sum(), 1.0, epsilon = 1e-9);
            }
        }
    }

    #[test]
    fn a_slab_that_scatters_nothing_follows_bouguer_along_each_direction() {
        let directions: Directions<FOLLOWED> = Directions::new(1.5, ASYMMETRY, CAUGHT);
        for absorption in [0.0, 1e-3, 0.1, 3.0] {
            let slab = directions.slab(Depths {
                absorption,
                scattering: 0.0,
            });
            for index in 0..FOLLOWED {
                let expected = (-absorption / directions.cosine[index]).exp();
                assert_abs_diff_eq!(slab.passed[(index, index)], expected, epsilon = 1e-6);
            }
            assert_abs_diff_eq!(slab.reflected.amax(), 0.0, epsilon = 1e-12);
        }
    }

    #[test]
    #[should_panic(expected = "caught at a refractive index of 1;")]
    fn nothing_is_caught_where_there_is_no_surface() {
        let _: Directions<FOLLOWED> = Directions::new(1.0, ASYMMETRY, CAUGHT);
    }

    #[test]
    #[should_panic(expected = "an optical depth of inf;")]
    fn a_slab_has_an_end() {
        let directions: Directions<FOLLOWED> = Directions::new(1.5, ASYMMETRY, CAUGHT);
        directions.slab(Depths {
            absorption: 0.1,
            scattering: f64::INFINITY,
        });
    }
}
