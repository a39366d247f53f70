//! Batches worked by hand, and what is refused or warned of.

use approx::assert_abs_diff_eq;

use super::*;
use crate::materials::fixtures::shelf;
use crate::materials::{LetDown, Poured, Standing};

const DAY: Date = jiff::civil::date(2026, 3, 10);

fn cup<'a>(shelf: &'a Shelf, base: &str, mass: f64, mix: &str) -> Cup<'a> {
    let mix = mix.parse().expect(mix);
    let poured = Poured {
        base: base.to_owned(),
        base_mass: Grams(mass),
        mix,
    };
    Cup::pour(shelf, &poured).expect("a sound cup")
}

fn scaled(base: &str, mass: f64, mix: &str, factor: f64) -> Result<Pour> {
    let shelf = shelf();
    let scale = Scale {
        factor,
        largest_pot: None,
    };
    pour(&cup(&shelf, base, mass, mix), scale, &shelf, DAY)
}

fn doses_of(mass: f64, mix: &str, factor: f64) -> String {
    scaled("skin", mass, mix, factor)
        .and_then(|pour| pour.mix())
        .expect("a batch")
        .to_string()
}

#[test]
fn the_common_ratios_split_as_by_hand() {
    // Common practice, no source: skins go 1:1, foams 100 B to 50 A, both by mass.
    let skin = scaled("skin", 227.0, "", 1.0).expect("a batch").parts;
    assert_eq!(
        skin,
        Parts::Weighed {
            part_a_g: 113.5,
            part_b_g: 113.5
        },
        "1:1"
    );
    let foam = scaled("foam", 300.0, "", 1.0).expect("a batch").parts;
    assert_eq!(
        foam,
        Parts::Weighed {
            part_a_g: 100.0,
            part_b_g: 200.0
        },
        "2:1"
    );
    let paint = scaled("paint", 60.0, "", 1.0).expect("a batch").parts;
    assert_eq!(paint, Parts::Single {}, "one part");
}

#[test]
fn a_ratio_by_volume_is_measured_by_volume() {
    let mut shelf = shelf();
    shelf.bases[0].ratio = crate::materials::MixRatio {
        part_a: 1.0,
        part_b: 2.0,
        by: RatioBy::Volume,
    };
    shelf.bases[0].density_g_ml = 1.25;
    let pour = pour(
        &cup(&shelf, "skin", 375.0, ""),
        Scale {
            factor: 1.0,
            largest_pot: None,
        },
        &shelf,
        DAY,
    );
    let parts = pour.expect("a batch").parts;
    assert_eq!(
        parts,
        Parts::ByVolume {
            part_a_ml: 100.0,
            part_b_ml: 200.0
        },
        "300 ml in all"
    );
}

#[test]
fn the_clear_of_let_downs_counts_as_part_b_so_that_the_parts_meet_in_their_ratio() {
    // Worked by hand. 7 drops of 0.03 g of red 1:10 are 0.21 g, of which 0.189 g are part B. With 50 g that makes
    // 50.189 g clear, half of it part A: 25.0945 g, and the same of part B, of which 24.9055 g are poured.
    let skin = scaled("skin", 50.0, "red 1:10 7", 1.0).expect("a batch");
    let poured = Parts::Weighed {
        part_a_g: 25.09,
        part_b_g: 24.91,
    };
    assert_eq!(skin.parts, poured, "1:1, to a hundredth");
    // 19 drops of red 1:20 are 0.57 g with 0.5415 g of part B. A third of 30.5415 g is part A: 10.1805 g; of part B
    // 20.361 g less 0.5415 g are poured, 19.8195 g: twice as much B as A meet.
    let foam = scaled("foam", 30.0, "red 1:20 19", 1.0).expect("a batch");
    let poured = Parts::Weighed {
        part_a_g: 10.18,
        part_b_g: 19.82,
    };
    assert_eq!(foam.parts, poured, "50 A to 100 B");
    let paint = scaled("paint", 30.0, "red 1:20 19", 1.0).expect("a batch");
    assert_eq!(paint.parts, Parts::Single {}, "one part has no ratio");
    assert_eq!(paint.base_g, 30.0, "and is poured whole");
    // Two pots of half as much: what goes into one counts, not what goes into both.
    let shelf = shelf();
    let scale = Scale {
        factor: 2.0,
        largest_pot: Some(Grams(50.0)),
    };
    let cup = cup(&shelf, "skin", 50.0, "red 1:10 7");
    let pots = pour(&cup, scale, &shelf, DAY).expect("a batch");
    assert_eq!(
        (pots.pots, pots.parts),
        (2, skin.parts),
        "each pot as the cup"
    );
    assert_abs_diff_eq!(pots.let_downs[0].uses_g, 0.42, epsilon = 1e-12);
}

#[test]
fn let_downs_that_bring_more_part_b_than_a_cup_takes_are_warned_of() {
    // 19 drops of 0.03 g bring 0.5415 g of part B, and 0.4 g poured of the base would want 0.47 g of A.
    let tiny = scaled("skin", 0.4, "red 1:20 19", 1.0).expect("a batch");
    assert!(
        tiny.warnings[0].contains("more part B than this cup takes"),
        "{:?}",
        tiny.warnings
    );
    let poured = Parts::Weighed {
        part_a_g: 0.4,
        part_b_g: 0.0,
    };
    assert_eq!(tiny.parts, poured, "no less than nothing");
}

#[test]
fn a_let_down_that_stands_ready_is_named_with_what_is_used_of_it() {
    let mut shelf = shelf();
    shelf.let_downs.push(LetDown {
        colorant: "red 1:10".parse().expect("a let-down"),
        lot: String::new(),
        base: "skin".to_owned(),
        made: DAY,
        mass: Grams(0.3),
        keeps_until: DAY,
    });
    let of = |base: &str, mix: &str, factor: f64| {
        let cup = cup(&shelf, base, 600.0, mix);
        let scale = Scale {
            factor,
            largest_pot: None,
        };
        let called_for = pour(&cup, scale, &shelf, DAY).expect("a batch").let_downs;
        (called_for.len(), called_for[0].standing)
    };
    assert_eq!(
        of("skin", "red 1:10 7", 1.0),
        (1, Some(Standing::Ready)),
        "0.21 g"
    );
    assert_eq!(
        of("skin", "red 1:10 7", 2.0),
        (1, Some(Standing::TooLittle)),
        "0.42 g of 0.3 g"
    );
    assert_eq!(
        of("foam", "red 1:10 7", 1.0),
        (1, None),
        "of another base's part B"
    );
    assert_eq!(of("skin", "red 1:20 7", 1.0), (1, None), "of another ratio");
}

#[test]
fn ten_times_the_batch_counts_let_downs_as_drops_and_weighs_the_rest() {
    let ten = doses_of(600.0, "red 1:10 7; fibre 12.5 g", 10.0);
    assert_eq!(ten, "red 7; fibre 125 g", "seventy tenths are seven drops");
    assert_eq!(
        doses_of(600.0, "red 3", 10.0),
        "red 0.9 g",
        "thirty drops are weighed"
    );
}

#[test]
fn a_small_batch_falls_back_on_let_downs_and_never_on_nothing() {
    assert_eq!(
        doses_of(600.0, "red 3", 0.1),
        "red 1:10 3",
        "three tenths of a drop"
    );
    assert_eq!(
        doses_of(600.0, "red 1", 1.0 / 30.0),
        "red 1:100 3",
        "a thirtieth of a drop"
    );
    let nothing = scaled("skin", 600.0, "red 1", 1e-4).expect_err("a ten-thousandth of a drop");
    assert!(
        nothing.to_string().contains("can't be measured"),
        "{nothing}"
    );
    let dust = scaled("skin", 600.0, "fibre 1 g", 1e-3).expect_err("a milligram on a 10 mg scale");
    assert!(dust.to_string().contains("can't be weighed"), "{dust}");
}

#[test]
fn a_let_down_keeps_its_ratio_where_whole_drops_of_it_are_near_enough() {
    assert_eq!(doses_of(600.0, "red 1:5 3", 2.0), "red 1:5 6", "twice");
    assert_eq!(
        doses_of(600.0, "red 1:20 7", 10.0),
        "red 3; red 1:20 10",
        "three and a half drops"
    );
    assert_eq!(
        doses_of(600.0, "red 3; red 1:5 3", 0.5),
        "red 1; red 1:5 4",
        "nine fifths of a drop"
    );
}

#[test]
fn what_is_too_little_for_the_scale_is_counted_and_nothing_is_not_listed() {
    // 12 mg, on a scale of 10 mg: four tenths of a drop of 30 mg.
    assert_eq!(
        doses_of(600.0, "red 2 g; fibre 0 g", 0.006),
        "red 1:10 4",
        "counted"
    );
    assert_eq!(
        doses_of(600.0, "red 2 g", 1.0),
        "red 2 g",
        "weighed as written"
    );
}

#[test]
fn a_cup_as_it_is_keeps_the_counts_of_its_recipe() {
    let mix = "red 1; red 1:10 13";
    assert_eq!(doses_of(600.0, mix, 1.0), mix, "not counted anew");
    // 21 drops are 0.63 g, which the scale of 0.01 g shows; of 0.1 g it would be off by 5 %.
    assert_eq!(
        doses_of(600.0, "red 21", 1.0),
        "red 0.63 g",
        "weighed where the scale is fine"
    );
    let mut shelf = shelf();
    shelf.settings.scale_resolution = Grams(0.1);
    let scale = Scale {
        factor: 1.0,
        largest_pot: None,
    };
    let coarse = pour(&cup(&shelf, "skin", 600.0, "red 21"), scale, &shelf, DAY);
    let coarse = coarse
        .and_then(|pour| pour.mix())
        .expect("a batch")
        .to_string();
    assert_eq!(coarse, "red 21", "counted where it is coarse");
}

#[test]
fn pots_are_alike_and_none_is_too_large() {
    let shelf = shelf();
    let cup = cup(&shelf, "skin", 60.0, "red 1");
    let scale = |factor, largest| Scale {
        factor,
        largest_pot: Some(Grams(largest)),
    };
    let three = pour(&cup, scale(10.0, 250.0), &shelf, DAY).expect("a batch");
    assert_eq!(three.pots, 3, "600 g in pots of at most 250 g");
    assert_abs_diff_eq!(three.base_g, 200.0, epsilon = 1e-9);
    let ten = pour(&cup, scale(10.0, 60.0), &shelf, DAY).expect("a batch");
    assert_eq!(ten.pots, 10, "no eleventh by rounding");
    assert!(
        pour(&cup, scale(1e6, 60.0), &shelf, DAY).is_err(),
        "a million pots"
    );
}

#[test]
fn a_large_pot_and_a_heavy_load_are_warned_of() {
    let large = scaled("skin", 600.0, "", 5.0).expect("a batch").warnings;
    assert!(large[0].contains("may overheat"), "{large:?}");
    let loaded = scaled("skin", 60.0, "red 120; white 90", 1.0)
        .expect("a batch")
        .warnings;
    assert!(loaded[0].contains("dispersions together"), "{loaded:?}");
    let usual = scaled("skin", 600.0, "red 3", 1.0)
        .expect("a batch")
        .warnings;
    assert!(usual.is_empty(), "{usual:?}");
}

#[test]
fn nonsense_is_refused() {
    let shelf = shelf();
    let cup = cup(&shelf, "skin", 60.0, "");
    for scale in [
        Scale {
            factor: 0.0,
            largest_pot: None,
        },
        Scale {
            factor: f64::NAN,
            largest_pot: None,
        },
        Scale {
            factor: 1.0,
            largest_pot: Some(Grams(0.0)),
        },
    ] {
        assert!(pour(&cup, scale, &shelf, DAY).is_err(), "{scale:?}");
    }
}
