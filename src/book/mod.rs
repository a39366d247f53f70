//! The swatch book: a folder of plain text that a spreadsheet opens and a version history compares.
//!
//! `book.toml` holds the settings; `bases.csv`, `pigments.csv` and `backings.csv` what stands on the shelf;
//! `let-downs.csv`, if there is one, the let-downs that stand ready; `stocks.csv`, if there is one, the stocks;
//! `swatches.csv` one row for each reading of each chip; `spectra/` the K and S and the reflectance that
//! they name. The log is read when a swatch is asked for, and not before: it grows for years, and pouring a part needs none
//! of it. Every cell is checked on reading, and an error names the file, the line, the column and the
//! mend. A file changes whole or not at all: a temporary file beside it is renamed, and a lock lets one
//! writer in at a time. Several files change whole or not at all too: `changes` says how. This room works nothing out: a part that is kept is read and written as it is.
//!
//! The demo book is carried by the program and is never written to; [`Book::create`] lays out a copy.
//!
//! # Tables that users keep
//!
//! A row is appended and the table not rewritten: a user's own columns, comments and order stay byte for byte. Every write
//! goes to a temporary file in the same folder, is synced, and renamed, under a lock. An error's column number counts the
//! columns of the table from 1, as a spreadsheet shows them. `let-downs.csv` writes `iron oxide red 1:20` in one cell, as
//! a mix does: a spreadsheet makes a time of a bare `1:20`.
//!
//! # Instruments' files
//!
//! They are parsed by what they mean, since writers of CGATS differ in keywords, quotes, line ends, units and names of
//! fields. `cgats` finds tables and words, `statements` finds light, observer and geometry in whatever keyword holds them,
//! `fields` tells fields apart; CSV goes through the same. Leniency ends where a number could be wrong: a section that never
//! ends, a count that differs, percent that may be fractions, a spectrum that belies the Lab beside it.
//!
//! # What writing must not cost
//!
//! `calibrate` supposes a book before it writes one: a run that was logged before a failing fit would be weighed again and
//! count twice. So the fit is made of [`Book::supposing`], the folder with other texts for some of its tables. Only then
//! are new bottles, runs and curves written; where the machine fails at the curves, the error says that the runs stand.
//!
//! A document takes the place of nothing but an earlier one of its kind, told by a mark in its head (a target, a sheet, an
//! export): a slip of the name must not cost a book its log or a user a photograph, unless the user insists.
//!
//! ```
//! use dropwise::book::Book;
//!
//! let book = Book::demo()?;
//! assert!(book.shelf().pigment("iron oxide red").is_ok());
//! # Ok::<(), dropwise::Error>(())
//! ```

mod additions;
#[cfg(feature = "photo")]
mod boards;
mod bottles;
mod builds;
mod calibrated;
mod carried;
mod cgats;
mod changes;
#[cfg(feature = "photo")]
mod chart_values;
mod clocks;
mod columns;
mod create;
mod document;
mod ending;
mod export;
mod fields;
mod files;
mod grid;
mod keys;
mod left_over;
mod left_part_b;
mod let_downs;
mod lights;
mod lock;
mod mending;
mod moulds;
mod names;
mod number;
mod parts;
mod photographs;
mod readings;
mod revision;
mod running_down;
mod settings;
mod shelf;
mod spectra;
mod starter;
mod statements;
mod stocking;
mod stocks;
mod swatches;
mod table;
mod write;

use std::path::Path;
use std::sync::OnceLock;

use jiff::Timestamp;
use jiff::civil::Date;

pub use additions::{NewBase, NewPigment};
#[cfg(feature = "photo")]
pub use boards::{BoardChip, read_board_chips};
pub use bottles::{KeptBottles, NewBottles};
pub use builds::read_builds;
pub use calibrated::{KeptCalibration, KeptCurves};
#[cfg(feature = "photo")]
pub use chart_values::read_chart_values;
pub use clocks::Clock;
pub use document::{replace_document, write_document};
pub use ending::end_writing;
pub use lights::{read_lamp, read_transmittance};
pub use mending::{Change, Undone};
pub use photographs::{KeptChip, KeptPhotograph, PhotographedChip};
pub use readings::{read_readings, read_reflectance};
pub use running_down::{Left, RunDown};
pub use starter::Starter;
pub use swatches::Glance;
pub use write::write_whole;

use crate::colour::Lab;
use crate::error::{Error, Mend, Result, Setting};
use crate::materials::{Backing, Colorant, Grams, LetDown, Shelf, Swatch};
use crate::recipe::Part;
use changes::Changes;
use files::{Files, PIGMENTS, SETTINGS, holds_book};
use swatches::Log;

/// A swatch book: its shelf read and checked, and its log as soon as somebody asks for it, since that grows for years and
/// most commands need no chips.
#[derive(Clone, Debug)]
pub struct Book {
    files: Files,
    shelf: Shelf,
    /// The readings, once somebody has asked for all of them.
    log: OnceLock<Vec<Swatch>>,
    /// The state that it was read in, where it is [watched](Self::open_watched).
    watched: Option<String>,
    /// The state that its next change must find; any where `None`.
    expected: Option<String>,
}

impl Book {
    /// Reads the book in the folder `dir`, all but its log.
    ///
    /// # Errors
    /// No book there, or the first thing in it that is wrong, with its place.
    pub fn open(dir: &Path) -> Result<Self> {
        if dir.is_file() {
            return Err(
                Error::input("this is a file; expected the folder of a swatch book")
                    .mend("name the folder that it lies in")
                    .in_file(dir),
            );
        }
        if !dir.is_dir() {
            let mend = format!(
                "check the name, or begin a book with `dropwise new {}`",
                dir.display()
            );
            return Err(Error::input("there is no such folder")
                .mend(mend)
                .in_file(dir));
        }
        if !holds_book(dir) {
            let finding = format!("there is no swatch book here: {SETTINGS} is missing");
            return Err(Error::input(finding)
                .mend(format!("begin one with `dropwise new {}`", dir.display()))
                .in_file(dir));
        }
        lock::end_half_written(dir)?;
        Self::read(Files::Folder(dir.to_owned()))
    }

    /// Reads the demo book that the program carries.
    ///
    /// # Errors
    /// None that a released program can meet: its tests read the demo.
    pub fn demo() -> Result<Self> {
        Self::read(Files::Demo)
    }

    /// Reads the book in `dir`; where none is given, that in the current folder, or else the demo.
    ///
    /// # Errors
    /// As for [`open`](Self::open).
    pub fn open_or_demo(dir: Option<&Path>) -> Result<Self> {
        match dir {
            Some(dir) => Self::open(dir),
            None if holds_book(Path::new(".")) => Self::open(Path::new(".")),
            None => Self::demo(),
        }
    }

    /// Begins a book in the folder `dir`, which is made if need be, and reads it.
    ///
    /// # Errors
    /// A folder that holds a book or anything else (files whose names begin with a point apart), which is
    /// then left as it was; a failure of the machine, after which nothing of the new book is left.
    pub fn create(dir: &Path, starter: Starter) -> Result<Self> {
        create::create(dir, starter)?;
        Self::open(dir)
    }

    fn read(files: Files) -> Result<Self> {
        let settings = settings::read(&files.label(SETTINGS), &files.text(SETTINGS)?)?;
        let shelf = shelf::read(&files, settings)?;
        Ok(Self {
            files,
            shelf,
            log: OnceLock::new(),
            watched: None,
            expected: None,
        })
    }

    /// The materials, and how colours are read.
    pub fn shelf(&self) -> &Shelf {
        &self.shelf
    }

    /// The readings, in the order of their rows; read the first time that they are asked for.
    ///
    /// # Errors
    /// The first thing that is wrong in the log, with its place.
    pub fn swatches(&self) -> Result<&[Swatch]> {
        if let Some(log) = self.log.get() {
            return Ok(log);
        }
        let mut log = Vec::new();
        Log::read(&self.files, &self.shelf)?.each(|swatch| log.push(swatch))?;
        Ok(self.log.get_or_init(|| log))
    }

    /// Has `take` take each reading whose row is `worth` more than a glance, in the order of the rows. None is held, and what is
    /// wrong in a row that is not worth it goes unseen here: whoever lists the log, or learns from it, hears of that.
    ///
    /// # Errors
    /// As for [`swatches`](Self::swatches), of the rows that are looked at.
    pub fn look_for(
        &self,
        worth: impl FnMut(Glance<'_>) -> Result<bool>,
        take: impl FnMut(Swatch),
    ) -> Result<()> {
        Log::read(&self.files, &self.shelf)?.each_worth(worth, take)
    }

    /// Has `take` take each reading in the order of the rows, with how many come after it, and tells what is doubtful in the log,
    /// as [`doubtful_readings`](Self::doubtful_readings) does; no reading is held.
    ///
    /// # Errors
    /// As for [`swatches`](Self::swatches).
    pub fn look_through(&self, take: impl FnMut(&Swatch, usize)) -> Result<Vec<Error>> {
        let weights = self.shelf.settings.viewing.weights();
        Log::read(&self.files, &self.shelf)?.doubting(&weights, take)
    }

    /// What is doubtful in the log, though it can be read, each with its place: readings whose CIELAB and spectrum belie each
    /// other, that lie on foam and on a card, or that stand twice.
    ///
    /// # Errors
    /// As for [`swatches`](Self::swatches).
    pub fn doubtful_readings(&self) -> Result<Vec<Error>> {
        self.look_through(|_, _| ())
    }

    /// The readings as CGATS.17 text, as other programs read it, written on the day `created`.
    ///
    /// # Errors
    /// As for [`swatches`](Self::swatches); a book without readings.
    pub fn cgats(&self, created: Date) -> Result<String> {
        let swatches = self.swatches()?;
        if swatches.is_empty() {
            let error = Error::input("this book holds no reading yet");
            return Err(error.mend("log one with `dropwise swatch add`"));
        }
        Ok(export::text(swatches, &self.shelf.settings, created))
    }

    /// The folder that the book was read from; `None` for the demo, and for one that is only [supposed](Self::supposing).
    pub fn folder(&self) -> Option<&Path> {
        match &self.files {
            Files::Folder(folder) => Some(folder),
            Files::Supposed { .. } | Files::Demo => None,
        }
    }

    /// The materials with the curves that they had before they were first calibrated: what every calibration starts from,
    /// so that the same swatches give the same curves however often it is run.
    ///
    /// # Errors
    /// A file of first guesses that has become unsound.
    pub fn first_guesses(&self) -> Result<Shelf> {
        shelf::first_guesses(&self.files, &self.shelf)
    }

    /// The photographs of chips of which the book keeps what the camera gave.
    ///
    /// # Errors
    /// A table that can't be read, with its place.
    pub fn photographs(&self) -> Result<Vec<KeptPhotograph>> {
        photographs::list(&self.files)
    }

    /// Keeps what a calibration of `today` found, with new `bottles` that it had, all in one change: curves in `spectra/`, named by the
    /// tables, moves, what is left over at the castings, and the specular convention in `book.toml` where another was found. The
    /// curves that stood there are kept beside them, dated. Readings that were read again are changed in the log, and what stood
    /// goes to `history.csv` as one change. Waits for its turn where others write.
    ///
    /// # Errors
    /// As for [`keep_bottles`](Self::keep_bottles).
    pub fn keep_calibration(
        &mut self,
        bottles: NewBottles<'_>,
        found: &KeptCalibration<'_>,
        today: Date,
    ) -> Result<KeptBottles> {
        self.change(|book, folder| {
            let mut changes = Changes::of(folder);
            let (book, kept) = book.with_bottles(&mut changes, bottles, today)?;
            let KeptCalibration {
                curves,
                moves,
                left_over,
                specular,
                read_again,
            } = *found;
            calibrated::put(&mut changes, folder, &book.shelf, curves, moves, today)?;
            left_over::put(&mut changes, left_over)?;
            if let Some(specular) = specular {
                let text = settings::with_specular(&book.files.text(SETTINGS)?, specular)?;
                changes.put(SETTINGS, text);
            }
            // What others have changed meanwhile stays as they have it.
            let log = if read_again.is_empty() {
                &[]
            } else {
                book.swatches()?
            };
            let again = read_again.iter().filter_map(|(stood, lab)| {
                let index = log.iter().position(|swatch| swatch == stood)?;
                Some((index, &log[index], *lab))
            });
            let again: Vec<(usize, &Swatch, Lab)> = again.collect();
            if !again.is_empty() {
                mending::read_again(&mut changes, folder, &book.shelf, &again, today)?;
                let again: Vec<(&Swatch, Lab)> = again
                    .iter()
                    .map(|(_, swatch, lab)| (*swatch, *lab))
                    .collect();
                photographs::mark(&mut changes, &again)?;
            }
            changes.write(folder).map(|()| kept)
        })
    }

    /// Puts new `bottles` into the book: each lot on the shelf as a pigment of its own, beside the old one, for which it is taken less
    /// surely until it has a chip of its own; and runs of drops, weighed on the day `today`, into `weighings.csv`, with the drop mass,
    /// and from three runs its spread, that all runs of a pigment's present lot tell. Waits for its turn where others write.
    ///
    /// # Errors
    /// The demo, which is never written to; a pigment that is not on the shelf; a lot that stands there already; a log that has
    /// become unsound; a failure of the machine. The book is then as it was, or the next command ends what was begun.
    pub fn keep_bottles(&mut self, bottles: NewBottles<'_>, today: Date) -> Result<KeptBottles> {
        self.change(|book, folder| {
            let mut changes = Changes::of(folder);
            let (_, kept) = book.with_bottles(&mut changes, bottles, today)?;
            changes.write(folder).map(|()| kept)
        })
    }

    /// The book as it would be with new `bottles`, weighed on the day `today`. Nothing is written; it can be calibrated, so that what
    /// fails does so beforehand.
    ///
    /// # Errors
    /// As for [`keep_bottles`](Self::keep_bottles).
    pub fn supposing(&self, bottles: NewBottles<'_>, today: Date) -> Result<Self> {
        let mut changes = Changes::of(self.own_folder()?);
        let now = Self::read(changes.files.clone())?;
        let (book, _) = now.with_bottles(&mut changes, bottles, today)?;
        Ok(book)
    }

    /// Puts new `bottles` among `changes`; the book as it would be, and what became of them.
    fn with_bottles(
        &self,
        changes: &mut Changes,
        bottles: NewBottles<'_>,
        today: Date,
    ) -> Result<(Self, KeptBottles)> {
        let mut book = self.clone();
        let mut kept = KeptBottles::default();
        for (of, lot) in bottles.lots {
            let (name, pigments) = bottles::with_lot(&book.files, &book.shelf, of, lot)?;
            changes.put(PIGMENTS, pigments);
            book = Self::read(changes.files.clone())?;
            kept.lots.push(name);
        }
        if !bottles.runs.is_empty() {
            let (shelf, log) = (&book.shelf, book.swatches()?);
            let weighings = bottles::weigh(&book.files, shelf, log, bottles.runs, today)?;
            kept.weighed = weighings.put(changes);
            book = Self::read(changes.files.clone())?;
        }
        Ok((book, kept))
    }

    /// Puts let-downs that were `made` into `let-downs.csv`. Waits for its turn where others write.
    ///
    /// # Errors
    /// The demo, which is never written to; one that nobody can have made of what is on the shelf; a table that has become
    /// unsound; a failure of the machine. The table is then as it was.
    pub fn add_let_downs(&mut self, made: &[LetDown]) -> Result<()> {
        self.change(|book, folder| {
            let mut changes = Changes::of(folder);
            let_downs::add(&mut changes, &book.shelf, made)?;
            changes.write(folder)
        })
    }

    /// Takes what was `used` of let-downs for `base` off what is left of them on the day `day`, each from those that
    /// [`Shelf::supply`] names, and returns these as they now are. Waits for its turn where others write.
    ///
    /// # Errors
    /// The demo, which is never written to; a let-down that does not stand there, or of which too little is left; a table that
    /// has become unsound; a failure of the machine. The table is then as it was.
    pub fn take_let_downs(
        &mut self,
        used: &[(Colorant, Grams)],
        base: &str,
        day: Date,
    ) -> Result<Vec<LetDown>> {
        self.change(|book, folder| {
            let mut changes = Changes::of(folder);
            let taken = let_downs::take(&mut changes, &book.shelf, used, base, day)?;
            changes.write(folder).map(|()| taken)
        })
    }

    /// Waits for its turn, reads the book anew, has `write` write to its folder, and reads what the book has become. Where the
    /// change [expects](Self::expect) a state, it is looked at once no one else can write any more.
    fn change<T>(&mut self, write: impl FnOnce(&Self, &Path) -> Result<T>) -> Result<T> {
        let folder = self.own_folder()?.to_owned();
        let _lock = lock::lock(&folder)?;
        let is_other = |expected: String| expected != revision::of(&folder);
        if self.expected.take().is_some_and(is_other) {
            let finding = "the book was written to since this was drawn";
            return Err(
                Error::outdated(finding).mend("look at what stands there now, and ask again")
            );
        }
        let is_watched = self.watched.is_some();
        // Others may have written since the book was read.
        *self = Self::read(self.files.clone())?;
        let outcome = write(self, &folder)?;
        let needs_log = self.log.get().is_some();
        let state = is_watched.then(|| revision::of(&folder));
        *self = Self::read(self.files.clone())?;
        self.watched = state;
        if needs_log {
            // As it was written, and before anybody else can.
            self.swatches()?;
        }
        Ok(outcome)
    }

    /// Refuses the demo, before anybody goes to any trouble for what would be written.
    ///
    /// # Errors
    /// The demo, which is never written to.
    pub fn check_own(&self) -> Result<()> {
        self.own_folder().map(|_| ())
    }

    /// The folder to write to.
    fn own_folder(&self) -> Result<&Path> {
        self.folder().ok_or_else(|| {
            Error::input("the demo book is never written to").mend(
                Mend::from("begin your own with `dropwise new DIR` and name it with ")
                    .set(Setting::Book)
                    .and(" DIR"),
            )
        })
    }

    /// Adds a reading to the end of `swatches.csv`, and its reflectance, if it has one, as a file in
    /// `spectra/`; waits for its turn where others write. All that stood in the table stays, columns of the
    /// user's own included, and so do rows that others have added since the book was read. A swatch without a name
    /// takes the next number, `S001` and on.
    ///
    /// # Errors
    /// The demo, which is never written to; a swatch that could not be read back (a name that is not on the
    /// shelf, a value out of range, the name of another chip); a table that has become unsound; a failure of
    /// the machine. The table is then as it was.
    pub fn add_swatch(&mut self, swatch: &Swatch) -> Result<()> {
        self.log_reading(swatch, None).map(|_| ())
    }

    /// The same, with what the camera gave of a chip that was `photographed`: that a calibration may read it again. Returns what
    /// the swatch is called.
    ///
    /// # Errors
    /// As [`add_swatch`](Self::add_swatch); a chip that was read off this photograph already.
    pub fn log_reading(
        &mut self,
        swatch: &Swatch,
        photographed: Option<&PhotographedChip>,
    ) -> Result<String> {
        self.change(|book, folder| {
            swatches::add(folder, &book.shelf, book.swatches()?, swatch, photographed)
        })
    }
}

#[cfg(feature = "photo")]
impl Book {
    /// Adds readings of one photograph to the log, each with its name and CIELAB, and keeps what the camera gave of them: all in
    /// one change, or none. Returns the index of the first among all. Waits for its turn where others write.
    ///
    /// # Errors
    /// As [`add_swatch`](Self::add_swatch), with the swatch's name; readings of that photograph that are logged meanwhile.
    pub fn add_swatches(
        &mut self,
        swatches: &[Swatch],
        photograph: &KeptPhotograph,
    ) -> Result<usize> {
        self.change(|book, folder| {
            let log = book.swatches()?;
            let logged = |swatch: &Swatch| {
                let mut all = log.iter();
                all.any(|other| !swatch.photo.is_empty() && other.photo == swatch.photo)
            };
            if let Some(again) = swatches.iter().find(|swatch| logged(swatch)) {
                let finding = format!(
                    "readings of the photograph {} are logged already",
                    again.photo.escape_debug()
                );
                return Err(Error::input(finding).mend("take them out of the log first"));
            }
            let first = log.len();
            let mut changes = Changes::of(folder);
            swatches::add_all(&mut changes, folder, &book.shelf, swatches)?;
            photographs::put(&mut changes, photograph, false)?;
            changes.write(folder).map(|()| first)
        })
    }
}

/// The log, put right. What stood before is kept in `history.csv`.
impl Book {
    /// Has `edit` change the readings of the swatch called `id`, all of them given together; returns how many were changed.
    /// Spectra and what a reading lay on stay as they are. Waits for its turn where others write.
    ///
    /// # Errors
    /// The demo, which is never written to; no such swatch, with the nearest name; those of `edit`; nothing changed; what could
    /// not be read back; a failure of the machine. The log is then as it was.
    pub fn mend_swatch(
        &mut self,
        id: &str,
        day: Date,
        edit: impl Fn(&mut [Swatch]) -> Result<()>,
    ) -> Result<usize> {
        self.change(|book, folder| {
            mending::mend(folder, &book.shelf, book.swatches()?, id, day, edit)
        })
    }

    /// Takes the swatch called `id` out of the log; returns how many readings that were. Waits for its turn where others write.
    ///
    /// # Errors
    /// The demo, which is never written to; no such swatch, with the nearest name; a failure of the machine.
    pub fn remove_swatch(&mut self, id: &str, day: Date) -> Result<usize> {
        self.change(|book, folder| mending::remove(folder, &book.shelf, id, day))
    }

    /// Takes back the last [`mend_swatch`](Self::mend_swatch) or [`remove_swatch`](Self::remove_swatch) that was not taken back
    /// yet. Waits for its turn where others write.
    ///
    /// # Errors
    /// The demo, which is never written to; nothing to take back; a removed swatch whose name another bears now; what no longer
    /// stands on the shelf; a failure of the machine.
    pub fn undo_change(&mut self) -> Result<Undone> {
        self.change(|book, folder| mending::undo(folder, &book.shelf))
    }
}

/// Parts that are kept by name: see [`Part`].
impl Book {
    /// The names of all parts, in the order of the alphabet; the demo keeps none.
    ///
    /// # Errors
    /// Two names that differ in case alone; a folder that cannot be read.
    pub fn part_names(&self) -> Result<Vec<String>> {
        parts::names(&self.files)
    }

    /// The part called `name`, whatever has left the shelf since it was kept; capitals may be written small.
    ///
    /// # Errors
    /// No such part, with the nearest name; the first thing that is wrong in its file, with its place.
    pub fn part(&self, name: &str) -> Result<Part> {
        parts::read(&self.files, &self.shelf, name, parts::Needed::Nothing)
    }

    /// The part called `name`, all of whose recipe stands on the shelf.
    ///
    /// # Errors
    /// As [`part`](Self::part); a pigment, base or backing that it is poured of and that has left the shelf, with its place.
    pub fn part_to_pour(&self, name: &str) -> Result<Part> {
        parts::read(&self.files, &self.shelf, name, parts::Needed::Recipe)
    }

    /// The part called `name`, whose recipe can be looked for anew.
    ///
    /// # Errors
    /// As [`part`](Self::part); a pigment, base or backing that is asked for and has left the shelf, with its place.
    pub fn part_to_match(&self, name: &str) -> Result<Part> {
        parts::read(&self.files, &self.shelf, name, parts::Needed::Order)
    }

    /// Refuses to keep a new part called `name`, before any time goes into it.
    ///
    /// # Errors
    /// The demo, which is never written to; what no file can be called; a part of that name, or of one that differs in case
    /// alone.
    pub fn check_new_part(&self, name: &str) -> Result<()> {
        self.own_folder()?;
        parts::check_free(&self.files, name)
    }

    /// Keeps `part` as `parts/NAME.toml`, and puts what it is cast over on the shelf where that is new and read `beneath` it. Waits
    /// for its turn where others write.
    ///
    /// # Errors
    /// As [`check_new_part`](Self::check_new_part) and [`add_backing`](Self::add_backing); a part that could not be read back; a
    /// failure of the machine. Nothing is kept then.
    pub fn keep_part(&mut self, part: &Part, beneath: Option<&Backing>) -> Result<()> {
        self.change(|book, folder| {
            parts::check_free(&book.files, &part.name)?;
            book.put_part(folder, part, beneath)
        })
    }

    /// Puts all of `part` but what became of it in the place of what is kept under its name, as [`Part::replace`] does, with what was
    /// read `beneath` it as for [`keep_part`](Self::keep_part); returns what is then kept. Waits for its turn where others write.
    ///
    /// # Errors
    /// As [`part`](Self::part) and [`add_backing`](Self::add_backing); a failure of the machine. The book is then as it was.
    pub fn replace_part(&mut self, part: Part, beneath: Option<&Backing>) -> Result<Part> {
        self.change(|book, folder| {
            let mut kept = book.part(&part.name)?;
            kept.replace(part);
            book.put_part(folder, &kept, beneath)?;
            Ok(kept)
        })
    }

    fn put_part(&self, folder: &Path, part: &Part, beneath: Option<&Backing>) -> Result<()> {
        let mut changes = Changes::of(folder);
        if let Some(Backing { name, reflectance }) = beneath {
            additions::put_backing(&mut changes, self, folder, name, reflectance)?;
        }
        parts::put(&mut changes, &self.shelf, part)?;
        changes.write(folder)
    }

    /// Has `edit` change the part called `name` as it stands at that moment, keeps what becomes of it, and returns what `edit`
    /// does; the comments of its file stay. Waits for its turn where others write.
    ///
    /// # Errors
    /// The demo, which is never written to; as [`part`](Self::part); those of `edit`, after which nothing is written; a failure
    /// of the machine. The file is then as it was.
    pub fn change_part<T>(
        &mut self,
        name: &str,
        edit: impl FnOnce(&mut Part) -> Result<T>,
    ) -> Result<T> {
        self.change(|book, folder| {
            let mut part = book.part(name)?;
            let outcome = edit(&mut part)?;
            book.put_part(folder, &part, None)?;
            Ok(outcome)
        })
    }

    /// Logs `swatch`, a reading of the part called `name`, with what the camera gave of it where it was `photographed`; has `edit`,
    /// which is told what the swatch is called, note that in the part; and returns what `edit` does. Waits for its turn where
    /// others write.
    ///
    /// # Errors
    /// As [`part`](Self::part) and [`add_swatch`](Self::add_swatch); those of `edit`. Neither is changed then.
    pub fn log_casting<T>(
        &mut self,
        name: &str,
        swatch: &Swatch,
        photographed: Option<&PhotographedChip>,
        edit: impl FnOnce(&mut Part, &str) -> Result<T>,
    ) -> Result<T> {
        self.change(|book, folder| {
            let mut part = book.part(name)?;
            let reading = (book.swatches()?, swatch);
            let mut changes = Changes::of(folder);
            let id = swatches::put(&mut changes, folder, &book.shelf, reading, photographed)?;
            let outcome = edit(&mut part, &id)?;
            parts::put(&mut changes, &book.shelf, &part)?;
            changes.write(folder).map(|()| outcome)
        })
    }

    /// Takes the part called `name` off the book, and returns it; its castings stay in the log. Waits for its turn where others
    /// write.
    ///
    /// # Errors
    /// The demo, which is never written to; as [`part`](Self::part); a failure of the machine.
    pub fn remove_part(&mut self, name: &str) -> Result<Part> {
        self.change(|book, folder| {
            let part = book.part(name)?;
            parts::remove(folder, &part)?;
            Ok(part)
        })
    }
}

/// What a face that stays open needs of a book.
impl Book {
    /// As [`open_or_demo`](Self::open_or_demo); from then on [`revision`](Self::revision) is that of what was read, whatever others
    /// have written since.
    ///
    /// # Errors
    /// As for [`open`](Self::open).
    pub fn open_watched(dir: Option<&Path>) -> Result<Self> {
        // Told before it is read: what is written meanwhile shows the next time.
        let state = revision::of(dir.unwrap_or(Path::new(".")));
        let mut book = Self::open_or_demo(dir)?;
        book.watched = book.folder().is_some().then_some(state);
        Ok(book)
    }

    /// Which state the book is in: another word as soon as anything of it was written. That of the demo never changes.
    pub fn revision(&self) -> String {
        let now = || self.folder().map_or("demo".to_owned(), revision::of);
        self.watched.clone().unwrap_or_else(now)
    }

    /// Has the next change of this book be refused, with an [outdated](Error::is_outdated) error and nothing written, where it does
    /// not find the state `revision`. What the same job writes after that first change is its own affair.
    pub fn expect(&mut self, revision: &str) {
        self.expected = Some(revision.to_owned());
    }

    /// As [`revision`](Self::revision), without reading the book that [`open_or_demo`](Self::open_or_demo) would: equal words, equal
    /// books. `None` where that can't be told for sure: of the demo, and of a book that was written to a moment ago.
    pub fn settled_revision(dir: Option<&Path>) -> Option<String> {
        let folder = dir.unwrap_or(Path::new("."));
        holds_book(folder)
            .then(|| revision::settled(folder))
            .flatten()
    }

    /// When cups were mixed whose clocks are kept, the oldest first; the demo keeps none.
    ///
    /// # Errors
    /// A table that can't be read, with its place.
    pub fn clocks(&self) -> Result<Vec<Clock>> {
        clocks::list(&self.files)
    }

    /// Keeps when the pot `cup` of the part called `part` was mixed, in place of what was kept of it; `None` forgets it. Waits for
    /// its turn where others write.
    ///
    /// # Errors
    /// The demo, which is never written to; as [`part`](Self::part); a table that can't be read; a failure of the machine. The
    /// table is then as it was.
    pub fn set_clock(&mut self, part: &str, cup: &str, begun: Option<Timestamp>) -> Result<()> {
        self.change(|book, folder| {
            let part = book.part(part)?;
            clocks::set(folder, &part.name, cup, begun, Timestamp::now())
        })
    }
}
