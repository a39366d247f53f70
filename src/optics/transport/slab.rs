//! A slab of one material: what it sends back and lets pass, and slabs on what lies behind them.

use super::directions::Fluxes;

/// A homogeneous slab without surfaces: matrices from flux in each direction to flux in each direction.
#[derive(Clone, Debug, PartialEq)]
pub struct Slab<const N: usize> {
    /// What it sends back.
    pub reflected: Fluxes<N>,
    /// What it lets pass.
    pub passed: Fluxes<N>,
}

/// What lies behind a slab, at one wavelength.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Behind {
    /// A diffuse backing of this reflectance (0–1), bonded to it.
    Bonded(f64),
    /// A diffuse backing of this reflectance (0–1), with air between.
    Laid(f64),
}

impl<const N: usize> Slab<N> {
    /// This slab on another like it.
    ///
    /// Source: H. C. van de Hulst (1980), Multiple Light Scattering, volume 1, section 4.5 (section from memory).
    #[must_use]
    pub fn doubled(&self) -> Self {
        let Self { reflected, passed } = self;
        let onward = passed * inverse(Fluxes::identity() - reflected * reflected);
        Self {
            reflected: reflected + onward * reflected * passed,
            passed: onward * passed,
        }
    }

    /// What this slab sends back when what lies behind it sends back `behind`.
    #[must_use]
    pub fn over(&self, behind: &Fluxes<N>) -> Fluxes<N> {
        let Self { reflected, passed } = self;
        let between = inverse(Fluxes::identity() - behind * reflected);
        reflected + passed * between * behind * passed
    }
}

/// The inverse of what is left of light at each pass. It is singular only where light is caught between two bodies that
/// lose none and let none pass: then none comes through.
pub(super) fn inverse<const N: usize>(matrix: Fluxes<N>) -> Fluxes<N> {
    matrix.try_inverse().unwrap_or_else(Fluxes::zeros)
}
