//! Mie's series against published tables and against the same series in fifty digits.

use approx::assert_relative_eq;
use num_complex::Complex64;

use super::{SMALL_SPHERE_LIMIT, sphere};

/// Wiscombe's table of test cases: refractive index n − ik, size parameter, Q_ext, Q_sca, g.
/// Source: Wiscombe, NCAR/TN-140+STR (1979), test problems of MIEV0, six or seven digits as
/// printed there; typed from memory of the table and cross-checked, every one, against the
/// general Mie library miepython 3.3.0 (Python), which agrees within the last digit.
const WISCOMBE_1979: [(f64, f64, f64, f64, f64, f64); 17] = [
    (0.75, 0.0, 0.099, 7.417_859e-6, 7.417_859e-6, 0.001_448),
    (0.75, 0.0, 0.101, 8.033_538e-6, 8.033_538e-6, 0.001_507),
    (0.75, 0.0, 10.0, 2.232_265, 2.232_265, 0.896_473),
    (0.75, 0.0, 1000.0, 1.997_908, 1.997_908, 0.844_944),
    (1.5, 0.0, 10.0, 2.881_999, 2.881_999, 0.742_913),
    (1.5, 0.0, 100.0, 2.094_388, 2.094_388, 0.818_246),
    (1.5, 0.0, 1000.0, 2.013_945, 2.013_945, 0.827_882),
    (1.33, 1e-5, 1.0, 0.093_952_0, 0.093_923_3, 0.184_517),
    (1.33, 1e-5, 100.0, 2.101_321, 2.096_594, 0.868_959),
    (1.33, 1e-5, 10_000.0, 2.004_089, 1.723_857, 0.907_840),
    (1.5, 1.0, 0.055, 0.101_491, 1.131_687e-5, 0.000_491),
    (1.5, 1.0, 0.056, 0.103_347, 1.216_311e-5, 0.000_509),
    (1.5, 1.0, 1.0, 2.336_321, 0.663_454, 0.192_136),
    (1.5, 1.0, 100.0, 2.097_502, 1.283_697, 0.850_252),
    (1.5, 1.0, 10_000.0, 2.004_368, 1.236_574, 0.846_310),
    (10.0, 10.0, 1.0, 2.532_993, 2.049_405, -0.110_664),
    (10.0, 10.0, 10_000.0, 2.005_914, 1.795_393, 0.548_194),
];

#[test]
fn agrees_with_the_test_cases_of_wiscombe_1979() {
    // Half a unit in the sixth digit, when the digits begin with 1.
    const SIX_DIGITS: f64 = 5e-6;
    for (n, k, x, extinction, scattering, asymmetry) in WISCOMBE_1979 {
        let q = sphere(Complex64::new(n, k), x);
        assert_relative_eq!(
            q.extinction,
            extinction,
            max_relative = SIX_DIGITS,
            epsilon = 1e-12
        );
        assert_relative_eq!(
            q.scattering,
            scattering,
            max_relative = SIX_DIGITS,
            epsilon = 1e-12
        );
        assert_relative_eq!(q.asymmetry, asymmetry, max_relative = 0.0, epsilon = 1e-6);
    }
}

/// n, k, size parameter, Q_ext, Q_sca, g, in the range pigments live in.
/// Source: equations 4.53, 4.61 and 4.62 of Bohren & Huffman 1983 summed in 50-digit
/// arithmetic with the general library mpmath 1.3 (Python); twelve digits kept.
#[rustfmt::skip]
const FIFTY_DIGITS: [(f64, f64, f64, f64, f64, f64); 9] = [
    (1.04, 0.307, 0.0001, 8.21120829734e-5, 1.16564589879e-17, 1.5900776024e-9),
    (1.04, 0.307, 0.05, 0.0410620614306, 7.27890881632e-7, 0.000397565688082),
    (1.8, 0.3, 0.05, 0.0234585345626, 3.48709548352e-6, 0.000566749712026),
    (1.75, 0.0, 0.05, 2.76808694815e-6, 2.76808694815e-6, 0.000560426948561),
    (1.04, 0.307, 0.2, 0.164466120705, 0.000183598415063, 0.00637741212009),
    (2.2, 0.4, 1.5, 3.39232697387, 1.93673947024, 0.473558217492),
    (1.75, 1e-5, 2.0, 3.18402492203, 3.1839275193, 0.533175380943),
    (2.0, 0.001, 30.0, 2.23549669407, 2.11989578438, 0.705967152408),
    (1.02, 1e-6, 200.0, 1.6042776956, 1.60372310782, 0.996639265232),
];

#[test]
fn agrees_with_the_same_series_in_fifty_digits() {
    for (n, k, x, extinction, scattering, asymmetry) in FIFTY_DIGITS {
        let m = Complex64::new(n, k);
        let small = m.norm() * x < SMALL_SPHERE_LIMIT;
        let relative = if small { 5e-7 } else { 1e-10 };
        let q = sphere(m, x);
        assert_relative_eq!(
            q.extinction,
            extinction,
            max_relative = relative,
            epsilon = 0.0
        );
        assert_relative_eq!(
            q.scattering,
            scattering,
            max_relative = relative,
            epsilon = 0.0
        );
        assert_relative_eq!(
            q.asymmetry,
            asymmetry,
            max_relative = relative,
            epsilon = 0.0
        );
    }
}

/// A sphere of 0.525 µm radius and index 1.55 at 0.6328 µm.
/// Source: Bohren & Huffman 1983, appendix A, sample output: size parameter 5.213,
/// Q_sca = Q_ext = 3.10543 (from memory; miepython 3.3.0 gives the same).
#[test]
fn agrees_with_the_worked_example_of_bohren_and_huffman_1983() {
    const PRINTED_DIGITS: f64 = 1e-5;
    let x = std::f64::consts::TAU * 0.525 / 0.6328;
    let q = sphere(Complex64::new(1.55, 0.0), x);
    assert_relative_eq!(q.extinction, 3.10543, epsilon = PRINTED_DIGITS);
    assert_relative_eq!(q.scattering, 3.10543, epsilon = PRINTED_DIGITS);
    assert_relative_eq!(q.asymmetry, 0.63314, epsilon = PRINTED_DIGITS);
}
