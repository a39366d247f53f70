//! What was put on the shelf: a pigment, a base, a backing.

use std::fmt::Write as _;

use serde::Serialize;

use super::bottles::{WeighedRow, weighed_rows_of, write_weighed};
use super::document::document;
use super::text::{HEADING, never, write_wrapped};
use crate::jobs::bottles::{AddedBacking, AddedBase, AddedPigment};
use crate::materials::{Grams, Pigment};

/// What is to be known of a new pigment, a sentence each.
fn notes(added: &AddedPigment) -> Vec<&'static str> {
    let pigment = &added.pigment;
    let curves = if pigment.is_unread() {
        "nothing tells of its colour yet: it can be weighed and logged, and no recipe takes it unless it is asked for by \
         name, until a chip of it is logged and learnt from"
    } else {
        "until a chip of it is logged and learnt from, its curves are those of the starter pigment that it is like"
    };
    let drops = "it has no drop mass: it goes in by the gram until twenty of its drops are weighed";
    let is_dropped = pigment.drop_mass.is_some() || pigment.like == Pigment::FIBRE;
    std::iter::once(curves)
        .chain((!is_dropped).then_some(drops))
        .collect()
}

/// The new pigment, for a terminal.
pub fn pigment_text(added: &AddedPigment) -> String {
    let mut text = String::new();
    let pigment = &added.pigment;
    let write = |text: &mut String| {
        writeln!(
            text,
            "{HEADING}{}{HEADING:#} stands on the shelf, up to {} % of a cup",
            pigment.name.escape_debug(),
            100.0 * pigment.max_fraction
        )?;
        write_weighed(text, &added.weighed)?;
        notes(added)
            .iter()
            .try_for_each(|note| write_wrapped(text, "  note: ", note))
    };
    write(&mut text).unwrap_or_else(never);
    text
}

/// The new pigment, for other programs.
pub fn pigment_json(added: &AddedPigment) -> String {
    /// The keys of the answer.
    #[derive(Serialize)]
    struct Document<'a> {
        /// Its name on the shelf.
        pigment: &'a str,
        /// What a drop weighs, g; `null` for what is only weighed.
        drop_g: Option<Grams>,
        /// Its largest share of a cup by mass, 0 to 1.
        max_fraction: f64,
        /// The bottle's batch; empty where it has none.
        lot: &'a str,
        /// The starter pigment whose curves are its first guess; empty where it is like nothing known.
        like: &'a str,
        /// Whether nothing tells of its curves, so that no match uses it.
        unread: bool,
        /// The runs of drops that were weighed for it.
        weighed: Vec<WeighedRow<'a>>,
        /// What else is to be known, a sentence each.
        notes: Vec<&'static str>,
    }
    let pigment = &added.pigment;
    document(&Document {
        pigment: &pigment.name,
        drop_g: pigment.drop_mass,
        max_fraction: pigment.max_fraction,
        lot: &pigment.lot,
        like: &pigment.like,
        unread: pigment.is_unread(),
        weighed: weighed_rows_of(&added.weighed),
        notes: notes(added),
    })
}

/// What is to be known of a new base.
const BASE_NOTE: &str = "nobody has read it: it is taken for nearly clear until a chip of it without pigment, or with \
    little, is logged and learnt from";

/// What is to be known of a new carrier.
const CARRIER_NOTE: &str = "it thins stocks, and is never cast; it is taken for nearly clear";

/// Its name, its kind, and what is to be known of it.
fn told_of(added: &AddedBase) -> (&str, String, &'static str) {
    match added {
        AddedBase::Base(base) => (&base.name, base.kind.kind().to_string(), BASE_NOTE),
        AddedBase::Carrier(carrier) => (&carrier.name, "carrier".to_owned(), CARRIER_NOTE),
    }
}

/// The new base, for a terminal.
pub fn base_text(added: &AddedBase) -> String {
    let mut text = String::new();
    let (name, kind, note) = told_of(added);
    let write = |text: &mut String| {
        let name = name.escape_debug();
        writeln!(
            text,
            "{HEADING}{name}{HEADING:#} stands on the shelf: {kind}"
        )?;
        write_wrapped(text, "  note: ", note)
    };
    write(&mut text).unwrap_or_else(never);
    text
}

/// `{"base": …, "kind": …, "notes": […]}`.
pub fn base_json(added: &AddedBase) -> String {
    let (base, kind, note) = told_of(added);
    document(&serde_json::json!({ "base": base, "kind": kind, "notes": [note] }))
}

/// The new backing, for a terminal.
pub fn backing_text(added: &AddedBacking) -> String {
    format!(
        "{HEADING}{}{HEADING:#} stands on the shelf; its reflectance is in {}\n",
        added.backing.name.escape_debug(),
        added.r_file
    )
}

/// `{"backing": …, "r_file": …}`, the file from the book's folder.
pub fn backing_json(added: &AddedBacking) -> String {
    document(&serde_json::json!({ "backing": added.backing.name, "r_file": added.r_file }))
}
