//! What is asked of a match: the part that is to be cast.

use super::target_arguments::{names_no_file, typed_target};
use super::typed::not_negative;
use crate::book::Book;
use crate::error::{Error, Result};
use crate::jobs::bases::base_name;
use crate::jobs::matching::{Beneath, Request, WantedCup};
use crate::jobs::{moulds, targeting};
use crate::materials::{Backing, Grams, Kind, LargestPots, Millimetres, Mix, Mould, Shelf};
use crate::tone::ToneRole;
use jiff::civil::Date;

/// The part that is to be cast.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "The part", group = clap::ArgGroup::new("foam_amount").multiple(true))]
pub(super) struct PartArguments {
    /// The skin's base [default: the book's first skin]
    #[arg(long, value_name = "NAME")]
    base: Option<String>,
    /// Mass of mixed skin (A + B)
    #[arg(long, value_name = "MASS")]
    base_g: Option<Grams>,
    /// A mould of the book: the masses of skin and foam that are not given, and its thickness, are those that it takes
    #[arg(long, value_name = "NAME", group = "foam_amount", conflicts_with_all = ["paint_only", "foam_only"])]
    mould: Option<String>,
    /// Paint alone, over what is there already (--over, or a --backing)
    #[arg(long, requires = "paint_g", conflicts_with_all = ["foam_only", "base", "base_g", "foam_g", "fibre_g", "thickness_mm", "one_tint"])]
    paint_only: bool,
    /// Foam alone, as it is seen bare
    #[arg(long, requires = "foam_g", conflicts_with_all = ["base", "base_g", "paint_g", "fibre_g", "foam_mix", "foam_at_tone", "one_tint", "over"])]
    foam_only: bool,
    /// What is there already, to be painted or cast over, by how it reads: a colour, a swatch of the book, or a file kept by
    /// `target --save`
    #[arg(long, value_name = "L,a,b|SWATCH|FILE", allow_hyphen_values = true, conflicts_with_all = ["foam_g", "backing"])]
    over: Option<String>,
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
    #[arg(
        long,
        value_name = "MASS",
        conflicts_with = "backing",
        group = "foam_amount"
    )]
    foam_g: Option<Grams>,
    /// The foam [default: the book's first foam]
    #[arg(long, value_name = "NAME", requires = "foam_amount")]
    foam: Option<String>,
    /// What is in that foam already: it stays as it is, and the skin is worked out over it; "" is foam without pigment
    #[arg(
        long,
        value_name = "MIX",
        requires = "foam_amount",
        conflicts_with = "backing"
    )]
    foam_mix: Option<Mix>,
    /// Tint the foam to the base tone as it is seen bare, and never lighter to leave the skin room
    #[arg(long, requires = "foam_amount", conflicts_with_all = ["foam_mix", "backing"])]
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
    /// The same of foam, which sets sooner [default: as for the skin]
    #[arg(long, value_name = "MASS")]
    largest_foam_pot: Option<Grams>,
}

impl PartArguments {
    /// How thick paint dries unless it is said, mm.
    const PAINT_MM: Millimetres = Millimetres(0.03);

    /// How thick foam is poured that is matched alone: light does not get through.
    const FOAM_MM: Millimetres = Millimetres(30.0);

    /// What a part can't be without and is not given, and how to give it.
    pub(super) fn lacking(&self) -> impl Iterator<Item = &'static str> {
        let is_known = self.mould.is_some() || self.paint_only || self.foam_only;
        let mass =
            (self.base_g.is_none() && !is_known).then_some("the mass of skin (--base-g MASS)");
        let is_bare = [&self.mould, &self.backing, &self.over]
            .iter()
            .all(|each| each.is_none())
            && self.foam_g.is_none();
        let beneath = is_bare.then_some(if self.paint_only {
            "what it goes over (--over L,a,b, SWATCH or FILE)"
        } else {
            "what lies beneath it (--foam-g MASS, --backing NAME or --over L,a,b)"
        });
        mass.into_iter().chain(beneath)
    }

    /// The request for this part of `book` on the day `day`; what was not typed is as in `kept`, or as is usual.
    ///
    /// # Errors
    /// Nothing kept, and no mass of skin, or nothing beneath the skin; nothing that can be read as what is there already.
    pub(super) fn request(
        &self,
        kept: Option<&Request>,
        book: &Book,
        day: Date,
    ) -> Result<Request> {
        let mould = self
            .mould
            .as_ref()
            .map(|name| book.mould(name))
            .transpose()?;
        let mould = mould.as_ref();
        let beneath = self.beneath(book, mould)?;
        let skin = self.in_the_skins_place(book, mould)?;
        let mut request = match (kept, &skin, &beneath) {
            (Some(kept), ..) => Request {
                day,
                ..kept.clone()
            },
            (None, Some(skin), Some(beneath)) => Request::new(skin.clone(), beneath.clone(), day),
            (None, None, _) => {
                return Err(Error::input("no mass of skin")
                    .mend("give the mass of mixed skin (A + B), in g, with --base-g"));
            }
            (None, _, None) => {
                return Err(Error::input(if self.paint_only {
                    "nothing to paint over"
                } else {
                    "nothing lies beneath the skin"
                }).mend(
                    "give the mass of foam with --foam-g, name a --backing, or say with --over how it reads",
                ));
            }
        };
        if let Some(beneath) = beneath {
            request.beneath = beneath;
        }
        if let Some(skin) = skin {
            request.skin.base_mass = skin.base_mass;
            request.skin.base = skin.base.or(request.skin.base);
        } else if self.base.is_some() {
            request.skin.base.clone_from(&self.base);
        }
        if let (Some(mass), false) = (self.paint_g, self.paint_only) {
            request.paint = Some((wanted(&self.paint, mass), Self::PAINT_MM));
        }
        if let (Some((_, dry_thickness)), Some(typed)) = (&mut request.paint, self.paint_mm) {
            *dry_thickness = typed;
        }
        if let Some(tones) = &self.paint_tones {
            request.paint_tones.clone_from(tones);
        }
        let alone = match (self.paint_only, self.foam_only) {
            (true, _) => Some(self.paint_mm.unwrap_or(Self::PAINT_MM)),
            (_, true) => Some(Self::FOAM_MM),
            (false, false) => None,
        };
        let of_mould = mould.and_then(|mould| mould.thickness);
        let thickness = self.thickness_mm.or(alone).or(of_mould);
        request.thickness = thickness.unwrap_or(request.thickness);
        request.max_thickness = self.max_thickness_mm.or(request.max_thickness);
        request.hide_within = self.hide_within.or(request.hide_within);
        request.fibre = self.fibre_g.unwrap_or(request.fibre);
        request.one_tint |= self.one_tint;
        request.stock = self.stock.clone().or(request.stock);
        let typed = LargestPots {
            any: self.largest_pot,
            foam: self.largest_foam_pot,
        };
        request.largest_pots = typed.or(request.largest_pots);
        Ok(request)
    }

    /// What was typed of the cup in the skin's place: the skin, or what is matched alone.
    fn in_the_skins_place(&self, book: &Book, mould: Option<&Mould>) -> Result<Option<WantedCup>> {
        let first = |name: &Option<String>, kind| base_name(book.shelf(), name.as_deref(), kind);
        let (base, mass) = if self.paint_only {
            (Some(first(&self.paint, Kind::Paint)?), self.paint_g)
        } else if self.foam_only {
            (Some(first(&self.foam, Kind::Foam)?), self.foam_g)
        } else if let (Some(mould), None) = (mould, self.base_g) {
            let base = self.base.clone();
            let thickness = self.thickness_mm;
            let mass = moulds::mass(
                book.shelf(),
                mould,
                (base.as_deref(), Kind::Skin),
                thickness,
            )?;
            (base, Some(mass))
        } else {
            (self.base.clone(), self.base_g)
        };
        Ok(mass.map(|mass| wanted(&base, mass)))
    }

    /// The tone that paint alone is aimed at, where one is typed.
    ///
    /// # Errors
    /// Several tones, which take a cup each.
    pub(super) fn tone_of_paint_alone(&self) -> Result<Option<ToneRole>> {
        match self.paint_tones.as_deref().filter(|_| self.paint_only) {
            None | Some([]) => Ok(None),
            Some([tone]) => Ok(Some(*tone)),
            Some(_) => Err(Error::input("paint alone is tinted to one tone at a time")
                .mend("name one in --paint-tones, and the next in another match")),
        }
    }

    /// What was typed to lie beneath the skin.
    fn beneath(&self, book: &Book, mould: Option<&Mould>) -> Result<Option<Beneath>> {
        if let Some(over) = &self.over {
            return there_already(over, book).map(|read| Some(Beneath::Read(Box::new(read))));
        }
        if self.foam_only {
            return Ok(Some(Beneath::Backing(Shelf::WHITE_CARD.to_owned())));
        }
        if let Some(backing) = &self.backing {
            return Ok(Some(Beneath::Backing(backing.clone())));
        }
        let mass = match (self.foam_g, mould) {
            (Some(mass), _) => mass,
            (None, Some(mould)) if mould.holds_foam() => {
                let foam = (self.foam.as_deref(), Kind::Foam);
                moulds::mass(book.shelf(), mould, foam, None)?
            }
            (None, _) => return Ok(None),
        };
        let cup = wanted(&self.foam, mass);
        Ok(Some(match &self.foam_mix {
            Some(mix) => Beneath::PouredFoam {
                cup,
                mix: mix.clone(),
            },
            None => Beneath::Foam {
                cup,
                at_the_tone: self.foam_at_tone,
            },
        }))
    }
}

/// What is there already, by how it reads.
fn there_already(over: &str, book: &Book) -> Result<Backing> {
    let settings = &book.shelf().settings;
    let swatch = (book.swatches()?.iter()).find(|swatch| swatch.id == over);
    let (name, target) = match swatch {
        Some(_) => (
            format!("casting {over}"),
            targeting::like(book, over, None)?,
        ),
        None if names_no_file(over) => {
            let finding = format!(
                "\"{}\" is no colour, no swatch of the book, and no file that is there",
                over.escape_debug()
            );
            return Err(Error::input(finding)
                .mend("write a colour as L,a,b, or name what was logged, such as S012"));
        }
        None => (
            format!("cast of {over}"),
            typed_target(over, settings.viewing)?,
        ),
    };
    Ok(targeting::beneath(&name, &target, settings))
}

fn wanted(base: &Option<String>, base_mass: Grams) -> WantedCup {
    WantedCup {
        base: base.clone(),
        base_mass,
    }
}
