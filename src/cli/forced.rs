//! Documents that are written to a file which the user names.

use std::path::Path;

use crate::book::{replace_document, write_document};
use crate::error::Result;

/// Whether a file gives way that is none of ours.
#[derive(Clone, Copy, Debug, clap::Args)]
pub(super) struct Forced {
    /// Replace the file that is to be written, even where dropwise did not write it
    #[arg(long)]
    force: bool,
}

impl Forced {
    /// Writes `document` to `file`.
    ///
    /// # Errors
    /// Something else stands there and must not give way; a failure of the machine.
    pub(super) fn write(self, file: &Path, document: impl AsRef<[u8]>) -> Result<()> {
        if self.force {
            replace_document(file, document)
        } else {
            write_document(file, document)
        }
    }
}
