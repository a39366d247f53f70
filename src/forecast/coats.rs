//! Paint as a hand sprays it: mass on an area, coats, and what a test card shows.

use super::tolerance::WORTH_IT;
use crate::colour::{Lab, TristimulusWeights, delta_e_2000};
use crate::error::Result;
use crate::materials::Casting;
use crate::materials::{Coat, Cup, Millimetres, Shelf};

/// How a paint goes on.
#[derive(Clone, Debug, PartialEq)]
pub struct Spraying {
    /// Mass of wet paint on 100 cm², g, for all coats; what blows past is not in it.
    pub wet_g_per_100_cm2: f64,
    /// Area that the whole cup covers, cm², if nothing blows past.
    pub covers_cm2: f64,
    /// Dry thickness of one coat.
    pub one_coat: Millimetres,
    /// Colours on the part after each coat, the last with all of the paint.
    pub coats: Vec<Lab>,
    /// The first coat, counted from 1, after which the part is within tolerance of the tone; `None` where it is not with
    /// all of the paint on.
    pub reaches_at: Option<usize>,
    /// What more coats of the same would do; `None` where the tone is reached, or they bring it hardly nearer.
    pub more_coats: Option<MoreCoats>,
    /// The colour of all coats on the white card, where the airbrush is tried first.
    pub on_the_card: Lab,
}

/// Coats beyond those that were ordered, which bring the part nearer to a tone that it misses.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MoreCoats {
    /// How many more.
    pub count: usize,
    /// Dry thickness of all coats together, those that were ordered among them.
    pub dry_thickness: Millimetres,
    /// ΔE00 from the tone with all of them on.
    pub delta_e: f64,
}

/// Wet thickness of one light coat from an airbrush, mm. Common practice, no source.
const ONE_WET_COAT_MM: f64 = 0.03;

/// A coat of 100 cm² that is 1 mm thick has this volume, ml.
const ML_PER_MM_OF_100_CM2: f64 = 10.0;

/// Most coats whose colours are told.
const MOST_COATS: usize = 12;

/// More coats are looked at up to so many times those that were ordered: a thicker film of paint shows its edges. Our
/// own choice, no source.
const MORE_COATS: usize = 4;

/// Mass of wet paint from `cup` that dries to `dry_thickness` on 100 cm², g. The dried film is taken as dense as the
/// paint; what blows past is not in it.
pub fn wet_g_per_100_cm2(cup: &Cup<'_>, dry_thickness: Millimetres) -> f64 {
    dry_thickness.0 * ML_PER_MM_OF_100_CM2 * cup.base.density_g_ml / stays(cup)
}

/// The share of a cup's mass that stays when it has dried.
fn stays(cup: &Cup<'_>) -> f64 {
    cup.staying_mass().0 / cup.mass().0
}

impl Spraying {
    /// How `coat` goes onto a part, whose colour under any coat `painted` tells, on its way to `aim`; within `tolerance`,
    /// ΔE00, it is there.
    ///
    /// # Errors
    /// As [`Casting::new`].
    pub(crate) fn of(
        shelf: &Shelf,
        coat: &Coat,
        painted: impl Fn(&Coat) -> Result<Lab>,
        weights: &TristimulusWeights,
        (aim, tolerance): (Lab, f64),
    ) -> Result<Self> {
        let cup = Cup::pour(shelf, &coat.paint)?;
        let Millimetres(dry_mm) = coat.dry_thickness;
        let wet_g_per_100_cm2 = wet_g_per_100_cm2(&cup, coat.dry_thickness);
        let one_dry_mm = (ONE_WET_COAT_MM * stays(&cup)).min(dry_mm);
        // The last coat ends at the thickness asked for; where there would be too many, they are thicker.
        let wanted = (dry_mm / one_dry_mm - 1e-9).ceil().max(1.0);
        let count = crate::materials::whole_number(wanted.min(MOST_COATS as f64)) as usize;
        let one_coat = Millimetres(dry_mm / count as f64);
        let thickness = |coats: usize| Millimetres(coats as f64 * one_coat.0);
        let after = |coats: usize| {
            painted(&Coat {
                dry_thickness: thickness(coats),
                ..coat.clone()
            })
        };
        let coats: Vec<Lab> = (1..=count).map(after).collect::<Result<_>>()?;
        let off = |lab: &Lab| delta_e_2000(aim, *lab);
        let end = off(coats.last().expect("there is at least one coat"));
        let (mut reaches_at, mut more_coats) = (None, None);
        if end <= tolerance {
            let reaches = coats.iter().position(|lab| off(lab) <= tolerance);
            reaches_at = reaches.map(|index| index + 1);
        } else {
            let (_, thickest) = Coat::DRY_THICKNESS_MM;
            let mut nearest = end - WORTH_IT;
            for all in
                (count + 1..=MORE_COATS * count).take_while(|all| thickness(*all).0 <= thickest)
            {
                let delta_e = off(&after(all)?);
                if delta_e < nearest {
                    nearest = delta_e;
                    more_coats = Some(MoreCoats {
                        count: all - count,
                        dry_thickness: thickness(all),
                        delta_e,
                    });
                }
                // No more paint than it takes.
                if delta_e <= tolerance {
                    break;
                }
            }
        }
        Ok(Self {
            wet_g_per_100_cm2,
            covers_cm2: 100.0 * cup.mass().0 / wet_g_per_100_cm2,
            one_coat,
            reaches_at,
            more_coats,
            coats,
            on_the_card: weights.lab(&Casting::sprayed_card(shelf, coat)?.reading()),
        })
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::materials::fixtures::shelf;
    use crate::materials::{Grams, Poured};

    const GREY: Lab = Lab::new(50.0, 0.0, 0.0);

    fn spraying(dry_mm: f64) -> Spraying {
        spraying_of(dry_mm, |_| GREY)
    }

    /// A paint that is to look grey, which its coats do as `painted` tells of their dry thickness.
    fn spraying_of(dry_mm: f64, painted: impl Fn(f64) -> Lab) -> Spraying {
        let shelf = shelf();
        let weights = shelf.settings.viewing.weights();
        let coat = Coat {
            paint: Poured {
                base: "paint".to_owned(),
                base_mass: Grams(60.0),
                mix: "".parse().expect("no pigment"),
            },
            dry_thickness: Millimetres(dry_mm),
        };
        let painted = |coat: &Coat| Ok(painted(coat.dry_thickness.0));
        Spraying::of(&shelf, &coat, painted, &weights, (GREY, 1.0)).expect("sound")
    }

    #[test]
    fn a_tone_that_the_last_coat_misses_is_not_reached_and_more_coats_are_told_where_they_help() {
        // Each of three coats of 0.01 mm lightens black by L* 10: after five it is there.
        let lightened = |mm: f64| Lab::new((1000.0 * mm).min(50.0), 0.0, 0.0);
        let thin = spraying_of(0.03, lightened);
        assert_eq!(thin.reaches_at, None, "L* 30 is not 50");
        let more = thin.more_coats.expect("they help");
        assert_eq!(more.count, 2, "no more than it takes");
        assert_abs_diff_eq!(more.dry_thickness.0, 0.05, epsilon = 1e-12);
        assert!(more.delta_e < 1e-9, "ΔE00 {}", more.delta_e);
        // One that passes the tone, and goes on.
        let passed = spraying_of(0.03, |mm| Lab::new(2500.0 * mm, 0.0, 0.0));
        assert_eq!(passed.reaches_at, None, "L* 75 at the end");
        assert_eq!(passed.more_coats, None, "more take it farther");
        assert_eq!(spraying(0.03).more_coats, None, "it is there");
    }

    #[test]
    fn mass_on_an_area_and_coverage_as_worked_by_hand() {
        // Density 1 g/ml, solids 0.35: 100 cm² × 0.03 mm are 0.3 ml or 0.3 g dry, and 0.3 / 0.35 = 0.857143 g wet. 60 g
        // are 21 g dry, or 21 ml, which at 0.003 cm cover 7000 cm².
        let thin = spraying(0.03);
        assert_abs_diff_eq!(thin.wet_g_per_100_cm2, 0.857_143, epsilon = 1e-6);
        assert_abs_diff_eq!(thin.covers_cm2, 7000.0, epsilon = 1e-6);
        // A wet coat of 0.03 mm dries to 0.0105 mm: three are 0.0315 mm, so three of 0.01 mm.
        assert_eq!(thin.coats.len(), 3, "coats");
        assert_abs_diff_eq!(thin.one_coat.0, 0.01, epsilon = 1e-12);
        assert_eq!(thin.reaches_at, Some(1), "the first is the tone");
    }

    #[test]
    fn twice_the_paint_covers_half_the_area() {
        let (thin, thick) = (spraying(0.03), spraying(0.06));
        assert_abs_diff_eq!(thick.covers_cm2, thin.covers_cm2 / 2.0, epsilon = 1e-6);
        assert_abs_diff_eq!(
            thick.wet_g_per_100_cm2,
            2.0 * thin.wet_g_per_100_cm2,
            epsilon = 1e-9
        );
    }
}
