//! A studio scene by spectra: a lamp, a chart, skins, and a camera that is not the eye.
//!
//! Sources of lamps, cameras and patches stand at the head of their tables beside this file; skins are those of
//! `cards`. What the camera makes of raw red, green and blue (its own balance on grey, its own matrix for
//! daylight, an exposure, sRGB, eight bits, JPEG) is common practice, no source.

use std::path::PathBuf;

use dropwise::colour::{Illuminant, Observer, SAMPLES, Spectrum, Viewing};
use nalgebra::{Matrix3, Vector3};

use super::cards::skins;
use super::noise::normal;
use super::studio::{Painting, Studio, srgb};

/// Red, green and blue sensitivities.
pub(crate) type Sensitivities = [Spectrum; 3];

fn table(text: &str) -> Vec<Vec<String>> {
    csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .has_headers(false)
        .from_reader(text.as_bytes())
        .into_records()
        .map(|row| row.expect("a row").iter().map(str::to_owned).collect())
        .collect()
}

fn column(text: &str, name: &str) -> Spectrum {
    let rows = table(text);
    let column = rows[0].iter().position(|found| found == name);
    let column = column.expect("a column of that name");
    Spectrum::from_fn(|sample| rows[sample + 1][column].parse().expect("a number"))
}

/// A lamp of `lamps.csv`.
pub(crate) fn lamp(name: &str) -> Spectrum {
    column(include_str!("lamps.csv"), name)
}

/// A measured camera of `cameras.csv`, `reflex` or `layers`, or a made-up one, `lopsided`: humps with a long
/// tail to one side.
pub(crate) fn camera(name: &str) -> Sensitivities {
    if name != "lopsided" {
        return ["r", "g", "b"]
            .map(|channel| column(include_str!("cameras.csv"), &format!("{name}_{channel}")));
    }
    let tailed = |peak: f64, short: f64, long: f64| {
        Spectrum::from_fn(|band| {
            let off = Spectrum::wavelength_nm(band) - peak;
            let width = if off < 0.0 { long } else { short };
            1.0 / (1.0 + (off / width).powi(4))
        })
    };
    [
        tailed(612.0, 40.0, 34.0),
        tailed(540.0, 36.0, 52.0),
        tailed(462.0, 42.0, 34.0),
    ]
}

/// Twenty-four patches, four rows of six: painted ones and, in the last row, greys.
pub(crate) fn patches() -> Vec<Spectrum> {
    let painted = table(include_str!("chart_patches.csv"));
    let painted = painted[1..].iter().map(|row| {
        let value = |band: usize| row[band + 2].parse().expect("a number");
        // From 410 nm on; held below.
        Spectrum::from_fn(|band| value(band.saturating_sub(3)))
    });
    let greys = [0.88, 0.58, 0.36, 0.19, 0.09, 0.035].map(Spectrum::constant);
    painted.chain(greys).collect()
}

/// The chart's values as a file: `row,column,L,a,b` for D50/2°.
pub(crate) fn values() -> String {
    let weights = Viewing {
        illuminant: Illuminant::D50,
        observer: Observer::Cie1931,
    }
    .weights();
    let mut text = "row,column,L,a,b\n".to_owned();
    for (index, patch) in patches().iter().enumerate() {
        let lab = weights.lab(patch);
        let (row, column) = (index / 6 + 1, index % 6 + 1);
        text += &format!("{row},{column},{:.2},{:.2},{:.2}\n", lab.l, lab.a, lab.b);
    }
    text
}

/// A camera under a lamp.
pub(crate) struct Shot {
    /// Light times sensitivity, each row summing to 1: balanced on a perfect white.
    rows: [Spectrum; 3],
    /// From balanced raw to linear sRGB, as the camera's maker fitted it for daylight.
    matrix: Matrix3<f64>,
    /// What a perfect white comes to.
    pub(crate) exposure: f64,
    /// By how much the light rises over the picture's width and height, as a share of it.
    pub(crate) slope: [f64; 2],
    /// How much of a curve the camera puts on the tones: 0 not at all, 1 as a lively setting does.
    pub(crate) contrast: f64,
    /// Noise of a channel at full light, as a share of it.
    pub(crate) noise: f64,
    seed: u64,
}

impl Shot {
    pub(crate) fn new(camera: &str, light: &str, seed: u64) -> Self {
        let sensitivities = self::camera(camera);
        let balanced = |light: &Spectrum| -> [Spectrum; 3] {
            std::array::from_fn(|row| {
                let product = Spectrum::from_fn(|band| light[band] * sensitivities[row][band]);
                let sum: f64 = product.values().iter().sum();
                product.map(|value| value / sum)
            })
        };
        let daylight = balanced(&lamp("D65"));
        // Linear sRGB of X, Y, Z. Source: IEC 61966-2-1:1999.
        let to_srgb = Matrix3::new(
            3.2406, -1.5372, -0.4986, -0.9689, 1.8758, 0.0415, 0.0557, -0.2040, 1.0570,
        );
        let weights = Viewing::D65_2.weights();
        let (mut wanted_raw, mut raw_raw) = (Matrix3::zeros(), Matrix3::zeros());
        for surface in skins().into_iter().map(|(_, skin)| skin).chain(patches()) {
            let xyz = weights.xyz(&surface);
            let wanted = to_srgb * Vector3::new(xyz.x, xyz.y, xyz.z) / 100.0;
            let raw = respond(&daylight, &surface);
            wanted_raw += wanted * raw.transpose();
            raw_raw += raw * raw.transpose();
        }
        Self {
            rows: balanced(&lamp(light)),
            matrix: wanted_raw * raw_raw.try_inverse().expect("three colours"),
            exposure: 0.85,
            slope: [0.0; 2],
            contrast: 0.0,
            noise: 0.01,
            seed,
        }
    }

    /// An S-shaped curve over the encoded tones, such as cameras write.
    fn with_curve(&self, encoded: f64) -> f64 {
        let smooth = encoded * encoded * (3.0 - 2.0 * encoded);
        encoded + 0.35 * self.contrast * (smooth - encoded)
    }

    /// Linear sRGB of a surface in full light.
    pub(crate) fn linear(&self, surface: &Spectrum) -> [f64; 3] {
        let rgb = self.matrix * respond(&self.rows, surface) * self.exposure;
        rgb.into()
    }

    /// Paints what `surface` says of each pixel, an index into `surfaces`.
    pub(crate) fn take(
        &self,
        [width, height]: [u32; 2],
        surfaces: &[Spectrum],
        surface: impl Fn(u32, u32) -> usize,
    ) -> Painting {
        let linear: Vec<[f64; 3]> = surfaces.iter().map(|r| self.linear(r)).collect();
        Painting::new(width, height, |x, y| {
            let from_middle = |at: u32, count: u32| f64::from(at) / f64::from(count) - 0.5;
            let light = 1.0
                + self.slope[0] * from_middle(x, width)
                + self.slope[1] * from_middle(y, height);
            let pixel = u64::from(y) * u64::from(width) + u64::from(x);
            let linear = linear[surface(x, y)];
            std::array::from_fn(|channel| {
                let clean = (linear[channel] * light).max(0.0);
                let draw = (self.seed << 32) + 3 * pixel + channel as u64;
                // Shot noise goes with the root of the light.
                let noisy = clean + self.noise * clean.sqrt() * normal(draw);
                self.with_curve(srgb(noisy.clamp(0.0, 1.0)))
            })
        })
    }
}

fn respond(rows: &[Spectrum; 3], surface: &Spectrum) -> Vector3<f64> {
    let sum = |row: &Spectrum| -> f64 { (0..SAMPLES).map(|band| row[band] * surface[band]).sum() };
    Vector3::from([0, 1, 2].map(|row| sum(&rows[row])))
}

/// A picture of the chart, its left half, and up to twelve skins in its right.
pub(crate) struct Table;

impl Table {
    pub(crate) const SIZE: [u32; 2] = [420, 240];
    /// The corners of the chart's patches, seen from aside.
    pub(crate) const CORNERS: [[f64; 2]; 4] =
        [[12.0, 20.0], [236.0, 10.0], [230.0, 176.0], [18.0, 164.0]];
    const SKIN_SIDE: u32 = 40;

    /// `X,Y,W,H` within the skin at `index`.
    pub(crate) fn region(index: u32) -> String {
        let (left, top) = Self::skin(index);
        let side = Self::SKIN_SIDE;
        format!("{},{},{},{}", left + 4, top + 4, side - 8, side - 8)
    }

    fn skin(index: u32) -> (u32, u32) {
        (
            250 + index % 4 * Self::SKIN_SIDE,
            20 + index / 4 * (Self::SKIN_SIDE + 10),
        )
    }

    /// Shoots the chart and `skins`.
    pub(crate) fn shoot(shot: &Shot, skins: &[Spectrum]) -> Painting {
        let mut surfaces = patches();
        let first_skin = surfaces.len();
        surfaces.extend(skins);
        let board = surfaces.len();
        surfaces.push(Spectrum::constant(0.05));
        let to_square = homography(Self::CORNERS);
        let card = surfaces.len();
        surfaces.push(Spectrum::constant(0.18));
        shot.take(Self::SIZE, &surfaces, |x, y| {
            let seen = to_square * Vector3::new(f64::from(x) + 0.5, f64::from(y) + 0.5, 1.0);
            let (u, v) = (6.0 * seen[0] / seen[2], 4.0 * seen[1] / seen[2]);
            if (0.0..6.0).contains(&u) && (0.0..4.0).contains(&v) {
                // A frame between patches.
                let frame = |place: f64| (place.fract() - 0.5).abs() > 0.44;
                if frame(u) || frame(v) {
                    return board;
                }
                return v as usize * 6 + u as usize;
            }
            if (20..110).contains(&x) && y >= 190 {
                return card;
            }
            for index in 0..skins.len() as u32 {
                let (left, top) = Self::skin(index);
                let side = Self::SKIN_SIDE;
                if (left..left + side).contains(&x) && (top..top + side).contains(&y) {
                    return first_skin + index as usize;
                }
            }
            board
        })
    }

    /// Where the grey card lies.
    pub(crate) const CARD: &'static str = "26,196,76,38";
}

/// From the picture to the unit square: solved as eight equations, not as the library does it.
pub(crate) fn homography(corners: [[f64; 2]; 4]) -> Matrix3<f64> {
    let square = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
    let mut equations = nalgebra::SMatrix::<f64, 8, 8>::zeros();
    let mut right = nalgebra::SVector::<f64, 8>::zeros();
    for (index, ([x, y], [u, v])) in corners.into_iter().zip(square).enumerate() {
        let rows = [
            ([x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y], u),
            ([0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y], v),
        ];
        for (step, (row, value)) in rows.into_iter().enumerate() {
            equations.set_row(2 * index + step, &row.into());
            right[2 * index + step] = value;
        }
    }
    let h = equations.lu().solve(&right).expect("four corners");
    Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0)
}

/// Writes the chart's values beside the pictures.
pub(crate) fn values_file(studio: &Studio) -> PathBuf {
    studio.file("chart.csv", values().as_bytes())
}
