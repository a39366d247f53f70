//! Where the tones of a photograph lie in it.

use super::ToneRole;
use crate::colour::Lab;

/// A photograph, or a region of one, in cells, each of which lies in the zone of one tone or in none.
#[derive(Clone, Debug, PartialEq)]
pub struct ToneMap {
    /// Cells in a row, at least 1.
    pub columns: usize,
    /// Width of the photograph that is shown over its height.
    pub aspect: f64,
    /// Each cell's colour as photographed, row by row; `None` where nothing can be told of it.
    pub colours: Vec<Option<Lab>>,
    /// Index of each cell's zone; `None` where nothing tells its tone.
    pub zone_of: Vec<Option<usize>>,
    /// What each zone is on a body, that of the base first.
    pub zones: Vec<ToneRole>,
}

impl ToneMap {
    /// Cells below each other.
    pub fn rows(&self) -> usize {
        self.zone_of.len() / self.columns.max(1)
    }

    /// Share of the cells that lie in no zone, 0–1.
    pub fn blank(&self) -> f64 {
        let blank = self.zone_of.iter().filter(|zone| zone.is_none()).count();
        blank as f64 / self.zone_of.len().max(1) as f64
    }

    /// The zone of the cell in this column and row; `None` outside of the map as well.
    pub fn zone(&self, column: usize, row: usize) -> Option<usize> {
        let index = (column < self.columns).then(|| row * self.columns + column)?;
        self.zone_of.get(index).copied().flatten()
    }

    /// Where each connected piece of a zone has most room, as its zone, column and row; pieces of less than a hundredth of the
    /// map are left out, but no zone's largest is.
    pub fn labels(&self) -> Vec<(usize, [usize; 2])> {
        const LEAST: usize = 100;
        let depths = self.depths();
        let mut seen = vec![false; self.zone_of.len()];
        // Each piece: its zone, how many cells it has, and the deepest of them.
        let mut pieces: Vec<(usize, usize, usize)> = Vec::new();
        for start in 0..self.zone_of.len() {
            let Some(zone) = self.zone_of[start].filter(|_| !seen[start]) else {
                continue;
            };
            seen[start] = true;
            let mut piece = vec![start];
            let mut next = 0;
            while let Some(cell) = piece.get(next).copied() {
                next += 1;
                for beside in self.beside(cell) {
                    if !seen[beside] && self.zone_of[beside] == Some(zone) {
                        seen[beside] = true;
                        piece.push(beside);
                    }
                }
            }
            let deepest = piece.iter().copied().max_by_key(|cell| depths[*cell]);
            pieces.push((zone, piece.len(), deepest.unwrap_or(start)));
        }
        let largest = |zone: usize| {
            let of_it = pieces.iter().filter(|(of, ..)| *of == zone);
            of_it.map(|(_, cells, _)| *cells).max().unwrap_or(0)
        };
        pieces
            .iter()
            .filter(|(zone, cells, _)| {
                cells * LEAST >= self.zone_of.len() || *cells == largest(*zone)
            })
            .map(|(zone, _, cell)| (*zone, [cell % self.columns, cell / self.columns]))
            .collect()
    }

    /// How many steps each cell is from one of another zone, or from the edge.
    fn depths(&self) -> Vec<usize> {
        let mut depths = vec![usize::MAX; self.zone_of.len()];
        let is_at_the_edge = |cell: usize| {
            let beside: Vec<usize> = self.beside(cell).collect();
            beside.len() < 4
                || beside
                    .iter()
                    .any(|other| self.zone_of[*other] != self.zone_of[cell])
        };
        let mut reached: Vec<usize> = (0..depths.len())
            .filter(|cell| is_at_the_edge(*cell))
            .collect();
        for cell in &reached {
            depths[*cell] = 0;
        }
        let mut next = 0;
        while let Some(cell) = reached.get(next).copied() {
            next += 1;
            for beside in self.beside(cell) {
                if depths[beside] == usize::MAX {
                    depths[beside] = depths[cell] + 1;
                    reached.push(beside);
                }
            }
        }
        depths
    }

    /// The cells that share a side with `cell`.
    fn beside(&self, cell: usize) -> impl Iterator<Item = usize> {
        let (column, row) = (cell % self.columns, cell / self.columns);
        let left = (column > 0).then(|| cell - 1);
        let right = (column + 1 < self.columns).then(|| cell + 1);
        let above = (row > 0).then(|| cell - self.columns);
        let below = (row + 1 < self.rows()).then(|| cell + self.columns);
        [left, right, above, below].into_iter().flatten()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_piece_is_labelled_where_it_has_most_room() {
        // Five cells by five of zone 1 in nine by nine of zone 0, and one stray cell of zone 1.
        let zone = |index: usize| {
            let (column, row) = (index % 9, index / 9);
            usize::from((2..7).contains(&column) && (2..7).contains(&row))
        };
        let mut map = ToneMap {
            columns: 9,
            aspect: 1.0,
            colours: vec![None; 81],
            zone_of: (0..81).map(|index| Some(zone(index))).collect(),
            zones: vec![ToneRole::Base, ToneRole::Flush],
        };
        map.zone_of[8] = Some(1);
        let labels = map.labels();
        assert!(
            labels.contains(&(1, [4, 4])),
            "the middle of the square: {labels:?}"
        );
        assert_eq!(
            labels.iter().filter(|(zone, _)| *zone == 0).count(),
            1,
            "{labels:?}"
        );
        assert_eq!(map.zone(9, 0), None, "outside");
        map.zone_of[..27].fill(None);
        assert!((map.blank() - 27.0 / 81.0).abs() < 1e-12, "a third");
    }
}
