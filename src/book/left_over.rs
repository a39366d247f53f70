//! `spectra/left-over.csv`: what the last calibration left over, casting by casting, and by what law it is alike.
//!
//! Whoever predicts reads this file alone, and never the log. The first rows are the law, a number each under its name in the
//! column `what`; then comes a row a reading. A casting stands in grams, beside the colour that the physics gave it: where a
//! curve, a card or a setting has changed since, that colour has too, and the row no longer counts.

use std::collections::BTreeMap;

use super::builds;
use super::changes::Changes;
use super::files::Files;
use super::number::Number;
use super::table::{Columns, Table, row_text, text_cell};
use crate::colour::Lab;
use crate::error::{Error, Result};
use crate::materials::{LeftOver, LeftOverCasting, LeftOverLaw, Scales, Shelf};

/// The file.
pub(super) const LEFT_OVER: &str = "spectra/left-over.csv";

const COLUMNS: Columns = Columns {
    required: &[
        WHAT,
        VALUE.name,
        SWATCH,
        "base",
        "base_g",
        "mix",
        "thickness_mm",
        "backing",
        "contact",
        "foam",
        "foam_g",
        "foam_mix",
        "paint",
        "paint_g",
        "paint_mix",
        "paint_mm",
        PHYSICS[0].name,
        PHYSICS[1].name,
        PHYSICS[2].name,
        BY[0].name,
        BY[1].name,
        BY[2].name,
    ],
    optional: &[],
};

const WHAT: &str = "what";
const SWATCH: &str = "swatch";
/// What a row that is no part of the law tells of.
const READING: &str = "reading";

/// The parts of the law in their order.
const LAW: [&str; 9] = [
    "sd_L",
    "sd_a",
    "sd_b",
    "noise",
    "of_chip",
    "shares",
    "load",
    "thickness",
    "beneath",
];

const VALUE: Number = Number {
    name: "value",
    range: (1e-6, 1e6),
    example: "0.5",
};
/// The share of the noise that is a chip's.
const OF_CHIP: Number = Number {
    range: (0.0, 0.99),
    ..VALUE
};
const PHYSICS: [Number; 3] = [
    lab("L", (0.0, 100.0)),
    lab("a", (-150.0, 150.0)),
    lab("b", (-150.0, 150.0)),
];
const BY: [Number; 3] = [
    lab("delta_L", (-100.0, 100.0)),
    lab("delta_a", (-300.0, 300.0)),
    lab("delta_b", (-300.0, 300.0)),
];

const fn lab(name: &'static str, range: (f64, f64)) -> Number {
    Number {
        name,
        range,
        example: "1.5",
    }
}

/// How to mend the file.
const WRITE_ANEW: &str =
    "delete this file, or run `dropwise calibrate` on a sound copy of the book to write it anew";

/// What is left over, by `shelf`, which is else as read; `None` where the book keeps nothing of it.
///
/// # Errors
/// The first thing in the file that is wrong, with its place.
pub(super) fn read(files: &Files, shelf: &Shelf) -> Result<Option<LeftOver>> {
    let Some(text) = files.find(LEFT_OVER)? else {
        return Ok(None);
    };
    let table = Table::read(&files.label(LEFT_OVER), &text, &COLUMNS)?;
    let mut law = BTreeMap::new();
    let mut castings = Vec::new();
    let mut reader = builds::Reader::on(shelf);
    for row in table.rows() {
        match row.filled(WHAT, "a part of the law, or reading")? {
            READING => castings.push(LeftOverCasting {
                swatch: row.filled(SWATCH, "the chip's name")?.to_owned(),
                build: reader.build(row)?,
                physics: {
                    let [l, a, b] = [&PHYSICS[0], &PHYSICS[1], &PHYSICS[2]];
                    Lab::new(row.number(l)?, row.number(a)?, row.number(b)?)
                },
                by: [
                    row.number(&BY[0])?,
                    row.number(&BY[1])?,
                    row.number(&BY[2])?,
                ],
            }),
            part => {
                let Some(part) = LAW.into_iter().find(|known| *known == part) else {
                    let all = LAW.into_iter().chain([READING]);
                    let error = Error::unknown_name("part of the law", part, all);
                    return Err(row.fault(WHAT, error));
                };
                let number = if part == LAW[4] { &OF_CHIP } else { &VALUE };
                if law.insert(part, row.number(number)?).is_some() {
                    let error = Error::input(format!("{part} stands twice"));
                    return Err(row.fault(WHAT, error.mend(WRITE_ANEW)));
                }
            }
        }
    }
    if castings.is_empty() {
        return Ok(None);
    }
    let part = |index: usize| {
        law.get(LAW[index]).copied().ok_or_else(|| {
            let finding = format!("no row says {}, a part of the law", LAW[index]);
            table.fault(Error::input(finding).mend(WRITE_ANEW))
        })
    };
    let law = LeftOverLaw {
        sd: [part(0)?, part(1)?, part(2)?],
        noise: part(3)?,
        of_chip: part(4)?,
        scales: Scales {
            shares: part(5)?,
            load: part(6)?,
            thickness: part(7)?,
            beneath: part(8)?,
        },
    };
    LeftOver::of(shelf, law, &castings)
        .map(Some)
        .map_err(|error| table.fault(error.mend(WRITE_ANEW)))
}

/// Puts what is left over among the `changes` of a book; where nothing is, what stood there before is taken out.
pub(super) fn put(
    changes: &mut Changes,
    found: Option<(&LeftOverLaw, &[LeftOverCasting])>,
) -> Result<()> {
    let mut text = row_text(
        COLUMNS.required.iter().map(|name| (*name).to_owned()),
        false,
    );
    match found {
        Some((law, castings)) => {
            let Scales {
                shares,
                load,
                thickness,
                beneath,
            } = law.scales;
            let of_it = law.sd.into_iter().chain([
                law.noise,
                law.of_chip,
                shares,
                load,
                thickness,
                beneath,
            ]);
            for (part, value) in LAW.into_iter().zip(of_it) {
                let cell = |name: &&str| match *name {
                    WHAT => part.to_owned(),
                    name if name == VALUE.name => {
                        let digits = format!("{value:.4e}");
                        digits
                            .parse::<f64>()
                            .map_or(digits, |value| value.to_string())
                    }
                    _ => String::new(),
                };
                text += &row_text(COLUMNS.required.iter().map(cell), false);
            }
            for casting in castings {
                let cell = |name: &&str| cell(casting, name);
                text += &row_text(COLUMNS.required.iter().map(cell), false);
            }
        }
        None if changes.files.find(LEFT_OVER)?.is_none() => return Ok(()),
        None => {}
    }
    changes.put(LEFT_OVER, text);
    Ok(())
}

/// What stands of `casting` in this column.
fn cell(casting: &LeftOverCasting, column: &str) -> String {
    let Lab { l, a, b, .. } = casting.physics;
    let colours = PHYSICS
        .iter()
        .zip([l, a, b])
        .chain(BY.iter().zip(casting.by));
    let mut colours = colours.filter(|(number, _)| number.name == column);
    match column {
        WHAT => READING.to_owned(),
        SWATCH => text_cell(&casting.swatch).into_owned(),
        _ => match colours.next() {
            Some((_, value)) => format!("{value:.4}"),
            None => builds::cell(&casting.build, column).unwrap_or_default(),
        },
    }
}
