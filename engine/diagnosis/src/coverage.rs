//! Which faults no instrument at hand can tell apart, and what would.
//! Idea: every fault at the middle of its severity is read exactly on every probe that is allowed. Another fault
//! imitates it when at some severity of its own no probe lies further than [`TELLS`] σ from that; two belong together
//! where each imitates the other, and a group is one whose members all do (complete linkage).
//! Promise: from the circuit alone, neither from odds nor from what the desk advises, so it can be held against the desk;
//! what is asked about some faults is what the whole matrix says of them.
//! Limits: one reading a probe, single faults, all else as the sheet says. Probes are those that the wiring suggests.

mod further;
mod ladder;
mod linkage;
mod split;

use std::collections::btree_map::Entry;

use machine::probe::Sort;
use machine::{Fault, Instrument, Machine, Probe, Signs};
use quantity::Celsius;

use crate::complaint::{COMPLAINTS, weight};
use ladder::{FINEST, Ladder, MIDDLE, Stand};
pub use split::Split;

/// Beyond so many σ one reading tells two machines apart.
pub const TELLS: f64 = 2.0;
/// Severities between those solved are tried where two machines lie no further apart than this, as far as can be told.
const WORTH_SOLVING: f64 = 8.0;
/// How much further apart than this they lie is of no interest.
const FAR: f64 = 100.0;

/// What is asked of a machine.
#[derive(Clone, Debug, Default)]
pub struct Question {
    /// Instruments at hand; nothing when all are.
    pub instruments: Option<Vec<String>>,
    /// Air temperature; as the sheet says when nothing.
    pub air: Option<Celsius>,
    /// Names of the faults in question; all when empty.
    pub faults: Vec<String>,
}

/// Who can be told from whom.
#[derive(Clone, Debug)]
pub struct Matrix {
    /// The healthy machine, then the faults in sheet order.
    pub subjects: Vec<Subject>,
    /// Probes that were read: those at hand, those that want another instrument, those found by looking further.
    pub probes: Vec<Probe>,
    /// How many of them are at hand.
    pub at_hand: usize,
    /// Faults whose network has no solution at the middle of their severity.
    pub unsolved: Vec<String>,
    /// Who cannot be told from each other; larger first. Each subject is in one, perhaps alone.
    pub groups: Vec<Group>,
    /// Row by row of the one that is imitated: the imitator's nearest.
    nearest: Vec<Nearest>,
}

/// One machine of the matrix.
#[derive(Clone, Debug)]
pub struct Subject {
    /// `part:mode`; `healthy` for the healthy machine.
    pub name: String,
    /// In the technician's words.
    pub title: String,
    /// The fault; nothing for the healthy machine.
    pub fault: Option<Fault>,
    /// What its owner would say; nothing when he would notice nothing.
    pub complaint: Option<&'static str>,
    /// Minutes of its remedy, access included.
    pub minutes: f64,
}

/// How near one machine comes to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearest {
    /// σ between them on the probe that splits them most; infinite for words that differ.
    pub separation: f64,
    /// That probe.
    pub probe: Option<usize>,
    /// The quantile of the imitator's severity at which it is nearest.
    pub quantile: f64,
}

/// Subjects that no probe at hand tells apart.
#[derive(Clone, Debug)]
pub struct Group {
    /// Indexes of subjects.
    pub members: Vec<usize>,
    /// Of a group of several: the probe that comes nearest to splitting it, and by how many σ.
    pub closest: Option<(usize, f64)>,
    /// What would split it; nothing for one that is alone.
    pub split: Option<Split>,
    /// Which of its members passes for which.
    passing: Vec<split::Passing>,
}

impl Matrix {
    /// The matrix of all faults with some instruments, or all.
    pub fn of(machine: &Machine, instruments: Option<&[String]>) -> Self {
        Self::answer(machine, &Question { instruments: instruments.map(<[String]>::to_vec), ..Question::default() })
    }

    /// The matrix that answers a question.
    pub fn answer(machine: &Machine, question: &Question) -> Self {
        let (mut probes, missing): (Vec<Probe>, Vec<Probe>) = machine
            .proposed_probes()
            .into_iter()
            .filter(|probe| is_safe(probe) && !matches!(probe.sort, Sort::Ask(_)))
            .partition(|probe| question.has(probe.instrument()));
        let at_hand = probes.len();
        probes.extend(missing);
        let mut stand = Stand::new(machine, &probes, question.air);
        let healthy = stand.ladder(None);
        let mut subjects = vec![Subject {
            name: "healthy".to_owned(),
            title: "nothing is wrong with the machine".to_owned(),
            fault: None,
            complaint: None,
            minutes: 0.0,
        }];
        let nominal = healthy.signs;
        let mut ladders = vec![healthy];
        let mut unsolved = Vec::new();
        for fault in machine.faults().into_iter().filter(|fault| question.asks_for(&fault.name)) {
            let ladder = stand.ladder(Some(&fault));
            if ladder.rows.contains_key(&MIDDLE) {
                subjects.push(subject(machine, fault, &ladder.signs, &nominal));
                ladders.push(ladder);
            } else {
                unsolved.push(fault.name);
            }
        }
        let open: Vec<bool> = (0..probes.len()).map(|probe| probe < at_hand).collect();
        let mut nearest = Vec::with_capacity(subjects.len() * subjects.len());
        for imitated in 0..subjects.len() {
            let target = ladders[imitated].rows[&MIDDLE].clone();
            for imitator in 0..subjects.len() {
                let fault = subjects[imitator].fault.as_ref();
                nearest.push(approach(&mut stand, &target, fault, &mut ladders[imitator], &open));
            }
        }
        let mut matrix = Self { subjects, probes: probes.clone(), at_hand, unsolved, groups: Vec::new(), nearest };
        matrix.groups = linkage::groups(&matrix);
        split::find(&mut matrix, &stand, &ladders);
        matrix
    }

    /// How near `imitator` comes to `imitated` at the middle of its severity.
    pub fn nearest(&self, imitated: usize, imitator: usize) -> Nearest {
        self.nearest[imitated * self.subjects.len() + imitator]
    }

    /// How many σ two subjects lie apart: the further of each one's approach to the other.
    pub fn separation(&self, left: usize, right: usize) -> f64 {
        self.nearest(left, right).separation.max(self.nearest(right, left).separation)
    }

    /// Who, at some severity, looks like a subject at the middle of its own.
    pub fn imitators(&self, of: usize) -> impl Iterator<Item = usize> + '_ {
        (0..self.subjects.len()).filter(move |other| *other != of && self.nearest(of, *other).separation <= TELLS)
    }

    /// Names of the faults that another machine can look like.
    pub fn imitated(&self) -> impl Iterator<Item = &str> + '_ {
        let faults = (1..self.subjects.len()).filter(|fault| self.imitators(*fault).next().is_some());
        faults.map(|fault| self.subjects[fault].name.as_str())
    }

    /// Whether some probe at hand tells a fault from a healthy machine.
    pub fn shows(&self, subject: usize) -> bool {
        self.nearest(subject, 0).separation > TELLS
    }

    /// Faults that no probe at hand tells from a healthy machine.
    pub fn shows_nothing(&self) -> impl Iterator<Item = usize> + '_ {
        (1..self.subjects.len()).filter(|subject| !self.shows(*subject))
    }

    /// The subject of that name.
    pub fn subject(&self, name: &str) -> Option<usize> {
        self.subjects.iter().position(|subject| subject.name == name)
    }

    /// The faults of each group by name, the healthy machine left out.
    pub fn groups_by_name(&self) -> Vec<Vec<String>> {
        let named = |group: &Group| {
            let faults = group.members.iter().filter(|member| **member > 0);
            faults.map(|member| self.subjects[*member].name.clone()).collect::<Vec<_>>()
        };
        self.groups.iter().map(named).filter(|group| !group.is_empty()).collect()
    }

    /// Whether two faults, by name, are in one group.
    pub fn is_alike(&self, left: &str, right: &str) -> bool {
        let (Some(left), Some(right)) = (self.subject(left), self.subject(right)) else { return false };
        self.groups.iter().any(|group| group.members.contains(&left) && group.members.contains(&right))
    }

    /// Faults in the largest group, and faults a group on average.
    pub fn sizes(&self) -> (usize, f64) {
        let sizes: Vec<usize> = self.groups_by_name().iter().map(Vec::len).collect();
        let faults: usize = sizes.iter().sum();
        (sizes.iter().copied().max().unwrap_or(0), faults as f64 / sizes.len().max(1) as f64)
    }
}

impl Question {
    /// Whether an instrument is at hand; eyes, ears and hands always are.
    pub fn has(&self, instrument: &str) -> bool {
        instrument == "eyes"
            || self.instruments.as_ref().is_none_or(|all| all.iter().any(|known| known.trim() == instrument))
    }

    fn asks_for(&self, fault: &str) -> bool {
        self.faults.is_empty() || self.faults.iter().any(|name| name.trim() == fault)
    }
}

/// An ammeter goes into the lead of a machine at rest and no other.
fn is_safe(probe: &Probe) -> bool {
    !matches!(probe.sort, Sort::Meter(Instrument::Amps, _)) || probe.state == "rest"
}

fn subject(machine: &Machine, fault: Fault, signs: &Signs, nominal: &Signs) -> Subject {
    let place = fault.part.and_then(|part| machine.sheet.parts[part].place);
    let access = place.map_or(0.0, |place| machine.sheet.places[place].access_minutes);
    Subject {
        name: fault.name.clone(),
        title: fault.title.clone(),
        complaint: complaint(signs, nominal),
        minutes: fault.remedy.minutes + access,
        fault: Some(fault),
    }
}

/// What the owner would say of a machine: the complaint that fits best; of those that fit alike the first.
fn complaint(signs: &Signs, nominal: &Signs) -> Option<&'static str> {
    let mut best = (None, 0.0);
    for known in COMPLAINTS {
        let fits = weight(known.name, signs, nominal);
        // A machine that never starts by design does not complain of it.
        let shows = known.name != "nothing-happens" || nominal.spins;
        if fits > best.1 && shows {
            best = (Some(known.name), fits);
        }
    }
    best.0
}

/// The severity at which a fault comes nearest to a row: the nearest of those solved, then, where between two of them
/// it could come nearer, severities in between are solved too.
fn approach(
    stand: &mut Stand<'_>,
    target: &ladder::Row,
    fault: Option<&Fault>,
    ladder: &mut Ladder,
    open: &[bool],
) -> Nearest {
    let near = |found: (f64, Option<usize>), quantile: u32| Nearest {
        separation: found.0,
        probe: found.1,
        quantile: f64::from(quantile) / f64::from(FINEST),
    };
    let rungs: Vec<u32> = ladder.base().collect();
    let distances: Vec<f64> = rungs.iter().map(|rung| stand.apart(target, &ladder.rows[rung], open, FAR).0).collect();
    let best = (0..rungs.len()).min_by(|left, right| distances[*left].total_cmp(&distances[*right])).unwrap_or(0);
    let of_rung = |ladder: &Ladder, rung: u32| stand.apart(target, &ladder.rows[&rung], open, f64::INFINITY);
    let mut nearest = near(of_rung(ladder, rungs[best]), rungs[best]);
    if nearest.separation == 0.0 || !fault.is_some_and(Fault::has_severity) {
        return nearest;
    }
    let mut hopeful: Option<(f64, u32, u32, u32)> = None;
    for pair in rungs.windows(2) {
        let (left, right) = (pair[0], pair[1]);
        let enough = hopeful.map_or(WORTH_SOLVING, |known| known.0).min(nearest.separation);
        if stand.floor(target, &ladder.rows[&left], &ladder.rows[&right], open, enough) >= enough {
            continue;
        }
        let (lowest, middle) = lowest_between(stand, target, ladder, (left, right), open);
        if lowest < enough {
            hopeful = Some((lowest, left, middle, right));
        }
    }
    for _ in 0..4 {
        let Some((hoped, left, middle, right)) = hopeful else { break };
        if hoped >= nearest.separation || middle == left || middle == right {
            break;
        }
        if let Entry::Vacant(rung) = ladder.rows.entry(middle) {
            let Some(row) = stand.row(fault, middle) else { break };
            rung.insert(row);
        }
        let found = near(stand.apart(target, &ladder.rows[&middle], open, f64::INFINITY), middle);
        if found.separation < nearest.separation {
            nearest = found;
        }
        let sides = [(left, middle), (middle, right)];
        let lows = sides.map(|side| lowest_between(stand, target, ladder, side, open));
        let side = usize::from(lows[1].0 < lows[0].0);
        hopeful = Some((lows[side].0, sides[side].0, lows[side].1, sides[side].1));
    }
    nearest
}

/// The least distance between two solved severities as far as straight lines tell, and where it is.
fn lowest_between(
    stand: &Stand<'_>,
    target: &ladder::Row,
    ladder: &Ladder,
    (left, right): (u32, u32),
    open: &[bool],
) -> (f64, u32) {
    let at = |quantile: u32| {
        let share = f64::from(quantile - left) / f64::from((right - left).max(1));
        let row = stand.between(&ladder.rows[&left], &ladder.rows[&right], share);
        stand.apart(target, &row, open, f64::INFINITY).0
    };
    // The largest of several straight distances has one valley.
    let (mut low, mut high) = (left, right);
    while high - low > 2 {
        let third = (high - low) / 3;
        let (first, second) = (low + third.max(1), high - third.max(1));
        if at(first) <= at(second) { high = second } else { low = first }
    }
    let lowest = (low..=high).map(|quantile| (at(quantile), quantile));
    lowest.min_by(|one, other| one.0.total_cmp(&other.0)).unwrap_or((f64::INFINITY, left))
}
