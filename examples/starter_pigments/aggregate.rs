//! Carbon black: open clusters of spheres so small that each absorbs for itself, while all of a
//! cluster scatter together.
//!
//! Method: Rayleigh–Debye–Gans for fractal aggregates. Absorption is that of the single spheres;
//! scattering is N² times a sphere's, lessened at each angle by the structure factor.
//! Source: Sorensen, Light scattering by fractal aggregates: a review, Aerosol Sci. Technol. 35,
//! 648–687 (2001). Limits: no multiple scattering inside a cluster; index contrast of the order
//! of 1 and spheres well below the wavelength.

use std::f64::consts::{E, PI};

use num_complex::Complex64;

use crate::mie;
use crate::particles::{Coefficients, cross_section_per_volume};

/// Fractal dimension and prefactor of clusters grown by diffusion: N = k0 (Rg / a)^D.
/// Source: Sorensen 2001 (D = 1.8, k0 = 1.3).
const DIMENSION: f64 = 1.8;
const PREFACTOR: f64 = 1.3;
/// Steps of the sum over the cosine of the scattering angle (midpoint rule).
const ANGLES: u16 = 200;

/// A typical cluster.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Aggregate {
    /// Diameter of one sphere, µm.
    pub(crate) sphere_um: f64,
    /// Spheres in a cluster.
    pub(crate) spheres: f64,
}

impl Aggregate {
    /// A cluster of the same spheres whose radius of gyration is `size` times this one's.
    pub(crate) fn scaled(self, size: f64) -> Self {
        Self {
            spheres: self.spheres * size.powf(DIMENSION),
            ..self
        }
    }

    /// Radius of gyration, µm.
    fn gyration_um(&self) -> f64 {
        self.sphere_um / 2.0 * (self.spheres / PREFACTOR).powf(1.0 / DIMENSION)
    }

    /// Coefficients per unit of volume fraction of solid, at a wavelength in the medium.
    pub(crate) fn coefficients(
        &self,
        relative_index: Complex64,
        wavelength_um: f64,
    ) -> Coefficients {
        let sphere = mie::sphere(relative_index, PI * self.sphere_um / wavelength_um);
        let section = cross_section_per_volume(self.sphere_um);

        let (mut reduced, mut norm) = (0.0, 0.0);
        for step in 0..ANGLES {
            let cosine = 2.0 * (f64::from(step) + 0.5) / f64::from(ANGLES) - 1.0;
            let rayleigh = 1.0 + cosine * cosine;
            let q_squared = (4.0 * PI / wavelength_um).powi(2) * (1.0 - cosine) / 2.0;
            let together = structure_factor(q_squared * self.gyration_um().powi(2));
            reduced += rayleigh * together * (1.0 - cosine);
            norm += rayleigh;
        }
        Coefficients {
            absorption: section * sphere.absorption(),
            reduced_scattering: section * sphere.scattering * self.spheres * reduced / norm,
        }
    }
}

/// Share of a cluster's scattering that stays in step, against (q Rg)².
///
/// Source: Dobbins and Megaridis, Absorption and scattering of light by polydisperse aggregates,
/// Appl. Opt. 30, 4747–4754 (1991).
fn structure_factor(qr_squared: f64) -> f64 {
    if qr_squared <= 1.5 * DIMENSION {
        (-qr_squared / 3.0).exp()
    } else {
        (3.0 * DIMENSION / (2.0 * E * qr_squared)).powf(DIMENSION / 2.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn the_two_branches_of_the_structure_factor_meet() {
        let meeting = 1.5 * DIMENSION;
        assert_relative_eq!(
            structure_factor(meeting * (1.0 - 1e-9)),
            structure_factor(meeting * (1.0 + 1e-9)),
            epsilon = 1e-8
        );
    }

    #[test]
    fn a_cluster_small_against_the_wavelength_scatters_n_times_as_much_per_gram() {
        let m = Complex64::new(1.04, 0.3);
        let lone = Aggregate {
            sphere_um: 0.01,
            spheres: PREFACTOR,
        };
        let cluster = Aggregate {
            sphere_um: 0.01,
            spheres: 20.0 * PREFACTOR,
        };
        let (lone, cluster) = (lone.coefficients(m, 100.0), cluster.coefficients(m, 100.0));
        assert_relative_eq!(cluster.absorption, lone.absorption, max_relative = 1e-12);
        assert_relative_eq!(
            cluster.reduced_scattering,
            20.0 * lone.reduced_scattering,
            max_relative = 1e-3
        );
    }
}
