//! P. Kubelka and F. Munk (1931), Ein Beitrag zur Optik der Farbanstriche, Zeitschrift für technische Physik
//! 12, 593–601; P. Kubelka (1948), New contributions to the optics of intensely light-scattering materials,
//! part I, Journal of the Optical Society of America 38, 448–457.
//!
//! Tested: the reflectance of a thick film, the hyperbolic solution in its published form and at its limits, and
//! the differential equation that it solves, integrated here step by step. Tolerance 1e-12 where both sides are
//! closed forms; 1e-9 against the integration, which is the step's own error.

use dropwise::optics::{Film, thick_reflectance};

use crate::assert_agrees;

const CLOSED_FORM: f64 = 1e-12;

/// K and S in mm⁻¹, thickness in mm, backing.
fn cases() -> impl Iterator<Item = (f64, f64, f64, f64)> {
    let of = |values: &'static [f64]| values.iter().copied();
    of(&[1e-3, 0.05, 0.7, 4.0]).flat_map(move |k| {
        of(&[1e-3, 0.3, 2.0, 9.0]).flat_map(move |s| {
            of(&[0.05, 0.8, 3.0])
                .flat_map(move |x| of(&[0.0, 0.3, 1.0]).map(move |rg| (k, s, x, rg)))
        })
    })
}

#[test]
fn a_thick_film_reflects_by_the_ratio_of_k_to_s() {
    for ratio in [1e-6, 0.01, 0.2, 1.0, 30.0] {
        let published = 1.0 + ratio - f64::sqrt(ratio * ratio + 2.0 * ratio);
        for s in [0.1, 3.0] {
            assert_agrees(
                "R∞",
                thick_reflectance(ratio * s, s),
                published,
                CLOSED_FORM,
            );
            let film = Film::new(ratio * s, s, 1e9);
            assert_agrees("a very thick film", film.over(0.7), published, CLOSED_FORM);
        }
        // The inverse: K/S = (1 − R∞)² / 2R∞.
        let back = (1.0 - published).powi(2) / (2.0 * published);
        assert_agrees("K/S from R∞, relative", back / ratio, 1.0, 1e-6);
    }
}

#[test]
fn a_film_over_a_backing_is_the_hyperbolic_solution() {
    for (k, s, x, rg) in cases() {
        let a = (s + k) / s;
        let b = (a * a - 1.0).sqrt();
        let coth = 1.0 / (b * s * x).tanh();
        let published = (1.0 - rg * (a - b * coth)) / (a - rg + b * coth);
        assert_agrees(
            "R over Rg",
            Film::new(k, s, x).over(rg),
            published,
            CLOSED_FORM,
        );
        let transmittance = b / (a * (b * s * x).sinh() + b * (b * s * x).cosh());
        assert_agrees(
            "T",
            Film::new(k, s, x).transmittance(),
            transmittance,
            CLOSED_FORM,
        );
    }
}

#[test]
fn the_solution_is_that_of_the_differential_equation() {
    // dR/dx = S − 2 (K + S) R + S R², from R = Rg at x = 0.
    for (k, s, x, rg) in cases() {
        let slope = |r: f64| s - 2.0 * (k + s) * r + s * r * r;
        let steps = 4000;
        let h = x / f64::from(steps);
        let mut r = rg;
        for _ in 0..steps {
            let first = slope(r);
            let second = slope(r + h * first / 2.0);
            let third = slope(r + h * second / 2.0);
            let fourth = slope(r + h * third);
            r += h * (first + 2.0 * second + 2.0 * third + fourth) / 6.0;
        }
        assert_agrees("R by small steps", Film::new(k, s, x).over(rg), r, 1e-9);
    }
}

#[test]
fn a_film_at_its_limits() {
    for (k, s, x, rg) in cases() {
        assert_agrees(
            "no thickness",
            Film::new(k, s, 0.0).over(rg),
            rg,
            CLOSED_FORM,
        );
        let clear = Film::new(k, 0.0, x).over(rg);
        assert_agrees(
            "S = 0: Bouguer there and back",
            clear,
            rg * (-2.0 * k * x).exp(),
            CLOSED_FORM,
        );
        let white = Film::new(0.0, s, x).over(rg);
        let published = ((1.0 - rg) * s * x + rg) / ((1.0 - rg) * s * x + 1.0);
        assert_agrees("K = 0", white, published, CLOSED_FORM);
        // Approached, not only at zero: the formula must not lose digits on the way.
        let nearly = Film::new(1e-13, s, x).over(rg);
        assert_agrees("K nearly 0", nearly, published, 1e-10);
    }
}
