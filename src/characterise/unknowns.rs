//! The unknowns of a calibration: how far K and S of each material lie from their first guess, as logarithms.

use nalgebra::DMatrix;

use crate::colour::{SAMPLES, Spectrum};
use crate::materials::{CoefficientSpread, Material, Shelf};
use crate::optics::Coefficients;

/// Unknowns of one material: ln K at each wavelength, then ln S.
pub(super) const OF_A_MATERIAL: usize = 2 * SAMPLES;

/// Smallest K and S (mm⁻¹) that a logarithm is taken of; nothing so clear is told from clear.
const LEAST: f64 = 1e-6;

/// All materials of which something is asked.
#[derive(Clone, Debug)]
pub(super) struct Unknowns {
    pub(super) materials: Vec<Unknown>,
}

/// One of them.
#[derive(Clone, Debug)]
pub(super) struct Unknown {
    pub(super) material: Material,
    /// The first guess, positive.
    pub(super) first: Coefficients,
    /// How far off that may be.
    pub(super) spread: CoefficientSpread,
    /// Whether it stays at its first guess whatever chips tell.
    pub(super) held: bool,
}

impl Unknowns {
    /// Those of `materials`, each of which is on `shelf`, with the shelf's curves as first guesses.
    pub(super) fn new(shelf: &Shelf, materials: impl IntoIterator<Item = Material>) -> Self {
        let mut materials: Vec<Material> = materials.into_iter().collect();
        materials.sort();
        materials.dedup();
        let unknown = |material: Material| {
            let (first, spread) = match &material {
                Material::Base(name) => shelf
                    .base(name)
                    .map(|base| (base.coefficients, base.spread)),
                Material::Pigment(name) => shelf
                    .pigment(name)
                    .map(|pigment| (pigment.coefficients, pigment.spread)),
            }
            .ok()?;
            let positive = |curve: Spectrum| curve.map(|value| value.max(LEAST));
            Some(Unknown {
                material,
                first: Coefficients {
                    k: positive(first.k),
                    s: positive(first.s),
                },
                spread,
                held: false,
            })
        };
        Self {
            materials: materials.into_iter().filter_map(unknown).collect(),
        }
    }

    /// Holds each material that `is_held`.
    pub(super) fn hold(&mut self, is_held: impl Fn(&Material) -> bool) {
        for unknown in &mut self.materials {
            unknown.held = is_held(&unknown.material);
        }
    }

    /// How many numbers are unknown.
    pub(super) fn count(&self) -> usize {
        OF_A_MATERIAL * self.materials.len()
    }

    /// The place of `material`.
    pub(super) fn place(&self, material: &Material) -> Option<usize> {
        let mut all = self.materials.iter();
        all.position(|unknown| unknown.material == *material)
    }

    /// The curves of the material at `place` once its logarithms are off by `offsets`, those of all materials.
    pub(super) fn curves(&self, place: usize, offsets: &[f64]) -> Coefficients {
        let Coefficients { k, s } = &self.materials[place].first;
        let at = OF_A_MATERIAL * place;
        Coefficients {
            k: Spectrum::from_fn(|nm| k[nm] * offsets[at + nm].exp()),
            s: Spectrum::from_fn(|nm| s[nm] * offsets[at + SAMPLES + nm].exp()),
        }
    }
}

impl Unknown {
    /// How the unknowns of this material vary together before any chip is read: a common strength, which K and S share in
    /// part, since it is first of all the dispersion's load that differs; a slow change along the spectrum, a quicker one,
    /// and a trace at each wavelength alone.
    ///
    /// The shares and lengths are this project's choice, no source: they were set on computed pigments of other sizes
    /// and on measured paints, so that stated intervals held.
    pub(super) fn covariance(&self) -> DMatrix<f64> {
        // As good as none, and still to be inverted.
        const HELD: f64 = 1e-12;
        const STRENGTH: f64 = 0.55;
        const SLOW: (f64, f64) = (0.31, 90.0);
        const QUICK: (f64, f64) = (0.135, 30.0);
        const ALONE: f64 = 0.005;
        const STRENGTH_IN_COMMON: f64 = 0.5;
        const WIDEST_SHAPE: f64 = 1.2;
        if self.held {
            return HELD * DMatrix::identity(OF_A_MATERIAL, OF_A_MATERIAL);
        }
        let bell = |(share, length_nm): (f64, f64), apart_nm: f64| {
            share * (-0.5 * (apart_nm / length_nm).powi(2)).exp()
        };
        let sd = |place: usize| {
            let CoefficientSpread { k_sd, s_sd } = &self.spread;
            // Nothing is known so well that a chip could not tell otherwise.
            if place < SAMPLES {
                k_sd[place]
            } else {
                s_sd[place - SAMPLES]
            }
            .max(0.02)
        };
        // However little is known of a material, its curve has a shape: what is wider is its load.
        let shape = |place: usize| sd(place).min(WIDEST_SHAPE);
        let load = |place: usize| (sd(place).powi(2) - shape(place).powi(2)).max(0.0).sqrt();
        DMatrix::from_fn(OF_A_MATERIAL, OF_A_MATERIAL, |row, column| {
            let apart_nm = Spectrum::STEP_NM * (row % SAMPLES).abs_diff(column % SAMPLES) as f64;
            let alike = if (row < SAMPLES) == (column < SAMPLES) {
                let alone = if row == column { ALONE } else { 0.0 };
                STRENGTH + bell(SLOW, apart_nm) + bell(QUICK, apart_nm) + alone
            } else {
                STRENGTH_IN_COMMON * STRENGTH
            };
            shape(row) * shape(column) * alike + load(row) * load(column)
        })
    }
}
