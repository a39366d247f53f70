//! From a photograph to a target.
//!
//! The picture is decoded, turned upright and turned into colour by its own profile; a card in the shot
//! undoes the light; highlights and clipped pixels are left out and counted; the rest, averaged by blocks,
//! falls into tones, of which the largest is the target's colour; and each tone is brought from D50/2°, in
//! which pictures speak, to the viewing of the swatch book by way of a reflectance spectrum.

use std::ops::RangeInclusive;
use std::path::PathBuf;

use super::blocks::Blocks;
use super::card::{Balance, Card};
use super::connection::ConnectionSpace;
use super::picture::Picture;
use super::roles::roles;
use super::sorted::Sorted;
use super::tones::{self, Group};
use super::{Instrument, Region, Target, Tone, spectrum_note, surface_spectrum};
use crate::colour::{Illuminant, Lab, Viewing};
use crate::error::{Error, Result};

/// Tones that are looked for unless told otherwise: base, flush and shadow.
pub const DEFAULT_TONES: usize = 3;

/// Pixels that count as one independent reading: a block of JPEG's coding, 8 × 8.
const PIXELS_A_READING: f64 = 64.0;

/// Systematic standard deviation of L*, a*, b* with a card in the shot: the lamp's spectrum, the camera's
/// tone curve and its colour rendering are still there. The lamp alone leaves, in the root mean square over
/// the CIE's lamps and measured skins, 1.1, 3.1 and 3.9 where the camera had balanced the picture itself, so
/// that nothing shows at the card, and 0.5, 3.4 and 1.4 where it had not. From trials of this project with a
/// camera of the 2° observer, no published source.
const BALANCED_SD: [f64; 3] = [2.0, 3.0, 3.0];
/// How much a*'s standard deviation grows with the size of the correction, added in squares. In the same
/// trials a* is off by 2.7 in the root mean square for corrections below 0.6 and by 4.3 for those about 1.1;
/// L* and b* do not get worse.
const RED_SD_A_CORRECTION: f64 = 2.5;
/// Systematic standard deviation of L*, a*, b* without any correction: exposure, the light's colour and the
/// camera's taste as well. A phone's photo is commonly 6 to 8 ΔE00 off. From trials of this project, no
/// published source.
const UNCORRECTED_SD: [f64; 3] = [5.0, 5.0, 6.0];

/// Largest correction that counts as daylight's: D50 takes 0.28 with a camera for D65, the whitest warm lamps
/// of the CIE 0.47. A camera that balances itself hides the lamp.
const DAYLIGHT_CORRECTION: f64 = 0.4;

/// L*, a*, b* under D65 that measured skins span, with a margin for what a photograph does to them.
///
/// The 60 forearms of C. C. Cooksey, D. W. Allen, B. K. Tsai (2017), Journal of Research of NIST 122:26, span
/// L* 42.7–73.4, a* 5.9–12.5, b* 11.7–22.3 (D65/10°); the cluster means of 120 noses and lips, without contact,
/// L* 26.7–52.5, a* 14.6–25.5, b* 12.3–18.9 (IADR 2009, abstract 120461, as its abstract says). The margin is
/// about two standard deviations of a photograph without a card: less toward grey, which is no skin, more
/// toward yellow, since most lamps are warm, and toward black, since dark skin is hardly measured.
const MEASURED_SKIN: [RangeInclusive<f64>; 3] = [12.0..=86.0, 1.5..=34.0, 2.0..=38.0];

/// Which photograph to read, and where.
#[derive(Clone, Debug, PartialEq)]
pub struct PhotoRequest {
    /// The picture: JPEG, PNG, TIFF or WebP.
    pub path: PathBuf,
    /// Where the skin is; the whole picture where `None`.
    pub region: Option<Region>,
    /// Where the card is, and which card it is.
    pub card: Option<(Region, Card)>,
    /// How many tones to look for, 1 to 8.
    pub tones: usize,
}

impl PhotoRequest {
    /// The whole picture at `path`, without a card, in [`DEFAULT_TONES`] tones.
    pub fn new(path: impl Into<PathBuf>) -> Self {
        Self {
            path: path.into(),
            region: None,
            card: None,
            tones: DEFAULT_TONES,
        }
    }
}

impl Target {
    /// The target that a photograph shows, with its tones, under `viewing`.
    ///
    /// The answer is the same on every run: k-means starts from fixed seeds, of which the last note gives the
    /// first. There are at most four notes, the gravest first.
    ///
    /// # Errors
    ///
    /// An input error that says what to do where the picture is missing, is of a kind that is not read or is
    /// damaged; where a region lies outside it, is too small, or holds nothing but clipped pixels; where the
    /// card can't be used; where the base tone is no colour of a surface. The machine's where the file can't
    /// be read.
    pub fn from_photo(request: &PhotoRequest, viewing: Viewing) -> Result<Self> {
        tones::check_count(request.tones)?;
        let picture = Picture::open(&request.path)?;
        read(&picture, request, viewing).map_err(|error| error.in_file(&request.path))
    }
}

fn read(picture: &Picture, request: &PhotoRequest, viewing: Viewing) -> Result<Target> {
    let space = ConnectionSpace::new(viewing);
    let balance = match request.card {
        Some((region, card)) => {
            region
                .check(picture.size())
                .map_err(|error| error.within("the card"))?;
            let blocks = Blocks::read(picture, region, "the card's region")?;
            Some(Balance::from_card(card, &blocks, &space)?)
        }
        None => None,
    };
    let region = request
        .region
        .unwrap_or_else(|| Region::whole(picture.size()));
    let undo = |xyz| balance.as_ref().map_or(xyz, |balance| balance.apply(xyz));
    let sorted = Sorted::new(&Blocks::read(picture, region, "the region")?, undo, &space);
    if sorted.kept.len() < request.tones {
        return Err(too_few(&sorted, request.tones));
    }
    let groups = tones::groups(&sorted.kept, sorted.noise, request.tones);

    let mut seen: Vec<(Lab, Group)> = Vec::with_capacity(groups.len());
    let mut unreal = 0;
    for group in groups {
        match space.to_viewing(group.mean) {
            Some(lab) => seen.push((lab, group)),
            None if seen.is_empty() => return Err(no_surface(&group, request.card.is_some())),
            None => unreal += group.members,
        }
    }
    let (lab, base) = seen
        .first()
        .copied()
        .ok_or_else(|| too_few(&sorted, request.tones))?;
    let labs: Vec<Lab> = seen.iter().map(|(lab, _)| *lab).collect();
    let tones = seen
        .iter()
        .zip(roles(&labs))
        .map(|((lab, group), role)| Tone {
            role,
            lab: *lab,
            share: group.members as f64 / sorted.kept.len() as f64,
        });
    let (spectrum, spectrum_from) = surface_spectrum(lab, viewing)?;
    let correction = balance.as_ref().map(|balance| balance.correction);
    let mut target = Target {
        lab,
        spread: spread(
            &base,
            sorted.covered,
            request.card.map(|(_, card)| card).zip(correction),
        ),
        viewing,
        tones: tones.collect(),
        spectrum,
        spectrum_from,
        instrument: Instrument::CAMERA,
        translucency: None,
        notes: Vec::new(),
    };
    let unreal = unreal as f64 / sorted.kept.len() as f64;
    target.notes = notes(&target, request, correction);
    target.notes.push(technical(picture, &sorted, unreal));
    Ok(target)
}

/// Standard deviation of the base tone: what the card leaves, the card itself, and the scatter of blocks.
///
/// `covered` is how many pixels a block covers, `card` the card and the size of the correction by it.
fn spread(base: &Group, covered: f64, card: Option<(Card, f64)>) -> [f64; 3] {
    let readings = (base.members as f64 * covered / PIXELS_A_READING).max(1.0);
    let growth = [0.0, RED_SD_A_CORRECTION, 0.0];
    std::array::from_fn(|i| {
        let systematic = match card {
            Some((card, correction)) => BALANCED_SD[i]
                .hypot(growth[i] * correction)
                .hypot(card.spread()[i]),
            None => UNCORRECTED_SD[i],
        };
        systematic.hypot(base.scatter[i] / readings.sqrt())
    })
}

/// Whether the target can be a measured skin, or one that a photograph has tinted.
fn is_measured_skin(target: &Target) -> bool {
    let lab = target.under(Illuminant::D65);
    MEASURED_SKIN
        .iter()
        .zip([lab.l, lab.a, lab.b])
        .all(|(span, value)| span.contains(&value))
}

/// What the user must know, the gravest first; at most three.
fn notes(target: &Target, request: &PhotoRequest, correction: Option<f64>) -> Vec<String> {
    let is_skin = is_measured_skin(target);
    let mut notes: Vec<String> = Vec::new();
    match (is_skin, request.region) {
        (true, Some(_)) => {}
        (true, None) => notes.push(
            "the whole picture was read, background and all; --region X,Y,W,H says where the skin is"
                .to_owned(),
        ),
        (false, Some(region)) => notes.push(format!(
            "this is no colour of measured skin: check --region ({region})"
        )),
        (false, None) => notes.push(
            "this is no colour of measured skin: the whole picture was read; give --region X,Y,W,H"
                .to_owned(),
        ),
    }
    match correction {
        None => notes.push(
            "uncorrected: no card in the shot, so the light and the camera are in these numbers"
                .to_owned(),
        ),
        Some(correction) if correction > DAYLIGHT_CORRECTION => notes.push(
            "the light looks far from daylight, and a card undoes that only in part: photograph it in \
             daylight to do better"
                .to_owned(),
        ),
        Some(_) => {}
    }
    if is_skin {
        notes.extend(spectrum_note(target.lab, target.spectrum_from));
    }
    notes
}

/// How the numbers came about, in one line; `unreal` is the share of blocks whose colour no surface has.
fn technical(picture: &Picture, sorted: &Sorted, unreal: f64) -> String {
    let mut parts = Vec::new();
    if !picture.has_profile {
        parts.push("no colour profile, taken as sRGB".to_owned());
    }
    let of_read = |count: usize| count as f64 / sorted.read as f64;
    let left_out = [
        (of_read(sorted.highlights), "highlights"),
        (of_read(sorted.clipped), "clipped"),
        (of_read(sorted.transparent), "transparent"),
        (unreal, "of no surface's colour"),
    ];
    let left_out: Vec<String> = left_out
        .into_iter()
        .filter(|(share, _)| *share > 0.0)
        .map(|(share, what)| format!("{:.1} % {what}", 100.0 * share))
        .collect();
    if !left_out.is_empty() {
        parts.push(format!("left out {}", left_out.join(", ")));
    }
    parts.push(format!(
        "{} pixels in {} blocks, k-means from seed {}",
        sorted.usable(),
        sorted.kept.len(),
        tones::SEED
    ));
    parts.join("; ")
}

fn too_few(sorted: &Sorted, tones: usize) -> Error {
    let finding = format!(
        "the region holds {} usable pixels of {} ({} clipped, {} highlights, {} transparent), too few for \
         {tones} tones",
        sorted.usable(),
        sorted.read,
        sorted.clipped,
        sorted.highlights,
        sorted.transparent
    );
    Error::input(finding).mend("draw the region larger, on skin that is neither burnt out nor black, or ask for fewer tones")
}

fn no_surface(group: &Group, balanced: bool) -> Error {
    let [l, a, b] = [group.mean.l, group.mean.a, group.mean.b];
    let finding =
        format!("the base tone comes out as L*,a*,b* {l:.1},{a:.1},{b:.1}, which no surface has");
    Error::input(finding).mend(if balanced {
        "check the card's region and its L,a,b"
    } else {
        "check the region: is it skin, and not a lamp or a screen?"
    })
}
