//! What a correction learns, and what it then adds.

use approx::assert_abs_diff_eq;

use super::{Correction, Evidence, Stage, Well};
use crate::colour::{Lab, Viewing};
use crate::materials::fixtures::{chip, shelf};
use crate::materials::{
    Casting, CoefficientSpread, Colorant, Cup, Geometry, Grams, Millimetres, Shelf,
};
use crate::search::Limits;
use crate::tone::Target;

/// A shelf of which curves and thickness are known, so that a reading can tell of the drops alone.
fn known() -> Shelf {
    let mut shelf = shelf();
    for pigment in &mut shelf.pigments {
        pigment.spread = CoefficientSpread::NONE;
    }
    shelf.settings.thickness_sd = Millimetres(0.001);
    shelf
}

fn lab_of(shelf: &Shelf, mix: &str) -> Lab {
    let casting = Casting::new(shelf, &chip(mix)).expect("a sound chip");
    shelf.settings.viewing.weights().lab(&casting.reading())
}

fn asked<'shelf>(shelf: &'shelf Shelf, mix: &str, measured: Lab) -> Correction<'shelf> {
    let mut correction = Correction::of(shelf, chip(mix), measured);
    correction.max_add = 3;
    correction.is_contrast_free = true;
    correction.tolerance = Some(0.7);
    correction.limits = Limits {
        time_limit: None,
        ..Limits::default()
    };
    correction
}

#[test]
fn the_next_cup_is_searched_up_to_as_many_drops_as_can_be_asked_for() {
    let shelf = known();
    let read = lab_of(&shelf, "red 4; white 30");
    for (mix, most) in [
        ("red 100; white 30", 103),
        ("red 1000000; white 30", Limits::MOST_DROPS),
    ] {
        let order = asked(&shelf, mix, read).order_of_next(&shelf, None);
        let limits = order.expect("an order").limits;
        assert_eq!(limits.max_drops, Some(most), "{mix}");
    }
}

#[test]
fn drops_that_came_out_light_are_made_up_for() {
    let shelf = known();
    // Four drops of red came to what 3.4 usual ones weigh, and the tone takes 6.4 of those: three more, where two would do by
    // what was counted.
    let tone = lab_of(&shelf, "red 6.4; white 30");
    let target = Target::from_lab(tone, Viewing::D65_10).expect("a tone");
    let read = lab_of(&shelf, "red 3.4; white 30");
    let remedy = asked(&shelf, "red 4; white 30", read)
        .remedy(&target)
        .expect("an answer");
    assert_eq!(
        remedy.add,
        [(Colorant::neat("red"), 3)],
        "made up for, and no more"
    );
    assert!(remedy.delta_e_after <= 0.7, "ΔE00 {}", remedy.delta_e_after);
}

/// Worked by hand: of 100 g mixed one to one, 50 g are part B, and 4 drops of 0.03 g in them are 0.12 / 50.12 of it, where they
/// are 0.12 / 100.12 of the whole. The fibre, which is weighed, is not in yet.
#[test]
fn part_b_holds_the_pigments_of_the_whole_cup_in_its_own_half() {
    let shelf = known();
    let mut correction = asked(&shelf, "red 4; fibre 2 g", Lab::new(60.0, 20.0, 10.0));
    correction.stage = Stage::PartB(Well::like(&correction.build));
    let well = correction.observed().expect("a well");
    assert_eq!(well.skin.base_mass, Grams(50.0), "half");
    let cup = Cup::pour(&shelf, &well.skin).expect("a cup");
    assert_abs_diff_eq!(cup.fraction("red"), 0.12 / 50.12, epsilon = 1e-12);
    assert_abs_diff_eq!(cup.fraction("fibre"), 0.0, epsilon = 1e-12);
    correction.build.skin.base = "paint".to_owned();
    let error = correction.observed().expect_err("one part").to_string();
    assert!(error.contains("comes as one part"), "{error}");
}

/// The red's drops came out 8 % heavy; part B is read as it then is, and of the finished cup more is known than without.
#[test]
fn what_part_b_tells_of_heavy_drops_is_told_of_the_finished_cup() {
    let shelf = known();
    let tone = lab_of(&shelf, "red 6.5; white 30");
    let target = Target::from_lab(tone, Viewing::D65_10).expect("a tone");
    let mut truth = asked(&shelf, "red 4.32; white 30", tone);
    truth.stage = Stage::PartB(Well::like(&truth.build));
    let well = Casting::new(&shelf, &truth.observed().expect("a well")).expect("a casting");
    let read = shelf.settings.viewing.weights().lab(&well.reading());
    let mut correction = asked(&shelf, "red 4; white 30", read);
    correction.stage = Stage::PartB(Well::like(&correction.build));
    correction.evidence = Evidence::Reading {
        lab: read,
        geometry: Geometry::default(),
    };
    let remedy = correction.remedy(&target).expect("an answer");
    let added: f64 = remedy
        .add
        .iter()
        .filter(|(colorant, _)| colorant.pigment == "red")
        .map(|(_, count)| f64::from(*count))
        .sum();
    let off_with = |drops: f64| {
        let poured = lab_of(&shelf, &format!("red {}; white 30", drops + added));
        crate::colour::delta_e_2000(tone, poured)
    };
    // A reading is believed as far as drops scatter, which is not the whole way.
    let (off, unread) = (off_with(4.32), off_with(4.0));
    let told = remedy.delta_e_after;
    assert!(
        (off - told).abs() < (off - unread).abs(),
        "{off}, told {told}, and without the reading {unread}"
    );
}
