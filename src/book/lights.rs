//! Files of lamps and of gels.

use std::path::Path;

use super::files;
use super::number::Number;
use super::spectra::{WAVELENGTH_NM, pairs, spectrum};
use super::table::{Columns, Table};
use crate::colour::{Lamp, Spectrum};
use crate::error::{Error, Result};

const POWER: Number = Number {
    name: "power",
    range: (0.0, 1e12),
    example: "87.2",
};
const T: Number = Number {
    name: "t",
    range: (0.0, 1.0),
    example: "0.62",
};

const LAMP: Columns = Columns {
    required: &[WAVELENGTH_NM.name, POWER.name],
    optional: &[],
};
const GEL: Columns = Columns {
    required: &[WAVELENGTH_NM.name, T.name],
    optional: &[],
};

/// Reads a lamp's own spectrum, a file of `wavelength_nm,power` over at least 400–700 nm in steps of 10 nm or less;
/// it is called `name`. Power is per wavelength, in any unit.
///
/// # Errors
/// No such file, or the first thing in it that is wrong, with its place.
pub fn read_lamp(path: &Path, name: &str) -> Result<Lamp> {
    let table = Table::read(path, &files::named_text(path)?, &LAMP)?;
    let pairs = pairs(&table, &POWER)?;
    Lamp::new(name, &pairs).ok_or_else(|| {
        let (finding, mend) = if pairs.iter().all(|(_, power)| *power == 0.0) {
            ("the lamp gives no light", "export the reading again")
        } else {
            (
                "the lamp is not read over all of 400 to 700 nm in steps of 10 nm or less",
                "export the reading over the whole visible range",
            )
        };
        table.fault(Error::input(finding).mend(mend))
    })
}

/// Reads a gel, a file of `wavelength_nm,t`: transmittance 0–1 over at least 400–700 nm.
///
/// # Errors
/// No such file, or the first thing in it that is wrong, with its place.
pub fn read_transmittance(path: &Path) -> Result<Spectrum> {
    let table = Table::read(path, &files::named_text(path)?, &GEL)?;
    spectrum(&table, &T)
}
