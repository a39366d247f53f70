//! Commands that an answer names, to be typed next.

use std::path::Path;

use jiff::civil::Date;

use super::day_of::today;
use crate::batch::{CalledFor, Pour};
use crate::error::Result;
use crate::jobs::batching::Size;
use crate::jobs::matching::{Application, FilledCup, Matched, StockUse};
use crate::jobs::stock_instead::StockInstead;
use crate::materials::{Grams, LetDown, Mix, Poured, Stock, Underlay};
use crate::report::NextCommands;

/// The `let-down take` of what cups of the day `day` use of let-downs that stand ready, one for each base; a cup is its base and
/// the let-downs that it calls for.
pub(super) fn take_commands<'a>(
    cups: impl IntoIterator<Item = (&'a str, &'a [CalledFor])>,
    day: Date,
    book: Option<&Path>,
) -> Vec<String> {
    let mut of_bases: Vec<(&str, Vec<(String, Grams)>)> = Vec::new();
    for (base, called_for) in cups {
        for ready in called_for.iter().filter(|each| each.is_ready()) {
            let known = of_bases.iter().position(|(of, _)| *of == base);
            let index = known.unwrap_or_else(|| {
                of_bases.push((base, Vec::new()));
                of_bases.len() - 1
            });
            let (_, used) = &mut of_bases[index];
            let (name, mass) = (ready.let_down.to_string(), Grams(ready.uses_g));
            // Two cups may take from one jar.
            match used.iter_mut().find(|(of, _)| *of == name) {
                Some((_, sum)) => *sum = *sum + mass,
                None => used.push((name, mass)),
            }
        }
    }
    // Which jars serve hangs on the day.
    let on_day = if day == today() {
        String::new()
    } else {
        format!(" --date {day}")
    };
    let commands = of_bases.into_iter().map(|(base, used)| {
        let used: Vec<String> = (used.into_iter())
            .map(|(name, mass)| format!("{name} {}", mass.rounded_to(LetDown::LEAST)))
            .collect();
        let [base, used] = [base, &used.join("; ")].map(quoted);
        format!(
            "dropwise let-down take{} {used} --base {base}{on_day}",
            naming(book)
        )
    });
    commands.collect()
}

/// What is typed after a match: to keep it, to log what came out, to take let-downs off the book, to make more of it.
///
/// What is `kept` is logged and made again by its name. For what is not, `keep` says what is added to the line that was typed.
pub(super) fn next_commands(
    matched: &Matched,
    book: Option<&Path>,
    kept: Kept<'_>,
) -> Result<NextCommands> {
    let (keep, log, again, repeat) = match kept {
        Kept::As(name) => {
            let (book, name) = (naming(book), word(name));
            let log = format!("dropwise swatch add{book} --part {name} --lab L,a,b");
            let again = format!("dropwise batch{book} --part {name} --times 10");
            (None, log, Some(again), Vec::new())
        }
        Kept::Not { keep } => (
            Some(keep.to_owned()),
            log_command(matched, book)?,
            None,
            repeat_commands(matched, book)?,
        ),
    };
    Ok(NextCommands {
        keep,
        log,
        again,
        take: take_commands(
            matched.cups().map(|cup| cup.pour.called_for()),
            matched.day,
            book,
        )
        .into_iter()
        .chain(matched.stocks.iter().map(|used| take_stock(used, book)))
        .collect(),
        make: (matched.one_tint.as_ref())
            .filter(|tint| !tint.stands)
            .map(|tint| make_stock(&tint.stock, book)),
        instead_of_jars: matched
            .stock_instead
            .as_ref()
            .map(|instead| match *instead {
                StockInstead::Thinned(ref stock) => make_stock(stock, book),
                StockInstead::Planned => format!("dropwise stock plan{}", naming(book)),
            }),
        repeat,
    })
}

/// The `part poured` that takes what the part called `name` was poured of off `book`, where one says so of that `size`.
pub(super) fn poured_command(name: &str, size: Size, book: Option<&Path>) -> Option<String> {
    let size = match size {
        Size::Times(1.0) => String::new(),
        Size::Times(times) => format!(" --times {times}"),
        Size::To(mass) => format!(" --to {}", mass.0),
        Size::Fill { .. } => return None,
    };
    let (book, name) = (naming(book), word(name));
    Some(format!("dropwise part poured{book} {name}{size}"))
}

/// The `stock make` of `stock`.
pub(super) fn make_stock(stock: &Stock, book: Option<&Path>) -> String {
    let [name, mix] = [&stock.name, &stock.mix().to_string()].map(|it| quoted(it));
    format!("dropwise stock make{} {name} --mix {mix}", naming(book))
}

/// The `stock take` of what a part uses of a stock.
fn take_stock(used: &StockUse, book: Option<&Path>) -> String {
    let mass = used.used.rounded_to(LetDown::LEAST);
    format!(
        "dropwise stock take{} {} {}",
        naming(book),
        quoted(&used.name),
        mass.0
    )
}

/// The `correct` that goes on from a test piece of so much, drawn from the part called `name`.
pub(super) fn correct_command(name: &str, drawn: Grams, book: Option<&Path>) -> String {
    let (book, name, drawn_g) = (naming(book), word(name), drawn.0);
    format!(
        "dropwise correct{book} --part {name} --stage test --drawn-g {drawn_g} --measured L,a,b"
    )
}

/// Whether an answer is kept.
#[derive(Clone, Copy, Debug)]
pub(super) enum Kept<'a> {
    /// As a part of this name.
    As(&'a str),
    /// It is not, and would be with these options beside those that were typed.
    Not {
        /// The options.
        keep: &'a str,
    },
}

/// The `swatch add` that logs a reading of what was poured for `matched`, but for what is written in capitals.
fn log_command(matched: &Matched, book: Option<&Path>) -> Result<String> {
    let words_of = |option: &str, base: &str, base_g: f64, mix: &Mix| {
        let [base, mix] = [base, &mix.to_string()].map(quoted);
        match option {
            "base" => format!("--base {base} --base-g {base_g} --mix {mix}"),
            _ => format!("--{option} {base} --{option}-g {base_g} --{option}-mix {mix}"),
        }
    };
    let poured = |option: &str, cup: &FilledCup| -> Result<String> {
        let Pour { base, base_g, .. } = &cup.pour;
        let mix = matched.spelled_out(&cup.pour.mix()?)?;
        Ok(words_of(option, base, *base_g, &mix))
    };
    let mut words = vec![
        format!("dropwise swatch add{}", naming(book)),
        poured("base", &matched.skin)?,
        format!("--thickness-mm {}", matched.build.thickness.0),
    ];
    if let Some(foam) = &matched.foam {
        words.push(poured("foam", foam)?);
    } else {
        words.push(match &matched.build.beneath {
            Underlay::Backing { name, .. } => format!("--backing {}", quoted(name)),
            Underlay::Foam(Poured {
                base,
                base_mass,
                mix,
            }) => words_of("foam", base, base_mass.0, mix),
        });
    }
    // A swatch has one coat; where there are several paints, the others go on elsewhere.
    if let Some(paint) = matched.paints.first() {
        words.push(poured("paint", paint)?);
        if let Application::Sprayed { dry_thickness, .. } = paint.application {
            words.push(format!("--paint-mm {}", dry_thickness.0));
        }
    }
    words.push("--lab L,a,b".to_owned());
    Ok(words.join(" "))
}

/// The `batch` that makes ten times what is tinted with one stock, which no book knows, a command for each cup.
fn repeat_commands(matched: &Matched, book: Option<&Path>) -> Result<Vec<String>> {
    let tinted = matched
        .one_tint
        .as_ref()
        .filter(|tint| !tint.stands)
        .map(|_| [Some(&matched.skin), matched.foam.as_ref()]);
    let commands = tinted.into_iter().flatten().flatten().map(|cup| {
        let Poured {
            base,
            base_mass,
            mix,
        } = &cup.recipe.best().poured;
        let [base, mix] = [base, &matched.spelled_out(mix)?.to_string()].map(|text| quoted(text));
        // The demo is read without being named.
        let book = book.map_or(String::new(), |folder| naming(Some(folder)));
        let base_g = base_mass.0;
        Ok(format!(
            "dropwise batch{book} --base {base} --base-g {base_g} --mix {mix} --times 10"
        ))
    });
    commands.collect()
}

/// The option that names `book`, where a command would take another without it.
pub(super) fn naming(book: Option<&Path>) -> String {
    match book {
        // The demo is never written to.
        None => " --book DIR".to_owned(),
        Some(here) if here == Path::new(".") => String::new(),
        Some(folder) => format!(" --book {}", quoted(&folder.display().to_string())),
    }
}

/// `text` as one word of a shell's, in quotes where it needs them.
fn word(text: &str) -> String {
    let is_plain = |letter: char| letter.is_alphanumeric() || "-_.".contains(letter);
    if text.chars().all(is_plain) && !text.starts_with('-') {
        text.to_owned()
    } else {
        quoted(text)
    }
}

/// `text` as one word of a shell's.
pub(super) fn quoted(text: &str) -> String {
    let escaped = text.chars().flat_map(|letter| {
        let escape = "\\\"$`".contains(letter).then_some('\\');
        escape.into_iter().chain([letter])
    });
    format!("\"{}\"", escaped.collect::<String>())
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;
    use crate::batch::{Pour, Scale, pour};
    use crate::materials::fixtures::shelf;
    use crate::materials::{Cup, Poured};

    #[test]
    fn two_cups_from_one_jar_are_taken_off_it_together_and_each_base_has_its_command() {
        let day = date(2026, 3, 10);
        let mut shelf = shelf();
        for base in ["paint", "skin"] {
            shelf.let_downs.push(LetDown {
                colorant: "red 1:20".parse().expect("a let-down"),
                lot: String::new(),
                base: base.to_owned(),
                made: day,
                mass: Grams(5.0),
                keeps_until: day,
            });
        }
        let cups = [
            ("skin", "red 1:20 2"),
            ("paint", "red 1:20 3"),
            ("paint", "red 1:20 4; white 1:5 2"),
            ("foam", "red 1:20 5"),
        ];
        let pours = cups.map(|(base, mix)| {
            let poured = Poured {
                base: base.to_owned(),
                base_mass: Grams(60.0),
                mix: mix.parse().expect(mix),
            };
            let cup = Cup::pour(&shelf, &poured).expect("a sound cup");
            let scale = Scale {
                factor: 1.0,
                largest_pot: None,
            };
            pour(&cup, scale, &shelf, day).expect("a batch")
        });
        // Drops of 0.03 g: 2 in the skin; 3 and 4 in the paints. The foam's, and the white, are made.
        let expected = [
            r#"dropwise let-down take "red 1:20 0.06 g" --base "skin" --date 2026-03-10"#,
            r#"dropwise let-down take "red 1:20 0.21 g" --base "paint" --date 2026-03-10"#,
        ];
        assert_eq!(
            take_commands(
                pours.iter().map(Pour::called_for),
                day,
                Some(Path::new("."))
            ),
            expected,
            "summed"
        );
        let first = || pours[..1].iter().map(Pour::called_for);
        let demo = take_commands(first(), day, None);
        assert!(demo[0].contains("take --book DIR "), "{demo:?}");
        let now = take_commands(first(), today(), Some(Path::new(".")));
        assert!(now[0].ends_with("\"skin\""), "of today: {now:?}");
        let none = take_commands(pours[3..].iter().map(Pour::called_for), day, None);
        assert!(none.is_empty(), "nothing stands for foam: {none:?}");
    }

    #[test]
    fn a_word_is_quoted_so_that_a_shell_leaves_it_as_it_is() {
        assert_eq!(quoted("clear skin"), "\"clear skin\"", "a space");
        assert_eq!(
            quoted(r#"5" $a `b` \"#),
            r#""5\" \$a \`b\` \\""#,
            "its own signs"
        );
    }
}
