//! Skin on foam against single rays.
//!
//! `foam_trace.csv` holds what a geometric ray trace reads of gas spheres thrown at random into a medium of n = 1.5: gas of
//! 0.67 and 0.83 of the volume, the solid absorbing more and more (per radius of a sphere), behind a moulded face that is bare or
//! has a skin on it, clear or absorbing (optical depth straight through). It is printed by
//! `cargo run --release --example foam_trace -- 40000`, shares nothing with the library, and is checked at its own limits by
//! `cargo test --example foam_trace`. What is mirrored at the top counts.
//!
//! A book knows a foam by what it reads bare: so K by S is fitted to the bare face, and the skins on it are predicted.

use dropwise::colour::Spectrum;
use dropwise::optics::{
    Beneath, Coefficients, Foam, Layer, LayerModel, Medium, Specular, Surface, Transport,
};

const TRACED: &str = include_str!("foam_trace.csv");

/// How far a skin may be predicted from the trace, L*.
const NEAR: f64 = 2.5;

/// One foam as it was traced: its gas, what it read bare, and under skins of these depths.
struct Case {
    gas: f64,
    solid_absorption: f64,
    bare: f64,
    covered: Vec<(f64, f64)>,
}

fn cases() -> Vec<Case> {
    let mut cases: Vec<Case> = Vec::new();
    for row in TRACED.lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let number = |at: usize| -> f64 { cells[at].parse().expect("a number") };
        if cells[2].is_empty() {
            cases.push(Case {
                gas: number(0),
                solid_absorption: number(1),
                bare: number(3),
                covered: Vec::new(),
            });
        } else {
            let case = cases.last_mut().expect("the bare face comes first");
            case.covered.push((number(2), number(3)));
        }
    }
    cases
}

/// CIE 1976 lightness of a grey.
fn lightness(reflectance: f64) -> f64 {
    116.0 * reflectance.cbrt() - 16.0
}

fn grey(k: f64, s: f64) -> Coefficients {
    Coefficients {
        k: Spectrum::constant(k),
        s: Spectrum::constant(s),
    }
}

fn foam_bed(ratio: f64, wet_share: f64) -> Beneath {
    Beneath::Bed(Medium {
        coefficients: grey(ratio, 1.0),
        wet_share,
    })
}

fn read(ratio: f64, wet_share: f64, skin: Option<f64>) -> f64 {
    let surface = Surface::new(1.5, Specular::Included).expect("in range");
    let beneath = foam_bed(ratio, wet_share);
    // K is twice the absorption coefficient of a layer 1 mm thick.
    let skin = skin.map(|depth| Layer {
        medium: Medium::solid(grey(2.0 * depth, 0.0)),
        thickness_mm: 1.0,
    });
    Transport.reading(skin.as_slice(), &beneath, &surface)[0]
}

/// L* under a skin of this depth of the foam that reads `bare`, behind a wall of which this share is wet.
fn under_skin(bare: f64, wet_share: f64, depth: f64) -> f64 {
    let (mut low, mut high) = (1e-8_f64, 1e4_f64);
    for _ in 0..60 {
        let middle = (low * high).sqrt();
        if read(middle, wet_share, None) > bare {
            low = middle;
        } else {
            high = middle;
        }
    }
    lightness(read(low, wet_share, Some(depth)))
}

#[test]
fn a_skin_on_foam_looks_as_single_rays_have_it() {
    let mut far = Vec::new();
    for case in cases() {
        let Case {
            gas,
            solid_absorption,
            bare,
            covered,
        } = case;
        let foam = Foam::new(1.0 / (1.0 - gas), None);
        for (depth, traced) in covered {
            let wet = |sds: f64| {
                let wet = foam.shifted(0.0, 0.0, sds * foam.wet_ln_sd).wet_share;
                under_skin(bare, wet, depth)
            };
            let (predicted, traced) = (wet(0.0), lightness(traced));
            let by_wet_share = (wet(1.0) - wet(-1.0)).abs() / 2.0;
            let [own, ..] = Transport.own_spread(&[], &foam_bed(1.0, foam.wet_share));
            let sd = by_wet_share.hypot(own);
            let miss = predicted - traced;
            if miss.abs() >= NEAR || miss.abs() >= 1.96 * sd {
                far.push(format!(
                    "gas {gas}, absorbing {solid_absorption}, under {depth}: L* {predicted:.2} ± {sd:.2}, traced {traced:.2}"
                ));
            }
        }
    }
    assert!(far.is_empty(), "{far:#?}");
}
