//! What a form says: its fields by name, each read as what it stands for, with the field named where it is not.

use std::collections::BTreeMap;
use std::str::FromStr;

use maud::{Markup, html};

use crate::colour::Lab;
use crate::error::{Error, Result};
use crate::materials::is_unseen;

/// The fields of a form that was sent.
#[derive(Clone, Debug, Default, serde::Deserialize)]
#[serde(transparent)]
pub(super) struct Fields(BTreeMap<String, String>);

impl Fields {
    pub(super) fn set(&mut self, name: &str, value: String) {
        self.0.insert(name.to_owned(), value);
    }

    /// What stands in the field `name`, without blanks around it; empty where there is none.
    pub(super) fn text(&self, name: &str) -> &str {
        self.0.get(name).map_or("", |value| value.trim())
    }

    /// The same; `None` where it is empty.
    pub(super) fn given(&self, name: &str) -> Option<&str> {
        Some(self.text(name)).filter(|text| !text.is_empty())
    }

    /// What the field `name` stands for, which people know as `what`; `None` where it is empty.
    ///
    /// # Errors
    /// What can't be read as that, with the field named.
    pub(super) fn read<T: FromStr<Err = Error>>(
        &self,
        name: &str,
        what: &str,
    ) -> Result<Option<T>> {
        let read = self.given(name).map(|text| with_point(text).parse());
        read.transpose().map_err(|error: Error| error.within(what))
    }

    /// The number in the field `name`; `None` where it is empty.
    ///
    /// # Errors
    /// As [`read`](Self::read).
    pub(super) fn number(&self, name: &str, what: &str) -> Result<Option<f64>> {
        let Some(text) = self.given(name) else {
            return Ok(None);
        };
        let number = with_point(text)
            .parse::<f64>()
            .ok()
            .filter(|value| value.is_finite());
        number.map(Some).ok_or_else(|| {
            let finding = format!("{what} is \"{}\"; expected a number", text.escape_debug());
            Error::input(finding).mend("write a number, such as 12.5")
        })
    }

    /// The colour in the fields `l`, `a` and `b`; `None` where all are empty.
    ///
    /// # Errors
    /// Only one or two of them; as [`number`](Self::number).
    pub(super) fn lab(&self) -> Result<Option<Lab>> {
        let numbers =
            [("l", "L*"), ("a", "a*"), ("b", "b*")].map(|(name, what)| self.number(name, what));
        let [l, a, b] = numbers;
        match (l?, a?, b?) {
            (None, None, None) => Ok(None),
            (Some(l), Some(a), Some(b)) => Ok(Some(Lab::new(l, a, b))),
            _ => Err(Error::input("a reading has three numbers").mend("fill in L*, a* and b*")),
        }
    }

    /// All fields but those named, for a form that sends them again; without signs that are [not seen](is_unseen), which nothing
    /// that is written here may hold.
    pub(super) fn again(&self, but: &[&str]) -> Markup {
        let seen = |text: &str| text.replace(is_unseen, "");
        let kept = (self.0.iter()).filter(|(name, _)| !but.contains(&name.as_str()));
        html! {
            @for (name, value) in kept { input type="hidden" name=(seen(name)) value=(seen(value)); }
        }
    }
}

/// `text` with a decimal comma as a point: the keys of many telephones have no other.
fn with_point(text: &str) -> String {
    let is_decimal = text.matches(',').count() == 1 && !text.contains('.');
    match is_decimal {
        true => text.replace(',', "."),
        false => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::materials::Grams;

    fn fields(of: &[(&str, &str)]) -> Fields {
        let mut fields = Fields::default();
        for (name, value) in of {
            fields.set(name, (*value).to_owned());
        }
        fields
    }

    #[test]
    fn numbers_are_read_with_a_point_or_a_comma_and_the_field_is_named() {
        let form = fields(&[("l", "61,5"), ("a", "12"), ("b", "-3.5"), ("mass", "ten")]);
        assert_eq!(
            form.lab().expect("a colour"),
            Some(Lab::new(61.5, 12.0, -3.5)),
            "colour"
        );
        let error = form
            .read::<Grams>("mass", "the mass of skin")
            .expect_err("no mass");
        assert!(error.to_string().contains("the mass of skin"), "{error}");
        let two = fields(&[("l", "61"), ("a", "12")]);
        assert!(two.lab().is_err(), "two of three");
        assert_eq!(fields(&[]).lab().expect("none"), None, "none");
        assert!(
            fields(&[("l", "NaN"), ("a", "1"), ("b", "1")])
                .lab()
                .is_err(),
            "no number"
        );
    }

    #[test]
    fn what_is_sent_again_holds_nothing_that_is_not_seen() {
        let form = fields(&[("name", "a\u{1b}[2J\u{202e}b"), ("revision", "1")]);
        let again = form.again(&["revision"]).into_string();
        assert_eq!(again, r#"<input type="hidden" name="name" value="a[2Jb">"#);
    }
}
