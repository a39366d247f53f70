//! `--check FILE`: a photograph with what was read of it outlined.

use crate::error::Result;
use crate::tone::{Corners, Mark, PhotoRequest, Target, find_card, marked};

/// The photograph of `requests`, all of one, as a PNG with what `target` was read from outlined.
pub(super) fn picture(requests: &[PhotoRequest], target: &Target) -> Result<Vec<u8>> {
    let mut marks: Vec<Mark> = requests
        .iter()
        .filter_map(|request| request.region.map(Mark::Region))
        .collect();
    let path = &requests[0].path;
    if let Some((region, _)) = requests[0].card {
        let region = match region {
            Some(region) => region,
            None => find_card(path)?,
        };
        marks.push(Mark::Region(region));
    }
    if let Some(chart) = &requests[0].chart {
        let found = target.charts.first().and_then(|chart| chart.found.as_ref());
        let corners = chart
            .corners
            .or(found.map(|found| Corners::new(found.corners)));
        marks.extend(corners.map(|corners| Mark::Chart(corners, chart.values.clone())));
    }
    marked(path, &marks)
}
