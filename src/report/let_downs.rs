//! Let-downs: those that a cup calls for, how to make them or which one to take, and those that stand in the book.
//!
//! A let-down is called for by a cup, stands in the book, or both; a cup is told to make what the book lacks, is short of, or
//! keeps no longer.

use std::fmt::{self, Write as _};

use jiff::civil::Date;
use serde::Serialize;

use super::document::document;
use super::text::{HEADING, never, write_entries, write_hanging, write_hanging_at, write_wrapped};
use crate::batch::{CalledFor, Parts, Pour};
use crate::jobs::let_downs::Wanted;
use crate::materials::{Base, Grams, LetDown, Shelf, Standing};

/// The let-downs that one cup calls for.
#[derive(Clone, Debug)]
pub(super) struct LetDowns {
    /// For which cup, and what they are stirred into: `skin, in part B of clear skin`.
    pub(super) stirred_into: String,
    /// Whether that comes as one part.
    is_single: bool,
    /// Each of them; at least one.
    pub(super) called_for: Vec<CalledFor>,
}

impl LetDowns {
    /// Those that the cup called `name` calls for; `None` where it calls for none.
    pub(super) fn of(name: &str, wanted: &Wanted) -> Option<Self> {
        Self::new(name, &wanted.base, wanted.is_single, &wanted.called_for)
    }

    /// Those that `pour`, the cup called `name`, calls for.
    pub(super) fn of_pour(name: &str, pour: &Pour) -> Option<Self> {
        let is_single = matches!(pour.parts, Parts::Single {});
        Self::new(name, &pour.base, is_single, pour.drawn_on())
    }

    /// What is stirred into the clear part of `base` for the cup called `name`; `None` where `called_for` is empty, so that no
    /// heading stands over nothing.
    fn new(name: &str, base: &str, is_single: bool, called_for: &[CalledFor]) -> Option<Self> {
        let stirred_into = format!("{name}, in {}", clear(base, is_single));
        (!called_for.is_empty()).then(|| Self {
            stirred_into,
            is_single,
            called_for: called_for.to_vec(),
        })
    }

    /// A line for each: how to make it, or which one to take.
    pub(super) fn lines(&self) -> impl Iterator<Item = String> {
        self.called_for.iter().map(line)
    }

    /// The same for a cup on the bench, for which there is no time to make one: what the book does not keep stands there since
    /// the cup was mixed.
    pub(super) fn lines_at_hand(&self) -> impl Iterator<Item = String> {
        self.called_for.iter().map(|each| match each.is_ready() {
            true => line(each),
            false => format!(
                "{}: from what is left of that in this cup, uses {:.2} g",
                each.let_down, each.uses_g
            ),
        })
    }

    /// Whether the book keeps enough of each, so that none is to be made.
    fn are_all_ready(&self) -> bool {
        self.called_for.iter().all(CalledFor::is_ready)
    }
}

/// What a let-down for `base` is stirred into.
fn clear_of(base: &Base) -> String {
    clear(&base.name, base.ratio.is_single())
}

/// The clear part of `base`: part B, or the whole of a base that comes as one part.
fn clear(base: &str, is_single: bool) -> String {
    if is_single {
        base.to_owned()
    } else {
        format!("part B of {base}")
    }
}

/// `iron oxide red 1:10: 1 g + 9 g, uses 0.22 g`, or which one of the book to take instead, or why not.
fn line(called_for: &CalledFor) -> String {
    let CalledFor {
        let_down,
        uses_g,
        standing,
        from,
    } = called_for;
    let to_make = || {
        let clear = let_down.let_down - 1.0;
        format!("{let_down}: 1 g + {clear} g, uses {uses_g:.2} g")
    };
    let [that, jar] = match from.as_slice() {
        [_] => ["that", "let-down"],
        _ => ["those", "let-downs"],
    };
    let each = |of: fn(&LetDown) -> Date| {
        let mut days: Vec<Date> = from.iter().map(|jar| of(&jar.let_down)).collect();
        days.dedup();
        let days: Vec<String> = days.into_iter().map(in_words).collect();
        days.join(" and ")
    };
    let made = each(|jar| jar.made);
    let left: Grams = from.iter().map(|jar| jar.let_down.mass).sum();
    let left = left.rounded_to(LetDown::LEAST);
    match standing {
        None => to_make(),
        Some(Standing::Ready) => {
            format!("{let_down}: from the {jar} of {made}, uses {uses_g:.2} g of {left}")
        }
        Some(Standing::TooLittle) => {
            format!("{} (of {that} of {made} only {left} are left)", to_make())
        }
        Some(Standing::PastItsDate) => {
            let kept_until = each(|jar| jar.keeps_until);
            format!("{} ({that} of {made} kept until {kept_until})", to_make())
        }
    }
}

/// What of `wanted` is to be made, or stands ready, for each base that it is stirred into: `Make first, in part B of clear skin:
/// umber 1:10 (1 g + 9 g)`.
pub(super) fn write_in_short(out: &mut String, wanted: &[Wanted]) -> fmt::Result {
    let each = |called_for: &CalledFor| match called_for.is_ready() {
        true => format!("{} (stands ready)", called_for.let_down),
        false => {
            let clear = called_for.let_down.let_down - 1.0;
            format!("{} (1 g + {clear} g)", called_for.let_down)
        }
    };
    for wanted in wanted.iter().filter(|wanted| !wanted.called_for.is_empty()) {
        let entries: Vec<String> = wanted.called_for.iter().map(each).collect();
        let clear = clear(&wanted.base, wanted.is_single);
        writeln!(out, "Make first, in {clear}:")?;
        write_entries(out, "   ", &entries.join(", "), ", ")?;
    }
    Ok(())
}

/// `3 March 2026`: the month in letters, since day and month in figures are read either way round.
fn in_words(day: Date) -> String {
    day.strftime("%-d %B %Y").to_string()
}

/// What is to be done about the let-downs of all cups: to have them ready as soon as one of them is taken from the book, and to
/// make them otherwise.
fn to_do(of_cups: &[LetDowns]) -> &'static str {
    let mut all = of_cups.iter().flat_map(|of_cup| &of_cup.called_for);
    if all.any(CalledFor::is_ready) {
        "have these let-downs ready"
    } else {
        "make these let-downs"
    }
}

/// What the let-downs of all cups have in common: how to shake and drop them; and, unless all stand in the book, how to make
/// them and how long they keep. That they belong in part B is left out where every base comes as one part.
pub(super) fn rule(of_cups: &[LetDowns]) -> String {
    if of_cups.iter().all(LetDowns::are_all_ready) {
        return "Shake a let-down before use, and drop it with the pigment's dropper.".to_owned();
    }
    let part_b = if of_cups.iter().all(|of_cup| of_cup.is_single) {
        ""
    } else {
        ": into part B, never into part A, which sets with the damp of the air"
    };
    format!(
        "A let-down is the pigment stirred into clear base, so that a drop is finer{part_b}. Drop it with the pigment's \
         dropper: its drops are taken to weigh the same (weigh twenty to be sure). Closed, dry and dated it keeps for about \
         a week (common practice, no source; check the material's sheet); shake it before use. What you make of it beyond \
         one use, the book can keep: see `dropwise let-down`."
    )
}

/// What is made, or taken off the shelf, before the clock starts, as the last words of an answer; nothing where no let-down is
/// called for.
pub(super) fn text(called_for: impl IntoIterator<Item = LetDowns>) -> String {
    let mut text = String::new();
    write_let_downs(&mut text, called_for).unwrap_or_else(never);
    match text.trim_end() {
        "" => String::new(),
        text => format!("\n{text}\n"),
    }
}

/// The same within an answer, and a blank line.
pub(super) fn write_let_downs(
    out: &mut String,
    called_for: impl IntoIterator<Item = LetDowns>,
) -> fmt::Result {
    let of_cups: Vec<LetDowns> = called_for.into_iter().collect();
    if of_cups.is_empty() {
        return Ok(());
    }
    writeln!(
        out,
        "{HEADING}Before you start{HEADING:#}   {}",
        to_do(&of_cups)
    )?;
    for of_cup in &of_cups {
        writeln!(out, "  {}:", of_cup.stirred_into)?;
        (of_cup.lines()).try_for_each(|line| write_hanging_at(out, "    ", &line))?;
    }
    write_wrapped(out, "  ", &rule(&of_cups))?;
    writeln!(out)
}

/// Which commands take what is used of the book's let-downs off it; nothing where there are none.
pub fn taken_text(commands: &[String]) -> String {
    if commands.is_empty() {
        return String::new();
    }
    let lines = commands.iter().map(|command| format!("  {command}\n"));
    format!("\n{TAKEN}\n{}", lines.collect::<String>())
}

/// What those commands do.
pub(super) const TAKEN: &str = "What is used of the book's let-downs is taken off it by:";

/// The answer of `let-down`: `{"let_downs": [{"let_down": …, "lot": …, "base": …, "made": …, "mass_g": …, "keeps_until": …,
/// "serves": …}]}`, as things stand on the day `day`.
pub fn stocked_json(let_downs: &[LetDown], shelf: &Shelf, day: Date) -> String {
    #[derive(Serialize)]
    struct Document<'a> {
        /// A jar each, in the order of the book; empty where it keeps none.
        let_downs: Vec<Row<'a>>,
    }
    /// A jar as it stands on that day.
    #[derive(Serialize)]
    struct Row<'a> {
        /// The jar as the book has it.
        #[serde(flatten)]
        let_down: &'a LetDown,
        /// Whether it serves on that day: enough of it, in time, and of the lot on the shelf.
        serves: bool,
    }
    let rows = let_downs.iter().map(|let_down| Row {
        let_down,
        serves: why_not(let_down, shelf, day).is_none(),
    });
    document(&Document {
        let_downs: rows.collect(),
    })
}

/// The same for a terminal: a jar each, with why it does not serve on the day `day`, and how jars are kept.
pub fn stocked_text(let_downs: &[LetDown], shelf: &Shelf, day: Date) -> String {
    let mut text = String::new();
    write_stocked(&mut text, let_downs, shelf, day).unwrap_or_else(never);
    text
}

/// A jar each: how much is left, in what, since when and until when, and why it does not serve if it does not.
fn write_stocked(out: &mut String, let_downs: &[LetDown], shelf: &Shelf, day: Date) -> fmt::Result {
    if let_downs.is_empty() {
        return writeln!(out, "no let-down stands in this book");
    }
    for let_down in let_downs {
        let LetDown {
            colorant,
            base,
            made,
            mass,
            keeps_until,
            ..
        } = let_down;
        writeln!(out, "{HEADING}{colorant}{HEADING:#}   {mass} left")?;
        let clear = shelf.base(base).map_or_else(|_| base.clone(), clear_of);
        let [made, keeps_until] = [*made, *keeps_until].map(in_words);
        write_hanging(
            out,
            &format!("in {clear}, made {made}, keeps until {keeps_until}"),
        )?;
        if let Some(why_not) = why_not(let_down, shelf, day) {
            write_wrapped(out, "  note: ", &why_not)?;
        }
    }
    let care = "keep them closed, dry and dated; each material's safety sheet has the last word";
    write_wrapped(out, "  care: ", care)
}

/// Why a let-down does not serve on the day `day`; `None` of one that does.
///
/// One reason is given, the first of: used up, not yet made, past its date, of another lot than the one on the shelf.
fn why_not(let_down: &LetDown, shelf: &Shelf, day: Date) -> Option<String> {
    if let_down.mass.0 <= 0.0 {
        Some("it is used up, and no longer listed: discard the jar".to_owned())
    } else if let_down.made > day {
        Some(format!("it is made only on {}", in_words(let_down.made)))
    } else if let_down.is_past(day) {
        Some(
            "its time is over: make a new one, and discard this one as the material's sheet says"
                .to_owned(),
        )
    } else if !let_down.is_of_the_lot_on(shelf) {
        Some(format!(
            "it was made of lot {}, and another lot stands on the shelf now",
            let_down.lot
        ))
    } else {
        None
    }
}
