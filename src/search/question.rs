//! What is asked of the search: one cup, where it ends up, the colours aimed at, the drops at hand.

use std::time::{Duration, Instant};

use super::real_valued::Relaxed;
use super::watch::Watch;
use crate::colour::{Spectrum, TristimulusWeights, delta_e_2000};
use crate::error::{Error, Mend, Result, Setting};
use crate::forecast::Aim;
use crate::materials::{Colorant, Cup, Grams, LetDown, Shelf};
use crate::optics::{Beneath, Coefficients, Layer};

/// A search for the drops of one cup.
#[derive(Clone, Debug)]
pub(crate) struct Question<'shelf> {
    /// Where names are looked up, and how colours are read.
    pub(crate) shelf: &'shelf Shelf,
    /// The cup before any drop: its base, and what is in it whatever the search finds, such as weighed fibre.
    pub(crate) cup: Cup<'shelf>,
    /// Where the cup ends up.
    pub(crate) placement: Placement,
    /// The colour aimed at, under each light; at least one.
    pub(crate) aims: Vec<Aim>,
    /// What may be dropped in; where none, the cup is as it stands.
    pub(crate) colorants: Vec<Colorant>,
    /// Pigments of which some must be dropped in.
    pub(crate) must: Vec<String>,
    /// What the contrast ratio must be, of a film.
    pub(crate) contrast: Option<Contrast>,
    /// Whether a let-down joins the colorants for each pigment whose drop is too coarse.
    pub(crate) let_downs: bool,
    /// Let-downs in this cup's base that an earlier cup of the part asks for: their jars are new, but not for this cup.
    pub(crate) opened: Vec<Colorant>,
    /// Whether a cup without any drop is no answer where the handiest is asked for.
    pub(crate) is_tinted: bool,
    /// The step of a scale that is fine enough to weigh single doses, where the handiest is asked for.
    pub(crate) scale_step: Option<Grams>,
    /// The best real-valued recipes of the same colorants for aims nearby, where they are known: the search begins at them.
    pub(crate) nearby: Vec<Relaxed>,
    /// How much may go in.
    pub(crate) limits: CupLimits,
    /// When to give the best found so far.
    pub(crate) deadline: Option<Instant>,
}

/// Where a cup's content ends up.
#[expect(
    clippy::large_enum_variant,
    reason = "there is one in a question, and it is not moved about"
)]
#[derive(Clone, Debug)]
pub(crate) enum Placement {
    /// A film over other layers.
    Film {
        /// Its thickness, mm.
        thickness_mm: f64,
        /// The layers under it, the upper first.
        over: Vec<Layer>,
        /// What lies under all of them.
        beneath: Beneath,
    },
    /// A bed too thick to see through, such as foam.
    Bed,
}

/// Between what a film's contrast ratio must lie, and what it is taken over.
#[derive(Clone, Debug)]
pub(crate) struct Contrast {
    /// Least and greatest.
    pub(crate) window: (f64, f64),
    /// The black card and the white one.
    pub(crate) cards: [Spectrum; 2],
    /// The light and observer whose Y it is.
    pub(crate) weights: TristimulusWeights,
}

impl Contrast {
    /// `window` over the cards of `shelf`, under its viewing.
    pub(crate) fn over_cards(window: (f64, f64), shelf: &Shelf) -> Self {
        Self {
            window,
            cards: [shelf.black_card(), shelf.white_card()],
            weights: shelf.settings.viewing.weights(),
        }
    }

    /// How far `ratio` lies outside the window; 0 within.
    pub(crate) fn outside(&self, ratio: f64) -> f64 {
        (self.window.0 - ratio).max(ratio - self.window.1).max(0.0)
    }

    /// Whether the window holds any ratio from `low` to `high`.
    pub(crate) fn holds(&self, low: f64, high: f64) -> bool {
        high >= self.window.0 && low <= self.window.1
    }
}

/// Bounds of a search.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Limits {
    /// Most drops of one colorant in each cup; where `None`, [`MAX_DROPS`](Self::MAX_DROPS), and more in a cup
    /// above 600 g or of a foam, as they take more.
    pub max_drops: Option<u32>,
    /// Most drops of all colorants together, likewise; [`MAX_TOTAL_DROPS`](Self::MAX_TOTAL_DROPS) where `None`.
    pub max_total_drops: Option<u32>,
    /// Most different pigments that are dropped into one cup.
    pub max_pigments: usize,
    /// How many recipes to give, the best first; at least one is given.
    pub top: usize,
    /// Asks for the nearest recipe, whatever it asks of the hands, and says at what distance from the best, in ΔE00, it
    /// counts as proven; where `None`, for the handiest of those that lose nothing that is seen or known.
    pub within: Option<f64>,
    /// How long the whole search may take, after which it gives the best found so far with how far that may be from
    /// the best; the answer then depends on the machine. Finding good recipes is not cut short, proving them is.
    pub time_limit: Option<Duration>,
    /// Least and greatest contrast ratio of the skin: Y over the book's black card by Y over its white card.
    pub contrast_ratio: Option<(f64, f64)>,
    /// Who watches the search, and may end it before that.
    pub watch: Watch,
    /// On how many threads, at least one; the answer doesn't depend on it.
    pub threads: usize,
}

impl Limits {
    /// Most drops of one colorant in a cup of up to 600 g of skin, if nothing else is asked for.
    pub const MAX_DROPS: u32 = 40;
    /// Most drops in such a cup.
    pub const MAX_TOTAL_DROPS: u32 = 60;
    /// Most drops, of one colorant or of all, that can be asked for: nobody counts more.
    pub const MOST_DROPS: u32 = 10_000;

    /// Refuses bounds that are no numbers or exclude each other.
    ///
    /// # Errors
    /// A distance from the best that is below zero or no number; a window for the contrast ratio that ends before it begins, or
    /// begins or ends at no number; no recipe, no pigment or no thread.
    pub fn check(&self) -> Result<()> {
        let sound = |within: &f64| *within >= 0.0 && within.is_finite();
        if let Some(within) = self.within.filter(|within| !sound(within)) {
            let finding = format!("proven to within ΔE00 {within}");
            return Err(Error::input(finding).mend("expected a number from 0 up"));
        }
        if let Some((least, most)) = self.contrast_ratio {
            if least.is_nan() || most.is_nan() {
                return Err(Error::input("a contrast ratio that is no number")
                    .mend("expected 0 (clear) to 1 (hides all)"));
            }
            if least > most {
                return Err(
                    Error::input("the least contrast ratio is above the greatest").mend(
                        Mend::from("exchange ")
                            .set(Setting::MinContrast)
                            .and(" and ")
                            .set(Setting::MaxContrast)
                            .and(", or leave one out"),
                    ),
                );
            }
        }
        for (count, of) in [
            (self.top, "recipe is asked for"),
            (self.max_pigments, "pigment may go in"),
            (self.threads, "thread may search"),
        ] {
            if count == 0 {
                return Err(Error::input(format!("no {of}")).mend("expected at least one"));
            }
        }
        Ok(())
    }

    /// What is left of the time of a search that began before, for what is still to be done of it: a moment at least where there was
    /// any, since without any all is tried.
    pub(crate) fn time_left_since(&self, begun: Instant) -> Option<Duration> {
        let least = |limit: Duration| limit.min(Duration::from_nanos(1));
        self.time_limit
            .map(|limit| limit.saturating_sub(begun.elapsed()).max(least(limit)))
    }

    /// When this share (0–1) of the time will be over, if now is when it begins. A moment beyond what the clock can tell
    /// never comes.
    pub(crate) fn deadline_of(&self, share: f64) -> Option<Instant> {
        let limit = self.time_limit?;
        Instant::now().checked_add(if share < 1.0 {
            limit.mul_f64(share)
        } else {
            limit
        })
    }
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            max_drops: None,
            max_total_drops: None,
            max_pigments: 4,
            top: 1,
            within: None,
            time_limit: Some(Duration::from_secs(2)),
            contrast_ratio: None,
            watch: Watch::default(),
            threads: std::thread::available_parallelism().map_or(1, usize::from),
        }
    }
}

/// Bounds of one cup's search: those of [`Limits`], settled.
#[derive(Clone, Copy, Debug)]
pub(crate) struct CupLimits {
    /// Most drops of one colorant.
    pub(crate) max_drops: u32,
    /// Most drops of all colorants together.
    pub(crate) max_total_drops: u32,
    /// Most different pigments that are dropped in; what is in the cup before does not count.
    pub(crate) max_pigments: usize,
    /// How many recipes to give; of 0, one is given.
    pub(crate) top: usize,
    /// Distance from the best at which the nearest counts as proven, ΔE00 from 0 up.
    pub(crate) within: f64,
    /// On how many threads the model is sampled and boxes are bounded; 0 is taken as one.
    pub(crate) threads: usize,
    /// Who watches the search, and may end it before its deadline.
    pub(crate) watch: Watch,
}

impl Question<'_> {
    /// The reading of the casting when the cup sets to `coefficients` (mm⁻¹).
    pub(crate) fn reading(&self, coefficients: &Coefficients) -> Spectrum {
        self.reading_over(None, coefficients)
    }

    /// The same, over `card` instead of what lies beneath, if one is given.
    pub(crate) fn reading_over(
        &self,
        card: Option<&Spectrum>,
        coefficients: &Coefficients,
    ) -> Spectrum {
        let settings = &self.shelf.settings;
        let read =
            |layers: &[Layer], beneath| settings.model.reading(layers, beneath, &settings.surface);
        let medium = self.cup.base.medium(*coefficients);
        match &self.placement {
            Placement::Bed => read(&[], &Beneath::Bed(medium)),
            Placement::Film {
                thickness_mm,
                over,
                beneath,
            } => {
                let film = Layer {
                    medium,
                    thickness_mm: *thickness_mm,
                };
                let card = card.map(|card| Beneath::Backing(*card));
                let beneath = card.as_ref().unwrap_or(beneath);
                match over.as_slice() {
                    // The inner loop of a search: on the stack for skin, and for paint on skin.
                    [] => read(&[film], beneath),
                    [under] => read(&[film, *under], beneath),
                    more => {
                        let all: Vec<Layer> =
                            std::iter::once(film).chain(more.iter().copied()).collect();
                        read(&all, beneath)
                    }
                }
            }
        }
    }

    /// Mean ΔE00 from the aims to a casting that reads `reflectance`.
    pub(crate) fn delta_e(&self, reflectance: &Spectrum) -> f64 {
        let sum: f64 = self
            .aims
            .iter()
            .map(|aim| delta_e_2000(aim.lab, aim.weights.lab(reflectance)))
            .sum();
        sum / self.aims.len() as f64
    }

    /// Whether a film of `coefficients` has the contrast ratio that is asked for.
    pub(crate) fn contrasts(&self, coefficients: &Coefficients) -> bool {
        self.contrast.as_ref().is_none_or(|contrast| {
            let [black, white] = contrast.cards.each_ref().map(|card| {
                (contrast.weights)
                    .xyz(&self.reading_over(Some(card), coefficients))
                    .y
            });
            contrast.holds(black / white, black / white)
        })
    }

    /// The most drops of `colorant`. Of a let-down that joined in for its fineness, fewer than make a drop from
    /// the bottle, which stands beside it.
    pub(crate) fn most_drops(&self, colorant: &Colorant) -> u32 {
        let most = self.limits.max_drops;
        if self.let_downs && colorant.let_down > 1.0 {
            most.min(crate::materials::whole_number(colorant.let_down.ceil()) - 1)
        } else {
            most
        }
    }

    /// Whether the time until `deadline` is over, or someone has stopped the search.
    pub(crate) fn is_over(&self, deadline: Option<Instant>) -> bool {
        self.limits.watch.is_stopped()
            || deadline.is_some_and(|deadline| Instant::now() >= deadline)
    }

    /// Whether a jar of the let-down `colorant` is to be made for this cup: none stands on the shelf for its base, and no cup
    /// before asks for one.
    pub(crate) fn needs_a_jar(&self, colorant: &Colorant) -> bool {
        let base = &self.cup.base.name;
        let stands = |jar: &LetDown| jar.colorant == *colorant && jar.base == *base;
        colorant.let_down > 1.0
            && !self.opened.contains(colorant)
            && !self.shelf.let_downs.iter().any(stands)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_of_the_time_ends_before_the_whole_and_what_no_clock_tells_never_ends() {
        let limits = |time_limit| Limits {
            time_limit,
            ..Limits::default()
        };
        let long = limits(Some(Duration::from_secs(3600)));
        let ends = [1.0 / 3.0, 2.0 / 3.0, 1.0].map(|share| long.deadline_of(share));
        assert!(ends.iter().all(Option::is_some), "a time for each");
        assert!(ends.is_sorted(), "a third, two thirds, the whole: {ends:?}");
        for endless in [None, Some(Duration::MAX)] {
            let end = limits(endless).deadline_of(1.0);
            assert_eq!(end, None, "no end of {endless:?}");
        }
    }
}
