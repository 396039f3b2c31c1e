//! What one world shows on one probe, in a few bytes.

use machine::Seen;

/// What one world shows on one probe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cell {
    /// The number, the lower end of a range, the index of a word, or infinity beyond the limit.
    pub low: f32,
    /// The same, or the upper end of a range.
    pub high: f32,
}

impl Cell {
    /// Says nothing.
    pub const NOTHING: Self = Self { low: f32::NAN, high: f32::NAN };
    /// Beyond the instrument's limit.
    pub const OVER: Self = Self { low: f32::INFINITY, high: f32::INFINITY };

    pub(crate) fn of(seen: Seen) -> Self {
        match seen {
            Seen::Number(value) => Self { low: value as f32, high: value as f32 },
            Seen::Range(low, high) => Self { low: low as f32, high: high as f32 },
            Seen::Word(word) => Self { low: f32::from(word), high: f32::from(word) },
            Seen::Over => Self::OVER,
            Seen::Nothing => Self::NOTHING,
        }
    }

    /// Whether it is beyond the limit.
    pub fn is_over(self) -> bool {
        self.low == f32::INFINITY
    }

    /// The middle of the range.
    pub fn middle(self) -> f64 {
        0.5 * (f64::from(self.low) + f64::from(self.high))
    }
}
