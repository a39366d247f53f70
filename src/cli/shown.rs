//! What was typed, or stands in a file, said again at a terminal: it may neither steer it nor fill it.

use crate::materials::is_unseen;

/// Most characters that are shown, and how many of a longer text's end.
const MOST: usize = 1000;
const OF_ITS_END: usize = 300;

/// `text` with the numbers of signs that are not seen in their place, and without the middle where it would fill the terminal: an
/// error names the place first and the mend last.
pub(super) fn shown(text: &str) -> String {
    let mut signs = Vec::new();
    for sign in text.chars() {
        if is_unseen(sign) {
            signs.extend(sign.escape_unicode());
        } else {
            signs.push(sign);
        }
    }
    if signs.len() > MOST {
        signs.splice(MOST - OF_ITS_END - 1..signs.len() - OF_ITS_END, ['…']);
    }
    signs.into_iter().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_a_terminal_is_told_by_its_number() {
        let shown = shown("a\u{1b}[2J\u{202e}b: no such file");
        assert_eq!(shown, r"a\u{1b}[2J\u{202e}b: no such file");
    }

    #[test]
    fn of_a_long_text_place_and_mend_are_left() {
        let most = "x".repeat(MOST);
        assert_eq!(shown(&most), most, "it is not too long");
        let shown = shown(&format!("a.csv: {} (write less)", "ß".repeat(65_536)));
        assert_eq!(shown.chars().count(), MOST, "{shown}");
        assert!(shown.starts_with("a.csv: ß"), "{shown}");
        assert!(shown.contains("ß…ß"), "{shown}");
        assert!(shown.ends_with("ß (write less)"), "{shown}");
    }
}
