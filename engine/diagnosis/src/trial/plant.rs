//! What is planted: a fault by its odds at any severity, in a machine whose battery, friction, oil and weather are
//! anywhere within what healthy machines differ by, with what the sheet guesses each somewhere of its own between its two
//! values, and what its owner then says.
//! Promise: drawn by a generator of its own over the continuous ranges, never one of the desk's what-if cases; a fault
//! that its owner would not notice makes no job, and one that stays is never planted as one that comes and goes.
//! Source of the shares: those of `complaint` (once in twenty wrong).

use circuit::Unsolvable;
use machine::{Edit, Fault, Machine, Signs};
use quantity::Celsius;

use super::chance::Chance;
use super::options::Options;
use crate::band::AIR_SIGMA;
use crate::cast::{Cast, Draw, Suspect, World};
use crate::complaint::{COMPLAINTS, OWNER_IS_WRONG, weight};
use crate::planted::Planted;
use crate::request::part_name;

/// A job as it lies before the technician, and what is true of it.
#[derive(Clone, Debug)]
pub struct Planting {
    /// What everything is drawn from.
    pub seed: u64,
    /// The faults, each at its severity in SI.
    pub faults: Vec<(Fault, f64)>,
    /// Battery, friction, oil, and the sheet's errors.
    pub(crate) base: Vec<Edit>,
    /// True air temperature.
    pub air: Celsius,
    /// Air temperature as read.
    pub air_read: Celsius,
    /// What the owner says.
    pub complaint: &'static str,
    /// Whether that is what the machine does.
    pub complaint_holds: bool,
}

impl Planting {
    /// Faults in a machine that is otherwise as its sheet says, in air that is read as it is; its owner says what it does.
    pub fn as_written(seed: u64, faults: Vec<(Fault, f64)>, air: Celsius, complaint: &'static str) -> Self {
        Self { seed, faults, base: Vec::new(), air, air_read: air, complaint, complaint_holds: true }
    }

    /// The machine as planted.
    pub(crate) fn machine(&self, machine: &Machine) -> Result<Planted, Unsolvable> {
        Planted::with(machine, &self.faults, self.base.clone(), Some(self.air))
    }
}

/// Tries at a fault that its owner notices.
const TRIES: usize = 2000;

/// Draws a job; nothing when no fault of the machine would be noticed.
pub(crate) fn plant(
    machine: &Machine,
    cast: &Cast,
    odds: &[f64],
    nominal: &Signs,
    seed: u64,
    options: &Options,
) -> Option<Planting> {
    let mut chance = Chance::of(seed, "plant");
    let stays = |suspect: &Suspect| suspect.fault.as_ref().is_none_or(|fault| !fault.comes_and_goes);
    let can_be = |(suspect, odds): (&Suspect, &f64)| if options.presence < 1.0 && stays(suspect) { 0.0 } else { *odds };
    let odds: Vec<f64> = cast.suspects.iter().zip(odds).map(can_be).collect();
    for _ in 0..TRIES {
        let draw = anywhere(&mut chance);
        let mut faults: Vec<(Fault, f64)> = Vec::new();
        while faults.len() < 1 + usize::from(options.doubles) {
            let fault = cast.suspects[chance.by_weight(&odds)?].fault.as_ref()?;
            let same = |(other, _): &(Fault, f64)| {
                other.remedy.verb == fault.remedy.verb && part_name(machine, other) == part_name(machine, fault)
            };
            let severity = fault.severity_at(if faults.is_empty() { draw[0] } else { chance.even() });
            if !faults.iter().any(same) {
                faults.push((fault.clone(), severity));
            }
        }
        let World { edits: mut base, air } = cast.world_at(&[], &draw);
        base.extend(cast.guessed(|| chance.even()));
        base.extend(off_the_sheet(machine, &mut chance, options.sheet_noise));
        let said = noticed(machine, &faults, &base, air, nominal, &mut chance).ok().flatten();
        let Some(said) = said else { continue };
        let computed: Vec<&'static str> =
            COMPLAINTS.iter().filter(|known| known.computed).map(|known| known.name).collect();
        let wrong = chance.happens(OWNER_IS_WRONG);
        let complaint = if wrong { computed[chance.one_of(computed.len())] } else { said };
        let air_read = Celsius(libm::round(air.0 + AIR_SIGMA * chance.normal()));
        return Some(Planting { seed, faults, base, air, air_read, complaint, complaint_holds: complaint == said });
    }
    None
}

fn anywhere(chance: &mut Chance) -> Draw {
    let mut draw = Draw::default();
    draw.iter_mut().for_each(|axis| *axis = chance.even());
    draw
}

/// What the owner says, drawn as the physics weighs it; nothing when he would say the same of the machine without its
/// faults, as cold and as low as it is: then they are not what brings it. Nothing either when he would say anything of
/// it: then no repair would content him.
fn noticed(
    machine: &Machine,
    faults: &[(Fault, f64)],
    base: &[Edit],
    air: Celsius,
    nominal: &Signs,
    chance: &mut Chance,
) -> Result<Option<&'static str>, Unsolvable> {
    let sick = Planted::with(machine, faults, base.to_vec(), Some(air))?.signs(machine)?;
    let sound = Planted::with(machine, &[], base.to_vec(), Some(air))?.signs(machine)?;
    let known: Vec<&'static str> = COMPLAINTS.iter().filter(|known| known.computed).map(|known| known.name).collect();
    let fits = |signs: &Signs| known.iter().map(|name| weight(name, signs, nominal)).collect::<Vec<f64>>();
    let (sick, sound) = (fits(&sick), fits(&sound));
    let said = chance.by_weight(&sick);
    let brought = said.filter(|said| !chance.happens(sound[*said] / sick[*said]));
    let anyway = sound.iter().copied().fold(0.0, f64::max);
    Ok(brought.filter(|_| !chance.happens(anyway)).map(|said| known[said]))
}

/// Healthy resistances that are not what the sheet says: of conductors and contacts, not of coils, motors, batteries.
fn off_the_sheet(machine: &Machine, chance: &mut Chance, most: f64) -> Vec<Edit> {
    let mut edits = Vec::new();
    if most <= 1.0 {
        return edits;
    }
    for (index, part) in machine.sheet.parts.iter().enumerate() {
        let fields: &[&str] = match part.kind.name {
            "cable" => &["resistance", "length", "from-ring", "to-ring"],
            "wire" => &["resistance", "length"],
            "relay" | "solenoid" => &["contact"],
            "joint" | "connector" | "switch" | "fuse" | "breaker" => &["resistance"],
            _ => continue,
        };
        for field in fields {
            let Ok(slot) = machine.slot(index, field) else { continue };
            if machine.values()[slot].is_finite() {
                edits.push(Edit::Scale { slot, by: libm::pow(most, chance.between(-1.0, 1.0)) });
            }
        }
    }
    edits
}
