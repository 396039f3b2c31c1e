//! What every world shows on one probe.

use machine::Probe;

use crate::bins::Bins;
use crate::cell::Cell;

/// What every world shows on one probe.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    pub(crate) low: Vec<f32>,
    /// Upper ends; nothing when no world's reading is a range.
    pub(crate) high: Option<Vec<f32>>,
    /// The same in a dozen bins, for planning.
    pub bins: Bins,
}

impl Column {
    pub(crate) fn new(probe: &Probe, cells: &[Cell]) -> Self {
        let ranges = cells.iter().any(|cell| cell.high > cell.low);
        Self {
            low: cells.iter().map(|cell| cell.low).collect(),
            high: ranges.then(|| cells.iter().map(|cell| cell.high).collect()),
            bins: Bins::new(probe, cells),
        }
    }

    /// Cells without bins, for worlds that are weighed but not planned with.
    pub(crate) fn plain(cells: &[Cell]) -> Self {
        let bins = Bins { classes: Vec::new(), outcomes: Vec::new(), kernel: None };
        let high = Some(cells.iter().map(|cell| cell.high).collect());
        Self { low: cells.iter().map(|cell| cell.low).collect(), high, bins }
    }

    /// What one world shows.
    pub fn cell(&self, world: usize) -> Cell {
        let low = self.low[world];
        Cell { low, high: self.high.as_ref().map_or(low, |high| high[world]) }
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
