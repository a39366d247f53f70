//! The usual cautions of this work, by what is on the bench. They replace no safety sheet.

/// A danger, and what is usually done about it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Caution {
    /// The danger, in a word or two, lower case.
    pub danger: &'static str,
    /// What is usually done.
    pub usual: &'static str,
}

const FIRST: Caution = Caution {
    danger: "safety sheets first",
    usual: "Read the safety data sheet of every material before you open it. Where it, your local code or a \
            licensed professional says otherwise than this page, they are right.",
};
const ISOCYANATE: Caution = Caution {
    danger: "isocyanates (part A)",
    usual: "Can make you allergic for life through lungs and skin. Ventilate, wear gloves and goggles, keep part \
            A off the skin and dry; whoever is sensitised stays away.",
};
const SKIN: Caution = Caution {
    danger: "skin contact",
    usual: "Uncured resin, pigment dispersion and release agent stay off the skin. Nitrile gloves, long sleeves; \
            wash with soap and water, not with solvent.",
};
const EXOTHERM: Caution = Caution {
    danger: "heat of reaction",
    usual: "A full cup heats up much more than a thin film, and may smoke or burn you. Mix no more than you use \
            within the pot life; let leftovers react outdoors, spread out.",
};
const RISE: Caution = Caution {
    danger: "rising foam",
    usual: "It presses on a closed mould and gives off fumes while it rises. Leave a vent; keep your face away.",
};
const SPRAY: Caution = Caution {
    danger: "spraying",
    usual: "Mist goes deeper into the lungs than vapour. Spray booth or supplied air as the paint's safety sheet \
            says; no flame or spark near; never spray a paint with isocyanate without licensed equipment.",
};
const FLAME: Caution = Caution {
    danger: "flame rating",
    usual: "Skin, foam and paint burn unless their maker rates them. A prop for a stage or a public place needs \
            the rating that the local fire code asks for; pigment and fibre may change it.",
};
const BODY: Caution = Caution {
    danger: "not for a body",
    usual: "These recipes are for props. Nothing here says that a cast part is safe to wear on skin, or as a \
            medical device.",
};

/// The cautions for a bench with bases of these `kinds` (`skin`, `foam`, `paint`).
pub fn cautions<'a>(kinds: impl IntoIterator<Item = &'a str>) -> Vec<Caution> {
    let kinds: Vec<&str> = kinds.into_iter().collect();
    let has = |kind: &str| kinds.contains(&kind);
    let mut all = vec![FIRST];
    if has("skin") || has("foam") {
        all.extend([ISOCYANATE, EXOTHERM]);
    }
    if has("foam") {
        all.push(RISE);
    }
    if has("paint") {
        all.push(SPRAY);
    }
    all.extend([SKIN, FLAME, BODY]);
    all
}
