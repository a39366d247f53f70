//! The keys of a part's file, table by table: what is written, read and known to be misspelt.

use crate::book::number::Number;
use crate::materials::{Build, Coat, Cup};
use crate::recipe::Order;
use crate::search::Limits;

/// The format of parts that this version writes, and the newest that it reads.
pub(super) const FORMAT: i64 = 1;

pub(super) const TOP: [&str; 9] = [
    "format", "title", "castings", "target", "build", "limits", "recipe", "bench", "history",
];

pub(super) const TARGET: [&str; 22] = [
    "from",
    "date",
    L.name,
    A.name,
    B.name,
    L_SD.name,
    A_SD.name,
    B_SD.name,
    "illuminant",
    "observer",
    "tones",
    "r",
    "r_from",
    "seen_by",
    "specular",
    APERTURE_MM.name,
    CONTRAST_RATIO.name,
    TP_AB.name,
    TP_00.name,
    "notes",
    CHARTS,
    PHOTOGRAPHS,
];

/// How the tone was read off photographs, a table each.
pub(super) const PHOTOGRAPHS: &str = "photographs";

pub(super) const PHOTOGRAPHED: [&str; 6] = [
    "file",
    "region",
    "card",
    "card_lab",
    "chart",
    "chart_values",
];

/// How charts served, as JSON: nobody edits that.
pub(super) const CHARTS: &str = "charts_json";

pub(super) const TONE: [&str; 5] = ["role", L.name, A.name, B.name, SHARE.name];

pub(super) const BUILD: [&str; 19] = [
    "base",
    BASE_G.name,
    THICKNESS_MM.name,
    MAX_THICKNESS_MM.name,
    HIDE_WITHIN.name,
    FIBRE_G.name,
    "foam",
    FOAM_G.name,
    "foam_mix",
    "foam_at_tone",
    "one_tint",
    "stock",
    "backing",
    "paint",
    PAINT_G.name,
    PAINT_MM.name,
    "paint_tones",
    LARGEST_POT_G.name,
    LARGEST_FOAM_POT_G.name,
];

pub(super) const LIMITS: [&str; 13] = [
    "pigments",
    "with",
    "with_drops",
    "without",
    "illuminants",
    MAX_DROPS.name,
    MAX_TOTAL_DROPS.name,
    MAX_PIGMENTS.name,
    MIN_CONTRAST.name,
    MAX_CONTRAST.name,
    TOLERANCE.name,
    WITHIN.name,
    TIME_LIMIT_S.name,
];

pub(super) const RECIPE: [&str; 5] = ["date", "skin", "foam", "paints", "stock"];

pub(super) const CUP: [&str; 12] = [
    "tone",
    "base",
    BASE_G.name,
    POTS.name,
    "mix",
    LIGHTER.name,
    DELTA_E.name,
    GAP.name,
    "proven",
    NEAREST_DELTA_E.name,
    EFFORT.name,
    EFFORT_GAP.name,
];

pub(super) const BENCH: [&str; 9] = [
    "date",
    "by",
    "base",
    BASE_G.name,
    "mix",
    BEFORE_G.name,
    "mix_before",
    "logged",
    "poured_away",
];

pub(super) const STOCK: [&str; 5] = [
    "name",
    "mix",
    DROP_G.name,
    SKIN_FREE_DELTA_E.name,
    FOAM_FREE_DELTA_E.name,
];

pub(super) const EVENT: [&str; 5] = ["date", "what", "swatch", "note", "was"];

const fn number(name: &'static str, low: f64, high: f64, example: &'static str) -> Number {
    Number {
        name,
        range: (low, high),
        example,
    }
}

const fn mass(name: &'static str, example: &'static str) -> Number {
    let (low, high) = Cup::BASE_MASS_G;
    number(name, low, high, example)
}

pub(super) const L: Number = number("L", 0.0, 100.0, "66.2");
pub(super) const A: Number = number("a", -128.0, 128.0, "12.3");
pub(super) const B: Number = number("b", -128.0, 128.0, "16.8");
pub(super) const L_SD: Number = number("L_sd", 0.0, 100.0, "1.5");
pub(super) const A_SD: Number = number("a_sd", 0.0, 100.0, "1.2");
pub(super) const B_SD: Number = number("b_sd", 0.0, 100.0, "1.2");
pub(super) const SHARE: Number = number("share", 0.0, 1.0, "0.7");
pub(super) const R: Number = number("r", 0.0, 1.0, "0.35");
pub(super) const APERTURE_MM: Number = number("aperture_mm", 0.0, 100.0, "8.0");
pub(super) const CONTRAST_RATIO: Number = number("contrast_ratio", 0.0, 1.5, "0.4");
pub(super) const TP_AB: Number = number("tp_ab", 0.0, 150.0, "17.5");
pub(super) const TP_00: Number = number("tp_00", 0.0, 150.0, "14.2");

pub(super) const BASE_G: Number = mass("base_g", "600.0");
pub(super) const BEFORE_G: Number = mass("before_g", "600.0");
pub(super) const FOAM_G: Number = mass("foam_g", "300.0");
pub(super) const PAINT_G: Number = mass("paint_g", "20.0");
pub(super) const LARGEST_POT_G: Number = mass("largest_pot_g", "500.0");
pub(super) const LARGEST_FOAM_POT_G: Number = mass("largest_foam_pot_g", "300.0");
pub(super) const FIBRE_G: Number = number("fibre_g", 0.0, Cup::BASE_MASS_G.1, "12.0");
pub(super) const THICKNESS_MM: Number =
    number("thickness_mm", Build::LAYER_MM.0, Build::LAYER_MM.1, "2.0");
pub(super) const MAX_THICKNESS_MM: Number = Number {
    name: "max_thickness_mm",
    ..THICKNESS_MM
};
pub(super) const PAINT_MM: Number = number(
    "paint_mm",
    Coat::DRY_THICKNESS_MM.0,
    Coat::DRY_THICKNESS_MM.1,
    "0.03",
);
pub(super) const HIDE_WITHIN: Number = number("hide_within", 0.0, 100.0, "1.0");

const MOST_DROPS: f64 = Limits::MOST_DROPS as f64;
pub(super) const MAX_DROPS: Number = number("max_drops", 1.0, MOST_DROPS, "40");
pub(super) const MAX_TOTAL_DROPS: Number = number("max_total_drops", 1.0, MOST_DROPS, "60");
pub(super) const MAX_PIGMENTS: Number = number("max_pigments", 1.0, 1000.0, "4");
pub(super) const MIN_CONTRAST: Number = number("min_contrast", 0.0, 1.0, "0.25");
pub(super) const MAX_CONTRAST: Number = number("max_contrast", 0.0, 1.0, "0.5");
pub(super) const TOLERANCE: Number = number("tolerance", 0.0, Order::MOST_TOLERANCE, "1.0");
pub(super) const WITHIN: Number = number("within", 0.0, 100.0, "0.05");
/// Of `inf` there is no limit.
pub(super) const TIME_LIMIT_S: Number = number("time_limit_s", 0.0, f64::INFINITY, "2.0");

pub(super) const POTS: Number = number("pots", 1.0, 1000.0, "1");
pub(super) const LIGHTER: Number = number("lighter", 0.0, 100.0, "4.0");
pub(super) const DELTA_E: Number = number("delta_e", 0.0, 1000.0, "0.3");
pub(super) const GAP: Number = number("gap", 0.0, f64::INFINITY, "0.05");
pub(super) const NEAREST_DELTA_E: Number = number("nearest_delta_e", 0.0, 1000.0, "0.2");
pub(super) const EFFORT: Number = number("effort", 0.0, 10_000.0, "3.5");
pub(super) const EFFORT_GAP: Number = number("effort_gap", 0.0, f64::INFINITY, "0.0");
pub(super) const DROP_G: Number = number("drop_g", 0.001, 1.0, "0.03");
pub(super) const SKIN_FREE_DELTA_E: Number = number("skin_free_delta_e", 0.0, 1000.0, "0.2");
pub(super) const FOAM_FREE_DELTA_E: Number = number("foam_free_delta_e", 0.0, 1000.0, "0.2");
