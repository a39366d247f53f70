//! A pigment dispersion as it leaves the bottle: k and s per unit of its mass fraction in a cup,
//! and how far they may be trusted.

use std::error::Error;

use num_complex::Complex64;

use crate::grid::{self, Samples};
use crate::particles::{self, Departure, Form, Ray};
use crate::patch::Patch;
use crate::size::LogNormal;
use crate::tables;

/// Density of the cured base, g/cm³: common practice, no source.
const BASE_DENSITY_G_CM3: f64 = 1.05;
/// One standard deviation of a maker's grade from the typical one, as ln of particle size and of
/// pigment load, and as a shift of the spectrum: common practice, no source.
const SIZE_SD: f64 = 0.22;
const LOAD_SD: f64 = 0.18;
const SHIFT_SD_NM: f64 = 5.0;
/// The bubbles in which air stays in a cast: our own choice, no source.
const BUBBLES: LogNormal = LogNormal {
    median_um: 5.0,
    geometric_sd: 1.5,
};
/// Rounds of smoothing over a spread: neighbouring wavelengths are as doubtful as each other.
const SMOOTHING_ROUNDS: u8 = 6;

/// What the particles are made of.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Solid {
    /// Tables of optical constants, one per axis with its share of the light; to each extinction
    /// coefficient that of the function is added, of the wavelength in nm.
    Tables {
        axes: &'static [(f64, &'static str)],
        added_extinction: fn(f64) -> f64,
    },
    /// One index per axis with its share of the light, the same at every wavelength.
    Constant {
        axes: &'static [(f64, f64)],
        extinction: f64,
    },
    /// A painted patch from which the constants are worked out.
    Patch(Patch),
}

/// Allowance for what a change of size, load and shift does not cover (the optical constants
/// themselves, grain shape, impurities): standard deviations of ln k and ln s.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Doubt {
    pub(crate) ln_k: f64,
    pub(crate) ln_s: f64,
}

/// A dispersion of the starter book.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Dispersion {
    /// Stem of the file's name.
    pub(crate) file: &'static str,
    /// Mass of pigment in a mass of dispersion, above 0, up to 1.
    pub(crate) load: f64,
    /// Density of the pigment.
    pub(crate) density_g_cm3: f64,
    pub(crate) solid: Solid,
    /// Air that stays in the cast with each gram of pigment: what is stirred in dry carries some.
    pub(crate) air_ml_g: f64,
    pub(crate) form: Form,
    pub(crate) doubt: Doubt,
    /// Where the numbers come from, for whoever reads the swatch book.
    pub(crate) note: &'static str,
}

/// k and s in 1/mm (per unit mass fraction for a dispersion), with the standard deviations of
/// their logarithms.
#[derive(Clone, Debug)]
pub(crate) struct Curves {
    pub(crate) k: Samples,
    pub(crate) s: Samples,
    pub(crate) k_sd: Samples,
    pub(crate) s_sd: Samples,
}

impl Solid {
    fn rays(&self, form: &Form) -> Result<Vec<Ray>, Box<dyn Error>> {
        match self {
            Self::Patch(patch) => patch.rays(form),
            Self::Constant { axes, extinction } => Ok(axes
                .iter()
                .map(|&(share, n)| Ray {
                    share,
                    n: [n; grid::COUNT],
                    k: [*extinction; grid::COUNT],
                })
                .collect()),
            Self::Tables {
                axes,
                added_extinction,
            } => axes
                .iter()
                .map(|&(share, text)| {
                    let (n, mut k) = tables::optical_constants(text)?;
                    for (k, nm) in k.iter_mut().zip(grid::wavelengths_nm()) {
                        *k += added_extinction(nm);
                    }
                    Ok(Ray { share, n, k })
                })
                .collect(),
        }
    }
}

impl Dispersion {
    /// The curves of the typical dispersion and their spread.
    ///
    /// # Errors
    /// If the data of its solid cannot be read, or a patch's K/S cannot be reached.
    pub(crate) fn curves(&self) -> Result<Curves, Box<dyn Error>> {
        let rays = self.solid.rays(&self.form)?;
        let at = |departure| self.k_and_s(&rays, departure);
        let (k, s) = at(Departure::NONE);
        let other = |size: f64, shift_nm: f64| {
            at(Departure {
                size: size.exp(),
                shift_nm,
            })
        };
        let size = (other(-SIZE_SD, 0.0), other(SIZE_SD, 0.0));
        let shift = (other(0.0, -SHIFT_SD_NM), other(0.0, SHIFT_SD_NM));
        Ok(Curves {
            k,
            s,
            k_sd: spread(
                &[(&size.0.0, &size.1.0), (&shift.0.0, &shift.1.0)],
                self.doubt.ln_k,
            ),
            s_sd: spread(
                &[(&size.0.1, &size.1.1), (&shift.0.1, &shift.1.1)],
                self.doubt.ln_s,
            ),
        })
    }

    /// k and s per unit mass fraction of dispersion.
    fn k_and_s(&self, rays: &[Ray], departure: Departure) -> (Samples, Samples) {
        let volume_fraction = self.load * BASE_DENSITY_G_CM3 / self.density_g_cm3;
        let coefficients = grid::wavelengths_nm()
            .map(|nm| particles::coefficients(rays, &self.form, nm, departure));
        let air_fraction = self.load * BASE_DENSITY_G_CM3 * self.air_ml_g;
        let air = Complex64::new(1.0 / particles::MEDIUM_INDEX, 0.0);
        let bubbles = grid::wavelengths_nm()
            .map(|nm| particles::of_index(air, &Form::Grains(BUBBLES), nm, departure.size));
        let scattering =
            |i: usize| volume_fraction * coefficients[i].s() + air_fraction * bubbles[i].s();
        (
            coefficients.map(|c| volume_fraction * c.k()),
            std::array::from_fn(scattering),
        )
    }
}

/// Standard deviation of the logarithm of a curve: half the distance between the curves one
/// standard deviation either side, for each cause, with the load's and the allowance, all
/// added as independent causes add.
fn spread(sides: &[(&Samples, &Samples)], allowance: f64) -> Samples {
    let mut sd: Samples = std::array::from_fn(|i| {
        let causes: f64 = sides
            .iter()
            .map(|(below, above)| ((above[i] / below[i]).ln() / 2.0).powi(2))
            .sum();
        (causes + LOAD_SD * LOAD_SD + allowance * allowance).sqrt()
    });
    for _ in 0..SMOOTHING_ROUNDS {
        sd = grid::smooth(&sd);
    }
    sd
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::DISPERSIONS;
    use approx::assert_relative_eq;

    fn curves_of(file: &str) -> Curves {
        DISPERSIONS
            .iter()
            .find(|dispersion| dispersion.file == file)
            .expect("a dispersion of the catalogue")
            .curves()
            .expect("the catalogue's data are sound")
    }

    fn at(samples: &Samples, nm: f64) -> f64 {
        grid::interpolate(samples, nm)
    }

    #[test]
    fn every_curve_is_above_nought_and_its_spread_sensible() {
        for dispersion in DISPERSIONS {
            let curves = dispersion.curves().expect("the catalogue's data are sound");
            for value in curves.k.iter().chain(&curves.s) {
                assert!(
                    value.is_finite() && *value > 0.0,
                    "{}: {value}",
                    dispersion.file
                );
            }
            for sd in curves.k_sd.iter().chain(&curves.s_sd) {
                assert!((0.1..2.0).contains(sd), "{}: spread {sd}", dispersion.file);
            }
        }
    }

    #[test]
    fn axes_share_the_light_out_whole() {
        for dispersion in DISPERSIONS {
            let rays = dispersion.solid.rays(&dispersion.form).expect("sound data");
            let whole: f64 = rays.iter().map(|ray| ray.share).sum();
            assert_relative_eq!(whole, 1.0, epsilon = 1e-12);
        }
    }

    /// Twice the pigment in the bottle is twice the strength; nothing else moves.
    #[test]
    fn strength_goes_with_the_load() {
        let red = DISPERSIONS[1];
        let rich = Dispersion {
            load: 2.0 * red.load,
            ..red
        };
        let (red, rich) = (
            red.curves().expect("sound data"),
            rich.curves().expect("sound data"),
        );
        assert_relative_eq!(rich.k[10], 2.0 * red.k[10], max_relative = 1e-12);
        assert_relative_eq!(rich.s[10], 2.0 * red.s[10], max_relative = 1e-12);
    }

    /// Soot absorbs about 7.5 ± 1.2 m²/g at 550 nm in air. In a polymer the figure differs
    /// by less than a half (the local field); a decimal or a unit gone wrong would show.
    /// Source: Bond and Bergstrom, Aerosol Sci. Technol. 40, 27–67 (2006).
    #[test]
    fn carbon_black_absorbs_as_much_per_gram_as_measured_soot() {
        let black = curves_of("carbon-black");
        let absorption_per_mm = at(&black.k, 550.0) / 2.0;
        let grams_per_cm3 = 0.10 * BASE_DENSITY_G_CM3;
        let m2_per_g = absorption_per_mm * 1000.0 / (grams_per_cm3 * 1e6);
        assert!((5.0..10.0).contains(&m2_per_g), "{m2_per_g} m²/g");
    }

    /// A gas bubble far wider than a wavelength scatters sideways and back 0.456 of the light that meets it (geometric optics,
    /// van de Hulst 1957, chapter 12), and bubbles of 5 µm nearly so much: by hand, s = ¾ · 0.456 · 3 / (2 d) a volume.
    #[test]
    fn fibre_scatters_more_by_the_air_that_it_carries() {
        let fibre = *DISPERSIONS.last().expect("the fibre");
        let bare = Dispersion {
            air_ml_g: 0.0,
            ..fibre
        };
        let (with, without) = (
            fibre.curves().expect("sound data"),
            bare.curves().expect("sound data"),
        );
        let found = at(&with.s, 550.0) - at(&without.s, 550.0);
        // The mean of 1 / d over volumes (Hatch and Choate 1929).
        let per_mm = (-2.5 * 1.5_f64.ln().powi(2)).exp() / 5e-3;
        let expected = 0.75 * 0.456 * 1.5 * per_mm * BASE_DENSITY_G_CM3 * 0.05;
        assert_relative_eq!(found, expected, max_relative = 0.1);
        assert_eq!(with.k, without.k, "air absorbs nothing");
    }

    #[test]
    fn hues_are_those_of_the_names() {
        let red = curves_of("iron-oxide-red");
        assert!(
            at(&red.k, 500.0) > 5.0 * at(&red.k, 650.0),
            "red passes red light"
        );
        let yellow = curves_of("iron-oxide-yellow");
        assert!(
            at(&yellow.k, 450.0) > 5.0 * at(&yellow.k, 580.0),
            "yellow passes yellow light"
        );
        let blue = curves_of("blue");
        assert!(
            at(&blue.k, 620.0) > 5.0 * at(&blue.k, 470.0),
            "blue passes blue light"
        );
        let white = curves_of("titanium-white");
        assert!(
            at(&white.s, 550.0) > 1000.0 * at(&white.k, 550.0),
            "white scatters only"
        );
    }
}
