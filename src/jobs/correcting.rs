//! A casting that came out wrong: what to add to its cup, what to pour next, and the reading into the log.

use std::time::Instant;

use jiff::civil::Date;

use super::learning::{LEARNING, Learnt, is_it, learnt};
use super::let_downs::Wanted;
use super::logging::OfPart;
use super::matching::PassedOver;
use crate::book::{Book, PhotographedChip};
use crate::colour::Lab;
use crate::error::{Error, Result};
use crate::materials::{
    Amount, Build, Casting, Colorant, Cup, Geometry, Grams, Millimetres, Mix, Poured, Shelf,
    Standing, Swatch,
};
use crate::recipe::{
    BenchCup, BenchFate, Correction, Deed, Event, Evidence, KeptCup, KeptRecipe, Part, Remedy,
    Stage,
};
use crate::search::Limits;
use crate::tone::Target;

/// What was cast, and how it came out.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Request {
    /// What is cast, with all that went in or will.
    pub build: Build,
    /// How thick that which was read is, where it is not as thick as what is to be cast.
    pub read_thickness: Option<Millimetres>,
    /// How far the work has come.
    pub stage: Stage,
    /// What tells of how it came out.
    pub evidence: Evidence,
    /// What the camera gave of it where a reading came off a photograph; `None` where an instrument read it.
    pub photographed: Option<PhotographedChip>,
    /// The part whose cup it is, if it is one's, as it stood when the cup was taken from it; and whether the next cup's recipe takes
    /// the place of the one that is kept.
    pub part: Option<(Part, Replacing)>,
    /// Whether the book is written to: a reading of a casting is logged, and the correction noted with its part.
    pub log: bool,
    /// Most drops that may be added to the cup on the bench; with 0 the next cup alone is sought.
    pub max_add: u32,
    /// What may be dropped in beside what was poured; every pigment that is dropped where `None`.
    pub pigments: Option<Vec<Colorant>>,
    /// Pigments to leave out, unless they were poured.
    pub without: Vec<String>,
    /// Whether the contrast ratio may go where it will; else it stays near that of what was poured, unless the limits have a
    /// window of their own.
    pub is_contrast_free: bool,
    /// Between what contrast ratios such a skin was wished for, and the one that this was planned with: where that or what was
    /// poured lies there, so does what comes next.
    pub wished_contrast: Option<((f64, f64), f64)>,
    /// ΔE00 up to which the skin passes; by lightness where `None`.
    pub tolerance: Option<f64>,
    /// Bounds of the searches, the time limit for all of them together.
    pub limits: Limits,
    /// Minutes since parts A and B of the cup on the bench came together, where that is known.
    pub mixed_since_min: Option<f64>,
    /// The day.
    pub day: Date,
}

impl Request {
    /// `build`, of which a cured test piece read `measured`; logged on the day `day`.
    pub fn new(build: Build, measured: Lab, day: Date) -> Self {
        let stage = Stage::TestPiece { drawn: Grams(0.0) };
        let evidence = Evidence::Reading {
            lab: measured,
            geometry: Geometry::default(),
        };
        Self::of(build, stage, evidence, day)
    }

    /// `build`, for which the work has come so far, with what tells of it; a reading of a casting is logged on the day `day`.
    pub fn of(build: Build, stage: Stage, evidence: Evidence, day: Date) -> Self {
        Self {
            build,
            read_thickness: None,
            stage,
            evidence,
            part: None,
            photographed: None,
            log: true,
            max_add: Correction::MAX_ADD,
            pigments: None,
            without: Vec::new(),
            is_contrast_free: false,
            wished_contrast: None,
            tolerance: None,
            limits: Limits::default(),
            mixed_since_min: None,
            day,
        }
    }
}

/// What is to be done.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Corrected {
    /// Both answers.
    pub remedy: Remedy,
    /// ΔE00 up to which the skin passes.
    pub tolerance: f64,
    /// Most drops that were to be added; 0 of a part that is cast.
    pub max_add: u32,
    /// What was passed over for either cup.
    pub passed_over: PassedOver,
    /// Pot life of the skin's base, minutes; where it is known.
    pub pot_life_min: Option<f64>,
    /// Minutes since the cup on the bench was mixed, where that is known.
    pub since_min: Option<f64>,
    /// The tone that was aimed at, under the book's viewing.
    pub aim: Lab,
    /// How far the work has come.
    pub stage: Stage,
    /// What tells of how it came out.
    pub evidence: Evidence,
    /// The colour that was seen, by instrument or eye; `None` where nothing was.
    pub measured: Option<Lab>,
    /// What the book predicted of that before it was seen.
    pub predicted: Lab,
    /// Whether it was read through an aperture so small that light is lost beside it.
    pub loses_light_at_the_edge: bool,
    /// The skin's base.
    pub base: String,
    /// Mass of the mixed base that is still in the cup.
    pub base_mass: Grams,
    /// The let-downs among what is added to the cup on the bench.
    pub bench: Wanted,
    /// The let-downs of the next cup.
    pub next: Wanted,
    /// Whether the time was over before all swatches and the reading were learnt from: then the cups go by the book as it stands
    /// and by this reading alone.
    pub had_no_time_to_learn: bool,
    /// What became of the reading.
    pub logged: Logging,
    /// What became of the part whose cup it is; `None` where it is no part's.
    pub noted: Option<Noted>,
}

/// Whether the next cup's recipe takes the place of the one that a part keeps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Replacing {
    /// The kept recipe stays, and the correction is noted in the part's history.
    No,
    /// It takes its place; the old one goes into the part's history.
    Yes,
}

/// What became of a part whose cup was corrected.
#[derive(Clone, Debug, PartialEq)]
pub struct Noted {
    /// What the part is called.
    pub part: String,
    /// How many pots its skin is poured in: the answers are for one.
    pub pots: u32,
    /// What became of it.
    pub keeping: Keeping,
    /// The skin's cup as it is now taken to have been poured, one pot; `None` where the book is as it was.
    pub cup: Option<BenchCup>,
}

/// What became of the recipe that a part keeps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keeping {
    /// The book is as it was.
    NotAsked,
    /// It stays, and the correction stands in the part's history.
    Noted,
    /// The next cup's took its place, and it stands in the part's history.
    Replaced,
}

/// What became of the reading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Logging {
    /// Logged under this name.
    Now(String),
    /// In the book already, under this name.
    Before(String),
    /// The demo is never written to.
    Demo,
    /// It was not to be logged.
    NotAsked,
    /// There is none of a casting: part B was read, the eye was asked, or nothing was read.
    NoCasting,
}

impl Logging {
    /// The name under which the reading stands in the log; `None` where it was not to be logged, or the book is the demo.
    pub fn name(&self) -> Option<&str> {
        match self {
            Self::Now(name) | Self::Before(name) => Some(name),
            Self::Demo | Self::NotAsked | Self::NoCasting => None,
        }
    }
}

/// Answers `request` for `target`; then logs the reading and notes the answer with the part, all in one change, or none. A reading
/// that nothing is found for is logged alone: nobody reads a cup twice because a window was too narrow. `progress` hears the share
/// (0–1) of what is learnt before the search.
///
/// # Errors
/// As [`Correction::remedy`] and [`calibrate`](crate::characterise::calibrate), which say as what the reading is logged; as
/// [`Book::log_casting`], and a part that was changed meanwhile, after which nothing is.
pub fn run(
    book: &mut Book,
    target: &Target,
    request: &Request,
    progress: &mut dyn FnMut(f64),
) -> Result<Corrected> {
    let begun = Instant::now();
    let asked = request.correction(book.shelf());
    // What can't be corrected is refused before anything is learnt of it.
    asked.check(target)?;
    // A slip of the hand is known without part B being read.
    let observed = match request.evidence {
        Evidence::Poured => request.build.clone(),
        Evidence::Reading { .. } | Evidence::Looks(_) => asked.observed()?,
    };
    let reading = request.reading(&observed);
    let predicted = Casting::new(book.shelf(), &observed)?;
    let geometry = reading.as_ref().map(|reading| reading.geometry);
    let predicted = predicted.read_by(geometry.unwrap_or_default()).reading();
    let weights = book.shelf().settings.viewing.weights();
    let seen = (reading.as_ref(), weights.lab(&predicted));
    let worked_out = worked_out(book, target, request, seen, begun, progress);
    let (logged, noted) = keep(book, request, reading.as_ref(), worked_out.as_ref().ok())?;
    match (worked_out, logged.name()) {
        (Ok(corrected), _) => Ok(Corrected {
            logged,
            noted,
            ..corrected
        }),
        (Err(error), Some(id)) => {
            let id = id.escape_debug();
            Err(error.within(format_args!(
                "the reading is logged as `{id}`, but nothing was found for it"
            )))
        }
        (Err(error), None) => Err(error),
    }
}

/// The answers for what was seen of a casting: its reading, if there is one, beside its prediction. Nothing is written.
fn worked_out(
    book: &Book,
    target: &Target,
    request: &Request,
    (reading, predicted): (Option<&Swatch>, Lab),
    begun: Instant,
    progress: &mut dyn FnMut(f64),
) -> Result<Corrected> {
    let Request { build, day, .. } = request;
    let may_add = request.correction(book.shelf()).may_add();
    let let_downs = at_hand(book.shelf(), &build.skin, may_add, *day)?;
    // What the eye says is too unsure to be fitted beside readings.
    let learnt = match reading {
        Some(reading) => {
            let deadline = request.limits.deadline_of(LEARNING);
            learnt(book, reading, deadline, progress)?
        }
        None => Learnt::Less,
    };
    let shelf = &learnt.shelf(book).on_the_day(*day);
    let mut correction = request.correction(shelf);
    correction.taught = matches!(learnt, Learnt::All(_));
    correction.let_downs = let_downs;
    let mut correction = correction.short_listed(target)?;
    // What was learnt first took of the time, too.
    correction.limits.time_limit = request.limits.time_left_since(begun);
    let remedy = correction.remedy(target)?;
    let added = Cup::pour(shelf, &additions(&build.skin, &remedy)?)?;
    let next_cup = Cup::pour(shelf, &remedy.next.best().poured)?;
    let base = book.shelf().base(&build.skin.base)?;
    Ok(Corrected {
        tolerance: correction.tolerance_for(target),
        max_add: may_add,
        passed_over: PassedOver {
            bottles: correction.passed_over.len(),
            were_named: request.pigments.is_some(),
            strengths: remedy.strengths_left_out,
        },
        pot_life_min: base.pot_life_min,
        since_min: request.mixed_since_min,
        aim: target.lab,
        stage: request.stage.clone(),
        measured: request.evidence.seen(target.lab).map(|(lab, _)| lab),
        evidence: request.evidence.clone(),
        predicted,
        loses_light_at_the_edge: reading.is_some_and(Swatch::loses_light_at_the_edge),
        base: base.name.clone(),
        base_mass: Grams(build.skin.base_mass.0 - request.stage.drawn().0),
        bench: Wanted::of_cup(&added, book.shelf(), *day),
        next: Wanted::of_cup(&next_cup, book.shelf(), *day),
        had_no_time_to_learn: matches!(learnt, Learnt::Late),
        logged: Logging::NotAsked,
        noted: None,
        remedy,
    })
}

impl Corrected {
    /// Minutes of pot life that are left; below zero where it is over, `None` where pot life or time of mixing is unknown.
    pub fn left_min(&self) -> Option<f64> {
        Some(self.pot_life_min? - self.since_min?)
    }

    /// Whether the pot life is over: a cup that is over takes no drops, whatever the search found. Where it is not known it counts
    /// as not over.
    pub fn is_over(&self) -> bool {
        self.left_min().is_some_and(|left| left <= 0.0)
    }

    /// Whole drops to add to the cup on the bench; empty once its pot life is over, or where nothing that is added helps.
    pub fn add(&self) -> &[(Colorant, u32)] {
        if self.is_over() {
            &[]
        } else {
            &self.remedy.add
        }
    }

    /// Whether the cup is better poured away: further drops do not bring it to the tone, and its time runs. Where none runs yet,
    /// it is read again and takes more.
    pub fn starts_again(&self) -> bool {
        let is_running = !matches!(self.stage, Stage::PartB(_));
        self.remedy.start_again && (is_running || self.add().is_empty())
    }

    /// Whether the next cup is aimed to within tolerance.
    pub fn passes(&self) -> bool {
        self.remedy.next.best().delta_e <= self.tolerance
    }
}

impl Request {
    /// The reading of what was `observed`, as it is logged; `None` where no instrument read it.
    fn reading(&self, observed: &Build) -> Option<Swatch> {
        let Evidence::Reading { lab, geometry } = self.evidence else {
            return None;
        };
        let photo = self.photographed.as_ref().map(|chip| chip.photo.clone());
        Some(Swatch {
            note: "read for a correction".to_owned(),
            photo: photo.unwrap_or_default(),
            geometry,
            ..Swatch::of(observed.clone(), lab, self.day)
        })
    }

    fn correction<'shelf>(&self, shelf: &'shelf Shelf) -> Correction<'shelf> {
        Correction {
            shelf,
            taught: false,
            build: self.build.clone(),
            read_thickness: self.read_thickness,
            stage: self.stage.clone(),
            evidence: self.evidence.clone(),
            max_add: self.max_add,
            let_downs: Vec::new(),
            pigments: self.pigments.clone(),
            without: self.without.clone(),
            passed_over: Vec::new(),
            is_contrast_free: self.is_contrast_free,
            wished_contrast: self.wished_contrast,
            tolerance: self.tolerance,
            limits: self.limits,
        }
    }
}

/// What is added to the cup `poured`, as if it went into its base alone.
fn additions(poured: &Poured, found: &Remedy) -> Result<Poured> {
    let drops = found.add.iter();
    let drops = drops.map(|(colorant, count)| (colorant.clone(), Amount::Drops((*count).into())));
    Ok(Poured {
        mix: Mix::new(drops.collect())?,
        ..poured.clone()
    })
}

/// The let-downs that may go into the cup `poured`, which is on the bench on the day `day`. There is no time to make one, so
/// that a jar must hold as many drops as may be added; what went into the cup and is not kept in the book stands beside it.
fn at_hand(shelf: &Shelf, poured: &Poured, max_add: u32, day: Date) -> Result<Vec<Colorant>> {
    let base = shelf.base(&poured.base)?.name.as_str();
    let mut known = shelf.let_downs_for(base);
    let of_the_book = known.len();
    let in_it = poured.mix.entries().iter().map(|(colorant, _)| colorant);
    let unknown = in_it.filter(|each| each.let_down > 1.0 && !known.contains(each));
    let unknown: Vec<Colorant> = unknown.cloned().collect();
    known.extend(unknown);
    let mut at_hand = Vec::with_capacity(known.len());
    for (index, colorant) in known.into_iter().enumerate() {
        // What is only weighed is not dropped in either.
        let Some(drop) = shelf.pigment(&colorant.pigment)?.drop_mass else {
            continue;
        };
        let supply = shelf.supply(&colorant, base, drop * f64::from(max_add), day);
        let is_ready = supply.is_some_and(|supply| supply.standing == Standing::Ready);
        if index >= of_the_book || is_ready {
            at_hand.push(colorant);
        }
    }
    Ok(at_hand)
}

/// What is to become of what was read.
enum ToKeep<'a> {
    /// This reading is logged.
    Now(&'a Swatch),
    /// Nothing is logged, and why.
    Nothing(Logging),
}

impl<'a> ToKeep<'a> {
    /// What is to become in `book` of `reading`.
    fn of(book: &Book, request: &Request, reading: Option<&'a Swatch>) -> Result<Self> {
        let is_cast = !matches!(request.stage, Stage::PartB(_));
        let Some(reading) = reading.filter(|_| is_cast) else {
            return Ok(Self::Nothing(Logging::NoCasting));
        };
        if !request.log {
            return Ok(Self::Nothing(Logging::NotAsked));
        }
        if book.folder().is_none() {
            return Ok(Self::Nothing(Logging::Demo));
        }
        let mut logged = book.swatches()?.iter();
        let known = logged.find(|swatch| is_it(swatch, reading));
        Ok(known.map_or(Self::Now(reading), |known| {
            Self::Nothing(Logging::Before(known.id.clone()))
        }))
    }
}

/// Logs the `reading` of a casting, unless the book has it already, and notes what was `corrected` with the part that it is of: all
/// in one change, or none. Where nothing could be worked out it is the reading alone.
fn keep(
    book: &mut Book,
    request: &Request,
    reading: Option<&Swatch>,
    corrected: Option<&Corrected>,
) -> Result<(Logging, Option<Noted>)> {
    let photographed = request.photographed.as_ref();
    let to_keep = ToKeep::of(book, request, reading)?;
    let Some((part, replacing)) = &request.part else {
        let logged = match to_keep {
            ToKeep::Now(reading) => Logging::Now(book.log_reading(reading, photographed)?),
            ToKeep::Nothing(why) => why,
        };
        return Ok((logged, None));
    };
    let advice = corrected.filter(|_| request.log);
    let advice = advice.map(|corrected| Advice::of(book.shelf(), request, corrected, *replacing));
    let advice = advice.transpose()?;
    match (to_keep, advice) {
        (ToKeep::Now(reading), advice) => {
            book.log_casting(&part.name, reading, photographed, |now, id| {
                if advice.is_some() {
                    check_as_it_was(part, now)?;
                }
                now.log_casting(reading, id, OfPart::UNPAINTED);
                let noted = advice.map(|advice| advice.note(now, Some(id)));
                Ok((Logging::Now(id.to_owned()), noted))
            })
        }
        (ToKeep::Nothing(why), Some(advice)) => book.change_part(&part.name, |now| {
            check_as_it_was(part, now)?;
            let noted = advice.note(now, why.name());
            Ok((why, Some(noted)))
        }),
        (ToKeep::Nothing(why), None) => {
            let noted = Noted::new(part, Keeping::NotAsked, None);
            Ok((why, Some(noted)))
        }
    }
}

/// That the part is still as it `was` when its cup was taken from it: advice is for that cup.
fn check_as_it_was(was: &Part, now: &Part) -> Result<()> {
    if was == now {
        return Ok(());
    }
    let name = was.name.escape_debug();
    let finding = format!("the part `{name}` was changed while this was worked out");
    Err(Error::outdated(finding).mend("ask again: nothing is logged yet"))
}

/// What is noted of a correction with the part whose cup it is.
struct Advice<'a> {
    request: &'a Request,
    remedy: &'a Remedy,
    replacing: Replacing,
    /// What was found, in words.
    words: String,
    /// The cup as it is now taken to have been poured.
    cup: BenchCup,
    /// Whether that is cast, so that the reading is its own.
    is_cast: bool,
}

impl<'a> Advice<'a> {
    fn of(
        shelf: &Shelf,
        request: &'a Request,
        corrected: &'a Corrected,
        replacing: Replacing,
    ) -> Result<Self> {
        let is_cast = corrected.stage == Stage::Part || corrected.is_over();
        Ok(Self {
            request,
            remedy: &corrected.remedy,
            replacing,
            words: note_words(request, corrected),
            cup: bench_cup(shelf, request, corrected, is_cast)?,
            is_cast,
        })
    }

    /// Notes it in the history of `part`, with the cup on the bench as it now is, and puts the next cup into the place of the kept
    /// one where that is asked for; the reading of it is logged as `swatch`, where it is.
    fn note(self, part: &mut Part, swatch: Option<&str>) -> Noted {
        let mut cup = self.cup;
        if let Some(id) = swatch.filter(|_| self.is_cast) {
            cup.fate = BenchFate::Logged(id.to_owned());
        }
        let recipe = match self.replacing {
            Replacing::Yes => KeptRecipe {
                date: self.request.day,
                skin: KeptCup::of(&self.remedy.next, part.recipe.skin.pots, 0.0),
                ..part.recipe.clone()
            },
            Replacing::No => part.recipe.clone(),
        };
        part.bench = Some(cup.clone());
        let swatch = swatch.map(str::to_owned);
        let is_replaced = !recipe.pours_like(&part.recipe);
        if is_replaced {
            part.replace_recipe(recipe, Deed::Corrected, self.words);
            if let Some(event) = part.history.last_mut() {
                event.swatch = swatch;
            }
        } else {
            let event = Event {
                note: self.words,
                swatch,
                ..Event::new(self.request.day, Deed::Corrected)
            };
            // What is asked again is noted once.
            if part.history.last() != Some(&event) {
                part.history.push(event);
            }
        }
        let keeping = match is_replaced {
            true => Keeping::Replaced,
            false => Keeping::Noted,
        };
        Noted::new(part, keeping, Some(cup))
    }
}

impl Noted {
    fn new(part: &Part, keeping: Keeping, cup: Option<BenchCup>) -> Self {
        Self {
            part: part.name.clone(),
            pots: part.recipe.skin.pots,
            keeping,
            cup,
        }
    }
}

/// The cup that was `corrected`, with what it was told to take, before a reading of it is logged.
fn bench_cup(
    shelf: &Shelf,
    request: &Request,
    corrected: &Corrected,
    is_cast: bool,
) -> Result<BenchCup> {
    let before = &request.build.skin;
    // What nothing helps may be cast as it is; where drops help too little, another cup is the advice.
    let is_given_up = !is_cast && corrected.starts_again() && !corrected.add().is_empty();
    // What the hand says of a cup, it says of one that is cast.
    let fate = match is_given_up && request.evidence != Evidence::Poured {
        true => BenchFate::PouredAway,
        false => BenchFate::ToBeLogged,
    };
    let add = if is_given_up { &[] } else { corrected.add() };
    Ok(BenchCup {
        date: request.day,
        by: told_by(&request.evidence, &request.stage, &before.mix),
        before: before.clone(),
        poured: before.drawn_and_added(corrected.stage.drawn(), add, shelf)?,
        fate,
    })
}

/// What told of a cup, in words: `part B read 61,13,16`, `looks darker`, `poured umber 2`, where `mix` is what was poured.
pub fn told_by(evidence: &Evidence, stage: &Stage, mix: &Mix) -> String {
    match evidence {
        Evidence::Reading { lab, .. } => {
            let what = match stage {
                Stage::PartB(_) => "part B read",
                Stage::TestPiece { .. } => "read",
                Stage::Part => "the part read",
            };
            format!("{what} {},{},{}", lab.l, lab.a, lab.b)
        }
        Evidence::Looks(looks) => format!("looks {looks}"),
        Evidence::Poured => format!("poured {mix}"),
    }
}

/// What was found, as the history of a part has it: `read 61,13,16; ΔE00 2.31; with umber 2 more 0.40; next cup: …`.
fn note_words(request: &Request, corrected: &Corrected) -> String {
    let remedy = &corrected.remedy;
    let seen = told_by(&request.evidence, &request.stage, &request.build.skin.mix);
    let add: Vec<String> = (corrected.add().iter())
        .map(|(colorant, count)| format!("{colorant} {count}"))
        .collect();
    let then = if add.is_empty() {
        String::new()
    } else {
        let after = remedy.delta_e_after;
        let given_up = match corrected.starts_again() {
            true => ", too little",
            false => "",
        };
        format!("; with {} more {after:.2}{given_up}", add.join(", "))
    };
    let next = &remedy.next.best().poured.mix;
    let now = remedy.delta_e_now;
    format!("{seen}; ΔE00 {now:.2}{then}; next cup: {next}")
}
