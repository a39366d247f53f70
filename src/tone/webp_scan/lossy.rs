//! The coding of lossy pictures: the modes of all blocks in a first part, their coefficients in one to eight more.
//!
//! Source: RFC 6386, sections 9 (header), 11 (modes) and 13 (coefficients), of key frames, which are all that the format knows.

use super::bools::Bools;
use super::tables::{BLOCK_MODES, FIRST_ODDS, Odds, UPDATES};
use super::{Damage, Walked};

const SEGMENT_TREE: [i8; 6] = [2, 4, 0, -1, -2, -3];

/// Modes of a macroblock's luminance: one for all, or block by block.
const LUMINANCE_TREE: [i8; 8] = [-4, 2, 4, 6, 0, -1, -2, -3];
const LUMINANCE_ODDS: [u8; 4] = [145, 156, 163, 128];
const BY_BLOCK: usize = 4;
/// What a mode for all counts as beside blocks that have their own.
const AS_BLOCK: [usize; 4] = [0, 2, 3, 1];

const BLOCK_TREE: [i8; 18] = [
    0, 2, -1, 4, -2, 6, 8, 12, -3, 10, -5, -6, -4, 14, -7, 16, -8, -9,
];
const COLOUR_TREE: [i8; 6] = [0, 2, -1, 4, -2, -3];
const COLOUR_ODDS: [u8; 3] = [142, 114, 183];

/// Which odds a coefficient has, by its place.
const BANDS: [usize; 16] = [0, 1, 2, 3, 6, 4, 5, 6, 6, 6, 6, 6, 6, 6, 6, 7];
/// Odds of the further bits of coefficients from 11, 19, 35 and 67 on.
const FURTHER: [&[u8]; 4] = [
    &[173, 148, 140],
    &[176, 155, 140, 135],
    &[180, 157, 141, 134, 130],
    &[254, 254, 243, 230, 196, 177, 153, 140, 133, 130, 129],
];

/// What a macroblock leaves for those to its right and below: modes of its last four blocks there, and whether blocks had any
/// coefficients: the one of the averages, four of luminance, two and two of colour.
#[derive(Clone, Default)]
struct Edge {
    modes: [usize; 4],
    filled: [bool; 9],
}

/// What the header says of all macroblocks.
struct Frame {
    /// Odds of the segments' tree, where each macroblock tells its own.
    segments: Option<[u8; 3]>,
    /// Odds that a macroblock has coefficients, where each tells that.
    filled: Option<u8>,
    odds: Odds,
}

/// Walks the coded data of a lossy picture.
///
/// # Errors
///
/// What is wrong with them; a frame that refers to others, and a header that is none, are left to the decoder.
pub(super) fn walk(content: &[u8]) -> Walked<()> {
    let Some((head, rest)) = content.split_first_chunk::<10>() else {
        return Err(Damage::Missing);
    };
    let [a, b, c, d, e, f, width @ .., _, _] = *head;
    let [_, _, _, _, _, _, _, _, height @ ..] = *head;
    let tag = u32::from_le_bytes([a, b, c, 0]);
    if tag & 1 == 1 || [d, e, f] != [0x9d, 0x01, 0x2a] {
        return Ok(());
    }
    let [columns, rows] = [width, height]
        .map(u16::from_le_bytes)
        .map(|pixels| usize::from((pixels & 0x3fff).div_ceil(16)));
    let first_bytes = (tag >> 5) as usize;
    let (first, rest) = rest.split_at_checked(first_bytes).ok_or(Damage::Missing)?;
    let mut modes = Bools::new(first);
    let (frame, parts) = header(&mut modes);
    let mut parts = parted(rest, parts)?;

    let mut above = vec![Edge::default(); columns];
    for row in 0..rows {
        let own = row % parts.len();
        let coefficients = &mut parts[own];
        let mut left = Edge::default();
        for above in &mut above {
            macroblock(&frame, &mut modes, coefficients, &mut left, above);
        }
        modes.check_end(false)?;
        coefficients.check_end(false)?;
    }
    modes.check_end(true)?;
    parts.iter().try_for_each(|part| part.check_end(true))
}

/// The header, and how many parts of coefficients there are.
fn header(part: &mut Bools<'_>) -> (Frame, usize) {
    // The colour space, and whether samples want no clamping.
    part.number(2);
    let mut segments = None;
    if part.flag() {
        let (by_macroblock, with_levels) = (part.flag(), part.flag());
        if with_levels {
            part.flag();
            (0..4).for_each(|_| part.pass_signed(7));
            (0..4).for_each(|_| part.pass_signed(6));
        }
        if by_macroblock {
            segments = Some([(); 3].map(|()| if part.flag() { byte(part) } else { 255 }));
        }
    }
    // Kind, level and sharpness of the filter, and its adjustments.
    part.number(1 + 6 + 3);
    if part.flag() && part.flag() {
        (0..8).for_each(|_| part.pass_signed(6));
    }
    let parts = 1 << part.number(2);
    // Steps of quantisation.
    part.number(7);
    (0..5).for_each(|_| part.pass_signed(4));
    // Whether the odds are kept for later frames.
    part.flag();
    let mut odds = FIRST_ODDS;
    let all = odds
        .as_flattened_mut()
        .as_flattened_mut()
        .as_flattened_mut();
    let updates = UPDATES.as_flattened().as_flattened().as_flattened();
    for (odds, update) in all.iter_mut().zip(updates) {
        if part.bool(*update) {
            *odds = byte(part);
        }
    }
    let filled = if part.flag() { Some(byte(part)) } else { None };
    let frame = Frame {
        segments,
        filled,
        odds,
    };
    (frame, parts)
}

fn byte(part: &mut Bools<'_>) -> u8 {
    u8::try_from(part.number(8)).unwrap_or(0)
}

/// `rest` in so many parts: the sizes of all but the last stand first, in three bytes each.
fn parted(rest: &[u8], parts: usize) -> Walked<Vec<Bools<'_>>> {
    let (sizes, mut rest) = rest
        .split_at_checked(3 * (parts - 1))
        .ok_or(Damage::Missing)?;
    let mut found = Vec::with_capacity(parts);
    for size in sizes.as_chunks::<3>().0 {
        let [low, middle, high] = *size;
        let size = u32::from_le_bytes([low, middle, high, 0]) as usize;
        let (part, later) = rest.split_at_checked(size).ok_or(Damage::Missing)?;
        found.push(Bools::new(part));
        rest = later;
    }
    found.push(Bools::new(rest));
    Ok(found)
}

/// Passes one macroblock: its modes, and its coefficients where it has any.
fn macroblock(
    frame: &Frame,
    modes: &mut Bools<'_>,
    coefficients: &mut Bools<'_>,
    left: &mut Edge,
    above: &mut Edge,
) {
    if let Some(odds) = &frame.segments {
        modes.leaf(&SEGMENT_TREE, odds);
    }
    let is_empty = frame.filled.is_some_and(|odds| modes.bool(odds));
    let luminance = modes.leaf(&LUMINANCE_TREE, &LUMINANCE_ODDS);
    if let Some(as_block) = AS_BLOCK.get(luminance) {
        left.modes = [*as_block; 4];
        above.modes = [*as_block; 4];
    } else {
        for left in &mut left.modes {
            for above in &mut above.modes {
                let mode = modes.leaf(&BLOCK_TREE, &BLOCK_MODES[*above][*left]);
                (*left, *above) = (mode, mode);
            }
        }
    }
    modes.leaf(&COLOUR_TREE, &COLOUR_ODDS);

    let by_block = luminance == BY_BLOCK;
    if is_empty {
        // Averages that are not coded leave what was.
        for edge in [left, above] {
            edge.filled[usize::from(by_block)..].fill(false);
        }
        return;
    }
    let mut pass = |kind: usize, first: usize, left: &mut bool, above: &mut bool| {
        let beside = usize::from(*left) + usize::from(*above);
        let filled = block(coefficients, &frame.odds[kind], beside, first);
        (*left, *above) = (filled, filled);
    };
    if !by_block {
        pass(1, 0, &mut left.filled[0], &mut above.filled[0]);
    }
    let (kind, first) = if by_block { (3, 0) } else { (0, 1) };
    for left in &mut left.filled[1..5] {
        for above in &mut above.filled[1..5] {
            pass(kind, first, left, above);
        }
    }
    for plane in [5..7, 7..9] {
        for left in &mut left.filled[plane.clone()] {
            for above in &mut above.filled[plane.clone()] {
                pass(2, 0, left, above);
            }
        }
    }
}

/// Passes the coefficients of one block from the `first` on; whether it has any.
fn block(part: &mut Bools<'_>, odds: &[[[u8; 11]; 3]; 8], beside: usize, first: usize) -> bool {
    let mut next = &odds[BANDS[first]][beside];
    if !part.bool(next[0]) {
        return false;
    }
    let mut at = first;
    loop {
        let is_zero = !part.bool(next[1]);
        let size = if is_zero { 0 } else { nonzero(part, next) };
        at += 1;
        if at == 16 {
            return true;
        }
        next = &odds[BANDS[at]][size];
        // No block ends on a zero.
        if !is_zero && !part.bool(next[0]) {
            return true;
        }
    }
}

/// Passes a coefficient that is not zero, with its sign; 1 for one, 2 for more.
fn nonzero(part: &mut Bools<'_>, odds: &[u8; 11]) -> usize {
    let size = if part.bool(odds[2]) { 2 } else { 1 };
    if size == 2 {
        if !part.bool(odds[3]) {
            if part.bool(odds[4]) {
                part.bool(odds[5]);
            }
        } else if !part.bool(odds[6]) {
            if part.bool(odds[7]) {
                part.bool(165);
                part.bool(145);
            } else {
                part.bool(159);
            }
        } else {
            let high = usize::from(part.bool(odds[8]));
            let low = usize::from(part.bool(odds[9 + high]));
            for odds in FURTHER[2 * high + low] {
                part.bool(*odds);
            }
        }
    }
    part.flag();
    size
}
