//! From a painted patch to optical constants, for pigments that have none in print.
//!
//! A patch gives K/S alone. With the grain size and the real part of the index stated, there is
//! one extinction coefficient k(λ) for which Mie grains have that K/S (or, for a tint, a K of
//! that shape): it is found by bisection, and then K and S per gram follow like any mineral's.

use std::error::Error;

use num_complex::Complex64;

use crate::grid::{self, Samples};
use crate::particles::{Coefficients, Form, MEDIUM_INDEX, Ray, of_index};
use crate::tables;

/// Surface reflection of light that enters (k1) and of diffuse light that leaves (k2), at n = 1.5.
/// Source: Saunderson, J. Opt. Soc. Am. 32, 727–736 (1942).
const K1: f64 = 0.04;
const K2: f64 = 0.596;
/// The least extinction coefficient that is tried.
const LEAST_EXTINCTION: f64 = 1e-6;
/// K/S of grains rises with the extinction coefficient up to about 0.6 and falls beyond, as they
/// turn metallic; their K alone rises on.
const MOST_EXTINCTION_OF_A_MASSTONE: f64 = 0.55;
const MOST_EXTINCTION_OF_A_TINT: f64 = 1.5;
/// Halvings of ln k: its range, 14, over 2^50 is below rounding.
const HALVINGS: u8 = 50;

/// How deep the colour of a patch is, and so what it tells about its pigment.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Depth {
    /// The pigment alone, opaque: K/S of the pigment itself.
    Masstone,
    /// The pigment in much white: K/S of the mix has the shape of the pigment's K. Its height is
    /// set by the extinction coefficient at the peak.
    Tint {
        /// Extinction coefficient k of the solid where it absorbs most.
        peak_extinction: f64,
    },
}

/// A painted patch and what must be known beside it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Patch {
    /// Identifier in data/painted_patches.csv.
    pub(crate) identifier: &'static str,
    pub(crate) depth: Depth,
    /// Below this the patch is not trusted and K/S is held: the camera reads every dark patch
    /// of the set, blacks too, some 0.01 to 0.02 too light at 410 to 430 nm.
    pub(crate) trusted_from_nm: f64,
    /// Real part of the solid's refractive index.
    pub(crate) n: f64,
}

impl Patch {
    /// The solid's optical constants as one ray.
    ///
    /// # Errors
    /// If the patch is not in the table, or grains of this size and index cannot have its K/S.
    pub(crate) fn rays(&self, form: &Form) -> Result<Vec<Ray>, Box<dyn Error>> {
        let ratio = self.k_over_s()?;
        let mut k = [0.0; grid::COUNT];
        match self.depth {
            Depth::Masstone => {
                for ((k, nm), ratio) in k.iter_mut().zip(grid::wavelengths_nm()).zip(ratio) {
                    *k = self.solve(form, nm, |c| c.k() / c.s(), ratio)?;
                }
            }
            Depth::Tint { peak_extinction } => {
                let (peak_nm, peak) = grid::wavelengths_nm()
                    .into_iter()
                    .zip(ratio)
                    .fold((0.0, 0.0), |best, at| if at.1 > best.1 { at } else { best });
                let height = self.coefficients(form, peak_nm, peak_extinction).k() / peak;
                for ((k, nm), ratio) in k.iter_mut().zip(grid::wavelengths_nm()).zip(ratio) {
                    *k = self.solve(form, nm, Coefficients::k, height * ratio)?;
                }
            }
        }
        Ok(vec![Ray {
            share: 1.0,
            n: [self.n; grid::COUNT],
            k,
        }])
    }

    /// K/S of the patch, surface removed, lightly smoothed.
    ///
    /// # Errors
    /// If the patch is not in the table, or is darker than its surface alone can be.
    fn k_over_s(&self) -> Result<Samples, Box<dyn Error>> {
        let read = tables::patch_reflectance(self.identifier)?;
        if let Some(dark) = read.iter().find(|&&measured| measured <= K1) {
            return Err(format!(
                "painted patch `{}`: reflectance is {dark}; expected more than the surface's own \
                 {K1} (take a lighter shade)",
                self.identifier
            )
            .into());
        }
        let ratio = read.map(|measured| kubelka_munk_ratio(without_surface(measured)));
        let trusted_from_nm = self.trusted_from_nm.max(tables::PATCH_FIRST_NM);
        let held = grid::sample(|nm| grid::interpolate(&ratio, nm.max(trusted_from_nm)));
        Ok(grid::smooth(&held))
    }

    fn coefficients(&self, form: &Form, wavelength_nm: f64, extinction: f64) -> Coefficients {
        let index = Complex64::new(self.n, extinction) / MEDIUM_INDEX;
        of_index(index, form, wavelength_nm, 1.0)
    }

    /// The least extinction coefficient at which `quantity`, which rises with it, is `wanted`.
    fn solve(
        &self,
        form: &Form,
        wavelength_nm: f64,
        quantity: impl Fn(&Coefficients) -> f64,
        wanted: f64,
    ) -> Result<f64, Box<dyn Error>> {
        let at = |ln_k: f64| quantity(&self.coefficients(form, wavelength_nm, ln_k.exp()));
        let most = match self.depth {
            Depth::Masstone => MOST_EXTINCTION_OF_A_MASSTONE,
            Depth::Tint { .. } => MOST_EXTINCTION_OF_A_TINT,
        };
        let (mut low, mut high) = (LEAST_EXTINCTION.ln(), most.ln());
        if at(high) < wanted {
            return Err(format!(
                "painted patch `{}`: grains of this size and index cannot absorb as much as it \
                 does at {wavelength_nm} nm; make the index smaller or the grains larger",
                self.identifier
            )
            .into());
        }
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(low, high);
            if at(middle) < wanted {
                low = middle;
            } else {
                high = middle;
            }
        }
        Ok(high.exp())
    }
}

/// Reflectance inside the paint from the reflectance read outside, specular included.
/// Source: Saunderson 1942, solved for the inner reflectance.
fn without_surface(measured: f64) -> f64 {
    let crossed = measured - K1;
    crossed / ((1.0 - K1) * (1.0 - K2) + K2 * crossed)
}

/// K/S of an opaque layer from its reflectance.
/// Source: Kubelka and Munk, Z. techn. Phys. 12, 593–601 (1931).
fn kubelka_munk_ratio(reflectance: f64) -> f64 {
    (1.0 - reflectance).powi(2) / (2.0 * reflectance)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::size::LogNormal;
    use approx::assert_relative_eq;

    #[test]
    fn taking_the_surface_off_undoes_putting_it_on() {
        for inside in [0.01, 0.2, 0.7, 0.95] {
            let outside = K1 + (1.0 - K1) * (1.0 - K2) * inside / (1.0 - K2 * inside);
            assert_relative_eq!(without_surface(outside), inside, epsilon = 1e-12);
        }
    }

    #[test]
    fn grains_with_the_constants_found_have_the_ratio_of_the_patch() {
        let patch = Patch {
            identifier: "IR_3_1_p3",
            depth: Depth::Masstone,
            trusted_from_nm: 440.0,
            n: 2.35,
        };
        let form = Form::Grains(LogNormal {
            median_um: 0.18,
            geometric_sd: 1.4,
        });
        let rays = patch.rays(&form).expect("the patch is in the table");
        let ratio = patch.k_over_s().expect("the patch is in the table");
        for ((nm, k), wanted) in grid::wavelengths_nm().into_iter().zip(rays[0].k).zip(ratio) {
            let found = patch.coefficients(&form, nm, k);
            assert_relative_eq!(found.k() / found.s(), wanted, max_relative = 1e-9);
        }
    }
}
