//! What a job costs: attended minutes and parts, so far or as it may come.
//! Idea: readings and remedies in the order done, each at its own minutes, access paid once (`diagnosis::trial::Purse`);
//! with prices in the settings, money beside them.
//! Promise: a sum of its lines; what has no price is named, never counted as nothing.
//! Limit: minutes are those of sheet and catalogue (common practice, no source), not the clock's. A part that was not the
//! fault costs nothing when it can be returned.

use diagnosis::complaint;
use diagnosis::request::{self, Entry};
use diagnosis::trial::{Mishaps, Options, Planting, Purse, Technician, Trial};
use journal::Job;
use machine::{Fault, Machine};
use quantity::Celsius;
use serde::Serialize;

use super::advice;
use super::practice::cure_name;
use super::refusal::Refusal;
use super::settings::{Money, Settings, Stock};

/// What was done, or a part that was used.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Line {
    /// In words.
    pub what: String,
    /// Attended minutes; nothing for a part.
    pub minutes: Option<f64>,
    /// Money; nothing where there is no price.
    pub amount: Option<f64>,
}

/// A bill.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Bill {
    /// Its lines, in the order done.
    pub lines: Vec<Line>,
    /// Attended minutes.
    pub minutes: f64,
    /// Money; nothing where an hour has no price.
    pub total: Option<f64>,
    /// Of the money.
    pub currency: Option<String>,
    /// Parts without a price, as the settings would name them.
    pub unpriced: Vec<String>,
    /// Days of waiting for parts that are not on the shelf.
    pub waiting_days: f64,
}

/// What a job may come to.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Quote {
    /// On the mean over what may be wrong.
    pub expected: f64,
    /// Not exceeded in nine cases of ten.
    pub worst: f64,
    /// Attended minutes on the mean.
    pub expected_minutes: f64,
    /// Attended minutes, not exceeded in nine cases of ten.
    pub worst_minutes: f64,
    /// Of the money.
    pub currency: String,
    /// Parts without a price among them.
    pub unpriced: Vec<String>,
}

/// The bill of readings and remedies, each with what it showed, in the order done; those of the repair check among them.
pub fn bill<'a>(
    machine: &Machine,
    faults: &[Fault],
    settings: &Settings,
    done: impl IntoIterator<Item = (&'a str, &'a str)>,
) -> Bill {
    let money = settings.money.as_ref();
    let mut purse = Purse::new(machine);
    let mut bill =
        Bill { currency: money.map(|money| money.currency.clone()), total: money.map(|_| 0.0), ..Bill::default() };
    let (mut measuring, mut checking, mut mended) = ((0, 0.0), (0, 0.0), false);
    let mut mends: Vec<Line> = Vec::new();
    for (name, value) in done {
        if let Some(remedy) = name.strip_prefix("try:") {
            let Some(used) = Used::find(machine, faults, remedy) else { continue };
            let minutes = purse.pay_remedy(used.fault.remedy.minutes, used.place(machine));
            mends.push(work(used.fault.remedy.title.clone(), minutes, money));
            mended |= value == "fixed";
            bill.add_part(&used, machine, settings, value == "fixed", &mut mends);
        } else if let Ok(Entry::Took(probe, _)) = request::entry(machine, faults, name, value) {
            let sum = if mended { &mut checking } else { &mut measuring };
            *sum = (sum.0 + 1, sum.1 + purse.pay(&probe));
        }
    }
    let counted = |what: &str, (count, minutes): (u32, f64)| {
        (count > 0).then(|| {
            work(format!("{what}, {count} {}", if count == 1 { "reading" } else { "readings" }), minutes, money)
        })
    };
    bill.lines.extend(counted("looking, asking and measuring", measuring));
    bill.lines.append(&mut mends);
    bill.lines.extend(counted("repair check", checking));
    bill.minutes = purse.minutes;
    bill.total = money.map(|_| bill.lines.iter().filter_map(|line| line.amount).fold(0.0, |sum, amount| sum + amount));
    bill
}

impl Bill {
    fn add_part(
        &mut self,
        used: &Used<'_>,
        machine: &Machine,
        settings: &Settings,
        fixed: bool,
        lines: &mut Vec<Line>,
    ) {
        match used.stock(machine, settings) {
            Some(stock) => {
                self.waiting_days += stock.days();
                let (what, amount) = match (fixed, stock.returnable) {
                    (true, _) => (format!("part: {}", used.part(machine)), stock.price),
                    (false, true) => (format!("part: {}, was not the fault and goes back", used.part(machine)), 0.0),
                    (false, false) => (format!("part: {}, was not the fault", used.part(machine)), stock.price),
                };
                lines.push(Line { what, minutes: None, amount: settings.money.as_ref().map(|_| amount) });
            }
            None if used.wants_part() && settings.money.is_some() => {
                let key = format!("{}@{}", used.fault.remedy.verb, used.kind(machine));
                if !self.unpriced.contains(&key) {
                    self.unpriced.push(key);
                }
            }
            None => {}
        }
    }
}

fn work(what: String, minutes: f64, money: Option<&Money>) -> Line {
    Line { what, minutes: Some(minutes), amount: money.map(|money| minutes / 60.0 * money.hour) }
}

/// A remedy by the fault that asks for it.
struct Used<'a> {
    fault: &'a Fault,
}

impl<'a> Used<'a> {
    /// The remedy of that name, `VERB@PART`.
    fn find(machine: &Machine, faults: &'a [Fault], name: &str) -> Option<Self> {
        let fault = faults.iter().find(|fault| cure_name(machine, fault) == name)?;
        Some(Self { fault })
    }

    fn place(&self, machine: &Machine) -> Option<usize> {
        machine.sheet.parts[self.fault.part?].place
    }

    fn kind(&self, machine: &Machine) -> &'static str {
        self.fault.part.map_or("", |part| machine.sheet.parts[part].kind.name)
    }

    fn part(&self, machine: &Machine) -> String {
        self.fault.part.map_or_else(|| "the machine".to_owned(), |part| machine.sheet.parts[part].title.clone())
    }

    fn stock<'s>(&self, machine: &Machine, settings: &'s Settings) -> Option<&'s Stock> {
        let part = self.fault.part.map_or("", |part| machine.sheet.parts[part].name.name.as_str());
        settings.part(&machine.sheet.id, &self.fault.remedy.verb, part, self.kind(machine))
    }

    /// Whether it cannot be done without a new part.
    fn wants_part(&self) -> bool {
        matches!(self.fault.remedy.verb.as_str(), "replace" | "renew")
    }
}

/// What trying a remedy in vain costs beside its minutes, in minutes of work: a part that cannot go back, and days on
/// which the machine waits for it. Nothing where the settings have no prices.
pub fn in_vain(machine: &Machine, settings: &Settings, fault: &Fault) -> f64 {
    let Some(money) = settings.money.as_ref().filter(|money| money.hour > 0.0) else { return 0.0 };
    let Some(stock) = (Used { fault }).stock(machine, settings) else { return 0.0 };
    let lost = if stock.returnable { 0.0 } else { stock.price };
    (lost + stock.days() * money.standing_day) / money.hour * 60.0
}

/// What a job may come to, from its beginning, by what is known of it; nothing where an hour has no price.
///
/// # Errors
/// When the job names something that the machine does not have.
pub fn quote(bench: &mut Trial, settings: &Settings, job: &Job) -> Result<Option<Quote>, Refusal> {
    let request = job.request(None);
    let known = request.complaint.as_deref().and_then(complaint::find).filter(|known| known.computed);
    let complaint = known.map_or("nothing-happens", |known| known.name);
    let advice = advice::advise(bench.desk(), &request)?;
    let odds = advice.suspects.iter().map(|suspect| (suspect.fault.clone(), suspect.probability)).collect::<Vec<_>>();
    Ok(of_suspects(bench, settings, &odds, complaint, request.air.unwrap_or(Celsius(20.0))))
}

/// Suspects that a quote looks at, and the odds below which one is not looked at.
const CASES: usize = 10;
const LEAST: f64 = 0.01;

/// Its leading suspects are planted at their median severity and worked to the
/// end by the method; nothing where an hour has no price or nothing can be planted.
fn of_suspects(
    bench: &mut Trial,
    settings: &Settings,
    odds: &[(String, f64)],
    complaint: &'static str,
    air: Celsius,
) -> Option<Quote> {
    let money = settings.money.as_ref()?;
    let machine = bench.desk().machine.clone();
    let faults = machine.faults();
    let options = Options { mishaps: Mishaps::Perfect, ..Options::default() };
    let mut cases: Vec<(f64, Bill)> = Vec::new();
    for (name, share) in odds.iter().filter(|(_, share)| *share >= LEAST).take(CASES) {
        let Some(fault) = faults.iter().find(|fault| fault.name == *name) else { continue };
        let planted = vec![(fault.clone(), fault.severity_at(0.5))];
        let planting = Planting::as_written(0, planted, air, complaint);
        let Ok(run) = bench.run(&planting, &options, Technician::Method) else { continue };
        let done = run.steps.iter().map(|did| (did.name.as_str(), did.value.as_str()));
        cases.push((*share, bill(&machine, &faults, settings, done)));
    }
    let all: f64 = cases.iter().map(|(share, _)| share).sum();
    if all <= 0.0 {
        return None;
    }
    let total = |bill: &Bill| bill.total.unwrap_or(0.0);
    let mean = |of: &dyn Fn(&Bill) -> f64| cases.iter().map(|(share, bill)| share * of(bill)).sum::<f64>() / all;
    let dear = |of: &dyn Fn(&Bill) -> f64| {
        let mut sorted: Vec<(f64, f64)> = cases.iter().map(|(share, bill)| (of(bill), *share)).collect();
        sorted.sort_by(|left, right| left.0.total_cmp(&right.0));
        let mut sum = 0.0;
        let reached = sorted.iter().find(|(_, share)| {
            sum += share;
            sum >= 0.9 * all
        });
        reached.map_or(0.0, |(value, _)| *value)
    };
    let mut unpriced: Vec<String> = cases.iter().flat_map(|(_, bill)| bill.unpriced.clone()).collect();
    unpriced.sort();
    unpriced.dedup();
    Some(Quote {
        expected: mean(&total),
        worst: dear(&total),
        expected_minutes: mean(&|bill| bill.minutes),
        worst_minutes: dear(&|bill| bill.minutes),
        currency: money.currency.clone(),
        unpriced,
    })
}

/// An amount with its currency: `EUR 127.50`.
pub fn shown(amount: f64, currency: &str) -> String {
    format!("{currency} {amount:.2}")
}
