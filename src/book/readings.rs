//! Files of readings: CGATS text or CSV, with a spectrum, a CIELAB or both to each reading.
//!
//! CSV has one of two shapes: `wavelength_nm,r`, which is one reading; or one row a reading, with a column for each
//! wavelength (`380`, `390`, … or `R_380`, `nm380`, …), or `L,a,b`, or both, and where known `reading` (its name),
//! `specular`, `aperture_mm`, `illuminant`, `observer`. CGATS fields are told apart by the same rules, and what a
//! CGATS file says in its head holds for all its readings.
//!
//! A reflectance is taken as percent where the file says so or where it can be nothing else, as a fraction where the
//! file says so or no value is above one, and refused between.

use std::path::Path;

use super::fields::{Field, Scale, fields_of};
use super::grid::{Cell, Grid};
use super::spectra::{self, R, REFLECTANCE};
use super::statements::{Stated, specular};
use super::table::{Columns, Table};
use super::{cgats, files};
use crate::colour::{Illuminant, Lab, Observer, Spectrum, Viewing, Xyz, delta_e_2000};
use crate::error::{Error, Mend, Result, Setting};
use crate::materials::{Geometry, Reading, check_range};

/// Of a CIELAB in CGATS whose light the file does not say.
///
/// Source: ISO 13655:2017, which asks for D50 and the 1931 observer.
const CGATS_VIEWING: Viewing = Viewing {
    illuminant: Illuminant::D50,
    observer: Observer::Cie1931,
};

/// Above this a value is no fraction: no surface reflects twice what falls on it.
const SURELY_PERCENT: f64 = 2.0;
/// Up to this a value is a fraction, and by how much an instrument's noise takes one out of 0 to 1.
const NOISE: f64 = 0.02;

/// How far L* of a reading's spectrum may lie from the L* beside it, whatever light each is for, before one of them
/// must be wrong.
const OTHER_LIGHTNESS: f64 = 10.0;

/// Reads every reading of a file, CGATS or CSV; a CIELAB in CSV that does not say what it is for is for `viewing`.
///
/// # Errors
/// No such file, or the first thing in it that is wrong, with its place.
pub fn read_readings(path: &Path, viewing: Viewing) -> Result<Vec<Reading>> {
    let text = files::lenient_text(path)?;
    let readings = if cgats::is_cgats(&text) {
        cgats::read(&text).and_then(|tables| readings(&tables, CGATS_VIEWING))
    } else if let Some(table) = one_spectrum(path, &text)? {
        let name = path.file_stem().unwrap_or_default().to_string_lossy();
        Ok(vec![Reading {
            name: name.into_owned(),
            reflectance: Some(spectra::spectrum(&table, &R)?),
            lab: None,
            geometry: Geometry::default(),
        }])
    } else {
        rows(path, &text).and_then(|grid| readings(&[grid], viewing))
    };
    let readings = readings.map_err(|error| error.in_file(path))?;
    if readings.is_empty() {
        let error = Error::input("the file holds no reading; expected at least one");
        return Err(error.mend("export the readings again").in_file(path));
    }
    Ok(readings)
}

/// Reads the reflectance of one chip, the mean of the readings in a file, CGATS or CSV; and how they were taken, as far as
/// the file says.
///
/// # Errors
/// As [`read_readings`]; a reading without a spectrum; readings that can't be of one chip or have no common mean.
pub fn read_reflectance(path: &Path) -> Result<(Spectrum, Geometry)> {
    let weights = Viewing::D65_10.weights();
    let readings = read_readings(path, Viewing::D65_10)?;
    let mut sum = Spectrum::constant(0.0);
    for reading in &readings {
        let Some(reflectance) = &reading.reflectance else {
            let finding = format!(
                "the reading `{}` has no spectrum",
                reading.name.escape_debug()
            );
            let mend = Mend::from("export it with its spectrum, or give its colour with ")
                .set(Setting::Colour);
            return Err(Error::input(finding).mend(mend).in_file(path));
        };
        sum.add_scaled(1.0 / readings.len() as f64, reflectance);
    }
    for Reading {
        name, reflectance, ..
    } in &readings
    {
        let apart = reflectance.map_or(0.0, |own| {
            delta_e_2000(weights.lab(&own), weights.lab(&sum))
        });
        if apart > ONE_CHIP {
            let finding = format!(
                "these are not readings of one chip: `{}` lies {apart:.1} ΔE00 from the mean of the {}",
                name.escape_debug(),
                readings.len()
            );
            let mend = "keep the readings of one chip over one backing in a file";
            return Err(Error::input(finding).mend(mend).in_file(path));
        }
    }
    let geometry = Geometry::common(readings.iter().map(|reading| reading.geometry))
        .map_err(|error| error.in_file(path))?;
    Ok((sum, geometry))
}

/// ΔE00 from the mean within which readings are taken to be of one chip. Common practice, no source.
const ONE_CHIP: f64 = 3.0;

/// The table of `wavelength_nm,r` that `text` is, if it is one.
fn one_spectrum(path: &Path, text: &str) -> Result<Option<Table>> {
    let mut header = text.trim_start_matches('\u{feff}').lines();
    let is_one = header
        .find(|line| !line.trim().is_empty() && !line.trim_start_matches('"').starts_with('#'))
        .is_some_and(|line| {
            line.split([',', ';', '\t'])
                .any(|name| name.trim() == "wavelength_nm")
        });
    is_one
        .then(|| Table::read(path, text, &REFLECTANCE))
        .transpose()
}

/// The CSV table `text`, one row a reading.
fn rows(path: &Path, text: &str) -> Result<Grid> {
    const ANY: Columns = Columns {
        required: &[],
        optional: &[],
    };
    let table = Table::read(path, text, &ANY)?;
    let cell = |text: &str, line: u64, column: u64| Cell {
        text: text.to_owned(),
        line,
        column: Some(column),
    };
    let fields = table.header().iter().zip(1..);
    Ok(Grid {
        statements: Vec::new(),
        fields: fields
            .map(|(text, column)| cell(text, table.header_line(), column))
            .collect(),
        sets: (table.rows())
            .map(|row| {
                let cells = row.cells().zip(1..);
                cells
                    .map(|(text, column)| cell(text, row.line(), column))
                    .collect()
            })
            .collect(),
    })
}

/// The readings of CGATS `tables`, one a set, in their order; a CIELAB is for D50/2° where the file says nothing else.
#[cfg(feature = "photo")]
pub(super) fn of_cgats(tables: &[Grid]) -> Result<Vec<Reading>> {
    readings(tables, CGATS_VIEWING)
}

/// The readings of `tables`, whose reflectances are all of one scale where a file does not say which.
fn readings(tables: &[Grid], viewing: Viewing) -> Result<Vec<Reading>> {
    let mut raw = Vec::new();
    for grid in tables {
        let fields = fields_of(grid)?;
        let stated = Stated::of(&grid.statements);
        for set in &grid.sets {
            raw.push(Raw::new(grid, &fields, &stated, set)?);
        }
    }
    let largest_of = |scale: Scale| {
        let values = raw.iter().flat_map(|raw| &raw.values);
        values
            .filter(|value| value.scale == scale)
            .max_by(|one, other| one.value.total_cmp(&other.value))
    };
    if let Some(value) = largest_of(Scale::Percent).filter(|value| value.value <= 1.0) {
        // Even the blackest velvet sends back more somewhere.
        let finding = format!(
            "the reflectances are said to be percent, and go up to {} only",
            value.value
        );
        let mend = "if they are fractions name the fields SPECTRAL_DEC380 and so on";
        return Err(Error::input(finding)
            .mend(mend)
            .at(value.line, value.column));
    }
    let brightest = raw.iter().filter_map(|raw| Some((raw.xyz?.y, raw.line)));
    if let Some((y, line)) = brightest.max_by(|one, other| one.0.total_cmp(&other.0))
        && y <= 1.0 + NOISE
    {
        let finding = format!("Y goes up to {y} only; is its white 100 or 1?");
        let mend = "write X, Y and Z for a white of Y 100";
        return Err(Error::input(finding).mend(mend).at(line, None));
    }
    let largest = largest_of(Scale::Unstated);
    let unstated = match largest {
        Some(value) if value.value > SURELY_PERCENT && most_are_above_one(&raw) => Scale::Percent,
        Some(value) if value.value > 1.0 + NOISE => {
            let finding = format!(
                "the reflectances go up to {}; percent or fraction?",
                value.value
            );
            let mend = "name the fields SPECTRAL_PCT380 and so on where they are percent, SPECTRAL_DEC380 where they are \
                        fractions";
            return Err(Error::input(finding)
                .mend(mend)
                .at(value.line, value.column));
        }
        _ => Scale::Fraction,
    };
    raw.into_iter()
        .map(|raw| raw.reading(unstated, viewing))
        .collect()
}

/// Whether most of the reflectances of which the file does not say what they are can be no fractions: one alone may be
/// a slip of the pen.
fn most_are_above_one(raw: &[Raw]) -> bool {
    let values = raw.iter().flat_map(|raw| &raw.values);
    let unstated: Vec<&Value> = values
        .filter(|value| value.scale == Scale::Unstated)
        .collect();
    let above = unstated.iter().filter(|value| value.value > 1.0 + NOISE);
    2 * above.count() > unstated.len()
}

/// A reflectance as it stands in the file.
struct Value {
    nm: f64,
    value: f64,
    scale: Scale,
    line: u64,
    column: Option<u64>,
}

/// A reading, before it is known what its reflectances are.
struct Raw {
    name: String,
    line: u64,
    values: Vec<Value>,
    lab: Option<Lab>,
    /// X, Y, Z of the light and observer that are stated; its white has Y = 100.
    xyz: Option<Xyz>,
    stated: Stated,
}

impl Raw {
    fn new(grid: &Grid, fields: &[Field], stated: &Stated, set: &[Cell]) -> Result<Self> {
        let line = set.first().map_or(1, |cell| cell.line);
        let mut raw = Self {
            name: String::new(),
            line,
            values: Vec::new(),
            lab: None,
            xyz: None,
            stated: stated.clone(),
        };
        let mut wavelength = None;
        let (mut lab, mut xyz) = ([None; 3], [None; 3]);
        for ((field, cell), title) in fields.iter().zip(set).zip(&grid.fields) {
            let number = || number(cell, &title.text);
            match field {
                _ if cell.text.is_empty() => {}
                Field::At(nm, scale) => raw.values.push(Value {
                    nm: *nm,
                    value: number()?,
                    scale: *scale,
                    line: cell.line,
                    column: cell.column,
                }),
                Field::Wavelength => wavelength = Some(number()?),
                Field::Value(scale) => raw.values.push(Value {
                    nm: wavelength.take().ok_or_else(|| {
                        let finding = format!(
                            "{} stands without a SPECTRAL_NM before it",
                            title.text.escape_debug()
                        );
                        Error::input(finding).at(cell.line, cell.column)
                    })?,
                    value: number()?,
                    scale: *scale,
                    line: cell.line,
                    column: cell.column,
                }),
                Field::L => lab[0] = Some(coordinate(cell, "L*", number()?, L_RANGE)?),
                Field::A => lab[1] = Some(coordinate(cell, "a*", number()?, AB_RANGE)?),
                Field::B => lab[2] = Some(coordinate(cell, "b*", number()?, AB_RANGE)?),
                Field::X => xyz[0] = Some(coordinate(cell, "X", number()?, XYZ_RANGE)?),
                Field::Y => xyz[1] = Some(coordinate(cell, "Y", number()?, XYZ_RANGE)?),
                Field::Z => xyz[2] = Some(coordinate(cell, "Z", number()?, XYZ_RANGE)?),
                Field::Name => raw.name.clone_from(&cell.text),
                Field::Id if raw.name.is_empty() => raw.name.clone_from(&cell.text),
                Field::Specular => raw.stated.specular = Some(at(cell, specular(&cell.text))?),
                Field::ApertureMm => raw.stated.aperture_mm = Some(at(cell, aperture(number()?))?),
                Field::Illuminant => raw.stated.illuminant = Some(at(cell, cell.text.parse())?),
                Field::Observer => raw.stated.observer = Some(at(cell, cell.text.parse())?),
                Field::Id | Field::Other => {}
            }
        }
        raw.lab = match lab {
            [Some(l), Some(a), Some(b)] => Some(Lab::new(l, a, b)),
            _ => None,
        };
        raw.xyz = match xyz {
            [Some(x), Some(y), Some(z)] => Some(Xyz::new(x, y, z)),
            _ => None,
        };
        if raw.lab.is_none() && raw.xyz.is_none() && raw.values.is_empty() {
            let finding = format!(
                "the reading `{}` has neither a spectrum nor a CIELAB",
                raw.name.escape_debug()
            );
            return Err(Error::input(finding).at(raw.line, None));
        }
        Ok(raw)
    }

    fn reading(mut self, unstated: Scale, viewing: Viewing) -> Result<Reading> {
        self.values
            .sort_by(|one, other| one.nm.total_cmp(&other.nm));
        let mut pairs = Vec::with_capacity(self.values.len());
        for value in &self.values {
            pairs.push((value.nm, value.fraction(unstated)?));
        }
        // What nobody named is still to be found in its file.
        if self.name.is_empty() {
            self.name = format!("line {}", self.line);
        }
        let name = self.name.escape_debug().to_string();
        let reflectance = if pairs.is_empty() {
            None
        } else {
            let reflectance = Spectrum::resample(&pairs).ok_or_else(|| {
                let (first, last) = (pairs[0].0, pairs[pairs.len() - 1].0);
                Error::input(format!(
                    "the reading `{name}` holds {first} to {last} nm; expected all of 400 to 700 nm, each once, in steps \
                     of 20 nm or less"
                ))
                .mend("export the reading over the whole visible range")
                .at(self.line, None)
            })?;
            Some(reflectance)
        };
        let viewing = Viewing {
            illuminant: self.stated.illuminant.unwrap_or(viewing.illuminant),
            observer: self.stated.observer.unwrap_or(viewing.observer),
        };
        if let (None, Some(unknown)) = (&reflectance, &self.stated.unknown_light) {
            let known = Illuminant::ALL.iter().map(|light| light.name());
            let error = Error::unknown_name("illuminant", &unknown.value, known);
            return Err(error.at(unknown.line, None));
        }
        let of_xyz = |xyz| viewing.weights().lab_of_xyz(xyz);
        self.lab = self.lab.or(self.xyz.map(of_xyz));
        if let (Some(lab), Some(reflectance)) = (self.lab, &reflectance) {
            let own = viewing.weights().lab(reflectance).l;
            if (own - lab.l).abs() > OTHER_LIGHTNESS {
                return Err(Error::input(format!(
                    "the spectrum of the reading `{name}` has L* {own:.1}, and its LAB_L is {}; is it percent or fraction?",
                    lab.l
                ))
                .mend("name the fields SPECTRAL_PCT380 and so on where they are percent, SPECTRAL_DEC380 where they are \
                       fractions; export again where both are right")
                .at(self.line, None));
            }
        }
        Ok(Reading {
            name: self.name,
            reflectance,
            lab: self.lab.map(|lab| (lab, viewing)),
            geometry: Geometry {
                specular: self.stated.specular,
                aperture_mm: self.stated.aperture_mm,
            },
        })
    }
}

impl Value {
    /// The reflectance, 0–1.
    fn fraction(&self, unstated: Scale) -> Result<f64> {
        let scale = if self.scale == Scale::Unstated {
            unstated
        } else {
            self.scale
        };
        let fraction = if scale == Scale::Percent {
            self.value / 100.0
        } else {
            self.value
        };
        if (-NOISE..=1.0 + NOISE).contains(&fraction) {
            return Ok(fraction.clamp(0.0, 1.0));
        }
        let (range, mend) = match scale {
            Scale::Percent => ("0 to 100 %", "export the reading again".to_owned()),
            _ => (
                "0 to 1",
                "in percent? name the fields SPECTRAL_PCT380 and so on".to_owned(),
            ),
        };
        let finding = format!(
            "the reflectance at {} nm is {}; expected {range}",
            self.nm, self.value
        );
        Err(Error::input(finding).mend(mend).at(self.line, self.column))
    }
}

/// `outcome` with the place of `cell`.
fn at<T>(cell: &Cell, outcome: Result<T>) -> Result<T> {
    outcome.map_err(|error| error.at(cell.line, cell.column))
}

/// What L* can be, but for an instrument's own scatter beside black and white.
const L_RANGE: (f64, f64) = (-1.0, 105.0);

/// What X, Y and Z of a surface can be, with room for any light's blue and an instrument's scatter.
const XYZ_RANGE: (f64, f64) = (-1.0, 150.0);

/// What a* and b* of a surface can be, with room to spare.
const AB_RANGE: (f64, f64) = (-150.0, 150.0);

/// The coordinate called `what` in `cell`, which must be one that a surface can have.
fn coordinate(cell: &Cell, what: &str, value: f64, range: (f64, f64)) -> Result<f64> {
    let (least, most) = range;
    if (least..=most).contains(&value) {
        return Ok(value);
    }
    let finding = format!("{what} is {value}; expected from {least} to {most}");
    Err(Error::input(finding)
        .mend("read it again, or leave the reading out")
        .at(cell.line, cell.column))
}

/// An aperture that an instrument can have.
fn aperture(mm: f64) -> Result<f64> {
    check_range("the aperture", mm, Geometry::APERTURE_RANGE_MM, "mm").map(|()| mm)
}

/// The number in `cell`, with a point or a comma; `title` names its field.
fn number(cell: &Cell, title: &str) -> Result<f64> {
    let pointed = cell.text.replacen(',', ".", 1);
    let value: Option<f64> = pointed.parse().ok();
    value.filter(|value| value.is_finite()).ok_or_else(|| {
        let (title, found) = (title.escape_debug(), cell.text.escape_debug());
        Error::input(format!("{title} is \"{found}\"; expected a number"))
            .mend("write digits with a point, or leave the reading out")
            .at(cell.line, cell.column)
    })
}
