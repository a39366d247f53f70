//! Bottles: a new lot of a pigment, and drops on a scale.

use std::collections::HashMap;

use jiff::civil::Date;

use super::changes::Changes;
use super::columns::{KS_FILE, LOT_OF};
use super::files::{Files, PIGMENTS, STOCKS};
use super::names::check_stands_in_a_mix;
use super::number::Number;
use super::shelf::{DROP_MASS, PIGMENT_COLUMNS};
use super::table::{Columns, Row, Table, text_cell};
use crate::error::{Error, Result};
use crate::materials::{DropMass, Grams, Pigment, Shelf, Swatch, Weighed, Weighing};

/// The log of drops on a scale: one row a run.
const WEIGHINGS: &str = "weighings.csv";

const WEIGHING_COLUMNS: Columns = Columns {
    required: &["date", "pigment", "drops", MASS_G.name],
    optional: &["lot"],
};

const DROPS: Number = Number {
    name: "drops",
    range: (1.0, 1000.0),
    example: "20",
};
const MASS_G: Number = Number {
    name: "mass_g",
    range: (0.001, 1000.0),
    example: "0.61",
};

/// Bottles that come into a book, and drops of them on a scale.
#[derive(Clone, Copy, Debug, Default)]
pub struct NewBottles<'a> {
    /// New lots: of each the pigment that it is of, and what its label says.
    pub lots: &'a [(&'a str, &'a str)],
    /// Runs of drops, of new lots too.
    pub runs: &'a [Weighing],
}

/// What bottles have made of a book.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct KeptBottles {
    /// What the new lots are called.
    pub lots: Vec<String>,
    /// What the runs of each pigment tell.
    pub weighed: Vec<Weighed>,
}

/// What drops on a scale make of a book.
pub(super) struct Weighings {
    /// What each pigment's runs tell.
    pub(super) weighed: Vec<Weighed>,
    /// The log with the runs.
    log: String,
    /// The pigments with their new drop masses, and the stocks, where any of these was weighed.
    tables: Vec<(&'static str, String)>,
}

/// Works out what `runs` of `today` make of a book of `files`: a longer log, and for each pigment the drop mass that all runs
/// of its present lot tell.
///
/// # Errors
/// A pigment that is not on the shelf or is only weighed, a log that has become unsound.
pub(super) fn weigh(
    files: &Files,
    shelf: &Shelf,
    swatches: &[Swatch],
    runs: &[Weighing],
    today: Date,
) -> Result<Weighings> {
    let mut log = files
        .find(WEIGHINGS)?
        .unwrap_or_else(|| "date,pigment,lot,drops,mass_g\n".to_owned());
    let mut pigments: Vec<&Pigment> = Vec::new();
    for run in runs {
        let pigment = shelf.pigment(&run.pigment)?;
        pigment.check_weighable()?;
        if !pigments.iter().any(|known| known.name == pigment.name) {
            pigments.push(pigment);
        }
        let table = Table::read(&files.label(WEIGHINGS), &log, &WEIGHING_COLUMNS)?;
        let lacks_lot = !pigment.lot.is_empty() && !table.has("lot");
        let lacking: &[&str] = if lacks_lot { &["lot"] } else { &[] };
        log = table.with_row(&log, lacking, |column| match column {
            "date" => today.to_string(),
            "pigment" => text_cell(&run.pigment).into_owned(),
            "lot" => text_cell(&pigment.lot).into_owned(),
            "drops" => run.drops.to_string(),
            "mass_g" => run.mass.0.to_string(),
            _ => String::new(),
        });
    }
    let table = Table::read(&files.label(WEIGHINGS), &log, &WEIGHING_COLUMNS)?;
    let mut masses: Vec<(&str, DropMass)> = Vec::new();
    let mut weighed = Vec::new();
    for pigment in pigments {
        let of_it = table
            .rows()
            .filter(|row| row.text("pigment") == pigment.name && row.text("lot") == pigment.lot);
        let of_it = of_it.map(logged).collect::<Result<Vec<_>>>()?;
        let Some(now) = DropMass::of(&of_it, shelf.settings.scale_resolution) else {
            continue;
        };
        masses.push((&pigment.name, now));
        weighed.push(Weighed {
            pigment: pigment.name.clone(),
            lot: pigment.lot.clone(),
            before: pigment.drop_mass,
            now,
            readings: swatches
                .iter()
                .filter(|swatch| swatch.counts_drops_of(&pigment.name))
                .count(),
        });
    }
    let pigments = (PIGMENTS, "pigment", files.text(PIGMENTS).map(Some));
    let stocks = (STOCKS, "stock", files.find(STOCKS));
    let mut tables = Vec::new();
    for (name, column, text) in [pigments, stocks] {
        let Some(text) = text? else {
            continue;
        };
        let table = Table::read(&files.label(name), &text, &ANY_COLUMNS)?;
        let mut edits = HashMap::new();
        for (index, row) in table.rows().enumerate() {
            let now = masses.iter().find(|(of, _)| *of == row.text(column));
            if let Some((_, now)) = now {
                let [mean, sd] = DROP_MASS;
                edits.insert((index, mean), rounded(now.mean));
                edits.insert((index, sd), now.sd.map_or_else(String::new, rounded));
            }
        }
        if !edits.is_empty() {
            tables.push((name, table.edited(&text, &edits)));
        }
    }
    Ok(Weighings {
        weighed,
        log,
        tables,
    })
}

const ANY_COLUMNS: Columns = Columns {
    required: &[],
    optional: &[],
};

impl Weighings {
    /// Puts the tables among `changes`; what the runs tell.
    pub(super) fn put(self, changes: &mut Changes) -> Vec<Weighed> {
        changes.put(WEIGHINGS, self.log);
        for (name, text) in self.tables {
            changes.put(name, text);
        }
        self.weighed
    }
}

/// The run in a row of the log.
fn logged(row: Row<'_>) -> Result<Weighing> {
    let drops = row.number(&DROPS)?;
    let weighing = Weighing {
        pigment: row.text("pigment").to_owned(),
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "it lies between 1 and 1000"
        )]
        drops: drops as u32,
        mass: Grams(row.number(&MASS_G)?),
    };
    let (low, high) = Weighing::DROP_RANGE_G;
    let one = weighing.drop_mass().0;
    if drops.fract() == 0.0 && (low..=high).contains(&one) {
        return Ok(weighing);
    }
    let finding = format!(
        "{drops} drops of {} g; expected whole drops of {low} to {high} g each",
        weighing.mass.0
    );
    Err(row.fault(
        MASS_G.name,
        Error::input(finding).mend("mend the row or take it out"),
    ))
}

/// To 0.1 mg: three runs of twenty drops on a good scale tell no more.
fn rounded(mass: Grams) -> String {
    let text = format!("{:.4}", mass.0);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// What a new `lot` of the pigment called `of` makes of a book of `files`: what it is called, and the pigments with a row of
/// its own after all others.
///
/// # Errors
/// A pigment that is not on the shelf; a lot that is there already or cannot be told in a mix.
pub(super) fn with_lot(
    files: &Files,
    shelf: &Shelf,
    of: &str,
    lot: &str,
) -> Result<(String, String)> {
    let named = shelf.pigment(of)?;
    if shelf.stock(of).is_some() {
        let finding = format!("`{}` is a stock, and has no lots", of.escape_debug());
        return Err(Error::input(finding)
            .mend("make it anew under another name, with `dropwise stock make`"));
    }
    // A lot of a lot is a lot of the same pigment.
    let first = match named.lot_of.as_str() {
        "" => named,
        first => shelf.pigment(first)?,
    };
    let name = format!("{} {lot}", first.name);
    check_stands_in_a_mix(&name)?;
    if shelf.pigment(&name).is_ok() || first.lot == lot {
        let finding = format!(
            "lot `{}` of `{}` stands on the shelf already",
            lot.escape_debug(),
            first.name
        );
        return Err(Error::input(finding).mend("give the new bottle the lot that its label names"));
    }
    let text = files.text(PIGMENTS)?;
    let table = Table::read(&files.label(PIGMENTS), &text, &PIGMENT_COLUMNS)?;
    let old = table.rows().find(|row| row.text("pigment") == first.name);
    let lacking: Vec<&str> = ["lot", LOT_OF, KS_FILE]
        .into_iter()
        .filter(|column| !table.has(column))
        .collect();
    let longer = table.with_row(&text, &lacking, |column| match column {
        "pigment" => text_cell(&name).into_owned(),
        "lot" => text_cell(lot).into_owned(),
        LOT_OF => text_cell(&first.name).into_owned(),
        // Until its own drops are weighed; its curves begin as those of the old lot.
        "drop_g" | "max_fraction" | "like" => {
            old.map_or_else(String::new, |old| text_cell(old.text(column)).into_owned())
        }
        _ => String::new(),
    });
    Ok((name, longer))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drops_of_a_lot_are_logged_and_counted_for_it_where_no_run_before_named_one() {
        let mut shelf = crate::materials::fixtures::shelf();
        shelf.pigments[0].lot = "B7".to_owned();
        let texts = [
            (
                WEIGHINGS,
                "date,pigment,drops,mass_g\n2026-01-05,red,20,1.8\n",
            ),
            (
                PIGMENTS,
                "pigment,drop_g,drop_sd_g\nred,0.03,\nwhite,0.04,\n",
            ),
        ];
        let files = Files::Supposed {
            folder: std::path::PathBuf::from("no such folder"),
            texts: texts
                .map(|(name, text)| (name.to_owned(), text.to_owned()))
                .into(),
        };
        let run = Weighing {
            pigment: "red".to_owned(),
            drops: 40,
            mass: Grams(2.4),
        };
        let today = jiff::civil::date(2026, 3, 9);
        let made = weigh(&files, &shelf, &[], &[run], today).expect("sound");
        let log = made.log;
        assert!(
            log.starts_with("date,pigment,drops,mass_g,lot\n") && log.contains("red,40,2.4,B7\n"),
            "{log}"
        );
        let [red] = &made.weighed[..] else {
            panic!("the run tells of one pigment: {}", made.weighed.len());
        };
        // 2.4 g / 40, and nothing of the run before, which was of no lot that is known.
        assert!((red.now.mean.0 - 0.06).abs() < 1e-12, "{:?}", red.now);
    }
}
