//! The individual typology angle: where a skin tone lies between very light and dark.

use std::fmt;

use super::Lab;

/// The skin-tone angle (individual typology angle, ITA), degrees: atan((L* − 50) / b*).
///
/// Source: A. Chardon, I. Cretois, C. Hourseau (1991), International Journal of Cosmetic Science 13,
/// 191–208.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct SkinAngle(f64);

impl SkinAngle {
    /// The angle of `lab` (D65); `None` where b* is not positive, for which the angle has no meaning as
    /// skin.
    pub fn of(lab: Lab) -> Option<Self> {
        (lab.b > 0.0).then(|| Self(((lab.l - 50.0) / lab.b).atan().to_degrees()))
    }

    /// The angle, from −90 to 90 degrees.
    pub const fn degrees(self) -> f64 {
        self.0
    }

    /// The class of skin that the angle falls in.
    ///
    /// Source: Chardon and co-workers (1991), as extended by S. Del Bino and F. Bernerd (2013), British
    /// Journal of Dermatology 169 (supplement 3), 33–40.
    pub fn class(self) -> SkinClass {
        match self.0 {
            angle if angle > 55.0 => SkinClass::VeryLight,
            angle if angle > 41.0 => SkinClass::Light,
            angle if angle > 28.0 => SkinClass::Intermediate,
            angle if angle > 10.0 => SkinClass::Tan,
            angle if angle > -30.0 => SkinClass::Brown,
            _ => SkinClass::Dark,
        }
    }
}

/// The six classes of skin tone by [`SkinAngle`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SkinClass {
    /// Above 55°.
    VeryLight,
    /// Above 41°, to 55°.
    Light,
    /// Above 28°, to 41°.
    Intermediate,
    /// Above 10°, to 28°.
    Tan,
    /// Above −30°, to 10°.
    Brown,
    /// −30° and below.
    Dark,
}

impl fmt::Display for SkinClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::VeryLight => "very light",
            Self::Light => "light",
            Self::Intermediate => "intermediate",
            Self::Tan => "tan",
            Self::Brown => "brown",
            Self::Dark => "dark",
        })
    }
}
