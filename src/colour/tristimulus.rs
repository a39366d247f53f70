//! From a reflectance spectrum to XYZ and CIELAB, by tristimulus weighting factors.

use std::sync::OnceLock;

use super::observer::POWERS;
use super::{Illuminant, Lab, Observer, SAMPLES, Spectrum, Xyz};

/// A light and an observer: what a CIELAB value is relative to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Viewing {
    /// The light.
    pub illuminant: Illuminant,
    /// The observer.
    pub observer: Observer,
}

impl Viewing {
    /// D65 and the 10° observer: what colour readings are given for unless they say otherwise.
    pub const D65_10: Self = Self {
        illuminant: Illuminant::D65,
        observer: Observer::Cie1964,
    };
    /// D65 and the 2° observer: what screens and photographs are made for.
    pub const D65_2: Self = Self {
        illuminant: Illuminant::D65,
        observer: Observer::Cie1931,
    };

    /// The weights for this light and observer.
    pub fn weights(self) -> TristimulusWeights {
        TristimulusWeights::new(self)
    }

    /// The same observer under another light.
    #[must_use]
    pub fn under(self, illuminant: Illuminant) -> Self {
        Self { illuminant, ..self }
    }
}

impl std::fmt::Display for Viewing {
    /// `D65/10°`
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}/{}°", self.illuminant, self.observer)
    }
}

/// Factors that turn the 36 reflectances of a [`Spectrum`] into XYZ under one light, for one observer.
///
/// The factors of a 10 nm table are those of ASTM E2022. On a 1 nm grid from 360 to 830 nm, reflectance
/// is interpolated from its 10 nm samples by a cubic through the four nearest (a quadratic through three in
/// the first and last interval). So each sample gathers its share of light times observer. Factors
/// beyond 380–730 nm are added to the first and last sample, as ASTM E308 does for readings that stop
/// short. The CIE tables stand at 5 nm: observers are brought to 1 nm by cubics, lights by straight lines,
/// and a light is held beyond its table, where the observer sees next to nothing.
///
/// Source: ASTM E2022-11, Standard Practice for Calculation of Weighting Factors for Tristimulus
/// Integration; ASTM E308-15, section 7 (section numbers from memory). Agrees with the table of E308-15
/// for A and the 1964 observer to 0.0025 on the scale of Y = 100 (measured in `tests/published`).
#[derive(Clone, Debug, PartialEq)]
pub struct TristimulusWeights {
    observer: Observer,
    factors: [[f64; SAMPLES]; 3],
    white: [f64; 3],
}

/// The 10 nm table before it is cut to a [`Spectrum`]: 360, 370, … 830 nm.
const TABLE: usize = 48;
/// Index of 380 nm in that table.
const TABLE_START: usize = 2;

impl TristimulusWeights {
    /// The weights for `viewing`, which are worked out once.
    pub fn new(viewing: Viewing) -> Self {
        type ByObserver = [OnceLock<TristimulusWeights>; 2];
        static WORKED_OUT: [ByObserver; Illuminant::ALL.len()] =
            [const { [const { OnceLock::new() }; 2] }; Illuminant::ALL.len()];
        let Viewing {
            illuminant,
            observer,
        } = viewing;
        WORKED_OUT[illuminant as usize][observer as usize]
            .get_or_init(|| Self::of(&illuminant.power_by_nm(), observer))
            .clone()
    }

    /// The weights for a light of this `power` at 360, 361, … 830 nm.
    pub(super) fn of(power: &[f64; POWERS], observer: Observer) -> Self {
        let table = weighting_table(power, observer);
        let mut factors = [[0.0; SAMPLES]; 3];
        for (row, full) in factors.iter_mut().zip(&table) {
            for (index, factor) in full.iter().enumerate() {
                row[index.saturating_sub(TABLE_START).min(SAMPLES - 1)] += factor;
            }
        }
        let white = factors.map(|row| row.iter().sum());
        Self {
            observer,
            factors,
            white,
        }
    }

    /// The observer that these weights are for.
    pub fn observer(&self) -> Observer {
        self.observer
    }

    /// The weighting factors of X, Y and Z, three rows of 36, on the scale where white has Y = 100.
    pub fn factors(&self) -> &[[f64; SAMPLES]; 3] {
        &self.factors
    }

    /// XYZ of a perfect white (reflectance 1) under this viewing.
    pub fn white(&self) -> Xyz {
        Xyz::new(self.white[0], self.white[1], self.white[2])
    }

    /// XYZ of `reflectance`.
    pub fn xyz(&self, reflectance: &Spectrum) -> Xyz {
        let [x, y, z] = self.factors.map(|row| {
            row.iter()
                .zip(reflectance.values())
                .map(|(factor, value)| factor * value)
                .sum()
        });
        Xyz::new(x, y, z)
    }

    /// CIELAB of `reflectance`.
    pub fn lab(&self, reflectance: &Spectrum) -> Lab {
        self.lab_of_xyz(self.xyz(reflectance))
    }

    /// CIELAB of `xyz`.
    ///
    /// Source: ISO/CIE 11664-4:2019, equations 1–6.
    pub fn lab_of_xyz(&self, xyz: Xyz) -> Lab {
        let [x, y, z] = [
            xyz.x / self.white[0],
            xyz.y / self.white[1],
            xyz.z / self.white[2],
        ]
        .map(|ratio| {
            if ratio > (6.0_f64 / 29.0).powi(3) {
                ratio.cbrt()
            } else {
                ratio * 841.0 / 108.0 + 4.0 / 29.0
            }
        });
        Lab::new(116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z))
    }

    /// XYZ of `lab`: the inverse of [`lab_of_xyz`](Self::lab_of_xyz).
    pub fn xyz_of_lab(&self, lab: Lab) -> Xyz {
        let y = (lab.l + 16.0) / 116.0;
        let [x, y, z] = [y + lab.a / 500.0, y, y - lab.b / 200.0].map(|root| {
            if root > 6.0 / 29.0 {
                root.powi(3)
            } else {
                (root - 4.0 / 29.0) * 108.0 / 841.0
            }
        });
        Xyz::new(x * self.white[0], y * self.white[1], z * self.white[2])
    }
}

/// X, Y and Z factors at 360, 370, … 830 nm.
fn weighting_table(power: &[f64; POWERS], observer: Observer) -> [[f64; TABLE]; 3] {
    let functions = observer.matching_functions();
    let mut table = [[0.0; TABLE]; 3];
    for (power, nm) in power.iter().zip(360..=830_u16) {
        let nm = f64::from(nm);
        let shares = cubic_weights((nm - 360.0) / 10.0, TABLE);
        for (row, function) in table.iter_mut().zip(functions) {
            let seen: f64 = cubic_weights((nm - Observer::FIRST_NM) / 5.0, function.len())
                .iter()
                .map(|(index, weight)| weight * function[*index])
                .sum();
            for (index, share) in shares {
                row[index] += power * seen * share;
            }
        }
    }
    let scale = 100.0 / table[1].iter().sum::<f64>();
    table.map(|row| row.map(|factor| factor * scale))
}

/// Lagrange weights of the samples around a fractional index in a table of `len` samples: four, or three in
/// the first and last interval (the fourth is then zero).
fn cubic_weights(index: f64, len: usize) -> [(usize, f64); 4] {
    let low = whole_steps(index).min(len - 2);
    let (first, count) = match low {
        0 => (0, 3),
        low if low == len - 2 => (len - 3, 3),
        low => (low - 1, 4),
    };
    std::array::from_fn(|i| {
        let node = (first + i).min(len - 1);
        let weight = (0..count)
            .filter(|j| *j != i)
            .map(|j| (index - (first + j) as f64) / (i as f64 - j as f64))
            .product::<f64>();
        (node, if i < count { weight } else { 0.0 })
    })
}

/// The whole steps in a fractional index that is not negative.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "indices are 0 to 100"
)]
fn whole_steps(index: f64) -> usize {
    index.floor() as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_perfect_white_is_lab_100_0_0_under_every_light() {
        for light in Illuminant::ALL {
            for observer in [Observer::Cie1931, Observer::Cie1964] {
                let weights = Viewing {
                    illuminant: *light,
                    observer,
                }
                .weights();
                let lab = weights.lab(&Spectrum::constant(1.0));
                approx::assert_abs_diff_eq!(lab.l, 100.0, epsilon = 1e-9);
                approx::assert_abs_diff_eq!(lab.a, 0.0, epsilon = 1e-9);
                approx::assert_abs_diff_eq!(lab.b, 0.0, epsilon = 1e-9);
            }
        }
    }

    #[test]
    fn lab_and_xyz_go_there_and_back() {
        let weights = Viewing::D65_10.weights();
        for lab in [
            Lab::new(3.0, 1.0, -1.0),
            Lab::new(60.0, 20.0, 15.0),
            Lab::new(95.0, -40.0, 60.0),
        ] {
            let back = weights.lab_of_xyz(weights.xyz_of_lab(lab));
            approx::assert_abs_diff_eq!(back.l, lab.l, epsilon = 1e-9);
            approx::assert_abs_diff_eq!(back.a, lab.a, epsilon = 1e-9);
            approx::assert_abs_diff_eq!(back.b, lab.b, epsilon = 1e-9);
        }
    }
}
