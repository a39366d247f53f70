//! The book's readings for other programs, as CGATS.17 text.

use jiff::civil::Date;

use super::cgats::{self, Value, Written};
use crate::colour::Spectrum;
use crate::materials::{Geometry, Settings, Swatch, Underlay};

/// The fields that are no part of the standard, which say what was read.
const OWN_FIELDS: [&str; 5] = ["DATE", "MIX", "THICKNESS_MM", "BEHIND", "PAINT"];

/// `swatches` as CGATS text, written on the day `created`. Every number has all its digits, so that reading it back
/// gives the same; readings with a spectrum, with a CIELAB and with both stand in a table each.
pub(super) fn text(swatches: &[Swatch], settings: &Settings, created: Date) -> String {
    let viewing = settings.viewing;
    let statements = [
        (
            "ORIGINATOR",
            concat!("dropwise ", env!("CARGO_PKG_VERSION")).to_owned(),
        ),
        (
            "FILE_DESCRIPTOR",
            format!("readings of the swatch book {}", settings.name),
        ),
        ("CREATED", created.to_string()),
        (
            "WEIGHTING_FUNCTION",
            format!("ILLUMINANT, {}", viewing.illuminant),
        ),
        (
            "WEIGHTING_FUNCTION",
            format!("OBSERVER, {} degree", viewing.observer),
        ),
        ("SPECULAR", settings.surface.specular().to_string()),
    ];
    let stated = Stated::of(swatches);
    let tables = [(true, false), (true, true), (false, true)].map(|(spectral, lab)| {
        let kind = |swatch: &Swatch| {
            swatch.reflectance.is_some() == spectral && swatch.lab.is_some() == lab
        };
        let mut fields: Vec<String> = ["SAMPLE_ID", "SAMPLE_NAME"].map(str::to_owned).into();
        fields.extend(OWN_FIELDS.map(str::to_owned));
        fields.extend(stated.fields());
        if lab {
            fields.extend(["LAB_L", "LAB_A", "LAB_B"].map(str::to_owned));
        }
        if spectral {
            fields.extend(Spectrum::wavelengths_nm().map(|nm| format!("SPECTRAL_DEC{nm}")));
        }
        let numbered = (1_u32..).zip(swatches);
        let sets = numbered
            .filter(|(_, swatch)| kind(swatch))
            .map(|(row, swatch)| set(row, swatch, &stated));
        Written {
            fields,
            sets: sets.collect(),
        }
    });
    let tables: Vec<Written> = tables
        .into_iter()
        .filter(|table| !table.sets.is_empty())
        .collect();
    cgats::text(&statements, &["SPECULAR"], &tables)
}

/// Which parts of their geometry readings state, beside what the head says of all.
struct Stated {
    specular: bool,
    aperture: bool,
}

impl Stated {
    fn of(swatches: &[Swatch]) -> Self {
        let any = |states: fn(&Swatch) -> bool| swatches.iter().any(states);
        Self {
            specular: any(|swatch| swatch.geometry.specular.is_some()),
            aperture: any(|swatch| swatch.geometry.aperture_mm.is_some()),
        }
    }

    fn fields(&self) -> impl Iterator<Item = String> + use<> {
        let fields = [(self.specular, "SPECULAR"), (self.aperture, "APERTURE_MM")];
        let stated = fields.into_iter().filter(|(stated, _)| *stated);
        stated.map(|(_, field)| field.to_owned())
    }

    /// The values of those fields; empty where a reading does not say.
    fn values(
        &self,
        Geometry {
            specular,
            aperture_mm,
        }: Geometry,
    ) -> impl Iterator<Item = Value> {
        let word = specular.map_or_else(String::new, |specular| specular.to_string());
        let specular = self.specular.then_some(Value::Text(word));
        let aperture = self.aperture.then(|| {
            let unstated = || Value::Text(String::new());
            aperture_mm.map_or_else(unstated, Value::Number)
        });
        specular.into_iter().chain(aperture)
    }
}

/// The values of the reading in row `row` of the log.
fn set(row: u32, swatch: &Swatch, stated: &Stated) -> Vec<Value> {
    let build = &swatch.build;
    let behind = match &build.beneath {
        Underlay::Backing { name, contact } => format!("{name}, {contact}"),
        Underlay::Foam(foam) => format!("{}: {}", foam.base, foam.mix),
    };
    let paint = build.paint.as_ref().map_or_else(String::new, |coat| {
        format!(
            "{}: {}, {}",
            coat.paint.base, coat.paint.mix, coat.dry_thickness
        )
    });
    let mut values = vec![
        Value::Text(row.to_string()),
        Value::Text(swatch.id.clone()),
        Value::Text(swatch.date.to_string()),
        Value::Text(format!(
            "{} {}: {}",
            build.skin.base, build.skin.base_mass, build.skin.mix
        )),
        Value::Number(build.thickness.0),
        Value::Text(behind),
        Value::Text(paint),
    ];
    values.extend(stated.values(swatch.geometry));
    if let Some(lab) = swatch.lab {
        values.extend([lab.l, lab.a, lab.b].map(Value::Number));
    }
    if let Some(reflectance) = &swatch.reflectance {
        values.extend(reflectance.values().map(Value::Number));
    }
    values
}
