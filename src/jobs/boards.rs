//! Chips read off a photograph, into the log.

use std::path::Path;

use jiff::civil::Date;

use crate::book::{BoardChip, Book, KeptChip, KeptPhotograph, PhotographedChip};
use crate::colour::{Lab, Spectrum};
use crate::error::{Error, Result};
use crate::materials::{Build, Casting, Geometry, Millimetres, Shelf, Swatch};
use crate::optics::{Coefficients, Specular};
use crate::tone::{
    Board, Chart, ChartReport, ChartValues, Corners, Field, FieldRead, Likely, Mark, Region, Way,
    read_board, read_chip,
};

/// A board to be read.
#[derive(Debug)]
pub struct Request<'a> {
    /// The photograph.
    pub photo: &'a Path,
    /// The chart beside the board.
    pub chart: &'a Chart,
    /// The board's outer corners; looked for where `None`.
    pub corners: Option<Corners>,
    /// The chips on it.
    pub chips: &'a [BoardChip],
    /// How the chart's values were read, and so the chips.
    pub specular: Specular,
    /// The day of the readings.
    pub day: Date,
}

/// A board that was read.
#[derive(Debug)]
pub struct BoardRead {
    /// The photograph's name in the log.
    pub photo: String,
    /// Standard deviation of L*, a*, b* of each reading, in the order of the log.
    pub spreads: Vec<[f64; 3]>,
    /// Chips that were left out.
    pub left_out: Vec<ChipLeftOut>,
    /// What was read, and how the chart served.
    pub board: Board,
    /// Its readings.
    swatches: Vec<Swatch>,
    /// What the camera gave of them.
    kept: KeptPhotograph,
}

impl BoardRead {
    /// Logs all its readings in one change; returns the index of the first in the log.
    ///
    /// # Errors
    /// As [`Book::add_swatches`]. The book is then as it was.
    pub fn log(&self, book: &mut Book) -> Result<usize> {
        book.add_swatches(&self.swatches, &self.kept)
    }

    /// What was read, to be outlined in the photograph: the chart with these `values`, the board, and the part that was read of each
    /// of its `chips`.
    pub fn marks(&self, values: &ChartValues, chips: &[BoardChip]) -> Vec<Mark> {
        let Board {
            corners,
            chart_corners,
            ..
        } = self.board;
        let size = size_of(chips);
        let fields = chips.iter().map(|chip| [chip.row, chip.column]);
        let whole = [
            Mark::Chart(chart_corners, values.clone()),
            Mark::Field(corners),
        ];
        whole
            .into_iter()
            .chain(fields.map(|field| Mark::Field(corners.read_part(field, size))))
            .collect()
    }
}

/// A chip that was left out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChipLeftOut {
    /// Row, from 1.
    pub row: u32,
    /// Column, from 1.
    pub column: u32,
    /// The chip's name.
    pub swatch: String,
    /// Why.
    pub because: &'static str,
}

/// What the log calls the photograph at `path`.
pub fn name_of(path: &Path) -> String {
    let name = path.file_name().unwrap_or(path.as_os_str());
    name.to_string_lossy().into_owned()
}

/// Rows and columns of the board.
pub fn size_of(chips: &[BoardChip]) -> [u32; 2] {
    let most = |of: fn(&BoardChip) -> u32| chips.iter().map(of).max().unwrap_or(1);
    [most(|chip| chip.row), most(|chip| chip.column)]
}

/// Reads a board of `book`; nothing is [logged](BoardRead::log) yet.
///
/// # Errors
/// A photograph that was read already; a chip that would not cure; as [`read_board`]; no field that can be read.
// Longer than eighty lines: a board is read in one go, and each step wants what the ones before it found.
pub fn run(book: &Book, request: &Request<'_>) -> Result<BoardRead> {
    let photo = name_of(request.photo);
    check_is_new(book, &photo, request.photo)?;
    let geometry = Geometry {
        specular: Some(request.specular),
        aperture_mm: None,
    };
    let shelf = book.shelf();
    let field = |chip: &BoardChip| {
        let likely = likely(shelf, &chip.build, geometry).map_err(|error| {
            error.within(format_args!(
                "row {} column {} of the board",
                chip.row, chip.column
            ))
        })?;
        Ok(Field {
            row: chip.row,
            column: chip.column,
            likely,
        })
    };
    let fields: Vec<Field> = request.chips.iter().map(field).collect::<Result<_>>()?;
    let board = read_board(
        request.photo,
        request.chart,
        request.corners,
        size_of(request.chips),
        &fields,
        shelf.settings.viewing,
    )?;
    let (mut swatches, mut spreads, mut left_out) = (Vec::new(), Vec::new(), Vec::new());
    let mut kept = KeptPhotograph {
        name: photo.clone(),
        patches: board.patches.clone(),
        chips: Vec::new(),
    };
    for ((chip, read), linear) in request.chips.iter().zip(&board.fields).zip(&board.linear) {
        match read {
            FieldRead::Colour(lab, sd) => {
                spreads.push(*sd);
                let swatch = Swatch {
                    id: chip.swatch.clone(),
                    geometry,
                    photo: photo.clone(),
                    ..Swatch::of(chip.build.clone(), rounded(*lab), request.day)
                };
                kept.chips.extend(KeptChip::of(&swatch, *linear));
                swatches.push(swatch);
            }
            FieldRead::LeftOut(because) => left_out.push(ChipLeftOut {
                row: chip.row,
                column: chip.column,
                swatch: chip.swatch.clone(),
                because,
            }),
        }
    }
    // A grid that is laid askew meets edges nearly everywhere.
    if 2 * left_out.len() > request.chips.len() || swatches.is_empty() {
        let [rows, columns] = size_of(request.chips);
        let first = left_out.first().map_or(String::new(), |chip| {
            format!(
                ", such as row {} column {}, {}",
                chip.row, chip.column, chip.because
            )
        });
        let finding = format!(
            "{} of the board's {} chips can't be read{first}",
            left_out.len(),
            request.chips.len()
        );
        return Err(Error::input(finding)
            .mend(format!(
                "check the board's corners, and that it has {rows} rows and {columns} columns as the list says"
            ))
            .in_file(request.photo));
    }
    Ok(BoardRead {
        photo,
        spreads,
        left_out,
        board,
        swatches,
        kept,
    })
}

/// Refuses a photograph at `path`, called `photo` in the log, whose readings are there already.
fn check_is_new(book: &Book, photo: &str, path: &Path) -> Result<()> {
    let mut known = book.swatches()?.iter();
    let Some(read) = known.find(|swatch| swatch.photo == photo) else {
        return Ok(());
    };
    let finding = format!(
        "readings of a photograph of this name are logged already, on {} of `{}`",
        read.date,
        read.id.escape_debug()
    );
    Err(Error::input(finding)
        .mend("name the file otherwise if it is another photograph; else take its readings out of the log first")
        .in_file(path))
}

/// A chip in a photograph.
#[derive(Debug)]
pub struct ChipInPhoto<'a> {
    /// The photograph.
    pub photo: &'a Path,
    /// Where the chip lies in it.
    pub region: Region,
    /// The chart beside it.
    pub chart: &'a Chart,
    /// How the chart's values were read, and so the chip.
    pub specular: Specular,
}

/// A chip as a photograph shows it.
#[derive(Debug)]
pub struct ChipRead {
    /// Its colour under the book's viewing.
    pub lab: Lab,
    /// Standard deviation of L*, a*, b*.
    pub sd: [f64; 3],
    /// How it was read.
    pub geometry: Geometry,
    /// What the camera gave of it, to be kept with its reading.
    pub photographed: PhotographedChip,
    /// How the chart served.
    pub chart: ChartReport,
}

impl ChipInPhoto<'_> {
    /// Reads the chip as what `build` is made of, by the materials of `shelf`.
    ///
    /// # Errors
    /// As [`read_chip`] and [`Casting::new`].
    pub fn read(&self, shelf: &Shelf, build: &Build) -> Result<ChipRead> {
        let geometry = Geometry {
            specular: Some(self.specular),
            aperture_mm: None,
        };
        let likely = likely(shelf, build, geometry)?;
        let viewing = shelf.settings.viewing;
        let read = read_chip(self.photo, self.chart, self.region, likely, viewing)?;
        Ok(ChipRead {
            lab: rounded(read.lab),
            sd: read.sd,
            geometry,
            photographed: PhotographedChip {
                photo: name_of(self.photo),
                patches: read.patches,
                field: read.linear,
            },
            chart: read.chart,
        })
    }
}

/// To a hundredth, which is far below the doubt and fit to be read in a table.
pub(super) fn rounded(lab: Lab) -> Lab {
    let [l, a, b] = [lab.l, lab.a, lab.b].map(|value| (100.0 * value).round() / 100.0);
    Lab::new(l, a, b)
}

/// What `build` can look like to an instrument of this `geometry`: as predicted, and with K, S and the tilt of K of each of
/// its materials off by their own doubt, and its thickness by the bench's.
pub(super) fn likely(shelf: &Shelf, build: &Build, geometry: Geometry) -> Result<Likely> {
    let casting = Casting::new(shelf, build)?.read_by(geometry);
    casting.check_loads()?;
    let mean = casting.reading();
    let mut names: Vec<(bool, &str)> = Vec::new();
    for cup in casting.cups() {
        names.push((true, &cup.base.name));
        let pigments = cup.portions.iter();
        names.extend(pigments.map(|portion| (false, portion.pigment.name.as_str())));
    }
    names.sort_unstable();
    names.dedup();
    let mut ways = Vec::new();
    for (is_base, name) in names {
        for (what, off) in OFF {
            let mut supposed = shelf.clone();
            let bases = supposed
                .bases
                .iter_mut()
                .filter(|base| is_base && base.name == name);
            for base in bases {
                base.coefficients = off(&base.coefficients, &base.spread.k_sd, &base.spread.s_sd);
            }
            let pigments = supposed.pigments.iter_mut();
            for pigment in pigments.filter(|pigment| !is_base && pigment.name == name) {
                let spread = pigment.spread.of_a_bottle();
                pigment.coefficients = off(&pigment.coefficients, &spread.k_sd, &spread.s_sd);
            }
            ways.push(Way {
                of: Some(format!("{what} of {name}")),
                curve: Casting::new(&supposed, build)?.read_by(geometry).reading(),
            });
        }
    }
    let Millimetres(thickness_mm) = build.thickness;
    let thicker = Build {
        thickness: Millimetres(thickness_mm * THICKER),
        ..build.clone()
    };
    // A build as thick as any can be has no thicker one.
    if let Ok(casting) = Casting::new(shelf, &thicker) {
        ways.push(Way {
            of: None,
            curve: casting.read_by(geometry).reading(),
        });
    }
    Ok(Likely::new(mean, ways))
}

/// By what factor a chip may be thicker than measured.
const THICKER: f64 = 1.05;

/// A material's curves, off by one standard deviation of something; K's and S's own standard deviations come along.
type Off = fn(&Coefficients, &Spectrum, &Spectrum) -> Coefficients;

/// K, S, and K more toward the red than the blue.
const OFF: [(&str, Off); 3] = [
    ("K", |curves, k_sd, _| Coefficients {
        k: Spectrum::from_fn(|band| curves.k[band] * k_sd[band].exp()),
        s: curves.s,
    }),
    ("S", |curves, _, s_sd| Coefficients {
        k: curves.k,
        s: Spectrum::from_fn(|band| curves.s[band] * s_sd[band].exp()),
    }),
    ("the tilt of K", |curves, k_sd, _| Coefficients {
        k: Spectrum::from_fn(|band| {
            let along = (band as f64 - 17.5) / 17.5;
            curves.k[band] * (0.5 * along * k_sd[band]).exp()
        }),
        s: curves.s,
    }),
];
