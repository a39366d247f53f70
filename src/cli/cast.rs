//! What was cast, as it is typed.

use crate::error::{Error, Result};
use crate::materials::{Build, Coat, Contact, Grams, Millimetres, Mix, Poured, Underlay};

/// What was cast.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "What was cast")]
pub(super) struct Cast {
    /// The skin's base, or that of a one-layer chip
    #[arg(long, value_name = "NAME")]
    base: String,
    /// Mass of its mixed base (A + B)
    #[arg(long, value_name = "MASS")]
    base_g: Grams,
    /// What went in, as in "iron oxide red 3; fibre 12.5 g"
    #[arg(
        long,
        value_name = "MIX",
        default_value = "",
        hide_default_value = true
    )]
    mix: Mix,
    /// Its thickness, measured
    #[arg(long, value_name = "MM")]
    thickness_mm: Millimetres,
    /// The card or backing behind it
    #[arg(long, value_name = "NAME", conflicts_with = "foam")]
    backing: Option<String>,
    /// bonded: cast on the backing or wetted to it; dry: laid on it, with air between
    #[arg(long, value_name = "bonded|dry", default_value_t = Contact::Bonded, requires = "backing")]
    contact: Contact,
    /// The foam behind it
    #[arg(long, value_name = "NAME", requires = "foam_g")]
    foam: Option<String>,
    /// Mass of the mixed foam
    #[arg(long, value_name = "MASS", requires = "foam")]
    foam_g: Option<Grams>,
    /// What went into the foam
    #[arg(
        long,
        value_name = "MIX",
        requires = "foam",
        default_value = "",
        hide_default_value = true
    )]
    foam_mix: Mix,
    /// The paint over it
    #[arg(long, value_name = "NAME", requires_all = ["paint_g", "paint_mm"])]
    paint: Option<String>,
    /// Mass of the paint's clear base
    #[arg(long, value_name = "MASS", requires = "paint")]
    paint_g: Option<Grams>,
    /// What went into the paint
    #[arg(
        long,
        value_name = "MIX",
        requires = "paint",
        default_value = "",
        hide_default_value = true
    )]
    paint_mix: Mix,
    /// Dry thickness of all its coats
    #[arg(long, value_name = "MM", requires = "paint")]
    paint_mm: Option<Millimetres>,
}

impl Cast {
    pub(super) fn into_build(self) -> Result<Build> {
        let poured = |base: String, base_mass: Option<Grams>, mix: Mix| Poured {
            base,
            // The arguments' rules ask for a mass wherever a base is named.
            base_mass: base_mass.unwrap_or_default(),
            mix,
        };
        let beneath = match (self.foam, self.backing) {
            (Some(foam), _) => Underlay::Foam(poured(foam, self.foam_g, self.foam_mix)),
            (None, Some(name)) => Underlay::Backing {
                name,
                contact: self.contact,
            },
            (None, None) => {
                return Err(Error::input("nothing lies beneath the skin")
                    .mend("name a --backing or a --foam"));
            }
        };
        let paint = self.paint.map(|paint| Coat {
            paint: poured(paint, self.paint_g, self.paint_mix),
            dry_thickness: self.paint_mm.unwrap_or_default(),
        });
        Ok(Build {
            skin: poured(self.base, Some(self.base_g), self.mix),
            thickness: self.thickness_mm,
            beneath,
            paint,
        })
    }
}
