//! Which few stocks a shop should keep, so that as many tones as can be are matched by at most two of them, skin over a foam
//! of the same stocks, with fibre and white.
//!
//! Stocks are of one pigment or of two in a simple proportion, since a proportion is weighed once and read for months. Two
//! stocks and white span the three directions of a colour, so that what decides is whether amounts come out positive and
//! the skin veiled: it is tried with real-valued amounts, all pairs on a few tones far apart, the best of them on all. Then
//! each stock is thinned in the carrier until one drop of it is not too coarse, and every tone is matched in whole drops,
//! which alone counts as covered. A third and a fourth stock join where they help most.

mod blend;
mod proportion;

use std::time::Duration;

use self::blend::{Blend, Blender};
use self::proportion::Proportion;
use super::one_tint::unused_name;
use super::order::{Order, OrderedUnderlay};
use super::see_through::VEIL;
use crate::colour::{Lab, delta_e_2000};
use crate::error::{Error, Result};
use crate::materials::{Colorant, Grams, Shelf, Stock};
use crate::search::{Limits, in_parallel};
use crate::tone::Target;

/// Stocks for a shop, and what they cover.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct StockPlan {
    /// The stocks, under names that nothing on the shelf has.
    pub stocks: Vec<Stock>,
    /// Each tone, in the order in which it was given, as it comes out in whole drops.
    pub tones: Vec<PlannedTone>,
    /// The same of the tones that it was not planned for.
    pub apart: Vec<PlannedTone>,
    /// What would help tones that are missed, where one more stock does.
    pub next: Option<NextStock>,
    /// How many bottles of a long shelf were passed over.
    pub passed_over: usize,
}

/// A stock beside those of a plan.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct NextStock {
    /// It, under a name that nothing has.
    pub stock: Stock,
    /// How many of the tones that are missed without it are then matched.
    pub covers: usize,
}

/// A tone, matched by the stocks of a plan.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct PlannedTone {
    /// Index among the tones that were given, those apart after the others.
    pub index: usize,
    /// The tone.
    pub aim: Lab,
    /// What comes out.
    pub made: Lab,
    /// ΔE00 between them.
    pub delta_e: f64,
    /// ΔE00 up to which it passes.
    pub tolerance: f64,
    /// Doses of the skin, without fibre.
    pub doses: usize,
}

impl PlannedTone {
    /// Whether it is matched within tolerance.
    pub fn is_covered(&self) -> bool {
        self.delta_e <= self.tolerance
    }
}

impl StockPlan {
    /// The share of `tones`, 0–1, that are matched within tolerance.
    pub fn covered(tones: &[PlannedTone]) -> f64 {
        let covered = tones.iter().filter(|tone| tone.is_covered()).count();
        covered as f64 / tones.len() as f64
    }
}

/// Fewest and most stocks that a plan is made for.
pub const STOCK_COUNTS: std::ops::RangeInclusive<usize> = 1..=4;

/// Pigments that stocks are made of: more proportions than these make are not tried in a minute.
const MOST_PIGMENTS: usize = 5;

/// Tones that every pair is tried on.
const FEW_TONES: usize = 6;

/// Pairs that are tried on all tones.
const FINALISTS: usize = 12;

/// A miss of so many times the tolerance counts as no more than that: no stock is bent for one tone out of reach.
const HOPELESS: f64 = 3.0;

/// How large a plan's stock is, g.
const STOCK_G: Grams = Grams(100.0);

/// Parts by mass of a stock that hold one of pigment: as it leaves the bottle, and thinned in the carrier.
const THINNED: [f64; 7] = [1.0, 2.0, 3.0, 4.0, 6.0, 10.0, 20.0];

/// What one drop of a stock may move the colour, ΔE00: two stocks and white, each rounded to half of that, stay within
/// tolerance.
const FINE_DROP: f64 = 0.6;

/// Doses of a skin: two stocks and white.
const DOSES: usize = 3;

impl Order<'_> {
    /// Designs `count` stocks for `targets`, of this order's skin over its foam, and says how those `apart` come out of them.
    ///
    /// # Errors
    /// A count out of [`STOCK_COUNTS`]; no target; an order without foam to tint; a shelf with fewer than two pigments that tint;
    /// as [`search`](Self::search).
    pub fn plan_stocks(
        &self,
        count: usize,
        targets: &[Target],
        apart: &[Target],
    ) -> Result<StockPlan> {
        if !STOCK_COUNTS.contains(&count) {
            return Err(
                Error::input(format!("{count} stocks are asked for")).mend(format!(
                    "expected {} to {}",
                    STOCK_COUNTS.start(),
                    STOCK_COUNTS.end()
                )),
            );
        }
        let Some(first) = targets.first() else {
            return Err(Error::input("no tone to plan stocks for")
                .mend("keep a part, or leave the choice to the measured skins"));
        };
        self.check(first)?;
        let OrderedUnderlay::Foam(foam) = &self.beneath else {
            return Err(Error::input("no foam to tint").mend("order a skin over foam"));
        };
        let blender = Blender {
            order: self,
            foam,
            white: self.white(),
            window: self.limits.contrast_ratio.unwrap_or(VEIL),
            weights: self.shelf.settings.viewing.weights(),
        };
        let planner = Planner::new(&blender, targets);
        let few = planner.far_apart(FEW_TONES);
        let tints = self.tints();
        let listed = self.few_of(&tints, few.iter().map(|index| targets[*index].clone()))?;
        let passed_over = tints.len() - listed.len();
        let (proportions, mut chosen) = planner.design(count, &few, listed)?;
        let named = |chosen: &[usize]| -> Vec<&Proportion> {
            chosen.iter().map(|index| &proportions[*index]).collect()
        };
        let thinned = planner.thinned(&named(&chosen))?;
        let tones = planner.poured(&thinned)?;
        let mut others = Planner::new(&blender, apart).poured(&thinned)?;
        for tone in &mut others {
            tone.index += targets.len();
        }
        let mut plan = StockPlan {
            stocks: thinned.into_iter().map(|(_, stock)| stock).collect(),
            tones,
            apart: others,
            next: None,
            passed_over,
        };
        let missed = plan.tones.iter().filter(|tone| !tone.is_covered());
        let missed: Vec<Target> = missed.map(|tone| targets[tone.index].clone()).collect();
        if missed.is_empty() || count == *STOCK_COUNTS.end() {
            return Ok(plan);
        }
        let planner = Planner::new(&blender, &missed);
        if let Some(next) = planner.next_stock(&proportions, &chosen)? {
            chosen.push(next);
            let thinned = planner.thinned(&named(&chosen))?;
            let tones = planner.poured(&thinned)?;
            let covers = tones.iter().filter(|tone| tone.is_covered()).count();
            let stock = thinned.into_iter().last().map(|(_, stock)| stock);
            plan.next = stock
                .filter(|_| covers > 0)
                .map(|stock| NextStock { stock, covers });
        }
        Ok(plan)
    }

    /// The white that goes into a skin, if the shelf has one that is dropped.
    fn white(&self) -> Option<String> {
        let mut dropped = self.shelf.dropped();
        let white =
            dropped.find(|pigment| pigment.is_white() && !self.banned.contains(&pigment.name));
        white.map(|pigment| pigment.name.clone())
    }

    /// The pigments that stocks may be made of.
    fn tints(&self) -> Vec<String> {
        (self.shelf.dropped())
            .filter(|pigment| {
                let is_plain = pigment.ingredients.is_empty() && !pigment.is_unread();
                is_plain && !pigment.is_white() && !self.banned.contains(&pigment.name)
            })
            .map(|pigment| pigment.name.clone())
            .collect()
    }
}

impl Order<'_> {
    /// Those of `tints` that can matter for `targets`, where they are many.
    fn few_of(
        &self,
        tints: &[String],
        targets: impl Iterator<Item = Target>,
    ) -> Result<Vec<String>> {
        let of_tints = Order {
            colorants: Some(tints.iter().map(Colorant::neat).collect()),
            must: Vec::new(),
            ..self.clone()
        };
        let listed = of_tints.short_list(&targets.collect::<Vec<_>>())?;
        let is_kept = |name: &&String| listed.is_empty() || listed.contains(name);
        Ok(tints.iter().filter(is_kept).cloned().collect())
    }
}

struct Planner<'a> {
    blender: &'a Blender<'a>,
    targets: &'a [Target],
    tolerances: Vec<f64>,
}

impl<'a> Planner<'a> {
    fn new(blender: &'a Blender<'a>, targets: &'a [Target]) -> Self {
        let tolerance = |target| blender.order.tolerance_for(target);
        Self {
            blender,
            targets,
            tolerances: targets.iter().map(tolerance).collect(),
        }
    }

    /// The proportions of `pigments` that were tried, first on a `few` tones, and the indices of those that are chosen.
    fn design(
        &self,
        count: usize,
        few: &[usize],
        pigments: Vec<String>,
    ) -> Result<(Vec<Proportion>, Vec<usize>)> {
        let pigments = self.worth_trying(few, pigments)?;
        let proportions = Proportion::all_of(&pigments);
        if count == 1 {
            let alone: Vec<Vec<usize>> = (0..proportions.len()).map(|index| vec![index]).collect();
            let all: Vec<usize> = (0..self.targets.len()).collect();
            let scores = self.scores(&proportions, &alone, &all)?;
            return Ok((proportions, vec![best_first(&scores)[0]]));
        }
        let pairs: Vec<Vec<usize>> = pairs(proportions.len());
        let scores = self.scores(&proportions, &pairs, few)?;
        let finalists: Vec<Vec<usize>> = (best_first(&scores).into_iter().take(FINALISTS))
            .map(|index| pairs[index].clone())
            .collect();
        let all: Vec<usize> = (0..self.targets.len()).collect();
        let scores = self.scores(&proportions, &finalists, &all)?;
        let mut chosen = finalists[best_first(&scores)[0]].clone();
        while chosen.len() < count {
            match self.next_stock(&proportions, &chosen)? {
                Some(next) => chosen.push(next),
                None => break,
            }
        }
        Ok((proportions, chosen))
    }

    /// The stock that helps most beside those `chosen`, each tone with the better two; `None` where none helps.
    fn next_stock(&self, proportions: &[Proportion], chosen: &[usize]) -> Result<Option<usize>> {
        let all: Vec<usize> = (0..self.targets.len()).collect();
        let known: Vec<Vec<usize>> = (pairs(chosen.len()).into_iter())
            .map(|pair| pair.into_iter().map(|index| chosen[index]).collect())
            .collect();
        let known = self.misses(proportions, &known, &all)?;
        let sofar: Vec<f64> = (0..all.len())
            .map(|tone| {
                known
                    .iter()
                    .map(|misses| misses[tone])
                    .fold(f64::INFINITY, f64::min)
            })
            .collect();
        // Only what is missed now is looked at again.
        let missed: Vec<usize> = all.into_iter().filter(|tone| sofar[*tone] > 1.0).collect();
        if missed.is_empty() {
            return Ok(None);
        }
        let mut best: Option<(f64, usize)> = None;
        for next in (0..proportions.len()).filter(|index| !chosen.contains(index)) {
            let with: Vec<Vec<usize>> = chosen.iter().map(|one| vec![*one, next]).collect();
            let misses = self.misses(proportions, &with, &missed)?;
            let score: f64 = (missed.iter().enumerate())
                .map(|(index, tone)| {
                    let with = misses.iter().map(|misses| misses[index]);
                    with.fold(sofar[*tone], f64::min)
                })
                .sum();
            if best.is_none_or(|(least, _)| score < least) {
                best = Some((score, next));
            }
        }
        Ok(best.map(|(_, next)| next))
    }

    /// Those of `pigments` of which proportions are tried: all, or those that do most by themselves, two by two.
    fn worth_trying(&self, few: &[usize], pigments: Vec<String>) -> Result<Vec<String>> {
        if pigments.len() < 2 {
            return Err(Error::input("fewer than two pigments tint here")
                .mend("put an iron oxide red, a yellow and an umber, or the like, on the shelf"));
        }
        if pigments.len() <= MOST_PIGMENTS {
            return Ok(pigments);
        }
        let alone: Vec<Proportion> = pigments.iter().map(|name| Proportion::of(name)).collect();
        let pairs = pairs(alone.len());
        let scores = self.scores(&alone, &pairs, few)?;
        let mut kept: Vec<usize> = Vec::new();
        for index in (best_first(&scores).into_iter()).flat_map(|pair| pairs[pair].clone()) {
            if !kept.contains(&index) && kept.len() < MOST_PIGMENTS {
                kept.push(index);
            }
        }
        kept.sort_unstable();
        Ok(kept
            .into_iter()
            .map(|index| pigments[index].clone())
            .collect())
    }

    /// Indices of `count` tones far apart: the first, then each the farthest from all before it.
    fn far_apart(&self, count: usize) -> Vec<usize> {
        let mut chosen = vec![0];
        while chosen.len() < count.min(self.targets.len()) {
            let apart = |tone: usize| {
                let from =
                    |other: &usize| delta_e_2000(self.targets[tone].lab, self.targets[*other].lab);
                chosen.iter().map(from).fold(f64::INFINITY, f64::min)
            };
            let farthest = (0..self.targets.len())
                .max_by(|one, other| apart(*one).total_cmp(&apart(*other)).then(other.cmp(one)));
            chosen.push(farthest.expect("there are tones"));
        }
        chosen
    }

    /// What `each` makes of every one of `items`, on the threads of the order.
    fn in_parallel<T: Sync, R: Send>(
        &self,
        items: &[T],
        each: impl Fn(&T) -> Result<R> + Sync,
    ) -> Result<Vec<R>> {
        let threads = self.blender.order.limits.threads;
        in_parallel((threads, 1), items, each).into_iter().collect()
    }

    /// What each of `combinations` of stocks leaves of `tones`: the sum of their misses.
    fn scores(
        &self,
        proportions: &[Proportion],
        combinations: &[Vec<usize>],
        tones: &[usize],
    ) -> Result<Vec<f64>> {
        let misses = self.misses(proportions, combinations, tones)?;
        Ok(misses.iter().map(|misses| misses.iter().sum()).collect())
    }

    /// How far each of `combinations` misses each of `tones`, in tolerances, at most [`HOPELESS`].
    fn misses(
        &self,
        proportions: &[Proportion],
        combinations: &[Vec<usize>],
        tones: &[usize],
    ) -> Result<Vec<Vec<f64>>> {
        let one = |combination: &Vec<usize>| -> Result<Vec<f64>> {
            let stocks: Vec<&Proportion> = combination
                .iter()
                .map(|index| &proportions[*index])
                .collect();
            let miss = |tone: &usize| {
                let blend = self.blender.blend(&stocks, self.targets[*tone].lab)?;
                Ok((blend.miss / self.tolerances[*tone]).min(HOPELESS))
            };
            tones.iter().map(miss).collect()
        };
        self.in_parallel(combinations, one)
    }

    /// Of each tone which two of `chosen` come nearest, and with what amounts.
    fn blends<'c>(&self, chosen: &[&'c Proportion]) -> Result<Vec<(Vec<&'c Proportion>, Blend)>> {
        let pairs: Vec<Vec<&Proportion>> = if chosen.len() == 1 {
            vec![chosen.to_vec()]
        } else {
            (pairs(chosen.len()).into_iter())
                .map(|pair| pair.into_iter().map(|index| chosen[index]).collect())
                .collect()
        };
        let best = |target: &Target| {
            let mut best: Option<(Vec<&Proportion>, Blend)> = None;
            for pair in &pairs {
                let blend = self.blender.blend(pair, target.lab)?;
                if best
                    .as_ref()
                    .is_none_or(|(_, known)| blend.miss < known.miss)
                {
                    best = Some((pair.clone(), blend));
                }
            }
            Ok(best.expect("a pair was tried"))
        };
        self.in_parallel(self.targets, best)
    }

    /// Stocks of the proportions `chosen`, each thinned as far as the tones want it.
    fn thinned(&self, chosen: &[&Proportion]) -> Result<Vec<(Proportion, Stock)>> {
        let blends = self.blends(chosen)?;
        let order = self.blender.order;
        let mut shelf = order.shelf.clone();
        let thinned = |proportion: &&Proportion| {
            let parts = self.parts_of(proportion, &blends)?;
            let stock = stock(proportion, parts, &shelf)?;
            shelf.pigments.push(stock.pigment(order.shelf)?);
            Ok(((*proportion).clone(), stock))
        };
        chosen.iter().map(thinned).collect()
    }

    /// Every tone, matched with two of `stocks` in whole drops.
    fn poured(&self, stocks: &[(Proportion, Stock)]) -> Result<Vec<PlannedTone>> {
        let order = self.blender.order;
        let mut shelf = order.shelf.clone();
        for (_, stock) in stocks {
            shelf.pigments.push(stock.pigment(order.shelf)?);
        }
        let chosen: Vec<&Proportion> = stocks.iter().map(|(proportion, _)| proportion).collect();
        let tones: Vec<(usize, Vec<Colorant>)> = (self.blends(&chosen)?.into_iter().enumerate())
            .map(|(tone, (pair, _))| {
                let of_it = |(proportion, _): &&(Proportion, Stock)| pair.contains(&proportion);
                let stocks = stocks.iter().filter(of_it);
                (
                    tone,
                    stocks
                        .map(|(_, stock)| Colorant::neat(&stock.name))
                        .collect(),
                )
            })
            .collect();
        self.in_parallel(&tones, |(tone, stocks)| self.matched(*tone, &shelf, stocks))
    }

    /// Parts of the stock of `proportion` that hold one of pigment: the fewest of which a drop is fine enough in the middle of
    /// the tones that take it.
    fn parts_of(
        &self,
        proportion: &Proportion,
        blends: &[(Vec<&Proportion>, Blend)],
    ) -> Result<f64> {
        let order = self.blender.order;
        if order.shelf.carriers.is_empty() {
            return Ok(1.0);
        }
        let drop_g = proportion.drop_g(order.shelf);
        for parts in THINNED {
            let mut steps = Vec::new();
            for (stocks, blend) in blends {
                let Some(index) = stocks.iter().position(|one| *one == proportion) else {
                    continue;
                };
                let lab = |more| self.blender.with_more(stocks, blend, (index, more));
                steps.push(delta_e_2000(lab(0.0)?, lab(drop_g / parts)?));
            }
            steps.sort_by(f64::total_cmp);
            if steps
                .get(steps.len() / 2)
                .is_none_or(|middle| *middle <= FINE_DROP)
            {
                return Ok(parts);
            }
        }
        Ok(THINNED[THINNED.len() - 1])
    }

    /// The tone of that index, matched with `stocks` of `shelf`, and white, in whole drops.
    fn matched(&self, index: usize, shelf: &Shelf, stocks: &[Colorant]) -> Result<PlannedTone> {
        let order = self.blender.order;
        let target = &self.targets[index];
        let white = self.blender.white.iter().map(Colorant::neat);
        let whole = Order {
            shelf,
            beneath: OrderedUnderlay::Foam(self.blender.foam.clone()),
            paint: None,
            colorants: Some(stocks.iter().cloned().chain(white).collect()),
            must: Vec::new(),
            banned: Vec::new(),
            limits: Limits {
                max_pigments: DOSES,
                // Good recipes are found at once, and alike each time; none is proven.
                time_limit: Some(Duration::ZERO),
                threads: 1,
                ..order.limits
            },
            ..order.clone()
        };
        let part = whole.find(target)?;
        let best = part.skin.best();
        Ok(PlannedTone {
            index,
            aim: target.lab,
            made: best.prediction.lab,
            delta_e: best.delta_e,
            tolerance: self.tolerances[index],
            doses: best.drops.len(),
        })
    }
}

/// A stock of `proportion`, one part in `parts`, as the scale can weigh it, under a name that nothing on `shelf` has.
fn stock(proportion: &Proportion, parts: f64, shelf: &Shelf) -> Result<Stock> {
    let mut grams: Vec<(String, Grams)> = (proportion.shares())
        .map(|(name, share)| (name.to_owned(), STOCK_G * (share / parts)))
        .collect();
    if let Some(carrier) = shelf.carriers.first().filter(|_| parts > 1.0) {
        grams.push((carrier.name.clone(), STOCK_G * (1.0 - 1.0 / parts)));
    }
    let stock = Stock::new(&unused_name(shelf), grams, shelf)?;
    let (stock, _) = stock.weighed_to(STOCK_G, shelf.settings.scale_resolution)?;
    Ok(stock)
}

/// All pairs of `count` things.
fn pairs(count: usize) -> Vec<Vec<usize>> {
    let of_one = |one| (one + 1..count).map(move |other| vec![one, other]);
    (0..count).flat_map(of_one).collect()
}

/// Indices of `scores`, the least first; of equals the first.
fn best_first(scores: &[f64]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..scores.len()).collect();
    order.sort_by(|one, other| scores[*one].total_cmp(&scores[*other]));
    order
}
