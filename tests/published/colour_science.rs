//! colour-science 0.4.7 (BSD-3-Clause), a general-purpose Python library: CIELAB of five spectra under all
//! fifteen illuminants and both observers, and XYZ of the sample spectrum of its own unit tests.
//!
//! colour_science.csv is written by colour_science.py beside it. The five spectra are formulas, made up to
//! reach the corners: vivid red, green and blue, a fair slope, and a black where CIELAB is linear.
//! Tested: `TristimulusWeights::lab` and `xyz`, and `Spectrum::resample` at its held ends.
//! colour-science works by the same standards (ASTM E308, E2022), with observers tabulated at 1 nm.

use dropwise::colour::{Illuminant, Observer, Spectrum, Viewing, Xyz};

use super::{assert_agrees, rows};

/// The two bring the observer to 1 nm differently, which shows most in a vivid blue.
const LIGHTNESS_TOLERANCE: f64 = 0.001;
/// For a* and b*: the same, times 500 or 200 where L* has 116, and as a difference of two functions.
const A_B_TOLERANCE: f64 = 0.01;
/// For X, Y and Z on the scale where white has Y = 100: the same.
const XYZ_TOLERANCE: f64 = 5e-4;

/// The spectrum that colour_science.py knows by `name`.
fn spectrum(name: &str) -> Spectrum {
    let bell = |nm: f64, centre: f64, width: f64| (-((nm - centre) / width).powi(2)).exp();
    Spectrum::from_fn(|band| {
        let nm = Spectrum::wavelength_nm(band);
        match name {
            "red" => 0.04 + 0.70 / (1.0 + (-(nm - 590.0) / 15.0).exp()),
            "green" => 0.05 + 0.50 * bell(nm, 540.0, 35.0),
            "blue" => 0.05 + 0.60 * bell(nm, 450.0, 30.0),
            "fair" => 0.30 + 0.40 * (nm - 380.0) / 350.0,
            "black" => 0.004 + 0.002 * (nm - 380.0) / 350.0,
            other => panic!("colour_science.csv names the spectrum `{other}`"),
        }
    })
}

#[test]
fn five_spectra_have_the_same_lab_under_every_illuminant_and_observer() {
    let table: Vec<(String, String, String, [f64; 3])> = rows(include_str!("colour_science.csv"));
    assert_eq!(table.len(), 150, "spectra, illuminants and observers");
    for (name, illuminant, observer, [l, a, b]) in table {
        let viewing = Viewing {
            illuminant: illuminant.parse().expect("an illuminant of the table"),
            observer: observer.parse().expect("an observer of the table"),
        };
        let lab = viewing.weights().lab(&spectrum(&name));
        let what = |axis| format!("{axis} of {name} under {viewing}");
        assert_agrees(&what("L*"), lab.l, l, LIGHTNESS_TOLERANCE);
        assert_agrees(&what("a*"), lab.a, a, A_B_TOLERANCE);
        assert_agrees(&what("b*"), lab.b, b, A_B_TOLERANCE);
    }
}

/// The sample spectrum of that library's unit tests at 400, 410, … 700 nm; it is 0 elsewhere.
const SAMPLE: [f64; 31] = [
    0.0641, 0.0654, 0.0645, 0.0605, 0.0562, 0.0543, 0.0537, 0.0541, 0.0559, 0.0603, 0.0651, 0.0680,
    0.0705, 0.0736, 0.0772, 0.0809, 0.0870, 0.0990, 0.1128, 0.1251, 0.1360, 0.1439, 0.1511, 0.1590,
    0.1688, 0.1828, 0.1996, 0.2187, 0.2397, 0.2618, 0.2852,
];

/// The sample with its wavelengths, nm.
fn sample() -> Vec<(f64, f64)> {
    let wavelengths_nm = (0..).map(|step| 400.0 + 10.0 * f64::from(step));
    wavelengths_nm.zip(SAMPLE).collect()
}

const A_2: Viewing = Viewing {
    illuminant: Illuminant::A,
    observer: Observer::Cie1931,
};

fn assert_xyz(found: Xyz, [x, y, z]: [f64; 3], tolerance: f64) {
    assert_agrees("X", found.x, x, tolerance);
    assert_agrees("Y", found.y, y, tolerance);
    assert_agrees("Z", found.z, z, tolerance);
}

/// 0 beyond 400–700 nm, so that nothing hangs on where the spectrum is cut.
#[test]
fn sample_that_is_zero_beyond_400_to_700_nm_has_the_xyz_of_the_unit_tests() {
    let mut pairs = vec![(380.0, 0.0), (390.0, 0.0)];
    pairs.extend(sample());
    pairs.extend([(710.0, 0.0), (730.0, 0.0)]);
    let spectrum = Spectrum::resample(&pairs).expect("covers 380-730 nm");
    let found = A_2.weights().xyz(&spectrum);
    assert_xyz(
        found,
        [14.477_799_80, 10.863_586_45, 2.047_513_88],
        XYZ_TOLERANCE,
    );
}

/// Holding the end values is what adding the outer factors to the ends comes to.
#[test]
fn sample_that_stops_at_400_and_700_nm_has_the_xyz_of_the_unit_tests() {
    let spectrum = Spectrum::resample(&sample()).expect("covers 400-700 nm");
    let found = A_2.weights().xyz(&spectrum);
    assert_xyz(
        found,
        [14.541_375_32, 10.886_417_27, 2.049_313_18],
        XYZ_TOLERANCE,
    );
}
