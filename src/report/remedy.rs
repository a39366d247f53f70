//! What to add to the cup on the bench, and what to mix next.

use std::fmt::{self, Write as _};

use serde::Serialize;
use serde_json::{Map, Value};

use super::LetDowns;
use super::cautions::IN_SHORT;
use super::json::{SeenJson, document, drops, triple};
use super::let_downs::{taken_text, write_let_downs};
use super::part::slip;
use super::terminal::{HEADING, Seen, never, write_hanging, write_wrapped};
use crate::batch::CalledFor;
use crate::colour::{Lab, Translucency, delta_e_2000};
use crate::materials::Colorant;
use crate::recipe::Remedy;

/// How long a cup can still be worked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PotLife {
    /// Its base's pot life, minutes; `None` where unknown or without end.
    pub whole_min: Option<f64>,
    /// Minutes since it was mixed, where told.
    pub since_min: Option<f64>,
}

/// What became of the reading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Logging {
    /// It was logged under this name.
    Now(String),
    /// It stood in the log under this name.
    Before(String),
    /// The demo is never written to.
    Demo,
    /// It was not to be logged.
    NotAsked,
}

impl Logging {
    fn name(&self) -> Option<&str> {
        match self {
            Self::Now(name) | Self::Before(name) => Some(name),
            Self::Demo | Self::NotAsked => None,
        }
    }
}

impl PotLife {
    /// Minutes that are left; below zero where it is over.
    fn left_min(&self) -> Option<f64> {
        Some(self.whole_min? - self.since_min?)
    }

    fn is_over(&self) -> bool {
        self.left_min().is_some_and(|left| left <= 0.0)
    }
}

/// All that there is to say of a correction.
#[derive(Clone, Debug)]
pub struct Corrected<'a> {
    /// Both answers.
    pub remedy: &'a Remedy,
    /// How long the cup on the bench can still be worked.
    pub time: PotLife,
    /// Most drops that were to be added to it.
    pub max_add: u32,
    /// How the casting read.
    pub measured: Lab,
    /// What the book predicted of it before it was read.
    pub predicted: Lab,
    /// Whether the contrast ratio was to keep within a window.
    pub is_contrast_held: bool,
    /// The let-downs among what is added to the cup on the bench.
    pub bench: Option<LetDowns>,
    /// What takes these off the book.
    pub take_commands: Vec<String>,
    /// The let-downs of the next cup.
    pub next: Option<LetDowns>,
    /// What became of the reading.
    pub logged: Logging,
}

/// A move of the contrast ratio of the next cup that is pointed out. Common practice, no source.
const TOLD_CONTRAST: f64 = 0.1;

impl Corrected<'_> {
    /// What is added to the cup on the bench, while it takes anything.
    fn add(&self) -> &[(Colorant, u32)] {
        if self.time.is_over() {
            &[]
        } else {
            &self.remedy.add
        }
    }

    /// What the cup on the bench is predicted to give then: ΔE00 from the target, and what it shows of black and white.
    fn after(&self) -> (f64, Translucency) {
        let Remedy {
            delta_e_now,
            seen_now,
            delta_e_after,
            seen_after,
            ..
        } = self.remedy;
        if self.add().is_empty() {
            (*delta_e_now, *seen_now)
        } else {
            (*delta_e_after, *seen_after)
        }
    }

    /// That the reading is beyond belief, if it is.
    fn doubt(&self) -> Option<String> {
        let check = slip(self.measured, self.predicted)?;
        let off = delta_e_2000(self.measured, self.predicted);
        let mend = match &self.logged {
            Logging::Now(name) | Logging::Before(name) => {
                format!(", and mend the row of {name} in swatches.csv")
            }
            Logging::Demo | Logging::NotAsked => String::new(),
        };
        Some(format!(
            "the reading lies ΔE00 {off:.1} from what this mix was predicted to give; {check}{mend}. All numbers here rest on \
             that reading: take it again before you add a drop"
        ))
    }

    /// That the next cup shows more or less of what is behind it than this casting, where nobody asked for a window.
    fn contrast_note(&self) -> Option<String> {
        let now = self.remedy.seen_now.contrast_ratio;
        let next = self.remedy.next.best().prediction.contrast_ratio;
        if self.is_contrast_held || (next - now).abs() <= TOLD_CONTRAST {
            return None;
        }
        let (how, option, bound) = if next > now {
            ("hides more of", "--max-contrast", now + TOLD_CONTRAST)
        } else {
            ("shows more of", "--min-contrast", now - TOLD_CONTRAST)
        };
        Some(format!(
            "the next cup {how} what is behind it: contrast ratio {next:.2}, and {now:.2} as poured; {option} {:.2} holds it",
            bound.clamp(0.0, 1.0)
        ))
    }

    fn notes(&self) -> Vec<String> {
        self.doubt()
            .into_iter()
            .chain(self.contrast_note())
            .collect()
    }
}

/// `{"add": {…}, "delta_e_after": …, "next": {"drops": {…}, "delta_e": …}, …}`.
pub fn json(corrected: &Corrected<'_>) -> String {
    #[derive(Serialize)]
    struct Document<'a> {
        add: Map<String, Value>,
        add_let_downs: &'a [CalledFor],
        delta_e_now: f64,
        delta_e_after: f64,
        gap: f64,
        start_again: bool,
        pot_life_left_min: Option<f64>,
        passes: bool,
        predicted: Value,
        delta_e_off: f64,
        is_doubtful: bool,
        seen_now: SeenJson,
        seen_after: SeenJson,
        logged: Option<&'a str>,
        next: Next<'a>,
        notes: Vec<String>,
    }
    #[derive(Serialize)]
    struct Next<'a> {
        drops: Map<String, Value>,
        delta_e: f64,
        #[serde(flatten)]
        seen: SeenJson,
        mix: String,
        gap: f64,
        proven: bool,
        let_downs: &'a [CalledFor],
    }
    fn called_for(let_downs: Option<&LetDowns>) -> &[CalledFor] {
        let_downs.map_or(&[], |let_downs| &let_downs.called_for)
    }
    let remedy = corrected.remedy;
    let next = remedy.next.best();
    let (delta_e_after, seen_after) = corrected.after();
    let bench = corrected.bench.as_ref();
    document(&Document {
        add: drops(corrected.add()),
        add_let_downs: called_for(bench.filter(|_| !corrected.add().is_empty())),
        delta_e_now: remedy.delta_e_now,
        delta_e_after,
        gap: remedy.gap,
        start_again: remedy.start_again,
        pot_life_left_min: corrected.time.left_min(),
        passes: remedy.passes,
        predicted: triple(corrected.predicted),
        delta_e_off: delta_e_2000(corrected.measured, corrected.predicted),
        is_doubtful: corrected.doubt().is_some(),
        seen_now: remedy.seen_now.into(),
        seen_after: seen_after.into(),
        logged: corrected.logged.name(),
        next: Next {
            drops: drops(&next.drops),
            delta_e: next.delta_e,
            seen: next.prediction.translucency.into(),
            mix: next.poured.mix.to_string(),
            gap: remedy.next.gap,
            proven: remedy.next.proven,
            let_downs: called_for(corrected.next.as_ref()),
        },
        notes: corrected.notes(),
    })
}

/// For a terminal.
pub fn text(corrected: &Corrected<'_>) -> String {
    let mut text = String::new();
    write(&mut text, corrected).unwrap_or_else(never);
    text
}

fn write(out: &mut String, corrected: &Corrected<'_>) -> fmt::Result {
    let remedy = corrected.remedy;
    let now = remedy.delta_e_now;
    writeln!(out, "The casting is ΔE00 {now:.2} from its tone.")?;
    writeln!(out, "  as poured: {}", Seen(remedy.seen_now))?;
    for note in corrected.notes() {
        write_wrapped(out, "  note: ", &note)?;
    }
    writeln!(out)?;
    if remedy.passes {
        let (after, _) = corrected.after();
        let nearest = after.min(remedy.next.best().delta_e);
        let words = if nearest < now - NEARER {
            "It passes: mix the same again. What would come nearer still:"
        } else {
            "It passes: mix the same again. Nothing found comes nearer."
        };
        write_wrapped(out, "", words)?;
        writeln!(out)?;
    }
    write_bench(out, corrected)?;
    write_next(out, corrected)?;
    let words = "What the reading told was shared out over the curves, the drops and the thickness, each as far as it was in \
                 doubt.";
    write_wrapped(out, "", words)?;
    let told = match &corrected.logged {
        Logging::Now(name) => {
            format!(
                "It is logged as {name}; `dropwise calibrate` learns from it for all recipes to come."
            )
        }
        Logging::Before(name) => format!("It stands in the log as {name}."),
        Logging::Demo => "It is not logged: the demo book is never written to.".to_owned(),
        Logging::NotAsked => "It is not logged.".to_owned(),
    };
    write_wrapped(out, "", &told)?;
    write_wrapped(out, "  ", IN_SHORT)
}

/// What counts as nearer, ΔE00: half of the last figure that is told.
const NEARER: f64 = 0.005;

/// What a number is told with where the reading behind it is beyond belief.
fn condition(corrected: &Corrected<'_>) -> &'static str {
    match corrected.doubt() {
        Some(_) => ", if that reading is right",
        None => "",
    }
}

fn write_bench(out: &mut String, corrected: &Corrected<'_>) -> fmt::Result {
    if corrected.max_add == 0 {
        return writeln!(
            out,
            "The cup on the bench is left as it is (--max-add 0).\n"
        );
    }
    writeln!(out, "{HEADING}The cup on the bench{HEADING:#}")?;
    if corrected.time.is_over() {
        let words = "its pot life is over: use or discard it, and add nothing";
        write_wrapped(out, "  ", words)?;
        return writeln!(out);
    }
    let add = corrected.add();
    if add.is_empty() {
        let within = if corrected.is_contrast_held {
            " within the contrast asked for"
        } else {
            ""
        };
        write_wrapped(
            out,
            "  ",
            &format!("nothing that is added brings it nearer{within}"),
        )?;
    } else {
        write_counted(out, add)?;
        let (delta_e, seen) = corrected.after();
        let condition = condition(corrected);
        writeln!(out, "  then ΔE00 {delta_e:.2}{condition}; {}", Seen(seen))?;
        let ready = corrected.bench.iter().flat_map(LetDowns::lines_at_hand);
        for line in ready {
            write_hanging(out, &line)?;
        }
    }
    if corrected.remedy.start_again {
        write_wrapped(
            out,
            "  ",
            "that would still not pass: start again with the next cup",
        )?;
    } else if !add.is_empty() {
        let time = &corrected.time;
        let words = match (time.left_min(), time.whole_min) {
            (Some(left), _) => format!(
                "{left:.1} minutes of pot life are left: stir the drops in at once, and scrape sides and bottom"
            ),
            (None, Some(whole)) => format!(
                "only within its pot life, {whole} minutes from mixing; a cup that has begun to thicken or warm takes no \
                 more drops"
            ),
            (None, None) => "only while it is liquid; a cup that has begun to thicken or warm takes no more drops".to_owned(),
        };
        write_wrapped(out, "  ", &words)?;
    }
    if !add.is_empty() {
        out.write_str(&taken_text(&corrected.take_commands))?;
    }
    writeln!(out)
}

fn write_next(out: &mut String, corrected: &Corrected<'_>) -> fmt::Result {
    let next = corrected.remedy.next.best();
    writeln!(out, "{HEADING}The next cup{HEADING:#}")?;
    write_counted(out, &next.drops)?;
    writeln!(
        out,
        "  aimed at ΔE00 {:.2}{}; {}",
        next.delta_e,
        condition(corrected),
        Seen(next.prediction.translucency)
    )?;
    let words = format!("as a mix: {}", next.poured.mix);
    write_wrapped(out, "  ", &words)?;
    writeln!(out)?;
    write_let_downs(out, corrected.next.clone())
}

fn write_counted(out: &mut String, drops: &[(Colorant, u32)]) -> fmt::Result {
    let mut drops = drops.iter();
    drops.try_for_each(|(colorant, count)| writeln!(out, "  {}", counted(colorant, *count)))
}

fn counted(colorant: &Colorant, count: u32) -> String {
    let unit = if count == 1 { "drop " } else { "drops" };
    format!("{count:4} {unit}  {colorant}")
}
