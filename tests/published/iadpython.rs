//! iadpython 0.5.3 (MIT), a general-purpose Python library of radiative transfer by adding and doubling: what slabs
//! between two air surfaces reflect and let pass.
//!
//! iadpython.csv is written by iadpython.py beside it, of slabs without glass plates: n = 1, 1.335 and 1.5,
//! asymmetry 0 to 0.9, albedo 0.1 to 1. Tested: `Directions` with many directions, and `Transport` as it is used, with few
//! directions and its tables. Neither is asked what passes; it shows in a slab laid on a card of reflectance ρ, which by
//! the library's four numbers sends back
//!
//! > beam reflected + beam passed · ρ · diffuse passed / (1 − ρ · diffuse reflected)
//!
//! for whatever reaches a diffuse card or comes from it does so through air.

use dropwise::colour::Spectrum;
use dropwise::optics::{
    Behind, Beneath, Coefficients, Directions, Layer, LayerModel, Medium, Specular, Surface,
    Transport,
};

use super::{assert_agrees, depths, rows};

/// Both follow 24 directions.
const WITHOUT_SURFACES_TOLERANCE: f64 = 5e-6;
/// Where light of all directions meets a surface, 32 directions still differ by 5e-5 from 64, and the library's 48 angles
/// by 1e-5 from 44.
const WITH_SURFACES_TOLERANCE: f64 = 1e-4;
/// Five directions that leave and three that are caught stand for all.
const MODEL_TOLERANCE: f64 = 8e-4;

const CARDS: [f64; 4] = [0.0, 0.1, 0.5, 0.9];

#[derive(serde::Deserialize)]
struct Row {
    n: f64,
    asymmetry: f64,
    albedo: f64,
    optical_thickness: f64,
    beam_reflected: f64,
    beam_passed: f64,
    diffuse_reflected: f64,
    diffuse_passed: f64,
}

impl Row {
    fn all() -> Vec<Self> {
        let table: Vec<Self> = rows(include_str!("iadpython.csv"));
        assert_eq!(table.len(), 32, "slabs");
        table
    }

    /// What the slab on a card sends back, with what its surface mirrors.
    fn on_card(&self, card: f64) -> f64 {
        let to_and_fro = self.beam_passed * card * self.diffuse_passed;
        self.beam_reflected + to_and_fro / (1.0 - card * self.diffuse_reflected)
    }

    fn what(&self, card: f64) -> String {
        let Self {
            n,
            asymmetry,
            albedo,
            optical_thickness,
            ..
        } = self;
        format!("n {n}, g {asymmetry}, a {albedo}, τ {optical_thickness} on {card}")
    }
}

fn assert_agrees_on_cards<const N: usize>(row: &Row, caught: usize, tolerance: f64) {
    let directions: Directions<N> = Directions::new(row.n, row.asymmetry, caught);
    let slab = directions.slab(depths(row.optical_thickness, row.albedo, row.asymmetry));
    let mirrored = ((row.n - 1.0) / (row.n + 1.0)).powi(2);
    for card in CARDS {
        let within = slab.over(&directions.sent_back(Behind::Laid(card)));
        assert_agrees(
            &row.what(card),
            mirrored + directions.read(&within),
            row.on_card(card),
            tolerance,
        );
    }
}

#[test]
fn slabs_without_surfaces_send_back_what_the_library_has() {
    let table: Vec<Row> = Row::all().into_iter().filter(|row| row.n == 1.0).collect();
    assert_eq!(table.len(), 7, "slabs without surfaces");
    for row in table {
        assert_agrees_on_cards::<25>(&row, 0, WITHOUT_SURFACES_TOLERANCE);
    }
}

#[test]
fn slabs_with_surfaces_send_back_what_the_library_has() {
    let table: Vec<Row> = Row::all().into_iter().filter(|row| row.n > 1.0).collect();
    assert_eq!(table.len(), 25, "slabs with surfaces");
    for row in table {
        assert_agrees_on_cards::<33>(&row, 16, WITH_SURFACES_TOLERANCE);
    }
}

#[test]
fn the_layer_model_sends_back_nearly_what_the_library_has_at_the_model_s_own_asymmetry() {
    let with_surface = |row: &Row| row.n > 1.0 && row.asymmetry == Transport::ASYMMETRY;
    let table: Vec<Row> = Row::all().into_iter().filter(with_surface).collect();
    assert_eq!(table.len(), 14, "slabs of the model's asymmetry");
    for row in table {
        let surface = Surface::new(row.n, Specular::Included).expect("an index in range");
        let depths = depths(row.optical_thickness, row.albedo, row.asymmetry);
        let film = Layer {
            medium: Medium::solid(Coefficients {
                k: Spectrum::constant(2.0 * depths.absorption),
                s: Spectrum::constant(0.75 * depths.scattering),
            }),
            thickness_mm: 1.0,
        };
        for card in CARDS {
            let beneath = Beneath::Laid(Spectrum::constant(card));
            let reading = Transport.reading(&[film], &beneath, &surface);
            assert_agrees(
                &row.what(card),
                reading[0],
                row.on_card(card),
                MODEL_TOLERANCE,
            );
        }
    }
}
