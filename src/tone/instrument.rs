//! What a target was seen by.

use std::fmt;

use crate::materials::Geometry;

/// What a target was seen by, as far as it is known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Instrument {
    /// Whether it touched what it saw; `None` of a colour that was typed.
    pub kind: Option<InstrumentKind>,
    /// How a reader took its readings.
    pub geometry: Geometry,
}

impl Instrument {
    /// A camera.
    pub const CAMERA: Self = Self {
        kind: Some(InstrumentKind::NonContact),
        geometry: Geometry {
            specular: None,
            aperture_mm: None,
        },
    };
}

/// Whether an instrument touches what it sees.
///
/// It matters on living skin and on what is as translucent: a reader that is laid on loses the light that leaves beside
/// its opening, and presses blood away.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub enum InstrumentKind {
    /// It looks from afar, as a camera does.
    #[serde(rename = "non-contact")]
    NonContact,
    /// It is laid on.
    #[serde(rename = "contact")]
    Contact,
}

impl fmt::Display for InstrumentKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::NonContact => "non-contact",
            Self::Contact => "contact",
        })
    }
}
