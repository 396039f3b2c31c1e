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
use crate::delegates::Delegates;
use crate::field::{Field, Kept, Sources, Taken};
use crate::inference::{self, Belief, Ending, Move, Places, Remedy, Settings, Situation, Standing};
use crate::proof::{self, Proof};
use crate::request::{Ammeter, BadRequest, Entry, Known, Request, is_ammeter, part_name};
use crate::told::{outcomes, uncapitalized};

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

    /// Roughly how likely the leading remedy's suspects are together: over the cast's own worlds, none drawn anew. Cheap,
    /// and enough to see that a verdict is far.
    ///
    /// # Errors
    /// When the request names something that does not exist or a value cannot be read.
    pub fn glance(&mut self, request: &Request) -> Result<f64, BadRequest> {
        self.with_sources(request, |desk, _, sources, kept| {
            let shares = sources.coarse(kept);
            let of = |remedy: &Tried| remedy.fixes.iter().map(|suspect| shares[*suspect as usize]).sum::<f64>();
            desk.remedies.iter().map(of).fold(shares[0], f64::max)
        })
    }

    fn weigh(&mut self, request: &Request, plans: bool) -> Result<Advice, BadRequest> {
        self.with_sources(request, |desk, known, sources, kept| {
            let Some(field) = sources.field(kept) else { return nothing_fits() };
            let Ok(belief) = Belief::weigh(&field.worlds, &field.readings) else { return nothing_fits() };
            desk.conclude(request, known, &field, &belief, plans)
        })
    }

    /// Reads a request and hands on all that is known.
    fn with_sources<T>(
        &mut self,
        request: &Request,
        conclude: impl FnOnce(&Self, &Known, &Sources<'_>, &mut Kept) -> T,
    ) -> Result<T, BadRequest> {
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
        let concluded = conclude(self, &known, &sources, &mut kept);
        self.kept = kept;
        Ok(concluded)
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
            suspects: self.suspects(field, belief),
            unexplained: belief.none_of_these(),
            next: Vec::new(),
            stop: None,
            verdict: None,
            keystone: None,
            outliers: Vec::new(),
            reasons: Vec::new(),
            entropy_bits: belief.entropy_bits(),
        };
        let fixing = self.remedies.iter().find(|remedy| known.fixed_by(&remedy.name));
        let group = match fixing {
            Some(remedy) => by_share(self.wanting(remedy, known, field), belief),
            None => self.leading_group(known, field, belief),
        };
        let winner: Vec<u32> = group.iter().map(|(suspect, _)| *suspect).collect();
        let share: f64 = group.iter().map(|(_, share)| share).sum();
        let outliers = inference::expected_outliers(worlds, belief, readings, &winner);
        let wild = outliers.each.iter().zip(taken).filter(|(share, _)| **share >= 0.5);
        advice.outliers = wild.map(|(_, taken)| taken.key.clone()).collect();
        let without = inference::probability_without_each(worlds, readings, &winner).unwrap_or_default();
        let faults = winner.first().map_or_else(Vec::new, |suspect| field.pairs.faults_of(*suspect));
        let title = |fault: &u32| self.atlas.cast.suspects[*fault as usize].title.as_str();
        let leader = faults.iter().map(title).collect::<Vec<_>>().join(", and with it ");
        advice.reasons = reasons(taken, &without, share, &leader);
        advice.reasons.extend(known.entries.iter().filter_map(|entry| match entry {
            Entry::Took(probe, reading) if !known.counts(probe, reading) => Some(Reason {
                reading: format!("{} = {}", probe.name, reading.show(probe.dimension())),
                text: "does not count before the ammeter has shown a load that is known: `meter:amps`".to_owned(),
                weight: 0.0,
            }),
            _ => None,
        }));
        if fixing.is_none() && (belief.none_of_these() >= 0.8 || outliers.expected >= TOO_WILD) {
            advice.stop = Some(Stop::NoneOfThese);
            return advice;
        }
        let again = |index: usize| taken[index].probe.filter(|_| taken[index].times < 2);
        let worst_outlier = (0..taken.len()).filter(|index| outliers.each[*index] >= 0.5 && again(*index).is_some());
        let mut repeat = worst_outlier.max_by(|left, right| outliers.each[*left].total_cmp(&outliers.each[*right]));
        if fixing.is_some() || share >= request.confirm {
            let rests = (0..without.len()).filter(|index| taken[*index].probe.is_some());
            let keystone = rests.min_by(|left, right| without[*left].total_cmp(&without[*right]));
            let keystone = keystone.filter(|index| without[*index] < inference::KEYSTONE_LEVEL);
            advice.keystone = keystone.map(|index| taken[index].key.clone());
            repeat = repeat.or(keystone.filter(|index| again(*index).is_some()));
            if fixing.is_some() || repeat.is_none() {
                if winner == [0] {
                    advice.stop = Some(Stop::NotWorthMore);
                } else {
                    advice.verdict = Some(self.verdict(request, known, &group, share, field, belief));
                }
                return advice;
            }
        }
        let delegates = if plans { Delegates::choose(&self.machine, &self.atlas, field, belief) } else { None };
        if let Some(delegates) = &delegates {
            advice.next = self.next(request, known, field, belief, delegates);
        }
        if let Some(column) = repeat.and_then(again) {
            let mut step = self.step(column, delegates.as_ref(), request);
            step.again = true;
            advice.next.retain(|other| other.probe != step.probe);
            advice.next.insert(0, step);
            advice.next.truncate(8);
        }
        if known.ammeter() == Ammeter::Untried
            && advice.next.first().is_some_and(|step| step.probe.starts_with("amps@"))
        {
            advice.next.insert(0, ammeter_first());
            advice.next.truncate(8);
        }
        if plans && advice.next.is_empty() {
            advice.stop = Some(Stop::NotWorthMore);
        }
        advice
    }

    fn suspects(&self, field: &Field, belief: &Belief) -> Vec<SuspectShare> {
        let share = |(index, probability): (usize, &f64)| {
            let faults = field.pairs.faults_of(index as u32);
            let name = |suspect: &u32| self.atlas.cast.suspects[*suspect as usize].name.as_str();
            let title = |suspect: &u32| self.atlas.cast.suspects[*suspect as usize].title.as_str();
            let together = faults.iter().map(name).collect::<Vec<_>>().join(" + ");
            let fault = if together.is_empty() { "healthy".to_owned() } else { together };
            let title = faults.iter().map(title).collect::<Vec<_>>().join("; and ");
            SuspectShare { fault, title, probability: *probability }
        };
        let mut all: Vec<SuspectShare> = belief.suspects().iter().enumerate().map(share).collect();
        all.sort_by(|left, right| right.probability.total_cmp(&left.probability).then(left.fault.cmp(&right.fault)));
        all
    }

    fn title_of(&self, delegates: &Delegates, suspect: u32) -> String {
        let title = |fault: &u32| uncapitalized(&self.atlas.cast.suspects[*fault as usize].title);
        delegates.pairs.faults_of(suspect).iter().map(title).collect::<Vec<_>>().join(" and ")
    }

    /// Suspects of the field that want a remedy: single faults that it fixes, and pairs of which it fixes one that no
    /// remedy has mended yet.
    fn wanting(&self, remedy: &Tried, known: &Known, field: &Field) -> Vec<u32> {
        let tried: Vec<&Tried> = self.remedies.iter().filter(|remedy| known.tried(&remedy.name)).collect();
        let mended = |fault: &u32| tried.iter().any(|remedy| remedy.fixes.contains(fault));
        let wants = |faults: &[u32; 2]| faults.iter().any(|fault| remedy.fixes.contains(fault) && !mended(fault));
        let pairs = field.pairs.numbered().filter(|(_, faults)| wants(faults));
        remedy.fixes.iter().copied().chain(pairs.map(|(suspect, _)| suspect)).collect()
    }

    /// The suspects that want one remedy of one part, with the largest sum; likeliest first.
    fn leading_group(&self, known: &Known, field: &Field, belief: &Belief) -> Vec<(u32, f64)> {
        let mut best: Vec<u32> = vec![0];
        let mut most = belief.suspects()[0];
        for remedy in &self.remedies {
            let wanting = self.wanting(remedy, known, field);
            let sum = belief.together(&wanting);
            if sum > most {
                most = sum;
                best = wanting;
            }
        }
        by_share(best, belief)
    }

    fn verdict(
        &self,
        request: &Request,
        known: &Known,
        group: &[(u32, f64)],
        share: f64,
        field: &Field,
        belief: &Belief,
    ) -> Verdict {
        let suspects = &self.atlas.cast.suspects;
        let likely = group.iter().filter(|(_, own)| *own > 0.01 * share);
        let any_of: Vec<Vec<u32>> = likely.map(|(suspect, _)| field.pairs.faults_of(*suspect)).collect();
        let mut named: Vec<u32> = Vec::new();
        for fault in any_of.iter().flatten() {
            if !named.contains(fault) {
                named.push(*fault);
            }
        }
        let name = |fault: &u32| suspects[*fault as usize].name.clone();
        // The fault that the group's remedy mends: of a pair it may be the second.
        let remedy = self.remedies.iter().find(|remedy| {
            let mut wanting = self.wanting(remedy, known, field);
            wanting.sort_unstable();
            let mut all: Vec<u32> = group.iter().map(|(suspect, _)| *suspect).collect();
            all.sort_unstable();
            wanting == all
        });
        let mends = |fault: &&u32| remedy.is_some_and(|remedy| remedy.fixes.contains(fault));
        let leader = named.iter().find(mends).copied().unwrap_or(0);
        let consequence = suspects[leader as usize].fault.as_ref().is_some_and(|fault| fault.consequence);
        let fixed = remedy.is_some_and(|remedy| known.fixed_by(&remedy.name));
        let proof = Proof { machine: &self.machine, atlas: &self.atlas, air: request.air }.checks(
            known,
            &field.worlds,
            belief,
            leader,
        );
        let measured = known.entries.iter().any(|entry| matches!(entry, Entry::Took(..)));
        let shown = proof::passes(known, &proof);
        let winner: Vec<u32> = group.iter().map(|(suspect, _)| *suspect).collect();
        let presence = field.presence(self.atlas.cast.len(), belief, &winner);
        let pending = proof::pending(known.complaint, presence);
        let held = pending.is_none() || known.entries.contains(&Entry::HeldUp(true));
        Verdict {
            any_of: any_of.iter().map(|faults| faults.iter().map(name).collect()).collect(),
            faults: named.iter().map(name).collect(),
            probability: share,
            proven: fixed && measured && shown && held,
            consequence,
            remedy: remedy.map(|remedy| remedy.name.clone()).unwrap_or_default(),
            remedy_title: remedy.map(|remedy| remedy.title.clone()).unwrap_or_default(),
            caution: remedy.map(|remedy| remedy.caution.clone()).unwrap_or_default(),
            proof,
            shown,
            pending,
        }
    }

    /// What to do next, best first.
    fn next(
        &self,
        request: &Request,
        known: &Known,
        field: &Field,
        belief: &Belief,
        delegates: &Delegates,
    ) -> Vec<Step> {
        let outlook = delegates.outlook(1e-5);
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
            let done = field.taken.iter().any(|taken| taken.probe == Some(index))
                || known
                    .entries
                    .iter()
                    .any(|entry| matches!(entry, Entry::Skipped(skipped) if skipped.name == probe.name));
            let asked = matches!(probe.sort, Sort::Ask(_));
            let no_meter = is_ammeter(probe) && known.ammeter() == Ammeter::Dead;
            let open = !(done || asked || no_meter)
                && request.has(probe.instrument())
                && self.is_safe(probe)
                && can_be_entered(probe, known);
            let lift = if probe.state.starts_with("dead") == dead_now { 0.0 } else { LIFT_MINUTES };
            let place = self.costliest(probe, &places);
            let others = probe.places.iter().filter(|other| Some(**other) != place);
            let beside: f64 = others.map(|other| places.unpaid(Some(*other))).sum();
            let minutes = probe.minutes + lift + beside;
            let Some(mut test) = delegates.test(&self.atlas, index, minutes) else { continue };
            test.place = place;
            test.risk_minutes = CRANK_WEAR * probe.crank_seconds;
            tests.push(test);
            columns.push(index);
            standing.push(if open { Standing::Open } else { Standing::Barred });
        }
        let remedies: Vec<Remedy> = self
            .remedies
            .iter()
            .map(|remedy| Remedy {
                minutes: remedy.minutes,
                place: remedy.place,
                fixes: self.wanting(remedy, known, field),
            })
            .collect();
        let situation = Situation {
            tests: &tests,
            standing: &standing,
            remedies: &remedies,
            places: &places,
            ending: Ending::Repair { unfixed_minutes: UNFIXED },
        };
        let ranked = inference::advise(&outlook, &situation, &Settings::default());
        let leader = self.leading_group(known, field, belief).first().map_or(0, |(suspect, _)| *suspect);
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
                    let mut step = self.step(columns[test], Some(delegates), request);
                    step.minutes = candidate.minutes;
                    step.elapsed = candidate.minutes;
                    step
                }
                Move::Remedy(index) => {
                    let remedy = &self.remedies[index];
                    let leads = remedies[index].fixes.contains(&leader);
                    if known.tried(&remedy.name) || !(leads || candidate.minutes < cheapest) {
                        continue;
                    }
                    self.remedy_step(remedy, &remedies[index].fixes, candidate.minutes, field, belief)
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
    fn step(&self, column: usize, delegates: Option<&Delegates>, request: &Request) -> Step {
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
            outcomes: delegates.map_or_else(Vec::new, |delegates| {
                outcomes(&self.atlas, column, delegates, |suspect| self.title_of(delegates, suspect))
            }),
            caution,
            again: false,
        }
    }

    fn remedy_step(&self, remedy: &Tried, wanting: &[u32], minutes: f64, field: &Field, belief: &Belief) -> Step {
        let works = belief.together(wanting);
        let likely = wanting.iter().filter(|suspect| belief.suspects()[**suspect as usize] > 0.1 * works);
        let faults: Vec<Vec<u32>> = likely.map(|suspect| field.pairs.faults_of(*suspect)).collect();
        let title = |fault: &u32| self.atlas.cast.suspects[*fault as usize].title.as_str();
        let mut names: Vec<&str> =
            faults.iter().flatten().filter(|fault| remedy.fixes.contains(fault)).map(title).collect();
        names.dedup();
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

/// Suspects with their shares, likeliest first.
fn by_share(suspects: Vec<u32>, belief: &Belief) -> Vec<(u32, f64)> {
    let mut group: Vec<(u32, f64)> =
        suspects.into_iter().map(|suspect| (suspect, belief.suspects()[suspect as usize])).collect();
    group.sort_by(|left, right| right.1.total_cmp(&left.1).then(left.0.cmp(&right.0)));
    group
}

/// A machine that does not start cannot be measured running.
fn can_be_entered(probe: &Probe, known: &Known) -> bool {
    let runs =
        known.complaint.is_none_or(|complaint| matches!(complaint.name, "goes-flat" | "not-charging" | "hot-only"));
    probe.state != "running" || runs
}

/// What each reading does for the leader.
fn reasons(taken: &[Taken], without: &[f64], share: f64, leader: &str) -> Vec<Reason> {
    let odds = |p: f64| p.clamp(1e-12, 1.0 - 1e-12) / (1.0 - p.clamp(1e-12, 1.0 - 1e-12));
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

/// The ammeter's own check, without which its zero means nothing.
fn ammeter_first() -> Step {
    let outcome =
        |when: &str, means: &str| OutcomeMeans { when: when.to_owned(), means: means.to_owned(), probability: 0.5 };
    Step {
        probe: "meter:amps".to_owned(),
        title: "first the ammeter: a test lamp and the meter in series across the battery".to_owned(),
        minutes: 0.5,
        elapsed: 0.5,
        value_per_minute: 0.0,
        band: Some(Band::Between { low: 0.3, high: 0.6, unit: "A" }),
        outcomes: vec![
            outcome("about 0.4 A with a lamp of 5 W", "the ammeter can be believed"),
            outcome("0.00 A", "the meter's fuse is blown, or the lead is in the wrong jack"),
        ],
        caution: "lamp first, meter second: never the meter alone across the battery".to_owned(),
        again: false,
    }
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
