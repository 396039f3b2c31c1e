//! A complaint's whole course on paper: at each step the probe that the desk advises, a branch for each of its outcomes,
//! and behind every branch the desk's advice for its middle reading, until a verdict stands or the limits cut it short.
//! Idea: no tree is written by anybody; it is the desk, asked ahead of time ([`Tree::wanted`], [`Tree::take`]). Where most
//! jobs come along it is followed first ([`Tree::frontier`]).
//! Promise: what stands at a step is what the desk says for the readings kept there; odds at a step sum to one.
//! Limit: a branch stands for its middle reading. How often that goes well is counted, by [`Tree::walked`].

use machine::Machine;

use crate::advice::{Advice, Outcome, SuspectShare};
use crate::atlas::Atlas;
use crate::complaint::{self, COMPLAINTS, Complaint};
use crate::remedies::Remedies;
use crate::request::Request;

/// How far a tree is followed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Probes one after the other, those taken a second time and the meter's own checks not counted.
    pub depth: usize,
    /// A branch below these odds goes into "anything else".
    pub branch: f64,
    /// A step that is reached with less than these odds is not followed further.
    pub reach: f64,
    /// Steps and ends from which on nothing is followed any more.
    pub spots: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self { depth: 8, branch: 0.03, reach: 0.01, spots: 60 }
    }
}

/// The tree of one complaint.
#[derive(Clone, Debug)]
pub struct Tree {
    /// The complaint.
    pub complaint: &'static Complaint,
    /// Its share of the jobs with this machine.
    pub share: f64,
    /// Its steps; the first is where it begins, and whoever branches stands before what he leads to.
    pub spots: Vec<Spot>,
    limits: Limits,
}

/// One step of a tree, or one of its ends.
#[derive(Clone, Debug)]
pub struct Spot {
    /// Name and value of each reading on the way here.
    pub readings: Vec<(String, String)>,
    /// Step and branch that lead here; nothing at the beginning.
    pub from: Option<(usize, usize)>,
    /// How likely one comes here.
    pub reach: f64,
    /// Minutes on the way here.
    pub spent: f64,
    /// Probes on the way here that count for the depth.
    pub depth: usize,
    /// What the desk says here: the leading suspects, the one thing to be done next, the verdict; nothing before it was
    /// asked.
    pub advice: Option<Advice>,
    /// Where it goes on; nothing at an end.
    pub branches: Vec<Branch>,
}

/// One way on from a step.
#[derive(Clone, Debug, PartialEq)]
pub struct Branch {
    /// What is seen; empty for anything else.
    pub when: String,
    /// The same as a range or a word.
    pub outcome: Option<Outcome>,
    /// Whom it points at.
    pub means: String,
    /// How likely it is.
    pub odds: f64,
    /// Where it leads.
    pub to: Way,
}

/// Where a branch leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// To another step.
    Step(usize),
    /// To the same step, once what it shows has been put right.
    Back,
    /// Nowhere: too seldom to be followed on paper.
    Off,
}

/// How an end of a tree stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// A verdict that can be acted on.
    Verdict,
    /// The desk advises nothing more.
    Stop,
    /// Cut short: the leading suspects, and what would be next.
    Open,
}

/// Where the what-if cases of a complaint end that are taken down its tree; shares that sum to one.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Walked {
    /// At a verdict whose remedy mends them, or a sound machine at "nothing more to be measured".
    pub right: f64,
    /// At an end that names their fault among its leading suspects.
    pub listed: f64,
    /// At the verdict of another fault.
    pub wrong: f64,
    /// Elsewhere: at "anything else", or where others lead.
    pub off: f64,
    /// Minutes on the way, on average.
    pub minutes: f64,
}

/// Suspects kept of each step's advice.
const LEADING: usize = 8;
/// A suspect below these odds is not named at an end.
const NAMED: f64 = 0.02;

/// The suspects that are named at an end.
pub fn named(advice: &Advice) -> impl Iterator<Item = &SuspectShare> {
    advice.suspects.iter().take(LEADING).filter(|suspect| suspect.probability >= NAMED)
}

/// The complaints that this machine's faults can cause, with their shares of its jobs, most usual first.
pub fn complaints(atlas: &Atlas) -> Vec<(&'static Complaint, f64)> {
    let known = || COMPLAINTS.iter().filter(|complaint| complaint.computed);
    let each = atlas.cast.worlds_each;
    let mut shares: Vec<(&'static Complaint, f64)> = known().map(|complaint| (complaint, 0.0)).collect();
    let mut all = 0.0;
    for (world, signs) in atlas.signs.iter().enumerate().skip(each) {
        let odds = atlas.cast.suspects[world / each].odds;
        all += odds;
        let weights = known().map(|complaint| complaint::weight(complaint.name, signs, &atlas.nominal));
        let weights: Vec<f64> = weights.collect();
        let sum: f64 = weights.iter().sum();
        for (share, weight) in shares.iter_mut().zip(weights).filter(|(_, weight)| *weight > 0.0) {
            share.1 += odds * weight / sum;
        }
    }
    shares.iter_mut().for_each(|(_, share)| *share /= all.max(f64::MIN_POSITIVE));
    shares.sort_by(|left, right| right.1.total_cmp(&left.1).then(left.0.name.cmp(right.0.name)));
    shares
}

impl Tree {
    /// A tree that nobody has been asked for yet.
    pub fn new(complaint: &'static Complaint, share: f64, limits: Limits) -> Self {
        let root =
            Spot { readings: Vec::new(), from: None, reach: 1.0, spent: 0.0, depth: 0, advice: None, branches: vec![] };
        Self { complaint, share, spots: vec![root], limits }
    }

    /// The steps for which the desk has to be asked now, each with what to ask; none when the tree is whole.
    pub fn wanted(&self) -> Vec<(usize, Request)> {
        let open = self.spots.iter().enumerate().filter(|(_, spot)| spot.advice.is_none());
        open.map(|(index, _)| (index, self.request(index))).collect()
    }

    /// What is known at a step.
    pub fn request(&self, index: usize) -> Request {
        Request {
            complaint: Some(self.complaint.name.to_owned()),
            readings: self.spots[index].readings.clone(),
            ..Request::default()
        }
    }

    /// Takes the desk's answer for a step.
    pub fn take(&mut self, index: usize, mut advice: Advice) {
        advice.reasons.clear();
        advice.suspects.truncate(LEADING);
        advice.next.truncate(1);
        self.spots[index].advice = Some(advice);
    }

    /// The steps that could be followed further, each with the odds of coming there.
    pub fn frontier(&self) -> impl Iterator<Item = (usize, f64)> {
        let Limits { depth, reach, spots, .. } = self.limits;
        let open = self.spots.iter().enumerate().filter(move |(_, spot)| {
            let goes_on = |advice: &Advice| advice.stop.is_none() && !advice.next.is_empty();
            spot.branches.is_empty()
                && spot.depth < depth
                && spot.reach >= reach
                && spot.advice.as_ref().is_some_and(goes_on)
        });
        open.map(|(index, spot)| (index, spot.reach)).filter(move |_| self.spots.len() < spots)
    }

    /// Follows a step of the frontier: a branch for each of its outcomes.
    pub fn follow(&mut self, index: usize) {
        let Some(step) = self.spots[index].advice.as_ref().and_then(|advice| advice.next.first()).cloned() else {
            return;
        };
        let Spot { readings, reach, spent, depth, .. } = self.spots[index].clone();
        let own_check = step.probe.starts_with("meter:");
        let counts = !(own_check || step.again || step.probe.starts_with("safe:"));
        let mut branches: Vec<Branch> = Vec::new();
        for (rank, outcome) in step.outcomes.iter().enumerate() {
            let (odds, to) = match (own_check, rank) {
                // A meter that shows nothing says nothing of the machine.
                (true, 0) => (1.0, Way::Step(self.spots.len())),
                (true, _) => (0.0, Way::Back),
                _ if outcome.probability < self.limits.branch || outcome.reading.is_empty() => continue,
                _ => (outcome.probability, Way::Step(self.spots.len())),
            };
            if to != Way::Back {
                let mut readings = readings.clone();
                readings.push((step.probe.clone(), outcome.reading.clone()));
                let (reach, spent, depth) = (reach * odds, spent + step.minutes, depth + usize::from(counts));
                let from = Some((index, branches.len()));
                self.spots.push(Spot { readings, from, reach, spent, depth, advice: None, branches: vec![] });
            }
            let (when, means) = (outcome.when.clone(), outcome.means.clone());
            branches.push(Branch { when, outcome: outcome.outcome, means, odds, to });
        }
        let rest = 1.0 - branches.iter().map(|branch| branch.odds).sum::<f64>();
        if rest > 1e-9 && branches.iter().all(|branch| branch.to != Way::Back) {
            let means = "too seldom to be followed here".to_owned();
            branches.push(Branch { when: String::new(), outcome: None, means, odds: rest, to: Way::Off });
        }
        self.spots[index].branches = branches;
    }

    /// How an end stands; nothing for a step that goes on.
    pub fn end(&self, index: usize) -> Option<End> {
        let spot = &self.spots[index];
        let advice = spot.advice.as_ref().filter(|_| spot.branches.is_empty())?;
        Some(match (&advice.verdict, advice.stop) {
            (Some(verdict), _) if verdict.settled => End::Verdict,
            (_, Some(_)) => End::Stop,
            _ => End::Open,
        })
    }

    /// Takes the what-if cases that make their owner say so down the tree, each by what it shows.
    pub fn walked(&self, machine: &Machine, atlas: &Atlas) -> Walked {
        let columns: Vec<Option<usize>> = self.spots.iter().map(|spot| column(atlas, spot)).collect();
        let each = atlas.cast.worlds_each;
        let mut walked = Walked::default();
        let mut all = 0.0;
        for (world, signs) in atlas.signs.iter().enumerate() {
            let suspect = &atlas.cast.suspects[world / each];
            let weight = suspect.odds * complaint::likelihood(self.complaint, signs, &atlas.nominal);
            let remedy = suspect.fault.as_ref().map(|fault| Remedies::name_of(machine, fault));
            let (at, minutes) = self.walk(atlas, &columns, world, remedy.as_deref());
            let share = match at.and_then(|index| Some((self.spots[index].advice.as_ref()?, self.end(index)?))) {
                Some((advice, End::Verdict)) if advice.verdict.as_ref().map(|said| &said.remedy) == remedy.as_ref() => {
                    &mut walked.right
                }
                Some((_, End::Verdict)) => &mut walked.wrong,
                Some((_, End::Stop)) if remedy.is_none() => &mut walked.right,
                Some((advice, End::Open)) if listed(advice, &suspect.name) => &mut walked.listed,
                _ => &mut walked.off,
            };
            *share += weight;
            walked.minutes += weight * minutes;
            all += weight;
        }
        let Walked { right, listed, wrong, off, minutes } = walked;
        let [right, listed, wrong, off, minutes] = [right, listed, wrong, off, minutes].map(|sum| sum / all);
        Walked { right, listed, wrong, off, minutes }
    }

    /// Where a what-if case ends, nothing for "anything else", and the minutes until then.
    fn walk(
        &self,
        atlas: &Atlas,
        columns: &[Option<usize>],
        world: usize,
        remedy: Option<&str>,
    ) -> (Option<usize>, f64) {
        let mut at = 0;
        loop {
            let spot = &self.spots[at];
            let Some(step) = spot.advice.as_ref().and_then(|advice| advice.next.first()) else {
                return (Some(at), spot.spent);
            };
            if spot.branches.is_empty() {
                return (Some(at), spot.spent);
            }
            let shown = columns[at].map(|column| {
                let bins = &atlas.columns[column].bins;
                bins.outcomes[usize::from(bins.classes[world])]
            });
            let tried = if remedy == Some(step.probe.as_str()) { "fixed" } else { "same" };
            let fits = |branch: &&Branch| match (branch.outcome, shown) {
                (Some(outcome), Some(shown)) => holds(outcome, shown),
                _ if step.probe.starts_with("try:") => branch.when == tried,
                _ => true,
            };
            let way = spot.branches.iter().find(|branch| branch.to != Way::Off && fits(branch)).map(|branch| branch.to);
            match way {
                Some(Way::Step(next)) => at = next,
                _ => return (None, spot.spent + step.minutes),
            }
        }
    }
}

/// The column of the probe that is to be taken at a step.
fn column(atlas: &Atlas, spot: &Spot) -> Option<usize> {
    let step = spot.advice.as_ref()?.next.first()?;
    atlas.suggested().iter().position(|probe| probe.name == step.probe)
}

/// Whether an outcome is one of those that a branch stands for.
fn holds(branch: Outcome, shown: Outcome) -> bool {
    match (branch, shown) {
        (Outcome::Between(low, high), Outcome::Between(from, to)) => low <= from && to <= high,
        (branch, shown) => branch == shown,
    }
}

/// Whether a fault, alone or in a pair, is among the suspects that an end names; the sound machine has no name.
fn listed(advice: &Advice, fault: &str) -> bool {
    let fault = if fault.is_empty() { "healthy" } else { fault };
    named(advice).any(|known| known.fault.split(" + ").any(|name| name == fault))
}
