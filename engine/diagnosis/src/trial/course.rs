//! One job from complaint to proven fix, worked by one technician.
//! The way: advice → probe or remedy → reading, until a verdict; then the remedy and the repair check. A wrong remedy goes
//! on; without a verdict remedies are tried by probability per minute. A job that no remedy ends is handed on at a price.
//! Promise: every technician has the same odds, stop, re-measurement, prices and proofs; only what is measured next differs.

use std::collections::BTreeMap;

use libm::log;
use machine::{Fault, Machine, Probe};

use super::chance::Chance;
use super::far::{Distance, Far};
use super::hand::Hand;
use super::options::{Mishaps, Options, Slip, Technician};
use super::plant::Planting;
use super::purse::Purse;
use super::rivals::Rivals;
use crate::advice::{Advice, Stop, SuspectShare, Verdict};
use crate::desk::Desk;
use crate::plan::UNFIXED;
use crate::planted::{Planted, Unanswered};
use crate::proof::{STARTS, within};
use crate::request::{Entry, Request, entry, part_name};

/// One thing done.
#[derive(Clone, Debug, PartialEq)]
pub struct Did {
    /// Name of the probe or remedy.
    pub name: String,
    /// What was typed.
    pub value: String,
    /// What a perfect hand would have typed, when something went wrong.
    pub should_be: Option<String>,
    /// What went wrong with it.
    pub slip: Option<Slip>,
    /// Attended minutes, access and set-up included.
    pub minutes: f64,
    /// Whether it was part of the repair check.
    pub check: bool,
    /// The likeliest three when it was chosen.
    pub odds: Vec<(String, f64)>,
    /// Whether an intermittent fault was away.
    pub away: bool,
}

/// The first verdict.
#[derive(Clone, Debug, PartialEq)]
pub struct First {
    /// `part:mode`, likeliest first.
    pub faults: Vec<String>,
    /// `try:VERB@PART`.
    pub remedy: String,
    /// As stated.
    pub probability: f64,
    /// Steps before it.
    pub after: usize,
    /// Whether it names the planted fault, another that the same remedy of the same part mends, or one that no reading
    /// tells from it.
    pub right: bool,
}

/// How a job ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// The repair check passed.
    Proven {
        /// Whether what was proven is what was planted.
        right: bool,
    },
    /// Fixed, but some reading of the repair check was out of its band.
    Fixed,
    /// Handed on.
    Unfixed,
}

/// How well the odds stood at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mid {
    /// Probability of the leader.
    pub top: f64,
    /// Whether the leader was planted.
    pub right: bool,
    /// Sum over all suspects of (probability − truth)².
    pub brier: f64,
    /// −ln of the probability of what was planted, at most that of one in a million.
    pub surprise: f64,
}

/// How a technician fared.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// Who.
    pub technician: Technician,
    /// Everything done, in order.
    pub steps: Vec<Did>,
    /// Attended minutes to the end.
    pub minutes: f64,
    /// Of these, until the first verdict, or until remedies were tried without one.
    pub to_verdict: f64,
    /// The first verdict, if there was one before remedies were tried by probability per minute.
    pub first: Option<First>,
    /// Why the desk stopped without a verdict, if it did.
    pub stop: Option<Stop>,
    /// Whether remedies had to be tried without a verdict.
    pub guessed: bool,
    /// How it ended.
    pub ending: Ending,
    /// Planted faults that were still there at the end.
    pub left: usize,
    /// Whether a remedy took one of several faults away and the owner would still have noticed the others.
    pub half_mended: bool,
    /// The odds while the job was open, after each reading.
    pub mids: Vec<Mid>,
    /// The odds at the first verdict: the top is what was stated of the verdict.
    pub at_verdict: Option<Mid>,
}

/// What is seen after a remedy is what it did, this often: a right one is botched, a wrong one seems to help.
const PROOF_HOLDS: f64 = 0.98;
/// A check that costs no more minutes is made without weighing everything first.
const CHEAP: f64 = 3.0;
/// Steps at most.
const MOST: usize = 80;
/// Without a verdict, a remedy less likely than this is not tried.
const HOPELESS: f64 = 0.02;
/// Minutes spent on remedies tried without a verdict before the job is handed on.
const PATIENCE: f64 = 180.0;
/// Waits for a machine to hold up, at most.
const MOST_WAITS: usize = 4;
/// A probability counts as at least this in the log score.
const LEAST: f64 = 1e-6;

/// A remedy as it is paid and done.
#[derive(Clone, Debug)]
struct Cure {
    name: String,
    verb: String,
    part: String,
    minutes: f64,
    place: Option<usize>,
    mends: Vec<String>,
}

/// A job in work.
pub(crate) struct Course<'a> {
    desk: &'a mut Desk,
    rivals: &'a Rivals,
    machine: &'a Machine,
    probes: &'a [Probe],
    planting: &'a Planting,
    options: &'a Options,
    faults: Vec<Fault>,
    cures: Vec<Cure>,
    planted: Planted,
    hand: Hand<'a>,
    purse: Purse,
    request: Request,
    times: BTreeMap<String, usize>,
    /// The odds when remedies began to be tried without a verdict, less those that changed nothing.
    left: Vec<SuspectShare>,
    far: Far,
    run: Run,
}

enum Act {
    /// The meter's own check, or what makes the machine safe: its answer is that all is well.
    Prepare(String, f64),
    Probe(Box<Probe>),
    Remedy(usize),
    Nothing,
}

impl<'a> Course<'a> {
    pub(crate) fn new(
        desk: &'a mut Desk,
        (machine, probes, rivals): (&'a Machine, &'a [Probe], &'a Rivals),
        planting: &'a Planting,
        options: &'a Options,
        technician: Technician,
    ) -> Result<Self, Unanswered> {
        let faults: Vec<Fault> =
            desk.atlas().cast.suspects.iter().filter_map(|suspect| suspect.fault.clone()).collect();
        Ok(Self {
            cures: cures(machine, &faults),
            planted: planting.machine(machine)?,
            hand: Hand::new(machine, probes, options, planting.seed),
            purse: Purse::new(machine),
            request: Request {
                complaint: Some(planting.complaint.to_owned()),
                air: Some(planting.air_read),
                ..Request::default()
            },
            times: BTreeMap::new(),
            left: Vec::new(),
            far: Far::default(),
            run: Run {
                technician,
                steps: Vec::new(),
                minutes: 0.0,
                to_verdict: 0.0,
                first: None,
                stop: None,
                guessed: false,
                ending: Ending::Unfixed,
                left: 0,
                half_mended: false,
                mids: Vec::new(),
                at_verdict: None,
            },
            desk,
            rivals,
            machine,
            probes,
            planting,
            options,
            faults,
        })
    }

    /// Works the job to its end.
    pub(crate) fn work(mut self) -> Result<Run, Unanswered> {
        let mut ended = None;
        while ended.is_none() && self.run.steps.len() < MOST {
            if self.run.guessed {
                let Some(cure) = self.likeliest_per_minute() else { break };
                ended = self.mend(cure, Vec::new())?;
                self.doubt(cure);
                continue;
            }
            if let Some(check) = self.next_while_far()? {
                self.take(&check, Vec::new(), false)?;
                continue;
            }
            let plans = self.run.technician == Technician::Method;
            let advice = if plans { self.desk.advise(&self.request)? } else { self.desk.judge(&self.request)? };
            self.far.weigh(&advice);
            self.note(&advice);
            if self.run.first.is_none() {
                self.run.to_verdict = self.purse.minutes;
            }
            let odds: Vec<(String, f64)> =
                advice.suspects.iter().take(3).map(|suspect| (suspect.fault.clone(), suspect.probability)).collect();
            let stopped = advice.verdict.is_none() && advice.stop.is_some();
            match if stopped { Act::Nothing } else { self.choose(&advice) } {
                Act::Probe(probe) => self.take(&probe, odds, false)?,
                Act::Prepare(name, minutes) => self.prepare(name, minutes, odds),
                Act::Remedy(cure) => ended = self.mend(cure, odds)?,
                Act::Nothing => {
                    self.run.stop = advice.stop;
                    self.run.guessed = true;
                    self.left = advice.suspects;
                }
            }
        }
        self.run.ending = ended.unwrap_or(Ending::Unfixed);
        self.run.left = self.planted.left().count();
        self.run.minutes = self.purse.minutes + if ended.is_none() { UNFIXED } else { 0.0 };
        Ok(self.run)
    }

    fn choose(&self, advice: &Advice) -> Act {
        let cure_of = |name: &str| self.cures.iter().position(|cure| cure.name == name);
        let tried = |name: &str| self.times.get(name).copied().unwrap_or(0);
        let settled = advice.verdict.as_ref().filter(|verdict| verdict.settled);
        if let Some(verdict) = settled
            && tried(&verdict.remedy) < 2
            && let Some(cure) = cure_of(&verdict.remedy)
        {
            return Act::Remedy(cure);
        }
        if settled.is_some() {
            return Act::Nothing;
        }
        if let Some(step) = advice.next.first() {
            if let Some(cure) = cure_of(&step.probe) {
                return if tried(&step.probe) < 2 { Act::Remedy(cure) } else { Act::Nothing };
            }
            if step.probe.starts_with("meter:") || step.probe.starts_with("safe:") {
                return Act::Prepare(step.probe.clone(), step.minutes);
            }
            return self.named(&step.probe).map_or(Act::Nothing, |probe| Act::Probe(Box::new(probe)));
        }
        let open = |index: usize| self.is_open(index);
        let next = match self.run.technician {
            Technician::Method => None,
            Technician::List => self.rivals.next_of_list(self.planting.complaint, open),
            Technician::Halving => {
                let shares = advice.suspects.iter().filter_map(|suspect| {
                    self.rivals.index_of(&suspect.fault).map(|index| (index, suspect.probability))
                });
                self.next_of_halving(shares)
            }
        };
        let verdict = advice.verdict.as_ref().and_then(|verdict| cure_of(&verdict.remedy));
        match (next, verdict) {
            (Some(index), _) => Act::Probe(Box::new(self.probes[index].clone())),
            (None, Some(cure)) if tried(&self.cures[cure].name) < 2 => Act::Remedy(cure),
            (None, _) => Act::Nothing,
        }
    }

    /// A rival's next check where a glance shows that a verdict is far: the full odds would hardly change it then, and
    /// cost most of a trial's time. A dear check of the list is made so only where a verdict is out of reach.
    fn next_while_far(&mut self) -> Result<Option<Probe>, Unanswered> {
        if self.run.technician == Technician::Method || self.planting.complaint == "keeps-cranking" {
            return Ok(None);
        }
        let glance = self.desk.glance(&self.request)?;
        let distance = self.far.glance(glance.leading);
        let next = match self.run.technician {
            _ if distance == Distance::Near => None,
            Technician::Halving => self.next_of_halving(glance.shares.iter().copied().enumerate()),
            _ => {
                let next = self.rivals.next_of_list(self.planting.complaint, |index| self.is_open(index));
                next.filter(|index| distance == Distance::Remote || self.is_cheap(*index))
            }
        };
        Ok(next.map(|index| self.probes[index].clone()))
    }

    /// Where no point splits the path, what else is cheap is looked at before a remedy is tried on suspicion.
    fn next_of_halving(&self, shares: impl Iterator<Item = (usize, f64)>) -> Option<usize> {
        let belief = self.rivals.belief(self.machine, shares);
        let open = |index: usize| self.is_open(index);
        let cheap = |index: usize| self.is_open(index) && self.is_cheap(index);
        let halving = self.rivals.next_of_halving(self.machine, self.probes, &belief, &self.purse, open);
        halving.or_else(|| self.rivals.next_of_list(self.planting.complaint, cheap))
    }

    fn is_cheap(&self, index: usize) -> bool {
        self.purse.price(&self.probes[index]) <= CHEAP
    }

    /// Whether a rival may still choose a probe.
    fn is_open(&self, index: usize) -> bool {
        let probe = &self.probes[index];
        let safe = !probe.name.starts_with("amps@") || probe.state == "rest";
        let runs = probe.state != "running" || self.planting.complaint == "goes-flat";
        safe && runs && !self.times.contains_key(&probe.name)
    }

    fn named(&self, name: &str) -> Option<Probe> {
        let known = self.probes.iter().find(|probe| probe.name == name).cloned();
        known.or_else(|| self.machine.probe(name).ok())
    }

    /// The untried remedy with the best probability per minute; nothing when none is worth it any more.
    fn likeliest_per_minute(&self) -> Option<usize> {
        let chance = |cure: &Cure| -> f64 {
            let mends = |name: &String| cure.mends.contains(name);
            self.left.iter().filter(|suspect| mends(&suspect.fault)).map(|suspect| suspect.probability).sum()
        };
        let per_minute = |index: usize| {
            let cure = &self.cures[index];
            chance(cure) / self.purse.price_of_remedy(cure.minutes, cure.place)
        };
        let patient = self.purse.minutes <= self.run.to_verdict + PATIENCE;
        (0..self.cures.len())
            .filter(|index| patient && !self.times.contains_key(&self.cures[*index].name))
            .filter(|index| chance(&self.cures[*index]) > HOPELESS)
            .max_by(|left, right| per_minute(*left).total_cmp(&per_minute(*right)).then(right.cmp(left)))
    }

    /// A remedy that changed nothing speaks against what it mends.
    fn doubt(&mut self, cure: usize) {
        let mends = &self.cures[cure].mends;
        for suspect in self.left.iter_mut().filter(|suspect| mends.contains(&suspect.fault)) {
            suspect.probability *= 1.0 - PROOF_HOLDS;
        }
        let all: f64 = self.left.iter().map(|suspect| suspect.probability).sum();
        self.left.iter_mut().for_each(|suspect| suspect.probability /= all.max(f64::MIN_POSITIVE));
    }

    fn prepare(&mut self, name: String, minutes: f64, odds: Vec<(String, f64)>) {
        self.count(&name);
        self.purse.minutes += minutes;
        self.request.readings.push((name.clone(), "ok".to_owned()));
        self.run.steps.push(Did {
            name,
            value: "ok".to_owned(),
            should_be: None,
            slip: None,
            minutes,
            check: false,
            odds,
            away: self.planted.away,
        });
    }

    fn take(&mut self, probe: &Probe, odds: Vec<(String, f64)>, check: bool) -> Result<(), Unanswered> {
        let times = self.count(&probe.name);
        let minutes = self.purse.pay(probe);
        self.come_and_go();
        let typed = self.hand.read(&mut self.planted, probe, times, check)?;
        self.request.readings.push((probe.name.clone(), typed.value.clone()));
        self.run.steps.push(Did {
            name: probe.name.clone(),
            value: typed.value,
            should_be: typed.should_be,
            slip: typed.slip,
            minutes,
            check,
            odds,
            away: self.planted.away,
        });
        Ok(())
    }

    /// Does a remedy; how the job ended, if it did.
    fn mend(&mut self, cure: usize, odds: Vec<(String, f64)>) -> Result<Option<Ending>, Unanswered> {
        let Cure { name, verb, part, minutes, place, .. } = self.cures[cure].clone();
        let times = self.count(&name);
        let minutes = self.purse.pay_remedy(minutes, place);
        self.come_and_go();
        let perfect = self.options.mishaps == Mishaps::Perfect;
        let works = perfect || Chance::of(self.planting.seed, &format!("{name} {times}")).happens(PROOF_HOLDS);
        let is_right =
            self.planted.faults_left().any(|fault| fault.remedy.verb == verb && part_name(self.machine, fault) == part);
        let removed = works && self.planted.remove(self.machine, &verb, &part);
        let quiet = self.is_quiet()?;
        self.run.half_mended |= removed && !quiet;
        let mut fixed = quiet && (removed || self.planted.away);
        let truth = fixed;
        if !works && !is_right {
            fixed = true;
        }
        let word = |fixed: bool| if fixed { "fixed" } else { "same" }.to_owned();
        self.request.readings.push((name.clone(), word(fixed)));
        self.run.steps.push(Did {
            name,
            value: word(fixed),
            should_be: (fixed != truth).then(|| word(truth)),
            slip: None,
            minutes,
            check: false,
            odds,
            away: self.planted.away,
        });
        if !fixed {
            return Ok(None);
        }
        let entry = self.request.readings.len() - 1;
        let ended = self.prove()?;
        if ended.is_none() {
            // It was not fixed after all; what was read since is evidence.
            self.request.readings[entry].1 = word(false);
        }
        Ok(ended)
    }

    /// The repair check, what fails in it read once more, and where the desk doubts it the owner's word some starts later;
    /// nothing when the machine still does what it came for.
    fn prove(&mut self) -> Result<Option<Ending>, Unanswered> {
        let advice = self.desk.judge(&self.request)?;
        self.note(&advice);
        let proof = advice.verdict.as_ref().map(|verdict| verdict.proof.clone()).unwrap_or_default();
        let mut left = proof;
        for _ in 0..2 {
            let mut failed = Vec::new();
            for check in left {
                let Some(probe) = self.named(&check.probe) else { continue };
                self.take(&probe, Vec::new(), true)?;
                let typed = self.run.steps.last().map(|step| step.value.clone()).unwrap_or_default();
                let passed = match entry(self.machine, &self.faults, &check.probe, &typed)? {
                    Entry::Took(_, reading) => within(&check.band, &reading),
                    _ => false,
                };
                if !passed {
                    failed.push(check);
                }
            }
            left = failed;
        }
        let mut doubted = advice.verdict.is_some_and(|verdict| !verdict.settled);
        for _ in 0..MOST_WAITS {
            if !doubted {
                break;
            }
            if !self.holds_up()? {
                return Ok(None);
            }
            let advice = self.desk.judge(&self.request)?;
            self.note(&advice);
            doubted = advice.verdict.is_some_and(|verdict| !verdict.settled);
        }
        let verdict = self.desk.judge(&self.request)?.verdict.filter(|verdict| verdict.proven);
        if let Some(verdict) = verdict {
            return Ok(Some(Ending::Proven { right: self.is_right(&verdict) }));
        }
        let still_there = self.planted.left().next().is_some();
        self.planted.away = false;
        Ok((!still_there || self.is_quiet()?).then_some(Ending::Fixed))
    }

    /// Whether the machine starts well so many times in a row; a yes is kept as a reading.
    fn holds_up(&mut self) -> Result<bool, Unanswered> {
        let start = |start: u32| {
            let name = format!("held up {} {start}", self.request.readings.len());
            Chance::of(self.planting.seed, &name).happens(self.options.presence)
        };
        self.planted.away = !(0..STARTS).any(start);
        if !self.is_quiet()? {
            return Ok(false);
        }
        self.request.readings.push(("ask:held-up".to_owned(), "yes".to_owned()));
        Ok(true)
    }

    /// Whether the owner would notice nothing that he would not notice on a sound machine of the same age and weather.
    fn is_quiet(&mut self) -> Result<bool, Unanswered> {
        Ok(self.planted.complaint(self.machine)?.is_none())
    }

    /// An intermittent fault is drawn anew whenever the machine has been handled.
    fn come_and_go(&mut self) {
        let name = format!("presence {}", self.purse.handled);
        self.planted.away = !Chance::of(self.planting.seed, &name).happens(self.options.presence);
    }

    fn count(&mut self, name: &str) -> usize {
        let times = self.times.entry(name.to_owned()).or_insert(0);
        *times += 1;
        *times
    }

    /// Keeps what the odds were, and the first verdict.
    fn note(&mut self, advice: &Advice) {
        if self.run.first.is_some() || self.run.guessed {
            return;
        }
        let Some(leader) = advice.suspects.first() else { return };
        let planted = |name: &str| self.planting.faults.iter().any(|(fault, _)| fault.name == name);
        let square = |(probability, truth): (f64, bool)| {
            let off = probability - f64::from(u8::from(truth));
            off * off
        };
        let each = advice.suspects.iter().map(|suspect| (suspect.probability, planted(&suspect.fault)));
        let brier = each.clone().map(square).sum::<f64>() + square((advice.unexplained, false));
        let of_planted = each.filter(|(_, truth)| *truth).map(|(probability, _)| probability).sum::<f64>();
        let mut mid = Mid {
            top: leader.probability,
            right: planted(&leader.fault),
            brier,
            surprise: -log(of_planted.clamp(LEAST, 1.0)),
        };
        match advice.verdict.as_ref().filter(|verdict| verdict.settled) {
            Some(verdict) => {
                (mid.top, mid.right) = (verdict.probability, self.is_right(verdict));
                self.run.first = Some(First {
                    faults: verdict.faults.clone(),
                    remedy: verdict.remedy.clone(),
                    probability: verdict.probability,
                    after: self.run.steps.len(),
                    right: mid.right,
                });
                self.run.at_verdict = Some(mid);
            }
            None if advice.stop.is_none() && !self.run.steps.is_empty() => self.run.mids.push(mid),
            None => {}
        }
    }

    fn is_right(&self, verdict: &Verdict) -> bool {
        let with = |name: &String, other: &String| {
            self.options.alike.iter().any(|group| group.contains(name) && group.contains(other))
        };
        self.planting.faults.iter().any(|(fault, _)| {
            let remedy = format!("try:{}@{}", fault.remedy.verb, part_name(self.machine, fault));
            remedy == verdict.remedy
                || verdict.any_of.first().is_some_and(|leading| leading.contains(&fault.name))
                || verdict.faults.first().is_some_and(|leader| with(leader, &fault.name))
        })
    }
}

fn cures(machine: &Machine, faults: &[Fault]) -> Vec<Cure> {
    let mut cures: Vec<Cure> = Vec::new();
    for fault in faults {
        let part = part_name(machine, fault);
        let name = format!("try:{}@{part}", fault.remedy.verb);
        match cures.iter_mut().find(|known| known.name == name) {
            Some(known) => known.mends.push(fault.name.clone()),
            None => cures.push(Cure {
                name,
                verb: fault.remedy.verb.clone(),
                part: part.to_owned(),
                minutes: fault.remedy.minutes,
                place: fault.part.and_then(|part| machine.sheet.parts[part].place),
                mends: vec![fault.name.clone()],
            }),
        }
    }
    cures
}
