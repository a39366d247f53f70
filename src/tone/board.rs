//! Chips laid out beside a chart: each field's camera values to a colour, by the chart's fit.
//!
//! A chip is no skin: read as skin it errs by two to five ΔE00 under warm and LED lamps. What it is made of is known, so
//! of all the curves that the camera would see alike the one is taken that departs least from what its own mix can make
//! ([`Likely`]): the predicted curve, and how it changes when what is unknown of its materials does. The camera's values
//! are met exactly, whatever the prediction; it only says how a colour goes on under another light.

use std::path::Path;

use nalgebra::DMatrix;

use super::chart::{
    Chart, ChartFit, ChartPatch, ChartReading, ChartValues, Corners, Placed, Seen, Told,
};
use super::chart_report::{ChartFound, ChartReport};
use super::connection::ConnectionSpace;
use super::find;
use super::linear::{LinearField, LinearPatch};
use super::picture::Picture;
use super::region::Region;
use super::smooth::{Family, transformed};
use super::sorted::median;
use crate::colour::{Lab, SAMPLES, Spectrum, TristimulusWeights, Viewing};
use crate::error::{Error, Result};
use crate::materials::{Geometry, Reading};

/// How far a field's L* may lie from what its mix can be: darker, it lies in shadow, or another chip lies there.
const FAR_LIGHTNESS: f64 = 25.0;
/// The same beside what the whole board lies off by, in the median of as many fields as this or more.
const FAR_OF_MANY: f64 = 15.0;
const MANY: usize = 4;
/// And no nearer than this many standard deviations of the L* that its mix can have.
const FAR_IN_SD: f64 = 2.0;

/// What the reflectance of a chip can be.
#[derive(Clone, Debug)]
pub struct Likely {
    mean: Spectrum,
    ways: Vec<Way>,
}

/// Another curve that a chip can have, one standard deviation of something unknown away from that predicted.
#[derive(Clone, Debug)]
pub struct Way {
    /// What is unknown: one thing for all chips of a photograph that call it so, or the chip's own.
    pub of: Option<String>,
    /// The curve, 0–1.
    pub curve: Spectrum,
}

impl Likely {
    /// The curve that is predicted, 0–1, and others that it can have.
    pub fn new(mean: Spectrum, ways: Vec<Way>) -> Self {
        Self { mean, ways }
    }

    /// Standard deviation of L* under `weights`.
    fn lightness_sd(&self, weights: &TristimulusWeights) -> f64 {
        let l = weights.lab(&self.mean).l;
        let squares = self
            .ways
            .iter()
            .map(|way| (weights.lab(&way.curve).l - l).powi(2));
        squares.sum::<f64>().sqrt()
    }

    fn family(&self) -> Family {
        // The transform runs off at the ends.
        let curve = |r: &Spectrum| -> [f64; SAMPLES] {
            std::array::from_fn(|band| transformed(r[band].clamp(1e-3, 1.0 - 1e-3)))
        };
        let mean = curve(&self.mean);
        let way = |way: &Way| {
            let own = curve(&way.curve);
            std::array::from_fn(|band| own[band] - mean[band])
        };
        Family {
            mean,
            ways: self.ways.iter().map(way).collect(),
        }
    }
}

/// A field to be read.
#[derive(Clone, Debug)]
pub struct Field {
    /// Row on the board, from 1 at the top.
    pub row: u32,
    /// Column on the board, from 1 at the left.
    pub column: u32,
    /// What the chip in it can be.
    pub likely: Likely,
}

/// What came of a field.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FieldRead {
    /// A colour under the viewing asked for, and one standard deviation of L*, a*, b*.
    Colour(Lab, [f64; 3]),
    /// Nothing, and why: `clipped`, `uneven`, …
    LeftOut(&'static str),
}

/// A board as it was read.
#[derive(Clone, Debug)]
pub struct Board {
    /// What came of each field, in their order.
    pub fields: Vec<FieldRead>,
    /// What the camera gave of each field, in their order.
    pub linear: Vec<LinearField>,
    /// What it gave of the chart's patches that served.
    pub patches: Vec<LinearPatch>,
    /// How the chart served.
    pub chart: ChartReport,
    /// The chart's corners.
    pub chart_corners: Corners,
    /// The board's corners.
    pub corners: Corners,
    /// How surely the board was found, where it was looked for.
    pub found: Option<ChartFound>,
}

/// Reads the `fields` of a board of `[rows, columns]` in the photograph at `path`, under `viewing`; the board's outer
/// `corners` are looked for by what its chips can be where they are `None`.
///
/// # Errors
///
/// As [`Target::from_photos`](super::Target::from_photos) for picture and chart; corners that are no board, that lie outside
/// the picture or on the chart; fields that are too small; a board that is not found.
pub fn read_board(
    path: &Path,
    chart: &Chart,
    corners: Option<Corners>,
    size: [u32; 2],
    fields: &[Field],
    viewing: Viewing,
) -> Result<Board> {
    let read = || {
        let space = ConnectionSpace::new(viewing);
        let picture = Picture::open(path)?;
        let (reading, chart_corners) = read_chart(&picture, chart, &space)?;
        let (corners, found) = match corners {
            Some(corners) => (corners, None),
            None => {
                let found = find_board(&picture, fields, &space)?;
                (found.corners, Some(found.report()))
            }
        };
        corners.check(picture.size(), "board")?;
        if corners.meets(chart_corners) {
            return Err(Error::input("the board and the chart lie on each other")
                .mend("check the corners of both"));
        }
        let mut read = Vec::with_capacity(fields.len());
        let mut linear = Vec::with_capacity(fields.len());
        for field in fields {
            let seen = corners.see(&picture, &space, [field.row, field.column], size)?;
            linear.push(reading.linear(&seen));
            read.push(field_read(&reading, &seen, &field.likely, &space, viewing));
        }
        leave_out_far(&mut read, fields, viewing);
        Ok(Board {
            fields: read,
            linear,
            patches: reading.patches,
            chart: reading.report,
            chart_corners,
            corners,
            found,
        })
    };
    read().map_err(|error| error.in_file(path))
}

/// A chip that was read again.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadAgain {
    /// Its colour under the viewing asked for.
    pub lab: Lab,
    /// What L*, a*, b* are off by with each thing that all chips of the photograph are off by together, at one standard
    /// deviation each: of lamp, camera and the fall of the light. As many for each chip.
    pub common_errors: Vec<[f64; 3]>,
}

/// The chart of a photograph whose chips are read again: what it tells of light and camera is the same however often.
#[derive(Debug)]
pub struct KeptChart {
    fit: ChartFit,
    viewing: Viewing,
    space: ConnectionSpace,
}

impl KeptChart {
    /// The chart of these `patches`, for colours under `viewing`.
    ///
    /// # Errors
    ///
    /// Patches of one colour, or of other colours than they are known by.
    pub fn new(patches: &[LinearPatch], viewing: Viewing) -> Result<Self> {
        let space = ConnectionSpace::new(viewing);
        Ok(Self {
            fit: ChartFit::to(patches, &space)?,
            viewing,
            space,
        })
    }

    /// Reads chips again from what the camera gave of them, each as what it `Likely` is; `None` for one that no surface can
    /// look like.
    pub fn read_again(&self, chips: &[(LinearField, Likely)]) -> Vec<Option<ReadAgain>> {
        let Self { fit, space, .. } = self;
        let weights = self.viewing.weights();
        let surface =
            |(field, likely): &(LinearField, Likely)| fit.surface(field, &likely.family(), space);
        let told: Vec<Option<Told>> = chips.iter().map(surface).collect();
        let fields: Vec<(LinearField, Spectrum)> = chips
            .iter()
            .zip(&told)
            .filter_map(|((field, _), told)| Some((*field, told.as_ref()?.reflectance)))
            .collect();
        let errors = fit.common_errors(&fields, &by_curves(chips, &told), space);
        let mut errors = errors.into_iter();
        let read = told.into_iter().map(|told| {
            Some(ReadAgain {
                lab: weights.lab(&told?.reflectance),
                common_errors: errors.next()?,
            })
        });
        read.collect()
    }
}

/// What L*, a*, b* of those of the `chips` that are told, three rows a chip, are off by with each thing that is unknown of more
/// than one chip's curve.
fn by_curves(chips: &[(LinearField, Likely)], told: &[Option<Told>]) -> DMatrix<f64> {
    let mut things: Vec<&str> = Vec::new();
    let mut all = Vec::new();
    let told = chips
        .iter()
        .zip(told)
        .filter_map(|(chip, told)| Some((chip, told.as_ref()?)));
    let mut count = 0;
    for ((_, likely), told) in told {
        for (way, miss) in likely.ways.iter().zip(&told.misses) {
            let Some(thing) = way.of.as_deref() else {
                continue;
            };
            let known = things.iter().position(|known| *known == thing);
            let column = known.unwrap_or_else(|| {
                things.push(thing);
                things.len() - 1
            });
            all.push((count, column, *miss));
        }
        count += 1;
    }
    let mut matrix = DMatrix::zeros(3 * count, things.len());
    for (chip, column, miss) in all {
        for (axis, by) in miss.into_iter().enumerate() {
            matrix[(3 * chip + axis, column)] = by;
        }
    }
    matrix
}

/// A chip that was read by itself.
#[derive(Clone, Debug, PartialEq)]
pub struct ChipInPicture {
    /// Its colour.
    pub lab: Lab,
    /// Standard deviation of L*, a*, b*.
    pub sd: [f64; 3],
    /// What the camera gave of it.
    pub linear: LinearField,
    /// The patches of the chart beside it, as the camera gave them.
    pub patches: Vec<LinearPatch>,
    /// How the chart served.
    pub chart: ChartReport,
}

/// Reads one chip, which lies in `region` of the photograph at `path`.
///
/// # Errors
///
/// As [`read_board`]; a chip that can't be read, with why.
pub fn read_chip(
    path: &Path,
    chart: &Chart,
    region: Region,
    likely: Likely,
    viewing: Viewing,
) -> Result<ChipInPicture> {
    let [left, top] = [region.left, region.top].map(f64::from);
    let (right, bottom) = (
        left + f64::from(region.width),
        top + f64::from(region.height),
    );
    let corners = Corners::new([[left, top], [right, top], [right, bottom], [left, bottom]]);
    let field = Field {
        row: 1,
        column: 1,
        likely,
    };
    let board = read_board(path, chart, Some(corners), [1, 1], &[field], viewing)?;
    match board.fields[0] {
        FieldRead::Colour(lab, sd) => Ok(ChipInPicture {
            lab,
            sd,
            linear: board.linear[0],
            patches: board.patches,
            chart: board.chart,
        }),
        FieldRead::LeftOut(because) => Err(Error::input(format!(
            "the chip can't be read: it is {because}"
        ))
        .mend("draw its region within the chip, clear of edges, shadow and shine")
        .in_file(path)),
    }
}

/// Reads `chart`, which is looked for first where nobody says where it lies; with it, where it lies.
pub(super) fn read_chart(
    picture: &Picture,
    chart: &Chart,
    space: &ConnectionSpace,
) -> Result<(ChartReading, Corners)> {
    let placed = |corners: Corners, values: &ChartValues| Placed {
        corners,
        values: values.clone(),
    };
    if let Some(corners) = chart.corners {
        let reading = ChartReading::read(picture, &placed(corners, &chart.values), space)?;
        return Ok((reading, corners));
    }
    let found = find::find(picture, &chart.values, find::What::Chart, space)?;
    let mut reading = ChartReading::read(picture, &placed(found.corners, &found.values), space)?;
    reading.report.found = Some(found.report());
    Ok((reading, found.corners))
}

/// Where the board lies, by the colours that its chips are predicted to have.
fn find_board(
    picture: &Picture,
    fields: &[Field],
    space: &ConnectionSpace,
) -> Result<find::FoundChart> {
    let patches = fields.iter().map(|field| {
        let reading = Reading {
            name: String::new(),
            reflectance: Some(field.likely.mean),
            lab: None,
            geometry: Geometry::default(),
        };
        ChartPatch::from_reading(field.row, field.column, &reading)
    });
    let values = patches
        .collect::<Result<Vec<_>>>()
        .and_then(ChartValues::new);
    let values = values.map_err(|_| {
        Error::input("a board of fewer than eight chips is not looked for")
            .mend("say where its outer corners lie: X,Y,X,Y,X,Y,X,Y from the top left clockwise")
    })?;
    find::find(picture, &values, find::What::Board, space)
}

fn field_read(
    reading: &ChartReading,
    seen: &Seen,
    likely: &Likely,
    space: &ConnectionSpace,
    viewing: Viewing,
) -> FieldRead {
    match seen.fault {
        Some("uneven") => {
            return FieldRead::LeftOut("uneven: an edge, a shadow or shine lies on it");
        }
        Some(because) => return FieldRead::LeftOut(because),
        None => {}
    }
    let weights = viewing.weights();
    let field = reading.linear(seen);
    let told = reading.fit.surface(&field, &likely.family(), space);
    let Some(Told {
        reflectance, sd, ..
    }) = told
    else {
        return FieldRead::LeftOut("of no surface's colour: in shine, or lit by another light");
    };
    let lab = weights.lab(&reflectance);
    FieldRead::Colour(lab, sd)
}

/// Leaves out of `read` what is far darker or lighter than its mix can be, as far as the whole board tells.
fn leave_out_far(read: &mut [FieldRead], fields: &[Field], viewing: Viewing) {
    let weights = viewing.weights();
    let departures: Vec<Option<f64>> = read
        .iter()
        .zip(fields)
        .map(|(read, field)| match read {
            FieldRead::Colour(lab, _) => Some(lab.l - weights.lab(&field.likely.mean).l),
            FieldRead::LeftOut(_) => None,
        })
        .collect();
    let known = || departures.iter().flatten().copied();
    let (usual, least) = if known().count() >= MANY {
        (median(known()), FAR_OF_MANY)
    } else {
        (0.0, FAR_LIGHTNESS)
    };
    for ((read, field), departure) in read.iter_mut().zip(fields).zip(departures) {
        // A strong tint of a pigment whose strength is hardly known can be much of anything.
        let far = least.max(FAR_IN_SD * field.likely.lightness_sd(&weights));
        match departure {
            Some(by) if by - usual < -far => {
                *read = FieldRead::LeftOut(
                    "far darker than its mix can be: in shadow, or another chip lies there",
                );
            }
            Some(by) if by - usual > far => {
                *read = FieldRead::LeftOut(
                    "far lighter than its mix can be: in shine, or another chip lies there",
                );
            }
            _ => {}
        }
    }
}
