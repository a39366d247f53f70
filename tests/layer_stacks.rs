//! Paint on skin on foam: the layer model, with its few directions and its tables, against radiative transfer along many
//! directions without tables, with the same coefficients.
//!
//! The reference is this project's own solver, which `tests/published` holds to published slabs; what is tested here is all
//! that the model leaves out of it. Castings are drawn from the demo's generic curves, which are invented; no measured
//! stack is among them. `cargo test --release --test layer_stacks -- --nocapture` prints the figures.

#![expect(
    clippy::print_stdout,
    reason = "the figures are worth more than a pass"
)]

use dropwise::book::Book;
use dropwise::colour::{Lab, Spectrum, delta_e_2000};
use dropwise::materials::{Build, Casting, Coat, Grams, Millimetres, Poured, Underlay};
use dropwise::optics::{
    Behind, Beneath, Coefficients, Depths, Directions, Layer, LayerModel, Medium, Specular,
    Surface, Transport,
};

/// About twice what is measured (0.006), in ΔE00.
const MEAN_TOLERANCE: f64 = 0.015;
/// About twice what is measured (0.019), in ΔE00.
const WORST_TOLERANCE: f64 = 0.04;

/// Many directions are slow without optimisation.
const BUILDS: usize = if cfg!(debug_assertions) { 20 } else { 200 };
/// Of them, those whose reference is solved again with another asymmetry of scattering, or with more directions.
const AGAIN: usize = BUILDS / 10;

/// Coefficients are held over this many samples (30 nm), to be solved for once in each step.
const STEP: usize = 3;

/// Amounts that a build is drawn by.
const DRAWN: usize = 13;

/// Evenly spread shares (0–1): the additive recurrence of the root of x^(d+1) = x + 1.
///
/// Source: M. Roberts (2018), "The Unreasonable Effectiveness of Quasirandom Sequences" (a note, not a paper).
fn shares(build: usize) -> [f64; DRAWN] {
    let root = (0..64).fold(1.0_f64, |root, _| {
        (1.0 + root).powf(1.0 / (DRAWN as f64 + 1.0))
    });
    std::array::from_fn(|place| {
        let step = root.powf(-(place as f64 + 1.0));
        (0.5 + step * (build as f64 + 1.0)).fract()
    })
}

/// A painted part: fair to deep, its skin clear to opaque.
fn drawn(build: usize) -> Build {
    let shares = shares(build);
    let between = |place: usize, low: f64, high: f64| low + (high - low) * shares[place];
    // As often from one to ten as from ten to a hundred.
    let drops = |place: usize, most: f64| most.powf(shares[place]).round();
    let poured = |base: &str, base_mass: f64, mix: String| Poured {
        base: base.to_owned(),
        base_mass: Grams(base_mass),
        mix: mix.parse().expect("a mix"),
    };
    let skin = format!(
        "iron oxide red 1:10 {}; iron oxide yellow 1:10 {}; umber 1:10 {}; blue 1:10 {}; titanium white {}; fibre {} g",
        drops(0, 80.0),
        drops(1, 100.0),
        drops(2, 100.0),
        drops(3, 10.0),
        drops(4, 20.0),
        between(5, 1.0, 20.0).round(),
    );
    let foam = format!(
        "iron oxide red 1:10 {}; iron oxide yellow 1:10 {}; umber 1:10 {}",
        drops(6, 100.0),
        drops(7, 100.0),
        drops(8, 200.0),
    );
    let paint = format!(
        "iron oxide red 1:10 {}; titanium white {}",
        drops(9, 60.0),
        drops(10, 8.0),
    );
    Build {
        skin: poured("clear skin", 600.0, skin),
        thickness: Millimetres(between(11, 1.0, 3.0)),
        beneath: Underlay::Foam(poured("flexible foam", 300.0, foam)),
        paint: Some(Coat {
            paint: poured("clear paint", 60.0, paint),
            dry_thickness: Millimetres(between(12, 0.03, 0.1)),
        }),
    }
}

/// Layers and the bed beneath, of coefficients held over steps; the bed as if it were solid, since the reference knows no gas at a
/// wall.
fn stepped(casting: &Casting<'_>) -> (Vec<Layer>, Coefficients) {
    let step =
        |spectrum: &Spectrum| Spectrum::from_fn(|place| spectrum[place - place % STEP + STEP / 2]);
    let steps = |Coefficients { k, s }: &Coefficients| Coefficients {
        k: step(k),
        s: step(s),
    };
    let layers = casting.layers().into_iter().map(|layer| Layer {
        medium: Medium::solid(steps(&layer.medium.coefficients)),
        ..layer
    });
    let Beneath::Bed(bed) = casting.beneath() else {
        panic!("a part is on foam");
    };
    (layers.collect(), steps(&bed.coefficients))
}

fn depths(coefficients: &Coefficients, place: usize, thickness_mm: f64) -> Depths {
    Depths {
        absorption: coefficients.k[place] / 2.0 * thickness_mm,
        scattering: coefficients.s[place] * 4.0 / 3.0 * thickness_mm,
    }
}

/// The reading by adding matrices; the foam is ten metres thick.
fn reference<const N: usize>(
    directions: &Directions<N>,
    layers: &[Layer],
    bed: &Coefficients,
    surface: &Surface,
) -> Spectrum {
    let mirrored = match surface.specular() {
        Specular::Included => surface.k1(),
        Specular::Excluded | Specular::FortyFive => panic!("a book of readings by a sphere"),
    };
    let mut last = 0.0;
    Spectrum::from_fn(|place| {
        if place % STEP == 0 {
            let black = directions.sent_back(Behind::Bonded(0.0));
            let foam = directions.slab(depths(bed, place, 10_000.0)).over(&black);
            let within = layers.iter().rev().fold(foam, |behind, layer| {
                let depths = depths(&layer.medium.coefficients, place, layer.thickness_mm);
                directions.slab(depths).over(&behind)
            });
            last = mirrored + directions.read(&within);
        }
        last
    })
}

/// How far readings are from others of the same parts.
struct Apart {
    from: &'static str,
    /// ΔE00.
    differences: Vec<f64>,
    /// Of L*, a*, b*.
    squares: [f64; 3],
}

impl Apart {
    fn new(from: &'static str) -> Self {
        Self {
            from,
            differences: Vec::new(),
            squares: [0.0; 3],
        }
    }

    fn add(&mut self, model: Lab, other: Lab) {
        self.differences.push(delta_e_2000(model, other));
        let steps = [model.l - other.l, model.a - other.a, model.b - other.b];
        for (square, step) in self.squares.iter_mut().zip(steps) {
            *square += step * step;
        }
    }

    fn mean(&self) -> f64 {
        self.differences.iter().sum::<f64>() / self.differences.len() as f64
    }

    fn worst(&self) -> f64 {
        self.differences.iter().copied().fold(0.0, f64::max)
    }

    fn print(&self) {
        let count = self.differences.len();
        let [l, a, b] = self.squares.map(|square| (square / count as f64).sqrt());
        println!(
            "{count} parts by {}: ΔE00 mean {:.4}, worst {:.4}; root mean square ΔL* {l:.3}, Δa* {a:.3}, Δb* {b:.3}",
            self.from,
            self.mean(),
            self.worst(),
        );
    }
}

#[test]
fn painted_parts_read_as_by_radiative_transfer_along_many_directions() {
    let book = Book::demo().expect("the demo reads");
    let surface = &book.shelf().settings.surface;
    let weights = book.shelf().settings.viewing.weights();
    let many = |asymmetry| Directions::<17>::new(surface.n(), asymmetry, 8);
    let same = many(Transport::ASYMMETRY);
    let finer = Directions::<33>::new(surface.n(), Transport::ASYMMETRY, 16);
    let others = [many(0.5), many(0.8)];
    let mut by_same = Apart::new("17 directions");
    let mut by_finer = Apart::new("33 directions");
    let mut by_others = ["asymmetry 0.5", "asymmetry 0.8"].map(Apart::new);
    let (mut darkest, mut lightest) = (f64::INFINITY, 0.0_f64);
    for build in 0..BUILDS {
        let drawn = drawn(build);
        let casting = Casting::new(book.shelf(), &drawn).expect("a sound build");
        let (layers, bed) = stepped(&casting);
        let beneath = Beneath::Bed(Medium::solid(bed));
        let model = weights.lab(&Transport.reading(&layers, &beneath, surface));
        (darkest, lightest) = (darkest.min(model.l), lightest.max(model.l));
        let by = |reading: Spectrum| weights.lab(&reading);
        by_same.add(model, by(reference(&same, &layers, &bed, surface)));
        if build < AGAIN {
            by_finer.add(model, by(reference(&finer, &layers, &bed, surface)));
            for (apart, other) in by_others.iter_mut().zip(&others) {
                apart.add(model, by(reference(other, &layers, &bed, surface)));
            }
        }
    }
    println!("L* {darkest:.1} to {lightest:.1}");
    for apart in [&by_same, &by_finer].into_iter().chain(&by_others) {
        apart.print();
    }
    assert!(
        darkest < 50.0 && lightest > 65.0,
        "from deep skins to fair: L* {darkest} to {lightest}"
    );
    for apart in [by_same, by_finer] {
        let (mean, worst) = (apart.mean(), apart.worst());
        assert!(mean < MEAN_TOLERANCE, "mean ΔE00 {mean} by {}", apart.from);
        assert!(worst < WORST_TOLERANCE, "ΔE00 {worst} by {}", apart.from);
    }
}
