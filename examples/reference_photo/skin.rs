//! Invented spectra of skin, nail, wood and card.
//!
//! Skin is a clear film with melanin over a thick scattering layer with blood: the shapes are those of
//! living skin (melanin falls off steeply from the blue, blood has its bands near 415, 542 and 576 nm,
//! scattering fades to the red), the sizes are invented for this picture and measured on nobody.

use dropwise::colour::Spectrum;
use dropwise::optics::{Film, thick_reflectance};

/// What the skin holds at a spot, relative to the base tone, where each is 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Skin {
    pub(crate) melanin: f64,
    pub(crate) blood: f64,
}

impl Skin {
    /// The tone of most of the arm.
    pub(crate) const BASE: Self = Self {
        melanin: 1.0,
        blood: 1.0,
    };
    /// Over wrist, knuckles and elbow.
    pub(crate) const FLUSH: Self = Self {
        melanin: 1.1,
        blood: 2.2,
    };

    /// Reflectance without gloss, 0–1.
    pub(crate) fn reflectance(self) -> Spectrum {
        self.over(0.0)
    }

    /// Reflectance above a vein, whose blood takes light that got deep: most of it red.
    pub(crate) fn above_vein(self) -> Spectrum {
        self.over(0.045)
    }

    /// Reflectance with a grey absorption `deep` (mm⁻¹) added below.
    fn over(self, deep: f64) -> Spectrum {
        at_each_wavelength(|nm| {
            let scattering = 4.0 * (nm / 500.0).powf(-1.2);
            let absorption = 0.17 + deep + 1.35 * self.blood * blood_bands(nm);
            let film = 0.125 * self.melanin * (nm / 550.0).powf(-3.0);
            Film::new(film, 0.0, 1.0).over(thick_reflectance(absorption, scattering))
        })
    }
}

/// Finger and thumb nails.
pub(crate) fn nail() -> Spectrum {
    let below = Skin {
        melanin: 0.55,
        blood: 1.7,
    };
    below.reflectance().map(|value| 0.08 + 0.92 * value)
}

/// Oiled wood, from its dark pores (`light` 0) to its pale rays (`light` 1).
pub(crate) fn wood(light: f64) -> Spectrum {
    at_each_wavelength(|nm| {
        let rise = 1.0 / (1.0 + (-(nm - 590.0) / 62.0).exp());
        (0.026 + 0.105 * light) + (0.03 + 0.15 * light) * rise
    })
}

/// The grey card: matt, 18 % at every wavelength, which is L* 49.5.
pub(crate) fn grey_card() -> Spectrum {
    Spectrum::constant(0.18)
}

/// Absorption of blood with most of its oxygen, about 1 at 542 nm.
fn blood_bands(nm: f64) -> f64 {
    let bell = |centre: f64, width: f64| (-0.5 * ((nm - centre) / width).powi(2)).exp();
    let green_side = 1.0 / (1.0 + ((nm - 588.0) / 5.0).exp());
    2.0 * bell(415.0, 22.0) + 0.50 * bell(542.0, 13.0) + 0.60 * bell(576.0, 9.0) + 0.55 * green_side
}

fn at_each_wavelength(value: impl Fn(f64) -> f64) -> Spectrum {
    Spectrum::from_fn(|place| value(Spectrum::wavelength_nm(place)))
}
