//! All that a swatch book says of materials, and how its colours are read.

use std::sync::Arc;

use super::{
    Base, CoefficientSpread, FoamStep, Grams, JointDirection, LeftOver, LetDown, Material,
    Millimetres, Pigment, StockBottle,
};
use crate::colour::{Spectrum, Viewing};
use crate::error::{Error, Result};
use crate::optics::{Coefficients, Model, Surface};

/// The materials at hand.
#[derive(Clone, Debug, PartialEq)]
pub struct Shelf {
    /// How colours are read and predicted.
    pub settings: Settings,
    /// The clear bases.
    pub bases: Vec<Base>,
    /// The pigments, and the fibre.
    pub pigments: Vec<Pigment>,
    /// The cards and other backings.
    pub backings: Vec<Backing>,
    /// The let-downs that were made and not used up yet.
    pub let_downs: Vec<LetDown>,
    /// The clear vehicles that pigments come in, for stocks: weighed like a pigment, and never cast.
    pub carriers: Vec<Pigment>,
    /// The stocks; each stands among the pigments too.
    pub stocks: Vec<StockBottle>,
    /// What the last calibration left unknown of its materials, as independent joint directions of several at once.
    pub joint_directions: Vec<JointDirection>,
    /// What the last calibration left over at the castings that it learnt from; `None` where nothing was.
    pub left_over: Option<Arc<LeftOver>>,
}

/// A backing of known reflectance.
#[derive(Clone, Debug, PartialEq)]
pub struct Backing {
    /// Its name on the shelf.
    pub name: String,
    /// Its diffuse reflectance, 0–1: what a casting bonded to it meets from within. For an uncoated, matt card
    /// that is about what an instrument reads of it; a glossy one is better read through a clear chip wetted to
    /// it. A casting laid on it dry meets its own lower surface and air first.
    pub reflectance: Spectrum,
}

/// How a book's colours are read, and how exactly its hands work.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// The book's name.
    pub name: String,
    /// Light and observer of every CIELAB value in the book.
    pub viewing: Viewing,
    /// The layer model that predicts this book's colours.
    pub model: Model,
    /// The castings' surface, and whether readings include the light it mirrors.
    pub surface: Surface,
    /// Relative standard deviation of the mass of one drop.
    pub drop_sd: f64,
    /// Standard deviation of a brushed skin's thickness.
    pub thickness_sd: Millimetres,
    /// The smallest step of the scale.
    pub scale_resolution: Grams,
}

impl Shelf {
    /// The card that contrast ratios are taken over, as `white card` in the book.
    pub const WHITE_CARD: &str = "white card";
    /// Its dark counterpart, as `black card` in the book.
    pub const BLACK_CARD: &str = "black card";

    /// Reflectance of the white card, 0–1; an ideal white where the shelf has none.
    pub fn white_card(&self) -> Spectrum {
        self.backing(Self::WHITE_CARD)
            .map_or(Spectrum::constant(1.0), |card| card.reflectance)
    }

    /// Reflectance of the black card, 0–1; an ideal black where the shelf has none.
    pub fn black_card(&self) -> Spectrum {
        self.backing(Self::BLACK_CARD)
            .map_or(Spectrum::constant(0.0), |card| card.reflectance)
    }

    /// Whether the joint directions hold what is not known of `material`.
    pub fn is_calibrated(&self, material: &Material) -> bool {
        let mut steps = self.joint_directions.iter().flat_map(|each| &each.steps);
        steps.any(|step| step.material == *material)
    }

    /// Whether the joint directions hold what is not known of the cells and the absorption gain of the foam called `name`.
    pub fn is_foam_calibrated(&self, name: &str) -> bool {
        self.foam_steps(name).next().is_some()
    }

    /// Whether they hold what is not known of its wet share: those of a book that was calibrated before it was asked for do not.
    pub fn is_contact_calibrated(&self, name: &str) -> bool {
        self.foam_steps(name).any(|step| step.ln_wet.abs() > 0.0)
    }

    fn foam_steps(&self, name: &str) -> impl Iterator<Item = &FoamStep> {
        let is_it = move |material: &Material| matches!(material, Material::Base(of) if of == name);
        let steps = self.joint_directions.iter().flat_map(|each| &each.steps);
        steps.filter_map(move |step| step.foam.as_ref().filter(|_| is_it(&step.material)))
    }

    /// K and S of `material`, and how sure they are.
    ///
    /// # Errors
    /// No such material; the nearest name is suggested.
    pub fn curves(&self, material: &Material) -> Result<(Coefficients, CoefficientSpread)> {
        match material {
            Material::Base(name) => self.base(name).map(|base| (base.coefficients, base.spread)),
            Material::Pigment(name) => self
                .pigment(name)
                .map(|pigment| (pigment.coefficients, pigment.spread)),
        }
    }

    /// The base called `name`.
    ///
    /// # Errors
    /// No such base; the nearest name is suggested.
    pub fn base(&self, name: &str) -> Result<&Base> {
        if self.carriers.iter().any(|carrier| carrier.name == name) {
            let finding = format!("`{}` is a carrier, which does not set", name.escape_debug());
            return Err(Error::input(finding)
                .mend("name a skin, a foam or a paint; a carrier thins stocks"));
        }
        named("base", name, &self.bases, |base| &base.name)
    }

    /// The pigment called `name`.
    ///
    /// # Errors
    /// No such pigment; the nearest name is suggested.
    pub fn pigment(&self, name: &str) -> Result<&Pigment> {
        named("pigment", name, &self.pigments, |pigment| &pigment.name)
    }

    /// The backing called `name`.
    ///
    /// # Errors
    /// No such backing; the nearest name is suggested.
    pub fn backing(&self, name: &str) -> Result<&Backing> {
        named("backing", name, &self.backings, |backing| &backing.name)
    }
}

fn named<'a, T>(
    kind: &str,
    name: &str,
    all: &'a [T],
    name_of: impl Fn(&T) -> &String,
) -> Result<&'a T> {
    let exact = all.iter().find(|thing| name_of(thing) == name);
    let found = exact.or_else(|| {
        // Another case will do where it leaves no choice.
        let lower = name.to_lowercase();
        let mut alike = (all.iter()).filter(|thing| name_of(thing).to_lowercase() == lower);
        alike.next().filter(|_| alike.next().is_none())
    });
    match found {
        Some(found) => Ok(found),
        None => Err(Error::unknown_name(
            kind,
            name,
            all.iter().map(|thing| name_of(thing).as_str()),
        )),
    }
}
