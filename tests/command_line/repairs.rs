//! `part patch`: a small cup to a casting as it was read. Tone and readings are invented.
//!
//! The check: a casting that reads as its recipe is predicted is repaired by what looks like it; one that read darker gets a
//! patch that is predicted darker than the aim, since it is aimed at the reading.

use dropwise::colour::{Lab, delta_e_2000};

use super::{json, lab, number, run, starter_book};

const MATCH: &str =
    "--target 64,12,16 --base-g 600 --foam-g 300 --fibre-g 12 --tolerance 9 --within 2 --part arm";

#[test]
fn a_patch_is_aimed_at_what_was_read_and_not_at_the_aim() {
    let (_parent, book) = starter_book();
    json(&format!("match {book} {MATCH}"));
    let refused = run(&format!("part patch arm {book} --g 30"));
    assert_eq!(
        (refused.code, refused.out.as_str()),
        (2, ""),
        "nothing read"
    );
    assert!(refused.err.contains("swatch add"), "{}", refused.err);
    json(&format!("swatch add {book} --part arm --lab 61.5,13,17"));
    let line = format!("part patch arm {book} --g 30 --time-limit 60");
    let patch = json(&line);
    let read = Lab::new(61.5, 13.0, 17.0);
    let made = lab(&patch["recipes"][0]);
    let off = delta_e_2000(read, made);
    let tolerance = number(&patch["tolerance"]);
    assert!(off <= tolerance, "ΔE00 {off} from what was read");
    assert!(
        delta_e_2000(Lab::new(64.0, 12.0, 16.0), made) > off,
        "{made:?}"
    );
    let cup = &patch["cups"][0];
    let mass = number(&cup["part_a_g"]) + number(&cup["part_b_g"]);
    assert!((mass - 30.0).abs() < 0.11, "{cup}");
    assert!(
        (number(&cup["fibre_g"]) - 0.6).abs() < 0.051,
        "its share: {cup}"
    );
    assert_eq!(
        patch["cups"].as_array().map(Vec::len),
        Some(1),
        "the skin alone"
    );
    let text = run(&line).out;
    assert!(text.contains("patch of arm as S001 was read"), "{text}");
    assert!(
        !text.contains("swatch add") && !text.contains("--times"),
        "{text}"
    );
    let strange = run(&format!("part patch arm {book} --g 30 --casting S999"));
    assert_eq!(strange.code, 2, "{}", strange.out);
    assert!(strange.err.contains("S999"), "{}", strange.err);
}
