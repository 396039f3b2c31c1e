//! What to do next. While much is open: bits per minute. Near the end: the expected minutes that are left.
//! When few suspects are left: the exact optimum over the best few tests. Source: the comparison of policies in
//! docs/oracles.md (hybrid 0.468 × checklist; half the unpaid access charged while much is open).
//! Promise: a probe is made before a remedy only if it lowers the expected minutes; ties go to the lower index.
//! Limit: looks one step ahead outside the exact stage; a bundle is worth what its last test is worth.

use super::exact::{Ending, Move};
use super::narrow::narrow;
use super::outlook::{Forecast, Outlook};
use super::places::Places;
use super::repair::Repairs;
use super::situation::{Cost, Situation, Standing};

/// A test that costs nothing is scored as if it took this long.
const LEAST_MINUTES: f64 = 0.01;
/// A test that buys fewer bits than this tells nothing.
const LEAST_BITS: f64 = 1e-6;

/// Where one way of choosing hands over to the next.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// Above this entropy, bits per minute decide.
    pub open_bits: f64,
    /// With no more live suspects than this, expected minutes decide whatever the entropy.
    pub few_suspects: usize,
    /// With no more live suspects than this, the plan is exact; zero turns exact planning off.
    pub exact_suspects: usize,
    /// How many tests the exact plan takes in, best first.
    pub exact_tests: usize,
    /// How many outcomes a test may have in the exact plan.
    pub exact_outcomes: usize,
    /// How many states the exact plan may have.
    pub exact_states: usize,
    /// A suspect below this share is not live when suspects are counted.
    pub live: f64,
    /// The share of unpaid access that is charged while bits per minute decide.
    pub access_share: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Settings {
            open_bits: 2.0,
            few_suspects: 8,
            exact_suspects: 8,
            exact_tests: 6,
            exact_outcomes: 3,
            exact_states: 1 << 17,
            live: 1e-3,
            access_share: 0.5,
        }
    }
}

/// By what the candidates were ranked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Bits per charged minute.
    Information,
    /// Expected minutes left, one step ahead.
    ExpectedMinutes,
    /// Expected minutes left, exact.
    Exact,
}

/// One thing that could be done next.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// What it is about.
    pub step: Move,
    /// What to do now: the step itself, or the first test of the bundle that it needs.
    pub first: Move,
    /// Minutes of the bundle, all unpaid access included, risk excluded.
    pub minutes: f64,
    /// Minutes as scored: the agreed share of unpaid access, and risk.
    pub charged_minutes: f64,
    /// Bits it buys about the suspects.
    pub bits: f64,
    /// Expected minutes until the end if this comes next; not computed while bits per minute decide.
    pub expected_minutes: Option<f64>,
    /// What ranks it: bits per minute, or the minutes it saves against remedies (or a verdict) at once.
    pub score: f64,
}

/// The candidates, best first, and how they were ranked.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// By what they were ranked.
    pub stage: Stage,
    /// Entropy over the live suspects.
    pub entropy_bits: f64,
    /// Expected minutes without another test: remedies in p/c order, or a verdict at once.
    pub minutes_without_tests: f64,
    /// Best first.
    pub candidates: Vec<Candidate>,
}

/// Ranks all that may be done next.
pub fn advise(outlook: &Outlook, situation: &Situation, settings: &Settings) -> Advice {
    let adviser = Adviser {
        outlook,
        situation,
        settings,
        repairs: Repairs::new(outlook.suspects(), situation.remedies),
        forecasts: (0..situation.tests.len())
            .map(|test| {
                let open = situation.standing(test) == Standing::Open;
                open.then(|| outlook.forecast(&situation.tests[test]))
            })
            .collect(),
    };
    adviser.advise()
}

struct Adviser<'a> {
    outlook: &'a Outlook,
    situation: &'a Situation<'a>,
    settings: &'a Settings,
    repairs: Repairs<'a>,
    /// Of open tests.
    forecasts: Vec<Option<Forecast>>,
}

impl Adviser<'_> {
    fn advise(&self) -> Advice {
        let entropy_bits = self.outlook.entropy_bits();
        let minutes_without_tests = self.minutes_without_tests(self.outlook.mass(), self.situation.places);
        let live = self.outlook.mass().iter().filter(|&&p| p >= self.settings.live).count();
        let tests = (0..self.situation.tests.len()).filter_map(|test| self.test(test));
        let mut candidates: Vec<Candidate> = tests.collect();
        let informative = candidates.iter().any(|test| test.bits > LEAST_BITS);
        let much_is_open = entropy_bits > self.settings.open_bits && live > self.settings.few_suspects;
        if much_is_open && informative {
            candidates.extend(self.telling_remedies(&candidates));
            candidates.sort_by(|a, b| b.score.total_cmp(&a.score).then(a.step.cmp(&b.step)));
            return Advice { stage: Stage::Information, entropy_bits, minutes_without_tests, candidates };
        }
        match self.situation.ending {
            Ending::Repair { .. } => {
                candidates.extend((0..self.situation.remedies.len()).filter_map(|remedy| self.remedy(remedy)));
            }
            Ending::Declare { .. } => candidates.push(self.verdict()),
        }
        candidates.iter_mut().for_each(|candidate| self.look_ahead(candidate));
        sort_by_minutes(&mut candidates);
        let exact = live <= self.settings.exact_suspects && self.plan_exactly(&mut candidates).is_some();
        for candidate in &mut candidates {
            candidate.score = minutes_without_tests - candidate.expected_minutes.unwrap_or(f64::INFINITY);
        }
        sort_by_minutes(&mut candidates);
        let stage = if exact { Stage::Exact } else { Stage::ExpectedMinutes };
        Advice { stage, entropy_bits, minutes_without_tests, candidates }
    }

    /// A test with what it needs first, scored by bits per minute.
    fn test(&self, test: usize) -> Option<Candidate> {
        let bits = self.forecasts[test].as_ref()?.bits();
        let bundle = self.situation.bundle(test)?;
        let cost = self.cost_of_tests(&bundle);
        Some(self.candidate(Move::Test(test), Move::Test(*bundle.first()?), cost, bits))
    }

    fn remedy(&self, index: usize) -> Option<Candidate> {
        let chance = self.repairs.chance(index, self.outlook.mass()).min(1.0);
        let step = Move::Remedy(index);
        (chance > 0.0).then(|| self.candidate(step, step, self.cost_of_remedy(index, chance), two_way_bits(chance)))
    }

    fn verdict(&self) -> Candidate {
        self.candidate(Move::Declare, Move::Declare, self.situation.cost(std::iter::empty()), 0.0)
    }

    fn candidate(&self, step: Move, first: Move, cost: Cost, bits: f64) -> Candidate {
        let charged_minutes = cost.own + cost.risk + self.settings.access_share * cost.access;
        Candidate {
            step,
            first,
            minutes: cost.own + cost.access,
            charged_minutes,
            bits,
            expected_minutes: None,
            score: bits / charged_minutes.max(LEAST_MINUTES),
        }
    }

    /// Remedies worth trying as tests while much is open: those for the leader, and those cheaper than every
    /// test that tells something.
    fn telling_remedies(&self, tests: &[Candidate]) -> Vec<Candidate> {
        if matches!(self.situation.ending, Ending::Declare { .. }) {
            return Vec::new();
        }
        let telling = tests.iter().filter(|test| test.bits > LEAST_BITS);
        let cheapest = telling.map(|test| test.charged_minutes).fold(f64::INFINITY, f64::min);
        let mass = self.outlook.mass();
        let leader = (1..mass.len()).fold(0, |best, at| if mass[at] > mass[best] { at } else { best });
        (0..self.situation.remedies.len())
            .filter_map(|index| {
                let remedy = self.remedy(index)?;
                let leads = self.repairs.targets(index).contains(&leader);
                (leads || remedy.charged_minutes < cheapest).then_some(remedy)
            })
            .collect()
    }

    /// Fills in the expected minutes, one step ahead.
    fn look_ahead(&self, candidate: &mut Candidate) {
        let minutes = match candidate.step {
            Move::Declare => self.minutes_without_tests(self.outlook.mass(), self.situation.places),
            Move::Remedy(index) => {
                let mut left = self.outlook.mass().to_vec();
                self.repairs.targets(index).iter().for_each(|&at| left[at] = 0.0);
                let chance = self.repairs.chance(index, self.outlook.mass()).min(1.0);
                let cost = self.cost_of_remedy(index, chance);
                candidate.minutes + cost.risk + self.minutes_without_tests(&left, &cost.places)
            }
            Move::Test(test) => match (&self.forecasts[test], self.situation.bundle(test)) {
                (Some(forecast), Some(bundle)) => {
                    let cost = self.cost_of_tests(&bundle);
                    let after = |outcome| {
                        let mass: Vec<f64> = forecast.joint(outcome).collect();
                        self.minutes_without_tests(&mass, &cost.places)
                    };
                    let left: f64 = (0..forecast.outcomes()).map(after).sum();
                    cost.own + cost.risk + cost.access + left
                }
                _ => f64::INFINITY,
            },
        };
        candidate.expected_minutes = Some(minutes);
    }

    /// Replaces the look ahead of the moves that the exact plan covers. Candidates come sorted.
    fn plan_exactly(&self, candidates: &mut [Candidate]) -> Option<()> {
        let telling = candidates.iter().filter(|candidate| candidate.bits > LEAST_BITS);
        let order: Vec<usize> = telling
            .filter_map(|candidate| if let Move::Test(test) = candidate.step { Some(test) } else { None })
            .collect();
        let outlook = self.outlook.among_live(self.settings.live);
        let forecasts: Vec<Option<Forecast>> = (0..self.situation.tests.len())
            .map(|test| {
                let wanted = self.forecasts[test].is_some() && self.is_needed(test, &order);
                wanted.then(|| outlook.forecast(&self.situation.tests[test]))
            })
            .collect();
        let small = narrow(&outlook, self.situation, &forecasts, &order, self.settings)?;
        for (step, minutes) in small.problem.solve().ok()?.moves {
            let step = match step {
                Move::Test(at) => Move::Test(small.tests[at]),
                Move::Remedy(at) => Move::Remedy(small.remedies[at]),
                Move::Declare => Move::Declare,
            };
            candidates.iter_mut().filter(|c| c.step == step).for_each(|c| c.expected_minutes = Some(minutes));
        }
        Some(())
    }

    fn is_needed(&self, test: usize, order: &[usize]) -> bool {
        order.contains(&test) || order.iter().any(|&o| self.situation.bundle(o).is_some_and(|b| b.contains(&test)))
    }

    fn cost_of_tests(&self, bundle: &[usize]) -> Cost {
        let tests = bundle.iter().map(|&test| &self.situation.tests[test]);
        self.situation.cost(tests.map(|test| (test.minutes, test.risk_minutes, test.place)))
    }

    /// What is lost where the remedy was not the one is its risk.
    fn cost_of_remedy(&self, index: usize, chance: f64) -> Cost {
        let remedy = &self.situation.remedies[index];
        self.situation.cost(std::iter::once((remedy.minutes, remedy.lost * (1.0 - chance), remedy.place)))
    }

    fn minutes_without_tests(&self, mass: &[f64], places: &Places) -> f64 {
        match self.situation.ending {
            Ending::Repair { unfixed_minutes } => self.repairs.expected_minutes(mass, places, unfixed_minutes),
            Ending::Declare { wrong_minutes } => {
                let likeliest = mass.iter().copied().fold(0.0, f64::max);
                wrong_minutes * (mass.iter().sum::<f64>() - likeliest)
            }
        }
    }
}

fn sort_by_minutes(candidates: &mut [Candidate]) {
    let minutes = |candidate: &Candidate| candidate.expected_minutes.unwrap_or(f64::INFINITY);
    candidates.sort_by(|a, b| minutes(a).total_cmp(&minutes(b)).then(a.step.cmp(&b.step)));
}

/// Bits in the answer to "did it work?".
fn two_way_bits(chance: f64) -> f64 {
    super::belief::surprise(chance) + super::belief::surprise(1.0 - chance)
}
