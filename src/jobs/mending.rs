//! What was logged wrong, put right.

use jiff::civil::Date;

use super::logging::check_one_reading;
use crate::book::Book;
use crate::colour::Lab;
use crate::error::{Error, Mend, Result, Setting};
use crate::materials::{Grams, Millimetres, Mix, Swatch};

/// What is put right of a swatch; what is `None` stays.
#[derive(Clone, Debug, Default)]
pub struct Mending {
    /// The colour as read.
    pub lab: Option<Lab>,
    /// Of a chip that was read over several backings, the one over which `lab` was read.
    pub over: Option<String>,
    /// The day of the reading.
    pub date: Option<Date>,
    /// Its base.
    pub base: Option<String>,
    /// Mass of its mixed base (A + B).
    pub base_mass: Option<Grams>,
    /// What went in.
    pub mix: Option<Mix>,
    /// Its thickness.
    pub thickness: Option<Millimetres>,
    /// The batch that it came from.
    pub batch: Option<String>,
    /// Free words.
    pub note: Option<String>,
}

/// Mends the swatch called `id` on the day `day`; returns how many of its readings were changed.
///
/// # Errors
/// As [`Book::mend_swatch`]; a colour of a chip that was read over several backings and none is named; a colour that is not that
/// of the spectrum beside it.
pub fn mend(book: &mut Book, id: &str, mending: &Mending, day: Date) -> Result<usize> {
    let viewing = book.shelf().settings.viewing;
    book.mend_swatch(id, day, |readings| {
        for reading in readings.iter_mut() {
            mending.mend_casting(reading);
        }
        if let Some(lab) = mending.lab {
            let reading = mending.read_over(readings)?;
            reading.lab = Some(lab);
            check_one_reading(reading, viewing)?;
        }
        Ok(())
    })
}

impl Mending {
    /// What all readings of a chip share.
    fn mend_casting(&self, reading: &mut Swatch) {
        let Swatch {
            date,
            build,
            batch,
            note,
            ..
        } = reading;
        set(date, &self.date);
        set(&mut build.skin.base, &self.base);
        set(&mut build.skin.base_mass, &self.base_mass);
        set(&mut build.skin.mix, &self.mix);
        set(&mut build.thickness, &self.thickness);
        set(batch, &self.batch);
        set(note, &self.note);
    }

    /// The reading whose colour is meant.
    fn read_over<'r>(&self, readings: &'r mut [Swatch]) -> Result<&'r mut Swatch> {
        let lies_on = |reading: &Swatch| reading.build.beneath.name().to_owned();
        let known: Vec<String> = readings.iter().map(lies_on).collect();
        match &self.over {
            Some(name) => {
                let index = known.iter().position(|known| known == name);
                let names = known.iter().map(String::as_str);
                let index = index.ok_or_else(|| Error::unknown_name("backing", name, names))?;
                Ok(&mut readings[index])
            }
            None if readings.len() == 1 => Ok(&mut readings[0]),
            None => {
                let finding = format!(
                    "it was read {} times: over {}",
                    known.len(),
                    known.join(", ")
                );
                let mend = Mend::from("say which reading is mended: ").set(Setting::Backing);
                Err(Error::input(finding).mend(mend))
            }
        }
    }
}

fn set<T: Clone>(value: &mut T, to: &Option<T>) {
    if let Some(to) = to {
        value.clone_from(to);
    }
}
