//! Text where colour is not wanted.

use std::io::{self, Write};

/// Most bytes that are taken at once.
const PIECE: usize = 1 << 16;

/// What the next byte belongs to. Colours are control sequences as ECMA-48, section 5.4, has them, by which all styles of a terminal
/// are set: escape, `[`, parameters, and one final byte from `@` to `~`.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Within {
    Text,
    /// The escape has been seen.
    Begun,
    /// The bracket too.
    Sequence,
}

const ESCAPE: u8 = 0x1b;

/// Writes text without its colours, and without the blanks at the ends of lines that patches of colour leave.
#[derive(Debug)]
pub struct Plain<W> {
    out: W,
    within: Within,
    /// Blanks that are written as soon as something follows them in their line.
    held: usize,
}

impl<W: Write> Plain<W> {
    /// Writes to `out`.
    pub fn new(out: W) -> Self {
        Self {
            out,
            within: Within::Text,
            held: 0,
        }
    }
}

impl<W> Plain<W> {
    /// Puts `text`, which has no colours, behind what is `plain`, without the blanks at the ends of lines.
    fn take(&mut self, text: &[u8], plain: &mut Vec<u8>) {
        for line in text.split_inclusive(|byte| *byte == b'\n') {
            let end = line.len() - usize::from(line.ends_with(b"\n"));
            let (words, line_end) = line.split_at(end);
            let shown = words.iter().rposition(|byte| *byte != b' ');
            let shown = &words[..shown.map_or(0, |last| last + 1)];
            let blanks = words.len() - shown.len();
            if !shown.is_empty() {
                plain.resize(plain.len() + std::mem::take(&mut self.held), b' ');
                plain.extend_from_slice(shown);
            }
            self.held = if line_end.is_empty() {
                self.held + blanks
            } else {
                0
            };
            plain.extend_from_slice(line_end);
        }
    }
}

impl<W: Write> Write for Plain<W> {
    fn write(&mut self, text: &[u8]) -> io::Result<usize> {
        // A long text goes piece by piece.
        let text = &text[..text.len().min(PIECE)];
        let mut plain = Vec::with_capacity(text.len());
        let mut rest = text;
        while let Some(first) = rest.first() {
            let taken = match self.within {
                Within::Text => {
                    let end = rest.iter().position(|byte| *byte == ESCAPE);
                    let shown = &rest[..end.unwrap_or(rest.len())];
                    self.take(shown, &mut plain);
                    if end.is_some() {
                        self.within = Within::Begun;
                    }
                    shown.len() + usize::from(end.is_some())
                }
                Within::Begun if *first == b'[' => {
                    self.within = Within::Sequence;
                    1
                }
                // An escape alone shows nothing either.
                Within::Begun => {
                    self.within = Within::Text;
                    0
                }
                Within::Sequence => {
                    let end = rest.iter().position(|byte| matches!(byte, b'@'..=b'~'));
                    if end.is_some() {
                        self.within = Within::Text;
                    }
                    end.map_or(rest.len(), |end| end + 1)
                }
            };
            rest = &rest[taken..];
        }
        self.out.write_all(&plain)?;
        Ok(text.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_escape_that_begins_no_colour_is_left_out_and_nothing_after_it() {
        let mut out = Vec::new();
        let mut plain = Plain::new(&mut out);
        plain
            .write_all(b"a\x1bb \x1b[0;1mc\x1b[")
            .expect("a vector takes all");
        assert_eq!(out, b"ab c", "the last sequence has not ended");
    }

    #[test]
    fn colours_and_blanks_at_the_end_of_a_line_are_left_out_however_the_text_comes_in_pieces() {
        let text = "\u{1b}[1mTarget\u{1b}[0m   L* 66  \u{1b}[48;2;9;9;9m      \u{1b}[0m\n  a  b \n";
        for piece in 1..=text.len() {
            let mut out = Vec::new();
            let mut plain = Plain::new(&mut out);
            for bytes in text.as_bytes().chunks(piece) {
                plain.write_all(bytes).expect("a vector takes all");
            }
            let plain = String::from_utf8(out).expect("UTF-8");
            assert_eq!(plain, "Target   L* 66\n  a  b\n", "in pieces of {piece}");
        }
    }
}
