//! What a stock may be weighed of: one pigment, or two in a simple proportion.

use crate::materials::Shelf;

/// Pigments in fixed proportion, without a carrier.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Proportion(Vec<(String, f64)>);

/// Parts of one pigment to one of another that are tried, and the other way round: finer ones are not worth the weighing.
const PARTS: [f64; 3] = [1.0, 2.0, 4.0];

impl Proportion {
    /// One pigment.
    pub(super) fn of(pigment: &str) -> Self {
        Self(vec![(pigment.to_owned(), 1.0)])
    }

    /// All simple proportions of two of `pigments`, and each by itself.
    pub(super) fn all_of(pigments: &[String]) -> Vec<Self> {
        let mut all: Vec<Self> = pigments.iter().map(|name| Self::of(name)).collect();
        for (index, one) in pigments.iter().enumerate() {
            for other in &pigments[index + 1..] {
                for parts in PARTS {
                    all.push(Self::of_two(one, other, parts));
                    if parts > 1.0 {
                        all.push(Self::of_two(other, one, parts));
                    }
                }
            }
        }
        all
    }

    /// `parts` of `one` to one of `other`.
    fn of_two(one: &str, other: &str, parts: f64) -> Self {
        let whole = parts + 1.0;
        Self(vec![
            (one.to_owned(), parts / whole),
            (other.to_owned(), 1.0 / whole),
        ])
    }

    /// Each pigment with its share, 0–1.
    pub(super) fn shares(&self) -> impl Iterator<Item = (&str, f64)> {
        self.0.iter().map(|(name, share)| (name.as_str(), *share))
    }

    /// Mass of the drop of a stock of it, g: the mean of those of its pigments.
    pub(super) fn drop_g(&self, shelf: &Shelf) -> f64 {
        let drop_g = |name: &str| {
            let pigment = shelf.pigment(name).ok();
            pigment.and_then(|pigment| pigment.drop_mass)
        };
        (self.shares())
            .filter_map(|(name, share)| Some(share * drop_g(name)?.0))
            .sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_pigments_are_tried_alone_and_in_five_proportions() {
        let all = Proportion::all_of(&["red".to_owned(), "umber".to_owned()]);
        assert_eq!(all.len(), 2 + 5, "{all:?}");
        for proportion in &all {
            let whole: f64 = proportion.shares().map(|(_, share)| share).sum();
            assert!(
                (whole - 1.0).abs() < 1e-12,
                "shares of a whole: {proportion:?}"
            );
        }
    }
}
