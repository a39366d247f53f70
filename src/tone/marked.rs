//! A photograph with what was read of it outlined, to be looked at.
//!
//! Lines are white between black, so that they show on anything and in black and white. A chart's first patch, that of
//! row 1 and column 1, has its corner filled; of every patch the part that is read is outlined.

use std::path::Path;

use super::chart::{ChartValues, Corners};
use super::picture::Picture;
use super::region::Region;
use crate::error::{Error, Result};

/// Most pixels across, in a file and on a screen.
const MOST_ACROSS: u32 = 1600;
const MOST_ON_SCREEN: u32 = 1000;
/// Pixels along a side of those that one pixel of a screen is the mean of.
const TAKEN: u32 = 2;
/// Half the width of a line, black about white, pixels.
const HALF_WIDTHS: [(f64, u8); 2] = [(2.6, 0), (1.2, 255)];
/// The share of a patch's width that is read.
const READ: f64 = 0.5;

/// What is outlined.
#[derive(Clone, Debug)]
pub enum Mark {
    /// A rectangle: skin or a card.
    Region(Region),
    /// A chart's grid, with its patches where the rows are known from the columns.
    Chart(Corners, ChartValues),
    /// A four-sided field.
    Field(Corners),
}

/// The photograph at `path`, upright and at most 1600 pixels across, as a PNG, with `marks` outlined.
///
/// # Errors
///
/// As reading it for a target does.
pub fn marked(path: &Path, marks: &[Mark]) -> Result<Vec<u8>> {
    let picture = Picture::open(path)?;
    let canvas = Canvas::of(&picture);
    canvas.marked(marks).map_err(|error| error.in_file(path))
}

/// `picture` as a PNG, upright and at most 1000 pixels across, each pixel of X, Y, Z under D50 in the sRGB that `shown` says, with
/// `marks` outlined.
pub(super) fn marked_as(
    picture: &Picture,
    shown: impl Fn([f64; 3]) -> [u8; 3],
    marks: &[Mark],
) -> Result<Vec<u8>> {
    Canvas::shown(picture, shown)?.marked(marks)
}

struct Canvas {
    size: [u32; 2],
    /// Pixels of the photograph along a side of one of the canvas.
    scale: f64,
    samples: Vec<u8>,
}

impl Canvas {
    fn of(picture: &Picture) -> Self {
        let full = picture.size();
        let scale = (f64::from(full[0]) / f64::from(MOST_ACROSS)).max(1.0);
        let size = full.map(|count| pixel(f64::from(count) / scale).max(1));
        let mut samples = Vec::with_capacity(3 * size[0] as usize * size[1] as usize);
        // So many of a block's pixels along a side are averaged.
        let taken = pixel(scale.round().clamp(1.0, 3.0));
        for y in 0..size[1] {
            for x in 0..size[0] {
                let mut sum = [0.0; 3];
                for index in 0..taken * taken {
                    let of = |block: u32, step: u32, count: u32| {
                        let within = (f64::from(step) + 0.5) / f64::from(taken);
                        pixel((f64::from(block) + within) * scale).min(count - 1)
                    };
                    let place = [of(x, index % taken, full[0]), of(y, index / taken, full[1])];
                    let encoded = picture.encoded(place);
                    sum = std::array::from_fn(|i| sum[i] + encoded[i]);
                }
                samples.extend(sum.map(|sum| byte(255.0 * sum / f64::from(taken * taken))));
            }
        }
        Self {
            size,
            scale,
            samples,
        }
    }

    fn shown(picture: &Picture, shown: impl Fn([f64; 3]) -> [u8; 3]) -> Result<Self> {
        let full = picture.size();
        let scale = (f64::from(full[0]) / f64::from(MOST_ON_SCREEN)).max(1.0);
        let size = full.map(|count| pixel(f64::from(count) / scale).max(1));
        let mut samples = Vec::with_capacity(3 * size[0] as usize * size[1] as usize);
        let along = |step: u32, count: u32| {
            (0..TAKEN).map(move |part| {
                let within = (f64::from(part) + 0.5) / f64::from(TAKEN);
                pixel((f64::from(step) + within) * scale).min(count - 1)
            })
        };
        for row in 0..size[1] {
            let mut places = Vec::new();
            for column in 0..size[0] {
                for y in along(row, full[1]) {
                    places.extend(along(column, full[0]).map(|x| [x, y]));
                }
            }
            // In linear light, as the eye takes the mean of what is too small for it.
            for block in picture.pixels(&places)?.chunks((TAKEN * TAKEN) as usize) {
                let sum = |axis: usize| block.iter().map(|pixel| pixel.xyz[axis]).sum::<f64>();
                samples.extend(shown([0, 1, 2].map(|axis| sum(axis) / block.len() as f64)));
            }
        }
        Ok(Self {
            size,
            scale,
            samples,
        })
    }

    fn marked(mut self, marks: &[Mark]) -> Result<Vec<u8>> {
        for mark in marks {
            self.draw(mark);
        }
        self.png()
    }

    fn draw(&mut self, mark: &Mark) {
        match mark {
            Mark::Region(region) => {
                let [left, top] = [region.left, region.top].map(f64::from);
                let (right, bottom) = (
                    left + f64::from(region.width),
                    top + f64::from(region.height),
                );
                self.outline([[left, top], [right, top], [right, bottom], [left, bottom]]);
            }
            Mark::Field(corners) => self.outline(corners.points()),
            Mark::Chart(corners, values) => {
                self.outline(corners.points());
                let [rows, columns] = values.size().map(f64::from);
                let quad = |[x, y]: [f64; 2], reach: f64| {
                    [
                        [-reach, -reach],
                        [reach, -reach],
                        [reach, reach],
                        [-reach, reach],
                    ]
                    .map(|[dx, dy]| corners.place((x + dx) / columns, (y + dy) / rows))
                };
                if values.layouts().len() == 1 {
                    for cell in values.cells() {
                        let middle = cell.map(|cell| f64::from(cell) + 0.5);
                        self.outline(quad(middle, 0.5 * READ));
                    }
                }
                // The first corner, filled from its tip to the middle of two sides of half a patch.
                let [tip, along, _, down] = quad([0.15, 0.15], 0.15);
                for step in 0..=24 {
                    let share = f64::from(step) / 24.0;
                    let toward = |end: [f64; 2]| -> [f64; 2] {
                        std::array::from_fn(|i| tip[i] + share * (end[i] - tip[i]))
                    };
                    self.line(toward(along), toward(down), HALF_WIDTHS[1]);
                }
            }
        }
    }

    fn outline(&mut self, corners: [[f64; 2]; 4]) {
        for width in HALF_WIDTHS {
            for side in 0..4 {
                self.line(corners[side], corners[(side + 1) % 4], width);
            }
        }
    }

    /// A line between two places of the photograph.
    fn line(&mut self, from: [f64; 2], to: [f64; 2], (half, shade): (f64, u8)) {
        let [from, to] = [from, to].map(|place| place.map(|place| place / self.scale));
        let length = (to[0] - from[0]).hypot(to[1] - from[1]);
        let steps = pixel(2.0 * length.min(1e5)) + 1;
        for step in 0..=steps {
            let share = f64::from(step) / f64::from(steps);
            let [x, y]: [f64; 2] = std::array::from_fn(|i| from[i] + share * (to[i] - from[i]));
            for row in pixel((y - half).max(0.0))..=pixel((y + half).max(0.0)) {
                for column in pixel((x - half).max(0.0))..=pixel((x + half).max(0.0)) {
                    let off = (f64::from(column) + 0.5 - x).hypot(f64::from(row) + 0.5 - y);
                    if off <= half && column < self.size[0] && row < self.size[1] {
                        let first = 3 * (row as usize * self.size[0] as usize + column as usize);
                        self.samples[first..first + 3].fill(shade);
                    }
                }
            }
        }
    }

    fn png(&self) -> Result<Vec<u8>> {
        let unwritten = |error: png::EncodingError| {
            Error::input(format!("its outlined copy can't be written: {error}"))
        };
        let mut content = Vec::new();
        let mut encoder = png::Encoder::new(&mut content, self.size[0], self.size[1]);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_depth(png::BitDepth::Eight);
        let version = concat!("dropwise ", env!("CARGO_PKG_VERSION"));
        encoder
            .add_text_chunk("Software".to_owned(), version.to_owned())
            .map_err(unwritten)?;
        let mut writer = encoder.write_header().map_err(unwritten)?;
        writer.write_image_data(&self.samples).map_err(unwritten)?;
        writer.finish().map_err(unwritten)?;
        Ok(content)
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a place in a picture, at least 0"
)]
fn pixel(place: f64) -> u32 {
    place as u32
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "from 0 to 255"
)]
fn byte(value: f64) -> u8 {
    value.round() as u8
}
