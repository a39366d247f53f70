//! What is asked of the search: one cup, where it ends up, the colours aimed at, the drops at hand.

use std::time::Duration;

use super::candidate::whole_number;
use crate::colour::{Lab, Spectrum, TristimulusWeights, delta_e_2000};
use crate::materials::{Base, Colorant, Grams, Portion, Shelf};
use crate::optics::{Coefficients, Layer};

/// A search for the drops of one cup.
#[derive(Clone, Debug)]
pub struct Question<'shelf> {
    /// Where names are looked up, and how colours are read.
    pub shelf: &'shelf Shelf,
    /// The cup's base.
    pub base: &'shelf Base,
    /// Mass of the mixed base before pigment.
    pub base_mass: Grams,
    /// What is in the cup whatever the search finds, such as weighed fibre.
    pub fixed: Vec<Portion<'shelf>>,
    /// Where the cup ends up.
    pub place: Place,
    /// The colour aimed at, under each light; at least one.
    pub aims: Vec<Aim>,
    /// What may be dropped in.
    pub colorants: Vec<Colorant>,
    /// Whether a let-down of one in ten joins the colorants for each pigment whose drop is too coarse.
    pub let_downs: bool,
    /// How much may go in, and how long to look.
    pub limits: Limits,
}

/// Where a cup's content ends up.
#[expect(
    clippy::large_enum_variant,
    reason = "there is one in a question, and it is not moved about"
)]
#[derive(Clone, Debug, PartialEq)]
pub enum Place {
    /// A film over other layers.
    Film {
        /// Its thickness, mm.
        thickness_mm: f64,
        /// The layers under it, the upper first.
        beneath: Vec<Layer>,
        /// The diffuse reflectance under all of them, met from within.
        backing: Spectrum,
    },
    /// A bed too thick to see through, such as foam.
    Thick,
}

/// A colour aimed at, under the viewing of `weights`.
#[derive(Clone, Debug, PartialEq)]
pub struct Aim {
    /// The light and observer.
    pub weights: TristimulusWeights,
    /// The colour.
    pub lab: Lab,
}

/// Bounds of a search.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Most drops of one colorant.
    pub max_drops: u32,
    /// Most drops of all colorants together.
    pub max_total_drops: u32,
    /// Most different pigments in the cup.
    pub max_pigments: usize,
    /// How many recipes to give, the best first.
    pub top: usize,
    /// Distance from the best, in ΔE00, at which an answer counts as proven.
    pub within: f64,
    /// When to give the best found so far; the answer then depends on the machine.
    pub time_limit: Option<Duration>,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            max_drops: 40,
            max_total_drops: 60,
            max_pigments: 4,
            top: 1,
            within: 0.05,
            time_limit: None,
        }
    }
}

impl Question<'_> {
    /// The reading of the casting when the cup sets to `coefficients` (mm⁻¹).
    pub(super) fn reading(&self, coefficients: &Coefficients) -> Spectrum {
        let settings = &self.shelf.settings;
        let model = settings.model();
        match &self.place {
            Place::Thick => model.reading(&[], &model.thick(coefficients), &settings.surface),
            Place::Film {
                thickness_mm,
                beneath,
                backing,
            } => {
                let film = Layer {
                    coefficients: *coefficients,
                    thickness_mm: *thickness_mm,
                };
                // At most paint on skin: two layers, on the stack.
                match beneath.as_slice() {
                    [] => model.reading(&[film], backing, &settings.surface),
                    [under] => model.reading(&[film, *under], backing, &settings.surface),
                    more => {
                        let layers: Vec<Layer> =
                            std::iter::once(film).chain(more.iter().copied()).collect();
                        model.reading(&layers, backing, &settings.surface)
                    }
                }
            }
        }
    }

    /// The most drops of `colorant`. Of a let-down that joined in for its fineness, fewer than make a drop from
    /// the bottle, which stands beside it.
    pub(super) fn most_drops(&self, colorant: &Colorant) -> u32 {
        let most = self.limits.max_drops;
        if self.let_downs && colorant.let_down > 1.0 {
            most.min(whole_number(colorant.let_down.ceil()) - 1)
        } else {
            most
        }
    }

    /// Mean ΔE00 from the aims to a casting that reads `reflectance`.
    pub(super) fn delta_e(&self, reflectance: &Spectrum) -> f64 {
        let sum: f64 = self
            .aims
            .iter()
            .map(|aim| delta_e_2000(aim.lab, aim.weights.lab(reflectance)))
            .sum();
        sum / self.aims.len() as f64
    }
}
