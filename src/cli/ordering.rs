//! What is asked of a match: the part, and the bounds of the search.

use std::collections::HashSet;
use std::str::FromStr;
use std::time::Duration;

use super::input::{Lights, contrast_ratio, count_to, not_negative, time_limit};
use crate::batch;
use crate::colour::Light;
use crate::error::{Error, Result};
use crate::forecast::tolerance;
use crate::materials::{
    Amount, Build, Colorant, Contact, Grams, Kind, Millimetres, Mix, Poured, Shelf,
};
use crate::recipe::{Order, OrderedCup, OrderedUnderlay};
use crate::search::{Limits, Stop};
use crate::tone::{Target, ToneRole};

/// The part that is to be cast.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "The part")]
pub(super) struct PartArguments {
    /// The skin's base [default: the book's first skin]
    #[arg(long, value_name = "NAME")]
    pub(super) base: Option<String>,
    /// Mass of mixed skin (A + B)
    #[arg(long, value_name = "MASS")]
    pub(super) base_g: Grams,
    /// Thickness of the skin
    #[arg(long, value_name = "MM", default_value = "2")]
    pub(super) thickness_mm: Millimetres,
    /// The thickest skin that the mould leaves room for
    #[arg(long, value_name = "MM")]
    pub(super) max_thickness_mm: Option<Millimetres>,
    /// How far, in ΔE00, a spot where the skin is too thin may look from the rest; the least thickness follows
    /// [default: the tolerance]
    #[arg(long, value_name = "ΔE00", value_parser = not_negative)]
    pub(super) hide_within: Option<f64>,
    /// Weighed fibre in the skin's cup
    #[arg(long, value_name = "MASS", default_value = "0")]
    pub(super) fibre_g: Grams,
    /// Mass of mixed foam (A + B) behind the skin, to be tinted too
    #[arg(long, value_name = "MASS", conflicts_with = "backing")]
    pub(super) foam_g: Option<Grams>,
    /// The foam [default: the book's first foam]
    #[arg(long, value_name = "NAME", requires = "foam_g")]
    pub(super) foam: Option<String>,
    /// What is in that foam already: it stays as it is, and the skin is worked out over it; "" is foam without pigment
    #[arg(
        long,
        value_name = "MIX",
        requires = "foam_g",
        conflicts_with = "backing"
    )]
    pub(super) foam_mix: Option<Mix>,
    /// Tint the foam to the base tone as it is seen bare, and never lighter to leave the skin room
    #[arg(long, requires = "foam_g", conflicts_with_all = ["foam_mix", "backing"])]
    pub(super) foam_at_tone: bool,
    /// Tint skin and foam with drops of one stock, pigments stirred together once; says what that costs in ΔE00
    /// against recipes of their own, in a second search as long as the first
    #[arg(long)]
    pub(super) one_tint: bool,
    /// What the skin is bonded to instead of foam: a backing of the book
    #[arg(long, value_name = "NAME")]
    pub(super) backing: Option<String>,
    /// Mass of clear paint in each cup of paint
    #[arg(long, value_name = "MASS")]
    pub(super) paint_g: Option<Grams>,
    /// The paint [default: the book's first paint]
    #[arg(long, value_name = "NAME", requires = "paint_g")]
    pub(super) paint: Option<String>,
    /// The tones to tint a cup of paint to, of those that the target has: base, flush, shadow
    #[arg(
        long,
        value_name = "TONE,…",
        value_delimiter = ',',
        requires = "paint_g",
        default_value = "flush,shadow"
    )]
    pub(super) paint_tones: Vec<ToneRole>,
    /// Dry thickness of all coats of paint together
    #[arg(long, value_name = "MM", default_value = "0.03", requires = "paint_g")]
    pub(super) paint_mm: Millimetres,
    /// The largest pot that you can use up within the pot life; of a cup that is more, one of several pots alike is
    /// worked out, in whole drops, and the limits of drops hold for that pot
    #[arg(long, value_name = "MASS")]
    pub(super) largest_pot: Option<Grams>,
}

impl PartArguments {
    /// Refuses a skin that is thicker than the mould leaves room for.
    fn check_room(&self) -> Result<()> {
        let (Millimetres(skin), Some(Millimetres(room))) =
            (self.thickness_mm, self.max_thickness_mm)
        else {
            return Ok(());
        };
        if skin > room {
            let finding =
                format!("the skin is {skin} mm thick, and the mould leaves room for {room} mm");
            return Err(Error::input(finding).mend(format!(
                "write --thickness-mm {room} or less, or raise --max-thickness-mm"
            )));
        }
        Ok(())
    }

    /// How many pots alike a cup of `batch` is mixed in, one after the other.
    pub(super) fn pots(&self, batch: Grams) -> Result<u32> {
        batch::pots(batch, self.largest_pot)
    }

    /// How much of `batch` is in each of those pots.
    fn in_one_pot(&self, batch: Grams) -> Result<Grams> {
        Ok(Grams(batch.0 / f64::from(self.pots(batch)?)))
    }

    /// The thickest skin that there may be.
    pub(super) fn thickest(&self) -> Millimetres {
        let (_, most) = Build::THICKNESS_MM;
        self.max_thickness_mm.unwrap_or(Millimetres(most))
    }
}

/// Where to look for recipes, and how far.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "The search")]
pub(super) struct SearchArguments {
    /// Only these pigments, let-downs as `name 1:10` [default: all that are dropped, and a let-down of those
    /// of which one drop is too much]
    #[arg(long, value_name = "NAME,…", value_delimiter = ',')]
    pub(super) pigments: Option<Vec<Colorant>>,
    /// Pigments that must be in the skin's cup; with a count, `name=3` or `name 1:10=3`, just so many drops of it
    #[arg(long, value_name = "NAME[=N],…", value_delimiter = ',')]
    pub(super) with: Vec<With>,
    /// Pigments to leave out
    #[arg(
        long,
        value_name = "NAME,…",
        value_delimiter = ',',
        conflicts_with = "pigments"
    )]
    pub(super) without: Vec<String>,
    #[command(flatten)]
    pub(super) contrast: ContrastArguments,
    /// Most drops of one pigment in a cup [default: 40, and more in a cup above 600 g or in a foam]
    #[arg(long, value_name = "N", value_parser = count_to::<u32>(10_000))]
    pub(super) max_drops: Option<u32>,
    /// Most drops in a cup [default: 60, and more in a cup above 600 g or in a foam]
    #[arg(long, value_name = "N", value_parser = count_to::<u32>(10_000))]
    pub(super) max_total_drops: Option<u32>,
    /// Most different pigments in a cup
    #[arg(long, value_name = "N", value_parser = count_to::<usize>(1000), default_value_t = Limits::default().max_pigments)]
    pub(super) max_pigments: usize,
    #[command(flatten)]
    pub(super) lights: Lights,
    /// How many recipes to give for each cup
    #[arg(
        long,
        value_name = "N",
        value_parser = count_to::<usize>(1000),
        default_value_t = 1)]
    pub(super) top: usize,
    /// Stop when no recipe can be nearer by more than this ΔE00, and among equals to within it take the one of
    /// fewest pigments and drops. 0 finds the best itself, and with --top the best of those that differ in what pigment they
    /// hold, however it is let down
    #[arg(long, value_name = "GAP", value_parser = not_negative, default_value_t = Limits::default().within)]
    pub(super) within: f64,
    /// Give the best found after this many seconds, and how far it may be from the best there is; so does Ctrl-C
    #[arg(long, value_name = "S", value_parser = time_limit, default_value = "2")]
    pub(super) time_limit: Duration,
    /// ΔE00 up to which the skin passes [default: by lightness, 0.59 for light skin to 1.75 for dark]
    #[arg(long, value_name = "ΔE00", value_parser = not_negative)]
    pub(super) tolerance: Option<f64>,
}

/// How much a skin may show of what is behind it.
#[derive(Clone, Copy, Debug, clap::Args)]
pub(super) struct ContrastArguments {
    /// Least contrast ratio of the skin, 0 (clear) to 1 (hides all)
    #[arg(long, value_name = "RATIO", value_parser = contrast_ratio)]
    min_contrast: Option<f64>,
    /// Greatest contrast ratio of the skin
    #[arg(long, value_name = "RATIO", value_parser = contrast_ratio)]
    max_contrast: Option<f64>,
}

/// A pigment that must be in, and how many drops of it if that is settled.
#[derive(Clone, Debug)]
pub(super) struct With {
    colorant: Colorant,
    drops: Option<u32>,
}

impl FromStr for With {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        let Some((name, count)) = text.split_once('=') else {
            // A ratio has no meaning without a count: the search looks for its own.
            return Ok(Self {
                colorant: Colorant::neat(text.trim()),
                drops: None,
            });
        };
        let drops = count_to::<u32>(10_000)(count)
            .map_err(|error| error.within(format_args!("the drops of `{text}`")))?;
        Ok(Self {
            colorant: name.parse()?,
            drops: Some(drops),
        })
    }
}

impl SearchArguments {
    /// Pigments that must be in, as many drops of them as the search finds best.
    fn must(&self) -> Vec<String> {
        let open = self.with.iter().filter(|with| with.drops.is_none());
        open.map(|with| with.colorant.pigment.clone()).collect()
    }

    /// Drops that are settled.
    fn held(&self) -> impl Iterator<Item = (Colorant, Amount)> {
        self.with.iter().filter_map(|with| {
            let drops = Amount::Drops(with.drops?.into());
            Some((with.colorant.clone(), drops))
        })
    }

    /// The colorants to choose from, if not the book's own choice.
    fn colorants(&self, shelf: &Shelf) -> Result<Option<Vec<Colorant>>> {
        let with = self.with.iter().map(|with| &with.colorant.pigment);
        let pigments = self.pigments.iter().flatten();
        let pigments = pigments.map(|colorant| ("--pigments", &colorant.pigment));
        let named = pigments
            .chain(with.clone().map(|name| ("--with", name)))
            .chain(self.without.iter().map(|name| ("--without", name)));
        for (option, name) in named {
            if shelf.pigment(name)?.drop_mass.is_none() {
                let finding = format!("`{name}` is weighed, and a search counts drops");
                return Err(Error::input(finding).mend(format!(
                    "leave it out of {option}; fibre goes in by --fibre-g alone"
                )));
            }
        }
        for name in with {
            let offered = |pigments: &Vec<Colorant>| {
                pigments.iter().any(|colorant| colorant.pigment == *name)
            };
            if self.without.contains(name) || !self.pigments.as_ref().is_none_or(offered) {
                let finding = format!("`{name}` must be in the cup and may not be");
                return Err(Error::input(finding).mend("see --with, --without and --pigments"));
            }
        }
        Ok(self.pigments.clone())
    }

    /// Refuses drops that must be in where a limit leaves no room for them.
    fn check_limits(&self) -> Result<()> {
        let least = |with: &With| with.drops.unwrap_or(1);
        let refused = |finding: String, option: &str, least: String| {
            Error::input(finding).mend(format!("write {option} {least} or more, or ask for fewer"))
        };
        for with in &self.with {
            if let Some(limit) = self.max_drops.filter(|limit| least(with) > *limit) {
                let count = least(with);
                let finding = format!(
                    "--with asks for {count} drops of `{}`, and --max-drops is {limit}",
                    with.colorant
                );
                return Err(refused(finding, "--max-drops", count.to_string()));
            }
        }
        let total = self.with.iter().map(least).fold(0, u32::saturating_add);
        if let Some(limit) = self.max_total_drops.filter(|limit| total > *limit) {
            let finding =
                format!("--with asks for at least {total} drops, and --max-total-drops is {limit}");
            return Err(refused(finding, "--max-total-drops", total.to_string()));
        }
        let pigments: HashSet<&str> = (self.with.iter())
            .map(|with| with.colorant.pigment.as_str())
            .collect();
        let (count, limit) = (pigments.len(), self.max_pigments);
        if count > limit {
            let finding = format!("--with names {count} pigments, and --max-pigments is {limit}");
            return Err(refused(finding, "--max-pigments", count.to_string()));
        }
        Ok(())
    }
}

impl ContrastArguments {
    /// Least and greatest; `None` where neither is asked for.
    ///
    /// # Errors
    /// A least above the greatest.
    pub(super) fn window(self) -> Result<Option<(f64, f64)>> {
        let window = (
            self.min_contrast.unwrap_or(0.0),
            self.max_contrast.unwrap_or(f64::INFINITY),
        );
        if window.0 > window.1 {
            return Err(Error::input("--min-contrast is above --max-contrast")
                .mend("exchange them, or leave one out"));
        }
        Ok((self.min_contrast.is_some() || self.max_contrast.is_some()).then_some(window))
    }
}

/// The order that the arguments make.
pub(super) fn order<'shelf>(
    part: &PartArguments,
    search: &SearchArguments,
    shelf: &'shelf Shelf,
    target: &Target,
    lights: &[Light],
    stop: Stop,
) -> Result<Order<'shelf>> {
    let cup = |name: &Option<String>, kind: Kind, batch| {
        Ok(OrderedCup {
            base: base_name(shelf, name.as_deref(), kind)?,
            base_mass: part.in_one_pot(batch)?,
        })
    };
    let beneath = match (part.foam_g, &part.backing) {
        (Some(mass), _) => {
            let cup = cup(&part.foam, Kind::Foam, mass)?;
            match &part.foam_mix {
                // It was poured already, however that was done.
                Some(mix) => OrderedUnderlay::PouredFoam(Poured {
                    base: cup.base,
                    base_mass: mass,
                    mix: mix.clone(),
                }),
                None if part.foam_at_tone => OrderedUnderlay::FoamAtTheTone(cup),
                None => OrderedUnderlay::Foam(cup),
            }
        }
        (None, Some(name)) => OrderedUnderlay::Backing {
            name: name.clone(),
            contact: Contact::Bonded,
        },
        (None, None) => {
            return Err(Error::input("nothing lies beneath the skin")
                .mend("give the mass of foam with --foam-g, or name a --backing"));
        }
    };
    part.check_room()?;
    for (place, tone) in part.paint_tones.iter().enumerate() {
        if part.paint_tones[..place].contains(tone) {
            let finding = format!("--paint-tones names {tone} twice");
            return Err(Error::input(finding).mend("name each once"));
        }
    }
    let fibre = match part.fibre_g {
        Grams(mass) if mass > 0.0 => {
            let in_one_pot = Grams(mass / f64::from(part.pots(part.base_g)?));
            vec![(Colorant::neat("fibre"), Amount::Mass(in_one_pot))]
        }
        _ => Vec::new(),
    };
    let colorants = search.colorants(shelf)?;
    search.check_limits()?;
    let skin = cup(&part.base, Kind::Skin, part.base_g)?;
    let is_foam = |name: &str| Ok(shelf.base(name)?.kind.kind() == Kind::Foam);
    if part.foam_g.is_some() && is_foam(&skin.base)? {
        let finding = format!("`{}` is a foam; expected a skin over the foam", skin.base);
        return Err(Error::input(finding).mend(
            "name a skin with --base, or match the foam alone, with a --backing and no --foam-g",
        ));
    }
    Ok(Order {
        shelf,
        skin,
        thickness: part.thickness_mm,
        beneath,
        paint: match part.paint_g {
            Some(mass) => Some((cup(&part.paint, Kind::Paint, mass)?, part.paint_mm)),
            None => None,
        },
        paint_tones: part.paint_tones.clone(),
        in_the_skin: Mix::new(search.held().chain(fibre).collect())?,
        colorants,
        must: search.must(),
        banned: search.without.clone(),
        lights: lights.to_vec(),
        tolerance: search.tolerance.unwrap_or_else(|| tolerance(target.lab)),
        limits: Limits {
            max_drops: search.max_drops,
            max_total_drops: search.max_total_drops,
            max_pigments: search.max_pigments,
            top: search.top,
            within: search.within,
            time_limit: Some(search.time_limit),
            contrast_ratio: search.contrast.window()?,
            stop,
            ..Limits::default()
        },
    })
}

/// The base called `name`, or the shelf's first of that kind.
pub(super) fn base_name(shelf: &Shelf, name: Option<&str>, kind: Kind) -> Result<String> {
    if let Some(name) = name {
        return Ok(shelf.base(name)?.name.clone());
    }
    let first = shelf.bases.iter().find(|base| base.kind.kind() == kind);
    first.map(|base| base.name.clone()).ok_or_else(|| {
        Error::input(format!("this book has no {kind} base")).mend("add one to bases.csv")
    })
}
