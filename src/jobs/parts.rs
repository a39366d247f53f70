//! Parts that are kept by name: kept, told again without a search, replaced, listed and taken off.

use jiff::civil::Date;

use super::batching::Size;
use super::matching::{Answer, Layer, Matched, poured};
use crate::batch::Scale;
use crate::book::Book;
use crate::colour::SAMPLES;
use crate::error::{Error, Mend, Result, Setting};
use crate::materials::{Backing, Cup, Grams, LargestPots, Shelf};
use crate::recipe::{
    Beneath, Deed, Event, KeptCup, KeptLayer, KeptRecipe, KeptStock, Part, Reach, Request,
};
use crate::tone::Target;

/// A matched part, as it is kept: what was asked and found, and where its target came from.
#[derive(Clone, Copy, Debug)]
pub struct Found<'a> {
    /// What the part is called in the book.
    pub name: &'a str,
    /// What it is called on its sheet.
    pub title: &'a str,
    /// Where its target came from, in words.
    pub from: &'a str,
    /// What was asked.
    pub request: &'a Request,
    /// What was found.
    pub matched: &'a Matched,
}

impl Found<'_> {
    fn part(&self) -> Part {
        let Self {
            name,
            title,
            from,
            request,
            matched,
        } = *self;
        let target = (matched.target.clone(), from.to_owned());
        let mut part = Part::new(name, target, request.clone(), kept_recipe(matched));
        part.title = title.to_owned();
        part
    }
}

/// What `book` keeps under `name`, before a match that is to be kept under it; `None` where it keeps nothing.
///
/// # Errors
/// The demo, which is never written to; a name that can't be kept; where the target `is_new`, a part of that name that is not
/// to be `replaced`; where it is not, a name that no part has. As [`Book::part_to_match`].
pub fn before_match(book: &Book, name: &str, is_new: bool, replaced: bool) -> Result<Option<Part>> {
    let names = book.part_names()?;
    let lower = name.to_lowercase();
    let is_kept = names.iter().any(|known| known.to_lowercase() == lower);
    match (is_kept, is_new) {
        (true, true) if replaced => book.part(name).map(Some),
        (true, true) => match book.check_new_part(name) {
            Ok(()) => Ok(None),
            Err(error) => Err(error.mend(
                Mend::from("put the new one in its place with ")
                    .set(Setting::Replace)
                    .and(", which keeps the old recipe in its history; or choose another name"),
            )),
        },
        (true, false) => book.part_to_match(name).map(Some),
        (false, true) => book.check_new_part(name).map(|()| None),
        (false, false) => {
            book.check_new_part(name)?;
            let part = book.part(name).map_err(|error| {
                let advice = error
                    .advice()
                    .map_or_else(String::new, |advice| format!("{advice}; "));
                error.mend(format!(
                    "{advice}a new part takes its tone and its masses too"
                ))
            });
            part.map(Some)
        }
    }
}

/// Refuses lights that no part can keep, before any time goes into a search.
///
/// # Errors
/// A lamp by its own file.
pub fn check_lights(request: &Request) -> Result<()> {
    let lamp = (request.lights.iter()).find(|light| matches!(light, crate::colour::Light::Lamp(_)));
    let Some(lamp) = lamp else {
        return Ok(());
    };
    let finding = format!(
        "a part keeps lights by their CIE names, and `{}` is a file's",
        lamp.name().escape_debug()
    );
    Err(Error::input(finding)
        .mend("name CIE lights for what is kept; match under the lamp without keeping it"))
}

/// A part beside a match of it: what became of the answer.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Keeping {
    /// The part as the book now has it.
    pub part: Part,
    /// What became of the answer.
    pub outcome: Outcome,
    /// By which cups the answer differs from what was kept before it.
    pub changes: Vec<Change>,
}

/// What became of an answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Kept as a new part.
    New,
    /// Put in the place of what was kept.
    Replaced,
    /// It pours what is kept already.
    Unchanged,
    /// What is kept stays.
    NotReplaced,
    /// Nothing was searched: it is the part as it is kept.
    Shown,
}

impl Keeping {
    /// The part as it is kept.
    pub fn shown(part: Part) -> Self {
        Self {
            part,
            outcome: Outcome::Shown,
            changes: Vec::new(),
        }
    }

    /// Whether the answer is what the book keeps.
    pub fn is_kept(&self) -> bool {
        self.outcome != Outcome::NotReplaced
    }
}

/// An answer beside what is kept, and what is to be written of it.
#[derive(Clone, Debug)]
pub struct ToKeep {
    /// What becomes of the answer.
    pub keeping: Keeping,
    /// The part that is written, and what was read beneath it where that is new on the shelf; `None` where all stays.
    part: Option<(Part, Option<Backing>)>,
}

/// What becomes of what was `found`: a new part where none is `kept`; else by what it differs, and whether it takes that one's place,
/// as it does if it is to be `replaced`. What is given up goes into the part's history. Nothing is [written](ToKeep::write) yet.
pub fn to_keep(book: &Book, kept: Option<Part>, found: Found<'_>, replaced: bool) -> ToKeep {
    let is_written = kept.is_none() || replaced;
    let (request, beneath) = match is_written {
        true => shelved(book, found.request),
        false => (found.request.clone(), None),
    };
    let found = Found {
        request: &request,
        ..found
    };
    let part = found.part();
    let Some(mut kept) = kept else {
        return ToKeep {
            keeping: Keeping {
                part: part.clone(),
                outcome: Outcome::New,
                changes: Vec::new(),
            },
            part: Some((part, beneath)),
        };
    };
    let changes = changes(book, &kept, found.matched);
    let is_alike = part.recipe.pours_like(&kept.recipe) && part.target == kept.target;
    if replaced {
        kept.replace(part.clone());
    }
    ToKeep {
        keeping: Keeping {
            part: kept,
            outcome: match (is_alike, replaced) {
                (true, _) => Outcome::Unchanged,
                (false, true) => Outcome::Replaced,
                (false, false) => Outcome::NotReplaced,
            },
            changes,
        },
        part: replaced.then_some((part, beneath)),
    }
}

impl ToKeep {
    /// Writes it to `book`, all in one change, or none.
    ///
    /// # Errors
    /// As [`Book::keep_part`] and [`Book::replace_part`].
    pub fn write(&self, book: &mut Book) -> Result<()> {
        match &self.part {
            None => Ok(()),
            Some((part, beneath)) if self.keeping.outcome == Outcome::New => {
                book.keep_part(part, beneath.as_ref())
            }
            Some((part, beneath)) => book
                .replace_part(part.clone(), beneath.as_ref())
                .map(|_| ()),
        }
    }
}

/// `request`, with what was read beneath the skin under a name of the shelf of `book`, since what is kept names it; and what is to be
/// put there under that name, if it is new.
fn shelved(book: &Book, request: &Request) -> (Request, Option<Backing>) {
    /// Two readings of one thing by two files differ by less: the digits of a table.
    const ALIKE: f64 = 1e-4;
    let Beneath::Read(read) = &request.beneath else {
        return (request.clone(), None);
    };
    let differ = |known: &Backing, band| (known.reflectance[band] - read.reflectance[band]).abs();
    let is_alike = |known: &Backing| (0..SAMPLES).all(|band| differ(known, band) < ALIKE);
    let mut names = std::iter::once(read.name.clone())
        .chain((2..).map(|count| format!("{} ({count})", read.name)));
    let backings = &book.shelf().backings;
    let known = |name: &str| backings.iter().find(|known| known.name == name);
    let name = names
        .find(|name| known(name).is_none_or(is_alike))
        .expect("names without end");
    let new = known(&name).is_none().then(|| Backing {
        name: name.clone(),
        ..(**read).clone()
    });
    let request = Request {
        beneath: Beneath::Backing(name),
        ..request.clone()
    };
    (request, new)
}

/// How each cup of a part is divided into pots.
#[derive(Clone, Copy, Debug, Default)]
pub struct Pots {
    /// The largest; where one is not said, the part's own.
    pub largest: LargestPots,
    /// Whether each of several is tinted for itself, in whole drops, instead of part B of all at once.
    pub pot_by_pot: bool,
}

/// The part called `name`, and its cups at `size`, ready to be poured: see [`told`].
///
/// # Errors
/// As [`Book::part_to_pour`] and [`told`]; a cup that would not cure.
pub fn to_pour(
    book: &Book,
    name: &str,
    size: Size,
    pots: Pots,
    day: Date,
) -> Result<(Part, Matched)> {
    let part = book.part_to_pour(name)?;
    let matched = told(book, &part, size, pots, day)?;
    for (layer, cup) in part.recipe.cups() {
        let shelf = matched
            .one_tint
            .as_ref()
            .map_or(book.shelf(), |tint| &tint.shelf);
        Cup::pour(shelf, &cup.poured)?
            .check_loads()
            .map_err(|error| error.within(layer))?;
    }
    Ok((part, matched))
}

/// The recipe that `matched` pours.
pub fn kept_recipe(matched: &Matched) -> KeptRecipe {
    let cup = |cup: &super::matching::FilledCup, lighter| {
        KeptCup::of(&cup.recipe, cup.pour.pots, lighter)
    };
    KeptRecipe {
        date: matched.day,
        skin: cup(&matched.skin, 0.0),
        foam: (matched.foam.as_ref())
            .map(|foam| cup(foam, foam.recipe.aim.l - matched.target.lab.l)),
        paints: (matched.paints.iter())
            .filter_map(|paint| match paint.layer {
                Layer::Paint(role) => Some((role, cup(paint, 0.0))),
                Layer::Skin | Layer::Foam { .. } => None,
            })
            .collect(),
        stock: matched.one_tint.as_ref().map(|tint| KeptStock {
            stock: tint.stock.clone(),
            skin_free_delta_e: tint.skin.free_delta_e,
            foam_free_delta_e: tint.foam.map(|foam| foam.free_delta_e),
        }),
    }
}

/// `part` as its match answered, at `size`, in such `pots`, on the day `day`: its recipe is told by the book as it is now, and nothing is searched.
///
/// # Errors
/// As [`Order::told`](crate::recipe::Order::told) and [`pour`](crate::batch::pour).
pub fn told(book: &Book, part: &Part, size: Size, pots: Pots, day: Date) -> Result<Matched> {
    tinting(book, part, (size, 1.0), pots, day)
}

/// As [`told`], with only the share `skin_share` (above 0, up to 1) of the skin, whose other part B was tinted before.
///
/// # Errors
/// As [`told`].
pub(super) fn tinting(
    book: &Book,
    part: &Part,
    (size, skin_share): (Size, f64),
    pots: Pots,
    day: Date,
) -> Result<Matched> {
    let shelf = shelf_for(book.shelf(), part, day)?;
    let mut request = part.request.clone();
    request.day = day;
    request.pot_by_pot = pots.pot_by_pot;
    let recipe = &part.recipe;
    let order = request.order(&shelf)?;
    let target: &Target = &part.target;
    let outcome = order.told(target, recipe)?;
    let one_tint =
        (recipe.stock.as_ref()).map(|kept| kept.costing(&outcome, order.shelf.clone(), target));
    let answer = Answer {
        recipe: outcome,
        one_tint,
        reach: Reach::default(),
    };
    poured(book, target, &request, &order, answer, |layer| {
        let cup = kept_cup(recipe, layer);
        let one_pot = (cup.pots > 1).then_some(cup.poured.base_mass);
        let kind = order.shelf.base(&cup.poured.base)?.kind.kind();
        Ok(Scale {
            factor: factor(recipe, layer, size)
                * f64::from(cup.pots)
                * if layer == Layer::Skin {
                    skin_share
                } else {
                    1.0
                },
            largest_pot: pots.largest.or(request.largest_pots).of(kind).or(one_pot),
        })
    })
}

/// The shelf that `part` is poured from on the day `day`: `shelf`, with the stock that was made for the part.
///
/// # Errors
/// A stock whose pigments are on the shelf no more.
pub(super) fn shelf_for(shelf: &Shelf, part: &Part, day: Date) -> Result<Shelf> {
    let serving = shelf.on_the_day(day);
    match &part.recipe.stock {
        Some(kept) => kept.on(&serving),
        None => Ok(serving),
    }
}

/// How many times the cup of `layer` is wanted at `size`: all cups alike, but that moulds may want more foam to the skin, or less.
fn factor(recipe: &KeptRecipe, layer: Layer, size: Size) -> f64 {
    let whole = |cup: &KeptCup| cup.poured.base_mass.0 * f64::from(cup.pots);
    let foam_as_asked = |foam: Grams| {
        let is_foam = matches!(layer, Layer::Foam { .. });
        is_foam.then(|| foam.0 / whole(kept_cup(recipe, layer)))
    };
    match size {
        Size::Times(times) => times,
        Size::To(wanted) => wanted.0 / whole(&recipe.skin),
        Size::Fill { skin, foam } => {
            let foam = foam.and_then(foam_as_asked);
            foam.unwrap_or(skin.0 / whole(&recipe.skin))
        }
    }
}

fn kept_cup(recipe: &KeptRecipe, layer: Layer) -> &KeptCup {
    let kept = match layer {
        Layer::Skin => None,
        Layer::Foam { .. } => recipe.foam.as_ref(),
        Layer::Paint(role) => {
            let mut paints = recipe.paints.iter();
            paints.find(|(of, _)| *of == role).map(|(_, paint)| paint)
        }
    };
    kept.unwrap_or(&recipe.skin)
}

/// How a cup that was found anew differs from the one that is kept.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Change {
    /// Which cup.
    pub layer: KeptLayer,
    /// What is kept; `None` of a new cup.
    pub was: Option<KeptCup>,
    /// What was found; `None` of a cup that falls away.
    pub now: Option<KeptCup>,
    /// ΔE00 of the kept cup, by the book as it is now; `None` where it can't be told any more.
    pub delta_e_was: Option<f64>,
}

/// By which cups `matched` differs from `part`, which is kept; what can't be told of the kept recipe is left out.
pub fn changes(book: &Book, part: &Part, matched: &Matched) -> Vec<Change> {
    let now = kept_recipe(matched);
    let told = told(book, part, Size::Times(1.0), Pots::default(), matched.day).ok();
    let told = told.as_ref().map(kept_recipe);
    let find = |recipe: &KeptRecipe, layer: KeptLayer| {
        let mut cups = recipe.cups();
        let found = cups.find(|(of, _)| *of == layer);
        found.map(|(_, cup)| cup.clone())
    };
    let mut layers: Vec<KeptLayer> = part.recipe.cups().map(|(layer, _)| layer).collect();
    for (layer, _) in now.cups() {
        if !layers.contains(&layer) {
            layers.push(layer);
        }
    }
    let changes = layers.into_iter().map(|layer| Change {
        layer,
        was: find(&part.recipe, layer),
        now: find(&now, layer),
        delta_e_was: (told.as_ref())
            .and_then(|told| find(told, layer)?.search)
            .map(|search| search.delta_e),
    });
    let is_restocked = part.recipe.stock.as_ref().map(|kept| &kept.stock)
        != now.stock.as_ref().map(|kept| &kept.stock);
    let name = now.stock.as_ref().map(|kept| &kept.stock.name);
    let is_stocked = |cup: &KeptCup| {
        let mut entries = cup.poured.mix.entries().iter();
        entries.any(|(colorant, _)| Some(&colorant.pigment) == name)
    };
    let pours = |cup: &Option<KeptCup>| cup.as_ref().map(|cup| (cup.poured.clone(), cup.pots));
    let differs = |change: &Change| {
        pours(&change.was) != pours(&change.now)
            || (is_restocked && change.now.as_ref().is_some_and(is_stocked))
    };
    changes.filter(differs).collect()
}

/// A part, and when it was last cast.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Listed {
    /// The part.
    pub part: Part,
    /// Its last casting: the swatch, and the day of its last reading as the part notes it.
    pub last_casting: Option<(String, Option<Date>)>,
}

/// All parts of `book`, in the order of the alphabet.
///
/// # Errors
/// As [`Book::part`].
pub fn list(book: &Book) -> Result<Vec<Listed>> {
    let names = book.part_names()?;
    let parts = names.iter().map(|name| {
        let part = book.part(name)?;
        let last_casting = part.castings.last().map(|id| {
            // The log has it too, but takes long to read after some years.
            let is_of_it =
                |event: &&Event| event.what == Deed::Cast && event.swatch.as_ref() == Some(id);
            let days = part.history.iter().filter(is_of_it);
            (id.clone(), days.map(|event| event.date).max())
        });
        Ok(Listed { part, last_casting })
    });
    parts.collect()
}
