//! The hand that reads: what a person would type who holds the probe, with the meter's noise, the point's own
//! deviation, and slips.
//! Law: value + deviation of the point (the same each time) + noise of the meter (new each time), both of the size that
//! `spread` gives; words are misheard 3 times in 100.
//! Promise: the same probe of the same job, taken as often, gives every technician the same text, intermittent faults
//! and a slip planted at the n-th number apart.

use circuit::Unsolvable;
use machine::probe::Sort;
use machine::{Hookup, Instrument, Machine, Probe, Seen};
use quantity::Dimension;

use super::chance::Chance;
use super::options::{Mishaps, Options, Slip};
use crate::likelihood::{MISHEARD, MISPLACED, WILD};
use crate::planted::{Planted, typed};
use crate::spread::Spread;

/// What was typed, and what is true of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Typed {
    /// What the technician types.
    pub value: String,
    /// What a perfect hand would have typed, when that differs by more than noise.
    pub should_be: Option<String>,
    /// What went wrong.
    pub slip: Option<Slip>,
}

/// One technician's hand in one job.
pub(crate) struct Hand<'a> {
    machine: &'a Machine,
    probes: &'a [Probe],
    options: &'a Options,
    seed: u64,
    /// Numbers read so far at which the planted slip could have happened.
    numbers: u8,
    slipped: bool,
}

impl<'a> Hand<'a> {
    pub(crate) fn new(machine: &'a Machine, probes: &'a [Probe], options: &'a Options, seed: u64) -> Self {
        Self { machine, probes, options, seed, numbers: 0, slipped: false }
    }

    /// Reads a probe for the `times`-th time; the check of a repair is read without a planted slip.
    pub(crate) fn read(
        &mut self,
        planted: &mut Planted,
        probe: &Probe,
        times: usize,
        check: bool,
    ) -> Result<Typed, Unsolvable> {
        let seen = planted.look(self.machine, probe)?;
        if self.options.mishaps == Mishaps::Perfect {
            return Ok(Typed { value: typed(probe, seen), should_be: None, slip: None });
        }
        let mut chance = Chance::of(self.seed, &format!("read {} {times}", probe.name));
        let words = probe.words();
        if let (Seen::Word(word), false) = (seen, words.is_empty()) {
            let heard = if chance.happens(MISHEARD) {
                (usize::from(word) + 1 + chance.one_of(words.len() - 1)) % words.len()
            } else {
                usize::from(word)
            };
            let should_be = (heard != usize::from(word)).then(|| typed(probe, seen));
            return Ok(Typed { value: typed(probe, Seen::Word(heard as u8)), should_be, slip: None });
        }
        let noisy = self.noisy(probe, seen, &mut chance);
        let Some(slip) = self.slip(probe, seen, check, &mut chance) else {
            return Ok(Typed { value: typed(probe, noisy), should_be: None, slip: None });
        };
        let shown = match slip {
            Slip::Wild => wild(probe, &mut chance),
            Slip::Zero if probe.dimension() == Dimension::Resistance => Seen::Over,
            Slip::Zero => Seen::Number(0.0),
            Slip::Sign => turned(noisy),
            Slip::Place => {
                let near = self.near(probe);
                let beside = near[chance.one_of(near.len())];
                let there = planted.look(self.machine, beside)?;
                self.noisy(beside, there, &mut chance)
            }
        };
        Ok(Typed { value: typed(probe, shown), should_be: Some(typed(probe, noisy)), slip: Some(slip) })
    }

    /// The point's own deviation and the meter's noise.
    fn noisy(&self, probe: &Probe, seen: Seen, chance: &mut Chance) -> Seen {
        let spread = Spread::of(probe);
        let own = Chance::of(self.seed, &format!("point {}", probe.name)).normal();
        let meter = chance.normal();
        let off = |value: f64| {
            let (of_meter, of_point) = spread.parts(value);
            let read = value + own * of_point + meter * of_meter;
            if probe.dimension() == Dimension::Voltage || value < 0.0 { read } else { read.max(0.0) }
        };
        match seen {
            Seen::Number(value) => Seen::Number(off(value)),
            Seen::Range(low, high) => {
                let (one, other) = (off(low), off(high));
                Seen::Range(one.min(other), one.max(other))
            }
            other => other,
        }
    }

    fn slip(&mut self, probe: &Probe, seen: Seen, check: bool, chance: &mut Chance) -> Option<Slip> {
        if !matches!(probe.sort, Sort::Meter(..)) {
            return None;
        }
        let can = |slip: Slip| self.can(probe, seen, slip);
        let now_and_then = |misplaced: f64, else_wild: f64, chance: &mut Chance| {
            let slip = if chance.happens(misplaced) {
                Slip::Place
            } else if chance.happens(else_wild) {
                [Slip::Wild, Slip::Wild, Slip::Zero, Slip::Sign][chance.one_of(4)]
            } else {
                return None;
            };
            can(slip).then_some(slip)
        };
        match self.options.mishaps {
            Mishaps::None | Mishaps::Perfect => None,
            Mishaps::Usual => now_and_then(MISPLACED, WILD, chance),
            Mishaps::Share(share) => now_and_then(0.5 * share, 0.5 * share / (1.0 - 0.5 * share), chance),
            Mishaps::One { .. } if check || self.slipped => None,
            Mishaps::One { slip, .. } => {
                let possible: Vec<Slip> = Slip::ALL
                    .into_iter()
                    .filter(|known| slip.is_none_or(|slip| slip == *known) && can(*known))
                    .collect();
                if possible.is_empty() {
                    return None;
                }
                self.numbers += 1;
                self.slipped = self.options.slips_at(self.seed) == Some(self.numbers);
                self.slipped.then(|| possible[chance.one_of(possible.len())])
            }
        }
    }

    fn can(&self, probe: &Probe, seen: Seen, slip: Slip) -> bool {
        match slip {
            Slip::Wild | Slip::Zero => true,
            Slip::Sign => probe.dimension() == Dimension::Voltage && matches!(seen, Seen::Number(_) | Seen::Range(..)),
            Slip::Place => !self.near(probe).is_empty(),
        }
    }

    /// The nearest points that a tip could slip to, by the order of the sheet.
    fn near(&self, probe: &Probe) -> Vec<&'a Probe> {
        let Sort::Meter(instrument, Hookup::Between { red, black }) = probe.sort else { return Vec::new() };
        let distance = |other: &Probe| match other.sort {
            Sort::Meter(kind, Hookup::Between { red: left, black: right }) => {
                let beside = kind == instrument && other.state == probe.state && (left == red) != (right == black);
                beside.then_some(left.abs_diff(red) + right.abs_diff(black))
            }
            _ => None,
        };
        let mut near: Vec<(usize, &Probe)> =
            self.probes.iter().filter_map(|other| distance(other).map(|distance| (distance, other))).collect();
        near.sort_by(|left, right| left.0.cmp(&right.0).then_with(|| left.1.name.cmp(&right.1.name)));
        near.into_iter().take(4).map(|(_, other)| other).collect()
    }
}

/// Anything that the instrument could show.
fn wild(probe: &Probe, chance: &mut Chance) -> Seen {
    let (low, high) = match (probe.sort, probe.dimension()) {
        (Sort::Meter(Instrument::Clamp, _), _) => (0.0, 300.0),
        (_, Dimension::Voltage) => (-0.5, 15.5),
        (_, Dimension::Current) => (0.0, 10.0),
        _ => (0.0, 200.0),
    };
    Seen::Number(chance.between(low, high))
}

fn turned(seen: Seen) -> Seen {
    match seen {
        Seen::Number(value) => Seen::Number(-value),
        Seen::Range(low, high) => Seen::Range(-high, -low),
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHEET: &str = r#"
        sheet = 1
        [machine]
        id = "pair"
        [part.battery]
        kind = "source"
        voltage = "12 V"
        resistance = "0.1 ohm"
        [part.one]
        kind = "resistance"
        from = "battery.plus"
        to = "middle"
        resistance = "10 ohm"
        [part.other]
        kind = "resistance"
        from = "middle"
        to = "battery.minus"
        resistance = "20 ohm"
        [state.rest]
    "#;

    fn read(machine: &Machine, options: &Options, seed: u64, name: &str, times: usize) -> (f64, f64, Option<Slip>) {
        let probes = [machine.probe(name).unwrap(), machine.probe("volts@rest:battery.plus,battery.minus").unwrap()];
        let mut planted = Planted::new(machine, &[], None).unwrap();
        let Seen::Number(exact) = planted.look(machine, &probes[0]).unwrap() else { panic!("no number") };
        let typed = Hand::new(machine, &probes, options, seed).read(&mut planted, &probes[0], times, false).unwrap();
        let value = quantity::read(&typed.value, Dimension::Voltage).unwrap();
        (value, exact, typed.slip)
    }

    /// Readings about the exact value scatter by what the likelihood takes for their deviation: the mean square of the
    /// whitened residuals is 1 within four standard errors, and none lies beyond six.
    #[test]
    fn law_healthy_readings_lie_within_the_spread_that_the_likelihood_assumes() {
        let machine = Machine::new(machine::sheet::read(SHEET).sheet.unwrap());
        let options = Options { mishaps: Mishaps::None, ..Options::default() };
        let name = "volts@rest:middle,battery.minus";
        let sigma = |exact| Spread::of(&machine.probe(name).unwrap()).at(exact);
        let whitened: Vec<f64> = (0..2000)
            .map(|seed| {
                let (value, exact, _) = read(&machine, &options, seed, name, 1);
                (value - exact) / sigma(exact)
            })
            .collect();
        let square = whitened.iter().map(|z| z * z).sum::<f64>() / 2000.0;
        assert!((square - 1.0).abs() < 4.0 * libm::sqrt(2.0 / 2000.0), "{square}");
        assert!(whitened.iter().all(|z| z.abs() < 6.0));
    }

    #[test]
    fn law_a_point_keeps_its_own_deviation_when_it_is_read_again() {
        let machine = Machine::new(machine::sheet::read(SHEET).sheet.unwrap());
        let options = Options { mishaps: Mishaps::None, ..Options::default() };
        let name = "volts@rest:middle,battery.minus";
        let probe = machine.probe(name).unwrap();
        let mut square = 0.0;
        for seed in 0..500 {
            let (first, exact, _) = read(&machine, &options, seed, name, 1);
            let (second, _, _) = read(&machine, &options, seed, name, 2);
            let (meter, _) = Spread::of(&probe).parts(exact);
            square += (first - second) * (first - second) / (2.0 * meter * meter) / 500.0;
        }
        // Only the meter's noise is new; the display's last digit adds a little.
        assert!((0.7..1.4).contains(&square), "{square}");
    }

    /// Two resistances of 10 and 20 Ω behind 0.1 Ω: 12 V · 20 / 30.1 = 7.97 V, at every seed, as often as it is read.
    #[test]
    fn textbook_a_perfect_hand_types_what_the_display_shows() {
        let machine = Machine::new(machine::sheet::read(SHEET).sheet.unwrap());
        let options = Options { mishaps: Mishaps::Perfect, ..Options::default() };
        for seed in 0..50 {
            for times in 1..3 {
                let (value, _, slip) = read(&machine, &options, seed, "volts@rest:middle,battery.minus", times);
                assert!((value - 7.97).abs() < 1e-9 && slip.is_none(), "{value}");
            }
        }
    }

    #[test]
    fn law_slips_come_as_often_as_the_likelihood_takes_it() {
        let machine = Machine::new(machine::sheet::read(SHEET).sheet.unwrap());
        let options = Options::default();
        let name = "volts@rest:middle,battery.minus";
        let slips = (0..4000).filter(|seed| read(&machine, &options, *seed, name, 1).2.is_some()).count();
        let expected = 4000.0 * (WILD + MISPLACED - WILD * MISPLACED);
        assert!((slips as f64 - expected).abs() < 4.0 * libm::sqrt(expected), "{slips} of {expected}");
    }
}
