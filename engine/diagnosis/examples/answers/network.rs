//! A published network as a cast of worlds: a world is a joint state of all ancestors of what is read, its prior the
//! product of their tables, and a reading the row of its own table. So everything is exact, nothing is summed out.
//! Law: the chain rule of a Bayesian network (Pearl 1988). Promise: no state of probability zero becomes a world.
//! Limit: the worlds grow with the product of the ancestors' states; `given` facts keep them few.

use std::collections::BTreeSet;
use std::error::Error;

use diagnosis::inference::{
    Belief, Ending, Evidence, Kernel, Outlook, Places, Readings, Remedy, Settings, Situation, Test, Worlds, advise,
    repair_order,
};
use serde::{Deserialize, Serialize};

/// Casts larger than this are not made.
const MOST_WORLDS: usize = 1 << 17;

/// A node with its table, a row for each joint state of its parents, the last parent's state running fastest.
#[derive(Deserialize)]
struct Node {
    states: usize,
    parents: Vec<usize>,
    rows: Vec<Vec<f64>>,
}

/// What is asked: nodes and states by index.
#[derive(Deserialize)]
pub struct Question {
    nodes: Vec<Node>,
    /// Known from the start.
    given: Vec<(usize, usize)>,
    /// Read one after another.
    readings: Vec<(usize, usize)>,
    /// What could be read next.
    tests: Vec<usize>,
    /// The nodes whose joint states are the suspects.
    suspects: Vec<usize>,
    /// Instead: causes with their faulty states, of which exactly one is at work.
    #[serde(default)]
    one_of: Vec<(usize, usize)>,
    /// Minutes of each test and of each remedy, side by side with `tests` and `one_of`, and where it is done.
    #[serde(default)]
    test_minutes: Vec<(f64, Option<usize>)>,
    #[serde(default)]
    remedy_minutes: Vec<(f64, Option<usize>)>,
    #[serde(default)]
    access_minutes: Vec<f64>,
}

/// What is believed before the first reading, and after each.
#[derive(Serialize)]
pub struct Answer {
    worlds: usize,
    steps: Vec<Step>,
}

#[derive(Serialize)]
struct Step {
    /// P(readings | given).
    evidence: f64,
    /// Of every node in the cast: the node and the probabilities of its states.
    marginals: Vec<(usize, Vec<f64>)>,
    suspects: Vec<f64>,
    /// Of each test: the probabilities of its outcomes, and the bits it buys about the suspects.
    outcomes: Vec<Vec<f64>>,
    bits: Vec<f64>,
    /// Of each test and each remedy: the expected minutes until fixed if it comes next.
    minutes: Option<Minutes>,
}

#[derive(Serialize)]
struct Minutes {
    without_tests: f64,
    repair_order: Vec<usize>,
    candidates: Vec<(String, f64)>,
}

/// The cast of a question.
struct Cast<'a> {
    question: &'a Question,
    /// The nodes whose joint states the worlds are, parents first.
    order: Vec<usize>,
    /// A row of states for each world, by node; only those in `order` mean something.
    states: Vec<Vec<u8>>,
    worlds: Worlds,
}

/// Weighs the readings one after another; nothing if that takes too many worlds.
pub fn answer(question: &Question) -> Result<Option<Answer>, Box<dyn Error>> {
    let Some(cast) = Cast::new(question)? else {
        return Ok(None);
    };
    let mut readings = Readings::new();
    let mut steps = vec![cast.step(&readings)?];
    for &(node, state) in &question.readings {
        readings.add(&cast.worlds, Evidence::new(format!("{node}"), cast.log_likelihood(node, state))?)?;
        steps.push(cast.step(&readings)?);
    }
    Ok(Some(Answer { worlds: cast.worlds.len(), steps }))
}

impl<'a> Cast<'a> {
    fn new(question: &'a Question) -> Result<Option<Self>, Box<dyn Error>> {
        let order = ancestors(question);
        let (mut states, mut log_weight) = (vec![vec![0u8; question.nodes.len()]], vec![0.0]);
        for &node in &order {
            let fixed = question.given.iter().find(|given| given.0 == node).map(|given| given.1);
            let (mut grown, mut grown_weight) = (Vec::new(), Vec::new());
            for (world, weight) in states.iter().zip(&log_weight) {
                for (state, &p) in row(&question.nodes, node, world).iter().enumerate() {
                    if p > 0.0 && fixed.is_none_or(|fixed| fixed == state) {
                        let mut world = world.clone();
                        world[node] = state as u8;
                        if at_work(question, &world, &order, node) {
                            grown.push(world);
                            grown_weight.push(weight + libm::log(p));
                        }
                    }
                }
            }
            if grown.len() > MOST_WORLDS {
                return Ok(None);
            }
            (states, log_weight) = (grown, grown_weight);
        }
        let suspect_of = states.iter().map(|world| suspect(question, world)).collect::<Option<Vec<u32>>>();
        let suspect_of = suspect_of.ok_or("a world has no suspect")?;
        let joint = question.suspects.iter().map(|&node| question.nodes[node].states).product();
        let suspects = if question.one_of.is_empty() { joint } else { question.one_of.len() };
        let worlds = Worlds::new(suspects, suspect_of, log_weight)?;
        Ok(Some(Cast { question, order, states, worlds }))
    }

    /// Log P(node = state | world): certain for a node that the worlds spell out, else the row of its table.
    fn log_likelihood(&self, node: usize, state: usize) -> Vec<f64> {
        let p = |world: &Vec<u8>| match self.order.contains(&node) {
            true => f64::from(u8::from(usize::from(world[node]) == state)),
            false => row(&self.question.nodes, node, world)[state],
        };
        self.states.iter().map(|world| libm::log(p(world))).collect()
    }

    fn test(&self, at: usize) -> Result<Test<'static>, Box<dyn Error>> {
        let (nodes, node) = (&self.question.nodes, self.question.tests[at]);
        let spelled_out = self.order.contains(&node);
        let class = |world: &Vec<u8>| if spelled_out { world[node] } else { row_index(nodes, node, world) as u8 };
        let kernel = match spelled_out {
            true => Kernel::symmetric(nodes[node].states, 0.0)?,
            false => Kernel::new(nodes[node].states, nodes[node].rows.concat())?,
        };
        let (minutes, place) = self.question.test_minutes.get(at).copied().unwrap_or((1.0, None));
        let mut test = Test::new(&self.worlds, self.states.iter().map(class).collect::<Vec<u8>>(), kernel, minutes)?;
        test.place = place;
        Ok(test)
    }

    fn step(&self, readings: &Readings) -> Result<Step, Box<dyn Error>> {
        let belief = Belief::weigh(&self.worlds, readings)?;
        let prior_and_evidence = self.worlds.log_suspect_prior().iter().zip(belief.log_evidence(&self.worlds));
        let marginal = |&node: &usize| {
            let of = |state| belief.marginal(|world| usize::from(self.states[world][node]) == state);
            (node, (0..self.question.nodes[node].states).map(of).collect())
        };
        let tests: Vec<Test> = (0..self.question.tests.len()).map(|at| self.test(at)).collect::<Result<_, _>>()?;
        let outlook = Outlook::new(&self.worlds, &belief, 0.0);
        let forecasts: Vec<_> = tests.iter().map(|test| outlook.forecast(test)).collect();
        Ok(Step {
            evidence: prior_and_evidence.map(|(prior, evidence)| libm::exp(prior + evidence)).sum(),
            marginals: self.order.iter().map(marginal).collect(),
            suspects: belief.suspects().to_vec(),
            outcomes: forecasts.iter().map(|f| (0..f.outcomes()).map(|o| f.probability(o)).collect()).collect(),
            bits: forecasts.iter().map(|f| f.bits()).collect(),
            minutes: (!self.question.one_of.is_empty()).then(|| self.minutes(&outlook, &tests)),
        })
    }

    fn minutes(&self, outlook: &Outlook, tests: &[Test]) -> Minutes {
        let costs = (0u32..).zip(&self.question.remedy_minutes);
        let remedies: Vec<Remedy> =
            costs.map(|(cause, &(minutes, place))| Remedy { minutes, lost: 0.0, place, fixes: vec![cause] }).collect();
        let places = Places::new(self.question.access_minutes.clone());
        let ending = Ending::Repair { unfixed_minutes: 0.0 };
        let situation = Situation { tests, standing: &[], remedies: &remedies, places: &places, ending };
        let settings = Settings { open_bits: f64::INFINITY, exact_suspects: 0, ..Settings::default() };
        let advice = advise(outlook, &situation, &settings);
        let candidates = advice.candidates.iter();
        Minutes {
            without_tests: advice.minutes_without_tests,
            repair_order: repair_order(outlook.suspects(), outlook.mass(), &remedies, &places),
            candidates: candidates.filter_map(|c| Some((format!("{:?}", c.step), c.expected_minutes?))).collect(),
        }
    }
}

/// Everything above what is read, tested, given or suspected, parents first; what is read or tested itself only
/// where something else hangs on it.
fn ancestors(question: &Question) -> Vec<usize> {
    fn visit(nodes: &[Node], node: usize, order: &mut Vec<usize>) {
        if !order.contains(&node) {
            nodes[node].parents.iter().for_each(|&parent| visit(nodes, parent, order));
            order.push(node);
        }
    }
    let spelled_out = question.given.iter().chain(&question.one_of).map(|pair| pair.0).chain(question.suspects.clone());
    let shown = question.readings.iter().map(|pair| pair.0).chain(question.tests.clone());
    let above_shown = shown.flat_map(|node| question.nodes[node].parents.clone());
    // By index, so that the order of the readings leaves no trace.
    let wanted: BTreeSet<usize> = spelled_out.chain(above_shown).collect();
    let mut order = Vec::new();
    wanted.into_iter().for_each(|node| visit(&question.nodes, node, &mut order));
    order
}

/// Whether a half-grown world can still have exactly one cause at work.
fn at_work(question: &Question, world: &[u8], order: &[usize], node: usize) -> bool {
    let decided = order.iter().take_while(|&&before| before != node).chain([&node]);
    let decided: Vec<usize> = decided.copied().collect();
    let faulty = question.one_of.iter().filter(|(cause, state)| usize::from(world[*cause]) == *state);
    let count = faulty.filter(|(cause, _)| decided.contains(cause)).count();
    let open = question.one_of.iter().any(|(cause, _)| !decided.contains(cause));
    question.one_of.is_empty() || count == 1 || (count == 0 && open)
}

fn suspect(question: &Question, world: &[u8]) -> Option<u32> {
    if question.one_of.is_empty() {
        let join = |joint, &node: &usize| joint * question.nodes[node].states + usize::from(world[node]);
        return Some(question.suspects.iter().fold(0, join) as u32);
    }
    question.one_of.iter().position(|&(cause, state)| usize::from(world[cause]) == state).map(|at| at as u32)
}

fn row_index(nodes: &[Node], node: usize, world: &[u8]) -> usize {
    nodes[node].parents.iter().fold(0, |index, &parent| index * nodes[parent].states + usize::from(world[parent]))
}

fn row<'a>(nodes: &'a [Node], node: usize, world: &[u8]) -> &'a [f64] {
    &nodes[node].rows[row_index(nodes, node, world)]
}
