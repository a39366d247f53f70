//! All that there is to say of a matched part, as data.

use crate::batch::Pour;
use crate::error::Result;
use crate::materials::Mix;
use crate::recipe::{CupRecipe, OneTint, Prospects, Reach};
use crate::tone::{Target, ToneRole};

/// A target, the recipes that answer it, and how to pour them.
#[derive(Clone, Debug)]
pub struct PartReport<'a> {
    /// What the part is called.
    pub title: &'a str,
    /// The day, as `2026-03-14`.
    pub date: &'a str,
    /// The swatch book's name.
    pub book: &'a str,
    /// The target.
    pub target: &'a Target,
    /// The skin, aimed at the base tone.
    pub skin: PouredRecipe,
    /// The foam, aimed at the base tone as it is seen bare, or at a lighter one.
    pub foam: Option<PouredRecipe>,
    /// The paints, each aimed at a tone over the finished skin.
    pub paints: Vec<(ToneRole, PouredRecipe)>,
    /// The one stock that tints skin and foam, if they have one.
    pub one_tint: Option<&'a OneTint>,
    /// What else is to be expected.
    pub prospects: Prospects,
    /// ΔE00 up to which a part passes.
    pub tolerance: f64,
    /// What would bring the skin nearer; looked for where it doesn't pass.
    pub reach: Reach,
    /// What else the maker should know, a sentence each.
    pub notes: Vec<String>,
    /// The command that logs what came out, but for the reading.
    pub log_command: String,
    /// The commands that take off the book what is used of its let-downs.
    pub take_commands: Vec<String>,
    /// The commands that make ten times each cup that one stock tints, pigment by pigment.
    pub repeat_commands: Vec<String>,
}

/// Recipes for a cup, and how to pour and use the best.
#[derive(Clone, Debug)]
pub struct PouredRecipe {
    /// What it is called on a sheet: `skin`, `flush paint`.
    pub name: String,
    /// Its recipes.
    pub recipe: CupRecipe,
    /// How to pour the best of them.
    pub pour: Pour,
    /// What is aimed at, in words.
    pub aims_at: &'static str,
    /// How it is put on, in words: `brush it 2 mm thick`.
    pub apply: String,
}

impl PartReport<'_> {
    /// The cups, in the order of the work: the skin goes into the mould first, the foam behind it, the paint on
    /// what comes out.
    pub fn cups(&self) -> impl Iterator<Item = &PouredRecipe> {
        std::iter::once(&self.skin)
            .chain(&self.foam)
            .chain(self.paints.iter().map(|(_, paint)| paint))
    }

    /// `mix` in pigments of the book alone.
    ///
    /// # Errors
    /// As [`Stock::spelled_out`](crate::recipe::Stock::spelled_out).
    pub fn spelled_out(&self, mix: &Mix) -> Result<Mix> {
        let spelled_out = (self.one_tint).map(|one_tint| one_tint.stock.spelled_out(mix));
        spelled_out.unwrap_or_else(|| Ok(mix.clone()))
    }

    /// Whether the skin, which shows most, is aimed to within tolerance.
    pub fn passes(&self) -> bool {
        self.is_reached(&self.skin)
    }

    /// Whether the best recipe of `cup` is aimed to within tolerance.
    pub(super) fn is_reached(&self, cup: &PouredRecipe) -> bool {
        cup.recipe.best().delta_e <= self.tolerance
    }
}
