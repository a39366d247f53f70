//! The tables of what stands on the shelf: bases, pigments, backings.

use std::sync::Arc;

use super::columns::{
    ABSORPTION_GAIN, CELL_MM, DROP_G, DROP_G_SD, FIRST_ABSORPTION_GAIN, FIRST_CELL_MM, FIRST_GUESS,
    FIRST_WET_SHARE, KS_FILE, LEFT_G, LOT_OF, WET_SHARE,
};
use super::files::{BACKINGS, BASES, Files, PIGMENTS};
use super::names::check_stands_in_a_mix;
use super::number::Number;
use super::table::{Columns, Row, Table};
use super::{calibrated, left_over, let_downs, spectra, starter, stocks};
use crate::colour::Spectrum;
use crate::error::{Error, Result};
use crate::materials::{
    Backing, Base, BaseKind, CoefficientSpread, CurveSource, Grams, MixRatio, Pigment, Settings,
    Shelf,
};
use crate::optics::{Coefficients, Foam};

/// Columns of `pigments.csv` that weighing drops sets.
pub(super) const DROP_MASS: [&str; 2] = [DROP_G.name, DROP_G_SD.name];

const DENSITY_G_ML: Number = Number {
    name: "density_g_ml",
    range: (0.1, 10.0),
    example: "1.05",
};
const PART_A: Number = Number {
    name: "part_a",
    range: (0.0, 10_000.0),
    example: "1",
};
const PART_B: Number = Number {
    name: "part_b",
    range: (0.0, 10_000.0),
    example: "1",
};
const POT_LIFE_MIN: Number = Number {
    name: "pot_life_min",
    range: (0.5, 10_000.0),
    example: "4",
};
const GEL_MIN: Number = Number {
    name: "gel_min",
    range: (0.5, 10_000.0),
    example: "8",
};
const DEMOLD_MIN: Number = Number {
    name: "demold_min",
    range: (0.5, 100_000.0),
    example: "60",
};
const EXPANSION: Number = Number {
    name: "expansion",
    range: (1.0, 60.0),
    example: "6",
};
const SOLIDS: Number = Number {
    name: "solids",
    range: (0.01, 1.0),
    example: "0.35",
};
const MAX_FRACTION: Number = Number {
    name: "max_fraction",
    range: (1e-6, 1.0),
    example: "0.03",
};

/// A base that nobody has read: as good as clear, within a factor of about three. Our own choice, no source.
const UNREAD_BASE: (Coefficients, CoefficientSpread) = grey(0.005, 0.01, 1.0);

/// A dispersion that nobody has read and that is like none of the starter's: a grey of about their middle
/// strength, within a factor of about twenty, since its load is unknown too. Our own choice, no source.
const UNREAD_PIGMENT: (Coefficients, CoefficientSpread) = grey(100.0, 100.0, 3.0);

const fn grey(k: f64, s: f64, sd: f64) -> (Coefficients, CoefficientSpread) {
    (
        Coefficients {
            k: Spectrum::constant(k),
            s: Spectrum::constant(s),
        },
        CoefficientSpread {
            k_sd: Spectrum::constant(sd),
            s_sd: Spectrum::constant(sd),
        },
    )
}

/// Reads the tables of materials.
///
/// # Errors
/// The first thing that is wrong, with its place.
pub(super) fn read(files: &Files, settings: Settings) -> Result<Shelf> {
    let mut shelf = Shelf {
        settings,
        bases: bases(files)?,
        pigments: pigments(files)?,
        backings: backings(files)?,
        let_downs: Vec::new(),
        carriers: carriers(files)?,
        stocks: Vec::new(),
        joint_directions: calibrated::moves(files)?,
        left_over: None,
    };
    stocks::read(files, &mut shelf)?;
    shelf.let_downs = let_downs::read(files, &shelf)?;
    shelf.left_over = left_over::read(files, &shelf)?.map(Arc::new);
    Ok(shelf)
}

/// `shelf` with the curves that each of its materials had before its first calibration, and its foams' cells and gains.
///
/// # Errors
/// As for reading the tables.
pub(super) fn first_guesses(files: &Files, shelf: &Shelf) -> Result<Shelf> {
    let mut first = Shelf {
        joint_directions: Vec::new(),
        left_over: None,
        ..shelf.clone()
    };
    let bases = table(files, BASES, &BASE_COLUMNS)?;
    for (row, base) in bases
        .rows()
        .filter(|row| !is_carrier(*row))
        .zip(&mut first.bases)
    {
        if let Some(curves) = spectra::coefficients(files, row, FIRST_GUESS)? {
            (base.coefficients, base.spread) = curves;
        }
        let gain = row.optional_number(&FIRST_ABSORPTION_GAIN)?;
        if let (BaseKind::Foam(foam), Some(absorption_gain)) = (&mut base.kind, gain) {
            *foam = Foam::new(foam.expansion, row.optional_number(&FIRST_CELL_MM)?);
            foam.absorption_gain = absorption_gain;
            foam.wet_share = row
                .optional_number(&FIRST_WET_SHARE)?
                .unwrap_or(foam.wet_share);
        }
    }
    let pigments = table(files, PIGMENTS, &PIGMENT_COLUMNS)?;
    for (row, pigment) in pigments.rows().zip(&mut first.pigments) {
        if let Some(curves) = spectra::coefficients(files, row, FIRST_GUESS)? {
            (pigment.coefficients, pigment.spread) = curves;
        }
    }
    for (index, row) in pigments.rows().enumerate() {
        if let Some(old) = old_lot(row, &first.pigments)? {
            let old = first.pigments[old].clone();
            first.pigments[index].begin_as_lot_of(&old);
        }
    }
    stocks::first_guesses(files, &mut first)?;
    Ok(first)
}

fn table(files: &Files, name: &str, columns: &Columns) -> Result<Table> {
    let table = Table::read(&files.label(name), &files.text(name)?, columns)?;
    table.check_names(columns.required[0])?;
    Ok(table)
}

pub(super) const BASE_COLUMNS: Columns = Columns {
    required: &[
        "base",
        "kind",
        "density_g_ml",
        "part_a",
        "part_b",
        "ratio_by",
    ],
    optional: &[
        "pot_life_min",
        "gel_min",
        "demold_min",
        "expansion",
        CELL_MM.name,
        ABSORPTION_GAIN.name,
        WET_SHARE.name,
        "solids",
        MAX_FRACTION.name,
        KS_FILE,
        FIRST_GUESS,
        FIRST_CELL_MM.name,
        FIRST_ABSORPTION_GAIN.name,
        FIRST_WET_SHARE.name,
    ],
};

fn bases(files: &Files) -> Result<Vec<Base>> {
    let table = table(files, BASES, &BASE_COLUMNS)?;
    let bases = table.rows().filter(|row| !is_carrier(*row));
    bases.map(|row| base(files, row)).collect()
}

/// What `kind` says of a carrier.
const CARRIER: &str = "carrier";

fn is_carrier(row: Row<'_>) -> bool {
    row.text("kind") == CARRIER
}

/// The largest share of a cup's mass that a carrier may be where its row says none. Common practice, no source; its maker's
/// sheet has the last word.
const CARRIER_MAX_FRACTION: f64 = 0.03;

/// The carriers that pigments are thinned in.
fn carriers(files: &Files) -> Result<Vec<Pigment>> {
    let table = table(files, BASES, &BASE_COLUMNS)?;
    let carrier = |row: Row<'_>| -> Result<Pigment> {
        row.number(&DENSITY_G_ML)?;
        if !ratio(row)?.is_single() {
            let finding = "part_b is not 0 for a carrier; expected what comes as one part";
            let mend = "what sets is a skin, a foam or a paint: is its kind right?";
            return Err(row.fault(PART_B.name, Error::input(finding).mend(mend)));
        }
        let curves = spectra::coefficients(files, row, KS_FILE)?;
        let (coefficients, spread) = curves.unwrap_or(UNREAD_BASE);
        Ok(Pigment {
            name: row.text("base").to_owned(),
            drop_mass: None,
            drop_mass_sd: None,
            max_fraction: (row.optional_number(&MAX_FRACTION)?).unwrap_or(CARRIER_MAX_FRACTION),
            lot: String::new(),
            lot_of: String::new(),
            like: String::new(),
            curve_source: CurveSource::Read,
            ingredients: Vec::new(),
            coefficients,
            spread,
        })
    };
    table
        .rows()
        .filter(|row| is_carrier(*row))
        .map(carrier)
        .collect()
}

fn base(files: &Files, row: Row<'_>) -> Result<Base> {
    let (coefficients, spread) = spectra::coefficients(files, row, KS_FILE)?.unwrap_or(UNREAD_BASE);
    let [pot_life_min, gel_min] = [
        row.optional_number(&POT_LIFE_MIN)?,
        row.optional_number(&GEL_MIN)?,
    ];
    if let (Some(pot_life), Some(gel)) = (pot_life_min, gel_min)
        && pot_life > gel
    {
        let finding = format!(
            "pot_life_min is {pot_life} and gel_min {gel}; expected a pot life no longer than it takes to gel"
        );
        let error =
            Error::input(finding).mend("exchange the two, or mend one by the material's sheet");
        return Err(row.fault(POT_LIFE_MIN.name, error));
    }
    Ok(Base {
        name: row.text("base").to_owned(),
        kind: kind(row)?,
        density_g_ml: row.number(&DENSITY_G_ML)?,
        ratio: ratio(row)?,
        pot_life_min,
        gel_min,
        demold_min: row.optional_number(&DEMOLD_MIN)?,
        coefficients,
        spread,
    })
}

fn kind(row: Row<'_>) -> Result<BaseKind> {
    let word = row.filled("kind", "skin, foam, paint or carrier")?;
    let expansion = row.optional_number(&EXPANSION)?;
    let cell_mm = row.optional_number(&CELL_MM)?;
    let absorption_gain = row.optional_number(&ABSORPTION_GAIN)?;
    let wet_share = row.optional_number(&WET_SHARE)?;
    let solids = row.optional_number(&SOLIDS)?;
    let needed = |number: Option<f64>, column: &Number, mend: &str| {
        number.ok_or_else(|| {
            let finding = format!(
                "{} is empty for a {word}; expected {}",
                column.name,
                column.expected()
            );
            row.fault(column.name, Error::input(finding).mend(mend))
        })
    };
    let kind = match word {
        "skin" => BaseKind::Skin,
        "foam" => {
            let expansion = needed(
                expansion,
                &EXPANSION,
                "write the foam's volume over the liquid's: weigh a cup of known volume before and after",
            )?;
            let mut foam = Foam::new(expansion, cell_mm);
            foam.absorption_gain = absorption_gain.unwrap_or(foam.absorption_gain);
            foam.wet_share = wet_share.unwrap_or(foam.wet_share);
            BaseKind::Foam(foam)
        }
        "paint" => BaseKind::Paint {
            solids: needed(
                solids,
                &SOLIDS,
                "write the share of its mass that stays when it dries: weigh a film wet and dry",
            )?,
        },
        other => {
            let unknown =
                Error::unknown_name("kind of base", other, ["skin", "foam", "paint", CARRIER]);
            return Err(row.fault("kind", unknown));
        }
    };
    let gain = (absorption_gain, &ABSORPTION_GAIN);
    let wet = (wet_share, &WET_SHARE);
    let foreign = match kind {
        BaseKind::Skin => vec![(expansion, &EXPANSION), gain, wet, (solids, &SOLIDS)],
        BaseKind::Foam(_) => vec![(solids, &SOLIDS)],
        BaseKind::Paint { .. } => vec![(expansion, &EXPANSION), gain, wet],
    };
    for (number, column) in foreign {
        if let Some(value) = number.filter(|value| *value != 1.0) {
            let finding = format!(
                "{} is {value} for a {word}; expected 1 or nothing",
                column.name
            );
            let error = Error::input(finding).mend("is its kind right?");
            return Err(row.fault(column.name, error));
        }
    }
    Ok(kind)
}

fn ratio(row: Row<'_>) -> Result<MixRatio> {
    let ratio = MixRatio {
        part_a: row.number(&PART_A)?,
        part_b: row.number(&PART_B)?,
        by: row.at(
            "ratio_by",
            row.filled("ratio_by", "mass or volume")?.parse(),
        )?,
    };
    if ratio.part_a == 0.0 {
        let error = Error::input("part_a is 0; expected the parts of A to mix");
        return Err(row.fault(
            PART_A.name,
            error.mend("a base that comes as one part has part_a 1 and part_b 0"),
        ));
    }
    Ok(ratio)
}

pub(super) const PIGMENT_COLUMNS: Columns = Columns {
    required: &["pigment", "drop_g", "max_fraction"],
    optional: &[
        "lot",
        LOT_OF,
        "like",
        KS_FILE,
        FIRST_GUESS,
        DROP_G_SD.name,
        LEFT_G.name,
    ],
};

fn pigments(files: &Files) -> Result<Vec<Pigment>> {
    let table = table(files, PIGMENTS, &PIGMENT_COLUMNS)?;
    let read = table.rows().map(|row| pigment(files, row));
    let mut pigments = read.collect::<Result<Vec<_>>>()?;
    for (index, row) in table.rows().enumerate() {
        let old = old_lot(row, &pigments)?;
        if let Some(old) = old.filter(|_| row.text(KS_FILE).is_empty()) {
            let old = pigments[old].clone();
            pigments[index].begin_as_lot_of(&old);
        }
    }
    Ok(pigments)
}

/// The index among `pigments` of the one that `row` says to be another lot of.
fn old_lot(row: Row<'_>, pigments: &[Pigment]) -> Result<Option<usize>> {
    let name = row.text(LOT_OF);
    if name.is_empty() {
        return Ok(None);
    }
    let index = pigments.iter().position(|pigment| pigment.name == name);
    let index = index.ok_or_else(|| {
        let names = pigments.iter().map(|pigment| pigment.name.as_str());
        row.fault(LOT_OF, Error::unknown_name("pigment", name, names))
    })?;
    let old = &pigments[index];
    if old.lot_of.is_empty() {
        return Ok(Some(index));
    }
    let finding = format!(
        "{LOT_OF} names `{}`, which is itself a lot of `{}`",
        name.escape_debug(),
        old.lot_of.escape_debug()
    );
    let mend = "name the pigment that stands for itself";
    Err(row.fault(LOT_OF, Error::input(finding).mend(mend)))
}

fn pigment(files: &Files, row: Row<'_>) -> Result<Pigment> {
    let name = row.text("pigment");
    row.at("pigment", check_stands_in_a_mix(name))?;
    let like = row.text("like");
    let first_guess = match like {
        "" => None,
        like => Some(row.at("like", starter::pigment_curves(like))?),
    };
    let read = spectra::coefficients(files, row, KS_FILE)?;
    let curve_source = match (&read, &first_guess) {
        (Some(_), _) => CurveSource::Read,
        (None, Some(_)) => CurveSource::Like,
        (None, None) => CurveSource::Nothing,
    };
    let (coefficients, spread) = read.or(first_guess).unwrap_or(UNREAD_PIGMENT);
    Ok(Pigment {
        name: name.to_owned(),
        drop_mass: row.optional_number(&DROP_G)?.map(Grams),
        drop_mass_sd: row.optional_number(&DROP_G_SD)?.map(Grams),
        max_fraction: row.number(&MAX_FRACTION)?,
        lot: row.text("lot").to_owned(),
        lot_of: row.text(LOT_OF).to_owned(),
        like: like.to_owned(),
        curve_source,
        ingredients: Vec::new(),
        coefficients,
        spread,
    })
}

fn backings(files: &Files) -> Result<Vec<Backing>> {
    const COLUMNS: Columns = Columns {
        required: &["backing", "r_file"],
        optional: &[],
    };
    let table = table(files, BACKINGS, &COLUMNS)?;
    let backing = |row: Row<'_>| -> Result<Backing> {
        let reflectance = spectra::reflectance(files, row, "r_file")?;
        Ok(Backing {
            name: row.text("backing").to_owned(),
            reflectance: reflectance.ok_or_else(|| {
                let error = Error::input("r_file is empty; expected the backing's reflectance");
                row.fault("r_file", error.mend("name a file of wavelength_nm and r"))
            })?,
        })
    };
    let backings: Vec<Backing> = table.rows().map(backing).collect::<Result<_>>()?;
    for card in [Shelf::WHITE_CARD, Shelf::BLACK_CARD] {
        if !backings.iter().any(|backing| backing.name == card) {
            let finding = format!("no backing is called `{card}`, over which contrast is taken");
            let mend = format!("add a row for `{card}` with its r_file");
            return Err(table.fault(Error::input(finding).mend(mend)));
        }
    }
    Ok(backings)
}
