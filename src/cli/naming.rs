//! What this face calls the settings that advice speaks of: its options.

use std::borrow::Cow;

use crate::error::Setting;

/// The option by which `setting` is given.
pub(super) fn option(setting: Setting) -> Cow<'static, str> {
    Cow::Borrowed(match setting {
        Setting::Book => "--book",
        Setting::Day => "--date",
        Setting::Colour => "--lab",
        Setting::Chart => "--chart",
        Setting::Grid => "--grid",
        Setting::TimeLimit => "--time-limit",
        Setting::Backing => "--backing",
        Setting::FoamMass => "--foam-g",
        Setting::SkinBase => "--base",
        Setting::Thickness => "--thickness-mm",
        Setting::MaxThickness => "--max-thickness-mm",
        Setting::FibreMass => "--fibre-g",
        Setting::PaintTones => "--paint-tones",
        Setting::PaintThickness => "--paint-mm",
        Setting::Pigments => "--pigments",
        Setting::With => "--with",
        Setting::Without => "--without",
        Setting::MaxDrops => "--max-drops",
        Setting::MaxTotalDrops => "--max-total-drops",
        Setting::MaxPigments => "--max-pigments",
        Setting::MaxAdd => "--max-add",
        Setting::MinContrast => "--min-contrast",
        Setting::MaxContrast => "--max-contrast",
        Setting::OneTint => "--one-tint",
        Setting::Stock => "--stock",
        Setting::Paint => "--paint",
        Setting::SpectrumFile => "--r-file",
        Setting::Readings => "--reading",
        Setting::Flush => "--flush",
        Setting::LikeOver => "--like-over",
        Setting::Why => "--why",
        Setting::Part => "--part",
        Setting::Replace => "--replace",
        Setting::Stage => "--stage",
        Setting::Casting => "--casting",
        Setting::Poured => "--poured",
        Setting::FreeContrast => "--any-contrast",
        Setting::Force => "--force",
    })
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn every_option_that_advice_names_is_one_of_a_command() {
        let command = crate::cli::Arguments::command();
        let mut known: Vec<String> = Vec::new();
        let mut left = vec![command];
        while let Some(command) = left.pop() {
            let long = command.get_arguments().filter_map(clap::Arg::get_long);
            known.extend(long.map(|long| format!("--{long}")));
            left.extend(command.get_subcommands().cloned());
        }
        for setting in Setting::ALL {
            // Without the feature that reads photographs no chart lies in one.
            if matches!(setting, Setting::Chart | Setting::Grid) && cfg!(not(feature = "photo")) {
                continue;
            }
            let option = option(setting);
            assert!(known.contains(&option.to_string()), "{setting:?}: {option}");
        }
    }
}
