//! What is asked of a match: the part that is to be cast.

use super::typed::not_negative;
use crate::error::{Error, Result};
use crate::jobs::matching::{Beneath, Request, WantedCup};
use crate::materials::{Grams, Millimetres, Mix};
use crate::tone::ToneRole;
use jiff::civil::Date;

/// The part that is to be cast.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "The part")]
pub(super) struct PartArguments {
    /// The skin's base [default: the book's first skin]
    #[arg(long, value_name = "NAME")]
    base: Option<String>,
    /// Mass of mixed skin (A + B)
    #[arg(long, value_name = "MASS")]
    base_g: Option<Grams>,
    /// Thickness of the skin
    #[arg(long, value_name = "MM", default_value = "2")]
    thickness_mm: Millimetres,
    /// The thickest skin that the mould leaves room for
    #[arg(long, value_name = "MM")]
    max_thickness_mm: Option<Millimetres>,
    /// How far, in ΔE00, a spot where the skin is too thin may look from the rest; the least thickness follows
    /// [default: the tolerance]
    #[arg(long, value_name = "ΔE00", value_parser = not_negative)]
    hide_within: Option<f64>,
    /// Weighed fibre in the skin's cup
    #[arg(long, value_name = "MASS", default_value = "0")]
    fibre_g: Grams,
    /// Mass of mixed foam (A + B) behind the skin, to be tinted too
    #[arg(long, value_name = "MASS", conflicts_with = "backing")]
    foam_g: Option<Grams>,
    /// The foam [default: the book's first foam]
    #[arg(long, value_name = "NAME", requires = "foam_g")]
    foam: Option<String>,
    /// What is in that foam already: it stays as it is, and the skin is worked out over it; "" is foam without pigment
    #[arg(
        long,
        value_name = "MIX",
        requires = "foam_g",
        conflicts_with = "backing"
    )]
    foam_mix: Option<Mix>,
    /// Tint the foam to the base tone as it is seen bare, and never lighter to leave the skin room
    #[arg(long, requires = "foam_g", conflicts_with_all = ["foam_mix", "backing"])]
    foam_at_tone: bool,
    /// Tint skin and foam with drops of one stock, to be made for this part: pigments weighed together once; says what
    /// that costs in ΔE00 against recipes of their own, in a second search as long as the first
    #[arg(long)]
    one_tint: bool,
    /// Tint skin and foam with drops of this stock of the book, and say what that costs likewise
    #[arg(long, value_name = "NAME", conflicts_with = "one_tint")]
    stock: Option<String>,
    /// What the skin is bonded to instead of foam: a backing of the book
    #[arg(long, value_name = "NAME")]
    backing: Option<String>,
    /// Mass of clear paint in each cup of paint
    #[arg(long, value_name = "MASS")]
    paint_g: Option<Grams>,
    /// The paint [default: the book's first paint]
    #[arg(long, value_name = "NAME", requires = "paint_g")]
    paint: Option<String>,
    /// The tones to tint a cup of paint to, of those that the target has: base, flush, shadow
    #[arg(
        long,
        value_name = "TONE,…",
        value_delimiter = ',',
        requires = "paint_g",
        default_value = "flush,shadow"
    )]
    paint_tones: Vec<ToneRole>,
    /// Dry thickness of all coats of paint together
    #[arg(long, value_name = "MM", default_value = "0.03", requires = "paint_g")]
    paint_mm: Millimetres,
    /// The largest pot that you can use up within the pot life; of a cup that is more, one of several pots alike is
    /// worked out, in whole drops, and the limits of drops hold for that pot
    #[arg(long, value_name = "MASS")]
    largest_pot: Option<Grams>,
}

impl PartArguments {
    /// What a part can't be without and is not given, and how to give it.
    pub(super) fn lacking(&self) -> impl Iterator<Item = &'static str> {
        let mass = (self.base_g.is_none()).then_some("the mass of skin (--base-g MASS)");
        let beneath = (self.foam_g.is_none() && self.backing.is_none())
            .then_some("what lies beneath it (--foam-g MASS or --backing NAME)");
        mass.into_iter().chain(beneath)
    }

    /// The request for this part on the day `day`.
    ///
    /// # Errors
    /// Nothing beneath the skin.
    pub(super) fn request(&self, day: Date) -> Result<Request> {
        let wanted = |base: &Option<String>, base_mass| WantedCup {
            base: base.clone(),
            base_mass,
        };
        let Some(base_mass) = self.base_g else {
            return Err(Error::input("no mass of skin")
                .mend("give the mass of mixed skin (A + B), in g, with --base-g"));
        };
        let beneath = match (self.foam_g, &self.backing) {
            (Some(mass), _) => {
                let cup = wanted(&self.foam, mass);
                match &self.foam_mix {
                    Some(mix) => Beneath::PouredFoam {
                        cup,
                        mix: mix.clone(),
                    },
                    None => Beneath::Foam {
                        cup,
                        at_the_tone: self.foam_at_tone,
                    },
                }
            }
            (None, Some(name)) => Beneath::Backing(name.clone()),
            (None, None) => {
                return Err(Error::input("nothing lies beneath the skin")
                    .mend("give the mass of foam with --foam-g, or name a --backing"));
            }
        };
        let mut request = Request::new(wanted(&self.base, base_mass), beneath, day);
        request.thickness = self.thickness_mm;
        request.max_thickness = self.max_thickness_mm;
        request.hide_within = self.hide_within;
        request.fibre = self.fibre_g;
        request.paint = self
            .paint_g
            .map(|mass| (wanted(&self.paint, mass), self.paint_mm));
        request.paint_tones.clone_from(&self.paint_tones);
        request.one_tint = self.one_tint;
        request.stock.clone_from(&self.stock);
        request.largest_pot = self.largest_pot;
        Ok(request)
    }
}
