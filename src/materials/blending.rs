//! Stocks on a shelf: what they can be made of, and what each is as a pigment.

use super::{
    Amount, CoefficientSpread, Colorant, CurveSource, Grams, Ingredient, Mix, Pigment, Shelf,
    Stock, StockBottle,
};
use crate::error::{Error, Result};
use crate::optics::Coefficients;

impl Stock {
    /// What a mix of grams is as a stock called `name`: pigments of `shelf` neat from their bottles, and carriers.
    ///
    /// # Errors
    /// Nothing in it; drops; a let-down or a base, which holds what does not keep; a stock; no pigment at all; a name that is
    /// not on the shelf.
    pub fn of_mix(name: &str, mix: &Mix, shelf: &Shelf) -> Result<Self> {
        let grams = mix.entries().iter().map(|(colorant, amount)| {
            Self::check_ingredient(colorant, shelf)?;
            match amount {
                Amount::Mass(mass) if mass.0 > 0.0 => Ok((colorant.pigment.clone(), *mass)),
                Amount::Mass(_) => Err(Error::input(format!("no mass of `{colorant}`"))
                    .mend(format!("write grams, as in `{colorant} 2 g`"))),
                Amount::Drops(count) => {
                    let finding =
                        format!("`{colorant} {count}` counts drops, and a stock is weighed");
                    Err(Error::input(finding)
                        .mend(format!("write grams, as in `{colorant} {count} g`")))
                }
            }
        });
        let grams: Vec<(String, Grams)> = grams.collect::<Result<_>>()?;
        if !grams.iter().any(|(name, _)| shelf.pigment(name).is_ok()) {
            return Err(Error::input("no pigment goes into the stock")
                .mend("write what is weighed together, as in \"iron oxide red 2 g; iron oxide yellow 6 g\""));
        }
        Self::new(name, grams, shelf)
    }

    /// The stock of `grams` of pigments and carriers of `shelf`.
    ///
    /// # Errors
    /// A name that is not on the shelf.
    pub fn new(name: &str, grams: Vec<(String, Grams)>, shelf: &Shelf) -> Result<Self> {
        let (mut drops, mut dropped) = (0.0, 0.0);
        for (name, mass) in &grams {
            if let Some(drop) = shelf.ingredient(name)?.drop_mass {
                drops += drop.0 * mass.0;
                dropped += mass.0;
            }
        }
        Ok(Self {
            name: name.to_owned(),
            grams,
            drop_mass: (dropped > 0.0).then(|| Grams(drops / dropped)),
        })
    }

    fn check_ingredient(colorant: &Colorant, shelf: &Shelf) -> Result<()> {
        let name = &colorant.pigment;
        if shelf.base(name).is_ok() {
            let finding = format!("`{name}` is a base, and a stock that holds one does not keep");
            return Err(Error::input(finding).mend(match shelf.carriers.first() {
                Some(carrier) => format!("thin it in `{}` instead", carrier.name),
                None => {
                    "thin it in the carrier of its pigments, as a row of kind carrier in bases.csv"
                        .to_owned()
                }
            }));
        }
        if colorant.let_down > 1.0 {
            let finding = format!(
                "`{colorant}` is let down in part B, and a stock that holds it does not keep"
            );
            return Err(
                Error::input(finding).mend(format!("weigh `{name}` itself, from its bottle"))
            );
        }
        if shelf.stocks.iter().any(|bottle| bottle.stock.name == *name) {
            let finding = format!("`{name}` is a stock itself");
            return Err(Error::input(finding).mend("write the pigments that it was weighed of"));
        }
        shelf.ingredient(name).map(|_| ())
    }

    /// The stock as a pigment among those of `shelf`. K and S add by mass; it is at its limit where whichever ingredient
    /// gets there first is.
    ///
    /// Source: additivity of K and S over mass, D. R. Duncan (1940), Proceedings of the Physical Society 52, 390–401.
    ///
    /// # Errors
    /// An ingredient that is not on the shelf.
    pub fn pigment(&self, shelf: &Shelf) -> Result<Pigment> {
        let ingredients = self.shares().map(|(name, share)| {
            Ok(Ingredient {
                share,
                pigment: shelf.ingredient(name)?.clone(),
            })
        });
        let ingredients: Vec<Ingredient> = ingredients.collect::<Result<_>>()?;
        let limits = ingredients
            .iter()
            .map(|each| each.pigment.max_fraction / each.share);
        let mut pigment = Pigment {
            name: self.name.clone(),
            drop_mass: self.drop_mass,
            drop_mass_sd: None,
            max_fraction: limits.fold(1.0, f64::min),
            lot: String::new(),
            lot_of: String::new(),
            like: String::new(),
            curve_source: CurveSource::Ingredients,
            coefficients: Coefficients::CLEAR,
            spread: CoefficientSpread::NONE,
            ingredients,
        };
        pigment.mix_ingredients();
        Ok(pigment)
    }
}

impl Shelf {
    /// What goes into a stock: the pigment or the carrier called `name`.
    ///
    /// # Errors
    /// No such pigment or carrier; the nearest name is suggested.
    pub fn ingredient(&self, name: &str) -> Result<&Pigment> {
        let mut all = self.pigments.iter().chain(&self.carriers);
        all.find(|each| each.name == name).ok_or_else(|| {
            let names = self.pigments.iter().chain(&self.carriers);
            Error::unknown_name("pigment", name, names.map(|each| each.name.as_str()))
        })
    }

    /// The bottle of the stock called `name`, if there is one.
    pub fn stock(&self, name: &str) -> Option<&StockBottle> {
        self.stocks.iter().find(|bottle| bottle.stock.name == name)
    }

    /// The bottle of the stock called `name`.
    ///
    /// # Errors
    /// No such stock; the nearest name is suggested.
    pub fn named_stock(&self, name: &str) -> Result<&StockBottle> {
        self.stock(name).ok_or_else(|| {
            let names = self.stocks.iter().map(|bottle| bottle.stock.name.as_str());
            Error::unknown_name("stock", name, names)
        })
    }

    /// Puts `bottle` on the shelf, as a pigment too.
    ///
    /// # Errors
    /// As [`Stock::pigment`].
    pub fn put_stock(&mut self, bottle: StockBottle) -> Result<()> {
        self.pigments.push(bottle.stock.pigment(self)?);
        self.stocks.push(bottle);
        Ok(())
    }

    /// Gives each stock whose curves are made of its ingredients' those that these have now.
    pub fn mix_stocks(&mut self) {
        let known = self.pigments.clone();
        for stock in (self.pigments.iter_mut()).filter(|each| !each.curves_of().is_empty()) {
            for each in &mut stock.ingredients {
                if let Some(now) = known.iter().find(|known| known.name == each.pigment.name) {
                    each.pigment = now.clone();
                }
            }
            stock.mix_ingredients();
        }
    }

    /// The pigments that a recipe may drop in where nobody says which: those whose drops are weighed and whose curves
    /// something tells of, stocks that are not used up among them.
    pub fn dropped(&self) -> impl Iterator<Item = &Pigment> {
        self.pigments.iter().filter(|pigment| {
            let is_left = |bottle: &StockBottle| bottle.left.0 > 0.0;
            pigment.drop_mass.is_some()
                && !pigment.is_unread()
                && self.stock(&pigment.name).is_none_or(is_left)
        })
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::materials::fixtures::shelf;

    fn stock(mix: &str) -> Result<Stock> {
        Stock::of_mix("flesh", &mix.parse().expect(mix), &shelf())
    }

    /// D. R. Duncan (1940), Proceedings of the Physical Society 52, 390–401: K and S of a mix are the sums over what is in
    /// it of its share by mass times its own. By hand, at 380 nm and 480 nm: one part of red, three of white.
    #[test]
    fn a_stock_has_the_sum_of_its_ingredients_by_mass() {
        let shelf = shelf();
        let [red, white] = ["red", "white"].map(|name| shelf.pigment(name).expect(name));
        let found = stock("red 1 g; white 3 g")
            .expect("a sound stock")
            .pigment(&shelf)
            .expect("known");
        for band in [0, 10] {
            let by_hand = |of: fn(&Coefficients) -> f64| {
                0.25 * of(&red.coefficients) + 0.75 * of(&white.coefficients)
            };
            let [k, s] = match band {
                0 => [by_hand(|it| it.k[0]), by_hand(|it| it.s[0])],
                _ => [by_hand(|it| it.k[10]), by_hand(|it| it.s[10])],
            };
            assert_abs_diff_eq!(found.coefficients.k[band], k, epsilon = 1e-12);
            assert_abs_diff_eq!(found.coefficients.s[band], s, epsilon = 1e-12);
        }
        let drop = |pigment: &Pigment| pigment.drop_mass.expect("it is dropped").0;
        let mean = 0.25 * drop(red) + 0.75 * drop(white);
        assert_abs_diff_eq!(found.drop_mass.expect("dropped").0, mean, epsilon = 1e-12);
        let first = (red.max_fraction / 0.25)
            .min(white.max_fraction / 0.75)
            .min(1.0);
        assert_abs_diff_eq!(found.max_fraction, first, epsilon = 1e-12);
    }

    #[test]
    fn what_moves_an_ingredient_moves_the_stock_by_its_share_and_nothing_else() {
        let shelf = shelf();
        let before = stock("red 1 g; white 3 g")
            .expect("sound")
            .pigment(&shelf)
            .expect("known");
        let mut after = before.clone();
        after.alter_where("red", &|red| {
            red.coefficients.k = red.coefficients.k.map(|k| 2.0 * k)
        });
        let red = shelf.pigment("red").expect("there");
        let more = after.coefficients.k[5] - before.coefficients.k[5];
        assert_abs_diff_eq!(more, 0.25 * red.coefficients.k[5], epsilon = 1e-12);
        assert_eq!(after.coefficients.s, before.coefficients.s, "S as before");
        let mut other = before.clone();
        other.alter_where("fibre", &|_| panic!("not in it"));
        let mut read = Pigment {
            curve_source: CurveSource::Read,
            ..before.clone()
        };
        read.alter_where("red", &|_| panic!("it has curves of its own"));
    }

    #[test]
    fn amounts_are_rounded_to_the_scale_and_what_does_not_show_is_refused() {
        let whole = stock("red 2 g; white 6 g").expect("sound");
        let (made, rounded) = whole.weighed_to(Grams(30.0), Grams(0.1)).expect("it shows");
        assert_eq!(
            made.mix().to_string(),
            "red 7.5 g; white 22.5 g",
            "in steps"
        );
        assert!(rounded.is_empty(), "{rounded:?}");
        let (made, rounded) = whole.weighed_to(Grams(3.0), Grams(0.1)).expect("it shows");
        assert_eq!(
            made.mix().to_string(),
            "red 0.8 g; white 2.3 g",
            "rounded up from a half"
        );
        assert_eq!(rounded.len(), 2, "{rounded:?}");
        let error = whole
            .weighed_to(Grams(0.1), Grams(0.1))
            .expect_err("nothing shows")
            .to_string();
        assert!(error.contains("make 0.4 g or more"), "{error}");
    }

    #[test]
    fn what_would_not_keep_or_is_no_mass_is_refused() {
        for (mix, words) in [
            ("", "no pigment goes into the stock"),
            ("red 3", "counts drops, and a stock is weighed"),
            ("red 0 g", "no mass of `red`"),
            ("red 1:10 3 g", "is let down in part B"),
            ("red 3 g; skin 10 g", "is a base"),
            ("rad 3 g", "did you mean `red`?"),
        ] {
            let error = stock(mix).expect_err(mix).to_string();
            assert!(error.contains(words), "{mix}: {error}");
        }
    }
}
