//! Simulated jobs that score the method: faults are planted, a technician with a meter's noise and slips works them to
//! the proven fix, and two rivals work the very same jobs with the same odds and the same stop.
//! Source of the way of scoring: simulations in docs/oracles.md.
//! Promise: a job is a function of machine, seed and options; readings of the same probe are the same for everyone.
//! Limit: the jobs are drawn from the desk's own physics; what that physics has wrong shows in no score but `--sheet-noise`
//! and left-out faults.

mod chance;
mod course;
mod far;
mod hand;
mod options;
mod plant;
mod purse;
mod rivals;
mod score;

use machine::{Machine, Probe};

pub use chance::Chance;
pub use course::{Did, Ending, First, Mid, Run};
pub use hand::Typed;
pub use options::{Mishaps, Options, Slip, Technician};
pub use plant::Planting;
pub use purse::{Price, Purse};
pub use score::{Bin, Calibration, Interval, Paired, Score, calibration, mean, paired, quantile, score};

use crate::atlas::Atlas;
use crate::desk::Desk;
use crate::planted::Unanswered;
use course::Course;
use plant::plant;
use rivals::Rivals;

/// A machine on which jobs are worked.
pub struct Trial {
    machine: Machine,
    probes: Vec<Probe>,
    desk: Desk,
    /// True shares of jobs, healthy apart.
    odds: Vec<f64>,
    rivals: Rivals,
}

/// One planted job, worked by everyone.
#[derive(Clone, Debug)]
pub struct Job {
    /// What was planted.
    pub planting: Planting,
    /// How each technician fared, in the order of [`Technician::ALL`].
    pub runs: Vec<Run>,
}

impl Trial {
    /// A trial on a machine with its atlas.
    pub fn new(machine: Machine, atlas: Atlas) -> Self {
        let mut odds: Vec<f64> = atlas.cast.suspects.iter().map(|suspect| suspect.odds).collect();
        odds[0] = 0.0;
        let rivals = Rivals::new(&machine, atlas.suggested(), &atlas.cast);
        let probes = atlas.suggested().to_vec();
        Self { desk: Desk::new(machine.clone(), atlas), machine, probes, odds, rivals }
    }

    /// The machine.
    pub fn machine(&self) -> &Machine {
        &self.machine
    }

    /// Plants and works the job of a seed; nothing when no fault of the machine would be noticed.
    ///
    /// # Errors
    /// When the planted machine has no operating point, or the desk refuses its answer.
    pub fn job(&mut self, seed: u64, options: &Options) -> Result<Option<Job>, Unanswered> {
        let Some(planting) = self.planting(seed, options) else { return Ok(None) };
        let before: Vec<f64> = self.desk.atlas().cast.suspects.iter().map(|suspect| suspect.odds).collect();
        let told = self.told_odds(&planting, &before, options);
        self.desk.set_odds(&told);
        let runs = Technician::ALL.map(|technician| self.run(&planting, options, technician));
        self.desk.set_odds(&before);
        let runs = runs.into_iter().collect::<Result<_, _>>()?;
        Ok(Some(Job { planting, runs }))
    }

    /// Plants the job of a seed by the true shares of jobs, whatever odds the desk has; nothing when no fault of the
    /// machine would be noticed.
    pub fn planting(&self, seed: u64, options: &Options) -> Option<Planting> {
        let atlas = self.desk.atlas();
        plant(&self.machine, &atlas.cast, &self.odds, &atlas.nominal, seed, options)
    }

    /// How one technician fares on a job that lies there, with the odds as the desk has them.
    ///
    /// # Errors
    /// When the planted machine has no operating point, or the desk refuses its answer.
    pub fn run(&mut self, planting: &Planting, options: &Options, technician: Technician) -> Result<Run, Unanswered> {
        let ground = (&self.machine, self.probes.as_slice(), &self.rivals);
        Course::new(&mut self.desk, ground, planting, options, technician).and_then(Course::work)
    }

    /// The desk, for advice on a job of one's own.
    pub fn desk(&mut self) -> &mut Desk {
        &mut self.desk
    }

    /// The odds that the desk is told.
    fn told_odds(&self, planting: &Planting, true_odds: &[f64], options: &Options) -> Vec<f64> {
        let mut chance = Chance::of(planting.seed, "odds");
        let suspects = self.desk.atlas().cast.suspects.iter().zip(true_odds);
        suspects
            .map(|(suspect, odds)| {
                let noise = libm::exp(options.odds_noise * chance.normal());
                let is_planted = planting.faults.iter().any(|(fault, _)| fault.name == suspect.name);
                if options.left_out && is_planted { 0.0 } else { odds * noise }
            })
            .collect()
    }
}
