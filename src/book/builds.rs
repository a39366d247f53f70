//! Castings in a table: the columns that a swatch and a build to predict have in common.

use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::path::Path;

use super::files;
use super::number::Number;
use super::table::{Columns, Row, Table};
use crate::error::{Error, Result};
use crate::materials::{
    Build, Coat, Contact, Cup, Grams, Kind, Millimetres, Mix, Portion, Poured, Shelf, Underlay,
};

const BASE_G: Number = mass("base_g");
const FOAM_G: Number = mass("foam_g");
const PAINT_G: Number = mass("paint_g");
pub(super) const THICKNESS_MM: Number = Number {
    name: "thickness_mm",
    range: Build::THICKNESS_MM,
    example: "2.1",
};
/// The same of a paint in the skin's place, drawn down or sprayed.
const DRAWN_MM: Number = Number {
    range: Coat::DRY_THICKNESS_MM,
    ..THICKNESS_MM
};
const PAINT_MM: Number = Number {
    name: "paint_mm",
    range: Coat::DRY_THICKNESS_MM,
    example: "0.03",
};

const fn mass(name: &'static str) -> Number {
    Number {
        name,
        range: Cup::BASE_MASS_G,
        example: "600",
    }
}

/// The columns of one poured material.
struct Pour {
    base: &'static str,
    mass: &'static Number,
    mix: &'static str,
    /// The kind that the base must be of, where only one will do.
    kind: Option<Kind>,
}

const SKIN: Pour = Pour {
    base: "base",
    mass: &BASE_G,
    mix: "mix",
    kind: None,
};
const FOAM: Pour = Pour {
    base: "foam",
    mass: &FOAM_G,
    mix: "foam_mix",
    kind: Some(Kind::Foam),
};
const PAINT: Pour = Pour {
    base: "paint",
    mass: &PAINT_G,
    mix: "paint_mix",
    kind: Some(Kind::Paint),
};

/// The columns that hold a mix each.
pub(super) const MIXES: [&str; 3] = [SKIN.mix, FOAM.mix, PAINT.mix];

/// Reads a table of castings to predict: each with the name in its column `build`.
///
/// The columns are `build, base, base_g, mix, thickness_mm`, then `backing` (and `contact`, `bonded` if
/// empty) or `foam, foam_g, foam_mix`, and perhaps `paint, paint_g, paint_mix, paint_mm`. Foam counts as too thick to see
/// through. Masses are in grams, thicknesses in millimetres.
///
/// # Errors
/// No such file, or the first thing in it that is wrong, with its place: names are looked up on `shelf`, and
/// no two builds have the same name.
pub fn read_builds(path: &Path, shelf: &Shelf) -> Result<Vec<(String, Build)>> {
    const COLUMNS: Columns = Columns {
        required: &["build", "base", "base_g", "mix", "thickness_mm"],
        optional: &[
            "backing",
            "contact",
            "foam",
            "foam_g",
            "foam_mix",
            "paint",
            "paint_g",
            "paint_mix",
            "paint_mm",
        ],
    };
    let table = Table::read(path, &files::named_text(path)?, &COLUMNS)?;
    table.check_names("build")?;
    let mut reader = Reader::on(shelf);
    let mut builds = Vec::with_capacity(table.len());
    for row in table.rows() {
        if !row.text("backing").is_empty() && !row.text(FOAM.base).is_empty() {
            let error = Error::input("backing and foam are both named; expected one of them");
            return Err(row.fault(
                "backing",
                error.mend("leave out what the skin does not lie on"),
            ));
        }
        builds.push((row.text("build").to_owned(), reader.build(row)?));
    }
    Ok(builds)
}

/// Reads castings off the rows of one table.
pub(super) struct Reader<'shelf, 'table> {
    shelf: &'shelf Shelf,
    /// Mixes that were read and found sound, by what their cells say: a log says the same thing thousands of times.
    mixes: HashMap<&'table str, Mix>,
}

impl<'shelf, 'table> Reader<'shelf, 'table> {
    /// Reads castings of what stands on `shelf`.
    pub(super) fn on(shelf: &'shelf Shelf) -> Self {
        Self {
            shelf,
            mixes: HashMap::new(),
        }
    }

    /// The casting that `row` describes.
    pub(super) fn build(&mut self, row: Row<'table>) -> Result<Build> {
        let skin = self.poured(&SKIN, row)?.ok_or_else(|| {
            let error = Error::input("base is empty; expected the name of a base");
            row.fault("base", error)
        })?;
        let base = self.shelf.base(&skin.base);
        let is_paint = base.is_ok_and(|base| base.kind.kind() == Kind::Paint);
        let thickness = row.number(if is_paint { &DRAWN_MM } else { &THICKNESS_MM })?;
        Ok(Build {
            skin,
            thickness: Millimetres(thickness),
            beneath: self.beneath(row)?,
            paint: match self.poured(&PAINT, row)? {
                None => {
                    PAINT.check_unused(row, PAINT_MM.name)?;
                    None
                }
                Some(paint) => Some(Coat {
                    paint,
                    dry_thickness: Millimetres(row.number(&PAINT_MM)?),
                }),
            },
        })
    }

    fn beneath(&mut self, row: Row<'table>) -> Result<Underlay> {
        let backing = row.text("backing");
        if !backing.is_empty() {
            row.at("backing", self.shelf.backing(backing))?;
        }
        let contact = match row.text("contact") {
            "" => Contact::default(),
            word => row.at("contact", word.parse())?,
        };
        if let Some(foam) = self.poured(&FOAM, row)? {
            return Ok(Underlay::Foam(foam));
        }
        FOAM.check_unused(row, FOAM.mix)?;
        if backing.is_empty() {
            let error = Error::input("neither backing nor foam is named; expected one of them")
                .mend(format!(
                    "what it lay on when it was read, such as {}",
                    Shelf::WHITE_CARD
                ));
            return Err(row.fault("backing", error));
        }
        Ok(Underlay::Backing {
            name: backing.to_owned(),
            contact,
        })
    }

    /// What was poured of `pour`; `None` where no base is named.
    fn poured(&mut self, pour: &Pour, row: Row<'table>) -> Result<Option<Poured>> {
        let name = row.text(pour.base);
        if name.is_empty() {
            return Ok(None);
        }
        let base = row.at(pour.base, self.shelf.base(name))?;
        if let Some(kind) = pour.kind.filter(|kind| *kind != base.kind.kind()) {
            return Err(row.fault(pour.base, base.not_a(kind)));
        }
        let mix = row.at(pour.mix, self.mix(row.text(pour.mix)))?;
        Ok(Some(Poured {
            base: name.to_owned(),
            base_mass: Grams(row.number(pour.mass)?),
            mix,
        }))
    }

    /// The mix that `cell` says, of pigments that stand on the shelf.
    pub(super) fn mix(&mut self, cell: &'table str) -> Result<Mix> {
        Ok(match self.mixes.entry(cell) {
            Entry::Occupied(read) => read.get().clone(),
            Entry::Vacant(unread) => {
                let mix: Mix = cell.parse()?;
                for (colorant, amount) in mix.entries() {
                    Portion::new(self.shelf, colorant, *amount)?;
                }
                unread.insert(mix).clone()
            }
        })
    }
}

impl Pour {
    /// Refuses amounts of a base that is not named: a name was forgotten.
    fn check_unused(&self, row: Row<'_>, last: &str) -> Result<()> {
        for column in [self.mass.name, self.mix, last] {
            if !row.text(column).is_empty() {
                let base = self.base;
                let error = Error::input(format!("{column} is given, and {base} is empty"));
                return Err(row.fault(column, error.mend(format!("name the {base}"))));
            }
        }
        Ok(())
    }
}

/// The cell of `column` in the row of `build`; `None` for a column that tells nothing of a build.
pub(super) fn cell(build: &Build, column: &str) -> Option<String> {
    let paint = build.paint.as_ref();
    let (backing, contact, foam) = match &build.beneath {
        Underlay::Backing { name, contact } => (name.clone(), contact.to_string(), None),
        Underlay::Foam(foam) => (String::new(), String::new(), Some(foam)),
    };
    Some(match column {
        "thickness_mm" => build.thickness.0.to_string(),
        "backing" => backing,
        "contact" => contact,
        "paint_mm" => paint.map_or_else(String::new, |coat| coat.dry_thickness.0.to_string()),
        _ => {
            let pours = [
                (SKIN, Some(&build.skin)),
                (FOAM, foam),
                (PAINT, paint.map(|coat| &coat.paint)),
            ];
            let named = |pour: &Pour| [pour.base, pour.mass.name, pour.mix].contains(&column);
            let (pour, poured) = pours.into_iter().find(|(pour, _)| named(pour))?;
            poured.map_or_else(String::new, |poured| match column {
                _ if column == pour.base => poured.base.clone(),
                _ if column == pour.mix => poured.mix.to_string(),
                _ => poured.base_mass.0.to_string(),
            })
        }
    })
}
