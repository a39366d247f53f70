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
    /// Thickness of the skin [default: 2]
    #[arg(long, value_name = "MM")]
    thickness_mm: Option<Millimetres>,
    /// The thickest skin that the mould leaves room for
    #[arg(long, value_name = "MM")]
    max_thickness_mm: Option<Millimetres>,
    /// How far, in ΔE00, a spot where the skin is too thin may look from the rest; the least thickness follows
    /// [default: the tolerance]
    #[arg(long, value_name = "ΔE00", value_parser = not_negative)]
    hide_within: Option<f64>,
    /// Weighed fibre in the skin's cup [default: 0]
    #[arg(long, value_name = "MASS")]
    fibre_g: Option<Grams>,
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
    /// The tones to tint a cup of paint to, of those that the target has: base, flush, shadow [default: flush,shadow]
    #[arg(
        long,
        value_name = "TONE,…",
        value_delimiter = ',',
        requires = "paint_g"
    )]
    paint_tones: Option<Vec<ToneRole>>,
    /// Dry thickness of all coats of paint together [default: 0.03]
    #[arg(long, value_name = "MM", requires = "paint_g")]
    paint_mm: Option<Millimetres>,
    /// The largest pot that you can use up within the pot life; of a cup that is more, one of several pots alike is
    /// worked out, in whole drops, and the limits of drops hold for that pot
    #[arg(long, value_name = "MASS")]
    largest_pot: Option<Grams>,
}

impl PartArguments {
    /// How thick paint dries unless it is said, mm.
    const PAINT_MM: Millimetres = Millimetres(0.03);

    /// What a part can't be without and is not given, and how to give it.
    pub(super) fn lacking(&self) -> impl Iterator<Item = &'static str> {
        let mass = (self.base_g.is_none()).then_some("the mass of skin (--base-g MASS)");
        let beneath = (self.foam_g.is_none() && self.backing.is_none())
            .then_some("what lies beneath it (--foam-g MASS or --backing NAME)");
        mass.into_iter().chain(beneath)
    }

    /// The request for this part on the day `day`; what was not typed is as in `kept`, or as is usual.
    ///
    /// # Errors
    /// Nothing kept, and no mass of skin, or nothing beneath the skin.
    pub(super) fn request(&self, kept: Option<&Request>, day: Date) -> Result<Request> {
        let beneath = self.beneath();
        let mut request = match (kept, self.base_g, &beneath) {
            (Some(kept), ..) => Request {
                day,
                ..kept.clone()
            },
            (None, Some(mass), Some(beneath)) => {
                Request::new(wanted(&None, mass), beneath.clone(), day)
            }
            (None, None, _) => {
                return Err(Error::input("no mass of skin")
                    .mend("give the mass of mixed skin (A + B), in g, with --base-g"));
            }
            (None, _, None) => {
                return Err(Error::input("nothing lies beneath the skin")
                    .mend("give the mass of foam with --foam-g, or name a --backing"));
            }
        };
        if let Some(beneath) = beneath {
            request.beneath = beneath;
        }
        if let Some(mass) = self.base_g {
            request.skin.base_mass = mass;
        }
        if self.base.is_some() {
            request.skin.base.clone_from(&self.base);
        }
        if let Some(mass) = self.paint_g {
            request.paint = Some((wanted(&self.paint, mass), Self::PAINT_MM));
        }
        if let (Some((_, dry_thickness)), Some(typed)) = (&mut request.paint, self.paint_mm) {
            *dry_thickness = typed;
        }
        if let Some(tones) = &self.paint_tones {
            request.paint_tones.clone_from(tones);
        }
        request.thickness = self.thickness_mm.unwrap_or(request.thickness);
        request.max_thickness = self.max_thickness_mm.or(request.max_thickness);
        request.hide_within = self.hide_within.or(request.hide_within);
        request.fibre = self.fibre_g.unwrap_or(request.fibre);
        request.one_tint |= self.one_tint;
        request.stock = self.stock.clone().or(request.stock);
        request.largest_pot = self.largest_pot.or(request.largest_pot);
        Ok(request)
    }

    /// What was typed to lie beneath the skin.
    fn beneath(&self) -> Option<Beneath> {
        let Some(mass) = self.foam_g else {
            return self.backing.clone().map(Beneath::Backing);
        };
        let cup = wanted(&self.foam, mass);
        Some(match &self.foam_mix {
            Some(mix) => Beneath::PouredFoam {
                cup,
                mix: mix.clone(),
            },
            None => Beneath::Foam {
                cup,
                at_the_tone: self.foam_at_tone,
            },
        })
    }
}

fn wanted(base: &Option<String>, base_mass: Grams) -> WantedCup {
    WantedCup {
        base: base.clone(),
        base_mass,
    }
}
