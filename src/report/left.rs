//! What a pour leaves of jars, stocks and bottles.
//!
//! What runs out first stands at the top, counted in pours of the same part: grams alone don't say what to order. Of a bottle whose
//! mass nobody wrote down nothing is told, rather than a guess.
//!
//! Tinted part B that is left stands apart from these: it is no bottle to order but a cup half made, so it is told with the day on
//! which it was tinted and the part whose tone it has, the oldest first, since that is the one to use up.

use serde_json::Value;

use super::document::document;
use super::text::{HEADING, never, write_wrapped};
use crate::jobs::pouring::Left;
use crate::materials::LeftPartB;

/// What is left after the part called `name` was poured, for a terminal: what runs out first at the top. Of each it says for how many
/// times the same that is enough, whole times, since half a cup is none.
pub fn text(name: &str, left: &[Left]) -> String {
    let name = name.escape_debug();
    if left.is_empty() {
        return format!("{name}: the book keeps no mass of what was poured\n");
    }
    let mut text =
        format!("{HEADING}{name}{HEADING:#}   poured; left, what runs out first at the top:\n");
    let written = left.iter().try_for_each(|left| {
        let lasts = match left.lasts() {
            lasts if lasts < 1.0 => "not enough for the same again".to_owned(),
            lasts if lasts < 2.0 => "enough for the same once more".to_owned(),
            lasts => format!("enough for {:.0} times the same", lasts.floor()),
        };
        let line = format!("{}: {:.2}, {lasts}", left.name.escape_debug(), left.left);
        write_wrapped(&mut text, "  ", &line)
    });
    written.unwrap_or_else(never);
    text
}

/// The same, for other programs.
///
/// - `part`: what was poured.
/// - `left`: what runs out first at the top, an object each.
/// - `left[].name`: a pigment, a stock, or a let-down with the base that it is for.
/// - `left[].used_g`, `left[].left_g`: what was taken of it, and what is left.
/// - `left[].lasts`: for how many times the same that is enough.
pub fn json(name: &str, left: &[Left]) -> String {
    let left: Vec<Value> = (left.iter())
        .map(|left| {
            serde_json::json!({
                "name": left.name,
                "used_g": left.used.0,
                "left_g": left.left.0,
                "lasts": left.lasts(),
            })
        })
        .collect();
    document(&serde_json::json!({ "part": name, "left": left }))
}

/// What tinted part B is left, for a terminal: the oldest first.
pub fn part_b_text(standing: &[LeftPartB]) -> String {
    if standing.is_empty() {
        return "no tinted part B is left\n".to_owned();
    }
    let mut text = String::new();
    let written = standing.iter().try_for_each(|left| {
        let LeftPartB {
            part,
            made,
            poured,
            left,
        } = left;
        let part = part.escape_debug();
        let base = &poured.base;
        let line = format!("{part}: {left} of tinted part B of {base}, from {made}; closed, it keeps as part B does");
        write_wrapped(&mut text, "", &line)
    });
    written.unwrap_or_else(never);
    text
}

/// The answer of `part left`: an object whose one key `left_part_b` holds an object a pour that left some, the oldest first.
///
/// - `part`, `made`: for what it was tinted, and on which day.
/// - `base`, `base_g`, `mix`: the cup whose part B it is, g of mixed base, without fibre.
/// - `left_g`: what is left of it.
pub fn part_b_json(standing: &[LeftPartB]) -> String {
    let rows: Vec<Value> = (standing.iter())
        .map(|left| {
            serde_json::json!({
                "part": left.part,
                "made": left.made.to_string(),
                "base": left.poured.base,
                "base_g": left.poured.base_mass.0,
                "mix": left.poured.mix.to_string(),
                "left_g": left.left.0,
            })
        })
        .collect();
    document(&serde_json::json!({ "left_part_b": rows }))
}
