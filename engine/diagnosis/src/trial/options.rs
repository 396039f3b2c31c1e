//! What a trial is made harder by, and who works it.

use super::chance::Chance;

/// A planted slip happens at one of so many first numbers.
const FIRST: usize = 5;

/// Who works the job.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Technician {
    /// Follows the desk's advice.
    Method,
    /// Goes through a fixed list of checks.
    List,
    /// Measures in the middle of the path that holds most of the belief.
    Halving,
}

impl Technician {
    /// All of them, the method first.
    pub const ALL: [Self; 3] = [Self::Method, Self::List, Self::Halving];

    /// The word of the JSON form.
    pub fn name(self) -> &'static str {
        match self {
            Self::Method => "method",
            Self::List => "list",
            Self::Halving => "halving",
        }
    }
}

/// What may be wrong with a number that was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Slip {
    /// Any value that the instrument could show.
    Wild,
    /// A lead was off: 0 V, 0 A, `OL` ohms.
    Zero,
    /// The right value of a neighboring point.
    Place,
    /// The leads were swapped.
    Sign,
}

impl Slip {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Wild, Self::Zero, Self::Place, Self::Sign];

    /// The word of the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Wild => "wild",
            Self::Zero => "zero",
            Self::Place => "place",
            Self::Sign => "sign",
        }
    }
}

/// How readings go wrong.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub enum Mishaps {
    /// Now and then, as often as the likelihood takes it: 2 % at a neighboring point, 2 % of the other sorts.
    #[default]
    Usual,
    /// That share of numbers, half of them at a neighboring point.
    Share(f64),
    /// No number is wrong by more than noise.
    None,
    /// Nothing at all: no noise either, no word is misheard, and what a remedy did is what is seen after it.
    Perfect,
    /// One number among right ones, of that sort (any when not given), at that place (1 to 5) or at any of them.
    One {
        /// What goes wrong.
        slip: Option<Slip>,
        /// Which number that was read.
        at: Option<u8>,
    },
}

/// What a trial is made harder by.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// How readings go wrong.
    pub mishaps: Mishaps,
    /// The share of sessions in which the fault is there; 1 for a fault that stays.
    pub presence: f64,
    /// Two faults instead of one.
    pub doubles: bool,
    /// The planted fault is not in the desk's catalogue.
    pub left_out: bool,
    /// The desk's odds are off by e^N(0, this).
    pub odds_noise: f64,
    /// Healthy resistances of the planted machine are off by a factor between its inverse and this.
    pub sheet_noise: f64,
    /// Groups of faults that no reading tells apart: naming one of them is as right as naming another.
    pub alike: Vec<Vec<String>>,
}

impl Options {
    /// Which number of a job goes wrong, where one number does; by the job's seed.
    pub fn slips_at(&self, seed: u64) -> Option<u8> {
        match self.mishaps {
            Mishaps::One { at, .. } => Some(at.unwrap_or_else(|| 1 + Chance::of(seed, "slip").one_of(FIRST) as u8)),
            _ => None,
        }
    }
}

impl Default for Options {
    fn default() -> Self {
        Self {
            mishaps: Mishaps::Usual,
            presence: 1.0,
            doubles: false,
            left_out: false,
            odds_noise: 0.0,
            sheet_noise: 1.0,
            alike: Vec::new(),
        }
    }
}
