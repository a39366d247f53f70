//! The prefix codes of lossless pictures, and the bits that they are read from.

use std::io::BufRead;

use super::{Damage, Walked};

/// Longest code, bits.
const LONGEST: usize = 15;
/// Bits that are held before a code is read.
const HELD: u32 = 16;
/// Codes up to this long are looked up at once.
const AT_ONCE: u32 = 8;

/// Bits from the least significant of each byte.
pub(super) struct Bits<R> {
    file: R,
    /// Bits that were taken and not used, the next the least significant.
    held: u64,
    count: u32,
}

impl<R: BufRead> Bits<R> {
    pub(super) fn new(file: R) -> Self {
        Self {
            file,
            held: 0,
            count: 0,
        }
    }

    /// Takes bytes until 32 bits are held, or there are no more.
    fn fill(&mut self) -> Walked<()> {
        while self.count < 32 {
            let Some(byte) = self.file.fill_buf()?.first().copied() else {
                break;
            };
            self.file.consume(1);
            self.held |= u64::from(byte) << self.count;
            self.count += 8;
        }
        Ok(())
    }

    /// So many bits, at most 32, as a number.
    pub(super) fn take(&mut self, bits: u32) -> Walked<u32> {
        if self.count < bits {
            self.fill()?;
        }
        let left = self.count.checked_sub(bits).ok_or(Damage::Missing)?;
        let taken = self.held & ((1 << bits) - 1);
        self.held >>= bits;
        self.count = left;
        Ok(u32::try_from(taken).unwrap_or(u32::MAX))
    }

    /// The same of at most 8 bits.
    pub(super) fn byte(&mut self, bits: u32) -> Walked<u8> {
        Ok(u8::try_from(self.take(bits)?).unwrap_or(u8::MAX))
    }

    pub(super) fn flag(&mut self) -> Walked<bool> {
        Ok(self.take(1)? == 1)
    }

    /// Refuses bits behind the last that were used: encoders end on a whole byte, with zeros.
    pub(super) fn check_end(mut self) -> Walked<()> {
        let rest = self.take(self.count % 8)?;
        self.fill()?;
        if rest == 0 && self.count == 0 {
            Ok(())
        } else {
            Err(Damage::Garbled)
        }
    }
}

/// What each code stands for.
pub(super) enum Codes {
    /// Always the same, and coded by nothing.
    One(u16),
    Many(Box<Lengths>),
}

/// Codes in the order of their lengths.
pub(super) struct Lengths {
    /// For each value that the next [`AT_ONCE`] bits may have: the length of the code in the lower four bits, and what it stands for;
    /// zero for longer codes.
    short: [u16; 1 << AT_ONCE],
    /// How many codes there are of each length.
    counts: [u16; LONGEST + 1],
    symbols: Vec<u16>,
}

impl Codes {
    /// The codes that have these lengths, none of them longer than 15 and nought where there is none. Source: RFC 9649, section
    /// 3.7.2.
    pub(super) fn new(lengths: &[u8]) -> Walked<Self> {
        let mut counts = [0_u16; LONGEST + 1];
        let mut symbols: Vec<u16> = Vec::new();
        for (symbol, length) in (0..).zip(lengths) {
            if *length > 0 {
                counts[usize::from(*length)] += 1;
                symbols.push(symbol);
            }
        }
        match symbols[..] {
            [] => return Err(Damage::Garbled),
            [only] => return Ok(Self::One(only)),
            _ => {}
        }
        // All codes together fill what there is.
        let room = |length: usize| usize::from(counts[length]) << (LONGEST - length);
        if (1..=LONGEST).map(room).sum::<usize>() != 1 << LONGEST {
            return Err(Damage::Garbled);
        }
        symbols.sort_by_key(|symbol| lengths[usize::from(*symbol)]);
        let mut codes = Lengths {
            short: [0; 1 << AT_ONCE],
            counts,
            symbols,
        };
        let mut code = 0_u32;
        for symbol in &codes.symbols {
            let length = u16::from(lengths[usize::from(*symbol)]);
            if u32::from(length) > AT_ONCE {
                break;
            }
            let reversed = code.reverse_bits() >> (32 - AT_ONCE);
            for value in (reversed as usize..codes.short.len()).step_by(1 << length) {
                codes.short[value] = symbol << 4 | length;
            }
            code += 1 << (AT_ONCE - u32::from(length));
        }
        Ok(Self::Many(Box::new(codes)))
    }

    /// What the next code stands for.
    pub(super) fn next<R: BufRead>(&self, bits: &mut Bits<R>) -> Walked<u16> {
        match self {
            Self::One(symbol) => Ok(*symbol),
            Self::Many(codes) => codes.next(bits),
        }
    }
}

impl Lengths {
    fn next<R: BufRead>(&self, bits: &mut Bits<R>) -> Walked<u16> {
        if bits.count < HELD {
            bits.fill()?;
        }
        let short = self.short[(bits.held & ((1 << AT_ONCE) - 1)) as usize];
        if short != 0 {
            bits.take(u32::from(short & 15))?;
            return Ok(short >> 4);
        }
        // The codes of a length follow each other, and so do the lengths.
        let (mut code, mut first, mut before) = (0, 0, 0);
        for count in &self.counts[1..] {
            code = code << 1 | usize::from(bits.flag()?);
            first <<= 1;
            let count = usize::from(*count);
            if code < first + count {
                return Ok(self.symbols[before + code - first]);
            }
            first += count;
            before += count;
        }
        Err(Damage::Garbled)
    }
}
