//! A start, burst after burst, until the engine fires or the starter has to be left alone.
//! Law: each burst is cranked in time ([`physics::cranking`]); heat and charge are carried from burst to burst. An engine that
//! is turned faster than its least firing speed, in the mean of the last quarter of a second, fires with a constant chance
//! a second; that speed is not known better than 12 % (estimate), and the chance halves with every 15 K (estimate: how fuel
//! evaporates).
//! Limit: an engine in tune with fresh fuel; no choke, no fuel that is too old, no flooding.

use physics::cranking::{Course, Start};
use quantity::{Celsius, RadiansPerSecond, Seconds};

use crate::given::Refused;
use crate::rig::Stand;

/// How long the button is held, and when it is left alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Habit {
    /// Length of a burst.
    pub on: Seconds,
    /// Rest between bursts.
    pub rest: Seconds,
    /// The most bursts.
    pub tries: usize,
    /// Temperature that the winding must not pass.
    pub hottest: Celsius,
    /// A further burst that adds less than this to the odds is not worth its charge.
    pub worth: f64,
}

/// Spread of the least firing speed about what is given.
const SPREAD: f64 = 0.12;
/// The air this much colder halves the chance of firing, K.
const HALVES: f64 = 15.0;
/// Below this charge no further burst is made: what is left keeps the cells whole.
const LEAST_CHARGE: f64 = 0.1;
/// Speed is taken over so long, s: a single turns once in 0.15 to 0.3 s when it fires.
const WINDOW: f64 = 0.25;
/// What is more likely than all but this has happened.
const CERTAIN: f64 = 1e-6;
/// Quantiles of the least firing speed.
const QUANTILES: usize = 41;

/// When an engine fires.
pub struct Firing {
    /// Least speeds, each as likely as the other.
    speeds: Vec<f64>,
    /// Chance a second above it.
    chance: f64,
}

impl Firing {
    /// Of an engine that fires above a speed, in so long a time at 20 °C once it is turned fast enough.
    pub fn new(speed: RadiansPerSecond, fires_in: Seconds, air: Celsius) -> Self {
        let colder = (20.0 - air.0).max(0.0) / HALVES;
        let quantile = |index: usize| normal_quantile((index as f64 + 0.5) / QUANTILES as f64);
        Self {
            speeds: (0..QUANTILES).map(|index| speed.0 * (1.0 + SPREAD * quantile(index))).collect(),
            chance: libm::exp2(-colder) / fires_in.0,
        }
    }

    /// Odds of having fired after bursts of these speeds and times.
    fn odds(&self, bursts: &[Burst]) -> f64 {
        let silent = |least: &f64| {
            let exposed: f64 = bursts.iter().map(|burst| burst.turned_above(*least)).sum();
            libm::exp(-self.chance * exposed)
        };
        1.0 - self.speeds.iter().map(silent).sum::<f64>() / self.speeds.len() as f64
    }
}

/// Inverse of the normal distribution by bisection on the error function: exact enough for a few dozen quantiles.
fn normal_quantile(share: f64) -> f64 {
    let (mut low, mut high) = (-8.0, 8.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        let below = 0.5 * (1.0 + libm::erf(middle / std::f64::consts::SQRT_2));
        if below < share { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// One burst of a plan.
pub struct Burst {
    /// How long the button is held.
    pub on: Seconds,
    /// What comes of it.
    pub course: Course,
    /// The machine before it.
    pub before: Start,
    /// Odds of having fired at its end.
    pub odds: f64,
    turned: Vec<(f64, f64)>,
}

impl Burst {
    fn new(on: Seconds, course: Course, before: Start) -> Self {
        Self { on, turned: turned(&course), course, before, odds: 0.0 }
    }

    /// Time for which the engine was turned faster than that.
    fn turned_above(&self, least: f64) -> f64 {
        self.turned.iter().filter(|(speed, _)| *speed > least).map(|(_, time)| time).sum()
    }
}

/// Mean speed of the crankshaft over the last quarter of a second, rad/s, and for how long, s: compressions even out.
fn turned(course: &Course) -> Vec<(f64, f64)> {
    let samples = &course.samples;
    let (mut window, mut oldest, mut turns) = (0.0, 0, Vec::with_capacity(samples.len()));
    let angle = |index: usize| {
        let (one, next) = (&samples[index], &samples[index + 1]);
        0.5 * (one.crank.0 + next.crank.0) * (next.at.0 - one.at.0)
    };
    for index in 1..samples.len() {
        window += angle(index - 1);
        let now = samples[index].at.0;
        while now - samples[oldest].at.0 > WINDOW {
            window -= angle(oldest);
            oldest += 1;
        }
        let over = now - samples[oldest].at.0;
        if over > 0.0 {
            turns.push((window / over, now - samples[index - 1].at.0));
        }
    }
    turns
}

/// Bursts of one length with one rest between them.
pub struct Plan {
    /// Rest between bursts.
    pub rest: Seconds,
    /// At least one.
    pub bursts: Vec<Burst>,
    /// Why there are no more.
    pub ends: &'static str,
}

impl Plan {
    /// Odds of a start.
    pub fn odds(&self) -> f64 {
        self.bursts.last().map_or(0.0, |burst| burst.odds)
    }

    /// From the first press to the last release, s.
    pub fn takes(&self) -> f64 {
        let on: f64 = self.bursts.iter().map(|burst| burst.on.0).sum();
        on + self.rest.0 * self.bursts.len().saturating_sub(1) as f64
    }

    /// The plan of a habit, broken off where a further burst is of no use or does harm.
    ///
    /// # Errors
    /// When a burst cannot be followed to its end.
    pub fn of(stand: &Stand, firing: &Firing, habit: &Habit) -> Result<Self, Refused> {
        let Habit { on, rest, tries, hottest, worth } = *habit;
        let mut plan = Self { rest, bursts: Vec::new(), ends: "more bursts are not allowed" };
        let mut now = stand.start;
        while plan.bursts.len() < tries {
            let course = stand.crank(now, on)?;
            let end = course.end;
            if end.winding > hottest && !plan.bursts.is_empty() {
                plan.ends = "one more would heat the winding beyond its limit";
                break;
            }
            if end.held.charge < LEAST_CHARGE && !plan.bursts.is_empty() {
                plan.ends = "one more would empty the battery";
                break;
            }
            let before = plan.odds();
            plan.bursts.push(Burst::new(on, course, now));
            let odds = firing.odds(&plan.bursts);
            let useless = odds - before < worth && plan.bursts.len() > 1 && !plan.is_waking();
            if useless {
                plan.bursts.pop();
                plan.ends = "one more adds next to nothing to the odds";
                break;
            }
            if let Some(burst) = plan.bursts.last_mut() {
                burst.odds = odds;
            }
            if end.winding > hottest || end.held.charge < LEAST_CHARGE {
                plan.ends = "the winding or the charge is at its limit";
                break;
            }
            if 1.0 - odds < CERTAIN {
                plan.ends = "it has fired by then";
                break;
            }
            now = end.after_rest(&stand.rig, rest);
        }
        Ok(plan)
    }

    /// Whether the last burst was so much stronger than the one before that the next may be worth it.
    fn is_waking(&self) -> bool {
        let [.., one, two] = self.bursts.as_slice() else { return false };
        two.course.crank.0 > 1.01 * one.course.crank.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_the_normal_quantiles_are_those_of_the_tables() {
        for (share, sigma) in [(0.5, 0.0), (0.841_344_7, 1.0), (0.977_249_9, 2.0), (0.05, -1.644_854)] {
            assert!((normal_quantile(share) - sigma).abs() < 1e-5);
        }
    }
}
