//! `book.toml`: how a book's colours are read, and how exactly its hands work.

use std::path::Path;

use toml_edit::{Document, DocumentMut, Item};

use super::keys::{Keys, shown, syntax};
use super::number::Number;
use crate::colour::{Illuminant, Observer, Viewing};
use crate::error::{Error, Result};
use crate::materials::{Grams, Millimetres, Settings};
use crate::optics::{Model, Specular, Surface};

/// The format of books that this version writes, and the newest that it reads.
const FORMAT: i64 = 1;

const SURFACE_N: Number = Number {
    name: "surface_n",
    range: Surface::N_RANGE,
    example: "1.5",
};
const DROP_SD: Number = Number {
    name: "drop_sd",
    range: (0.0, 1.0),
    example: "0.08",
};
const THICKNESS_SD_MM: Number = Number {
    name: "thickness_sd_mm",
    range: (0.0, 5.0),
    example: "0.15",
};
const SCALE_RESOLUTION_G: Number = Number {
    name: "scale_resolution_g",
    range: (0.0001, 100.0),
    example: "0.1",
};

/// What a book has where its `book.toml` does not say: cast urethane's usual index, and a steady hand's
/// scatter. Common practice, no source.
const DEFAULT_SURFACE_N: f64 = 1.5;
const DEFAULT_DROP_SD: f64 = 0.08;
const DEFAULT_THICKNESS_SD_MM: f64 = 0.15;
const DEFAULT_SCALE_RESOLUTION_G: f64 = 0.1;

/// Every setting there is.
const KEYS: [&str; 10] = [
    "format",
    "name",
    "observer",
    "model",
    "illuminant",
    "specular",
    SURFACE_N.name,
    DROP_SD.name,
    THICKNESS_SD_MM.name,
    SCALE_RESOLUTION_G.name,
];

/// Reads the settings from `text`, the whole of `file`. Keys that are not known are let be, but for misspelt ones.
///
/// # Errors
/// Each with its line and column: no TOML; a newer format; a misspelt setting; no name; a value of another kind or out of range.
pub(super) fn read(file: &Path, text: &str) -> Result<Settings> {
    parse(text).map_err(|error| error.in_file(file))
}

fn parse(text: &str) -> Result<Settings> {
    let text = text.trim_start_matches('\u{feff}');
    let document = Document::parse(text).map_err(|error| syntax(text, &error))?;
    let keys = Keys::of(text, &document);
    check_format(&keys)?;
    keys.check_spelling(&KEYS)?;
    let name = keys.word("name", "")?.trim();
    if name.is_empty() {
        return Err(keys.fault(
            "name",
            Error::input("the book has no name").mend("write name = \"my swatch book\""),
        ));
    }
    let surface = Surface::new(
        keys.number(&SURFACE_N, DEFAULT_SURFACE_N)?,
        keys.choice("specular", Specular::Included)?,
    );
    Ok(Settings {
        name: name.to_owned(),
        viewing: Viewing {
            illuminant: keys.choice("illuminant", Illuminant::D65)?,
            observer: keys.choice("observer", Observer::Cie1964)?,
        },
        model: keys.choice("model", Model::Transport)?,
        surface: surface.map_err(|error| keys.fault(SURFACE_N.name, error))?,
        drop_sd: keys.number(&DROP_SD, DEFAULT_DROP_SD)?,
        thickness_sd: Millimetres(keys.number(&THICKNESS_SD_MM, DEFAULT_THICKNESS_SD_MM)?),
        scale_resolution: Grams(keys.number(&SCALE_RESOLUTION_G, DEFAULT_SCALE_RESOLUTION_G)?),
    })
}

/// `text` with the book's name changed to `name`, and all else as it was.
///
/// # Errors
/// `text` is no TOML.
pub(super) fn renamed(text: &str, name: &str) -> Result<String> {
    with_word(text, "name", name)
}

/// `text` with the specular convention set to `specular`, and all else as it was.
///
/// # Errors
/// `text` is no TOML.
pub(super) fn with_specular(text: &str, specular: Specular) -> Result<String> {
    with_word(text, "specular", &specular.to_string())
}

fn with_word(text: &str, key: &str, word: &str) -> Result<String> {
    let mut document: DocumentMut = text.parse().map_err(|error| syntax(text, &error))?;
    let mut value = toml_edit::Value::from(word);
    if let Some(old) = document.get(key).and_then(Item::as_value) {
        // Space before it, a comment after it.
        *value.decor_mut() = old.decor().clone();
    }
    document[key] = Item::Value(value);
    Ok(document.to_string())
}

fn check_format(keys: &Keys<'_>) -> Result<()> {
    let Some(item) = keys.item("format") else {
        return Ok(());
    };
    match item.as_integer() {
        Some(FORMAT) => Ok(()),
        Some(newer) if newer > FORMAT => Err(keys.fault(
            "format",
            Error::input(format!(
                "this book was written by a newer version of dropwise: it has format {newer}, and this version \
                 reads format {FORMAT}"
            ))
            .mend("update dropwise"),
        )),
        _ => Err(keys.fault(
            "format",
            Error::input(format!("format is {}; expected {FORMAT}", shown(item))),
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refusal(text: &str) -> String {
        read(Path::new("book.toml"), text)
            .expect_err(text)
            .to_string()
    }

    #[test]
    fn what_is_not_said_takes_its_default_and_what_is_not_known_is_let_be() {
        let settings = read(
            Path::new("book.toml"),
            "name = \"bench\"\nmood = 3\n[later]\nx = 1\n",
        );
        let settings = settings.expect("a short book.toml");
        assert_eq!(settings.name, "bench", "its name");
        assert_eq!(settings.viewing, Viewing::D65_10, "light and observer");
        assert_eq!(settings.surface.n(), 1.5, "index");
        assert_eq!(settings.drop_sd, 0.08, "drops");
        assert_eq!(settings.thickness_sd, Millimetres(0.15), "thickness");
        assert_eq!(settings.scale_resolution, Grams(0.1), "scale");
    }

    #[test]
    fn every_slip_is_named_with_line_and_column() {
        let cases = [
            (
                "format = 2\nname = \"x\"\n",
                "book.toml:1:10: this book was written by a newer version of dropwise: it has format 2, and this version reads format 1 (update dropwise)",
            ),
            (
                "format = \"one\"\nname = \"x\"\n",
                "book.toml:1:10: format is \"one\"; expected 1",
            ),
            (
                "# no name\n",
                "book.toml: the book has no name (write name = \"my swatch book\")",
            ),
            (
                "name = \"  \"\n",
                "book.toml:1:8: the book has no name (write name = \"my swatch book\")",
            ),
            (
                "name = \"x\"\nspeculer = \"excluded\"\n",
                "book.toml:2:12: no setting is called `speculer` (did you mean `specular`?)",
            ),
            (
                "name = \"x\"\nmodel = \"transports\"\n",
                "book.toml:2:9: no layer model is called `transports` (did you mean `transport`?)",
            ),
            (
                "name = \"x\"\nobserver = 10\n",
                "book.toml:2:12: observer is 10; expected text in quotes (write observer = \"10\")",
            ),
            (
                "name = \"x\"\nilluminant = \"D 65\"\n",
                "book.toml:2:14: no illuminant is called `D 65` (did you mean `D65`?)",
            ),
            (
                "name = \"x\"\nspecular = \"include\"\n",
                "book.toml:2:12: no specular convention is called `include` (did you mean `included`?)",
            ),
            (
                "name = \"x\"\ndrop_sd = 8\n",
                "book.toml:2:11: drop_sd is 8; expected a number from 0 to 1 (in percent? write 0.08)",
            ),
            (
                "name = \"x\"\nsurface_n = 15\n",
                "book.toml:2:13: surface_n is 15; expected a number from 1.2 to 2",
            ),
            (
                "name = \"x\"\nthickness_sd_mm = \"0.2\"\n",
                "book.toml:2:19: thickness_sd_mm is \"0.2\"; expected a number from 0 to 5 with a point and no quotes (write thickness_sd_mm = 0.15)",
            ),
            (
                "name = \"x\"\n[drop_sd]\n",
                "book.toml:2:1: drop_sd is a table; expected a number from 0 to 1 with a point and no quotes (write drop_sd = 0.08)",
            ),
        ];
        for (text, line) in cases {
            assert_eq!(refusal(text), line, "{text:?}");
        }
        let comma = refusal("name = \"x\"\nsurface_n = 1,5\n");
        assert!(comma.starts_with("book.toml:2:14: "), "{comma}");
        let mend =
            "(a setting is written name = value; text stands in quotes, a number has a point)";
        assert!(comma.ends_with(mend), "{comma}");
    }

    #[test]
    fn a_new_name_leaves_the_comments() {
        let text = "# mine\nname = \"old\" # keep\nobserver = \"2\"\n";
        let new = renamed(text, "it's \"new\"").expect("TOML");
        assert!(new.starts_with("# mine\n"), "{new}");
        assert!(new.ends_with("# keep\nobserver = \"2\"\n"), "{new}");
        let settings = parse(&new).expect("still a book");
        assert_eq!(settings.name, "it's \"new\"", "quotes and all");
    }
}
