//! How long a proof takes, and what a recipe costs: a table, since a search's time is one number a target and its
//! worst is what matters. Where Python has numpy and scipy, `compare.py` beside this file solves the same problems
//! in the same run.
//!
//! `cargo bench --bench proof -- [TARGETS] [MOST PIGMENTS]`; twenty targets of each kind, and eight, if not said.

use std::fmt::Write as _;
use std::hint::black_box;
use std::path::Path;
use std::process::Command;
use std::sync::LazyLock;
use std::time::{Duration, Instant};

use dropwise::book::Book;
use dropwise::colour::{Lab, SAMPLES, Spectrum, Viewing};
use dropwise::forecast::Doubts;
use dropwise::materials::Casting;
use dropwise::materials::{
    Amount, Build, Colorant, Contact, Grams, Millimetres, Mix, Poured, Shelf, Underlay,
};
use dropwise::optics::Model;
use dropwise::recipe::{Evaluator, Order, PartRecipe};
use dropwise::tone::Target;

const BASE_G: f64 = 600.0;
const THICKNESS_MM: f64 = 2.0;
/// In this order pigments join.
const PIGMENTS: [&str; 8] = [
    "titanium white",
    "iron oxide red",
    "iron oxide yellow",
    "umber",
    "blue",
    "carbon black",
    "orange",
    "green",
];

/// Evenly spread numbers from 0 to 1, by a fixed recurrence.
struct Even(u64);

impl Even {
    fn next(&mut self) -> f64 {
        self.0 = (self.0)
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A whole number below `count`.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "a share of a count is cut to a whole number below it"
    )]
    fn below(&mut self, count: usize) -> usize {
        ((self.next() * count as f64) as usize).min(count - 1)
    }
}

/// The demo's shelf, and two pigments more, invented: the red's curve moved by 40 nm, and the blue's by 80.
fn shelf() -> Shelf {
    let mut shelf = Book::demo().expect("the demo reads").shelf().clone();
    let mut add = |name: &str, like: &str, moved: &dyn Fn(usize) -> usize| {
        let mut pigment = shelf.pigment(like).expect("on the shelf").clone();
        let curve = |curve: &Spectrum| Spectrum::from_fn(|band| curve[moved(band)]);
        pigment.name = name.to_owned();
        pigment.coefficients.k = curve(&pigment.coefficients.k);
        pigment.coefficients.s = curve(&pigment.coefficients.s);
        shelf.pigments.push(pigment);
    };
    add("orange", "iron oxide red", &|band| {
        (band + 4).min(SAMPLES - 1)
    });
    add("green", "blue", &|band| band.saturating_sub(8));
    shelf
}

fn order<'a>(shelf: &'a Shelf, count: usize, threads: usize) -> Order<'a> {
    let mut order =
        Order::skin(shelf, "clear skin", Grams(BASE_G)).thick(Millimetres(THICKNESS_MM));
    let colorants = PIGMENTS[..count].iter().map(|name| Colorant::neat(*name));
    order.colorants = Some(colorants.collect());
    order.tolerance = Some(0.7);
    order.limits.within = Some(0.0);
    order.limits.time_limit = Some(Duration::from_secs(600));
    order.limits.threads = threads;
    order
}

/// The colour of a random recipe of up to four of the pigments, its drops not whole.
fn reachable(shelf: &Shelf, count: usize, even: &mut Even) -> Lab {
    let mut entries: Vec<(Colorant, Amount)> = Vec::new();
    while entries.len() < 4.min(count) {
        let pigment = Colorant::neat(PIGMENTS[even.below(count)]);
        if entries.iter().all(|(known, _)| *known != pigment) {
            // As many of one drop as of twenty.
            let drops = 20.0_f64.powf(even.next());
            entries.push((pigment, Amount::Drops(drops)));
        }
    }
    let build = Build {
        skin: Poured {
            base: "clear skin".to_owned(),
            base_mass: Grams(BASE_G),
            mix: Mix::new(entries).expect("distinct"),
        },
        thickness: Millimetres(THICKNESS_MM),
        beneath: Underlay::Backing {
            name: "white card".to_owned(),
            contact: Contact::Bonded,
        },
        paint: None,
    };
    let casting = Casting::new(shelf, &build).expect("a sound build");
    let weights = shelf.settings.viewing.weights();
    casting.predict(&weights, Doubts::Calibration).lab
}

fn target(lab: Lab) -> Target {
    Target::from_lab(lab, Viewing::D65_10).expect("a colour")
}

/// A colour that lies fifteen units and more from a reachable one, in L*, a*, b*.
fn moved_away(lab: Lab, even: &mut Even) -> Lab {
    let direction: [f64; 3] = std::array::from_fn(|_| even.next() - 0.5);
    let length = direction.iter().map(|part| part * part).sum::<f64>().sqrt();
    let away = 15.0 + 15.0 * even.next();
    let [l, a, b] = direction.map(|part| part * away / length);
    Lab::new((lab.l + l).clamp(5.0, 98.0), lab.a + a, lab.b + b)
}

struct Problem {
    count: usize,
    lab: Lab,
    delta_e: f64,
    seconds: f64,
}

/// Seconds that this thread has had a processor for, where the system tells; else of the clock. A machine that others
/// use too makes the clock a poor judge.
fn processor_s() -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanoseconds = told.and_then(|text| text.split(' ').next()?.parse::<f64>().ok());
    nanoseconds.map_or_else(clock_s, |ns| ns / 1e9)
}

/// A search, and how long it took by `clock`.
fn timed(order: &Order<'_>, target: &Target, clock: fn() -> f64) -> (PartRecipe, f64) {
    let begun = clock();
    let recipe = order.search(target).expect("an answer");
    (recipe, clock() - begun)
}

fn clock_s() -> f64 {
    static BEGUN: LazyLock<Instant> = LazyLock::new(Instant::now);
    BEGUN.elapsed().as_secs_f64()
}

/// Targets that the pigments reach within 1 ΔE00, or don't, and on one thread how long they take.
fn problems(shelf: &Shelf, count: usize, targets: usize, within_reach: bool) -> Vec<Problem> {
    let mut even = Even(1976 + count as u64);
    let order = order(shelf, count, 1);
    let mut problems = Vec::new();
    while problems.len() < targets {
        let mut lab = reachable(shelf, count, &mut even);
        if !within_reach {
            lab = moved_away(lab, &mut even);
        }
        // What no surface has is no target.
        let Ok(target) = Target::from_lab(lab, Viewing::D65_10) else {
            continue;
        };
        let (recipe, seconds) = timed(&order, &target, processor_s);
        let delta_e = recipe.skin.best().delta_e;
        if within_reach || delta_e > 1.0 {
            assert!(recipe.skin.proven, "proven within a minute");
            problems.push(Problem {
                count,
                lab,
                delta_e,
                seconds,
            });
        }
    }
    problems
}

#[expect(clippy::print_stdout, reason = "a table is what this program is for")]
fn main() {
    let mut numbers = std::env::args()
        .skip(1)
        .filter_map(|word| word.parse::<usize>().ok());
    let targets = numbers.next().unwrap_or(20).max(1);
    let most = numbers
        .next()
        .unwrap_or(PIGMENTS.len())
        .clamp(3, PIGMENTS.len());
    let shelf = shelf();
    let mut two_flux = shelf.clone();
    two_flux.settings.model = Model::KubelkaMunk;
    let cores = std::thread::available_parallelism().map_or(1, usize::from);

    println!(
        "time to the proven best (--within 0), at most 4 pigments of n, 40 drops each, 60 in all, ms"
    );
    println!(
        "{targets} targets a row, seed 1976 + n; one core by processor time, all {cores} by the clock\n"
    );
    println!(
        "n  targets       one core: median    worst  in 1 s   all cores: median    worst  in 1 s"
    );
    let mut kept = Vec::new();
    for count in 3..=most {
        for within_reach in [true, false] {
            let found = problems(&shelf, count, targets, within_reach);
            let shared = order(&shelf, count, cores);
            let on_all = found.iter().map(|problem| {
                let (recipe, seconds) = timed(&shared, &target(problem.lab), clock_s);
                assert!(
                    recipe.skin.best().delta_e == problem.delta_e,
                    "the same answer"
                );
                seconds
            });
            let on_all = on_all.collect();
            let alone = found.iter().map(|problem| problem.seconds).collect();
            let kind = if within_reach {
                "reachable"
            } else {
                "unreachable"
            };
            println!("{count}  {kind:<13}{}   {}", row(alone), row(on_all));
        }
        // What a user would write instead knows two fluxes: it is compared on those.
        kept.extend(problems(&two_flux, count, targets.min(10), true));
    }

    println!("\nwhat a recipe of eight pigments costs with two fluxes, ns");
    costs(&two_flux);
    compare(&two_flux, &kept);
}

fn row(mut seconds: Vec<f64>) -> String {
    seconds.sort_by(f64::total_cmp);
    let quick = seconds.iter().filter(|seconds| **seconds <= 1.0).count();
    let of = seconds.len();
    format!(
        "{:>17.1} {:>8.1}  {quick:>2}/{of}",
        1e3 * seconds[of / 2],
        1e3 * seconds[of - 1]
    )
}

/// Nanoseconds a call of `run`, the least of some rounds.
fn nanoseconds(mut run: impl FnMut()) -> f64 {
    // Many short rounds: on a machine that others use too, some are not interrupted.
    const ROUNDS: usize = 40;
    const CALLS: u32 = 4096;
    let round = |_| {
        let begun = Instant::now();
        (0..CALLS).for_each(|_| run());
        1e9 * begun.elapsed().as_secs_f64() / f64::from(CALLS)
    };
    (0..ROUNDS).map(round).fold(f64::INFINITY, f64::min)
}

#[expect(clippy::print_stdout, reason = "a table is what this program is for")]
fn costs(shelf: &Shelf) {
    let order = order(shelf, PIGMENTS.len(), 1);
    let target = target(Lab::new(62.0, 12.0, 16.0));
    let evaluator = Evaluator::new(&order, &target).expect("a sound order");
    let mut even = Even(8);
    let recipes: Vec<[f64; 8]> = (0..1024)
        .map(|_| std::array::from_fn(|_| (8.0 * even.next()).floor()))
        .collect();
    let mut next = 0;
    let mut through = |evaluator: &Evaluator| {
        nanoseconds(|| {
            next = (next + 1) % recipes.len();
            black_box(evaluator.delta_e(black_box(&recipes[next])));
        })
    };
    println!(
        "  kernel, best instructions of this machine   {:>7.0}",
        through(&evaluator)
    );
    println!(
        "  kernel, portable                            {:>7.0}",
        through(&evaluator.clone().portable())
    );
    let entries = PIGMENTS.map(|name| (Colorant::neat(name), Amount::Drops(3.0)));
    let build = Build {
        skin: Poured {
            base: "clear skin".to_owned(),
            base_mass: Grams(BASE_G),
            mix: Mix::new(entries.to_vec()).expect("distinct"),
        },
        thickness: Millimetres(THICKNESS_MM),
        beneath: Underlay::Backing {
            name: "white card".to_owned(),
            contact: Contact::Bonded,
        },
        paint: None,
    };
    let casting = Casting::new(shelf, &build).expect("a sound build");
    let (layers, beneath) = (casting.layers(), casting.beneath());
    let settings = &shelf.settings;
    let weights = settings.viewing.weights();
    let exact = nanoseconds(|| {
        let reading = settings
            .model
            .reading(black_box(&layers), &beneath, &settings.surface);
        let lab = weights.lab(&reading);
        black_box(dropwise::colour::delta_e_2000(target.lab, lab));
    });
    println!("  the layer model itself, K and S given       {exact:>7.0}");
}

/// Writes the problems and has Python solve them too.
#[expect(clippy::print_stdout, reason = "a table is what this program is for")]
fn compare(shelf: &Shelf, problems: &[Problem]) {
    let spectrum = |values: &Spectrum| {
        let numbers: Vec<String> = values.values().iter().map(f64::to_string).collect();
        format!("[{}]", numbers.join(","))
    };
    let weights = shelf.settings.viewing.weights();
    let surface = &shelf.settings.surface;
    let base = shelf.base("clear skin").expect("a base");
    let pigments = PIGMENTS.map(|name| {
        let pigment = shelf.pigment(name).expect(name);
        let Grams(drop_g) = pigment.drop_mass.expect("it is dropped");
        format!(
            r#"{{"name":"{name}","drop_g":{drop_g},"k":{},"s":{}}}"#,
            spectrum(&pigment.coefficients.k),
            spectrum(&pigment.coefficients.s)
        )
    });
    let mut solved = String::new();
    for Problem {
        count,
        lab,
        delta_e,
        seconds,
    } in problems
    {
        let comma = if solved.is_empty() { "" } else { "," };
        let _ = write!(
            solved,
            r#"{comma}{{"n":{count},"lab":[{},{},{}],"delta_e":{delta_e},"seconds":{seconds}}}"#,
            lab.l, lab.a, lab.b
        );
    }
    let factors = weights.factors().map(|row| spectrum(&Spectrum::new(row)));
    let white = weights.white();
    let text = format!(
        r#"{{"base_g":{BASE_G},"thickness_mm":{THICKNESS_MM},"k":{},"s":{},"backing":{},"k1":{},"k2":{},"factors":[{}],"white":[{},{},{}],"pigments":[{}],"problems":[{solved}]}}"#,
        spectrum(&base.coefficients.k),
        spectrum(&base.coefficients.s),
        spectrum(&shelf.white_card()),
        surface.k1(),
        surface.k2(),
        factors.join(","),
        white.x,
        white.y,
        white.z,
        pigments.join(",")
    );
    let file = std::env::temp_dir().join("dropwise-proof-problems.json");
    std::fs::write(&file, text).expect("a file for the problems");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/compare.py");
    match Command::new("python3").arg(script).arg(&file).status() {
        Ok(status) if status.success() => {}
        Ok(status) => {
            println!("\nno comparison with numpy and scipy: compare.py ended with {status}")
        }
        Err(error) => {
            println!("\nno comparison with numpy and scipy: python3 doesn't start ({error})")
        }
    }
}
