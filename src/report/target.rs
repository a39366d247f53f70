//! A target and its tones, with published colours of skin beside it.
//!
//! The document is read back as a target, so its keys are those of the reader.
//!
//! For a terminal the tone stands first, with how sure it is in units that a reading would differ by; then the other tones with
//! their shares. Published skins are told beside it for a sense of place, with what their geometry makes of such a comparison,
//! and never as something to aim at.

use std::fmt::{self, Write as _};

use serde::Serialize;

use super::colours::{Numbers, Patch, Seen};
use super::document::document;
use super::lights::name_width;
use super::text::{HEADING, never, write_notes, write_wrapped};
use crate::colour::Light;
use crate::tone::{
    BesidePublished, GEOMETRY_CAUTION, Instrument, InstrumentKind, PublishedSkin, Target,
    TargetDocument,
};

/// A target and its tones, with `published` colours of skin beside it, if any.
///
/// Under each of `lights` it is told how the target looks there; one that is the target's own is passed over.
pub fn text(target: &Target, lights: &[Light], published: &[BesidePublished]) -> String {
    let mut text = String::new();
    write_target(&mut text, target, lights)
        .and_then(|()| write_published(&mut text, published))
        .unwrap_or_else(never);
    text
}

/// A target, as other programs read it and as it is read back.
pub fn json(target: &TargetDocument) -> String {
    /// The document, with the mark of ours by which a later one may take its place.
    #[derive(Serialize)]
    struct Marked<'a> {
        written_by: &'static str,
        #[serde(flatten)]
        target: &'a TargetDocument,
    }
    document(&Marked {
        written_by: "dropwise",
        target,
    })
}

/// The target with its standard deviations, how it was read, its tones where it has several, and how it looks under each of
/// `lights` other than its own.
pub(super) fn write_target(out: &mut String, target: &Target, lights: &[Light]) -> fmt::Result {
    let [l_sd, a_sd, b_sd] = target.spread;
    writeln!(
        out,
        "{HEADING}Target{HEADING:#}   {}  {}",
        Numbers(target.lab),
        Patch(target.lab)
    )?;
    if target.spread != [0.0; 3] {
        writeln!(out, "  ± one sd {l_sd:5.1}     {a_sd:5.1}     {b_sd:5.1}")?;
    }
    write!(out, "  {}", target.viewing)?;
    if let Some(angle) = target.skin_angle() {
        write!(
            out,
            ", skin-tone angle {:.0}° ({})",
            angle.degrees(),
            angle.class()
        )?;
    }
    writeln!(out)?;
    write_reader(out, &target.instrument)?;
    if let Some(seen) = target.translucency {
        writeln!(out, "  over black and white: {}", Seen(seen))?;
    }
    for tone in target.tones.iter().filter(|_| target.tones.len() > 1) {
        let share = if tone.share > 0.0 {
            format!("{:.0} %", 100.0 * tone.share)
        } else {
            "by hand".to_owned()
        };
        writeln!(
            out,
            "  {:<7}{}  {}  {share:>5}",
            tone.role,
            Numbers(tone.lab),
            Patch(tone.lab)
        )?;
    }
    let width = name_width(lights);
    for light in lights
        .iter()
        .filter(|light| **light != target.viewing.illuminant)
    {
        let lab = target.under(light);
        writeln!(
            out,
            "  under {light:<width$} {}  {}",
            Numbers(lab),
            Patch(lab)
        )?;
    }
    write_notes(out, &target.notes)
}

/// How a reader took its readings, where a target comes from one; nothing of a photograph or of a colour that was typed.
fn write_reader(out: &mut String, instrument: &Instrument) -> fmt::Result {
    if instrument.kind != Some(InstrumentKind::Contact) {
        return Ok(());
    }
    write!(out, "  contact reader")?;
    if !instrument.geometry.is_unknown() {
        write!(out, ", {}", instrument.geometry)?;
    }
    writeln!(out)
}

/// Published means of people beside the target; a dash where a source gives no such number. Rows seen by another kind of
/// instrument than the target say so, since the kinds read the same skin apart.
fn write_published(out: &mut String, published: &[BesidePublished]) -> fmt::Result {
    if published.is_empty() {
        return Ok(());
    }
    writeln!(
        out,
        "\n{HEADING}Published skin{HEADING:#}   means of people; ΔE00 from the target"
    )?;
    let cell = |value: Option<f64>| {
        value.map_or_else(|| "    -".to_owned(), |value| format!("{value:5.1}"))
    };
    for BesidePublished {
        skin,
        delta_e,
        same_kind,
    } in published
    {
        let PublishedSkin {
            source,
            subjects,
            site,
            seen_by,
            l,
            a,
            b,
        } = skin;
        let [l, a, b, delta_e] = [*l, *a, *b, *delta_e].map(cell);
        let other = if *same_kind == Some(false) {
            ", unlike the target"
        } else {
            ""
        };
        writeln!(
            out,
            "  L* {l}  a* {a}  b* {b}  ΔE00 {delta_e}  {seen_by}{other}"
        )?;
        writeln!(out, "    {site}, {subjects}: {source}")?;
    }
    write_wrapped(out, "  note: ", GEOMETRY_CAUTION)
}
