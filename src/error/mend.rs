//! Advice as data: words, and the settings that they speak of, which each face names in its own way.

use std::borrow::Cow;
use std::fmt;

/// What a request can set, as far as advice speaks of it. A command line names it as an option, a page as a field or a
/// button, and a program as the field of a request; [`Display`](fmt::Display) has plain words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Setting {
    /// The swatch book to work in.
    Book,
    /// The day on which something is done.
    Day,
    /// A colour that is typed.
    Colour,
    /// Where the chart lies in a photograph.
    Chart,
    /// Where a board of chips lies in a photograph.
    Grid,
    /// How long a search may take.
    TimeLimit,
    /// What lies beneath a skin, other than foam.
    Backing,
    /// The mass of foam behind a skin.
    FoamMass,
    /// The base of the skin.
    SkinBase,
    /// The skin's thickness.
    Thickness,
    /// The thickest skin that the mould leaves room for.
    MaxThickness,
    /// The weighed fibre in the skin's cup.
    FibreMass,
    /// The tones that paint is tinted to.
    PaintTones,
    /// The dry thickness of all coats of paint together.
    PaintThickness,
    /// The pigments to choose from.
    Pigments,
    /// The pigments that must be in a cup.
    With,
    /// The pigments to leave out.
    Without,
    /// The most drops of one pigment.
    MaxDrops,
    /// The most drops of all pigments together.
    MaxTotalDrops,
    /// The most different pigments.
    MaxPigments,
    /// The most drops to add to a cup.
    MaxAdd,
    /// The least contrast ratio.
    MinContrast,
    /// The greatest contrast ratio.
    MaxContrast,
    /// Whether one stock tints skin and foam.
    OneTint,
    /// The stock that skin and foam are tinted with.
    Stock,
    /// The paint over a casting.
    Paint,
    /// The spectrum of a reading.
    SpectrumFile,
    /// Readings of an instrument.
    Readings,
    /// A flush tone that is typed.
    Flush,
    /// Which readings of a swatch count.
    LikeOver,
    /// Whether the answer gives its reasons.
    Why,
    /// A part that is kept by name.
    Part,
    /// That what is kept gives way.
    Replace,
    /// How far the work has come: part B tinted, a test piece cured, the part itself.
    Stage,
    /// Which logged casting of a part a reading is of.
    Casting,
    /// What really went into a cup.
    Poured,
    /// Letting go of a contrast ratio that is held.
    FreeContrast,
    /// That a file of the user's own gives way.
    Force,
}

impl Setting {
    /// All of them.
    pub const ALL: [Self; 38] = [
        Self::Book,
        Self::Day,
        Self::Colour,
        Self::Chart,
        Self::Grid,
        Self::TimeLimit,
        Self::Backing,
        Self::FoamMass,
        Self::SkinBase,
        Self::Thickness,
        Self::MaxThickness,
        Self::FibreMass,
        Self::PaintTones,
        Self::PaintThickness,
        Self::Pigments,
        Self::With,
        Self::Without,
        Self::MaxDrops,
        Self::MaxTotalDrops,
        Self::MaxPigments,
        Self::MaxAdd,
        Self::MinContrast,
        Self::MaxContrast,
        Self::OneTint,
        Self::Stock,
        Self::Paint,
        Self::SpectrumFile,
        Self::Readings,
        Self::Flush,
        Self::LikeOver,
        Self::Why,
        Self::Part,
        Self::Replace,
        Self::Stage,
        Self::Casting,
        Self::Poured,
        Self::FreeContrast,
        Self::Force,
    ];
}

impl fmt::Display for Setting {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Book => "the book",
            Self::Day => "the day",
            Self::Colour => "the colour",
            Self::Chart => "the chart's corners",
            Self::Grid => "the board's corners",
            Self::TimeLimit => "the time limit",
            Self::Backing => "the backing",
            Self::FoamMass => "the mass of foam",
            Self::SkinBase => "the skin's base",
            Self::Thickness => "the thickness",
            Self::MaxThickness => "the room in the mould",
            Self::FibreMass => "the mass of fibre",
            Self::PaintTones => "the tones to paint",
            Self::PaintThickness => "the paint's thickness",
            Self::Pigments => "the pigments to choose from",
            Self::With => "the pigments that must be in",
            Self::Without => "the pigments to leave out",
            Self::MaxDrops => "the most drops of one pigment",
            Self::MaxTotalDrops => "the most drops in all",
            Self::MaxPigments => "the most pigments",
            Self::MaxAdd => "the most drops to add",
            Self::MinContrast => "the least contrast ratio",
            Self::MaxContrast => "the greatest contrast ratio",
            Self::OneTint => "the one stock",
            Self::Stock => "the stock of the shelf",
            Self::Paint => "the paint",
            Self::SpectrumFile => "the spectrum's file",
            Self::Readings => "a file of readings",
            Self::Flush => "the flush",
            Self::LikeOver => "what lies beneath",
            Self::Why => "the reasons",
            Self::Part => "the part",
            Self::Replace => "replacing",
            Self::Stage => "the stage",
            Self::Casting => "the casting",
            Self::Poured => "what was really poured",
            Self::FreeContrast => "any contrast",
            Self::Force => "force",
        })
    }
}

/// How a face names a setting.
pub type Naming = fn(Setting) -> Cow<'static, str>;

/// The mend of a fault, or another piece of advice: words with [`Setting`]s among them.
///
/// ```
/// use dropwise::{Mend, Setting};
///
/// let mend = Mend::from("give it longer with ").set(Setting::TimeLimit).and(", or fewer pigments");
/// assert_eq!(mend.to_string(), "give it longer with the time limit, or fewer pigments");
/// assert_eq!(mend.settings().collect::<Vec<_>>(), [Setting::TimeLimit]);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Mend(Vec<Piece>);

#[derive(Clone, Debug, PartialEq)]
enum Piece {
    Words(String),
    Setting(Setting),
}

impl Mend {
    /// Speaks of `setting` next.
    #[must_use]
    pub fn set(mut self, setting: Setting) -> Self {
        self.0.push(Piece::Setting(setting));
        self
    }

    /// Goes on with `words`.
    #[must_use]
    pub fn and(mut self, words: impl Into<String>) -> Self {
        self.0.push(Piece::Words(words.into()));
        self
    }

    /// The settings that it speaks of, in its order.
    pub fn settings(&self) -> impl Iterator<Item = Setting> {
        self.0.iter().filter_map(|piece| match piece {
            Piece::Words(_) => None,
            Piece::Setting(setting) => Some(*setting),
        })
    }

    /// The advice in one line, with settings as `naming` calls them.
    pub fn worded(&self, naming: Naming) -> String {
        let pieces = self.0.iter().map(|piece| match piece {
            Piece::Words(words) => Cow::Borrowed(words.as_str()),
            Piece::Setting(setting) => naming(*setting),
        });
        pieces.collect()
    }
}

impl<Words: Into<String>> From<Words> for Mend {
    fn from(words: Words) -> Self {
        Self(vec![Piece::Words(words.into())])
    }
}

impl From<Setting> for Mend {
    fn from(setting: Setting) -> Self {
        Self(vec![Piece::Setting(setting)])
    }
}

impl fmt::Display for Mend {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.worded(|setting| setting.to_string().into()))
    }
}
