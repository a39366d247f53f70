//! A part that is kept by name: what was asked of it, its recipe as it is to be poured, and what became of it.

use std::fmt;
use std::str::FromStr;

use jiff::civil::Date;

use super::bench_cup::{BenchCup, BenchFate};
use super::part::CupRecipe;
use super::request::Request;
use crate::colour::Lab;
use crate::error::{Error, Result};
use crate::materials::{Poured, Stock, Swatch};
use crate::tone::{Target, ToneRole};

/// A part that is kept by name.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Part {
    /// What it is called in the book.
    pub name: String,
    /// What it is called on its sheet.
    pub title: String,
    /// What is to be matched.
    pub target: Target,
    /// Where that came from, in words: `typed`, `photograph arm.jpg`.
    pub target_from: String,
    /// When it was taken into the book.
    pub target_date: Date,
    /// What is cast, and where recipes may be looked for; bases that were left to the book are named.
    pub request: Request,
    /// What is poured.
    pub recipe: KeptRecipe,
    /// The skin's cup that was last corrected, if one was; the recipe stays what the next one is poured by.
    pub bench: Option<BenchCup>,
    /// Castings of it, by their swatches' names, the oldest first.
    pub castings: Vec<String>,
    /// What became of it, the oldest first.
    pub history: Vec<Event>,
}

/// The recipe of a part: one pot of each cup.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct KeptRecipe {
    /// The day on which it was found, or set down by hand.
    pub date: Date,
    /// The skin.
    pub skin: KeptCup,
    /// The foam, if one is tinted.
    pub foam: Option<KeptCup>,
    /// The paints, each with the tone that it is aimed at.
    pub paints: Vec<(ToneRole, KeptCup)>,
    /// The one stock that tints skin and foam, if they have one; their mixes name it as a pigment.
    pub stock: Option<KeptStock>,
}

/// What goes into one cup.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct KeptCup {
    /// One pot of it.
    pub poured: Poured,
    /// How many of these pots, one after the other.
    pub pots: u32,
    /// By how much lighter than its tone it is aimed, L*; 0 but for some foams.
    pub lighter: f64,
    /// What the search that found it could say; `None` of what no search found.
    pub search: Option<SearchedCup>,
}

/// What a search said of the recipe that it found: it holds for the book as it was then.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct SearchedCup {
    /// ΔE00 from the aims.
    pub delta_e: f64,
    /// How far it may be from the best, ΔE00.
    pub gap: f64,
    /// Whether that is at most what was asked for.
    pub proven: bool,
    /// ΔE00 of the nearest recipe, whatever it asks of the hands.
    pub nearest_delta_e: f64,
    /// What the recipe asks of the hands.
    pub effort: f64,
    /// How much more than the least that may be; `None` where the nearest was asked for.
    pub effort_gap: Option<f64>,
}

/// The one stock of a part, and how near recipes of their own came.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct KeptStock {
    /// The stock.
    pub stock: Stock,
    /// ΔE00 of the skin with a recipe of its own.
    pub skin_free_delta_e: f64,
    /// ΔE00 of the foam, seen bare, likewise; `None` where no foam is tinted.
    pub foam_free_delta_e: Option<f64>,
}

/// What became of a part on one day.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Event {
    /// The day.
    pub date: Date,
    /// What was done.
    pub what: Deed,
    /// The swatch that was read, where one was.
    pub swatch: Option<String>,
    /// Free words; may be empty.
    pub note: String,
    /// The recipe that was given up, a line for each cup; empty where none was.
    pub was: Vec<String>,
}

/// What is done to a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Deed {
    /// A recipe was found, and the part kept.
    Matched,
    /// Another recipe took the place of the one that was kept.
    Replaced,
    /// A cup was corrected, or the recipe after a casting.
    Corrected,
    /// It was cast and read.
    Cast,
}

impl Part {
    /// The part called `name` as it is first kept: `recipe` answers `request` for `target`, which came `from` there.
    pub fn new(
        name: impl Into<String>,
        (target, from): (Target, String),
        request: Request,
        recipe: KeptRecipe,
    ) -> Self {
        let (name, date) = (name.into(), recipe.date);
        Self {
            title: name.clone(),
            name,
            target,
            target_from: from,
            target_date: date,
            request: request.naming(&recipe),
            recipe,
            bench: None,
            castings: Vec::new(),
            history: vec![Event::new(date, Deed::Matched)],
        }
    }

    /// Puts `recipe` in the place of the one that is kept, which goes into the history with the `note` of why; nothing is noted
    /// of one that pours the same.
    pub fn replace_recipe(&mut self, recipe: KeptRecipe, what: Deed, note: impl Into<String>) {
        if !recipe.pours_like(&self.recipe) {
            self.give_up(recipe.date, what, note.into(), self.recipe.lines());
        }
        self.request.day = recipe.date;
        self.recipe = recipe;
    }

    /// Takes all of `other` but what became of it: its target, what is asked, its recipe. What is given up goes into the history.
    pub fn replace(&mut self, other: Self) {
        let date = other.recipe.date;
        let mut was = Vec::new();
        if other.target != self.target {
            let Lab { l, a, b, .. } = self.target.lab;
            let from = &self.target_from;
            was.push(format!("target: L*,a*,b* {l},{a},{b} ({from})"));
        }
        if !other.recipe.pours_like(&self.recipe) {
            was.extend(self.recipe.lines());
        }
        if !was.is_empty() {
            self.give_up(date, Deed::Replaced, String::new(), was);
        }
        *self = Self {
            name: std::mem::take(&mut self.name),
            bench: self.bench.take(),
            castings: std::mem::take(&mut self.castings),
            history: std::mem::take(&mut self.history),
            ..other
        };
    }

    fn give_up(&mut self, date: Date, what: Deed, note: String, was: Vec<String>) {
        self.history.push(Event {
            note,
            was,
            ..Event::new(date, what)
        });
    }

    /// The skin's cup that was corrected and whose casting is not logged yet: the next casting is taken to be of it.
    pub fn corrected_cup(&self) -> Option<&BenchCup> {
        let cup = self.bench.as_ref();
        cup.filter(|cup| cup.fate == BenchFate::ToBeLogged)
    }

    /// Notes that `swatch`, a reading of a casting of it, is logged under the name `id`, with the `note` of what it was taken on.
    /// Where it is the cup that was corrected, that waits for its casting no longer.
    pub fn log_casting(&mut self, swatch: &Swatch, id: &str, note: impl Into<String>) {
        self.add_casting(id, swatch.date, note);
        self.log_cup(&swatch.build.skin, id);
    }

    fn log_cup(&mut self, poured: &Poured, swatch: &str) {
        if let Some(cup) = &mut self.bench
            && cup.fate == BenchFate::ToBeLogged
            && cup.poured == *poured
        {
            cup.fate = BenchFate::Logged(swatch.to_owned());
        }
    }

    /// Notes a casting that was read on the day `date` as the swatch called `swatch`; a second reading of it is noted once
    /// among the castings.
    pub fn add_casting(&mut self, swatch: &str, date: Date, note: impl Into<String>) {
        if !self.castings.iter().any(|known| known == swatch) {
            self.castings.push(swatch.to_owned());
        }
        self.history.push(Event {
            swatch: Some(swatch.to_owned()),
            note: note.into(),
            ..Event::new(date, Deed::Cast)
        });
    }
}

impl Request {
    /// With the bases of `recipe` by name, where they were left to the book.
    fn naming(mut self, recipe: &KeptRecipe) -> Self {
        let name = |cup: &KeptCup| Some(cup.poured.base.clone());
        self.skin.base = name(&recipe.skin);
        if let (Some(foam), super::Beneath::Foam { cup, .. }) = (&recipe.foam, &mut self.beneath) {
            cup.base = name(foam);
        }
        if let (Some((_, kept)), Some((paint, _))) = (recipe.paints.first(), &mut self.paint) {
            paint.base = name(kept);
        }
        self
    }
}

impl KeptRecipe {
    /// Its cups, in the order of the work, each with what it is.
    pub fn cups(&self) -> impl Iterator<Item = (KeptLayer, &KeptCup)> {
        let foam = self.foam.iter().map(|foam| (KeptLayer::Foam, foam));
        let paints = self.paints.iter();
        let paints = paints.map(|(role, paint)| (KeptLayer::Paint(*role), paint));
        std::iter::once((KeptLayer::Skin, &self.skin))
            .chain(foam)
            .chain(paints)
    }

    /// Whether the same goes into the same cups as in `other`.
    pub fn pours_like(&self, other: &Self) -> bool {
        let cup = |cup: &KeptCup| (cup.poured.clone(), cup.pots);
        let stock = |recipe: &Self| recipe.stock.as_ref().map(|kept| kept.stock.clone());
        self.cups()
            .map(|(layer, each)| (layer, cup(each)))
            .eq(other.cups().map(|(layer, each)| (layer, cup(each))))
            && stock(self) == stock(other)
    }

    /// A line for each cup and for the stock, as a notebook has them: `skin: 600 g clear skin; umber 2`.
    pub fn lines(&self) -> Vec<String> {
        let cups = self
            .cups()
            .map(|(layer, cup)| format!("{layer}: {}", cup.line()));
        let stock = self.stock.iter().map(|kept| {
            let Stock { name, .. } = &kept.stock;
            format!("{name}: {}", kept.stock.mix())
        });
        cups.chain(stock).collect()
    }
}

impl KeptCup {
    /// `poured`, once, as it was set down by hand.
    pub fn new(poured: Poured) -> Self {
        Self {
            poured,
            pots: 1,
            lighter: 0.0,
            search: None,
        }
    }

    /// The best of what was found for a cup of so many `pots`, aimed so much `lighter`.
    pub fn of(recipe: &CupRecipe, pots: u32, lighter: f64) -> Self {
        let best = recipe.best();
        Self {
            poured: best.poured.clone(),
            pots,
            lighter,
            search: Some(SearchedCup {
                delta_e: best.delta_e,
                gap: recipe.gap,
                proven: recipe.proven,
                nearest_delta_e: recipe.nearest_delta_e,
                effort: recipe.effort,
                effort_gap: recipe.effort_gap,
            }),
        }
    }

    /// `600 g clear skin; umber 2`, and before it `2 pots of` where there are several.
    pub fn line(&self) -> String {
        let Poured {
            base,
            base_mass,
            mix,
        } = &self.poured;
        let pots = match self.pots {
            1 => String::new(),
            pots => format!("{pots} pots of "),
        };
        let mix = match mix.is_empty() {
            true => "no pigment".to_owned(),
            false => mix.to_string(),
        };
        format!("{pots}{base_mass} {base}; {mix}")
    }
}

impl Event {
    /// `what` on the day `date`, without more.
    pub fn new(date: Date, what: Deed) -> Self {
        Self {
            date,
            what,
            swatch: None,
            note: String::new(),
            was: Vec::new(),
        }
    }
}

/// Which cup of a kept recipe.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KeptLayer {
    /// The skin.
    Skin,
    /// The foam behind it.
    Foam,
    /// The paint of a tone.
    Paint(ToneRole),
}

impl fmt::Display for KeptLayer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Skin => f.write_str("skin"),
            Self::Foam => f.write_str("foam"),
            Self::Paint(role) => write!(f, "{role} paint"),
        }
    }
}

impl Deed {
    const ALL: [Self; 4] = [Self::Matched, Self::Replaced, Self::Corrected, Self::Cast];

    /// As it is written.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Matched => "matched",
            Self::Replaced => "replaced",
            Self::Corrected => "corrected",
            Self::Cast => "cast",
        }
    }
}

impl fmt::Display for Deed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

impl FromStr for Deed {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        let known = Self::ALL.map(Self::word);
        (Self::ALL.into_iter().find(|deed| deed.word() == text))
            .ok_or_else(|| Error::unknown_name("deed", text, known))
    }
}
