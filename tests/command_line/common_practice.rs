//! What every maker of cast skins knows: common practice, no source. The limits are wide, since the starter's
//! curves are generic; a model that got a sign wrong would still leave them.

use dropwise::colour::Lab;

use super::{colour_of, lab, predict};

/// A flesh foam to lie beneath, as cells of a row of builds.
const FLESH_FOAM: &str = "flexible foam,300,iron oxide red 4; iron oxide yellow 5";

fn chroma(lab: Lab) -> f64 {
    lab.a.hypot(lab.b)
}

fn hue_degrees(lab: Lab) -> f64 {
    lab.b.atan2(lab.a).to_degrees()
}

#[test]
fn a_handful_of_fibre_turns_a_tint_fairer() {
    // Common practice, no source. Over a foam that is fair itself there is less to gain.
    let over_foam = (2, format!(",,{FLESH_FOAM}"), 0.5);
    let over_black = (2, "black card".to_owned(), 2.0);
    // In the cup itself, which is too deep to see through.
    let in_the_cup = (50, "black card".to_owned(), 10.0);
    for (thickness_mm, beneath, least) in [over_foam, over_black, in_the_cup] {
        let with = |fibre: &str| {
            colour_of(&format!(
                "x,clear skin,600,iron oxide red 2{fibre},{thickness_mm},{beneath}"
            ))
        };
        let (none, some, more) = (with(""), with("; fibre 12 g"), with("; fibre 24 g"));
        assert!(
            some.l > none.l + least,
            "over {beneath}: L* {} to {}",
            none.l,
            some.l
        );
        assert!(
            more.l > some.l + least / 2.0,
            "over {beneath}: L* {} to {}",
            some.l,
            more.l
        );
    }
}

#[test]
fn holding_a_colour_takes_more_pigment_in_foam_than_in_the_same_mass_of_skin() {
    // Common practice, no source.
    let skin = colour_of("skin,clear skin,100,iron oxide red 3; fibre 2 g,50,white card");
    let foam = |drops: u32| {
        colour_of(&format!(
            "foam,flexible foam,100,iron oxide red {drops},50,white card"
        ))
    };
    let same = foam(3);
    assert!(
        same.l > skin.l + 5.0,
        "as many drops: foam L* {}, skin {}",
        same.l,
        skin.l
    );
    let depth = |lab: Lab| chroma(lab) / lab.l;
    assert!(
        depth(same) < depth(skin),
        "as many drops: less colour for its lightness"
    );
    let more = foam(9);
    assert!(
        more.l < same.l - 5.0 && chroma(more) > chroma(same),
        "three times the drops hold more of it"
    );
    assert!(more.l > skin.l, "and are still not enough: L* {}", more.l);
}

#[test]
fn three_drops_of_red_and_two_of_umber_in_a_cup_of_clear_paint_spray_a_reddish_brown() {
    // Common practice, no source: about 60 g of clear paint, coats that dry to 0.03 mm.
    let skin =
        "clear skin,600,titanium white 13; iron oxide red 2; iron oxide yellow 5,2,white card";
    let bare = colour_of(&format!("bare,{skin}"));
    let sprayed = colour_of(&format!(
        "sprayed,{skin},,,,,clear paint,60,iron oxide red 3; umber 2,0.03"
    ));
    assert!((55.0..75.0).contains(&bare.l), "a mid skin: L* {}", bare.l);
    assert!(
        sprayed.l < bare.l - 4.0,
        "darker: L* {} to {}",
        bare.l,
        sprayed.l
    );
    assert!(
        (25.0..70.0).contains(&hue_degrees(sprayed)),
        "between red and yellow: {}°",
        hue_degrees(sprayed)
    );
    assert!(
        hue_degrees(sprayed) < hue_degrees(bare),
        "redder than the skin: {}°",
        hue_degrees(sprayed)
    );
    assert!(
        (12.0..45.0).contains(&chroma(sprayed)),
        "a brown, no grey and no paint-box red: {}",
        chroma(sprayed)
    );
    assert!((35.0..62.0).contains(&sprayed.l), "brown: L* {}", sprayed.l);
}

#[test]
fn one_to_three_drops_of_red_tint_600_g_of_clear_skin_to_a_fair_flesh() {
    // Common practice, no source.
    let mut rows = Vec::new();
    for drops in 1..=3 {
        for white in ["titanium white 3", "fibre 12 g"] {
            for (name, beneath) in [
                ("card", "white card".to_owned()),
                ("foam", format!(",,{FLESH_FOAM}")),
            ] {
                rows.push(format!(
                    "{drops} {white} {name},clear skin,600,iron oxide red {drops}; {white},2,{beneath}"
                ));
            }
        }
    }
    for (row, predicted) in rows.iter().zip(predict(&rows, "")) {
        let Lab { l, a, b, .. } = lab(&predicted);
        assert!((50.0..82.0).contains(&l), "{row}: L* {l}");
        assert!((5.0..22.0).contains(&a), "{row}: a* {a}");
        assert!((5.0..22.0).contains(&b), "{row}: b* {b}");
    }
}

#[test]
fn a_thin_clear_skin_shows_what_lies_beneath_and_white_hides_it() {
    // Common practice, no source.
    let over =
        |mix: &str, card: &str| colour_of(&format!("x,clear skin,600,{mix},2,{card} card")).l;
    let shows = over("iron oxide red 1", "white") - over("iron oxide red 1", "black");
    let hides = over("iron oxide red 1; titanium white 60", "white")
        - over("iron oxide red 1; titanium white 60", "black");
    assert!(shows > 20.0, "clear: {shows} L* between the cards");
    assert!((0.0..shows / 2.0).contains(&hides), "whitened: {hides} L*");
}
