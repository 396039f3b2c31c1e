//! What a session amounts to: minutes against the best plan and against a fixed list of checks, on the same machine.
//! Law: what a reading told is the information gained, Σ p·log₂(p/q) over the suspects, q before it and p after (Kullback
//! & Leibler, On information and sufficiency, 1951, `from memory`); zero when nothing changed.
//! Promise: the two others are worked by the code of `trial`, at the same prices, with a hand as perfect as the virtual
//! meter. Not here: money, until sheets have prices.

use std::collections::BTreeMap;

use diagnosis::advice::Advice;
use diagnosis::planted::Unanswered;
use diagnosis::request::BadRequest;
use diagnosis::trial::{Ending, Mishaps, Options, Technician, Trial};
use serde::Serialize;

use super::super::advice;
use super::super::refusal::{Place, Reason, Refusal};
use super::{Kept, Minutes, Noted, PRESENCE, Practice};

/// Readings point at a cause that is likelier than all others together (estimate).
const POINTED: f64 = 0.5;
/// What was mended holds up as often as the desk asks, which is no oftener than this.
const MOST_ASKED: usize = 4;

/// What a session amounts to.
#[derive(Debug, Serialize)]
pub struct Report {
    /// All that is needed to play it again.
    #[serde(flatten)]
    pub kept: Kept,
    /// What was planted.
    pub planted: Planted,
    /// What the owner said.
    pub complaint: &'static str,
    /// Air temperature.
    pub air_c: f64,
    /// What came of what was done.
    pub notes: Vec<Noted>,
    /// `proven`, `fixed` or `given-up`.
    pub ending: &'static str,
    /// The fault that was named, if one was.
    pub named: Option<Named>,
    /// Minutes, by what they went into.
    pub minutes: Minutes,
    /// All minutes.
    pub total_min: f64,
    /// Seconds that the starter was held.
    pub starter_held_s: f64,
    /// What each reading told, in the order taken.
    pub told: Vec<Reading>,
    /// The reading that the cause rests on.
    pub rests_on: Option<String>,
    /// The best plan, then the fixed list of checks.
    pub against: Vec<Against>,
}

/// What was planted.
#[derive(Debug, Serialize)]
pub struct Planted {
    /// `part:mode`.
    pub fault: String,
    /// In words.
    pub title: String,
    /// In SI; nothing where it has none.
    pub severity: Option<f64>,
    /// The same in words.
    pub severity_shown: Option<String>,
    /// Whether it came and went.
    pub comes_and_goes: bool,
    /// What mends it, as `VERB@PART`.
    pub remedy: String,
    /// The same in words.
    pub remedy_title: String,
}

/// A fault that the learner named.
#[derive(Debug, Serialize)]
pub struct Named {
    /// `part:mode`.
    pub fault: String,
    /// Whether it was planted.
    pub right: bool,
    /// Whether what mends it mends what was planted.
    pub same_remedy: bool,
}

/// What a reading told.
#[derive(Debug, Serialize)]
pub struct Reading {
    /// The probe.
    pub reading: String,
    /// What it showed.
    pub shown: String,
    /// Minutes that it cost.
    pub minutes: f64,
    /// Information gained.
    pub bits: f64,
    /// Odds of what was planted, afterwards.
    pub odds: f64,
}

/// How another way of working fares on the same machine.
#[derive(Debug, Serialize)]
pub struct Against {
    /// `method` or `list`.
    pub technician: &'static str,
    /// Minutes to the end.
    pub minutes: f64,
    /// `proven`, `fixed` or `handed-on`.
    pub ending: &'static str,
    /// What was done, in order.
    pub steps: Vec<Step>,
}

/// One thing that another way of working does.
#[derive(Debug, Serialize)]
pub struct Step {
    /// Probe or remedy.
    pub name: String,
    /// What it showed.
    pub value: String,
    /// Minutes, access included.
    pub minutes: f64,
    /// Whether it was part of the repair check.
    pub check: bool,
}

impl Practice {
    /// What the session amounts to, worked or not to its end.
    ///
    /// # Errors
    /// When the machine has no operating point, or the desk cannot use what was read.
    pub fn result(&self, bench: &mut Trial) -> Result<Report, Refusal> {
        let case = &self.case;
        let proven = self.is_mended() && self.is_proven(bench)?;
        let (told, rests_on) = self.told(bench)?;
        let against = [Technician::Method, Technician::List].map(|who| self.against(bench, who));
        Ok(Report {
            kept: self.kept(),
            planted: Planted {
                fault: case.fault.name.clone(),
                title: case.fault.title.clone(),
                severity: case.fault.dimension.map(|_| case.severity),
                severity_shown: case.severity_shown(),
                comes_and_goes: case.comes_and_goes,
                remedy: super::cure_name(self.machine(), &case.fault),
                remedy_title: case.fault.remedy.title.clone(),
            },
            complaint: case.complaint.name,
            air_c: case.air.0,
            notes: self.notes.clone(),
            ending: match (self.is_mended(), proven) {
                (true, true) => "proven",
                (true, false) => "fixed",
                (false, _) => "given-up",
            },
            named: self.named.clone().map(|fault| Named {
                right: fault == case.fault.name,
                same_remedy: self.is_mended_alike(&fault),
                fault,
            }),
            minutes: self.minutes,
            total_min: self.minutes.total(),
            starter_held_s: self.held,
            told,
            rests_on,
            against: against.into_iter().collect::<Result<_, _>>()?,
        })
    }

    /// Whether the readings pointed at the cause before it was mended, and the repair check is passed; one that came and
    /// went has held up since.
    fn is_proven(&self, bench: &mut Trial) -> Result<bool, Refusal> {
        let mut request = self.request(self.notes.len());
        let held_up = ("ask:held-up".to_owned(), "yes".to_owned());
        request.readings.extend(std::iter::repeat_n(held_up, MOST_ASKED));
        let advice = advice::advise(bench.desk(), &request)?;
        let shown = advice.verdict.is_some_and(|verdict| verdict.proven);
        let Some(last) = self.readings().last().map(|(index, _)| index) else { return Ok(false) };
        let before = self.judge(bench, last + 1)?;
        let alike = before.suspects.iter().filter(|suspect| self.is_mended_alike(&suspect.fault));
        Ok(shown && alike.map(|suspect| suspect.probability).sum::<f64>() > POINTED)
    }

    fn judge(&self, bench: &mut Trial, notes: usize) -> Result<Advice, Refusal> {
        bench.desk().judge(&self.request(notes)).map_err(|error| refused(&error))
    }

    /// Notes of readings before the machine was mended, by index.
    fn readings(&self) -> impl Iterator<Item = (usize, &Noted)> {
        let fixed = |noted: &Noted| is_remedy(noted) && noted.typed.as_deref() == Some("fixed");
        let before = self.notes.iter().enumerate().take_while(move |(_, noted)| !fixed(noted));
        before.filter(|(_, noted)| noted.typed.is_some() && !is_remedy(noted))
    }

    /// What each reading told, and the one that the cause rests on.
    fn told(&self, bench: &mut Trial) -> Result<(Vec<Reading>, Option<String>), Refusal> {
        let mut told: Vec<Reading> = Vec::new();
        let mut rests_on = None;
        for (index, noted) in self.readings() {
            let before = self.judge(bench, index)?;
            let after = self.judge(bench, index + 1)?;
            let odds = after.suspects.iter().find(|suspect| suspect.fault == self.case.fault.name);
            rests_on = after.keystone.clone().or(rests_on);
            told.push(Reading {
                reading: noted.reading.clone().unwrap_or_default(),
                shown: noted.shown.clone().unwrap_or_default(),
                minutes: noted.minutes,
                bits: gained(&before, &after),
                odds: odds.map_or(0.0, |suspect| suspect.probability),
            });
        }
        let most = told.iter().max_by(|left, right| left.bits.total_cmp(&right.bits));
        let most = most.filter(|reading| reading.bits >= 1.0).map(|reading| reading.reading.clone());
        Ok((told, rests_on.or(most)))
    }

    fn against(&self, bench: &mut Trial, who: Technician) -> Result<Against, Refusal> {
        let presence = if self.case.comes_and_goes { PRESENCE } else { 1.0 };
        let options = Options { mishaps: Mishaps::Perfect, presence, ..Options::default() };
        let run = bench.run(&self.case.planting(), &options, who).map_err(|error| match error {
            Unanswered::Unsolvable(error) => Refusal::unsolvable(error, self.machine()),
            Unanswered::Asked(error) => refused(&error),
        })?;
        let ending = match run.ending {
            Ending::Proven { .. } => "proven",
            Ending::Fixed => "fixed",
            Ending::Unfixed => "handed-on",
        };
        let step = |did: diagnosis::trial::Did| Step {
            name: did.name,
            value: did.value,
            minutes: did.minutes,
            check: did.check,
        };
        Ok(Against {
            technician: who.name(),
            minutes: run.minutes,
            ending,
            steps: run.steps.into_iter().map(step).collect(),
        })
    }
}

fn refused(error: &BadRequest) -> Refusal {
    Refusal::new(Reason::Value, Place::Request, error.to_string(), "", error.allowed())
}

fn is_remedy(noted: &Noted) -> bool {
    noted.reading.as_deref().is_some_and(|name| name.starts_with("try:"))
}

/// Information gained from one advice to the next, bits.
fn gained(before: &Advice, after: &Advice) -> f64 {
    /// A suspect that was not thought of before had about this much.
    const LEAST: f64 = 1e-6;
    let prior: BTreeMap<&str, f64> =
        before.suspects.iter().map(|suspect| (suspect.fault.as_str(), suspect.probability)).collect();
    let part = |now: f64, was: f64| if now > 0.0 { now * (now / was.max(LEAST)).log2() } else { 0.0 };
    let known: f64 = after
        .suspects
        .iter()
        .map(|suspect| part(suspect.probability, prior.get(suspect.fault.as_str()).copied().unwrap_or(0.0)))
        .sum();
    (known + part(after.unexplained, before.unexplained)).max(0.0)
}
