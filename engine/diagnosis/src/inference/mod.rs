//! The inference core: suspects × outcomes × costs, and nothing else.
//! Idea: a world is one fully specified case; readings weigh worlds, worlds add up to suspects, and
//! the next step is what buys the most bits, or saves the most minutes. Laws: Bayes; Shannon;
//! Kalagnanam & Henrion's p/c order. Sources and check values: docs/oracles.md, `tests/inference_*.rs`.
//! Promise: the same set of readings gives the same bits, in whatever order they came.
//! Not here: machines, meters, units. A bare `f64` is a probability, a natural log, bits or minutes.

mod belief;
mod evidence;
mod exact;
mod keystone;
mod narrow;
mod outlook;
mod places;
mod policy;
mod rates;
mod repair;
mod situation;
mod test;
mod worlds;

pub use belief::{Belief, Impossible};
pub use evidence::{Evidence, EvidenceError, Readings};
pub use exact::{Ending, Move, SmallProblem, SmallTest, Solution, TooLarge};
pub use keystone::{KEYSTONE_LEVEL, Keystone, Outliers, expected_outliers, keystone, probability_without_each};
pub use outlook::{Forecast, Meaning, Outlook};
pub use places::Places;
pub use policy::{Advice, Candidate, Settings, Stage, advise};
pub use rates::{HALF_LIFE_YEARS, Lesson, MOST_UNPROVEN, PRIOR_VERDICTS, Rate, RateError, Shares, prior_odds};
pub use repair::{Remedy, expected_minutes_of_repair, repair_order};
pub use situation::{Situation, Standing};
pub use test::{Kernel, KernelError, Test, TestError};
pub use worlds::{Worlds, WorldsError};
