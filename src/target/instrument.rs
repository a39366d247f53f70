//! What a target was seen by.

use crate::materials::Geometry;

/// What a target was seen by, as far as it is known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Instrument {
    /// A camera or a contact reader; `None` of a colour that was typed.
    pub kind: Option<InstrumentKind>,
    /// How a reader took its readings.
    pub geometry: Geometry,
}

impl Instrument {
    /// A camera.
    pub const CAMERA: Self = Self {
        kind: Some(InstrumentKind::Camera),
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
    /// A camera, or another instrument that looks from afar.
    #[serde(rename = "camera")]
    Camera,
    /// A reader that is laid on.
    #[serde(rename = "contact reader")]
    ContactReader,
}
