//! What every world shows on one probe.

use machine::Probe;

use crate::bins::Bins;
use crate::cell::Cell;

/// What every world shows on one probe.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    pub(crate) low: Vec<f32>,
    /// Worlds whose reading is a range, ascending, each with its upper end.
    pub(crate) ranges: Vec<(u32, f32)>,
    /// The same in a dozen bins, for planning.
    pub bins: Bins,
}

impl Column {
    pub(crate) fn new(probe: &Probe, cells: &[Cell]) -> Self {
        Self { bins: Bins::new(probe, cells), ..Self::plain(cells) }
    }

    /// Cells without bins, for worlds that are weighed but not planned with.
    pub(crate) fn plain(cells: &[Cell]) -> Self {
        let bins = Bins { classes: Vec::new(), outcomes: Vec::new(), kernel: None };
        let ranges = (0..).zip(cells).filter(|(_, cell)| cell.high > cell.low).map(|(world, cell)| (world, cell.high));
        Self { low: cells.iter().map(|cell| cell.low).collect(), ranges: ranges.collect(), bins }
    }

    /// What one world shows.
    pub fn cell(&self, world: usize) -> Cell {
        let low = self.low[world];
        let range = self.ranges.binary_search_by_key(&world, |(of, _)| *of as usize);
        Cell { low, high: range.map_or(low, |range| self.ranges[range].1) }
    }

    /// Number of worlds.
    pub fn len(&self) -> usize {
        self.low.len()
    }

    /// Whether there is no world.
    pub fn is_empty(&self) -> bool {
        self.low.is_empty()
    }
}
