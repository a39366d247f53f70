//! Numbers of the book: what each is called, its range, and how it is written.

use crate::error::{Error, Result};
use crate::materials::with_point;

/// A column (or a setting) of numbers.
pub(super) struct Number {
    /// Its name, unit included.
    pub(super) name: &'static str,
    /// Smallest and largest value.
    pub(super) range: (f64, f64),
    /// A value as one might write it.
    pub(super) example: &'static str,
}

impl Number {
    /// Takes `value` if it lies in the range, named in the error as `found`.
    pub(super) fn within(&self, value: f64, found: impl std::fmt::Display) -> Result<f64> {
        let (low, high) = self.range;
        if (low..=high).contains(&value) {
            return Ok(value);
        }
        let error = Error::input(format!(
            "{} is {found}; expected {}",
            self.name,
            self.expected()
        ));
        Err(
            if high == 1.0 && value > 1.5 && (low..=1.0).contains(&(value / 100.0)) {
                // To the digits of the percentage: 22.2857 is not 0.22285699999999997.
                let share = (value * 1e6).round() / 1e8;
                error.mend(format!("in percent? write {share}"))
            } else if high < 1.0
                && self.name.ends_with("_g")
                && (low..=high).contains(&(value / 1000.0))
            {
                error.mend(format!("in milligrams? write {}", value / 1000.0))
            } else {
                error
            },
        )
    }

    /// What is expected, in words.
    pub(super) fn expected(&self) -> String {
        format!("a number from {} to {}", self.range.0, self.range.1)
    }

    /// The value that `text`, which is not empty, writes.
    pub(super) fn read(&self, text: &str) -> Result<f64> {
        let value = text.parse::<f64>();
        let (low, high) = self.range;
        if let Ok(value) = value
            && (low..=high).contains(&value)
        {
            return Ok(value);
        }
        let found = format!("\"{}\"", text.escape_debug());
        match value {
            Ok(value) if value.is_finite() => self.within(value, found),
            _ => Err(Error::input(format!(
                "{} is {found}; expected {} with a point",
                self.name,
                self.expected()
            ))
            .mend(match with_point(text) {
                Some(pointed) => format!("write {pointed}"),
                None => self.advice(),
            })),
        }
    }

    /// How to write one.
    pub(super) fn advice(&self) -> String {
        format!("write digits, such as {}", self.example)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_in_percent_is_mended() {
        const SHARE: Number = Number {
            name: "share",
            range: (0.0, 1.0),
            example: "0.03",
        };
        let line = |text: &str| SHARE.read(text).expect_err(text).to_string();
        let expected = "share is \"3\"; expected a number from 0 to 1 (in percent? write 0.03)";
        assert_eq!(line("3"), expected, "three percent");
        assert!(line("22.2857").ends_with("write 0.222857)"), "clean digits");
        let expected = "share is \"1.2\"; expected a number from 0 to 1";
        assert_eq!(line("1.2"), expected, "no share, and hardly a percentage");
        assert_eq!(SHARE.read("1e-3").ok(), Some(0.001), "digits of any kind");
    }

    #[test]
    fn a_drop_in_milligrams_is_mended() {
        const DROP_G: Number = Number {
            name: "drop_g",
            range: (0.002, 0.3),
            example: "0.03",
        };
        let line = |text: &str| DROP_G.read(text).expect_err(text).to_string();
        let expected =
            "drop_g is \"30\"; expected a number from 0.002 to 0.3 (in milligrams? write 0.03)";
        assert_eq!(line("30"), expected, "a drop of 30 mg");
        assert!(line("0.001").ends_with("from 0.002 to 0.3"), "too light");
    }
}
