//! One turn of a job: what is known, what is believed of it, and what follows: a verdict, a reading to be taken again,
//! or the next probe.
//! Promise: nothing here depends on how the readings came, only on what they are.

use libm::log2;
use machine::probe::Sort;
use machine::{Machine, Signs};

use crate::advice::{Advice, Reason, Step, Stop, SuspectShare, Verdict};
use crate::atlas::Atlas;
use crate::complaint::{COLD_ONLY, fails_in_the_cold};
use crate::delegates::Delegates;
use crate::field::{Beyond, Field, Taken};
use crate::inference::{self, Belief};
use crate::learned::{Pace, act, act_of_remedy};
use crate::plan::{self, verdict};
use crate::proof::{self, Proof};
use crate::remedies::{Group, Mend, Remedies};
use crate::request::{Entry, Known, Request};

/// Readings that a leader may call wild before nobody explains them, or mishaps that its verdict may take.
const TOO_WILD: f64 = 1.5;
/// A reading is called wild from this probability on.
const WILD: f64 = 0.5;
/// A machine that is so likely sound is not measured further.
const NOTHING_WRONG: f64 = 0.9;
/// The cold alone is why from this probability on: a mild fault shows little but in the cold.
const ONLY_COLD: f64 = 0.97;
/// Odds of the sound machine below which nobody says that the cold alone is why.
const MAY_BE_SOUND: f64 = 0.05;
/// How often the sound machine may fail in the cold for that.
const SOUND_FAILS: f64 = 0.5;
/// A fault that makes a machine fail in the cold by so much oftener than a sound one, or less, is not why it does.
const NO_OFTENER: f64 = 0.05;
/// Above this no check is made before a verdict is acted on.
const SURE: f64 = 0.995;
/// A reading is taken again before a remedy on suspicion where that takes at most this share of the remedy's minutes.
const SOON: f64 = 0.15;
/// The same before a verdict's remedy, once one reading that the verdict rests on has been taken again.
const DEAR: f64 = 0.05;
/// None-of-these has won above this.
const NOBODY: f64 = 0.8;

/// What is known and believed.
pub(crate) struct Turn<'a> {
    pub(crate) machine: &'a Machine,
    pub(crate) atlas: &'a Atlas,
    pub(crate) remedies: &'a Remedies,
    pub(crate) pace: &'a Pace,
    pub(crate) request: &'a Request,
    pub(crate) known: &'a Known,
    pub(crate) field: &'a Field,
    pub(crate) belief: &'a Belief,
}

impl Turn<'_> {
    /// What follows; without planning nothing is next but a measurement to be taken again.
    pub(crate) fn conclude(&self, plans: bool) -> Advice {
        let Self { known, field, belief, .. } = self;
        let Field { worlds, readings, taken, pairs, .. } = field;
        let fixing = self.remedies.fixing(known, pairs, belief);
        let fixed = fixing.is_some();
        let group = fixing.unwrap_or_else(|| self.remedies.leading(known, pairs, belief));
        let (winner, share) = (group.members(), group.share());
        let mut advice = Advice {
            suspects: self.suspects(),
            unexplained: belief.none_of_these(),
            leading: share,
            next: Vec::new(),
            stop: None,
            verdict: None,
            keystone: None,
            outliers: Vec::new(),
            reasons: Vec::new(),
            entropy_bits: belief.entropy_bits(),
        };
        let outliers = inference::expected_outliers(worlds, belief, readings, &winner);
        let wild = outliers.each.iter().zip(taken).filter(|(share, _)| **share >= WILD);
        advice.outliers = wild.map(|(_, taken)| taken.key.clone()).collect();
        let without = inference::probability_without_each(worlds, readings, &winner).unwrap_or_default();
        advice.reasons = reasons(taken, &without, share, &self.title_of(winner.first().copied().unwrap_or(0)));
        advice.reasons.extend(known.entries.iter().filter_map(|entry| self.unheard(entry)));
        advice.reasons.extend(field.overruled.iter().map(|reading| overruled(reading)));
        let again = |index: usize| taken[index].probe.filter(|_| taken[index].times < 2 && taken[index].now);
        let worst_outlier = (0..taken.len()).filter(|index| outliers.each[*index] >= WILD && again(*index).is_some());
        let mut repeat = worst_outlier.max_by(|left, right| outliers.each[*left].total_cmp(&outliers.each[*right]));
        // A verdict may lean on one mishap, but not on the same one twice; a look shows its part, whatever else is wrong.
        let confirmed = share >= self.request.confirm;
        let mishaps = |taken: &Taken| if confirmed || self.is_look(taken) { taken.times as f64 } else { 1.0 };
        let wild: f64 = outliers.each.iter().zip(taken).map(|(share, taken)| share * mishaps(taken)).sum();
        let nobody = belief.none_of_these() >= NOBODY || wild >= TOO_WILD;
        // A verdict on what a remedy has failed to mend twice is none; once it may have been botched. A reading that does
        // not fit is taken again before it is held against all suspects.
        let failed = group.remedy.map_or(0, |remedy| known.times_tried(&remedy.name));
        let refuted = confirmed && failed >= 2;
        if !fixed && ((nobody && repeat.is_none()) || refuted) {
            advice.stop = Some(Stop::NoneOfThese);
            return advice;
        }
        let sound = (winner == [0] && share >= NOTHING_WRONG) || self.only_cold() >= ONLY_COLD;
        if !fixed && sound && repeat.is_none() {
            advice.stop = Some(Stop::NotWorthMore);
            return advice;
        }
        if fixed || (confirmed && !nobody) {
            let rests = |index: &usize| without[*index] < inference::KEYSTONE_LEVEL && taken[*index].probe.is_some();
            let weakest = |left: &usize, right: &usize| without[*left].total_cmp(&without[*right]);
            let keystones = || (0..without.len()).filter(rests);
            advice.keystone = keystones().min_by(weakest).map(|index| taken[index].key.clone());
            // The weakest is taken again whatever it costs, the others where the remedy is dear beside them, sooner where
            // a lead may have been off.
            let checked = keystones().any(|index| taken[index].times > 1);
            let dear = |column: usize, idle: bool| {
                let remedy = group.remedy.map_or(f64::INFINITY, |remedy| self.minutes_of_remedy(remedy));
                self.minutes_of(column) <= if idle { SOON } else { DEAR } * remedy
            };
            let worth =
                |index: &usize| again(*index).is_some_and(|column| !checked || dear(column, taken[*index].idle));
            repeat = repeat.or(keystones().filter(worth).min_by(weakest));
            if fixed || repeat.is_none() {
                if winner == [0] {
                    advice.stop = Some(Stop::NotWorthMore);
                    return advice;
                }
                let delegates = if fixed { None } else { Delegates::choose(self.machine, self.atlas, field, belief) };
                let itself = delegates.as_ref().and_then(|delegates| verdict::by_itself(self, &group, delegates));
                if let Some(column) = itself {
                    let step = self.step(column, delegates.as_ref());
                    advice.reasons.push(not_seen_by_itself(&step));
                    advice.next.push(step);
                    return advice;
                }
                let telling = if fixed { None } else { verdict::untold(self, &winner) };
                if let Some(delegates) = &delegates {
                    let remedy = group.remedy.map_or(plan::UNFIXED, |remedy| self.minutes_of_remedy(remedy));
                    let told = telling.and_then(|telling| verdict::to_be_told(self, &telling, delegates, remedy));
                    if let Some(step) = told {
                        advice.reasons.push(untold(&step));
                        advice.next.push(step);
                        return advice;
                    }
                    if share < SURE {
                        advice.next = verdict::check_first(self, delegates);
                    }
                }
                let by_luck = fixed && self.may_be_away(&winner);
                if by_luck {
                    advice.reasons.extend(group.remedy.map(may_be_luck));
                }
                advice.verdict = Some(self.verdict(&group, advice.next.is_empty() && !by_luck));
                return advice;
            }
        }
        let delegates = if plans { Delegates::choose(self.machine, self.atlas, field, belief) } else { None };
        advice.next = plan::steps(self, delegates.as_ref(), repeat.and_then(again));
        if let Some(column) = advice.next.first().and_then(|step| self.rests_on(step)) {
            advice.next = plan::steps(self, delegates.as_ref(), Some(column));
        }
        if plans && advice.next.is_empty() {
            advice.stop = Some(Stop::NotWorthMore);
        }
        advice
    }

    /// A probe's own minutes in these hands, access apart.
    pub(crate) fn minutes_of(&self, column: usize) -> f64 {
        let probe = &self.atlas.probes[column];
        self.pace.of(act(probe)) * probe.minutes
    }

    /// A remedy's own minutes in these hands, access and waiting apart.
    pub(crate) fn minutes_of_remedy(&self, remedy: &Mend) -> f64 {
        self.pace.of(act_of_remedy(&remedy.name)) * remedy.minutes
    }

    /// Of a machine that fails only on cold mornings: how likely it is that no fault is why, that what it may have makes it
    /// fail there no oftener than a sound one. Zero for other complaints.
    fn only_cold(&self) -> f64 {
        if self.known.complaint.is_none_or(|complaint| complaint.name != COLD_ONLY) {
            return 0.0;
        }
        let Field { worlds, beyond, .. } = self.field;
        let of_cast = self.atlas.signs.iter().zip(&self.belief.worlds()[..self.atlas.signs.len()]);
        let mut fails: Vec<(f64, f64)> = vec![(0.0, 0.0); self.belief.suspects().len()];
        let mut note = |world: usize, signs: &Signs, belief: f64| {
            let (all, failing) = &mut fails[worlds.suspect_of(world) as usize];
            *all += belief;
            *failing += belief * fails_in_the_cold(signs, &self.atlas.nominal);
        };
        for (world, (signs, belief)) in of_cast.enumerate() {
            note(world, signs, *belief);
        }
        for (world, other) in (self.atlas.signs.len()..).zip(beyond) {
            let signs = match other {
                Beyond::Drawn(_, _, signs) => signs,
                Beyond::Sometimes(world, _) => &self.atlas.signs[*world as usize],
            };
            note(world, signs, self.belief.worlds()[world]);
        }
        let share = |(all, failing): (f64, f64)| if all > 0.0 { failing / all } else { 1.0 };
        let sound = share(fails[0]);
        if fails[0].0 < MAY_BE_SOUND || sound > SOUND_FAILS {
            return 0.0;
        }
        let innocent = fails.iter().filter(|fails| share(**fails) <= sound + NO_OFTENER);
        innocent.map(|(all, _)| all).sum()
    }

    fn is_look(&self, taken: &Taken) -> bool {
        taken.probe.is_some_and(|column| matches!(self.atlas.probes[column].sort, Sort::Look(_)))
    }

    /// The reading on which a remedy tried on suspicion rests, where it is soon taken again.
    fn rests_on(&self, step: &Step) -> Option<usize> {
        let remedy = self.remedies.iter().find(|remedy| remedy.name == step.probe)?;
        let Field { worlds, readings, taken, pairs, .. } = self.field;
        let wanting = self.remedies.wanting(remedy, self.known, pairs);
        let share = self.belief.together(&wanting);
        let without = inference::probability_without_each(worlds, readings, &wanting).ok()?;
        let rests = taken.iter().zip(without).filter(|(taken, without)| {
            let soon = |column: usize| self.minutes_of(column) <= SOON * step.minutes;
            let again = taken.times < 2 && taken.now && taken.probe.is_some_and(soon);
            again && *without < inference::KEYSTONE_LEVEL * share
        });
        rests.min_by(|left, right| left.1.total_cmp(&right.1)).and_then(|(taken, _)| taken.probe)
    }

    fn suspects(&self) -> Vec<SuspectShare> {
        let share = |(index, probability): (usize, &f64)| {
            let faults = self.field.pairs.faults_of(index as u32);
            let name = |suspect: &u32| self.atlas.cast.suspects[*suspect as usize].name.as_str();
            let together = faults.iter().map(name).collect::<Vec<_>>().join(" + ");
            let fault = if together.is_empty() { "healthy".to_owned() } else { together };
            SuspectShare { fault, title: self.title_of(index as u32), probability: *probability }
        };
        let mut all: Vec<SuspectShare> = self.belief.suspects().iter().enumerate().map(share).collect();
        all.sort_by(|left, right| right.probability.total_cmp(&left.probability).then(left.fault.cmp(&right.fault)));
        all
    }

    /// A suspect of the field in the technician's words; of a pair both faults.
    pub(crate) fn title_of(&self, suspect: u32) -> String {
        let title = |fault: &u32| self.atlas.cast.suspects[*fault as usize].title.as_str();
        self.field.pairs.faults_of(suspect).iter().map(title).collect::<Vec<_>>().join(", and with it ")
    }

    /// A reading that does not count.
    fn unheard(&self, entry: &Entry) -> Option<Reason> {
        match entry {
            Entry::Took(probe, reading) if !self.known.counts(probe, reading) => Some(Reason {
                reading: format!("{} = {}", probe.name, probe.show(reading)),
                text: "does not count before the ammeter has shown a load that is known: `meter:amps`".to_owned(),
                weight: 0.0,
            }),
            _ => None,
        }
    }

    /// Whether a machine that starts after a remedy may do so since a fault that the remedy does not mend is away.
    fn may_be_away(&self, mended: &[u32]) -> bool {
        self.field.comes_and_goes_beside(self.atlas.cast.len(), mended) > 1.0 - self.request.confirm
    }

    fn verdict(&self, group: &Group<'_>, settled: bool) -> Verdict {
        let suspects = &self.atlas.cast.suspects;
        let share = group.share();
        let likely = group.suspects.iter().filter(|(_, own)| *own > 0.01 * share);
        let any_of: Vec<Vec<u32>> = likely.map(|(suspect, _)| self.field.pairs.faults_of(*suspect)).collect();
        let mut named: Vec<u32> = Vec::new();
        for fault in any_of.iter().flatten() {
            if !named.contains(fault) {
                named.push(*fault);
            }
        }
        let name = |fault: &u32| suspects[*fault as usize].name.clone();
        // Of a pair the remedy may mend the second.
        let mends = |fault: &&u32| group.remedy.is_some_and(|remedy| remedy.fixes.contains(fault));
        let leader = named.iter().find(mends).copied().unwrap_or(0);
        let consequence = suspects[leader as usize].fault.as_ref().is_some_and(|fault| fault.consequence);
        let fixed = group.remedy.is_some_and(|remedy| self.known.fixed_by(&remedy.name));
        let proof = Proof { machine: self.machine, atlas: self.atlas, air: self.request.air };
        let proof = proof.checks(self.known, &self.field.worlds, self.belief, leader);
        let measured = self.known.entries.iter().any(|entry| matches!(entry, Entry::Took(..)));
        let shown = proof::passes(self.known, &proof);
        let presence = self.field.presence(self.atlas.cast.len(), &group.members());
        let doubted = fixed && self.may_be_away(&group.members());
        let pending = proof::pending(self.known.complaint, presence, doubted);
        let held =
            !doubted && (pending.is_none() || (0..self.known.entries.len()).any(|index| self.known.holds_up(index)));
        let said = |what: fn(&Mend) -> &String| group.remedy.map(what).cloned().unwrap_or_default();
        Verdict {
            any_of: any_of.iter().map(|faults| faults.iter().map(name).collect()).collect(),
            faults: named.iter().map(name).collect(),
            severities: named.iter().map(|fault| self.field.severity(&self.atlas.cast, *fault)).collect(),
            probability: share,
            proven: fixed && measured && shown && held,
            consequence,
            remedy: said(|remedy| &remedy.name),
            remedy_title: said(|remedy| &remedy.title),
            caution: said(|remedy| &remedy.caution),
            proof,
            shown,
            settled,
            pending,
        }
    }
}

fn overruled(reading: &str) -> Reason {
    let text = "does not count: two others of the same probe agree against it".to_owned();
    Reason { reading: reading.to_owned(), text, weight: 0.0 }
}

/// A remedy that seems to have worked though little spoke for it.
fn may_be_luck(remedy: &Mend) -> Reason {
    let text = "little speaks for it beside that it seems to have worked: a fault that comes and goes may be away";
    Reason { reading: format!("{} = fixed", remedy.name), text: text.to_owned(), weight: 0.0 }
}

/// The reading that a verdict still wants.
fn untold(step: &Step) -> Reason {
    let text = "wanted before a verdict: the leader stands out only while every reading counts in full, and this one \
                sets it off from other faults";
    Reason { reading: step.probe.clone(), text: text.to_owned(), weight: 0.0 }
}

/// The look or reading that a verdict still wants of what it condemns.
fn not_seen_by_itself(step: &Step) -> Reason {
    let text = "wanted before a verdict: what is about to be condemned has not been looked at or measured by itself, and \
                may show there what no suspect explains";
    Reason { reading: step.probe.clone(), text: text.to_owned(), weight: 0.0 }
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
