//! A mould, and how much of each base it takes.

use super::{Base, BaseKind, Grams, Kind, Millimetres};
use crate::error::{Error, Result};

/// A mould of the shop.
///
/// What it is known to take, as a marker wrote it on the mould, counts before what its measures give.
#[derive(Clone, Debug, PartialEq)]
pub struct Mould {
    /// What it is called.
    pub name: String,
    /// What it is known to take of mixed skin (A + B), what stays in the cup and on the brush included.
    pub skin_mass: Option<Grams>,
    /// The area that skin is brushed on, cm².
    pub skin_area_cm2: Option<f64>,
    /// How thick its skin is wanted.
    pub thickness: Option<Millimetres>,
    /// What it is known to take of mixed foam (A + B), likewise.
    pub foam_mass: Option<Grams>,
    /// The room that risen foam fills, ml.
    pub cavity_ml: Option<f64>,
    /// How many times as much foam is poured as would just fill that room.
    pub packing: f64,
    /// What is mixed above what the measures give, as a share of it.
    pub waste: f64,
    /// What else is written on it.
    pub note: String,
}

impl Mould {
    /// The range of an area, cm².
    pub const AREA_CM2: (f64, f64) = (1.0, 100_000.0);
    /// The range of a cavity, ml.
    pub const CAVITY_ML: (f64, f64) = (1.0, 1_000_000.0);
    /// The range of packing.
    pub const PACKING: (f64, f64) = (0.5, 3.0);
    /// The range of waste.
    pub const WASTE: (f64, f64) = (0.0, 1.0);
    /// Waste where nobody says: a tenth stays in the cup and on the brush. Common practice, no source.
    pub const USUAL_WASTE: f64 = 0.1;

    /// Mass of `base`, a skin or a foam, that is mixed for one piece: what it is known to take, or what its measures give, to the
    /// gram above. Skin is its area times the `thickness`; foam is the cavity over the expansion, times the packing; both times
    /// the density of the liquid, and the waste besides.
    ///
    /// # Errors
    /// Neither is written of this mould; a paint, which no mould measures.
    pub fn takes(&self, base: &Base, thickness: Millimetres) -> Result<Grams> {
        let kind = base.kind.kind();
        let (known, volume_ml) = match base.kind {
            BaseKind::Skin => {
                let area = self.skin_area_cm2;
                // mm to cm.
                (self.skin_mass, area.map(|area| area * thickness.0 / 10.0))
            }
            BaseKind::Foam(foam) => {
                let liquid = |room: f64| room / foam.expansion * self.packing;
                (self.foam_mass, self.cavity_ml.map(liquid))
            }
            BaseKind::Paint { .. } => return Err(base.not_a(Kind::Skin)),
        };
        let worked_out = |ml: f64| {
            let mass = ml * base.density_g_ml * (1.0 + self.waste);
            // The slack keeps what is a whole gram from becoming one more by rounding.
            Grams((mass - 1e-9).ceil())
        };
        known.or(volume_ml.map(worked_out)).ok_or_else(|| {
            let finding = format!(
                "nothing tells how much {kind} the mould `{}` takes",
                self.name.escape_debug()
            );
            Error::input(finding).mend(match kind {
                Kind::Foam => "write foam_g or cavity_ml into its row of moulds.csv",
                Kind::Skin | Kind::Paint => {
                    "write skin_g or skin_area_cm2 into its row of moulds.csv"
                }
            })
        })
    }

    /// Whether anything tells how much foam it takes.
    pub fn holds_foam(&self) -> bool {
        self.foam_mass.is_some() || self.cavity_ml.is_some()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::materials::fixtures;

    /// A hand's worth, worked by hand: 350 cm² of 2 mm are 70 ml; a cavity of 400 ml at six times its volume is 66.7 ml of
    /// liquid, 73.3 ml packed by a tenth.
    fn hand() -> Mould {
        Mould {
            name: "hand".to_owned(),
            skin_mass: None,
            skin_area_cm2: Some(350.0),
            thickness: Some(Millimetres(2.0)),
            foam_mass: None,
            cavity_ml: Some(400.0),
            packing: 1.1,
            waste: 0.1,
            note: String::new(),
        }
    }

    #[test]
    fn masses_follow_from_measures_and_what_is_known_counts_first() {
        let shelf = fixtures::shelf();
        let mut skin = shelf.base("skin").expect("on the shelf").clone();
        skin.density_g_ml = 1.05;
        let mut foam = shelf.base("foam").expect("on the shelf").clone();
        foam.density_g_ml = 1.0;
        let BaseKind::Foam(risen) = &mut foam.kind else {
            panic!("a foam")
        };
        risen.expansion = 6.0;
        let two = Millimetres(2.0);
        let mut mould = hand();
        // 70 ml · 1.05 · 1.1 = 80.85 g.
        assert_eq!(mould.takes(&skin, two).expect("an area"), Grams(81.0));
        // Half as thick again: 121.275 g.
        assert_eq!(
            mould.takes(&skin, Millimetres(3.0)).expect("an area"),
            Grams(122.0)
        );
        // 73.33 ml · 1.0 · 1.1 = 80.67 g.
        assert_eq!(mould.takes(&foam, two).expect("a cavity"), Grams(81.0));
        mould.skin_mass = Some(Grams(95.5));
        mould.foam_mass = Some(Grams(70.0));
        assert_eq!(mould.takes(&skin, two).expect("known"), Grams(95.5));
        assert_eq!(mould.takes(&foam, two).expect("known"), Grams(70.0));
    }

    #[test]
    fn what_is_not_written_is_asked_for_and_paint_fills_no_mould() {
        let shelf = fixtures::shelf();
        let base = |name| shelf.base(name).expect("on the shelf");
        let mut mould = hand();
        mould.skin_area_cm2 = None;
        mould.cavity_ml = None;
        assert!(!mould.holds_foam());
        for (name, column) in [("skin", "skin_area_cm2"), ("foam", "cavity_ml")] {
            let error = mould.takes(base(name), Millimetres(2.0)).expect_err(name);
            assert!(error.to_string().contains(column), "{error}");
        }
        let error = hand().takes(base("paint"), Millimetres(2.0));
        assert!(error.is_err(), "paint");
    }
}
