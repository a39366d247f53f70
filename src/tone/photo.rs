//! From photographs to a target.
//!
//! Each picture is decoded, turned upright and turned into colour by its own profile. A chart or a card in the
//! shot undoes the light. Highlights and clipped pixels are left out and counted, and the shading across a limb is
//! taken out. The rest, averaged by blocks, falls into tones, of which the largest is the target's colour. Each
//! tone is brought from D50/2°, in which pictures speak, to the viewing of the swatch book by way of a
//! reflectance spectrum. Several regions and several photographs of one person are averaged: each counts
//! alike, and one that lies far from the others is left out and named.

use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};

use super::blocks::Blocks;
use super::board::read_chart;
use super::card::{Balance, Card};
use super::chart::{Chart, ChartReading, Corners};
use super::connection::ConnectionSpace;
use super::find;
use super::marked::{Mark, marked_as};
use super::picture::Picture;
use super::pooled::Pooled;
use super::roles::roles;
use super::sorted::Sorted;
use super::tones::{self, Group};
use super::view::{Correction, Reference, View};
use super::{
    ChartReport, Instrument, Photographed, Region, Target, Tone, spectrum_note, surface_spectrum,
};
use crate::colour::{Illuminant, Lab, Viewing, to_srgb};
use crate::error::{Error, Result};

/// Tones that are looked for unless the request says otherwise: base, flush and shadow.
pub const DEFAULT_TONES: usize = 3;

/// Pixels that count as one independent reading: a block of JPEG's coding, 8 × 8.
const PIXELS_A_READING: f64 = 64.0;

/// Largest correction that counts as daylight's: D50 takes 0.28 with a camera for D65, the whitest warm lamps
/// of the CIE 0.47. A camera that balances itself hides the lamp.
const DAYLIGHT_CORRECTION: f64 = 0.4;

/// Change of the light over a chart's width that is worth telling.
const WORTH_TELLING: f64 = 0.05;

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
    /// Where the card is, which is looked for where `None`, and which card it is.
    pub card: Option<(Option<Region>, Card)>,
    /// Where a chart is, if that is known, and which; in place of a card.
    pub chart: Option<Chart>,
    /// How many tones to look for, 1 to 8.
    pub tones: usize,
}

impl PhotoRequest {
    /// The whole picture at `path`, without card or chart, in [`DEFAULT_TONES`] tones.
    pub fn new(path: impl Into<PathBuf>) -> Self {
        Self {
            path: path.into(),
            region: None,
            card: None,
            chart: None,
            tones: DEFAULT_TONES,
        }
    }

    /// What a user knows this reading by.
    fn name(&self) -> String {
        match self.region {
            Some(region) => format!("{region} of {}", self.path.display()),
            None => self.path.display().to_string(),
        }
    }
}

impl Target {
    /// The target that a photograph shows, with its tones, under `viewing`.
    ///
    /// # Errors
    ///
    /// As [`from_photos`](Self::from_photos).
    pub fn from_photo(request: &PhotoRequest, viewing: Viewing) -> Result<Self> {
        Self::from_photos(std::slice::from_ref(request), viewing)
    }

    /// The target that several regions of one or more photographs of one person show, under `viewing`: at
    /// least one request, of which the first says how many tones to look for. Requests for one picture stand
    /// together, so that it is decoded once.
    ///
    /// The answer is the same on every run: k-means starts from fixed seeds, of which the last note gives the
    /// first. The gravest notes come first.
    ///
    /// # Errors
    ///
    /// An input error that says what to do where a picture is missing, is of a kind that is not read or is
    /// damaged; where a region lies outside it, is too small, or holds nothing but clipped pixels. The same where
    /// the card or the chart can't be used; where the base tone is no colour of a surface; where nothing is asked
    /// for. The machine's where a file can't be read.
    pub fn from_photos(requests: &[PhotoRequest], viewing: Viewing) -> Result<Self> {
        let [first, ..] = requests else {
            return Err(Error::input("no photograph is named"));
        };
        tones::check_count(first.tones)?;
        let space = ConnectionSpace::new(viewing);
        let mut read = Read::default();
        let of_one_picture =
            requests.chunk_by(|one, other| one.path == other.path && one.chart == other.chart);
        for requests in of_one_picture {
            read.add(requests, first.tones, &space)
                .map_err(|error| error.in_file(&requests[0].path))?;
        }
        target(&read, requests, viewing, &space).map_err(|error| {
            if requests.len() == 1 {
                error.in_file(&first.path)
            } else {
                error
            }
        })
    }
}

/// What was read of all pictures.
#[derive(Default)]
struct Read {
    views: Vec<View>,
    /// The largest correction by a card.
    correction: Option<f64>,
    charts: Vec<ChartReport>,
    /// Cards that were looked for.
    cards: Vec<Region>,
    /// How each region was read.
    photographs: Vec<Photographed>,
    without_profile: bool,
    /// A picture whose damage would not have been told.
    hides_damage: bool,
}

impl Read {
    /// Reads what is asked for of one picture.
    fn add(
        &mut self,
        requests: &[PhotoRequest],
        tones: usize,
        space: &ConnectionSpace,
    ) -> Result<()> {
        let picture = Picture::open(&requests[0].path)?;
        self.without_profile |= !picture.has_profile;
        self.hides_damage |= !picture.tells_damage;
        let chart = match &requests[0].chart {
            Some(chart) => Some(read_chart(&picture, chart, space)?.0),
            None => None,
        };
        for request in requests {
            let (reference, found) = reference(&picture, request, chart.as_ref(), space)?;
            if found.is_some() && self.cards.last() != found.as_ref() {
                self.cards.extend(found);
            }
            if let Reference::Card(_, balance) = &reference {
                let largest = self.correction.unwrap_or(0.0).max(balance.correction);
                self.correction = Some(largest);
            }
            let region = request
                .region
                .unwrap_or_else(|| Region::whole(picture.size()));
            let view = View::read(&picture, region, &reference, space)?;
            if view.sorted.kept.len() < tones {
                return Err(too_few(&view.sorted, tones));
            }
            self.views.push(view);
            self.photographs
                .push(photographed(request, found, chart.as_ref()));
        }
        self.charts.extend(chart.map(|chart| chart.report));
        Ok(())
    }
}

/// How `request` was read, in words: its card was `found` where it was looked for, its `chart` lies where that says.
fn photographed(
    request: &PhotoRequest,
    found: Option<Region>,
    chart: Option<&ChartReading>,
) -> Photographed {
    let card = request.card;
    let corners = request.chart.as_ref().and_then(|chart| chart.corners);
    let found_corners = chart.and_then(|chart| chart.report.found.as_ref());
    let corners = corners.or(found_corners.map(|found| Corners::new(found.corners)));
    let file = request.path.file_name().unwrap_or_default();
    Photographed {
        file: file.to_string_lossy().into_owned(),
        region: request.region.map(|region| region.to_string()),
        card: card
            .and_then(|(region, _)| region.or(found))
            .map(|region| region.to_string()),
        card_lab: card.map(|(_, card)| card.to_string()),
        chart: corners.map(|corners| corners.to_string()),
        chart_values: None,
    }
}

/// What undoes light and camera in what `request` reads of `picture`, whose `chart` is read already if it asks for one; with it,
/// where a card that was looked for lies.
pub(super) fn reference<'a>(
    picture: &Picture,
    request: &PhotoRequest,
    chart: Option<&'a ChartReading>,
    space: &ConnectionSpace,
) -> Result<(Reference<'a>, Option<Region>)> {
    match (chart, request.card) {
        (Some(_), Some(_)) => Err(Error::input("both a card and a chart are given")
            .mend("leave the card out: the chart tells more")),
        (Some(chart), None) => Ok((Reference::Chart(chart), None)),
        (None, Some((region, card))) => {
            let found = match region {
                Some(_) => None,
                None => Some(find::find_card(picture, space)?),
            };
            let region = region.or(found).unwrap_or(Region::whole(picture.size()));
            let balance = balance(picture, region, card, space)?;
            Ok((Reference::Card(card, balance), found))
        }
        (None, None) => Ok((Reference::Nothing, None)),
    }
}

/// The photograph of `request` as its card or chart corrects it about the region, upright and small enough for a screen, as a PNG,
/// with `marks` outlined; as it is where it has neither.
///
/// # Errors
///
/// As [`Target::from_photo`] reads it.
pub fn corrected(request: &PhotoRequest, marks: &[Mark]) -> Result<Vec<u8>> {
    let drawn = || {
        let space = ConnectionSpace::new(Viewing::D65_10);
        let picture = Picture::open(&request.path)?;
        let chart = match &request.chart {
            Some(chart) => Some(read_chart(&picture, chart, &space)?.0),
            None => None,
        };
        let (reference, _) = reference(&picture, request, chart.as_ref(), &space)?;
        let region = request.region.unwrap_or(Region::whole(picture.size()));
        let blocks = Blocks::read(&picture, region, "the region")?;
        let correction = Correction::of(region, &blocks, &reference, &space)?;
        let shown = |xyz| to_srgb(space.lab(correction.apply(xyz)));
        marked_as(&picture, shown, marks)
    };
    drawn().map_err(|error| error.in_file(&request.path))
}

/// What `target` was read from in the photograph of `requests`, all of one and at least one.
///
/// # Errors
///
/// As [`find_card`], where the card was looked for.
pub fn read_marks(requests: &[PhotoRequest], target: &Target) -> Result<Vec<Mark>> {
    let regions = requests.iter().filter_map(|request| request.region);
    let mut marks: Vec<Mark> = regions.map(Mark::Region).collect();
    if let Some((region, _)) = requests[0].card {
        let region = match region {
            Some(region) => region,
            None => find_card(&requests[0].path)?,
        };
        marks.push(Mark::Region(region));
    }
    if let Some(chart) = &requests[0].chart {
        let found = target.charts.first().and_then(|chart| chart.found.as_ref());
        let corners = chart
            .corners
            .or(found.map(|found| Corners::new(found.corners)));
        marks.extend(corners.map(|corners| Mark::Chart(corners, chart.values.clone())));
    }
    Ok(marks)
}

/// Where a card lies in the photograph at `path`, a rectangle within it.
///
/// # Errors
///
/// As [`Target::from_photos`], where the card is looked for.
pub fn find_card(path: &Path) -> Result<Region> {
    let space = ConnectionSpace::new(Viewing::D65_10);
    let found = Picture::open(path).and_then(|picture| find::find_card(&picture, &space));
    found.map_err(|error| error.in_file(path))
}

fn balance(
    picture: &Picture,
    region: Region,
    card: Card,
    space: &ConnectionSpace,
) -> Result<Balance> {
    region
        .check(picture.size())
        .map_err(|error| error.within("the card"))?;
    let blocks = Blocks::read(picture, region, "the card's region")?;
    Balance::from_card(card, &blocks, space)
}

fn target(
    read: &Read,
    requests: &[PhotoRequest],
    viewing: Viewing,
    space: &ConnectionSpace,
) -> Result<Target> {
    let tones = requests[0].tones;
    let pooled = Pooled::of(&read.views, tones);
    let groups = tones::groups(&pooled.labs, pooled.noise, tones);
    let corrected = !read.charts.is_empty() || read.correction.is_some();

    let mut seen: Vec<(Lab, Group)> = Vec::with_capacity(groups.len());
    let mut unreal = 0;
    for group in groups {
        match space.to_viewing(group.mean) {
            Some(lab) => seen.push((lab, group)),
            None if seen.is_empty() => return Err(no_surface(&group, corrected)),
            None => unreal += group.members,
        }
    }
    let (lab, base) = seen
        .first()
        .copied()
        .ok_or_else(|| too_few(&read.views[0].sorted, tones))?;
    let labs: Vec<Lab> = seen.iter().map(|(lab, _)| *lab).collect();
    let of_all = |count: usize| count as f64 / pooled.labs.len() as f64;
    let tones = seen
        .iter()
        .zip(roles(&labs))
        .map(|((lab, group), role)| Tone {
            role,
            lab: *lab,
            share: of_all(group.members),
        });
    let (spectrum, spectrum_from) = surface_spectrum(lab, viewing)?;
    let readings = (base.members as f64 * pooled.covered / PIXELS_A_READING).max(1.0);
    let spread =
        std::array::from_fn(|i| pooled.systematic[i].hypot(base.scatter[i] / readings.sqrt()));
    let mut target = Target {
        lab,
        spread,
        viewing,
        tones: tones.collect(),
        spectrum,
        spectrum_from,
        instrument: Instrument::CAMERA,
        translucency: None,
        notes: Vec::new(),
        charts: read.charts.clone(),
        photographs: read.photographs.clone(),
    };
    target.notes = notes(&target, requests, read);
    target.notes.extend(of_charts(&read.charts));
    let cards = read.cards.iter();
    target
        .notes
        .extend(cards.map(|card| format!("the card was found at {card}")));
    target.notes.extend(of_shading(&read.views));
    let names: Vec<String> = requests.iter().map(PhotoRequest::name).collect();
    target.notes.extend(pooled.notes(&names));
    target.notes.push(technical(read, &pooled, of_all(unreal)));
    Ok(target)
}

/// Whether the target can be a measured skin, or one that a photograph has tinted.
fn is_measured_skin(target: &Target) -> bool {
    let lab = target.under(Illuminant::D65);
    MEASURED_SKIN
        .iter()
        .zip([lab.l, lab.a, lab.b])
        .all(|(span, value)| span.contains(&value))
}

/// What the user must know, the gravest first; at most four.
fn notes(target: &Target, requests: &[PhotoRequest], read: &Read) -> Vec<String> {
    let is_skin = is_measured_skin(target);
    let mut notes: Vec<String> = Vec::new();
    match (is_skin, requests[0].region) {
        (true, Some(_)) => {}
        (true, None) => notes.push(
            "the whole picture was read, background and all: name the region where the skin is"
                .to_owned(),
        ),
        (false, Some(region)) => notes.push(format!(
            "this is no colour of measured skin: check the region ({region})"
        )),
        (false, None) => notes.push(
            "this is no colour of measured skin: the whole picture was read; name the region where the skin is"
                .to_owned(),
        ),
    }
    match read.correction {
        None if !read.charts.is_empty() => {}
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
    if read.hides_damage {
        notes.push(
            "damage to a lossless WebP goes unseen: look at the picture, or save its original as PNG"
                .to_owned(),
        );
    }
    if is_skin {
        notes.extend(spectrum_note(target.lab, target.spectrum_from));
    }
    notes
}

/// What the charts were worth, a sentence each.
fn of_charts(charts: &[ChartReport]) -> impl Iterator<Item = String> {
    charts.iter().map(|chart| {
        let all = chart.patches_used + chart.left_out.len();
        let mut text = format!(
            "chart: {} of {all} patches, {} correction; a patch left out is told to {:.1} ΔE00 near skin, {:.1} over \
             all",
            chart.patches_used, chart.method, chart.leave_one_out_delta_e, chart.leave_one_out_all
        );
        if !chart.left_out.is_empty() {
            let named = chart.left_out.iter().map(|patch| {
                format!("row {} column {} ({})", patch.row, patch.column, patch.because)
            });
            text += &format!("; not used: {}", named.collect::<Vec<_>>().join(", "));
        }
        let [right, down] = chart.light_slope;
        if right.abs().max(down.abs()) >= WORTH_TELLING {
            text += &format!(
                "; the light changes by {:+.0} % over the chart's width to the right and {:+.0} % as far down",
                100.0 * right,
                100.0 * down
            );
        }
        if let Some(found) = &chart.found {
            text += &format!("; {}", found.sentence(all));
        }
        if chart.tone_exponent != 1.0 || chart.tone_bend != 0.0 {
            text += &format!(
                "; the camera had put a curve on its tones (undone by a bend of {} and a power of {})",
                chart.tone_bend, chart.tone_exponent
            );
        }
        text
    })
}

/// What shading was taken out, in one sentence.
fn of_shading(views: &[View]) -> Option<String> {
    let shaded = || views.iter().filter_map(|view| view.sorted.shading.as_ref());
    let brightest = shaded().map(|shading| shading.brightest).reduce(f64::max)?;
    let darkest = shaded().map(|shading| shading.darkest).reduce(f64::min)?;
    Some(format!(
        "shading taken out: the light across the skin runs from {:.0} % to {:.0} % of its middle; the tones are those \
         at mid-light",
        100.0 * darkest,
        100.0 * brightest
    ))
}

/// How the numbers came about, in one line; `unreal` is the share of blocks whose colour no surface has.
fn technical(read: &Read, pooled: &Pooled, unreal: f64) -> String {
    let mut notes = Vec::new();
    if read.without_profile {
        notes.push("no colour profile, taken as sRGB".to_owned());
    }
    let sum = |count: fn(&Sorted) -> usize| -> usize {
        read.views.iter().map(|view| count(&view.sorted)).sum()
    };
    let all = sum(|sorted| sorted.read) as f64;
    let of_read = |count: fn(&Sorted) -> usize| sum(count) as f64 / all;
    let left_out = [
        (of_read(|sorted| sorted.highlights), "highlights"),
        (of_read(|sorted| sorted.clipped), "clipped"),
        (of_read(|sorted| sorted.transparent), "transparent"),
        (unreal, "of no surface's colour"),
    ];
    let left_out: Vec<String> = left_out
        .into_iter()
        .filter(|(share, _)| *share > 0.0)
        .map(|(share, what)| format!("{:.1} % {what}", 100.0 * share))
        .collect();
    if !left_out.is_empty() {
        notes.push(format!("left out {}", left_out.join(", ")));
    }
    notes.push(format!(
        "{} pixels in {} blocks, k-means from seed {}",
        sum(Sorted::usable),
        pooled.labs.len(),
        tones::SEED
    ));
    notes.join("; ")
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

fn no_surface(group: &Group, corrected: bool) -> Error {
    let [l, a, b] = [group.mean.l, group.mean.a, group.mean.b];
    let finding =
        format!("the base tone comes out as L*,a*,b* {l:.1},{a:.1},{b:.1}, which no surface has");
    Error::input(finding).mend(if corrected {
        "check where the card or the chart lies, and its values"
    } else {
        "check the region: is it skin, and not a lamp or a screen?"
    })
}
