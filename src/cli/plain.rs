//! Text where colour is not wanted.

use std::io::{self, Write};

use anstream::adapter::StripBytes;

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
        let mut plain = Vec::with_capacity(text.len());
        for &byte in self.colours.strip_next(text).flatten() {
            match byte {
                b' ' => self.held += 1,
                b'\n' => {
                    self.held = 0;
                    plain.push(byte);
                }
                _ => {
                    plain.resize(plain.len() + std::mem::take(&mut self.held), b' ');
                    plain.push(byte);
                }
            }
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
