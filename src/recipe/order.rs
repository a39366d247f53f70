//! What a maker asks for: a part from one target, of skin over a backing or over foam that is tinted first, and of paint
//! over that skin.

use std::time::Instant;

use crate::colour::Light;
use crate::error::{Error, Result};
use crate::forecast::Aim;
use crate::materials::{
    Build, Colorant, Contact, Grams, Millimetres, Mix, Poured, Shelf, Underlay,
};
use crate::search::{Limits, Question};
use crate::tone::{Target, ToneRole};

/// What a maker asks for: which bases, how much of each, and what for.
#[derive(Clone, Debug)]
pub struct Order<'shelf> {
    /// Where names are looked up, and how colours are read.
    pub shelf: &'shelf Shelf,
    /// The skin.
    pub skin: OrderedCup,
    /// The skin's thickness.
    pub thickness: Millimetres,
    /// What the skin lies on.
    pub beneath: OrderedUnderlay,
    /// Paint over all, and how thick its coats dry together.
    pub paint: Option<(OrderedCup, Millimetres)>,
    /// The tones that paint is tinted to, a cup for each that the target has.
    pub paint_tones: Vec<ToneRole>,
    /// What goes into the skin's cup whatever the search finds, such as weighed fibre. Of a pigment that is dropped here,
    /// the skin gets just these drops, and they count as drops of the cup.
    pub in_the_skin: Mix,
    /// What may be dropped in; every pigment that is dropped where `None`, with let-downs of those whose drop is
    /// too coarse.
    pub colorants: Option<Vec<Colorant>>,
    /// Pigments of which some must be dropped into the skin.
    pub must: Vec<String>,
    /// Pigments that must not be used, where `colorants` doesn't say.
    pub banned: Vec<String>,
    /// The lights to match under, the book's own among them or not; at least one.
    pub lights: Vec<Light>,
    /// ΔE00 up to which the skin passes.
    pub tolerance: f64,
    /// Bounds of the search.
    pub limits: Limits,
}

/// A base, and how much of it is mixed.
#[derive(Clone, Debug, PartialEq)]
pub struct OrderedCup {
    /// Name of the base.
    pub base: String,
    /// Mass of the mixed base before pigment.
    pub base_mass: Grams,
}

/// What the skin lies on.
#[derive(Clone, Debug, PartialEq)]
pub enum OrderedUnderlay {
    /// Foam, to be tinted to the base tone, or to a lighter one where that gains room for the skin.
    Foam(OrderedCup),
    /// Foam, to be tinted to the base tone whatever that means for the skin.
    FoamAtTheTone(OrderedCup),
    /// Foam as it is already.
    PouredFoam(Poured),
    /// A card or another backing of the shelf.
    Backing {
        /// Its name.
        name: String,
        /// How the skin lies on it.
        contact: Contact,
    },
}

impl<'shelf> Order<'shelf> {
    /// When to give the best found so far, if now is when the search begins.
    pub(super) fn deadline(&self) -> Option<Instant> {
        self.limits.deadline_of(1.0)
    }

    pub(super) fn check(&self, target: &Target) -> Result<()> {
        let viewing = self.shelf.settings.viewing;
        if target.viewing != viewing {
            let finding = format!(
                "the target is given for {}, this book for {viewing}",
                target.viewing
            );
            return Err(Error::input(finding).mend("read the target again with this book"));
        }
        if self.lights.is_empty() {
            return Err(Error::input("no light to match under").mend("name one, such as D65"));
        }
        if !(self.tolerance >= 0.0 && self.tolerance.is_finite()) {
            let finding = format!("a tolerance of ΔE00 {}", self.tolerance);
            return Err(Error::input(finding).mend("expected a number from 0 up"));
        }
        Ok(())
    }

    /// Asks `ask` what is asked of the search for the skin: over foam, over untinted foam.
    pub(super) fn with_skin_question<T>(
        &self,
        target: &Target,
        ask: impl FnOnce(&Question<'_>) -> Result<T>,
    ) -> Result<T> {
        self.check(target)?;
        let unfilled = self.unfilled(self.beneath.untinted());
        ask(&self.question(self.skin_task(&unfilled, target)?, None)?)
    }

    /// The part without its drops.
    pub(super) fn unfilled(&self, beneath: Underlay) -> Build {
        Build {
            skin: self.skin.with(self.in_the_skin.clone()),
            thickness: self.thickness,
            beneath,
            paint: None,
        }
    }

    /// What may be dropped into a cup of `base`: where nobody says what, also the let-downs of these pigments that stand on
    /// the shelf for that base, and none of what that base [does not want](crate::materials::Base::wants).
    pub(super) fn colorants_for(&self, base: &str) -> Vec<Colorant> {
        let mut colorants = self.colorants();
        if self.colorants.is_none() {
            let mut ready = self.shelf.let_downs_for(base);
            ready.retain(|ready| colorants.iter().any(|neat| neat.pigment == ready.pigment));
            colorants.extend(ready);
            if let Ok(base) = self.shelf.base(base) {
                let pigment = |name: &str| self.shelf.pigment(name);
                colorants.retain(|each| pigment(&each.pigment).is_ok_and(|it| base.wants(it)));
            }
        }
        colorants
    }

    pub(super) fn colorants(&self) -> Vec<Colorant> {
        let dropped =
            self.shelf.pigments.iter().filter(|pigment| {
                pigment.drop_mass.is_some() && !self.banned.contains(&pigment.name)
            });
        self.colorants.clone().unwrap_or_else(|| {
            dropped
                .map(|pigment| Colorant::neat(&pigment.name))
                .collect()
        })
    }

    pub(super) fn aims(&self, target: &Target) -> Vec<Aim> {
        let viewing = target.viewing;
        let aim = |light: &Light| Aim {
            weights: light.weights(viewing.observer),
            lab: if *light == viewing.illuminant {
                target.lab
            } else {
                target.under(light)
            },
        };
        self.lights.iter().map(aim).collect()
    }
}

impl OrderedUnderlay {
    /// What lies beneath before the search has tinted anything.
    pub(super) fn untinted(&self) -> Underlay {
        match self {
            Self::Foam(cup) | Self::FoamAtTheTone(cup) => Underlay::Foam(cup.with(Mix::default())),
            Self::PouredFoam(poured) => Underlay::Foam(poured.clone()),
            Self::Backing { name, contact } => Underlay::Backing {
                name: name.clone(),
                contact: *contact,
            },
        }
    }
}

impl OrderedCup {
    pub(super) fn with(&self, mix: Mix) -> Poured {
        Poured {
            base: self.base.clone(),
            base_mass: self.base_mass,
            mix,
        }
    }
}
