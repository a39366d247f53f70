//! The stocks of the shelf, and what was done to them.

use std::fmt::{self, Write as _};

use serde_json::Value;

use super::document::document;
use super::text::{HEADING, never, write_mix, write_wrapped};
use crate::jobs::stocks::{MadeStock, StandingStock};
use crate::materials::{Rounded, StockBottle};

/// How a new stock is treated.
const RULE: &str = "stirred together until no streak is left, and closed, it keeps as its dispersions do: write its name and \
    the day on the bottle, and shake it before use. A chip of its own, logged and learnt from, tells its colour better than \
    its ingredients can";

/// A stock that was made, for a terminal: what is weighed, what the scale rounds, how it is used.
pub fn made_text(made: &MadeStock) -> String {
    let mut text = String::new();
    let write = |text: &mut String| {
        write_standing(text, &made.standing)?;
        for Rounded {
            name,
            wanted,
            weighed,
        } in &made.rounded
        {
            let words = format!(
                "weigh {weighed} of {name}: the scale does not show {:.3} g",
                wanted.0
            );
            write_wrapped(text, "  note: ", &words)?;
        }
        write_wrapped(text, "  note: ", RULE)
    };
    write(&mut text).unwrap_or_else(never);
    text
}

/// A stock that was made: the keys that a stock has in [`json`], and `rounded`: each ingredient that the scale can't weigh as it was asked for
/// (`name`), with what was wanted and what it weighs, g.
pub fn made_json(made: &MadeStock) -> String {
    let mut value = value(&made.standing);
    let rounded = made.rounded.iter().map(|each| {
        serde_json::json!({
            "name": each.name,
            "wanted_g": each.wanted.0,
            "weighed_g": each.weighed.0,
        })
    });
    value["rounded"] = rounded.collect();
    document(&value)
}

/// What stands on the shelf, for a terminal.
pub fn text(stocks: &[StandingStock]) -> String {
    if stocks.is_empty() {
        return "no stock stands in the book\n".to_owned();
    }
    let mut text = String::new();
    let written = stocks
        .iter()
        .try_for_each(|each| write_standing(&mut text, each));
    written.unwrap_or_else(never);
    text
}

/// What stands on the shelf, for other programs: an object whose one key `stocks` holds an object a stock.
///
/// - `stock`, `made`, `mix`: its name, the day on which it was weighed, and what went in, g.
/// - `g`, `left_g`: what it weighed then, and what is left.
/// - `drop_g`: what a drop of it weighs, `null` where it is only weighed; `max_fraction`: its largest share of a cup.
/// - `has_own_curves`: whether chips of it were learnt from; if not, its colour is worked out from its ingredients.
pub fn json(stocks: &[StandingStock]) -> String {
    let stocks: Vec<Value> = stocks.iter().map(value).collect();
    document(&serde_json::json!({ "stocks": stocks }))
}

/// A stock that was taken off the shelf, for a terminal.
pub fn removed_text(removed: &StockBottle) -> String {
    let name = removed.stock.name.escape_debug();
    format!("{HEADING}{name}{HEADING:#} stands on the shelf no more\n")
}

/// `{"removed": …}`.
pub fn removed_json(removed: &StockBottle) -> String {
    document(&serde_json::json!({ "removed": removed.stock.name }))
}

/// One stock, in the keys of [`json`].
fn value(standing: &StandingStock) -> Value {
    let StandingStock { bottle, pigment } = standing;
    serde_json::json!({
        "stock": bottle.stock.name,
        "made": bottle.made.to_string(),
        "mix": bottle.stock.mix().to_string(),
        "g": bottle.stock.mass().0,
        "left_g": bottle.left.0,
        "drop_g": pigment.drop_mass.map(|drop| drop.0),
        "max_fraction": pigment.max_fraction,
        "has_own_curves": bottle.has_own_curves,
    })
}

/// One stock in a few lines: name, day and what is left; its mix; how it goes into a cup.
fn write_standing(out: &mut String, standing: &StandingStock) -> fmt::Result {
    let StandingStock { bottle, pigment } = standing;
    writeln!(
        out,
        "{HEADING}{}{HEADING:#}   made {}, {:.2} g left",
        bottle.stock.name.escape_debug(),
        bottle.made,
        bottle.left.0
    )?;
    write_mix(out, "  of ", &bottle.stock.mix())?;
    let drop = pigment.drop_mass.map_or_else(
        || "goes in by the gram".to_owned(),
        |drop| format!("a drop weighs {:.4} g", drop.0),
    );
    let curves = if bottle.has_own_curves {
        "its colour is by chips of its own"
    } else {
        "its colour is by its ingredients'"
    };
    let most = 100.0 * pigment.max_fraction;
    write_wrapped(
        out,
        "  ",
        &format!("{drop}; up to {most:.1} % of a cup; {curves}"),
    )
}
