//! The layer model with directions: radiative transfer along a few angles, at the price of two fluxes.

mod bed;
mod directions;
mod film;
mod sheet;
mod slab;
mod spline;
mod tables;

use std::sync::{Arc, PoisonError, RwLock};

pub use directions::Directions;
pub use slab::{Behind, Depths, Slab};
use tables::Tables;

use super::layer::holds_foam;
use super::{Beneath, Coefficients, Layer, LayerModel, Surface};
use crate::colour::Spectrum;

/// Radiative transfer along five directions each way and the entering beam.
///
/// A casting is read by a beam that enters perpendicularly, is scattered forward (asymmetry
/// [`ASYMMETRY`](Self::ASYMMETRY) for every pigment), and is caught inside by the surface beyond the angle of
/// total reflection; two fluxes know none of this. K and S are those of [`KubelkaMunk`](super::KubelkaMunk),
/// µa = K/2 and µs′ = 4S/3, so that the same files serve both.
///
/// One film on a diffuse backing sends back α + β Rg / (1 − γ Rg), with α, β and γ functions of µa·d and µs′·d
/// alone. In a stack each film is a pair of matrices, what it sends back and what it lets pass, functions of the same two;
/// a bed is one matrix, a function of µa / µs′. All are tabulated once for each refractive index, when first asked
/// for, and agree with the matrices themselves within 1e-4 in R.
///
/// Cost: a film on a backing takes about twice as long as by two fluxes; on a bed it takes ten times as long as on a
/// backing, and each further film as much again (`cargo bench -- "a reading/"`). The tables take milliseconds to build; those of films laid dry
/// some ten.
///
/// Source: adding and doubling, H. C. van de Hulst (1980), Multiple Light Scattering, volume 1; the peak of
/// forward scattering cut, W. J. Wiscombe (1977), Journal of the Atmospheric Sciences 34, 1408–1422; the phase
/// function, L. G. Henyey, J. L. Greenstein (1941), Astrophysical Journal 93, 70–83.
///
/// Known limits: a smooth surface, one refractive index for all layers, no light lost at the edge of the
/// instrument's aperture, no fluorescence. That few directions are followed is worth 0.02 ΔE00 at most on painted parts
/// (`tests/layer_stacks.rs`) and 0.1 in L* on any one film. One asymmetry for every pigment is worth more: were all of a
/// painted part's 0.5 or 0.8, it would be 0.2 ΔE00 off, 0.5 at most. Several films laid dry on a backing, where the lower
/// surface has too few directions that leave, err by up to 0.4 in L* while they are nearly clear. A film of µs′·d
/// beyond 1024 is taken as no thicker.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Transport;

impl Transport {
    /// Mean cosine of scattering, taken for every pigment: pigments of a fraction of a micrometre have 0.5 to 0.8 by
    /// Mie's theory, and errors in it are mostly made up for by S, which counts what is scattered backward.
    pub const ASYMMETRY: f64 = directions::ASYMMETRY;
}

impl LayerModel for Transport {
    fn reading(&self, layers: &[Layer], beneath: &Beneath, surface: &Surface) -> Spectrum {
        let tables = tables(surface.n());
        let directions = tables.directions();
        let bed = match beneath {
            Beneath::Bed(medium) => Some(medium),
            Beneath::Backing(_) | Beneath::Laid(_) => None,
        };
        let top = layers.first().map(|layer| &layer.medium).or(bed);
        let top_wet = top.map_or(1.0, |medium| medium.wet_share);
        Spectrum::from_fn(|band| {
            let stack = |sent_back| {
                let bottom = (sent_back, bed.map_or(1.0, |medium| medium.wet_share));
                let (within, wet) = layers.iter().rev().fold(bottom, |(behind, wet), layer| {
                    let behind = if wet < 1.0 {
                        directions.behind_wall(&behind, wet)
                    } else {
                        behind
                    };
                    let slab = tables.slab(Depths::of(layer, band));
                    (slab.over(&behind), layer.medium.wet_share)
                });
                directions.read_open(&within, wet)
            };
            let on = |backing| match layers {
                [film] if !film.medium.is_open() => tables.film(Depths::of(film, band), backing),
                _ => stack(directions.sent_back(backing)),
            };
            let body = match beneath {
                Beneath::Backing(reflectance) => on(Behind::Bonded(reflectance[band])),
                Beneath::Laid(reflectance) => {
                    let depths = layers.iter().map(|layer| Depths::of(layer, band));
                    let depth = depths
                        .map(|depths| depths.extinction(Self::ASYMMETRY))
                        .sum();
                    on(Behind::Laid(reflectance[band])) - surface.unseen_below(depth)
                }
                Beneath::Bed(medium) => {
                    let Coefficients { k, s } = &medium.coefficients;
                    stack(tables.bed(k[band] / 2.0, s[band] * 4.0 / 3.0))
                }
            };
            surface.of_open_body(body, top_wet)
        })
    }

    /// 0.06 in L*, 0.05 in a* and b*: films of skin whose coefficients were fitted to chips, against 16 directions with each
    /// pigment's own asymmetry. Painted parts with coefficients that nobody fitted err by up to 0.12 where asymmetries run
    /// from 0.5 to 0.8; what is unknown of such coefficients is far more. By this project's own trials
    /// (`tests/layer_stacks.rs`), no published source.
    ///
    /// With a foam 0.5 in L*, 0.2 in a* and b*: a wall that is wet over a share and dry over the rest errs by up to 0.8 in L* against
    /// single rays, and by much the same in all bands (`tests/foam_trace.rs`).
    fn own_spread(&self, layers: &[Layer], beneath: &Beneath) -> [f64; 3] {
        if holds_foam(layers, beneath) {
            [0.5, 0.2, 0.2]
        } else {
            [0.06, 0.05, 0.05]
        }
    }
}

/// The tables for refractive index `n`, built when first asked for.
fn tables(n: f64) -> Arc<Tables> {
    static BUILT: RwLock<Vec<Arc<Tables>>> = RwLock::new(Vec::new());
    let of = |built: &[Arc<Tables>]| built.iter().find(|tables| tables.n() == n).cloned();
    // A thread that failed while it held the lock has left whole tables behind: they are pushed when built.
    let found = of(&BUILT.read().unwrap_or_else(PoisonError::into_inner));
    found.unwrap_or_else(|| {
        let mut built = BUILT.write().unwrap_or_else(PoisonError::into_inner);
        of(&built).unwrap_or_else(|| {
            let tables = Arc::new(Tables::new(n));
            built.push(Arc::clone(&tables));
            tables
        })
    })
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::optics::{Medium, Specular};

    /// Twice what the tables may err by, in R.
    const TOLERANCE: f64 = 2e-4;

    fn surface() -> Surface {
        Surface::new(1.5, Specular::Included).expect("1.5 is in range")
    }

    fn film(k: f64, s: f64, thickness_mm: f64) -> Layer {
        Layer {
            medium: Medium::solid(Coefficients {
                k: Spectrum::constant(k),
                s: Spectrum::constant(s),
            }),
            thickness_mm,
        }
    }

    #[test]
    fn a_film_of_no_thickness_changes_nothing() {
        for k in [0.0, 1e-3, 0.05, 1.0, 20.0, 1e4] {
            let Layer { medium, .. } = film(k, 1.0, 1.0);
            let backings = [0.0, 0.5, 1.0].map(Spectrum::constant);
            let beneaths = [Beneath::Bed(medium)]
                .into_iter()
                .chain(backings.map(Beneath::Backing));
            for beneath in beneaths {
                let read = |layers: &[Layer]| Transport.reading(layers, &beneath, &surface())[0];
                let bare = read(&[]);
                for layers in [&[film(2.0, 3.0, 0.0)][..], &[film(2.0, 3.0, 0.0); 3]] {
                    assert_abs_diff_eq!(read(layers), bare, epsilon = TOLERANCE);
                }
            }
        }
    }

    fn foam(k: f64, s: f64, wet_share: f64) -> Medium {
        Medium {
            wet_share,
            ..film(k, s, 1.0).medium
        }
    }

    #[test]
    fn foam_that_absorbs_nothing_loses_nothing() {
        for wet_share in [0.0, 0.2, 0.6] {
            for (k, at_least, at_most) in [(0.0, 0.98, 1.02), (0.05, 0.0, 0.8), (1.0, 0.0, 0.8)] {
                let bed = Beneath::Bed(foam(k, 1.0, wet_share));
                let bare = Transport.reading(&[], &bed, &surface())[0];
                assert!(
                    (at_least..=at_most).contains(&bare),
                    "{k}, {wet_share}: {bare}"
                );
            }
        }
    }

    #[test]
    fn a_thick_slice_of_foam_is_a_bed_of_it() {
        for (k, skin) in [(0.05, None), (0.05, Some(film(0.1, 0.2, 1.0))), (1.0, None)] {
            let medium = foam(k, 1.0, 0.2);
            let slice = Layer {
                medium,
                thickness_mm: 200.0,
            };
            let read = |layers: &[Layer], beneath| {
                let layers: Vec<Layer> = skin.iter().chain(layers).copied().collect();
                Transport.reading(&layers, &beneath, &surface())[0]
            };
            let card = Beneath::Backing(Spectrum::constant(0.5));
            let (bed, slice) = (read(&[], Beneath::Bed(medium)), read(&[slice], card));
            assert_abs_diff_eq!(slice, bed, epsilon = TOLERANCE);
        }
    }

    #[test]
    fn a_film_in_two_is_the_film_whole() {
        for (k, s) in [(0.0, 0.0), (0.1, 0.02), (0.01, 3.0), (2.0, 5.0)] {
            for card in [0.0, 0.3, 1.0] {
                let beneath = Beneath::Backing(Spectrum::constant(card));
                let read = |layers: &[Layer]| Transport.reading(layers, &beneath, &surface())[0];
                let halves = read(&[film(k, s, 0.7), film(k, s, 1.3)]);
                assert_abs_diff_eq!(halves, read(&[film(k, s, 2.0)]), epsilon = TOLERANCE);
            }
        }
    }

    #[test]
    fn a_film_on_a_bed_of_itself_is_the_bed() {
        for k in [1e-3, 0.05, 1.0, 20.0] {
            let skin = film(k, 1.0, 0.4);
            let beneath = Beneath::Bed(skin.medium);
            let read = |layers: &[Layer]| Transport.reading(layers, &beneath, &surface())[0];
            let bare = read(&[]);
            for layers in [&[skin][..], &[skin; 2]] {
                assert_abs_diff_eq!(read(layers), bare, epsilon = TOLERANCE);
            }
        }
    }
}
