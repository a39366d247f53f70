//! A test piece drawn from tinted part B: what is tinted, what is drawn, what remains.

use std::fmt::{self, Write as _};

use serde_json::{Value, json};

use super::cautions::in_a_line;
use super::document::document;
use super::poured::{DoseRow, SCHEMA};
use super::screen::{clock, entry, write_entries};
use super::text::{HEADING, never, write_wrapped};
use crate::batch::Parts;
use crate::jobs::test_pieces::{PartA, Share, TestPiece};
use crate::materials::{Grams, Underlay};

/// To what masses are told, g.
const STEP: Grams = Grams(0.1);

/// A test piece, for a terminal; `correct` is the command that goes on from it.
pub fn text(piece: &TestPiece, correct: &str) -> String {
    let mut text = String::new();
    write(&mut text, piece, correct).unwrap_or_else(never);
    text
}

/// In the order of the work: tint all of part B, draw the piece from it, keep the rest closed, read and correct.
fn write(out: &mut String, piece: &TestPiece, correct: &str) -> fmt::Result {
    let pour = &piece.matched.skin.pour;
    let name = piece.part.name.escape_debug();
    writeln!(
        out,
        "{HEADING}{name}{HEADING:#}   a test piece of {} from a pot of {} g {}\n",
        piece.mass, pour.base_g, pour.base
    )?;
    writeln!(out, "{HEADING}1 Tint all of part B{HEADING:#}")?;
    match pour.parts {
        Parts::Weighed { part_b_g, .. } => writeln!(out, "  {part_b_g} g part B")?,
        Parts::ByVolume { part_b_ml, .. } => writeln!(out, "  {part_b_ml} ml part B")?,
        Parts::Single {} => {}
    }
    let doses: Vec<String> = piece.doses.iter().map(|dose| entry(dose, 1)).collect();
    write_entries(out, &doses)?;
    writeln!(
        out,
        "  together {}; no clock runs until part A goes in\n",
        piece.tinted_part_b.rounded_to(STEP)
    )?;
    writeln!(out, "{HEADING}2 Draw the test piece{HEADING:#}")?;
    let clock = clock(pour);
    write_wrapped(out, "  ", &format!("{}{clock}", in_words(&piece.drawn)))?;
    let beneath = match &piece.matched.build.beneath {
        Underlay::Foam(_) => "with the foam behind it as in the part".to_owned(),
        Underlay::Backing { name, .. } => format!("over {name}"),
    };
    let cast = format!("cast it {} thick, {beneath}", piece.matched.build.thickness);
    write_wrapped(out, "  ", &cast)?;
    writeln!(out, "\n{HEADING}3 Keep what remains, closed{HEADING:#}")?;
    writeln!(out, "  {}\n", in_words(&piece.rest))?;
    writeln!(out, "{}", in_a_line([pour]))?;
    writeln!(
        out,
        "Next: when it has cured, read it and correct what remains:\n  {correct}"
    )
}

/// `30.1 g tinted part B, 1.2 g fibre, 30 g part A last`
fn in_words(share: &Share) -> String {
    let fibre = match share.fibre {
        Grams(0.0) => String::new(),
        mass => format!(", {} fibre", mass.rounded_to(STEP)),
    };
    let part_a = match share.part_a {
        PartA::Weighed(mass) => mass.rounded_to(STEP).to_string(),
        PartA::Millilitres(volume) => format!("{} ml", Grams(volume).rounded_to(STEP).0),
    };
    format!(
        "{} tinted part B{fibre}, {part_a} part A last",
        share.part_b.rounded_to(STEP)
    )
}

/// The same for other programs, of one pot; masses in g.
///
/// - `part`, `pots`, `base_g`: the part, its skin's pots, and mixed base over all of them.
/// - `test_g`: what the test piece weighs; `tinted_part_b_g`: part B with all its doses, before anything is drawn.
/// - `doses`: what tints it, as in every answer.
/// - `drawn`, `rest`: tinted part B, fibre and part A of the test piece and of what remains; part A is `part_a_ml`, in ml,
///   where the book mixes by volume.
/// - `commands`: what is typed when the piece has cured.
pub fn json(piece: &TestPiece, correct: &str) -> String {
    let share = |share: &Share| {
        let mut keys = json!({ "part_b_g": share.part_b.0, "fibre_g": share.fibre.0 });
        let (key, amount) = match share.part_a {
            PartA::Weighed(mass) => ("part_a_g", mass.0),
            PartA::Millilitres(volume) => ("part_a_ml", volume),
        };
        keys[key] = Value::from(amount);
        keys
    };
    document(&json!({
        "schema": SCHEMA,
        "part": piece.part.name,
        "pots": piece.matched.skin.pour.pots,
        "base_g": piece.matched.skin.pour.base_g,
        "test_g": piece.mass.0,
        "tinted_part_b_g": piece.tinted_part_b.0,
        "doses": piece.doses.iter().map(|dose| DoseRow::of(dose, 1)).collect::<Vec<_>>(),
        "drawn": share(&piece.drawn),
        "rest": share(&piece.rest),
        "commands": { "correct": correct },
    }))
}
