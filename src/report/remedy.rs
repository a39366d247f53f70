//! What to add to the cup on the bench, and what to mix next.

use std::fmt::{self, Write as _};

use serde::Serialize;
use serde_json::{Map, Value};

use super::cautions::IN_SHORT;
use super::json::{SeenJson, document, drops, triple};
use super::let_downs::{LetDowns, taken_text, write_let_downs};
use super::part::slip;
use super::terminal::{HEADING, Seen, never, write_hanging, write_wrapped};
use crate::batch::CalledFor;
use crate::colour::{Translucency, delta_e_2000};
use crate::error::{Naming, Setting};
use crate::jobs::correcting::{Corrected, Logging};
use crate::materials::Colorant;
use crate::recipe::Remedy;

/// A correction, and what the face that tells of it adds.
#[derive(Clone, Debug)]
pub struct RemedyReport<'a> {
    /// Both answers.
    pub corrected: &'a Corrected,
    /// Minutes since the cup on the bench was mixed, where known.
    pub since_min: Option<f64>,
    /// What takes the let-downs that are added off the book.
    pub take_commands: Vec<String>,
    /// How the face names settings.
    pub naming: Naming,
}

/// A change of the contrast ratio of the next cup that is pointed out. Common practice, no source.
const NOTED_CONTRAST: f64 = 0.1;

impl RemedyReport<'_> {
    /// Minutes of pot life that are left; below zero where it is over.
    fn left_min(&self) -> Option<f64> {
        Some(self.corrected.pot_life_min? - self.since_min?)
    }

    fn is_over(&self) -> bool {
        self.left_min().is_some_and(|left| left <= 0.0)
    }

    /// What is added to the cup on the bench, while it takes anything.
    fn add(&self) -> &[(Colorant, u32)] {
        if self.is_over() {
            &[]
        } else {
            &self.corrected.remedy.add
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
        } = &self.corrected.remedy;
        if self.add().is_empty() {
            (*delta_e_now, *seen_now)
        } else {
            (*delta_e_after, *seen_after)
        }
    }

    /// That the reading is beyond belief, if it is.
    fn doubt(&self) -> Option<String> {
        let check = slip(self.corrected.measured, self.corrected.predicted)?;
        let off = delta_e_2000(self.corrected.measured, self.corrected.predicted);
        let mend = match &self.corrected.logged {
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
        let now = self.corrected.remedy.seen_now.contrast_ratio;
        let next = self.corrected.remedy.next.best().prediction.contrast_ratio;
        if self.corrected.is_contrast_held || (next - now).abs() <= NOTED_CONTRAST {
            return None;
        }
        let (how, setting, bound) = if next > now {
            ("hides more of", Setting::MaxContrast, now + NOTED_CONTRAST)
        } else {
            ("shows more of", Setting::MinContrast, now - NOTED_CONTRAST)
        };
        Some(format!(
            "the next cup {how} what is behind it: contrast ratio {next:.2}, and {now:.2} as poured; {} {:.2} holds it",
            (self.naming)(setting),
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
pub fn json(report: &RemedyReport<'_>) -> String {
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
    let remedy = &report.corrected.remedy;
    let next = remedy.next.best();
    let (delta_e_after, seen_after) = report.after();
    let added: &[CalledFor] = match report.add() {
        [] => &[],
        _ => &report.corrected.bench.called_for,
    };
    document(&Document {
        add: drops(report.add()),
        add_let_downs: added,
        delta_e_now: remedy.delta_e_now,
        delta_e_after,
        gap: remedy.gap,
        start_again: remedy.start_again,
        pot_life_left_min: report.left_min(),
        passes: remedy.passes,
        predicted: triple(report.corrected.predicted),
        delta_e_off: delta_e_2000(report.corrected.measured, report.corrected.predicted),
        is_doubtful: report.doubt().is_some(),
        seen_now: remedy.seen_now.into(),
        seen_after: seen_after.into(),
        logged: name(&report.corrected.logged),
        next: Next {
            drops: drops(&next.drops),
            delta_e: next.delta_e,
            seen: next.prediction.translucency.into(),
            mix: next.poured.mix.to_string(),
            gap: remedy.next.gap,
            proven: remedy.next.proven,
            let_downs: &report.corrected.next.called_for,
        },
        notes: report.notes(),
    })
}

/// For a terminal.
pub fn text(report: &RemedyReport<'_>) -> String {
    let mut text = String::new();
    write(&mut text, report).unwrap_or_else(never);
    text
}

/// The name under which the reading stands in the log.
fn name(logged: &Logging) -> Option<&str> {
    match logged {
        Logging::Now(name) | Logging::Before(name) => Some(name),
        Logging::Demo | Logging::NotAsked => None,
    }
}

fn write(out: &mut String, report: &RemedyReport<'_>) -> fmt::Result {
    let remedy = &report.corrected.remedy;
    let now = remedy.delta_e_now;
    writeln!(out, "The casting is ΔE00 {now:.2} from its tone.")?;
    writeln!(out, "  as poured: {}", Seen(remedy.seen_now))?;
    for note in report.notes() {
        write_wrapped(out, "  note: ", &note)?;
    }
    writeln!(out)?;
    if remedy.passes {
        let (after, _) = report.after();
        let nearest = after.min(remedy.next.best().delta_e);
        let words = if nearest < now - NEARER {
            "It passes: mix the same again. What would come nearer still:"
        } else {
            "It passes: mix the same again. Nothing found comes nearer."
        };
        write_wrapped(out, "", words)?;
        writeln!(out)?;
    }
    write_bench(out, report)?;
    write_next(out, report)?;
    let words = "What the reading told was shared out over the curves, the drops and the thickness, each as far as it was in \
                 doubt.";
    write_wrapped(out, "", words)?;
    let logged = match &report.corrected.logged {
        Logging::Now(name) => {
            format!(
                "It is logged as {name}; `dropwise calibrate` learns from it for all recipes to come."
            )
        }
        Logging::Before(name) => format!("It stands in the log as {name}."),
        Logging::Demo => "It is not logged: the demo book is never written to.".to_owned(),
        Logging::NotAsked => "It is not logged.".to_owned(),
    };
    write_wrapped(out, "", &logged)?;
    write_wrapped(out, "  ", IN_SHORT)
}

/// What counts as nearer, ΔE00: half of the last figure that is told.
const NEARER: f64 = 0.005;

/// What a number is told with where the reading behind it is beyond belief.
fn condition(report: &RemedyReport<'_>) -> &'static str {
    match report.doubt() {
        Some(_) => ", if that reading is right",
        None => "",
    }
}

fn write_bench(out: &mut String, report: &RemedyReport<'_>) -> fmt::Result {
    if report.corrected.max_add == 0 {
        return writeln!(
            out,
            "The cup on the bench is left as it is ({} 0).\n",
            (report.naming)(Setting::MaxAdd)
        );
    }
    writeln!(out, "{HEADING}The cup on the bench{HEADING:#}")?;
    if report.is_over() {
        let words = "its pot life is over: use or discard it, and add nothing";
        write_wrapped(out, "  ", words)?;
        return writeln!(out);
    }
    let add = report.add();
    if add.is_empty() {
        let within = if report.corrected.is_contrast_held {
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
        let (delta_e, seen) = report.after();
        let condition = condition(report);
        writeln!(out, "  then ΔE00 {delta_e:.2}{condition}; {}", Seen(seen))?;
        let bench = LetDowns::of("cup on the bench", &report.corrected.bench);
        let ready = bench.iter().flat_map(LetDowns::lines_at_hand);
        for line in ready {
            write_hanging(out, &line)?;
        }
    }
    if report.corrected.remedy.start_again {
        write_wrapped(
            out,
            "  ",
            "that would still not pass: start again with the next cup",
        )?;
    } else if !add.is_empty() {
        let words = match (report.left_min(), report.corrected.pot_life_min) {
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
        out.write_str(&taken_text(&report.take_commands))?;
    }
    writeln!(out)
}

fn write_next(out: &mut String, report: &RemedyReport<'_>) -> fmt::Result {
    let next = report.corrected.remedy.next.best();
    writeln!(out, "{HEADING}The next cup{HEADING:#}")?;
    write_counted(out, &next.drops)?;
    writeln!(
        out,
        "  aimed at ΔE00 {:.2}{}; {}",
        next.delta_e,
        condition(report),
        Seen(next.prediction.translucency)
    )?;
    let words = format!("as a mix: {}", next.poured.mix);
    write_wrapped(out, "  ", &words)?;
    writeln!(out)?;
    write_let_downs(out, LetDowns::of("next cup", &report.corrected.next))
}

fn write_counted(out: &mut String, drops: &[(Colorant, u32)]) -> fmt::Result {
    let mut drops = drops.iter();
    drops.try_for_each(|(colorant, count)| writeln!(out, "  {}", counted(colorant, *count)))
}

fn counted(colorant: &Colorant, count: u32) -> String {
    let unit = if count == 1 { "drop " } else { "drops" };
    format!("{count:4} {unit}  {colorant}")
}
