//! The one public error: what kind it is, where it stands, what was found, and the mend; and files read within bounds, so that
//! none that lies or never ends does harm.

mod bounded;
mod mend;
mod waiting;

use std::collections::HashSet;
use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

#[cfg(feature = "photo")]
pub(crate) use bounded::open;
pub(crate) use bounded::{FileKind, read};
pub use mend::{Mend, Naming, Setting};
pub(crate) use waiting::tell_what_is_waited_for;
pub(crate) use waiting::waits_for;

/// `Result` with this library's [`Error`].
pub type Result<T> = std::result::Result<T, Error>;

/// What went wrong, in one line that names the place, the finding and the mend.
///
/// The line reads `swatches.csv:14:6: thickness_mm is "2,1"; expected a number … (write 2.1)`: file,
/// line and column (the column of the table, counted from 1) where they are known, lower case, no
/// full stop, the mend in brackets.
pub struct Error(Box<Inner>);

struct Inner {
    kind: Kind,
    place: Place,
    finding: String,
    mend: Option<Mend>,
    cause: Option<io::Error>,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Input,
    Outdated,
    OutOfReach,
    Machine,
}

#[derive(Default)]
struct Place {
    file: Option<PathBuf>,
    line: Option<u64>,
    column: Option<u64>,
}

impl Error {
    /// Something that the user wrote can't be taken: a value, a name, a file's content.
    pub fn input(finding: impl Into<String>) -> Self {
        Self::new(Kind::Input, finding.into(), None)
    }

    /// What was asked of a book was asked of an older state of it: the asker's fault, as [`input`](Self::input).
    pub(crate) fn outdated(finding: impl Into<String>) -> Self {
        Self::new(Kind::Outdated, finding.into(), None)
    }

    /// The question is sound, but no recipe answers it.
    pub fn out_of_reach(finding: impl Into<String>) -> Self {
        Self::new(Kind::OutOfReach, finding.into(), None)
    }

    /// The machine failed at `action` (a phrase such as `write`) on `file`, or on a folder: disk, permissions, and so on.
    ///
    /// A name that no file can have, for a zero byte in it or its length, is the user's fault, whatever the machine makes of it.
    pub fn machine(action: &str, file: &Path, cause: io::Error) -> Self {
        if file.as_os_str().as_encoded_bytes().contains(&0) {
            return Self::input("the name holds a zero byte, and no file can be called so")
                .mend("check the name")
                .in_file(file);
        }
        if cause.kind() == io::ErrorKind::InvalidFilename {
            return Self::input("the name is too long, and no file can be called so")
                .mend("give it a shorter one")
                .in_file(file);
        }
        let what = if file.is_dir() { "folder" } else { "file" };
        let mend = match cause.kind() {
            io::ErrorKind::PermissionDenied => Some(
                "allow it in the permissions of the file and of its folder, or work in a copy of your own",
            ),
            io::ErrorKind::ReadOnlyFilesystem => {
                Some("work in a copy on a disk that can be written to")
            }
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
                Some("make room on the disk")
            }
            _ => None,
        };
        let finding = format!("cannot {action} this {what}: {cause}");
        let error = Self::new(Kind::Machine, finding, Some(cause)).in_file(file);
        match mend {
            Some(mend) => error.mend(mend),
            None => error,
        }
    }

    /// What is wanted is in use by another program, and was not let go in time: the machine's fault, as [`machine`](Self::machine).
    pub(crate) fn busy(finding: impl Into<String>) -> Self {
        Self::new(Kind::Machine, finding.into(), None)
    }

    /// The file can't be read: the user's fault where it isn't there or is a folder, the machine's otherwise.
    pub(crate) fn unreadable(file: &Path, cause: io::Error) -> Self {
        match cause.kind() {
            // A name that goes on after a file's, and one that is too long, are names of nothing, too.
            io::ErrorKind::NotFound
            | io::ErrorKind::NotADirectory
            | io::ErrorKind::InvalidFilename => Self::input("there is no such file")
                .mend("check the name and the folder")
                .in_file(file),
            io::ErrorKind::IsADirectory => {
                Self::input("this is a folder; expected a file").in_file(file)
            }
            _ => Self::machine("read", file, cause),
        }
    }

    /// A name that nothing bears: `kind` says of what (`pigment`), `known` are the names there are.
    ///
    /// The nearest known name is suggested where it is near enough to be a slip of the pen.
    pub fn unknown_name<'a>(
        kind: &str,
        found: &str,
        known: impl IntoIterator<Item = &'a str>,
    ) -> Self {
        // A chip of several readings, say, bears its name several times.
        let mut known: Vec<&str> = known.into_iter().collect();
        let mut told = HashSet::new();
        known.retain(|name| told.insert(*name));
        let holding = holding(&known, found);
        let nearest = known
            .iter()
            .map(|name| {
                (
                    strsim::damerau_levenshtein(&found.to_lowercase(), &name.to_lowercase()),
                    *name,
                )
            })
            .min();
        let length = found.chars().count();
        // A name of which no letter is right is no slip.
        let near_enough = (length / 3 + 1).min(length.saturating_sub(1));
        let mend = match nearest {
            Some((distance, name)) if distance <= near_enough => format!("did you mean `{name}`?"),
            Some(_) if !holding.is_empty() => format!("did you mean {}?", holding.join(" or ")),
            Some(_) => format!("known here: {}", known.join(", ")),
            None => format!("no {kind} is known here yet"),
        };
        Self::input(format!("no {kind} is called `{}`", found.escape_debug())).mend(mend)
    }

    fn new(kind: Kind, finding: String, cause: Option<io::Error>) -> Self {
        Self(Box::new(Inner {
            kind,
            place: Place::default(),
            finding,
            mend: None,
            cause,
        }))
    }

    /// Adds the mend: what would be right.
    #[must_use]
    pub fn mend(mut self, mend: impl Into<Mend>) -> Self {
        self.0.mend = Some(mend.into());
        self
    }

    /// Adds the file, unless a place nearer to the fault named one already.
    #[must_use]
    pub fn in_file(mut self, file: impl AsRef<Path>) -> Self {
        self.0
            .place
            .file
            .get_or_insert_with(|| file.as_ref().to_owned());
        self
    }

    /// Adds the line and, for a table, the column; both count from 1.
    #[must_use]
    pub fn at(mut self, line: u64, column: Option<u64>) -> Self {
        let place = &mut self.0.place;
        if place.line.is_none() {
            place.line = Some(line);
            place.column = column;
        }
        self
    }

    /// Takes the place away: of what was to be written there, and is not.
    #[must_use]
    pub(crate) fn without_place(mut self) -> Self {
        self.0.place = Place::default();
        self
    }

    /// Puts `context` before the finding: `build 3: …`.
    #[must_use]
    pub fn within(mut self, context: impl fmt::Display) -> Self {
        self.0.finding = format!("{context}: {}", self.0.finding);
        self
    }

    /// What was found, without its place and its mend.
    pub fn finding(&self) -> &str {
        &self.0.finding
    }

    /// The file that it was found in, if any.
    pub fn file(&self) -> Option<&Path> {
        self.0.place.file.as_deref()
    }

    /// The line and the column in it, from 1, as far as they are known.
    pub fn line_and_column(&self) -> (Option<u64>, Option<u64>) {
        (self.0.place.line, self.0.place.column)
    }

    /// Whether the user's input is at fault (exit code 2).
    pub fn is_input(&self) -> bool {
        matches!(self.0.kind, Kind::Input | Kind::Outdated)
    }

    /// Whether the book was written to since that was drawn which it is asked by (exit code 2).
    pub fn is_outdated(&self) -> bool {
        self.0.kind == Kind::Outdated
    }

    /// Whether no recipe answers a sound question (exit code 1).
    pub fn is_out_of_reach(&self) -> bool {
        self.0.kind == Kind::OutOfReach
    }

    /// Whether the machine failed (exit code 3).
    pub fn is_machine(&self) -> bool {
        self.0.kind == Kind::Machine
    }
}

impl Error {
    /// The mend, if there is one.
    pub fn advice(&self) -> Option<&Mend> {
        self.0.mend.as_ref()
    }

    /// The whole line, with settings as `naming` calls them.
    pub fn worded(&self, naming: Naming) -> String {
        let fault = Fault(self);
        match self.advice() {
            Some(mend) => format!("{fault} ({})", mend.worded(naming)),
            None => fault.to_string(),
        }
    }
}

/// Those of `known`, in back-ticks, that hold `found` among their words, whatever its case: at most three, since more are no
/// help.
fn holding(known: &[&str], found: &str) -> Vec<String> {
    /// Most that are named.
    const MOST: usize = 3;
    let found = found.trim().to_lowercase();
    let holds = |name: &&&str| {
        let mut words = name.split_whitespace();
        words.any(|word| word.to_lowercase() == found)
    };
    let holding = known.iter().filter(holds);
    let holding: Vec<String> = holding.map(|name| format!("`{name}`")).collect();
    if holding.len() <= MOST {
        holding
    } else {
        Vec::new()
    }
}

/// An error's line without its mend.
struct Fault<'a>(&'a Error);

impl fmt::Display for Fault<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Inner { place, finding, .. } = &*self.0.0;
        let Place { file, line, column } = place;
        if let Some(file) = file {
            write!(f, "{}", file.display())?;
        }
        if let Some(line) = line {
            write!(f, "{}{line}", if file.is_some() { ":" } else { "line " })?;
        }
        if let Some(column) = column {
            write!(f, ":{column}")?;
        }
        if file.is_some() || line.is_some() {
            f.write_str(": ")?;
        }
        f.write_str(finding)
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.advice() {
            Some(mend) => write!(f, "{} ({mend})", Fault(self)),
            None => write!(f, "{}", Fault(self)),
        }
    }
}

impl fmt::Debug for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Error({self})")
    }
}

impl std::error::Error for Error {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        self.0.cause.as_ref().map(|cause| cause as _)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_no_file_can_have_is_the_users_to_mend() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("white-card.csv");
        std::fs::write(&file, "").expect("written");
        for name in [
            file.join("black-card.csv"),
            folder.path().join("x".repeat(300)),
        ] {
            let cause = std::fs::read(&name).expect_err("no such file");
            let error = Error::unreadable(&name, cause);
            assert!(error.is_input(), "{error}");
        }
    }

    #[test]
    fn a_line_names_place_finding_and_mend() {
        let error = Error::input("thickness_mm is \"2,1\"; expected a number")
            .mend("write 2.1")
            .at(14, Some(6))
            .in_file("swatches.csv");
        let expected = "swatches.csv:14:6: thickness_mm is \"2,1\"; expected a number (write 2.1)";
        assert_eq!(error.to_string(), expected, "the whole line");
    }

    #[test]
    fn a_slip_of_the_pen_is_mended_and_a_strange_name_gets_the_list() {
        let known = ["titanium white", "iron oxide red"];
        let slip = Error::unknown_name("pigment", "iron oxid red", known).to_string();
        assert!(slip.ends_with("(did you mean `iron oxide red`?)"), "{slip}");
        let strange = Error::unknown_name("pigment", "gold", known).to_string();
        assert!(
            strange.ends_with("(known here: titanium white, iron oxide red)"),
            "{strange}"
        );
        let word = Error::unknown_name("pigment", "Red", known).to_string();
        assert!(word.ends_with("(did you mean `iron oxide red`?)"), "{word}");
        let twice = Error::unknown_name("swatch", "gold", ["A1", "A1", "A2"]).to_string();
        assert!(twice.ends_with("(known here: A1, A2)"), "{twice}");
    }

    #[test]
    fn what_the_machine_refuses_has_its_mend_too() {
        let mend = |kind: io::ErrorKind| {
            let error = Error::machine("write", Path::new("a.csv"), kind.into());
            assert!(error.is_machine(), "{error}");
            error.to_string()
        };
        assert!(mend(io::ErrorKind::PermissionDenied).ends_with("or work in a copy of your own)"));
        assert!(mend(io::ErrorKind::ReadOnlyFilesystem).contains("(work in a copy on a disk"));
        assert!(mend(io::ErrorKind::StorageFull).ends_with("(make room on the disk)"));
        let unforeseen = mend(io::ErrorKind::BrokenPipe);
        assert!(
            unforeseen.ends_with("a.csv: cannot write this file: broken pipe"),
            "{unforeseen}"
        );
    }

    #[test]
    fn the_nearest_place_is_kept() {
        let error = Error::input("x")
            .in_file("near.csv")
            .in_file("far.csv")
            .at(2, None)
            .at(9, Some(1));
        assert_eq!(error.to_string(), "near.csv:2: x", "first place wins");
    }
}
