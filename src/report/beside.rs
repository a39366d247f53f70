//! Text of what stands side by side: a recipe and its aim under each light, a target and published skin.

use std::fmt::{self, Write as _};

use super::part::{in_words, steps};
use super::terminal::{HEADING, write_wrapped};
use crate::colour::Light;
use crate::forecast::Pair;
use crate::tone::{BesidePublished, GEOMETRY_CAUTION, Instrument, InstrumentKind, PublishedSkin};

/// Columns that the names of `lights` take.
pub(super) fn name_width<'a>(lights: impl IntoIterator<Item = &'a Light>) -> usize {
    let widths = lights.into_iter().map(|light| light.name().chars().count());
    widths.max().unwrap_or(0).max(8)
}

/// How a reader took its readings, where a target comes from one.
pub(super) fn write_reader(out: &mut String, instrument: &Instrument) -> fmt::Result {
    if instrument.kind != Some(InstrumentKind::Contact) {
        return Ok(());
    }
    write!(out, "  contact reader")?;
    if !instrument.geometry.is_unknown() {
        write!(out, ", {}", instrument.geometry)?;
    }
    writeln!(out)
}

/// The aim and what comes out, under each of several lights.
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

/// Metamerism that is told, ΔE00: half of what a trained eye sees.
const SHOWN_METAMERISM: f64 = 0.3;

pub(super) fn write_published(out: &mut String, published: &[BesidePublished]) -> fmt::Result {
    if published.is_empty() {
        return Ok(());
    }
    writeln!(
        out,
        "\n{HEADING}Published skin{HEADING:#}   means of people; ΔE00 from the target"
    )?;
    let cell = |value: Option<f64>| {
        value.map_or_else(|| "    -".to_owned(), |value| format!("{value:5.1}"))
    };
    for BesidePublished {
        skin,
        delta_e,
        same_kind,
    } in published
    {
        let PublishedSkin {
            source,
            subjects,
            site,
            seen_by,
            l,
            a,
            b,
        } = skin;
        let [l, a, b, delta_e] = [*l, *a, *b, *delta_e].map(cell);
        let other = if *same_kind == Some(false) {
            ", unlike the target"
        } else {
            ""
        };
        writeln!(
            out,
            "  L* {l}  a* {a}  b* {b}  ΔE00 {delta_e}  {seen_by}{other}"
        )?;
        writeln!(out, "    {site}, {subjects}: {source}")?;
    }
    write_wrapped(out, "  note: ", GEOMETRY_CAUTION)
}
