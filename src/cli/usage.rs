//! What is not understood: numbers below zero taken for options, and errors of usage on one line.

/// Lets every argument read a number below zero, which it then refuses in its own words.
pub(super) fn taking_negatives(command: clap::Command) -> clap::Command {
    command
        .mut_args(|arg| {
            let takes_value = arg.get_action().takes_values();
            arg.allow_negative_numbers(takes_value)
        })
        .mut_subcommands(taking_negatives)
}

/// An error of usage on one line, as all others are: what is wrong, then the mend in brackets.
pub(super) fn usage_line(error: &clap::Error) -> String {
    let text = error.render().to_string();
    let mut paragraphs = text.split("\n\n").map(|paragraph| {
        let words: Vec<&str> = paragraph.split_whitespace().collect();
        words.join(" ")
    });
    let finding = paragraphs.next().unwrap_or_default();
    if finding.ends_with(')') {
        return finding;
    }
    let tip = paragraphs.find_map(|paragraph| Some(paragraph.strip_prefix("tip: ")?.to_owned()));
    format!("{finding} ({})", tip.as_deref().unwrap_or("see --help"))
}
