//! A sheet's own values from the readings of a healthy machine, so that a wrong sheet is a suspect too.
//! Idea: the values that readings can see are turned until the circuit shows what was read; each has a prior about what
//! the sheet says, so that what nobody can see stays. Law: the least of Σ ρ((read − shown)/σ) + ½ Σ (x/s)², σ of
//! [`crate::spread`]; see `fit/least.rs`. One σ of a value comes from the curvature there.
//! Promise: the order of readings does not matter to the last bit; a value that no reading feels stays the sheet's.
//! Limit: the machine must be healthy; resistances in series that are only seen together are only told together.

mod dial;
mod least;

use libm::{fabs, sqrt};
use machine::{Edit, Machine, Observer, Probe, Program, Seen};
use quantity::{Celsius, Dimension, Reading};

use crate::spread::sigma;
use dial::{Dial, dials};
use least::{Free, Least, least};

/// Beyond so many σ sheet and machine are apart, or a reading is not explained.
pub const APART: f64 = 3.0;

/// What readings say of a sheet.
#[derive(Clone, Debug)]
pub struct Fit {
    /// Every value that could be corrected, in sheet order.
    pub values: Vec<Fitted>,
    /// Every reading, by name.
    pub readings: Vec<Compared>,
    /// Root mean square of the numbers' distances from what the sheet's machine shows, in σ.
    pub before: f64,
    /// The same of the fitted machine.
    pub after: f64,
    /// Whether the least was found.
    pub settled: bool,
    /// Attempts that it took.
    pub attempts: usize,
}

/// One value.
#[derive(Clone, Debug)]
pub struct Fitted {
    /// `part.field`.
    pub name: String,
    /// Index of the part.
    pub part: usize,
    /// What the values are.
    pub dimension: Dimension,
    /// What the sheet says; of fields that turn together their sum.
    pub sheet: f64,
    /// What the readings and the sheet say together.
    pub fitted: f64,
    /// One σ of that.
    pub sigma: f64,
    /// How much of it the readings say: 0 nothing, 1 all.
    pub information: f64,
    /// By how many σ the sheet lies off.
    pub apart: f64,
    /// What would be written in the sheet: field, what it is, SI value.
    pub writes: Vec<(&'static str, Dimension, f64)>,
}

/// One reading beside what the machine would show.
#[derive(Clone, Debug)]
pub struct Compared {
    /// The probe.
    pub probe: Probe,
    /// As read.
    pub reading: Reading,
    /// What the sheet's machine shows, and how many σ the reading lies above that.
    pub sheet: (Seen, f64),
    /// The same of the fitted machine.
    pub fitted: (Seen, f64),
}

/// Why readings say nothing of a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Unfit {
    /// Not one of them is a number that the machine would show too.
    #[error("no reading is a number, and only numbers can be fitted")]
    NoNumber,
    /// Not even the sheet's own machine has an operating point.
    #[error("the machine as the sheet gives it has no operating point")]
    Unsolvable,
}

/// Fits the values of a machine's sheet to readings of a healthy one, at an air temperature.
///
/// # Errors
/// When there is no number among the readings, or the machine has no operating point.
pub fn fit(machine: &Machine, readings: &[(Probe, Reading)], air: Option<Celsius>) -> Result<Fit, Unfit> {
    let mut taken: Vec<(Probe, Reading)> =
        readings.iter().filter(|(_, reading)| *reading != Reading::Skip).cloned().collect();
    let rank = |reading: &Reading| if let Reading::Number(value) = reading { *value } else { f64::INFINITY };
    taken.sort_by(|left, right| left.0.name.cmp(&right.0.name).then(rank(&left.1).total_cmp(&rank(&right.1))));
    let (probes, readings): (Vec<Probe>, Vec<Reading>) = taken.into_iter().unzip();
    let program = Program::new(machine, &probes);
    let mut rig = Rig { machine, probes: &probes, program, air, dials: dials(machine), observer: Observer::new() };
    let sheet = rig.show(&vec![0.0; rig.dials.len()]).ok_or(Unfit::Unsolvable)?;
    // A number where the sheet's machine shows none (or the other way round) is no matter of values.
    let numbers: Vec<usize> = (0..probes.len())
        .filter(|index| matches!((&readings[*index], sheet[*index]), (Reading::Number(_), Seen::Number(_))))
        .collect();
    if numbers.is_empty() {
        return Err(Unfit::NoNumber);
    }
    let free: Vec<Free> = rig.dials.iter().map(|dial| dial.free).collect();
    let off = |seen: &[Seen]| -> Vec<f64> {
        numbers.iter().map(|index| distance(&probes[*index], &readings[*index], seen[*index])).collect()
    };
    // A residual is what is shown less what is read.
    let found = least(&free, |at| Some(off(&rig.show(at)?).iter().map(|off| -off).collect()));
    let found = found.ok_or(Unfit::Unsolvable)?;
    let fitted = rig.show(&found.at).ok_or(Unfit::Unsolvable)?;
    let mean = |off: Vec<f64>| sqrt(off.iter().map(|off| off * off).sum::<f64>() / off.len() as f64);
    let compared = probes.iter().zip(&readings).zip(sheet.iter().zip(&fitted));
    let compared = compared.map(|((probe, reading), (sheet, fitted))| Compared {
        probe: probe.clone(),
        reading: reading.clone(),
        sheet: (*sheet, distance(probe, reading, *sheet)),
        fitted: (*fitted, distance(probe, reading, *fitted)),
    });
    Ok(Fit {
        values: rig.dials.iter().enumerate().map(|(index, dial)| value(machine, dial, &found, index)).collect(),
        readings: compared.collect(),
        before: mean(off(&sheet)),
        after: mean(off(&fitted)),
        settled: found.settled,
        attempts: found.attempts,
    })
}

impl Fitted {
    /// Whether sheet and machine are further apart than chance allows.
    pub fn is_apart(&self) -> bool {
        self.apart > APART
    }
}

impl Compared {
    /// Whether the fitted machine shows what was read.
    pub fn is_explained(&self) -> bool {
        fabs(self.fitted.1) <= APART
    }
}

/// A machine whose dials can be turned, and the probes that look at it.
struct Rig<'a> {
    machine: &'a Machine,
    probes: &'a [Probe],
    program: Program,
    air: Option<Celsius>,
    dials: Vec<Dial>,
    observer: Observer,
}

impl Rig<'_> {
    fn show(&mut self, at: &[f64]) -> Option<Vec<Seen>> {
        // What stands where the sheet has it is not touched.
        let turned = self.dials.iter().zip(at).filter(|(_, at)| **at != 0.0);
        let edits: Vec<Edit> = turned.flat_map(|(dial, at)| dial.edits(*at)).collect();
        let mut seen = vec![Seen::Nothing; self.probes.len()];
        self.observer.observe(self.machine, &self.program, self.probes, &edits, self.air, &mut seen).ok()?;
        Some(seen)
    }
}

fn value(machine: &Machine, dial: &Dial, found: &Least, index: usize) -> Fitted {
    let (at, own) = (found.at[index], found.sigmas[index]);
    let share = own / dial.free.spread;
    Fitted {
        name: format!("{}.{}", machine.sheet.parts[dial.part].name.name, dial.field),
        part: dial.part,
        dimension: dial.dimension,
        sheet: dial.sheet,
        fitted: dial.value(at),
        sigma: dial.sigma(at, own),
        information: (1.0 - share * share).clamp(0.0, 1.0),
        apart: fabs(at) / own,
        writes: dial.writes(at),
    }
}

/// How many σ a reading lies above what a machine shows: 0 where they agree, infinite where they are of different sorts;
/// NaN for a number where none is shown.
fn distance(probe: &Probe, reading: &Reading, seen: Seen) -> f64 {
    let unsigned = probe.dimension() == Dimension::Current;
    let size = |value: f64| if unsigned { fabs(value) } else { value };
    let agrees = |yes: bool| if yes { 0.0 } else { f64::INFINITY };
    match (reading, seen) {
        (Reading::Number(read), Seen::Number(shown)) => (size(*read) - size(shown)) / sigma(probe, *read),
        (Reading::Overload, _) => agrees(seen == Seen::Over),
        (Reading::Range { low, high }, Seen::Range(from, to)) => {
            let width = 0.1 * (to - from) + 0.05;
            f64::max(fabs(low - from) / (sigma(probe, *low) + width), fabs(high - to) / (sigma(probe, *high) + width))
        }
        (Reading::Above(limit), Seen::Number(shown)) => agrees(size(shown) >= *limit),
        (Reading::Above(_), Seen::Over) => 0.0,
        (Reading::Below(limit), Seen::Number(shown)) => agrees(size(shown) <= *limit),
        (Reading::Word(word), Seen::Word(shown)) => {
            agrees(probe.words().get(usize::from(shown)).is_some_and(|known| known == word))
        }
        (Reading::Number(_), _) => f64::NAN,
        _ => f64::INFINITY,
    }
}
