//! How much of a long list a terminal is told.

/// Whether all of a list is shown, where else the newest or nearest are.
#[derive(Clone, Copy, Debug, clap::Args)]
pub(super) struct ShowAll {
    /// Show every one, and not as many as a screen holds
    #[arg(long)]
    all: bool,
}

impl ShowAll {
    /// The option by which all are shown.
    pub(super) const OPTION: &str = "--all";
    /// Readings of three lines each that a terminal of forty lines holds, with a line to spare for what stands around them.
    const SCREENFUL: usize = 12;

    /// How many are shown at most; `None` for all.
    pub(super) fn most(self) -> Option<usize> {
        (!self.all).then_some(Self::SCREENFUL)
    }
}
