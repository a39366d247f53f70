//! What learning from chips costs: a few dozen and a thousand readings, in one run.
//!
//! The chips are cast by the layer model itself from curves that differ from the first guesses: what is timed does not
//! depend on where readings come from.

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use dropwise::book::Book;
use dropwise::characterise::calibrate;
use dropwise::colour::Spectrum;
use dropwise::materials::{
    Build, Casting, Contact, Geometry, Grams, Millimetres, Poured, Shelf, Swatch, Underlay,
};

/// `count` chips of one to three pigments with white, each read over the white and the black card.
fn chips(shelf: &Shelf, count: u32) -> Vec<Swatch> {
    let mut true_shelf = shelf.clone();
    for (place, pigment) in true_shelf.pigments.iter_mut().enumerate() {
        let stronger = 1.2 - 0.05 * place as f64;
        pigment.coefficients = pigment.coefficients.scaled(stronger);
    }
    let names = [
        "iron oxide red",
        "iron oxide yellow",
        "umber",
        "carbon black",
        "blue",
    ];
    let mut swatches = Vec::new();
    for chip in 0..count {
        let of = |step: u32| names[((chip + step) % 5) as usize];
        let mix = format!(
            "titanium white {}; {} 1:10 {}; {} 1:10 {}",
            2 + chip % 7,
            of(0),
            8 + chip % 11,
            of(1 + chip % 3),
            8 + chip % 13
        );
        for card in [Shelf::WHITE_CARD, Shelf::BLACK_CARD] {
            let build = Build {
                skin: Poured {
                    base: "clear skin".to_owned(),
                    base_mass: Grams(100.0),
                    mix: mix.parse().expect("a mix"),
                },
                thickness: Millimetres(1.5 + 0.1 * f64::from(chip % 10)),
                beneath: Underlay::Backing {
                    name: card.to_owned(),
                    contact: Contact::Bonded,
                },
                paint: None,
            };
            let read = Casting::new(&true_shelf, &build)
                .expect("a sound build")
                .reading();
            // A ripple that no curve explains, as an instrument's noise.
            let ripple = |place: usize| 0.002 * (f64::from(chip) + 1.7 * place as f64).sin();
            swatches.push(Swatch {
                id: format!("C{chip}"),
                date: "2026-01-15".parse().expect("a day"),
                build,
                lab: None,
                reflectance: Some(Spectrum::from_fn(|place| {
                    (read[place] + ripple(place)).clamp(0.0, 1.0)
                })),
                geometry: Geometry::default(),
                batch: String::new(),
                photo: String::new(),
                common_errors: Vec::new(),
                note: String::new(),
            });
        }
    }
    swatches
}

fn calibrations(c: &mut Criterion) {
    let book = Book::demo().expect("the demo reads");
    let mut group = c.benchmark_group("calibrate/chips");
    group.sample_size(10);
    for count in [40, 200, 1000] {
        let swatches = chips(book.shelf(), count);
        group.bench_with_input(
            BenchmarkId::from_parameter(count),
            &swatches,
            |b, swatches| {
                b.iter(|| calibrate(book.shelf(), swatches, &mut |_| Ok(())).expect("readings"));
            },
        );
    }
    group.finish();
}

criterion_group!(benches, calibrations);
criterion_main!(benches);
