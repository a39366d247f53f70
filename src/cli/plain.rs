//! Text where colour is not wanted.

use std::io::{self, Write};

use anstream::adapter::StripBytes;

/// Most bytes that are taken at once.
const PIECE: usize = 1 << 16;

/// Writes text without its colours, and without the blanks at the ends of lines that patches of colour leave.
#[derive(Debug)]
pub struct Plain<W> {
    out: W,
    colours: StripBytes,
    /// Blanks that are written as soon as something follows them in their line.
    held: usize,
}

impl<W: Write> Plain<W> {
    /// Writes to `out`.
    pub fn new(out: W) -> Self {
        Self {
            out,
            colours: StripBytes::new(),
            held: 0,
        }
    }
}

impl<W: Write> Write for Plain<W> {
    fn write(&mut self, text: &[u8]) -> io::Result<usize> {
        // A long text goes piece by piece.
        let text = &text[..text.len().min(PIECE)];
        let mut plain = Vec::with_capacity(text.len());
        for line in (self.colours.strip_next(text))
            .flat_map(|piece| piece.split_inclusive(|byte| *byte == b'\n'))
        {
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
