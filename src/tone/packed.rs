//! How the strips of a TIFF are packed, and whether they hold what they should, unpacked piece by piece and kept nowhere.
//!
//! Source: TIFF, revision 6.0 (1992), sections 9 (PackBits) and 13 (LZW); its supplement 2 (2002, Deflate). Section numbers from
//! memory.

use std::io::{BufRead, Error, ErrorKind, Read, Result};

use flate2::bufread::ZlibDecoder;
use weezl::decode::Configuration;
use weezl::{BitOrder, LzwStatus};

/// How strips are packed.
#[derive(Clone, Copy)]
pub(super) enum Packing {
    Not,
    Lzw,
    Deflate,
    PackBits,
}

impl Packing {
    /// Of the number that stands in the file; `None` of one that isn't known here.
    pub(super) fn of(number: u32) -> Option<Self> {
        match number {
            1 => Some(Self::Not),
            5 => Some(Self::Lzw),
            8 | 32946 => Some(Self::Deflate),
            32773 => Some(Self::PackBits),
            _ => None,
        }
    }

    /// Unpacks `strip`, which should hold as many bytes as `unpacked`.
    ///
    /// # Errors
    /// The end of the strip before that, as [`ErrorKind::UnexpectedEof`]; bytes that are no such packing; a failure of the machine.
    pub(super) fn check(self, strip: impl BufRead, unpacked: u64) -> Result<()> {
        let found = match self {
            Self::Not => std::io::copy(&mut strip.take(unpacked), &mut std::io::sink())?,
            // One byte more, and the check sum behind the last is read.
            Self::Deflate => std::io::copy(
                &mut ZlibDecoder::new(strip).take(unpacked + 1),
                &mut std::io::sink(),
            )?,
            Self::Lzw => lzw(strip, unpacked)?,
            Self::PackBits => pack_bits(strip, unpacked)?,
        };
        if found < unpacked {
            return Err(ErrorKind::UnexpectedEof.into());
        }
        Ok(())
    }
}

/// How many bytes the strip has, unpacked; it need not be read on after so many as are `wanted`.
fn lzw(mut strip: impl BufRead, wanted: u64) -> Result<u64> {
    let mut decoder = Configuration::with_tiff_size_switch(BitOrder::Msb, 8)
        .with_yield_on_full_buffer(true)
        .build();
    let mut piece = [0; 8192];
    let mut found = 0;
    while found < wanted {
        let packed = strip.fill_buf()?;
        let is_over = packed.is_empty();
        let step = decoder.decode_bytes(packed, &mut piece);
        strip.consume(step.consumed_in);
        found += step.consumed_out as u64;
        let is_stuck = step.consumed_in == 0 && step.consumed_out == 0;
        match step.status {
            Ok(LzwStatus::Done) => break,
            Ok(_) if is_stuck && is_over => break,
            Ok(_) => {}
            Err(error) => return Err(Error::new(ErrorKind::InvalidData, error)),
        }
    }
    Ok(found)
}

/// The same of runs of bytes, alike or not.
fn pack_bits(mut strip: impl BufRead, wanted: u64) -> Result<u64> {
    let mut found = 0;
    while found < wanted {
        let mut run = [0];
        strip.read_exact(&mut run)?;
        let bytes = u64::from(run[0]);
        let (packed, unpacked) = match bytes {
            0..128 => (bytes + 1, bytes + 1),
            128 => (0, 0),
            _ => (1, 257 - bytes),
        };
        let taken = std::io::copy(&mut strip.by_ref().take(packed), &mut std::io::sink())?;
        if taken < packed {
            break;
        }
        found += unpacked;
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_of_bytes_are_counted_as_they_unpack() {
        // The example of the standard's section 9.
        let packed = [
            0xfe, 0xaa, 0x02, 0x80, 0x00, 0x2a, 0xfd, 0xaa, 0x03, 0x80, 0x00, 0x2a, 0x22, 0xf7,
            0xaa,
        ];
        let check = |packed: &[u8], unpacked| Packing::PackBits.check(packed, unpacked);
        check(&packed, 24).expect("twenty-four bytes");
        for (packed, unpacked) in [(&packed[..], 25), (&packed[..14], 24), (&packed[..3], 5)] {
            let error = check(packed, unpacked).expect_err("too short");
            assert_eq!(error.kind(), ErrorKind::UnexpectedEof, "{unpacked}");
        }
    }

    #[test]
    fn a_check_sum_that_is_wrong_is_told() {
        use std::io::Write as _;
        let mut packer = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::fast());
        packer.write_all(&[7; 1000]).expect("packed");
        let mut packed = packer.finish().expect("packed");
        Packing::Deflate.check(&packed[..], 1000).expect("as many");
        assert!(
            Packing::Deflate.check(&packed[..], 1001).is_err(),
            "no more"
        );
        *packed.last_mut().expect("some") ^= 1;
        assert!(
            Packing::Deflate.check(&packed[..], 1000).is_err(),
            "the sum"
        );
    }
}
