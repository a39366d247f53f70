//! All ways to dose one pigment: so many drops from the bottle, so many of each let-down.

use super::candidate::Bench;
use super::effort::Effort;
use super::question::Question;
use crate::materials::Colorant;

/// Most doses of all pigments together that a search sets out. One takes some 650 bytes: these, about 250 MB.
const MOST_DOSES: f64 = 4e5;

/// One way to dose a pigment.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Dose {
    /// Drops of each of the pigment's kinds, in the order of [`Doses::kinds`].
    pub(crate) counts: Vec<u32>,
    /// Dispersion, g.
    pub(crate) dispersion_g: f64,
    /// What stays of the clear base that comes along, g.
    pub(crate) clear_g: f64,
    /// Drops of all kinds.
    pub(crate) drops: u32,
    /// What it asks of the hands.
    pub(crate) effort: Effort,
}

/// What holds for a range of doses.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Span {
    /// Least and greatest clear mass, g.
    pub(crate) clear_g: (f64, f64),
    /// Fewest drops.
    pub(crate) drops: u32,
    /// Least effort.
    pub(crate) effort: Effort,
}

impl Question<'_> {
    /// Of the drops of `bench` those whose doses can all be set out, by colorant. Each strength of a pigment multiplies its doses by
    /// as many as may go in: where they come to more than [`MOST_DOSES`], the pigment with most of them does without its middle
    /// strength, of two without the weaker, until they don't.
    pub(crate) fn few_strengths(&self, bench: &Bench<'_>) -> Vec<Colorant> {
        let mut kinds: Vec<Vec<usize>> = vec![Vec::new(); bench.pigments.len()];
        for (index, drop) in bench.drops.iter().enumerate() {
            kinds[drop.pigment].push(index);
        }
        for kinds in &mut kinds {
            kinds.sort_by(|one, other| {
                let strength = |index: &usize| bench.drops[*index].colorant.let_down;
                strength(one).total_cmp(&strength(other))
            });
        }
        let mut counts: Vec<f64> = (0..kinds.len())
            .map(|pigment| self.most_doses(bench, pigment, &kinds[pigment]))
            .collect();
        while counts.iter().sum::<f64>() > MOST_DOSES {
            let several = (0..kinds.len()).filter(|pigment| kinds[*pigment].len() > 1);
            let Some(most) = several.max_by(|one, other| counts[*one].total_cmp(&counts[*other]))
            else {
                break;
            };
            let middle = kinds[most].len() / 2;
            kinds[most].remove(middle);
            counts[most] = self.most_doses(bench, most, &kinds[most]);
        }
        let mut kept: Vec<usize> = kinds.into_iter().flatten().collect();
        kept.sort_unstable();
        let colorant = |index: usize| bench.drops[index].colorant.clone();
        kept.into_iter().map(colorant).collect()
    }

    /// No fewer than the doses that `pigment` of `bench` has with these `kinds` of drops: as many as there are counts of each, and
    /// no more than there are ways to share all drops that may go in among them.
    fn most_doses(&self, bench: &Bench<'_>, pigment: usize, kinds: &[usize]) -> f64 {
        let total = f64::from(self.limits.max_total_drops);
        let most_g = most_g(bench, pigment, self);
        let mut each = 1.0;
        let mut shared = 1.0;
        for (nth, index) in kinds.iter().enumerate() {
            let drop = &bench.drops[*index];
            let by_load = (most_g / drop.dispersion_g).max(0.0);
            each *= f64::from(drop.most).min(total).min(by_load).floor() + 1.0;
            let nth = (nth + 1) as f64;
            shared *= (total + nth) / nth;
        }
        each.min(shared)
    }
}

/// The most dispersion of `pigment` that may be in a cup beside what is there, g: its load is taken of the heaviest cup there may
/// be, and each recipe is checked again.
fn most_g(bench: &Bench<'_>, pigment: usize, question: &Question<'_>) -> f64 {
    let heaviest = (bench.drops.iter())
        .map(|drop| drop.mass_g)
        .fold(0.0, f64::max);
    let heaviest_g = bench.mass_g + f64::from(question.limits.max_total_drops) * heaviest;
    let limit = &bench.pigments[pigment];
    limit.max_fraction * heaviest_g - limit.fixed_g
}

impl Span {
    fn with(self, other: Self) -> Self {
        Self {
            clear_g: (
                self.clear_g.0.min(other.clear_g.0),
                self.clear_g.1.max(other.clear_g.1),
            ),
            drops: self.drops.min(other.drops),
            effort: self.effort.min(other.effort),
        }
    }
}

/// The doses of one pigment, none first, then by rising mass of dispersion and number of drops.
#[derive(Clone, Debug)]
pub(crate) struct Doses {
    /// Indices of the pigment's drops on the bench, rising.
    pub(crate) kinds: Vec<usize>,
    /// At index 0 is the dose of no drop, so a range that begins there may leave the pigment out.
    pub(crate) list: Vec<Dose>,
    /// Spans of 1, 2, 4, … doses, by their first: two that overlap make up any range.
    spans: Vec<Vec<Span>>,
}

impl Doses {
    /// All doses of `pigment` that the limits of `question` leave room for, of at most the effort `most`.
    ///
    /// A bottle of 40 drops, with a let-down of 1:10 that joined for its fineness, has 41 × 10 of them at most; each
    /// further kind multiplies that.
    pub(crate) fn new(
        bench: &Bench<'_>,
        pigment: usize,
        question: &Question<'_>,
        most: Effort,
    ) -> Self {
        let of_it = |index: &usize| bench.drops[*index].pigment == pigment;
        let kinds: Vec<usize> = (0..bench.drops.len()).filter(of_it).collect();
        let most_drops = question.limits.max_total_drops;
        let most_g = most_g(bench, pigment, question);
        let mut list = vec![Dose {
            counts: Vec::new(),
            dispersion_g: 0.0,
            clear_g: 0.0,
            drops: 0,
            effort: Effort::NONE,
        }];
        for index in &kinds {
            let drop = &bench.drops[*index];
            let longer = |dose: &Dose| {
                // What is weighed is not dropped too.
                let last = match drop.step_in_drops {
                    Some(_) if dose.drops > 0 => 0,
                    Some(_) => drop.most,
                    None => drop.most.min(most_drops - dose.drops),
                };
                let dose = dose.clone();
                (0..=last)
                    .map(move |count| {
                        let mut counts = dose.counts.clone();
                        counts.push(count);
                        Dose {
                            counts,
                            dispersion_g: dose.dispersion_g + f64::from(count) * drop.dispersion_g,
                            clear_g: dose.clear_g + f64::from(count) * drop.clear_g(),
                            drops: dose.drops + drop.counted(count),
                            effort: dose.effort + drop.effort(count),
                        }
                    })
                    .filter(|dose| dose.effort <= most && dose.drops <= most_drops)
                    .filter(|dose| dose.dispersion_g <= most_g || dose.drops == 0)
                    .collect::<Vec<_>>()
            };
            list = list.iter().flat_map(longer).collect();
        }
        list.sort_by(|one, other| {
            (one.dispersion_g.total_cmp(&other.dispersion_g))
                .then(one.drops.cmp(&other.drops))
                .then(one.counts.cmp(&other.counts))
        });
        let mut spans: Vec<Vec<Span>> = vec![
            list.iter()
                .map(|dose| Span {
                    clear_g: (dose.clear_g, dose.clear_g),
                    drops: dose.drops,
                    effort: dose.effort,
                })
                .collect(),
        ];
        let mut long = 1;
        while 2 * long <= list.len() {
            let halves = &spans[spans.len() - 1];
            spans.push(
                (0..=list.len() - 2 * long)
                    .map(|first| halves[first].with(halves[first + long]))
                    .collect(),
            );
            long *= 2;
        }
        Self { kinds, list, spans }
    }

    /// What holds for the doses from `low` to `high`, both included.
    pub(crate) fn span(&self, low: usize, high: usize) -> Span {
        let level = (high - low + 1).ilog2() as usize;
        let spans = &self.spans[level];
        spans[low].with(spans[high + 1 - (1 << level)])
    }

    /// Index of the first dose of at least `grams` of dispersion; the length of the list where none has as much.
    pub(crate) fn from(&self, grams: f64) -> usize {
        self.list.partition_point(|dose| dose.dispersion_g < grams)
    }

    /// How many doses have at most `grams` of dispersion.
    pub(crate) fn up_to(&self, grams: f64) -> usize {
        self.list.partition_point(|dose| dose.dispersion_g <= grams)
    }

    /// The least dispersion that is more than none, g; 1 where no dose has any.
    pub(crate) fn least_g(&self) -> f64 {
        let some = self.list.iter().find(|dose| dose.dispersion_g > 0.0);
        some.map_or(1.0, |dose| dose.dispersion_g)
    }
}
