//! Profiles and orientation.

use std::path::Path;

use dropwise::colour::{Illuminant, Lab, Observer, Viewing, delta_e_2000};
use dropwise::tone::PhotoRequest;
use moxcms::ColorProfile;

use super::studio::{Painting, Studio, bytes};
use super::{one_tone, read, region, request};

/// Where profiles and printed cards speak.
const D50_2: Viewing = Viewing {
    illuminant: Illuminant::D50,
    observer: Observer::Cie1931,
};

/// Agreement that is promised between one picture's colours in several profiles, ΔE00.
const SAME_COLOUR: f64 = 0.3;

/// Encoded red, green and blue, and the Lab (D50, 2°, relative colorimetric) that littleCMS 2.14 gives them.
type Reference = ([u8; 3], [f64; 3]);

#[test]
fn colours_through_a_profile_agree_with_littlecms() {
    let cases: [(&str, Option<ColorProfile>, [Reference; 3]); 4] = [
        (
            "srgb",
            None,
            [
                ([200, 150, 120], [66.4077, 16.5078, 23.5473]),
                ([90, 60, 45], [28.5725, 12.1376, 14.8755]),
                ([236, 205, 190], [84.7662, 9.5224, 11.7156]),
            ],
        ),
        (
            "display-p3",
            Some(ColorProfile::new_display_p3()),
            [
                ([200, 150, 120], [66.7421, 21.1795, 27.0110]),
                ([90, 60, 45], [28.8205, 15.3681, 17.1903]),
                ([236, 205, 190], [84.9547, 12.3395, 13.2786]),
            ],
        ),
        (
            "wide, gamma 2.2",
            Some(ColorProfile::new_adobe_rgb()),
            [
                ([200, 150, 120], [68.6892, 22.7008, 27.3451]),
                ([90, 60, 45], [29.1197, 17.5429, 19.0344]),
                ([236, 205, 190], [86.1383, 13.2354, 13.4027]),
            ],
        ),
        (
            "very wide, gamma 1.8",
            Some(ColorProfile::new_pro_photo_rgb()),
            [
                ([200, 150, 120], [73.5309, 34.9583, 27.1375]),
                ([90, 60, 45], [37.2496, 29.2235, 21.1970]),
                ([236, 205, 190], [88.5009, 20.0875, 12.5357]),
            ],
        ),
    ];
    let studio = Studio::new();
    for (name, profile, references) in cases {
        let profile = profile.map(|profile| profile.encode().expect("a profile"));
        for (rgb, [l, a, b]) in references {
            let path = studio.png("patch.png", &Painting::flat(rgb), profile.clone());
            let target = read(&one_tone(&path), D50_2);
            let miss = delta_e_2000(target.lab, Lab::new(l, a, b));
            assert!(miss < 0.02, "{name} {rgb:?}: {miss} ΔE00 off");
        }
    }
}

#[test]
fn one_picture_saved_with_several_profiles_gives_one_answer() {
    let studio = Studio::new();
    let skin = [
        [198, 148, 122],
        [120, 84, 66],
        [228, 186, 168],
        [176, 118, 104],
    ];
    for rgb in skin {
        let encoded = bytes(rgb);
        let plain = studio.png("plain.png", &Painting::flat(rgb), None);
        let plain = read(&one_tone(&plain), Viewing::D65_10);
        for profile in [
            ColorProfile::new_srgb(),
            ColorProfile::new_display_p3(),
            ColorProfile::new_adobe_rgb(),
        ] {
            let transform = ColorProfile::new_srgb()
                .create_transform_f64(
                    moxcms::Layout::Rgb,
                    &profile,
                    moxcms::Layout::Rgb,
                    moxcms::TransformOptions::default(),
                )
                .expect("two RGB profiles");
            let mut other = [0.0; 3];
            transform
                .transform(&encoded, &mut other)
                .expect("one pixel");
            // Dithered: 8 bits alone can put a flat patch 0.3 ΔE00 off.
            let painting = Painting::new(40, 32, |x, y| {
                let step = f64::from((x % 4) * 4 + y % 4) / 16.0 - 15.0 / 32.0;
                other.map(|v| v + step / 255.0)
            });
            let profile = profile.encode().expect("a profile");
            for sixteen in [false, true] {
                let path =
                    studio.png_with("other.png", &painting, Some(profile.clone()), None, sixteen);
                let target = read(&one_tone(&path), Viewing::D65_10);
                let miss = delta_e_2000(target.lab, plain.lab);
                assert!(miss < SAME_COLOUR, "{rgb:?}, {miss} ΔE00 apart");
                assert!(
                    !target
                        .notes
                        .iter()
                        .any(|note| note.contains("no colour profile")),
                    "the profile was seen"
                );
            }
        }
        assert!(
            plain
                .notes
                .iter()
                .any(|note| note.contains("taken as sRGB")),
            "a note says that there is no profile"
        );
    }
}

/// Four quarters of different colour and a blot, so that every turn and flip shows.
pub(crate) fn quarters() -> Painting {
    Painting::new(64, 48, |x, y| {
        bytes(match (x < 32, y < 24) {
            (true, true) => [198, 148, 122],
            (false, true) => [120, 84, 66],
            (true, false) => [150, 150, 150],
            (false, false) if x > 48 && y > 36 => [90, 110, 160],
            (false, false) => [228, 186, 168],
        })
    })
}

#[test]
fn all_eight_orientations_give_the_same_answer_for_the_same_upright_region() {
    let studio = Studio::new();
    let upright = quarters();
    let regions = ["4,4,24,16", "50,38,12,8", "40,26,20,20"];
    for wanted in regions {
        let ask = |path: &Path| PhotoRequest {
            region: Some(region(wanted)),
            tones: 1,
            ..request(path)
        };
        let plain = studio.png("plain.png", &upright, None);
        let truth = read(&ask(&plain), Viewing::D65_10);
        for orientation in 1..=8_u8 {
            let stored = upright.stored(orientation);
            let png = studio.png_with("turned.png", &stored, None, Some(orientation), false);
            let webp = studio.webp("turned.webp", &stored, Some(orientation));
            let tiff = studio.tiff(
                "turned.tif",
                [stored.width, stored.height],
                &stored.eight(),
                3,
                2,
                u16::from(orientation),
            );
            for path in [png, webp, tiff] {
                let turned = read(&ask(&path), Viewing::D65_10);
                let what = path.display();
                assert_eq!(turned.lab, truth.lab, "{what}, {orientation}, {wanted}");
            }
            let jpeg = studio.jpeg("turned.jpg", &stored, Some(orientation));
            let turned = read(&ask(&jpeg), Viewing::D65_10);
            let miss = delta_e_2000(turned.lab, truth.lab);
            assert!(miss < 0.7, "JPEG {orientation}, {wanted}: {miss} ΔE00");
        }
    }
}
