//! Columns of materials' tables that are read with the shelf, and that a calibration or a new bottle sets.

use super::number::Number;
use crate::materials::Weighing;
use crate::optics::Foam;

/// The column that names the file of a material's curves.
pub(super) const KS_FILE: &str = "ks_file";
/// The column that names the file of the curves that a material had before its first calibration.
pub(super) const FIRST_GUESS: &str = "first_guess";
/// The columns of a foam's cells, absorption gain and wet share, as they count, and as they were before its first calibration;
/// the gain of the latter is filled wherever there was one, since cells and contact may never have been measured.
pub(super) const FOAM: [&str; 3] = [CELL_MM.name, ABSORPTION_GAIN.name, WET_SHARE.name];
pub(super) const FIRST_FOAM: [&str; 3] = [
    FIRST_CELL_MM.name,
    FIRST_ABSORPTION_GAIN.name,
    FIRST_WET_SHARE.name,
];

/// The column that names the pigment that another is a lot of.
pub(super) const LOT_OF: &str = "lot_of";

pub(super) const CELL_MM: Number = Number {
    name: "cell_mm",
    range: Foam::CELL_MM,
    example: "0.4",
};
pub(super) const FIRST_CELL_MM: Number = Number {
    name: "first_cell_mm",
    ..CELL_MM
};
pub(super) const ABSORPTION_GAIN: Number = Number {
    name: "absorption_gain",
    range: Foam::ABSORPTION_GAIN,
    example: "1.2",
};
pub(super) const FIRST_ABSORPTION_GAIN: Number = Number {
    name: "first_absorption_gain",
    ..ABSORPTION_GAIN
};

/// The share of a wall that the foam's solid wets.
pub(super) const WET_SHARE: Number = Number {
    name: "wet_share",
    range: Foam::WET_SHARE,
    example: "0.2",
};
pub(super) const FIRST_WET_SHARE: Number = Number {
    name: "first_wet_share",
    ..WET_SHARE
};

pub(super) const DROP_G: Number = Number {
    name: "drop_g",
    range: Weighing::DROP_RANGE_G,
    example: "0.03",
};
pub(super) const DROP_G_SD: Number = Number {
    name: "drop_g_sd",
    range: (0.0, 0.1),
    example: "0.001",
};
/// What is left in a bottle of pigment, where somebody weighed it.
pub(super) const LEFT_G: Number = Number {
    name: "left_g",
    range: (0.0, 100_000.0),
    example: "250",
};
