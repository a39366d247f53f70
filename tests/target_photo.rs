//! From picture files to targets: profiles, orientation, cards, tones, and what is refused.
//!
//! The pictures are made here. Reference values come from outside: CIELAB through ICC profiles from
//! littleCMS 2.14 (`transicc -i PROFILE -o '*Lab' -t 1 -n`, general-purpose, MIT), skin reflectances from the
//! reference data set of NIST, sRGB from IEC 61966-2-1:1999.
#![cfg(feature = "photo")]
#![expect(
    clippy::print_stdout,
    clippy::cast_possible_truncation,
    reason = "a check that is skipped says so; the pictures are small, their samples in range"
)]

use std::fs;
use std::path::{Path, PathBuf};

use approx::assert_abs_diff_eq;
use dropwise::colour::{Illuminant, Lab, Observer, Spectrum, Viewing, delta_e_2000};
use dropwise::target::{Card, PhotoRequest, Region, Target, ToneRole};
use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::PngEncoder;
use image::codecs::webp::WebPEncoder;
use image::{ExtendedColorType, ImageEncoder};
use moxcms::ColorProfile;
use tempfile::TempDir;

/// Where profiles and printed cards speak.
const D50_2: Viewing = Viewing {
    illuminant: Illuminant::D50,
    observer: Observer::Cie1931,
};

/// Agreement that is promised between one picture's colours in several profiles, ΔE00.
const SAME_COLOUR: f64 = 0.3;

/// A picture in memory: 8-bit or 16-bit samples are made from encoded values, 0–1.
struct Painting {
    width: u32,
    height: u32,
    pixels: Vec<[f64; 3]>,
}

impl Painting {
    fn new(width: u32, height: u32, paint: impl Fn(u32, u32) -> [f64; 3]) -> Self {
        let pixels = (0..height)
            .flat_map(|y| (0..width).map(move |x| (x, y)))
            .map(|(x, y)| paint(x, y))
            .collect();
        Self {
            width,
            height,
            pixels,
        }
    }

    fn flat(rgb: [u8; 3]) -> Self {
        Self::new(40, 30, |_, _| bytes(rgb))
    }

    fn eight(&self) -> Vec<u8> {
        let samples = self.pixels.iter().flatten();
        samples.map(|v| (v * 255.0).round() as u8).collect()
    }

    fn sixteen(&self) -> Vec<u8> {
        let samples = self.pixels.iter().flatten();
        samples
            .flat_map(|v| ((v * 65535.0).round() as u16).to_ne_bytes())
            .collect()
    }

    /// The picture as it is stored under an EXIF orientation, so that it is upright when that is applied.
    ///
    /// Source: CIPA DC-008 (Exif 2.3), Orientation: which side of the scene row 0 and column 0 are.
    fn stored(&self, orientation: u8) -> Self {
        let (w, h) = (self.width, self.height);
        let turned = orientation >= 5;
        let (width, height) = if turned { (h, w) } else { (w, h) };
        Self::new(width, height, |column, row| {
            let (x, y) = match orientation {
                1 => (column, row),                 // row 0 top, column 0 left
                2 => (w - 1 - column, row),         // top, right
                3 => (w - 1 - column, h - 1 - row), // bottom, right
                4 => (column, h - 1 - row),         // bottom, left
                5 => (row, column),                 // left, top
                6 => (w - 1 - row, column),         // right, top
                7 => (w - 1 - row, h - 1 - column), // right, bottom
                _ => (row, h - 1 - column),         // left, bottom
            };
            self.pixels[(y * w + x) as usize]
        })
    }
}

fn bytes(rgb: [u8; 3]) -> [f64; 3] {
    rgb.map(|v| f64::from(v) / 255.0)
}

/// sRGB's transfer function. Source: IEC 61966-2-1:1999.
fn srgb(linear: f64) -> f64 {
    if linear <= 0.003_130_8 {
        12.92 * linear
    } else {
        1.055 * linear.powf(1.0 / 2.4) - 0.055
    }
}

/// An EXIF block that holds nothing but an orientation.
fn exif(orientation: u8) -> Vec<u8> {
    let mut block = b"MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    block.extend([orientation, 0, 0, 0, 0, 0, 0]);
    block
}

struct Studio(TempDir);

impl Studio {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    fn file(&self, name: &str, content: &[u8]) -> PathBuf {
        let path = self.0.path().join(name);
        fs::write(&path, content).expect("written");
        path
    }

    fn png(&self, name: &str, painting: &Painting, profile: Option<Vec<u8>>) -> PathBuf {
        self.png_with(name, painting, profile, None, false)
    }

    fn png_with(
        &self,
        name: &str,
        painting: &Painting,
        profile: Option<Vec<u8>>,
        orientation: Option<u8>,
        sixteen: bool,
    ) -> PathBuf {
        let mut content = Vec::new();
        let mut encoder = PngEncoder::new(&mut content);
        if let Some(profile) = profile {
            encoder.set_icc_profile(profile).expect("kept");
        }
        if let Some(orientation) = orientation {
            encoder.set_exif_metadata(exif(orientation)).expect("kept");
        }
        let (samples, kind) = if sixteen {
            (painting.sixteen(), ExtendedColorType::Rgb16)
        } else {
            (painting.eight(), ExtendedColorType::Rgb8)
        };
        encoder
            .write_image(&samples, painting.width, painting.height, kind)
            .expect("encoded");
        self.file(name, &content)
    }

    fn jpeg(&self, name: &str, painting: &Painting, orientation: Option<u8>) -> PathBuf {
        let mut content = Vec::new();
        let mut encoder = JpegEncoder::new_with_quality(&mut content, 95);
        if let Some(orientation) = orientation {
            encoder.set_exif_metadata(exif(orientation)).expect("kept");
        }
        encoder
            .write_image(
                &painting.eight(),
                painting.width,
                painting.height,
                ExtendedColorType::Rgb8,
            )
            .expect("encoded");
        self.file(name, &content)
    }

    fn webp(&self, name: &str, painting: &Painting, orientation: Option<u8>) -> PathBuf {
        let mut content = Vec::new();
        let mut encoder = WebPEncoder::new_lossless(&mut content);
        if let Some(orientation) = orientation {
            encoder.set_exif_metadata(exif(orientation)).expect("kept");
        }
        encoder
            .write_image(
                &painting.eight(),
                painting.width,
                painting.height,
                ExtendedColorType::Rgb8,
            )
            .expect("encoded");
        self.file(name, &content)
    }

    /// A TIFF of one strip, written by the book. Source: TIFF revision 6.0 (1992), sections 3–6 and 16.
    fn tiff(
        &self,
        name: &str,
        size: [u32; 2],
        samples: &[u8],
        channels: u16,
        photometric: u16,
        orientation: u16,
    ) -> PathBuf {
        let mut content = b"II\x2a\0\x08\0\0\0".to_vec();
        let entries: [(u16, u16, u32, u32); 10] = [
            (256, 4, 1, size[0]),
            (257, 4, 1, size[1]),
            (
                258,
                3,
                u32::from(channels),
                if channels == 1 { 8 } else { 134 },
            ),
            (259, 3, 1, 1),
            (262, 3, 1, u32::from(photometric)),
            (273, 4, 1, 134 + 2 * u32::from(channels)),
            (274, 3, 1, u32::from(orientation)),
            (277, 3, 1, u32::from(channels)),
            (278, 4, 1, size[1]),
            (279, 4, 1, samples.len() as u32),
        ];
        content.extend((entries.len() as u16).to_le_bytes());
        for (tag, kind, count, value) in entries {
            content.extend(tag.to_le_bytes());
            content.extend(kind.to_le_bytes());
            content.extend(count.to_le_bytes());
            content.extend(value.to_le_bytes());
        }
        content.extend([0; 4]);
        assert_eq!(content.len(), 134, "where the bits a sample stand");
        for _ in 0..channels {
            content.extend(8_u16.to_le_bytes());
        }
        content.extend(samples);
        self.file(name, &content)
    }
}

fn request(path: &Path) -> PhotoRequest {
    PhotoRequest::new(path)
}

fn one_tone(path: &Path) -> PhotoRequest {
    PhotoRequest {
        tones: 1,
        ..request(path)
    }
}

fn region(text: &str) -> Region {
    text.parse().expect("X,Y,W,H")
}

fn read(request: &PhotoRequest, viewing: Viewing) -> Target {
    Target::from_photo(request, viewing).unwrap_or_else(|error| panic!("{error}"))
}

/// The line of the input error that reading `request` ends in.
fn refusal(request: &PhotoRequest) -> String {
    let error = Target::from_photo(request, Viewing::D65_10).expect_err("refused");
    assert!(error.is_input(), "the user can mend it: {error}");
    let line = error.to_string();
    let name = request.path.file_name().and_then(|name| name.to_str());
    assert!(
        line.contains(name.expect("a name")),
        "names the file: {line}"
    );
    assert!(line.ends_with(')'), "says what to do: {line}");
    line
}

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
fn quarters() -> Painting {
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

/// Reflectance of three forearms: light, intermediate, brown.
///
/// Source: C. C. Cooksey, D. W. Allen, B. K. Tsai (2017), Journal of Research of the National Institute of
/// Standards and Technology 122:26, subjects 14, 9 and 17; data doi 10.18434/M38597; in the public domain.
const SKINS: [[f64; 36]; 3] = [
    [
        0.29466, 0.30258, 0.29681, 0.28536, 0.27804, 0.28288, 0.31247, 0.35353, 0.38031, 0.39231,
        0.39612, 0.40479, 0.41600, 0.42167, 0.42136, 0.41492, 0.40784, 0.40922, 0.41766, 0.41926,
        0.42890, 0.48197, 0.54119, 0.58288, 0.60570, 0.61820, 0.62678, 0.63304, 0.63910, 0.64519,
        0.65101, 0.65810, 0.66200, 0.66404, 0.66372, 0.65981,
    ],
    [
        0.12132, 0.13271, 0.14045, 0.14458, 0.14764, 0.15325, 0.16978, 0.20281, 0.23560, 0.25597,
        0.26639, 0.27494, 0.28332, 0.28822, 0.28689, 0.27751, 0.26655, 0.26150, 0.26502, 0.27227,
        0.28735, 0.32859, 0.38796, 0.44244, 0.47588, 0.49581, 0.51049, 0.52204, 0.53254, 0.54461,
        0.55847, 0.57268, 0.58334, 0.59110, 0.59681, 0.59882,
    ],
    [
        0.07100, 0.07464, 0.07833, 0.08180, 0.08545, 0.08989, 0.09659, 0.10611, 0.11500, 0.12204,
        0.12767, 0.13450, 0.14159, 0.14803, 0.15424, 0.15949, 0.16395, 0.16993, 0.17721, 0.18538,
        0.19694, 0.21910, 0.24581, 0.26973, 0.28877, 0.30527, 0.32168, 0.33790, 0.35382, 0.37087,
        0.38762, 0.40423, 0.41988, 0.43501, 0.44841, 0.46104,
    ],
];

/// A camera of the 2° observer, balanced for daylight, that sees `reflectance` under `light`.
fn shoot(reflectance: &Spectrum, light: Illuminant, exposure: f64) -> [f64; 3] {
    // Linear sRGB of X, Y, Z. Source: IEC 61966-2-1:1999.
    const FROM_XYZ: [[f64; 3]; 3] = [
        [3.2406, -1.5372, -0.4986],
        [-0.9689, 1.8758, 0.0415],
        [0.0557, -0.2040, 1.0570],
    ];
    let viewing = Viewing {
        illuminant: light,
        observer: Observer::Cie1931,
    };
    let xyz = viewing.weights().xyz(reflectance);
    let xyz = [xyz.x, xyz.y, xyz.z].map(|v| v / 100.0 * exposure);
    FROM_XYZ.map(|row| {
        let linear: f64 = row.iter().zip(xyz).map(|(m, v)| m * v).sum();
        srgb(linear.clamp(0.0, 1.0))
    })
}

#[test]
fn a_grey_card_undoes_a_warm_cast() {
    /// A factor for each cone leaves what the lamp's spectrum does: more under tungsten than under an LED.
    const UNDONE: [(Illuminant, f64); 3] = [
        (Illuminant::D50, 1.5),
        (Illuminant::LedB3, 4.0),
        (Illuminant::A, 4.5),
    ];
    let studio = Studio::new();
    let grey = Spectrum::constant(0.18);
    for (light, tolerance) in UNDONE {
        for skin in SKINS.map(Spectrum::new) {
            let truth = Viewing::D65_10.weights().lab(&skin);
            let [on_skin, on_card] = [skin, grey].map(|surface| shoot(&surface, light, 0.6));
            let painting = Painting::new(60, 40, |x, _| if x < 40 { on_skin } else { on_card });
            let path = studio.png_with("warm.png", &painting, None, None, true);
            let plain = PhotoRequest {
                region: Some(region("2,2,30,30")),
                tones: 1,
                ..request(&path)
            };
            let carded = PhotoRequest {
                card: Some((region("44,4,12,30"), Card::GREY)),
                ..plain.clone()
            };
            let corrected = read(&carded, Viewing::D65_10);
            let uncorrected = read(&plain, Viewing::D65_10);
            let miss = delta_e_2000(corrected.lab, truth);
            assert!(miss < tolerance, "{light}: {miss} ΔE00 off with the card");
            let without = delta_e_2000(uncorrected.lab, truth);
            println!("{light}: {miss:.2} ΔE00 with the card, {without:.2} without");
            assert!(
                without > 2.0 * miss,
                "{light}: {without} without, {miss} with"
            );
            for (with, without) in corrected.spread.iter().zip(uncorrected.spread) {
                assert!(*with < without, "a card narrows the spread");
            }
            let says = |target: &Target| target.notes.iter().any(|n| n.starts_with("uncorrected"));
            assert!(
                says(&uncorrected) && !says(&corrected),
                "the note on correction"
            );
        }
    }
}

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
    let noted = |text: &str| target.notes.iter().any(|note| note == text);
    assert!(
        noted("4.0 % of the pixels left out: highlights"),
        "{:?}",
        target.notes
    );
    assert!(
        noted("11.0 % of the pixels left out: clipped"),
        "{:?}",
        target.notes
    );

    let burnt = Painting::new(20, 20, |_, _| [1.0; 3]);
    let burnt = studio.png("burnt.png", &burnt, None);
    let line = refusal(&request(&burnt));
    assert!(
        line.contains("0 usable pixels of 400 (400 clipped"),
        "{line}"
    );
}

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
    assert_abs_diff_eq!(share(ToneRole::Base), 0.60, epsilon = 1e-9);
    assert_abs_diff_eq!(share(ToneRole::Flush), 0.25, epsilon = 1e-9);
    assert_abs_diff_eq!(share(ToneRole::Shadow), 0.15, epsilon = 1e-9);
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
    assert_eq!(first.tones.len(), 3, "three tones");
}

#[test]
fn pictures_that_are_not_read_say_what_to_do() {
    let studio = Studio::new();
    let heic = studio.file("face.heic", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic");
    assert!(
        refusal(&request(&heic)).contains("export it as JPEG"),
        "HEIC"
    );
    let raw = studio.file("face.dng", b"II\x2a\0\x08\0\0\0");
    assert!(refusal(&request(&raw)).contains("develop it"), "raw");
    let text = studio.file("face.jpg", b"not a picture at all, just words");
    assert!(refusal(&request(&text)).contains("not a picture"), "text");
    let missing = studio.0.path().join("none.jpg");
    assert!(
        refusal(&request(&missing)).contains("no such file"),
        "missing"
    );

    let inks = studio.tiff("inks.tif", [4, 4], &[90; 64], 4, 5, 1);
    assert!(refusal(&request(&inks)).contains("CMYK"), "inks");
    let grey = studio.tiff("grey.tif", [4, 4], &[90; 16], 1, 1, 1);
    assert!(
        refusal(&request(&grey)).contains("grey picture"),
        "grey TIFF"
    );
    let mut content = Vec::new();
    JpegEncoder::new(&mut content)
        .write_image(&[90; 256], 16, 16, ExtendedColorType::L8)
        .expect("encoded");
    let grey = studio.file("grey.jpg", &content);
    assert!(
        refusal(&request(&grey)).contains("grey picture"),
        "grey JPEG"
    );

    // An animation's control chunk put in after the header. Source: PNG specification, third edition (2025).
    let still = studio.png("still.png", &Painting::flat([198, 148, 122]), None);
    let mut content = fs::read(still).expect("just written");
    let mut chunk = b"\0\0\0\x08acTL\0\0\0\x02\0\0\0\0".to_vec();
    chunk.extend(crc(&chunk[4..]).to_be_bytes());
    content.splice(33..33, chunk);
    let moving = studio.file("moving.png", &content);
    assert!(refusal(&request(&moving)).contains("animated"), "animated");

    let profile = b"this is no profile".to_vec();
    let odd = studio.png("odd.png", &Painting::flat([198, 148, 122]), Some(profile));
    assert!(
        refusal(&request(&odd)).contains("profile can't be used"),
        "profile"
    );
}

/// The check sum of a PNG chunk. Source: PNG specification, annex D.
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |sum, byte| {
        (0..8).fold(sum ^ u32::from(*byte), |sum, _| {
            (sum >> 1) ^ (0xedb8_8320 * (sum & 1))
        })
    })
}

#[test]
fn a_picture_cut_short_is_refused_in_every_format() {
    let studio = Studio::new();
    let painting = quarters();
    let jpeg = studio.jpeg("whole.jpg", &painting, None);
    let png = studio.png("whole.png", &painting, None);
    let webp = studio.webp("whole.webp", &painting, None);
    let tiff = studio.tiff("whole.tif", [64, 48], &painting.eight(), 3, 2, 1);
    for whole in [jpeg, png, webp, tiff] {
        let content = fs::read(&whole).expect("just written");
        assert!(
            Target::from_photo(&request(&whole), Viewing::D65_10).is_ok(),
            "whole"
        );
        let name = whole.file_name().expect("a name").to_string_lossy();
        for part in [0.5, 0.9] {
            let end = (content.len() as f64 * part) as usize;
            let cut = studio.file(&format!("cut-{name}"), &content[..end]);
            let line = refusal(&request(&cut));
            assert!(
                line.contains("cut short") || line.contains("damaged"),
                "{line}"
            );
        }
    }
}

#[test]
fn a_picture_of_too_many_pixels_is_refused_by_its_header_alone() {
    let studio = Studio::new();
    let small = studio.png("small.png", &Painting::flat([198, 148, 122]), None);
    let mut content = fs::read(small).expect("just written");
    // 30,000 × 30,000 in the header, and its check sum mended; the data stays tiny.
    content[16..24].copy_from_slice(&[0, 0, 0x75, 0x30, 0, 0, 0x75, 0x30]);
    let sum = crc(&content[12..29]);
    content[29..33].copy_from_slice(&sum.to_be_bytes());
    let bomb = studio.file("bomb.png", &content);
    let line = refusal(&request(&bomb));
    assert!(
        line.contains("900 million pixels; at most 200 million"),
        "{line}"
    );
}

#[test]
fn regions_that_do_not_fit_are_told_what_would() {
    let studio = Studio::new();
    let path = studio.png("face.png", &quarters(), None);
    let outside = PhotoRequest {
        region: Some(region("50,0,20,20")),
        ..request(&path)
    };
    assert!(refusal(&outside).contains("64 wide and 48 high"), "outside");
    let outside = PhotoRequest {
        card: Some((region("0,40,10,10"), Card::GREY)),
        ..request(&path)
    };
    let line = refusal(&outside);
    assert!(
        line.contains("the card: ") && line.contains("64 wide"),
        "{line}"
    );

    let dot = studio.png(
        "dot.png",
        &Painting::new(1, 1, |_, _| bytes([198, 148, 122])),
        None,
    );
    assert!(
        refusal(&request(&dot)).contains("1 usable pixels of 1"),
        "1 × 1, three tones"
    );
    let one = read(&one_tone(&dot), Viewing::D65_10);
    assert_eq!(one.tones.len(), 1, "1 × 1, one tone");
    let many = PhotoRequest {
        tones: 9,
        ..request(&path)
    };
    let error = Target::from_photo(&many, Viewing::D65_10).expect_err("nine tones");
    assert!(error.to_string().contains("from 1 to 8"), "{error}");
}

#[test]
fn a_card_that_tells_nothing_is_refused() {
    let studio = Studio::new();
    let skin = bytes([198, 148, 122]);
    for (card, word) in [
        ([255, 255, 250], "clipped"),
        ([6, 6, 6], "black"),
        ([0, 0, 0], "black"),
    ] {
        let painting = Painting::new(60, 40, |x, _| if x < 40 { skin } else { bytes(card) });
        let path = studio.png("card.png", &painting, None);
        let carded = PhotoRequest {
            card: Some((region("44,4,12,30"), Card::WHITE)),
            ..request(&path)
        };
        let line = refusal(&carded);
        assert!(line.contains(word), "{line}");
    }
    let shaded = Painting::new(60, 40, |_, y| if y < 20 { [0.4; 3] } else { [0.6; 3] });
    let path = studio.png("card.png", &shaded, None);
    let carded = PhotoRequest {
        card: Some((region("44,4,12,30"), Card::GREY)),
        ..request(&path)
    };
    assert!(refusal(&carded).contains("uneven"), "half in shadow");
}

#[test]
fn portraits_without_a_card_are_read_and_said_to_be_uncorrected() {
    let folder = std::env::var_os("DROPWISE_PORTRAITS").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data/photos"),
        PathBuf::from,
    );
    // Cheeks; both portraits are in the public domain, the people in them can be known.
    for (name, cheek) in [
        ("portrait_astronaut.png", "186,112,20,20"),
        ("portrait_officer.jpg", "300,235,35,30"),
    ] {
        let path = folder.join(name);
        if !path.exists() {
            println!("skipped: {} is not here", path.display());
            continue;
        }
        let ask = PhotoRequest {
            region: Some(region(cheek)),
            ..request(&path)
        };
        let target = read(&ask, Viewing::D65_10);
        println!(
            "{name}: {:?} ± {:?}; {:?}",
            target.lab, target.spread, target.notes
        );
        assert!(
            target.notes[0].starts_with("uncorrected"),
            "{:?}",
            target.notes
        );
        assert!((25.0..90.0).contains(&target.lab.l), "skin's lightness");
        assert!(target.lab.a > 0.0 && target.lab.b > 0.0, "skin's hue");
    }
}
