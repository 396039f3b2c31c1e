//! What would split a group: another probe, another instrument, else only the repair.
//! Idea: a probe splits two machines when, with it, the one passes for the other at no severity that was solved.

use super::ladder::{Ladder, MIDDLE, Stand};
use super::{Group, Matrix, TELLS};

/// What would split a group.
#[derive(Clone, Debug, PartialEq)]
pub enum Split {
    /// Nothing needs to: one remedy of one part mends all.
    SameRemedy,
    /// A probe that is not among those at hand.
    Probe {
        /// Index of the probe.
        probe: usize,
        /// Pairs of members that it tells apart.
        pairs: usize,
        /// Pairs in all.
        of: usize,
    },
    /// Only the repair tells.
    Repair {
        /// The member whose remedy is the quickest.
        first: usize,
        /// How long that takes, access included.
        minutes: f64,
    },
}

/// One member that passes for another: who for whom, and at which severities.
#[derive(Clone, Debug)]
pub(super) struct Passing {
    pub(super) imitated: usize,
    pub(super) imitator: usize,
    pub(super) severities: Vec<u32>,
}

/// Finds what splits each group, among the probes that were read and those that want another instrument.
pub(super) fn find(matrix: &mut Matrix, stand: &Stand<'_>, ladders: &[Ladder]) {
    for index in 0..matrix.groups.len() {
        let members = matrix.groups[index].members.clone();
        if members.len() < 2 {
            continue;
        }
        let passing = passing(matrix, stand, ladders, &members);
        let split = if is_one_remedy(matrix, &members) {
            Split::SameRemedy
        } else {
            let missing = matrix.at_hand..matrix.probes.len();
            let tells = |probe: usize, pair: &Passing| {
                let target = ladders[pair.imitated].rows[&MIDDLE][probe];
                let rows = pair.severities.iter().map(|severity| ladders[pair.imitator].rows[severity][probe]);
                rows.clone().all(|row| stand.distance(probe, target, row) > TELLS)
            };
            best(matrix, &passing, missing, tells).unwrap_or_else(|| repair(matrix, &members))
        };
        let group = &mut matrix.groups[index];
        (group.passing, group.split) = (passing, Some(split));
    }
}

fn passing(matrix: &Matrix, stand: &Stand<'_>, ladders: &[Ladder], members: &[usize]) -> Vec<Passing> {
    let open: Vec<bool> = (0..matrix.probes.len()).map(|probe| probe < matrix.at_hand).collect();
    let of_pair = |(imitated, imitator): (usize, usize)| {
        let target = &ladders[imitated].rows[&MIDDLE];
        let passes = |row: &super::ladder::Row| stand.apart(target, row, &open, TELLS).0 <= TELLS;
        let rows = ladders[imitator].rows.iter().filter(|(_, row)| passes(row));
        Passing { imitated, imitator, severities: rows.map(|(severity, _)| *severity).collect() }
    };
    let pairs = members.iter().flat_map(|left| members.iter().map(move |right| (*left, *right)));
    pairs.filter(|(left, right)| left != right).map(of_pair).collect()
}

fn is_one_remedy(matrix: &Matrix, members: &[usize]) -> bool {
    let remedy = |member: usize| matrix.subjects[member].fault.as_ref().map(|fault| (fault.part, &fault.remedy.verb));
    members.windows(2).all(|two| remedy(two[0]) == remedy(two[1]))
}

/// The probe of a range that tells most pairs apart; of equals the quickest. A pair is told apart where either no
/// longer passes for the other.
pub(super) fn best(
    matrix: &Matrix,
    passing: &[Passing],
    probes: std::ops::Range<usize>,
    mut tells: impl FnMut(usize, &Passing) -> bool,
) -> Option<Split> {
    let mut best: Option<(usize, usize)> = None;
    for probe in probes {
        let mut told: Vec<(usize, usize)> = Vec::new();
        for pair in passing {
            let ends = (pair.imitated.min(pair.imitator), pair.imitated.max(pair.imitator));
            if !told.contains(&ends) && tells(probe, pair) {
                told.push(ends);
            }
        }
        let quicker = |known: usize| matrix.probes[probe].minutes < matrix.probes[known].minutes;
        let count = told.len();
        if count > 0 && best.is_none_or(|(known, most)| count > most || (count == most && quicker(known))) {
            best = Some((probe, count));
        }
    }
    best.map(|(probe, pairs)| Split::Probe { probe, pairs, of: passing.len() / 2 })
}

fn repair(matrix: &Matrix, members: &[usize]) -> Split {
    let minutes = |member: &usize| matrix.subjects[*member].minutes;
    let faults = members.iter().copied().filter(|member| *member > 0);
    let first = faults.min_by(|left, right| minutes(left).total_cmp(&minutes(right))).unwrap_or(members[0]);
    Split::Repair { first, minutes: minutes(&first) }
}

impl Group {
    /// Whether only the repair tells its members apart, as far as has been looked.
    pub(super) fn wants_repair(&self) -> bool {
        matches!(self.split, Some(Split::Repair { .. }))
    }
}
