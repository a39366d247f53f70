//! A reading of what came out of the mould, into the log.

use jiff::civil::Date;

use super::batching::Size;
use super::matching::{FilledCup, Layer, Matched};
use super::parts;
use crate::book::{Book, PhotographedChip};
use crate::colour::{Lab, Viewing};
use crate::error::{Error, Mend, Result, Setting};
use crate::materials::{Build, Casting, Coat, Grams, Kind, Millimetres, Poured, Swatch, Underlay};
use crate::recipe::{BenchFate, Part};
use crate::tone::ToneRole;

/// Skins are cast 1 to 3 mm thick. Common practice, no source.
const THICK_SKIN_MM: f64 = 10.0;

/// A casting of a part that is kept.
#[derive(Clone, Copy, Debug)]
pub struct OfPart<'a> {
    /// The part.
    pub name: &'a str,
    /// The tone that it was read on: with the paint of that tone over it; unpainted where `None`, and on a base tone that is
    /// not painted.
    pub tone: Option<ToneRole>,
    /// How thick its skin was found to be; as ordered where `None`.
    pub thickness: Option<Millimetres>,
    /// Which cup of its skin was cast.
    pub cup: CupOf<'a>,
}

/// Which cup of a part's skin was cast.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CupOf<'a> {
    /// One by the recipe that is kept.
    Recipe,
    /// The one that was corrected, where its casting is not logged yet; else one by the recipe.
    Bench,
    /// That of the part's casting which is logged as this swatch.
    Casting(&'a str),
}

impl OfPart<'_> {
    /// What a reading of a part that is not painted yet was taken on, in words.
    pub(super) const UNPAINTED: &'static str = "read unpainted";

    /// What was cast, one pot of each cup, as `book` keeps it and as it was measured out on the day `day`: in pigments of the
    /// book alone.
    ///
    /// # Errors
    /// As [`Book::part_to_pour`] and [`parts::told`]; a tone that the part has no paint for.
    pub fn build(&self, book: &Book, day: Date) -> Result<Build> {
        let part = book.part_to_pour(self.name)?;
        let matched = parts::told(book, &part, Size::Times(1.0), parts::Pots::default(), day)?;
        let poured = |cup: &FilledCup| -> Result<Poured> {
            Ok(Poured {
                base: cup.pour.base.clone(),
                base_mass: Grams(cup.pour.base_g),
                mix: matched.spelled_out(&cup.pour.mix()?)?,
            })
        };
        let paint = self.painted(&part, &matched)?.map(|paint| {
            let dry = part.request.paint.as_ref().map(|(_, dry)| *dry);
            Ok(Coat {
                paint: poured(paint)?,
                dry_thickness: dry.unwrap_or_default(),
            })
        });
        let by_the_recipe = poured(&matched.skin)?;
        let (skin, beneath) = match self.cup {
            CupOf::Casting(id) => {
                let cast = logged(book, &part, id)?;
                (cast.skin.clone(), Some(cast.beneath.clone()))
            }
            CupOf::Recipe => (by_the_recipe, None),
            CupOf::Bench => match part.corrected_cup() {
                Some(cup) => (cup.poured.clone(), None),
                None => (by_the_recipe, None),
            },
        };
        let as_ordered = match &matched.foam {
            Some(foam) => Underlay::Foam(poured(foam)?),
            None => matched.build.beneath.clone(),
        };
        Ok(Build {
            skin,
            thickness: self.thickness.unwrap_or(part.request.thickness),
            beneath: beneath.unwrap_or(as_ordered),
            paint: paint.transpose()?,
        })
    }

    /// The paint that was read, if it was painted.
    fn painted<'m>(&self, part: &Part, matched: &'m Matched) -> Result<Option<&'m FilledCup>> {
        let Some(tone) = self.tone else {
            return Ok(None);
        };
        let paint = (matched.paints.iter()).find(|paint| paint.layer == Layer::Paint(tone));
        if paint.is_none() && tone != ToneRole::Base {
            let known: Vec<String> = (part.recipe.paints.iter())
                .map(|(role, _)| role.to_string())
                .collect();
            let finding = format!(
                "the part `{}` has no {tone} paint",
                part.name.escape_debug()
            );
            return Err(Error::input(finding).mend(match known.is_empty() {
                true => "it has no paint at all: leave the tone out".to_owned(),
                false => format!(
                    "its paints are for: {}; base is the part unpainted",
                    known.join(", ")
                ),
            }));
        }
        Ok(paint)
    }

    /// What the reading was taken on, in words.
    fn note(&self) -> String {
        match self.tone {
            Some(tone) => format!("read on the {tone} tone"),
            None => Self::UNPAINTED.to_owned(),
        }
    }
}

/// What the log has of the casting of `part` that is called `id`, the last row of several.
fn logged<'book>(book: &'book Book, part: &Part, id: &str) -> Result<&'book Build> {
    let mut readings = book.swatches()?.iter().rev();
    let found = readings.find(|swatch| swatch.id == id && part.castings.contains(&swatch.id));
    let known = part.castings.iter().map(String::as_str);
    found
        .map(|swatch| &swatch.build)
        .ok_or_else(|| Error::unknown_name("casting of this part", id, known))
}

/// Logs `swatch`, with what the camera gave of it where it was `photographed`, and notes it among the castings of the part that it is `of`, if it is of one. Returns what may be a slip of the pen in it beside what the book has: warnings, not refusals.
///
/// # Errors
/// As [`Book::add_swatch`], [`Book::log_casting`] and [`Casting::new`]; a colour and a spectrum that are not of one reading.
pub fn run(
    book: &mut Book,
    swatch: &Swatch,
    photographed: Option<&PhotographedChip>,
    of: Option<OfPart<'_>>,
) -> Result<Vec<Error>> {
    check_one_reading(swatch, book.shelf().settings.viewing)?;
    // What the model can't tell is not logged: the log could then not be shown beside it.
    let casting = Casting::new(book.shelf(), &swatch.build)?;
    let mut doubtful = doubtful(swatch, &casting, book)?;
    if let Some(of) = of {
        doubtful.extend(other_cup(swatch, &book.part(of.name)?));
    }
    match of {
        Some(of) => {
            book.log_casting(of.name, swatch, photographed, |part, id| {
                part.log_casting(swatch, id, of.note());
                Ok(())
            })?;
        }
        None => {
            book.log_reading(swatch, photographed)?;
        }
    }
    Ok(doubtful)
}

/// That `swatch` is logged as a casting by the recipe of `part`, right after that of a cup which was corrected: it may be another
/// reading of that.
fn other_cup(swatch: &Swatch, part: &Part) -> Option<Error> {
    let cup = part.bench.as_ref()?;
    let BenchFate::Logged(id) = &cup.fate else {
        return None;
    };
    let may_be_it = part.castings.last() == Some(id) && swatch.id != *id;
    (may_be_it && swatch.build.skin != cup.poured).then(|| {
        let id = id.escape_debug();
        let finding = format!(
            "this is logged as a new cup by the recipe; the cup that was corrected is logged as `{id}`, with another mix"
        );
        Error::input(finding).mend(
            Mend::from("if it was that casting, take this row out of swatches.csv and log the reading anew for ")
                .set(Setting::Casting)
                .and(format!(" {id}")),
        )
    })
}

/// What may be a slip of the pen in `swatch`, which `casting` is, beside what `book` has.
fn doubtful(swatch: &Swatch, casting: &Casting<'_>, book: &Book) -> Result<Vec<Error>> {
    let mut doubtful = Vec::new();
    if let Some(twin) = book.swatches()?.iter().find(|other| swatch.repeats(other)) {
        let finding = format!(
            "the same casting with the same reading is logged as `{}` already, and now counts twice",
            twin.id.escape_debug()
        );
        let mend = "take one of the two rows out of swatches.csv, if it was read once";
        doubtful.push(Error::input(finding).mend(mend));
    }
    let Millimetres(thickness_mm) = swatch.build.thickness;
    let base = book.shelf().base(&swatch.build.skin.base)?;
    if base.kind.kind() == Kind::Skin && thickness_mm > THICK_SKIN_MM {
        let finding = format!("a skin of {thickness_mm} mm is unusual");
        let mend = Mend::from("check the point of ").set(Setting::Thickness);
        doubtful.push(Error::input(finding).mend(mend));
    }
    for cup in casting.cups() {
        doubtful.extend(cup.check_loads().err().map(|error| {
            error.mend("check the mass of the base, the point, and drops against grams; mend the row in swatches.csv")
        }));
    }
    Ok(doubtful)
}

/// Refuses a colour and a spectrum that are not of one reading: which of the two is wrong can't be told later.
pub(super) fn check_one_reading(swatch: &Swatch, viewing: Viewing) -> Result<()> {
    let weights = viewing.weights();
    let of_spectrum = swatch
        .reflectance
        .map(|reflectance| weights.lab(&reflectance));
    let (Some(apart), Some(Lab { l, a, b, .. })) =
        (swatch.contradicts_itself(&weights), of_spectrum)
    else {
        return Ok(());
    };
    let finding = format!(
        "the colour lies ΔE00 {apart:.1} from that of the spectrum: that is L*,a*,b* {l:.1},{a:.1},{b:.1} under {viewing}"
    );
    Err(Error::input(finding).mend(
        Mend::from("check the numbers of ")
            .set(Setting::Colour)
            .and(" and the file of ")
            .set(Setting::SpectrumFile)
            .and("; the spectrum is enough alone"),
    ))
}
