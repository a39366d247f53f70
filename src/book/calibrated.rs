//! What a calibration leaves in the book: curves, the first guesses that they came from, and moves.

use std::collections::HashMap;
use std::path::Path;

use jiff::civil::Date;

use super::changes::Changes;
use super::columns::{FIRST_FOAM, FIRST_GUESS, FOAM, KS_FILE, LOT_OF};
use super::files::{BASES, Files, PIGMENTS, STOCKS};
use super::table::{Columns, Row, Table};
use super::{spectra, write};
use crate::colour::{Lab, Spectrum};
use crate::error::{Error, Result};
use crate::materials::{
    CoefficientSpread, FoamStep, JointDirection, LeftOverCasting, LeftOverLaw, Material, Shelf,
    Step, Swatch,
};
use crate::optics::{Coefficients, Foam, Specular};

/// The file of moves.
pub(super) const MOVES: &str = "spectra/moves.csv";

const MOVE_COLUMNS: Columns = Columns {
    required: &["kind", "material", "wavelength_nm"],
    optional: &[],
};

/// Curves for the book to keep.
#[derive(Clone, Debug)]
pub struct KeptCurves {
    /// Whose they are.
    pub material: Material,
    /// K and S, mm⁻¹.
    pub coefficients: Coefficients,
    /// How sure they are.
    pub spread: CoefficientSpread,
    /// The foam that it rises to, if it is the base of one, as it was first guessed and as it is known now: cells, absorption
    /// gain and wet share are kept.
    pub foam: Option<[Foam; 2]>,
}

/// What a calibration found, to be kept.
#[derive(Clone, Copy, Debug)]
pub struct KeptCalibration<'a> {
    /// The curves of each material.
    pub curves: &'a [KeptCurves],
    /// What materials may be off by together.
    pub moves: &'a [JointDirection],
    /// What is left over at castings.
    pub left_over: Option<(&'a LeftOverLaw, &'a [LeftOverCasting])>,
    /// The convention of the readings, where it is another than the book's.
    pub specular: Option<Specular>,
    /// Readings that were read again, as they stood, each with its new colour.
    pub read_again: &'a [(Swatch, Lab)],
}

/// Puts `curves` and `moves` among the `changes` of the book in `folder`, whose lock is held.
///
/// Of each material the curve that stood there when it was first calibrated is kept in `spectra/first-guess`, and every
/// curve that is written over in `spectra/earlier`, with `today`'s date. A foam's cells and absorption gain go to their
/// columns of `bases.csv`, and those that stood there first to columns beside them.
pub(super) fn put(
    changes: &mut Changes,
    folder: &Path,
    shelf: &Shelf,
    curves: &[KeptCurves],
    moves: &[JointDirection],
    today: Date,
) -> Result<()> {
    let mut taken = Taken::read(&changes.files)?;
    edit_tables(changes, |changes, row, material, edits| {
        let is_kept = curves.iter().any(|kept| kept.material == *material);
        // A lot begins at the curves of the old one, whatever these have come to be.
        if is_kept && row.text(FIRST_GUESS).is_empty() && row.text(LOT_OF).is_empty() {
            let first = taken.free("spectra/first-guess", material, "");
            let (coefficients, spread) = shelf.curves(material)?;
            let text = spectra::coefficients_text(&coefficients, &spread, exactly);
            changes.put(first.as_str(), text);
            edits.push((FIRST_GUESS, first));
        }
        Ok(())
    })?;
    edit_tables(changes, |changes, row, material, edits| {
        let kept = curves.iter().find(|kept| kept.material == *material);
        let [first_cells, first_gain, first_wet] = FIRST_FOAM;
        let Some(KeptCurves {
            coefficients,
            spread,
            foam,
            ..
        }) = kept
        else {
            // Its chips were taken out: what they told is taken back.
            let first = row.text(FIRST_GUESS);
            if !first.is_empty() {
                edits.push((KS_FILE, first.to_owned()));
            }
            if !row.text(first_gain).is_empty() {
                let firsts = FIRST_FOAM.map(|column| row.text(column).to_owned());
                edits.extend(FOAM.into_iter().zip(firsts));
            }
            return Ok(());
        };
        let path = taken.free("spectra", material, row.text(KS_FILE));
        let text = spectra::coefficients_text(coefficients, spread, rounded);
        keep_earlier(changes, folder, &path, &text, today)?;
        changes.put(path.as_str(), text);
        edits.push((KS_FILE, path));
        if let Some([guessed, foam]) = foam {
            if row.text(first_gain).is_empty() {
                let [cell_mm, absorption_gain, wet_share] =
                    FOAM.map(|column| row.text(column).to_owned());
                edits.push((first_cells, cell_mm));
                edits.push((first_wet, wet_share));
                let stood = Some(absorption_gain).filter(|text| !text.is_empty());
                edits.push((
                    first_gain,
                    stood.unwrap_or_else(|| guessed.absorption_gain.to_string()),
                ));
            }
            let found = [foam.cell_mm, foam.absorption_gain, foam.wet_share];
            let found = found.map(|value| format!("{value:.4}"));
            edits.extend(FOAM.into_iter().zip(found));
        }
        Ok(())
    })?;
    let text = moves_text(moves);
    keep_earlier(changes, folder, MOVES, &text, today)?;
    changes.put(MOVES, text);
    Ok(())
}

/// What is to be set in a row: columns, with their new cells.
type Edits = Vec<(&'static str, String)>;

/// The tables of materials, with the column of their names.
const TABLES: [(&str, &str); 3] = [(BASES, "base"), (PIGMENTS, "pigment"), (STOCKS, "stock")];

/// Reads the tables, asks `edit` what to set in the row of each material, and puts those that change among the `changes`.
fn edit_tables(
    changes: &mut Changes,
    mut edit: impl FnMut(&mut Changes, Row<'_>, &Material, &mut Edits) -> Result<()>,
) -> Result<()> {
    for (name, name_column) in TABLES {
        let Some(text) = text_of(&changes.files, name)? else {
            continue;
        };
        let table = Table::read(&changes.files.label(name), &text, &ANY_COLUMNS)?;
        let mut all = HashMap::new();
        for (index, row) in table.rows().enumerate() {
            let mut edits = Edits::new();
            let material = material_of(name, row.text(name_column));
            edit(changes, row, &material, &mut edits)?;
            all.extend(
                edits
                    .into_iter()
                    .map(|(column, cell)| ((index, column), cell)),
            );
        }
        let edited = table.edited(&text, &all);
        if edited != text {
            changes.put(name, edited);
        }
    }
    Ok(())
}

/// The text of a table of materials; `None` where the book has no stocks.
fn text_of(files: &Files, name: &str) -> Result<Option<String>> {
    if name == STOCKS {
        files.find(name)
    } else {
        files.text(name).map(Some)
    }
}

const ANY_COLUMNS: Columns = Columns {
    required: &[],
    optional: &[],
};

fn material_of(table: &str, name: &str) -> Material {
    if table == BASES {
        Material::Base(name.to_owned())
    } else {
        Material::Pigment(name.to_owned())
    }
}

/// The files that the tables name, and for which materials.
struct Taken {
    files: Vec<(String, Material)>,
}

impl Taken {
    fn read(files: &Files) -> Result<Self> {
        let mut taken = Vec::new();
        for (name, name_column) in TABLES {
            let Some(text) = text_of(files, name)? else {
                continue;
            };
            let table = Table::read(&files.label(name), &text, &ANY_COLUMNS)?;
            for row in table.rows() {
                let material = material_of(name, row.text(name_column));
                let named = [KS_FILE, FIRST_GUESS].map(|column| row.text(column).to_owned());
                taken.extend(named.into_iter().map(|file| (file, material.clone())));
            }
        }
        Ok(Self { files: taken })
    }

    /// A file in `within` for `material` that no other material has: `present`, if it is one.
    fn free(&mut self, within: &str, material: &Material, present: &str) -> String {
        let stem = file_stem(material);
        let others = |file: &str| {
            self.files
                .iter()
                .any(|(taken, by)| taken == file && by != material)
        };
        let first = format!("{within}/{stem}.csv");
        let is_own = Path::new(present).parent() == Some(Path::new(within));
        let file = if is_own && !others(present) {
            present.to_owned()
        } else if others(&first) {
            (2..)
                .map(|number| format!("{within}/{stem}-{number}.csv"))
                .find(|file| !others(file))
                .unwrap_or(first)
        } else {
            first
        };
        self.files.push((file.clone(), material.clone()));
        file
    }
}
/// `iron-oxide-red`; `base-clear-skin`.
fn file_stem(material: &Material) -> String {
    let kind = match material {
        Material::Base(_) => "base-",
        Material::Pigment(_) => "",
    };
    format!("{kind}{}", write::plain(material.name()))
}

/// Copies what stands at `path`, if it is not `text`, to `spectra/earlier`.
fn keep_earlier(
    changes: &mut Changes,
    folder: &Path,
    path: &str,
    text: &str,
    today: Date,
) -> Result<()> {
    let Some(old) = changes.files.find(path)?.filter(|old| old != text) else {
        return Ok(());
    };
    let stem = path.trim_start_matches("spectra/").trim_end_matches(".csv");
    let name = write::free_name(folder, &format!("spectra/earlier/{stem}-{today}"));
    changes.put(name, old);
    Ok(())
}

/// So many digits that the number is read back as it was.
fn exactly(value: f64) -> String {
    value.to_string()
}

/// Six digits.
fn rounded(value: f64) -> String {
    format!("{value:.5e}")
}

/// A row a material and wavelength: what each move adds to ln K and to ln S. A foam has a row more, without a wavelength, of what
/// is added to ln of its absorption gain and of the scattering of its walls.
fn moves_text(moves: &[JointDirection]) -> String {
    let mut text = MOVE_COLUMNS.required.join(",");
    for number in 1..=moves.len() {
        text += &format!(",k_{number},s_{number}");
    }
    text.push('\n');
    let materials = moves.first().map_or(&[][..], |first| &first.steps);
    for (index, Step { material, foam, .. }) in materials.iter().enumerate() {
        let kind = match material {
            Material::Base(_) => "base",
            Material::Pigment(_) => "pigment",
        };
        for (band, nm) in Spectrum::wavelengths_nm().enumerate() {
            let mut cells = vec![kind.to_owned(), material.name().to_owned(), nm.to_string()];
            for step in moves.iter().map(|each| &each.steps[index]) {
                cells
                    .extend([step.ln_k[band], step.ln_s[band]].map(|value| format!("{value:.4e}")));
            }
            text += &super::table::row_text(cells.into_iter(), false);
        }
        let of_a_foam = |step: FoamStep| [[step.ln_gain, step.ln_walls], [step.ln_wet, 0.0]];
        let rows = ["foam", "wet"].into_iter().enumerate();
        for (row, kind) in rows.filter(|_| foam.is_some()) {
            let mut cells = vec![kind.to_owned(), material.name().to_owned(), String::new()];
            for step in moves.iter().filter_map(|each| each.steps[index].foam) {
                cells.extend(of_a_foam(step)[row].map(|value| format!("{value:.4e}")));
            }
            text += &super::table::row_text(cells.into_iter(), false);
        }
    }
    text
}

/// The moves that the book's last calibration left; none where there was no calibration.
///
/// # Errors
/// The first thing in the file that is wrong, with its place.
// Longer than eighty lines: rows of four kinds fill one list of steps, and each kind looks at what those before it left.
pub(super) fn moves(files: &Files) -> Result<Vec<JointDirection>> {
    let Some(text) = files.find(MOVES)? else {
        return Ok(Vec::new());
    };
    let table = Table::read(&files.label(MOVES), &text, &MOVE_COLUMNS)?;
    let mut moves = Vec::new();
    for number in 1.. {
        let columns = [format!("k_{number}"), format!("s_{number}")];
        if !columns.iter().all(|column| table.has(column)) {
            break;
        }
        let mut steps: Vec<(Material, [Vec<f64>; 2], Option<FoamStep>)> = Vec::new();
        for row in table.rows() {
            let name = row
                .filled("material", "the name of a base or a pigment")?
                .to_owned();
            let [k, s] = [
                move_number(row, &columns[0])?,
                move_number(row, &columns[1])?,
            ];
            let material = match row.text("kind") {
                "base" => Material::Base(name),
                "pigment" => Material::Pigment(name),
                "foam" => {
                    let base = Material::Base(name);
                    let of = steps.iter_mut().find(|(material, ..)| *material == base);
                    let (.., foam) = of.ok_or_else(|| {
                        let finding = format!("`{}` has no rows of kind base above", base.name());
                        row.fault("material", Error::input(finding).mend(WRITE_ANEW))
                    })?;
                    *foam = Some(FoamStep {
                        ln_gain: k,
                        ln_walls: s,
                        ln_wet: 0.0,
                    });
                    continue;
                }
                "wet" => {
                    let base = Material::Base(name);
                    let of = steps.iter_mut().find(|(material, ..)| *material == base);
                    let foam = of.and_then(|(.., foam)| foam.as_mut()).ok_or_else(|| {
                        let finding = format!("`{}` has no row of kind foam above", base.name());
                        row.fault("material", Error::input(finding).mend(WRITE_ANEW))
                    })?;
                    foam.ln_wet = k;
                    continue;
                }
                other => {
                    let kinds = ["base", "pigment", "foam", "wet"];
                    let unknown = Error::unknown_name("kind of material", other, kinds);
                    return Err(row.fault("kind", unknown));
                }
            };
            if steps.last().is_none_or(|(last, ..)| *last != material) {
                steps.push((material, [Vec::new(), Vec::new()], None));
            }
            if let Some((_, [ln_k, ln_s], _)) = steps.last_mut() {
                ln_k.push(k);
                ln_s.push(s);
            }
        }
        let steps = steps.into_iter().map(|(material, [k, s], foam)| {
            let curve = |values: Vec<f64>| {
                Spectrum::try_from(values).map_err(|finding| {
                    let error = Error::input(format!("`{}`: {finding}", material.name()));
                    table.fault(error.mend(WRITE_ANEW))
                })
            };
            Ok(Step {
                ln_k: curve(k)?,
                ln_s: curve(s)?,
                material: material.clone(),
                foam,
            })
        });
        moves.push(JointDirection {
            steps: steps.collect::<Result<_>>()?,
        });
    }
    Ok(moves)
}

/// How to mend a file of moves.
const WRITE_ANEW: &str = "delete this file and run `dropwise calibrate` to write it anew";

/// What a move adds to a logarithm.
fn move_number(row: Row<'_>, column: &str) -> Result<f64> {
    let value = row.text(column).parse::<f64>().ok();
    value.filter(|value| value.is_finite()).ok_or_else(|| {
        let found = row.text(column).escape_debug();
        let error = Error::input(format!("{column} is \"{found}\"; expected a number"));
        row.fault(column, error.mend(WRITE_ANEW))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::SAMPLES;

    #[test]
    fn moves_are_read_to_the_number_and_what_is_none_is_refused_with_its_place() {
        let read = |third: &str| {
            let mut text = "kind,material,wavelength_nm,k_1,s_1\n".to_owned();
            for band in 0..SAMPLES {
                let k = if band == 2 { third } else { "0.25" };
                let nm = Spectrum::wavelength_nm(band);
                text += &format!("pigment,red,{nm},{k},-0.5\n");
            }
            moves(&Files::Supposed {
                folder: Path::new("").to_owned(),
                texts: [(MOVES.to_owned(), text)].into(),
            })
        };
        let all = read("-1.5e-3").expect("numbers");
        let [JointDirection { steps }] = &all[..] else {
            panic!("one pair of columns: {all:?}");
        };
        let [step] = &steps[..] else {
            panic!("one material: {steps:?}");
        };
        assert_eq!(step.material, Material::Pigment("red".to_owned()), "whose");
        let ln_k = Spectrum::from_fn(|band| if band == 2 { -1.5e-3 } else { 0.25 });
        assert_eq!(
            (step.ln_k, step.ln_s),
            (ln_k, Spectrum::constant(-0.5)),
            "as written"
        );
        for none in ["", "much", "NaN", "inf"] {
            let line = read(none).expect_err(none).to_string();
            let finding = format!("k_1 is \"{none}\"; expected a number");
            assert!(
                line.contains("moves.csv:4:") && line.contains(&finding),
                "{line}"
            );
        }
    }
}
