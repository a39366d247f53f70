//! The pigments of the starter book: the one place to edit.
//!
//! To add a pigment, add a `Dispersion` to `DISPERSIONS`. Its solid is either a table of optical
//! constants (put `wavelength_nm,n,k`, 380 to 730 nm by 10, into `data/` and its source into
//! `data/SOURCE.md`) or a painted patch (add its row to `data/painted_patches.csv`). Then write
//! the files anew and read the lines that changed.
//!
//! Sizes, loads and allowances are typical values of the trade: common practice, no source.
//! Densities and indices without a table are handbook values, from memory.

use crate::aggregate::Aggregate;
use crate::dispersion::{Dispersion, Doubt, Solid};
use crate::particles::Form;
use crate::patch::{Depth, Patch};
use crate::size::LogNormal;

/// Share of the light that meets each of the two ordinary axes together, and the extraordinary
/// one, of grains lying at random.
const ORDINARY: f64 = 2.0 / 3.0;
const EXTRAORDINARY: f64 = 1.0 / 3.0;

const HEMATITE: Solid = Solid::Tables {
    axes: &[
        (ORDINARY, include_str!("data/hematite_ordinary.csv")),
        (
            EXTRAORDINARY,
            include_str!("data/hematite_extraordinary.csv"),
        ),
    ],
    added_extinction: |_| 0.0,
};

const MAGNETITE: Solid = Solid::Tables {
    axes: &[(1.0, include_str!("data/magnetite.csv"))],
    added_extinction: |_| 0.0,
};

const RUTILE: Solid = Solid::Tables {
    axes: &[
        (ORDINARY, include_str!("data/rutile_ordinary.csv")),
        (EXTRAORDINARY, include_str!("data/rutile_extraordinary.csv")),
    ],
    added_extinction: rutile_extinction,
};

const SOOT: Solid = Solid::Tables {
    axes: &[(1.0, include_str!("data/acetylene_soot.csv"))],
    added_extinction: |_| 0.0,
};

/// Extinction coefficient of pigment-grade rutile, which the table leaves out: the foot of the
/// absorption edge, a decade in 12 nm, and a trace that keeps a white from being perfect.
/// From memory; it matters below 410 nm alone.
fn rutile_extinction(wavelength_nm: f64) -> f64 {
    const AT_380_NM: f64 = 0.03;
    const DECADE_NM: f64 = 12.0;
    const TRACE: f64 = 1e-5;
    AT_380_NM * 10_f64.powf((380.0 - wavelength_nm) / DECADE_NM) + TRACE
}

/// Every dispersion of the starter book, and the fibre.
pub(crate) const DISPERSIONS: [Dispersion; 8] = [
    Dispersion {
        file: "titanium-white",
        load: 0.50,
        density_g_cm3: 4.2,
        solid: RUTILE,
        air_ml_g: 0.0,
        form: Form::Grains(LogNormal {
            median_um: 0.22,
            geometric_sd: 1.35,
        }),
        doubt: Doubt {
            ln_k: 0.7,
            ln_s: 0.1,
        },
        note: "Rutile, by Mie. Devore's index is extrapolated below 430 nm, and the absorption is \
               an edge from memory and a trace.",
    },
    Dispersion {
        file: "iron-oxide-red",
        load: 0.35,
        density_g_cm3: 5.2,
        solid: HEMATITE,
        air_ml_g: 0.0,
        form: Form::Grains(LogNormal {
            median_um: 0.12,
            geometric_sd: 1.4,
        }),
        doubt: Doubt {
            ln_k: 0.15,
            ln_s: 0.2,
        },
        note: "Hematite of the fine, yellow-shade kind, by Mie.",
    },
    Dispersion {
        file: "iron-oxide-yellow",
        load: 0.35,
        density_g_cm3: 4.1,
        solid: Solid::Patch(Patch {
            identifier: "IR_3_1_p3",
            depth: Depth::Masstone,
            trusted_from_nm: 440.0,
            n: 2.35,
        }),
        air_ml_g: 0.0,
        form: Form::Grains(LogNormal {
            median_um: 0.18,
            geometric_sd: 1.4,
        }),
        doubt: Doubt {
            ln_k: 0.3,
            ln_s: 0.25,
        },
        note: "Generic. Synthetic yellow oxide (goethite): K/S of a painted patch, index 2.35, \
               needles taken as spheres of the same volume.",
    },
    Dispersion {
        file: "umber",
        load: 0.30,
        density_g_cm3: 3.8,
        solid: Solid::Patch(Patch {
            identifier: "EU_1_1_p4",
            depth: Depth::Masstone,
            trusted_from_nm: 440.0,
            n: 2.0,
        }),
        air_ml_g: 0.0,
        form: Form::Grains(LogNormal {
            median_um: 0.25,
            geometric_sd: 1.6,
        }),
        doubt: Doubt {
            ln_k: 0.5,
            ln_s: 0.4,
        },
        note: "Generic. Raw umber, an earth that differs from pit to pit: K/S of a painted patch, \
               index 2.0.",
    },
    Dispersion {
        file: "carbon-black",
        load: 0.10,
        density_g_cm3: 1.85,
        solid: SOOT,
        air_ml_g: 0.0,
        form: Form::Aggregates(Aggregate {
            sphere_um: 0.025,
            spheres: 40.0,
        }),
        doubt: Doubt {
            ln_k: 0.2,
            ln_s: 1.0,
        },
        note: "Soot in open aggregates of 40 spheres of 25 nm, by Rayleigh–Debye–Gans for fractal \
               aggregates.",
    },
    Dispersion {
        file: "blue",
        load: 0.10,
        density_g_cm3: 1.6,
        solid: Solid::Patch(Patch {
            identifier: "BL_1_1_p3",
            depth: Depth::Tint {
                peak_extinction: 0.6,
            },
            trusted_from_nm: 410.0,
            n: 1.7,
        }),
        air_ml_g: 0.0,
        form: Form::Grains(LogNormal {
            median_um: 0.06,
            geometric_sd: 1.5,
        }),
        doubt: Doubt {
            ln_k: 0.7,
            ln_s: 1.0,
        },
        note: "Generic. Phthalocyanine blue: K has the shape of K/S of a light painted patch, \
               taken as a tint (the set does not say), its height from an extinction coefficient \
               of 0.6 at the peak (from memory). Another blue is another curve: calibrate.",
    },
    Dispersion {
        file: "iron-oxide-black",
        load: 0.35,
        density_g_cm3: 5.2,
        solid: MAGNETITE,
        air_ml_g: 0.0,
        form: Form::Grains(LogNormal {
            median_um: 0.20,
            geometric_sd: 1.4,
        }),
        doubt: Doubt {
            ln_k: 0.5,
            ln_s: 0.3,
        },
        note: "Magnetite, by Mie. Printed extinction coefficients of magnetite differ several \
               times over (from memory); these are among the low ones.",
    },
    Dispersion {
        file: "fibre",
        load: 1.0,
        density_g_cm3: 1.5,
        solid: Solid::Constant {
            axes: &[(ORDINARY, 1.53), (EXTRAORDINARY, 1.60)],
            extinction: 1e-6,
        },
        air_ml_g: 0.05,
        form: Form::Grains(LogNormal {
            median_um: 0.5,
            geometric_sd: 1.6,
        }),
        doubt: Doubt {
            ln_k: 1.0,
            ln_s: 0.8,
        },
        note: "Generic. White micro-fibre of the cellulose kind (index 1.53 across, 1.60 along the \
               fibre), per unit mass fraction of dry fibre; fibrils taken as spheres 1.5 times \
               their thickness. 0.05 ml of air stay in the cast with each gram of fibre, in bubbles \
               of 5 µm: an assumption, no source, and the reason for the wide allowance. One chip \
               with fibre in it settles it.",
    },
];
