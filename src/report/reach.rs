//! How a part stands against its tolerance, and what would bring it within reach.
//!
//! A part passes by its skin, which shows most; paints that miss their tones are named beside it, and a foam's own difference
//! matters little, since the skin is worked out over what comes out of it.
//!
//! What would help is told as an act (a pigment that was left out, more drops, more coats) with the ΔE00 that it would leave;
//! that which leaves least comes first, and what would not help goes without a word.

use serde::Serialize;
use serde_json::Value;

use super::budget;
use super::colours::miss;
use super::document::triple;
use super::numbers::in_a_hundred;
use super::part_report::PartReport;
use super::text::{capital, counted};
use crate::colour::delta_e_ab;
use crate::error::Setting;
use crate::forecast::{MoreCoats, Spraying, acceptable_ab};
use crate::jobs::matching::{FilledCup, Matched};
use crate::recipe::{Helper, MoreDrops};
use crate::search::Limits;

/// How the skin's recipe stands against the tolerance, and what chance its casting has: two sentences.
pub(super) fn verdict(report: &PartReport<'_>) -> String {
    let best = report.matched.skin.recipe.best();
    let [delta_e, limit] = [best.delta_e, report.matched.tolerance];
    let aim = report.matched.skin.recipe.aim;
    let ab = delta_e_ab(aim, best.prediction.lab);
    let accepted = acceptable_ab(aim);
    let aimed = if report.matched.passes() {
        format!("The skin's recipe is aimed within tolerance: ΔE00 {delta_e:.2}, limit {limit:.2}.")
    } else {
        let miss = miss(report.matched.skin.recipe.aim, best.prediction.lab);
        let none = if report.matched.skin.recipe.proven {
            "this tone is out of reach of these pigments; no recipe within the limits"
        } else {
            "no recipe found"
        };
        format!(
            "NOT WITHIN TOLERANCE: {none} brings the skin nearer than ΔE00 {delta_e:.2}, limit {limit:.2}; the \
             nearest is {miss}.{}",
            help(report)
        )
    };
    let missed_tones = missed_tones(report);
    let doubt = budget::what_is_in_doubt(&best.budget);
    let doubt = doubt.map_or_else(String::new, |what| format!("; the doubt lies in {what}"));
    format!(
        "{aimed}{missed_tones} On another published scale it is ΔE*ab {ab:.1}, of which {accepted:.1} is accepted. With \
         what this book knows, about {} of 100 castings would land within {limit:.2} of the true tone{doubt}.",
        in_a_hundred(best.chance)
    )
}

/// Which paints miss their tones: sentences with a space before each, or nothing.
fn missed_tones(report: &PartReport<'_>) -> String {
    let paints = report.matched.paints.iter();
    let missed = paints
        .filter(|paint| !report.matched.is_reached(paint))
        .map(|paint| {
            let delta_e = paint.recipe.best().delta_e;
            format!(" The {} misses its tone by ΔE00 {delta_e:.2}.", paint.layer)
        });
    missed.collect()
}

/// How far and in which direction a paint misses its tone, and what more coats would do.
pub(super) fn missed(report: &PartReport<'_>, paint: &FilledCup, spraying: &Spraying) -> String {
    let (aim, best) = (paint.recipe.aim, paint.recipe.best());
    let more = spraying.more_coats.map(|more| {
        let MoreCoats {
            count,
            dry_thickness,
            delta_e,
        } = more;
        let how_near = how_near(delta_e <= report.matched.tolerance);
        format!(
            "; {} more of it would bring it {how_near}, to ΔE00 {delta_e:.2} ({} {:.3})",
            counted(count, "coat"),
            (report.naming)(Setting::PaintThickness),
            dry_thickness.0
        )
    });
    format!(
        "NOT WITHIN TOLERANCE of its tone: ΔE00 {:.2}, limit {:.2}; the nearest is {}{}",
        best.delta_e,
        report.matched.tolerance,
        miss(aim, best.prediction.lab),
        more.unwrap_or_default()
    )
}

/// The first of what would bring the skin nearer, a sentence with a space before it; `None` where nothing known does, or
/// where nothing was looked for.
pub(crate) fn first_help(report: &PartReport<'_>) -> Option<String> {
    let reach = &report.matched.reach;
    let helper = reach.helpers.first().map(|helper| {
        let whence = if helper.at_hand {
            "left out here"
        } else {
            "not in this book"
        };
        (
            helper.delta_e,
            format!("{}, {whence}, would", helper.pigment),
        )
    });
    let drops = (reach.more_drops.as_ref()).map(|more| {
        let drops = format!(
            "{} drops of {} ({} {} {} {}) would",
            more.count,
            more.most_of,
            (report.naming)(Setting::MaxDrops),
            more.max_drops,
            (report.naming)(Setting::MaxTotalDrops),
            more.max_total_drops
        );
        (more.delta_e, drops)
    });
    let (delta_e, words) =
        (helper.into_iter().chain(drops)).min_by(|(one, _), (other, _)| one.total_cmp(other))?;
    let words = capital(&words);
    Some(format!(" {words} bring it to ΔE00 {delta_e:.2}."))
}

/// What would bring the skin nearer, sentences with a space before each: a recipe of its own in place of the one tint, one
/// pigment more (the best three), or more drops; that nothing known does, otherwise.
fn help(report: &PartReport<'_>) -> String {
    let free = report
        .matched
        .one_tint
        .as_ref()
        .map(|one_tint| one_tint.skin.free_delta_e);
    if let Some(free) = free.filter(|free| *free <= report.matched.tolerance) {
        return format!(
            " A recipe of its own would bring it within reach: ΔE00 {free:.2} (leave {} out).",
            (report.naming)(Setting::OneTint)
        );
    }
    let helpers = report.matched.reach.helpers.iter().take(3).map(|helper| {
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
    let helpers: Vec<String> = helpers.collect();
    let of_pigments = report.matched.reach.helpers.first().map(|best| {
        let how_near = how_near(best.delta_e <= report.matched.tolerance);
        format!(
            " One pigment more would bring it {how_near}: {}.",
            helpers.join(", ")
        )
    });
    let of_drops = report.matched.reach.more_drops.as_ref().map(|more| {
        let MoreDrops {
            most_of,
            count,
            max_drops,
            max_total_drops,
            delta_e,
        } = more;
        let how_near = how_near(*delta_e <= report.matched.tolerance);
        let weighed = if *count > Limits::MAX_DROPS {
            "; so many are better weighed"
        } else {
            ""
        };
        format!(
            " More drops would bring it {how_near}: {count} of {most_of}, to ΔE00 {delta_e:.2} ({} {max_drops} \
             {} {max_total_drops}{weighed}).",
            (report.naming)(Setting::MaxDrops),
            (report.naming)(Setting::MaxTotalDrops)
        )
    });
    if of_pigments.is_none() && of_drops.is_none() {
        return " No other pigment known here helps; a let-down, fibre or another underlay may."
            .to_owned();
    }
    of_pigments.into_iter().chain(of_drops).collect()
}

/// How near something would bring a cup: `within reach` only where its ΔE00 keeps to the tolerance.
fn how_near(passes: bool) -> &'static str {
    if passes { "within reach" } else { "nearer" }
}

/// What a miss of the skin is like, and what would mend it; a part whose skin passes has none, even if a paint misses its tone.
#[derive(Serialize)]
pub(super) struct OutOfReach<'a> {
    /// CIELAB of the nearest.
    nearest: [f64; 3],
    /// In which directions it misses, in words, what is missed by most first.
    miss: String,
    /// Single pigments that would bring it nearer, each beside those of the recipe, the best first; may be empty.
    would_help: Vec<WouldHelp<'a>>,
    /// Wider limits of drops that would bring it nearer: the limits, how many drops of what it takes most of, and the ΔE00;
    /// left out where no limit is in the way.
    #[serde(skip_serializing_if = "Option::is_none")]
    more_drops: Option<Value>,
}

/// A pigment that would bring the skin nearer, and how near (ΔE00); `at_hand` where the book has it and it was left out.
#[derive(Serialize)]
struct WouldHelp<'a> {
    /// Its name.
    pigment: &'a str,
    /// Whether the book has it, so that it was left out here.
    at_hand: bool,
    /// ΔE00 that it would bring the skin to.
    delta_e: f64,
}

impl<'a> OutOfReach<'a> {
    /// Of a part whose skin does not pass.
    pub(super) fn new(matched: &'a Matched) -> Self {
        let made = matched.skin.recipe.best().prediction.lab;
        let would_help = matched.reach.helpers.iter().map(|helper| WouldHelp {
            pigment: &helper.pigment,
            at_hand: helper.at_hand,
            delta_e: helper.delta_e,
        });
        Self {
            nearest: triple(made),
            miss: miss(matched.skin.recipe.aim, made),
            would_help: would_help.collect(),
            more_drops: matched.reach.more_drops.as_ref().map(|more| {
                serde_json::json!({
                    "count": more.count,
                    "max_drops": more.max_drops,
                    "max_total_drops": more.max_total_drops,
                    "most_of": more.most_of.to_string(),
                    "delta_e": more.delta_e,
                })
            }),
        }
    }
}
