//! The arithmetic coding of lossy pictures: yes or no, each with its odds.

use super::{Damage, Walked};

/// How many bits of a part may be behind the last answer. Encoders end on whole bytes with what a decoder looks ahead: the one that
/// most programs build on left 16 to 31 in 600 trials, and others may add four bytes of nothing.
const SPARE: std::ops::RangeInclusive<i64> = 0..=64;

/// A part of a picture as answers. Source: RFC 6386, section 7.
pub(super) struct Bools<'a> {
    part: &'a [u8],
    /// The next byte to take; beyond the end there are zeros.
    at: usize,
    /// Bits that were taken and not used: eight that the next answer hangs on, and `count` more below them.
    held: u64,
    count: u32,
    range: u32,
}

impl<'a> Bools<'a> {
    pub(super) fn new(part: &'a [u8]) -> Self {
        let mut first = Self {
            part,
            at: 1,
            held: u64::from(part.first().copied().unwrap_or(0)),
            count: 0,
            range: 255,
        };
        first.fill();
        first
    }

    fn fill(&mut self) {
        while self.count <= 40 {
            let byte = self.part.get(self.at).copied().unwrap_or(0);
            self.held = self.held << 8 | u64::from(byte);
            self.at += 1;
            self.count += 8;
        }
    }

    /// One answer, which is no with odds of `no` in 256.
    pub(super) fn bool(&mut self, no: u8) -> bool {
        let split = 1 + (((self.range - 1) * u32::from(no)) >> 8);
        let split_held = u64::from(split) << self.count;
        let yes = self.held >= split_held;
        if yes {
            self.range -= split;
            self.held -= split_held;
        } else {
            self.range = split;
        }
        // Up to 128 or more again.
        let shift = self.range.leading_zeros() - 24;
        self.range <<= shift;
        if self.count < shift {
            self.fill();
        }
        self.count -= shift;
        yes
    }

    /// An answer without odds.
    pub(super) fn flag(&mut self) -> bool {
        self.bool(128)
    }

    /// A number of so many `bits`, the first the most significant.
    pub(super) fn number(&mut self, bits: u32) -> u32 {
        (0..bits).fold(0, |number, _| number << 1 | u32::from(self.flag()))
    }

    /// A number of so many bits and its sign, where it is given.
    pub(super) fn pass_signed(&mut self, bits: u32) {
        if self.flag() {
            self.number(bits + 1);
        }
    }

    /// Which leaf of `tree` comes next, with the odds of each fork.
    pub(super) fn leaf(&mut self, tree: &[i8], odds: &[u8]) -> usize {
        let mut at = 0;
        loop {
            let next = tree[at + usize::from(self.bool(odds[at / 2]))];
            match usize::try_from(next) {
                Ok(fork) if fork > 0 => at = fork,
                _ => return usize::from(next.unsigned_abs()),
            }
        }
    }

    /// How many bits of the part are behind what was used; negative where answers came from beyond its end.
    fn left_bits(&self) -> i64 {
        let bits = |bytes: usize| 8 * i64::try_from(bytes).unwrap_or(i64::MAX / 8);
        bits(self.part.len()) - bits(self.at) + i64::from(self.count) + 8
    }

    /// Refuses a part that was left behind on the way.
    pub(super) fn check_end(&self, ended: bool) -> Walked<()> {
        let left = self.left_bits();
        if left < *SPARE.start() {
            return Err(Damage::Missing);
        }
        if ended && left > *SPARE.end() {
            return Err(Damage::Garbled);
        }
        Ok(())
    }
}
