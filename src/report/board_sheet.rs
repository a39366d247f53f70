//! Where to lay planned chips for one photograph: an HTML file that prints on A4 and Letter, black on white.
//!
//! A chip is one piece and is read over two cards, so it lies across the seam of both: rows are chips, columns are cards.
//! The list that `swatch read` asks for stands below, to be copied.
//!
//! Fields are wide enough for a chip's name to be read beside the chip, and the black card's fields have a double frame, which
//! a print in black and white shows as well as a colour would.

use jiff::civil::Date;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::characterise::Advice;

/// Most chips on one board: rows stay as high as three fingers.
const ON_ONE_BOARD: usize = 6;

/// Millimetres, so that it prints alike on both papers.
const STYLE: &str = "\
@page { margin: 12mm } \
body { font: 11pt/1.35 system-ui, sans-serif; color: #000; background: #fff; max-width: 180mm; margin: auto } \
h1 { font-size: 15pt; margin: 0 0 2mm } ol { margin: 2mm 0 4mm; padding-left: 6mm } \
section { break-after: page } \
table { border-collapse: collapse } \
th { font-weight: 600; text-align: left; padding: 1mm 2mm } \
td { border: 0.5mm solid #000; width: 76mm; height: 30mm; vertical-align: top; padding: 1.5mm; overflow: hidden } \
td.black { border-style: double; border-width: 1.2mm } \
pre { white-space: pre-wrap; border: 0.2mm solid #000; padding: 2mm; font-size: 9pt }";

/// The layout of `chips`, which are called by the day `day` and their number, and the lists for their boards.
pub fn layout(chips: &[Advice], day: Date) -> String {
    let boards: Vec<&[Advice]> = chips.chunks(ON_ONE_BOARD).collect();
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="generator" content="dropwise";
                title { "Chips to lay out and photograph" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                @for (index, board) in boards.iter().enumerate() {
                    (one(board, index, boards.len(), day))
                }
            }
        }
    }
    .into_string()
}

/// One board: how to lay it, what lies where, and its list on a page of its own.
fn one(chips: &[Advice], index: usize, boards: usize, day: Date) -> Markup {
    let cards = cards(chips);
    let name = |row: usize| format!("{day} {}", index * ON_ONE_BOARD + row + 1);
    html! {
        section {
            h1 { "Board " (index + 1) " of " (boards) ": " (chips.len()) " chips, one photograph" }
            ol {
                li { "Lay the cards edge to edge, " (cards.join(" on the left, then ")) ", each wider than half a chip." }
                li { "Lay each chip across the seam in its row, wetted to the cards, no chip touching another." }
                li { "Lay the colour chart beside them, flat, in the same even light; nothing may throw a shadow or shine." }
                li { "Photograph from straight above, all of it sharp, the chart's white not burnt out." }
            }
            table {
                tr { th {} @for card in &cards { th { (card) } } }
                @for (row, chip) in chips.iter().enumerate() {
                    tr {
                        th { (row + 1) }
                        @for card in &cards {
                            td.black[card.contains("black")] {
                                b { (name(row)) }
                                @if chip.backings.contains(card) {
                                    br; (chip.poured.base) ", " (chip.thickness)
                                    br; (chip.poured.mix)
                                } @else {
                                    br; "nothing lies here"
                                }
                            }
                        }
                    }
                }
            }
        }
        section {
            h1 { "The list of board " (index + 1) ", to be copied into a file" }
            pre { (list(chips, &cards, name)) }
        }
    }
}

/// The cards that the chips are read over, in the order of the first that names each.
fn cards(chips: &[Advice]) -> Vec<String> {
    let mut cards: Vec<String> = Vec::new();
    for card in chips.iter().flat_map(|chip| &chip.backings) {
        if !cards.contains(card) {
            cards.push(card.clone());
        }
    }
    cards
}

/// What `swatch read` reads of the board.
fn list(chips: &[Advice], cards: &[String], name: impl Fn(usize) -> String) -> String {
    let quoted = |text: &str| format!("\"{}\"", text.replace('"', "\"\""));
    let mut text = "row,column,swatch,base,base_g,mix,thickness_mm,backing\n".to_owned();
    for (row, chip) in chips.iter().enumerate() {
        for (column, card) in cards.iter().enumerate() {
            if !chip.backings.contains(card) {
                continue;
            }
            text += &format!(
                "{},{},{},{},{},{},{},{}\n",
                row + 1,
                column + 1,
                quoted(&name(row)),
                quoted(&chip.poured.base),
                chip.poured.base_mass.0,
                quoted(&chip.poured.mix.to_string()),
                chip.thickness.0,
                quoted(card)
            );
        }
    }
    text
}
