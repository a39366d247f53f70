//! All that there is to say of a matched part or a logged swatch, in one place for every format.

use super::terminal::counted;
use super::{budget, prospects};
use crate::batch::InAll;
use crate::colour::{Lab, delta_e_2000, delta_e_ab};
use crate::error::{Naming, Setting};
use crate::forecast::{MoreCoats, Spraying, acceptable_ab};
use crate::jobs::matching::{Application, FilledCup, Layer, Matched, Note};
use crate::recipe::{Helper, MoreDrops};
use crate::search::Limits;
use crate::tone::{SpectrumSource, ToneRole};

/// A matched part, and what the face that tells of it adds.
#[derive(Clone, Debug)]
pub struct PartReport<'a> {
    /// What the part is called.
    pub title: &'a str,
    /// The part.
    pub matched: &'a Matched,
    /// What is to be typed, or done, next.
    pub commands: NextCommands,
    /// How the face names settings.
    pub naming: Naming,
}

/// Commands that go on from a match.
#[derive(Clone, Debug, Default)]
pub struct NextCommands {
    /// The one that logs what came out, but for the reading.
    pub log: String,
    /// Those that take off the book what is used of its let-downs.
    pub take: Vec<String>,
    /// Those that make ten times each cup that one stock tints, pigment by pigment.
    pub repeat: Vec<String>,
}

/// ΔE00 between reading and prediction from which a slip of the pen is likelier than an error of the model.
const IMPLAUSIBLE: f64 = 12.0;

/// What to check where a reading lies so far from its prediction that a slip is likelier than an error of the model.
pub(super) fn slip(measured: Lab, predicted: Lab) -> Option<&'static str> {
    (delta_e_2000(measured, predicted) > IMPLAUSIBLE).then_some(
        "that is far: check the order of L*, a*, b*, the base, the mix and the thickness",
    )
}

impl PartReport<'_> {
    /// The cups, each with what else there is to say of it, a sentence each.
    pub(super) fn told(&self) -> Vec<(&FilledCup, Vec<String>)> {
        let foaming = self.matched.prospects.foaming.as_ref();
        let foam = self.matched.foam.iter().map(|foam| {
            let made = foam.recipe.best().prediction.lab;
            let said = foaming.map(|foaming| prospects::foaming(foaming, made));
            (foam, said.unwrap_or_default())
        });
        let paints = self
            .matched
            .paints
            .iter()
            .zip(&self.matched.prospects.spraying);
        let paints = paints.map(|(paint, spraying)| {
            let missed = (!self.matched.is_reached(paint)).then(|| self.missed(paint, spraying));
            let said = prospects::spraying(spraying, paint.pour.pots);
            let said = missed.into_iter().chain(said);
            (paint, said.collect())
        });
        let beneath = if foaming.is_some() { "foam" } else { "backing" };
        let thinnest = self.matched.prospects.thinnest.iter();
        let thinnest = thinnest.map(|thinnest| prospects::thinnest(thinnest, beneath));
        std::iter::once((&self.matched.skin, thinnest.collect()))
            .chain(foam)
            .chain(paints)
            .collect()
    }

    /// How far and in which direction a paint misses its tone, and what more coats would do.
    fn missed(&self, paint: &FilledCup, spraying: &Spraying) -> String {
        let (aim, best) = (paint.recipe.aim, paint.recipe.best());
        let more = spraying.more_coats.map(|more| {
            let MoreCoats {
                count,
                dry_thickness,
                delta_e,
            } = more;
            let how_near = how_near(delta_e <= self.matched.tolerance);
            format!(
                "; {} more of it would bring it {how_near}, to ΔE00 {delta_e:.2} ({} {:.3})",
                counted(count, "coat"),
                (self.naming)(Setting::PaintThickness),
                dry_thickness.0
            )
        });
        format!(
            "NOT WITHIN TOLERANCE of its tone: ΔE00 {:.2}, limit {:.2}; the nearest is {}{}",
            best.delta_e,
            self.matched.tolerance,
            miss(aim, best.prediction.lab),
            more.unwrap_or_default()
        )
    }

    /// Which paints miss their tones: sentences with a space before each, or nothing.
    fn missed_tones(&self) -> String {
        let missed = self
            .matched
            .paints
            .iter()
            .filter(|paint| !self.matched.is_reached(paint))
            .map(|paint| {
                let delta_e = paint.recipe.best().delta_e;
                format!(" The {} misses its tone by ΔE00 {delta_e:.2}.", paint.layer)
            });
        missed.collect()
    }

    /// Which pigment would help: a sentence with a space before it, or nothing.
    fn help(&self) -> String {
        let free = self
            .matched
            .one_tint
            .as_ref()
            .map(|one_tint| one_tint.skin.free_delta_e);
        if let Some(free) = free.filter(|free| *free <= self.matched.tolerance) {
            return format!(
                " A recipe of its own would bring it within reach: ΔE00 {free:.2} (leave {} out).",
                (self.naming)(Setting::OneTint)
            );
        }
        let said = self.matched.reach.helpers.iter().take(3).map(|helper| {
            let Helper {
                pigment,
                at_hand,
                delta_e,
            } = helper;
            let whence = if *at_hand {
                "left out here"
            } else {
                "not in this book"
            };
            format!("{pigment} ({whence}) to ΔE00 {delta_e:.2}")
        });
        let said: Vec<String> = said.collect();
        let of_pigments = self.matched.reach.helpers.first().map(|best| {
            let how_near = how_near(best.delta_e <= self.matched.tolerance);
            format!(
                " One pigment more would bring it {how_near}: {}.",
                said.join(", ")
            )
        });
        let of_drops = self.matched.reach.more_drops.as_ref().map(|more| {
            let MoreDrops {
                most_of,
                count,
                max_drops,
                max_total_drops,
                delta_e,
            } = more;
            let how_near = how_near(*delta_e <= self.matched.tolerance);
            let weighed = if *count > Limits::MAX_DROPS {
                "; so many are better weighed"
            } else {
                ""
            };
            format!(
                " More drops would bring it {how_near}: {count} of {most_of}, to ΔE00 {delta_e:.2} ({} {max_drops} \
                 {} {max_total_drops}{weighed}).",
                (self.naming)(Setting::MaxDrops),
                (self.naming)(Setting::MaxTotalDrops)
            )
        });
        if of_pigments.is_none() && of_drops.is_none() {
            return " No other pigment known here helps; a let-down, fibre or another underlay may."
                .to_owned();
        }
        of_pigments.into_iter().chain(of_drops).collect()
    }

    /// How the skin's recipe stands against the tolerance, and what chance its casting has: two sentences.
    pub(super) fn verdict(&self) -> String {
        let best = self.matched.skin.recipe.best();
        let [delta_e, limit] = [best.delta_e, self.matched.tolerance];
        let aim = self.matched.skin.recipe.aim;
        let ab = delta_e_ab(aim, best.prediction.lab);
        let accepted = acceptable_ab(aim);
        let aimed = if self.matched.passes() {
            format!(
                "The skin's recipe is aimed within tolerance: ΔE00 {delta_e:.2}, limit {limit:.2}."
            )
        } else {
            let miss = miss(self.matched.skin.recipe.aim, best.prediction.lab);
            let none = if self.matched.skin.recipe.proven {
                "this tone is out of reach of these pigments; no recipe within the limits"
            } else {
                "no recipe found"
            };
            format!(
                "NOT WITHIN TOLERANCE: {none} brings the skin nearer than ΔE00 {delta_e:.2}, limit {limit:.2}; the \
                 nearest is {miss}.{}",
                self.help()
            )
        };
        let missed_tones = self.missed_tones();
        let doubt = budget::what_is_in_doubt(&best.budget);
        let doubt = doubt.map_or_else(String::new, |what| format!("; the doubt lies in {what}"));
        format!(
            "{aimed}{missed_tones} On another published scale it is ΔE*ab {ab:.1}, of which {accepted:.1} is accepted. With \
             what this book knows, about {} of 100 castings would land within {limit:.2} of the true tone{doubt}.",
            in_a_hundred(best.chance)
        )
    }
}

impl PartReport<'_> {
    /// What else the maker should know, a sentence each.
    pub(super) fn notes(&self) -> Vec<String> {
        let notes = self.matched.notes.iter();
        notes.map(|note| worded(note, self.naming)).collect()
    }
}

fn worded(note: &Note, naming: Naming) -> String {
    match note {
        Note::UncertainLightness { l_sd } => format!(
            "what this book knows leaves L* uncertain by ±{l_sd:.1}: cast a small test piece of the skin before the \
             part, read it and log it"
        ),
        Note::NearlyClear { over_foam } => {
            let underlay = if *over_foam { "foam" } else { "backing" };
            format!(
                "this skin is nearly clear: the {underlay} behind it carries the colour, and shows (fibre makes it denser)"
            )
        }
        Note::NoPaint => format!(
            "no paint recipe: the target has none of the tones asked for (add a flush with {} L,a,b)",
            naming(Setting::Flush)
        ),
        Note::Demo => "from the built-in demo book, whose materials are invented: begin your own with `dropwise new DIR`"
            .to_owned(),
        Note::FoamAsItIs(Lab { l, a, b, .. }) => format!(
            "the skin is worked out over the foam as it is, which is taken to look L* {l:.1}, a* {a:.1}, b* {b:.1} bare"
        ),
        Note::Contrast { aimed, made } => {
            let how = if made > aimed {
                "denser: less fibre or a thinner skin is nearer"
            } else {
                "more see-through: more fibre or a thicker skin is nearer"
            };
            format!(
                "the target's contrast ratio is {aimed:.2} and this skin's {made:.2}, {how}"
            )
        }
        Note::GuessedSpectrum(source) => {
            let found = match source {
                SpectrumSource::Smooth => {
                    "the target's spectrum is the smoothest of its colour: under other lights it may err by several ΔE00"
                }
                SpectrumSource::Reading | SpectrumSource::Skin => {
                    "the target's spectrum is skin's by its colour: under other lights it errs by some 0.3 ΔE00 on skin"
                }
            };
            let reading = naming(Setting::Readings);
            format!("{found}; a reading with its spectrum would not ({reading})")
        }
    }
}

/// What a cup is aimed at.
pub(super) fn aims_at(layer: Layer) -> String {
    match layer {
        Layer::Skin => "the base tone".to_owned(),
        Layer::Foam { is_lightened } => {
            let lightened = if is_lightened {
                ", lightened so that the skin has room"
            } else {
                ""
            };
            format!(
                "the base tone, seen bare{lightened}; its own difference matters little, since the skin is worked out over \
                 what comes out"
            )
        }
        Layer::Paint(ToneRole::Other) => "another tone, over the finished skin".to_owned(),
        Layer::Paint(role) => format!("the {role} tone, over the finished skin"),
    }
}

/// How a cup is put on: `brush it 2 mm thick`.
pub(super) fn applied(application: Application) -> String {
    match application {
        Application::Brushed { thickness } => format!("brush it {thickness} thick"),
        Application::Risen {
            expansion,
            thickness,
        } => format!("let it rise to {expansion} times its volume, {thickness} thick"),
        Application::PouredBehind { expansion } => {
            format!("pour it behind the skin; it rises to {expansion} times its volume")
        }
        Application::Sprayed {
            dry_thickness,
            wet_g_per_100_cm2,
        } => format!(
            "spray thin coats, {dry_thickness} dry in all: about {wet_g_per_100_cm2:.1} g on 100 cm²"
        ),
    }
}

/// What all pots of a batch take together.
pub(super) fn all_pots(in_all: &InAll) -> String {
    let InAll { base_g, mix } = in_all;
    let besides = if mix.is_empty() { "no pigment" } else { mix };
    format!("in all {base_g} g of base; {besides}")
}

/// How near something would bring the skin.
fn how_near(passes: bool) -> &'static str {
    if passes { "within reach" } else { "nearer" }
}

/// How what comes out misses its aim, in a maker's words; steps under half a unit go unsaid.
pub(super) fn miss(aim: Lab, made: Lab) -> String {
    let [dl, da, db] = steps(aim, made);
    let words = [
        (dl, "too light", "too dark"),
        (
            da,
            "too red",
            if aim.a > 0.0 {
                "not red enough"
            } else {
                "too green"
            },
        ),
        (
            db,
            "too yellow",
            if aim.b > 0.0 {
                "not yellow enough"
            } else {
                "too blue"
            },
        ),
    ];
    let mut said: Vec<(f64, &str)> = (words.into_iter())
        .filter(|(step, ..)| step.abs() >= 0.5)
        .map(|(step, more, less)| (step.abs(), if step > 0.0 { more } else { less }))
        .collect();
    // What is missed by most comes first.
    said.sort_by(|one, other| other.0.total_cmp(&one.0));
    let said: Vec<&str> = said.into_iter().map(|(_, word)| word).collect();
    if said.is_empty() {
        "hardly off in any one direction".to_owned()
    } else {
        said.join(", ")
    }
}

/// The chance in whole castings out of a hundred; only what is certain is 0 or 100.
pub(super) fn in_a_hundred(chance: f64) -> String {
    match chance {
        0.0 => "0".to_owned(),
        1.0 => "100".to_owned(),
        chance => format!("{:.0}", (100.0 * chance).clamp(1.0, 99.0)),
    }
}

/// The signed steps from the aim to what comes out: ΔL*, Δa*, Δb*.
pub(super) fn steps(aim: Lab, made: Lab) -> [f64; 3] {
    [made.l - aim.l, made.a - aim.a, made.b - aim.b]
}

/// The direction of a step in a maker's words; steps under half a unit go unsaid.
pub(super) fn in_words([dl, da, db]: [f64; 3]) -> String {
    let said: Vec<&str> = [
        (dl, "lighter", "darker"),
        (da, "redder", "less red"),
        (db, "yellower", "less yellow"),
    ]
    .into_iter()
    .filter(|(step, ..)| step.abs() >= 0.5)
    .map(|(step, more, less)| if step > 0.0 { more } else { less })
    .collect();
    if said.is_empty() {
        "about the same".to_owned()
    } else {
        said.join(", ")
    }
}

/// `value` to one digit, without a minus before nothing.
pub(super) fn tenths(value: f64) -> f64 {
    (value * 10.0).round() / 10.0 + 0.0
}

/// `+1.2`, `-0.4`, `+0.0`: [`tenths`] with a sign.
pub(super) fn signed(value: f64) -> String {
    format!("{:+.1}", tenths(value))
}
