//! Whether a machine will start on a morning, by what is known of it the evening before.
//! Law: a start burst after burst (`starting.rs`), over what nobody knows exactly: charge and wear of the battery,
//! resistance of the path, friction of starter and oil, the speed from which the engine fires. The cases are a scrambled
//! Sobol sequence, the same ones at every temperature, so that two mornings differ by their air and not by luck.
//! Promise: warmer air never lowers the odds; they are the share of drawn machines that start
//! (`examples/mornings.rs`: 2,000 cranked in time at each of four temperatures). Limit: a healthy machine, fresh fuel.

use machine::{Edit, Machine};
use physics::cranking::Outcome;
use quantity::{AmpHours, Amps, Celsius, Ohms, RadiansPerSecond, Seconds};

use crate::chemistry::Chemistry;
use crate::given::Refused;
use crate::own::{of_battery, rest_current, solved, value};
use crate::rig::Stand;
pub use crate::starting::Habit;
use crate::starting::{Firing, Plan};

/// A value that is not known exactly: as often below `likely` as above, evenly from end to end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// As low as it may be.
    pub low: f64,
    /// As likely lower as higher.
    pub likely: f64,
    /// As high as it may be.
    pub high: f64,
}

impl Span {
    /// Evenly between two values.
    pub const fn even(low: f64, high: f64) -> Self {
        Self { low, likely: 0.5 * (low + high), high }
    }

    /// A value that is known.
    pub const fn exactly(value: f64) -> Self {
        Self { low: value, likely: value, high: value }
    }

    /// The value below which that share of cases lies.
    pub fn at(&self, share: f64) -> f64 {
        let half = 2.0 * share;
        if half < 1.0 {
            self.low + half * (self.likely - self.low)
        } else {
            self.likely + (half - 1.0) * (self.high - self.likely)
        }
    }
}

/// What is known of a machine the evening before.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Evening {
    /// State of charge.
    pub charge: Span,
    /// Times the inner resistance of the sheet's battery.
    pub wear: Span,
    /// Resistance between battery and starter beyond the sheet's, Ω.
    pub path: Span,
    /// Temperature that the battery is kept at; the air's where nothing is said.
    pub pack: Option<Celsius>,
}

/// What healthy machines of one type differ by, times the sheet's value (estimate).
const FRICTION: Span = Span::even(0.85, 1.2);
/// Wear of a battery in use (estimate).
const WEAR: Span = Span::even(0.9, 1.35);
/// Charge of a battery that a charger has just filled.
pub const FULL: Span = Span::even(0.95, 1.0);
/// Wear of a new battery (estimate).
pub const NEW: Span = Span::even(0.9, 1.1);
/// A battery that is brought indoors.
const INDOORS: Celsius = Celsius(18.0);

impl Evening {
    /// What the sheet alone says: a battery in use, a path as it should be.
    pub fn of(machine: &Machine) -> Self {
        let charge = of_battery(machine, "charge").unwrap_or(0.9);
        Self {
            charge: Span::even((charge - 0.25).max(0.05), (charge + 0.1).min(1.0)),
            wear: WEAR,
            path: Span::exactly(0.0),
            pack: None,
        }
    }

    /// The charge that a rest voltage stood for, less what a leak has drawn since.
    pub fn rested_at(self, machine: &Machine, volts: f64, at: Celsius, since: Seconds, leak: Amps) -> Self {
        let chemistry = Chemistry::of(of_battery(machine, "chemistry").unwrap_or(0.0));
        let guess = chemistry.charge(volts, at);
        let span = Span { low: guess.low, likely: guess.likely, high: guess.high };
        self.drained(machine, span, since, leak)
    }

    /// A charge less what a leak has drawn since.
    pub fn drained(self, machine: &Machine, charge: Span, since: Seconds, leak: Amps) -> Self {
        let capacity = of_battery(machine, "capacity").unwrap_or(f64::INFINITY);
        let left = |charge: f64| (charge - (leak.0 * since.0 / capacity).max(0.0)).clamp(0.01, 1.0);
        Self { charge: Span { low: left(charge.low), likely: left(charge.likely), high: left(charge.high) }, ..self }
    }
}

/// What the machine's battery gives with everything off.
pub fn leak(machine: &Machine) -> Amps {
    Amps(rest_current(machine).unwrap_or(0.0))
}

/// Inner resistance of a usual new battery over that of the sheet's.
pub fn new_over_own(machine: &Machine) -> f64 {
    let capacity = of_battery(machine, "capacity").unwrap_or(f64::NAN) / 3600.0;
    let chemistry = Chemistry::of(of_battery(machine, "chemistry").unwrap_or(0.0));
    let usual = chemistry.cells().new_resistance(AmpHours(capacity)).0;
    of_battery(machine, "resistance").map_or(1.0, |own| usual / own)
}

/// Resistance from the battery's posts to the motor while start is held, as the sheet has it: both ways together.
pub fn own_path(machine: &Machine) -> Option<Ohms> {
    let held = solved(machine, "held", &[])?;
    let current = held.current(held.motor()?.branch).0.abs();
    let (battery, motor) = (held.across(held.battery()?).0.abs(), held.across(held.motor()?.branch).0.abs());
    (current > 1.0).then(|| Ohms(((battery - motor) / current).max(0.0)))
}

/// What could be done about it the evening before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// Charge the battery.
    Charge,
    /// Bring it indoors until the start.
    Indoors,
    /// Both.
    ChargeIndoors,
    /// Bring the path from battery to starter back to what the sheet says.
    Path,
    /// A new battery, charged.
    Battery,
}

impl Measure {
    /// All of them, the least trouble first.
    pub const ALL: [Self; 5] = [Self::Indoors, Self::Charge, Self::ChargeIndoors, Self::Path, Self::Battery];

    /// The evening after it.
    pub fn done(self, evening: Evening) -> Evening {
        let full = |evening: Evening| Evening { charge: FULL, ..evening };
        match self {
            Self::Charge => full(evening),
            Self::Indoors => Evening { pack: Some(INDOORS), ..evening },
            Self::ChargeIndoors => Evening { pack: Some(INDOORS), ..full(evening) },
            Self::Path => Evening { path: Span::exactly(0.0), ..evening },
            Self::Battery => Evening { wear: NEW, ..full(evening) },
        }
    }
}

/// What keeps a machine from starting.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hitch {
    /// The relay does not close, or chatters.
    NoContact,
    /// The starter spins and the engine does not.
    SpinsOnly,
    /// The starter stalls against the engine.
    Stalls,
    /// The engine is turned too slowly to fire.
    TooSlow,
    /// It is turned fast enough, and the cold fuel does not catch in the time there is.
    HardlyFires,
}

/// How a morning looks.
#[derive(Clone, Debug, PartialEq)]
pub struct Morning {
    /// Odds of a start.
    pub odds: f64,
    /// What keeps it from starting, the share of all cases that this costs, the most costly first.
    pub hitches: Vec<(Hitch, f64)>,
    /// Speed of the crankshaft at the first burst, the middle case; zero where it is not turned.
    pub turns: RadiansPerSecond,
    /// Speed from which it fires.
    pub fires_above: RadiansPerSecond,
}

/// What is usual: 5 s on, 30 s off (common practice, no source), up to six bursts, winding to 130 °C (IEC 60085, class B).
pub const USUAL: Habit = Habit { on: Seconds(5.0), rest: Seconds(30.0), tries: 6, hottest: Celsius(130.0), worth: 0.0 };
/// How long an engine takes to fire at 20 °C once it is turned fast enough (estimate).
pub const FIRES_IN: Seconds = Seconds(1.5);
/// Firing speed where the sheet says none (estimate).
const FIRES_ABOVE: f64 = 21.0;
/// Cases: 48 lie within 0.015 of 2,000 drawn ones.
const CASES: u32 = 48;
const SEED: u32 = 0x57a7;

/// Speed of the crankshaft from which the machine's engine fires.
pub fn fires_above(machine: &Machine) -> RadiansPerSecond {
    RadiansPerSecond(value(machine, "engine", "fires-above").unwrap_or(FIRES_ABOVE))
}

/// A machine that could be this one: shares from 0 to 1 say where in their ranges charge, wear, path, the starter's
/// friction and the engine's lie.
///
/// # Errors
/// When the sheet has no battery or no starting motor on an engine, or its circuit has no solution.
pub fn stand(machine: &Machine, evening: &Evening, air: Celsius, shares: [f64; 5]) -> Result<Stand, Refused> {
    let [charge, wear, path, starter, oil] = shares;
    let mut edits = Vec::new();
    for (index, part) in machine.sheet.parts.iter().enumerate() {
        let (field, by) = match part.kind.name {
            "battery" => ("wear", evening.wear.at(wear)),
            "starter" | "motor" => ("friction-torque", FRICTION.at(starter)),
            "engine" => ("friction-torque", FRICTION.at(oil)),
            _ => continue,
        };
        if let Ok(slot) = machine.slot(index, field) {
            edits.push(Edit::Scale { slot, by });
        }
    }
    let mut stand = Stand::of(machine, &edits, air, Some(evening.charge.at(charge)))?;
    stand.add_to_path(Ohms(evening.path.at(path)));
    if let Some(pack) = evening.pack {
        stand.start.held.temperature = Celsius(pack.0.max(air.0));
    }
    Ok(stand)
}

/// How a morning looks for a machine.
///
/// # Errors
/// Those of [`stand`], and when a start cannot be followed to its end.
pub fn morning(machine: &Machine, evening: &Evening, air: Celsius, habit: &Habit) -> Result<Morning, Refused> {
    let fires_above = fires_above(machine);
    let firing = Firing::new(fires_above, FIRES_IN, air);
    let (mut odds, mut lost, mut speeds) = (0.0, Vec::<(Hitch, f64)>::new(), Vec::new());
    for case in 0..CASES {
        let shares = [0, 1, 2, 3, 4].map(|axis| f64::from(sobol_burley::sample(case, axis, SEED)));
        let stand = stand(machine, evening, air, shares)?;
        let plan = Plan::of(&stand, &firing, habit)?;
        odds += plan.odds();
        speeds.push(plan.bursts[0].course.crank.0);
        let (hitch, loss) = (hitch(&plan, fires_above), 1.0 - plan.odds());
        match lost.iter_mut().find(|(known, _)| *known == hitch) {
            Some((_, sum)) => *sum += loss,
            None => lost.push((hitch, loss)),
        }
    }
    let cases = f64::from(CASES);
    lost.iter_mut().for_each(|(_, sum)| *sum /= cases);
    lost.sort_by(|left, right| right.1.total_cmp(&left.1));
    speeds.sort_by(f64::total_cmp);
    let turns = RadiansPerSecond(speeds[speeds.len() / 2]);
    Ok(Morning { odds: odds / cases, hitches: lost, turns, fires_above })
}

fn hitch(plan: &Plan, fires_above: RadiansPerSecond) -> Hitch {
    let best = plan.bursts.iter().map(|burst| &burst.course).max_by(|one, other| one.crank.0.total_cmp(&other.crank.0));
    let Some(best) = best else { return Hitch::NoContact };
    match best.outcome {
        Outcome::Turns if best.crank.0 < fires_above.0 => Hitch::TooSlow,
        Outcome::Turns => Hitch::HardlyFires,
        Outcome::Stalls => Hitch::Stalls,
        Outcome::SpinsOnly => Hitch::SpinsOnly,
        Outcome::NoContact | Outcome::Chatters | Outcome::Unsolved => Hitch::NoContact,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::own::tests::school;

    fn odds(name: &str, change: impl Fn(Evening) -> Evening, air: f64) -> f64 {
        let machine = school(name);
        morning(&machine, &change(Evening::of(&machine)), Celsius(air), &USUAL).unwrap().odds
    }

    /// All eight, in finer steps: `examples/mornings.rs`.
    #[test]
    fn law_warmer_air_never_lowers_the_odds() {
        for name in ["curlew", "dabchick"] {
            let odds: Vec<f64> =
                (0..8).map(|step| odds(name, |evening| evening, -10.0 + 5.0 * f64::from(step))).collect();
            // Of odds that near to certain no more bursts are made.
            assert!(odds.is_sorted_by(|colder, warmer| *warmer > colder - 2e-6), "{name}: {odds:?}");
            assert!(odds[0] < 0.96 && odds.iter().all(|odds| (0.0..=1.0).contains(odds)), "{name}: {odds:?}");
        }
    }

    #[test]
    fn law_an_emptier_an_older_and_a_badly_wired_battery_never_start_better() {
        let usual = odds("moorhen", |evening| evening, -5.0);
        let worse: [fn(Evening) -> Evening; 3] = [
            |evening| Evening { charge: Span::even(0.1, 0.3), ..evening },
            |evening| Evening { wear: Span::even(2.0, 3.0), ..evening },
            |evening| Evening { path: Span::even(0.01, 0.03), ..evening },
        ];
        for worse in worse {
            assert!(odds("moorhen", worse, -5.0) < usual);
        }
        let before = odds("moorhen", worse[1], -5.0);
        for measure in Measure::ALL {
            let after = odds("moorhen", |evening| measure.done(worse[1](evening)), -5.0);
            // On the plateau of lithium a full pack cranks no better than one three quarters full.
            assert!(after > before - 5e-3, "{measure:?}: {after} after {before}");
        }
    }

    #[test]
    fn law_a_span_has_its_ends_and_its_middle() {
        let span = Span { low: 1.0, likely: 2.0, high: 6.0 };
        assert_eq!([0.0, 0.25, 0.5, 0.75, 1.0].map(|share| span.at(share)), [1.0, 1.5, 2.0, 4.0, 6.0]);
    }

    /// Three weeks at 1 mA take half an ampere-hour.
    #[test]
    fn law_what_is_drawn_since_the_reading_is_taken_off() {
        let curlew = school("curlew");
        let at = |days: f64| {
            let drawn = Seconds(days * 86_400.0);
            Evening::of(&curlew).rested_at(&curlew, 13.3, Celsius(15.0), drawn, Amps(1e-3)).charge.likely
        };
        assert!((at(0.0) - at(21.0) - 0.504 / 2.3).abs() < 1e-9);
    }
}
