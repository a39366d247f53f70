//! A mix as a notebook writes it: `iron oxide red 3; titanium white 6; fibre 12.5 g`.

use std::fmt;
use std::str::FromStr;
use std::sync::Arc;

use serde::{Serialize, Serializer};

use super::units::{Grams, check_range, parse_number};
use crate::error::{Error, Result};

/// What goes into a base, in the order it was written. Thousands of castings may share one, which is never changed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mix(Arc<[(Colorant, Amount)]>);

/// A pigment, straight from the bottle or as a let-down.
#[derive(Clone, Debug, PartialEq)]
pub struct Colorant {
    /// The pigment's name.
    pub pigment: String,
    /// Parts by mass of the let-down that hold one part of dispersion, the rest being clear base: 10 for
    /// `1:10`, 1 for the bottle itself.
    pub let_down: f64,
}

/// Most drops or grams of one colorant that can be written: no cup takes more.
const MOST: f64 = 1_000_000.0;

/// How much of a colorant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Amount {
    /// Counted drops; not negative.
    Drops(f64),
    /// Weighed grams; not negative.
    Mass(Grams),
}

impl Mix {
    /// The mix of `entries`.
    ///
    /// # Errors
    /// A colorant that is named twice, since one of the two is probably a slip.
    pub fn new(entries: Vec<(Colorant, Amount)>) -> Result<Self> {
        for (index, (colorant, _)) in entries.iter().enumerate() {
            if entries[..index]
                .iter()
                .any(|(earlier, _)| earlier == colorant)
            {
                return Err(
                    Error::input(format!("`{colorant}` stands twice in the mix"))
                        .mend("write it once, with the sum"),
                );
            }
        }
        Ok(Self(entries.into()))
    }

    /// The colorants and their amounts, in the order they were written.
    pub fn entries(&self) -> &[(Colorant, Amount)] {
        &self.0
    }

    /// Whether nothing goes in.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl Colorant {
    /// The pigment straight from its bottle.
    pub fn neat(pigment: impl Into<String>) -> Self {
        Self {
            pigment: pigment.into(),
            let_down: 1.0,
        }
    }
}

impl FromStr for Colorant {
    type Err = Error;

    /// Reads `iron oxide red` or, as a let-down, `iron oxide red 1:10`.
    fn from_str(text: &str) -> Result<Self> {
        let text = text.trim();
        let (name, parts) = match text.rsplit_once(' ') {
            Some((name, ratio)) if ratio.contains(':') => (name.trim(), Some(ratio)),
            _ => (text, None),
        };
        if name.is_empty() {
            return Err(Error::input("a pigment's name is missing").mend("such as iron oxide red"));
        }
        let let_down = match parts {
            None => 1.0,
            Some(ratio) => ratio
                .strip_prefix("1:")
                .and_then(|parts| parse_number(parts).ok())
                .filter(|parts| (1.0..=1000.0).contains(parts) && *parts > 1.0)
                .ok_or_else(|| {
                    Error::input(format!("`{}` is no let-down", ratio.escape_debug()))
                        .mend("write 1:10 for one part in ten; up to 1:1000")
                })?,
        };
        Ok(Self {
            pigment: name.to_owned(),
            let_down,
        })
    }
}

impl fmt::Display for Colorant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.pigment)?;
        if self.let_down > 1.0 {
            write!(f, " 1:{}", self.let_down)
        } else {
            Ok(())
        }
    }
}

impl Serialize for Colorant {
    /// As it is written in a mix.
    fn serialize<S: Serializer>(&self, to: S) -> std::result::Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl FromStr for Mix {
    type Err = Error;

    /// Reads entries parted by semicolons: a name and a number; a bare number is drops, `g` is grams.
    fn from_str(text: &str) -> Result<Self> {
        text.split(';')
            .map(str::trim)
            .filter(|entry| !entry.is_empty())
            .map(parse_entry)
            .collect::<Result<_>>()
            .and_then(Self::new)
    }
}

fn parse_entry(entry: &str) -> Result<(Colorant, Amount)> {
    let amount_missing = || {
        let finding = format!("`{}` lacks its amount", entry.escape_debug());
        let drops = [" drops", " drop"];
        let bare = drops.iter().find_map(|word| entry.strip_suffix(word));
        Error::input(finding).mend(match bare {
            Some(bare) => format!("a bare number is drops: write `{}`", bare.escape_debug()),
            None => "write drops as in `umber 2`, grams as in `fibre 12.5 g`, and a semicolon between entries".to_owned(),
        })
    };
    let (body, weighed) = match entry.strip_suffix('g') {
        Some(body) if body.ends_with(|c: char| c == ' ' || c.is_ascii_digit()) => {
            (body.trim_end(), true)
        }
        _ => (entry, false),
    };
    let (name, number) = body
        .rsplit_once(char::is_whitespace)
        .ok_or_else(amount_missing)?;
    if !number.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c))
        || number.contains(':')
    {
        return Err(amount_missing());
    }
    // A comma parts entries, rather than standing in a name, where an amount stands before it.
    let is_amount =
        |text: &str| text.ends_with(|c: char| c.is_ascii_digit()) || text.ends_with(" g");
    if name
        .split_once(',')
        .is_some_and(|(before, _)| is_amount(before.trim_end()))
    {
        let finding = format!("`{}` parts its entries with a comma", entry.escape_debug());
        let mend = format!(
            "write semicolons: `{}`",
            entry.replace(',', ";").escape_debug()
        );
        return Err(Error::input(finding).mend(mend));
    }
    let in_entry =
        |error: Error| error.within(format_args!("mix entry `{}`", entry.escape_debug()));
    let value = parse_number(number).map_err(in_entry)?;
    if value < 0.0 {
        return Err(in_entry(
            Error::input("an amount below zero").mend("write what went in, or leave the entry out"),
        ));
    }
    let unit = if weighed { "g" } else { "drops" };
    check_range("the amount", value, (0.0, MOST), unit).map_err(in_entry)?;
    let colorant = name.parse().map_err(in_entry)?;
    Ok((
        colorant,
        if weighed {
            Amount::Mass(Grams(value))
        } else {
            Amount::Drops(value)
        },
    ))
}

impl fmt::Display for Mix {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, (colorant, amount)) in self.0.iter().enumerate() {
            let mark = if index == 0 { "" } else { "; " };
            match amount {
                Amount::Drops(count) => write!(f, "{mark}{colorant} {count}")?,
                Amount::Mass(mass) => write!(f, "{mark}{colorant} {mass}")?,
            }
        }
        Ok(())
    }
}

impl Serialize for Mix {
    /// As it is written in a notebook.
    fn serialize<S: Serializer>(&self, to: S) -> std::result::Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_notebook_line_is_read_and_written_back() {
        let line = "iron oxide red 3; titanium white 6; iron oxide red 1:10 4; fibre 12.5 g";
        let mix: Mix = line.parse().expect(line);
        assert_eq!(mix.entries().len(), 4, "four entries");
        assert_eq!(mix.entries()[2].0.let_down, 10.0, "one part in ten");
        assert_eq!(mix.entries()[3].1, Amount::Mass(Grams(12.5)), "weighed");
        assert_eq!(mix.to_string(), line, "there and back");
    }

    #[test]
    fn loose_writing_is_understood() {
        let mix: Mix = " umber  2 ;; fibre 3g; ".parse().expect("loose");
        assert_eq!(mix.to_string(), "umber 2; fibre 3 g", "tidied");
        assert!(
            "".parse::<Mix>().expect("nothing in it").is_empty(),
            "an unpigmented cup"
        );
    }

    #[test]
    fn slips_are_named() {
        for (line, says) in [
            ("umber", "lacks its amount"),
            ("umber two", "lacks its amount"),
            ("iron oxide red 1:10", "lacks its amount"),
            ("umber 2,5", "write 2.5, with a point"),
            ("umber 2 drops", "a bare number is drops: write `umber 2`"),
            (
                "umber 2, fibre 3 g",
                "write semicolons: `umber 2; fibre 3 g`",
            ),
            (
                "fibre 3 g, umber 2",
                "write semicolons: `fibre 3 g; umber 2`",
            ),
            ("umber -2", "below zero"),
            ("umber 2; umber 3", "stands twice"),
            ("umber 2:10 3", "no let-down"),
            ("3", "lacks its amount"),
        ] {
            let error = line.parse::<Mix>().expect_err(line).to_string();
            assert!(error.contains(says), "{line}: {error}");
        }
    }
}
