//! What the patches of a chart are known to look like: a set that comes with the program, or a file.

use std::path::Path;

use super::standard;
use crate::colour::{Illuminant, Lab, Observer, SAMPLES, Spectrum, Viewing};
use crate::error::{Error, FileKind, Result, read};
use crate::materials::Reading;
use crate::tone::connection::D50_2;
use crate::tone::painted_reflectance_of;

/// Fewest patches that make a chart: four fix a matrix, the others tell what it is worth.
pub(super) const FEWEST_PATCHES: usize = 8;

/// Most rows and columns of a chart.
const MOST_LINES: u32 = 50;

/// The known colours of a chart's patches.
#[derive(Clone, Debug, PartialEq)]
pub struct ChartValues {
    /// Rows of the grid.
    pub(super) rows: u32,
    /// Columns of the grid.
    pub(super) columns: u32,
    /// The patches whose colour is known, in the order of their places.
    pub(super) patches: Vec<ChartPatch>,
    /// Whether rows may be columns: names such as B3 do not say which of the two their letter counts.
    pub(super) either_way: bool,
}

/// One patch of a chart.
#[derive(Clone, Debug, PartialEq)]
pub struct ChartPatch {
    /// Row, from 1 at the top.
    pub(super) row: u32,
    /// Column, from 1 at the left.
    pub(super) column: u32,
    /// A reflectance that has the patch's colour.
    pub(super) reflectance: Spectrum,
    /// Whether that was measured, and not guessed from the colour.
    pub(super) measured: bool,
}

impl ChartPatch {
    /// The patch in `row` and `column`, both from 1 to 50, as it was read.
    ///
    /// # Errors
    ///
    /// An input error where a row or column is out of range, or no surface has the colour.
    pub fn from_reading(row: u32, column: u32, reading: &Reading) -> Result<Self> {
        for (name, line) in [("row", row), ("column", column)] {
            if !(1..=MOST_LINES).contains(&line) {
                let finding = format!("{name} is {line}; expected from 1 to {MOST_LINES}");
                return Err(Error::input(finding));
            }
        }
        if let Some(reflectance) = reading.reflectance {
            return Ok(Self {
                row,
                column,
                reflectance,
                measured: true,
            });
        }
        let (lab, viewing) = reading
            .lab
            .ok_or_else(|| Error::input("the patch has neither a spectrum nor a colour"))?;
        Self::of_lab(row, column, lab, viewing).ok_or_else(|| unreal(lab, viewing))
    }

    /// Refuses a patch that is among `patches` already.
    ///
    /// # Errors
    ///
    /// An input error that names it.
    pub fn check_new(&self, patches: &[Self]) -> Result<()> {
        let same = |other: &Self| (other.row, other.column) == (self.row, self.column);
        if !patches.iter().any(same) {
            return Ok(());
        }
        let finding = format!(
            "row {} column {} of the chart is there twice",
            self.row, self.column
        );
        Err(Error::input(finding).mend("give each patch one line"))
    }

    fn of_lab(row: u32, column: u32, lab: Lab, viewing: Viewing) -> Option<Self> {
        let reflectance = painted_reflectance_of(lab, &viewing.weights())?;
        Some(Self {
            row,
            column,
            reflectance,
            measured: false,
        })
    }
}

impl ChartValues {
    /// The name of the set that comes with the program.
    pub const PUBLISHED: &str = standard::NAME;

    /// The published set where `text` is [its name](Self::PUBLISHED) (capitals or not); the file of that name otherwise.
    ///
    /// # Errors
    ///
    /// As [`read`](Self::read); where there is no such file, the error says what to give.
    pub fn named_or_read(text: &str) -> Result<Self> {
        if Self::PUBLISHED.eq_ignore_ascii_case(text.trim()) {
            return Self::standard(&standard::PUBLISHED_1976);
        }
        let path = Path::new(text);
        if !path.exists() {
            return Err(Error::input("there is no such file of chart values")
                .mend(format!(
                    "name the file that came with your chart: CGATS, or CSV with row,column,L,a,b; \"{}\" stands for the \
                     24 patches of the paper of 1976",
                    Self::PUBLISHED
                ))
                .in_file(path));
        }
        Self::read(path)
    }

    fn standard(set: &[[f64; 3]; 24]) -> Result<Self> {
        let patches = (0..).zip(set).map(|(index, [l, a, b])| {
            let (row, column) = (index / standard::COLUMNS + 1, index % standard::COLUMNS + 1);
            ChartPatch::of_lab(row, column, Lab::new(*l, *a, *b), D50_2)
                .ok_or_else(|| Error::input("a patch of the set has a colour that no surface has"))
        });
        Self::new(patches.collect::<Result<_>>()?)
    }

    /// Reads `row,column,L,a,b` from a CSV file: places from 1 at the top left, colours under D50 for the 2°
    /// observer unless the columns `illuminant` and `observer` say otherwise. In place of `L,a,b`, columns
    /// headed by wavelengths in nm (400 to 700 at least) give each patch's reflectance, 0 to 1.
    ///
    /// # Errors
    ///
    /// An input error with file, line and column: no such file, a heading that is missing, a value that can't
    /// be, a place given twice, fewer than eight patches.
    pub fn read(path: &Path) -> Result<Self> {
        let text = read(path, FileKind::Table)?;
        Self::parse(&text).map_err(|error| error.in_file(path))
    }

    fn parse(text: &[u8]) -> Result<Self> {
        let text = text.strip_prefix(b"\xef\xbb\xbf").unwrap_or(text);
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .trim(csv::Trim::All)
            .flexible(true)
            .from_reader(text);
        let headings = Headings::find(reader.headers().map_err(|error| broken(&error))?)?;
        let mut patches: Vec<ChartPatch> = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|error| broken(&error))?;
            if record.iter().all(str::is_empty) {
                continue;
            }
            let line = record.position().map_or(0, csv::Position::line);
            let patch = headings
                .patch(&record)
                .map_err(|error| error.at(line, None))?;
            patch
                .check_new(&patches)
                .map_err(|error| error.at(line, None))?;
            patches.push(patch);
        }
        Self::new(patches)
    }

    /// The chart of `patches`, each in a place of its own.
    ///
    /// # Errors
    ///
    /// An input error where there are fewer than eight.
    pub fn new(mut patches: Vec<ChartPatch>) -> Result<Self> {
        if patches.len() < FEWEST_PATCHES {
            return Err(Error::input(format!(
                "the chart has {} patches with known colours; at least {} are wanted",
                patches.len(),
                FEWEST_PATCHES
            ))
            .mend("give a line for every patch: row,column,L,a,b"));
        }
        patches.sort_by_key(|patch| (patch.row, patch.column));
        let most = |line: fn(&ChartPatch) -> u32| patches.iter().map(line).max().unwrap_or(1);
        Ok(Self {
            rows: most(|patch| patch.row),
            columns: most(|patch| patch.column),
            patches,
            either_way: false,
        })
    }

    /// The same, but that nobody knows whether its rows are columns: a photograph will tell.
    #[must_use]
    pub fn either_way(self) -> Self {
        Self {
            either_way: true,
            ..self
        }
    }

    /// Rows and columns.
    pub(in crate::tone) fn size(&self) -> [u32; 2] {
        [self.rows, self.columns]
    }

    /// How many patches have a known colour.
    pub(in crate::tone) fn count(&self) -> usize {
        self.patches.len()
    }

    /// Column and row of each of these, from 0.
    pub(in crate::tone) fn cells(&self) -> impl Iterator<Item = [u32; 2]> {
        let patches = self.patches.iter();
        patches.map(|patch| [patch.column - 1, patch.row - 1])
    }

    /// Every way in which the chart may be laid out: its own first, then that of its rows as columns.
    pub(in crate::tone) fn layouts(&self) -> Vec<Self> {
        let own = Self {
            either_way: false,
            ..self.clone()
        };
        if !self.either_way {
            return vec![own];
        }
        let mut patches = own.patches.clone();
        for patch in &mut patches {
            std::mem::swap(&mut patch.row, &mut patch.column);
        }
        patches.sort_by_key(|patch| (patch.row, patch.column));
        let turned = Self {
            rows: own.columns,
            columns: own.rows,
            patches,
            either_way: false,
        };
        vec![own, turned]
    }
}

fn unreal(lab: Lab, viewing: Viewing) -> Error {
    Error::input(format!(
        "L,a,b {},{},{} is out of the range of real surfaces under {viewing}",
        lab.l, lab.a, lab.b
    ))
    .mend("check the numbers and the light that they are for")
}

/// Which column of the file holds what.
struct Headings {
    row: usize,
    column: usize,
    lab: Option<[usize; 3]>,
    illuminant: Option<usize>,
    observer: Option<usize>,
    /// Wavelength and column, by rising wavelength.
    spectral: Vec<(f64, usize)>,
}

impl Headings {
    fn find(record: &csv::StringRecord) -> Result<Self> {
        let column = |name: &str| {
            record
                .iter()
                .position(|found| found.eq_ignore_ascii_case(name))
        };
        let needed = |name: &str| {
            column(name).ok_or_else(|| {
                Error::input(format!("there is no column called `{name}`"))
                    .mend("the first line is row,column,L,a,b; columns are parted by commas")
                    .at(1, None)
            })
        };
        let mut spectral: Vec<(f64, usize)> = (0..)
            .zip(record.iter())
            .filter_map(|(column, name)| Some((name.parse::<f64>().ok()?, column)))
            .collect();
        spectral.sort_by(|one, other| one.0.total_cmp(&other.0));
        let lab = if spectral.is_empty() {
            Some([needed("L")?, needed("a")?, needed("b")?])
        } else {
            None
        };
        Ok(Self {
            row: needed("row")?,
            column: needed("column")?,
            lab,
            illuminant: column("illuminant"),
            observer: column("observer"),
            spectral,
        })
    }

    fn patch(&self, record: &csv::StringRecord) -> Result<ChartPatch> {
        let (row, column) = (
            line_number(record, self.row, "row")?,
            line_number(record, self.column, "column")?,
        );
        let Some([l, a, b]) = self.lab else {
            return Ok(ChartPatch {
                row,
                column,
                reflectance: self.reflectance(record)?,
                measured: true,
            });
        };
        let lab = Lab::new(
            number(record, l, "L", 0.0, 100.0)?,
            number(record, a, "a", -128.0, 128.0)?,
            number(record, b, "b", -128.0, 128.0)?,
        );
        let stated = |column: Option<usize>| {
            let text = column.and_then(|column| record.get(column));
            text.filter(|text| !text.is_empty())
        };
        let viewing = Viewing {
            illuminant: match stated(self.illuminant) {
                Some(light) => light.parse::<Illuminant>()?,
                None => D50_2.illuminant,
            },
            observer: match stated(self.observer) {
                Some(field) => field.trim_end_matches('°').parse::<Observer>()?,
                None => D50_2.observer,
            },
        };
        ChartPatch::of_lab(row, column, lab, viewing).ok_or_else(|| unreal(lab, viewing))
    }

    fn reflectance(&self, record: &csv::StringRecord) -> Result<Spectrum> {
        let pairs = self.spectral.iter().map(|(nm, column)| {
            let value = number(record, *column, &format!("{nm} nm"), 0.0, 1.2)?;
            Ok((*nm, value))
        });
        let pairs = pairs.collect::<Result<Vec<_>>>()?;
        Spectrum::resample(&pairs).ok_or_else(|| {
            Error::input("the wavelengths do not cover 400 to 700 nm in steps of at most 20")
                .mend(format!("give {SAMPLES} columns, 380 to 730 by 10"))
        })
    }
}

fn line_number(record: &csv::StringRecord, column: usize, name: &str) -> Result<u32> {
    let text = record.get(column).unwrap_or_default();
    let found = text.parse().ok();
    found
        .filter(|line| (1..=MOST_LINES).contains(line))
        .ok_or_else(|| {
            Error::input(format!(
                "{name} is \"{}\"; expected a whole number from 1 to {MOST_LINES}",
                text.escape_debug()
            ))
        })
}

fn number(
    record: &csv::StringRecord,
    column: usize,
    name: &str,
    low: f64,
    high: f64,
) -> Result<f64> {
    let text = record.get(column).unwrap_or_default();
    let found = text.parse().ok();
    found
        .filter(|value| (low..=high).contains(value))
        .ok_or_else(|| {
            let error = Error::input(format!(
                "{name} is \"{}\"; expected a number from {low} to {high}",
                text.escape_debug()
            ));
            if text.contains(',') {
                error.mend("write decimals with a point")
            } else {
                error
            }
        })
}

fn broken(error: &csv::Error) -> Error {
    let line = error.position().map_or(0, csv::Position::line);
    Error::input(format!("this is no table of chart values: {error}"))
        .mend("save it as CSV in UTF-8: row,column,L,a,b")
        .at(line.max(1), None)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_published_set_is_a_grid_of_four_by_six() {
        let name = ChartValues::PUBLISHED.to_uppercase();
        let values = ChartValues::named_or_read(&name).expect("the set");
        assert_eq!((values.rows, values.columns), (4, 6));
        assert_eq!(values.patches.len(), 24);
    }

    #[test]
    fn a_file_is_read_with_its_own_light_and_observer() {
        let mut text = "row,column,name,L,a,b,illuminant,observer\n".to_owned();
        for index in 0..8 {
            text += &format!(
                "{},{},x,{},8,15,D65,10\n",
                index / 4 + 1,
                index % 4 + 1,
                40 + index
            );
        }
        let values = ChartValues::parse(text.as_bytes()).expect("a table");
        assert_eq!((values.rows, values.columns), (2, 4), "grid");
        let lab = Viewing::D65_10
            .weights()
            .lab(&values.patches[3].reflectance);
        approx::assert_abs_diff_eq!(lab.l, 43.0, epsilon = 1e-6);
        approx::assert_abs_diff_eq!(lab.a, 8.0, epsilon = 1e-6);
    }

    #[test]
    fn measured_reflectance_is_taken_as_it_is() {
        let nm: Vec<String> = (0..16).map(|step| (400 + 20 * step).to_string()).collect();
        let mut text = format!("row,column,{}\n", nm.join(","));
        for column in 1..9 {
            text += &format!("1,{column}{}\n", format!(",0.{column}").repeat(16));
        }
        let values = ChartValues::parse(text.as_bytes()).expect("a table");
        assert!(values.patches[4].measured, "measured");
        approx::assert_abs_diff_eq!(values.patches[4].reflectance[7], 0.5, epsilon = 1e-12);
    }

    #[test]
    fn faults_are_named_with_their_line() {
        let refused = |text: &str, word: &str| {
            let line = ChartValues::parse(text.as_bytes())
                .expect_err(word)
                .to_string();
            assert!(line.contains(word), "{line}");
        };
        refused("row;column;L;a;b\n1;1;50;0;0\n", "no column called");
        refused("row,column,L,a,b\n1,1,50,0,0\n1,1,60,0,0\n", "line 3");
        refused(
            "row,column,L,a,b\n1,1,\"50,5\",0,0\n",
            "decimals with a point",
        );
        refused("row,column,L,a,b\n0,1,50,0,0\n", "row is \"0\"");
        refused("row,column,L,a,b\n1,1,50,0,0\n", "at least 8");
        refused("row,column,L,a,b,illuminant\n1,1,50,0,0,D5\n", "`D50`");
    }
}
