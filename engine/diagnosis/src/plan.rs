//! What to do next: probes and remedies ranked by the inference core, told as steps; what has to come before them.
//! Promise: what is unsafe, lacks its instrument or cannot be had in this job is never proposed.

pub(crate) mod verdict;

use machine::probe::{SINCE, Sort};
use machine::{Instrument, Probe};

use quantity::{Celsius, Reading};

use crate::advice::{Band, OutcomeMeans, Step};
use crate::band::band;
use crate::complaint::COLD_ONLY;
use crate::delegates::Delegates;
use crate::inference::{self, Ending, Move, Places, Remedy, Settings, Situation, Standing};
use crate::learned::act_of_place;
use crate::remedies::Mend;
use crate::request::{Ammeter, Entry, is_ammeter};
use crate::told::{outcomes, uncapitalized};
use crate::turn::Turn;

/// Minutes that a fault costs which no remedy mends.
pub(crate) const UNFIXED: f64 = 90.0;
/// Minutes to lift the battery, or to put it back.
pub(crate) const LIFT_MINUTES: f64 = 1.0;
/// Attended minutes that a minute of waiting is worth (estimate).
const WAIT: f64 = 0.1;
/// Minutes of wear a second of cranking is worth.
const CRANK_WEAR: f64 = 0.03;
/// A probe that buys fewer bits tells nothing.
const LEAST_BITS: f64 = 1e-3;
/// Near the end a probe has to buy this share of the bits that are left.
const WORTHWHILE: f64 = 0.05;
/// A remedy that is not the leader's is tried on suspicion from this probability on.
const HOPEFUL: f64 = 0.15;
/// Below this probability nobody reckons any more with a starter that runs by itself.
const RUNS_ON: f64 = 0.05;
/// Before the battery is connected again.
const CONNECT_AGAIN: &str = "neutral, hands clear of chain and wheel, key off: touch the battery's lead to its post first \
                             and lift it at once should the starter run";
/// Steps told at most.
const MOST: usize = 8;

/// What is felt of an engine that does not turn.
const BLOCKED: &str = "blocked";
/// Air in which a machine that fails only in the cold can be run.
const MILD: Celsius = Celsius(5.0);
/// Odds of a blocked engine from which on it is turned by hand first.
const MAY_BE_BLOCKED: f64 = 0.01;

/// What to do next, best first; a column to be read again comes before all else that is not a matter of safety.
pub(crate) fn steps(turn: &Turn<'_>, delegates: Option<&Delegates>, again: Option<usize>) -> Vec<Step> {
    let mut steps = delegates.map_or_else(Vec::new, |delegates| turn.ranked(delegates));
    let mut first = |step: Step| {
        steps.retain(|other| other.probe != step.probe);
        steps.insert(0, step);
        steps.truncate(MOST);
    };
    if let Some(column) = again {
        first(Step { again: true, ..turn.step(column, delegates) });
    }
    if delegates.is_some() {
        let ammeter = steps.first().is_some_and(|step| step.probe.starts_with("amps@"));
        if ammeter && turn.known.ammeter() == Ammeter::Untried {
            steps.insert(0, ammeter_first());
        }
        if let Some(column) = turn.engine_to_turn() {
            let by_hand = turn.step(column, delegates);
            let probes = turn.atlas.suggested();
            let cranks = |step: &Step| probes.iter().any(|probe| probe.name == step.probe && probe.crank_seconds > 0.0);
            steps.retain(|step| step.probe != by_hand.probe && !cranks(step));
            steps.insert(0, by_hand);
        }
        if turn.may_run_on() && !turn.known.entries.contains(&Entry::MadeSafe) {
            steps.insert(0, make_safe());
        }
        steps.truncate(MOST);
    }
    steps
}

impl Turn<'_> {
    /// Probes and remedies as the inference core ranks them.
    fn ranked(&self, delegates: &Delegates) -> Vec<Step> {
        let Self { known, field, belief, .. } = self;
        let outlook = delegates.outlook(1e-5);
        let places = self.places();
        let runs_on = self.may_run_on();
        let mut tests = Vec::new();
        let mut columns = Vec::new();
        let mut standing = Vec::new();
        for (index, probe) in self.atlas.suggested().iter().enumerate() {
            let open = self.is_open(index, runs_on);
            let place = self.costliest(probe, &places);
            let others = probe.places.iter().filter(|other| Some(**other) != place);
            let beside: f64 = others.map(|other| places.unpaid(Some(*other))).sum();
            let minutes = self.minutes_of(index) + self.lift(probe) + beside;
            let Some(mut test) = delegates.test(self.atlas, index, minutes) else { continue };
            test.place = place;
            test.risk_minutes = CRANK_WEAR * probe.crank_seconds;
            tests.push(test);
            columns.push(index);
            standing.push(if open { Standing::Open } else { Standing::Barred });
        }
        let mends: Vec<&Mend> = self.remedies.iter().collect();
        let remedies: Vec<Remedy> = mends
            .iter()
            .map(|remedy| Remedy {
                minutes: self.minutes_of_remedy(remedy) + WAIT * remedy.wait,
                lost: remedy.lost,
                place: remedy.place,
                fixes: self.remedies.wanting(remedy, known, &field.pairs),
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
        let leader = self.remedies.leading(known, &field.pairs, belief).members().first().copied().unwrap_or(0);
        let cheapest = ranked
            .candidates
            .iter()
            .filter(|candidate| matches!(candidate.step, Move::Test(_)) && candidate.bits > LEAST_BITS);
        let cheapest = cheapest.map(|candidate| candidate.minutes).fold(f64::INFINITY, f64::min);
        let mut steps = Vec::new();
        // Where a remedy stands ready, a probe that hardly splits what is left is not worth the way to it.
        let stands_ready = ranked.stage != inference::Stage::Information && leader != 0;
        let enough = if stands_ready { WORTHWHILE * ranked.entropy_bits } else { LEAST_BITS };
        for candidate in &ranked.candidates {
            let step = match candidate.step {
                Move::Test(_) if candidate.bits < enough.max(LEAST_BITS) => continue,
                Move::Test(test) => {
                    let mut step = self.step(columns[test], Some(delegates));
                    step.minutes = candidate.minutes;
                    step.elapsed = candidate.minutes;
                    step
                }
                Move::Remedy(index) => {
                    let remedy = mends[index];
                    let wanting = &remedies[index].fixes;
                    let hopeful = wanting.contains(&leader) || belief.together(wanting) >= HOPEFUL;
                    if known.tried(&remedy.name) || !(hopeful || candidate.minutes < cheapest) {
                        continue;
                    }
                    self.remedy_step(remedy, wanting, candidate.minutes - WAIT * remedy.wait)
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

    /// Whether the owner says that the starter runs though nobody asks it to.
    fn is_said_to_run_on(&self) -> bool {
        self.known.complaint.is_some_and(|complaint| complaint.name == "keeps-cranking")
    }

    /// Whether it still may: so the owner says, and what has been read since has not ruled it out.
    fn may_run_on(&self) -> bool {
        let each = self.atlas.cast.worlds_each;
        let share = |suspect: u32| {
            let worlds = suspect as usize * each..(suspect as usize + 1) * each;
            self.atlas.signs[worlds].iter().filter(|signs| signs.runs_on).count() as f64 / each as f64
        };
        let of = |(suspect, belief): (u32, &f64)| {
            let faults = self.field.pairs.faults_of(suspect).into_iter();
            belief * faults.map(share).fold(0.0, f64::max)
        };
        self.is_said_to_run_on() && (0..).zip(self.belief.suspects()).map(of).sum::<f64>() >= RUNS_ON
    }

    /// The engine that is turned by hand before anybody cranks: after water or a fall liquid may stand above a piston, and
    /// a starter that is strong enough bends the rod (common practice, no source).
    fn engine_to_turn(&self) -> Option<usize> {
        let wet = self.known.entries.iter().any(|entry| match entry {
            Entry::Since(word) => matches!(SINCE[*word], "wash" | "rain" | "crash"),
            _ => false,
        });
        if !wet {
            return None;
        }
        let blocked = |suspect: u32| {
            let fault = self.atlas.cast.suspects[suspect as usize].fault.as_ref();
            fault.is_some_and(|fault| fault.name.ends_with(":blocked"))
        };
        let of = |(suspect, belief): (u32, &f64)| {
            let any = self.field.pairs.faults_of(suspect).into_iter().any(blocked);
            if any { *belief } else { 0.0 }
        };
        let odds: f64 = (0..).zip(self.belief.suspects()).map(of).sum();
        let column = self.atlas.suggested().iter().position(|probe| matches!(probe.sort, Sort::Turn(_)))?;
        let name = &self.atlas.probes[column].name;
        let seen = self.known.entries.iter().any(|entry| match entry {
            Entry::Took(probe, _) | Entry::Skipped(probe) => probe.name == *name,
            _ => false,
        });
        (!seen && odds >= MAY_BE_BLOCKED && self.request.has(self.atlas.probes[column].instrument())).then_some(column)
    }

    /// Whether a probe wants the battery connected.
    fn is_live(probe: &Probe) -> bool {
        !probe.state.starts_with("dead") && !matches!(probe.sort, Sort::Look(_) | Sort::Size(_) | Sort::Turn(_))
    }

    /// Whether the state of a probe can be had in this job: a machine that does not start cannot be measured running,
    /// one whose starter may run on is measured with its battery off.
    fn can_be_entered(&self, probe: &Probe, runs_on: bool) -> bool {
        let complaint = self.known.complaint.map(|complaint| complaint.name);
        let mild = self.request.air.is_none_or(|air| air >= MILD);
        let starts = complaint.is_none_or(|complaint| match complaint {
            "goes-flat" | "not-charging" | "hot-only" => true,
            other => other == COLD_ONLY && mild,
        });
        let cranks = probe.crank_seconds > 0.0 && self.is_blocked();
        (probe.state != "running" || starts) && !(runs_on && Self::is_live(probe)) && !cranks
    }

    /// Whether the engine could not be turned by hand when it was last tried: then nobody cranks it.
    fn is_blocked(&self) -> bool {
        let last = self.known.entries.iter().rev().find(|entry| match entry {
            Entry::Took(probe, _) => matches!(probe.sort, Sort::Turn(_)),
            Entry::Tried { .. } => true,
            _ => false,
        });
        matches!(last, Some(Entry::Took(_, Reading::Word(word))) if word == BLOCKED)
    }

    /// Access minutes of the machine's places, in these hands; those that have been measured at stand open.
    fn places(&self) -> Places {
        let factor = |place: usize| self.pace.of(&act_of_place(self.machine, place));
        let places = self.machine.sheet.places.iter().enumerate();
        let mut places = Places::new(places.map(|(index, place)| factor(index) * place.access_minutes).collect());
        for entry in &self.known.entries {
            if let Entry::Took(probe, _) = entry {
                probe.places.iter().for_each(|place| places.open(Some(*place)));
            }
        }
        places
    }

    /// Whether a probe is still to be taken, and can be: its instrument is at hand, and it is safe on this machine.
    fn is_open(&self, column: usize, runs_on: bool) -> bool {
        let probe = &self.atlas.probes[column];
        let skipped = |entry: &Entry| matches!(entry, Entry::Skipped(skipped) if skipped.name == probe.name);
        let done =
            self.field.taken.iter().any(|taken| taken.probe == Some(column)) || self.known.entries.iter().any(skipped);
        let asked = matches!(probe.sort, Sort::Ask(_));
        let no_meter = is_ammeter(probe) && self.known.ammeter() == Ammeter::Dead;
        !(done || asked || no_meter)
            && self.request.has(probe.instrument())
            && self.is_safe(probe)
            && self.can_be_entered(probe, runs_on)
    }

    /// Minutes to lift the battery for a probe, or to put it back.
    fn lift(&self, probe: &Probe) -> f64 {
        let last = self.known.entries.last();
        let dead_now = matches!(last, Some(Entry::Took(probe, _)) if probe.state.starts_with("dead"));
        if probe.state.starts_with("dead") == dead_now { 0.0 } else { LIFT_MINUTES }
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
    pub(crate) fn step(&self, column: usize, delegates: Option<&Delegates>) -> Step {
        let probe = &self.atlas.probes[column];
        let dead = probe.state.starts_with("dead");
        let mut caution = probe.caution.clone();
        for place in &probe.places {
            let note = &self.machine.sheet.places[*place].caution;
            if !note.is_empty() && !caution.contains(note.as_str()) {
                caution = if caution.is_empty() { note.clone() } else { format!("{caution}; {note}") };
            }
        }
        if self.is_said_to_run_on() && Self::is_live(probe) {
            caution = format!("{CONNECT_AGAIN}{}{caution}", if caution.is_empty() { "" } else { "; " });
        }
        if dead && caution.is_empty() {
            "lift the battery's negative side first, refit it last; no tool across the terminals"
                .clone_into(&mut caution);
        }
        Step {
            probe: probe.name.clone(),
            title: probe.title.clone(),
            minutes: self.minutes_of(column),
            elapsed: probe.elapsed + (self.minutes_of(column) - probe.minutes),
            hands: probe.hands,
            value_per_minute: 0.0,
            band: Some(band(self.atlas, column, self.request.air)),
            outcomes: delegates.map_or_else(Vec::new, |delegates| {
                outcomes(self.atlas, column, delegates, |suspect| uncapitalized(&self.title_of(suspect)))
            }),
            caution,
            again: false,
        }
    }

    fn remedy_step(&self, remedy: &Mend, wanting: &[u32], minutes: f64) -> Step {
        let Self { field, belief, .. } = self;
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
            elapsed: minutes + remedy.wait,
            hands: 2,
            value_per_minute: 0.0,
            band: None,
            outcomes: vec![
                answer("fixed", "fixed", &names.join(" or "), works),
                answer("same", "same", "something else is wrong", 1.0 - works),
            ],
            caution: remedy.caution.clone(),
            again: false,
        }
    }
}

/// An outcome of something that is done.
fn answer(when: &str, reading: &str, means: &str, probability: f64) -> OutcomeMeans {
    let [when, reading, means] = [when, reading, means].map(str::to_owned);
    OutcomeMeans { when, outcome: None, reading, means, probability }
}

/// The ammeter's own check, without which its zero means nothing.
fn ammeter_first() -> Step {
    Step {
        probe: "meter:amps".to_owned(),
        title: "first the ammeter: a test lamp and the meter in series across the battery".to_owned(),
        minutes: 0.5,
        elapsed: 0.5,
        hands: 2,
        value_per_minute: 0.0,
        band: Some(Band::Between { low: 0.3, high: 0.6, unit: "A" }),
        outcomes: vec![
            answer("about 0.4 A with a lamp of 5 W", "ok", "the ammeter can be believed", 0.5),
            answer("0.00 A", "0 A", "the meter's fuse is blown, or the lead is in the wrong jack", 0.5),
        ],
        caution: "lamp first, meter second: never the meter alone across the battery".to_owned(),
        again: false,
    }
}

/// A starter that runs on is stopped before anything is measured.
fn make_safe() -> Step {
    Step {
        probe: "safe:battery-off".to_owned(),
        title: "first make it safe: key off, lift the battery's negative lead and tuck it away".to_owned(),
        minutes: 1.0,
        elapsed: 1.0,
        hands: 2,
        value_per_minute: 0.0,
        band: Some(Band::Expected("off".to_owned())),
        outcomes: vec![answer(
            "off",
            "off",
            "the starter stands still; what follows is measured with the battery off",
            1.0,
        )],
        caution:
            "hands clear of chain and wheel; the lead arcs when it is lifted: no fuel vapor near, gloves, a wooden \
                  wedge if the terminal is hot"
                .to_owned(),
        again: false,
    }
}
