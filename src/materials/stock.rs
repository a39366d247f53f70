//! Stocks: dispersions weighed together once, perhaps thinned in a carrier, and then dropped like one.
//!
//! A stock holds no part of a base, so it keeps as its dispersions do and serves every base alike. Until a chip tells of its
//! own curves it is what its ingredients are: whatever is not known of them is not known of it, in the same sense, and a
//! neat bottle of one of them beside it is off as the stock is.

use jiff::civil::Date;

use super::{Amount, CoefficientSpread, Colorant, CurveSource, Grams, Ingredient, Mix, Pigment};
use crate::colour::Spectrum;
use crate::error::{Error, Result};
use crate::optics::Coefficients;

/// What is weighed together for a stock.
#[derive(Clone, Debug, PartialEq)]
pub struct Stock {
    /// What it is called.
    pub name: String,
    /// Grams of each pigment's dispersion, and of the carrier; at least one, all above 0.
    pub grams: Vec<(String, Grams)>,
    /// Mass of one drop: the mean of those of its pigments, by mass; `None` where they all are only weighed.
    pub drop_mass: Option<Grams>,
}

/// A stock in its bottle.
#[derive(Clone, Debug, PartialEq)]
pub struct StockBottle {
    /// What was weighed together.
    pub stock: Stock,
    /// The day on which that was done.
    pub made: Date,
    /// What is left of it.
    pub left: Grams,
    /// Whether chips have told of its own curves, which then are no longer its ingredients'.
    pub has_own_curves: bool,
}

/// An amount of a stock that the scale can't show, and what is weighed instead.
#[derive(Clone, Debug, PartialEq)]
pub struct Rounded {
    /// What is weighed.
    pub name: String,
    /// What the proportion asks for.
    pub wanted: Grams,
    /// What the scale can show.
    pub weighed: Grams,
}

impl Stock {
    /// The mass of all of it.
    pub fn mass(&self) -> Grams {
        self.grams.iter().map(|(_, mass)| *mass).sum()
    }

    /// What is weighed together, as a mix.
    pub fn mix(&self) -> Mix {
        let entry = |(name, mass): &(String, Grams)| (Colorant::neat(name), Amount::Mass(*mass));
        Mix::new(self.grams.iter().map(entry).collect())
            .expect("a stock names each ingredient once")
    }

    /// Each ingredient with its share, 0–1, of the stock's mass.
    pub fn shares(&self) -> impl Iterator<Item = (&str, f64)> {
        let whole = self.mass().0;
        (self.grams.iter()).map(move |(name, mass)| (name.as_str(), mass.0 / whole))
    }

    /// About `mass` of it, each amount to the `step` of the scale, and the amounts that this changed.
    ///
    /// # Errors
    /// A mass so small that an ingredient would not show on the scale.
    pub fn weighed_to(&self, mass: Grams, step: Grams) -> Result<(Self, Vec<Rounded>)> {
        /// By how much a mass may differ from a step of the scale, in steps, and still be one.
        const UNSEEN_STEPS: f64 = 1e-6;
        let mut rounded = Vec::new();
        let mut stock = self.clone();
        let times = mass.0 / self.mass().0;
        for (name, grams) in &mut stock.grams {
            let wanted = *grams * times;
            let weighed = wanted.rounded_to(step);
            if weighed.0 <= 0.0 {
                let least = step.0 / grams.0 * self.mass().0;
                let finding = format!(
                    "{:.4} g of `{name}` don't show on a scale of {step}",
                    wanted.0
                );
                return Err(Error::input(finding).mend(format!(
                    "make {} or more of it",
                    Grams(least).rounded_to(Grams(0.1))
                )));
            }
            if ((weighed.0 - wanted.0) / step.0).abs() > UNSEEN_STEPS {
                rounded.push(Rounded {
                    name: name.clone(),
                    wanted,
                    weighed,
                });
            }
            *grams = weighed;
        }
        Ok((stock, rounded))
    }

    /// `mix` with the ingredients of the stock instead of it, weighed: what a book that does not know the stock reads.
    ///
    /// # Errors
    /// A mix that holds one of its ingredients, let down alike and weighed, beside the stock.
    pub fn spelled_out(&self, mix: &Mix) -> Result<Mix> {
        /// Steps in a gram: finer than any scale of a bench, and short enough to read.
        const IN_A_GRAM: f64 = 1e5;
        let entries = mix.entries().iter().flat_map(|(colorant, amount)| {
            let mass = match (amount, self.drop_mass) {
                _ if colorant.pigment != self.name => return vec![(colorant.clone(), *amount)],
                (Amount::Mass(mass), _) => *mass,
                (Amount::Drops(count), Some(drop)) => drop * *count,
                (Amount::Drops(_), None) => return vec![(colorant.clone(), *amount)],
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

impl Pigment {
    /// Takes the curves of what it was weighed together from: K and S by mass, and spreads as those of independent
    /// ingredients add up.
    pub fn mix_ingredients(&mut self) {
        let mut all = Coefficients::CLEAR;
        for Ingredient { share, pigment } in &self.ingredients {
            all.add_scaled(*share, &pigment.coefficients);
        }
        // By how much ln K or ln S of the whole moves with that of an ingredient: its share in it.
        let spread = |of_it: fn(&Coefficients) -> &Spectrum,
                      sd: fn(&CoefficientSpread) -> &Spectrum| {
            Spectrum::from_fn(|band| {
                let felt = self.ingredients.iter().map(|each| {
                    let felt = each.share * of_it(&each.pigment.coefficients)[band];
                    sd(&each.pigment.spread)[band] * felt / of_it(&all)[band].max(f64::MIN_POSITIVE)
                });
                felt.fold(0.0, f64::hypot)
            })
        };
        self.spread = CoefficientSpread {
            k_sd: spread(|curves| &curves.k, |spread| &spread.k_sd),
            s_sd: spread(|curves| &curves.s, |spread| &spread.s_sd),
        };
        self.coefficients = all;
    }

    /// What its curves are made of: its ingredients, where it has no curves of its own; else nothing.
    pub fn curves_of(&self) -> &[Ingredient] {
        match self.curve_source {
            CurveSource::Ingredients => &self.ingredients,
            CurveSource::Read | CurveSource::Like | CurveSource::Nothing => &[],
        }
    }

    /// Alters the pigment called `name`, where it is this one or one that its curves are made of.
    pub fn alter_where(&mut self, name: &str, alter: &impl Fn(&mut Self)) {
        if self.name == name {
            alter(self);
            return;
        }
        if !self
            .curves_of()
            .iter()
            .any(|each| each.pigment.name == name)
        {
            return;
        }
        for each in self
            .ingredients
            .iter_mut()
            .filter(|each| each.pigment.name == name)
        {
            alter(&mut each.pigment);
        }
        self.mix_ingredients();
    }
}
