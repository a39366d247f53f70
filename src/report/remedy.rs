//! What to add to the cup on the bench, and what to mix next.

use std::fmt::{self, Write as _};

use serde::Serialize;
use serde_json::{Map, Value};

use super::LetDowns;
use super::cautions::IN_SHORT;
use super::json::{document, drops};
use super::let_downs::write_let_downs;
use super::terminal::{HEADING, never, write_wrapped};
use crate::batch::CalledFor;
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

/// `{"add": {…}, "delta_e_after": …, "next": {"drops": {…}, "delta_e": …}, …}`.
///
/// `called_for` are the let-downs of the next cup.
pub fn json(
    remedy: &Remedy,
    time: &PotLife,
    called_for: Option<&LetDowns>,
    logged: &Logging,
) -> String {
    #[derive(Serialize)]
    struct Document<'a> {
        add: Map<String, Value>,
        delta_e_now: f64,
        delta_e_after: f64,
        gap: f64,
        start_again: bool,
        pot_life_left_min: Option<f64>,
        passes: bool,
        logged: Option<&'a str>,
        next: Next<'a>,
    }
    #[derive(Serialize)]
    struct Next<'a> {
        drops: Map<String, Value>,
        delta_e: f64,
        mix: String,
        gap: f64,
        proven: bool,
        let_downs: &'a [CalledFor],
    }
    let next = remedy.next.best();
    let over = time.is_over();
    document(&Document {
        add: if over { Map::new() } else { drops(&remedy.add) },
        delta_e_now: remedy.delta_e_now,
        delta_e_after: if over {
            remedy.delta_e_now
        } else {
            remedy.delta_e_after
        },
        gap: remedy.gap,
        start_again: remedy.start_again,
        pot_life_left_min: time.left_min(),
        passes: remedy.passes,
        logged: logged.name(),
        next: Next {
            drops: drops(&next.drops),
            delta_e: next.delta_e,
            mix: next.poured.mix.to_string(),
            gap: remedy.next.gap,
            proven: remedy.next.proven,
            let_downs: called_for.map_or(&[], |let_downs| &let_downs.called_for),
        },
    })
}

/// For a terminal; `called_for` are the let-downs of the next cup, and `logged` says what became of the reading.
pub fn text(
    remedy: &Remedy,
    time: &PotLife,
    called_for: Option<LetDowns>,
    logged: &Logging,
) -> String {
    let mut text = String::new();
    write(&mut text, remedy, time, called_for, logged).unwrap_or_else(never);
    text
}

fn write(
    out: &mut String,
    remedy: &Remedy,
    time: &PotLife,
    called_for: Option<LetDowns>,
    logged: &Logging,
) -> fmt::Result {
    let Remedy {
        delta_e_now,
        add,
        delta_e_after,
        start_again,
        ..
    } = remedy;
    writeln!(out, "The casting is ΔE00 {delta_e_now:.2} from its tone.\n")?;
    if remedy.passes {
        write_wrapped(
            out,
            "",
            "It passes: mix the same again. What would come nearer still:",
        )?;
        writeln!(out)?;
    }
    writeln!(out, "{HEADING}The cup on the bench{HEADING:#}")?;
    let over = time.is_over();
    if over {
        write_wrapped(
            out,
            "  ",
            "its pot life is over: use or discard it, and add nothing",
        )?;
    } else if add.is_empty() {
        write_wrapped(out, "  ", "nothing that is added brings it nearer")?;
    } else {
        for (colorant, count) in add {
            writeln!(out, "  {}", counted(colorant, *count))?;
        }
        writeln!(out, "  then ΔE00 {delta_e_after:.2}")?;
    }
    if *start_again && !over {
        write_wrapped(
            out,
            "  ",
            "that would still not pass: start again with the next cup",
        )?;
    }
    if !add.is_empty() && !*start_again && !over {
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
    let next = remedy.next.best();
    writeln!(out, "\n{HEADING}The next cup{HEADING:#}")?;
    for (colorant, count) in &next.drops {
        writeln!(out, "  {}", counted(colorant, *count))?;
    }
    writeln!(out, "  aimed at ΔE00 {:.2}", next.delta_e)?;
    let words = format!("as a mix: {}", next.poured.mix);
    write_wrapped(out, "  ", &words)?;
    writeln!(out)?;
    write_let_downs(out, called_for)?;
    let words = "What the reading told was shared out over the curves, the drops and the thickness, each as far as it was in \
                 doubt.";
    write_wrapped(out, "", words)?;
    let told = match logged {
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

fn counted(colorant: &Colorant, count: u32) -> String {
    let unit = if count == 1 { "drop " } else { "drops" };
    format!("{count:4} {unit}  {colorant}")
}
