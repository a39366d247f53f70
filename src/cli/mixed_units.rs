//! Ounces beside grams: both are taken, and told, since 8 oz are 227 g and not 300.

use std::ffi::OsString;

use crate::materials::Grams;

/// Options that take a mass and don't end in its unit.
const MASSES: [&str; 5] = [
    "--g",
    "--to",
    "--largest-pot",
    "--largest-foam-pot",
    "--weigh",
];

/// What to think of where `arguments` have one mass in ounces or pounds and another in grams: each of the former in grams.
pub(super) fn mixed_units(arguments: &[OsString]) -> Option<String> {
    let words: Vec<&str> = arguments.iter().filter_map(|word| word.to_str()).collect();
    let pairs = words.windows(2).map(|pair| (pair[0], pair[1]));
    let joined = words.iter().filter_map(|word| word.split_once('='));
    let is_mass = |(option, _): &(&str, &str)| option.ends_with("-g") || MASSES.contains(option);
    let typed: Vec<&str> = (pairs.chain(joined).filter(is_mass))
        .map(|(_, mass)| mass.trim())
        .filter(|mass| mass.starts_with(|first: char| first.is_ascii_digit()))
        .collect();
    let (imperial, metric): (Vec<&str>, Vec<&str>) = typed
        .into_iter()
        .partition(|mass| mass.ends_with("oz") || mass.ends_with("lb"));
    if imperial.is_empty() || metric.is_empty() {
        return None;
    }
    let told = imperial.into_iter().filter_map(|mass| {
        let grams: Grams = mass.parse().ok()?;
        Some(format!("{mass} is {:.0} g", grams.0))
    });
    let told: Vec<String> = told.collect();
    Some(format!(
        "note: {}, beside what is typed in grams: is that what you mean?\n",
        told.join(", ")
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(line: &str) -> Option<String> {
        let words: Vec<OsString> = line.split(' ').map(OsString::from).collect();
        mixed_units(&words)
    }

    /// Source: NIST Special Publication 811 (2008), appendix B.8: an avoirdupois ounce is 28.349 52 g, a pound 453.592 4 g.
    #[test]
    fn ounces_beside_grams_are_told_in_grams() {
        let both = told("dropwise match --base-g 8oz --foam-g 300 --target 65,11,14");
        assert!(both.is_some_and(|note| note.contains("8oz is 227 g")));
        let joined = told("dropwise batch --base-g=2lb --to 900g");
        assert!(joined.is_some_and(|note| note.contains("2lb is 907 g")));
        for line in [
            "dropwise match --base-g 8oz --foam-g 4oz",
            "dropwise match --base-g 600 --foam-g 0.3kg",
            "dropwise match --base-g 8oz --title 300",
        ] {
            assert_eq!(told(line), None, "{line}");
        }
    }
}
