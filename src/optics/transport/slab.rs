//! A slab of one material: what it sends back and lets pass, and slabs on what lies behind them.

use nalgebra::SMatrix;

use crate::optics::{Coefficients, Layer};

/// A square matrix from flux in each direction to flux in each direction.
pub(super) type Fluxes<const N: usize> = SMatrix<f64, N, N>;

/// What a film or a bed is to light of one wavelength: its optical depths.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Depths {
    /// Absorption coefficient µa times thickness.
    pub absorption: f64,
    /// Reduced scattering coefficient µs′ times thickness.
    pub scattering: f64,
}

impl Depths {
    /// Those of `layer` at one band of a spectrum.
    pub(super) fn of(layer: &Layer, band: usize) -> Self {
        let Coefficients { k, s } = &layer.medium.coefficients;
        Self {
            absorption: k[band] / 2.0 * layer.thickness_mm,
            scattering: s[band] * 4.0 / 3.0 * layer.thickness_mm,
        }
    }

    /// The depth by which an unscattered beam fades, scattering of mean cosine `asymmetry` counted whole.
    pub(super) fn extinction(&self, asymmetry: f64) -> f64 {
        self.absorption + self.scattering / (1.0 - asymmetry)
    }
}

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
        let onward = solve(Fluxes::identity() - reflected * reflected, *passed);
        Self {
            reflected: reflected + passed * reflected * onward,
            passed: passed * onward,
        }
    }

    /// What this slab sends back when what lies behind it sends back `behind`.
    #[must_use]
    pub fn over(&self, behind: &Fluxes<N>) -> Fluxes<N> {
        let Self { reflected, passed } = self;
        let up = solve(Fluxes::identity() - behind * reflected, behind * passed);
        reflected + passed * up
    }
}

/// What is left of light after all its passes: `kept` is the unit matrix less what one pass sends on, and what the passes
/// make of `first` is returned.
///
/// One pass sends on no more than it is given, so that elimination needs no choice of pivots. `kept` is singular only where
/// light is caught between two bodies that lose none and let none pass: then none of it comes through.
///
/// Source: C. F. Gauss's elimination as W. Jordan has it; why no pivots are chosen, N. J. Higham (2002), Accuracy and
/// Stability of Numerical Algorithms, second edition, section 9.5 (section from memory).
pub(super) fn solve<const N: usize, const M: usize>(
    mut kept: Fluxes<N>,
    first: SMatrix<f64, N, M>,
) -> SMatrix<f64, N, M> {
    let mut left = first;
    for pivot in 0..N {
        let column: [f64; N] = kept.column(pivot).into();
        let passes = if column[pivot] > 0.0 {
            1.0 / column[pivot]
        } else {
            0.0
        };
        let later = kept.as_mut_slice().chunks_exact_mut(N).skip(pivot + 1);
        for other in later.chain(left.as_mut_slice().chunks_exact_mut(N)) {
            let share = other[pivot] * passes;
            for (value, eliminated) in other.iter_mut().zip(column) {
                *value -= eliminated * share;
            }
            other[pivot] = share;
        }
    }
    left
}
