//! How a matched part stands, in one sentence of plain words.
//!
//! Paper and bench are told apart: a recipe may be as near as can be while nobody knows what the bottles hold. A chance is told
//! as castings out of a hundred, which is understood where a probability is not; and a chance that is low has the one doubt
//! named that most of it is due to, with what to do about it. All other doubts stand in the reasons, which nobody needs to pour.

use super::colours::miss;
use super::numbers::in_a_hundred;
use crate::forecast::{Budget, DoubtSource};
use crate::jobs::matching::Matched;
use crate::jobs::verdict::Verdict;

/// How `matched` stands on paper and at the bench, with what to do first: two short sentences at most, with their full stops.
pub(crate) fn says(matched: &Matched) -> String {
    let skin = &matched.skin.recipe;
    let best = skin.best();
    let count = in_a_hundred(best.chance);
    let plural = if count == "1" { "" } else { "s" };
    let castings = format!("about {count} casting{plural} in 100 would");
    let limit = matched.tolerance;
    let miss = || miss(skin.aim, best.prediction.lab);
    match matched.verdict() {
        Verdict::Lands => format!("On paper it matches, and at your bench {castings}."),
        Verdict::NotKnown => format!(
            "On paper it matches. At your bench {castings}, {}.",
            since(&best.budget)
        ),
        Verdict::Near => format!(
            "It comes near and does not match: {}, ΔE00 {:.2} where {limit:.2} passes. At your bench {castings}.",
            miss(),
            best.delta_e
        ),
        Verdict::OutOfReach => {
            let none = if skin.proven {
                "OUT OF REACH: no recipe of these pigments comes"
            } else {
                "OUT OF REACH as far as searched: no recipe was found that comes"
            };
            format!(
                "{none} nearer than ΔE00 {:.2}, where {limit:.2} passes; it is {}.",
                best.delta_e,
                miss()
            )
        }
    }
}

/// What most of the doubt is due to, and what to do about it first.
fn since(budget: &Budget) -> &'static str {
    let largest = (budget.lines.iter()).max_by(|one, other| one.delta_e.total_cmp(&other.delta_e));
    match largest.map(|line| line.source) {
        Some(DoubtSource::Curves) => {
            "since these pigments are hardly measured yet: cast a small test first"
        }
        Some(DoubtSource::Foam) => {
            "since the foam's cells and rise are hardly known: cast a small test first"
        }
        Some(DoubtSource::FoamContact) => {
            "since how the foam touches the skin is hardly known: log one chip of clear skin over a dark foam"
        }
        Some(DoubtSource::Target) => {
            "since the tone itself is hardly known: read it with an instrument first"
        }
        Some(DoubtSource::DropMass) => {
            "since the mass of a drop is hardly known: weigh twenty of each first"
        }
        Some(DoubtSource::DropScatter) => {
            "since drops vary: weigh what you can, and cast a small test first"
        }
        Some(DoubtSource::Fibre) => {
            "since fibre by feel varies: weigh it, and cast a small test first"
        }
        Some(DoubtSource::Weighing) => "since the scale is coarse: use a finer one",
        Some(DoubtSource::Thickness) => {
            "since a layer by hand varies: keep its thickness, and cast a small test first"
        }
        Some(DoubtSource::LeftOver) => "since no casting like it was read: cast a small test first",
        Some(DoubtSource::Model) | None => "by what is known: cast a small test first",
    }
}
