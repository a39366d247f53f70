//! P. Kubelka (1954), New contributions to the optics of intensely light-scattering materials, part II:
//! nonhomogeneous layers, Journal of the Optical Society of America 44, 330–335.
//!
//! Tested: R₁₂ = R₁ + T₁² R₂ / (1 − R₁ R₂) for unlike layers, two halves equal one whole, and a stack read by the
//! layer model. Tolerance 1e-12: both sides are closed forms.

use dropwise::colour::Spectrum;
use dropwise::optics::{
    Beneath, Coefficients, Film, KubelkaMunk, Layer, LayerModel, Medium, Specular, Surface,
};

use crate::assert_agrees;

const CLOSED_FORM: f64 = 1e-12;

const FILMS: [(f64, f64, f64); 5] = [
    (0.0, 2.0, 0.7),
    (0.4, 0.0, 1.0),
    (0.3, 1.5, 2.0),
    (6.0, 9.0, 0.2),
    (0.01, 30.0, 3.0),
];

#[test]
fn unlike_layers_join_by_their_reflectance_and_transmittance() {
    for (k, s, x) in FILMS {
        let top = Film::new(k, s, x);
        for (k, s, x) in FILMS {
            let under = Film::new(k, s, x).over(0.4);
            let published = top.reflectance()
                + top.transmittance().powi(2) * under / (1.0 - top.reflectance() * under);
            assert_agrees("R of a stack", top.over(under), published, CLOSED_FORM);
        }
    }
}

#[test]
fn two_half_layers_equal_one() {
    for (k, s, x) in FILMS {
        let half = Film::new(k, s, x / 2.0);
        for backing in [0.0, 0.35, 0.9] {
            let whole = Film::new(k, s, x).over(backing);
            assert_agrees(
                "half on half",
                half.over(half.over(backing)),
                whole,
                CLOSED_FORM,
            );
        }
    }
}

#[test]
fn the_model_reads_a_stack_from_the_top() {
    let layer = |(k, s, x): (f64, f64, f64)| Layer {
        medium: Medium::solid(Coefficients {
            k: Spectrum::constant(k),
            s: Spectrum::constant(s),
        }),
        thickness_mm: x,
    };
    let surface = Surface::new(1.5, Specular::Included).expect("in range");
    let backing = Beneath::Backing(Spectrum::constant(0.6));
    let [top, under, ..] = FILMS.map(layer);
    let read = KubelkaMunk.reading(&[top, under], &backing, &surface);
    let [(k, s, x), (k2, s2, x2), ..] = FILMS;
    let within = Film::new(k, s, x).over(Film::new(k2, s2, x2).over(0.6));
    assert_agrees("two layers", read[0], surface.read(within), CLOSED_FORM);
    let bare = KubelkaMunk.reading(&[], &backing, &surface);
    assert_agrees("no layer", bare[35], surface.read(0.6), CLOSED_FORM);
}
