//! One stock for skin and foam: pigments weighed together once, in fixed proportion, and what that costs in ΔE00. It stands on
//! the shelf, or is to be made for the part.

use std::time::{Duration, Instant};

use super::order::Order;
use super::part::{CupRecipe, PartRecipe};
use crate::colour::delta_e_2000;
use crate::error::{Error, Mend, Result, Setting};
use crate::materials::{Amount, Cup, Grams, Mix, Pigment, Shelf, Stock};
use crate::tone::Target;

/// A part whose skin and foam are tinted with drops of one stock.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct OneTint {
    /// The stock.
    pub stock: Stock,
    /// Whether it stands on the order's shelf; else it is to be made.
    pub stands: bool,
    /// The part. Its mixes name the stock as if it were a pigment: see [`shelf`](Self::shelf) and
    /// [`spelled_out`](Self::spelled_out).
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

impl OneTint {
    /// The mass that the proportion of a stock is found for, when it is to be made.
    pub const BATCH_G: Grams = Grams(100.0);

    /// `mix` in what the book knows: with the pigments of a stock that is yet to be made in place of it.
    ///
    /// # Errors
    /// As [`Stock::spelled_out`].
    pub fn spelled_out(&self, mix: &Mix) -> Result<Mix> {
        if self.stands {
            Ok(mix.clone())
        } else {
            self.stock.spelled_out(mix)
        }
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
    /// is sought again, and the one whose skin comes nearest is taken. That takes half of the time at most.
    ///
    /// # Errors
    /// As [`search`](Self::search); drops of a tint that are in the skin's cup whatever the search finds; a skin that takes no pigment but
    /// white.
    pub fn one_tint(&self, target: &Target, free: &PartRecipe) -> Result<OneTint> {
        self.check(target)?;
        self.check_apart(Setting::OneTint)?;
        let name = unused_name(self.shelf);
        let mut stock = self.stock_for(&name, &free.skin)?.ok_or_else(|| {
            Error::input("the skin takes no pigment but white: there is no tint to make a stock of")
                .mend(Mend::from("leave ").set(Setting::OneTint).and(" out"))
        })?;
        // Which proportion is best good recipes tell as well as proven ones.
        let quick = Order {
            paint: None,
            ..self.with_time(Some(Duration::ZERO))
        };
        let mut best: Option<(f64, Stock)> = None;
        let (begun, deadline) = (Instant::now(), self.limits.deadline_of(0.5));
        for _ in 0..ROUNDS {
            if best.is_some() && self.has_no_more_time(deadline) {
                break;
            }
            let shelf = self.shelf_with(&stock)?;
            let part = quick.tinted(&shelf, &name).find(target)?;
            let delta_e = part.skin.best().delta_e;
            let untied = Order {
                shelf: &shelf,
                ..quick.without_the_stock(&name)
            };
            let over_this_foam = untied.skin_over(target, part.build.beneath, untied.deadline())?;
            if best.as_ref().is_none_or(|(least, _)| delta_e < *least) {
                best = Some((delta_e, stock.clone()));
            }
            match self.stock_for(&name, &over_this_foam)? {
                Some(next) if next != stock => stock = next,
                _ => break,
            }
        }
        let stock = best.map_or(stock, |(_, stock)| stock);
        let shelf = self.shelf_with(&stock)?;
        let time_limit = self.limits.time_left_since(begun);
        self.with_time(time_limit)
            .tinted_with(stock, false, shelf, target, free)
    }

    /// The order again, with all tints of skin and foam from the stock called `name`, which stands on the shelf; else as
    /// [`one_tint`](Self::one_tint).
    ///
    /// # Errors
    /// As [`search`](Self::search); drops of another tint that are in the skin's cup whatever the search finds; no such
    /// stock; one that is only weighed.
    pub fn with_stock(&self, name: &str, target: &Target, free: &PartRecipe) -> Result<OneTint> {
        self.check(target)?;
        let bottle = self.shelf.named_stock(name)?;
        self.shelf.pigment(name)?.check_drops()?;
        self.check_apart(Setting::Stock)?;
        self.tinted_with(bottle.stock.clone(), true, self.shelf.clone(), target, free)
    }

    /// The part with `stock`, which is on `shelf`, and what that costs.
    fn tinted_with(
        &self,
        stock: Stock,
        stands: bool,
        shelf: Shelf,
        target: &Target,
        free: &PartRecipe,
    ) -> Result<OneTint> {
        let deadline = self.deadline();
        let halves = if self.paint.is_some() { 2 } else { 1 };
        let unpainted = Order {
            paint: None,
            ..self.with_time(self.limits.time_limit.map(|limit| limit / halves))
        };
        let mut part = unpainted.tinted(&shelf, &stock.name).find(target)?;
        let painter = Order {
            shelf: &shelf,
            ..if stands {
                self.clone()
            } else {
                self.without_the_stock(&stock.name)
            }
        };
        part.paints = painter.paints(&part.build, target, deadline)?;
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
            stands,
            part,
            shelf,
        })
    }

    /// Refuses drops of a tint that go into the skin whatever the search finds, where `asked` asks for one stock.
    fn check_apart(&self, asked: Setting) -> Result<()> {
        for (colorant, amount) in self.in_the_skin.entries() {
            let is_tint = !self.shelf.pigment(&colorant.pigment)?.is_white();
            if is_tint && matches!(amount, Amount::Drops(_)) {
                let finding = format!("`{colorant}` goes in apart, and one stock holds all tints");
                return Err(
                    Error::input(finding).mend(Mend::from("leave out its drops, or ").set(asked))
                );
            }
        }
        Ok(())
    }

    /// The order's shelf, with `stock` among its pigments.
    fn shelf_with(&self, stock: &Stock) -> Result<Shelf> {
        let mut shelf = self.shelf.clone();
        shelf.pigments.push(stock.pigment(self.shelf)?);
        Ok(shelf)
    }

    /// The same order on `shelf`, of whose pigments only the stock may be dropped in, and what white this order may use.
    fn tinted<'other>(&self, shelf: &'other Shelf, stock: &str) -> Order<'other>
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
        banned.retain(|name| name != stock && !whites.contains(name));
        let mut must = self.must.clone();
        must.retain(|name| whites.contains(name));
        must.push(stock.to_owned());
        Order {
            shelf,
            colorants: None,
            must,
            banned,
            ..self.clone()
        }
    }

    /// The same order, for a shelf that has the stock.
    fn without_the_stock(&self, stock: &str) -> Self {
        let banned = self.banned.iter().cloned();
        Order {
            banned: banned.chain([stock.to_owned()]).collect(),
            ..self.clone()
        }
    }

    /// The stock, called `name`, of the proportion that the tints of `skin` have, if it has any: pigments alone, those of
    /// other stocks among them.
    fn stock_for(&self, name: &str, skin: &CupRecipe) -> Result<Option<Stock>> {
        let cup = Cup::pour(self.shelf, &skin.best().poured)?;
        let mut shares = vec![0.0; self.shelf.pigments.len()];
        for pigment in &self.shelf.pigments {
            let share = cup.fraction(&pigment.name);
            if pigment.drop_mass.is_none() || pigment.is_white() || share <= 0.0 {
                continue;
            }
            let of_it = pigment.ingredients.iter();
            let of_it = of_it.map(|each| (each.pigment.name.as_str(), each.share));
            let itself = pigment
                .ingredients
                .is_empty()
                .then_some((pigment.name.as_str(), 1.0));
            for (name, part) in of_it.chain(itself) {
                let pigments = self.shelf.pigments.iter();
                for (known, sum) in pigments
                    .zip(&mut shares)
                    .filter(|(known, _)| known.name == name)
                {
                    // A carrier that thins another stock does not tint.
                    *sum += if known.ingredients.is_empty() {
                        part * share
                    } else {
                        0.0
                    };
                }
            }
        }
        let wanted = self.shelf.pigments.iter().zip(shares);
        let wanted: Vec<(&str, f64)> = wanted
            .filter(|(_, share)| *share > 0.0)
            .map(|(pigment, share)| (pigment.name.as_str(), share))
            .collect();
        let grams = weighed(&wanted, self.shelf.settings.scale_resolution);
        (!grams.is_empty())
            .then(|| Stock::new(name, grams, self.shelf))
            .transpose()
    }
}

/// What a new stock is called: a name that nothing on `shelf` has.
pub(super) fn unused_name(shelf: &Shelf) -> String {
    let numbered = (2..).map(|number: u32| format!("{} {number}", Pigment::STOCK));
    let mut names = std::iter::once(Pigment::STOCK.to_owned()).chain(numbered);
    names
        .find(|name| shelf.ingredient(name).is_err())
        .expect("a shelf is shorter than the row of numbers")
}

/// [`OneTint::BATCH_G`] of `wanted`, names and their shares in any unit, weighed to `step`; nothing of nothing.
fn weighed(wanted: &[(&str, f64)], step: Grams) -> Vec<(String, Grams)> {
    let whole: f64 = wanted.iter().map(|(_, share)| share).sum();
    let mut grams: Vec<(String, Grams)> = wanted
        .iter()
        .map(|(name, share)| {
            let mass = (OneTint::BATCH_G * (share / whole)).rounded_to(step);
            ((*name).to_owned(), mass)
        })
        .collect();
    // What rounding leaves over is least felt in the largest.
    let sum: Grams = grams.iter().map(|(_, mass)| *mass).sum();
    let largest = grams
        .iter_mut()
        .max_by(|one, other| one.1.0.total_cmp(&other.1.0));
    if let Some((_, largest)) = largest {
        *largest = Grams(largest.0 + OneTint::BATCH_G.0 - sum.0).rounded_to(step);
    }
    grams.retain(|(_, mass)| mass.0 > 0.0);
    grams
}
