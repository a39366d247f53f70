//! Whether the coded data of a WebP file are the picture that its header promises.
//!
//! The format has no check sums, and a decoder takes almost any bits for some picture: a few damaged bytes of a lossy one give
//! colours that nobody photographed from there on. So the coded data are walked here first, as a strict decoder would, and nothing
//! is drawn and no pixel kept. Every part must hold just as many blocks or pixels as its header says, and end where they end:
//! damage makes a decoder lose its step, and then it comes out somewhere else. What lies near the end of a part, or falls back into
//! step all the same, is not told. A lossless picture falls back into step as often as not, since its codes are for single pixels.
//!
//! Source: RFC 9649 (2024), WebP Image Format: sections 2 (container) and 3 (lossless coding); RFC 6386 (2011), VP8 Data Format and
//! Decoding Guide (lossy coding).

mod bools;
mod codes;
mod lossless;
mod lossy;
mod tables;

use std::io::{BufRead, Read as _, Seek, SeekFrom};

/// What is wrong with a file.
#[derive(Debug)]
pub(super) enum Damage {
    /// The coded data end before the picture does.
    Missing,
    /// They are no coding of a picture.
    Garbled,
    /// A lossy picture is larger than [`MOST_LOSSY`].
    TooLarge,
    /// The machine could not read it.
    Unreadable(std::io::Error),
}

impl From<std::io::Error> for Damage {
    fn from(cause: std::io::Error) -> Self {
        match cause.kind() {
            std::io::ErrorKind::UnexpectedEof => Self::Missing,
            _ => Self::Unreadable(cause),
        }
    }
}

type Walked<T> = Result<T, Damage>;

/// Largest lossy picture, bytes of its file: it is walked in memory. Ten bits a pixel of 24 million would fit.
pub(super) const MOST_LOSSY: u64 = 32 << 20;

/// A part of the container: its name, how many bytes it has, and that they begin where the file stands.
struct Chunk {
    name: [u8; 4],
    length: u64,
}

impl Chunk {
    /// The next one; `None` at the end of the file.
    fn next(file: &mut impl BufRead) -> Walked<Option<Self>> {
        if file.fill_buf()?.is_empty() {
            return Ok(None);
        }
        let mut head = [0; 8];
        file.read_exact(&mut head)?;
        let [a, b, c, d, length @ ..] = head;
        Ok(Some(Self {
            name: [a, b, c, d],
            length: u64::from(u32::from_le_bytes(length)),
        }))
    }

    /// Where the next one begins, for one that begins at `start`: at an even place.
    fn end(&self, start: u64) -> u64 {
        start + self.length + self.length % 2
    }
}

/// Walks the coded data of the still WebP picture `file` of so many `bytes`; an animated one is left to its decoder, which says so.
/// Returns whether damage to them shows, as it does to all but lossless ones.
///
/// # Errors
///
/// What is wrong with them.
pub(super) fn walk(file: &mut (impl BufRead + Seek), bytes: u64) -> Walked<bool> {
    // RIFF, its size, WEBP.
    let mut at = file.seek(SeekFrom::Start(12))?;
    let mut size = None;
    let mut alpha_is_walked = false;
    while let Some(chunk) = Chunk::next(file)? {
        let start = at + 8;
        if start + chunk.length > bytes {
            return Err(Damage::Missing);
        }
        match &chunk.name {
            b"ANIM" => return Ok(true),
            b"VP8X" => size = Some(canvas(file)?),
            // The first counts, as for the decoder.
            b"ALPH" if !alpha_is_walked => {
                alpha_is_walked = true;
                let size = size.ok_or(Damage::Garbled)?;
                lossless::walk_alpha(file.by_ref().take(chunk.length), size)?;
            }
            b"VP8L" => {
                lossless::walk(file.by_ref().take(chunk.length))?;
                return Ok(false);
            }
            b"VP8 " if chunk.length > MOST_LOSSY => return Err(Damage::TooLarge),
            b"VP8 " => {
                let mut content = Vec::new();
                file.by_ref().take(chunk.length).read_to_end(&mut content)?;
                lossy::walk(&content)?;
                return Ok(true);
            }
            _ => {}
        }
        at = file.seek(SeekFrom::Start(chunk.end(start)))?;
    }
    // No picture at all, which the decoder says better.
    Ok(true)
}

/// Width and height of an extended file's canvas.
fn canvas(file: &mut impl BufRead) -> Walked<[u32; 2]> {
    let mut head = [0; 10];
    file.read_exact(&mut head)?;
    let [_, _, _, _, width @ .., _, _, _] = head;
    let [_, _, _, _, _, _, _, height @ ..] = head;
    Ok([width, height].map(|[low, middle, high]| u32::from_le_bytes([low, middle, high, 0]) + 1))
}
