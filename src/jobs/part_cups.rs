//! The skin's cup of a part that is kept: all that a correction of it takes from the part.

use jiff::civil::Date;

use super::correcting::{Replacing, Request};
use super::logging::{CupOf, OfPart};
use crate::book::Book;
use crate::error::{Error, Result};
use crate::materials::{Build, Casting, Millimetres};
use crate::recipe::{Evidence, Part};

/// The skin's cup of a part that is kept.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct PartCup {
    /// The part.
    pub part: Part,
    /// What is cast of it, unpainted: one pot of each cup, in pigments of the book alone.
    pub build: Build,
    /// How thick the skin was that was read, where that was said.
    pub read_thickness: Option<Millimetres>,
    /// Between which contrast ratios its skin was wished for, and the one that it was planned with.
    wished_contrast: Option<((f64, f64), f64)>,
}

impl PartCup {
    /// That of the casting `of` a part of `book`, as it is measured out on the day `day`.
    ///
    /// # Errors
    /// As [`OfPart::build`]; a reading under paint, which tells nothing sure of the skin.
    pub fn of(book: &Book, of: OfPart<'_>, day: Date) -> Result<Self> {
        let as_ordered = OfPart {
            thickness: None,
            cup: CupOf::Recipe,
            ..of
        };
        let build = as_ordered.build(book, day)?;
        if build.paint.is_some() {
            return Err(
                Error::input("a painted casting tells of its skin through the paint")
                    .mend("read the skin before it is painted, and name no tone"),
            );
        }
        let part = book.part_to_pour(of.name)?;
        let serving = book.shelf().on_the_day(day);
        let weights = serving.settings.viewing.weights();
        let seen = Casting::new(&serving, &build)?.translucency(&weights);
        let order = part.request.order(&serving)?;
        Ok(Self {
            wished_contrast: (order.window(&part.target))
                .map(|window| (window, seen.contrast_ratio)),
            read_thickness: of.thickness,
            build,
            part,
        })
    }

    /// What is cast of it, with the skin's cup as it stood when it was `told` of, by this `evidence`, on the day `day`: the log's
    /// where a casting of it is logged with that very reading, what stood before a correction that was `told` alike, the cup that
    /// was corrected before, or one by the recipe.
    ///
    /// # Errors
    /// As [`Book::swatches`].
    pub fn as_told(
        &mut self,
        book: &Book,
        evidence: &Evidence,
        told: &str,
        day: Date,
    ) -> Result<Build> {
        let read = book.swatches()?.iter().rev().find(|swatch| {
            let is_it =
                matches!(evidence, Evidence::Reading { lab, .. } if swatch.lab == Some(*lab));
            is_it && swatch.date == day && self.part.castings.contains(&swatch.id)
        });
        let again = (self.part.bench.as_ref()).filter(|cup| cup.is_by(told, day));
        let skin = match (again, read, self.part.corrected_cup()) {
            (Some(cup), ..) => Some(&cup.before),
            (None, Some(read), _) => Some(&read.build.skin),
            (None, None, Some(cup)) => Some(&cup.poured),
            (None, None, None) => None,
        };
        if let Some(skin) = skin {
            self.build.skin.clone_from(skin);
        }
        Ok(self.build.clone())
    }

    /// Asks in `request` for what the part keeps, where the request says nothing else: tolerance, window, pigments.
    pub fn settle(&self, request: &mut Request, replacing: Replacing) {
        let kept = &self.part.request;
        request.part = Some((self.part.clone(), replacing));
        request.read_thickness = self.read_thickness;
        request.tolerance = request.tolerance.or(kept.tolerance);
        request.pigments.clone_from(&kept.pigments);
        request.without.clone_from(&kept.without);
        if !request.is_contrast_free {
            let typed = request.limits.contrast_ratio;
            request.limits.contrast_ratio = typed.or(kept.limits.contrast_ratio);
            request.wished_contrast = self.wished_contrast;
        }
    }
}
