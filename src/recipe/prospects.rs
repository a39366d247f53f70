//! What else is to be expected of a part: other thicknesses, what foaming costs, how the paint goes on.

use super::more_fibre::MoreFibre;
use super::order::Order;
use super::part::PartRecipe;
use crate::colour::Lab;
use crate::error::Result;
use crate::forecast::Spraying;
use crate::forecast::{AtThickness, SHOWN_MM, Thinnest};
use crate::materials::Casting;
use crate::materials::{BaseKind, Build, Coat, Cup, Kind, Millimetres, Underlay};
use crate::tone::Target;

/// What else is to be expected of a part.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Prospects {
    /// The skin at other thicknesses, thinnest first, the ordered one among them; none of a coat of paint.
    pub at_thicknesses: Vec<AtThickness>,
    /// How thin the skin may be.
    pub thinnest: Option<Thinnest>,
    /// What foaming does; `None` where there is no foam.
    pub foaming: Option<Foaming>,
    /// What a handful of fibre more makes of the skin; `None` where none is in it.
    pub more_fibre: Option<MoreFibre>,
    /// How each paint goes on, in the order of the recipe's paints.
    pub spraying: Vec<Spraying>,
}

/// What foaming does to colour.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Foaming {
    /// How many times its pigment the skin's mix would need to keep its colour as this foam.
    pub pigment_multiplier: f64,
    /// The foam's colour with cells half and twice as wide as was guessed, where nobody has measured them.
    pub cells_from_half_to_double: Option<[Lab; 2]>,
}

impl Order<'_> {
    /// What else is to be expected of `part`, which answers `target`. Skins up to the thickest are shown; the thinnest one lies
    /// within `hide_within`, ΔE00, of the ordered one, and paint has its tone within the order's tolerance.
    ///
    /// # Errors
    /// As [`Casting::new`].
    pub fn prospects(
        &self,
        part: &PartRecipe,
        target: &Target,
        hide_within: f64,
    ) -> Result<Prospects> {
        let weights = self.shelf.settings.viewing.weights();
        let casting = Casting::new(self.shelf, &part.build)?;
        let (_, most) = Build::THICKNESS_MM;
        let thickest = self.max_thickness.unwrap_or(Millimetres(most));
        let mut shown_mm = SHOWN_MM.to_vec();
        if !shown_mm.contains(&self.thickness.0) {
            shown_mm.push(self.thickness.0);
        }
        // A coat in the skin's place is as thin as it is sprayed, and hides as little as it does.
        let is_sprayed = self.shelf.base(&self.skin.base)?.kind.kind() == Kind::Paint;
        shown_mm.retain(|mm| *mm <= thickest.0 && !is_sprayed);
        shown_mm.sort_by(f64::total_cmp);
        let spraying = part.paints.iter().map(|(_, recipe)| {
            let dry_thickness = self
                .paint
                .as_ref()
                .map_or(Millimetres(0.0), |(_, dry)| *dry);
            let coat = Coat {
                paint: recipe.best().poured.clone(),
                dry_thickness,
            };
            let painted = |coat: &Coat| {
                let build = Build {
                    paint: Some(coat.clone()),
                    ..part.build.clone()
                };
                Ok(weights.lab(&Casting::new(self.shelf, &build)?.reading()))
            };
            let bullseye = (recipe.aim, self.tolerance_for(target));
            Spraying::of(self.shelf, &coat, painted, &weights, bullseye)
        });
        Ok(Prospects {
            at_thicknesses: casting.at_thicknesses(&weights, shown_mm.into_iter().map(Millimetres)),
            thinnest: (casting.thinnest_skin(&weights, hide_within)).filter(|_| !is_sprayed),
            foaming: self.foaming(&part.build)?,
            more_fibre: MoreFibre::of(self.shelf, &part.build, &weights)?,
            spraying: spraying.collect::<Result<_>>()?,
        })
    }

    fn foaming(&self, build: &Build) -> Result<Option<Foaming>> {
        let Underlay::Foam(poured) = &build.beneath else {
            return Ok(None);
        };
        let BaseKind::Foam(foam) = self.shelf.base(&poured.base)?.kind else {
            return Ok(None);
        };
        let weights = self.shelf.settings.viewing.weights();
        let skin = Cup::pour(self.shelf, &build.skin)?.before_rise();
        // Luminance counts wavelengths as the eye does; it is of skins, whose scattering changes slowly.
        let solid_s = weights.xyz(&skin.s).y / weights.white().y;
        let coloured = |times: f64| -> Result<Lab> {
            let mut bare = Casting::bare_foam(self.shelf, poured)?;
            bare.widen_cells(times);
            Ok(weights.lab(&bare.reading()))
        };
        let cells_from_half_to_double = if foam.is_unmeasured() {
            Some([coloured(0.5)?, coloured(2.0)?])
        } else {
            None
        };
        Ok(Some(Foaming {
            pigment_multiplier: foam.pigment_multiplier(solid_s),
            cells_from_half_to_double,
        }))
    }
}
