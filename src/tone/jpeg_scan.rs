//! Whether the coded data of a JPEG file are the picture that its header promises.
//!
//! A decoder makes do: what is missing it fills with grey, and what is damaged it decodes to some colour, since almost any bits
//! are some code. So the coded data are walked here first, as a strict decoder would, and nothing is drawn. Every code must be
//! one of the tables', and every coefficient one that eight-bit samples can give. Every interval between restarts and every
//! scan must hold just as many blocks as the frame has, and end where they end. Damage makes a decoder lose its step, and then it
//! comes out at another bit than the scan does. Nor do long rows of zeros code anything but nothing. What falls back into step
//! all the same may leave all that follows as much lighter or redder, which looks like an edge in the picture, and is not told.
//! The last bits of a progressive picture are hardly coded at all, and what damages them passes more often: it moves coefficients
//! by one step.
//!
//! Baseline, extended and progressive pictures of eight bits with Huffman codes are walked; the other processes no decoder here
//! reads. A block takes eight bytes of memory in a progressive picture, and none in others.
//!
//! Source: ITU-T T.81 (1992) | ISO/IEC 10918-1:1994, annexes B, F and G.

use super::window::Window;

/// What is wrong with the coded data of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Damage {
    /// They end before the picture does, or hold less of it than its header promises.
    Missing,
    /// They are no coding of a picture.
    Garbled,
}

type Walked<T> = Result<T, Damage>;

const RESTARTS: std::ops::RangeInclusive<u8> = 0xd0..=0xd7;

/// Least and greatest DC coefficient of eight-bit samples, and greatest size of any other, with a tenth for encoders that round
/// on the way; a step of quantisation comes on top.
const MOST_COEFFICIENT: i32 = 1126;

/// Zeros in a row that code no coefficients: nothing is many times over, such as a black border, but no picture has a dozen of the
/// same coefficients one after the other. Disks and cards that fail, and copies that are cut, leave zeros behind.
const NO_CODING: u32 = 56;

/// The bits of one interval between restarts, from the most significant of each byte.
struct Bits<'a> {
    file: &'a mut Window,
    /// The next byte to take.
    at: usize,
    /// Bits that were taken and not used yet, the next the most significant of the lowest `count`.
    held: u64,
    count: u32,
    /// How many of the bytes that were taken last are zero.
    zeros: u32,
}

impl<'a> Bits<'a> {
    fn new(file: &'a mut Window, at: usize) -> Self {
        Self {
            file,
            at,
            held: 0,
            count: 0,
            zeros: 0,
        }
    }

    /// Takes bytes until 32 bits are held, or a marker stands next.
    fn fill(&mut self) {
        while self.count <= 32 {
            let byte = match self.file.at(self.at, 2) {
                [0xff, 0x00] => {
                    self.at += 2;
                    0xff
                }
                [0xff, ..] | [] => return,
                [byte, ..] => {
                    self.at += 1;
                    *byte
                }
            };
            self.zeros = if byte == 0 { self.zeros + 1 } else { 0 };
            self.held = self.held << 8 | u64::from(byte);
            self.count += 8;
        }
    }

    /// So many bits, at most 16, as a number; refused where there are no more.
    fn take(&mut self, bits: u32) -> Walked<u32> {
        if self.count < bits {
            self.fill();
        }
        let left = self.count.checked_sub(bits).ok_or(Damage::Missing)?;
        self.count = left;
        let taken = (self.held >> left) & ((1 << bits) - 1);
        Ok(u32::try_from(taken).unwrap_or(0))
    }

    /// The next 16 bits, zeros after the last, and how many of them there are.
    fn peek(&mut self) -> (usize, u32) {
        if self.count < 16 {
            self.fill();
        }
        let next = if self.count >= 16 {
            self.held >> (self.count - 16)
        } else {
            self.held << (16 - self.count)
        };
        (usize::try_from(next & 0xffff).unwrap_or(0), self.count)
    }

    /// Whether what was used last are [`NO_CODING`] zeros or more.
    fn is_among_zeros(&self) -> bool {
        8 * self.zeros >= self.count + NO_CODING
    }

    /// Where the interval ends. Less than a byte may be left of it, bits that are all alike: ones, by the standard (F.1.2.3). Some
    /// cameras pad it with bytes that are all alike; none of them writes progressive pictures.
    fn end(mut self, progressive: bool) -> Walked<usize> {
        let rest = self.count % 8;
        let bits = self.take(rest)?;
        if bits != 0 && bits != (1 << rest) - 1 {
            return Err(Damage::Garbled);
        }
        let mut padding = None;
        loop {
            let byte = if self.count > 0 {
                self.take(8)?
            } else {
                self.fill();
                if self.count == 0 {
                    return Ok(self.at);
                }
                continue;
            };
            if progressive || *padding.get_or_insert(byte) != byte {
                return Err(Damage::Garbled);
            }
        }
    }
}

/// A Huffman table: of each 16 bits that may come next, how many are the code, and what it stands for.
#[derive(Clone)]
struct Codes(Vec<(u8, u8)>);

impl Codes {
    /// The table of so many codes of each length, and what they stand for; `None` where lengths hold no such code.
    fn new(counts: &[u8], symbols: &[u8]) -> Option<Self> {
        let mut table = vec![(0, 0); 1 << 16];
        let (mut code, mut symbols) = (0_usize, symbols.iter());
        for (length, count) in (1_u8..).zip(counts) {
            let span = 1_usize << (16 - length);
            for _ in 0..*count {
                let symbol = *symbols.next()?;
                table.get_mut(code..code + span)?.fill((length, symbol));
                code += span;
            }
        }
        Some(Self(table))
    }

    fn next(&self, bits: &mut Bits<'_>) -> Walked<u8> {
        let (next, held) = bits.peek();
        let (length, symbol) = self.0[next];
        if length == 0 {
            return Err(Damage::Garbled);
        }
        if u32::from(length) > held {
            return Err(Damage::Missing);
        }
        bits.count -= u32::from(length);
        Ok(symbol)
    }
}

/// The number that `size` further bits stand for. Source: T.81, F.2.2.1, EXTEND.
fn number(bits: &mut Bits<'_>, size: u8) -> Walked<i32> {
    if size == 0 {
        return Ok(0);
    }
    let taken = bits.take(size.into())?.cast_signed();
    let half = 1 << (size - 1);
    Ok(if taken < half {
        taken - 2 * half + 1
    } else {
        taken
    })
}

struct Component {
    id: u8,
    /// Blocks of it in a unit of an interleaved scan, across and down.
    sampling: [usize; 2],
    quantisation: usize,
    /// Blocks across and down in a scan of its own.
    blocks: [usize; 2],
    /// Blocks across, those that fill up the last unit among them.
    across: usize,
    /// Which coefficients of each block are not zero yet, in a progressive picture: a bit each.
    known: Vec<u64>,
    /// The bit down to which each coefficient was told; none where it was not.
    told: [Option<u8>; 64],
    last_dc: i32,
}

/// What a scan tells of the coefficients.
struct Band {
    first: usize,
    last: usize,
    /// The bit down to which they were told before, 0 where they were not.
    before: u8,
    /// The bit down to which they are told now.
    down_to: u8,
    progressive: bool,
    /// Blocks to come that hold no more of this band.
    ended: u32,
}

#[derive(Default)]
struct Frame {
    progressive: bool,
    /// Units across and down in an interleaved scan.
    units: [usize; 2],
    components: Vec<Component>,
}

#[derive(Default)]
struct Tables {
    dc: [Option<Codes>; 4],
    ac: [Option<Codes>; 4],
    quantisation: [Option<Vec<i32>>; 4],
    /// Units between restarts; 0 where there are none.
    interval: usize,
}

/// Walks the coded data of `file`, a JPEG file whose markers lead to its end.
///
/// # Errors
/// What is wrong with them.
pub(super) fn walk(file: &mut Window) -> Walked<()> {
    let mut tables = Tables::default();
    let mut frame: Option<Frame> = None;
    let mut at = 2;
    loop {
        let [mark, kind] = file.array(at).ok_or(Damage::Missing)?;
        if mark != 0xff || matches!(kind, 0x00 | 0x01 | 0xd8) || RESTARTS.contains(&kind) {
            at += 1;
            continue;
        }
        match kind {
            0xff => at += 1,
            0xd9 => return frame.map_or(Err(Damage::Missing), |frame| frame.check_whole()),
            _ => {
                let length = file.array(at + 2).ok_or(Damage::Missing)?;
                let length = usize::from(u16::from_be_bytes(length));
                let content = length.checked_sub(2).ok_or(Damage::Missing)?;
                let segment = file.at(at + 4, content).to_owned();
                if segment.len() < content {
                    return Err(Damage::Missing);
                }
                let segment = segment.as_slice();
                at += 2 + length;
                match kind {
                    0xc0..=0xc2 if frame.is_none() => {
                        match Frame::read(segment, kind == 0xc2, file.len())? {
                            Some(read) => frame = Some(read),
                            None => return Ok(()),
                        }
                    }
                    // A second frame, or a process that the decoder refuses.
                    0xc0..=0xc2 => return Err(Damage::Garbled),
                    0xc3 | 0xc5..=0xc7 | 0xc9..=0xcb | 0xcd..=0xcf => return Ok(()),
                    0xc4 => tables.take_codes(segment).ok_or(Damage::Garbled)?,
                    0xdb => tables.take_steps(segment).ok_or(Damage::Garbled)?,
                    0xdd => tables.interval = number_at(segment, 0).ok_or(Damage::Garbled)?,
                    0xda => {
                        let frame = frame.as_mut().ok_or(Damage::Garbled)?;
                        at = frame.scan(segment, &tables, file, at)?;
                    }
                    _ => {}
                }
            }
        }
    }
}

/// The number of two bytes at `at`.
fn number_at(bytes: &[u8], at: usize) -> Option<usize> {
    let [high, low] = *bytes.get(at..)?.first_chunk()?;
    Some(usize::from(u16::from_be_bytes([high, low])))
}

impl Tables {
    fn take_codes(&mut self, mut segment: &[u8]) -> Option<()> {
        while let [kind, rest @ ..] = segment {
            let (counts, rest) = rest.split_at_checked(16)?;
            let all = counts.iter().map(|count| usize::from(*count)).sum();
            let (symbols, rest) = rest.split_at_checked(all)?;
            let tables = match kind >> 4 {
                0 => &mut self.dc,
                _ => &mut self.ac,
            };
            *tables.get_mut(usize::from(kind & 15))? = Some(Codes::new(counts, symbols)?);
            segment = rest;
        }
        Some(())
    }

    fn take_steps(&mut self, mut segment: &[u8]) -> Option<()> {
        while let [kind, rest @ ..] = segment {
            let bytes = 1 + usize::from(kind >> 4 != 0);
            let (steps, rest) = rest.split_at_checked(64 * bytes)?;
            let step = |step: &[u8]| step.iter().fold(0, |sum, byte| sum << 8 | i32::from(*byte));
            let steps = steps.chunks_exact(bytes).map(step).collect();
            *self.quantisation.get_mut(usize::from(kind & 15))? = Some(steps);
            segment = rest;
        }
        Some(())
    }
}

impl Frame {
    /// The frame of a header's `segment` in a file of so many `bytes`; `None` of more than eight bits, which no decoder reads.
    fn read(segment: &[u8], progressive: bool, bytes: usize) -> Walked<Option<Self>> {
        let &[bits, _, _, _, _, count, ref listed @ ..] = segment else {
            return Err(Damage::Garbled);
        };
        let size = [3, 1].map(|at| number_at(segment, at).unwrap_or(0));
        if bits != 8 {
            return Ok(None);
        }
        let listed: Vec<&[u8]> = listed.chunks_exact(3).collect();
        let sampling = |of: &[u8]| [usize::from(of[1] >> 4), usize::from(of[1] & 15)];
        let is_sound = |of: &&[u8]| sampling(of).iter().all(|each| (1..=4).contains(each));
        if listed.len() != usize::from(count) || !listed.iter().all(is_sound) || size.contains(&0) {
            return Err(Damage::Garbled);
        }
        // A block takes two bits at least, six blocks the 256 pixels of the coarsest sampling that cameras use.
        if size[0] * size[1] / 400 > bytes {
            return Err(Damage::Missing);
        }
        let most = |axis: usize| listed.iter().map(|of| sampling(of)[axis]).max();
        let most = [most(0).unwrap_or(1), most(1).unwrap_or(1)];
        let units = [0, 1].map(|axis| size[axis].div_ceil(8 * most[axis]));
        let components = listed.iter().map(|of| {
            let sampling = sampling(of);
            let blocks = [0, 1].map(|axis| {
                (size[axis] * sampling[axis])
                    .div_ceil(most[axis])
                    .div_ceil(8)
            });
            let across = units[0] * sampling[0];
            let all = if progressive {
                across * units[1] * sampling[1]
            } else {
                0
            };
            Component {
                id: of[0],
                sampling,
                quantisation: usize::from(of[2]),
                blocks,
                across,
                known: vec![0; all],
                told: [None; 64],
                last_dc: 0,
            }
        });
        Ok(Some(Self {
            progressive,
            units,
            components: components.collect(),
        }))
    }

    /// Whether every coefficient was told to its last bit.
    fn check_whole(&self) -> Walked<()> {
        let told = |of: &Component| of.told.iter().all(|down_to| *down_to == Some(0));
        if self.components.iter().all(told) {
            Ok(())
        } else {
            Err(Damage::Missing)
        }
    }

    /// Walks one scan, whose header is `segment` and whose data begin `at`; returns where they end.
    // Longer than eighty lines: the header's fields first, and then one loop over blocks that wants all of them.
    fn scan(
        &mut self,
        segment: &[u8],
        tables: &Tables,
        file: &mut Window,
        mut at: usize,
    ) -> Walked<usize> {
        let garbled = || Damage::Garbled;
        let (count, rest) = segment.split_first().ok_or_else(garbled)?;
        let (listed, &[first, last, bits, ..]) = rest
            .split_at_checked(2 * usize::from(*count))
            .ok_or_else(garbled)?
        else {
            return Err(Damage::Garbled);
        };
        let band = if self.progressive {
            [usize::from(first), usize::from(last)]
        } else {
            [0, 63]
        };
        let mut band = Band {
            first: band[0],
            last: band[1],
            before: if self.progressive { bits >> 4 } else { 0 },
            down_to: if self.progressive { bits & 15 } else { 0 },
            progressive: self.progressive,
            ended: 0,
        };
        let is_sound = band.first <= band.last
            && band.last < 64
            && band.down_to <= 13
            && (!self.progressive || (band.first == 0) == (band.last == 0));
        if !is_sound {
            return Err(Damage::Garbled);
        }
        let mut scanned = Vec::new();
        for of in listed.chunks_exact(2) {
            let known = self.components.iter().position(|known| known.id == of[0]);
            let index = known.ok_or_else(garbled)?;
            for told in &mut self.components[index].told[band.first..=band.last] {
                *told = Some(band.down_to);
            }
            let [dc, ac] = [of[1] >> 4, of[1] & 15].map(usize::from);
            let tables = (
                tables.dc.get(dc).and_then(Option::as_ref),
                tables.ac.get(ac).and_then(Option::as_ref),
                (tables.quantisation.get(self.components[index].quantisation))
                    .and_then(Option::as_ref)
                    .ok_or_else(garbled)?
                    .as_slice(),
            );
            scanned.push((index, tables));
        }
        let alone = match scanned.as_slice() {
            [] => return Err(Damage::Garbled),
            [(index, _)] => Some(self.components[*index].blocks),
            _ if band.first > 0 => return Err(Damage::Garbled),
            _ => None,
        };
        let [across, down] = alone.unwrap_or(self.units);
        let every = match tables.interval {
            0 => across * down,
            interval => interval,
        };
        let mut restarts = 0_u8;
        for from in (0..across * down).step_by(every) {
            if from > 0 {
                at = restart(file, at, restarts)?;
                restarts = (restarts + 1) % 8;
            }
            let mut bits = Bits::new(file, at);
            band.ended = 0;
            for (index, _) in &scanned {
                self.components[*index].last_dc = 0;
            }
            for unit in from..(across * down).min(from + every) {
                let [x, y] = [unit % across, unit / across];
                for (index, tables) in &scanned {
                    let component = &mut self.components[*index];
                    let [wide, high] = match alone {
                        Some(_) => [1, 1],
                        None => component.sampling,
                    };
                    for row in y * high..(y + 1) * high {
                        for column in x * wide..(x + 1) * wide {
                            let block = row * component.across + column;
                            component.block(&mut bits, &mut band, *tables, block)?;
                        }
                    }
                }
            }
            // A run of blocks that hold no more ends with the interval at the latest.
            if band.ended > 0 {
                return Err(Damage::Garbled);
            }
            at = bits.end(band.progressive)?;
        }
        Ok(at)
    }
}

/// Codes of DC and of AC, and the steps of quantisation.
type Coding<'a> = (Option<&'a Codes>, Option<&'a Codes>, &'a [i32]);

impl Component {
    /// Walks what the scan of `band` tells of one block.
    fn block(
        &mut self,
        bits: &mut Bits<'_>,
        band: &mut Band,
        (dc, ac, steps): Coding<'_>,
        block: usize,
    ) -> Walked<()> {
        if band.first == 0 {
            if band.before > 0 {
                bits.take(1)?;
            } else {
                let size = dc.ok_or(Damage::Garbled)?.next(bits)?;
                if size > 11 {
                    return Err(Damage::Garbled);
                }
                self.last_dc += number(bits, size)?;
                check_coefficient(self.last_dc << band.down_to, steps[0], band.down_to)?;
            }
        }
        if band.last == 0 {
            return Ok(());
        }
        let ac = ac.ok_or(Damage::Garbled)?;
        if !band.progressive {
            return ac_of_a_block(bits, ac, band, steps, &mut 0);
        }
        let known = self.known.get_mut(block).ok_or(Damage::Garbled)?;
        if band.before == 0 {
            ac_of_a_block(bits, ac, band, steps, known)
        } else {
            refined(bits, ac, band, known)
        }
    }
}

/// Walks coefficients of a block that are told first, and notes in `known` which are not zero. Source: T.81, F.2.2.2 and G.1.2.2.
fn ac_of_a_block(
    bits: &mut Bits<'_>,
    codes: &Codes,
    band: &mut Band,
    steps: &[i32],
    known: &mut u64,
) -> Walked<()> {
    if band.ended > 0 {
        band.ended -= 1;
        return Ok(());
    }
    let mut at = band.first.max(1);
    while at <= band.last {
        let code = codes.next(bits)?;
        let (run, size) = (code >> 4, code & 15);
        match (run, size) {
            (15, 0) => at += 16,
            (0, 0) => return Ok(()),
            (run, 0) if band.progressive => {
                band.ended = (1 << run) - 1 + bits.take(run.into())?;
                return Ok(());
            }
            (_, 0 | 11..) => return Err(Damage::Garbled),
            (run, size) => {
                at += usize::from(run);
                if at > band.last {
                    return Err(Damage::Garbled);
                }
                let value = number(bits, size)? << band.down_to;
                check_coefficient(value, steps[at], band.down_to)?;
                if bits.is_among_zeros() {
                    return Err(Damage::Garbled);
                }
                *known |= 1 << at;
                at += 1;
            }
        }
    }
    // Sixteen zeros lead no farther than the block's end.
    if at > band.last + 1 {
        return Err(Damage::Garbled);
    }
    Ok(())
}

/// Walks one more bit of coefficients that were told before, those of `known`, and the first of others. Source: T.81, G.1.2.3.
fn refined(bits: &mut Bits<'_>, codes: &Codes, band: &mut Band, known: &mut u64) -> Walked<()> {
    let mut at = band.first;
    if band.ended == 0 {
        while at <= band.last {
            let code = codes.next(bits)?;
            let (mut run, size) = (code >> 4, code & 15);
            match (run, size) {
                (15, 0) | (_, 1) => {}
                (run, 0) => {
                    band.ended = (1 << run) + bits.take(run.into())?;
                    break;
                }
                _ => return Err(Damage::Garbled),
            }
            if size == 1 {
                bits.take(1)?;
            }
            // So many zeros are passed over, and every one that is known gets its bit on the way.
            loop {
                if at > band.last {
                    return Err(Damage::Garbled);
                }
                if *known >> at & 1 == 1 {
                    bits.take(1)?;
                } else if run == 0 {
                    break;
                } else {
                    run -= 1;
                }
                at += 1;
            }
            if size == 1 {
                if bits.is_among_zeros() {
                    return Err(Damage::Garbled);
                }
                *known |= 1 << at;
            }
            at += 1;
        }
    }
    if band.ended > 0 {
        for at in at..=band.last {
            if *known >> at & 1 == 1 {
                bits.take(1)?;
            }
        }
        band.ended -= 1;
    }
    Ok(())
}

/// Refuses a quantised coefficient that no eight-bit samples have; bits below `down_to` are yet to be told.
fn check_coefficient(value: i32, step: i32, down_to: u8) -> Walked<()> {
    let most = i64::from(MOST_COEFFICIENT) + (i64::from(step) << down_to);
    if (i64::from(value) * i64::from(step)).abs() > most {
        return Err(Damage::Garbled);
    }
    Ok(())
}

/// Where the interval after the restart marker begins that must stand `at`, the one of this number.
fn restart(file: &mut Window, mut at: usize, number: u8) -> Walked<usize> {
    // Fill bytes may stand before it.
    while file.array(at) == Some([0xff, 0xff]) {
        at += 1;
    }
    match file.array(at) {
        Some([0xff, kind]) if kind == RESTARTS.start() + number => Ok(at + 2),
        Some([0xff, kind]) if RESTARTS.contains(&kind) => Err(Damage::Garbled),
        _ => Err(Damage::Missing),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A grey progressive picture of 56 × 64 without any DC. Each of its scans of AC has one code, a zero, of a symbol that is given,
    /// data, and the bits down to which it was told before and is told now.
    fn coded(scans: &[(u8, &[u8], u8)]) -> Vec<u8> {
        let segment = |kind: u8, content: &[u8]| {
            let length = u8::try_from(content.len() + 2).expect("short");
            [&[0xff, kind, 0, length], content].concat()
        };
        let one_code = |table: u8, symbol: u8| {
            let mut codes = vec![table, 1];
            codes.extend([0; 15]);
            codes.push(symbol);
            segment(0xc4, &codes)
        };
        let mut file = [
            vec![0xff, 0xd8],
            segment(0xdb, &[&[0], &[1; 64][..]].concat()),
            segment(0xc2, &[8, 0, 64, 0, 56, 1, 1, 0x11, 0]),
            one_code(0x00, 0),
            segment(0xda, &[1, 1, 0, 0, 0, 0]),
            vec![0; 7],
        ]
        .concat();
        for (symbol, data, bits) in scans {
            file.extend(one_code(0x10, *symbol));
            file.extend(segment(0xda, &[1, 1, 0, 1, 63, *bits]));
            file.extend(*data);
        }
        file.extend([0xff, 0xd9]);
        file
    }

    fn over(scans: &[(u8, &[u8], u8)]) -> Window {
        Window::over(&coded(scans))
    }

    /// A run of 32 blocks or more that hold nothing.
    const RUN: u8 = 0x50;

    #[test]
    fn a_run_of_empty_blocks_ends_with_the_scan_and_the_bits_that_fill_its_last_byte_are_alike() {
        // The code, and five bits that say how many more than 32.
        let of = |ac| walk(&mut over(&[(RUN, &[ac][..], 0)]));
        assert_eq!(of(0b0110_0011), Ok(()), "24 more than 32, ones to fill up");
        assert_eq!(of(0b0110_0000), Ok(()), "some cameras fill up with zeros");
        assert_eq!(of(0b0110_0111), Err(Damage::Garbled), "a block too many");
        let longer = walk(&mut over(&[(RUN, &[0b0110_0011, 0xfe][..], 0)]));
        assert_eq!(longer, Err(Damage::Garbled), "a byte too many");
        assert_eq!(of(0b0101_1111), Err(Damage::Garbled), "one too few");
        assert_eq!(
            of(0b0110_0001),
            Err(Damage::Garbled),
            "filled up with what is no filling"
        );
    }

    #[test]
    fn the_last_bits_of_a_progressive_picture_are_no_rows_of_zeros_either() {
        // Of every coefficient the code of one that comes in, and its sign, all zeros.
        let zeros = vec![0; 56 * 63 * 2 / 8];
        let first = (RUN, &[0b0110_0011][..], 0x01);
        assert_eq!(
            walk(&mut over(&[first, (0x01, &zeros[..], 0x10)])),
            Err(Damage::Garbled),
            "what codes the same over and over is no coding"
        );
        let nothing = (RUN, &[0b0110_0011][..], 0x10);
        assert_eq!(
            walk(&mut over(&[first, nothing])),
            Ok(()),
            "nothing comes in"
        );
    }
}
