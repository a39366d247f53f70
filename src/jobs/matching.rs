//! From a target to cups: the recipes of a part, poured from what stands in the book.

use std::fmt;
use std::time::Instant;

use jiff::civil::Date;

use super::bases::base_name;
use super::batching::Batched;
use super::finding;
use super::left_part_b::{self, LeftUse};
use super::stock_instead::{StockInstead, stock_instead};
use crate::batch::{self, JarUse, Pour, Scale, Unlike};
use crate::book::Book;
use crate::colour::{Lab, Light};
use crate::error::Result;
use crate::forecast::wet_g_per_100_cm2;
use crate::materials::{
    Amount, BaseKind, Build, Casting, Colorant, Cup, Grams, Kind, Millimetres, Mix, Poured, Shelf,
    Underlay, check_range,
};
use crate::optics::Foam;
pub use crate::recipe::{Beneath, Request, WantedCup};
use crate::recipe::{
    CupRecipe, OneTint, Order, OrderedCup, OrderedUnderlay, PartRecipe, Prospects, Reach,
};
use crate::tone::{SpectrumSource, Target, ToneRole};

impl Request {
    /// How many pots alike a cup of `mass` is mixed in, of a base of this `kind`, one after the other.
    fn pots(&self, mass: Grams, kind: Kind) -> Result<u32> {
        batch::pots(mass, self.largest_pots.of(kind))
    }

    /// `mass` in one of those pots.
    fn in_one_pot(&self, mass: Grams, kind: Kind) -> Result<Grams> {
        Ok(Grams(mass.0 / f64::from(self.pots(mass, kind)?)))
    }

    /// How the recipe of one pot of `layer` is made into the cup that is wanted.
    fn scale(&self, shelf: &Shelf, layer: Layer) -> Result<Scale> {
        let wanted = match (layer, &self.beneath, &self.paint) {
            (Layer::Skin, ..) => Some((&self.skin, self.skin_kind(shelf)?)),
            (Layer::Foam { .. }, Beneath::Foam { cup, .. }, _) => Some((cup, Kind::Foam)),
            (Layer::Paint(_), _, Some((cup, _))) => Some((cup, Kind::Paint)),
            _ => None,
        };
        let (pots, kind) = match wanted {
            Some((cup, kind)) => (self.pots(cup.base_mass, kind)?, kind),
            None => (1, Kind::Skin),
        };
        Ok(Scale {
            factor: f64::from(pots),
            largest_pot: self.largest_pots.of(kind),
        })
    }

    /// Of what kind the cup in the skin's place is: a foam or a paint may be matched alone.
    fn skin_kind(&self, shelf: &Shelf) -> Result<Kind> {
        let base = base_name(shelf, self.skin.base.as_deref(), Kind::Skin)?;
        Ok(shelf.base(&base)?.kind.kind())
    }

    /// What is asked of `shelf` for one pot of each cup.
    pub(super) fn order<'shelf>(&self, shelf: &'shelf Shelf) -> Result<Order<'shelf>> {
        let cup = |wanted: &WantedCup, kind| -> Result<OrderedCup> {
            let base = base_name(shelf, wanted.base.as_deref(), kind)?;
            let kind = shelf.base(&base)?.kind.kind();
            Ok(OrderedCup::new(
                base,
                self.in_one_pot(wanted.base_mass, kind)?,
            ))
        };
        let skin = cup(&self.skin, Kind::Skin)?;
        let mut order = Order::skin(shelf, skin.base, skin.base_mass).thick(self.thickness);
        order.max_thickness = self.max_thickness;
        order.beneath = match &self.beneath {
            Beneath::Foam {
                cup: foam,
                at_the_tone: true,
            } => OrderedUnderlay::FoamAtTheTone(cup(foam, Kind::Foam)?),
            Beneath::Foam { cup: foam, .. } => OrderedUnderlay::Foam(cup(foam, Kind::Foam)?),
            // It was poured already, however that was done.
            Beneath::PouredFoam { cup: foam, mix } => OrderedUnderlay::PouredFoam(Poured {
                base: base_name(shelf, foam.base.as_deref(), Kind::Foam)?,
                base_mass: foam.base_mass,
                mix: mix.clone(),
            }),
            Beneath::Backing(name) => OrderedUnderlay::on(name),
            Beneath::Read(read) => OrderedUnderlay::on(&read.name),
        };
        if let Some((paint, dry_thickness)) = &self.paint {
            // Whatever tones there are to be painted, if any.
            let what = "the mass of the paint";
            check_range(what, paint.base_mass.0, Cup::BASE_MASS_G, "g")?;
            order.paint = Some((cup(paint, Kind::Paint)?, *dry_thickness));
        }
        order.paint_tones.clone_from(&self.paint_tones);
        order.in_the_skin = self.in_the_skin(shelf)?;
        order.colorants.clone_from(&self.pigments);
        let open = self.with.iter().filter(|(_, drops)| drops.is_none());
        order.must = open.map(|(colorant, _)| colorant.pigment.clone()).collect();
        order.banned.clone_from(&self.without);
        if !self.lights.is_empty() {
            order.lights.clone_from(&self.lights);
        }
        order.tolerance = self.tolerance;
        order.limits = self.limits;
        Ok(order)
    }

    /// What goes into one pot of the skin whatever the search finds: settled drops and the fibre.
    fn in_the_skin(&self, shelf: &Shelf) -> Result<Mix> {
        let settled = (self.with.iter()).filter_map(|(colorant, drops)| {
            let drops = Amount::Drops((*drops)?.into());
            Some((colorant.clone(), drops))
        });
        let mut entries: Vec<(Colorant, Amount)> = settled.collect();
        if self.fibre.0 > 0.0 {
            let pots = self.pots(self.skin.base_mass, self.skin_kind(shelf)?)?;
            let in_one_pot = Grams(self.fibre.0 / f64::from(pots));
            entries.push((Colorant::neat("fibre"), Amount::Mass(in_one_pot)));
        }
        Mix::new(entries)
    }
}

/// The cups that answer a request.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Matched {
    /// The day of the request.
    pub day: Date,
    /// The swatch book's name.
    pub book: String,
    /// The target.
    pub target: Target,
    /// The lights that were matched under.
    pub lights: Vec<Light>,
    /// ΔE00 up to which a part passes.
    pub tolerance: f64,
    /// The skin, aimed at the base tone.
    pub skin: FilledCup,
    /// The foam, if one was to be tinted.
    pub foam: Option<FilledCup>,
    /// The paints, each aimed at a tone over the finished skin.
    pub paints: Vec<FilledCup>,
    /// The part with the best of each, unpainted.
    pub build: Build,
    /// The one stock that tints skin and foam, if they have one.
    pub one_tint: Option<OneTint>,
    /// What all cups together take of each stock that stands in the book.
    pub stocks: Vec<StockUse>,
    /// What the skin can take of tinted part B that is left.
    pub left_part_b: Option<LeftUse>,
    /// What a shop would rather keep than stir new jars.
    pub stock_instead: Option<StockInstead>,
    /// What else is to be expected.
    pub prospects: Prospects,
    /// What would bring the skin nearer; looked for where it doesn't pass.
    pub reach: Reach,
    /// What else the maker should know.
    pub notes: Vec<Note>,
}

/// What a part takes of a stock that stands in the book.
#[derive(Clone, Debug, PartialEq)]
pub struct StockUse {
    /// The stock.
    pub name: String,
    /// What is taken of it, without the clear base of its let-downs.
    pub used: Grams,
    /// What is left of it in the book.
    pub left: Grams,
}

/// Recipes for a cup, and how to pour and use the best.
#[derive(Clone, Debug)]
pub struct FilledCup {
    /// Where it goes.
    pub layer: Layer,
    /// Its recipes.
    pub recipe: CupRecipe,
    /// How to pour the best of them.
    pub pour: Pour,
    /// How it is put on.
    pub application: Application,
    /// What it takes of stocks that stand in the book, by their names.
    pub stocks: Vec<(String, Grams)>,
    /// How far what is measured out lies from the recipe, ΔE00.
    pub off_recipe: f64,
    /// Pots of unlike size in whole drops, where each is tinted for itself and pots alike take none.
    pub unlike: Option<Unlike>,
}

impl FilledCup {
    /// What it is called: in the skin's place there may be a foam or a paint, which is matched by itself.
    pub fn name(&self) -> String {
        match self.layer {
            Layer::Skin => self.pour.kind.to_string(),
            Layer::Foam { .. } | Layer::Paint(_) => self.layer.to_string(),
        }
    }
}

/// Which layer of the part a cup is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Layer {
    /// The skin, aimed at the base tone.
    Skin,
    /// The foam behind it, aimed at the base tone as it is seen bare.
    Foam {
        /// Whether it is aimed at a lighter one, so that the skin has room.
        is_lightened: bool,
    },
    /// Paint over the finished skin, aimed at this tone.
    Paint(ToneRole),
}

impl fmt::Display for Layer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Skin => write!(f, "{}", Kind::Skin),
            Self::Foam { .. } => write!(f, "{}", Kind::Foam),
            Self::Paint(role) => write!(f, "{role} {}", Kind::Paint),
        }
    }
}

/// How a cup is put on. In the skin's place there may be a foam or a paint, which is matched by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Application {
    /// Brushed into the mould.
    Brushed {
        /// How thick.
        thickness: Millimetres,
    },
    /// Foam that rises by itself.
    Risen {
        /// How many times its volume.
        expansion: f64,
        /// How thick.
        thickness: Millimetres,
    },
    /// Foam poured behind the skin.
    PouredBehind {
        /// How many times its volume it rises to.
        expansion: f64,
    },
    /// Sprayed in thin coats.
    Sprayed {
        /// How thick all coats dry together.
        dry_thickness: Millimetres,
        /// How much wet paint that is, g on 100 cm².
        wet_g_per_100_cm2: f64,
    },
}

/// What a maker should know of a match beside its numbers.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Note {
    /// What the book knows leaves L* of the skin this uncertain: a test piece is worth more than the prediction.
    UncertainLightness {
        /// The standard deviation of L*.
        l_sd: f64,
    },
    /// The skin is nearly clear, so that what lies behind it carries the colour.
    NearlyClear {
        /// Whether that is foam, and not a backing.
        over_foam: bool,
    },
    /// Paint was ordered, and the target has none of the tones.
    NoPaint,
    /// The book is the demo, whose materials are invented.
    Demo,
    /// The skin is worked out over foam that looks like this bare.
    FoamAsItIs(Lab),
    /// The skin is denser or more see-through than what was read of the target.
    Contrast {
        /// The target's contrast ratio.
        aimed: f64,
        /// The skin's.
        made: f64,
    },
    /// The target's colours under other lights come from a spectrum that nobody read.
    GuessedSpectrum(SpectrumSource),
    /// Tinted part B is left that the skin can take.
    LeftPartB(LeftUse),
    /// Less is left of this stock than the part takes.
    StockShort(StockUse),
    /// The time was over before swatches were learnt from: the cup goes by the book as it stands.
    NoTimeToLearn,
    /// More was at hand than can be looked at: some of it was passed over.
    PassedOver(PassedOver),
    /// These pigments were left out, since nothing tells of their curves.
    Unread(Vec<String>),
    /// An unpainted skin of the log, over the like of what lies beneath, read within tolerance of the tone.
    MadeBefore {
        /// The swatch.
        swatch: String,
        /// The day on which it was read.
        date: Date,
        /// How far it read from the tone, ΔE00.
        apart: f64,
    },
}

/// What a search passed over, since more was at hand than it can look at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PassedOver {
    /// Bottles: others go the same way, or dose better.
    pub bottles: usize,
    /// Whether they were named; else they stand on a long shelf.
    pub were_named: bool,
    /// Strengths of the pigments that were kept: there are more ways to dose them than can be tried.
    pub strengths: usize,
}

impl PassedOver {
    /// Whether anything was.
    pub fn is_any(&self) -> bool {
        self.bottles > 0 || self.strengths > 0
    }
}

/// Standard deviation of the predicted L* from which a test piece is worth more than the prediction.
const GUESS_L_SD: f64 = 1.0;

/// Contrast ratio below which a skin is as good as clear.
const CLEAR_SKIN: f64 = 0.15;

/// A difference of contrast ratio that is seen. Common practice, no source.
const SEEN_CONTRAST: f64 = 0.05;

/// Answers `request` for `target` with what `book` has.
///
/// # Errors
/// As [`Order::search`] and [`Order::one_tint`]; a base of a kind that the book hasn't; a pot of less than can be mixed.
pub fn run(book: &Book, target: &Target, request: &Request) -> Result<Matched> {
    // Let-downs that don't serve are named, and not dropped.
    let serving = request.serving(book.shelf());
    let order = request.order(&serving)?;
    if let Some(name) = &request.stock {
        serving.named_stock(name)?;
    }
    let order = order.short_listed(target)?;
    let begun = Instant::now();
    // What is bound to a stock is looked for beside what is not, in one time.
    let is_bound = request.one_tint || request.stock.is_some();
    let halves = if is_bound { 2 } else { 1 };
    let limit = order.limits.time_limit.map(|limit| limit / halves);
    let free = order.with_time(limit).search(target)?;
    let passes = free.skin.best().delta_e <= order.tolerance_for(target);
    let reach = if passes || request.limits.watch.is_stopped() {
        Reach::default()
    } else {
        // The starter's pigments are those of the demo.
        order.reach(target, &free, &Book::demo()?.shelf().pigments)?
    };
    let bound = || order.with_time(order.limits.time_left_since(begun));
    let one_tint = match &request.stock {
        Some(name) => Some(bound().with_stock(name, target, &free)?),
        None if request.one_tint => Some(bound().one_tint(target, &free)?),
        None => None,
    };
    let (shelf, recipe) = match &one_tint {
        Some(OneTint { shelf, part, .. }) => (shelf, part.clone()),
        None => (&serving, free),
    };
    let order = Order { shelf, ..order };
    let answer = Answer {
        recipe,
        one_tint: one_tint.clone(),
        reach,
    };
    poured(book, target, request, &order, answer, |layer| {
        request.scale(shelf, layer)
    })
}

/// What was found, or is kept, of a part.
pub(super) struct Answer {
    pub(super) recipe: PartRecipe,
    pub(super) one_tint: Option<OneTint>,
    pub(super) reach: Reach,
}

/// `answer` to `request` for `target`, as it is poured: each cup by its `scale`, on the shelf of `order`.
///
/// # Errors
/// As [`Order::prospects`] and [`batch::pour`].
pub(super) fn poured(
    book: &Book,
    target: &Target,
    request: &Request,
    order: &Order<'_>,
    answer: Answer,
    scale: impl Fn(Layer) -> Result<Scale>,
) -> Result<Matched> {
    let Answer {
        recipe,
        one_tint,
        reach,
    } = answer;
    let tolerance = order.tolerance_for(target);
    let hide_within = request.hide_within.unwrap_or(tolerance);
    let prospects = order.prospects(&recipe, target, hide_within)?;
    let notes = notes(order, book, target, &recipe)?;
    let lights = order.lights.clone();
    let PartRecipe {
        skin,
        foam,
        paints,
        build,
    } = recipe;
    let mut pouring = Pouring {
        request,
        build: &build,
        shelf: order.shelf,
        stock: book.shelf().clone(),
        stocks: Vec::new(),
    };
    let mut fill = |layer, recipe| pouring.fill(layer, recipe, scale(layer)?);
    let skin = fill(Layer::Skin, skin)?;
    let foam = foam.map(|foam| {
        let is_lightened = foam.aim.l > target.lab.l;
        fill(Layer::Foam { is_lightened }, foam)
    });
    let foam = foam.transpose()?;
    let paints = paints.into_iter();
    let paints = paints.map(|(role, paint)| fill(Layer::Paint(role), paint));
    let paints = paints.collect::<Result<_>>()?;
    let stocks = pouring.stocks;
    let aim = (skin.recipe.aim, tolerance);
    let left_part_b =
        left_part_b::usable(book, order.shelf, (&skin.pour, &build), aim, request.day)?;
    let pours = std::iter::once(&skin).chain(&foam).chain(&paints);
    let jars = JarUse::to_stir(pours.map(|cup| &cup.pour));
    let stock_instead = stock_instead(book.shelf(), &jars)?;
    let short = stocks.iter().filter(|each| each.used.0 > each.left.0);
    let notes: Vec<Note> = (short.cloned().map(Note::StockShort))
        .chain(left_part_b.clone().map(Note::LeftPartB))
        .chain(notes)
        .collect();
    Ok(Matched {
        day: request.day,
        book: book.shelf().settings.name.clone(),
        target: target.clone(),
        lights,
        tolerance,
        skin,
        foam,
        paints,
        stocks,
        left_part_b,
        stock_instead,
        build,
        one_tint,
        prospects,
        reach,
        notes,
    })
}

/// Cups poured one after the other: each finds of the let-downs what those before it leave.
struct Pouring<'a> {
    request: &'a Request,
    /// The part that they make.
    build: &'a Build,
    /// Where the recipes' names are looked up.
    shelf: &'a Shelf,
    /// What stands of let-downs.
    stock: Shelf,
    /// What they have taken of stocks.
    stocks: Vec<StockUse>,
}

impl Pouring<'_> {
    fn fill(&mut self, layer: Layer, recipe: CupRecipe, scale: Scale) -> Result<FilledCup> {
        let day = self.request.day;
        let cup = Cup::pour(self.shelf, &recipe.best().poured)?;
        let mut stocks = Vec::new();
        for portion in &cup.portions {
            let used = portion.dispersion_mass() * scale.factor;
            let name = &portion.pigment.name;
            if self.stock.stock(name).is_some() {
                stocks.push((name.clone(), used));
            }
            if let Some(known) = self.stocks.iter_mut().find(|each| each.name == *name) {
                known.used = known.used + used;
            } else if let Some(bottle) = self.stock.stock(name) {
                self.stocks.push(StockUse {
                    name: name.clone(),
                    used,
                    left: bottle.left,
                });
            }
        }
        let wanted = (&recipe.best().poured, &cup);
        let (stock, is_pot_by_pot) = ((&self.stock, day), self.request.pot_by_pot);
        let batched = Batched::of(wanted, scale, stock, is_pot_by_pot, |poured| {
            self.cast(layer, poured)
        })?;
        batched.pour.take_let_downs(&mut self.stock, day);
        Ok(FilledCup {
            off_recipe: batched.off_recipe,
            unlike: batched.unlike,
            application: self.application(&cup, layer),
            pour: batched.pour,
            layer,
            recipe,
            stocks,
        })
    }

    /// The part, as far as it shows a cup of `layer`, with `poured` in that cup.
    fn cast(&self, layer: Layer, poured: &Poured) -> Result<Casting<'_>> {
        let dry_thickness = self.request.paint.as_ref().map(|(_, dry)| *dry);
        match (layer, dry_thickness) {
            (Layer::Foam { .. }, _) => Casting::bare_foam(self.shelf, poured),
            (Layer::Paint(_), Some(dry)) => {
                Casting::new(self.shelf, &self.build.painted(poured.clone(), dry))
            }
            (Layer::Skin | Layer::Paint(_), _) => {
                let build = Build {
                    skin: poured.clone(),
                    ..self.build.clone()
                };
                Casting::new(self.shelf, &build)
            }
        }
    }

    fn application(&self, cup: &Cup<'_>, layer: Layer) -> Application {
        let thickness = self.request.thickness;
        let is_skin = layer == Layer::Skin;
        match cup.base.kind {
            BaseKind::Skin => Application::Brushed { thickness },
            BaseKind::Foam(Foam { expansion, .. }) if is_skin => Application::Risen {
                expansion,
                thickness,
            },
            BaseKind::Foam(Foam { expansion, .. }) => Application::PouredBehind { expansion },
            BaseKind::Paint { .. } => {
                let coats = self.request.paint.as_ref().map(|(_, dry)| *dry);
                let dry_thickness = coats.filter(|_| !is_skin).unwrap_or(thickness);
                Application::Sprayed {
                    dry_thickness,
                    wet_g_per_100_cm2: wet_g_per_100_cm2(cup, dry_thickness),
                }
            }
        }
    }
}

impl Matched {
    /// The cups, in the order of the work: the skin goes into the mould first, the foam behind it, the paint on
    /// what comes out.
    pub fn cups(&self) -> impl Iterator<Item = &FilledCup> {
        std::iter::once(&self.skin)
            .chain(&self.foam)
            .chain(&self.paints)
    }

    /// Whether the skin, which shows most, is aimed to within tolerance.
    pub fn passes(&self) -> bool {
        self.is_reached(&self.skin)
    }

    /// Whether the best recipe of `cup` is aimed to within tolerance.
    pub fn is_reached(&self, cup: &FilledCup) -> bool {
        cup.recipe.best().delta_e <= self.tolerance
    }

    /// `mix` in pigments of the book alone.
    ///
    /// # Errors
    /// As [`OneTint::spelled_out`].
    pub fn spelled_out(&self, mix: &Mix) -> Result<Mix> {
        let spelled_out = (self.one_tint.as_ref()).map(|tint| tint.spelled_out(mix));
        spelled_out.unwrap_or_else(|| Ok(mix.clone()))
    }
}

/// What the maker should know of this match beside its numbers.
fn notes(
    order: &Order<'_>,
    book: &Book,
    target: &Target,
    recipe: &PartRecipe,
) -> Result<Vec<Note>> {
    let skin = &recipe.skin.best().prediction;
    let made = skin.contrast_ratio;
    let [l_sd, ..] = skin.spread();
    let over_foam = matches!(recipe.build.beneath, Underlay::Foam(_));
    let home = target.viewing.illuminant;
    let is_seen_elsewhere = order.lights.iter().any(|light| *light != home);
    let aimed = target.translucency.map(|seen| seen.contrast_ratio);
    let aimed = aimed.filter(|aimed| (made - aimed).abs() >= SEEN_CONTRAST);
    let notes = [
        (l_sd > GUESS_L_SD).then_some(Note::UncertainLightness { l_sd }),
        (made < CLEAR_SKIN).then_some(Note::NearlyClear { over_foam }),
        (order.paint.is_some() && recipe.paints.is_empty()).then_some(Note::NoPaint),
        book.folder().is_none().then_some(Note::Demo),
        foam_as_it_is(order, recipe)?,
        aimed.map(|aimed| Note::Contrast { aimed, made }),
        (is_seen_elsewhere && target.spectrum_from != SpectrumSource::Reading)
            .then_some(Note::GuessedSpectrum(target.spectrum_from)),
        passed_over(order, recipe),
        unread(order),
        made_before(order, book, target, recipe)?,
    ];
    Ok(notes.into_iter().flatten().collect())
}

/// The skin of the log that read nearest to `target`, if any read within tolerance of it.
fn made_before(
    order: &Order<'_>,
    book: &Book,
    target: &Target,
    recipe: &PartRecipe,
) -> Result<Option<Note>> {
    let near = finding::Request {
        near: Some((target.lab, order.tolerance_for(target))),
        ..finding::Request::default()
    };
    let over_foam = |build: &Build| matches!(build.beneath, Underlay::Foam(_));
    let is_like = |build: &Build| {
        build.paint.is_none()
            && build.skin.base == recipe.build.skin.base
            && over_foam(build) == over_foam(&recipe.build)
    };
    let found = finding::run(book, &near)?.swatches;
    let nearest = found.iter().find(|found| is_like(&found.swatch.build));
    Ok(nearest.map(|found| Note::MadeBefore {
        swatch: found.swatch.id.clone(),
        date: found.swatch.date,
        apart: found.apart.unwrap_or_default(),
    }))
}

/// What was passed over, if anything was.
fn passed_over(order: &Order<'_>, recipe: &PartRecipe) -> Option<Note> {
    let skin_and_foam = recipe.foam.iter().chain([&recipe.skin]);
    let cups = skin_and_foam.chain(recipe.paints.iter().map(|(_, cup)| cup));
    let passed_over = PassedOver {
        bottles: order.passed_over.len(),
        were_named: order.colorants.is_some(),
        strengths: cups.map(|cup| cup.strengths_left_out).max().unwrap_or(0),
    };
    passed_over
        .is_any()
        .then_some(Note::PassedOver(passed_over))
}

/// The pigments that were left out since nothing tells of their curves, where nobody said which may go in.
fn unread(order: &Order<'_>) -> Option<Note> {
    let pigments = order.shelf.pigments.iter();
    let left_out = pigments.filter(|pigment| {
        pigment.is_unread() && pigment.drop_mass.is_some() && !order.banned.contains(&pigment.name)
    });
    let left_out: Vec<String> = left_out.map(|pigment| pigment.name.clone()).collect();
    (order.colorants.is_none() && !left_out.is_empty()).then_some(Note::Unread(left_out))
}

/// Over what foam the skin was worked out, where none was tinted.
fn foam_as_it_is(order: &Order<'_>, recipe: &PartRecipe) -> Result<Option<Note>> {
    let (None, Underlay::Foam(poured)) = (&recipe.foam, &recipe.build.beneath) else {
        return Ok(None);
    };
    let weights = order.shelf.settings.viewing.weights();
    let bare = Casting::bare_foam(order.shelf, poured)?.reading();
    Ok(Some(Note::FoamAsItIs(weights.lab(&bare))))
}
