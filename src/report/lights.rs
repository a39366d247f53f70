//! A recipe and its aim under each of several lights.
//!
//! Metamerism is what of a difference comes from the light alone: the two match under the book's light and part under
//! another.

use std::fmt::{self, Write as _};

use serde::Serialize;
use serde_json::{Map, Value};

use super::colours::{in_words, steps};
use super::text::WIDTH;
use crate::colour::Light;
use crate::forecast::Pair;

/// Columns that the names of `lights` take, 8 at least, so that short names stand under each other from one answer to the next.
pub(super) fn name_width<'a>(lights: impl IntoIterator<Item = &'a Light>) -> usize {
    let widths = lights.into_iter().map(|light| light.name().chars().count());
    widths.max().unwrap_or(0).clamp(8, WIDTH)
}

/// Metamerism that is told, ΔE00: half of what a trained eye sees.
const SHOWN_METAMERISM: f64 = 0.3;

/// ΔE00 of what comes out from the aim under each of several lights, with the metamerism that is worth telling, and the worst of
/// them; nothing where there is one light alone, whose difference the cup tells already.
pub(super) fn write_pairs(out: &mut String, pairs: &[Pair]) -> fmt::Result {
    if pairs.len() < 2 {
        return Ok(());
    }
    let width = name_width(pairs.iter().map(|pair| &pair.light)) + 1;
    for pair in pairs {
        let Pair {
            light,
            delta_e,
            metamerism,
            ..
        } = pair;
        write!(out, "  under {light:<width$} ΔE00 {delta_e:.2}")?;
        if *metamerism >= SHOWN_METAMERISM {
            let way = in_words(steps(pair.aim, pair.made));
            write!(out, "  (metamerism {metamerism:.2}): it looks {way}")?;
        }
        writeln!(out)?;
    }
    match Pair::worst(pairs) {
        Some(worst) => writeln!(
            out,
            "  worst under {}: ΔE00 {:.2}",
            worst.light, worst.delta_e
        ),
        None => Ok(()),
    }
}

/// A number of each pair, by the name of its light, in the order in which the lights were asked for.
pub(super) fn by_light(pairs: &[Pair], value: impl Fn(&Pair) -> f64) -> Map<String, Value> {
    let named = |pair: &Pair| (pair.light.name().to_owned(), Value::from(value(pair)));
    pairs.iter().map(named).collect()
}

/// The light under which a recipe looks worst beside its target.
#[derive(Serialize)]
pub(super) struct Worst {
    /// The light's name.
    light: String,
    /// ΔE00 of what comes out from the aim under it.
    delta_e: f64,
}

impl Worst {
    /// Of `pairs`, where there are several.
    pub(super) fn of(pairs: &[Pair]) -> Option<Self> {
        Pair::worst(pairs).map(|pair| Self {
            light: pair.light.name().to_owned(),
            delta_e: pair.delta_e,
        })
    }
}
