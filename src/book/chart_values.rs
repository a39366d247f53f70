//! What a chart's patches are known to look like, from the file that came with it: CGATS, or the plain CSV of
//! [`ChartValues::read`].
//!
//! A CGATS file says which patch a set is by fields `ROW` and `COLUMN`, or by names such as `B3`. Some charts letter
//! their rows (ISO 12641 does), others their columns, and nothing in the file tells; a photograph does, so the choice is
//! left to it. Anything else is refused with its line.

use std::path::Path;

use super::grid::{Cell, Grid};
use super::{cgats, files, readings};
use crate::error::{Error, Result};
use crate::tone::{ChartPatch, ChartValues};

const NAMES: &str = "name each patch by its letter and number, such as B3, in SAMPLE_NAME or SAMPLE_ID, or add fields ROW \
                     and COLUMN, counted from 1 at the top left";

/// The values in the file called `text`, or the published set where that is [its name](ChartValues::PUBLISHED).
///
/// # Errors
/// As [`ChartValues::named_or_read`]; in CGATS, with file and line, what [`read_readings`](super::read_readings) refuses,
/// a patch without a place or in one that is taken.
pub fn read_chart_values(text: &str) -> Result<ChartValues> {
    let path = Path::new(text);
    let is_set = ChartValues::PUBLISHED.eq_ignore_ascii_case(text.trim());
    if is_set || !path.is_file() {
        return ChartValues::named_or_read(text);
    }
    let content = files::lenient_text(path)?;
    if !cgats::is_cgats(&content) {
        return ChartValues::read(path);
    }
    of_cgats(&content).map_err(|error| error.in_file(path))
}

fn of_cgats(content: &str) -> Result<ChartValues> {
    let tables = cgats::read(content)?;
    let mut read = readings::of_cgats(&tables)?.into_iter();
    let mut patches: Vec<ChartPatch> = Vec::new();
    let mut by_name = false;
    for grid in &tables {
        let places = Places::of(grid)?;
        by_name |= matches!(places, Places::Names(_));
        for (set, reading) in grid.sets.iter().zip(read.by_ref()) {
            let line = set.first().map_or(1, |cell| cell.line);
            let (row, column) = places.of_set(set)?;
            let patch = ChartPatch::from_reading(row, column, &reading)
                .and_then(|patch| patch.check_new(&patches).map(|()| patch))
                .map_err(|error| error.at(line, None))?;
            patches.push(patch);
        }
    }
    let values = ChartValues::new(patches)?;
    Ok(if by_name { values.either_way() } else { values })
}

/// Which fields say where a patch lies.
enum Places {
    /// Row and column.
    Numbers([usize; 2]),
    /// Letter and number; the first one is as good as the others.
    Names(Vec<usize>),
}

impl Places {
    fn of(grid: &Grid) -> Result<Self> {
        let called = |names: &[&str]| -> Vec<usize> {
            let is_called = |cell: &Cell| {
                let plain = cell.text.replace(['_', '-', ' '], "").to_ascii_uppercase();
                names.contains(&plain.as_str())
            };
            let fields = grid.fields.iter().enumerate();
            fields
                .filter(|(_, cell)| is_called(cell))
                .map(|(index, _)| index)
                .collect()
        };
        let line = grid.fields.first().map_or(1, |cell| cell.line);
        match (&called(&["ROW"])[..], &called(&["COLUMN", "COL"])[..]) {
            ([row], [column]) => return Ok(Self::Numbers([*row, *column])),
            ([], []) => {}
            _ => {
                return Err(
                    Error::input("the fields ROW and COLUMN do not stand once each")
                        .mend("give both, or neither and names such as B3")
                        .at(line, None),
                );
            }
        }
        let candidates = called(&["SAMPLENAME", "SAMPLEID", "NAME", "ID"]);
        let wholly = |field: &usize| {
            let mut cells = grid.sets.iter().map(|set| &set[*field].text);
            cells.all(|text| letter_and_number(text).is_some())
        };
        let names: Vec<usize> = candidates.iter().copied().filter(wholly).collect();
        if !names.is_empty() {
            return Ok(Self::Names(names));
        }
        // The field that names most is the one that is meant.
        let named = |field: &usize| {
            let cells = grid.sets.iter().map(|set| &set[*field].text);
            cells
                .filter(|text| letter_and_number(text).is_some())
                .count()
        };
        let Some(meant) = candidates.into_iter().max_by_key(named) else {
            return Err(Error::input("no field says which patch a set is")
                .mend(NAMES)
                .at(line, None));
        };
        let odd = grid.sets.iter().map(|set| &set[meant]);
        let odd = odd
            .into_iter()
            .find(|cell| letter_and_number(&cell.text).is_none());
        Err(match odd {
            Some(cell) => no_place(cell),
            None => Error::input("the table has no set")
                .mend("export it again")
                .at(line, None),
        })
    }

    /// Row and column, from 1.
    fn of_set(&self, set: &[Cell]) -> Result<(u32, u32)> {
        match self {
            Self::Numbers(fields) => {
                let [row, column] = fields.map(|field| {
                    let cell = &set[field];
                    cell.text.parse().map_err(|_| {
                        let found = cell.text.escape_debug();
                        Error::input(format!(
                            "\"{found}\" is no row or column; expected a whole number from 1"
                        ))
                        .at(cell.line, cell.column)
                    })
                });
                Ok((row?, column?))
            }
            Self::Names(fields) => {
                let mut places = fields
                    .iter()
                    .map(|field| (&set[*field], letter_and_number(&set[*field].text)));
                let (cell, place) = places.next().expect("one at least");
                if let Some((other, _)) = places.find(|(_, other)| *other != place) {
                    let (one, two) = (cell.text.escape_debug(), other.text.escape_debug());
                    let finding = format!("one patch is called both {one} and {two}");
                    return Err(Error::input(finding)
                        .mend("keep the name that is printed on the chart")
                        .at(other.line, other.column));
                }
                place.ok_or_else(|| no_place(cell))
            }
        }
    }
}

fn no_place(cell: &Cell) -> Error {
    let found = cell.text.escape_debug();
    Error::input(format!("the patch \"{found}\" has no place in a grid"))
        .mend(NAMES)
        .at(cell.line, cell.column)
}

/// The letter and the number, each from 1, of a name such as `B3`.
fn letter_and_number(name: &str) -> Option<(u32, u32)> {
    let mut rest = name.trim().chars();
    let letter = rest.next().filter(char::is_ascii_alphabetic)?;
    let number = rest.as_str();
    let digits =
        (1..=2).contains(&number.len()) && number.bytes().all(|byte| byte.is_ascii_digit());
    let number: u32 = number.parse().ok().filter(|number| digits && *number > 0)?;
    Some((
        u32::from(letter.to_ascii_uppercase()) - u32::from('A') + 1,
        number,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::Spectrum;
    use crate::materials::{Geometry, Reading};

    fn file(fields: &str, set: impl Fn(usize) -> String) -> String {
        let mut text =
            format!("CGATS.17\nBEGIN_DATA_FORMAT\n{fields}\nEND_DATA_FORMAT\nBEGIN_DATA\n");
        for index in 0..24 {
            text += &set(index);
            text.push('\n');
        }
        text + "END_DATA\n"
    }

    fn name(index: usize) -> String {
        format!(
            "{}{}",
            ["A", "B", "C", "D", "E", "F"][index / 4],
            index % 4 + 1
        )
    }

    fn refusal(text: &str) -> String {
        of_cgats(text).expect_err("refused").to_string()
    }

    #[test]
    fn patches_are_placed_by_name_or_by_row_and_column() {
        let lab = |index: usize| format!("{} 10 {}", 30 + 2 * index, index / 2);
        let named = file("SAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B", |index| {
            format!("{} {} {}", index + 1, name(index), lab(index))
        });
        let numbered = file("SAMPLE_ID ROW COLUMN LAB_L LAB_A LAB_B", |index| {
            format!(
                "{} {} {} {}",
                index + 1,
                index / 4 + 1,
                index % 4 + 1,
                lab(index)
            )
        });
        let (named, numbered) = (
            of_cgats(&named).expect("names"),
            of_cgats(&numbered).expect("numbers"),
        );
        assert_eq!(
            named,
            numbered.clone().either_way(),
            "but that a letter may be a column"
        );
        assert_ne!(named, numbered, "which is known");
    }

    #[test]
    fn xyz_of_a_grey_is_its_lab() {
        // The light's own white, scaled: a grey of a known L*. White of D50/2°: CIE 15 (from memory).
        let share = |index: usize| 0.04 * (index + 1) as f64;
        let xyz = file("SAMPLE_NAME XYZ_X XYZ_Y XYZ_Z", |index| {
            let [x, y, z] = [96.422, 100.0, 82.521].map(|white| white * share(index));
            format!("{} {x} {y} {z}", name(index))
        });
        let read = cgats::read(&xyz).and_then(|tables| readings::of_cgats(&tables));
        for (index, reading) in read.expect("XYZ").iter().enumerate() {
            let (lab, _) = reading.lab.expect("made of XYZ");
            approx::assert_abs_diff_eq!(lab.l, 116.0 * share(index).cbrt() - 16.0, epsilon = 0.01);
            approx::assert_abs_diff_eq!(lab.a.hypot(lab.b), 0.0, epsilon = 0.05);
        }
        assert!(of_cgats(&xyz).is_ok(), "and a chart");
    }

    #[test]
    fn spectra_are_taken_as_they_are_and_the_head_says_what_a_lab_is_for() {
        let nm: Vec<String> = (0..16)
            .map(|step| format!("SPECTRAL_PCT{}", 400 + 20 * step))
            .collect();
        let spectral = file(&format!("SAMPLE_NAME {}", nm.join(" ")), |index| {
            format!(
                "{}{}",
                name(index),
                format!(" {}", 2 + 3 * index).repeat(16)
            )
        });
        let flat = |index: u32| {
            let reading = Reading {
                name: String::new(),
                reflectance: Some(Spectrum::constant(f64::from(2 + 3 * index) / 100.0)),
                lab: None,
                geometry: Geometry::default(),
            };
            ChartPatch::from_reading(index / 4 + 1, index % 4 + 1, &reading).expect("in range")
        };
        let expected = ChartValues::new((0..24).map(flat).collect()).expect("a chart");
        assert_eq!(
            of_cgats(&spectral).expect("spectra"),
            expected.either_way(),
            "percent"
        );
        let lab = file("SAMPLE_NAME LAB_L LAB_A LAB_B", |index| {
            format!("{} {} 12 9", name(index), 30 + 2 * index)
        });
        let of_d65 = lab.replacen("BEGIN", "WEIGHTING_FUNCTION \"ILLUMINANT, D65\"\nBEGIN", 1);
        let of_d50 = lab.replacen("BEGIN", "WEIGHTING_FUNCTION \"ILLUMINANT, D50\"\nBEGIN", 1);
        let read = |text: &str| of_cgats(text).expect("Lab");
        assert_eq!(
            read(&lab),
            read(&of_d50),
            "D50/2° where nothing else is said"
        );
        assert_ne!(read(&lab), read(&of_d65), "another light");
    }

    #[test]
    fn patches_without_a_place_or_in_a_taken_one_are_named_with_their_line() {
        let grey = |index: usize, name: &str| format!("{name} {} 0 0", 20 + 3 * index);
        let fields = "SAMPLE_ID LAB_L LAB_A LAB_B";
        let line = refusal(&file(fields, |index| grey(index, &(index + 1).to_string())));
        assert!(
            line.contains("\"1\" has no place") && line.contains("line 6") && line.contains("ROW"),
            "{line}"
        );
        let line = refusal(&file(fields, |index| grey(index, &name(index.min(22)))));
        assert!(
            line.contains("there twice") && line.contains("line 29"),
            "{line}"
        );
        let line = refusal(&file(fields, |index| {
            grey(index, if index == 3 { "GS1" } else { "A1" })
        }));
        assert!(line.contains("\"GS1\" has no place"), "{line}");
        let both = file("SAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B", |index| {
            grey(index, &format!("{} {}", name(index), name(23 - index)))
        });
        assert!(
            refusal(&both).contains("both A1 and F4"),
            "{}",
            refusal(&both)
        );
        let small = file("SAMPLE_ID XYZ_X XYZ_Y XYZ_Z", |index| {
            format!("{} 0.5 0.5 0.4", name(index))
        });
        assert!(refusal(&small).contains("100 or 1"), "{}", refusal(&small));
    }
}
