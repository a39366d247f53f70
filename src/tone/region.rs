//! A rectangle of pixels.

use std::fmt;
use std::str::FromStr;

use crate::error::{Error, Result};

/// A rectangle in a picture, in pixels from the top left of the upright picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Region {
    /// Columns to the left of the rectangle.
    pub left: u32,
    /// Rows above the rectangle.
    pub top: u32,
    /// Columns in the rectangle, at least 1.
    pub width: u32,
    /// Rows in the rectangle, at least 1.
    pub height: u32,
}

impl Region {
    /// The whole of a picture of this size.
    pub(super) fn whole([width, height]: [u32; 2]) -> Self {
        Self {
            left: 0,
            top: 0,
            width,
            height,
        }
    }

    /// Refuses a rectangle that is empty or reaches out of a picture of this size.
    pub(super) fn check(self, [width, height]: [u32; 2]) -> Result<()> {
        let fits = |first: u32, count: u32, all: u32| {
            count > 0 && first.checked_add(count).is_some_and(|end| end <= all)
        };
        if fits(self.left, self.width, width) && fits(self.top, self.height, height) {
            return Ok(());
        }
        Err(Error::input(format!(
            "the region {self} does not lie in the picture, which is {width} wide and {height} high \
             when upright"
        ))
        .mend("a region is X,Y,W,H in pixels from the top left, with W and H at least 1"))
    }
}

impl fmt::Display for Region {
    /// `X,Y,W,H`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{},{},{},{}",
            self.left, self.top, self.width, self.height
        )
    }
}

impl FromStr for Region {
    type Err = Error;

    /// Takes `X,Y,W,H`.
    fn from_str(text: &str) -> Result<Self> {
        let numbers: Option<Vec<u32>> = text
            .split(',')
            .map(|field| field.trim().parse().ok())
            .collect();
        match numbers.as_deref() {
            Some(&[left, top, width, height]) if width > 0 && height > 0 => Ok(Self {
                left,
                top,
                width,
                height,
            }),
            _ => Err(Error::input(format!(
                "the region is \"{}\"; expected X,Y,W,H: four whole numbers of pixels, W and H at least 1",
                text.escape_debug()
            ))
            .mend("such as 120,80,200,150")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_region_is_read_and_written_alike() {
        let region: Region = "120, 80,200,150".parse().expect("four numbers");
        assert_eq!(
            region.to_string(),
            "120,80,200,150",
            "as typed, less spaces"
        );
        for text in ["", "1,2,3", "1,2,3,4,5", "1,2,0,4", "-1,2,3,4", "1.5,2,3,4"] {
            let error = text.parse::<Region>().expect_err(text);
            assert!(error.to_string().contains("X,Y,W,H"), "{error}");
        }
    }

    #[test]
    fn a_region_outside_is_told_the_size_of_the_picture() {
        let region: Region = "90,0,20,10".parse().expect("four numbers");
        let line = region.check([100, 50]).expect_err("10 columns too far");
        assert!(line.to_string().contains("100 wide and 50 high"), "{line}");
        assert!(region.check([110, 10]).is_ok(), "just inside");
        let far: Region = "4294967295,0,2,1".parse().expect("four numbers");
        assert!(far.check([100, 50]).is_err(), "no overflow");
    }
}
