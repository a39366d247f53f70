//! The two-flux layer model of Kubelka and Munk.

use super::layer::holds_foam;
use super::{Beneath, Coefficients, Layer, LayerModel, Surface};
use crate::colour::Spectrum;

/// Two diffuse fluxes, one down and one up, and Saunderson's correction for the surface.
///
/// Source: P. Kubelka (1948), Journal of the Optical Society of America 38, 448–457; for layers on layers,
/// P. Kubelka (1954), the same journal 44, 330–335.
///
/// Known limit: light enters a casting as a beam, not diffuse, and is partly caught inside by the surface.
/// Against radiative transfer on skin-like mixtures the model errs by about 3 ΔE00 with true coefficients,
/// and by about 1 with coefficients fitted to tints like those in use. It knows no beam that the lower surface of a film laid
/// dry could mirror, and counts that light under every convention. For the same reason a foam is taken as solid all over its face,
/// whatever share of that is: behind gas, two fluxes would have a skin mirror 0.6 of all light.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct KubelkaMunk;

impl LayerModel for KubelkaMunk {
    fn reading(&self, layers: &[Layer], beneath: &Beneath, surface: &Surface) -> Spectrum {
        Spectrum::from_fn(|band| {
            let under = match beneath {
                Beneath::Backing(reflectance) => reflectance[band],
                Beneath::Laid(reflectance) => surface.over_air_gap(reflectance[band]),
                Beneath::Bed(medium) => {
                    let Coefficients { k, s } = &medium.coefficients;
                    thick_reflectance(k[band], s[band])
                }
            };
            let within = layers.iter().rev().fold(under, |behind, layer| {
                let Coefficients { k, s } = &layer.medium.coefficients;
                Film::new(k[band], s[band], layer.thickness_mm).over(behind)
            });
            surface.read(within)
        })
    }

    /// 2 units each: against adding–doubling on tints in a 2 mm clear skin over white and over a flesh-coloured
    /// backing, this project's trial, no published source. Twice that with a foam, which it takes as solid all over: that alone is worth
    /// up to 7 in L* (`tests/foam_trace.rs`).
    fn own_spread(&self, layers: &[Layer], beneath: &Beneath) -> [f64; 3] {
        if holds_foam(layers, beneath) {
            [4.0; 3]
        } else {
            [2.0; 3]
        }
    }
}

/// A film at one wavelength, solved for diffuse light.
///
/// With γ = √(K (K + 2S)) the hyperbolic solution over a backing Rg is
/// R = (Rg γ cosh γx + (S − Rg (K + S)) sinh γx) / (γ cosh γx + (K + S − Rg S) sinh γx). Held here is each
/// term times 2 e^(−γx) / γ, so that nothing overflows in thick films and nothing is 0/0 where K, S or x
/// vanishes.
///
/// Source: P. Kubelka (1948), Journal of the Optical Society of America 38, 448–457.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Film {
    absorption_and_scattering: f64,
    scattering: f64,
    cosh: f64,
    sinh: f64,
    fade: f64,
}

impl Film {
    /// The film of absorption `k` and scattering `s` (mm⁻¹, not negative), `thickness_mm` thick.
    pub fn new(k: f64, s: f64, thickness_mm: f64) -> Self {
        let path = (k * (k + 2.0 * s)).sqrt() * thickness_mm;
        let fade = (-path).exp();
        let cosh = 1.0 + fade * fade;
        let sinh = 2.0 * thickness_mm * decay_share(2.0 * path);
        Self {
            absorption_and_scattering: k + s,
            scattering: s,
            cosh,
            sinh,
            fade,
        }
    }

    /// Diffuse reflectance over black, 0–1.
    pub fn reflectance(&self) -> f64 {
        self.over(0.0)
    }

    /// Diffuse transmittance, 0–1.
    pub fn transmittance(&self) -> f64 {
        2.0 * self.fade / (self.cosh + self.absorption_and_scattering * self.sinh)
    }

    /// Diffuse reflectance over a bonded backing of reflectance `behind` (0–1); the backing may be what
    /// another film over something else sends back, and so layers stack.
    pub fn over(&self, behind: f64) -> f64 {
        let Self {
            absorption_and_scattering: both,
            scattering: s,
            cosh,
            sinh,
            ..
        } = *self;
        (behind * cosh + (s - behind * both) * sinh) / (cosh + (both - behind * s) * sinh)
    }
}

/// (1 − e^(−z)) / z, which is 1 at z = 0.
fn decay_share(z: f64) -> f64 {
    // Below this, the next term of the series, z²/6, is under rounding.
    if z < 1e-8 {
        1.0 - z / 2.0
    } else {
        -(-z).exp_m1() / z
    }
}

/// Diffuse reflectance of an infinitely thick film: 1 + K/S − √((K/S)² + 2K/S), 0 where nothing scatters.
///
/// Written as S / (K + S + √(K (K + 2S))), which does not cancel.
///
/// Source: P. Kubelka and F. Munk (1931), Zeitschrift für technische Physik 12, 593–601.
pub fn thick_reflectance(k: f64, s: f64) -> f64 {
    if s > 0.0 {
        s / (k + s + (k * (k + 2.0 * s)).sqrt())
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    /// K, S (mm⁻¹) and thickness (mm) over the whole range of use.
    fn films() -> impl Iterator<Item = (f64, f64, f64)> {
        let values = [0.0, 1e-12, 1e-6, 1e-3, 0.1, 1.0, 30.0, 1000.0];
        let thicknesses = [0.0, 1e-6, 0.01, 1.0, 50.0];
        values.into_iter().flat_map(move |k| {
            values
                .into_iter()
                .flat_map(move |s| thicknesses.into_iter().map(move |x| (k, s, x)))
        })
    }

    #[test]
    fn two_fluxes_are_stated_less_sure_than_light_that_is_followed_along_directions() {
        let card = Beneath::Backing(Spectrum::constant(0.5));
        let [two_fluxes, directions] = [
            KubelkaMunk.own_spread(&[], &card),
            crate::optics::Transport.own_spread(&[], &card),
        ];
        for (axis, (two_fluxes, directions)) in two_fluxes.iter().zip(directions).enumerate() {
            assert!(
                *two_fluxes > 20.0 * directions,
                "{axis}: {two_fluxes} {directions}"
            );
        }
    }

    #[test]
    fn no_film_sends_out_more_than_comes_in() {
        for (k, s, x) in films() {
            let film = Film::new(k, s, x);
            let (r, t) = (film.reflectance(), film.transmittance());
            assert!(
                (0.0..=1.0).contains(&r) && (0.0..=1.0).contains(&t),
                "{k} {s} {x}: {film:?}"
            );
            assert!(r + t <= 1.0 + 1e-12, "{k} {s} {x}: {film:?}");
            assert!(
                (0.0..=1.0 + 1e-12).contains(&film.over(1.0)),
                "{k} {s} {x}: {film:?}"
            );
        }
    }

    #[test]
    fn a_film_that_absorbs_nothing_loses_nothing() {
        for (_, s, x) in films() {
            let film = Film::new(0.0, s, x);
            assert_abs_diff_eq!(film.reflectance(), s * x / (1.0 + s * x), epsilon = 1e-12);
            assert_abs_diff_eq!(
                film.reflectance() + film.transmittance(),
                1.0,
                epsilon = 1e-12
            );
        }
    }

    #[test]
    fn a_film_that_scatters_nothing_follows_bouguer() {
        for (k, _, x) in films() {
            let film = Film::new(k, 0.0, x);
            assert_abs_diff_eq!(film.reflectance(), 0.0, epsilon = 1e-12);
            assert_abs_diff_eq!(film.transmittance(), (-k * x).exp(), epsilon = 1e-12);
        }
    }

    #[test]
    fn the_order_of_unlike_layers_matters_and_the_top_one_leads() {
        let (white, black) = (Film::new(0.01, 20.0, 1.0), Film::new(5.0, 0.1, 1.0));
        assert!(white.over(black.over(0.5)) > 0.5, "white on top is light");
        assert!(black.over(white.over(0.5)) < 0.05, "black on top is dark");
    }

    #[test]
    fn a_film_that_hardly_absorbs_is_one_that_does_not() {
        for k in [1e-17, 1e-18, 1e-20] {
            let (film, clear) = (Film::new(k, 1.0, 2.0), Film::new(0.0, 1.0, 2.0));
            assert_abs_diff_eq!(film.over(0.3), clear.over(0.3), epsilon = 1e-12);
            assert_abs_diff_eq!(film.transmittance(), clear.transmittance(), epsilon = 1e-8);
        }
    }
}
