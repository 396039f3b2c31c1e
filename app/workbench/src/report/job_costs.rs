//! What a job took and costs: minutes as its steps are reckoned, minutes by the clock of its entries, money where the
//! workshop has prices, and what the owner was told before.
//! Promise: each number says which it is; what has no price is named; a job that was typed in afterwards has no minutes by
//! the clock.

use journal::{Entry, Job};
use serde::Serialize;

use super::job_line::{Row, capital};
use crate::shop::bill::{self, bill, shown};
use crate::shop::machines::Ready;
use crate::shop::settings::Settings;
use crate::shop::words;

/// A pause longer than this is none of the job's minutes.
const PAUSE: f64 = 60.0;
/// Less than this was not worked, only typed.
const LEAST: f64 = 2.0;

/// A line of the bill.
#[derive(Clone, Debug, Serialize)]
pub struct Cost {
    /// What was done, or the part.
    pub what: String,
    /// Minutes of work; empty for a part.
    pub minutes: String,
    /// Money; empty without a price.
    pub amount: String,
}

/// What a job took and costs.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Costs {
    /// Line by line, the sum last; empty where nothing was done.
    pub lines: Vec<Cost>,
    /// The sum in a line; empty where nothing was done.
    pub sum: String,
    /// Whether there is money in it.
    pub priced: bool,
    /// What was agreed, and what is to be said of the lines.
    pub said: Vec<Row>,
}

/// The costs of a job.
pub fn costs(job: &Job, ready: &Ready, settings: &Settings) -> Costs {
    let bill = bill(&ready.machine, &ready.faults, settings, job.readings());
    let currency = bill.currency.clone().unwrap_or_default();
    let amount = |amount: Option<f64>| amount.map(|amount| shown(amount, &currency)).unwrap_or_default();
    let cost = |line: &bill::Line| Cost {
        what: capital(&line.what),
        minutes: line.minutes.map(minutes).unwrap_or_default(),
        amount: amount(line.amount),
    };
    let mut costs = Costs { lines: bill.lines.iter().map(cost).collect(), ..Costs::default() };
    costs.priced = bill.total.is_some();
    if !costs.lines.is_empty() {
        let (time, total) = (minutes(bill.minutes), amount(bill.total));
        costs.sum = [format!("{time} of work, as reckoned for each step"), total.clone()]
            .into_iter()
            .filter(|text| !text.is_empty())
            .collect::<Vec<_>>()
            .join("; together ");
        costs.lines.push(Cost { what: "Together".to_owned(), minutes: time, amount: total });
    }
    let mut say = |label: &str, text: String| costs.said.push((label.to_owned(), text));
    if let Some(clock) = by_the_clock(job).filter(|clock| *clock >= LEAST) {
        say("By the clock", format!("{} from entry to entry, pauses of more than an hour left out", minutes(clock)));
    }
    if !bill.unpriced.is_empty() {
        say("Without a price", format!("{}: not in the sum", bill.unpriced.join(", ")));
    }
    if bill.waiting_days > 0.0 {
        say("Waiting for parts", format!("{:.0} days", bill.waiting_days));
    }
    for kept in job.standing() {
        if matches!(kept.entry, Entry::Quoted { .. } | Entry::Limit { .. }) {
            let day = words::when(&kept.at).0;
            say("Agreed", format!("{day}, {}", words::entry(&kept.entry)));
        }
    }
    costs
}

/// Whole minutes: no number here is better known than that.
fn minutes(minutes: f64) -> String {
    format!("{:.0} min", minutes.max(1.0))
}

fn by_the_clock(job: &Job) -> Option<f64> {
    let times: Option<Vec<jiff::Timestamp>> = job.entries.iter().map(|kept| kept.at.parse().ok()).collect();
    let times = times?;
    let pauses = times.windows(2).map(|pair| pair[0].duration_until(pair[1]).as_secs_f64() / 60.0);
    Some(pauses.filter(|pause| (0.0..=PAUSE).contains(pause)).sum())
}
