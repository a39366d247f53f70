//! The drops that a search chooses from, with what each adds to the cup.

use super::effort::Effort;
use super::question::Question;
use crate::error::{Error, Result};
use crate::materials::{Amount, Base, Colorant, Cup, Grams, Portion, whole_number};
use crate::optics::Coefficients;

/// Most steps of the scale that a dose is weighed to: more is dropped as surely.
const MOST_STEPS: u32 = 60;

/// A cup before any drop, and the drops at hand.
#[derive(Clone, Debug)]
pub(crate) struct Bench<'a> {
    /// What the cup is poured of, and what clear base in a drop is counted as.
    pub(crate) base: &'a Base,
    /// Mass of the cup, g.
    pub(crate) mass_g: f64,
    /// Mass that stays when the cup has set, g: without what evaporates from a paint.
    pub(crate) staying_g: f64,
    /// K and S of what stays, before a foam rises, times its mass: mm⁻¹ g.
    pub(crate) sum: Coefficients,
    /// Distinct pigments, in the order they were given.
    pub(crate) pigments: Vec<BenchPigment>,
    /// Kinds of drops, in the order in which colorants were given; counts and amounts are in it as well.
    pub(crate) drops: Vec<BenchDrop>,
    /// What several of the pigments hold, where some are stocks: their loads add up.
    shared: Vec<SharedLoad>,
}

/// A dispersion, or a carrier, that stocks at hand hold.
#[derive(Clone, Debug)]
struct SharedLoad {
    /// The largest share of the whole cup's mass that it may take.
    max_fraction: f64,
    /// Mass of it already in the cup, g.
    fixed_g: f64,
    /// Its share in the dispersion of each pigment that holds any, by the pigment's index.
    shares: Vec<(usize, f64)>,
}

/// A pigment of which there are drops at hand, of whatever strength.
#[derive(Clone, Debug)]
pub(crate) struct BenchPigment {
    /// Its name on the shelf, as in [`Question::must`].
    pub(crate) name: String,
    /// The largest share of the whole cup's mass that its dispersion may take, above 0, up to 1.
    pub(crate) max_fraction: f64,
    /// K and S of its dispersion, mm⁻¹ per unit mass fraction.
    pub(crate) coefficients: Coefficients,
    /// Mass of its dispersion already in the cup, g.
    pub(crate) fixed_g: f64,
    /// Index of its strongest drop among the drops.
    pub(crate) strongest: usize,
}

/// One kind of drop.
#[derive(Clone, Debug)]
pub(crate) struct BenchDrop {
    /// The pigment and its let-down, as a maker counts them.
    pub(crate) colorant: Colorant,
    /// Index of its pigment.
    pub(crate) pigment: usize,
    /// Most of them in a cup.
    pub(crate) most: u32,
    /// Mass of a drop, g.
    pub(crate) mass_g: f64,
    /// The dispersion in it, g; the rest is clear base.
    pub(crate) dispersion_g: f64,
    /// Whether its jar is to be made for this cup.
    pub(crate) is_new_jar: bool,
    /// Where it is a step of the scale instead of a drop: how many drops of the pigment it weighs.
    pub(crate) step_in_drops: Option<f64>,
    /// What of it stays when the cup has set, g.
    staying_g: f64,
    /// K and S of what stays of it, times that mass: mm⁻¹ g.
    sum: Coefficients,
}

impl BenchDrop {
    /// What stays of the clear base in a drop, g.
    pub(crate) fn clear_g(&self) -> f64 {
        self.staying_g - self.dispersion_g
    }

    /// As how many drops `count` of it stand among all that are allowed: a weighed dose as many as it weighs, rounded up.
    pub(crate) fn counted(&self, count: u32) -> u32 {
        match self.step_in_drops {
            Some(drops) => whole_number((f64::from(count) * drops).ceil()),
            None => count,
        }
    }

    /// What a dose of `count` of it asks of the hands.
    pub(crate) fn effort(&self, count: u32) -> Effort {
        match self.step_in_drops {
            Some(_) => Effort::of_steps(count),
            None => Effort::of_drops(count, self.is_new_jar),
        }
    }
}

impl<'a> Bench<'a> {
    /// The bench of `question`, with `colorants` at hand.
    ///
    /// # Errors
    /// A colorant that is named twice, is not on the shelf, or is not counted in drops.
    pub(crate) fn new(question: &'a Question<'_>, colorants: &[Colorant]) -> Result<Self> {
        let empty = &question.cup;
        let solids = empty.base.solids();
        let staying = |portions: &[Portion<'_>]| -> f64 {
            let stays = |p: &Portion<'_>| p.dispersion_mass().0 + solids * p.clear_mass().0;
            portions.iter().map(stays).sum()
        };
        let staying_g = solids * empty.base_mass.0 + staying(&empty.portions);
        let mut bench = Self {
            base: &question.cup.base,
            mass_g: empty.mass().0,
            staying_g,
            sum: empty.before_rise().scaled(staying_g),
            pigments: Vec::new(),
            drops: Vec::with_capacity(colorants.len()),
            shared: Vec::new(),
        };
        for colorant in colorants {
            if bench.drops.iter().any(|drop| drop.colorant == *colorant) {
                let finding = format!("`{colorant}` is named twice among the pigments");
                return Err(Error::input(finding).mend("name each once"));
            }
            let portion = Portion::new(question.shelf, colorant, Amount::Drops(1.0))?;
            let mut sum = portion
                .pigment
                .coefficients
                .scaled(portion.dispersion_mass().0);
            sum.add_scaled(solids * portion.clear_mass().0, &empty.base.coefficients);
            let pigment = bench.index_of(&portion, empty);
            let drop = BenchDrop {
                colorant: colorant.clone(),
                pigment,
                most: question.most_drops(colorant),
                is_new_jar: question.needs_a_jar(colorant),
                step_in_drops: None,
                mass_g: portion.mass.0,
                dispersion_g: portion.dispersion_mass().0,
                staying_g: staying(std::slice::from_ref(&portion)),
                sum,
            };
            let strongest = bench.pigments[pigment].strongest;
            if bench
                .drops
                .get(strongest)
                .is_none_or(|old| old.dispersion_g < drop.dispersion_g)
            {
                bench.pigments[pigment].strongest = bench.drops.len();
            }
            bench.drops.push(drop);
        }
        bench.shared = bench.shared_loads(question)?;
        Ok(bench)
    }

    /// The same, where the pigments of those `coarse` drops may be weighed as well, in steps of `step`: each of them alone, and
    /// not beside drops of the same pigment.
    pub(crate) fn with_weighings(mut self, coarse: &[usize], step: Grams) -> Self {
        for index in coarse {
            let drop = &self.drops[*index];
            let step_in_drops = step.0 / drop.mass_g;
            let most = (f64::from(drop.most) / step_in_drops).floor();
            let weighed = BenchDrop {
                step_in_drops: Some(step_in_drops),
                most: whole_number(most).min(MOST_STEPS),
                mass_g: step.0,
                dispersion_g: drop.dispersion_g * step_in_drops,
                staying_g: drop.staying_g * step_in_drops,
                sum: drop.sum.scaled(step_in_drops),
                ..drop.clone()
            };
            self.drops.push(weighed);
        }
        self
    }

    /// What stocks among the pigments hold.
    fn shared_loads(&self, question: &Question<'_>) -> Result<Vec<SharedLoad>> {
        let empty = &question.cup;
        let mut shared: Vec<(&str, SharedLoad)> = Vec::new();
        for (index, pigment) in self.pigments.iter().enumerate() {
            for each in &question.shelf.pigment(&pigment.name)?.ingredients {
                let name = each.pigment.name.as_str();
                let known = shared.iter().position(|(of, _)| *of == name);
                let at = known.unwrap_or_else(|| {
                    let neat = self.pigments.iter().position(|other| other.name == name);
                    let load = SharedLoad {
                        max_fraction: each.pigment.max_fraction,
                        fixed_g: empty.fraction_in_all(name) * empty.mass().0,
                        shares: neat.into_iter().map(|neat| (neat, 1.0)).collect(),
                    };
                    shared.push((name, load));
                    shared.len() - 1
                });
                shared[at].1.shares.push((index, each.share));
            }
        }
        Ok(shared.into_iter().map(|(_, load)| load).collect())
    }

    /// Index of the pigment of `portion`, which joins the bench where it is new, with what of it is in the `empty` cup.
    /// Its strongest drop is then the one that is about to be added.
    fn index_of(&mut self, portion: &Portion<'_>, empty: &Cup<'_>) -> usize {
        let pigment = &portion.pigment;
        if let Some(index) = self
            .pigments
            .iter()
            .position(|known| known.name == pigment.name)
        {
            return index;
        }
        self.pigments.push(BenchPigment {
            name: pigment.name.clone(),
            max_fraction: pigment.max_fraction,
            coefficients: pigment.coefficients,
            fixed_g: empty.fraction(&pigment.name) * empty.mass().0,
            strongest: self.drops.len(),
        });
        self.pigments.len() - 1
    }

    /// Grams of each pigment's dispersion in `amounts` of the drops, then of the clear base that stays with them.
    pub(crate) fn grams(&self, amounts: impl Iterator<Item = f64>) -> Vec<f64> {
        let mut grams = vec![0.0; self.pigments.len() + 1];
        for (drop, amount) in self.drops.iter().zip(amounts) {
            grams[drop.pigment] += amount * drop.dispersion_g;
            grams[self.pigments.len()] += amount * drop.clear_g();
        }
        grams
    }

    /// Mass of each pigment's dispersion in `counts` of the drops, to a nanogram.
    pub(crate) fn content(&self, counts: &[u32]) -> Vec<u64> {
        let mut content = self.grams(counts.iter().map(|count| f64::from(*count)));
        content.pop();
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "grams of drops, counted in nanograms"
        )]
        content
            .iter()
            .map(|grams| (grams * 1e9).round() as u64)
            .collect()
    }

    /// K and S (mm⁻¹) of what the cup sets to with `amounts` of the drops, in their order, risen if it is a foam.
    pub(crate) fn coefficients(&self, amounts: impl Iterator<Item = f64>) -> Coefficients {
        let mut sum = self.sum;
        let mut staying_g = self.staying_g;
        for (drop, amount) in self.drops.iter().zip(amounts) {
            if amount > 0.0 {
                sum.add_scaled(amount, &drop.sum);
                staying_g += amount * drop.staying_g;
            }
        }
        self.base.risen(&sum.scaled(1.0 / staying_g))
    }

    /// Whether `counts` of the drops keep to the limits.
    ///
    /// Those are: drops of each kind and of all, pigments dropped in, those that must be, and the load of each with
    /// what is in the cup before. The contrast ratio is not among them.
    pub(crate) fn allows(&self, counts: &[u32], question: &Question<'_>) -> bool {
        let limits = &question.limits;
        if self
            .drops
            .iter()
            .zip(counts)
            .any(|(drop, count)| *count > drop.most)
            || self.counted(counts) > limits.max_total_drops
            || self.is_weighed_and_dropped(counts)
        {
            return false;
        }
        let added = |mass: fn(&BenchDrop) -> f64, of: &dyn Fn(&BenchDrop) -> bool| -> f64 {
            let drops = self.drops.iter().zip(counts).filter(|(drop, _)| of(drop));
            drops
                .map(|(drop, count)| mass(drop) * f64::from(*count))
                .sum()
        };
        let mass_g = self.mass_g + added(|drop| drop.mass_g, &|_| true);
        let mut in_the_cup = 0;
        for (index, pigment) in self.pigments.iter().enumerate() {
            let dispersion_g = added(|drop| drop.dispersion_g, &|drop| drop.pigment == index);
            in_the_cup += usize::from(dispersion_g > 0.0);
            if dispersion_g == 0.0 && question.must.contains(&pigment.name) {
                return false;
            }
            if pigment.fixed_g + dispersion_g > pigment.max_fraction * mass_g {
                return false;
            }
        }
        let keeps = |load: &SharedLoad| {
            let added = load.shares.iter().map(|(pigment, share)| {
                share * added(|drop| drop.dispersion_g, &|drop| drop.pigment == *pigment)
            });
            load.fixed_g + added.sum::<f64>() <= load.max_fraction * mass_g
        };
        in_the_cup <= limits.max_pigments && self.shared.iter().all(keeps)
    }

    /// As how many drops `counts` of all kinds stand.
    fn counted(&self, counts: &[u32]) -> u32 {
        let kinds = self.drops.iter().zip(counts);
        kinds.map(|(drop, count)| drop.counted(*count)).sum()
    }

    /// Whether `counts` weigh some pigment and drop it too.
    fn is_weighed_and_dropped(&self, counts: &[u32]) -> bool {
        let some = || (self.drops.iter().zip(counts)).filter(|(_, count)| **count > 0);
        let mut weighed = some().filter(|(drop, _)| drop.step_in_drops.is_some());
        weighed.any(|(step, _)| {
            some()
                .filter(|(drop, _)| drop.pigment == step.pigment)
                .count()
                > 1
        })
    }

    /// What `counts` of the drops ask of the hands.
    pub(crate) fn effort(&self, counts: &[u32]) -> Effort {
        let kinds = self.drops.iter().zip(counts);
        kinds.map(|(drop, count)| drop.effort(*count)).sum()
    }

    /// `counts`, with one drop of what must be in and isn't.
    pub(crate) fn with_musts(&self, mut counts: Vec<u32>, question: &Question<'_>) -> Vec<u32> {
        for (index, pigment) in self.pigments.iter().enumerate() {
            let mut of_it = self.drops.iter().zip(&counts);
            let is_in = of_it.any(|(drop, count)| drop.pigment == index && *count > 0);
            if question.must.contains(&pigment.name) && !is_in {
                counts[pigment.strongest] = 1;
            }
        }
        counts
    }

    /// The largest amount of a pigment's strongest drop that the limits leave room for, others absent.
    ///
    /// Real-valued, from 0 up. Each drop adds to the cup's mass, too: x drops of mass m with dispersion d keep to a
    /// load f of a cup M that holds d₀ while d₀ + x d ≤ f (M + x m).
    pub(crate) fn room_for(&self, pigment: usize, question: &Question<'_>) -> f64 {
        let BenchPigment {
            max_fraction,
            fixed_g,
            strongest,
            ..
        } = self.pigments[pigment];
        let drop = &self.drops[strongest];
        let by_load = (max_fraction * self.mass_g - fixed_g).max(0.0)
            / (drop.dispersion_g - max_fraction * drop.mass_g).max(f64::MIN_POSITIVE);
        by_load.min(f64::from(
            question
                .limits
                .max_drops
                .min(question.limits.max_total_drops),
        ))
    }

    /// The amount of a pigment's strongest drop that makes `fraction` of the empty cup's mass.
    pub(crate) fn amount_for(&self, pigment: usize, fraction: f64) -> f64 {
        fraction * self.mass_g / self.drops[self.pigments[pigment].strongest].dispersion_g
    }

    /// The weaker drops of a pigment, with how many of each make its strongest; steps of the scale are none, since they don't
    /// stand beside a drop.
    pub(crate) fn weaker(&self, pigment: usize) -> impl Iterator<Item = (usize, f64)> {
        let strongest = self.pigments[pigment].strongest;
        let strength = self.drops[strongest].dispersion_g;
        let drops = self.drops.iter().enumerate();
        drops
            .filter(move |(index, drop)| {
                drop.pigment == pigment && *index != strongest && drop.step_in_drops.is_none()
            })
            .map(move |(index, drop)| (index, strength / drop.dispersion_g))
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::super::question::{CupLimits, Placement};
    use super::super::watch::Watch;
    use super::*;
    use crate::materials::fixtures::shelf;
    use crate::materials::{BaseKind, Grams, Poured, Shelf};

    /// Counts of each kind of drop.
    fn unruly(seed: u64) -> impl Iterator<Item = u32> {
        let mut random = fastrand::Rng::with_seed(seed);
        std::iter::repeat_with(move || random.u32(0..14))
    }

    fn question<'a>(shelf: &'a Shelf, cup: Cup<'a>, colorants: &[Colorant]) -> Question<'a> {
        Question {
            shelf,
            cup,
            placement: Placement::Bed,
            aims: Vec::new(),
            colorants: colorants.to_vec(),
            must: Vec::new(),
            contrast: None,
            let_downs: false,
            opened: Vec::new(),
            is_tinted: false,
            scale_step: None,
            nearby: Vec::new(),
            limits: CupLimits {
                max_drops: 40,
                max_total_drops: 60,
                max_pigments: 4,
                top: 1,
                within: 0.0,
                threads: 1,
                watch: Watch::default(),
            },
            deadline: None,
        }
    }

    #[test]
    fn a_bench_and_a_cup_agree_on_what_drops_make() {
        let shelf: Shelf = shelf();
        let colorants = ["red", "red 1:10", "white", "white 1:5"]
            .map(|name| name.parse::<Colorant>().expect(name));
        for base in &shelf.bases {
            let fixed = if matches!(base.kind, BaseKind::Skin) {
                "fibre 3.5 g"
            } else {
                ""
            };
            let pour = |mix: &str| {
                let mix = mix.parse().expect(mix);
                let poured = Poured {
                    base: base.name.clone(),
                    base_mass: Grams(75.0),
                    mix,
                };
                Cup::pour(&shelf, &poured).expect("a sound cup")
            };
            let question = question(&shelf, pour(fixed), &colorants);
            let bench = Bench::new(&question, &colorants).expect("all are dropped");
            for seed in 0..200 {
                let counts: Vec<u32> = unruly(seed).take(colorants.len()).collect();
                let drops = colorants
                    .iter()
                    .zip(&counts)
                    .map(|(name, count)| format!("{name} {count}; "));
                let cup = pour(&(drops.collect::<String>() + fixed)).coefficients();
                let found = bench.coefficients(counts.iter().map(|count| f64::from(*count)));
                for band in 0..crate::colour::SAMPLES {
                    assert_abs_diff_eq!(found.k[band], cup.k[band], epsilon = 1e-12);
                    assert_abs_diff_eq!(found.s[band], cup.s[band], epsilon = 1e-12);
                }
            }
        }
    }
}
