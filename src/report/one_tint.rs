//! The one stock for skin and foam, and what it costs, in words and as JSON.
//!
//! The stock is of fixed proportions; cups differ in how many drops of it they take. It costs nearness, and both differences
//! are shown, so that the maker can choose. Where it is yet to be made, what is weighed for it is told, in steps of the book's
//! scale.

use std::fmt::{self, Write as _};

use serde_json::{Map, Value};

use super::text::{HEADING, capital, write_hanging, write_wrapped};
use crate::recipe::{Cost, OneTint};

/// What the stock tints, and how much of it its masses make.
pub(crate) fn what_for(one_tint: &OneTint) -> String {
    let cups = if one_tint.foam.is_some() {
        "skin and foam"
    } else {
        "the skin"
    };
    if one_tint.stands {
        return format!("one tint for {cups}, from its bottle; it was weighed of:");
    }
    format!("one tint for {cups}; {} of it are:", OneTint::BATCH_G)
}

/// What is weighed together, and how it is used: the stock's ingredients, a line each, and a rule.
pub(crate) fn stirred(one_tint: &OneTint) -> (Vec<String>, String) {
    let stock = &one_tint.stock;
    let lines = stock
        .grams
        .iter()
        .map(|(name, mass)| format!("{mass} {name}"));
    let drop = stock.drop_mass.map_or_else(
        || "It goes in by the gram.".to_owned(),
        |drop| format!("One drop is taken to weigh {:.3} g", drop.0),
    );
    let rule = if one_tint.stands {
        format!("Shake it before use. {drop}.")
    } else {
        format!(
            "Stirred together until no streak is left, by these masses or any share of them: drop it like a pigment. \
             {drop}, the mean of its pigments' (weigh twenty to be sure). Closed and dry it keeps as its dispersions do; \
             shake it before use. Put into the book it is known by its name: `dropwise stock make`."
        )
    };
    (lines.collect(), rule)
}

/// How a build of one stock is made at another size, to stand before the commands that make its cups pigment by pigment.
pub(super) const AT_ANOTHER_SIZE: &str = "At another size: multiply the stock's grams and its drops; ten drops of \
    a let-down 1:10 are one of the stock itself. Or pigment by pigment, without the stock:";

/// What the stock costs, a sentence for each cup that it tints: the skin, then the foam as it is seen bare.
pub(super) fn costs(one_tint: &OneTint) -> Vec<String> {
    let skin = cost("the skin", one_tint.skin);
    let foam = one_tint.foam.map(|foam| cost("the foam, bare,", foam));
    std::iter::once(skin).chain(foam).collect()
}

/// What the one tint costs `what`, which reads in front of `is`: both differences as ΔE00 to two digits, and the one less the
/// other, which is never told as less than nothing.
fn cost(what: &str, cost: Cost) -> String {
    let Cost {
        delta_e,
        free_delta_e,
    } = cost;
    // What is read is what is subtracted.
    let [with, free] = [delta_e, free_delta_e].map(|value| (100.0 * value).round() / 100.0);
    let more = match with - free {
        more if more > 0.0 => format!("the one tint costs {more:.2}"),
        _ => "the one tint costs nothing".to_owned(),
    };
    format!(
        "{what} is ΔE00 {with:.2} off the base tone, with a recipe of its own {free:.2}: {more}"
    )
}

/// The stock and what it costs, for a terminal.
pub(super) fn write_one_tint(out: &mut String, one_tint: &OneTint) -> fmt::Result {
    let (lines, rule) = stirred(one_tint);
    let (name, what_for) = (capital(&one_tint.stock.name), what_for(one_tint));
    writeln!(out, "{HEADING}{name}{HEADING:#}   {what_for}")?;
    (lines.iter()).try_for_each(|line| writeln!(out, "    {line}"))?;
    write_wrapped(out, "  ", &rule)?;
    (costs(one_tint).iter()).try_for_each(|cost| write_hanging(out, cost))?;
    writeln!(out)
}

/// `{"stock": …, "stands": …, "mix": …, "g": …, "g_per_100_g": {…}, "drop_g": …, "skin": {…}, "foam": {…}}`, `foam` where it is
/// tinted with the stock too.
///
/// `mix` is what is weighed together, in steps of the book's scale, `g` what that weighs; `stock make` takes both. A cup's
/// `delta_e` is with the stock, its `free_delta_e` with a recipe of its own, and `cost` the one less the other, all ΔE00 from
/// the base tone. Masses are in g.
pub(super) fn json(one_tint: &OneTint) -> Value {
    let OneTint {
        stock, skin, foam, ..
    } = one_tint;
    let whole = stock.mass().0;
    // What was weighed for 100 g is told as it was weighed.
    let in_100 = |grams: f64| {
        if whole == 100.0 {
            grams
        } else {
            100.0 * grams / whole
        }
    };
    let grams: Map<String, Value> = (stock.grams.iter())
        .map(|(name, mass)| (name.clone(), Value::from(in_100(mass.0))))
        .collect();
    let cost = |cost: &Cost| {
        serde_json::json!({
            "delta_e": cost.delta_e,
            "free_delta_e": cost.free_delta_e,
            "cost": cost.in_delta_e(),
        })
    };
    let mut said = serde_json::json!({
        "stock": stock.name,
        "stands": one_tint.stands,
        "mix": stock.mix().to_string(),
        "g": whole,
        "g_per_100_g": grams,
        "drop_g": stock.drop_mass.map(|drop| drop.0),
        "skin": cost(skin),
    });
    if let Some(foam) = foam {
        said["foam"] = cost(foam);
    }
    said
}
