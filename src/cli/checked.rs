//! `--check FILE`: a photograph with what was read of it outlined.

use crate::error::Result;
use crate::tone::{PhotoRequest, Target, marked, read_marks};

/// The photograph of `requests`, all of one, as a PNG with what `target` was read from outlined.
pub(super) fn picture(requests: &[PhotoRequest], target: &Target) -> Result<Vec<u8>> {
    marked(&requests[0].path, &read_marks(requests, target)?)
}
