//! Published colours of living skin, to set beside a target.
//!
//! The instruments differ, and so do sites and people: the rows are never pooled. Contact readers see skin lighter and
//! less red than what looks from afar. The light and observer of rows taken from abstracts are not stated there.

use serde::Serialize;

use super::{InstrumentKind, Target};
use crate::colour::{Illuminant, Lab, Observer, Viewing, delta_e_2000};

/// A mean colour of living skin, as it was published.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PublishedSkin {
    /// Where it stands.
    pub source: &'static str,
    /// Whose skin.
    pub subjects: &'static str,
    /// Where on the body.
    pub site: &'static str,
    /// Whether the instrument touched it.
    pub seen_by: InstrumentKind,
    /// Mean L*, where it is published.
    #[serde(rename = "L")]
    pub l: Option<f64>,
    /// Mean a*, where it is published.
    pub a: Option<f64>,
    /// Mean b*, where it is published.
    pub b: Option<f64>,
}

/// B. Han and co-workers: figures of the abstract, which are facts and no one's property.
const HAN_2006: &str = "Han and co-workers (2006), Skin Res. Technol. 12(3)";
/// A conference abstract; figures likewise.
const IADR_2009: &str = "IADR Miami (2009), abstract 120461";
/// Computed here for D65/10° from the data set (doi 10.18434/M38597), in the public domain; 60 of its 100 subjects.
const COOKSEY_2017: &str = "Cooksey, Allen, Tsai (2017), J. Res. NIST 122:26";

const fn skin(
    source: &'static str,
    subjects: &'static str,
    site: &'static str,
    seen_by: InstrumentKind,
    [l, a, b]: [Option<f64>; 3],
) -> PublishedSkin {
    PublishedSkin {
        source,
        subjects,
        site,
        seen_by,
        l,
        a,
        b,
    }
}

impl PublishedSkin {
    /// Every row there is. Standard deviations are published for the last alone: 6.1, 1.5, 2.6.
    pub const ALL: [Self; 10] = {
        use InstrumentKind::{Contact, NonContact};
        const KOREAN: &str = "600 Korean people";
        const MIXED: &str = "of 120 people in the United States";
        const NOSE_AND_LIP: &str = "nose tip, upper lip";
        [
            skin(
                HAN_2006,
                KOREAN,
                "mean of 12 sites",
                Contact,
                [Some(61.75), Some(9.56), Some(17.08)],
            ),
            skin(
                HAN_2006,
                KOREAN,
                "medial arm",
                Contact,
                [Some(63.92), Some(8.18), None],
            ),
            skin(
                HAN_2006,
                KOREAN,
                "forehead",
                Contact,
                [Some(58.0), None, None],
            ),
            skin(
                HAN_2006,
                KOREAN,
                "cheek",
                Contact,
                [None, Some(11.87), None],
            ),
            skin(
                IADR_2009,
                MIXED,
                NOSE_AND_LIP,
                NonContact,
                [Some(52.5), Some(17.0), Some(18.9)],
            ),
            skin(
                IADR_2009,
                MIXED,
                NOSE_AND_LIP,
                NonContact,
                [Some(37.7), Some(17.2), Some(14.7)],
            ),
            skin(
                IADR_2009,
                MIXED,
                NOSE_AND_LIP,
                NonContact,
                [Some(49.4), Some(22.0), Some(12.3)],
            ),
            skin(
                IADR_2009,
                MIXED,
                NOSE_AND_LIP,
                NonContact,
                [Some(41.5), Some(25.5), Some(13.3)],
            ),
            skin(
                IADR_2009,
                MIXED,
                NOSE_AND_LIP,
                NonContact,
                [Some(26.7), Some(14.6), Some(14.7)],
            ),
            skin(
                COOKSEY_2017,
                "60 people",
                "forearm",
                Contact,
                [Some(65.29), Some(8.62), Some(15.67)],
            ),
        ]
    };

    /// The colour, where all of it is published.
    pub fn lab(&self) -> Option<Lab> {
        Some(Lab::new(self.l?, self.a?, self.b?))
    }
}

/// What the mirrored and the lost light do to a reading of skin, for the user.
pub const GEOMETRY_CAUTION: &str = "contact readers see skin lighter and less red than cameras and others that look from \
                                    afar: compare with rows of the same kind";

/// A published colour of skin beside a target.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BesidePublished {
    /// The published colour.
    #[serde(flatten)]
    pub skin: PublishedSkin,
    /// ΔE00 from the target, seen under D65 and by the 1964 observer; where the light of a row is not published it is taken
    /// for the same.
    pub delta_e: Option<f64>,
    /// Whether it was seen by the same kind of instrument as the target; `None` where that is not known.
    pub same_kind: Option<bool>,
}

impl BesidePublished {
    /// Every published colour beside `target`, in the order of [`PublishedSkin::ALL`].
    pub fn all(target: &Target) -> Vec<Self> {
        let viewing = Viewing {
            illuminant: Illuminant::D65,
            observer: Observer::Cie1964,
        };
        let own = viewing.weights().lab(&target.spectrum);
        let beside = |skin: &PublishedSkin| Self {
            skin: *skin,
            delta_e: skin.lab().map(|lab| delta_e_2000(lab, own)),
            same_kind: target.instrument.kind.map(|kind| kind == skin.seen_by),
        };
        PublishedSkin::ALL.iter().map(beside).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_beside_itself_is_no_distance_off_and_a_part_of_a_row_has_none() {
        let own = PublishedSkin::ALL[9].lab().expect("a whole row");
        let target = Target::from_lab(own, Viewing::D65_10).expect("skin");
        let beside = BesidePublished::all(&target);
        approx::assert_abs_diff_eq!(beside[9].delta_e.expect("whole"), 0.0, epsilon = 1e-6);
        assert_eq!(beside[2].delta_e, None, "lightness alone");
        assert_eq!(
            beside[0].same_kind, None,
            "a typed colour was seen by nothing known"
        );
    }

    #[test]
    fn contact_readers_saw_skin_less_red_than_all_that_looked_from_afar() {
        let reds = |kind| {
            let rows = PublishedSkin::ALL
                .iter()
                .filter(move |row| row.seen_by == kind);
            rows.filter_map(|row| row.a)
        };
        let contact = reds(InstrumentKind::Contact).fold(0.0, f64::max);
        let afar = reds(InstrumentKind::NonContact).fold(f64::INFINITY, f64::min);
        assert!(contact < afar, "{contact} and {afar}");
    }
}
