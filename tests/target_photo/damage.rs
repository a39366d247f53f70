//! Pictures that are damaged, or claim what they have not: nothing is read of them but what they hold.

use std::fs;

use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use dropwise::colour::Viewing;
use dropwise::tone::PhotoRequest;

use super::colours::quarters;
use super::studio::{Painting, Studio};
use super::{one_tone, read, refusal, region, request};

/// Scans that refine one another, 4:2:0.
const PROGRESSIVE: &str = "\
     /9j/4AAQSkZJRgABAQAAAQABAAD/2wBDAA0JCgsKCA0LCgsODg0PEyAVExISEyccHhcgLikxMC4pLSwzOko+MzZGNywtQFdBRkxO\
     UlNSMj5aYVpQYEpRUk//2wBDAQ4ODhMREyYVFSZPNS01T09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09P\
     T09PT09PT0//wgARCAAlADIDASIAAhEBAxEB/8QAFgABAQEAAAAAAAAAAAAAAAAAAAEE/8QAFwEBAQEBAAAAAAAAAAAAAAAAAAED\
     BP/aAAwDAQACEAMQAAAB1DHoAABAUACBAVQQAr//xAAUEAEAAAAAAAAAAAAAAAAAAABQ/9oACAEBAAEFAg//xAAUEQEAAAAAAAAA\
     AAAAAAAAAAAw/9oACAEDAQE/AU//xAAUEQEAAAAAAAAAAAAAAAAAAAAw/9oACAECAQE/AU//xAAUEAEAAAAAAAAAAAAAAAAAAABQ\
     /9oACAEBAAY/Ag//xAAWEAADAAAAAAAAAAAAAAAAAAAQQVD/2gAIAQEAAT8hgM//2gAMAwEAAgADAAAAEAgggwggv/on/P/EABQR\
     AQAAAAAAAAAAAAAAAAAAADD/2gAIAQMBAT8QT//EABQRAQAAAAAAAAAAAAAAAAAAADD/2gAIAQIBAT8QT//EABwQAAIDAQEBAQAA\
     AAAAAAAAAAABETGRQSFRYf/aAAgBAQABPxBJRS0hRS0aXni0hTS0hTS0SUUtIXxaKY7hzuD5eHe4ez3BV3DcElFLSFFLRpeeLSFN\
     LSFNLRJRS0hfmiruHO4OfLw73DvcFXcNwURR5FDjzw8mjzgURR58P//Z";

/// A restart after every second unit, 4:2:2, tables of its own.
const RESTARTS: &str = "\
     /9j/4AAQSkZJRgABAQAAAQABAAD/2wBDAA0JCgsKCA0LCgsODg0PEyAVExISEyccHhcgLikxMC4pLSwzOko+MzZGNywtQFdBRkxO\
     UlNSMj5aYVpQYEpRUk//2wBDAQ4ODhMREyYVFSZPNS01T09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09P\
     T09PT09PT0//wAARCAAlADIDASEAAhEBAxEB/8QAFgABAQEAAAAAAAAAAAAAAAAAAAUB/8QAHRAAAgMBAQEBAQAAAAAAAAAAAAER\
     MZFBIVESYf/EABcBAQEBAQAAAAAAAAAAAAAAAAAEBQH/xAAWEQEBAQAAAAAAAAAAAAAAAAAAESH/3QAEAAL/2gAMAwEAAhEDEQA/\
     AKiSilohRS0kaA0vPFohTS0D/9CpCmloSUUtJGgQvi0Bx//RqKY7g53CRoD5eDvcA//Sqez3Aq7hI0DcAcf/06iSilohRS0kaA0v\
     PFohTS0D/9SpCmloSUUtJGgyF/NArj//1airuDncJGgOfLwd7gH/1qne4FXcJGgzcAcf/9emoih5FEjQHHnhvk0B/9Cp5+qMURRI\
     0Dz4Bo//2Q==";

/// Both, 4:4:4.
const BOTH: &str = "\
     /9j/4AAQSkZJRgABAQAAAQABAAD/2wBDAA0JCgsKCA0LCgsODg0PEyAVExISEyccHhcgLikxMC4pLSwzOko+MzZGNywtQFdBRkxO\
     UlNSMj5aYVpQYEpRUk//2wBDAQ4ODhMREyYVFSZPNS01T09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09P\
     T09PT09PT0//wgARCAAlADIDAREAAhEBAxEB/8QAFgABAQEAAAAAAAAAAAAAAAAAAAQB/8QAFwEBAQEBAAAAAAAAAAAAAAAAAAMB\
     BP/dAAQAB//aAAwDAQACEAMQAAABqjc0AGD/0Ko3NABg/9GqNzQAZh//0qo3NABmH//Tpj0AaDAf/8QAFBABAAAAAAAAAAAAAAAA\
     AAAAIP/aAAgBAQABBQJ//9B//9F//9J//9N//8QAFBEBAAAAAAAAAAAAAAAAAAAAIP/aAAgBAwEBPwF//9B//9F//9J//9N//8QA\
     FBEBAAAAAAAAAAAAAAAAAAAAIP/aAAgBAgEBPwF//9B//9F//9J//9N//8QAFBABAAAAAAAAAAAAAAAAAAAAIP/aAAgBAQAGPwJ/\
     /9B//9F//9J//9N//8QAFhABAQEAAAAAAAAAAAAAAAAAIBBB/9oACAEBAAE/IX//0H//0X//0n//0xt//9oADAMBAAIAAwAAABBp\
     JN//0Gkg3//RaST/AP/SaSD/AP/T2ye3/8QAGREAAwEBAQAAAAAAAAAAAAAAAAFBMRAR/9oACAEDAQE/EFhBlKLOf//QWEGUos5/\
     /9FYQZSizn//0lhBlKLOf//TWEH6PSi985//xAAXEQEBAQEAAAAAAAAAAAAAAAAgABEh/9oACAECAQE/EH//0H//0Vt//9J//9Nd\
     v//EABwQAAIDAQEBAQAAAAAAAAAAAAABETGRQSFRYf/aAAgBAQABPxBJRS0hRS0aXni0hTS0hTS0SUUtIXxaf//QUx3DncHy8O9w\
     9nuCruG4f//RSUUtIUUtGl54tIU0tIU0tElFLSF+af/SVdw53Bz5eHe4d7gq7huH/9NRFHkUOPPDyaPOBRFHnw//2Q==";

/// Parts of the demo's photograph as WebP, made by libwebp 1.2.4 (general-purpose, BSD): lossy with four segments and its coefficients
/// in eight parts; lossless with several groups of codes; lossy with what is opaque beside it.
const WEBP_IN_PARTS: &[u8] = include_bytes!("webp/parts.webp");
const WEBP_LOSSLESS: &[u8] = include_bytes!("webp/groups.webp");
const WEBP_OPAQUE: &[u8] = include_bytes!("webp/opaque.webp");

/// The demo's photograph.
const PHOTO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/swatches/reference-photo.jpg");

/// Where the coded data of a JPEG's first scan begin. Source: ITU-T T.81, annex B.
fn first_scan(content: &[u8]) -> usize {
    let mut at = 2;
    loop {
        let length = usize::from(u16::from_be_bytes([content[at + 2], content[at + 3]]));
        at += 2 + length;
        if content[at - 2 - length + 1] == 0xda {
            return at;
        }
    }
}

/// That the refusal `line` tells of damage.
fn assert_told(line: &str, what: &str) {
    let is_told = line.contains("cut short") || line.contains("damaged");
    assert!(is_told, "{what}: {line}");
}

#[test]
fn sixteen_bytes_of_a_scan_that_are_lost_are_told() {
    let studio = Studio::new();
    let whole = fs::read(PHOTO).expect("the demo's photograph");
    let from = first_scan(&whole);
    let mut draws = fastrand::Rng::with_seed(1976);
    for trial in 0..40 {
        let at = draws.usize(from..whole.len() - 18);
        let mut content = whole.clone();
        content[at..at + 16].fill(0);
        let line = refusal(&request(&studio.file("damaged.jpg", &content)));
        assert_told(&line, &format!("trial {trial}, byte {at}"));
    }
}

#[test]
fn a_border_of_nothing_is_no_damage() {
    let studio = Studio::new();
    let framed = Painting::new(640, 480, |x, y| {
        if (200..280).contains(&x) && (200..280).contains(&y) {
            [
                0.7 + f64::from(x % 7) / 100.0,
                0.5,
                0.4 + f64::from(y % 5) / 100.0,
            ]
        } else {
            [0.0; 3]
        }
    });
    let path = studio.jpeg("framed.jpg", &framed, None);
    let request = PhotoRequest {
        region: Some(region("210,210,60,60")),
        ..one_tone(&path)
    };
    assert!(
        (55.0..75.0).contains(&read(&request, Viewing::D65_10).lab.l),
        "read"
    );
}

#[test]
fn half_a_picture_with_an_end_put_to_it_is_refused() {
    let studio = Studio::new();
    let baseline = fs::read(studio.jpeg("whole.jpg", &quarters(), None)).expect("just written");
    let coded =
        [PROGRESSIVE, RESTARTS, BOTH].map(|text| BASE64_STANDARD.decode(text).expect("base64"));
    for whole in coded.iter().chain([&baseline]) {
        let from = first_scan(whole);
        for share in [0.3, 0.5, 0.9] {
            let end = from + ((whole.len() - from) as f64 * share) as usize;
            let half = [&whole[..end], &[0xff, 0xd9]].concat();
            let line = refusal(&request(&studio.file("half.jpg", &half)));
            assert_told(&line, &format!("{share} of it"));
        }
    }
}

#[test]
fn what_claims_a_size_that_its_data_do_not_fill_is_refused() {
    let studio = Studio::new();
    let mut content = fs::read(studio.jpeg("small.jpg", &quarters(), None)).expect("just written");
    let frame = content.windows(2).position(|two| two == [0xff, 0xc0]);
    let frame = frame.expect("a frame header");
    for side in [80_u16, 14_000] {
        let [high, low] = side.to_be_bytes();
        content[frame + 5..frame + 9].copy_from_slice(&[high, low, high, low]);
        let line = refusal(&request(&studio.file("claims.jpg", &content)));
        assert!(line.contains("cut short"), "{side}: {line}");
    }
}

#[test]
fn ordinary_codings_are_read_and_so_is_what_follows_their_end() {
    let studio = Studio::new();
    let tone = |name: &str, content: &[u8]| {
        read(&one_tone(&studio.file(name, content)), Viewing::D65_10).lab
    };
    for (name, text) in [
        ("progressive.jpg", PROGRESSIVE),
        ("restarts.jpg", RESTARTS),
        ("both.jpg", BOTH),
    ] {
        let mut content = BASE64_STANDARD.decode(text).expect("base64");
        let first = tone(name, &content);
        assert!((55.0..70.0).contains(&first.l), "{name}: {first:?}");
        // Telephones append films and maps of depth.
        content.extend([0, 0xff, 0xd8, 1, 2, 3]);
        assert_eq!(tone(name, &content), first, "{name}, with more behind it");
        // Some cameras fill up the scan before its end marker.
        if name == "restarts.jpg" {
            let end = content.len() - 8;
            content.splice(end..end, [0; 7]);
            assert_eq!(tone(name, &content), first, "{name}, filled up");
        }
    }
}

#[test]
fn restarts_out_of_turn_are_damage() {
    let studio = Studio::new();
    let mut content = BASE64_STANDARD.decode(RESTARTS).expect("base64");
    let second = content.windows(2).position(|two| two == [0xff, 0xd1]);
    content[second.expect("a second restart") + 1] = 0xd3;
    let line = refusal(&request(&studio.file("turned.jpg", &content)));
    assert!(line.contains("damaged"), "{line}");
}

#[test]
fn a_profile_that_no_profile_is_as_large_as_is_refused_unpacked() {
    let studio = Studio::new();
    let bomb = studio.png(
        "bomb.png",
        &Painting::flat([198, 148, 122]),
        Some(vec![0; 40 << 20]),
    );
    let bytes = fs::metadata(&bomb).expect("just written").len();
    assert!(bytes < 1 << 20, "it is packed: {bytes}");
    let line = refusal(&request(&bomb));
    assert!(line.contains("profile can't be used"), "{line}");
}

#[test]
fn a_large_picture_of_hardly_any_bytes_is_refused() {
    let studio = Studio::new();
    let flat = Painting::new(4_000, 3_000, |_, _| [0.7, 0.5, 0.4]);
    let webp = studio.webp("flat.webp", &flat, None);
    let line = refusal(&request(&webp));
    assert!(line.contains("no photograph in it"), "{line}");
}

#[test]
fn a_webp_that_is_shorter_than_it_says_is_cut_short() {
    let studio = Studio::new();
    let whole = fs::read(studio.webp("whole.webp", &quarters(), None)).expect("just written");
    let cut = studio.file("cut.webp", &whole[..whole.len() - 9]);
    let line = refusal(&request(&cut));
    assert!(line.contains("cut short"), "{line}");
}

/// What a TIFF would take is asked for once its strips are known to be there.
#[cfg(target_os = "linux")]
#[test]
fn a_large_tiff_without_its_strips_is_refused_in_little_memory() {
    /// More than the program starts with, and less than the picture would take.
    const MOST_KB: u32 = 400 << 10;
    let studio = Studio::new();
    let small = studio.tiff("small.tif", [12, 12], &[150; 3 * 12 * 12], 3, 2, 1);
    let mut content = fs::read(small).expect("just written");
    // As many bytes as a picture of this size has at least, so that it is not told by that.
    content.resize(500 << 10, 0);
    for (tag, value) in [
        (256, 12_000),
        (257, 12_000),
        (278, 12_000),
        (279, 3 * 12_000 * 12_000),
    ] {
        let entry = (10..130)
            .step_by(12)
            .find(|at| u16::from_le_bytes([content[*at], content[at + 1]]) == tag);
        let at = entry.expect("the entry stands there") + 8;
        content[at..at + 4].copy_from_slice(&u32::to_le_bytes(value));
    }
    let path = studio.file("claims.tif", &content);
    let output = std::process::Command::new("sh")
        .args(["-c", &format!("ulimit -v {MOST_KB}; exec \"$0\" \"$@\"")])
        .arg(env!("CARGO_BIN_EXE_dropwise"))
        .arg("target")
        .arg(path)
        .output()
        .expect("a shell");
    let line = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{line}");
    assert!(line.contains("cut short"), "{line}");
}

/// A WebP of one chunk whose data are these, with sizes that are right. Source: RFC 9649, section 2.
fn webp_of(kind: &[u8], data: &[u8]) -> Vec<u8> {
    let size = |bytes: usize| u32::try_from(bytes).expect("small").to_le_bytes();
    let padding = &[0][..data.len() % 2];
    let chunk = [kind, &size(data.len()), data, padding].concat();
    [b"RIFF", &size(4 + chunk.len())[..], b"WEBP", &chunk].concat()
}

/// Behind the container's head and that of the first chunk.
const WEBP_DATA: usize = 20;

#[test]
fn ordinary_codings_of_webp_are_read_and_what_hides_damage_says_so() {
    let studio = Studio::new();
    for (name, content) in [
        ("parts.webp", WEBP_IN_PARTS),
        ("groups.webp", WEBP_LOSSLESS),
        ("opaque.webp", WEBP_OPAQUE),
    ] {
        let target = read(&one_tone(&studio.file(name, content)), Viewing::D65_10);
        let tone = target.lab;
        assert!((30.0..60.0).contains(&tone.l), "{name}: {tone:?}");
        let warns = target.notes.iter().any(|note| note.contains("goes unseen"));
        assert_eq!(warns, name == "groups.webp", "{name}: {:?}", target.notes);
    }
}

#[test]
fn bytes_of_a_lossy_webp_that_are_lost_are_told() {
    let studio = Studio::new();
    let mut draws = fastrand::Rng::with_seed(6386);
    let mut passed = 0;
    for trial in 0..100 {
        let at = draws.usize(WEBP_DATA + 10..WEBP_IN_PARTS.len() - 16);
        let mut content = WEBP_IN_PARTS.to_vec();
        match trial % 2 {
            0 => content[at..at + 16].fill(0),
            _ => content[at..at + 16].fill_with(|| draws.u8(..)),
        }
        let path = studio.file("damaged.webp", &content);
        match dropwise::tone::Target::from_photo(&one_tone(&path), Viewing::D65_10) {
            Ok(_) => passed += 1,
            Err(error) => assert_told(&error.to_string(), &format!("trial {trial}, byte {at}")),
        }
    }
    // What lies so near the end of a part that it comes out there all the same.
    assert!(passed <= 4, "{passed} of 100 pass");
}

#[test]
fn a_webp_whose_data_end_elsewhere_than_its_picture_is_refused() {
    let studio = Studio::new();
    for (kind, whole) in [(b"VP8 ", WEBP_IN_PARTS), (b"VP8L", WEBP_LOSSLESS)] {
        let length = <[u8; 4]>::try_from(&whole[WEBP_DATA - 4..WEBP_DATA]).expect("four");
        let length = u32::from_le_bytes(length) as usize;
        let data = &whole[WEBP_DATA..WEBP_DATA + length];
        let cases = [
            ("half.webp", &data[..length / 2], "cut short"),
            ("nearly.webp", &data[..length - 8], "cut short"),
            ("more.webp", &[data, &[0x5a; 24]].concat(), "damaged"),
        ];
        for (name, data, told) in cases {
            let line = refusal(&request(&studio.file(name, &webp_of(kind, data))));
            assert!(line.contains(told), "{name}: {line}");
        }
        let again = studio.file("again.webp", &webp_of(kind, data));
        read(&one_tone(&again), Viewing::D65_10);
    }
}

#[test]
fn a_tiff_that_points_beyond_any_file_is_damaged_and_not_the_machine() {
    let studio = Studio::new();
    let samples = [198, 148, 152].repeat(60 * 60);
    let flat = studio.tiff("flat.tif", [60, 60], &samples, 3, 2, 1);
    let mut content = fs::read(flat).expect("just written");
    // Where its one strip lies, in four bytes. Source: TIFF, revision 6.0, section 8; types of eight bytes from memory.
    let entry = [0x11, 0x01, 4, 0, 1, 0, 0, 0];
    let at = content.windows(8).position(|bytes| bytes == entry);
    content[at.expect("an entry") + 2] = 18;
    let line = refusal(&request(&studio.file("far.tif", &content)));
    assert!(line.contains("where no file reaches"), "{line}");
}
