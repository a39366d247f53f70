//! A photograph of a board of chips beside a colour chart, flat fields of invented colours: four rows of six for the chart, and two
//! chips, each on a field of its own.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use palette::{FromColor as _, Lab, Srgb, white_point::D65};

use super::{file, word};

/// Pixels of a field's side.
const FIELD: u32 = 40;
const CHIPS: [[u8; 3]; 2] = [[206, 150, 130], [190, 140, 120]];

/// Where the corners of the chart's patches lie, those of the board's chips, and within each chip.
pub(super) const CHART: &str = "0,0,240,0,240,160,0,160";
pub(super) const BOARD: &str = "280,40,320,40,320,120,280,120";
pub(super) const WITHIN: [&str; 2] = ["290,50,20,20", "290,90,20,20"];

/// The photograph and what belongs to it, in files.
pub(super) struct Board {
    /// The photograph.
    pub(super) photo: PathBuf,
    /// What the chart's patches are.
    pub(super) values: PathBuf,
    /// Which chip lies where.
    pub(super) chips: PathBuf,
}

impl Board {
    /// Takes it, into `folder`.
    pub(super) fn of(folder: &Path) -> Self {
        let size = (9 * FIELD, 4 * FIELD);
        let picture = image::RgbImage::from_fn(size.0, size.1, |x, y| {
            let (column, row) = (x / FIELD, y / FIELD);
            image::Rgb(match column {
                0..=5 => patch(column, row),
                7 if (1..3).contains(&row) => CHIPS[row as usize - 1],
                _ => [128; 3],
            })
        });
        let photo = folder.join("board.png");
        picture.save(&photo).expect("written");
        let mut values = "row,column,L,a,b,illuminant,observer\n".to_owned();
        for row in 0..4 {
            for column in 0..6 {
                let rgb: Srgb<f64> = Srgb::from(patch(column, row)).into_format();
                let Lab { l, a, b, .. } = Lab::<D65, f64>::from_color(rgb);
                let (row, column) = (row + 1, column + 1);
                writeln!(values, "{row},{column},{l:.3},{a:.3},{b:.3},D65,2").expect("a row");
            }
        }
        file(folder, "values.csv", &values);
        file(
            folder,
            "chips.csv",
            "row,column,swatch,base,base_g,mix,thickness_mm,backing\n\
             1,1,P1,clear skin,100,titanium white 12; iron oxide red 2; iron oxide yellow 4,2,white card\n\
             2,1,P2,clear skin,100,titanium white 12; iron oxide red 3; iron oxide yellow 4,2,white card\n",
        );
        Self {
            photo,
            values: folder.join("values.csv"),
            chips: folder.join("chips.csv"),
        }
    }

    /// The options that name the chart.
    pub(super) fn chart(&self) -> String {
        format!("--chart {CHART} --chart-values {}", word(&self.values))
    }

    /// All of it in the words of `swatch read`.
    pub(super) fn line(&self) -> String {
        let (photo, chips) = (word(&self.photo), word(&self.chips));
        format!("{photo} {} --grid {BOARD} --chips {chips}", self.chart())
    }

    /// One chip in the words of `swatch add` and of `correct`.
    pub(super) fn chip(&self, index: usize) -> String {
        let (photo, at) = (word(&self.photo), WITHIN[index]);
        format!("--photo {photo} --at {at} {}", self.chart())
    }
}

/// A patch of the chart; the greys tell of the camera's curve.
fn patch(column: u32, row: u32) -> [u8; 3] {
    let of = |count: u32, index: u32| u8::try_from(30 + 190 * index / count).expect("below 256");
    match row {
        3 => [of(5, column); 3],
        _ => [of(5, column), of(2, row), of(7, (column + 2 * row) % 8)],
    }
}
