//! A. Chardon, I. Cretois, C. Hourseau (1991), Skin colour typology and suntanning pathways, International
//! Journal of Cosmetic Science 13, 191–208: the individual typology angle and its classes; the class below
//! −30° came later (S. Del Bino, F. Bernerd, 2013, British Journal of Dermatology 169, supplement 3, 33–40).
//!
//! The papers were not at hand: the limits 55, 41, 28, 10 and −30° are those of general-purpose public source
//! code, and arXiv:1910.13268, table 1, has 55, 41, 28 and 10 among its finer limits. The number of subjects
//! a class counts the 60 skins of cooksey_2017.csv by the Lab of colour-science 0.4.7; the subject nearest
//! to a limit is 0.04° from it. Tested: `SkinAngle::of`, `degrees` and `class`.

use dropwise::colour::{Lab, SkinAngle};

use super::{assert_agrees, cooksey_2017, rows};

/// Rounding of the arctangent, degrees.
const TOLERANCE_DEGREES: f64 = 1e-9;
/// How near to a limit both sides of it are tried, degrees.
const JUST_DEGREES: f64 = 1e-6;

/// Class, its limits (degrees; the upper belongs to it), and how many of the 60 skins fall in it.
type Class = (String, f64, f64, usize);

fn classes() -> Vec<Class> {
    rows(include_str!("chardon_1991.csv"))
}

/// A skin of the angle `degrees`.
fn skin_at(degrees: f64) -> SkinAngle {
    let b = 15.0;
    let lab = Lab::new(50.0 + b * degrees.to_radians().tan(), 9.0, b);
    SkinAngle::of(lab).expect("b* is positive")
}

#[test]
fn angle_is_that_of_lightness_over_50_to_yellowness() {
    for degrees in [-60.0, -30.0, 0.0, 10.0, 28.0, 41.0, 45.0, 55.0, 80.0] {
        let what = format!("a skin of {degrees}°");
        let found = skin_at(degrees).degrees();
        assert_agrees(&what, found, degrees, TOLERANCE_DEGREES);
    }
}

#[test]
fn classes_change_at_their_published_limits() {
    for (class, above, up_to, _) in classes() {
        for degrees in [above + JUST_DEGREES, up_to - JUST_DEGREES] {
            let found = skin_at(degrees).class().to_string();
            assert_eq!(found, class, "a skin of {degrees}°");
        }
    }
}

#[test]
fn sixty_measured_skins_fall_into_their_classes() {
    let found: Vec<String> = cooksey_2017::subjects()
        .iter()
        .map(|subject| {
            let angle = SkinAngle::of(subject.found_lab()).expect("skin is yellowish");
            angle.class().to_string()
        })
        .collect();
    for (class, _, _, subjects) in classes() {
        let count = found.iter().filter(|name| **name == class).count();
        assert_eq!(count, subjects, "skins that are {class}");
    }
}
