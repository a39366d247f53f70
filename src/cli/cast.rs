//! What was cast, as it is typed.

use jiff::civil::Date;

use crate::book::Book;
use crate::error::{Error, Result};
use crate::jobs::logging::{CupOf, OfPart};
use crate::materials::{Build, Coat, Contact, Grams, Millimetres, Mix, Poured, Underlay};
use crate::tone::ToneRole;

/// What was cast.
#[derive(Clone, Debug, clap::Args)]
#[command(next_help_heading = "What was cast")]
pub(super) struct Cast {
    /// A part that is kept by `match --part`: what its recipe pours was cast, and nothing is retyped
    #[arg(long, value_name = "NAME", conflicts_with_all = ["base", "base_g", "mix", "backing", "foam", "foam_g", "foam_mix", "paint", "paint_g", "paint_mix", "paint_mm"])]
    part: Option<String>,
    /// What of that part was read: base (unpainted, the default), or under the paint of its flush or shadow
    #[arg(long, value_name = "TONE", requires = "part")]
    tone: Option<ToneRole>,
    /// The skin's base, or that of a one-layer chip
    #[arg(long, value_name = "NAME", required_unless_present = "part")]
    base: Option<String>,
    /// Mass of its mixed base (A + B)
    #[arg(long, value_name = "MASS", required_unless_present = "part")]
    base_g: Option<Grams>,
    /// What went in, as in "iron oxide red 3; fibre 12.5 g"
    #[arg(
        long,
        value_name = "MIX",
        default_value = "",
        hide_default_value = true
    )]
    mix: Mix,
    /// Its thickness, measured [default: that of the part]
    #[arg(long, value_name = "MM", required_unless_present = "part")]
    thickness_mm: Option<Millimetres>,
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
    /// The part that it is a casting of, where one is named.
    pub(super) fn of_part(&self) -> Option<OfPart<'_>> {
        self.part.as_deref().map(|name| OfPart {
            name,
            tone: self.tone,
            thickness: self.thickness_mm,
            cup: CupOf::Bench,
        })
    }

    /// What was cast, of a part of `book` as it would be measured out on the day `day`; as it is logged, where it is a part's
    /// `casting`.
    pub(super) fn build(&self, book: &Book, casting: Option<&str>, day: Date) -> Result<Build> {
        match self.of_part() {
            Some(of) => OfPart {
                cup: casting.map_or(of.cup, CupOf::Casting),
                ..of
            }
            .build(book, day),
            None => self.clone().into_build(),
        }
    }

    fn into_build(self) -> Result<Build> {
        // The parser lets what belongs to a foam pass where a backing stands, which no foam goes with.
        if self.foam.is_none() && (self.foam_g.is_some() || !self.foam_mix.is_empty()) {
            let finding = "the mass or the mix of a foam is given, and no foam is named";
            return Err(
                Error::input(finding).mend("name the --foam, or leave --foam-g and --foam-mix out")
            );
        }
        let poured = |base: String, base_mass: Option<Grams>, mix: Mix| Poured {
            base,
            // The arguments' rules ask for what is taken for granted here.
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
            skin: poured(self.base.unwrap_or_default(), self.base_g, self.mix),
            thickness: self.thickness_mm.unwrap_or_default(),
            beneath,
            paint,
        })
    }
}
