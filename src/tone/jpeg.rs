//! What a JPEG file says of itself before it is decoded: its components, and whether it is all there.
//!
//! The decoder fills what a cut file lacks with grey, and turns inks into RGB by a rule of thumb; both
//! would pass for colour. So the markers are walked here first.
//!
//! Source: ITU-T T.81 (1992) | ISO/IEC 10918-1:1994, annex B.

use super::window::Window;

/// What the markers of a JPEG file tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Outline {
    /// Components in the frame header: 1 grey, 3 colour, 4 inks; 0 where no frame header was found.
    pub(super) components: u8,
    /// Whether its scans refine one another, so that a decoder keeps all of it until the last.
    pub(super) progressive: bool,
    /// Whether the end-of-image marker was reached.
    pub(super) complete: bool,
}

/// Start of image, end of image, start of scan.
const SOI: u8 = 0xd8;
const EOI: u8 = 0xd9;
const SOS: u8 = 0xda;

/// Walks the markers of `file`, a JPEG file.
pub(super) fn outline(file: &mut Window) -> Outline {
    let mut outline = Outline {
        components: 0,
        progressive: false,
        complete: false,
    };
    let mut offset = 0;
    let mut in_scan = false;
    while let Some([mark, kind]) = file.array(offset) {
        if mark != 0xff {
            // Coded data of a scan; elsewhere, stray bytes that decoders pass over too.
            offset += 1;
            continue;
        }
        match kind {
            // A fill byte before a marker.
            0xff => offset += 1,
            // Within a scan: a coded 0xff, or a restart. Bare markers stand alone as well.
            0x00 | 0x01 | SOI | 0xd0..=0xd7 => offset += 2,
            EOI => {
                outline.complete = in_scan;
                return outline;
            }
            _ => {
                let Some(length) = file.array(offset + 2) else {
                    return outline;
                };
                // Frame headers, less the tables for Huffman and arithmetic coding and an extension.
                if matches!(kind, 0xc0..=0xcf) && !matches!(kind, 0xc4 | 0xc8 | 0xcc) {
                    outline.progressive = kind == 0xc2;
                    outline.components = file.array(offset + 9).map_or(0, |[count]| count);
                }
                in_scan |= kind == SOS;
                offset += 2 + usize::from(u16::from_be_bytes(length));
            }
        }
    }
    outline
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A file of markers only, with this many components.
    fn file(components: u8) -> Vec<u8> {
        let mut file = vec![0xff, SOI];
        // An application segment that holds a whole small picture, as cameras write.
        file.extend([0xff, 0xe1, 0, 6, 0xff, SOI, 0xff, EOI]);
        file.extend([0xff, 0xc0, 0, 8, 8, 0, 1, 0, 1, components]);
        file.extend([0xff, SOS, 0, 3, 0]);
        file.extend([0x12, 0xff, 0x00, 0x34, 0xff, 0xd0, 0x56]);
        file
    }

    #[test]
    fn components_and_the_end_are_found_past_an_embedded_picture() {
        for components in [1, 3, 4] {
            let mut bytes = file(components);
            let cut = outline(&mut Window::over(&bytes));
            assert_eq!(cut.components, components, "frame header");
            assert!(
                !cut.complete,
                "no end yet: the embedded picture's does not count"
            );
            bytes.extend([0xff, EOI]);
            assert!(
                outline(&mut Window::over(&bytes)).complete,
                "the end is there"
            );
            bytes.extend([0, 1, 2]);
            assert!(
                outline(&mut Window::over(&bytes)).complete,
                "more may follow the end"
            );
        }
    }

    #[test]
    fn any_cut_is_incomplete() {
        let whole = file(3);
        for end in 0..whole.len() {
            assert!(
                !outline(&mut Window::over(&whole[..end])).complete,
                "cut at {end}"
            );
        }
    }
}
