//! A reading of what came out of the mould, into the log.

use crate::book::Book;
use crate::colour::{Lab, Viewing};
use crate::error::{Error, Mend, Result, Setting};
use crate::materials::{Casting, Kind, Millimetres, Swatch};

/// Skins are cast 1 to 3 mm thick. Common practice, no source.
const THICK_SKIN_MM: f64 = 10.0;

/// Logs `swatch`, and returns what may be a slip of the pen in it beside what the book has: warnings, not refusals.
///
/// # Errors
/// As [`Book::add_swatch`] and [`Casting::new`]; a colour and a spectrum that are not of one reading.
pub fn run(book: &mut Book, swatch: &Swatch) -> Result<Vec<Error>> {
    check_one_reading(swatch, book.shelf().settings.viewing)?;
    // What the model can't tell is not logged: the log could then not be shown beside it.
    let casting = Casting::new(book.shelf(), &swatch.build)?;
    let doubtful = doubtful(swatch, &casting, book)?;
    book.add_swatch(swatch)?;
    Ok(doubtful)
}

/// What may be a slip of the pen in `swatch`, which `casting` is, beside what `book` has.
fn doubtful(swatch: &Swatch, casting: &Casting<'_>, book: &Book) -> Result<Vec<Error>> {
    let mut doubtful = Vec::new();
    if let Some(twin) = book.swatches().iter().find(|other| swatch.repeats(other)) {
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
fn check_one_reading(swatch: &Swatch, viewing: Viewing) -> Result<()> {
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
