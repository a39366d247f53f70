//! One stock for skin and foam: pigments stirred together once, in fixed proportion, and what that costs in ΔE00.

use std::time::Duration;

use super::order::Order;
use super::part::{CupRecipe, PartRecipe};
use crate::colour::{Spectrum, delta_e_2000};
use crate::error::{Error, Mend, Result, Setting};
use crate::materials::{
    Amount, CoefficientSpread, Colorant, Cup, Grams, JointDirection, Material, Mix, Pigment, Shelf,
    Step,
};
use crate::optics::Coefficients;
use crate::search::Limits;
use crate::tone::Target;

/// Dispersions stirred together once, then dropped like one.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Stock {
    /// Grams of each pigment's dispersion in [`BATCH_G`](Self::BATCH_G) of the stock, in the order of the shelf; they sum
    /// to it.
    pub grams: Vec<(String, Grams)>,
    /// Mass of one drop: the mean of its pigments', by mass.
    pub drop_mass: Grams,
}

/// A part whose skin and foam are tinted with drops of one stock.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct OneTint {
    /// The stock.
    pub stock: Stock,
    /// The part. Its mixes name the stock as if it were a pigment: see [`shelf`](Self::shelf) and
    /// [`Stock::spelled_out`].
    pub part: PartRecipe,
    /// The order's shelf, with the stock on it.
    pub shelf: Shelf,
    /// ΔE00 of the skin.
    pub skin: Cost,
    /// ΔE00 of the foam, seen bare, from the base tone; `None` where no foam was tinted.
    pub foam: Option<Cost>,
}

/// What the stock costs in one cup.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cost {
    /// ΔE00 with the stock.
    pub delta_e: f64,
    /// ΔE00 of the cup's own recipe.
    pub free_delta_e: f64,
}

impl Cost {
    /// By how much the stock is further off, ΔE00; below 0 where it happens to be nearer.
    pub fn in_delta_e(self) -> f64 {
        self.delta_e - self.free_delta_e
    }
}

/// How often the proportion is sought again over the foam that it gave. In this project's trials on skin tones a fourth
/// time changed nothing.
const ROUNDS: usize = 3;

impl Order<'_> {
    /// The order again, with all tints of skin and foam from one stock; white goes in apart where it is wanted, fibre as
    /// ordered, and each paint keeps its own recipe. `free` is what [`search`](Self::search) found.
    ///
    /// The stock has the proportion that the skin's own recipe has; over the foam that this stock tints, the proportion
    /// is sought again, and the one whose skin comes nearest is taken.
    ///
    /// # Errors
    /// As [`search`](Self::search); drops of a tint that are in the skin's cup whatever the search finds; a skin that takes no pigment but white; a shelf that has a pigment of the stock's
    /// name.
    pub fn one_tint(&self, target: &Target, free: &PartRecipe) -> Result<OneTint> {
        self.check(target)?;
        if self.shelf.pigment(Pigment::STOCK).is_ok() {
            let finding = format!("the book has a pigment called `{}` already", Pigment::STOCK);
            return Err(Error::input(finding).mend("give it another name in pigments.csv"));
        }
        for (colorant, amount) in self.in_the_skin.entries() {
            let is_tint = !self.shelf.pigment(&colorant.pigment)?.is_white();
            if is_tint && matches!(amount, Amount::Drops(_)) {
                let finding = format!("`{colorant}` goes in apart, and one stock holds all tints");
                return Err(Error::input(finding)
                    .mend(Mend::from("leave out its drops, or ").set(Setting::OneTint)));
            }
        }
        let mut stock = self.stock_for(&free.skin)?.ok_or_else(|| {
            Error::input("the skin takes no pigment but white: there is no tint to make a stock of")
                .mend(Mend::from("leave ").set(Setting::OneTint).and(" out"))
        })?;
        // Which proportion is best good recipes tell as well as proven ones.
        let quick = Order {
            limits: Limits {
                time_limit: Some(Duration::ZERO),
                ..self.limits
            },
            paint: None,
            ..self.clone()
        };
        let mut best: Option<(f64, Stock)> = None;
        for _ in 0..ROUNDS {
            let shelf = stock.on(self.shelf);
            let part = quick.tinted(&shelf).find(target)?;
            let delta_e = part.skin.best().delta_e;
            let untied = Order {
                shelf: &shelf,
                ..quick.without_the_stock()
            };
            let over_this_foam = untied.skin_over(target, part.build.beneath, untied.deadline())?;
            if best.as_ref().is_none_or(|(least, _)| delta_e < *least) {
                best = Some((delta_e, stock.clone()));
            }
            match self.stock_for(&over_this_foam)? {
                Some(next) if next != stock => stock = next,
                _ => break,
            }
        }
        let stock = best.map_or(stock, |(_, stock)| stock);
        let shelf = stock.on(self.shelf);
        let unpainted = Order {
            paint: None,
            ..self.clone()
        };
        let mut part = unpainted.tinted(&shelf).find(target)?;
        let painter = Order {
            shelf: &shelf,
            ..self.without_the_stock()
        };
        part.paints = painter.paints(&part.build, target, painter.deadline())?;
        let bare = |foam: &CupRecipe| delta_e_2000(target.lab, foam.best().prediction.lab);
        Ok(OneTint {
            skin: Cost {
                delta_e: part.skin.best().delta_e,
                free_delta_e: free.skin.best().delta_e,
            },
            foam: (part.foam.as_ref().zip(free.foam.as_ref())).map(|(foam, free)| Cost {
                delta_e: bare(foam),
                free_delta_e: bare(free),
            }),
            stock,
            part,
            shelf,
        })
    }

    /// The same order on `shelf`, of whose pigments only the stock may be dropped in, and what white this order may use.
    fn tinted<'other>(&self, shelf: &'other Shelf) -> Order<'other>
    where
        Self: 'other,
    {
        let whites: Vec<String> = (self.colorants().into_iter())
            .map(|colorant| colorant.pigment)
            .filter(|name| shelf.pigment(name).is_ok_and(Pigment::is_white))
            .collect();
        let mut banned: Vec<String> = (shelf.pigments.iter())
            .map(|pigment| pigment.name.clone())
            .collect();
        banned.retain(|name| name != Pigment::STOCK && !whites.contains(name));
        let mut must = self.must.clone();
        must.retain(|name| whites.contains(name));
        Order {
            shelf,
            colorants: None,
            must,
            banned,
            ..self.clone()
        }
    }

    /// The same order, for a shelf that has the stock.
    fn without_the_stock(&self) -> Self {
        let banned = self.banned.iter().cloned();
        Order {
            banned: banned.chain([Pigment::STOCK.to_owned()]).collect(),
            ..self.clone()
        }
    }

    /// The stock of the proportion that the tints of `skin` have, if it has any.
    fn stock_for(&self, skin: &CupRecipe) -> Result<Option<Stock>> {
        let cup = Cup::pour(self.shelf, &skin.best().poured)?;
        let wanted = self.shelf.pigments.iter().filter_map(|pigment| {
            let is_tint = pigment.drop_mass.is_some() && !pigment.is_white();
            let share = cup.fraction(&pigment.name);
            (is_tint && share > 0.0).then_some((pigment, share))
        });
        let wanted: Vec<(&Pigment, f64)> = wanted.collect();
        Ok(Stock::of(&wanted, self.shelf.settings.scale_resolution))
    }
}

impl Stock {
    /// The mass that its proportion is given for.
    pub const BATCH_G: Grams = Grams(100.0);

    /// The stock of `wanted`, pigments and their shares in any unit, weighed to `step`; `None` of nothing.
    fn of(wanted: &[(&Pigment, f64)], step: Grams) -> Option<Self> {
        let whole: f64 = wanted.iter().map(|(_, share)| share).sum();
        let mut grams: Vec<(&Pigment, Grams)> = wanted
            .iter()
            .map(|(pigment, share)| (*pigment, (Self::BATCH_G * (share / whole)).rounded_to(step)))
            .collect();
        // What rounding leaves over is least felt in the largest.
        let sum: Grams = grams.iter().map(|(_, mass)| *mass).sum();
        let largest = grams
            .iter_mut()
            .max_by(|one, other| one.1.0.total_cmp(&other.1.0))?;
        largest.1 = Grams(largest.1.0 + Self::BATCH_G.0 - sum.0).rounded_to(step);
        grams.retain(|(_, mass)| mass.0 > 0.0);
        let drop = |(pigment, mass): &(&Pigment, Grams)| {
            let drop = pigment.drop_mass.map_or(0.0, |drop| drop.0);
            Grams(drop * mass.0 / Self::BATCH_G.0)
        };
        Some(Self {
            drop_mass: grams.iter().map(drop).sum(),
            grams: grams
                .into_iter()
                .map(|(pigment, mass)| (pigment.name.clone(), mass))
                .collect(),
        })
    }

    /// `one stock, of 100 g: umber 40 g; red 60 g`.
    pub(super) fn line(&self) -> String {
        let grams = self.grams.iter();
        let grams: Vec<String> = grams.map(|(name, mass)| format!("{name} {mass}")).collect();
        let (stock, batch) = (Pigment::STOCK, Self::BATCH_G);
        format!("{stock}, of {batch}: {}", grams.join("; "))
    }

    /// Each pigment with its share, 0–1, of the stock's mass.
    fn shares(&self) -> impl Iterator<Item = (&str, f64)> {
        let share = |mass: &Grams| mass.0 / Self::BATCH_G.0;
        (self.grams.iter()).map(move |(name, mass)| (name.as_str(), share(mass)))
    }

    /// `shelf`, with the stock as one more pigment.
    ///
    /// K and S add by mass. What is not known of its pigments moves it as it moves them, by their share in its K and its
    /// S: to first order that is exact.
    pub(super) fn on(&self, shelf: &Shelf) -> Shelf {
        let parts: Vec<(&Pigment, f64)> = self
            .shares()
            .filter_map(|(name, share)| Some((shelf.pigment(name).ok()?, share)))
            .collect();
        let mut stocked = shelf.clone();
        let mut mixed = Pigment {
            name: Pigment::STOCK.to_owned(),
            drop_mass: Some(self.drop_mass),
            drop_mass_sd: None,
            max_fraction: 1.0,
            lot: String::new(),
            lot_of: String::new(),
            like: String::new(),
            coefficients: Coefficients::CLEAR,
            spread: CoefficientSpread::NONE,
        };
        for (pigment, share) in &parts {
            mixed.coefficients.add_scaled(*share, &pigment.coefficients);
            mixed.max_fraction = mixed.max_fraction.min(pigment.max_fraction / share);
        }
        // By how much ln K and ln S of the stock move when those of one of its pigments move by `ln_k` and `ln_s`.
        let step = |pigment: &Pigment, share: f64, ln_k: &Spectrum, ln_s: &Spectrum| {
            let felt = |of_it: &Spectrum, of_all: &Spectrum, by: &Spectrum| {
                Spectrum::from_fn(|band| match of_all[band] {
                    0.0 => 0.0,
                    all => by[band] * share * of_it[band] / all,
                })
            };
            let (own, all) = (&pigment.coefficients, &mixed.coefficients);
            Step {
                material: Material::Pigment(Pigment::STOCK.to_owned()),
                ln_k: felt(&own.k, &all.k, ln_k),
                ln_s: felt(&own.s, &all.s, ln_s),
                foam: None,
            }
        };
        let nothing = Spectrum::constant(0.0);
        for (pigment, share) in &parts {
            let material = Material::Pigment(pigment.name.clone());
            if shelf.is_calibrated(&material) {
                for each in &mut stocked.joint_directions {
                    let felt = each.steps.iter().filter(|one| one.material == material);
                    let felt: Vec<Step> = felt
                        .map(|one| step(pigment, *share, &one.ln_k, &one.ln_s))
                        .collect();
                    for more in felt {
                        each.add(more);
                    }
                }
            } else {
                let (k_sd, s_sd) = (&pigment.spread.k_sd, &pigment.spread.s_sd);
                let alone = |ln_k, ln_s| JointDirection {
                    steps: vec![step(pigment, *share, ln_k, ln_s)],
                };
                (stocked.joint_directions).extend([alone(k_sd, &nothing), alone(&nothing, s_sd)]);
            }
        }
        stocked.pigments.push(mixed);
        stocked
    }

    /// `mix` with the pigments of the stock instead of it, weighed: what a book knows, and `predict` reads.
    ///
    /// # Errors
    /// A mix that holds one of its pigments, let down alike and weighed, beside the stock.
    pub fn spelled_out(&self, mix: &Mix) -> Result<Mix> {
        /// Steps in a gram: finer than any scale of a bench, and short enough to read.
        const IN_A_GRAM: f64 = 1e5;
        let entries = mix.entries().iter().flat_map(|(colorant, amount)| {
            if colorant.pigment != Pigment::STOCK {
                return vec![(colorant.clone(), *amount)];
            }
            let mass = match amount {
                Amount::Drops(count) => self.drop_mass * *count,
                Amount::Mass(mass) => *mass,
            };
            let of_it = |(name, share): (&str, f64)| {
                let pigment = Colorant {
                    pigment: name.to_owned(),
                    let_down: colorant.let_down,
                };
                let grams = (mass.0 * share * IN_A_GRAM).round() / IN_A_GRAM;
                (pigment, Amount::Mass(Grams(grams)))
            };
            self.shares().map(of_it).collect()
        });
        Mix::new(entries.collect())
    }
}
