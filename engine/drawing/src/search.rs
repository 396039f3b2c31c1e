//! The order of columns: from a first plan, chains and columns are moved as long as the picture gets better.
//! Idea: a picture's badness is one number (clashes, width, crossings, height, length of wire, wires replaced by names);
//! every move is tried by laying the bands out anew, which takes microseconds.
//! Promise: the same machine gives the same plan. Limit: a best order of all is not promised.

use crate::graph::Graph;
use crate::plan::{GAP, Plan, Size, across, lay};

/// What the search weighs.
pub(crate) struct Wish<'a> {
    /// The wiring.
    pub graph: &'a Graph,
    /// Sizes of the chains.
    pub sizes: &'a [Size],
    /// Width that there is.
    pub width: f64,
    /// What a unit of height costs.
    pub height_cost: f64,
    /// What a name instead of a wire costs.
    pub name_cost: f64,
    /// Chains of a coil and its contact.
    pub links: &'a [(usize, usize)],
    /// Chains that should stand one below the other, and what it costs when they do not.
    pub follows: Vec<(usize, usize, f64)>,
}

/// Finds a plan: the better of two, one begun in bands and one begun too wide.
pub(crate) fn search(mut wish: Wish<'_>) -> Plan {
    let columns = first(&wish);
    // The first column beside the starter's circuit leads to the relay's coil: it should stay straight.
    let mut straight = STRAIGHT;
    for column in columns.iter().filter(|column| column.iter().all(|chain| !wish.graph.chains[*chain].heavy)) {
        wish.follows.extend(column.windows(2).map(|pair| (pair[0], pair[1], straight)));
        straight = STRAIGHT / 4.0;
    }
    let wish = &wish;
    let (banded, banded_cost) = climb(bands(&columns, wish), wish);
    let (wide, wide_cost) = climb(vec![columns], wish);
    let (best, cost) = if wide_cost < banded_cost { (wide, wide_cost) } else { (banded, banded_cost) };
    let (shaken, cost) = shake(best, cost, wish);
    let (settled, settled_cost) = climb(shaken.clone(), wish);
    if settled_cost < cost { settled } else { shaken }
}

/// Takes out chains that hang together, again and again others, and keeps what is better.
fn shake(mut best: Plan, mut cost: f64, wish: &Wish<'_>) -> (Plan, f64) {
    let chains = &wish.graph.chains;
    let loose: Vec<usize> = (0..chains.len()).filter(|chain| !chains[*chain].heavy).collect();
    // A linear generator with Knuth's multiplier: the order is strewn, and the same every time.
    let mut state: u64 = 1;
    let mut draw = |below: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % below.max(1)
    };
    for _ in 0..if loose.len() < 2 { 0 } else { SHAKES } {
        let many = 2 + draw(MOST - 2);
        let mut taken = vec![loose[draw(loose.len())]];
        while taken.len() < many.min(loose.len()) {
            let near = &chains[taken[draw(taken.len())]];
            let joined = |chain: &&usize| {
                let of = &chains[**chain];
                let meets = |node: usize| !wish.graph.everywhere[node] && (node == near.top() || node == near.foot());
                !taken.contains(chain) && (meets(of.top()) || meets(of.foot()))
            };
            let neighbors: Vec<usize> = loose.iter().filter(joined).copied().collect();
            let next = if neighbors.is_empty() { loose[draw(loose.len())] } else { neighbors[draw(neighbors.len())] };
            if !taken.contains(&next) {
                taken.push(next);
            }
        }
        again(&mut best, &mut cost, wish, taken);
    }
    (best, cost)
}

/// Moves chains and columns as long as the picture gets better.
fn climb(mut best: Plan, wish: &Wish<'_>) -> (Plan, f64) {
    let mut cost = badness(&best, wish);
    for _ in 0..ROUNDS {
        let before = cost;
        for chain in 0..wish.graph.chains.len() {
            improve(&mut best, &mut cost, wish, |plan| moves_of_chains(plan, &[chain]));
            improve(&mut best, &mut cost, wish, |plan| {
                moves_of_chains(plan, &with_those_below(plan, chain, wish.graph))
            });
        }
        improve(&mut best, &mut cost, wish, moves_of_columns);
        for node in 0..wish.graph.rank.len() {
            let at_node = |chain: &usize| {
                let of = &wish.graph.chains[*chain];
                !of.heavy && (of.top() == node || of.foot() == node)
            };
            again(&mut best, &mut cost, wish, (0..wish.graph.chains.len()).filter(at_node).collect());
        }
        if cost >= before {
            break;
        }
    }
    (best, cost)
}

/// Takes some chains out of a plan and puts one after the other back where it is best.
fn again(best: &mut Plan, cost: &mut f64, wish: &Wish<'_>, mut taken: Vec<usize>) {
    if !(2..=MOST).contains(&taken.len()) {
        return;
    }
    let height = |chain: &usize| wish.sizes[*chain].heights.iter().sum::<f64>();
    taken.sort_by(|left, right| height(right).total_cmp(&height(left)).then(left.cmp(right)));
    let mut plan = without(best, &taken);
    let mut of_plan = f64::INFINITY;
    for chain in taken {
        of_plan = f64::INFINITY;
        improve(&mut plan, &mut of_plan, wish, |plan| moves_of_chains(plan, &[chain]));
    }
    if of_plan < *cost - 1e-6 {
        *cost = of_plan;
        *best = plan;
    }
}

/// Columns in bands as wide as there is room.
fn bands(columns: &[Vec<usize>], wish: &Wish<'_>) -> Plan {
    let mut plan: Plan = vec![Vec::new()];
    for column in columns {
        let Some(band) = plan.last_mut() else { break };
        band.push(column.clone());
        if across(band, wish.sizes).1 > wish.width && band.len() > 1 {
            band.pop();
            plan.push(vec![column.clone()]);
        }
    }
    plan
}

const ROUNDS: usize = 8;
/// What it costs to lead the path to the starter relay's coil into another column.
const STRAIGHT: f64 = 160.0;
/// At a node with more chains, not all are moved at once.
const MOST: usize = 8;
/// How often chains are taken out together; more does not help the machines of this repository.
const SHAKES: usize = 120;

/// The starter's circuit in two columns, then the others from the longest on, each followed by what branches off it, the
/// lowest branch nearest.
fn first(wish: &Wish<'_>) -> Vec<Vec<usize>> {
    let chains = &wish.graph.chains;
    let numbers = || 0..chains.len();
    let supply: Vec<usize> = numbers().filter(|chain| chains[*chain].supply).collect();
    let heavy: Vec<usize> = numbers().filter(|chain| chains[*chain].heavy && !chains[*chain].supply).collect();
    let mut columns: Vec<Vec<usize>> = [supply, heavy].into_iter().filter(|column| !column.is_empty()).collect();
    let mut used: Vec<bool> = chains.iter().map(|chain| chain.heavy || chain.supply).collect();
    let mut order: Vec<usize> = numbers().collect();
    // How far it is from a chain's top to the end of all that follows.
    let mut depth = vec![0.0; chains.len()];
    order.sort_by_key(|chain| std::cmp::Reverse(wish.graph.rank[chains[*chain].top()]));
    for chain in &order {
        // The path to the coil of the starter's own contact goes before all others.
        let coil = wish.links.iter().any(|(coil, contact)| coil == chain && chains[*contact].heavy);
        let own = wish.sizes[*chain].heights.iter().sum::<f64>() + if coil { 1e5 } else { 0.0 };
        let foot = chains[*chain].foot();
        let ends = wish.graph.everywhere[foot];
        let below = numbers().filter(|other| !ends && other != chain && chains[*other].top() == foot);
        depth[*chain] = own + below.map(|other| depth[other]).fold(0.0, f64::max);
    }
    order.sort_by(|left, right| {
        let top = |chain: &usize| wish.graph.rank[chains[*chain].top()];
        top(left).cmp(&top(right)).then(depth[*right].total_cmp(&depth[*left])).then(left.cmp(right))
    });
    for chain in order {
        branch(chain, wish, &depth, &mut used, &mut columns);
    }
    columns
}

/// A chain and the longest that follow it as one column, then what branches off, from the lowest branch up.
fn branch(start: usize, wish: &Wish<'_>, depth: &[f64], used: &mut [bool], columns: &mut Vec<Vec<usize>>) {
    let chains = &wish.graph.chains;
    let mut column = Vec::new();
    let mut next = Some(start).filter(|start| !used[*start]);
    while let Some(chain) = next {
        used[chain] = true;
        column.push(chain);
        let foot = chains[chain].foot();
        let below = (0..chains.len()).filter(|other| !used[*other] && chains[*other].top() == foot);
        next = if wish.graph.everywhere[foot] {
            None
        } else {
            below.max_by(|left, right| depth[*left].total_cmp(&depth[*right]).then(right.cmp(left)))
        };
    }
    if column.is_empty() {
        return;
    }
    let joints: Vec<usize> = column.iter().rev().map(|chain| chains[*chain].foot()).collect();
    columns.push(column);
    for joint in joints.into_iter().filter(|joint| !wish.graph.everywhere[*joint]) {
        for (other, _) in chains.iter().enumerate().filter(|(_, chain)| chain.top() == joint) {
            branch(other, wish, depth, used, columns);
        }
    }
}

fn improve(best: &mut Plan, cost: &mut f64, wish: &Wish<'_>, moves: impl Fn(&Plan) -> Vec<Plan>) {
    let mut found = None;
    for plan in moves(best) {
        let of_plan = badness(&plan, wish);
        if of_plan < *cost - 1e-6 {
            *cost = of_plan;
            found = Some(plan);
        }
    }
    if let Some(plan) = found {
        *best = plan;
    }
}

/// A plan without some chains.
fn without(plan: &Plan, moved: &[usize]) -> Plan {
    let mut without = plan.clone();
    for band in &mut without {
        for column in band.iter_mut() {
            column.retain(|other| !moved.contains(other));
        }
        band.retain(|column| !column.is_empty());
    }
    without.retain(|band| !band.is_empty());
    without
}

/// Everywhere that some chains of a column could stand instead.
fn moves_of_chains(plan: &Plan, moved: &[usize]) -> Vec<Plan> {
    let without = without(plan, moved);
    let mut plans = Vec::new();
    for band in 0..without.len() {
        for column in 0..without[band].len() {
            let mut plan = without.clone();
            plan[band][column].extend(moved);
            plans.push(plan);
        }
        for column in 0..=without[band].len() {
            let mut plan = without.clone();
            plan[band].insert(column, moved.to_vec());
            plans.push(plan);
        }
    }
    for band in without.len().min(1)..=without.len() {
        let mut plan = without.clone();
        plan.insert(band, vec![moved.to_vec()]);
        plans.push(plan);
    }
    plans
}

/// A chain and those in its column that begin below it.
fn with_those_below(plan: &Plan, chain: usize, graph: &Graph) -> Vec<usize> {
    let column = plan.iter().flatten().find(|column| column.contains(&chain));
    let top = |chain: usize| graph.rank[graph.chains[chain].top()];
    let below = |other: &usize| *other == chain || top(*other) > top(chain);
    column.map_or_else(|| vec![chain], |column| column.iter().copied().filter(below).collect())
}

/// Everywhere that a column could stand instead, and bands exchanged.
fn moves_of_columns(plan: &Plan) -> Vec<Plan> {
    let mut plans = Vec::new();
    for band in 0..plan.len() {
        for column in 0..plan[band].len() {
            let mut without = plan.clone();
            let moved = without[band].remove(column);
            for other in 0..without.len() {
                for place in 0..=without[other].len() {
                    let mut plan = without.clone();
                    plan[other].insert(place, moved.clone());
                    plan.retain(|band| !band.is_empty());
                    plans.push(plan);
                }
            }
        }
    }
    for first in 1..plan.len() {
        for second in first + 1..plan.len() {
            let mut plan = plan.clone();
            plan.swap(first, second);
            plans.push(plan);
        }
    }
    plans
}

/// How bad a picture would be, in units of the picture.
fn badness(plan: &Plan, wish: &Wish<'_>) -> f64 {
    let mut bad = 0.0;
    let mut bands_of = vec![0_usize; wish.graph.rank.len()];
    let mut at = vec![None; wish.graph.chains.len()];
    for (number, columns) in plan.iter().enumerate() {
        let band = lay(columns, wish.graph, wish.sizes);
        let (wires, width) = across(columns, wish.sizes);
        bad += 1e5 * band.clashes as f64;
        bad += if width > wish.width { 3000.0 + 100.0 * (width - wish.width) } else { 0.0 };
        bad += 260.0 * band.crossings as f64;
        bad += wish.height_cost * (band.height + GAP);
        bad += 0.05 * width;
        for rail in &band.rails {
            let (Some(first), Some(last)) = (rail.columns.first(), rail.columns.last()) else { continue };
            bad += 0.25 * (wires[*last] - wires[*first]);
        }
        let mut seen: Vec<usize> = Vec::new();
        for (chain, placed) in &band.placed {
            at[*chain] = Some((number, placed.column));
            let of = &wish.graph.chains[*chain];
            seen.extend([of.top(), of.foot()].iter().filter(|node| !wish.graph.everywhere[**node]));
            if of.supply && (number, placed.column) != (0, 0)
                || of.heavy && number + placed.column.saturating_sub(1) > 0
            {
                bad += 2000.0;
            }
        }
        seen.sort_unstable();
        seen.dedup();
        seen.iter().for_each(|node| bands_of[*node] += 1);
    }
    bad += wish.name_cost * bands_of.iter().map(|bands| bands.saturating_sub(1)).sum::<usize>() as f64;
    for (upper, lower, cost) in &wish.follows {
        if let (Some(upper), Some(lower)) = (at[*upper], at[*lower])
            && upper != lower
        {
            bad += cost;
        }
    }
    for (coil, contact) in wish.links {
        // While chains are taken out, nothing is said about them.
        let (Some((coil_band, coil_column)), Some((band, column))) = (at[*coil], at[*contact]) else { continue };
        if coil_band != band || coil_column != column + 1 {
            bad += 150.0;
        }
    }
    bad
}
