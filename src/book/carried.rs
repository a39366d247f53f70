//! The files that the program carries: those of every new book, and what the demo has besides.

/// Names, each with the content of that file in `swatches/`.
macro_rules! carried {
    ($($name:literal,)*) => {
        &[$(($name, include_bytes!(concat!("../../swatches/", $name)))),*]
    };
}

/// What every new book begins with.
pub(super) const MATERIALS: &[(&str, &[u8])] = carried![
    "book.toml",
    "bases.csv",
    "pigments.csv",
    "backings.csv",
    "spectra/SOURCES.md",
    "spectra/base-clear-carrier.csv",
    "spectra/base-clear-paint.csv",
    "spectra/base-clear-skin.csv",
    "spectra/base-flexible-foam.csv",
    "spectra/black-card.csv",
    "spectra/blue.csv",
    "spectra/carbon-black.csv",
    "spectra/fibre.csv",
    "spectra/iron-oxide-black.csv",
    "spectra/iron-oxide-red.csv",
    "spectra/iron-oxide-yellow.csv",
    "spectra/titanium-white.csv",
    "spectra/umber.csv",
    "spectra/white-card.csv",
];

/// What the demo has besides.
pub(super) const DEMO: &[(&str, &[u8])] = carried![
    "swatches.csv",
    "stocks.csv",
    "reference-photo.jpg",
    "lights/amber-gel.csv",
    "lights/gallery-lamp.csv",
];

/// The content of the demo's file `name`.
pub(super) fn demo_file(name: &str) -> Option<&'static [u8]> {
    let mut all = MATERIALS.iter().chain(DEMO);
    all.find(|(each, _)| *each == name)
        .map(|(_, content)| *content)
}
