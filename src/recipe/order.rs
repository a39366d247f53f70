//! What a maker asks for: a part from one target, of skin over a backing or over foam that is tinted first, and of paint
//! over that skin.

use std::collections::HashSet;
use std::time::{Duration, Instant};

use crate::colour::Light;
use crate::error::Result;
use crate::forecast::{Aim, tolerance};
use crate::materials::{
    Build, Colorant, Contact, Grams, Millimetres, Mix, Poured, Shelf, Underlay,
};
use crate::search::{KEPT, Limits, Question};
use crate::tone::{Target, ToneRole};

/// What a maker asks for: which bases, how much of each, and what for.
///
/// Made by [`skin`](Self::skin), then changed by the methods beside it or field by field; [`check`](Self::check) refuses what
/// contradicts itself, and so does every question that is asked of it.
///
/// ```
/// use dropwise::book::Book;
/// use dropwise::colour::{Lab, Viewing};
/// use dropwise::materials::Grams;
/// use dropwise::recipe::Order;
/// use dropwise::tone::Target;
///
/// let book = Book::demo()?;
/// let target = Target::from_lab(Lab::new(66.0, 11.3, 13.4), Viewing::D65_10)?;
/// let part = Order::skin(book.shelf(), "clear skin", Grams(600.0))
///     .over_foam("flexible foam", Grams(300.0))
///     .search(&target)?;
/// assert!(part.foam.is_some(), "the foam behind it is tinted too");
/// # Ok::<(), dropwise::Error>(())
/// ```
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Order<'shelf> {
    /// Where names are looked up, and how colours are read.
    pub shelf: &'shelf Shelf,
    /// The skin.
    pub skin: OrderedCup,
    /// The skin's thickness.
    pub thickness: Millimetres,
    /// The thickest skin that the mould leaves room for; none thicker is shown.
    pub max_thickness: Option<Millimetres>,
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
    /// Pigments of a long shelf, or of many that were named, that are passed over: see [`short_listed`](Self::short_listed).
    pub passed_over: Vec<String>,
    /// The lights to match under, the book's own among them or not; at least one.
    pub lights: Vec<Light>,
    /// ΔE00 up to which the skin passes; by the target's lightness where `None`: see [`tolerance`].
    pub tolerance: Option<f64>,
    /// Bounds of the search.
    pub limits: Limits,
}

/// The tones that paint is tinted to unless others are asked for: those that the skin has not.
pub const PAINTED_TONES: [ToneRole; 2] = [ToneRole::Flush, ToneRole::Shadow];

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
    /// A skin of `base_mass` of the base called `base`, 2 mm thick, bonded to the white card; any pigment that is dropped may
    /// go in, and it is matched under the book's light.
    pub fn skin(shelf: &'shelf Shelf, base: impl Into<String>, base_mass: Grams) -> Self {
        Self {
            shelf,
            skin: OrderedCup::new(base, base_mass),
            thickness: Millimetres(2.0),
            max_thickness: None,
            beneath: OrderedUnderlay::on(Shelf::WHITE_CARD),
            paint: None,
            paint_tones: PAINTED_TONES.to_vec(),
            in_the_skin: Mix::default(),
            colorants: None,
            must: Vec::new(),
            banned: Vec::new(),
            passed_over: Vec::new(),
            lights: vec![shelf.settings.viewing.illuminant.into()],
            tolerance: None,
            limits: Limits::default(),
        }
    }

    /// With `base_mass` of the foam called `base` behind it, which is tinted too.
    #[must_use]
    pub fn over_foam(mut self, base: impl Into<String>, base_mass: Grams) -> Self {
        self.beneath = OrderedUnderlay::Foam(OrderedCup::new(base, base_mass));
        self
    }

    /// Bonded to the backing called `name`.
    #[must_use]
    pub fn over_backing(mut self, name: impl Into<String>) -> Self {
        self.beneath = OrderedUnderlay::on(name);
        self
    }

    /// With paint over it, `base_mass` of the paint called `base` in each cup, all coats together `dry_thickness` dry.
    #[must_use]
    pub fn painted(
        mut self,
        base: impl Into<String>,
        base_mass: Grams,
        dry_thickness: Millimetres,
    ) -> Self {
        self.paint = Some((OrderedCup::new(base, base_mass), dry_thickness));
        self
    }

    /// With `mix` in the skin's cup whatever the search finds.
    #[must_use]
    pub fn holding(mut self, mix: Mix) -> Self {
        self.in_the_skin = mix;
        self
    }

    /// This thick.
    #[must_use]
    pub fn thick(mut self, thickness: Millimetres) -> Self {
        self.thickness = thickness;
        self
    }

    /// The same, with no more than sixteen bottles open for `target`, of the shelf or of those that were named: those that can
    /// matter for the skin, by what a little of each does to its colour; the others are [`passed_over`](Self::passed_over), and
    /// nothing is then proven over all. A search of hundreds of bottles would take minutes.
    ///
    /// # Errors
    /// As [`search`](Self::search).
    pub fn short_listed(self, target: &Target) -> Result<Self> {
        let kept = self.short_list(std::slice::from_ref(target))?;
        if kept.is_empty() {
            return Ok(self);
        }
        // What the skin holds already was not asked about, and may go into the other cups.
        let held = self.in_the_skin.entries().iter();
        let held = held.map(|(colorant, _)| colorant.pigment.clone());
        let kept: HashSet<String> = kept.into_iter().chain(held).collect();
        let mut passed_over: Vec<String> = (self.colorants_for(&self.skin.base).into_iter())
            .map(|colorant| colorant.pigment)
            .filter(|name| !kept.contains(name))
            .collect();
        passed_over.sort_unstable();
        passed_over.dedup();
        let mut colorants = self.colorants.clone();
        if let Some(named) = &mut colorants {
            named.retain(|colorant| kept.contains(&colorant.pigment));
        }
        Ok(Self {
            colorants,
            passed_over,
            ..self
        })
    }

    /// The sixteen bottles that can matter most for any of `targets`, each target's in turn, those that must be in among them; none
    /// where no more than so many are open.
    ///
    /// # Errors
    /// As [`search`](Self::search).
    pub(crate) fn short_list(&self, targets: &[Target]) -> Result<Vec<String>> {
        if self.colorants().len() <= KEPT {
            return Ok(Vec::new());
        }
        let list = |target| self.with_skin_question(target, |asked| asked.short_list());
        let lists: Vec<Vec<String>> = targets.iter().map(list).collect::<Result<_>>()?;
        let mut kept: Vec<String> = Vec::new();
        for rank in 0..KEPT {
            for name in lists.iter().filter_map(|list| list.get(rank)) {
                if kept.len() < KEPT && !kept.contains(name) {
                    kept.push(name.clone());
                }
            }
        }
        // What must be in stands first in each, and may be more than so many.
        let rest = lists.first().into_iter().flatten().skip(KEPT);
        kept.extend(rest.cloned());
        Ok(kept)
    }

    /// The same order, with so much time.
    #[must_use]
    pub fn with_time(&self, time_limit: Option<Duration>) -> Self {
        Self {
            limits: Limits {
                time_limit,
                ..self.limits
            },
            ..self.clone()
        }
    }

    /// When to give the best found so far, if now is when the search begins.
    pub(super) fn deadline(&self) -> Option<Instant> {
        self.limits.deadline_of(1.0)
    }

    /// Whether what else might be tried is left untried: the time until `deadline` is over, or somebody has seen enough. Where there
    /// was none to begin with, nothing is proven and all is tried.
    pub(super) fn has_no_more_time(&self, deadline: Option<Instant>) -> bool {
        let is_over = || deadline.is_some_and(|deadline| Instant::now() >= deadline);
        let had_some = self.limits.time_limit.is_some_and(|limit| !limit.is_zero());
        self.limits.watch.is_stopped() || (had_some && is_over())
    }

    /// ΔE00 up to which a skin passes for `target`.
    pub fn tolerance_for(&self, target: &Target) -> f64 {
        self.tolerance.unwrap_or_else(|| tolerance(target.lab))
    }

    /// Asks `ask` what is asked of the search for the skin: over foam, over untinted foam.
    pub(super) fn with_skin_question<T>(
        &self,
        target: &Target,
        ask: impl FnOnce(&Question<'_>) -> Result<T>,
    ) -> Result<T> {
        self.check(target)?;
        let unfilled = self.unfilled(self.beneath.untinted());
        ask(&self.question(
            self.skin_task(&unfilled, target, self.limits.contrast_ratio)?,
            None,
        )?)
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
        let left_out = (self.banned.iter().chain(&self.passed_over)).collect::<HashSet<_>>();
        let dropped = (self.shelf.dropped()).filter(|pigment| !left_out.contains(&pigment.name));
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
    /// The backing called `name`, with the skin bonded to it.
    pub fn on(name: impl Into<String>) -> Self {
        Self::Backing {
            name: name.into(),
            contact: Contact::Bonded,
        }
    }

    /// What lies beneath before the search has tinted anything.
    pub(crate) fn untinted(&self) -> Underlay {
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
    /// `base_mass` of the base called `base`.
    pub fn new(base: impl Into<String>, base_mass: Grams) -> Self {
        Self {
            base: base.into(),
            base_mass,
        }
    }

    pub(super) fn with(&self, mix: Mix) -> Poured {
        Poured {
            base: self.base.clone(),
            base_mass: self.base_mass,
            mix,
        }
    }
}
