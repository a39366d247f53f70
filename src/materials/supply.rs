//! Which let-downs of the shelf serve a cup, and what is left of them.

use jiff::civil::Date;
use serde::Serialize;

use super::{Colorant, Grams, LetDown, Shelf};
use crate::error::{Error, Result};

/// Which jars of the shelf serve a cup.
#[derive(Clone, Debug, PartialEq)]
pub struct Supply {
    /// What they are good for.
    pub standing: Standing,
    /// The index of each among the shelf's let-downs, and what is drawn from it, in the order in which they are used up; of
    /// too little, all that there is.
    pub draws: Vec<(usize, Grams)>,
}

/// What the let-downs that stand on the shelf are good for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// In their time, and enough is left.
    Ready,
    /// In their time, and less is left than is wanted.
    TooLittle,
    /// Their time is over.
    PastItsDate,
}

impl LetDown {
    /// Refuses one that nobody can have made of what stands on `shelf`.
    ///
    /// # Errors
    /// A pigment or a base that is not on the shelf; a pigment that is only weighed; no ratio; a last day before its first.
    pub fn check(&self, shelf: &Shelf) -> Result<()> {
        let Self {
            colorant,
            base,
            made,
            keeps_until,
            ..
        } = self;
        let pigment = shelf.pigment(&colorant.pigment)?;
        shelf.base(base)?;
        if pigment.drop_mass.is_none() {
            let finding = format!("`{}` is weighed, and a let-down is dropped", pigment.name);
            return Err(Error::input(finding).mend("weigh it into the cup itself"));
        }
        Self::check_ratio(colorant)?;
        if keeps_until < made {
            let finding = format!("it was made on {made} and keeps until {keeps_until}");
            return Err(Error::input(finding).mend("exchange the two days, or mend one"));
        }
        Ok(())
    }

    /// Whether it was made of the lot of its pigment that `shelf` has now, as far as both are known.
    pub fn is_of_the_lot_on(&self, shelf: &Shelf) -> bool {
        let now = shelf.pigment(&self.colorant.pigment);
        let now = now.map_or("", |pigment| pigment.lot.as_str());
        now.is_empty() || self.lot.is_empty() || self.lot == now
    }
}

impl Shelf {
    /// Where `wanted` of `colorant` comes from for a cup of `base` on the day `day`; `None` where none is left at all. Jars
    /// in their time are drawn on one after the other, the one that expires first to its end, so that what several cups
    /// take one by one is what they take together. If their time is over, it is the last to expire of those with enough left.
    pub fn supply(
        &self,
        colorant: &Colorant,
        base: &str,
        wanted: Grams,
        day: Date,
    ) -> Option<Supply> {
        let fits = |let_down: &LetDown| {
            let_down.colorant == *colorant
                && let_down.base == base
                && let_down.made <= day
                && let_down.mass.0 > 0.0
                && let_down.is_of_the_lot_on(self)
        };
        let all = self.let_downs.iter().enumerate();
        let (past, mut good): (Vec<_>, Vec<_>) =
            (all.filter(|(_, each)| fits(each))).partition(|(_, each)| each.is_past(day));
        if good.is_empty() {
            let (index, jar) = past
                .into_iter()
                .max_by_key(|(_, each)| (each.holds(wanted), each.keeps_until, each.made))?;
            return Some(Supply {
                standing: Standing::PastItsDate,
                draws: vec![(index, Grams(jar.mass.0.min(wanted.0)))],
            });
        }
        good.sort_by_key(|(_, each)| (each.keeps_until, each.made));
        let mut lacking = wanted.0;
        let mut draws = Vec::new();
        for (index, jar) in good {
            if lacking > LetDown::UNSEEN.0 || draws.is_empty() {
                let drawn = jar.mass.0.min(lacking);
                draws.push((index, Grams(drawn)));
                lacking -= drawn;
            }
        }
        let standing = if lacking > LetDown::UNSEEN.0 {
            Standing::TooLittle
        } else {
            Standing::Ready
        };
        Some(Supply { standing, draws })
    }

    /// Takes what `supply` draws off what is left, to a milligram.
    pub fn draw(&mut self, supply: &Supply) {
        for (index, drawn) in &supply.draws {
            let left = &mut self.let_downs[*index].mass;
            *left = Grams((left.0 - drawn.0).max(0.0)).rounded_to(LetDown::LEAST);
        }
    }

    /// The let-downs that stand for cups of `base`, each ratio of a pigment once.
    pub fn let_downs_for(&self, base: &str) -> Vec<Colorant> {
        let mut found: Vec<Colorant> = Vec::new();
        for each in self.let_downs.iter().filter(|each| each.base == base) {
            if !found.contains(&each.colorant) {
                found.push(each.colorant.clone());
            }
        }
        found
    }

    /// The shelf as it serves on the day `day`: without let-downs whose time is over or yet to come, that are used up, or that
    /// were made of an earlier lot.
    #[must_use]
    pub fn on_the_day(&self, day: Date) -> Self {
        let mut shelf = self.clone();
        let serves = |each: &LetDown| {
            each.made <= day
                && !each.is_past(day)
                && each.mass.0 > 0.0
                && each.is_of_the_lot_on(self)
        };
        shelf.let_downs.retain(serves);
        shelf
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::super::fixtures::shelf;
    use super::*;

    const DAY: Date = date(2026, 3, 10);

    fn let_down(name: &str, made: Date, mass: f64) -> LetDown {
        LetDown {
            colorant: name.parse().expect(name),
            lot: String::new(),
            base: "skin".to_owned(),
            made,
            mass: Grams(mass),
            keeps_until: LetDown::usual_end(made),
        }
    }

    /// What serves, and the indices drawn on with the milligrams drawn.
    fn supply(shelf: &Shelf, wanted: f64) -> Option<(Standing, Vec<(usize, f64)>)> {
        let red = "red 1:10".parse().expect("a let-down");
        let found = shelf.supply(&red, "skin", Grams(wanted), DAY)?;
        let drawn = |(index, mass): &(usize, Grams)| (*index, (mass.0 * 1000.0).round());
        Some((found.standing, found.draws.iter().map(drawn).collect()))
    }

    #[test]
    fn jars_are_drawn_on_as_they_expire_and_what_does_not_serve_is_told() {
        let mut shelf = shelf();
        assert_eq!(supply(&shelf, 0.2), None, "nothing stands");
        shelf.let_downs = vec![
            let_down("red 1:10", date(2026, 3, 2), 20.0),
            let_down("red 1:10", date(2026, 3, 9), 5.0),
            let_down("red 1:10", date(2026, 3, 5), 0.5),
            let_down("red 1:20", date(2026, 3, 9), 50.0),
            let_down("red 1:10", date(2026, 3, 11), 50.0),
        ];
        let found = |wanted| supply(&shelf, wanted);
        let ready = |draws| Some((Standing::Ready, draws));
        assert_eq!(found(0.2), ready(vec![(2, 200.0)]), "it expires first");
        assert_eq!(
            found(0.7),
            ready(vec![(2, 500.0), (1, 200.0)]),
            "then the next"
        );
        assert_eq!(found(5.5), ready(vec![(2, 500.0), (1, 5000.0)]), "all");
        let all = vec![(2, 500.0), (1, 5000.0)];
        assert_eq!(found(6.0), Some((Standing::TooLittle, all)), "none is left");
        // By the last day of each, and not by the first.
        shelf.let_downs[1].keeps_until = date(2026, 3, 11);
        assert_eq!(
            supply(&shelf, 0.2),
            ready(vec![(1, 200.0)]),
            "fast to spoil"
        );
    }

    #[test]
    fn of_those_past_their_date_one_with_enough_left_is_named() {
        let mut shelf = shelf();
        shelf.let_downs = vec![
            let_down("red 1:10", date(2026, 3, 1), 20.0),
            let_down("red 1:10", date(2026, 3, 2), 0.1),
        ];
        let past = |draw| Some((Standing::PastItsDate, vec![draw]));
        assert_eq!(supply(&shelf, 0.2), past((0, 200.0)), "it has enough");
        assert_eq!(supply(&shelf, 0.1), past((1, 100.0)), "the last to expire");
        shelf.let_downs[0].keeps_until = DAY;
        let ready = Some((Standing::Ready, vec![(0, 200.0)]));
        assert_eq!(supply(&shelf, 0.2), ready, "its last day is a good one");
    }

    #[test]
    fn what_cups_take_one_by_one_is_what_they_take_together() {
        let mut one_by_one = shelf();
        one_by_one.let_downs = vec![
            let_down("red 1:10", date(2026, 3, 5), 0.162),
            let_down("red 1:10", date(2026, 3, 6), 0.03),
        ];
        let mut together = one_by_one.clone();
        let red = "red 1:10".parse().expect("a let-down");
        for wanted in [0.16, 0.032] {
            let supply = one_by_one.supply(&red, "skin", Grams(wanted), DAY);
            let supply = supply.expect("some is left");
            assert_eq!(supply.standing, Standing::Ready, "{wanted} g");
            one_by_one.draw(&supply);
        }
        let supply = together.supply(&red, "skin", Grams(0.192), DAY);
        together.draw(&supply.expect("some is left"));
        assert_eq!(one_by_one.let_downs, together.let_downs, "what is left");
        let left = one_by_one.let_downs.iter().map(|jar| jar.mass.0);
        assert_eq!(left.sum::<f64>(), 0.0, "both are used up");
    }

    #[test]
    fn another_base_another_lot_and_an_empty_jar_do_not_serve() {
        let mut shelf = shelf();
        let good = let_down("red 1:10", DAY, 20.0);
        shelf.pigments[0].lot = "B7".to_owned();
        for (change, serves) in [
            (
                LetDown {
                    lot: "B7".to_owned(),
                    ..good.clone()
                },
                true,
            ),
            (
                LetDown {
                    lot: String::new(),
                    ..good.clone()
                },
                true,
            ),
            (
                LetDown {
                    lot: "B6".to_owned(),
                    ..good.clone()
                },
                false,
            ),
            (
                LetDown {
                    base: "foam".to_owned(),
                    ..good.clone()
                },
                false,
            ),
            (
                LetDown {
                    mass: Grams(0.0),
                    ..good.clone()
                },
                false,
            ),
        ] {
            shelf.let_downs = vec![change.clone()];
            assert_eq!(supply(&shelf, 0.2).is_some(), serves, "{change:?}");
            let of_its_base =
                |shelf: &Shelf| (shelf.let_downs.iter()).any(|each| each.base == "skin");
            assert_eq!(of_its_base(&shelf.on_the_day(DAY)), serves, "{change:?}");
        }
    }

    #[test]
    fn what_nobody_can_have_made_is_refused() {
        let shelf = shelf();
        let good = let_down("red 1:10", DAY, 20.0);
        good.check(&shelf).expect("a sound one");
        let base = "varnish".to_owned();
        let keeps_until = date(2026, 3, 9);
        for (bad, words) in [
            (let_down("rad 1:10", DAY, 1.0), "did you mean `red`?"),
            (let_down("red", DAY, 1.0), "names no ratio"),
            (let_down("fibre 1:10", DAY, 1.0), "is weighed"),
            (
                LetDown {
                    base,
                    ..good.clone()
                },
                "no base is called",
            ),
            (
                LetDown {
                    keeps_until,
                    ..good
                },
                "keeps until 2026-03-09",
            ),
        ] {
            let error = bad.check(&shelf).expect_err(words).to_string();
            assert!(error.contains(words), "{words}: {error}");
        }
    }
}
