//! What a gram of particles does to light: from refractive index and size to absorption and
//! scattering, for compact particles (spheres by Mie) and for open aggregates of tiny spheres.

use num_complex::Complex64;

use crate::aggregate::Aggregate;
use crate::grid::{self, Samples};
use crate::mie;
use crate::size::LogNormal;

/// Refractive index of the polymer around the particles: the surface index of a swatch book.
pub(crate) const MEDIUM_INDEX: f64 = 1.5;
/// Micrometres in a nanometre, and in a millimetre.
const UM_PER_NM: f64 = 1e-3;
const UM_PER_MM: f64 = 1e3;

/// Refractive index n + ik of a solid along one of its optical axes, at each wavelength.
#[derive(Clone, Debug)]
pub(crate) struct Ray {
    /// Its share of the light; the shares of a solid's rays add up to 1.
    pub(crate) share: f64,
    pub(crate) n: Samples,
    pub(crate) k: Samples,
}

impl Ray {
    /// The index over that of the polymer, read `shift_nm` further along.
    fn relative_index(&self, wavelength_nm: f64, shift_nm: f64) -> Complex64 {
        let at = wavelength_nm + shift_nm;
        Complex64::new(
            grid::interpolate(&self.n, at),
            grid::interpolate(&self.k, at),
        ) / MEDIUM_INDEX
    }
}

/// How the particles are built.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Form {
    /// Compact grains, taken as spheres of the same volume.
    Grains(LogNormal),
    /// Open clusters of tiny spheres, as soot forms.
    Aggregates(Aggregate),
}

/// How a batch differs from the typical one.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Departure {
    /// Particle diameter over the typical one.
    pub(crate) size: f64,
    /// How far along the wavelengths the optical constants are read, nm.
    pub(crate) shift_nm: f64,
}

impl Departure {
    /// The typical batch.
    pub(crate) const NONE: Self = Self {
        size: 1.0,
        shift_nm: 0.0,
    };
}

/// Absorption and reduced scattering.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Coefficients {
    /// Absorption coefficient µa, 1/mm, and reduced scattering coefficient µs′ = µs (1 − g), 1/mm,
    /// both per unit of volume fraction.
    pub(crate) absorption: f64,
    pub(crate) reduced_scattering: f64,
}

impl Coefficients {
    /// Kubelka–Munk's k = 2 µa of diffuse light.
    /// Source: Kubelka, J. Opt. Soc. Am. 38, 448–457 (1948): mean path of diffuse light.
    pub(crate) fn k(&self) -> f64 {
        2.0 * self.absorption
    }

    /// Kubelka–Munk's s = ¾ µs′ in the limit of strong scattering.
    /// Source: Mudgett and Richards, Appl. Opt. 10, 1485–1502 (1971), for isotropic scattering.
    pub(crate) fn s(&self) -> f64 {
        0.75 * self.reduced_scattering
    }
}

/// Coefficients at one wavelength, averaged over the rays of the solid.
pub(crate) fn coefficients(
    rays: &[Ray],
    form: &Form,
    wavelength_nm: f64,
    departure: Departure,
) -> Coefficients {
    let mut mean = Coefficients {
        absorption: 0.0,
        reduced_scattering: 0.0,
    };
    for ray in rays {
        let index = ray.relative_index(wavelength_nm, departure.shift_nm);
        let part = of_index(index, form, wavelength_nm, departure.size);
        mean.absorption += ray.share * part.absorption;
        mean.reduced_scattering += ray.share * part.reduced_scattering;
    }
    mean
}

/// Coefficients of particles of one relative index.
///
/// A sphere of diameter d has 3 / (2 d) of cross-section per volume.
pub(crate) fn of_index(
    relative_index: Complex64,
    form: &Form,
    wavelength_nm: f64,
    size: f64,
) -> Coefficients {
    let wavelength_um = wavelength_nm * UM_PER_NM / MEDIUM_INDEX;
    match form {
        Form::Aggregates(aggregate) => aggregate
            .scaled(size)
            .coefficients(relative_index, wavelength_um),
        Form::Grains(sizes) => {
            let mut sum = Coefficients {
                absorption: 0.0,
                reduced_scattering: 0.0,
            };
            for (diameter_um, share) in sizes.volume_shares() {
                let diameter_um = diameter_um * size;
                let x = std::f64::consts::PI * diameter_um / wavelength_um;
                let efficiencies = mie::sphere(relative_index, x);
                let section = share * cross_section_per_volume(diameter_um);
                sum.absorption += section * efficiencies.absorption();
                sum.reduced_scattering += section * efficiencies.reduced_scattering();
            }
            sum
        }
    }
}

/// Geometric cross-section of spheres over their volume, 1/mm.
pub(crate) fn cross_section_per_volume(diameter_um: f64) -> f64 {
    1.5 / diameter_um * UM_PER_MM
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Grains much smaller than the wavelength absorb by their volume alone, whatever their size:
    /// µa = (6π / λ) Im((m² − 1) / (m² + 2)). Source: Bohren & Huffman 1983, equation 5.9.
    #[test]
    fn tiny_grains_absorb_by_their_volume() {
        let m = Complex64::new(1.2, 0.1);
        let (wavelength_nm, wavelength_mm) = (600.0, 600e-6 / MEDIUM_INDEX);
        let polarisability = (m * m - 1.0) / (m * m + 2.0);
        let expected = 6.0 * std::f64::consts::PI / wavelength_mm * polarisability.im;
        for median_um in [0.001, 0.002] {
            let form = Form::Grains(LogNormal {
                median_um,
                geometric_sd: 1.3,
            });
            let found = of_index(m, &form, wavelength_nm, 1.0).absorption;
            assert_relative_eq!(found, expected, max_relative = 1e-3);
        }
    }

    #[test]
    fn two_halves_of_a_solid_are_the_whole() {
        let ray = |share| Ray {
            share,
            n: [2.7; grid::COUNT],
            k: [0.01; grid::COUNT],
        };
        let form = Form::Grains(LogNormal {
            median_um: 0.2,
            geometric_sd: 1.4,
        });
        let whole = coefficients(&[ray(1.0)], &form, 550.0, Departure::NONE);
        let halves = coefficients(&[ray(0.5), ray(0.5)], &form, 550.0, Departure::NONE);
        assert_relative_eq!(whole.absorption, halves.absorption, max_relative = 1e-12);
        assert_relative_eq!(
            whole.reduced_scattering,
            halves.reduced_scattering,
            max_relative = 1e-12
        );
    }
}
