//! The chips to cast next, and what each would tell.
//!
//! Advice is of single chips, each the best after those before it. Foams that no swatch is of come on top, as pairs, since a
//! foam tells of itself only beside a skin with the same tint.

use std::fmt::{self, Write as _};

use serde::Serialize;

use super::cautions::IN_SHORT;
use super::document::document;
use super::let_downs::{self, LetDowns};
use super::text::{HEADING, capital, counted, never, write_mix, write_wrapped};
use crate::characterise::{Advice, CHIP_THICKNESS, FoamPair};
use crate::jobs::planning::Planned;

/// `{"swatches": [{"base": …, "base_g": …, "mix": …, "thickness_mm": …, "backings": […], "tells": …}], "foam": [the same]}`; `foam`
/// holds the two chips of each foam that no swatch is of.
// Longer than eighty lines: each key has its line.
pub fn json(planned: &Planned) -> String {
    #[derive(Serialize)]
    struct Document<'a> {
        /// Single chips, each the best after those before it.
        swatches: Vec<PlannedChip<'a>>,
        /// The skin and the slice of each foam that no swatch is of, one after the other; empty where there is no such foam.
        foam: Vec<Chip<'a>>,
        /// How surely a first part lands, by how many of the chips are cast.
        first_part: Vec<FirstPart>,
        /// How many bottles of a long shelf were passed over.
        passed_over: usize,
    }
    /// What a number of chips is forecast to bring.
    #[derive(Serialize)]
    struct FirstPart {
        /// How many of the chips are cast, from none to all.
        chips: usize,
        /// Chance (0–1) that the first casting of a part of such tones lands within tolerance.
        chance: f64,
    }
    /// A chip that stands by itself: unlike one of a pair, it is chosen by what it makes of the spread.
    #[derive(Serialize)]
    struct PlannedChip<'a> {
        /// How to cast and read it, in the keys that the chips of a pair have too.
        #[serde(flatten)]
        chip: Chip<'a>,
        /// Spread of the tones (root mean square of L*, a*, b*) as the book stands.
        spread_before: f64,
        /// The same once it and all chips before it are cast.
        spread_after: f64,
        /// The let-down that has to be made for it; null where none has.
        new_jar: Option<String>,
    }
    /// How to cast a chip and what to read it over.
    #[derive(Serialize)]
    struct Chip<'a> {
        /// What the chip is cast of.
        base: &'a str,
        /// Mass of mixed base, g.
        base_g: f64,
        /// What is stirred into it, as a notebook has it.
        mix: String,
        /// How thick to cast it, or to slice it off a foam, mm.
        thickness_mm: f64,
        /// Names of the backings to read it over, wetted to each: one reading a backing.
        backings: Vec<&'a str>,
        /// What it would tell, in words.
        tells: String,
    }
    let swatches = planned.chips.iter().map(|chip| PlannedChip {
        chip: Chip {
            base: &chip.poured.base,
            base_g: chip.poured.base_mass.0,
            mix: chip.poured.mix.to_string(),
            thickness_mm: chip.thickness.0,
            backings: chip.backings.iter().map(String::as_str).collect(),
            tells: tells_exactly(chip),
        },
        spread_before: chip.spread.0,
        spread_after: chip.spread.1,
        new_jar: chip.new_jar.as_ref().map(ToString::to_string),
    });
    let chances = planned.chances.iter().enumerate();
    let first_part = chances.map(|(chips, chance)| FirstPart {
        chips,
        chance: *chance,
    });
    let foam = planned.pairs.iter().flat_map(|pair| {
        [(&pair.skin, CHIP_THICKNESS), (&pair.foam, FoamPair::SLICE)].map(|(poured, thickness)| {
            Chip {
                base: &poured.base,
                base_g: poured.base_mass.0,
                mix: poured.mix.to_string(),
                thickness_mm: thickness.0,
                backings: pair.backings.to_vec(),
                tells: never_read(pair),
            }
        })
    });
    document(&Document {
        swatches: swatches.collect(),
        foam: foam.collect(),
        first_part: first_part.collect(),
        passed_over: planned.passed_over,
    })
}

/// The chips to cast next, for a terminal: how to pour each, over what to read it, what it would tell, and which let-downs
/// they call for. How much each tells, and how let-downs are made, is left out where that can be asked for by the option `ask`.
pub fn text(planned: &Planned, ask: Option<&str>) -> String {
    let mut text = String::new();
    write(&mut text, planned, ask).unwrap_or_else(never);
    text
}

fn write(out: &mut String, planned: &Planned, ask: Option<&str>) -> fmt::Result {
    let is_exact = ask.is_none();
    write_chips(out, planned, is_exact)?;
    writeln!(out)?;
    if let Some(passed_over) = passed_over(planned.passed_over) {
        write_wrapped(out, "", &passed_over)?;
    }
    write_wrapped(out, "", &landing(planned))?;
    writeln!(out)?;
    let mut advice = "Cast each in one piece, measure its thickness where it is read, and wet it to the card. Log every reading with \
                      `dropwise swatch add`, then run `dropwise calibrate`."
        .to_owned();
    if is_exact {
        let scale = planned.shelf.settings.scale_resolution;
        advice +=
            &format!(" A chip is taken for good to {scale} of its mass on this book's scale.");
    }
    write_wrapped(out, "", &advice)?;
    if is_exact {
        let wanted = planned.let_downs.iter();
        *out += &let_downs::text(wanted.filter_map(|wanted| LetDowns::of("all of them", wanted)));
    } else {
        writeln!(out)?;
        let_downs::write_in_short(out, &planned.let_downs)?;
    }
    if let Some(ask) = ask {
        let more = format!("({ask} says how much each chip tells, and how let-downs are made)");
        write_wrapped(out, "", &more)?;
    }
    writeln!(out)?;
    write_wrapped(out, "", &capital(IN_SHORT))
}

/// The chips in the order of their worth, then a pair of chips for each foam that no swatch is of.
fn write_chips(out: &mut String, planned: &Planned, is_exact: bool) -> fmt::Result {
    for (index, chip) in planned.chips.iter().enumerate() {
        writeln!(
            out,
            "{HEADING}{}. {} of {}{HEADING:#}, {} thick, over {}",
            index + 1,
            chip.poured.base_mass,
            chip.poured.base,
            chip.thickness,
            chip.backings.join(" and ")
        )?;
        write_mix(out, "   mix    ", &chip.poured.mix)?;
        if let Some(jar) = chip.new_jar.as_ref().filter(|_| is_exact) {
            writeln!(out, "   make   {jar}")?;
        }
        let tells = if is_exact { tells_exactly } else { tells };
        write_wrapped(out, "   tells  ", &tells(chip))?;
    }
    for pair in &planned.pairs {
        write_pair(out, pair, is_exact)?;
    }
    Ok(())
}

/// The same light tint in clear skin and in the foam: what differs between them is the foam's.
fn write_pair(out: &mut String, pair: &FoamPair, is_exact: bool) -> fmt::Result {
    let FoamPair {
        skin,
        foam,
        backings,
    } = pair;
    writeln!(
        out,
        "{HEADING}And for {}{HEADING:#}, one tint twice, each over {}",
        foam.base,
        backings.join(" and ")
    )?;
    write_mix(out, "   mix    ", &skin.mix)?;
    writeln!(
        out,
        "   skin   {} of {}, {CHIP_THICKNESS} thick",
        skin.base_mass, skin.base
    )?;
    let slice = format!(
        "{} of {}, risen: a slice {} thick off a moulded face, which is the side to read",
        foam.base_mass,
        foam.base,
        FoamPair::SLICE
    );
    write_wrapped(out, "   foam   ", &slice)?;
    let tells = match is_exact {
        true => never_read(pair),
        false => "how this foam lightens a tint: no chip is of it yet".to_owned(),
    };
    write_wrapped(out, "   tells  ", &tells)
}

/// Why the two chips of a foam are worth casting.
fn never_read(pair: &FoamPair) -> String {
    format!(
        "no swatch is of {} itself: how its cells whiten a tint, and how much they make it absorb, is a first guess",
        pair.foam.base
    )
}

/// How many bottles of a long shelf a plan passed over, where it did.
pub(super) fn passed_over(count: usize) -> Option<String> {
    let bottles = counted(count, "bottle");
    (count > 0).then(|| {
        format!("{bottles} of this long shelf were passed over: those that were kept move skin's tones the same ways or dose better.")
    })
}

/// After how many chips how surely the first casting of a part lands, said where it changes by a tenth.
pub(crate) fn landing(planned: &Planned) -> String {
    let mut said: Vec<(usize, f64)> = Vec::new();
    for (chips, chance) in planned.chances.iter().enumerate() {
        let tenths = (10.0 * chance).round();
        if said.last().is_none_or(|(_, last)| tenths > *last) {
            said.push((chips, tenths));
        }
    }
    let steps = said.iter().map(|(chips, tenths)| {
        let after = match chips {
            0 => "as the book stands".to_owned(),
            1 => "after 1 chip".to_owned(),
            _ => format!("after {chips} chips"),
        };
        let share = match tenths {
            t if *t < 1.0 => "hardly any".to_owned(),
            t => format!("{t:.0} in 10"),
        };
        format!("{after}, {share}")
    });
    let steps: Vec<String> = steps.collect();
    let count = planned.chips.len();
    let rest = match said.last() {
        Some((last, _)) if *last < count => {
            let which = match (*last, count) {
                (0, 1) => "this chip changes".to_owned(),
                (0, _) => "these chips change".to_owned(),
                _ => format!("the rest of these {count} chips changes"),
            };
            format!("; {which} that by less than a tenth")
        }
        _ => String::new(),
    };
    format!(
        "First castings of a part that land, by what these chips are forecast to tell: {}{rest}.",
        steps.join("; ")
    )
}

/// What a chip would tell, in a word: how much of what is not known of which material.
pub(crate) fn tells(chip: &Advice) -> String {
    let (material, share) = &chip.tells_of;
    let most = match share {
        0.9.. => "nearly all",
        0.6.. => "most",
        0.4.. => "about half",
        0.15.. => "some",
        _ => "a little",
    };
    format!(
        "{most} of what is not known of {}{}",
        material.name(),
        again(chip)
    )
}

/// The same with its numbers, and how far the spread of the tones (root mean square of L*, a*, b*) falls by the chip.
fn tells_exactly(chip: &Advice) -> String {
    let (material, share) = &chip.tells_of;
    let (before, after) = chip.spread;
    format!(
        "{}: {:.0} % of what is unknown of its part in the tones; their spread (root mean square of L*, a*, b*) falls from {before:.2} to {after:.2}{}",
        material.name(),
        100.0 * share,
        again(chip)
    )
}

/// Of a chip that is cast again, why it is worth casting twice.
fn again(chip: &Advice) -> &'static str {
    if chip.again {
        " (one like it is cast already: the two together even out what hand and scale were off by)"
    } else {
        ""
    }
}
