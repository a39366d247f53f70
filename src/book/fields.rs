//! What the fields of a table of readings hold, by their names.

use super::grid::Grid;
use crate::error::{Error, Result};

/// What a field holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Field {
    /// Reflectance at a wavelength, nm.
    At(f64, Scale),
    /// A wavelength, nm, of which the next [`Value`](Self::Value) is the reflectance.
    Wavelength,
    Value(Scale),
    L,
    A,
    B,
    X,
    Y,
    Z,
    Name,
    Id,
    Specular,
    ApertureMm,
    Illuminant,
    Observer,
    Other,
}

/// What a file says that its reflectances are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Scale {
    Fraction,
    Percent,
    Unstated,
}

impl Field {
    fn of(name: &str) -> Self {
        let name: String = name
            .chars()
            .filter(|c| !matches!(c, '_' | '-' | ' ' | '*'))
            .collect::<String>()
            .to_ascii_uppercase();
        match name.as_str() {
            "SPECTRALNM" => Self::Wavelength,
            "SPECTRALPCT" => Self::Value(Scale::Percent),
            "SPECTRALDEC" => Self::Value(Scale::Fraction),
            "LABL" | "L" => Self::L,
            "LABA" | "A" => Self::A,
            "LABB" | "B" => Self::B,
            "XYZX" => Self::X,
            "XYZY" => Self::Y,
            "XYZZ" => Self::Z,
            "SAMPLENAME" | "READING" | "NAME" => Self::Name,
            "SAMPLEID" | "ID" => Self::Id,
            "SPECULAR" => Self::Specular,
            "APERTUREMM" => Self::ApertureMm,
            "ILLUMINANT" => Self::Illuminant,
            "OBSERVER" => Self::Observer,
            name => Self::at(name).unwrap_or(Self::Other),
        }
    }

    /// A field named by its wavelength: the number, with the word for reflectance that writers put before it.
    fn at(name: &str) -> Option<Self> {
        let number = name.trim_end_matches("NM");
        let digits = number.trim_start_matches(|c: char| !c.is_ascii_digit());
        let nm: f64 = digits
            .parse()
            .ok()
            .filter(|nm| (200.0..=3000.0).contains(nm))?;
        let scale = match &number[..number.len() - digits.len()] {
            "SPECTRALPCT" | "PCT" | "RPCT" | "%" | "R%" => Scale::Percent,
            "SPECTRALDEC" | "DEC" | "RDEC" => Scale::Fraction,
            "" | "NM" | "R" | "SPECTRAL" | "SPECTRALNM" | "SPEC" | "REFLECTANCE" | "REFL"
            | "WAVELENGTH" => Scale::Unstated,
            _ => return None,
        };
        Some(Self::At(nm, scale))
    }
}

/// What the fields of `grid` hold.
pub(super) fn fields_of(grid: &Grid) -> Result<Vec<Field>> {
    let fields: Vec<Field> = grid
        .fields
        .iter()
        .map(|cell| Field::of(&cell.text))
        .collect();
    for (index, (field, cell)) in fields.iter().zip(&grid.fields).enumerate() {
        let may_stand_twice = matches!(
            field,
            Field::Other | Field::Wavelength | Field::Value(_) | Field::Id | Field::Name
        );
        let same = |other: &Field| match (field, other) {
            (Field::At(one, _), Field::At(other, _)) => one == other,
            _ => field == other,
        };
        if !may_stand_twice && fields[..index].iter().any(same) {
            let finding = format!("the field `{}` stands twice", cell.text.escape_debug());
            return Err(Error::input(finding)
                .mend("keep one of the two")
                .at(cell.line, cell.column));
        }
    }
    let has = |wanted: &[Field]| wanted.iter().all(|field| fields.contains(field));
    let spectral = fields
        .iter()
        .any(|field| matches!(field, Field::At(..) | Field::Value(_)));
    let coloured = has(&[Field::L, Field::A, Field::B]) || has(&[Field::X, Field::Y, Field::Z]);
    if !spectral && !coloured {
        let line = grid.fields.first().map_or(1, |cell| cell.line);
        return Err(Error::input("the table has neither a spectrum nor a CIELAB")
            .mend("export fields such as SPECTRAL_DEC380 to SPECTRAL_DEC730, or LAB_L, LAB_A and LAB_B; in CSV \
                   wavelength_nm,r or 380,390,… or L,a,b")
            .at(line, None));
    }
    Ok(fields)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wavelength_is_found_in_every_way_to_write_it() {
        for name in [
            "380",
            "380nm",
            "nm380",
            "NM_380",
            "R_380",
            "SPECTRAL_380",
            "SPECTRAL_NM380",
            "Refl 380.0",
        ] {
            assert_eq!(Field::of(name), Field::At(380.0, Scale::Unstated), "{name}");
        }
        assert_eq!(
            Field::of("SPECTRAL_PCT_505"),
            Field::At(505.0, Scale::Percent),
            "percent"
        );
        assert_eq!(
            Field::of("SPECTRAL_DEC505.5"),
            Field::At(505.5, Scale::Fraction),
            "fraction"
        );
    }

    #[test]
    fn what_only_looks_like_a_wavelength_is_none() {
        for name in [
            "CMYK_100",
            "D_RED",
            "CMY_C",
            "STDEV_400",
            "100",
            "5000",
            "",
            "°",
            "LAB_C",
        ] {
            assert_eq!(Field::of(name), Field::Other, "{name}");
        }
        assert_eq!(
            Field::of("SPECTRAL_NM"),
            Field::Wavelength,
            "a wavelength among the values"
        );
        assert_eq!(Field::of("a*"), Field::A, "as people write it");
    }
}
