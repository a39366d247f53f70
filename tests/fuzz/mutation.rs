//! Inputs that are nearly samples.

/// Words and numbers on which readers stumble.
const ODD: [&str; 28] = [
    "",
    ",",
    "\"",
    "\n",
    "\r",
    "\0",
    "\t",
    ";",
    "-",
    "0",
    "-1",
    "1e308",
    "-1e308",
    "NaN",
    "inf",
    "1e-320",
    "18446744073709551616",
    "0.1.2",
    "1,5",
    "\u{feff}",
    "\u{202e}",
    "\u{1b}[2J",
    "ß",
    "[",
    "{",
    "}",
    "= ",
    "END_DATA",
];

/// One of `samples`, changed in one to four places; texts also by [`ODD`] words. The same for the same `seed`.
pub(crate) fn mutated(samples: &[Vec<u8>], seed: u64, is_text: bool) -> Vec<u8> {
    let mut draws = fastrand::Rng::with_seed(seed);
    let mut bytes = samples[draws.usize(..samples.len())].clone();
    // Few changes more often than many: most readers give up at the first.
    let most = draws.usize(1..=4);
    for _ in 0..draws.usize(1..=most) {
        let at = draws.usize(..=bytes.len());
        let end = at + draws.usize(..=(bytes.len() - at).min(24));
        match draws.u8(..if is_text { 8 } else { 6 }) {
            0 if at < bytes.len() => bytes[at] ^= 1 << draws.u8(..8),
            1 if at < bytes.len() => bytes[at] = draws.u8(..),
            2 => drop(bytes.drain(at..end)),
            3 => {
                let again = bytes[at..end].to_vec();
                let to = draws.usize(..=bytes.len());
                bytes.splice(to..to, again);
            }
            4 => bytes.truncate(at),
            5 => {
                let other = &samples[draws.usize(..samples.len())];
                let from = draws.usize(..=other.len());
                let until = from + draws.usize(..=(other.len() - from).min(64));
                bytes.splice(at..end, other[from..until].iter().copied());
            }
            _ => {
                let odd = ODD[draws.usize(..ODD.len())];
                bytes.splice(at..end, odd.bytes());
            }
        }
    }
    bytes
}
