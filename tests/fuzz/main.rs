//! Every reader of files and words, fed with what nobody wrote on purpose: mutated samples, by a fixed seed. None may panic, and
//! whatever is refused is bad input, never the machine's fault.
//!
//! `DROPWISE_FUZZ=N cargo test --release --test fuzz -- --nocapture` feeds each reader with N inputs and prints what they took;
//! without it all texts together get 20,000 and all pictures 500. `DROPWISE_FUZZ_OF=CGATS,JPEG` feeds those readers alone;
//! a `TMPDIR` in memory makes it several times as fast.

#![expect(
    clippy::print_stdout,
    reason = "counts and times are what a long run is for"
)]

mod mutation;
mod readers;

use std::time::Instant;

use readers::{Kind, Reader, readers};

/// Printed with every input that fails, so that it can be had again.
const SEED: u64 = 0x05ee_d0f0;

/// How many inputs all readers of a kind share.
fn share(kind: Kind) -> usize {
    match kind {
        Kind::Text => 20_000,
        #[cfg(feature = "photo")]
        Kind::Picture => 500,
    }
}

fn feed(kind: Kind) {
    let folder = tempfile::tempdir().expect("a folder");
    let all: Vec<Reader> = (readers(folder.path()).into_iter())
        .filter(|reader| reader.kind == kind)
        .collect();
    assert!(!all.is_empty(), "there are readers");
    let asked = std::env::var("DROPWISE_FUZZ").ok();
    let asked = asked.map(|count| count.parse().expect("a number"));
    let inputs = asked.unwrap_or(share(kind).div_ceil(all.len()));
    let only = std::env::var("DROPWISE_FUZZ_OF").ok();
    let is_asked =
        |name: &str| (only.as_ref()).is_none_or(|only| only.split(',').any(|each| each == name));
    for reader in (all.iter()).filter(|reader| is_asked(reader.name)) {
        let begun = Instant::now();
        let (mut taken, mut refused) = (0_u64, 0_u64);
        for sample in &reader.samples {
            let read = (reader.read)(&(reader.mend)(sample.clone()));
            assert!(read.is_ok(), "{}, a sample: {:?}", reader.name, read.err());
        }
        for input in 0..inputs {
            let seed = SEED + input as u64;
            let bytes = mutation::mutated(&reader.samples, seed, kind == Kind::Text);
            let bytes = (reader.mend)(bytes);
            // A panic names the test and not the input: this tells which it was.
            let told = Told(reader.name, seed);
            match (reader.read)(&bytes) {
                Ok(()) => taken += 1,
                Err(error) => {
                    assert!(
                        error.is_input() || error.is_out_of_reach(),
                        "{}, {seed}: {error}",
                        reader.name
                    );
                    refused += 1;
                }
            }
            std::mem::forget(told);
        }
        println!(
            "{:14} {inputs:9} inputs, {taken:8} read, {refused:8} refused, {:7.1} s",
            reader.name,
            begun.elapsed().as_secs_f64()
        );
    }
}

/// Says on a panic which input it was.
struct Told(&'static str, u64);

impl Drop for Told {
    fn drop(&mut self) {
        println!("{}: the input of seed {}", self.0, self.1);
    }
}

#[test]
fn no_text_makes_a_reader_panic_or_blame_the_machine() {
    feed(Kind::Text);
}

#[cfg(feature = "photo")]
#[test]
fn no_picture_makes_a_reader_panic_or_blame_the_machine() {
    feed(Kind::Picture);
}
