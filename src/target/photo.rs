//! From a photograph to a target.
//!
//! The picture is decoded, turned upright and turned into colour by its own profile; a card in the shot
//! undoes the light; highlights and clipped pixels are left out and counted; the rest falls into tones, of
//! which the largest is the target's colour; and each tone is brought from D50/2°, in which pictures speak,
//! to the viewing of the swatch book by way of a reflectance spectrum.

use std::path::PathBuf;

use super::card::{Balance, Card};
use super::connection::ConnectionSpace;
use super::picture::Picture;
use super::tones::{self, Group, Sorted};
use super::{Region, Target, Tone, spectrum_note, surface_spectrum};
use crate::colour::{Lab, Viewing};
use crate::error::{Error, Result};

/// Tones that are looked for unless told otherwise: base, flush and shadow.
pub const DEFAULT_TONES: usize = 3;

/// Pixels of a region that are read at most; more would not move the answer.
const MOST_PIXELS: u32 = 40_000;
/// Pixels that count as one independent reading: a block of JPEG's coding, 8 × 8.
const PIXELS_A_READING: f64 = 64.0;

/// Systematic standard deviation of L*, a*, b* with a card in the shot: the lamp's spectrum, the camera's
/// tone curve and its colour rendering are still there. The lamp alone moves a* by 0.5 to 5, 2.8 in the root
/// mean square over the lamps named in the card's module. From trials of this project, no published source.
const BALANCED_SD: [f64; 3] = [2.0, 2.5, 2.0];
/// Systematic standard deviation of L*, a*, b* without any correction: exposure, the light's colour and the
/// camera's taste as well. A phone's photo is commonly 6 to 8 ΔE00 off. From trials of this project, no
/// published source.
const UNCORRECTED_SD: [f64; 3] = [5.0, 4.0, 5.0];

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
    /// The answer is the same on every run: k-means starts from fixed seeds, which a note gives.
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
            let pixels = picture
                .pixels(region, MOST_PIXELS)
                .map_err(|error| error.within("the card"))?;
            Some(Balance::from_card(card, &pixels, &space)?)
        }
        None => None,
    };
    let region = request
        .region
        .unwrap_or_else(|| Region::whole(picture.size()));
    let pixels = picture.pixels(region, MOST_PIXELS)?;
    let sorted = tones::sort_out(&pixels, |pixel| {
        let balanced = balance
            .as_ref()
            .map_or(pixel.xyz, |balance| balance.apply(pixel.xyz));
        space.lab(balanced)
    });
    if sorted.kept.len() < request.tones {
        return Err(too_few(&sorted, pixels.len(), request.tones));
    }
    let groups = tones::groups(&sorted.kept, request.tones);

    let mut notes = notes(picture, request, &sorted, pixels.len());
    let mut seen: Vec<(Lab, Group)> = Vec::with_capacity(groups.len());
    for group in groups {
        match space.to_viewing(group.mean) {
            Some(lab) => seen.push((lab, group)),
            None if seen.is_empty() => return Err(no_surface(&group, request.card.is_some())),
            None => notes.push(format!(
                "a tone with {:.1} % of the pixels left out: no surface has its colour",
                percent(group.members, sorted.kept.len())
            )),
        }
    }
    let (lab, base) = seen
        .first()
        .copied()
        .ok_or_else(|| too_few(&sorted, pixels.len(), request.tones))?;
    let labs: Vec<Lab> = seen.iter().map(|(lab, _)| *lab).collect();
    let tones = seen.iter().zip(tones::roles(&labs));
    let (spectrum, spectrum_from) = surface_spectrum(lab, viewing)?;
    notes.extend(spectrum_note(lab, spectrum_from));
    Ok(Target {
        lab,
        spread: spread(&base, request.card.map(|(_, card)| card)),
        viewing,
        tones: tones
            .map(|((lab, group), role)| Tone {
                role,
                lab: *lab,
                share: group.members as f64 / sorted.kept.len() as f64,
            })
            .collect(),
        spectrum,
        spectrum_from,
        notes,
    })
}

/// Standard deviation of the base tone: what the card leaves, the card itself, and the scatter of pixels.
fn spread(base: &Group, card: Option<Card>) -> [f64; 3] {
    let (systematic, card) = match card {
        Some(card) => (BALANCED_SD, card.spread()),
        None => (UNCORRECTED_SD, [0.0; 3]),
    };
    let readings = (base.members as f64 / PIXELS_A_READING).max(1.0);
    std::array::from_fn(|i| {
        (systematic[i].powi(2) + card[i].powi(2) + base.scatter[i].powi(2) / readings).sqrt()
    })
}

fn percent(part: usize, whole: usize) -> f64 {
    part as f64 / whole as f64 * 100.0
}

fn notes(picture: &Picture, request: &PhotoRequest, sorted: &Sorted, read: usize) -> Vec<String> {
    let mut notes = Vec::new();
    if request.card.is_none() {
        notes.push(
            "uncorrected: no card in the shot, so the light and the camera's own taste are in these \
             numbers"
                .to_owned(),
        );
    }
    if !picture.has_profile {
        notes.push("the picture carries no colour profile; taken as sRGB".to_owned());
    }
    if request.region.is_none() {
        notes.push(
            "the whole picture was read, background and all; give the region where the skin is"
                .to_owned(),
        );
    }
    let left_out = [
        (sorted.highlights, "highlights"),
        (sorted.clipped, "clipped"),
        (sorted.transparent, "not opaque"),
    ];
    for (count, what) in left_out {
        if count > 0 {
            let share = percent(count, read);
            notes.push(format!("{share:.1} % of the pixels left out: {what}"));
        }
    }
    notes.push(format!(
        "tones by k-means over {} pixels, best of {} runs from seed {}",
        sorted.kept.len(),
        tones::RUNS,
        tones::SEED
    ));
    notes
}

fn too_few(sorted: &Sorted, read: usize, tones: usize) -> Error {
    let finding = format!(
        "the region holds {} usable pixels of {read} ({} clipped, {} highlights); {tones} tones need as \
         many at least",
        sorted.kept.len(),
        sorted.clipped,
        sorted.highlights
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
