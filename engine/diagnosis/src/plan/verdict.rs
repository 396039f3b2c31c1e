//! What is done before a verdict is acted on: a look at what is about to be condemned or a reading across it, one that
//! tells for a leader that does not stand out, a check that is likelier to spare a wrong remedy than it costs.
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
/// A reading that tells for the leader, or the way to the leader itself, may cost this share of its remedy's minutes.
const TELLING: f64 = 0.1;
/// And has to set the leader off from this share of the others.
const TELLS: f64 = 0.05;
/// A minute more has to set it off from so many more.
const TOLD_PER_MINUTE: f64 = 0.01;
/// Who has skipped so many one after the other wants the verdict.
const ENOUGH_SKIPPED: usize = 2;
/// A suspect of the group with less of its odds is not looked at; a class with less of the leader's is not what it shows.
const SELDOM: f64 = 0.01;
/// A reading across the leader shows it from this share of sound machines on that would read otherwise.
const SHOWS: f64 = 0.9;

/// The column that shows what a verdict is about to condemn by itself: a look at it, then a reading across it that a sound
/// one would not give. Nothing when that has been done, when the way to it is dear beside a remedy that opens another
/// place, or when the technician wants the verdict.
pub(crate) fn by_itself(turn: &Turn<'_>, group: &Group<'_>, delegates: &Delegates) -> Option<usize> {
    let remedy = group.remedy.filter(|_| !wants_verdict(turn))?;
    let (places, runs_on) = (turn.places(), turn.may_run_on());
    let most = TELLING * turn.minutes_of_remedy(remedy);
    let can_be_had = |column: &usize| {
        let opened = turn.atlas.probes[*column].places.iter().filter(|place| Some(**place) != remedy.place);
        turn.is_open(*column, runs_on) && opened.map(|place| places.unpaid(Some(*place))).sum::<f64>() <= most
    };
    let likely = group.suspects.iter().filter(|(_, own)| *own > SELDOM * group.share());
    let faults = likely.flat_map(|(suspect, _)| turn.field.pairs.faults_of(*suspect));
    let of = |fault: u32| turn.atlas.cast.suspects[fault as usize].fault.as_ref()?.part;
    let mut parts: Vec<usize> = faults.filter(|fault| remedy.fixes.contains(fault)).filter_map(of).collect();
    parts.dedup();
    let columns = || 0..turn.atlas.suggested().len();
    let is_look = |column: &usize| matches!(turn.atlas.probes[*column].sort, Sort::Look(part) if parts.contains(&part));
    let look = columns().filter(is_look).find(can_be_had);
    look.or_else(|| {
        let across = columns().filter(|column| parts.iter().any(|part| is_across(turn, *part, *column)));
        let telling: Vec<(usize, f64)> =
            across.map(|column| (column, apart_from_sound(turn, &group.members(), delegates, column))).collect();
        let telling = || telling.iter().filter(|(_, apart)| *apart >= SHOWS);
        let taken = |column: &usize| turn.field.taken.iter().any(|taken| taken.probe == Some(*column));
        if telling().any(|(column, _)| taken(column)) {
            return None;
        }
        let open = telling().filter(|(column, _)| can_be_had(column));
        open.max_by(|left, right| left.1.total_cmp(&right.1)).map(|(column, _)| *column)
    })
}

/// Whether both tips of a meter stand on the ends of a part.
fn is_across(turn: &Turn<'_>, part: usize, column: usize) -> bool {
    let probe = &turn.atlas.probes[column];
    let ends = |node: usize| {
        let mut own = turn.machine.branches().iter().filter(|branch| branch.part == part);
        own.any(|branch| branch.from == node || branch.to == node)
    };
    let on_it = |point: &str| turn.machine.node(point).is_ok_and(ends);
    matches!(probe.sort, Sort::Meter(..)) && on_it(&probe.red) && on_it(&probe.black)
}

/// The share of sound machines that would show something else on a probe than the leader.
fn apart_from_sound(turn: &Turn<'_>, leader: &[u32], delegates: &Delegates, column: usize) -> f64 {
    let shown = delegates.shown_by(leader, turn.atlas, column);
    let own: f64 = shown.iter().sum();
    let sound = &turn.atlas.columns[column].bins.classes[..turn.atlas.cast.worlds_each];
    let apart = sound.iter().filter(|class| shown[usize::from(**class)] < SELDOM * own);
    if own > 0.0 { apart.count() as f64 / sound.len().max(1) as f64 } else { 0.0 }
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
