//! Let-downs that stand ready: a pigment stirred into clear base beforehand, so that a drop is finer.

use std::fmt;

use jiff::Span;
use jiff::civil::Date;
use serde::{Serialize, Serializer};

use super::{Colorant, Grams, Shelf};
use crate::error::{Error, Result};

/// A let-down in its jar.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LetDown {
    /// The pigment and the ratio, which is above 1.
    #[serde(rename = "let_down")]
    pub colorant: Colorant,
    /// The lot of the pigment that was stirred in; empty where unknown.
    pub lot: String,
    /// The base that it is for: it is stirred into part B of this one, or into the base itself if that comes as one part.
    pub base: String,
    /// The day on which it was made.
    #[serde(serialize_with = "as_written")]
    pub made: Date,
    /// What is left of it.
    #[serde(rename = "mass_g")]
    pub mass: Grams,
    /// The last day on which it is good.
    #[serde(serialize_with = "as_written")]
    pub keeps_until: Date,
}

/// What a let-down that stands on the shelf is good for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// It is in its time, and enough of it is left.
    Ready,
    /// It is in its time, and less of it is left than is wanted.
    TooLittle,
    /// Its time is over.
    PastItsDate,
}

fn as_written<S: Serializer>(
    value: &impl fmt::Display,
    to: S,
) -> std::result::Result<S::Ok, S::Error> {
    to.collect_str(value)
}

impl LetDown {
    /// How long one keeps, closed and dry, if nobody knows better, days: about a week. Common practice, no source.
    const KEEPS_DAYS: i32 = 7;

    /// The last day of one that was made on the day `made`, if nobody knows better.
    pub fn usual_end(made: Date) -> Date {
        made.saturating_add(Span::new().days(Self::KEEPS_DAYS))
    }

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
        if colorant.let_down <= 1.0 {
            let finding = format!("`{colorant}` names no ratio of a let-down");
            return Err(
                Error::input(finding).mend(format!("write `{colorant} 1:10` for one part in ten"))
            );
        }
        if keeps_until < made {
            let finding = format!("it was made on {made} and keeps until {keeps_until}");
            return Err(Error::input(finding).mend("exchange the two days, or mend one"));
        }
        Ok(())
    }

    /// Whether its time is over on the day `day`.
    pub fn is_past(&self, day: Date) -> bool {
        day > self.keeps_until
    }

    /// Whether it was made of the lot of its pigment that `shelf` has now, as far as both are known.
    pub fn is_of_the_lot_on(&self, shelf: &Shelf) -> bool {
        let now = shelf.pigment(&self.colorant.pigment);
        let now = now.map_or("", |pigment| pigment.lot.as_str());
        now.is_empty() || self.lot.is_empty() || self.lot == now
    }
}

impl Shelf {
    /// The let-down to take `wanted` of `colorant` from for a cup of `base` on the day `day`, its place among
    /// [`let_downs`](Self::let_downs), and whether it serves: the oldest in its time with enough left; else that with most
    /// left; else the last made of those whose time is over. `None` where none is left at all.
    pub fn standing(
        &self,
        colorant: &Colorant,
        base: &str,
        wanted: Grams,
        day: Date,
    ) -> Option<(usize, Standing)> {
        let (past, good): (Vec<_>, Vec<_>) =
            (self.jars(colorant, base)).partition(|(_, each)| each.is_past(day));
        let enough = good.iter().filter(|(_, each)| each.mass >= wanted);
        if let Some((place, _)) = enough.min_by_key(|(_, each)| each.made) {
            return Some((*place, Standing::Ready));
        }
        let most = good
            .iter()
            .max_by(|(_, one), (_, other)| one.mass.0.total_cmp(&other.mass.0));
        let most = most.map(|(place, _)| (*place, Standing::TooLittle));
        let last = past.iter().max_by_key(|(_, each)| each.made);
        most.or(last.map(|(place, _)| (*place, Standing::PastItsDate)))
    }

    /// The places of the jars of `colorant` for cups of `base` that are in their time on the day `day`, the oldest first.
    pub fn jars_in_their_time(&self, colorant: &Colorant, base: &str, day: Date) -> Vec<usize> {
        let jars = self.jars(colorant, base);
        let mut good: Vec<_> = jars.filter(|(_, each)| !each.is_past(day)).collect();
        good.sort_by_key(|(_, each)| each.made);
        good.into_iter().map(|(place, _)| place).collect()
    }

    /// The jars of `colorant` for cups of `base` that hold something of the lot of now, with their places.
    fn jars<'a>(
        &'a self,
        colorant: &'a Colorant,
        base: &'a str,
    ) -> impl Iterator<Item = (usize, &'a LetDown)> {
        let fits = move |each: &LetDown| {
            each.colorant == *colorant
                && each.base == base
                && each.mass.0 > 0.0
                && each.is_of_the_lot_on(self)
        };
        let all = self.let_downs.iter().enumerate();
        all.filter(move |(_, each)| fits(each))
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

    /// The shelf as it serves on the day `day`: without let-downs whose time is over, that are used up, or that were made of
    /// an earlier lot.
    #[must_use]
    pub fn on_the_day(&self, day: Date) -> Self {
        let mut shelf = self.clone();
        let serves =
            |each: &LetDown| !each.is_past(day) && each.mass.0 > 0.0 && each.is_of_the_lot_on(self);
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

    fn standing(shelf: &Shelf, wanted: f64) -> Option<(usize, Standing)> {
        let red = "red 1:10".parse().expect("a let-down");
        shelf.standing(&red, "skin", Grams(wanted), DAY)
    }

    #[test]
    fn the_oldest_with_enough_left_serves_and_what_does_not_is_told_from_it() {
        let mut shelf = shelf();
        assert_eq!(standing(&shelf, 0.2), None, "nothing stands");
        shelf.let_downs = vec![
            let_down("red 1:10", date(2026, 3, 2), 20.0),
            let_down("red 1:10", date(2026, 3, 9), 5.0),
            let_down("red 1:10", date(2026, 3, 5), 0.5),
            let_down("red 1:20", date(2026, 3, 9), 50.0),
        ];
        let found = |wanted| standing(&shelf, wanted);
        assert_eq!(found(0.2), Some((2, Standing::Ready)), "the oldest good");
        assert_eq!(found(0.7), Some((1, Standing::Ready)), "it has enough");
        assert_eq!(found(6.0), Some((1, Standing::TooLittle)), "has most");
        shelf.let_downs.truncate(1);
        let past = Some((0, Standing::PastItsDate));
        assert_eq!(standing(&shelf, 0.2), past, "eight days old");
        shelf.let_downs[0].made = date(2026, 3, 3);
        shelf.let_downs[0].keeps_until = LetDown::usual_end(date(2026, 3, 3));
        let ready = Some((0, Standing::Ready));
        assert_eq!(standing(&shelf, 0.2), ready, "its last day is a good one");
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
            assert_eq!(standing(&shelf, 0.2).is_some(), serves, "{change:?}");
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
        for (bad, part) in [
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
            let error = bad.check(&shelf).expect_err(part).to_string();
            assert!(error.contains(part), "{part}: {error}");
        }
    }
}
