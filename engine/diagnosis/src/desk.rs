//! The desk at which a job is worked: a machine, its atlas, and advice for what is known so far.
//! Order of thought: readings → beliefs → has the leader won, and on which reading does it rest → what next.
//! Promise: advice is a function of the request alone; the order of independent readings does not matter.

use libm::log2;
use machine::probe::Sort;
use machine::{Instrument, Machine, Probe};
use quantity::Celsius;

use crate::advice::{Advice, Band, OutcomeMeans, Reason, Step, Stop, SuspectShare, Verdict};
use crate::atlas::Atlas;
use crate::band::band;
use crate::field::{Field, Kept, Sources, Taken};
use crate::inference::{self, Belief, Ending, Move, Outlook, Places, Remedy, Settings, Situation, Standing, Worlds};
use crate::proof::{self, Proof};
use crate::request::{BadRequest, Entry, Known, Request, part_name};
use crate::told::{outcomes, planned};

/// A machine with its atlas, ready to give advice.
pub struct Desk {
    /// The machine.
    pub machine: Machine,
    pub(crate) atlas: Atlas,
    kept: Kept,
    remedies: Vec<Tried>,
}

/// A remedy and whom it fixes.
#[derive(Clone, Debug)]
struct Tried {
    name: String,
    title: String,
    caution: String,
    minutes: f64,
    place: Option<usize>,
    fixes: Vec<u32>,
}

/// Minutes that a fault costs which no remedy mends.
pub(crate) const UNFIXED: f64 = 90.0;
/// Minutes to see whether a remedy worked.
pub(crate) const TRY_MINUTES: f64 = 1.0;
/// Minutes to lift the battery, or to put it back.
pub(crate) const LIFT_MINUTES: f64 = 1.0;
/// Minutes of wear a second of cranking is worth.
const CRANK_WEAR: f64 = 0.03;
/// A probe that buys fewer bits tells nothing.
const LEAST_BITS: f64 = 1e-3;
/// Near the end a probe has to buy this share of the bits that are left.
const WORTHWHILE: f64 = 0.05;
/// Readings that a leader may call wild before nobody explains them.
const TOO_WILD: f64 = 1.5;

impl Desk {
    /// A desk for a machine and its atlas.
    pub fn new(machine: Machine, atlas: Atlas) -> Self {
        let mut desk = Self { machine, atlas, kept: Kept::new(), remedies: Vec::new() };
        desk.remedies = desk.gather_remedies();
        desk
    }

    /// The atlas.
    pub fn atlas(&self) -> &Atlas {
        &self.atlas
    }

    fn gather_remedies(&self) -> Vec<Tried> {
        let mut remedies: Vec<Tried> = Vec::new();
        for (index, suspect) in self.atlas.cast.suspects.iter().enumerate() {
            let Some(fault) = &suspect.fault else { continue };
            let name = format!("try:{}@{}", fault.remedy.verb, part_name(&self.machine, fault));
            match remedies.iter_mut().find(|known| known.name == name) {
                Some(known) => known.fixes.push(index as u32),
                None => remedies.push(Tried {
                    name,
                    title: fault.remedy.title.clone(),
                    caution: fault.remedy.caution.clone(),
                    minutes: fault.remedy.minutes + TRY_MINUTES,
                    place: fault.part.and_then(|part| self.machine.sheet.parts[part].place),
                    fixes: vec![index as u32],
                }),
            }
        }
        remedies
    }

    /// Advice for what is known.
    ///
    /// # Errors
    /// When the request names something that does not exist or a value cannot be read.
    pub fn advise(&mut self, request: &Request) -> Result<Advice, BadRequest> {
        self.weigh(request, true)
    }

    /// Odds and verdict as in [`Desk::advise`], without planning: nothing is next but a measurement to be taken again.
    ///
    /// # Errors
    /// When the request names something that does not exist or a value cannot be read.
    pub fn judge(&mut self, request: &Request) -> Result<Advice, BadRequest> {
        self.weigh(request, false)
    }

    /// Gives each suspect, healthy first, its share of jobs, unnormalized.
    pub fn set_odds(&mut self, odds: &[f64]) {
        for (suspect, odds) in self.atlas.cast.suspects.iter_mut().zip(odds) {
            suspect.odds = *odds;
        }
    }

    fn weigh(&mut self, request: &Request, plans: bool) -> Result<Advice, BadRequest> {
        let faults: Vec<_> = self.atlas.cast.suspects.iter().filter_map(|suspect| suspect.fault.clone()).collect();
        let known = request.read(&self.machine, &faults)?;
        let columns = self.columns(&known);
        let mut kept = std::mem::take(&mut self.kept);
        let sources = Sources {
            machine: &self.machine,
            atlas: &self.atlas,
            request,
            known: &known,
            columns: &columns,
            remedies: self.remedies.iter().map(|remedy| (remedy.name.as_str(), remedy.fixes.as_slice())).collect(),
        };
        let field = sources.field(&mut kept);
        self.kept = kept;
        let Some(field) = field else { return Ok(nothing_fits()) };
        let Ok(belief) = Belief::weigh(&field.worlds, &field.readings) else { return Ok(nothing_fits()) };
        Ok(self.conclude(request, &known, &field, &belief, plans))
    }

    /// The column of each reading's probe; probes outside the atlas are observed now.
    fn columns(&mut self, known: &Known) -> Vec<Option<usize>> {
        let mut columns = Vec::with_capacity(known.entries.len());
        for entry in &known.entries {
            columns.push(match entry {
                Entry::Took(probe, _) | Entry::Skipped(probe) => Some(match self.atlas.column_of(probe) {
                    Some(column) => column,
                    None => self.atlas.add_probe(&self.machine, probe.clone()),
                }),
                _ => None,
            });
        }
        columns
    }

    fn conclude(&self, request: &Request, known: &Known, field: &Field, belief: &Belief, plans: bool) -> Advice {
        let Field { worlds, readings, taken, .. } = field;
        let mut advice = Advice {
            suspects: self.suspects(belief),
            unexplained: belief.none_of_these(),
            next: Vec::new(),
            stop: None,
            verdict: None,
            keystone: None,
            outliers: Vec::new(),
            reasons: Vec::new(),
            entropy_bits: belief.entropy_bits(),
        };
        let group = self.leading_group(belief);
        let winner: Vec<u32> = group.iter().map(|(suspect, _)| *suspect).collect();
        let share: f64 = group.iter().map(|(_, share)| share).sum();
        let outliers = inference::expected_outliers(worlds, belief, readings, &winner);
        let wild = outliers.each.iter().zip(taken).filter(|(share, _)| **share >= 0.5);
        advice.outliers = wild.map(|(_, taken)| taken.key.clone()).collect();
        let without = inference::probability_without_each(worlds, readings, &winner).unwrap_or_default();
        advice.reasons = self.reasons(taken, &without, share, &winner);
        if belief.none_of_these() >= 0.8 || outliers.expected >= TOO_WILD {
            advice.stop = Some(Stop::NoneOfThese);
            return advice;
        }
        let again = |index: usize| taken[index].probe.filter(|_| taken[index].times < 2);
        let worst_outlier = (0..taken.len()).filter(|index| outliers.each[*index] >= 0.5 && again(*index).is_some());
        let mut repeat = worst_outlier.max_by(|left, right| outliers.each[*left].total_cmp(&outliers.each[*right]));
        let tried = known.entries.iter().any(|entry| matches!(entry, Entry::Tried { fixed: true, .. }));
        if share >= request.confirm {
            let rests = (0..without.len()).filter(|index| taken[*index].probe.is_some());
            let keystone = rests.min_by(|left, right| without[*left].total_cmp(&without[*right]));
            let keystone = keystone.filter(|index| without[*index] < inference::KEYSTONE_LEVEL);
            advice.keystone = keystone.map(|index| taken[index].key.clone());
            repeat = repeat.or(keystone.filter(|index| again(*index).is_some()));
            if tried || repeat.is_none() {
                if winner == [0] {
                    advice.stop = Some(Stop::NotWorthMore);
                } else {
                    advice.verdict = Some(self.verdict(request, known, &group, share, worlds, belief));
                }
                return advice;
            }
        }
        if plans {
            advice.next = self.next(request, known, field, belief);
        }
        if let Some(column) = repeat.and_then(again) {
            let mut step = self.step(column, field, belief, request);
            step.again = true;
            advice.next.retain(|other| other.probe != step.probe);
            advice.next.insert(0, step);
            advice.next.truncate(8);
        }
        if plans && advice.next.is_empty() {
            advice.stop = Some(Stop::NotWorthMore);
        }
        advice
    }

    fn suspects(&self, belief: &Belief) -> Vec<SuspectShare> {
        let share = |(index, probability): (usize, &f64)| {
            let suspect = &self.atlas.cast.suspects[index];
            let fault = if suspect.name.is_empty() { "healthy".to_owned() } else { suspect.name.clone() };
            SuspectShare { fault, title: suspect.title.clone(), probability: *probability }
        };
        let mut all: Vec<SuspectShare> = belief.suspects().iter().enumerate().map(share).collect();
        all.sort_by(|left, right| right.probability.total_cmp(&left.probability).then(left.fault.cmp(&right.fault)));
        all
    }

    /// The suspects that one remedy of one part mends, with the largest sum; likeliest first.
    fn leading_group(&self, belief: &Belief) -> Vec<(u32, f64)> {
        let mut best: Vec<u32> = vec![0];
        let mut most = belief.suspects()[0];
        for remedy in &self.remedies {
            let sum: f64 = remedy.fixes.iter().map(|suspect| belief.suspects()[*suspect as usize]).sum();
            if sum > most {
                most = sum;
                best.clone_from(&remedy.fixes);
            }
        }
        let mut group: Vec<(u32, f64)> =
            best.into_iter().map(|suspect| (suspect, belief.suspects()[suspect as usize])).collect();
        group.sort_by(|left, right| right.1.total_cmp(&left.1).then(left.0.cmp(&right.0)));
        group
    }

    fn verdict(
        &self,
        request: &Request,
        known: &Known,
        group: &[(u32, f64)],
        share: f64,
        worlds: &Worlds,
        belief: &Belief,
    ) -> Verdict {
        let named: Vec<u32> =
            group.iter().filter(|(_, own)| *own > 0.01 * share).map(|(suspect, _)| *suspect).collect();
        let names: Vec<String> =
            named.iter().map(|suspect| self.atlas.cast.suspects[*suspect as usize].name.clone()).collect();
        let leader = named.first().copied().unwrap_or(0);
        let remedy = self.remedies.iter().find(|remedy| remedy.fixes.contains(&leader));
        let consequence =
            self.atlas.cast.suspects[leader as usize].fault.as_ref().is_some_and(|fault| fault.consequence);
        let fixed = known.entries.iter().any(|entry| match entry {
            Entry::Tried { verb, part, fixed } => {
                *fixed && remedy.is_some_and(|remedy| remedy.name == format!("try:{verb}@{part}"))
            }
            _ => false,
        });
        let proof = Proof { machine: &self.machine, atlas: &self.atlas, air: request.air }
            .checks(known, worlds, belief, leader);
        let measured = known.entries.iter().any(|entry| matches!(entry, Entry::Took(..)));
        let shown = proof::passes(known, &proof);
        Verdict {
            any_of: names.iter().map(|name| vec![name.clone()]).collect(),
            faults: names,
            probability: share,
            proven: fixed && measured && shown,
            consequence,
            remedy: remedy.map(|remedy| remedy.name.clone()).unwrap_or_default(),
            remedy_title: remedy.map(|remedy| remedy.title.clone()).unwrap_or_default(),
            caution: remedy.map(|remedy| remedy.caution.clone()).unwrap_or_default(),
            proof,
        }
    }

    fn reasons(&self, taken: &[Taken], without: &[f64], share: f64, winner: &[u32]) -> Vec<Reason> {
        let odds = |p: f64| p.clamp(1e-12, 1.0 - 1e-12) / (1.0 - p.clamp(1e-12, 1.0 - 1e-12));
        let leader = winner.first().map_or("", |suspect| self.atlas.cast.suspects[*suspect as usize].title.as_str());
        taken
            .iter()
            .zip(without)
            .map(|(taken, without)| {
                let weight = log2(odds(share) / odds(*without));
                let verb = if weight >= 0.0 { "speaks for" } else { "speaks against" };
                let text =
                    format!("{verb}: {leader} ({:.0} % without it, {:.0} % with it)", without * 100.0, share * 100.0);
                Reason { reading: taken.shown.clone(), text, weight }
            })
            .collect()
    }

    /// What to do next, best first.
    fn next(&self, request: &Request, known: &Known, field: &Field, belief: &Belief) -> Vec<Step> {
        let outlook = Outlook::new(&field.worlds, belief, 1e-5);
        let mut places = self.places();
        let dead_now = matches!(known.entries.last(), Some(Entry::Took(probe, _)) if probe.state.starts_with("dead"));
        for entry in &known.entries {
            if let Entry::Took(probe, _) = entry {
                probe.places.iter().for_each(|place| places.open(Some(*place)));
            }
        }
        let mut tests = Vec::new();
        let mut columns = Vec::new();
        let mut standing = Vec::new();
        for (index, probe) in self.probes().iter().enumerate() {
            let bins = &self.atlas.columns[index].bins;
            let done = field.taken.iter().any(|taken| taken.probe == Some(index))
                || known
                    .entries
                    .iter()
                    .any(|entry| matches!(entry, Entry::Skipped(skipped) if skipped.name == probe.name));
            let asked = matches!(probe.sort, Sort::Ask(_));
            let open = !done
                && !asked
                && request.has(probe.instrument())
                && self.is_safe(probe)
                && can_be_entered(probe, known);
            let lift = if probe.state.starts_with("dead") == dead_now { 0.0 } else { LIFT_MINUTES };
            let place = self.costliest(probe, &places);
            let others = probe.places.iter().filter(|other| Some(**other) != place);
            let beside: f64 = others.map(|other| places.unpaid(Some(*other))).sum();
            let Some(mut test) = planned(bins, field, probe.minutes + lift + beside) else { continue };
            test.place = place;
            test.risk_minutes = CRANK_WEAR * probe.crank_seconds;
            tests.push(test);
            columns.push(index);
            standing.push(if open { Standing::Open } else { Standing::Barred });
        }
        let tried = |name: &str| {
            known
                .entries
                .iter()
                .any(|entry| matches!(entry, Entry::Tried { verb, part, .. } if name == format!("try:{verb}@{part}")))
        };
        let remedies: Vec<Remedy> = self
            .remedies
            .iter()
            .map(|remedy| Remedy { minutes: remedy.minutes, place: remedy.place, fixes: remedy.fixes.clone() })
            .collect();
        let situation = Situation {
            tests: &tests,
            standing: &standing,
            remedies: &remedies,
            places: &places,
            ending: Ending::Repair { unfixed_minutes: UNFIXED },
        };
        let ranked = inference::advise(&outlook, &situation, &Settings::default());
        let leader = self.leading_group(belief).first().map_or(0, |(suspect, _)| *suspect);
        let cheapest = ranked
            .candidates
            .iter()
            .filter(|candidate| matches!(candidate.step, Move::Test(_)) && candidate.bits > LEAST_BITS);
        let cheapest = cheapest.map(|candidate| candidate.minutes).fold(f64::INFINITY, f64::min);
        let mut steps = Vec::new();
        // Where a remedy stands ready, a probe that hardly splits what is left is not worth the way to it.
        let enough =
            if ranked.stage == inference::Stage::Information { LEAST_BITS } else { WORTHWHILE * ranked.entropy_bits };
        for candidate in &ranked.candidates {
            let step = match candidate.step {
                Move::Test(_) if candidate.bits < enough.max(LEAST_BITS) => continue,
                Move::Test(test) => {
                    let mut step = self.step(columns[test], field, belief, request);
                    step.minutes = candidate.minutes;
                    step.elapsed = candidate.minutes;
                    step
                }
                Move::Remedy(index) => {
                    let remedy = &self.remedies[index];
                    let leads = remedy.fixes.contains(&leader);
                    if tried(&remedy.name) || !(leads || candidate.minutes < cheapest) {
                        continue;
                    }
                    self.remedy_step(remedy, candidate.minutes, belief)
                }
                Move::Declare => continue,
            };
            let value_per_minute = match ranked.stage {
                inference::Stage::Information => candidate.score,
                _ => candidate.bits / candidate.charged_minutes.max(0.01),
            };
            steps.push(Step { value_per_minute, ..step });
            if steps.len() == 8 {
                break;
            }
        }
        steps
    }

    /// Access minutes of the machine's places.
    fn places(&self) -> Places {
        Places::new(self.machine.sheet.places.iter().map(|place| place.access_minutes).collect())
    }

    fn costliest(&self, probe: &Probe, places: &Places) -> Option<usize> {
        let unpaid = |place: &usize| places.unpaid(Some(*place));
        probe.places.iter().copied().max_by(|left, right| unpaid(left).total_cmp(&unpaid(right)))
    }

    /// An ammeter is never proposed where a world would drive more than 10 A through it.
    fn is_safe(&self, probe: &Probe) -> bool {
        !matches!(probe.sort, Sort::Meter(Instrument::Amps, _)) || probe.state == "rest"
    }

    /// A probe as a step: band, outcomes, caution.
    fn step(&self, column: usize, field: &Field, belief: &Belief, request: &Request) -> Step {
        let probe = &self.atlas.probes[column];
        let dead = probe.state.starts_with("dead");
        let mut caution = probe.caution.clone();
        for place in &probe.places {
            let note = &self.machine.sheet.places[*place].caution;
            if !note.is_empty() && !caution.contains(note.as_str()) {
                caution = if caution.is_empty() { note.clone() } else { format!("{caution}; {note}") };
            }
        }
        if dead && caution.is_empty() {
            "lift the battery's negative side first, refit it last; no tool across the terminals"
                .clone_into(&mut caution);
        }
        Step {
            probe: probe.name.clone(),
            title: probe.title.clone(),
            minutes: probe.minutes,
            elapsed: probe.elapsed,
            value_per_minute: 0.0,
            band: Some(self.band(column, request.air)),
            outcomes: outcomes(&self.atlas, column, field, belief),
            caution,
            again: false,
        }
    }

    fn remedy_step(&self, remedy: &Tried, minutes: f64, belief: &Belief) -> Step {
        let works: f64 = remedy.fixes.iter().map(|suspect| belief.suspects()[*suspect as usize]).sum();
        let names: Vec<&str> = remedy
            .fixes
            .iter()
            .filter(|suspect| belief.suspects()[**suspect as usize] > 0.1 * works)
            .map(|suspect| self.atlas.cast.suspects[*suspect as usize].title.as_str())
            .collect();
        Step {
            probe: remedy.name.clone(),
            title: remedy.title.clone(),
            minutes,
            elapsed: minutes,
            value_per_minute: 0.0,
            band: None,
            outcomes: vec![
                OutcomeMeans { when: "fixed".to_owned(), means: names.join(" or "), probability: works },
                OutcomeMeans {
                    when: "same".to_owned(),
                    means: "something else is wrong".to_owned(),
                    probability: 1.0 - works,
                },
            ],
            caution: remedy.caution.clone(),
            again: false,
        }
    }

    /// What healthy machines show on a probe, at the job's temperature.
    pub fn band(&self, column: usize, air: Option<Celsius>) -> Band {
        band(&self.atlas, column, air)
    }

    /// The probes that the wiring suggests.
    pub fn probes(&self) -> &[Probe] {
        self.atlas.suggested()
    }
}

/// A machine that does not start cannot be measured running.
fn can_be_entered(probe: &Probe, known: &Known) -> bool {
    let runs =
        known.complaint.is_none_or(|complaint| matches!(complaint.name, "goes-flat" | "not-charging" | "hot-only"));
    probe.state != "running" || runs
}

fn nothing_fits() -> Advice {
    Advice {
        suspects: Vec::new(),
        unexplained: 1.0,
        next: Vec::new(),
        stop: Some(Stop::NoneOfThese),
        verdict: None,
        keystone: None,
        outliers: Vec::new(),
        reasons: Vec::new(),
        entropy_bits: 0.0,
    }
}
