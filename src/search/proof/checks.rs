//! Checks of the proof against trying everything. The pigments are invented; the checks are that the stages of the
//! search agree with the layer model and with counting through.

use std::time::Instant;

use super::bound::{Range, Scratch, size};
use super::instructions::Instructions;
use super::lanes::{LANES, dot};
use super::open::Open;
use super::planes::Planes;
use super::prove::Prover;
use crate::colour::{Illuminant, Lab, SAMPLES, Spectrum, Viewing};
use crate::forecast::Aim;
use crate::materials::fixtures::shelf;
use crate::materials::{Colorant, Cup, Grams, Poured, Shelf};
use crate::optics::{Beneath, Coefficients, Layer, Medium};
use crate::search::Watch;
use crate::search::candidate::Bench;
use crate::search::doses::Doses;
use crate::search::effort::Effort;
use crate::search::pool::Pool;
use crate::search::question::{Contrast, CupLimits, Placement, Question};
use crate::search::sought::Nearest;

/// Seeded draws, evenly spread.
struct Even(fastrand::Rng);

impl Even {
    fn new(seed: u64) -> Self {
        Self(fastrand::Rng::with_seed(seed))
    }

    /// A number from 0 to 1.
    fn next(&mut self) -> f64 {
        self.0.f64()
    }

    /// A whole number from `low` to `high`, both included.
    fn between(&mut self, low: usize, high: usize) -> usize {
        self.0.usize(low..=high)
    }
}

/// The fixtures' shelf with six pigments of unlike colours, whose K rises or falls or peaks along the wavelengths.
fn six_pigments() -> Shelf {
    let mut shelf = shelf();
    let red = shelf.pigments[0].clone();
    let peak = |at: f64, k: f64| {
        Spectrum::from_fn(|band| k * (-(band as f64 - at).powi(2) / 60.0).exp() + 0.02 * k)
    };
    for (name, at, k, s) in [
        ("yellow", 2.0, 3000.0, 400.0),
        ("blue", 22.0, 6000.0, 150.0),
        ("green", 33.0, 4000.0, 200.0),
        ("black", 17.0, 20000.0, 100.0),
    ] {
        let mut pigment = red.clone();
        pigment.name = name.to_owned();
        pigment.coefficients = Coefficients {
            k: peak(at, k),
            s: Spectrum::constant(s),
        };
        shelf.pigments.push(pigment);
    }
    shelf
}

fn question<'a>(
    shelf: &'a Shelf,
    base: &str,
    placement: Placement,
    colorants: &[&str],
) -> Question<'a> {
    let poured = Poured {
        base: base.to_owned(),
        base_mass: Grams(300.0),
        mix: Default::default(),
    };
    Question {
        shelf,
        cup: Cup::pour(shelf, &poured).expect("a sound cup"),
        placement,
        aims: vec![aim(Viewing::D65_10, Lab::new(60.0, 15.0, 18.0))],
        colorants: (colorants.iter())
            .map(|name| name.parse::<Colorant>().expect(name))
            .collect(),
        must: Vec::new(),
        contrast: None,
        let_downs: false,
        opened: Vec::new(),
        is_tinted: false,
        scale_step: None,
        nearby: Vec::new(),
        limits: CupLimits {
            max_drops: 12,
            max_total_drops: 20,
            max_pigments: 3,
            top: 1,
            within: 0.0,
            threads: 2,
            watch: Watch::default(),
        },
        deadline: None,
    }
}

fn aim(viewing: Viewing, lab: Lab) -> Aim {
    Aim {
        weights: viewing.weights(),
        lab,
    }
}

fn over_a_card(shelf: &Shelf) -> Placement {
    Placement::Film {
        thickness_mm: 2.0,
        over: Vec::new(),
        beneath: Beneath::Backing(shelf.white_card()),
    }
}

/// Films over a card, over a layer over a card, and a bed of foam.
fn placements(shelf: &Shelf) -> Vec<(&'static str, Placement)> {
    let under = Layer {
        medium: Medium::solid(shelf.bases[0].coefficients.scaled(4.0)),
        thickness_mm: 1.5,
    };
    let stack = Placement::Film {
        thickness_mm: 0.05,
        over: vec![under],
        beneath: Beneath::Backing(shelf.black_card()),
    };
    vec![
        ("skin", over_a_card(shelf)),
        ("paint", stack),
        ("foam", Placement::Bed),
    ]
}

/// Pigments neat and let down, one of them both.
const NEAT_AND_LET_DOWN: [&str; 7] = [
    "red",
    "red 1:10",
    "white",
    "yellow",
    "blue",
    "green",
    "black 1:20",
];

/// A range of doses for each pigment, up to `share` (0–1) of all it has.
fn some_ranges(doses: &[Doses], share: f64, even: &mut Even) -> Vec<Range> {
    let ranges = doses.iter().map(|doses| {
        let last = doses.list.len() - 1;
        let low = even.between(0, last / 3) * even.between(0, 1);
        let wide = crate::materials::whole_number(last as f64 * share * even.next()) as usize;
        (low, (low + wide).min(last))
    });
    ranges.collect()
}

/// A recipe of `ranges`, by its counts and by its doses' indices; `None` where it breaks a limit, beyond which the kernel's
/// grid does not go.
fn recipe_within(
    ranges: &[Range],
    asked: &Question<'_>,
    bench: &Bench<'_>,
    doses: &[Doses],
    even: &mut Even,
) -> Option<(Vec<u32>, Vec<usize>)> {
    let mut counts = vec![0; bench.drops.len()];
    let mut chosen = vec![0; doses.len()];
    let mut left = asked.limits.max_pigments;
    let first = even.between(0, doses.len() - 1);
    for index in (first..doses.len()).chain(0..first) {
        let (doses, (low, high)) = (&doses[index], &ranges[index]);
        // Pigments that need not be in are left out once the cup holds enough.
        let most = if *low == 0 && left == 0 { 0 } else { *high };
        chosen[index] = even.between(*low, most);
        let dose = &doses.list[chosen[index]];
        left = left.saturating_sub(usize::from(dose.drops > 0));
        for (kind, count) in doses.kinds.iter().zip(&dose.counts) {
            counts[*kind] = *count;
        }
    }
    let content = bench.content(&counts);
    let pigments = content.iter().filter(|mass| **mass > 0).count();
    let within = counts.iter().sum::<u32>() <= asked.limits.max_total_drops
        && pigments <= asked.limits.max_pigments;
    within.then_some((counts, chosen))
}

#[test]
fn no_recipe_of_a_box_is_below_its_floor() {
    const BOXES: usize = 6000;
    const RECIPES: usize = 15;
    let shelf = six_pigments();
    let mut even = Even::new(3);
    let (mut tight, mut single, mut checked) = (0, 0, 0);
    for (base, placement) in placements(&shelf) {
        let mut question = question(&shelf, base, placement, &NEAT_AND_LET_DOWN);
        question.limits.max_drops = 40;
        question.limits.max_total_drops = 60;
        question.aims.push(aim(
            Viewing::D65_10.under(Illuminant::A),
            Lab::new(62.0, 18.0, 20.0),
        ));
        let bench = Bench::new(&question, &question.colorants).expect("all are dropped");
        let kernel = question.kernel(&bench);
        let doses: Vec<Doses> = (0..bench.pigments.len())
            .map(|pigment| Doses::new(&bench, pigment, &question, Effort::MOST))
            .collect();
        let mut scratch = Scratch::default();
        for trial in 0..BOXES {
            let mut asked = question.clone();
            asked.limits.max_pigments = 3 + trial % 4;
            for aim in &mut asked.aims {
                aim.lab = Lab::new(
                    30.0 + 50.0 * even.next(),
                    50.0 * even.next() - 20.0,
                    60.0 * even.next() - 30.0,
                );
            }
            let prover = Prover {
                question: &asked,
                bench: &bench,
                kernel: &kernel,
                over_cards: None,
                doses: &doses,
                max_pigments: asked.limits.max_pigments,
                deadline: None,
            };
            // From single recipes to all there are, most of them small.
            let share = even.next().powi(4);
            let ranges = some_ranges(&doses, share, &mut even);
            let floor = prover.bounder().floor(&ranges, &mut scratch, f64::INFINITY);
            let mut best = f64::INFINITY;
            for _ in 0..RECIPES {
                let Some((counts, _)) = recipe_within(&ranges, &asked, &bench, &doses, &mut even)
                else {
                    continue;
                };
                let delta_e = asked.delta_e_of(&bench, &counts);
                assert!(
                    floor <= delta_e,
                    "{base}: {counts:?} of {ranges:?}: {delta_e} is below {floor}"
                );
                best = best.min(delta_e);
                checked += 1;
            }
            if size(&ranges) < 2.0 && best.is_finite() {
                // One recipe: the floor is its ΔE00, but for the spline's error and for hues that lie far apart.
                single += 1;
                tight += u32::from(floor > 0.8 * best - 0.05);
            }
        }
    }
    assert!(
        single > 50 && 2 * tight > single,
        "{tight} floors of {single} single recipes are tight"
    );
    assert!(checked >= 100_000, "enough recipes: {checked}");
}

#[test]
fn no_box_loses_a_recipe_that_is_good_enough_and_all_instruction_sets_agree() {
    const BOXES: usize = 9000;
    const JUST_ABOVE: f64 = 1e-3;
    let shelf = six_pigments();
    let film = |thickness_mm: f64, beneath: Beneath| Placement::Film {
        thickness_mm,
        over: Vec::new(),
        beneath,
    };
    // Thin films over what differs from both cards.
    let placements = [
        film(0.7, Beneath::Backing(shelf.black_card())),
        film(0.5, Beneath::Backing(Spectrum::constant(0.3))),
        film(
            1.5,
            Beneath::Bed(Medium::solid(shelf.bases[1].coefficients)),
        ),
    ];
    let mut even = Even::new(77);
    let mut kept = 0;
    for placement in placements {
        let mut question = question(&shelf, "skin", placement, &NEAT_AND_LET_DOWN);
        question.limits.max_drops = 40;
        question.limits.max_total_drops = 60;
        // A window that keeps nothing out: it must not cost a recipe either.
        question.contrast = Some(Contrast {
            window: (0.0, 1.0),
            cards: [shelf.black_card(), shelf.white_card()],
            weights: Viewing::D65_10.weights(),
        });
        let bench = Bench::new(&question, &question.colorants).expect("all are dropped");
        let mut kernel = question.kernel(&bench);
        let cards = (question.contrast_kernels(&bench, question.grid())).expect("cards");
        let doses: Vec<Doses> = (0..bench.pigments.len())
            .map(|pigment| Doses::new(&bench, pigment, &question, Effort::MOST))
            .collect();
        for trial in 0..BOXES {
            let mut asked = question.clone();
            asked.limits.max_pigments = 3 + trial % 4;
            let share = even.next().powi(3);
            let ranges = some_ranges(&doses, share, &mut even);
            let recipe = recipe_within(&ranges, &asked, &bench, &doses, &mut even);
            let Some((counts, at)) = recipe else {
                continue;
            };
            let amounts = counts.iter().map(|count| f64::from(*count));
            let reading = asked.reading(&bench.coefficients(amounts));
            let near = |at: f64, even: &mut Even| at + 2.0 * (even.next() - 0.5);
            let Lab { l, a, b, .. } = asked.aims[0].weights.lab(&reading);
            asked.aims[0].lab =
                Lab::new(near(l, &mut even), near(a, &mut even), near(b, &mut even));
            let delta_e = asked.delta_e_of(&bench, &counts);
            let mut all = Instructions::at_hand().into_iter().map(|instructions| {
                kernel.instructions = instructions;
                let prover = Prover {
                    question: &asked,
                    bench: &bench,
                    kernel: &kernel,
                    over_cards: Some(&cards),
                    doses: &doses,
                    max_pigments: asked.limits.max_pigments,
                    deadline: None,
                };
                let mut narrowed = ranges.clone();
                let cut = delta_e + JUST_ABOVE;
                let floor = (prover.bounder()).assess(&mut narrowed, cut, &mut Scratch::default());
                (floor, narrowed)
            });
            let (floor, narrowed) = all.next().expect("portable code runs everywhere");
            for other in all {
                assert_eq!((floor, &narrowed), (other.0, &other.1), "{counts:?}");
            }
            assert!(
                floor.is_some_and(|floor| floor <= delta_e)
                    && (narrowed.iter().zip(&at)).all(|((low, high), at)| low <= at && at <= high),
                "{counts:?} of {delta_e} is lost: {ranges:?} to {narrowed:?}, {floor:?}"
            );
            kept += 1;
        }
    }
    assert!(kept > BOXES, "enough boxes: {kept}");
}

#[test]
fn the_kernel_reads_what_the_model_reads_and_the_same_on_every_instruction_set() {
    let shelf = six_pigments();
    let colorants = ["red", "white", "yellow", "blue", "black"];
    let mut even = Even::new(5);
    for (base, placement) in placements(&shelf) {
        let question = question(&shelf, base, placement, &colorants);
        let bench = Bench::new(&question, &question.colorants).expect("all are dropped");
        let mut kernel = question.kernel(&bench);
        for _ in 0..4000 {
            let mut counts: Vec<u32> = Vec::new();
            let mut left = question.limits.max_total_drops;
            for _ in &colorants {
                let count = crate::materials::whole_number(
                    f64::from(left.min(12) + 1) * even.next().powi(2),
                );
                counts.push(count);
                left -= count;
            }
            let amounts = || counts.iter().map(|count| f64::from(*count));
            let exact = question.reading(&bench.coefficients(amounts()));
            let grams = bench.grams(amounts());
            let mut all = Instructions::at_hand().into_iter().map(|instructions| {
                kernel.instructions = instructions;
                (kernel.read(&grams), kernel.delta_e(&question.aims, &grams))
            });
            let (portable, delta_e) = all.next().expect("portable code runs everywhere");
            for other in all {
                assert_eq!((portable, delta_e), other, "{base}: {counts:?}");
            }
            for lane in 0..SAMPLES {
                let off = (portable[lane] - exact[lane]).abs();
                let allowed = kernel.error_at(lane);
                assert!(
                    off <= allowed,
                    "{base}: {counts:?}, {lane}: {off} above {allowed}"
                );
            }
        }
    }
}

/// Gives `visit` the mean ΔE00 and the counts of each recipe within limits.
fn each_recipe(question: &Question<'_>, mut visit: impl FnMut(&Bench<'_>, f64, &[u32])) {
    let bench = Bench::new(question, &question.colorants).expect("all are dropped");
    let mut counts = vec![0; bench.drops.len()];
    loop {
        let coefficients = bench.coefficients(counts.iter().map(|count| f64::from(*count)));
        if bench.allows(&counts, question) && question.contrasts(&coefficients) {
            visit(&bench, question.delta_e_of(&bench, &counts), &counts);
        }
        let Some(next) = (0..counts.len()).find(|index| counts[*index] < bench.drops[*index].most)
        else {
            return;
        };
        counts[..next].fill(0);
        counts[next] += 1;
    }
}

/// The best `top` ΔE00 of distinct contents among all recipes within limits.
fn by_counting_through(question: &Question<'_>, top: usize) -> Vec<f64> {
    let mut all: Vec<(f64, Vec<u64>)> = Vec::new();
    each_recipe(question, |bench, delta_e, counts| {
        all.push((delta_e, bench.content(counts)));
    });
    all.sort_by(|one, other| one.0.total_cmp(&other.0));
    let mut best: Vec<(f64, Vec<u64>)> = Vec::new();
    for (delta_e, content) in all {
        if best.len() < top && best.iter().all(|(_, known)| *known != content) {
            best.push((delta_e, content));
        }
    }
    best.into_iter().map(|(delta_e, _)| delta_e).collect()
}

#[test]
fn the_proven_best_is_the_best_of_all() {
    let shelf = six_pigments();
    let mut even = Even::new(9);
    let sets: [&[&str]; 3] = [
        &["red", "white", "yellow"],
        &["red", "red 1:5", "white", "blue"],
        &["white", "yellow", "blue", "black", "green"],
    ];
    for trial in 0..12 {
        for colorants in sets {
            let (base, placement) = placements(&shelf).swap_remove(trial % 3);
            let mut question = question(&shelf, base, placement, colorants);
            question.limits.max_drops = if colorants.len() > 4 { 4 } else { 7 };
            question.limits.max_total_drops = 11;
            question.limits.top = 1 + trial % 4;
            question.aims[0].lab = Lab::new(
                35.0 + 50.0 * even.next(),
                40.0 * even.next() - 10.0,
                50.0 * even.next() - 20.0,
            );
            if trial % 4 == 1 {
                question.must = vec!["white".to_owned()];
            }
            if trial % 4 == 2 && base == "skin" {
                question.contrast = Some(Contrast {
                    window: (0.2, 0.5),
                    cards: [shelf.black_card(), shelf.white_card()],
                    weights: Viewing::D65_10.weights(),
                });
            }
            if trial % 2 == 1 {
                let lab = question.aims[0].lab;
                let lamp = Viewing::D65_10.under(Illuminant::A);
                question
                    .aims
                    .push(aim(lamp, Lab::new(lab.l, lab.a + 3.0, lab.b + 3.0)));
            }
            let best = by_counting_through(&question, question.limits.top);
            let answer = question.search().expect("an answer");
            let found: Vec<f64> = answer.recipes.iter().map(|recipe| recipe.delta_e).collect();
            assert_eq!(found, best, "{base} {colorants:?}, trial {trial}");
            assert!(answer.proven && answer.gap == 0.0, "proven: {answer:?}");
        }
    }
}

#[test]
fn the_answer_and_its_proof_do_not_depend_on_threads() {
    let shelf = six_pigments();
    for within in [0.0, 0.05] {
        let on = |threads| {
            let colorants = ["red", "white", "yellow", "blue", "black"];
            let mut question = question(&shelf, "skin", over_a_card(&shelf), &colorants);
            question.limits.max_drops = 40;
            question.limits.max_total_drops = 60;
            question.let_downs = true;
            question.limits.within = within;
            question.limits.top = 5;
            question.limits.threads = threads;
            question.search().expect("an answer")
        };
        let alone = on(1);
        assert!(alone.proven, "in the end: {alone:?}");
        for threads in [2, 3, 7] {
            assert_eq!(alone, on(threads), "{threads} threads");
        }
    }
}

#[test]
fn a_search_out_of_time_gives_a_good_recipe_and_a_gap_that_holds() {
    let shelf = six_pigments();
    let colorants = ["red", "white", "yellow"];
    let mut question = question(&shelf, "skin", over_a_card(&shelf), &colorants);
    let best = by_counting_through(&question, 1)[0];
    question.deadline = Some(Instant::now());
    let answer = question.search().expect("an answer");
    let found = answer.recipes[0].delta_e;
    assert!(found < best + 1.0, "good: {found}, best {best}");
    assert!(found - answer.gap <= best, "{answer:?}: the best is {best}");
}

#[test]
fn a_proof_whose_boxes_fill_its_memory_ends_as_if_its_time_were_over() {
    let shelf = six_pigments();
    let colorants = ["red", "white", "yellow"];
    let mut question = question(&shelf, "skin", over_a_card(&shelf), &colorants);
    question.limits.max_drops = 40;
    question.limits.max_total_drops = 60;
    let bench = Bench::new(&question, &question.colorants).expect("all are dropped");
    let kernel = question.kernel(&bench);
    let doses: Vec<Doses> = (0..bench.pigments.len())
        .map(|pigment| Doses::new(&bench, pigment, &question, Effort::MOST))
        .collect();
    let prover = Prover {
        question: &question,
        bench: &bench,
        kernel: &kernel,
        over_cards: None,
        doses: &doses,
        max_pigments: question.limits.max_pigments,
        deadline: None,
    };
    let prove = |most_bytes| {
        let mut pool = Pool::new(&question, &bench, &kernel, None, 1);
        let left = prover.prove_within(
            most_bytes,
            &mut Nearest {
                pool: &mut pool,
                within: 0.0,
            },
        );
        (left, pool.best().first().map(|kept| kept.delta_e))
    };
    let (left, best) = prove(usize::MAX);
    assert!(
        left.is_none(),
        "with room enough all is looked at: {left:?}"
    );
    let best = best.expect("a recipe");
    let (left, _) = prove(0);
    let floor = left.expect("boxes are left").floor;
    assert!(floor <= best, "{floor}, and the best is {best}");
}

#[test]
fn out_of_time_real_valued_recipes_are_of_the_first_pigments_alone() {
    let shelf = six_pigments();
    let colorants = ["red", "white", "yellow", "blue"];
    let mut question = question(&shelf, "skin", over_a_card(&shelf), &colorants);
    let relaxed = |question: &Question<'_>| {
        let bench = Bench::new(question, &question.colorants).expect("all are dropped");
        let kernel = question.kernel(&bench);
        question.relaxed(&bench, &kernel).len()
    };
    let all = relaxed(&question);
    question.deadline = Some(Instant::now());
    let few = relaxed(&question);
    // One of each number of pigments: a search begins somewhere.
    assert_eq!(few, question.limits.max_pigments, "of {all}");
    assert!(all > 3 * few, "in time there are more: {all}");
}

#[test]
fn strengths_that_multiply_beyond_what_can_be_set_out_are_left_out_and_nothing_is_proven_of_them() {
    let shelf = six_pigments();
    let colorants = [
        "red",
        "red 1:3",
        "red 1:5",
        "red 1:10",
        "red 1:20",
        "white",
        "white 1:3",
        "white 1:5",
        "white 1:10",
        "white 1:20",
    ];
    let mut question = question(&shelf, "skin", over_a_card(&shelf), &colorants);
    assert_eq!(
        question.search().expect("an answer").strengths_left_out,
        0,
        "few drops"
    );
    question.limits.max_drops = 40;
    question.limits.max_total_drops = 60;
    question.deadline = Some(Instant::now());
    let bench = Bench::new(&question, &question.colorants).expect("all are dropped");
    let few = question.few_strengths(&bench);
    for strongest in ["red", "white"] {
        assert!(
            few.contains(&strongest.parse().expect("a pigment")),
            "{few:?}"
        );
    }
    let answer = question.search().expect("an answer");
    assert_eq!(answer.strengths_left_out, 10 - few.len(), "as it says");
    assert!(answer.strengths_left_out >= 4, "{few:?}");
}

#[test]
fn the_handiest_is_the_one_of_least_effort_of_all_that_are_near_enough_and_of_those_the_nearest() {
    let shelf = six_pigments();
    let mut even = Even::new(20);
    let sets: [&[&str]; 3] = [
        &["red", "white", "yellow"],
        &["red", "red 1:5", "white", "white 1:5"],
        &["white", "yellow", "blue", "black 1:20"],
    ];
    let mut of_less_effort = 0;
    for trial in 0..18 {
        let (base, placement) = placements(&shelf).swap_remove(trial % 3);
        let mut question = question(&shelf, base, placement, sets[trial / 3 % 3]);
        question.limits.max_drops = 14;
        question.limits.max_total_drops = 16;
        question.limits.max_pigments = 1 + trial % 3;
        question.is_tinted = trial % 2 == 0;
        if trial % 4 == 3 {
            question.opened = vec!["red 1:5".parse().expect("a let-down")];
        }
        question.aims[0].lab = Lab::new(
            40.0 + 40.0 * even.next(),
            20.0 * even.next(),
            30.0 * even.next(),
        );
        let allowed = 4.0 * even.next();
        let answer = question.handiest(|nearest| Ok(nearest.delta_e + allowed));
        let answer = answer.expect("an answer");
        let limit = answer.nearest_delta_e + allowed;
        let (mut nearest, mut least) = (f64::INFINITY, (Effort::MOST, f64::INFINITY));
        each_recipe(&question, |bench, delta_e, counts| {
            nearest = nearest.min(delta_e);
            let untinted = counts.iter().all(|count| *count == 0);
            let handy = (bench.effort(counts), delta_e);
            if delta_e <= limit && !(untinted && question.is_tinted) && handy < least {
                least = handy;
            }
        });
        assert_eq!(
            answer.nearest_delta_e, nearest,
            "trial {trial}: the nearest"
        );
        assert_eq!(
            (answer.effort, answer.recipes[0].delta_e),
            (least.0.value(), least.1),
            "trial {trial}: {:?}",
            answer.recipes[0].drops
        );
        assert_eq!(answer.effort_gap, Some(0.0), "trial {trial}: proven");
        of_less_effort += usize::from(least.1 > nearest);
    }
    assert!(of_less_effort >= 9, "{of_less_effort} are not the nearest");
}

#[test]
fn out_of_time_the_handiest_is_near_enough_and_no_handier_than_its_gap_says() {
    let shelf = six_pigments();
    let mut question = question(
        &shelf,
        "skin",
        over_a_card(&shelf),
        &["red", "red 1:5", "white"],
    );
    let search = |question: &Question<'_>| {
        let answer = question.handiest(|nearest| Ok(nearest.delta_e + 2.0));
        answer.expect("an answer")
    };
    let least = search(&question).effort;
    question.deadline = Some(Instant::now());
    let answer = search(&question);
    let gap = answer.effort_gap.expect("the handiest was sought");
    assert!(
        answer.effort - gap <= least,
        "{answer:?}: the least is {least}"
    );
    let over = answer.recipes[0].delta_e - answer.nearest_delta_e;
    assert!(over <= 2.0, "near enough: {answer:?}");
}

#[test]
fn planes_hold_what_clear_base_alone_changes_in_a_small_cup() {
    const AXES: [[f64; 3]; 3] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    const STEPS: usize = 8;
    let shelf = six_pigments();
    let mut even = Even::new(15);
    for (base, placement) in placements(&shelf) {
        let mut question = question(&shelf, base, placement, &NEAT_AND_LET_DOWN);
        // Drops are a fifth of so small a cup, so the curvature of its mass counts.
        let small = Poured {
            base: base.to_owned(),
            base_mass: Grams(15.0),
            mix: Default::default(),
        };
        question.cup = Cup::pour(&shelf, &small).expect("a sound cup");
        question.limits.max_drops = 40;
        question.limits.max_total_drops = 60;
        let bench = Bench::new(&question, &question.colorants).expect("all are dropped");
        let kernel = question.kernel(&bench);
        let mut planes = Planes::default();
        let additions = kernel.additions.len();
        let open = Open {
            is_open: vec![false; additions],
            count: 0,
            at_most: additions,
        };
        for _ in 0..1000 {
            let mut low: Vec<f64> = (bench.pigments.iter())
                .map(|pigment| bench.drops[pigment.strongest].dispersion_g)
                .map(|drop_g| 2.0 * drop_g * even.next().powi(4))
                .collect();
            low.push(0.0);
            let mut high = low.clone();
            high[additions - 1] = 40.0 * bench.drops[0].mass_g * even.next();
            kernel.bound(&low, &high, &open, &mut planes);
            let mut reach = [0.0; 3];
            kernel.reaches(0, &planes.spread, &AXES, &mut reach);
            let clear_g = high[additions - 1];
            for step in 0..=STEPS {
                let mut grams = low.clone();
                grams[additions - 1] = clear_g * step as f64 / STEPS as f64;
                let read = kernel.read(&grams);
                for (row, reach) in reach.iter().enumerate() {
                    let there = dot(&kernel.lights[0].all[row], &read);
                    let slope = planes.slopes[0][additions - 1][row];
                    let plane = planes.xyz[0][row].least + slope * grams[additions - 1];
                    assert!(
                        (there - plane).abs() <= reach + 1e-9,
                        "{base}: {there} is farther than {reach} from {plane}, {clear_g} g clear"
                    );
                }
            }
        }
    }
}

#[test]
fn the_best_of_all_is_found_among_let_downs_alone_and_within_every_window_of_contrast() {
    let shelf = six_pigments();
    let mut even = Even::new(31);
    let sets = [
        ["red 1:5", "white 1:5", "yellow 1:5"],
        ["red", "white", "yellow"],
    ];
    let windows = [None, Some((0.1, 0.4)), Some((0.3, 0.6)), Some((0.6, 0.95))];
    let mut compared = 0;
    for colorants in sets {
        for window in windows {
            for _ in 0..3 {
                let mut question = question(&shelf, "skin", over_a_card(&shelf), &colorants);
                question.limits.max_drops = 7;
                question.limits.max_total_drops = 14;
                question.aims[0].lab = Lab::new(
                    50.0 + 40.0 * even.next(),
                    25.0 * even.next(),
                    30.0 * even.next(),
                );
                question.contrast = window.map(|window| Contrast {
                    window,
                    cards: [shelf.black_card(), shelf.white_card()],
                    weights: Viewing::D65_10.weights(),
                });
                let best = by_counting_through(&question, 1);
                if best.is_empty() {
                    continue;
                }
                let answer = question.search().expect("an answer");
                let found = answer.recipes[0].delta_e;
                assert_eq!(found, best[0], "{colorants:?} within {window:?}");
                compared += 1;
            }
        }
    }
    assert!(compared >= 12, "{compared} compared");
}

#[test]
fn the_kernel_counts_clear_base_where_a_drop_may_carry_some() {
    let shelf = six_pigments();
    for (colorants, let_downs, additions) in [
        (["red", "white"], false, 2),
        (["red 1:10", "white"], false, 3),
        (["red", "white"], true, 3),
    ] {
        let mut question = question(&shelf, "skin", over_a_card(&shelf), &colorants);
        question.let_downs = let_downs;
        let bench = Bench::new(&question, &question.colorants).expect("all are dropped");
        let found = question.kernel(&bench).additions.len();
        assert_eq!(found, additions, "{colorants:?}, let-downs: {let_downs}");
    }
}

#[test]
fn what_is_nearest_at_once_is_the_same_on_any_threads_and_never_below_the_proven_best() {
    let shelf = six_pigments();
    let colorants = ["red", "white", "yellow", "black"];
    for (name, placement) in placements(&shelf) {
        let base = if matches!(placement, Placement::Bed) {
            "foam"
        } else {
            "skin"
        };
        let mut question = question(&shelf, base, placement, &colorants);
        let best = question.search().expect("a recipe").recipes[0].delta_e;
        let found = [1, 3].map(|threads| {
            question.limits.threads = threads;
            question.nearest_at_once().expect("colorants").expect("one")
        });
        assert_eq!(found[0], found[1], "{name}: on one thread and on three");
        let nearest = found[0].delta_e;
        assert!(nearest >= best, "{name}: {nearest} of {best}");
    }
}

/// Up to five of each of four drops of `bench`, drawn, and the grams that they are.
fn drawn(bench: &Bench<'_>, even: &mut Even) -> (Vec<u32>, Vec<f64>) {
    let count = |_| crate::materials::whole_number(even.between(0, 5) as f64);
    let counts: Vec<u32> = (0..4).map(count).collect();
    let grams = bench.grams(counts.iter().map(|count| f64::from(*count)));
    (counts, grams)
}

#[test]
fn what_errs_as_much_as_the_kernel_may_at_every_wavelength_is_within_what_its_colour_may_err_by() {
    let shelf = six_pigments();
    let colorants = ["red", "white", "yellow", "blue"];
    let mut even = Even::new(25);
    for (base, placement) in placements(&shelf) {
        let question = question(&shelf, base, placement, &colorants);
        let bench = Bench::new(&question, &question.colorants).expect("all are dropped");
        let kernel = question.kernel(&bench);
        for _ in 0..20 {
            let (counts, grams) = drawn(&bench, &mut even);
            let read = kernel.read(&grams);
            let (lab, allowed) = kernel.lab_and_error(0, &read);
            for first in 0..SAMPLES {
                for last in first..SAMPLES {
                    // Down from one wavelength to another, up beside them.
                    let mut off = read;
                    for (band, off) in off.iter_mut().enumerate().take(SAMPLES) {
                        let is_down = (first..=last).contains(&band);
                        *off += kernel.error_at(band) * if is_down { -1.0 } else { 1.0 };
                    }
                    let moved = kernel.lab(0, &off);
                    let apart = [moved.l - lab.l, moved.a - lab.a, moved.b - lab.b];
                    let apart = apart.iter().map(|by| by * by).sum::<f64>().sqrt();
                    assert!(
                        apart <= allowed,
                        "{base}: {counts:?}, {first} to {last} down: {apart} above {allowed}"
                    );
                }
            }
        }
    }
}

#[test]
fn what_the_kernel_takes_for_a_difference_is_about_the_models_and_its_floor_is_below_it() {
    let shelf = six_pigments();
    let colorants = ["red", "white", "yellow", "blue"];
    let mut even = Even::new(26);
    for (base, placement) in placements(&shelf) {
        let question = question(&shelf, base, placement, &colorants);
        let bench = Bench::new(&question, &question.colorants).expect("all are dropped");
        let kernel = question.kernel(&bench);
        for _ in 0..300 {
            let (counts, grams) = drawn(&bench, &mut even);
            let (floor, about) = question.delta_e_by(&kernel, &grams);
            let exact = question.delta_e_of(&bench, &counts);
            assert!(floor <= exact, "{base}: {counts:?}: {exact} below {floor}");
            assert!(
                (about - exact).abs() < 0.05,
                "{base}: {counts:?}: {about} for {exact}"
            );
        }
    }
}

#[test]
fn a_box_is_cut_to_the_doses_that_stand_in_some_recipe_within_the_drops_that_may_be() {
    let shelf = six_pigments();
    let mut even = Even::new(27);
    let mut question = question(
        &shelf,
        "skin",
        over_a_card(&shelf),
        &["red", "red 1:10", "white"],
    );
    question.limits.max_total_drops = 12;
    let bench = Bench::new(&question, &question.colorants).expect("all are dropped");
    let kernel = question.kernel(&bench);
    let doses = [0, 1].map(|pigment| Doses::new(&bench, pigment, &question, Effort::MOST));
    let prover = Prover {
        question: &question,
        bench: &bench,
        kernel: &kernel,
        over_cards: None,
        doses: &doses,
        max_pigments: 2,
        deadline: None,
    };
    let mut cut = 0;
    for _ in 0..2000 {
        let ranges: Vec<Range> = (doses.iter())
            .map(|doses| {
                let last = doses.list.len() - 1;
                let low = even.between(0, last);
                (low, even.between(low, last))
            })
            .collect();
        // The least and the greatest dose of each pigment among all recipes of the box.
        let mut found: Option<[Range; 2]> = None;
        for red in ranges[0].0..=ranges[0].1 {
            for white in ranges[1].0..=ranges[1].1 {
                let drops = doses[0].list[red].drops + doses[1].list[white].drops;
                if drops <= question.limits.max_total_drops {
                    let [reds, whites] = found.unwrap_or([(red, red), (white, white)]);
                    let with = |(low, high): Range, at: usize| (low.min(at), high.max(at));
                    found = Some([with(reds, red), with(whites, white)]);
                }
            }
        }
        let mut narrowed = ranges.clone();
        // No colour lies so far off that it would be ruled out.
        let floor = (prover.bounder()).assess(&mut narrowed, 1e4, &mut Scratch::default());
        match found {
            Some(found) => {
                assert!(floor.is_some(), "{ranges:?} has recipes");
                assert_eq!(narrowed, found, "of {ranges:?}");
                cut += usize::from(narrowed != ranges);
            }
            None => assert_eq!(floor, None, "{ranges:?} has none"),
        }
    }
    assert!(cut > 300, "{cut} boxes are cut");
}

#[test]
fn the_grid_reaches_as_far_as_recipes_do_and_no_farther_than_a_pigments_load_allows() {
    let shelf = six_pigments();
    let mut question = question(&shelf, "skin", over_a_card(&shelf), &["red", "red 1:10"]);
    let small = Poured {
        base: "skin".to_owned(),
        base_mass: Grams(2.0),
        mix: Default::default(),
    };
    question.cup = Cup::pour(&shelf, &small).expect("a sound cup");
    question.limits.max_drops = 40;
    question.limits.max_total_drops = 60;
    let bench = Bench::new(&question, &question.colorants).expect("all are dropped");
    let mut greatest = 0.0_f64;
    each_recipe(&question, |bench, _, counts| {
        let amounts = counts.iter().map(|count| f64::from(*count));
        greatest = greatest.max(bench.coefficients(amounts).k[0]);
    });
    let response = question.kernel(&bench).response;
    let end = response.u.value(0, response.u.cells as f64);
    assert!(end >= greatest, "{greatest} lies beyond {end}");
    // A tenth of a cup that sixty drops of 0.03 g at most double may be red, and at first it is one of two grams.
    let red = &shelf.pigments[0];
    assert!(red.max_fraction == 0.1, "a tenth: {}", red.max_fraction);
    let most = 2.0 * (red.max_fraction * red.coefficients.k[0] + shelf.bases[0].coefficients.k[0]);
    assert!(end <= most, "{end} is more than {most}");
}

#[test]
fn a_box_whose_sure_pigments_leave_room_for_one_is_not_bounded_as_if_there_was_room_for_two() {
    let shelf = six_pigments();
    let mut question = question(
        &shelf,
        "skin",
        over_a_card(&shelf),
        &["red", "yellow", "blue"],
    );
    let white = Poured {
        base: "skin".to_owned(),
        base_mass: Grams(300.0),
        mix: "white 60".parse().expect("a mix"),
    };
    question.cup = Cup::pour(&shelf, &white).expect("a sound cup");
    let bench = Bench::new(&question, &question.colorants).expect("all are dropped");
    let kernel = question.kernel(&bench);
    let doses: Vec<Doses> = (0..3)
        .map(|pigment| Doses::new(&bench, pigment, &question, Effort::MOST))
        .collect();
    let index = |name: &str| {
        let found = bench
            .pigments
            .iter()
            .position(|pigment| pigment.name == name);
        found.expect("on the bench")
    };
    let (red, yellow, blue) = (index("red"), index("yellow"), index("blue"));
    let counts = |drops: &[(usize, u32)]| {
        let mut counts = vec![0; 3];
        for (pigment, count) in drops {
            counts[bench.pigments[*pigment].strongest] = *count;
        }
        counts
    };
    // Just what all three make, where red is in for sure and one of the others may be.
    let all = counts(&[(red, 2), (yellow, 1), (blue, 1)]);
    let amounts = all.iter().map(|count| f64::from(*count));
    let reading = question.reading(&bench.coefficients(amounts));
    let mut asked = question.clone();
    asked.aims[0].lab = asked.aims[0].weights.lab(&reading);
    asked.limits.max_pigments = 2;
    let best = [
        counts(&[(red, 2)]),
        counts(&[(red, 2), (yellow, 1)]),
        counts(&[(red, 2), (blue, 1)]),
    ]
    .map(|counts| asked.delta_e_of(&bench, &counts))
    .into_iter()
    .fold(f64::INFINITY, f64::min);
    let prover = Prover {
        question: &asked,
        bench: &bench,
        kernel: &kernel,
        over_cards: None,
        doses: &doses,
        max_pigments: 2,
        deadline: None,
    };
    let mut ranges = [(0, 0); 3];
    for (pigment, range) in [(red, (2, 2)), (yellow, (0, 1)), (blue, (0, 1))] {
        ranges[pigment] = range;
    }
    let floor = prover
        .bounder()
        .floor(&ranges, &mut Scratch::default(), f64::INFINITY);
    assert!(floor <= best && floor > 0.1 * best, "{floor} under {best}");
}

#[test]
fn what_a_difference_of_two_reflectances_lies_within_is_the_difference_of_their_ranges() {
    // R. E. Moore (1966), Interval Analysis: [a, b] − [c, d] = [a − d, b − c].
    let shelf = six_pigments();
    let mut even = Even::new(28);
    let question = question(
        &shelf,
        "skin",
        over_a_card(&shelf),
        &["red", "white", "yellow"],
    );
    let bench = Bench::new(&question, &question.colorants).expect("all are dropped");
    let mut kernel = question.kernel(&bench);
    let light = &mut kernel.lights[0];
    let (one, other) = (7, 24);
    light.all = [[0.0; LANES]; 3];
    light.all[0][one] = 1.0;
    light.all[1][other] = 1.0;
    light.all[2][one] = 1.0;
    light.all[2][other] = -1.0;
    light.positive = light.all.map(|row| row.map(|weight| weight.max(0.0)));
    light.negative = light.all.map(|row| row.map(|weight| weight.min(0.0)));
    let additions = kernel.additions.len();
    let open = Open {
        is_open: vec![false; additions],
        count: 0,
        at_most: additions,
    };
    let mut planes = Planes::default();
    for _ in 0..200 {
        let low: Vec<f64> = (0..additions).map(|_| 0.3 * even.next()).collect();
        let high: Vec<f64> = low.iter().map(|grams| grams + 0.1 * even.next()).collect();
        kernel.bound(&low, &high, &open, &mut planes);
        let [x, y, z] = planes.xyz[0].map(|plane| plane.range);
        let apart = [z.0 - (x.0 - y.1), z.1 - (x.1 - y.0)];
        assert!(
            apart.iter().all(|by| by.abs() < 1e-9),
            "{z:?} of {x:?} and {y:?}"
        );
    }
}
