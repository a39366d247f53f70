//! What a prediction and a search cost: compare the rows of one run, since machines differ.

use std::hint::black_box;
use std::sync::Arc;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use dropwise::book::Book;
use dropwise::colour::{Lab, Viewing, delta_e_2000};
use dropwise::forecast::Doubts;
use dropwise::materials::Casting;
use dropwise::materials::{
    Build, Coat, Colorant, Contact, Grams, LeftOver, LeftOverCasting, LeftOverLaw, Millimetres,
    Poured, Scales, Shelf, Underlay,
};
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

/// `count` castings of two pigments each, with what the physics is taken to miss of them.
fn left_over(shelf: &Shelf, count: u32) -> LeftOver {
    let names = [
        "titanium white",
        "iron oxide red",
        "iron oxide yellow",
        "umber",
    ];
    let weights = shelf.settings.viewing.weights();
    let casting = |index: u32| {
        let of = |step: u32| names[((index + step) % 4) as usize];
        let drops = [1 + index % 23, 1 + index / 23].map(f64::from);
        let mix = format!("{} {}; {} {}", of(0), drops[0], of(1), drops[1]);
        let build = Build {
            skin: poured("clear skin", 600.0, &mix),
            thickness: Millimetres(2.0),
            beneath: Underlay::Backing {
                name: Shelf::WHITE_CARD.to_owned(),
                contact: Contact::Bonded,
            },
            paint: None,
        };
        let physics = Casting::new(shelf, &build)
            .expect("a sound build")
            .reading();
        LeftOverCasting {
            swatch: index.to_string(),
            physics: weights.lab(&physics),
            by: [(0.1 * drops[0]).sin(), (0.2 * drops[1]).cos(), 0.5],
            build,
        }
    };
    let law = LeftOverLaw {
        sd: [1.0; 3],
        noise: 0.05,
        of_chip: 0.5,
        scales: Scales {
            shares: 0.3,
            load: 1.5,
            thickness: 1.0,
            beneath: 0.5,
        },
    };
    let castings: Vec<LeftOverCasting> = (0..count).map(casting).collect();
    LeftOver::of(shelf, law, &castings).expect("on the shelf")
}

/// A search as the first of a run: what a book keeps of readings is worked out in it.
fn search_beside_readings(c: &mut Criterion) {
    let book = Book::demo().expect("the demo reads");
    let target = Target::from_lab(Lab::new(62.0, 12.0, 16.0), Viewing::D65_10).expect("a skin");
    let mut group = c.benchmark_group("a search beside what readings left over");
    group.sample_size(10);
    for count in [0, 655, 1000] {
        let mut shelf = book.shelf().clone();
        shelf.left_over = None;
        let found = (count > 0).then(|| left_over(&shelf, count));
        group.bench_function(BenchmarkId::new("readings", count), |b| {
            b.iter(|| {
                shelf.left_over = found.clone().map(Arc::new);
                let order = Order::skin(&shelf, "clear skin", Grams(600.0));
                order.search(black_box(&target)).expect("an answer")
            });
        });
    }
    group.finish();
}

criterion_group!(benches, reading, prediction, search, search_beside_readings);
criterion_main!(benches);
