//! What is asked for by whoever asks a book: a part, in names that may be left to the book, and where to look for its recipes.

use jiff::civil::Date;

use super::order::PAINTED_TONES;
use crate::colour::Light;
use crate::materials::{Backing, Colorant, Grams, LargestPots, Millimetres, Mix, Shelf};
use crate::search::Limits;
use crate::tone::ToneRole;

/// What is asked for: a part, and where to look for its recipes.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Request {
    /// The skin.
    pub skin: WantedCup,
    /// Its thickness.
    pub thickness: Millimetres,
    /// The thickest skin that the mould leaves room for; no limit where `None`.
    pub max_thickness: Option<Millimetres>,
    /// How far, in ΔE00, a spot where the skin is too thin may look from the rest; the tolerance where `None`.
    pub hide_within: Option<f64>,
    /// Weighed fibre in the skin's cup.
    pub fibre: Grams,
    /// What lies under the skin.
    pub beneath: Beneath,
    /// Paint in each cup of paint, and how thick all its coats dry together.
    pub paint: Option<(WantedCup, Millimetres)>,
    /// The tones that paint is tinted to, of those that the target has.
    pub paint_tones: Vec<ToneRole>,
    /// Whether skin and foam are tinted with drops of one stock, to be made for the part.
    pub one_tint: bool,
    /// The stock of the book that all tints of skin and foam come from.
    pub stock: Option<String>,
    /// The largest pots that can be used up within the pot life; of a cup that is more, one of several pots alike is worked out.
    pub largest_pots: LargestPots,
    /// Whether each of several pots is tinted for itself, in whole drops, instead of part B of all at once.
    pub pot_by_pot: bool,
    /// What may be dropped in; all that is dropped where `None`, with let-downs of what is too coarse.
    pub pigments: Option<Vec<Colorant>>,
    /// What must be in the skin's cup, with the drops if these are settled.
    pub with: Vec<(Colorant, Option<u32>)>,
    /// Pigments to leave out.
    pub without: Vec<String>,
    /// The lights to match under; the book's where there is none.
    pub lights: Vec<Light>,
    /// ΔE00 up to which the skin passes; by lightness where `None`.
    pub tolerance: Option<f64>,
    /// Bounds of the search.
    pub limits: Limits,
    /// The day, by which let-downs of the book are judged.
    pub day: Date,
}

/// A cup that is wanted, all its pots together.
#[derive(Clone, Debug, PartialEq)]
pub struct WantedCup {
    /// The base; the book's first of the kind where `None`.
    pub base: Option<String>,
    /// Mass of the mixed base before pigment.
    pub base_mass: Grams,
}

/// What lies under the skin.
#[derive(Clone, Debug, PartialEq)]
pub enum Beneath {
    /// Foam, to be tinted.
    Foam {
        /// The foam.
        cup: WantedCup,
        /// Whether to the base tone as it is seen bare, and never lighter to leave the skin room.
        at_the_tone: bool,
    },
    /// Foam as it is already.
    PouredFoam {
        /// The foam.
        cup: WantedCup,
        /// What is in it.
        mix: Mix,
    },
    /// A backing of the book, with the skin bonded to it.
    Backing(String),
    /// What is there already, as it was read: a backing that the book does not have yet.
    Read(Box<Backing>),
}

impl Request {
    /// A skin over `beneath`, 2 mm thick, matched on the day `day` under the book's light with all that is dropped.
    pub fn new(skin: WantedCup, beneath: Beneath, day: Date) -> Self {
        Self {
            skin,
            thickness: Millimetres(2.0),
            max_thickness: None,
            hide_within: None,
            fibre: Grams(0.0),
            beneath,
            paint: None,
            paint_tones: PAINTED_TONES.to_vec(),
            one_tint: false,
            stock: None,
            largest_pots: LargestPots::default(),
            pot_by_pot: false,
            pigments: None,
            with: Vec::new(),
            without: Vec::new(),
            lights: Vec::new(),
            tolerance: None,
            limits: Limits::default(),
            day,
        }
    }

    /// `shelf` as it serves on the day of the request, with what was read beneath the skin among its backings.
    pub fn serving(&self, shelf: &Shelf) -> Shelf {
        let mut serving = shelf.on_the_day(self.day);
        if let Beneath::Read(read) = &self.beneath {
            serving.backings.push(read.as_ref().clone());
        }
        serving
    }
}
