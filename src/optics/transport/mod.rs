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
pub use slab::{Behind, Slab};
use tables::Tables;

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
/// alone, which are tabulated once for each refractive index. Films on films are added as matrices, some hundred
/// times slower. A bed is taken as a diffuse backing of its own reflectance, since scattering without end sends
/// back diffuse light.
///
/// Source: adding and doubling, H. C. van de Hulst (1980), Multiple Light Scattering, volume 1; the peak of
/// forward scattering cut, W. J. Wiscombe (1977), Journal of the Atmospheric Sciences 34, 1408–1422; the phase
/// function, L. G. Henyey, J. L. Greenstein (1941), Astrophysical Journal 93, 70–83.
///
/// Known limits: a smooth surface, one refractive index for all layers, no light lost at the edge of the
/// instrument's aperture, no fluorescence. Against 16 directions with each pigment's own asymmetry it errs by about
/// 0.03 ΔE00 on skin-like castings (this project's trial).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Transport;

/// Directions each way that the model follows, the beam among them: three that the surface reflects whole, two
/// that leave.
const FOLLOWED: usize = 6;
/// Those of them that the surface reflects whole.
const CAUGHT: usize = 3;

impl Transport {
    /// Mean cosine of scattering, taken for every pigment: pigments of a fraction of a micrometre have 0.5 to 0.8 by
    /// Mie's theory, and errors in it are nearly made up for by S, which counts what is scattered backward.
    pub const ASYMMETRY: f64 = 0.65;
}

/// What a film or a bed is to light of one wavelength: its optical depths.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Depths {
    /// Absorption coefficient µa times thickness.
    pub absorption: f64,
    /// Reduced scattering coefficient µs′ times thickness.
    pub scattering: f64,
}

impl Depths {
    fn of(layer: &Layer, place: usize) -> Self {
        let Coefficients { k, s } = &layer.coefficients;
        Self {
            absorption: k[place] / 2.0 * layer.thickness_mm,
            scattering: s[place] * 4.0 / 3.0 * layer.thickness_mm,
        }
    }
}

impl LayerModel for Transport {
    fn reading(&self, layers: &[Layer], beneath: &Beneath, surface: &Surface) -> Spectrum {
        let tables = tables(surface.n());
        let counted = surface.counted();
        Spectrum::from_fn(|place| {
            let behind = match beneath {
                Beneath::Backing(reflectance) => Ok(Behind::Bonded(reflectance[place])),
                Beneath::Laid(reflectance) => Ok(Behind::Laid(reflectance[place])),
                Beneath::Bed(Coefficients { k, s }) => {
                    Err(tables.bed(k[place] / 2.0, s[place] * 4.0 / 3.0))
                }
            };
            let body = match (layers, behind) {
                ([film], Ok(behind)) => tables.film(Depths::of(film, place), behind),
                (layers, behind) => {
                    let directions = tables.directions();
                    let behind =
                        behind.map_or_else(|bed| bed, |behind| directions.sent_back(behind));
                    let within = layers.iter().rev().fold(behind, |behind, layer| {
                        tables.slab(Depths::of(layer, place)).over(&behind)
                    });
                    directions.read(&within)
                }
            };
            counted + body
        })
    }

    /// 0.05 units each: against 16 directions and each pigment's own asymmetry, this project's trial.
    fn own_spread(&self) -> [f64; 3] {
        [0.05; 3]
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
