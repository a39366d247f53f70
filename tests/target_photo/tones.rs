//! Tones, what is left out of them, and what is said of a picture.

use std::path::Path;

use approx::assert_abs_diff_eq;
use dropwise::colour::Viewing;
use dropwise::tone::{Card, PhotoRequest, ToneRole};

use super::studio::{Painting, Studio, bytes};
use super::{one_tone, read, refusal, region, request};

#[test]
fn highlights_and_clipped_pixels_are_left_out_and_counted() {
    let studio = Studio::new();
    let skin = bytes([198, 148, 122]);
    let clean = studio.png("clean.png", &Painting::new(100, 100, |_, _| skin), None);
    let shiny = Painting::new(100, 100, |x, y| match (x, y) {
        (0..20, 0..20) => bytes([238, 220, 210]),   // 4 % shine
        (80..100, 0..50) => bytes([255, 190, 160]), // 10 % burnt out
        (0..10, 90..100) => bytes([0, 0, 0]),       // 1 % black
        _ => skin,
    });
    let shiny = studio.png("shiny.png", &shiny, None);
    let truth = read(&one_tone(&clean), Viewing::D65_10);
    let target = read(&one_tone(&shiny), Viewing::D65_10);
    assert_abs_diff_eq!(target.lab.l, truth.lab.l, epsilon = 1e-6);
    assert_abs_diff_eq!(target.lab.a, truth.lab.a, epsilon = 1e-6);
    assert_abs_diff_eq!(target.lab.b, truth.lab.b, epsilon = 1e-6);
    let last = target.notes.last().expect("a note on how it came about");
    assert!(
        last.contains("left out 4.0 % highlights, 11.0 % clipped"),
        "{last}"
    );

    let burnt = Painting::new(20, 20, |_, _| [1.0; 3]);
    let burnt = studio.png("burnt.png", &burnt, None);
    let line = refusal(&request(&burnt));
    assert!(
        line.contains("0 usable pixels of 400 (400 clipped"),
        "{line}"
    );
}

/// The share of a column of blocks, in which two tones may mix.
const ONE_COLUMN: f64 = 1.0 / 32.0;

#[test]
fn tones_are_found_with_their_shares_and_roles() {
    let studio = Studio::new();
    // A little grain, as every camera has.
    let grain = |x: u32, y: u32| f64::from((x * 7 + y * 13) % 5) / 255.0;
    let face = Painting::new(100, 100, |x, y| {
        let tone: [u8; 3] = match x {
            0..60 => [198, 148, 122],
            60..85 => [186, 118, 104],
            _ => [128, 94, 78],
        };
        bytes(tone).map(|v| v + grain(x, y))
    });
    let path = studio.png("face.png", &face, None);
    let target = read(&request(&path), Viewing::D65_10);
    let share = |role| target.tone(role).map_or(0.0, |tone| tone.share);
    assert_abs_diff_eq!(share(ToneRole::Base), 0.60, epsilon = ONE_COLUMN);
    assert_abs_diff_eq!(share(ToneRole::Flush), 0.25, epsilon = ONE_COLUMN);
    assert_abs_diff_eq!(share(ToneRole::Shadow), 0.15, epsilon = ONE_COLUMN);
    let [base, flush, shadow] = [ToneRole::Base, ToneRole::Flush, ToneRole::Shadow]
        .map(|role| target.tone(role).expect("found").lab);
    assert_eq!(base, target.lab, "the base tone is the target");
    assert!(flush.a > base.a + 5.0, "the flush is redder");
    assert!(shadow.l < base.l - 15.0, "the shadow is darker");
    assert!(
        target.notes.iter().any(|note| note.contains("seed")),
        "the seed is told"
    );
}

#[test]
fn the_same_picture_gives_the_same_answer_every_time() {
    let studio = Studio::new();
    let noisy = Painting::new(300, 200, |x, y| {
        let noise = f64::from((x * 7919 + y * 104_729 + x * y) % 251) / 251.0;
        [0.70 + 0.1 * noise, 0.50 + 0.12 * noise, 0.45 - 0.1 * noise]
    });
    let path = studio.jpeg("noisy.jpg", &noisy, None);
    let first = read(&request(&path), Viewing::D65_10);
    let second = read(&request(&path), Viewing::D65_10);
    assert_eq!(first, second, "twice the same");
}

/// The demo's photograph: an arm and a grey card, drawn by a program, invented.
const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/swatches/reference-photo.jpg");

#[test]
fn the_demo_photo_shows_a_base_a_shadow_and_a_flush() {
    let arm = PhotoRequest {
        region: Some(region("640,690,760,120")),
        card: Some((Some(region("310,240,330,160")), Card::GREY)),
        ..request(Path::new(DEMO))
    };
    let target = read(&arm, Viewing::D65_10);
    let of = |role| target.tone(role).expect("found");
    let [base, shadow, flush] = [ToneRole::Base, ToneRole::Shadow, ToneRole::Flush].map(of);
    // The picture's own truth, with room for another way of averaging, and in a* and b* for what a grey card leaves.
    for (tone, [l, a, b]) in [(base, [66.0, 11.3, 13.4]), (flush, [57.9, 17.5, 15.9])] {
        assert_abs_diff_eq!(tone.lab.l, l, epsilon = 1.2);
        assert_abs_diff_eq!(tone.lab.a, a, epsilon = 1.2);
        assert_abs_diff_eq!(tone.lab.b, b, epsilon = 0.8);
    }
    assert!(
        base.share > shadow.share.max(flush.share),
        "the base is largest"
    );
    // Its lamp is a warm LED.
    assert_eq!(target.notes.len(), 2, "{:?}", target.notes);
    assert!(target.notes[0].contains("daylight"), "{:?}", target.notes);
}

#[test]
fn what_is_no_skin_is_said_so_first() {
    let studio = Studio::new();
    let first = |rgb: [u8; 3], inside: Option<&str>| {
        let path = studio.png("patch.png", &Painting::flat(rgb), None);
        let ask = PhotoRequest {
            region: inside.map(region),
            ..request(&path)
        };
        let target = read(&ask, Viewing::D65_10);
        assert!(target.notes.len() <= 4, "{:?}", target.notes);
        target.notes[0].clone()
    };
    for cloth in [[225, 105, 40], [128, 128, 128], [60, 70, 140], [20, 14, 24]] {
        let note = first(cloth, Some("2,2,20,20"));
        let expected = "this is no colour of measured skin: check the region (2,2,20,20)";
        assert_eq!(note, expected, "{cloth:?}");
        let note = first(cloth, None);
        assert!(
            note.contains("measured skin") && note.contains("name the region"),
            "{note}"
        );
    }
    // Light, brown, very dark, flushed, pale, under a warm lamp.
    for skin in [
        [198, 148, 122],
        [120, 84, 66],
        [62, 42, 36],
        [190, 112, 100],
        [222, 200, 188],
        [205, 140, 90],
    ] {
        let note = first(skin, Some("2,2,20,20"));
        assert!(note.starts_with("uncorrected"), "{skin:?}: {note}");
        let note = first(skin, None);
        assert!(
            note.starts_with("the whole picture was read"),
            "{skin:?}: {note}"
        );
    }
}
