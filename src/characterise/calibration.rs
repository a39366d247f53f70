//! What a calibration found, as others read it.

use std::sync::Arc;

use super::left_over::LeftOverFound;
use super::suspicion::Suspicion;
use super::unknowns::Unknowns;
use crate::materials::{
    BaseKind, CoefficientSpread, CurveSource, JointDirection, LeftOver, Material, Shelf,
};
use crate::optics::{Coefficients, Foam, Specular};

/// What a calibration found.
#[derive(Clone, Debug)]
pub struct Calibration {
    /// The curves of each material that a chip holds, in the order of bases, then pigments, by name.
    pub curves: Vec<Curves>,
    /// What remains unknown of them together.
    pub joint_directions: Vec<JointDirection>,
    /// What it makes of each swatch, in their order; `None` for one that was not read.
    pub judged: Vec<Judged>,
    /// Materials of the shelf that no chip holds: they stay as they were.
    pub without_chip: Vec<Material>,
    /// By what factor readings scatter more than an instrument does; 1 where they don't.
    pub noise: f64,
    /// New lots of known pigments, set beside the old ones, in the shelf's order.
    pub lots: Vec<Lot>,
    /// Lots that no one can set beside the old one, since no chip tells of that: they are learnt as any other pigment.
    pub lots_alone: Vec<String>,
    /// The specular convention of the readings where they belie that of the settings.
    pub specular: Option<Specular>,
    /// What the curves leave over of the readings and carry to castings like them; `None` where that is no more than noise.
    pub left_over: Option<LeftOverFound>,
}

/// The curves of one material.
#[derive(Clone, Debug, PartialEq)]
pub struct Curves {
    /// The material.
    pub material: Material,
    /// K and S, mm⁻¹, of a pigment per unit mass fraction.
    pub coefficients: Coefficients,
    /// Standard deviations of ln K and ln S at each wavelength.
    pub spread: CoefficientSpread,
    /// The share (0–1) of the prior variance of the material's strength that the chips have removed.
    pub variance_removed: f64,
    /// Its strength over that of its first guess: of whichever of K and S is better known now.
    pub strength: f64,
    /// Its cells and absorption gain, if it is the base of a foam.
    pub foam: Option<FoamFound>,
}

/// What chips tell of a foam.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FoamFound {
    /// The first guess.
    pub first: Foam,
    /// The foam by the chips; its [`cell_ln_sd`](Foam::cell_ln_sd) and [`wet_ln_sd`](Foam::wet_ln_sd) are what remains
    /// unknown of its cells and its wet share.
    pub foam: Foam,
    /// Standard deviation of the logarithm of its absorption gain.
    pub gain_ln_sd: f64,
    /// The share (0–1) of the prior variance of its cells that the chips have removed.
    pub cell_variance_removed: f64,
    /// The same of its absorption gain.
    pub gain_variance_removed: f64,
    /// The same of its wet share.
    pub wet_variance_removed: f64,
}

/// What a calibration makes of one reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// ΔE00 from the reading to the prediction by the first guesses.
    pub before: f64,
    /// ΔE00 from the reading to the prediction by the fitted curves.
    pub after: f64,
    /// What the reading counted for, 0–1.
    pub trust: f64,
    /// What may be wrong, where it disagrees with the other chips.
    pub suspicion: Option<Suspicion>,
}

/// A new lot beside the old one.
#[derive(Clone, Debug, PartialEq)]
pub struct Lot {
    /// The pigment.
    pub pigment: String,
    /// The pigment that it is another lot of.
    pub of: String,
    /// How many readings tell of it.
    pub readings: usize,
    /// How much of the old lot one gram of the new is worth in a tint of L* 65 in ideal white; and its standard deviation.
    pub strength: (f64, f64),
    /// Δa* from the old lot's tint of the same lightness, and its standard deviation.
    pub delta_a: (f64, f64),
    /// Δb* likewise.
    pub delta_b: (f64, f64),
}

/// Share of the prior variance of a material's strength below which chips have removed nothing worth mention.
pub const LEAST_VARIANCE_REMOVED: f64 = 0.3;

impl Calibration {
    /// `shelf` with what was found in place of what it had.
    #[must_use]
    pub fn shelf(&self, shelf: &Shelf) -> Shelf {
        let mut fitted = Shelf {
            joint_directions: self.joint_directions.clone(),
            ..with_curves(shelf, &self.curves)
        };
        if let Some(specular) = self.specular {
            fitted.settings.surface = fitted.settings.surface.read_with(specular);
        }
        fitted.left_over = self.left_over.as_ref().and_then(|found| {
            let told = LeftOver::of(&fitted, found.law, &found.castings);
            // A shelf without one of the castings' materials carries nothing.
            told.ok().map(Arc::new)
        });
        fitted
    }
}

/// `shelf` with the curves of a calibration in place of its own.
pub(super) fn with_curves(shelf: &Shelf, curves: &[Curves]) -> Shelf {
    let mut fitted = shelf.clone();
    fitted.joint_directions.clear();
    fitted.left_over = None;
    for Curves {
        material,
        coefficients,
        spread,
        foam,
        ..
    } in curves
    {
        match material {
            Material::Base(name) => {
                for base in fitted.bases.iter_mut().filter(|base| base.name == *name) {
                    (base.coefficients, base.spread) = (*coefficients, *spread);
                    if let Some(FoamFound { foam, .. }) = foam {
                        base.kind = BaseKind::Foam(*foam);
                    }
                }
            }
            Material::Pigment(name) => {
                for pigment in fitted
                    .pigments
                    .iter_mut()
                    .filter(|pigment| pigment.name == *name)
                {
                    (pigment.coefficients, pigment.spread) = (*coefficients, *spread);
                    pigment.curve_source = CurveSource::Read;
                }
            }
        }
    }
    fitted.mix_stocks();
    fitted
}

pub(super) fn without_chip(shelf: &Shelf, unknowns: &Unknowns) -> Vec<Material> {
    let bases = shelf
        .bases
        .iter()
        .map(|base| Material::Base(base.name.clone()));
    let pigments = shelf
        .pigments
        .iter()
        .map(|pigment| Material::Pigment(pigment.name.clone()));
    bases
        .chain(pigments)
        .filter(|material| unknowns.index(material).is_none())
        .collect()
}
