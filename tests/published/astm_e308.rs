//! ASTM E308-15, Standard Practice for Computing the Colors of Objects by Using the CIE System: tristimulus
//! weighting factors of illuminant A and the 1964 observer, 10 nm interval, 360–830 nm (table numbers not
//! seen). Also the white sums of that table and of D65 with the 1931 observer, 20 nm interval.
//!
//! The numbers were taken from the unit tests of the Python package colour-science 0.4.7 (BSD-3-Clause),
//! which state that they match the standard. Tested: `TristimulusWeights::factors` and `white`.
//!
//! dropwise's spectra run from 380 to 730 nm. The standard says what becomes of the factors beyond a
//! reading's ends: they are added to those of its first and last wavelength, and so they are here.

use dropwise::colour::{Illuminant, Observer, SAMPLES, Spectrum, TristimulusWeights, Viewing};

use super::{assert_agrees, rows};

/// Half of it is seen when the observer's own 1 nm table is used; the rest is that dropwise interpolates
/// its 5 nm table by cubics.
const FACTOR_TOLERANCE: f64 = 0.0025;
/// Sums of factors rounded to three decimals. Unrounded, colour-science too comes out 0.003 from them in X
/// and in Z of A/10°.
const WHITE_TOLERANCE: f64 = 0.005;

const A_10: Viewing = Viewing {
    illuminant: Illuminant::A,
    observer: Observer::Cie1964,
};

/// The published table of A and the 1964 observer: wavelength (nm), factors of X, Y and Z.
fn published_factors() -> Vec<(f64, [f64; 3])> {
    rows(include_str!("astm_e308.csv"))
}

#[test]
fn factors_of_illuminant_a_are_the_standards_with_its_ends_added_on() {
    let table = published_factors();
    assert_eq!(table.len(), 48, "360 to 830 nm by 10");
    let mut folded = [[0.0; 3]; SAMPLES];
    for (nm, factors) in &table {
        let up_to_here = Spectrum::wavelengths_nm().filter(|sample| sample <= nm);
        let band = up_to_here.count().saturating_sub(1);
        for (sum, factor) in folded[band].iter_mut().zip(factors) {
            *sum += factor;
        }
    }
    let weights = TristimulusWeights::new(A_10);
    for (band, expected) in folded.iter().enumerate() {
        let nm = Spectrum::wavelength_nm(band);
        for (axis, name) in ["X", "Y", "Z"].iter().enumerate() {
            let found = weights.factors()[axis][band];
            let what = format!("factor of {name} at {nm} nm");
            assert_agrees(&what, found, expected[axis], FACTOR_TOLERANCE);
        }
    }
}

#[test]
fn white_has_the_sums_of_the_standards_tables() {
    let a_10 = published_factors()
        .iter()
        .fold([0.0; 3], |sum: [f64; 3], (_, factors)| {
            std::array::from_fn(|axis| sum[axis] + factors[axis])
        });
    let cases = [
        (A_10, a_10),
        // The sums of the 20 nm table; white does not depend on the interval.
        (Viewing::D65_2, [95.044, 100.001, 108.882]),
    ];
    for (viewing, [x, y, z]) in cases {
        let white = viewing.weights().white();
        assert_agrees(&format!("X of {viewing}"), white.x, x, WHITE_TOLERANCE);
        assert_agrees(&format!("Y of {viewing}"), white.y, y, WHITE_TOLERANCE);
        assert_agrees(&format!("Z of {viewing}"), white.z, z, WHITE_TOLERANCE);
    }
}
