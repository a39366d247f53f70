//! All that there is to say of a matched part or a logged swatch, in one place for every format.

use crate::batch::Pour;
use crate::colour::Lab;
use crate::materials::Swatch;
use crate::recipe::CupRecipe;
use crate::target::Target;

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
    /// The foam, aimed at the base tone as it is seen bare.
    pub foam: Option<PouredRecipe>,
    /// The skin, aimed at the base tone.
    pub skin: PouredRecipe,
    /// The paint, aimed at the flush tone over the finished skin.
    pub paint: Option<PouredRecipe>,
    /// ΔE00 up to which a part passes.
    pub tolerance: f64,
    /// What else the maker should know, a sentence each.
    pub notes: Vec<String>,
    /// The command that logs what came out, but for the reading.
    pub log_command: String,
}

/// Recipes for a cup, and how to pour the best.
#[derive(Clone, Debug)]
pub struct PouredRecipe {
    /// Its recipes.
    pub recipe: CupRecipe,
    /// How to pour the best of them.
    pub pour: Pour,
    /// What is aimed at, in words.
    pub aims_at: &'static str,
}

/// A logged swatch beside what the model says of it.
#[derive(Clone, Debug)]
pub struct Logged<'a> {
    /// The swatch.
    pub swatch: &'a Swatch,
    /// As read.
    pub measured: Lab,
    /// As predicted.
    pub predicted: Lab,
}

impl PartReport<'_> {
    /// The cups, in the order of the work: the skin goes into the mould first, the foam behind it, the paint on
    /// what comes out.
    pub fn cups(&self) -> impl Iterator<Item = &PouredRecipe> {
        std::iter::once(&self.skin)
            .chain(&self.foam)
            .chain(&self.paint)
    }

    /// Whether the finished skin, which shows most, is within tolerance.
    pub fn passes(&self) -> bool {
        self.skin.recipe.best().delta_e <= self.tolerance
    }
}

/// How to make the let-downs that `pours` call for; `None` where none does.
pub(super) fn let_down_advice<'a>(
    pours: impl IntoIterator<Item = &'a Pour>,
) -> Option<&'static str> {
    let mut doses = pours.into_iter().flat_map(|pour| &pour.doses);
    doses.any(|dose| dose.colorant.let_down > 1.0).then_some(
        "1:10 is a let-down: 1 g of the dispersion stirred into 9 g of the same base (its part B), dropped with \
         the same dropper. Make it fresh; stir before use.",
    )
}

/// The signed steps from the aim to what comes out: ΔL*, Δa*, Δb*.
pub(super) fn steps(aim: Lab, made: Lab) -> [f64; 3] {
    [made.l - aim.l, made.a - aim.a, made.b - aim.b]
}

/// `value` to one digit, without a minus before nothing.
pub(super) fn tenths(value: f64) -> f64 {
    (value * 10.0).round() / 10.0 + 0.0
}

/// `+1.2`, `-0.4`, `+0.0`: [`tenths`] with a sign.
pub(super) fn signed(value: f64) -> String {
    format!("{:+.1}", tenths(value))
}
