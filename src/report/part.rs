//! All that there is to say of a matched part or a logged swatch, in one place for every format.

use super::terminal::counted;
use super::{budget, prospects};
use crate::batch::{InAll, Pour};
use crate::colour::{Lab, delta_e_2000, delta_e_ab};
use crate::error::Result;
use crate::forecast::{MoreCoats, Spraying, acceptable_ab};
use crate::materials::{Mix, Swatch};
use crate::recipe::{CupRecipe, Helper, MoreDrops, OneTint, Prospects, Reach};
use crate::search::Limits;
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

/// ΔE00 between reading and prediction from which a slip of the pen is likelier than an error of the model.
const IMPLAUSIBLE: f64 = 12.0;

/// What to check where a reading lies so far from its prediction that a slip is likelier than an error of the model.
pub(super) fn slip(measured: Lab, predicted: Lab) -> Option<&'static str> {
    (delta_e_2000(measured, predicted) > IMPLAUSIBLE).then_some(
        "that is far: check the order of L*, a*, b*, the base, the mix and the thickness",
    )
}

impl PartReport<'_> {
    /// The cups, in the order of the work: the skin goes into the mould first, the foam behind it, the paint on
    /// what comes out.
    pub fn cups(&self) -> impl Iterator<Item = &PouredRecipe> {
        std::iter::once(&self.skin)
            .chain(&self.foam)
            .chain(self.paints.iter().map(|(_, paint)| paint))
    }

    /// The cups, each with what else there is to say of it, a sentence each.
    pub(super) fn told(&self) -> Vec<(&PouredRecipe, Vec<String>)> {
        let foaming = self.prospects.foaming.as_ref();
        let foam = self.foam.iter().map(|foam| {
            let made = foam.recipe.best().prediction.lab;
            let said = foaming.map(|foaming| prospects::foaming(foaming, made));
            (foam, said.unwrap_or_default())
        });
        let paints = self.paints.iter().zip(&self.prospects.spraying);
        let paints = paints.map(|((_, paint), spraying)| {
            let missed = (!self.is_reached(paint)).then(|| self.missed(paint, spraying));
            let said = prospects::spraying(spraying, paint.pour.pots);
            let said = missed.into_iter().chain(said);
            (paint, said.collect())
        });
        let beneath = if foaming.is_some() { "foam" } else { "backing" };
        let thinnest = self.prospects.thinnest.iter();
        let thinnest = thinnest.map(|thinnest| prospects::thinnest(thinnest, beneath));
        std::iter::once((&self.skin, thinnest.collect()))
            .chain(foam)
            .chain(paints)
            .collect()
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

    /// How far and in which direction a paint misses its tone, and what more coats would do.
    fn missed(&self, paint: &PouredRecipe, spraying: &Spraying) -> String {
        let (aim, best) = (paint.recipe.aim, paint.recipe.best());
        let more = spraying.more_coats.map(|more| {
            let MoreCoats {
                count,
                dry_thickness,
                delta_e,
            } = more;
            let how_near = how_near(delta_e <= self.tolerance);
            format!(
                "; {} more of it would bring it {how_near}, to ΔE00 {delta_e:.2} (--paint-mm {:.3})",
                counted(count, "coat"),
                dry_thickness.0
            )
        });
        format!(
            "NOT WITHIN TOLERANCE of its tone: ΔE00 {:.2}, limit {:.2}; the nearest is {}{}",
            best.delta_e,
            self.tolerance,
            miss(aim, best.prediction.lab),
            more.unwrap_or_default()
        )
    }

    /// Which paints miss their tones: sentences with a space before each, or nothing.
    fn missed_tones(&self) -> String {
        let paints = self.paints.iter().map(|(_, paint)| paint);
        let missed = paints.filter(|paint| !self.is_reached(paint)).map(|paint| {
            let delta_e = paint.recipe.best().delta_e;
            format!(" The {} misses its tone by ΔE00 {delta_e:.2}.", paint.name)
        });
        missed.collect()
    }

    /// Which pigment would help: a sentence with a space before it, or nothing.
    fn help(&self) -> String {
        let free = self.one_tint.map(|one_tint| one_tint.skin.free_delta_e);
        if let Some(free) = free.filter(|free| *free <= self.tolerance) {
            return format!(
                " A recipe of its own would bring it within reach: ΔE00 {free:.2} (leave --one-tint out)."
            );
        }
        let said = self.reach.helpers.iter().take(3).map(|helper| {
            let Helper {
                pigment,
                at_hand,
                delta_e,
            } = helper;
            let whence = if *at_hand {
                "left out here"
            } else {
                "not in this book"
            };
            format!("{pigment} ({whence}) to ΔE00 {delta_e:.2}")
        });
        let said: Vec<String> = said.collect();
        let of_pigments = self.reach.helpers.first().map(|best| {
            let how_near = how_near(best.delta_e <= self.tolerance);
            format!(
                " One pigment more would bring it {how_near}: {}.",
                said.join(", ")
            )
        });
        let of_drops = self.reach.more_drops.as_ref().map(|more| {
            let MoreDrops {
                most_of,
                count,
                max_drops,
                max_total_drops,
                delta_e,
            } = more;
            let how_near = how_near(*delta_e <= self.tolerance);
            let weighed = if *count > Limits::MAX_DROPS {
                "; so many are better weighed"
            } else {
                ""
            };
            format!(
                " More drops would bring it {how_near}: {count} of {most_of}, to ΔE00 {delta_e:.2} (--max-drops \
                 {max_drops} --max-total-drops {max_total_drops}{weighed})."
            )
        });
        if of_pigments.is_none() && of_drops.is_none() {
            return " No other pigment known here helps; a let-down, fibre or another underlay may."
                .to_owned();
        }
        of_pigments.into_iter().chain(of_drops).collect()
    }

    /// How the skin's recipe stands against the tolerance, and what chance its casting has: two sentences.
    pub(super) fn verdict(&self) -> String {
        let best = self.skin.recipe.best();
        let [delta_e, limit] = [best.delta_e, self.tolerance];
        let aim = self.skin.recipe.aim;
        let ab = delta_e_ab(aim, best.prediction.lab);
        let accepted = acceptable_ab(aim);
        let aimed = if self.passes() {
            format!(
                "The skin's recipe is aimed within tolerance: ΔE00 {delta_e:.2}, limit {limit:.2}."
            )
        } else {
            let miss = miss(self.skin.recipe.aim, best.prediction.lab);
            let none = if self.skin.recipe.proven {
                "this tone is out of reach of these pigments; no recipe within the limits"
            } else {
                "no recipe found"
            };
            format!(
                "NOT WITHIN TOLERANCE: {none} brings the skin nearer than ΔE00 {delta_e:.2}, limit {limit:.2}; the \
                 nearest is {miss}.{}",
                self.help()
            )
        };
        let missed_tones = self.missed_tones();
        let doubt = budget::what_is_in_doubt(&best.budget);
        let doubt = doubt.map_or_else(String::new, |what| format!("; the doubt lies in {what}"));
        format!(
            "{aimed}{missed_tones} On another published scale it is ΔE*ab {ab:.1}, of which {accepted:.1} is accepted. With \
             what this book knows, about {} of 100 castings would land within {limit:.2} of the true tone{doubt}.",
            in_a_hundred(best.chance)
        )
    }
}

/// What all pots of a batch take together.
pub(super) fn all_pots(in_all: &InAll) -> String {
    let InAll { base_g, mix } = in_all;
    let besides = if mix.is_empty() { "no pigment" } else { mix };
    format!("in all {base_g} g of base; {besides}")
}

/// How near something would bring the skin.
fn how_near(passes: bool) -> &'static str {
    if passes { "within reach" } else { "nearer" }
}

/// How what comes out misses its aim, in a maker's words; steps under half a unit go unsaid.
pub(super) fn miss(aim: Lab, made: Lab) -> String {
    let [dl, da, db] = steps(aim, made);
    let words = [
        (dl, "too light", "too dark"),
        (
            da,
            "too red",
            if aim.a > 0.0 {
                "not red enough"
            } else {
                "too green"
            },
        ),
        (
            db,
            "too yellow",
            if aim.b > 0.0 {
                "not yellow enough"
            } else {
                "too blue"
            },
        ),
    ];
    let mut said: Vec<(f64, &str)> = (words.into_iter())
        .filter(|(step, ..)| step.abs() >= 0.5)
        .map(|(step, more, less)| (step.abs(), if step > 0.0 { more } else { less }))
        .collect();
    // What is missed by most comes first.
    said.sort_by(|one, other| other.0.total_cmp(&one.0));
    let said: Vec<&str> = said.into_iter().map(|(_, word)| word).collect();
    if said.is_empty() {
        "hardly off in any one direction".to_owned()
    } else {
        said.join(", ")
    }
}

/// The chance in whole castings out of a hundred; only what is certain is 0 or 100.
pub(super) fn in_a_hundred(chance: f64) -> String {
    match chance {
        0.0 => "0".to_owned(),
        1.0 => "100".to_owned(),
        chance => format!("{:.0}", (100.0 * chance).clamp(1.0, 99.0)),
    }
}

/// The signed steps from the aim to what comes out: ΔL*, Δa*, Δb*.
pub(super) fn steps(aim: Lab, made: Lab) -> [f64; 3] {
    [made.l - aim.l, made.a - aim.a, made.b - aim.b]
}

/// The direction of a step in a maker's words; steps under half a unit go unsaid.
pub(super) fn in_words([dl, da, db]: [f64; 3]) -> String {
    let said: Vec<&str> = [
        (dl, "lighter", "darker"),
        (da, "redder", "less red"),
        (db, "yellower", "less yellow"),
    ]
    .into_iter()
    .filter(|(step, ..)| step.abs() >= 0.5)
    .map(|(step, more, less)| if step > 0.0 { more } else { less })
    .collect();
    if said.is_empty() {
        "about the same".to_owned()
    } else {
        said.join(", ")
    }
}

/// `value` to one digit, without a minus before nothing.
pub(super) fn tenths(value: f64) -> f64 {
    (value * 10.0).round() / 10.0 + 0.0
}

/// `+1.2`, `-0.4`, `+0.0`: [`tenths`] with a sign.
pub(super) fn signed(value: f64) -> String {
    format!("{:+.1}", tenths(value))
}
