//! How colour and translucency change with a skin's thickness, and how thin it may be.

use crate::colour::{Lab, Translucency, TristimulusWeights, delta_e_2000};
use crate::materials::Casting;
use crate::materials::{Build, Millimetres};

/// A skin of another thickness, all else as it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AtThickness {
    /// The thickness.
    pub thickness: Millimetres,
    /// What comes out.
    pub lab: Lab,
    /// ΔE00 to the same skin as thick as it was ordered.
    pub delta_e: f64,
    /// What it shows of black and white.
    pub translucency: Translucency,
}

/// Thicknesses that are shown beside the one ordered, mm.
pub const SHOWN_MM: [f64; 8] = [0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0];

/// The thinnest skin that hides what lies under it as the ordered one does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thinnest {
    /// The thickness; the thinnest skin there is, where even that is near enough.
    pub thickness: Millimetres,
    /// How far, in ΔE00, a spot that thin may look from the rest.
    pub within: f64,
}

/// Why a casting has a lowest film.
const SKIN: &str = "every casting has a skin";

/// Steps between the ordered thickness and none in which the thinnest is looked for.
const STEPS: u32 = 64;

impl Casting<'_> {
    /// This casting with its skin at each of `thicknesses`.
    pub fn at_thicknesses(
        &self,
        weights: &TristimulusWeights,
        thicknesses: impl IntoIterator<Item = Millimetres>,
    ) -> Vec<AtThickness> {
        let ordered = weights.lab(&self.reading());
        let at = |thickness| {
            let casting = self.with_skin_of(thickness);
            let lab = weights.lab(&casting.reading());
            AtThickness {
                thickness,
                lab,
                delta_e: delta_e_2000(ordered, lab),
                translucency: casting.translucency(weights),
            }
        };
        thicknesses.into_iter().map(at).collect()
    }

    /// The thinnest skin that still looks like the one ordered, `within` a ΔE00: where it is brushed thinner, what lies
    /// under it shows beside the rest of the part. Every thickness from there to the one ordered looks so.
    ///
    /// It is not the thickness at which a skin hides all: a translucent skin never does, and over a foam of its own tone it
    /// need not.
    pub fn thinnest_skin(&self, weights: &TristimulusWeights, within: f64) -> Option<Thinnest> {
        let ordered_mm = self.films.last()?.thickness.0;
        let ordered = weights.lab(&self.reading());
        let hides = |mm: f64| {
            let made = weights.lab(&self.with_skin_of(Millimetres(mm)).reading());
            delta_e_2000(ordered, made) <= within
        };
        let (least_mm, _) = Build::THICKNESS_MM;
        let step = (ordered_mm - least_mm).max(0.0) / f64::from(STEPS);
        let mut steps = (1..=STEPS).map(|step_no| ordered_mm - f64::from(step_no) * step);
        let mut hidden_mm = ordered_mm;
        let shows_mm = steps.find(|mm| {
            let shows = !hides(*mm);
            if !shows {
                hidden_mm = *mm;
            }
            shows
        });
        if let Some(mut shows_mm) = shows_mm {
            for _ in 0..12 {
                let middle = f64::midpoint(hidden_mm, shows_mm);
                if hides(middle) {
                    hidden_mm = middle;
                } else {
                    shows_mm = middle;
                }
            }
        }
        Some(Thinnest {
            thickness: Millimetres(hidden_mm),
            within,
        })
    }

    /// The same casting with another skin's thickness; the skin is its lowest film.
    fn with_skin_of(&self, thickness: Millimetres) -> Self {
        let mut other = self.clone();
        let skin = other.films.last_mut().expect(SKIN);
        skin.thickness = thickness;
        other
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::materials::fixtures::shelf;
    use crate::materials::{Contact, Grams, Poured, Shelf, Underlay};

    fn over(backing: &str, thickness_mm: f64) -> Build {
        Build {
            skin: Poured {
                base: "skin".to_owned(),
                base_mass: Grams(100.0),
                mix: "red 3; white 5".parse().expect("a mix"),
            },
            thickness: Millimetres(thickness_mm),
            beneath: Underlay::Backing {
                name: backing.to_owned(),
                contact: Contact::Bonded,
            },
            paint: None,
        }
    }

    #[test]
    fn contrast_ratio_and_parameter_are_those_of_two_castings_on_the_cards() {
        let shelf = shelf();
        let weights = shelf.settings.viewing.weights();
        let read = |card, mm| {
            Casting::new(&shelf, &over(card, mm))
                .expect("sound")
                .reading()
        };
        let casting = Casting::new(&shelf, &over(Shelf::WHITE_CARD, 2.0)).expect("sound");
        for row in casting.at_thicknesses(&weights, SHOWN_MM.map(Millimetres)) {
            let [black, white] =
                [Shelf::BLACK_CARD, Shelf::WHITE_CARD].map(|card| read(card, row.thickness.0));
            let ratio = weights.xyz(&black).y / weights.xyz(&white).y;
            assert_abs_diff_eq!(row.translucency.contrast_ratio, ratio, epsilon = 1e-9);
            let apart = delta_e_2000(weights.lab(&black), weights.lab(&white));
            assert_abs_diff_eq!(row.translucency.tp_00, apart, epsilon = 1e-9);
        }
    }

    #[test]
    fn a_thicker_skin_hides_more() {
        let shelf = shelf();
        let weights = shelf.settings.viewing.weights();
        let casting = Casting::new(&shelf, &over(Shelf::WHITE_CARD, 2.0)).expect("sound");
        let rows = casting.at_thicknesses(&weights, SHOWN_MM.map(Millimetres));
        for pair in rows.windows(2) {
            let [thin, thick] = [pair[0].translucency, pair[1].translucency];
            assert!(
                thin.contrast_ratio < thick.contrast_ratio,
                "{thin:?} {thick:?}"
            );
            assert!(thin.tp_ab > thick.tp_ab, "{thin:?} {thick:?}");
        }
        assert_abs_diff_eq!(rows[4].delta_e, 0.0, epsilon = 1e-9);
    }

    #[test]
    fn the_thinnest_skin_is_just_near_enough() {
        const WITHIN: f64 = 1.0;
        let shelf = shelf();
        let weights = shelf.settings.viewing.weights();
        let casting = Casting::new(&shelf, &over(Shelf::WHITE_CARD, 2.0)).expect("sound");
        let thinnest = casting.thinnest_skin(&weights, WITHIN).expect("a skin");
        let mm = thinnest.thickness.0;
        assert!((0.05..2.0).contains(&mm), "{mm} mm");
        let at = casting.at_thicknesses(&weights, [mm, mm - 0.01].map(Millimetres));
        assert!(at[0].delta_e <= WITHIN, "it looks alike: {}", at[0].delta_e);
        assert!(at[1].delta_e > WITHIN, "thinner shows: {}", at[1].delta_e);
        let loose = casting.thinnest_skin(&weights, 200.0).expect("a skin");
        assert_abs_diff_eq!(loose.thickness.0, Build::THICKNESS_MM.0, epsilon = 1e-9);
    }
}
