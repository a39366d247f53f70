//! What the page calls things.

use std::borrow::Cow;

use jiff::civil::Date;

use crate::error::Setting;

/// What the page calls a setting that advice speaks of: its field or its button.
pub(super) fn naming(setting: Setting) -> Cow<'static, str> {
    match setting {
        Setting::Replace => Cow::Borrowed("“Pour by this from now on”"),
        Setting::Why => Cow::Borrowed("the screen “Why”"),
        Setting::Book => Cow::Borrowed("the command `dropwise serve --book`"),
        other => Cow::Owned(other.to_string()),
    }
}

/// This day, where the page is served.
pub(super) fn today() -> Date {
    jiff::Zoned::now().date()
}

/// `path` of a part called `name`, as it stands in an address.
pub(super) fn part_path(name: &str, screen: &str) -> String {
    format!("/parts/{}/{screen}", encoded(name))
}

/// `text` as one step of an address: all but letters, digits and `-._~` by their bytes.
pub(super) fn encoded(text: &str) -> String {
    let mut encoded = String::new();
    for byte in text.bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => {
                encoded.push(char::from(byte));
            }
            other => encoded.push_str(&format!("%{other:02X}")),
        }
    }
    encoded
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_one_step_of_an_address() {
        assert_eq!(
            part_path("left arm/ü", "pour"),
            "/parts/left%20arm%2F%C3%BC/pour",
            "encoded"
        );
    }
}
