//! The machine's wiring as chains: rows of elements in series between the nodes where three or more meet.
//! Idea: with every contact closed and the battery connected, the potentials of a plain resistor network put the nodes
//! in an order from supply to ground in which every current runs down; a chain is drawn as one column in that order.
//! Law: node equations of linear resistors, solved by elimination; a faint leak to ground at every node orders what hangs
//! loose. Promise: the order has no rings, so that every node can have a height.

use std::collections::BTreeSet;

use machine::Machine;

use crate::element::Element;

/// Elements in series.
#[derive(Clone, Debug)]
pub(crate) struct Chain {
    /// Elements from the top, and whether their first terminal is at the foot.
    pub links: Vec<(usize, bool)>,
    /// Nodes from the top, one more than elements.
    pub nodes: Vec<usize>,
    /// Part of the starter's circuit.
    pub heavy: bool,
    /// The battery is in it.
    pub supply: bool,
}

impl Chain {
    /// Node at its top.
    pub(crate) fn top(&self) -> usize {
        self.nodes.first().copied().unwrap_or_default()
    }

    /// Node at its foot.
    pub(crate) fn foot(&self) -> usize {
        self.nodes.last().copied().unwrap_or_default()
    }
}

/// The wiring, ready to be placed.
#[derive(Clone, Debug)]
pub(crate) struct Graph {
    /// All chains: the battery's first, then the starter's circuit, then as the sheet tells them.
    pub chains: Vec<Chain>,
    /// Rank of every node: supply first.
    pub rank: Vec<usize>,
    /// Nodes that are drawn where they are needed, with a sign and a name: frame and other grounds.
    pub everywhere: Vec<bool>,
    /// Elements of the starter's circuit.
    pub heavy: Vec<bool>,
    /// Height that the name of each node needs apart from its potential's line.
    pub rows: Vec<f64>,
}

/// Resistance of a path that passes current easily, against one of any consumer.
const EASY: f64 = 0.01;
/// Conductance of the leak.
const LEAK: f64 = 1e-6;

/// Sorts the elements of a machine into chains.
pub(crate) fn graph(machine: &Machine, elements: &[Element]) -> Graph {
    let nodes = machine.node_count();
    let supply = elements.iter().position(|element| matches!(kind(machine, element), "battery" | "source"));
    let volts = volts(nodes, elements, supply, machine);
    let mut order: Vec<usize> = (0..nodes).collect();
    order.sort_by(|left, right| volts[*right].total_cmp(&volts[*left]).then(left.cmp(right)));
    let mut rank = vec![0; nodes];
    for (place, node) in order.iter().enumerate() {
        rank[*node] = place;
    }
    let heavy = heavy(machine, elements, supply, nodes);
    let mut meeting = vec![0_usize; nodes];
    for element in elements {
        meeting[element.from] += 1;
        meeting[element.to] += 1;
    }
    let everywhere = everywhere(machine, elements, &meeting, &heavy);
    let junction: Vec<bool> = (0..nodes).map(|node| meeting[node] != 2 || everywhere[node]).collect();
    let mut chains = chains(elements, junction, &rank, supply);
    for chain in &mut chains {
        chain.heavy = chain.links.iter().any(|(element, _)| heavy[*element]);
        chain.supply = chain.links.iter().any(|(element, _)| Some(*element) == supply);
    }
    // The starter's circuit in the order of its current.
    chains.sort_by_key(|chain| {
        let place = if chain.heavy { rank[chain.top()] } else { usize::MAX };
        (!chain.supply, !chain.heavy, place)
    });
    Graph { chains, rank, everywhere, heavy, rows: vec![0.0; nodes] }
}

fn kind(machine: &Machine, element: &Element) -> &'static str {
    machine.sheet.parts[element.part].kind.name
}

/// Potentials with every contact closed, the first battery at 1 and its other end at 0.
fn volts(nodes: usize, elements: &[Element], supply: Option<usize>, machine: &Machine) -> Vec<f64> {
    let mut rows = vec![vec![0.0; nodes + 1]; nodes];
    for (node, row) in rows.iter_mut().enumerate() {
        row[node] = LEAK;
    }
    for (index, element) in elements.iter().enumerate() {
        if Some(index) == supply {
            continue;
        }
        // A starter is the heaviest consumer, so that its own circuit comes before all others'.
        let ohms = match kind(machine, element) {
            _ if element.easy => EASY,
            "starter" => 0.1,
            _ => 1.0,
        };
        let (from, to) = (element.from, element.to);
        rows[from][from] += 1.0 / ohms;
        rows[to][to] += 1.0 / ohms;
        rows[from][to] -= 1.0 / ohms;
        rows[to][from] -= 1.0 / ohms;
    }
    if let Some(supply) = supply {
        for (node, volts) in [(elements[supply].from, 1.0), (elements[supply].to, 0.0)] {
            rows[node].fill(0.0);
            rows[node][node] = 1.0;
            rows[node][nodes] = volts;
        }
    }
    for pivot in 0..nodes {
        let best = (pivot..nodes).max_by(|left, right| rows[*left][pivot].abs().total_cmp(&rows[*right][pivot].abs()));
        rows.swap(pivot, best.unwrap_or(pivot));
        let head = rows[pivot].clone();
        if head[pivot] == 0.0 {
            continue;
        }
        for row in rows.iter_mut().skip(pivot + 1) {
            let share = row[pivot] / head[pivot];
            if share != 0.0 {
                row.iter_mut().zip(&head).skip(pivot).for_each(|(value, above)| *value -= share * above);
            }
        }
    }
    let mut volts = vec![0.0; nodes];
    for node in (0..nodes).rev() {
        let known: f64 = (node + 1..nodes).map(|other| rows[node][other] * volts[other]).sum();
        if rows[node][node] != 0.0 {
            volts[node] = (rows[node][nodes] - known) / rows[node][node];
        }
    }
    volts
}

/// The starter's circuit: from the battery's plus through the starter to its minus on the path of heavy parts.
fn heavy(machine: &Machine, elements: &[Element], supply: Option<usize>, nodes: usize) -> Vec<bool> {
    let mut marked = vec![false; elements.len()];
    let starter = elements.iter().position(|element| kind(machine, element) == "starter");
    let (Some(supply), Some(starter)) = (supply, starter) else { return marked };
    marked[supply] = true;
    marked[starter] = true;
    let weigh = |index: usize| match elements[index].sign {
        _ if index == supply || index == starter => None,
        crate::symbol::Sign::Cable | crate::symbol::Sign::Joint | crate::symbol::Sign::Contact => Some(1_usize),
        _ if elements[index].easy => Some(10),
        _ => None,
    };
    for (start, end) in [(elements[supply].from, elements[starter].from), (elements[starter].to, elements[supply].to)] {
        let mut cost = vec![usize::MAX; nodes];
        let mut by = vec![None; nodes];
        cost[start] = 0;
        // As many rounds as nodes are enough for any path.
        for _ in 0..nodes {
            for (index, element) in elements.iter().enumerate() {
                let Some(weight) = weigh(index) else { continue };
                for (near, far) in [(element.from, element.to), (element.to, element.from)] {
                    if cost[near] != usize::MAX && cost[near] + weight < cost[far] {
                        cost[far] = cost[near] + weight;
                        by[far] = Some((index, near));
                    }
                }
            }
        }
        let mut node = end;
        while let Some((index, before)) = by[node] {
            marked[index] = true;
            node = before;
        }
    }
    marked
}

/// Frame and what is bolted to it: nodes where many feet end.
fn everywhere(machine: &Machine, elements: &[Element], meeting: &[usize], heavy: &[bool]) -> Vec<bool> {
    let ground = machine.ground();
    let mut near: BTreeSet<usize> = BTreeSet::from([ground]);
    // Three parts in series lie between the frame and any other metal.
    for _ in 0..3 {
        let joined = elements.iter().filter(|element| {
            element.easy && matches!(kind(machine, element), "cable" | "joint" | "wire" | "connector")
        });
        let more: Vec<usize> = joined
            .filter(|element| near.contains(&element.from) || near.contains(&element.to))
            .flat_map(|element| [element.from, element.to])
            .collect();
        near.extend(more);
    }
    let feeds = elements.iter().filter(|element| matches!(kind(machine, element), "battery" | "source"));
    let plus: BTreeSet<usize> = feeds.map(|element| element.from).collect();
    (0..meeting.len())
        .map(|node| {
            let metal = near.contains(&node) && !plus.contains(&node);
            // On the way back to the battery the wire itself is drawn for the starter's current alone.
            let back = elements
                .iter()
                .zip(heavy)
                .any(|(element, heavy)| *heavy && element.easy && (element.from == node || element.to == node));
            (node == ground || metal && back) && meeting[node] > 2 || metal && meeting[node] > 3
        })
        .collect()
}

/// Rows of elements between junctions.
fn chains(elements: &[Element], mut junction: Vec<bool>, rank: &[usize], supply: Option<usize>) -> Vec<Chain> {
    let mut at: Vec<Vec<usize>> = vec![Vec::new(); junction.len()];
    for (index, element) in elements.iter().enumerate() {
        at[element.from].push(index);
        at[element.to].push(index);
    }
    let mut used = vec![false; elements.len()];
    let mut chains = Vec::new();
    loop {
        for start in 0..junction.len() {
            if !junction[start] {
                continue;
            }
            for first in &at[start] {
                if used[*first] {
                    continue;
                }
                chains.extend(split(walk(*first, start, elements, &junction, &at, &mut used), &mut junction, rank));
            }
        }
        // A ring without a junction is opened at its highest and its lowest node.
        let Some(rest) = (0..elements.len()).find(|element| !used[*element]) else { break };
        let ring = ring(rest, elements, &at);
        let (high, low) = match supply.filter(|supply| ring.contains(&elements[*supply].from)) {
            Some(supply) => (elements[supply].from, elements[supply].to),
            None => (
                ring.iter().copied().min_by_key(|node| rank[*node]).unwrap_or_default(),
                ring.iter().copied().max_by_key(|node| rank[*node]).unwrap_or_default(),
            ),
        };
        junction[high] = true;
        junction[low] = true;
    }
    for chain in &mut chains {
        let battery = chain.links.iter().find(|(element, _)| Some(*element) == supply);
        let upside_down = match battery {
            Some((_, turned)) => *turned,
            None => rank[chain.top()] > rank[chain.foot()],
        };
        if upside_down {
            chain.nodes.reverse();
            chain.links.reverse();
            chain.links.iter_mut().for_each(|(_, turned)| *turned = !*turned);
        }
    }
    chains
}

/// Follows elements from a junction to the next.
fn walk(
    first: usize,
    start: usize,
    elements: &[Element],
    junction: &[bool],
    at: &[Vec<usize>],
    used: &mut [bool],
) -> Chain {
    let mut chain = Chain { links: Vec::new(), nodes: vec![start], heavy: false, supply: false };
    let mut next = Some(first);
    let mut node = start;
    while let Some(index) = next {
        used[index] = true;
        let element = &elements[index];
        let turned = element.from != node;
        node = if turned { element.from } else { element.to };
        chain.links.push((index, turned));
        chain.nodes.push(node);
        next = if junction[node] { None } else { at[node].iter().copied().find(|other| !used[*other]) };
    }
    chain
}

/// Cuts a chain that ends where it begins into two, at its lowest node.
fn split(chain: Chain, junction: &mut [bool], rank: &[usize]) -> Vec<Chain> {
    if chain.top() != chain.foot() || chain.links.len() < 2 {
        return vec![chain];
    }
    let inner = 1..chain.links.len();
    let cut = inner.max_by_key(|place| rank[chain.nodes[*place]].abs_diff(rank[chain.top()])).unwrap_or(1);
    junction[chain.nodes[cut]] = true;
    let Chain { links, nodes, heavy, supply } = chain;
    vec![
        Chain { links: links[..cut].to_vec(), nodes: nodes[..=cut].to_vec(), heavy, supply },
        Chain { links: links[cut..].to_vec(), nodes: nodes[cut..].to_vec(), heavy, supply },
    ]
}

/// The nodes of a ring.
fn ring(start: usize, elements: &[Element], at: &[Vec<usize>]) -> BTreeSet<usize> {
    let mut nodes = BTreeSet::from([elements[start].from, elements[start].to]);
    let mut open: Vec<usize> = nodes.iter().copied().collect();
    while let Some(node) = open.pop() {
        for index in &at[node] {
            for other in [elements[*index].from, elements[*index].to] {
                if nodes.insert(other) {
                    open.push(other);
                }
            }
        }
    }
    nodes
}
