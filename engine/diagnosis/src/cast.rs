//! The cast of what-if cases: suspects, and for each the worlds that it could be.
//! A world is a fault at a severity together with *shared* parameters (battery charge and age, friction, air
//! temperature), drawn by a scrambled Sobol sequence from a fixed seed. All faults share the same points, so that
//! differences between suspects are differences of fault, not of luck. Source: findings of simulations in docs/oracles.md.
//! What is independent per point of contact (spread of clean joints, of probe tips) belongs into a reading's σ.
//! A value that the sheet only guesses takes every size between its two, on an axis of its own; beyond five of them,
//! several share an axis.

use machine::sheet::Guess;
use machine::{Edit, Fault, Machine};
use quantity::Celsius;

/// Parts into which the range of a severity is cut.
pub const PARTS: usize = 4;
/// A number for each part, the slightest first.
pub type Parts = [f64; PARTS];
/// Density of a severity over that of the sheet, where nothing else is known.
pub const EVEN: Parts = [1.0; PARTS];

/// The part that a quantile of the severity lies in.
pub(crate) fn part_of(quantile: f64) -> usize {
    ((quantile * PARTS as f64) as usize).min(PARTS - 1)
}

/// Someone to suspect.
#[derive(Clone, Debug)]
pub struct Suspect {
    /// `part:mode`; empty for the healthy machine.
    pub name: String,
    /// In the technician's words.
    pub title: String,
    /// Share of jobs, unnormalized.
    pub odds: f64,
    /// How likely each part of its severities is, over that of the sheet.
    pub severity: Parts,
    /// The fault; nothing for the healthy machine.
    pub fault: Option<Fault>,
}

/// One fully specified machine.
#[derive(Clone, Debug, PartialEq)]
pub struct World {
    /// Everything that differs from the sheet.
    pub edits: Vec<Edit>,
    /// Air temperature.
    pub air: Celsius,
}

/// Suspects and how many worlds each has.
#[derive(Clone, Debug)]
pub struct Cast {
    /// Healthy first, then the machine's faults.
    pub suspects: Vec<Suspect>,
    /// Worlds a suspect.
    pub worlds_each: usize,
    shared: Vec<Shared>,
}

/// A shared parameter: which value it changes and between which limits.
#[derive(Clone, Copy, Debug)]
struct Shared {
    slot: usize,
    axis: usize,
    low: f64,
    high: f64,
    way: Way,
}

/// How a shared parameter changes its value.
#[derive(Clone, Copy, Debug)]
enum Way {
    /// It takes the value.
    Even,
    /// It takes the value, even in the logarithm.
    Log,
    /// It is multiplied by it.
    Factor,
}

impl Shared {
    fn edit(&self, share: f64) -> Edit {
        let Self { slot, low, high, .. } = *self;
        let even = low + share * (high - low);
        match self.way {
            Way::Even => Edit::Set { slot, to: even },
            Way::Log => Edit::Set { slot, to: low * libm::pow(high / low, share) },
            Way::Factor => Edit::Scale { slot, by: even },
        }
    }
}

/// Share of jobs in which nothing is wrong with the machine (estimate).
const HEALTHY_ODDS: f64 = 1.0;
/// Coldest and warmest air of the worlds.
const AIR: (f64, f64) = (-15.0, 38.0);
const SEED: u32 = 0x5eed;

/// Axes of the sequence.
pub(crate) const SEVERITY: usize = 0;
const CHARGE: usize = 1;
const WEAR: usize = 2;
const FRICTION: usize = 3;
const WARMTH: usize = 4;
const OIL: usize = 5;
/// Severity of the second of two faults.
pub(crate) const SECOND: usize = 6;
/// The first axis of what the sheet guesses.
const GUESSED: usize = 7;

impl Cast {
    /// The suspects of a machine, with that many worlds each.
    pub fn new(machine: &Machine, worlds_each: usize) -> Self {
        let healthy = Suspect {
            name: String::new(),
            title: "nothing is wrong with the machine".to_owned(),
            odds: HEALTHY_ODDS,
            severity: EVEN,
            fault: None,
        };
        let faults = machine.faults().into_iter().map(|fault| Suspect {
            name: fault.name.clone(),
            title: fault.title.clone(),
            odds: fault.odds,
            severity: EVEN,
            fault: Some(fault),
        });
        Self { suspects: std::iter::once(healthy).chain(faults).collect(), worlds_each, shared: shared(machine) }
    }

    /// Number of worlds.
    pub fn len(&self) -> usize {
        self.suspects.len() * self.worlds_each
    }

    /// Never true: the healthy machine is always a suspect.
    pub fn is_empty(&self) -> bool {
        self.worlds_each == 0
    }

    /// The suspect of a world.
    pub fn suspect_of(&self, world: usize) -> usize {
        world / self.worlds_each
    }

    /// One world in full.
    pub fn world(&self, index: usize) -> World {
        self.world_at(&[(self.suspect_of(index) as u32, SEVERITY)], &self.draw(index))
    }

    /// Where a world of the cast lies in the cube of severity and shared parameters.
    pub(crate) fn draw(&self, index: usize) -> Draw {
        point((index % self.worlds_each) as u32, 0)
    }

    /// The world of some suspects at any place of the cube, each with the axis of its severity.
    pub(crate) fn world_at(&self, suspects: &[(u32, usize)], draw: &Draw) -> World {
        let mut edits: Vec<Edit> = self.shared.iter().map(|shared| shared.edit(draw[shared.axis])).collect();
        for (suspect, axis) in suspects {
            if let Some(fault) = &self.suspects[*suspect as usize].fault {
                edits.extend(fault.edits(fault.severity_at(draw[*axis])));
            }
        }
        World { edits, air: warmth(draw) }
    }

    /// Natural log of how much likelier the severities of some suspects at a place of the cube are than the sheet has it.
    pub(crate) fn log_learned(&self, suspects: impl IntoIterator<Item = (u32, usize)>, draw: &Draw) -> f64 {
        let of = |(suspect, axis): (u32, usize)| self.suspects[suspect as usize].severity[part_of(draw[axis])];
        suspects.into_iter().map(|suspect| libm::log(of(suspect))).sum()
    }

    /// The same of one of its worlds.
    pub(crate) fn log_learned_of(&self, world: usize) -> f64 {
        let suspect = self.suspect_of(world);
        if self.suspects[suspect].severity == EVEN {
            return 0.0;
        }
        self.log_learned([(suspect as u32, SEVERITY)], &self.draw(world))
    }

    /// How many coordinates of a draw matter to a single suspect, or to two.
    pub(crate) fn axes(&self, both: bool) -> usize {
        let beyond = self.shared.iter().map(|shared| shared.axis + 1).filter(|axes| *axes > GUESSED).max();
        beyond.unwrap_or(if both { SECOND + 1 } else { AXES })
    }

    /// What the sheet guesses, each anywhere between its two values: `anywhere` gives a share for each.
    pub(crate) fn guessed(&self, mut anywhere: impl FnMut() -> f64) -> Vec<Edit> {
        self.shared.iter().filter(|shared| shared.axis >= GUESSED).map(|shared| shared.edit(anywhere())).collect()
    }

    /// Air temperature of a world.
    pub fn air(&self, index: usize) -> Celsius {
        warmth(&self.draw(index))
    }
}

fn warmth(draw: &Draw) -> Celsius {
    Celsius(AIR.0 + draw[WARMTH] * (AIR.1 - AIR.0))
}

/// Severities and shared parameters of a world, each from 0 to 1.
pub(crate) type Draw = [f64; MOST_AXES];
/// Coordinates of a draw.
pub(crate) const MOST_AXES: usize = 12;
/// How many of a draw's coordinates a single suspect of a sheet without guesses uses.
pub(crate) const AXES: usize = 6;

/// A point of one of the scrambled sequences.
pub(crate) fn point(index: u32, sequence: u32) -> Draw {
    let mut coordinates = [0.0; MOST_AXES];
    for set in 0..MOST_AXES as u32 / 4 {
        let four = sobol_burley::sample_4d(index, set, SEED + sequence);
        for (axis, value) in four.iter().enumerate() {
            coordinates[set as usize * 4 + axis] = f64::from(*value);
        }
    }
    coordinates
}

/// What healthy machines of one type differ in (estimates).
fn shared(machine: &Machine) -> Vec<Shared> {
    let mut shared = guessed(machine);
    for (index, part) in machine.sheet.parts.iter().enumerate() {
        let mut add = |field: &str, axis: usize, low: f64, high: f64, factor: bool| {
            if let Ok(slot) = machine.slot(index, field) {
                let nominal = machine.values()[slot];
                // A guess says all that is known of a value.
                let guessed = shared.iter().any(|known: &Shared| known.slot == slot);
                if nominal.is_nan() || guessed {
                    return;
                }
                let (low, high, way) = if factor {
                    (low, high, Way::Factor)
                } else {
                    ((nominal + low).max(0.05), (nominal + high).min(1.0), Way::Even)
                };
                shared.push(Shared { slot, axis, low, high, way });
            }
        };
        match part.kind.name {
            "battery" => {
                add("charge", CHARGE, -0.25, 0.1, false);
                add("wear", WEAR, 0.9, 1.35, true);
            }
            "source" => {
                add("voltage", CHARGE, 0.98, 1.01, true);
                add("resistance", WEAR, 0.9, 1.35, true);
            }
            "starter" | "motor" => add("friction-torque", FRICTION, 0.85, 1.2, true),
            "engine" => add("friction-torque", OIL, 0.85, 1.2, true),
            _ => {}
        }
    }
    shared
}

/// What the sheet guesses.
fn guessed(machine: &Machine) -> Vec<Shared> {
    let shared = |(index, guess): (usize, &Guess)| Shared {
        slot: machine.layout(guess.part).values + guess.field,
        axis: GUESSED + index % (MOST_AXES - GUESSED),
        low: guess.low,
        high: guess.high,
        way: if guess.low > 0.0 { Way::Log } else { Way::Even },
    };
    machine.sheet.guesses.iter().enumerate().map(shared).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEATER: &str = r#"
        sheet = 1
        [machine]
        id = "heater"
        [part.battery]
        kind = "source"
        plus = "feed"
        minus = "frame"
        voltage = "12 V"
        [part.heater]
        kind = "resistance"
        from = "feed"
        to = "frame"
        resistance = "4 ohm"
    "#;

    fn machine(guess: &str) -> Machine {
        Machine::new(machine::sheet::read(&format!("{HEATER}{guess}")).sheet.unwrap())
    }

    #[test]
    fn law_a_guess_takes_all_of_its_range_and_no_more() {
        let guessed = machine("[guess]\n\"heater.resistance\" = [\"2 ohm\", \"8 ohm\"]\n");
        let slot = guessed.slot(guessed.part("heater").unwrap(), "resistance").unwrap();
        let cast = Cast::new(&guessed, 64);
        let drawn = |world: usize| Edit::made(&cast.world(world).edits, slot, guessed.values()[slot]);
        let ohms: Vec<f64> = (0..64).map(drawn).collect();
        let (least, most) = (ohms.iter().copied().fold(9.0, f64::min), ohms.iter().copied().fold(0.0, f64::max));
        assert!((2.0..2.2).contains(&least) && (7.4..=8.0).contains(&most), "{least} to {most}");
        // Even in the logarithm: as many below the geometric middle as above.
        let below = ohms.iter().filter(|ohms| **ohms < 4.0).count();
        assert!((30..=34).contains(&below), "{below}");
    }

    /// What healthy machines usually differ by is not laid over it: a voltage guessed outside of that is kept.
    #[test]
    fn law_a_guess_says_all_that_is_known_of_a_value() {
        let guessed = machine("[guess]\n\"battery.voltage\" = [\"9 V\", \"12 V\"]\n");
        let slot = guessed.slot(guessed.part("battery").unwrap(), "voltage").unwrap();
        let cast = Cast::new(&guessed, 64);
        for world in 0..64 {
            let volts = Edit::made(&cast.world(world).edits, slot, guessed.values()[slot]);
            assert!((9.0..=12.0).contains(&volts), "{volts}");
        }
    }

    #[test]
    fn law_a_sheet_without_guesses_has_no_axis_for_them() {
        let (plain, guessed) = (machine(""), machine("[guess]\n\"heater.resistance\" = [\"2 ohm\", \"8 ohm\"]\n"));
        let axes = |machine: &Machine| [false, true].map(|both| Cast::new(machine, 4).axes(both));
        assert_eq!(axes(&plain), [AXES, AXES + 1]);
        assert_eq!(axes(&guessed), [GUESSED + 1, GUESSED + 1]);
    }
}
