//! A matched part as a face tells of it: what it adds, and how notes, layers and their ways are worded.
//!
//! A job returns data: a [`Note`] has its numbers and a [`Layer`] its tone, in no language. Here they become English, once
//! for the terminal, the JSON and the sheet. Where a sentence speaks of what can be set, the face names it, by its
//! [`Naming`]: a command line as an option, a page as a field.

use jiff::civil::Date;

use super::text::counted;
use crate::colour::Lab;
use crate::error::{Naming, Setting};
use crate::jobs::left_part_b::LeftUse;
use crate::jobs::matching::{Application, Layer, Matched, Note, PassedOver, StockUse};
use crate::jobs::parts::Keeping;
use crate::materials::Grams;
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
    /// The part that keeps it, or is compared with it, if one was named.
    pub keeping: Option<&'a Keeping>,
}

/// Commands that go on from a match.
#[derive(Clone, Debug, Default)]
pub struct NextCommands {
    /// What is added to the line that was typed, so that the answer is kept by a name; `None` of what is kept.
    pub keep: Option<String>,
    /// The one that logs what came out, but for the reading; short where the answer is kept, empty of what is not worth a row.
    pub log: String,
    /// Those that take off the book what is used of its let-downs.
    pub take: Vec<String>,
    /// The one that puts a stock that is made for the part into the book, where it has one.
    pub make: Option<String>,
    /// The one that saves the new jars: it thins a pigment to keep, or designs the stocks that a shop should have.
    pub instead_of_jars: Option<String>,
    /// The one that makes ten times what is kept.
    pub again: Option<String>,
    /// Of what is not kept, those that make ten times each cup that one stock tints, pigment by pigment.
    pub repeat: Vec<String>,
}

impl PartReport<'_> {
    /// What else the maker should know, a sentence each, with settings named as the face names them.
    pub(crate) fn notes(&self) -> Vec<String> {
        let notes = self.matched.notes.iter();
        notes.map(|note| self.worded(note)).collect()
    }

    /// `note` as one of these sentences.
    pub(crate) fn worded(&self, note: &Note) -> String {
        worded(note, self.naming)
    }
}

/// A note as a sentence without capital and full stop; settings are named as the face does by `naming`, since an option on a
/// command line is a field on a page.
/// Numbers of L*, a*, b* have one digit, contrast ratios two.
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
                "the target's contrast ratio is {aimed:.2} and this skin's {made:.2}: it hides {:.0} %, {how}",
                100.0 * made
            )
        }
        Note::LeftPartB(left) => left_part_b(left),
        Note::StockShort(StockUse { name, used, left }) => format!(
            "{:.2} g of `{}` are left, and this takes {:.2} g: make more of it first",
            left.0,
            name.escape_debug(),
            used.0
        ),
        Note::MadeBefore {
            swatch,
            date,
            apart,
        } => format!(
            "you made this within ΔE00 {apart:.1} on {date}: swatch {}",
            swatch.escape_debug()
        ),
        Note::NoTimeToLearn => no_time_to_learn(naming),
        Note::PassedOver(it) => passed_over(*it, naming),
        Note::Unread(pigments) => format!(
            "left out, since nothing tells of their colour yet: {}; cast a chip of each, log it and calibrate, or name what \
             may go in with {}",
            pigments.join(", "),
            naming(Setting::Pigments)
        ),
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

/// That the time was over before swatches were learnt from, and what the answer goes by instead.
pub(super) fn no_time_to_learn(naming: Naming) -> String {
    format!(
        "the time was over before the swatches were learnt from: this goes by the book as it was last calibrated; give it \
         longer with {}",
        naming(Setting::TimeLimit)
    )
}

/// What was passed over, and why.
pub(super) fn passed_over(it: PassedOver, naming: Naming) -> String {
    let PassedOver {
        bottles,
        were_named,
        strengths,
    } = it;
    let pigments = naming(Setting::Pigments);
    let of = match were_named {
        true => "those that are named",
        false => "this long shelf",
    };
    let bottles = (bottles > 0).then(|| {
        format!(
            "{} of {of} were passed over: those that were kept move this tone the same ways or dose better",
            counted(bottles, "bottle")
        )
    });
    let strengths = (strengths > 0).then(|| {
        format!(
            "{} of these pigments were passed over: so many drops can be shared out among them in more ways than can be tried",
            counted(strengths, "strength")
        )
    });
    let all: Vec<String> = bottles.into_iter().chain(strengths).collect();
    let mend = match were_named {
        true => format!("name fewer with {pigments}"),
        false => format!("name what may go in with {pigments}"),
    };
    format!("{}; nothing is proven over all; {mend}", all.join("; "))
}

/// What a cup is aimed at, to read after `aimed at`.
///
/// Of a foam it is added why its own difference matters little.
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

/// How a cup is put on: `brush it 2 mm thick`. Thicknesses are in mm, expansions in times the volume, wet paint in g on 100 cm².
///
/// In the skin's place there may be a foam or a paint, which is matched by itself.
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

/// `use the 120 g of tinted part B left from Tuesday (forearm), stir it first, and tint 180 g more: the doses of 360 g of skin`.
fn left_part_b(left: &LeftUse) -> String {
    let Some(oldest) = left.standing.first() else {
        return String::new();
    };
    let since = day_near(oldest.made, left.day);
    let later = match left.standing.len() {
        1 => "",
        _ => " and later",
    };
    let part = oldest.part.escape_debug();
    let whole = |mass: Grams| mass.0.round();
    if left.to_tint.0 < 0.5 {
        return format!(
            "use {} of the {} g of tinted part B left from {since}{later} ({part}), stirred first: nothing is to be tinted",
            whole(left.used),
            whole(left.left)
        );
    }
    format!(
        "use the {} g of tinted part B left from {since}{later} ({part}), stirred first, and tint {} g more: the doses of {} g \
         of skin",
        whole(left.used),
        whole(left.to_tint),
        whole(left.as_for)
    )
}

/// `Tuesday` within a week before `today`, else the date.
fn day_near(day: Date, today: Date) -> String {
    let days = (today - day).get_days();
    if day == today {
        return "today".to_owned();
    }
    if !(1..7).contains(&days) {
        return day.to_string();
    }
    day.strftime("%A").to_string()
}
