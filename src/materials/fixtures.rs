//! A small shelf with simple curves, for the tests of the rooms above.

use super::{
    Backing, Base, BaseKind, Build, CoefficientSpread, Contact, CurveSource, Grams, Millimetres,
    MixRatio, Pigment, Poured, RatioBy, Settings, Shelf, Underlay,
};
use crate::colour::{Spectrum, Viewing};
use crate::optics::{Coefficients, Foam, Model, Specular, Surface};

/// Bases `skin` (1:1), `foam` (50 A to 100 B) and `paint`; pigments `red`, `white`, and `fibre`, which is weighed.
pub(crate) fn shelf() -> Shelf {
    let curve = |k: f64, s: f64| Coefficients {
        k: Spectrum::from_fn(|band| k / (1.0 + 0.1 * band as f64)),
        s: Spectrum::constant(s),
    };
    let base = |name: &str, kind, part_a, part_b| Base {
        name: name.to_owned(),
        kind,
        density_g_ml: 1.0,
        ratio: MixRatio {
            part_a,
            part_b,
            by: RatioBy::Mass,
        },
        pot_life_min: Some(4.0),
        gel_min: None,
        demold_min: Some(60.0),
        coefficients: curve(0.02, 0.01),
        spread: CoefficientSpread::NONE,
    };
    let pigment = |name: &str, drop_mass, k, s| Pigment {
        name: name.to_owned(),
        drop_mass,
        drop_mass_sd: None,
        max_fraction: 0.1,
        lot: String::new(),
        lot_of: String::new(),
        like: String::new(),
        curve_source: CurveSource::Read,
        ingredients: Vec::new(),
        coefficients: curve(k, s),
        spread: CoefficientSpread {
            k_sd: Spectrum::constant(0.3),
            s_sd: Spectrum::constant(0.3),
        },
    };
    let card = |name: &str, r| Backing {
        name: name.to_owned(),
        reflectance: Spectrum::constant(r),
    };
    Shelf {
        settings: Settings {
            name: "a test".to_owned(),
            viewing: Viewing::D65_10,
            model: Model::KubelkaMunk,
            surface: Surface::new(1.5, Specular::Included).expect("1.5 is in range"),
            drop_sd: 0.08,
            thickness_sd: Millimetres(0.1),
            scale_resolution: Grams(0.01),
        },
        bases: vec![
            base("skin", BaseKind::Skin, 1.0, 1.0),
            base(
                "foam",
                BaseKind::Foam(Foam::new(6.0, Some(0.4))),
                50.0,
                100.0,
            ),
            base("paint", BaseKind::Paint { solids: 0.35 }, 1.0, 0.0),
        ],
        pigments: vec![
            pigment("red", Some(Grams(0.03)), 4000.0, 300.0),
            pigment("white", Some(Grams(0.04)), 5.0, 2000.0),
            pigment("fibre", None, 0.1, 20.0),
        ],
        let_downs: Vec::new(),
        carriers: Vec::new(),
        stocks: Vec::new(),
        joint_directions: Vec::new(),
        left_over: None,
        backings: vec![card(Shelf::WHITE_CARD, 0.9), card(Shelf::BLACK_CARD, 0.04)],
    }
}

/// A chip of `mix` in 100 g of `skin`, 2 mm thick, wetted to the white card.
pub(crate) fn chip(mix: &str) -> Build {
    Build {
        skin: Poured {
            base: "skin".to_owned(),
            base_mass: Grams(100.0),
            mix: mix.parse().expect(mix),
        },
        thickness: Millimetres(2.0),
        beneath: Underlay::Backing {
            name: Shelf::WHITE_CARD.to_owned(),
            contact: Contact::Bonded,
        },
        paint: None,
    }
}
