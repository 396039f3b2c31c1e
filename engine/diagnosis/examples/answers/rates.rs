//! What is known of a rate: its 90 % interval, and the chance of at least one in the exposure asked for.

use diagnosis::inference::{Rate, RateError};
use serde::{Deserialize, Serialize};

/// A prior, what was learned, and the exposure to come.
#[derive(Deserialize)]
pub struct Question {
    verdicts: f64,
    exposure: f64,
    more_verdicts: f64,
    more_exposure: f64,
    to_come: f64,
}

#[derive(Serialize)]
pub struct Answer {
    mean: f64,
    interval: (f64, f64),
    at_least_one: f64,
}

/// Learns, and tells.
pub fn answer(question: &Question) -> Result<Answer, RateError> {
    let rate = Rate::new(question.verdicts, question.exposure)?;
    let rate = rate.learned(question.more_verdicts, question.more_exposure)?;
    let at_least_one = rate.at_least_one_in(question.to_come);
    Ok(Answer { mean: rate.mean(), interval: rate.interval(0.9), at_least_one })
}
