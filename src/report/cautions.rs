//! The usual cautions of this work, by what is on the bench. They replace no safety sheet.
//!
//! They are chosen by what is poured (two parts, foam, paint, something weighed dry), and stand on every sheet in full.

use std::fmt;

use super::text::write_wrapped;
use crate::batch::{Measure, Parts, Pour};
use crate::materials::Kind;

/// A danger, and what is usually done about it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Caution {
    /// The danger, in a word or two, lower case.
    pub danger: &'static str,
    /// What is usually done.
    pub usual: &'static str,
}

/// Stands first, since it overrides all that follows.
const FIRST: Caution = Caution {
    danger: "safety sheets first",
    usual: "Read the safety data sheet of every material before you open it. Where it, your local code or a \
            licensed professional says otherwise than this page, they are right.",
};

/// Wherever two parts react.
const ISOCYANATE: Caution = Caution {
    danger: "isocyanates",
    usual: "Usually in part A; the label says. They can make you allergic for life through lungs and skin. Ventilate, wear gloves and goggles, keep it \
            off the skin and dry; whoever is sensitised stays away.",
};

/// Always.
const SKIN: Caution = Caution {
    danger: "skin contact",
    usual: "Uncured resin, pigment dispersion and release agent stay off the skin. Nitrile gloves, long sleeves; \
            wash with soap and water, not with solvent.",
};

/// Wherever two parts react.
const EXOTHERM: Caution = Caution {
    danger: "heat of reaction",
    usual: "A full cup heats up much more than a thin film, and may smoke or burn you. Mix no more than you use \
            within the pot life; let leftovers react outdoors, spread out.",
};

/// Where foam is poured.
const RISE: Caution = Caution {
    danger: "rising foam",
    usual: "It presses on a closed mould and gives off fumes while it rises. Leave a vent; keep your face away.",
};

/// Where paint is mixed.
const SPRAY: Caution = Caution {
    danger: "spraying",
    usual: "Mist goes deeper into the lungs than vapour. Spray booth or supplied air as the paint's safety sheet \
            says; no flame or spark near; never spray a paint with isocyanate without licensed equipment.",
};

/// Always: nothing here is rated by itself.
const FLAME: Caution = Caution {
    danger: "flame rating",
    usual: "Skin, foam and paint burn unless their maker rates them. A prop for a stage or a public place needs \
            the rating that the local fire code asks for; pigment and fibre may change it.",
};

/// Always: casts for a stage are no casts for a body.
const BODY: Caution = Caution {
    danger: "not for a body",
    usual: "These recipes are for props. Nothing here says that a cast part is safe to wear on skin, or as a \
            medical device.",
};

/// Where something is weighed dry.
const DUST: Caution = Caution {
    danger: "dust",
    usual: "Fibre and dry thickener float. Weigh them out of the draught, with a dust mask.",
};

/// All of them in a line, where nothing is poured yet.
pub(super) const IN_SHORT: &str = "care: gloves, fresh air and eye protection as each material's safety sheet says; sheet and \
                                   local code have the last word";

/// The cautions for a bench on which `pours` are mixed: that of the safety sheets first, then those that what is poured calls for,
/// then those of every bench.
///
/// They are common practice and replace neither safety sheet, nor local code, nor licensed practice.
pub fn cautions<'a>(pours: impl IntoIterator<Item = &'a Pour>) -> Vec<Caution> {
    let pours: Vec<&Pour> = pours.into_iter().collect();
    let has = |kind: Kind| pours.iter().any(|pour| pour.kind == kind);
    let two_parts = pours.iter().any(|pour| pour.parts != Parts::Single {});
    let weighs = |pour: &&Pour| {
        pour.doses
            .iter()
            .any(|dose| matches!(dose.measure, Measure::MassG(_)))
    };
    let dangers = [
        (true, FIRST),
        (two_parts, ISOCYANATE),
        (two_parts, EXOTHERM),
        (has(Kind::Foam), RISE),
        (has(Kind::Paint), SPRAY),
        (pours.iter().any(weighs), DUST),
        (true, SKIN),
        (true, FLAME),
        (true, BODY),
    ];
    dangers
        .into_iter()
        .filter(|(there, _)| *there)
        .map(|(_, caution)| caution)
        .collect()
}

/// The dangers of a bench on which `pours` are mixed in one line of a screen, which defers to who knows.
pub(crate) fn in_a_line<'a>(pours: impl IntoIterator<Item = &'a Pour>) -> String {
    let dangers = cautions(pours);
    let short = [
        (ISOCYANATE, "isocyanates"),
        (EXOTHERM, "heat"),
        (RISE, "foam"),
        (SPRAY, "mist"),
        (DUST, "dust"),
        (FLAME, "fire"),
    ];
    let short: Vec<&str> = (short.into_iter())
        .filter(|(danger, _)| dangers.contains(danger))
        .map(|(_, word)| word)
        .collect();
    format!("Care: {}. Safety sheets come first.", short.join(", "))
}

/// The dangers of a bench on which `pours` are mixed, by their names alone: the mix sheet says what to do about them.
pub(super) fn write_care<'a>(
    out: &mut String,
    pours: impl IntoIterator<Item = &'a Pour>,
) -> fmt::Result {
    let dangers: Vec<&str> = cautions(pours)
        .iter()
        .map(|caution| caution.danger)
        .collect();
    let care = format!(
        "{}; a mix sheet says more, each material's safety sheet has the last word",
        dangers.join(", ")
    );
    write_wrapped(out, "  care: ", &care)
}
