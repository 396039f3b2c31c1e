//! Where chains stand: bands one below the other, in each band columns, in each column chains one below the other.
//! Idea: a node is a rail, a horizontal wire that its chains hang from and stand on; a sweep from supply to ground gives
//! every rail its height. A rail that passes a foreign column slips between two of its elements, so that nothing but a
//! wire is ever crossed. A chain's end that is alone in its band is drawn with the node's name instead of a wire.
//! Promise: what stands in a column never overlaps; crossings are counted, not guessed.

use crate::graph::Graph;

/// From a rail to the first element below it: room for the current's number.
pub(crate) const START: f64 = 22.0;
/// From the last element to the rail below it: room for the rail's label.
const END: f64 = 24.0;
/// From what ends in a column to a rail or chain below it.
const ROOM: f64 = 24.0;
/// From a rail to the next that overlaps it.
const RAILS: f64 = 24.0;
/// From a node to a rail that slips in below it.
const SLIP: f64 = 14.0;
/// What a foot takes below its node.
const FOOT: f64 = 25.0;
/// Room above a node that hangs from its name.
const HEAD: f64 = 30.0;
/// How far a rail is pushed down rather than cross a wire.
const PUSH: f64 = 70.0;
/// Between bands.
pub(crate) const GAP: f64 = 26.0;
/// Left of a column's wire.
pub(crate) const LEFT: f64 = 28.0;

/// Bands, columns, chains from the top.
pub(crate) type Plan = Vec<Vec<Vec<usize>>>;

/// Sizes of a chain.
#[derive(Clone, Debug)]
pub(crate) struct Size {
    /// Height of each of its elements.
    pub heights: Vec<f64>,
    /// Room above each of them for the name of the node above it.
    pub before: Vec<f64>,
    /// Width right of the wire.
    pub right: f64,
}

/// A node's horizontal wire.
#[derive(Clone, Debug)]
pub(crate) struct Rail {
    /// The node.
    pub node: usize,
    /// Its height.
    pub y: f64,
    /// Columns of the chains at it, ascending.
    pub columns: Vec<usize>,
}

/// A chain in its place.
#[derive(Clone, Debug, Default)]
pub(crate) struct Placed {
    /// Its column.
    pub column: usize,
    /// Height of its upper node.
    pub top: f64,
    /// Tops of its elements.
    pub elements: Vec<f64>,
    /// Height of its lower node.
    pub foot: f64,
    /// Whether its upper node hangs from its name instead of a rail.
    pub named_top: bool,
    /// Whether its lower node ends in a foot instead of a rail.
    pub named_foot: bool,
}

/// A band laid out.
#[derive(Clone, Debug, Default)]
pub(crate) struct Band {
    /// Its rails.
    pub rails: Vec<Rail>,
    /// Its chains, by number.
    pub placed: Vec<(usize, Placed)>,
    /// Wires that cross.
    pub crossings: usize,
    /// Height of it all.
    pub height: f64,
    /// Things that want the same place.
    pub clashes: usize,
}

enum Event {
    Start(usize),
    Rail(usize),
}

struct Column {
    /// The chain that is being placed.
    active: Option<usize>,
    /// Chains between names that wait until there is room.
    waiting: Vec<usize>,
    /// Lower end of what stands there.
    floor: f64,
}

/// Lays out one band.
pub(crate) fn lay(columns: &[Vec<usize>], graph: &Graph, sizes: &[Size]) -> Band {
    Sweep::new(columns, graph, sizes).run()
}

struct Sweep<'a> {
    graph: &'a Graph,
    sizes: &'a [Size],
    band: Band,
    columns: Vec<Column>,
    /// Place in `band.placed` of each chain.
    place: Vec<usize>,
    /// Lower end of what is placed of each chain.
    cursor: Vec<f64>,
}

impl<'a> Sweep<'a> {
    fn new(columns: &[Vec<usize>], graph: &'a Graph, sizes: &'a [Size]) -> Self {
        let mut band = Band::default();
        let mut place = vec![usize::MAX; graph.chains.len()];
        let mut ends = vec![0_usize; graph.rank.len()];
        for (column, chains) in columns.iter().enumerate() {
            for chain in chains {
                place[*chain] = band.placed.len();
                band.placed.push((*chain, Placed { column, ..Placed::default() }));
                let of = &graph.chains[*chain];
                for node in [of.top(), of.foot()] {
                    ends[node] += usize::from(!graph.everywhere[node] || of.heavy);
                }
            }
        }
        for (chain, placed) in &mut band.placed {
            let of = &graph.chains[*chain];
            let named = |node: usize| ends[node] < 2 || graph.everywhere[node] && !of.heavy;
            placed.named_top = named(of.top());
            placed.named_foot = named(of.foot()) || of.top() == of.foot();
        }
        let columns = columns.iter().map(|_| Column { active: None, waiting: Vec::new(), floor: 0.0 }).collect();
        Self { graph, sizes, band, columns, place, cursor: vec![0.0; graph.chains.len()] }
    }

    fn run(mut self) -> Band {
        let mut events: Vec<(usize, usize, Event)> = Vec::new();
        for (place, (chain, placed)) in self.band.placed.iter().enumerate() {
            let of = &self.graph.chains[*chain];
            if placed.named_top {
                events.push((self.graph.rank[of.top()], place + 1, Event::Start(*chain)));
            }
            for (named, node) in [(placed.named_top, of.top()), (placed.named_foot, of.foot())] {
                let known = events.iter().any(|(_, _, event)| matches!(event, Event::Rail(rail) if *rail == node));
                if !named && !known {
                    events.push((self.graph.rank[node], 0, Event::Rail(node)));
                }
            }
        }
        events.sort_by_key(|(rank, place, _)| (*rank, *place));
        for (_, _, event) in events {
            match event {
                Event::Start(chain) => self.start(chain),
                Event::Rail(node) => self.rail(node),
            }
        }
        for column in 0..self.columns.len() {
            self.clear(column);
            for chain in std::mem::take(&mut self.columns[column].waiting) {
                self.start(chain);
                self.clear(column);
            }
        }
        self.band.height = self.columns.iter().map(|column| column.floor).fold(0.0, f64::max);
        self.band
    }

    fn placed(&mut self, chain: usize) -> &mut Placed {
        &mut self.band.placed[self.place[chain]].1
    }

    fn remaining(&self, chain: usize) -> f64 {
        let done = self.band.placed[self.place[chain]].1.elements.len();
        let size = &self.sizes[chain];
        size.heights.iter().zip(&size.before).skip(done).map(|(height, before)| height + before).sum()
    }

    /// Places elements of a chain as long as they end above a limit.
    fn settle(&mut self, chain: usize, limit: f64) {
        loop {
            let done = self.band.placed[self.place[chain]].1.elements.len();
            let Some(height) = self.sizes[chain].heights.get(done).copied() else { return };
            let top = self.cursor[chain] + self.sizes[chain].before[done];
            if top + height > limit {
                return;
            }
            self.placed(chain).elements.push(top);
            self.cursor[chain] = top + height;
        }
    }

    /// Ends what stands in a column, if it ends in a foot.
    fn clear(&mut self, column: usize) {
        let Some(chain) = self.columns[column].active else { return };
        if !self.band.placed[self.place[chain]].1.named_foot {
            self.band.clashes += 1;
        }
        self.settle(chain, f64::INFINITY);
        let foot = self.cursor[chain];
        self.placed(chain).foot = foot;
        self.columns[column].active = None;
        self.columns[column].floor = foot + FOOT;
    }

    /// A chain that hangs from its name.
    fn start(&mut self, chain: usize) {
        let column = self.band.placed[self.place[chain]].1.column;
        let railed = |chain: usize| !self.band.placed[self.place[chain]].1.named_foot;
        if self.columns[column].active.is_some_and(railed) && !railed(chain) {
            self.columns[column].waiting.push(chain);
            return;
        }
        self.clear(column);
        let top = self.columns[column].floor + HEAD;
        self.begin(chain, column, top);
    }

    fn begin(&mut self, chain: usize, column: usize, top: f64) {
        self.placed(chain).top = top;
        self.cursor[chain] = top + START;
        self.columns[column].floor = top;
        self.columns[column].active = Some(chain);
    }

    fn rail(&mut self, node: usize) {
        let mut starting = Vec::new();
        let mut ending = Vec::new();
        for (chain, placed) in &self.band.placed {
            let of = &self.graph.chains[*chain];
            if of.top() == node && !placed.named_top {
                starting.push((*chain, placed.column));
            }
            if of.foot() == node && !placed.named_foot {
                ending.push((*chain, placed.column));
            }
        }
        let mut columns: Vec<usize> = starting.iter().chain(&ending).map(|(_, column)| *column).collect();
        columns.sort_unstable();
        columns.dedup();
        let (Some(first), Some(last)) = (columns.first().copied(), columns.last().copied()) else { return };
        // What stands where a chain begins has to end first.
        for (_, column) in &starting {
            if let Some(active) = self.columns[*column].active
                && !ending.iter().any(|(chain, _)| *chain == active)
            {
                self.clear(*column);
            }
        }
        let mut y: f64 = 0.0;
        for column in first..=last {
            let floor = self.columns[column].floor;
            let least = match self.columns[column].active {
                Some(chain) if ending.iter().any(|(other, _)| *other == chain) => {
                    self.cursor[chain] + self.remaining(chain) + END
                }
                Some(chain) => (floor + RAILS).max(self.cursor[chain] - START + RAILS),
                None => floor + ROOM,
            };
            // The label stands in the first column.
            y = y.max(least + if column == first { self.graph.rows[node] } else { 0.0 });
        }
        for column in first..=last {
            if let Some(chain) = self.columns[column].active
                && !columns.contains(&column)
                && self.band.placed[self.place[chain]].1.named_foot
            {
                let whole = self.cursor[chain] + self.remaining(chain) + FOOT + 4.0;
                if whole > y && whole - y <= PUSH {
                    y = whole;
                }
            }
        }
        for column in first..=last {
            let Some(chain) = self.columns[column].active else {
                self.columns[column].floor = self.columns[column].floor.max(y);
                continue;
            };
            if ending.iter().any(|(other, _)| *other == chain) {
                self.settle(chain, f64::INFINITY);
                self.placed(chain).foot = y;
                self.columns[column].active = None;
                self.columns[column].floor = y;
                continue;
            }
            if columns.contains(&column) {
                self.band.clashes += 1;
                continue;
            }
            let whole = self.cursor[chain] + self.remaining(chain) + FOOT;
            if self.band.placed[self.place[chain]].1.named_foot && whole <= y {
                self.clear(column);
                self.columns[column].floor = y;
            } else {
                self.settle(chain, y - SLIP);
                self.cursor[chain] = self.cursor[chain].max(y + 10.0);
                self.columns[column].floor = y;
                self.band.crossings += 1;
            }
        }
        for (chain, _) in &ending {
            if self.columns.iter().any(|column| column.active == Some(*chain)) || self.placed(*chain).foot == 0.0 {
                self.band.clashes += 1;
            }
        }
        for (chain, column) in starting {
            if self.columns[column].active.is_some() {
                self.band.clashes += 1;
            }
            self.begin(chain, column, y);
        }
        for (_, column) in &ending {
            if self.columns[*column].active.is_none() && !self.columns[*column].waiting.is_empty() {
                let chain = self.columns[*column].waiting.remove(0);
                self.start(chain);
            }
        }
        self.band.rails.push(Rail { node, y, columns });
    }
}

/// Where the wire of each column stands, and the width of it all.
pub(crate) fn across(columns: &[Vec<usize>], sizes: &[Size]) -> (Vec<f64>, f64) {
    let mut x = 0.0;
    let mut wires = Vec::with_capacity(columns.len());
    for chains in columns {
        wires.push(x + LEFT);
        x += LEFT + chains.iter().map(|chain| sizes[*chain].right).fold(0.0, f64::max);
    }
    (wires, x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::graph::Chain;

    fn chain(nodes: &[usize]) -> Chain {
        let links = (1..nodes.len()).map(|element| (element, false)).collect();
        Chain { links, nodes: nodes.to_vec(), heavy: false, supply: false }
    }

    #[test]
    fn law_a_rail_that_crosses_a_column_slips_between_two_of_its_elements() {
        // The short way from 0 over 2 to 3 has to pass the long one, which stands between its two columns.
        let chains = vec![chain(&[0, 2]), chain(&[0, 4, 5, 6, 3]), chain(&[2, 3])];
        let sizes: Vec<Size> = chains
            .iter()
            .map(|chain| {
                let count = chain.links.len();
                Size { heights: vec![40.0; count], before: vec![0.0; count], right: 100.0 }
            })
            .collect();
        let graph = Graph {
            chains,
            rank: vec![0, 7, 5, 6, 1, 2, 3],
            everywhere: vec![false; 7],
            heavy: vec![false; 5],
            rows: vec![0.0; 7],
        };
        let band = lay(&[vec![0], vec![1], vec![2]], &graph, &sizes);
        assert_eq!((band.crossings, band.clashes), (1, 0));
        let rail = band.rails.iter().find(|rail| rail.node == 2).unwrap();
        assert_eq!(rail.columns, [0, 2]);
        let (_, long) = band.placed.iter().find(|(chain, _)| *chain == 1).unwrap();
        assert_eq!(long.elements.len(), 4);
        let (above, below): (Vec<f64>, Vec<f64>) = long.elements.iter().partition(|top| **top < rail.y);
        assert!(!above.is_empty() && !below.is_empty(), "{:?} at {}", long.elements, rail.y);
        assert!(above.iter().all(|top| top + 40.0 + 10.0 <= rail.y), "{above:?} at {}", rail.y);
        assert!(below.iter().all(|top| *top >= rail.y + 10.0), "{below:?} at {}", rail.y);
        assert!(long.elements.windows(2).all(|pair| pair[1] >= pair[0] + 40.0));
        // In the order of the wires nothing has to be crossed.
        assert_eq!(lay(&[vec![1], vec![0], vec![2]], &graph, &sizes).crossings, 0);
    }
}
