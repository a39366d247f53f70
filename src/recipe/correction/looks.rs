//! A casting judged by eye: how it looks beside the tone that was aimed at.

use std::fmt;
use std::str::FromStr;

use crate::colour::Lab;
use crate::error::{Error, Result};

/// What the eye says of a casting beside its tone, such as `much darker, a little redder`.
#[derive(Clone, Debug, PartialEq)]
pub struct Looks {
    /// ΔL*, Δa* and Δb* from the tone to the casting, as the words stand for; 0 where nothing was said.
    steps: [f64; 3],
    words: String,
}

/// The step of a word by itself, in L*, a* or b*: a difference that is seen at once, without looking for it. This project's
/// own choice, without a source.
const STEP: f64 = 3.0;

/// What `much` makes of a step. This project's own choice.
const MUCH: f64 = 2.0;

/// What `a little` makes of a step. This project's own choice.
const A_LITTLE: f64 = 0.5;

/// Standard deviation of a step, as a share of it. This project's own choice: words mean other things to each of us.
const SHARE_SD: f64 = 0.5;

/// Least standard deviation of L*, a* or b* as the eye tells them, also where nothing was said. This project's own choice.
const LEAST_SD: f64 = 1.5;

/// The words, with the index of what they speak of and their sign.
const WORDS: [(&str, usize, f64); 8] = [
    ("lighter", 0, 1.0),
    ("darker", 0, -1.0),
    ("redder", 1, 1.0),
    ("greener", 1, -1.0),
    ("less red", 1, -1.0),
    ("yellower", 2, 1.0),
    ("bluer", 2, -1.0),
    ("less yellow", 2, -1.0),
];

impl Looks {
    /// The colour that the casting then has, and one standard deviation of its L*, a* and b*.
    pub fn beside(&self, tone: Lab) -> (Lab, [f64; 3]) {
        let [l, a, b] = self.steps;
        let sd = self.steps.map(|step| (SHARE_SD * step.abs()).max(LEAST_SD));
        let seen = Lab::new((tone.l + l).clamp(0.0, 100.0), tone.a + a, tone.b + b);
        (seen, sd)
    }

    /// ΔL*, Δa* and Δb* that the words stand for.
    pub fn steps(&self) -> [f64; 3] {
        self.steps
    }
}

impl FromStr for Looks {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        let mut steps = [0.0; 3];
        for phrase in text.split(',').map(str::trim) {
            let (times, word) = if let Some(word) = phrase.strip_prefix("much ") {
                (MUCH, word)
            } else if let Some(word) = phrase.strip_prefix("a little ") {
                (A_LITTLE, word)
            } else {
                (1.0, phrase)
            };
            let known = WORDS.iter().find(|(known, ..)| *known == word.trim());
            let Some(&(_, axis, sign)) = known else {
                let words = WORDS.iter().map(|(word, ..)| *word);
                let known = words.chain(["much darker", "a little darker"]);
                return Err(Error::unknown_name("look of a casting", phrase, known));
            };
            if steps[axis] != 0.0 {
                let finding = format!("`{}` says one thing twice", text.escape_debug());
                return Err(
                    Error::input(finding).mend("say how light, how red, how yellow once each")
                );
            }
            steps[axis] = times * sign * STEP;
        }
        Ok(Self {
            steps,
            words: text.trim().to_owned(),
        })
    }
}

impl fmt::Display for Looks {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.words)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_steps_with_a_wide_spread() {
        let looks = |text: &str| text.parse::<Looks>().expect(text);
        assert_eq!(
            looks("darker, redder").steps(),
            [-3.0, 3.0, 0.0],
            "a step each"
        );
        assert_eq!(
            looks("much lighter, a little bluer").steps(),
            [6.0, 0.0, -1.5],
            "twice and half"
        );
        assert_eq!(
            looks("less red").steps(),
            looks("greener").steps(),
            "the same"
        );
        let (seen, sd) = looks("much darker").beside(Lab::new(60.0, 12.0, 15.0));
        assert_eq!(seen, Lab::new(54.0, 12.0, 15.0), "beside the tone");
        assert_eq!(
            sd,
            [3.0, 1.5, 1.5],
            "half the step, and never less than 1.5"
        );
    }

    #[test]
    fn other_words_are_refused_with_those_that_are_known() {
        for (text, says) in [
            ("dark", "darker"),
            ("", "lighter"),
            ("darker, lighter", "says one thing twice"),
            ("very dark red", "much darker"),
        ] {
            let error = text.parse::<Looks>().expect_err(text).to_string();
            assert!(error.contains(says), "{text}: {error}");
        }
    }
}
