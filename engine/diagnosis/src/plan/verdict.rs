//! What is done before a verdict is acted on: a look at what is about to be condemned, a reading that tells for a leader
//! that does not stand out, a check that is likelier to spare a wrong remedy than it costs.
//! Idea: a fault that the catalogue lacks is given the name of its neighbor. Where the neighbor is looked at or measured by
//! itself it often shows what no suspect explains.

use machine::probe::Sort;

use super::CRANK_WEAR;
use crate::advice::Step;
use crate::delegates::Delegates;
use crate::remedies::Group;
use crate::request::{Ammeter, Entry, is_ammeter};
use crate::telling::Telling;
use crate::turn::Turn;

/// Minutes of a check that is made before a remedy though it may not save as many.
const CHEAP: f64 = 2.0;
/// Such a check has to buy this share of the bits that are left.
const DECISIVE: f64 = 0.5;
/// A reading that tells for the leader may cost this share of its remedy's minutes.
const TELLING: f64 = 0.1;
/// And has to set the leader off from this share of the others.
const TELLS: f64 = 0.05;
/// A minute more has to set it off from so many more.
const TOLD_PER_MINUTE: f64 = 0.01;
/// Who has skipped so many one after the other wants the verdict.
const ENOUGH_SKIPPED: usize = 2;
/// A suspect of the group with less of its odds is not looked at.
const SELDOM: f64 = 0.01;

/// The column of a look at what a verdict is about to condemn: nothing when it has been looked at, when that takes more than the
/// remedy opens anyway, or when the technician wants the verdict.
pub(crate) fn look_first(turn: &Turn<'_>, group: &Group<'_>) -> Option<usize> {
    let remedy = group.remedy.filter(|_| !wants_verdict(turn))?;
    let (places, runs_on) = (turn.places(), turn.may_run_on());
    let at_hand = |place: &usize| Some(*place) == remedy.place || places.unpaid(Some(*place)) <= 0.0;
    let likely = group.suspects.iter().filter(|(_, own)| *own > SELDOM * group.share());
    let faults = likely.flat_map(|(suspect, _)| turn.field.pairs.faults_of(*suspect));
    let of = |fault: u32| turn.atlas.cast.suspects[fault as usize].fault.as_ref()?.part;
    let mut parts = faults.filter(|fault| remedy.fixes.contains(fault)).filter_map(of);
    let look = |part: usize| {
        (0..turn.atlas.suggested().len()).find(|column| {
            let probe = &turn.atlas.probes[*column];
            probe.sort == Sort::Look(part) && turn.is_open(*column, runs_on) && probe.places.iter().all(at_hand)
        })
    };
    parts.find_map(look)
}

/// The probe that is worth its minutes before a verdict is acted on: it is likelier to spare a wrong remedy than it costs,
/// or it is cheap and settles most of what is left. Nothing when the verdict can be acted on.
pub(crate) fn check_first(turn: &Turn<'_>, delegates: &Delegates) -> Vec<Step> {
    let steps = turn.ranked(delegates);
    let saves = steps.first().is_some_and(|step| step.band.is_some());
    if saves {
        return steps;
    }
    let left = turn.belief.entropy_bits();
    let decides = |step: &Step| {
        step.band.is_some() && step.minutes <= CHEAP && step.value_per_minute * step.minutes >= DECISIVE * left
    };
    match steps.iter().position(decides) {
        Some(at) => steps[at..=at].to_vec(),
        None => Vec::new(),
    }
}

/// A leader that does not stand out yet; nothing when it does, or the technician has passed over what would tell for it.
pub(crate) fn untold<'a>(turn: &'a Turn<'a>, leader: &'a [u32]) -> Option<Telling<'a>> {
    let telling = (!wants_verdict(turn)).then(|| Telling::new(turn, leader));
    telling.filter(|telling| !telling.stands_out())
}

/// The probe that tells most for such a leader, where it costs little beside the leader's remedy; nothing when no cheap
/// probe tells.
pub(crate) fn to_be_told(turn: &Turn<'_>, telling: &Telling<'_>, delegates: &Delegates, remedy: f64) -> Option<Step> {
    let (places, runs_on) = (turn.places(), turn.may_run_on());
    let most = TELLING * remedy;
    let minutes = |column: usize| {
        let probe = &turn.atlas.probes[column];
        let access: f64 = probe.places.iter().map(|place| places.unpaid(Some(*place))).sum();
        turn.minutes_of(column) + turn.lift(probe) + access
    };
    let wear = |column: usize| CRANK_WEAR * turn.atlas.probes[column].crank_seconds;
    let untried = |column: usize| is_ammeter(&turn.atlas.probes[column]) && turn.known.ammeter() == Ammeter::Untried;
    let open = (0..turn.atlas.suggested().len()).filter(|column| turn.is_open(*column, runs_on) && !untried(*column));
    let cheap =
        open.map(|column| (column, minutes(column))).filter(|(column, minutes)| *minutes + wear(*column) <= most);
    let told = cheap.map(|(column, minutes)| (column, minutes, telling.of(delegates, column)));
    let worth = |(column, minutes, told): &(usize, f64, f64)| told - TOLD_PER_MINUTE * (minutes + wear(*column));
    let best = told.filter(|(.., told)| *told >= TELLS).max_by(|left, right| worth(left).total_cmp(&worth(right)));
    best.map(|(column, minutes, _)| Step { minutes, ..turn.step(column, Some(delegates)) })
}

/// Whether the technician has passed over what was wanted last.
fn wants_verdict(turn: &Turn<'_>) -> bool {
    let passed_over = turn.known.entries.iter().rev().take_while(|entry| matches!(entry, Entry::Skipped(_))).count();
    passed_over >= ENOUGH_SKIPPED
}
