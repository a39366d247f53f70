//! The noise of a sensor is no tone.

use dropwise::colour::{Viewing, delta_e_2000};
use dropwise::tone::ToneRole;

use super::studio::{Painting, Studio, bytes};
use super::{read, request};

/// How far noise may move the answer, ΔE00: the mean of light is a little above the middle of what is stored.
const MOVED: f64 = 0.7;

/// Normal noise of standard deviation 1, the same on every run.
///
/// Source: S. Vigna, splitmix64 (public domain); G. E. P. Box, M. E. Muller (1958), Annals of Mathematical
/// Statistics 29(2), 610–611.
pub(crate) fn normal(draw: u64) -> f64 {
    let uniform = |draw: u64| {
        let mut z = draw.wrapping_mul(0x9e37_79b9_7f4a_7c15);
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (((z ^ (z >> 31)) >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    };
    let (one, other) = (uniform(2 * draw + 1), uniform(2 * draw + 2));
    (-2.0 * one.ln()).sqrt() * (std::f64::consts::TAU * other).cos()
}

/// A picture with noise of `levels` of 255 in each channel.
fn noisy(side: u32, levels: f64, paint: impl Fn(u32, u32) -> [u8; 3]) -> Painting {
    Painting::new(side, side, |x, y| {
        let clean = bytes(paint(x, y));
        std::array::from_fn(|i| {
            let draw = (u64::from(y) * u64::from(side) + u64::from(x)) * 3 + i as u64;
            (clean[i] + levels / 255.0 * normal(draw)).clamp(0.0, 1.0)
        })
    })
}

#[test]
fn a_uniform_patch_is_one_tone_however_noisy() {
    let studio = Studio::new();
    for side in [24, 100, 300] {
        let patch = |levels| noisy(side, levels, |_, _| [198, 150, 128]);
        let clean = read(
            &request(&studio.png("clean.png", &patch(0.0), None)),
            Viewing::D65_10,
        );
        for levels in [0.0, 3.0, 8.0] {
            let png = studio.png("noisy.png", &patch(levels), None);
            let jpeg = studio.jpeg("noisy.jpg", &patch(levels), None);
            for path in [png, jpeg] {
                let target = read(&request(&path), Viewing::D65_10);
                let what = format!("{}, side {side}, noise {levels}", path.display());
                assert_eq!(target.tones.len(), 1, "{what}: {:?}", target.tones);
                let moved = delta_e_2000(target.lab, clean.lab);
                assert!(moved < MOVED, "{what}: moved by {moved} ΔE00");
            }
        }
    }
}

#[test]
fn a_flush_is_found_through_noise() {
    // About 6 redder in a*, over a quarter of the patch.
    let studio = Studio::new();
    let face = |levels| {
        noisy(100, levels, |x, y| {
            if (25..75).contains(&x) && (25..75).contains(&y) {
                [197, 135, 120]
            } else {
                [198, 150, 128]
            }
        })
    };
    let clean = read(
        &request(&studio.png("clean.png", &face(0.0), None)),
        Viewing::D65_10,
    );
    let flush = clean.tone(ToneRole::Flush).expect("without noise").lab;
    assert!(
        (5.0..7.5).contains(&(flush.a - clean.lab.a)),
        "{flush:?} on {:?}",
        clean.lab
    );
    let png = studio.png("noisy.png", &face(5.0), None);
    let jpeg = studio.jpeg("noisy.jpg", &face(5.0), None);
    for path in [png, jpeg] {
        let target = read(&request(&path), Viewing::D65_10);
        assert_eq!(target.tones.len(), 2, "base and flush: {:?}", target.tones);
        let found = target.tone(ToneRole::Flush).expect("through noise");
        assert!(
            delta_e_2000(found.lab, flush) < MOVED,
            "{found:?}, {flush:?}"
        );
        assert!(delta_e_2000(target.lab, clean.lab) < MOVED, "the base");
        assert!(
            (0.2..0.3).contains(&found.share),
            "a quarter: {}",
            found.share
        );
    }
}
