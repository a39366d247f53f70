//! Matching a part to one that was cast.

use dropwise::colour::{Lab, delta_e_2000, delta_e_ab};

use super::{json, lab, number, run};

#[test]
fn a_cast_arm_is_the_target_of_a_torso() {
    let target = json("target --like F1");
    assert_eq!(lab(&target), Lab::new(65.7, 11.3, 12.3), "as it was read");
    assert_eq!(target["seen_by"], "contact", "by the book's reader");
    assert_eq!(target["specular"], "included", "as the book says");
    assert!(target["contrast_ratio"].is_null(), "read over foam alone");
    let answer = json(
        r#"match --like F1 --base-g 600 --backing "white card" --fibre-g 12 --pigments "iron oxide red 1:10,iron oxide yellow 1:10" --tolerance 20"#,
    );
    assert_eq!(lab(&answer["aim"]), Lab::new(65.7, 11.3, 12.3), "the aim");
}

#[test]
fn a_chip_read_over_both_cards_gives_its_translucency() {
    let over = |card: &str| json(&format!("target --like A2 --like-over \"{card}\""));
    let (white, black) = (over("white card"), over("black card"));
    // The demo's two readings of this chip.
    let (on_white, on_black) = (Lab::new(67.3, 13.5, 11.0), Lab::new(54.7, 2.8, 2.2));
    assert_eq!(lab(&white), on_white, "over white");
    assert_eq!(lab(&black), on_black, "over black");
    for target in [white, black] {
        // Y of L*: 100 ((L* + 16) / 116)³.
        let ratio = ((54.7 + 16.0) / (67.3 + 16.0_f64)).powi(3);
        approx::assert_abs_diff_eq!(number(&target["contrast_ratio"]), ratio, epsilon = 1e-9);
        let (ab, e_00) = (
            delta_e_ab(on_black, on_white),
            delta_e_2000(on_black, on_white),
        );
        approx::assert_abs_diff_eq!(number(&target["tp_ab"]), ab, epsilon = 1e-9);
        approx::assert_abs_diff_eq!(number(&target["tp_00"]), e_00, epsilon = 1e-9);
    }
    let text = run(
        r#"match --like A2 --like-over "white card" --base-g 600 --backing "white card" --pigments "iron oxide red 1:10,iron oxide yellow 1:10" --tolerance 20 --why"#,
    );
    assert!(
        text.out.contains("the target's contrast ratio is 0.61"),
        "{}{}",
        text.out,
        text.err
    );
}

#[test]
fn a_likeness_that_is_not_clear_is_refused_with_the_mend() {
    for (line, says) in [
        ("target --like F2", "no swatch is called `F2`"),
        (
            "target --like A2",
            "the swatch `A2` was read over black card and white card, and looks otherwise over each (say which with --like-over \"black card\")",
        ),
        (
            "target --like A2 --like-over \"flexible foam\"",
            "no backing of that swatch is called `flexible foam`",
        ),
        ("target --like A2 --lab 60,10,10", "cannot be used with"),
    ] {
        let said = run(line);
        assert_eq!(said.code, 2, "{line}: {}", said.out);
        assert!(said.err.contains(says), "{line}: {}", said.err);
    }
}
