//! CIE 015:2018, Colorimetry, 4th edition: chromaticities of the standard and LED illuminants under both
//! observers (table numbers not seen).
//!
//! The numbers were taken from the Python package colour-science 0.4.7 (BSD-3-Clause); those of the LED set
//! under the 1964 observer are computed by that package and rounded. Tested: `TristimulusWeights::white` of
//! every illuminant and observer, and so the tables of light that it is made from.

use dropwise::colour::{Illuminant, Observer, TristimulusWeights, Viewing};

use super::{assert_agrees, rows};

/// Five printed decimals; four of the 2° daylights; light and observer are interpolated from 5 nm to 1 nm.
const TOLERANCE: f64 = 5e-5;
/// Where the published value is the plain sum of tables at 5 nm and not at 1 nm, which tells in spectra with
/// lines and steep flanks. (Summed so, the same tables give the published values to 5e-5.)
const COARSE_SUM_TOLERANCE: f64 = 3e-4;

/// The tolerance for a published chromaticity, by the way that it was summed.
fn tolerance(illuminant: &str, observer: Observer) -> f64 {
    let lamp_at_2_degrees = illuminant.starts_with("FL") && observer == Observer::Cie1931;
    if illuminant.starts_with("LED") || lamp_at_2_degrees {
        COARSE_SUM_TOLERANCE
    } else {
        TOLERANCE
    }
}

#[test]
fn every_illuminant_has_its_published_chromaticity_under_both_observers() {
    let mut seen = 0;
    for (illuminant, observer, x, y) in
        rows::<(String, String, f64, f64)>(include_str!("cie_015.csv"))
    {
        let viewing = Viewing {
            illuminant: illuminant.parse().expect("an illuminant of the table"),
            observer: observer.parse().expect("an observer of the table"),
        };
        let tolerance = tolerance(&illuminant, viewing.observer);
        let white = TristimulusWeights::new(viewing).white();
        let sum = white.x + white.y + white.z;
        assert_agrees(&format!("x of {viewing}"), white.x / sum, x, tolerance);
        assert_agrees(&format!("y of {viewing}"), white.y / sum, y, tolerance);
        seen += 1;
    }
    let observers = [Observer::Cie1931, Observer::Cie1964].len();
    assert_eq!(
        seen,
        Illuminant::ALL.len() * observers,
        "the table holds every illuminant that dropwise has"
    );
}
