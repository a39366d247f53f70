//! The coding of lossless pictures, and of what is opaque in a lossy one.
//!
//! Source: RFC 9649, section 3.

use std::io::BufRead;

use super::codes::{Bits, Codes};
use super::tables::NEARBY;
use super::{Damage, Walked};

/// The order in which the lengths of the codes of lengths stand.
const LENGTHS: [usize; 19] = [
    17, 18, 0, 1, 2, 3, 4, 5, 16, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15,
];
/// Codes of greens and lengths (and of what was met before, behind them), reds, blues, alphas and distances.
const ALPHABETS: [usize; 5] = [256 + 24, 256, 256, 256, 40];
/// Most groups of codes: the encoder that others are built on gives no picture above 2,600.
const MOST_GROUPS: usize = 4096;

/// Walks a lossless picture.
///
/// # Errors
///
/// What is wrong with it; a header that is none is left to the decoder.
pub(super) fn walk(file: impl BufRead) -> Walked<()> {
    let mut bits = Bits::new(file);
    if bits.take(8)? != 0x2f {
        return Ok(());
    }
    let [width, height] = [bits.take(14)? + 1, bits.take(14)? + 1];
    // Whether alpha is used, and the version.
    bits.take(4)?;
    walk_pixels(bits, [width, height])
}

/// Walks what is opaque of a lossy picture of this width and height.
///
/// # Errors
///
/// What is wrong with it.
pub(super) fn walk_alpha(mut file: impl BufRead, size: [u32; 2]) -> Walked<()> {
    let mut head = [0];
    file.read_exact(&mut head)?;
    if head[0] & 3 == 1 {
        return walk_pixels(Bits::new(file), size);
    }
    let pixels = u64::from(size[0]) * u64::from(size[1]);
    let plain = std::io::copy(&mut file, &mut std::io::sink())?;
    if plain < pixels {
        return Err(Damage::Missing);
    }
    Ok(())
}

fn walk_pixels<R: BufRead>(mut bits: Bits<R>, [mut width, height]: [u32; 2]) -> Walked<()> {
    let mut met = [false; 4];
    while bits.flag()? {
        let kind = bits.take(2)? as usize;
        if std::mem::replace(&mut met[kind], true) {
            return Err(Damage::Garbled);
        }
        match kind {
            // How each block is foretold, and how its colours hang together.
            0 | 1 => {
                let block = bits.take(3)? + 2;
                let size = [width, height].map(|pixels| blocks(pixels, block));
                image(&mut bits, size, false)?;
            }
            // Greens are taken off the others.
            2 => {}
            // A table of colours, of which small ones share a byte.
            _ => {
                let colours = bits.take(8)? + 1;
                image(&mut bits, [colours, 1], false)?;
                let packed = match colours {
                    1..=2 => 3,
                    3..=4 => 2,
                    5..=16 => 1,
                    _ => 0,
                };
                width = blocks(width, packed);
            }
        }
    }
    let cached = cache(&mut bits)?;
    let mut groups = Groups::default();
    if bits.flag()? {
        groups.block = bits.take(3)? + 2;
        let size = [width, height].map(|pixels| blocks(pixels, groups.block));
        groups.across = size[0] as usize;
        let tells = image(&mut bits, size, true)?;
        groups.by_block = tells
            .iter()
            .map(|argb| {
                let [_, red, green, _] = argb.to_be_bytes();
                u16::from_be_bytes([red, green])
            })
            .collect();
    }
    let count = groups
        .by_block
        .iter()
        .max()
        .map_or(1, |most| usize::from(*most) + 1);
    if count > MOST_GROUPS {
        return Err(Damage::Garbled);
    }
    for _ in 0..count {
        groups.all.push(group(&mut bits, cached)?);
    }
    pixels(&mut bits, [width, height], &groups, None)?;
    bits.check_end()
}

fn blocks(pixels: u32, block: u32) -> u32 {
    pixels.div_ceil(1 << block)
}

/// How many colours that were met before have codes of their own, as a power of two.
fn cache<R: BufRead>(bits: &mut Bits<R>) -> Walked<Option<u32>> {
    if !bits.flag()? {
        return Ok(None);
    }
    let cached = bits.take(4)?;
    if !(1..=11).contains(&cached) {
        return Err(Damage::Garbled);
    }
    Ok(Some(cached))
}

/// A small picture on the way, with one group of codes; its pixels where they are `kept`.
fn image<R: BufRead>(bits: &mut Bits<R>, size: [u32; 2], kept: bool) -> Walked<Vec<u32>> {
    let cached = cache(bits)?;
    let groups = Groups {
        all: vec![group(bits, cached)?],
        ..Groups::default()
    };
    let mut tells = Kept::new(cached);
    pixels(bits, size, &groups, kept.then_some(&mut tells))?;
    Ok(tells.all)
}

type Group = [Codes; 5];

/// Codes, and which blocks of the picture have which.
#[derive(Default)]
struct Groups {
    all: Vec<Group>,
    /// Pixels across a block, as a power of two, and blocks across the picture.
    block: u32,
    across: usize,
    /// Empty where all have the same.
    by_block: Vec<u16>,
}

impl Groups {
    fn of(&self, column: usize, row: usize) -> &Group {
        let block = (row >> self.block) * self.across + (column >> self.block);
        &self.all[self
            .by_block
            .get(block)
            .map_or(0, |group| usize::from(*group))]
    }
}

fn group<R: BufRead>(bits: &mut Bits<R>, cached: Option<u32>) -> Walked<Group> {
    let [mut green, others @ ..] = ALPHABETS;
    green += cached.map_or(0, |cached| 1 << cached);
    let [red, blue, alpha, distance] = others;
    Ok([
        codes(bits, green)?,
        codes(bits, red)?,
        codes(bits, blue)?,
        codes(bits, alpha)?,
        codes(bits, distance)?,
    ])
}

/// The codes of an alphabet of this size.
fn codes<R: BufRead>(bits: &mut Bits<R>, alphabet: usize) -> Walked<Codes> {
    let mut lengths = vec![0_u8; alphabet];
    if bits.flag()? {
        let has_two = bits.flag()?;
        let first_bits = if bits.flag()? { 8 } else { 1 };
        let first = bits.take(first_bits)? as usize;
        *lengths.get_mut(first).ok_or(Damage::Garbled)? = 1;
        if has_two {
            let second = bits.take(8)? as usize;
            *lengths.get_mut(second).ok_or(Damage::Garbled)? = 1;
        }
        return Codes::new(&lengths);
    }
    let mut of_lengths = [0; LENGTHS.len()];
    let given = 4 + bits.take(4)? as usize;
    for place in &LENGTHS[..given] {
        of_lengths[*place] = bits.byte(3)?;
    }
    let of_lengths = Codes::new(&of_lengths)?;
    let mut left = alphabet;
    if bits.flag()? {
        let wide = 2 + 2 * bits.take(3)?;
        left = 2 + bits.take(wide)? as usize;
        if left > alphabet {
            return Err(Damage::Garbled);
        }
    }
    let (mut at, mut last) = (0, 8);
    while at < alphabet && left > 0 {
        left -= 1;
        let (length, times) = match of_lengths.next(bits)? {
            16 => (last, 3 + bits.take(2)?),
            17 => (0, 3 + bits.take(3)?),
            18 => (0, 11 + bits.take(7)?),
            length => {
                let length = u8::try_from(length).unwrap_or(0);
                if length > 0 {
                    last = length;
                }
                (length, 1)
            }
        };
        let run = lengths.get_mut(at..at + times as usize);
        run.ok_or(Damage::Garbled)?.fill(length);
        at += times as usize;
    }
    Codes::new(&lengths)
}

/// Passes so many pixels, and keeps them where somebody wants them.
fn pixels<R: BufRead>(
    bits: &mut Bits<R>,
    [width, height]: [u32; 2],
    groups: &Groups,
    mut kept: Option<&mut Kept>,
) -> Walked<()> {
    let width = width as usize;
    let count = width * height as usize;
    let mut at = 0;
    // Where the codes of another block begin, within the row.
    let mut change = 0;
    let mut group = groups.of(0, 0);
    while at < count {
        if at >= change && !groups.by_block.is_empty() {
            let (column, row) = (at % width, at / width);
            group = groups.of(column, row);
            let across = ((column >> groups.block) + 1) << groups.block;
            change = row * width + across.min(width);
        }
        let [green, red, blue, alpha, distance] = group;
        let code = green.next(bits)?;
        if code < 256 {
            let [red, blue, alpha] = [red.next(bits)?, blue.next(bits)?, alpha.next(bits)?];
            if let Some(kept) = &mut kept {
                let argb = [alpha, red, code, blue].into_iter();
                kept.take(argb.fold(0, |argb, part| argb << 8 | u32::from(part)));
            }
            at += 1;
        } else if let Some(met) = usize::from(code).checked_sub(ALPHABETS[0]) {
            if let Some(kept) = &mut kept {
                kept.take(kept.met[met]);
            }
            at += 1;
        } else {
            let length = far(bits, code - 256)?;
            let code = distance.next(bits)?;
            let distance = far(bits, code)?;
            let distance = match distance.checked_sub(NEARBY.len() + 1) {
                Some(beyond) => beyond + 1,
                None => nearby(distance, width),
            };
            if distance > at || length > count - at {
                return Err(Damage::Garbled);
            }
            if let Some(kept) = &mut kept {
                for _ in 0..length {
                    kept.take(kept.all[kept.all.len() - distance]);
                }
            }
            at += length;
        }
    }
    Ok(())
}

/// The length or distance of a code and the bits behind it, from 1. Source: RFC 9649, section 3.6.2.2.
fn far<R: BufRead>(bits: &mut Bits<R>, code: u16) -> Walked<usize> {
    if code < 4 {
        return Ok(usize::from(code) + 1);
    }
    // At most 18: there are 40 codes.
    let further = u32::from(code - 2) / 2;
    let from = (2 + u32::from(code % 2)) << further;
    Ok((from + bits.take(further)?) as usize + 1)
}

/// How far back the pixel nearby lies that `code` means, from 1.
fn nearby(code: usize, width: usize) -> usize {
    let [left, above] = NEARBY[code - 1];
    let back = width * above.unsigned_abs() as usize;
    let back = back.saturating_add_signed(isize::from(left));
    back.max(1)
}

/// Pixels that tell of others.
struct Kept {
    all: Vec<u32>,
    /// Those that were met last, each in the place that its colour has; empty where they have no codes.
    met: Vec<u32>,
}

impl Kept {
    fn new(cached: Option<u32>) -> Self {
        Self {
            all: Vec::new(),
            met: cached.map_or(Vec::new(), |cached| vec![0; 1 << cached]),
        }
    }

    /// Source: RFC 9649, section 3.6.2.3.
    fn take(&mut self, argb: u32) {
        self.all.push(argb);
        if !self.met.is_empty() {
            let place = argb.wrapping_mul(0x1e35_a7bd) >> (32 - self.met.len().ilog2());
            self.met[place as usize] = argb;
        }
    }
}
