//! The whole-drop search: a quick good answer first, then the proof, which finds what was missed.

use std::time::Instant;

use super::candidate::Bench;
use super::doses::Doses;
use super::effort::Effort;
use super::pool::{Kept, Pool};
use super::proof::kernel::Kernel;
use super::proof::prove::{Left, Prover};
use super::proof::response::{Grid, Response, Span};
use super::question::{Placement, Question};
use super::real_valued::Relaxed;
use super::relaxed::{relax, relax_from};
use super::sought::{Handiest, Handy, Nearest};
use super::start::Start;
use crate::colour::{Spectrum, TristimulusWeights, delta_e_2000};
use crate::error::{Error, Mend, Result, Setting};
use crate::materials::{Amount, Colorant, Grams, Mix};
use crate::optics::Coefficients;

/// What a search found.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Answer {
    /// Recipes, the one to mix first, then the nearest; at least one.
    pub(crate) recipes: Vec<Recipe>,
    /// How far the nearest known may each be from the best of its rank, in ΔE00.
    pub(crate) gap: f64,
    /// Whether that gap is at most what was asked for.
    pub(crate) proven: bool,
    /// Mean ΔE00 of the nearest known.
    pub(crate) nearest_delta_e: f64,
    /// What the recipe to mix asks of the hands, in doses.
    pub(crate) effort: f64,
    /// How much more than the least of those that are near enough that may be; `None` where the nearest was asked for.
    pub(crate) effort_gap: Option<f64>,
    /// How many strengths of pigments were passed over, since there are more ways to dose them than can be set out.
    pub(crate) strengths_left_out: usize,
}

/// Drops for one cup.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Recipe {
    /// Whole drops, none of them zero, in the order of the shelf.
    pub(crate) drops: Vec<(Colorant, u32)>,
    /// What is weighed instead, each by whole steps of the scale.
    pub(crate) weighed: Vec<(Colorant, Grams)>,
    /// Mean ΔE00 from the aims.
    pub(crate) delta_e: f64,
}

impl Recipe {
    /// The drops as a mix, after `fixed`.
    ///
    /// # Errors
    /// A drop of what is in `fixed` already.
    pub(crate) fn mix(&self, fixed: &Mix) -> Result<Mix> {
        let drops = self
            .drops
            .iter()
            .map(|(colorant, count)| (colorant.clone(), Amount::Drops((*count).into())));
        let weighed = self.weighed.iter();
        let weighed = weighed.map(|(colorant, mass)| (colorant.clone(), Amount::Mass(*mass)));
        let entries = drops.chain(weighed).chain(fixed.entries().iter().cloned());
        Mix::new(entries.collect())
    }
}

/// A drop that moves the colour by more than this (ΔE00) is too coarse to be the finest there is: rounding to the
/// nearest then costs up to half of it, about what the eye lets pass on light skin with a few pigments in the cup.
const COARSE_DROP: f64 = 0.5;

/// The let-downs that join a pigment whose drop is too coarse: the strongest whose drop is fine enough, so that a
/// maker has one to make. Common practice, no source.
const LET_DOWNS: [f64; 3] = [5.0, 10.0, 20.0];

impl Question<'_> {
    /// Finds the nearest whole-drop recipes.
    ///
    /// # Errors
    /// No colorant at hand for a cup that no drop went into; a colorant that is not on the shelf, is not counted in drops, or is named twice.
    pub(crate) fn search(&self) -> Result<Answer> {
        if self.colorants.is_empty() {
            return Ok(Answer::settled(self.settled()?, false));
        }
        let ready = self.ready(None)?;
        let mut pool = ready.warm_pool(self.limits.top.max(1));
        self.tell(&pool);
        let gap = ready.nearest(&mut pool, self.deadline)?;
        Ok(ready.answer(&pool, gap, None))
    }

    /// Finds, of the whole-drop recipes that are near enough, the one that asks least of the hands; of equal ones the
    /// nearest. `limit_for` says up to which mean ΔE00 a recipe is near enough, given the nearest.
    ///
    /// The handiest is sought before the nearest is proven, since it takes a fraction of the time; should the proof turn up a
    /// nearer one by which it is too far off, it is sought again.
    ///
    /// # Errors
    /// As [`search`](Self::search); what `limit_for` refuses.
    pub(crate) fn handiest(&self, limit_for: impl Fn(&Recipe) -> Result<f64>) -> Result<Answer> {
        if self.colorants.is_empty() {
            return Ok(Answer::settled(self.settled()?, true));
        }
        let ready = self.ready(self.scale_step)?;
        let mut pool = ready.warm_pool(self.limits.top.max(1));
        self.tell(&pool);
        let begun = Instant::now();
        let share = |share: f64| {
            self.deadline
                .map(|deadline| begun + deadline.saturating_duration_since(begun).mul_f64(share))
        };
        let limit_of = |pool: &Pool<'_>| limit_for(&recipe_of(&ready.bench, &pool.best()[0]));
        let at_once = if pool.best().is_empty() {
            None
        } else {
            let limit = limit_of(&pool)?;
            let handy = ready.handiest(&pool.best()[0], limit, share(1.0 / 3.0));
            Some((limit, handy))
        };
        let gap = ready.nearest(&mut pool, share(5.0 / 6.0))?;
        self.tell(&pool);
        let limit = limit_of(&pool)?;
        let serves =
            |(known, (handy, _)): &(f64, (Handy, f64))| limit <= *known && handy.delta_e <= limit;
        let handy = match at_once.filter(serves) {
            Some((_, handy)) => handy,
            None => ready.handiest(&pool.best()[0], limit, self.deadline),
        };
        Ok(ready.answer(&pool, gap, Some(handy)))
    }

    /// Tells who watches of the best in `pool`.
    fn tell(&self, pool: &Pool<'_>) {
        if let Some(best) = pool.best().first() {
            let kind = self.cup.base.kind.kind();
            self.limits.watch.tell(kind, best.delta_e);
        }
    }

    /// The search set out for a proof: the drops at hand with the let-downs that join them, and the doses that may be weighed to
    /// `step` instead; the inner loop, and the best real-valued recipes.
    fn ready(&self, step: Option<Grams>) -> Result<Ready<'_>> {
        let neat = Bench::new(self, &self.colorants)?;
        let kernel = self.kernel(&neat);
        let relaxed = self.relaxed(&neat, &kernel);
        let colorants = match self.let_downs {
            true => self.with_let_downs(&neat, &kernel, &relaxed),
            false => self.colorants.clone(),
        };
        let all = Bench::new(self, &colorants)?;
        let few = self.few_strengths(&all);
        let strengths_left_out = colorants.len() - few.len();
        let all = match strengths_left_out {
            0 => all,
            _ => Bench::new(self, &few)?,
        };
        // What stands in the bottle is the strongest, and stays.
        let bench = match step.filter(|_| self.let_downs) {
            Some(step) => {
                let drops = self.coarse(&neat, &kernel, &relaxed).into_iter();
                let drops = drops.map(|(index, moves)| (&neat.drops[index], moves));
                let fine =
                    drops.filter(|(drop, moves)| moves * step.0 / drop.mass_g <= COARSE_DROP);
                let fine: Vec<usize> = fine
                    .filter_map(|(drop, _)| few.iter().position(|kept| *kept == drop.colorant))
                    .collect();
                all.with_weighings(&fine, step)
            }
            None => all,
        };
        Ok(Ready {
            over_cards: self.contrast_kernels(&bench, self.grid()),
            question: self,
            bench,
            kernel,
            relaxed,
            strengths_left_out,
        })
    }

    /// The best real-valued recipes of the drops of `bench`, which are the colorants and nothing else.
    pub(super) fn relaxed(&self, bench: &Bench<'_>, kernel: &Kernel) -> Vec<Relaxed> {
        if self.nearby.is_empty() {
            relax(self, bench, kernel)
        } else {
            relax_from(&self.nearby, self, bench, kernel)
        }
    }

    /// The inner loop, ready for the drops of `bench` and their let-downs.
    pub(crate) fn kernel(&self, bench: &Bench<'_>) -> Kernel {
        self.kernel_of(bench, self.grid())
    }

    /// The same, on a `grid`.
    pub(super) fn kernel_of(&self, bench: &Bench<'_>, grid: Grid) -> Kernel {
        let lights = self.aims.iter().map(|aim| &aim.weights);
        self.kernel_over(None, bench, lights, grid)
    }

    /// The kernels of the film over the black card and over the white one on a `grid`, if its contrast ratio matters.
    pub(crate) fn contrast_kernels(&self, bench: &Bench<'_>, grid: Grid) -> Option<[Kernel; 2]> {
        let contrast = self.contrast.as_ref()?;
        let light = || std::iter::once(&contrast.weights);
        let over = |card| self.kernel_over(Some(card), bench, light(), grid);
        Some(contrast.cards.each_ref().map(over))
    }

    /// The grid on which a proof relies.
    pub(crate) fn grid(&self) -> Grid {
        match &self.placement {
            Placement::Film { over, .. } if !over.is_empty() => Grid::OF_A_STACK,
            _ => Grid::FINE,
        }
    }

    /// The kernel of the casting over `card`, or over what lies beneath it where none is given, seen under `lights`.
    ///
    /// Its additions are the dispersion of each pigment of `bench`, then the clear base where any drop may carry some.
    /// Its K and S are those of the liquid; a foam rises within the response. The cost is that of sampling the layer
    /// model, once for each kernel.
    fn kernel_over<'w>(
        &'w self,
        card: Option<&Spectrum>,
        bench: &'w Bench<'_>,
        lights: impl Iterator<Item = &'w TristimulusWeights>,
        grid: Grid,
    ) -> Kernel {
        let span = self.span(bench);
        let risen = |liquid: &Coefficients| self.reading_over(card, &bench.base.risen(liquid));
        let response = Response::new(&risen, &span, grid, self.limits.threads);
        let pigments = bench.pigments.iter().map(|pigment| &pigment.coefficients);
        let lets_down = self.let_downs || bench.drops.iter().any(|drop| drop.clear_g() > 0.0);
        let clear = lets_down.then_some(&bench.base.coefficients);
        Kernel::new(
            response,
            (&bench.sum.scaled(1.0 / bench.staying_g), bench.staying_g),
            pigments.chain(clear),
            lights,
        )
    }

    /// The least and greatest K and S of any recipe.
    ///
    /// Both are in mm⁻¹, before a foam rises. The greatest is bounded at each wavelength by itself, with the drops that
    /// are strongest there, and no single recipe need reach it; the least is what is in the cup before, thinned by the
    /// heaviest drops as if they were clear.
    fn span(&self, bench: &Bench<'_>) -> Span {
        let total = f64::from(self.limits.max_total_drops);
        let heaviest =
            |mass: &dyn Fn(usize) -> f64| (0..bench.drops.len()).map(mass).fold(0.0, f64::max);
        let heaviest_g = heaviest(&|index| bench.drops[index].mass_g);
        let clear_g = total * heaviest_g;
        // Drops of each pigment at its strongest, and how many of them.
        let drops: Vec<(f64, f64, &Coefficients)> = bench
            .pigments
            .iter()
            .map(|pigment| {
                let strongest = &bench.drops[pigment.strongest];
                let load_g = pigment.max_fraction * (bench.mass_g + clear_g) - pigment.fixed_g;
                let most = (load_g / strongest.dispersion_g).max(0.0);
                let counted: u32 = (bench.drops.iter())
                    .filter(|drop| bench.pigments[drop.pigment].name == pigment.name)
                    .map(|drop| drop.most)
                    .sum();
                let most = most.min(f64::from(counted)).min(total);
                (most, strongest.dispersion_g, &pigment.coefficients)
            })
            .collect();
        let greatest = |of: fn(&Coefficients) -> &Spectrum| {
            Spectrum::from_fn(|lane| {
                let mut strengths: Vec<(f64, f64)> = (drops.iter())
                    .map(|(most, dispersion_g, unit)| (of(unit)[lane] * dispersion_g, *most))
                    .collect();
                strengths.sort_by(|one, other| other.0.total_cmp(&one.0));
                let mut left = total;
                let mut sum = of(&bench.sum)[lane] + of(&bench.base.coefficients)[lane] * clear_g;
                for (strength, most) in strengths {
                    let count = most.min(left);
                    sum += strength * count;
                    left -= count;
                }
                sum / bench.staying_g
            })
        };
        let diluted = bench.staying_g / (bench.staying_g + total * heaviest_g);
        let least = bench.sum.scaled(diluted / bench.staying_g);
        Span {
            low: least,
            high: Coefficients {
                k: greatest(|unit| &unit.k),
                s: greatest(|unit| &unit.s),
            },
        }
    }

    /// The drops from the bottle that are too coarse at the best real-valued recipe: their index on the bench, which is that of
    /// the colorants, and what one moves the colour by, ΔE00.
    ///
    /// What a drop does is taken under the first light, by one drop more than that recipe has.
    fn coarse(&self, bench: &Bench<'_>, kernel: &Kernel, relaxed: &[Relaxed]) -> Vec<(usize, f64)> {
        let mut amounts = vec![0.0; bench.drops.len()];
        for (pigment, amount) in relaxed.first().map_or(&[][..], |best| &best.amounts) {
            amounts[bench.pigments[*pigment].strongest] = *amount;
        }
        let lab = |amounts: &[f64]| {
            let reflectance = kernel.reflectance(&bench.grams(amounts.iter().copied()));
            self.aims[0].weights.lab(&reflectance)
        };
        let here = lab(&amounts);
        let moves = |index: usize| {
            let mut more = amounts.clone();
            more[index] += 1.0;
            delta_e_2000(here, lab(&more))
        };
        (0..bench.drops.len())
            .filter(|index| bench.drops[*index].colorant.let_down == 1.0)
            .map(|index| (index, moves(index)))
            .filter(|(_, moves)| *moves > COARSE_DROP)
            .collect()
    }

    /// The colorants, and a let-down for each pigment whose drop is too coarse: see [`coarse`](Self::coarse).
    ///
    /// Where even the weakest of [`LET_DOWNS`] is too coarse, that one joins.
    pub(super) fn with_let_downs(
        &self,
        bench: &Bench<'_>,
        kernel: &Kernel,
        relaxed: &[Relaxed],
    ) -> Vec<Colorant> {
        let mut colorants = self.colorants.clone();
        for (index, moves) in self.coarse(bench, kernel, relaxed) {
            let drop = &bench.drops[index];
            let fine = LET_DOWNS
                .into_iter()
                .find(|let_down| moves / let_down <= COARSE_DROP);
            let let_down = fine.unwrap_or(LET_DOWNS[LET_DOWNS.len() - 1]);
            let proposed = Colorant {
                let_down,
                ..drop.colorant.clone()
            };
            let stands_in = |at_hand: &Colorant| self.stands_in(at_hand, &proposed, drop.mass_g);
            if !self.colorants.iter().any(stands_in) {
                colorants.push(proposed);
            }
        }
        colorants
    }

    /// Whether the let-down `at_hand` saves making the one `proposed`, of drops of `drop_g`: it is as fine, and no more than
    /// [`FINER`] times finer, its drops can make up one from the bottle, and as much of it stands on the shelf. The same
    /// let-down always does: there is nothing else to make.
    fn stands_in(&self, at_hand: &Colorant, proposed: &Colorant, drop_g: f64) -> bool {
        if at_hand == proposed {
            return true;
        }
        let let_down = at_hand.let_down;
        let jars = self
            .shelf
            .let_downs
            .iter()
            .filter(|jar| jar.colorant == *at_hand && jar.base == self.cup.base.name);
        let stands_g: f64 = jars.map(|jar| jar.mass.0).sum();
        at_hand.pigment == proposed.pigment
            && (proposed.let_down..=FINER * proposed.let_down).contains(&let_down)
            && let_down <= f64::from(self.limits.max_drops) + 1.0
            && stands_g >= (let_down - 1.0) * drop_g
    }
}

/// What was `kept` of the drops of `bench`, named.
pub(super) fn recipe_of(bench: &Bench<'_>, kept: &Kept) -> Recipe {
    let some = || (bench.drops.iter().zip(&kept.counts)).filter(|(_, count)| **count > 0);
    Recipe {
        drops: some()
            .filter(|(drop, _)| drop.step_in_drops.is_none())
            .map(|(drop, count)| (drop.colorant.clone(), *count))
            .collect(),
        weighed: some()
            .filter(|(drop, _)| drop.step_in_drops.is_some())
            .map(|(drop, count)| {
                (
                    drop.colorant.clone(),
                    Grams(drop.mass_g * f64::from(*count)),
                )
            })
            .collect(),
        delta_e: kept.delta_e,
    }
}

/// A search that is set out: the drops at hand, and what tells their colours.
struct Ready<'a> {
    question: &'a Question<'a>,
    bench: Bench<'a>,
    kernel: Kernel,
    /// The film over the black card and the white one, where its contrast ratio matters.
    over_cards: Option<[Kernel; 2]>,
    /// The best real-valued recipes, the nearest first.
    relaxed: Vec<Relaxed>,
    /// How many strengths are not among the drops.
    strengths_left_out: usize,
}

impl Ready<'_> {
    /// The best `size` recipes that are found without a proof.
    fn warm_pool(&self, size: usize) -> Pool<'_> {
        let start = Start {
            question: self.question,
            bench: &self.bench,
            kernel: &self.kernel,
            over_cards: self.over_cards.as_ref(),
            relaxed: &self.relaxed,
        };
        start.warm_pool(size)
    }

    /// Finds what `pool` missed until `deadline`; returns how far the recipes in it may be from the best of their rank.
    ///
    /// # Errors
    /// No recipe keeps to what is asked.
    fn nearest(&self, pool: &mut Pool<'_>, deadline: Option<Instant>) -> Result<f64> {
        let within = self.question.limits.within;
        let doses = self.doses(Effort::MOST);
        let prover = self.prover(&doses, self.question.limits.max_pigments, deadline);
        let left = prover.prove(&mut Nearest { pool, within });
        let floor = left.map_or(f64::INFINITY, |left| left.floor);
        let floor = floor.min(pool.worst() - within).max(0.0);
        if pool.best().is_empty() {
            return Err(none_keeps_to_it(floor.is_infinite()));
        }
        let gap = |kept: &Kept| kept.delta_e - floor;
        Ok(pool.best().iter().map(gap).fold(0.0, f64::max))
    }

    /// The recipe of least effort below the mean ΔE00 `limit`, of equal ones the nearest, and how much more effort that may be
    /// than the least; at worst `nearest` itself, which is below.
    ///
    /// Recipes of one dose are looked through, then of two, and so on: the few doses that a small effort leaves, and the few
    /// pigments, make boxes that are soon empty. What is known by `deadline` has to do.
    fn handiest(&self, nearest: &Kept, limit: f64, deadline: Option<Instant>) -> (Handy, f64) {
        let question = self.question;
        let known = Handy {
            effort: self.bench.effort(&nearest.counts),
            delta_e: nearest.delta_e,
            counts: nearest.counts.clone(),
        };
        for doses_in_all in 1.. {
            let most = Effort::doses(doses_in_all).min(known.effort);
            let mut sought = Handiest {
                bench: &self.bench,
                // A recipe at the limit is near enough.
                limit: limit.next_up(),
                most,
                is_tinted: question.is_tinted,
                best: (most == known.effort).then(|| known.clone()),
            };
            let doses = self.doses(most);
            let pigments = usize::try_from(most.in_doses()).unwrap_or(usize::MAX);
            let max_pigments = question.limits.max_pigments.min(pigments);
            let prover = self.prover(&doses, max_pigments, deadline);
            let left = prover.prove(&mut sought);
            let all_smaller = Effort::doses(doses_in_all - 1);
            if let Some(Left { effort, .. }) = left {
                let best = sought.best.unwrap_or(known);
                let gap = best.effort - effort.max(all_smaller);
                return (best, gap.value());
            }
            if let Some(best) = sought.best {
                return (best, 0.0);
            }
        }
        (known, 0.0)
    }

    /// All ways to dose each pigment that ask at most `most` of the hands.
    fn doses(&self, most: Effort) -> Vec<Doses> {
        (0..self.bench.pigments.len())
            .map(|pigment| Doses::new(&self.bench, pigment, self.question, most))
            .collect()
    }

    fn prover<'b>(
        &'b self,
        doses: &'b [Doses],
        max_pigments: usize,
        deadline: Option<Instant>,
    ) -> Prover<'b> {
        Prover {
            question: self.question,
            bench: &self.bench,
            kernel: &self.kernel,
            over_cards: self.over_cards.as_ref(),
            doses,
            max_pigments,
            deadline,
        }
    }

    /// The recipes of `pool`, the nearest up to `gap` from the best, behind the handiest where one was sought.
    fn answer(&self, pool: &Pool<'_>, gap: f64, handy: Option<(Handy, f64)>) -> Answer {
        let nearest = &pool.best()[0];
        let mut kept = pool.best().to_vec();
        if let Some((handy, _)) = &handy {
            let content = self.bench.content(&handy.counts);
            kept.retain(|kept| kept.content != content);
            let handy = Kept {
                delta_e: handy.delta_e,
                counts: handy.counts.clone(),
                content,
            };
            kept.insert(0, handy);
            kept.truncate(self.question.limits.top.max(1));
        }
        Answer {
            effort: self.bench.effort(&kept[0].counts).value(),
            recipes: kept
                .iter()
                .map(|kept| recipe_of(&self.bench, kept))
                .collect(),
            gap,
            // A difference of two sums that are equal by hand.
            proven: gap <= self.question.limits.within + 1e-12,
            nearest_delta_e: nearest.delta_e,
            effort_gap: handy.map(|(_, gap)| gap),
            strengths_left_out: self.strengths_left_out,
        }
    }
}

/// That no recipe keeps to what is asked of the cup: none at all where that is `proven`, else none that was found in time.
pub(super) fn none_keeps_to_it(proven: bool) -> Error {
    const LESS: &str = "ask for less: contrast, drops, or the pigments that must be in";
    if proven {
        Error::out_of_reach("no recipe of these pigments keeps to what is asked of the cup")
            .mend(LESS)
    } else {
        Error::out_of_reach(
            "no recipe that keeps to what is asked of the cup was found in the time",
        )
        .mend(
            Mend::from("give it longer with ")
                .set(Setting::TimeLimit)
                .and(format!(", or {LESS}")),
        )
    }
}

/// A let-down that is finer than the one wanted by up to this takes its place: up to so many times the drops to count.
const FINER: f64 = 5.0;
