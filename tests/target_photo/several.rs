//! Several regions and photographs of one person, and the shading across a limb.

use dropwise::colour::{Spectrum, Viewing, delta_e_2000};
use dropwise::tone::{PhotoRequest, Target};

use super::cards::skins;
use super::charts::chart;
use super::scene::{Shot, Table, values_file};
use super::studio::{Painting, Studio, srgb};
use super::{read, region, request};

#[test]
fn readings_are_averaged_and_an_outlier_is_named() {
    let studio = Studio::new();
    let values = values_file(&studio);
    let skin = skins()[3].1;
    let burnt = skin.map(|r| 0.6 * r);
    let mut requests: Vec<PhotoRequest> = Vec::new();
    for (number, light) in [(1, "D65"), (2, "LED-B3")] {
        let shot = Shot::new("reflex", light, number);
        let other = if number == 2 { burnt } else { skin };
        let name = format!("{number}.jpg");
        let path = studio.jpeg(&name, &Table::shoot(&shot, &[skin, other]), None);
        requests.extend([0, 1].map(|index| PhotoRequest {
            region: Some(region(&Table::region(index))),
            chart: Some(chart(&values)),
            tones: 1,
            ..request(&path)
        }));
    }
    let alone: Vec<Target> = requests
        .iter()
        .map(|ask| read(ask, Viewing::D65_10))
        .collect();
    let target = Target::from_photos(&requests, Viewing::D65_10).expect("four readings");
    assert_eq!(target.charts.len(), 2, "one report a photograph");
    let mean = |axis: fn(&Target) -> f64| alone[..3].iter().map(axis).sum::<f64>() / 3.0;
    // Averages of L* under D50 and brought over differ a little from those of the targets.
    approx::assert_abs_diff_eq!(target.lab.l, mean(|target| target.lab.l), epsilon = 0.1);
    approx::assert_abs_diff_eq!(target.lab.a, mean(|target| target.lab.a), epsilon = 0.1);
    approx::assert_abs_diff_eq!(target.lab.b, mean(|target| target.lab.b), epsilon = 0.1);
    let says = |what: &str| target.notes.iter().any(|note| note.contains(what));
    assert!(
        says("left out as unlike the others") && says("2.jpg"),
        "{:?}",
        target.notes
    );
    assert!(says("3 readings averaged"), "{:?}", target.notes);
}

#[test]
fn one_region_read_twice_is_that_region() {
    let studio = Studio::new();
    let skin = skins()[3].1;
    let shot = Shot::new("reflex", "D65", 1);
    let path = studio.jpeg("once.jpg", &Table::shoot(&shot, &[skin]), None);
    let ask = PhotoRequest {
        region: Some(region(&Table::region(0))),
        tones: 1,
        ..request(&path)
    };
    let once = read(&ask, Viewing::D65_10);
    let twice = Target::from_photos(&[ask.clone(), ask], Viewing::D65_10).expect("twice");
    let apart = delta_e_2000(once.lab, twice.lab);
    assert!(apart < 0.01, "{apart} ΔE00 apart");
    assert!(
        Target::from_photos(&[], Viewing::D65_10).is_err(),
        "nothing asked for"
    );
}

/// How near the tone at mid-light must come to that of the flat skin, ΔE00.
const MID_LIGHT: f64 = 0.5;

#[test]
fn a_limb_lit_from_the_side_is_one_tone_at_mid_light() {
    let studio = Studio::new();
    let skin: Spectrum = skins()[3].1;
    let shot = Shot::new("reflex", "D65", 1);
    let linear = shot.linear(&skin);
    // Lambert's cosine over 110 degrees of a cylinder.
    let light = |x: u32| (f64::from(x) / 200.0 * 1.92 - 1.3).cos();
    let paint = |light: &dyn Fn(u32) -> f64| {
        Painting::new(200, 120, |x, _| {
            linear.map(|v| srgb((0.9 * v * light(x)).clamp(0.0, 1.0)))
        })
    };
    let limb = studio.png("limb.png", &paint(&light), None);
    let middle = {
        let mut lights: Vec<f64> = (0..200).map(light).collect();
        lights.sort_by(f64::total_cmp);
        lights[100]
    };
    let flat = studio.png("flat.png", &paint(&|_| middle), None);
    let inside = |path| PhotoRequest {
        region: Some(region("4,4,192,112")),
        ..request(path)
    };
    let limb = read(&inside(&limb), Viewing::D65_10);
    let flat = read(&inside(&flat), Viewing::D65_10);
    assert_eq!(limb.tones.len(), 1, "shading is no tone: {:?}", limb.tones);
    let apart = delta_e_2000(limb.lab, flat.lab);
    assert!(apart < MID_LIGHT, "{apart} ΔE00 from the tone at mid-light");
    assert!(
        limb.notes.iter().any(|note| note.contains("mid-light")),
        "{:?}",
        limb.notes
    );
    assert!(
        flat.notes.iter().all(|note| !note.contains("mid-light")),
        "{:?}",
        flat.notes
    );
    assert!(
        limb.spread[0] > flat.spread[0],
        "which light is the right one is in doubt"
    );
}
