//! How long things take in these hands, by the clock, beside the catalogue's minutes.
//! Law: a factor on the catalogue's minutes for each act (what is done with which instrument, which verb, which place is
//! opened), log-normal about a factor of the technician's own; a share of the times has a pause in it and says nothing.
//! Both are summed over a lattice; no act's times are counted twice. Spreads are estimates.
//! Promise: without a time every factor is one; one act often timed moves the others a little, itself nearly whole.
//! Limit: an act that is done faster on one machine than on another is one act, access apart.

use std::collections::BTreeMap;

use libm::{exp, log};
use machine::{Machine, Probe};

/// The share of cases in which a stated range holds the true factor.
pub const HELD: f64 = 0.8;
/// Spread of the natural log of a technician's factor about one, of an act's about the technician's, of a time's about the
/// act's.
const TECHNICIAN: f64 = 0.5;
const ACT: f64 = 0.4;
const TIME: f64 = 0.5;
/// Share of the times with a pause in them, and over how many natural logs those spread.
const PAUSED: f64 = 0.15;
const PAUSES: f64 = 7.0;
/// The lattice of log factors: to either side of one, and its step.
const REACH: i32 = 120;
const STEP: f64 = 0.025;

/// Something that was done, and how long it took.
#[derive(Clone, Debug, PartialEq)]
pub struct Timed {
    /// What was done; see [`act`], [`act_of_remedy`], [`act_of_place`].
    pub act: String,
    /// Minutes that the catalogue gives it.
    pub expected: f64,
    /// Minutes by the clock.
    pub took: f64,
}

/// How long an act takes.
#[derive(Clone, Debug, PartialEq)]
pub struct Act {
    /// What is done; empty for anything.
    pub act: String,
    /// By what the catalogue's minutes are to be multiplied; as likely more as less.
    pub factor: f64,
    /// The range of the factor: [`HELD`] of cases.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// Times behind it.
    pub times: usize,
}

/// How long things take.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pace {
    /// What has no time of its own; nothing where there is no time at all.
    pub any: Option<Act>,
    /// Each act that was timed, by name.
    pub acts: Vec<Act>,
}

impl Pace {
    /// By what the minutes of an act are to be multiplied.
    pub fn of(&self, act: &str) -> f64 {
        let known = self.acts.iter().find(|known| known.act == act);
        known.or(self.any.as_ref()).map_or(1.0, |act| act.factor)
    }
}

/// What a probe is an act of: its instrument, or what is done with eyes and hands.
pub fn act(probe: &Probe) -> &str {
    probe.name.split(['@', ':']).next().unwrap_or_default()
}

/// What a remedy, `try:VERB@PART`, is an act of.
pub fn act_of_remedy(name: &str) -> &str {
    name.split('@').next().unwrap_or_default()
}

/// The act of opening a place of a machine.
pub fn act_of_place(machine: &Machine, place: usize) -> String {
    format!("open:{}@{}", machine.sheet.places[place].name.name, machine.sheet.id)
}

/// How long things take, by all that was timed.
pub fn pace(timed: &[Timed]) -> Pace {
    let mut acts: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for one in timed.iter().filter(|one| one.took > 0.0 && one.expected > 0.0) {
        acts.entry(&one.act).or_default().push(log(one.took / one.expected));
    }
    if acts.is_empty() {
        return Pace::default();
    }
    let likely: Vec<Vec<f64>> = acts.values().map(|times| likelihood(times)).collect();
    let about: Vec<Vec<f64>> = likely.iter().map(|likely| blurred(likely)).collect();
    let of_technician: Vec<f64> = factors()
        .enumerate()
        .map(|(at, factor)| -0.5 * square(factor / TECHNICIAN) + about.iter().map(|about| log(about[at])).sum::<f64>())
        .collect();
    let of_technician = densities(&of_technician);
    let times = acts.values().map(Vec::len);
    let any = Act { times: times.sum(), ..read("", &of_technician) };
    let each = acts.iter().zip(likely.iter().zip(&about));
    let acts = each.map(|((name, times), (likely, about))| {
        // What the other acts say of the technician.
        let others: Vec<f64> = of_technician.iter().zip(about).map(|(all, own)| all / own).collect();
        let density: Vec<f64> = likely.iter().zip(blurred(&others)).map(|(likely, prior)| likely * prior).collect();
        Act { times: times.len(), ..read(name, &density) }
    });
    Pace { any: Some(any), acts: acts.collect() }
}

fn factors() -> impl Iterator<Item = f64> {
    (-REACH..=REACH).map(|step| f64::from(step) * STEP)
}

fn square(value: f64) -> f64 {
    value * value
}

/// How likely some times are for each factor of the lattice, the likeliest one.
fn likelihood(times: &[f64]) -> Vec<f64> {
    let root = TIME * 2.506_628_274_631_000_2;
    let of = |factor: f64| {
        let one = |time: &f64| {
            let worked = exp(-0.5 * square((time - factor) / TIME)) / root;
            log((1.0 - PAUSED) * worked + PAUSED / PAUSES)
        };
        times.iter().map(one).sum::<f64>()
    };
    densities(&factors().map(of).collect::<Vec<f64>>())
}

/// Exponentials of logs, the largest one.
fn densities(logs: &[f64]) -> Vec<f64> {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    logs.iter().map(|log| exp(log - most)).collect()
}

/// A density of an act's factor as one of the technician's, or the other way round.
fn blurred(density: &[f64]) -> Vec<f64> {
    let weight = |apart: usize| exp(-0.5 * square(apart as f64 * STEP / ACT));
    let weights: Vec<f64> = (0..density.len()).map(weight).collect();
    let at = |here: usize| density.iter().enumerate().map(|(there, share)| share * weights[here.abs_diff(there)]).sum();
    (0..density.len()).map(at).collect()
}

/// The middle and the range of a density.
fn read(name: &str, density: &[f64]) -> Act {
    let all: f64 = density.iter().sum();
    let quantile = |share: f64| {
        let mut sum = 0.0;
        let reached = factors().zip(density).find(|(_, density)| {
            sum += *density;
            sum >= share * all
        });
        exp(reached.map_or(0.0, |(factor, _)| factor))
    };
    let tail = (1.0 - HELD) / 2.0;
    Act { act: name.to_owned(), factor: quantile(0.5), low: quantile(tail), high: quantile(1.0 - tail), times: 0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trial::Chance;

    fn timed(act: &str, took: f64) -> Timed {
        Timed { act: act.into(), expected: 2.0, took }
    }

    #[test]
    fn law_nothing_timed_changes_nothing_and_one_time_moves_little() {
        assert_eq!(pace(&[]).of("volts").to_bits(), 1.0_f64.to_bits());
        assert_eq!(pace(&[timed("volts", 0.0)]), Pace::default());
        let once = pace(&[timed("volts", 8.0)]);
        // By hand, without pauses: the factor of 4 is pulled to 4^((0.5² + 0.4²)/(0.5² + 0.4² + 0.5²)) = 2.4, what was not
        // timed to 4^(0.5²/0.66) = 1.7; both less, for it may have been a pause.
        assert!((1.3..2.4).contains(&once.of("volts")) && once.of("ohms") < once.of("volts"), "{once:?}");
        assert!((1.1..1.7).contains(&once.of("ohms")), "{once:?}");
        // Pauses of an hour are no work.
        let paused = pace(&[vec![timed("volts", 2.0); 8], vec![timed("volts", 60.0); 2]].concat());
        assert!((0.9..1.15).contains(&paused.of("volts")), "{paused:?}");
    }

    #[test]
    fn law_who_is_slow_at_one_thing_is_known_to_be() {
        let times = [vec![timed("volts", 2.0); 40], vec![timed("try:clean", 6.0); 40]].concat();
        let pace = pace(&times);
        assert!((pace.of("volts") - 1.0).abs() < 0.1 && (pace.of("try:clean") - 3.0).abs() < 0.3, "{pace:?}");
        assert!(pace.of("volts") < pace.of("look") && pace.of("look") < pace.of("try:clean"));
    }

    /// Technicians drawn from the law, with pauses: the ranges hold as often as they say.
    #[test]
    fn law_ranges_hold_the_true_factor_as_often_as_they_say() {
        let mut chance = Chance::of(11, "pace");
        let (mut held, mut all) = (0, 0);
        for _ in 0..60 {
            let technician = TECHNICIAN * chance.normal();
            let acts: Vec<f64> = (0..6).map(|_| technician + ACT * chance.normal()).collect();
            let mut times = Vec::new();
            for (name, factor) in acts.iter().enumerate() {
                for _ in 0..1 + chance.one_of(12) {
                    let took = 2.0 * exp(factor + TIME * chance.normal());
                    let pause = if chance.happens(PAUSED) { chance.between(5.0, 90.0) } else { 0.0 };
                    times.push(timed(&name.to_string(), took + pause));
                }
            }
            for (act, factor) in pace(&times).acts.iter().zip(&acts) {
                held += i32::from(act.low <= exp(*factor) && exp(*factor) <= act.high);
                all += 1;
            }
        }
        let held = 100.0 * f64::from(held) / f64::from(all);
        assert!((73.0..=87.0).contains(&held), "{held} of a hundred");
    }
}
