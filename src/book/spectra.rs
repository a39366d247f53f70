//! Files of spectra: reflectance, or K and S.

use super::files::{Files, check_within_book};
use super::number::Number;
use super::table::{Columns, Row, Table};
use crate::colour::Spectrum;
use crate::error::{Error, Result};
use crate::materials::CoefficientSpread;
use crate::optics::Coefficients;

pub(super) const WAVELENGTH_NM: Number = Number {
    name: "wavelength_nm",
    range: (200.0, 3000.0),
    example: "380",
};
pub(super) const R: Number = Number {
    name: "r",
    range: (0.0, 1.0),
    example: "0.42",
};
const K: Number = Number {
    name: "k",
    range: (0.0, 1e9),
    example: "150",
};
const S: Number = Number {
    name: "s",
    range: (0.0, 1e9),
    example: "200",
};
const K_SD: Number = Number {
    name: "k_sd",
    range: (0.0, 10.0),
    example: "0.3",
};
const S_SD: Number = Number {
    name: "s_sd",
    range: (0.0, 10.0),
    example: "0.3",
};

/// Standard deviation of ln K and ln S of a file that states none: right within a third, two times in three.
/// Our own choice, no source.
const UNSTATED_SD: f64 = 0.3;

pub(super) const REFLECTANCE: Columns = Columns {
    required: &["wavelength_nm", "r"],
    optional: &[],
};

/// The reflectance in the file that `column` of `row` names; `None` where the cell is empty.
pub(super) fn reflectance(files: &Files, row: Row<'_>, column: &str) -> Result<Option<Spectrum>> {
    let Some(table) = named_table(files, row, column, &REFLECTANCE)? else {
        return Ok(None);
    };
    spectrum(&table, &R).map(Some)
}

/// K and S and their spread in the file that `column` of `row` names; `None` where the cell is empty.
pub(super) fn coefficients(
    files: &Files,
    row: Row<'_>,
    column: &str,
) -> Result<Option<(Coefficients, CoefficientSpread)>> {
    const COLUMNS: Columns = Columns {
        required: &["wavelength_nm", "k", "s"],
        optional: &["k_sd", "s_sd"],
    };
    let Some(table) = named_table(files, row, column, &COLUMNS)? else {
        return Ok(None);
    };
    let k_pairs = pairs(&table, &K)?;
    let k = resampled(&table, &k_pairs)?;
    // The wavelengths are read, and found to rise, once.
    let beside = |column: &Number| {
        let mut pairs = k_pairs.clone();
        for (row, (_, value)) in table.rows().zip(&mut pairs) {
            *value = row.number(column)?;
        }
        resampled(&table, &pairs)
    };
    let spread = |column: &Number| {
        if table.has(column.name) {
            beside(column)
        } else {
            Ok(Spectrum::constant(UNSTATED_SD))
        }
    };
    Ok(Some((
        Coefficients { k, s: beside(&S)? },
        CoefficientSpread {
            k_sd: spread(&K_SD)?,
            s_sd: spread(&S_SD)?,
        },
    )))
}

/// The text of a file that holds `reflectance`.
pub(super) fn reflectance_text(reflectance: &Spectrum) -> String {
    let rows = Spectrum::wavelengths_nm().zip(reflectance.values());
    let rows = rows.map(|(nm, r)| format!("{nm},{r}\n"));
    std::iter::once("wavelength_nm,r\n".to_owned())
        .chain(rows)
        .collect()
}

/// The text of a file that holds K and S and how sure they are, each number as `digits` writes it.
pub(super) fn coefficients_text(
    coefficients: &Coefficients,
    spread: &CoefficientSpread,
    digits: impl Fn(f64) -> String,
) -> String {
    let mut text = "wavelength_nm,k,s,k_sd,s_sd\n".to_owned();
    for (band, nm) in Spectrum::wavelengths_nm().enumerate() {
        let curves = [coefficients.k, coefficients.s, spread.k_sd, spread.s_sd];
        let cells = curves.map(|curve| digits(curve[band]));
        text += &format!("{nm},{}\n", cells.join(","));
    }
    text
}

fn named_table(
    files: &Files,
    row: Row<'_>,
    column: &str,
    columns: &Columns,
) -> Result<Option<Table>> {
    let name = row.text(column);
    if name.is_empty() {
        return Ok(None);
    }
    row.at(column, check_within_book(name))?;
    let text = files.find(name)?.ok_or_else(|| {
        let finding = format!(
            "{column} names `{}`, which is not there",
            name.escape_debug()
        );
        let mend = "write the file's path from the book's folder, such as spectra/umber.csv";
        row.fault(column, Error::input(finding).mend(mend))
    })?;
    Table::read(&files.label(name), &text, columns).map(Some)
}

/// The wavelengths, which rise, and what stands beside them in `column`.
pub(super) fn pairs(table: &Table, column: &Number) -> Result<Vec<(f64, f64)>> {
    let mut pairs: Vec<(f64, f64)> = Vec::new();
    for row in table.rows() {
        let nm = row.number(&WAVELENGTH_NM)?;
        if let Some((before, _)) = pairs.last().filter(|(before, _)| *before >= nm) {
            let finding = format!("wavelength_nm is {nm} after {before}; expected it to rise");
            let error = Error::input(finding).mend("sort the rows, and give each wavelength once");
            return Err(row.fault(WAVELENGTH_NM.name, error));
        }
        pairs.push((nm, row.number(column)?));
    }
    Ok(pairs)
}

/// What stands in `column`, resampled.
pub(super) fn spectrum(table: &Table, column: &Number) -> Result<Spectrum> {
    resampled(table, &pairs(table, column)?)
}

/// `pairs` of `table` on the bands.
fn resampled(table: &Table, pairs: &[(f64, f64)]) -> Result<Spectrum> {
    Spectrum::resample(pairs).ok_or_else(|| {
        let found = match (pairs.first(), pairs.last()) {
            (Some((first, _)), Some((last, _))) if *first > 400.0 || *last < 700.0 => {
                format!("{first} to {last} nm")
            }
            (Some(_), Some(_)) => {
                let steps = pairs.windows(2).map(|pair| pair[1].0 - pair[0].0);
                let widest = steps.fold(0.0, f64::max);
                format!("steps of up to {widest} nm")
            }
            _ => "no wavelength".to_owned(),
        };
        table.fault(
            Error::input(format!(
                "the table holds {found}; expected all of 400 to 700 nm in steps of 20 nm or less"
            ))
            .mend("export the reading over the whole visible range"),
        )
    })
}
