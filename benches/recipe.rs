//! What a prediction and a search cost: compare the rows of one run, since machines differ.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use dropwise::book::Book;
use dropwise::colour::{Lab, Viewing, delta_e_2000};
use dropwise::forecast::Doubts;
use dropwise::materials::Casting;
use dropwise::materials::{Build, Coat, Colorant, Contact, Grams, Millimetres, Poured, Underlay};
use dropwise::optics::Model;
use dropwise::recipe::Order;
use dropwise::tone::Target;

fn poured(base: &str, base_mass: f64, mix: &str) -> Poured {
    Poured {
        base: base.to_owned(),
        base_mass: Grams(base_mass),
        mix: mix.parse().expect("a mix"),
    }
}

/// The builds that are asked for, from one layer to three.
fn builds() -> [(&'static str, Build); 4] {
    let on = |beneath| Build {
        skin: poured(
            "clear skin",
            600.0,
            "iron oxide red 2; titanium white 6; fibre 12 g",
        ),
        thickness: Millimetres(2.0),
        beneath,
        paint: None,
    };
    let card = |contact| {
        on(Underlay::Backing {
            name: "white card".to_owned(),
            contact,
        })
    };
    let foam = || {
        let mix = "iron oxide red 4; iron oxide yellow 5";
        on(Underlay::Foam(poured("flexible foam", 300.0, mix)))
    };
    let mut painted = foam();
    painted.paint = Some(Coat {
        paint: poured("clear paint", 60.0, "iron oxide red 3"),
        dry_thickness: Millimetres(0.05),
    });
    [
        ("film on card", card(Contact::Bonded)),
        ("film laid on card", card(Contact::Dry)),
        ("film on foam", foam()),
        ("paint on film on foam", painted),
    ]
}

fn reading(c: &mut Criterion) {
    let book = Book::demo().expect("the demo reads");
    let settings = &book.shelf().settings;
    let mut group = c.benchmark_group("a reading");
    for (name, build) in builds() {
        let casting = Casting::new(book.shelf(), &build).expect("a sound build");
        let (layers, beneath) = (casting.layers(), casting.beneath());
        for model in [Model::KubelkaMunk, Model::Transport] {
            group.bench_function(BenchmarkId::new(name, model), |b| {
                b.iter(|| model.reading(black_box(&layers), &beneath, &settings.surface));
            });
        }
    }
    group.finish();
}

fn prediction(c: &mut Criterion) {
    let book = Book::demo().expect("the demo reads");
    let settings = &book.shelf().settings;
    let weights = settings.viewing.weights();
    let [(_, build), ..] = builds();
    let casting = Casting::new(book.shelf(), &build).expect("a sound build");
    let reading = casting.reading();
    c.bench_function("a reading's CIELAB", |b| {
        b.iter(|| weights.lab(black_box(&reading)))
    });
    let (one, other) = (Lab::new(65.0, 12.0, 15.0), weights.lab(&reading));
    c.bench_function("a colour difference", |b| {
        b.iter(|| delta_e_2000(black_box(one), other))
    });
    c.bench_function("a prediction with its spread", |b| {
        b.iter(|| black_box(&casting).predict(&weights, Doubts::All));
    });
}

fn search(c: &mut Criterion) {
    let book = Book::demo().expect("the demo reads");
    let target = Target::from_lab(Lab::new(62.0, 12.0, 16.0), Viewing::D65_10).expect("a skin");
    let names: Vec<&str> = book
        .shelf()
        .pigments
        .iter()
        .filter(|pigment| pigment.drop_mass.is_some())
        .map(|pigment| pigment.name.as_str())
        .collect();
    let mut group = c.benchmark_group("a search");
    group.sample_size(10);
    for count in 3..=names.len() {
        let mut order = Order::skin(book.shelf(), "clear skin", Grams(600.0));
        order.tolerance = Some(0.7);
        let colorants = names[..count].iter().map(|name| Colorant::neat(*name));
        order.colorants = Some(colorants.collect());
        group.bench_with_input(BenchmarkId::new("pigments", count), &order, |b, order| {
            b.iter(|| order.search(black_box(&target)).expect("an answer"));
        });
    }
    group.finish();
}

criterion_group!(benches, reading, prediction, search);
criterion_main!(benches);
