//! Light, sensor and file: from reflectance to the numbers in the picture.

use std::array::from_fn;

use dropwise::colour::{Illuminant, Observer, Spectrum, TristimulusWeights, Viewing};
use nalgebra::Vector3;
use palette::convert::FromColorUnclamped;
use palette::{LinSrgb, Srgb, Xyz, white_point};

use crate::skin::{self, Skin};

/// Linear red, green and blue, where 1 is as much as the sensor holds.
pub(crate) type Rgb = Vector3<f64>;

/// The one lamp of the bench, also where it comes back from wall and ceiling: warm beside D65.
const LAMP: Illuminant = Illuminant::LedB3;
/// What a perfect white, lit like the card, gives in Y.
const EXPOSURE: f64 = 1.0;

/// A camera that sees as the 1931 observer does and balances no white.
#[derive(Debug)]
pub(crate) struct Camera {
    weights: TristimulusWeights,
}

impl Camera {
    pub(crate) fn new() -> Self {
        let viewing = Viewing {
            illuminant: LAMP,
            observer: Observer::Cie1931,
        };
        Self {
            weights: viewing.weights(),
        }
    }

    /// What the sensor gets from a surface of `reflectance` that is lit like the card.
    pub(crate) fn sees(&self, reflectance: &Spectrum) -> Rgb {
        let xyz = self.weights.xyz(reflectance) * (EXPOSURE / 100.0);
        let seen = Xyz::<white_point::D65, f64>::new(xyz.x, xyz.y, xyz.z);
        let linear = LinSrgb::from_color_unclamped(seen);
        Rgb::new(linear.red, linear.green, linear.blue)
    }
}

/// The sRGB bytes of a sensor value, clipped to what a file holds.
pub(crate) fn develop(value: Rgb) -> [u8; 3] {
    let linear = LinSrgb::new(value.x, value.y, value.z);
    Srgb::<f64>::from_linear(linear).into_format::<u8>().into()
}

/// The colours of everything in the picture, as the camera sees them.
#[derive(Debug)]
pub(crate) struct Paints {
    /// Rows of melanin, columns of blood.
    skin: [[Rgb; GRID]; GRID],
    /// What a vein leaves of the skin's colour.
    pub(crate) vein: Rgb,
    pub(crate) nail: Rgb,
    pub(crate) wood_dark: Rgb,
    pub(crate) wood_pale: Rgb,
    pub(crate) card: Rgb,
    /// A perfect white: what gloss adds.
    pub(crate) white: Rgb,
}

const GRID: usize = 28;
const MELANIN_STEP: f64 = 0.1;
const BLOOD_STEP: f64 = 0.2;

impl Paints {
    pub(crate) fn new(camera: &Camera) -> Self {
        let skin = from_fn(|row| {
            from_fn(|column| {
                let spot = Skin {
                    melanin: MELANIN_STEP * row as f64,
                    blood: BLOOD_STEP * column as f64,
                };
                camera.sees(&spot.reflectance())
            })
        });
        let base = camera.sees(&Skin::BASE.reflectance());
        Self {
            skin,
            vein: camera.sees(&Skin::BASE.above_vein()).component_div(&base),
            nail: camera.sees(&skin::nail()),
            wood_dark: camera.sees(&skin::wood(0.0)),
            wood_pale: camera.sees(&skin::wood(1.0)),
            card: camera.sees(&skin::grey_card()),
            white: camera.sees(&Spectrum::constant(1.0)),
        }
    }

    /// The colour of skin, between the nearest of the spectra worked out beforehand.
    pub(crate) fn skin(&self, spot: Skin) -> Rgb {
        let (row, down) = cell(spot.melanin / MELANIN_STEP);
        let (column, right) = cell(spot.blood / BLOOD_STEP);
        let across = |row: usize| self.skin[row][column].lerp(&self.skin[row][column + 1], right);
        across(row).lerp(&across(row + 1), down)
    }
}

/// The cell of the grid that `place` lies in, and how far along.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to the grid"
)]
fn cell(place: f64) -> (usize, f64) {
    let place = place.clamp(0.0, (GRID - 1) as f64 - 1e-6);
    let low = place.floor();
    (low as usize, place - low)
}
