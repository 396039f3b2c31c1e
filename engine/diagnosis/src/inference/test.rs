//! A test that could be made, as planning sees it: what it costs, and which outcomes it may have.
//! Each world is put in a class (a planning bin of what it predicts) and a kernel gives P(outcome | class).
//! Promise: every row of a kernel sums to one.
//! Limit: for choosing only. A reading once taken is weighed on its exact density (see `evidence`).

use std::borrow::Cow;

use super::worlds::Worlds;

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
            return Err(KernelError::Ragged { found: rows.len(), outcomes });
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
            if at / classes == at % classes { 1.0 - wild_share + stray } else { stray }
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

impl From<Kernel> for Cow<'_, Kernel> {
    fn from(kernel: Kernel) -> Self {
        Cow::Owned(kernel)
    }
}

impl<'a> From<&'a Kernel> for Cow<'a, Kernel> {
    fn from(kernel: &'a Kernel) -> Self {
        Cow::Borrowed(kernel)
    }
}

/// A test that could be made.
#[derive(Debug, Clone, PartialEq)]
pub struct Test<'a> {
    classes: Cow<'a, [u8]>,
    kernel: Cow<'a, Kernel>,
    /// Minutes of the test itself, set-up included, access excluded.
    pub minutes: f64,
    /// Where it is made, if access there costs anything.
    pub place: Option<usize>,
    /// Tests (by index in the same list) that have to be made first.
    pub prerequisites: Vec<usize>,
    /// Minutes' worth of risk and wear.
    pub risk_minutes: f64,
}

/// Why a test does not fit its worlds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum TestError {
    /// Every world needs a class.
    #[error("the test puts {found} worlds in classes; there are {expected}")]
    WrongLength {
        /// How many it speaks of.
        found: usize,
        /// How many worlds there are.
        expected: usize,
    },
    /// A class is beyond the kernel's last row.
    #[error("the test has the class {found}, but its kernel has {classes} rows")]
    UnknownClass {
        /// The highest class found.
        found: u8,
        /// How many rows the kernel has.
        classes: usize,
    },
}

impl<'a> Test<'a> {
    /// A test without place, prerequisite or risk, by the class of each world.
    pub fn new(
        worlds: &Worlds,
        classes: impl Into<Cow<'a, [u8]>>,
        kernel: impl Into<Cow<'a, Kernel>>,
        minutes: f64,
    ) -> Result<Self, TestError> {
        let (classes, kernel) = (classes.into(), kernel.into());
        if classes.len() != worlds.len() {
            return Err(TestError::WrongLength { found: classes.len(), expected: worlds.len() });
        }
        let found = classes.iter().copied().max().unwrap_or(0);
        if usize::from(found) >= kernel.classes() {
            return Err(TestError::UnknownClass { found, classes: kernel.classes() });
        }
        Ok(Test { classes, kernel, minutes, place: None, prerequisites: Vec::new(), risk_minutes: 0.0 })
    }

    /// The class of each world.
    pub fn classes(&self) -> &[u8] {
        &self.classes
    }

    /// P(outcome | class).
    pub fn kernel(&self) -> &Kernel {
        &self.kernel
    }

    /// Minutes charged in planning, access apart.
    pub fn charged_minutes(&self) -> f64 {
        self.minutes + self.risk_minutes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn regress_a_table_that_is_no_kernel_is_refused() {
        assert_eq!(Kernel::new(2, vec![1.0]), Err(KernelError::Ragged { found: 1, outcomes: 2 }));
        let short = Kernel::new(2, vec![0.5, 0.5, 0.25, 0.5]);
        assert_eq!(short, Err(KernelError::BadRow { class: 1, found: 0.75 }));
        assert!(Kernel::new(2, vec![f64::NAN, 1.0]).is_err());
        assert!(Kernel::new(2, vec![-0.5, 1.5]).is_err());
    }

    #[test]
    fn regress_a_test_has_to_fit_its_worlds() {
        let worlds = Worlds::new(1, vec![0, 0], vec![0.0, 0.0]).unwrap();
        let test = |classes: &'static [u8]| Test::new(&worlds, classes, Kernel::symmetric(2, 0.5).unwrap(), 1.0);
        assert_eq!(test(&[0]).unwrap_err(), TestError::WrongLength { found: 1, expected: 2 });
        assert_eq!(test(&[0, 2]).unwrap_err(), TestError::UnknownClass { found: 2, classes: 2 });
        assert_eq!(test(&[0, 1]).unwrap().kernel().row(1), [0.25, 0.75]);
    }
}
