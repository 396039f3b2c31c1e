//! Coverage: what is asked, looked up in a machine; the answer in its JSON form.
//! Promise: an unknown instrument or fault is refused by name; a whole part may be named for all its faults.

use diagnosis::coverage::{Group, Matrix, Question, Split};
use machine::Machine;
use serde::Serialize;

use super::advice::Asked;
use super::refusal::{Place, Refusal};
use super::stand::Stand;

/// The question, looked up in a machine.
///
/// # Errors
/// When an instrument, a fault or a part does not exist, or the air is no temperature.
pub fn question(
    machine: &Machine,
    instruments: Option<&[String]>,
    air: Option<&str>,
    faults: &[String],
) -> Result<Question, Refusal> {
    let asked =
        Asked { instruments: instruments.map(<[String]>::to_vec), air: air.map(str::to_owned), ..Asked::default() };
    let request = asked.request(machine)?;
    let mut named = Vec::new();
    let stand = Stand::new(machine.clone());
    let all = machine.faults();
    for name in faults.iter().map(|name| name.trim()) {
        match machine.part(name) {
            Ok(part) => {
                named.extend(all.iter().filter(|fault| fault.part == Some(part)).map(|fault| fault.name.clone()));
            }
            Err(_) => {
                let known = stand.fault(name).map_err(|refusal| Refusal { place: Place::Faults, ..refusal })?;
                named.push(known.name.clone());
            }
        }
    }
    Ok(Question { instruments: request.instruments, air: request.air, faults: named })
}

/// The answer of `coverage`.
#[derive(Debug, Serialize)]
pub struct Covered<'a> {
    /// The machine's id.
    pub sheet: &'a str,
    /// Instruments at hand; nothing when all are.
    pub instruments: Option<&'a [String]>,
    /// Air temperature.
    pub air_c: Option<f64>,
    /// Probes that were read.
    pub probes: usize,
    /// Faults in the matrix.
    pub faults: Vec<Subject<'a>>,
    /// Who cannot be told apart, larger first; a fault that stands alone is a group too.
    pub groups: Vec<Alike<'a>>,
    /// Faults in the largest group.
    pub largest: usize,
    /// Faults a group on average.
    pub mean: f64,
    /// Faults that no probe at hand tells from a healthy machine.
    pub shows_nothing: Vec<&'a str>,
    /// Faults whose machine has no operating point.
    pub unsolved: &'a [String],
}

/// One fault of the matrix.
#[derive(Debug, Serialize)]
pub struct Subject<'a> {
    /// `part:mode`.
    pub fault: &'a str,
    /// In words.
    pub title: &'a str,
    /// What its owner would say; nothing when he would notice nothing.
    pub complaint: Option<&'static str>,
    /// σ from the healthy machine on the probe that shows it most; nothing when words or `OL` tell.
    pub from_healthy: Option<f64>,
    /// That probe.
    pub shown_by: Option<&'a str>,
    /// Who looks the same at some severity of its own.
    pub imitators: Vec<&'a str>,
    /// What mends it, in words.
    pub remedy: &'a str,
    /// Minutes of that, access included.
    pub minutes: f64,
}

/// Faults that no probe at hand tells apart.
#[derive(Debug, Serialize)]
pub struct Alike<'a> {
    /// `part:mode`, or `healthy`.
    pub members: Vec<&'a str>,
    /// The probe that comes nearest to splitting them.
    pub closest: Option<Closest<'a>>,
    /// What would split them.
    pub split: Option<Splits<'a>>,
}

/// The probe that comes nearest to splitting a group.
#[derive(Debug, Serialize)]
pub struct Closest<'a> {
    /// Its name.
    pub probe: &'a str,
    /// By how many σ.
    pub separation: f64,
}

/// What would split a group.
#[derive(Debug, Serialize)]
#[serde(tag = "by", rename_all = "kebab-case")]
pub enum Splits<'a> {
    /// Nothing needs to.
    SameRemedy,
    /// A probe that is not among those read.
    Probe {
        /// Its name.
        probe: &'a str,
        /// What it needs.
        instrument: &'static str,
        /// Whether that is at hand.
        at_hand: bool,
        /// Pairs of members that it tells apart.
        pairs: usize,
        /// Pairs in all.
        of: usize,
    },
    /// Only the repair tells.
    Repair {
        /// Whose remedy is the quickest.
        first: &'a str,
        /// The remedy.
        remedy: &'a str,
        /// Its minutes, access included.
        minutes: f64,
    },
}

impl<'a> Covered<'a> {
    /// The form of a matrix.
    pub fn new(machine: &'a Machine, question: &'a Question, matrix: &'a Matrix) -> Self {
        let name = |subject: usize| matrix.subjects[subject].name.as_str();
        let subject = |index: usize| {
            let subject = &matrix.subjects[index];
            let nearest = matrix.nearest(index, 0);
            Subject {
                fault: &subject.name,
                title: &subject.title,
                complaint: subject.complaint,
                from_healthy: nearest.separation.is_finite().then_some(nearest.separation),
                shown_by: nearest.probe.map(|probe| matrix.probes[probe].name.as_str()),
                imitators: matrix.imitators(index).map(name).collect(),
                remedy: subject.fault.as_ref().map_or("", |fault| &fault.remedy.title),
                minutes: subject.minutes,
            }
        };
        let (largest, mean) = matrix.sizes();
        Self {
            sheet: &machine.sheet.id,
            instruments: question.instruments.as_deref(),
            air_c: question.air.map(|air| air.0),
            probes: matrix.at_hand,
            faults: (1..matrix.subjects.len()).map(subject).collect(),
            groups: matrix.groups.iter().map(|group| Alike::new(question, matrix, group)).collect(),
            largest,
            mean,
            shows_nothing: matrix.shows_nothing().map(name).collect(),
            unsolved: &matrix.unsolved,
        }
    }
}

impl<'a> Alike<'a> {
    fn new(question: &Question, matrix: &'a Matrix, group: &Group) -> Self {
        let probe = |index: usize| matrix.probes[index].name.as_str();
        let split = |split: &Split| match *split {
            Split::SameRemedy => Splits::SameRemedy,
            Split::Probe { probe: index, pairs, of } => Splits::Probe {
                probe: probe(index),
                instrument: matrix.probes[index].instrument(),
                at_hand: question.has(matrix.probes[index].instrument()),
                pairs,
                of,
            },
            Split::Repair { first, minutes } => Splits::Repair {
                first: &matrix.subjects[first].name,
                remedy: matrix.subjects[first].fault.as_ref().map_or("", |fault| &fault.remedy.title),
                minutes,
            },
        };
        Self {
            members: group.members.iter().map(|member| matrix.subjects[*member].name.as_str()).collect(),
            closest: group.closest.map(|(index, separation)| Closest { probe: probe(index), separation }),
            split: group.split.as_ref().map(split),
        }
    }
}
