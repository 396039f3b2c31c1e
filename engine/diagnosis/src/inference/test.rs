//! A test that could be made, as planning sees it: what it costs, and which outcomes it may have.
//! Each world is put in a class (a planning bin of what it predicts) and a kernel gives P(outcome | class).
//! Promise: every row of a kernel sums to one.
//! Limit: for choosing only. A reading once taken is weighed on its exact density (see `evidence`).

use std::borrow::Cow;

/// P(outcome | class), a row for each class.
#[derive(Debug, Clone, PartialEq)]
pub struct Kernel {
    outcomes: usize,
    rows: Vec<f64>,
}

/// Why a table is no kernel.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum KernelError {
    /// The numbers do not fill whole rows.
    #[error("{found} numbers do not fill rows of {outcomes} outcomes")]
    Ragged {
        /// How many numbers were given.
        found: usize,
        /// How many outcomes a row has.
        outcomes: usize,
    },
    /// A row holds something that is no probability, or does not sum to one.
    #[error("the outcomes of class {class} sum to {found}; probabilities sum to one")]
    BadRow {
        /// Which row.
        class: usize,
        /// What it sums to.
        found: f64,
    },
}

impl Kernel {
    /// Takes the table row by row.
    pub fn new(outcomes: usize, rows: Vec<f64>) -> Result<Self, KernelError> {
        if outcomes == 0 || rows.is_empty() || !rows.len().is_multiple_of(outcomes) {
            return Err(KernelError::Ragged {
                found: rows.len(),
                outcomes,
            });
        }
        for (class, row) in rows.chunks_exact(outcomes).enumerate() {
            let found: f64 = row.iter().sum();
            if row.iter().any(|p| !(0.0..=1.0).contains(p)) || (found - 1.0).abs() > 1e-6 {
                return Err(KernelError::BadRow { class, found });
            }
        }
        Ok(Kernel { outcomes, rows })
    }

    /// Each class shows as its own outcome, except for a share that may show as any.
    pub fn symmetric(classes: usize, wild_share: f64) -> Result<Self, KernelError> {
        let stray = wild_share / classes as f64;
        let cell = |at| {
            if at / classes == at % classes {
                1.0 - wild_share + stray
            } else {
                stray
            }
        };
        Kernel::new(classes, (0..classes * classes).map(cell).collect())
    }

    /// How many outcomes there are.
    pub fn outcomes(&self) -> usize {
        self.outcomes
    }

    /// How many classes there are.
    pub fn classes(&self) -> usize {
        self.rows.len() / self.outcomes
    }

    /// The probabilities of the outcomes in one class.
    pub fn row(&self, class: usize) -> &[f64] {
        &self.rows[class * self.outcomes..(class + 1) * self.outcomes]
    }
}

/// A test that could be made.
#[derive(Debug, Clone, PartialEq)]
pub struct Test<'a> {
    /// The class of each world; a class beyond the kernel's last row counts as the last.
    pub classes: Cow<'a, [u8]>,
    /// P(outcome | class).
    pub kernel: Cow<'a, Kernel>,
    /// Minutes of the test itself, set-up included, access excluded.
    pub minutes: f64,
    /// Where it is made, if access there costs anything.
    pub place: Option<usize>,
    /// Tests (by index in the same list) that have to be made first.
    pub prerequisites: Vec<usize>,
    /// Minutes' worth of risk and wear.
    pub risk_minutes: f64,
}

impl<'a> Test<'a> {
    /// A test without place, prerequisite or risk.
    pub fn new(classes: impl Into<Cow<'a, [u8]>>, kernel: Kernel, minutes: f64) -> Self {
        Test {
            classes: classes.into(),
            kernel: Cow::Owned(kernel),
            minutes,
            place: None,
            prerequisites: Vec::new(),
            risk_minutes: 0.0,
        }
    }

    /// Minutes charged in planning, access apart.
    pub fn charged_minutes(&self) -> f64 {
        self.minutes + self.risk_minutes
    }
}
