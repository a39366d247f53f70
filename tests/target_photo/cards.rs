//! Cards: what they undo, what they can't, and which are refused.

use dropwise::colour::{Illuminant, Lab, Observer, Spectrum, Viewing, delta_e_2000};
use dropwise::tone::{Card, PhotoRequest, Target};

use super::studio::{Painting, Studio, bytes, srgb};
use super::{read, refusal, region, request};

/// The reflectance of 60 forearms, by the subject's number.
///
/// Source: C. C. Cooksey, D. W. Allen, B. K. Tsai (2017), Journal of Research of the National Institute of
/// Standards and Technology 122:26; data doi 10.18434/M38597; in the public domain.
pub(crate) fn skins() -> Vec<(u32, Spectrum)> {
    let table = include_str!("../published/cooksey_2017.csv");
    let rows = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(table.as_bytes())
        .into_deserialize::<(u32, [f64; 3], Spectrum)>()
        .collect::<Result<Vec<_>, _>>();
    let rows = rows.expect("the table lies in the folder beside this one");
    rows.into_iter()
        .map(|(subject, _, reflectance)| (subject, reflectance))
        .collect()
}

/// What a camera of the 2° observer sees of `reflectance` under `light`: linear light in the primaries of
/// sRGB, neutral under D65.
fn sensed(reflectance: &Spectrum, light: Illuminant, exposure: f64) -> [f64; 3] {
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
    FROM_XYZ.map(|row| row.iter().zip(xyz).map(|(m, v)| m * v).sum())
}

/// The picture's red, green and blue of what a camera senses.
fn developed(linear: [f64; 3]) -> [f64; 3] {
    linear.map(|linear| srgb(linear.clamp(0.0, 1.0)))
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
        // Light, intermediate, brown.
        let three = skins()
            .into_iter()
            .filter(|(subject, _)| [14, 9, 17].contains(subject));
        for (_, skin) in three {
            let truth = Viewing::D65_10.weights().lab(&skin);
            let [on_skin, on_card] =
                [skin, grey].map(|surface| developed(sensed(&surface, light, 0.6)));
            let painting = Painting::new(60, 40, |x, _| if x < 40 { on_skin } else { on_card });
            let path = studio.png_with("warm.png", &painting, None, None, true);
            let plain = PhotoRequest {
                region: Some(region("2,2,30,30")),
                tones: 1,
                ..request(&path)
            };
            let carded = PhotoRequest {
                card: Some((Some(region("44,4,12,30")), Card::GREY)),
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

/// How a camera balances what it senses: a factor for each channel.
#[derive(Clone, Copy, Debug)]
enum Camera {
    /// Not at all.
    Daylight,
    /// So that grey comes out grey.
    OfItself,
    /// By fixed factors, right or wrong.
    Cast([f64; 3]),
}

impl Camera {
    fn factors(self, light: Illuminant) -> [f64; 3] {
        match self {
            Self::Daylight => [1.0; 3],
            Self::OfItself => {
                let grey = sensed(&Spectrum::constant(0.18), light, 1.0);
                grey.map(|v| 0.18 / v)
            }
            Self::Cast(factors) => factors,
        }
    }
}

/// How many of the skins' L*, a*, b*, and how many skins in all three, lie within 1.96 stated spreads.
pub(crate) struct Coverage {
    /// Sums of the squared misses.
    squares: [f64; 3],
    pub(crate) axes: [u32; 3],
    pub(crate) all: u32,
    of: u32,
}

impl Coverage {
    pub(crate) fn new() -> Self {
        Self {
            squares: [0.0; 3],
            axes: [0; 3],
            all: 0,
            of: 0,
        }
    }

    pub(crate) fn take(&mut self, target: &Target, truth: Lab) {
        let off = [
            target.lab.l - truth.l,
            target.lab.a - truth.a,
            target.lab.b - truth.b,
        ];
        let within: [bool; 3] = std::array::from_fn(|i| off[i].abs() <= 1.96 * target.spread[i]);
        for (axis, within) in self.axes.iter_mut().zip(within) {
            *axis += u32::from(within);
        }
        for (square, off) in self.squares.iter_mut().zip(off) {
            *square += off * off;
        }
        self.all += u32::from(within == [true; 3]);
        self.of += 1;
    }

    pub(crate) fn root_mean_square(&self) -> [f64; 3] {
        self.squares.map(|sum| (sum / f64::from(self.of)).sqrt())
    }

    pub(crate) fn percent(&self, count: u32) -> f64 {
        100.0 * f64::from(count) / f64::from(self.of)
    }
}

/// Reads every skin, in a patch each, from one picture under `lamp` with a grey card.
fn read_all(studio: &Studio, skins: &[Spectrum], lamp: Illuminant, camera: Camera) -> Vec<Target> {
    const SIDE: u32 = 10;
    let factors = camera.factors(lamp);
    let shoot = |surface: &Spectrum| {
        let linear = sensed(surface, lamp, 0.6);
        developed(std::array::from_fn(|i| linear[i] * factors[i]))
    };
    let card = shoot(&Spectrum::constant(0.18));
    let patches: Vec<[f64; 3]> = skins.iter().map(shoot).collect();
    let painting = Painting::new(SIDE * patches.len() as u32, 2 * SIDE, |x, y| {
        if y < SIDE {
            patches[(x / SIDE) as usize]
        } else {
            card
        }
    });
    let path = studio.png_with("lamp.png", &painting, None, None, true);
    (0..skins.len() as u32)
        .map(|index| PhotoRequest {
            region: Some(region(&format!("{},0,{SIDE},{SIDE}", SIDE * index))),
            card: Some((Some(region("0,10,10,10")), Card::GREY)),
            tones: 1,
            ..request(&path)
        })
        .map(|ask| read(&ask, Viewing::D65_10))
        .collect()
}

#[test]
fn the_truth_lies_within_the_stated_spread_over_lamps_and_skins() {
    let studio = Studio::new();
    let skins: Vec<Spectrum> = skins()
        .into_iter()
        .step_by(12)
        .map(|(_, skin)| skin)
        .collect();
    let lamps = Illuminant::ALL
        .iter()
        .flat_map(|lamp| [Camera::Daylight, Camera::OfItself].map(|camera| (*lamp, camera)));
    let casts = [[1.25, 1.0, 0.62], [0.8, 1.0, 1.25]]
        .map(|factors| (Illuminant::D65, Camera::Cast(factors)));
    let mut coverage = Coverage::new();
    for (lamp, camera) in lamps.chain(casts) {
        let mut alone = Coverage::new();
        for (target, skin) in read_all(&studio, &skins, lamp, camera).iter().zip(&skins) {
            let truth = Viewing::D65_10.weights().lab(skin);
            coverage.take(target, truth);
            alone.take(target, truth);
        }
        let off = alone.root_mean_square();
        println!("{lamp}, {camera:?}: off by {off:.2?} (root mean square of L*, a*, b*)");
    }
    let axes = coverage.axes.map(|count| coverage.percent(count));
    let all = coverage.percent(coverage.all);
    println!(
        "within 1.96 spreads: L*, a*, b* {axes:.1?} %, all three {all:.1} % of {}",
        coverage.of
    );
    // In L* a trial without a tone curve and uneven light is kinder than a photograph.
    assert!(axes.iter().all(|axis| *axis >= 85.0), "{axes:?}");
    assert!((85.0..=98.0).contains(&all), "{all} %");
}

#[test]
fn a_strong_cast_widens_the_spread_and_is_told() {
    let studio = Studio::new();
    let skin = [skins().swap_remove(0).1];
    let read_with = |lamp, camera| read_all(&studio, &skin, lamp, camera).swap_remove(0);
    let far = |target: &Target| target.notes[0].contains("daylight");
    let daylight = read_with(Illuminant::D65, Camera::Daylight);
    assert!(!far(&daylight), "{:?}", daylight.notes);
    assert!(
        !far(&read_with(Illuminant::D50, Camera::Daylight)),
        "D50 is daylight"
    );
    for (lamp, camera) in [
        (Illuminant::A, Camera::Daylight),
        (Illuminant::LedB1, Camera::Daylight),
        (Illuminant::D65, Camera::Cast([1.25, 1.0, 0.62])),
    ] {
        let target = read_with(lamp, camera);
        assert!(far(&target), "{lamp}, {camera:?}: {:?}", target.notes);
        assert!(
            target.spread[1] > daylight.spread[1] + 0.1,
            "{lamp}, {camera:?}"
        );
    }
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
            card: Some((Some(region("44,4,12,30")), Card::WHITE)),
            ..request(&path)
        };
        let line = refusal(&carded);
        assert!(line.contains(word), "{line}");
    }
    let shaded = Painting::new(60, 40, |_, y| if y < 20 { [0.4; 3] } else { [0.6; 3] });
    let path = studio.png("card.png", &shaded, None);
    let carded = PhotoRequest {
        card: Some((Some(region("44,4,12,30")), Card::GREY)),
        ..request(&path)
    };
    assert!(refusal(&carded).contains("uneven"), "half in shadow");
}
