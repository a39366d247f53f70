//! What is known of lamps and cameras before a chart is seen: by how much a camera under a lamp departs from
//! the 2° observer under D50, once the best 3 × 3 matrix has been applied.
//!
//! A picture's red, green and blue are three weighted sums of the reflectance: the weights are the lamp times
//! the camera's sensitivities, mixed by whatever matrix the camera applied. No chart can tell 108 weights, but
//! they are far from arbitrary: lamps are of a few kinds, sensitivities are smooth humps. So many lamps and
//! cameras are made up, each is brought as near as a matrix can to the observer's weights, and what is left,
//! the departure, is a sample of what a picture may do. Only sums over samples are ever wanted, so the sample
//! itself is kept and no covariance.
//!
//! The lamps are the CIE's; the cameras' peaks, widths and second humps are spread evenly over ranges that hold
//! measured ones with room to spare (after J. Jiang, D. Liu, J. Gu, S. Süsstrunk 2013, What is the space of
//! spectral sensitivity functions for digital color cameras?, IEEE WACV, 168–179; ranges from memory). The
//! estimate is not touchy: without five of the lamps, skins under these five came out 1.12 ΔE00 off in place
//! of 1.10 (trial of this project with measured cameras and charts).

use std::sync::OnceLock;

use nalgebra::{Matrix3, SMatrix, SVector};

use crate::colour::{Illuminant, SAMPLES, Spectrum};
use crate::tone::connection::ConnectionSpace;

/// Cameras made up for each lamp.
const CAMERAS: usize = 16;
/// Numbers that make a camera.
const SHAPES: usize = 13;

/// Least and most of each of those: peak, width (standard deviation, nm) of the main hump of red, green and
/// blue; then height of second humps and where they lie.
const RANGES: [[f64; 2]; SHAPES] = [
    [582.0, 620.0],
    [20.0, 45.0],
    [514.0, 552.0],
    [24.0, 48.0],
    [440.0, 472.0],
    [16.0, 38.0],
    // Of red: in the green, and in the blue.
    [0.0, 0.35],
    [520.0, 560.0],
    [0.0, 0.12],
    // Of green: in the red, and in the blue.
    [0.0, 0.2],
    [0.0, 0.4],
    // Of blue: in the green.
    [0.0, 0.25],
    [510.0, 545.0],
];

/// How far a coloured reflectance may lie from the one that is guessed from its colour: standard deviation, and
/// the distance over which its bumps hang together, nm. Of 0.02, 0.03, 0.05 and 0.08 the answer does not hang
/// much (within 0.05 ΔE00); trials of this project with chart spectra that are not shipped.
const GUESS_SD: f64 = 0.03;
const GUESS_LENGTH: f64 = 25.0;

/// Three rows of weights over the samples of a spectrum.
pub(super) type Weights = SMatrix<f64, 3, SAMPLES>;

/// The departures of lamps and cameras.
pub(super) struct Sensors {
    /// X, Y, Z of the connection space: the observer under D50.
    pub(super) observer: Weights,
    /// Departures from it, one a camera under a lamp.
    pub(super) departures: Vec<Weights>,
    /// Covariance of what a departure makes of the component of a reflectance that its colour does not tell, for a
    /// reflectance of 0.5 or more.
    pub(super) guess: Matrix3<f64>,
}

impl Sensors {
    /// The one set there is, made up when it is first asked for.
    pub(super) fn known() -> &'static Self {
        static KNOWN: OnceLock<Sensors> = OnceLock::new();
        KNOWN.get_or_init(Self::make)
    }

    fn make() -> Self {
        let observer = ConnectionSpace::observer();
        let likely = second_moments();
        let mut departures = Vec::with_capacity(CAMERAS * Illuminant::ALL.len());
        for (index, lamp) in Illuminant::ALL.iter().enumerate() {
            for number in 0..CAMERAS {
                let camera = camera(index * CAMERAS + number);
                let power = lamp.power_by_sample();
                let weights = Weights::from_fn(|row, sample| camera[(row, sample)] * power[sample]);
                // The matrix that leaves least over likely reflectances.
                let own = weights * likely;
                let matrix = (own * weights.transpose())
                    .try_inverse()
                    .map(|inverse| observer * own.transpose() * inverse);
                if let Some(matrix) = matrix {
                    departures.push(matrix * weights - observer);
                }
            }
        }
        let unseen = unseen_covariance(&observer);
        let sum: Matrix3<f64> = departures
            .iter()
            .map(|departure| departure * unseen * departure.transpose())
            .sum();
        let guess = sum / departures.len() as f64;
        Self {
            observer,
            departures,
            guess,
        }
    }

    /// What every departure makes of a reflectance.
    pub(super) fn features(&self, reflectance: &Spectrum) -> Vec<[f64; 3]> {
        let values = SVector::<f64, SAMPLES>::from(*reflectance.values());
        let feature = |departure: &Weights| (departure * values).into();
        self.departures.iter().map(feature).collect()
    }
}

type Covariance = SMatrix<f64, SAMPLES, SAMPLES>;

fn hanging_together(sd: f64, length_nm: f64) -> Covariance {
    Covariance::from_fn(|one, other| {
        let apart = Spectrum::wavelength_nm(one) - Spectrum::wavelength_nm(other);
        sd * sd * (-0.5 * (apart / length_nm).powi(2)).exp()
    })
}

/// Second moments of likely reflectances: about 0.35 on the mean, smooth.
fn second_moments() -> Covariance {
    hanging_together(0.25, 60.0).add_scalar(0.35 * 0.35)
}

/// Covariance of what may be added to a reflectance without a change of its colour.
fn unseen_covariance(observer: &Weights) -> Covariance {
    let all = hanging_together(GUESS_SD, GUESS_LENGTH);
    let seen = observer * all;
    match (seen * observer.transpose()).try_inverse() {
        Some(inverse) => all - seen.transpose() * inverse * seen,
        None => all,
    }
}

/// The sensitivities of a camera that is made up.
fn camera(number: usize) -> Weights {
    let shape: [f64; SHAPES] = std::array::from_fn(|axis| {
        let [least, most] = RANGES[axis];
        least + (most - least) * evenly(number, axis)
    });
    let [red, red_width, green, green_width, blue, blue_width, ..] = shape;
    let [
        ..,
        red_in_green,
        red_at,
        red_in_blue,
        green_in_red,
        green_in_blue,
        blue_in_green,
        blue_at,
    ] = shape;
    Weights::from_fn(|row, sample| {
        let nm = Spectrum::wavelength_nm(sample);
        let hump = |middle: f64, width: f64| (-0.5 * ((nm - middle) / width).powi(2)).exp();
        match row {
            0 => {
                hump(red, red_width)
                    + red_in_green * hump(red_at, 30.0)
                    + red_in_blue * hump(435.0, 28.0)
            }
            1 => {
                hump(green, green_width)
                    + green_in_red * hump(615.0, 30.0)
                    + green_in_blue * hump(470.0, 30.0)
            }
            _ => hump(blue, blue_width) + blue_in_green * hump(blue_at, 30.0),
        }
    })
}

/// Points that fill the unit cube evenly without a grid: multiples of square roots of primes.
///
/// Source: R. D. Richtmyer (1951), The evaluation of definite integrals, and a quasi-Monte-Carlo method based on
/// the properties of algebraic numbers, Los Alamos report LA-1342.
fn evenly(number: usize, axis: usize) -> f64 {
    const PRIMES: [f64; SHAPES] = [
        2.0, 3.0, 5.0, 7.0, 11.0, 13.0, 17.0, 19.0, 23.0, 29.0, 31.0, 37.0, 41.0,
    ];
    ((number as f64 + 0.5) * PRIMES[axis].sqrt()).fract()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn departures_are_small_beside_the_observer_and_none_is_lost() {
        let sensors = Sensors::known();
        assert_eq!(
            sensors.departures.len(),
            CAMERAS * Illuminant::ALL.len(),
            "every lamp and camera"
        );
        for departure in &sensors.departures {
            assert!(departure.norm() < 1.2 * sensors.observer.norm(), "far off");
        }
    }

    #[test]
    fn what_is_added_to_a_guess_has_no_colour() {
        let observer = ConnectionSpace::observer();
        let seen = observer * unseen_covariance(&observer) * observer.transpose();
        approx::assert_abs_diff_eq!(seen.norm(), 0.0, epsilon = 1e-12);
    }
}
