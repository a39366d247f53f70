//! The unknowns of a calibration, as logarithms: how far K and S of each material lie from their first guess, and how far the
//! absorption gain, the wall scattering and the wet share of each foam.

use std::ops::Range;

use nalgebra::{DMatrix, DVector};

use super::photographs::Photograph;
use crate::colour::{SAMPLES, Spectrum};
use crate::materials::{BaseKind, CoefficientSpread, FoamStep, Material, Shelf, Step};
use crate::optics::{Coefficients, Foam};

/// Unknowns of one material: ln K at each wavelength, then ln S.
pub(super) const OF_A_MATERIAL: usize = 2 * SAMPLES;

/// Unknowns of one foam: ln of its absorption gain, of the scattering of its walls, of the odds of its wet share.
pub(super) const OF_A_FOAM: usize = 3;

/// Standard deviation of the logarithm of a foam's absorption gain before any chip: the source of the gain finds foams that
/// absorb by their solid, and some that absorb half as much again, and urethane is denser to light. Our own choice, no source.
pub(super) const GAIN_LN_SD: f64 = 0.3;

/// Variance of what is held: as good as none, and still to be inverted.
const HELD: f64 = 1e-12;

/// Smallest K and S (mm⁻¹) that a logarithm is taken of; nothing so clear is told from clear.
const LEAST: f64 = 1e-6;

/// All materials of which something is asked; their unknowns come first, in their order, then those of the foams, then those of
/// the photographs.
#[derive(Clone, Debug)]
pub(super) struct Unknowns {
    pub(super) materials: Vec<Unknown>,
    /// Those of the bases that rise.
    foams: Vec<UnknownFoam>,
    /// The photographs that chips were read off; their unknowns come last.
    photos: Vec<Photograph>,
}

/// A foam of which gain and walls are asked.
#[derive(Clone, Debug)]
struct UnknownFoam {
    /// Its base's index among the materials.
    base: usize,
    /// The first guess.
    first: Foam,
}

/// One of them.
#[derive(Clone, Debug)]
pub(super) struct Unknown {
    pub(super) material: Material,
    /// The first guess, positive.
    pub(super) first: Coefficients,
    /// How far off that may be, with how far one bottle may lie from the next where only the kind is known.
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
            let curves = shelf.curves(&material);
            let (first, spread) = curves.expect("each of the materials is on the shelf");
            let positive = |curve: Spectrum| curve.map(|value| value.max(LEAST));
            let spread = match material {
                Material::Pigment(_) => spread.of_a_bottle(),
                Material::Base(_) => spread,
            };
            Unknown {
                material,
                first: Coefficients {
                    k: positive(first.k),
                    s: positive(first.s),
                },
                spread,
                held: false,
            }
        };
        let materials: Vec<Unknown> = materials.into_iter().map(unknown).collect();
        let foam = |(base, unknown): (usize, &Unknown)| match &unknown.material {
            Material::Base(name) => match shelf.base(name).expect("it is on the shelf").kind {
                BaseKind::Foam(first) => Some(UnknownFoam { base, first }),
                BaseKind::Skin | BaseKind::Paint { .. } => None,
            },
            Material::Pigment(_) => None,
        };
        Self {
            foams: materials.iter().enumerate().filter_map(foam).collect(),
            materials,
            photos: Vec::new(),
        }
    }

    /// Adds what `photos` are off by.
    #[must_use]
    pub(super) fn with_photos(self, photos: Vec<Photograph>) -> Self {
        Self { photos, ..self }
    }

    /// Where the unknowns of the photograph called `name` stand among all, if they are asked.
    pub(super) fn photo_at(&self, name: &str) -> Option<Range<usize>> {
        let photo = self.photos.iter().position(|photo| photo.is_called(name))?;
        Some(self.of_photo(photo))
    }

    fn of_photo(&self, index: usize) -> Range<usize> {
        let before = self.photos[..index].iter().map(Photograph::count);
        let at = self.first_photo() + before.sum::<usize>();
        at..at + self.photos[index].count()
    }

    fn first_photo(&self) -> usize {
        OF_A_MATERIAL * self.materials.len() + OF_A_FOAM * self.foams.len()
    }

    /// Holds each material that `is_held`.
    pub(super) fn hold(&mut self, is_held: impl Fn(&Material) -> bool) {
        for unknown in &mut self.materials {
            unknown.held = is_held(&unknown.material);
        }
    }

    /// How many numbers are unknown.
    pub(super) fn count(&self) -> usize {
        self.first_photo() + self.photos.iter().map(Photograph::count).sum::<usize>()
    }

    /// Where the unknowns stand that vary together before any chip is read, in their order, and how they do: those of each
    /// material, then those of each foam, then those of each photograph.
    pub(super) fn blocks(&self) -> impl Iterator<Item = (Range<usize>, DMatrix<f64>)> {
        let materials = self.materials.iter().enumerate();
        let materials = materials.map(|(index, unknown)| (curves_at(index), unknown.covariance()));
        let foams = self.foams.iter().enumerate().map(|(index, foam)| {
            let variances = if self.materials[foam.base].held {
                [HELD; OF_A_FOAM]
            } else {
                // Cells that are known for certain are held.
                [
                    GAIN_LN_SD.powi(2),
                    foam.first.cell_ln_sd.powi(2).max(HELD),
                    foam.first.wet_ln_sd.powi(2).max(HELD),
                ]
            };
            let variances = DVector::from_row_slice(&variances);
            (self.foam_at(index), DMatrix::from_diagonal(&variances))
        });
        let photos = self.photos.iter().enumerate().map(|(index, photo)| {
            let variances = DVector::from_vec(photo.variances());
            (self.of_photo(index), DMatrix::from_diagonal(&variances))
        });
        materials.chain(foams).chain(photos)
    }

    /// Where all that is unknown of the material at `index` stands: its curves, and its foam if it rises.
    pub(super) fn of(&self, index: usize) -> impl Iterator<Item = Range<usize>> {
        std::iter::once(curves_at(index)).chain(self.foam_of(index).map(|(at, _)| at))
    }

    /// Where the unknowns of the foam of the base at `index` stand, and its first guess; `None` where it does not rise.
    pub(super) fn foam_of(&self, index: usize) -> Option<(Range<usize>, Foam)> {
        let foam = self.foams.iter().position(|foam| foam.base == index)?;
        Some((self.foam_at(foam), self.foams[foam].first))
    }

    fn foam_at(&self, foam: usize) -> Range<usize> {
        let at = OF_A_MATERIAL * self.materials.len() + OF_A_FOAM * foam;
        at..at + OF_A_FOAM
    }

    /// Puts `step`, of the material at `index`, into `column`, a change of all unknowns: [`step`](Self::step) turned round.
    pub(super) fn put(&self, index: usize, step: &Step, column: &mut DVector<f64>) {
        let curves = step.ln_k.values().iter().chain(step.ln_s.values());
        for (at, by) in curves_at(index).zip(curves) {
            column[at] = *by;
        }
        if let (Some((at, _)), Some(foam)) = (self.foam_of(index), step.foam) {
            column[at.start] = foam.ln_gain;
            column[at.start + 1] = foam.ln_walls;
            column[at.start + 2] = foam.ln_wet;
        }
    }

    /// What `column`, a change of all unknowns, does to the material at `index`.
    pub(super) fn step(&self, index: usize, column: &DVector<f64>) -> Step {
        let at = curves_at(index).start;
        Step {
            material: self.materials[index].material.clone(),
            ln_k: Spectrum::from_fn(|band| column[at + band]),
            ln_s: Spectrum::from_fn(|band| column[at + SAMPLES + band]),
            foam: self.foam_of(index).map(|(at, _)| FoamStep {
                ln_gain: column[at.start],
                ln_walls: column[at.start + 1],
                ln_wet: column[at.start + 2],
            }),
        }
    }

    /// The index of `material`.
    pub(super) fn index(&self, material: &Material) -> Option<usize> {
        let mut all = self.materials.iter();
        all.position(|unknown| unknown.material == *material)
    }

    /// The curves of the material at `index` once its logarithms are off by `offsets`, those of all materials.
    pub(super) fn curves(&self, index: usize, offsets: &[f64]) -> Coefficients {
        let Coefficients { k, s } = &self.materials[index].first;
        let at = OF_A_MATERIAL * index;
        Coefficients {
            k: Spectrum::from_fn(|band| k[band] * offsets[at + band].exp()),
            s: Spectrum::from_fn(|band| s[band] * offsets[at + SAMPLES + band].exp()),
        }
    }
}

/// Where ln K, then ln S of the material at `index` stand among all unknowns.
fn curves_at(index: usize) -> Range<usize> {
    let at = OF_A_MATERIAL * index;
    at..at + OF_A_MATERIAL
}

impl Unknown {
    /// How the unknowns of this material vary together before any chip is read: a common strength, which K and S have half
    /// in common, since it is first of all the dispersion's load that differs. Then a slow change along the spectrum, a quicker one,
    /// and a trace at each wavelength alone.
    ///
    /// The shares and lengths are this project's choice, no source: they were set on computed pigments of other sizes
    /// and on measured paints, so that stated intervals held.
    pub(super) fn covariance(&self) -> DMatrix<f64> {
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
        let sd = |index: usize| {
            let CoefficientSpread { k_sd, s_sd } = &self.spread;
            // Nothing is known so well that a chip could not tell otherwise.
            if index < SAMPLES {
                k_sd[index]
            } else {
                s_sd[index - SAMPLES]
            }
            .max(0.02)
        };
        // However little is known of a material, its curve has a shape: what is wider is its load.
        let shape = |index: usize| sd(index).min(WIDEST_SHAPE);
        let load = |index: usize| (sd(index).powi(2) - shape(index).powi(2)).max(0.0).sqrt();
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::materials::fixtures::shelf;

    /// Of a bottle of which no more than its kind is known, the strength is as unsure as kind and bottle together; of a lot
    /// beside one that was read, no more than lots differ by; and of a base nothing is added.
    #[test]
    fn only_a_bottle_known_by_its_kind_is_unsure_by_its_load() {
        let red = Material::Pigment("red".to_owned());
        let spread_of = |shelf: &Shelf, material: Material| {
            Unknowns::new(shelf, [material]).materials[0].spread
        };
        let mut shelf = shelf();
        let by_kind = CoefficientSpread {
            k_sd: Spectrum::constant(0.3),
            s_sd: Spectrum::constant(0.3),
        };
        let set = |shelf: &mut Shelf, spread| {
            let pigments = shelf.pigments.iter_mut();
            for pigment in pigments.filter(|pigment| pigment.name == "red") {
                pigment.spread = spread;
            }
        };
        set(&mut shelf, by_kind);
        let unsure = spread_of(&shelf, red.clone());
        // Two independent causes add in quadrature.
        assert!(
            (unsure.k_sd[18] - 0.3_f64.hypot(0.4)).abs() < 1e-12,
            "{unsure:?}"
        );
        assert!(
            (unsure.s_sd[18] - 0.3_f64.hypot(0.4)).abs() < 1e-12,
            "{unsure:?}"
        );
        set(&mut shelf, CoefficientSpread::LOT_TO_LOT);
        assert_eq!(
            spread_of(&shelf, red),
            CoefficientSpread::LOT_TO_LOT,
            "its old lot was read"
        );
        shelf.bases[0].spread = by_kind;
        let base = Material::Base(shelf.bases[0].name.clone());
        assert_eq!(spread_of(&shelf, base), by_kind, "no bottle of pigment");
    }
}
