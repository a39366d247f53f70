//! Who mixes what when, for pieces of a kept part.

use jiff::civil::Date;

use super::batching::Size;
use super::parts::{Pots, to_pour};
use crate::batch::{Schedule, Shift, schedule};
use crate::book::Book;
use crate::error::{Error, Result};
use crate::materials::{Kind, check_range};
use crate::recipe::Part;

/// A part, and who does what for pieces of it.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Scheduled {
    /// The part.
    pub part: Part,
    /// Who does what when.
    pub schedule: Schedule,
}

/// Plans `shift` for the part called `name`, as it is poured on the day `day`.
///
/// # Errors
/// As [`to_pour`] and [`schedule`]; a part that goes into no mould; a room that nobody casts in.
pub fn run(book: &Book, name: &str, shift: Shift, day: Date) -> Result<Scheduled> {
    let (low, high) = Shift::ROOM_C;
    check_range("the room", shift.room_c, (low, high), "°C")?;
    let (part, matched) = to_pour(book, name, Size::Times(1.0), Pots::default(), day)?;
    let skin = &matched.skin.pour;
    if skin.kind == Kind::Paint {
        let finding = format!(
            "the part `{}` is paint alone, which goes into no mould",
            part.name
        );
        return Err(Error::input(finding).mend("name a part with a skin or a foam"));
    }
    let foam = matched.foam.as_ref().map(|foam| &foam.pour);
    let paints = u32::try_from(matched.paints.len()).expect("a cup for each of a few tones");
    let schedule = schedule(skin, foam, paints, shift)?;
    Ok(Scheduled { part, schedule })
}
