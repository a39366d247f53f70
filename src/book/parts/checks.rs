//! A part that is written is read back as it was, and a file that is written again keeps what its user put there.

use std::time::Duration;

use jiff::civil::date;

use super::{Needed, read, write};
use crate::colour::{Illuminant, Lab, Viewing};
use crate::materials::fixtures::shelf;
use crate::materials::{Colorant, Grams, LargestPots, Millimetres, Poured, Stock};
use crate::recipe::{
    BenchCup, BenchFate, Beneath, Deed, Event, KeptCup, KeptRecipe, KeptStock, Part, Request,
    SearchedCup, WantedCup,
};
use crate::tone::{Target, ToneRole};

fn wanted(base: &str, mass_g: f64) -> WantedCup {
    WantedCup {
        base: Some(base.to_owned()),
        base_mass: Grams(mass_g),
    }
}

fn cup(base: &str, mix: &str) -> KeptCup {
    KeptCup::new(Poured {
        base: base.to_owned(),
        base_mass: Grams(60.0),
        mix: mix.parse().expect(mix),
    })
}

/// A part of which everything is said that can be.
fn whole_part() -> Part {
    let day = date(2026, 3, 14);
    let mut target = Target::from_lab(Lab::new(64.2, 13.1, 17.9), Viewing::D65_10)
        .and_then(|target| target.with_flush(Lab::new(57.0, 20.5, 18.5)))
        .expect("colours of skin");
    target.spread = [2.0, 1.5, 1.75];
    target.notes.push("a \"quoted\" note, with °".to_owned());
    let beneath = Beneath::Foam {
        cup: wanted("foam", 120.0),
        at_the_tone: true,
    };
    let mut request = Request::new(wanted("skin", 120.0), beneath, day);
    request.thickness = Millimetres(1.7);
    request.max_thickness = Some(Millimetres(3.0));
    request.hide_within = Some(1.5);
    request.fibre = Grams(2.5);
    request.paint = Some((wanted("paint", 60.0), Millimetres(0.04)));
    request.paint_tones = vec![ToneRole::Base, ToneRole::Flush];
    request.one_tint = true;
    request.largest_pots = LargestPots {
        any: Some(Grams(60.0)),
        foam: Some(Grams(40.0)),
    };
    let colorant = |text: &str| -> Colorant { text.parse().expect(text) };
    request.pigments = Some(vec![colorant("red"), colorant("white 1:10")]);
    request.with = vec![(colorant("red"), None), (colorant("white 1:10"), Some(3))];
    request.without = vec!["white".to_owned()];
    request.lights = vec![Illuminant::D65.into(), Illuminant::A.into()];
    request.tolerance = Some(1.25);
    request.limits.max_drops = Some(30);
    request.limits.max_total_drops = Some(50);
    request.limits.max_pigments = 3;
    request.limits.within = Some(0.125);
    request.limits.time_limit = Some(Duration::from_millis(2500));
    request.limits.contrast_ratio = Some((0.25, 0.5));
    let mut skin = cup("skin", "one stock 3; white 1:10 2; fibre 1.25 g");
    skin.pots = 2;
    skin.search = Some(SearchedCup {
        delta_e: 0.1 + 0.2,
        gap: 0.05,
        proven: true,
        nearest_delta_e: 0.25,
        effort: 3.05,
        effort_gap: Some(0.0),
    });
    let mut foam = cup("foam", "one stock 7");
    foam.pots = 2;
    foam.lighter = 4.0;
    let recipe = KeptRecipe {
        date: day,
        skin,
        foam: Some(foam),
        paints: vec![
            (ToneRole::Base, cup("paint", "")),
            (ToneRole::Flush, cup("paint", "red 2")),
        ],
        stock: Some(KeptStock {
            stock: Stock {
                name: "one stock".to_owned(),
                grams: vec![
                    ("red".to_owned(), Grams(60.0)),
                    ("white".to_owned(), Grams(40.0)),
                ],
                drop_mass: Some(Grams(0.031)),
            },
            skin_free_delta_e: 0.21,
            foam_free_delta_e: Some(0.4),
        }),
    };
    let mut part = Part::new(
        "forearm",
        (target, "photograph arm.jpg".to_owned()),
        request,
        recipe,
    );
    part.title = "Left forearm".to_owned();
    let [before, poured] = [
        "red 3; fibre 1.25 g",
        "red 2.7; white 1:10 2; fibre 1.125 g",
    ];
    part.bench = Some(BenchCup {
        date: date(2026, 3, 15),
        by: "part B read 61,13,16".to_owned(),
        before: cup("skin", before).poured,
        poured: Poured {
            base_mass: Grams(54.0),
            ..cup("skin", poured).poured
        },
        fate: BenchFate::Logged("S012".to_owned()),
    });
    part.add_casting("S012", date(2026, 3, 15), "read unpainted");
    part.history.push(Event {
        note: "redder".to_owned(),
        was: part.recipe.lines(),
        ..Event::new(date(2026, 3, 16), Deed::Corrected)
    });
    part
}

fn read_back(text: &str) -> Part {
    read::part("forearm", text, &shelf(), Needed::Nothing).expect(text)
}

#[test]
fn a_part_comes_back_from_its_file() {
    let part = whole_part();
    let text = write::text(&part, None).expect("a sound target");
    assert_eq!(read_back(&text), part, "{text}");
}

#[test]
fn a_spectrum_that_was_read_is_kept_and_one_that_the_colour_tells_is_not_written() {
    let mut part = whole_part();
    let text = write::text(&part, None).expect("a sound target");
    assert!(!text.contains("\nr = "), "{text}");
    part.target.spectrum = part.target.spectrum.map(|value| value * 1.0001);
    let text = write::text(&part, None).expect("a sound target");
    assert!(text.contains("\nr = ["), "{text}");
    assert_eq!(read_back(&text), part, "{text}");
}

#[test]
fn a_part_that_is_written_again_keeps_comments_order_and_keys_of_the_users_own() {
    let mut part = whole_part();
    let text = write::text(&part, None).expect("a sound target");
    let edited = format!("# mine\n{text}")
        .replace("thickness_mm = 1.7", "thickness_mm = 1.70 # callipers")
        .replace("[limits]", "mould = \"blue\"\n[limits]");
    let again = write::text(&read_back(&edited), Some(&edited)).expect("sound");
    assert_eq!(again, edited, "nothing has changed");
    let mut other = part.recipe.clone();
    other.skin.poured.mix = "red 4".parse().expect("a mix");
    other.foam = None;
    other.date = date(2026, 4, 1);
    part.request.tolerance = None;
    part.replace_recipe(other, Deed::Replaced, "");
    let changed = write::text(&part, Some(&edited)).expect("sound");
    let again = read_back(&changed);
    assert_eq!(again.recipe, part.recipe, "the new recipe: {changed}");
    assert_eq!(again.request, part.request, "what is asked now");
    assert_eq!(again, part, "what is new: {changed}");
    for kept in ["# mine\n", "1.70 # callipers", "mould = \"blue\""] {
        assert!(changed.contains(kept), "{kept}: {changed}");
    }
    assert!(
        !changed.contains("[recipe.foam]") && !changed.contains("\ntolerance"),
        "{changed}"
    );
    assert!(
        changed.contains("skin: 2 pots of 60 g skin; one stock 3; "),
        "the old recipe: {changed}"
    );
}
