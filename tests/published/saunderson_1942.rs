//! J. L. Saunderson (1942), Calculation of the color of pigmented plastics, Journal of the Optical Society of
//! America 32, 727–736; D. B. Judd (1942), Fresnel reflection of diffusely incident light, Journal of Research of
//! the National Bureau of Standards 29, 329–332.
//!
//! Tested: the correction there and back, with the specular light counted or not, and its constants at n = 1.5:
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

#[test]
fn the_correction_is_as_published() {
    let (k1, k2) = (
        surface(Specular::Included).k1(),
        surface(Specular::Included).k2(),
    );
    for within in [0.0, 0.2, 0.5, 0.9, 1.0] {
        let body = (1.0 - k1) * (1.0 - k2) * within / (1.0 - k2 * within);
        assert_agrees(
            "included",
            surface(Specular::Included).read(within),
            k1 + body,
            1e-12,
        );
        assert_agrees(
            "excluded",
            surface(Specular::Excluded).read(within),
            body,
            1e-12,
        );
    }
    assert_agrees(
        "a perfect white stays white",
        surface(Specular::Included).read(1.0),
        1.0,
        1e-12,
    );
}
