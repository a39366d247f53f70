//! J. L. Saunderson (1942), Calculation of the color of pigmented plastics, Journal of the Optical Society of
//! America 32, 727–736; D. B. Judd (1942), Fresnel reflection of diffusely incident light, Journal of Research of
//! the National Bureau of Standards 29, 329–332.
//!
//! Tested: the correction there and back, and against numbers worked out by hand from the published formula and
//! constants, with the specular light counted or not; and those constants at n = 1.5:
//! k1 = 0.04 by Fresnel, k2 = 0.596 and 0.0918 from outside by Judd's table. Those last two are from memory, to
//! the digits given; the tolerance is half of the last digit.

use dropwise::optics::{
    Specular, Surface, diffuse_reflectance_from_outside, diffuse_reflectance_from_within,
};

use crate::assert_agrees;

fn surface(specular: Specular) -> Surface {
    Surface::new(1.5, specular).expect("1.5 is in range")
}

#[test]
fn the_constants_at_an_index_of_1_5() {
    let surface = surface(Specular::Included);
    assert_agrees("k1", surface.k1(), 0.04, 1e-12);
    assert_agrees("k2", surface.k2(), 0.596, 5e-4);
    assert_agrees(
        "diffuse, from outside",
        diffuse_reflectance_from_outside(1.5),
        0.0918,
        5e-5,
    );
    assert_agrees(
        "diffuse, from within",
        diffuse_reflectance_from_within(1.5),
        surface.k2(),
        1e-15,
    );
}

#[test]
fn the_correction_goes_there_and_back() {
    for specular in [Specular::Included, Specular::Excluded] {
        let surface = surface(specular);
        for percent in 0..=100 {
            let within = f64::from(percent) / 100.0;
            assert_agrees(
                "there and back",
                surface.unread(surface.read(within)),
                within,
                1e-12,
            );
        }
    }
}

/// What a diffuse reflectance within reads without the specular light, by hand arithmetic, not a published example:
/// Saunderson's formula, (1 − k1)(1 − k2) R / (1 − k2 R), with k1 = 0.04 and k2 = 0.596 as published. So at 0.5:
/// 0.96 · 0.404 · 0.5 = 0.19392, and 0.19392 / (1 − 0.298) = 0.2762.
const READS: [(f64, f64); 6] = [
    (0.0, 0.0),
    (0.2, 0.0881),
    (0.5, 0.2762),
    (0.8, 0.5930),
    (0.9, 0.7529),
    (1.0, 0.96),
];

/// A reading changes by at most 0.6 of what k2 changes by, and k2 is rounded to half of its last digit, 0.0005; half of
/// a digit of the readings is added.
const BY_ROUNDING: f64 = 0.6 * 0.0005 + 0.000_05;

#[test]
fn the_correction_comes_to_the_numbers_of_the_published_constants() {
    let (included, excluded) = (surface(Specular::Included), surface(Specular::Excluded));
    for (within, body) in READS {
        assert_agrees("excluded", excluded.read(within), body, BY_ROUNDING);
        // Counted, the specular light adds k1.
        assert_agrees("included", included.read(within), 0.04 + body, BY_ROUNDING);
    }
    assert_agrees(
        "a perfect white stays white",
        included.read(1.0),
        1.0,
        1e-12,
    );
}
