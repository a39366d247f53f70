//! C. C. Cooksey, D. W. Allen, B. K. Tsai (2017), Reference Data Set of Human Skin Reflectance, Journal of
//! Research of the National Institute of Standards and Technology 122:26, doi 10.6028/jres.122.026; data
//! doi 10.18434/M38597. A work of the United States government, in the public domain.
//!
//! cooksey_2017.csv: 60 of the 100 subjects, by the set's own numbers; directional-hemispherical reflectance
//! factor of the forearm, the subject's mean of three readings, averaged with a triangular window of 10 nm
//! half-width to 380–730 nm by 10. Its L*, a*, b* (D65, 1964 observer) are not the paper's: they were
//! computed with the Python library colour-science 0.4.7 by ASTM E308 (colour_science.py beside it).
//! Tested: `TristimulusWeights::lab` on real skin under the viewing that the product defaults to.

use dropwise::colour::{Lab, Spectrum, Viewing};

use super::{assert_agrees, rows};

/// For L*, a* and b*: the two bring the observer to 1 nm differently.
const TOLERANCE: f64 = 0.001;
/// For the statistics of all 60, rounded to two decimals by a computation whose method was not written down.
const STATISTICS_TOLERANCE: f64 = 0.02;

/// A subject of the data set.
pub(crate) struct Subject {
    number: u32,
    reflectance: Spectrum,
    /// By colour-science, D65 and the 1964 observer.
    lab: [f64; 3],
}

impl Subject {
    pub(crate) fn number(&self) -> u32 {
        self.number
    }

    pub(crate) fn reflectance(&self) -> &Spectrum {
        &self.reflectance
    }

    pub(crate) fn published_lab(&self) -> [f64; 3] {
        self.lab
    }

    /// By the library under test, D65 and the 1964 observer.
    pub(crate) fn found_lab(&self) -> Lab {
        Viewing::D65_10.weights().lab(&self.reflectance)
    }
}

/// The 60 subjects.
pub(crate) fn subjects() -> Vec<Subject> {
    let table: Vec<(u32, [f64; 3], Spectrum)> = rows(include_str!("cooksey_2017.csv"));
    table
        .into_iter()
        .map(|(number, lab, reflectance)| Subject {
            number,
            reflectance,
            lab,
        })
        .collect()
}

#[test]
fn sixty_skins_have_the_lab_that_a_reference_library_gives() {
    let subjects = subjects();
    assert_eq!(subjects.len(), 60, "the table is whole");
    for subject in subjects {
        let found = subject.found_lab();
        let what = |axis| format!("{axis} of subject {}", subject.number);
        let [l, a, b] = subject.lab;
        assert_agrees(&what("L*"), found.l, l, TOLERANCE);
        assert_agrees(&what("a*"), found.a, a, TOLERANCE);
        assert_agrees(&what("b*"), found.b, b, TOLERANCE);
    }
}

/// Mean and standard deviation of the 60 skins' L*, a*, b*, as this project computed them from the same
/// reflectances before it had a library: a second route, not a published figure.
#[test]
fn sixty_skins_have_the_mean_and_spread_computed_by_another_route() {
    let labs: Vec<[f64; 3]> = subjects()
        .iter()
        .map(|subject| {
            let Lab { l, a, b, .. } = subject.found_lab();
            [l, a, b]
        })
        .collect();
    let expected = [("L*", 65.29, 6.07), ("a*", 8.62, 1.53), ("b*", 15.67, 2.55)];
    let count = labs.len() as f64;
    for (axis, (name, expected_mean, expected_spread)) in expected.into_iter().enumerate() {
        let mean = labs.iter().map(|lab| lab[axis]).sum::<f64>() / count;
        let squares: f64 = labs.iter().map(|lab| (lab[axis] - mean).powi(2)).sum();
        let spread = (squares / (count - 1.0)).sqrt();
        let what = format!("mean of {name}");
        assert_agrees(&what, mean, expected_mean, STATISTICS_TOLERANCE);
        let what = format!("standard deviation of {name}");
        assert_agrees(&what, spread, expected_spread, STATISTICS_TOLERANCE);
    }
}

/// Two stocks, and white, for the 60 skins: at least 95 % of them within the tolerance of their lightness, in three doses, skin
/// over foam of the same stocks and veiled. It takes minutes without optimisation.
#[test]
#[cfg_attr(debug_assertions, ignore = "takes minutes without optimisation")]
fn two_stocks_cover_the_measured_skins() {
    use dropwise::materials::Grams;
    let book = dropwise::book::Book::demo().expect("the demo");
    let settings = &book.shelf().settings;
    let skins = dropwise::tone::measured_skins();
    let targets: Vec<_> = (skins.iter())
        .map(|skin| {
            dropwise::tone::Target::from_readings(
                std::slice::from_ref(skin),
                settings,
                dropwise::tone::FarOff::Kept,
            )
        })
        .collect::<Result<_, _>>()
        .expect("each is a target");
    let fibre = "fibre 12 g".parse().expect("a mix");
    let plan = dropwise::recipe::Order::skin(book.shelf(), "clear skin", Grams(600.0))
        .over_foam("flexible foam", Grams(300.0))
        .holding(fibre)
        .plan_stocks(2, &targets, &[])
        .expect("a plan");
    assert_eq!(plan.stocks.len(), 2, "{:?}", plan.stocks);
    assert!(
        dropwise::recipe::StockPlan::covered(&plan.tones) >= 0.95,
        "{} of 1: {:?}",
        dropwise::recipe::StockPlan::covered(&plan.tones),
        plan.stocks
    );
    let most = plan.tones.iter().map(|tone| tone.doses).max();
    assert!(most <= Some(3), "doses: {most:?}");
}
