//! What the head of an instrument's file states of its readings.

use crate::colour::{Illuminant, Observer};
use crate::error::Result;
use crate::optics::Specular;

/// A keyword of a file's head, and its value.
#[derive(Clone, Debug)]
pub(super) struct Statement {
    pub(super) keyword: String,
    pub(super) value: String,
    pub(super) line: u64,
}

/// What the statements of a file's head come to.
#[derive(Clone, Debug, Default)]
pub(super) struct Stated {
    pub(super) illuminant: Option<Illuminant>,
    pub(super) unknown_light: Option<Statement>,
    pub(super) observer: Option<Observer>,
    pub(super) specular: Option<Specular>,
    pub(super) aperture_mm: Option<f64>,
}

impl Stated {
    /// Writers say it in many ways: `WEIGHTING_FUNCTION "ILLUMINANT, D50"`, `ILLUMINATION_NAME "D50"`,
    /// `MEASUREMENT_SOURCE "Illumination=D50 ObserverAngle=2"`; so words are looked for, whatever their keyword.
    pub(super) fn of(statements: &[Statement]) -> Self {
        let mut stated = Self::default();
        for statement in statements {
            let whole = format!("{} {}", statement.keyword, statement.value);
            let words: Vec<&str> = whole
                .split(|c: char| !(c.is_alphanumeric() || "-.:/°".contains(c)))
                .filter(|word| !word.is_empty())
                .collect();
            for (index, word) in words.iter().enumerate() {
                let after = &words[index + 1..];
                let word = word.to_ascii_lowercase();
                if word.starts_with("illumin") {
                    stated.light(after, statement);
                } else if word.starts_with("observer") {
                    stated.observer = after
                        .iter()
                        .find_map(|word| observer(word))
                        .or(stated.observer);
                } else if word.contains("aperture") {
                    let number = |word: &&str| digits(word).parse().ok();
                    stated.aperture_mm = after.iter().find_map(number).or(stated.aperture_mm);
                } else if word.contains("specular") {
                    let found = after.iter().find_map(|word| specular(word).ok());
                    stated.specular = found.or(stated.specular);
                } else if word.contains("geometry") {
                    stated.specular = after
                        .iter()
                        .find_map(|word| geometry(word))
                        .or(stated.specular);
                }
            }
        }
        stated
    }

    fn light(&mut self, words: &[&str], statement: &Statement) {
        // Names are in capitals; the article `a` is not.
        let capitals = words
            .iter()
            .filter(|word| word.to_ascii_uppercase() == **word);
        let known = capitals.clone().find_map(|word| light(word));
        let looks_like_one = |word: &&&str| {
            let rest = word.trim_start_matches(['C', 'D', 'E', 'F', 'L']);
            rest.len() < word.len() && rest.chars().all(|c| c.is_ascii_digit())
        };
        if let Some(known) = known {
            self.illuminant = Some(known);
            self.unknown_light = None;
        } else if let Some(word) = capitals.clone().find(looks_like_one) {
            self.illuminant = None;
            self.unknown_light = Some(Statement {
                value: (*word).to_owned(),
                ..statement.clone()
            });
        }
    }
}

/// The light of that name; `F11` is an older way to write `FL11`.
fn light(word: &str) -> Option<Illuminant> {
    let older = word
        .strip_prefix('F')
        .filter(|rest| rest.starts_with(|c: char| c.is_ascii_digit()));
    match older {
        Some(number) => format!("FL{number}").parse().ok(),
        None => word.parse().ok(),
    }
}

/// The digits that a word begins with, and its point.
fn digits(word: &str) -> &str {
    let end = word
        .find(|c: char| !(c.is_ascii_digit() || c == '.'))
        .unwrap_or(word.len());
    word[..end].trim_end_matches('.')
}

fn observer(word: &str) -> Option<Observer> {
    digits(word).parse().ok()
}

/// What a word says of the mirrored light.
pub(super) fn specular(word: &str) -> Result<Specular> {
    match word.to_ascii_lowercase().as_str() {
        "included" | "inclusive" | "sci" | "yes" => Ok(Specular::Included),
        "excluded" | "exclusive" | "sce" | "no" => Ok(Specular::Excluded),
        _ => geometry(word).map_or_else(|| word.parse(), Ok),
    }
}

/// What the CIE's name of a geometry says of the mirrored light.
///
/// Source: CIE 015:2018, section 5 (section number from memory): di:8° and 8°:di count it, de:8° and 8°:de have a gloss
/// trap; 45°:0° and 0°:45°, all round (a, c) or from one side (x), are one to a smooth surface.
fn geometry(word: &str) -> Option<Specular> {
    let plain: String = word
        .to_ascii_lowercase()
        .replace('/', ":")
        .replace(['°', 'x', 'a', 'c'], "");
    match plain.as_str() {
        "di:8" | "8:di" => Some(Specular::Included),
        "de:8" | "8:de" => Some(Specular::Excluded),
        "45:0" | "0:45" => Some(Specular::FortyFive),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stated(statements: &[(&str, &str)]) -> Stated {
        let statement = |(keyword, value): &(&str, &str)| Statement {
            keyword: (*keyword).to_owned(),
            value: (*value).to_owned(),
            line: 1,
        };
        Stated::of(&statements.iter().map(statement).collect::<Vec<_>>())
    }

    #[test]
    fn light_and_observer_are_found_however_they_are_stated() {
        for statements in [
            vec![
                ("WEIGHTING_FUNCTION", "ILLUMINANT, FL11"),
                ("WEIGHTING_FUNCTION", "OBSERVER, 10 degree"),
            ],
            vec![("ILLUMINATION_NAME", "F11"), ("OBSERVER_ANGLE", "10")],
            vec![(
                "MEASUREMENT_SOURCE",
                "Illumination=FL11 ObserverAngle=10 WhiteBase=Abs",
            )],
            vec![("illuminant", "FL11"), ("observer", "10°")],
        ] {
            let stated = stated(&statements);
            assert_eq!(stated.illuminant, Some(Illuminant::Fl11), "{statements:?}");
            assert_eq!(stated.observer, Some(Observer::Cie1964), "{statements:?}");
            assert!(stated.unknown_light.is_none(), "{statements:?}");
        }
        let unknown = stated(&[("WEIGHTING_FUNCTION", "ILLUMINANT, D55")]).unknown_light;
        assert_eq!(
            unknown.map(|stated| stated.value).as_deref(),
            Some("D55"),
            "not tabled here"
        );
        let prose = stated(&[
            ("DESCRIPTOR", "illuminated by a lamp at 45 degrees"),
            ("ILLUMINATION_ANGLE", "45"),
        ]);
        assert!(
            prose.illuminant.is_none() && prose.unknown_light.is_none(),
            "prose"
        );
    }

    #[test]
    fn geometry_tells_whether_mirrored_light_counts() {
        let of = |keyword, value| stated(&[(keyword, value)]).specular;
        for value in ["45/0", "0/45", "45°:0°", "45:0", "45a:0", "45°c:0°"] {
            assert_eq!(
                of("MEASUREMENT_GEOMETRY", value),
                Some(Specular::FortyFive),
                "{value}"
            );
            assert_eq!(of("SPECULAR", value), Some(Specular::FortyFive), "{value}");
        }
        assert_eq!(
            of("MEASUREMENT_GEOMETRY", "de:8°"),
            Some(Specular::Excluded),
            "gloss trap"
        );
        assert_eq!(
            of("MEASUREMENT_GEOMETRY", "di:8°"),
            Some(Specular::Included),
            "sphere"
        );
        assert_eq!(of("MEASUREMENT_GEOMETRY", "d/8"), None, "does not say");
        assert_eq!(of("SPECULAR", "SCE"), Some(Specular::Excluded), "in short");
        assert_eq!(
            of("SPECULAR_COMPONENT", "included"),
            Some(Specular::Included),
            "in full"
        );
        let aperture = stated(&[("APERTURE", "8mm"), ("KEYWORD", "APERTURE_MM")]).aperture_mm;
        assert_eq!(aperture, Some(8.0), "with its unit");
    }
}
