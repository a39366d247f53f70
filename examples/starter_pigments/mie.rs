//! Light scattered and absorbed by one sphere: the series of Mie.
//!
//! Method: Bohren & Huffman, Absorption and Scattering of Light by Small Particles, Wiley 1983,
//! chapter 4 and appendix A, with the number of terms and the small-sphere limit of Wiscombe,
//! Mie Scattering Calculations, NCAR/TN-140+STR (1979), and Appl. Opt. 19, 1505–1509 (1980).
//! The logarithmic derivative runs downward, which is stable for every index; the Riccati–Bessel
//! functions of the real size parameter run upward, which is stable within the terms used.
//!
//! Cost: about |m| x complex steps a call. Limits: a homogeneous sphere in a medium that does not
//! absorb. Size parameters from 1e-4 to 1e4 have been compared with published values.

use num_complex::Complex64;

/// Below this |m| x the closed small-sphere form is used: the series would lose its digits.
/// Source: Wiscombe 1979, section on the small-particle limit.
const SMALL_SPHERE_LIMIT: f64 = 0.1;

/// What one sphere takes out of a beam, as ratios to its geometric cross-section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Efficiencies {
    /// Extinction: scattering and absorption together.
    pub(crate) extinction: f64,
    /// Scattering into all directions.
    pub(crate) scattering: f64,
    /// Mean cosine of the scattering angle, −1 to 1.
    pub(crate) asymmetry: f64,
}

impl Efficiencies {
    /// Absorption: what is taken out and not scattered.
    pub(crate) fn absorption(&self) -> f64 {
        self.extinction - self.scattering
    }

    /// Scattering that counts against diffuse light: Q_sca (1 − g).
    pub(crate) fn reduced_scattering(&self) -> f64 {
        self.scattering * (1.0 - self.asymmetry)
    }
}

/// The efficiencies of a sphere.
///
/// `relative_index` is the sphere's complex index over the medium's, n + ik with k ≥ 0 (absorbing);
/// `size_parameter` is π × diameter / wavelength in the medium, above 0.
///
/// # Panics
/// If the size parameter is not a finite number above 0.
///
/// Source: Bohren & Huffman 1983, equations 4.61, 4.62, 4.88 and 4.89; asymmetry, page 120.
pub(crate) fn sphere(relative_index: Complex64, size_parameter: f64) -> Efficiencies {
    assert!(
        size_parameter.is_finite() && size_parameter > 0.0,
        "size parameter is {size_parameter}; expected a finite number above 0"
    );
    if relative_index.norm() * size_parameter < SMALL_SPHERE_LIMIT {
        small_sphere(relative_index, size_parameter)
    } else {
        series(relative_index, size_parameter)
    }
}

/// The full series.
fn series(m: Complex64, x: f64) -> Efficiencies {
    let terms = term_count(x);
    let log_derivative = logarithmic_derivatives(m * x, terms);

    // ψ and χ of orders n − 1 and n − 2, begun at n = 1.
    let (mut psi_before, mut psi) = (x.cos(), x.sin());
    let (mut chi_before, mut chi) = (-x.sin(), x.cos());
    let (mut a_before, mut b_before) = (Complex64::ZERO, Complex64::ZERO);
    let (mut extinction, mut scattering, mut asymmetry) = (0.0, 0.0, 0.0);
    let mut n = 0.0;
    for d in log_derivative {
        n += 1.0;
        let psi_next = (2.0 * n - 1.0) * psi / x - psi_before;
        let chi_next = (2.0 * n - 1.0) * chi / x - chi_before;
        let xi = Complex64::new(psi, -chi);
        let xi_next = Complex64::new(psi_next, -chi_next);
        let electric = d / m + n / x;
        let magnetic = d * m + n / x;
        let a = (electric * psi_next - psi) / (electric * xi_next - xi);
        let b = (magnetic * psi_next - psi) / (magnetic * xi_next - xi);

        extinction += (2.0 * n + 1.0) * (a + b).re;
        scattering += (2.0 * n + 1.0) * (a.norm_sqr() + b.norm_sqr());
        asymmetry += (2.0 * n + 1.0) / (n * (n + 1.0)) * (a * b.conj()).re;
        // The term that joins order n − 1 to n; it is 0 at n = 1.
        asymmetry += (n * n - 1.0) / n * (a_before * a.conj() + b_before * b.conj()).re;

        (psi_before, psi) = (psi, psi_next);
        (chi_before, chi) = (chi, chi_next);
        (a_before, b_before) = (a, b);
    }
    Efficiencies {
        extinction: 2.0 * extinction / (x * x),
        scattering: 2.0 * scattering / (x * x),
        asymmetry: 2.0 * asymmetry / scattering,
    }
}

/// The first terms of the series in powers of x, right to about six digits for |m| x < 0.1.
///
/// Source: Wiscombe 1979, section on the small-particle limit.
fn small_sphere(m: Complex64, x: f64) -> Efficiencies {
    let i = Complex64::I;
    let (m2, x2) = (m * m, x * x);
    let contrast = m2 - 1.0;
    let denominator = m2 + 2.0 + (1.0 - 0.7 * m2) * x2
        - (8.0 * m2 * m2 - 385.0 * m2 + 350.0) * x2 * x2 / 1400.0
        - i * contrast * (2.0 / 3.0 * x * x2 * (1.0 - 0.1 * x2));
    let a1 = -i * contrast * (2.0 / 3.0) * (1.0 - 0.1 * x2 + (4.0 * m2 + 5.0) * x2 * x2 / 1400.0)
        / denominator;
    let b1 = -i * contrast * (x2 / 45.0) * (1.0 + (2.0 * m2 - 5.0) * x2 / 70.0)
        / (1.0 - (2.0 * m2 - 5.0) * x2 / 30.0);
    let a2 = -i * contrast * (x2 / 15.0) * (1.0 - x2 / 14.0)
        / (2.0 * m2 + 3.0 - (2.0 * m2 - 7.0) * x2 / 14.0);

    let power = a1.norm_sqr() + b1.norm_sqr() + 5.0 / 3.0 * a2.norm_sqr();
    let scattering = 6.0 * x2 * x2 * power;
    let extinction = if m.im == 0.0 {
        scattering
    } else {
        6.0 * x * (a1 + b1 + a2 * (5.0 / 3.0)).re
    };
    Efficiencies {
        extinction,
        scattering,
        asymmetry: (a1 * (a2 + b1).conj()).re / power,
    }
}

/// How many terms of the series count at a size parameter.
///
/// Source: Wiscombe 1980, Appl. Opt. 19, 1505–1509, the criterion for the number of terms.
fn term_count(x: f64) -> usize {
    let terms = if x <= 8.0 {
        x + 4.0 * x.cbrt() + 1.0
    } else if x < 4200.0 {
        x + 4.05 * x.cbrt() + 2.0
    } else {
        x + 4.0 * x.cbrt() + 2.0
    };
    whole(terms)
}

/// D_n(z) = ψ_n′(z) / ψ_n(z) for n = 1 to `terms`.
///
/// The recurrence forgets where it began only above n = |z|, so it begins well above: eight
/// widths of the turning point, |z|^(1/3) each, bring the error of the start below 1e-16.
///
/// Source: Bohren & Huffman 1983, equation 4.89.
fn logarithmic_derivatives(z: Complex64, terms: usize) -> Vec<Complex64> {
    let start = whole(z.norm() + 8.0 * z.norm().cbrt()).max(terms) + 16;
    let mut derivatives = vec![Complex64::ZERO; terms];
    let mut derivative = (start + 1) as f64 / z;
    for n in (1..=start).rev() {
        let ratio = (n + 1) as f64 / z;
        derivative = ratio - 1.0 / (derivative + ratio);
        if let Some(slot) = derivatives.get_mut(n - 1) {
            *slot = derivative;
        }
    }
    derivatives
}

/// A count of terms, rounded up.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "counts of terms are above 0 and far below 2^53; the cast saturates otherwise"
)]
fn whole(count: f64) -> usize {
    count.ceil() as usize
}

#[cfg(test)]
mod published;

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Source: Bohren & Huffman 1983, equations 5.7 and 5.8 (Rayleigh).
    #[test]
    fn a_tiny_sphere_scatters_as_rayleigh_found() {
        for m in [
            Complex64::new(1.5, 0.0),
            Complex64::new(1.8, 0.3),
            Complex64::new(1.04, 0.307),
        ] {
            for x in [1e-4, 1e-3, 3e-3] {
                let polarisability = (m * m - 1.0) / (m * m + 2.0);
                let q = sphere(m, x);
                let scattering = 8.0 / 3.0 * x.powi(4) * polarisability.norm_sqr();
                assert_relative_eq!(q.scattering, scattering, max_relative = 1e-4);
                if m.im > 0.0 {
                    let absorption = 4.0 * x * polarisability.im;
                    assert_relative_eq!(q.absorption(), absorption, max_relative = 1e-4);
                }
            }
        }
    }

    #[test]
    fn the_small_sphere_form_meets_the_series_where_one_hands_over_to_the_other() {
        for m in [
            Complex64::new(1.4, 0.0),
            Complex64::new(2.1, 0.4),
            Complex64::new(1.04, 0.3),
        ] {
            let x = SMALL_SPHERE_LIMIT / m.norm();
            let (small, full) = (small_sphere(m, x), series(m, x));
            assert_relative_eq!(small.extinction, full.extinction, max_relative = 1e-6);
            assert_relative_eq!(small.scattering, full.scattering, max_relative = 1e-6);
            assert_relative_eq!(small.asymmetry, full.asymmetry, max_relative = 1e-4);
        }
    }

    #[test]
    fn a_clear_sphere_absorbs_nothing_and_an_absorbing_one_never_shines() {
        for x in [1e-4, 0.03, 0.7, 4.0, 31.0, 500.0, 3000.0] {
            let clear = sphere(Complex64::new(1.8, 0.0), x);
            assert_relative_eq!(clear.absorption() / clear.extinction, 0.0, epsilon = 1e-9);
            for k in [1e-4, 0.02, 0.5, 2.0] {
                let q = sphere(Complex64::new(1.8, k), x);
                assert!(
                    q.absorption() > 0.0,
                    "absorption {} at x = {x}, k = {k}",
                    q.absorption()
                );
                assert!(
                    q.scattering > 0.0,
                    "scattering {} at x = {x}, k = {k}",
                    q.scattering
                );
                assert!(
                    q.asymmetry.abs() <= 1.0,
                    "g {} at x = {x}, k = {k}",
                    q.asymmetry
                );
            }
        }
    }

    /// The extinction paradox: a large sphere removes twice the light that falls on it.
    /// Source: van de Hulst, Light Scattering by Small Particles, 1957, section 8.22; the edge
    /// term 1.99 x^(−2/3) is of Nussenzveig and Wiscombe, Phys. Rev. Lett. 45, 1490 (1980).
    #[test]
    fn a_large_sphere_removes_twice_its_shadow() {
        for x in [300.0, 3000.0, 10_000.0] {
            let q = sphere(Complex64::new(1.5, 0.5), x);
            let edge = 1.992_386_1 * f64::powf(x, -2.0 / 3.0);
            assert_relative_eq!(q.extinction, 2.0 + edge, epsilon = 2e-3);
        }
    }
}
