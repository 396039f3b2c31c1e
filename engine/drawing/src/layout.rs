//! Where everything stands: the plan turned into signs, wires, nodes and labels with their places.
//! Promise: a box for everything that is drawn and read, so that overlaps can be looked for and not only seen.

use machine::Machine;
use quantity::Amps;

use crate::build::{linked, rows, sign_of, size};
use crate::element::{Element, elements};
use crate::graph::{Graph, graph};
use crate::overlay::Potentials;
use crate::plan::{START, Size};
use crate::search::{Wish, search};
use crate::text::width;

/// How wide the picture may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Width {
    /// A screen: about 1200 units.
    Wide,
    /// A phone: 390 px, laid out anew and not scaled.
    Narrow,
    /// A4 paper, upright: 718 units, which are 190 mm at 96 units an inch.
    Print,
}

impl Width {
    pub(crate) fn units(self) -> f64 {
        match self {
            Self::Wide => 1240.0,
            Self::Narrow => 390.0,
            Self::Print => 718.0,
        }
    }

    /// Widest text beside a wire.
    pub(crate) fn text(self) -> f64 {
        match self {
            Self::Wide => 150.0,
            Self::Narrow => 136.0,
            Self::Print => 150.0,
        }
    }

    /// Widest name of a node behind its potential.
    pub(crate) fn name(self) -> f64 {
        match self {
            Self::Wide => 122.0,
            Self::Narrow => 87.0,
            Self::Print => 101.0,
        }
    }
}

/// Around the picture.
pub(crate) const MARGIN: f64 = 6.0;
/// From a node to its label.
pub(crate) const LABEL: f64 = 9.0;
/// Width kept free for a potential before a node's name.
pub(crate) const VALUE: f64 = 58.0;

/// From a foot to its name.
pub(crate) const FOOT_LABEL: f64 = 16.0;
/// Right of a column's texts.
pub(crate) const PAD: f64 = 6.0;

/// A rectangle: left, top, right, bottom.
pub(crate) type Box4 = [f64; 4];

/// A sign in its place.
#[derive(Clone, Debug)]
pub(crate) struct Mark {
    /// Index of the element.
    pub element: usize,
    /// The wire it stands on.
    pub x: f64,
    /// Its upper node.
    pub top: f64,
    /// Whether its first terminal is at its foot.
    pub turned: bool,
}

/// A straight wire.
#[derive(Clone, Debug)]
pub(crate) struct Wire {
    /// Its ends: x, y, x, y.
    pub ends: [f64; 4],
    /// Whose currents it carries from its first end to its second: element and sign.
    pub carries: Vec<(usize, f64)>,
    /// Part of the starter's circuit.
    pub heavy: bool,
    /// Whether the current's number is written beside it.
    pub told: bool,
}

/// How a node ends there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum End {
    /// Between two signs.
    Inner,
    /// A horizontal wire; whether the frame's sign or its name goes on elsewhere.
    Rail,
    /// Hangs from its name.
    Head,
    /// Ends in a foot.
    Foot,
    /// At the lead of a regulator.
    Lead,
}

/// A place where a node can be touched.
#[derive(Clone, Debug)]
pub(crate) struct Spot {
    /// The node.
    pub node: usize,
    /// Where; the first has the label.
    pub points: Vec<(f64, f64)>,
    /// Its name as it fits.
    pub name: String,
    /// Where the name begins, and its middle.
    pub label: (f64, f64),
    /// Where the potential begins, and its middle.
    pub value: (f64, f64),
    /// How the node ends there.
    pub end: End,
}

/// Where everything stands: signs, wires, labels. It depends on the machine and the width alone.
#[derive(Clone, Debug)]
pub struct Layout {
    pub(crate) width: f64,
    pub(crate) height: f64,
    pub(crate) elements: Vec<Element>,
    pub(crate) graph: Graph,
    pub(crate) marks: Vec<Mark>,
    pub(crate) wires: Vec<Wire>,
    pub(crate) spots: Vec<Spot>,
    /// Mechanical links: corners.
    pub(crate) links: Vec<Vec<(f64, f64)>>,
    /// Parts that stand nowhere.
    pub(crate) untold: Vec<usize>,
    pub(crate) crossings: usize,
    pub(crate) boxes: Vec<(String, Box4)>,
}

impl Layout {
    /// Lays out a machine.
    pub fn new(machine: &Machine, width: Width) -> Self {
        let (elements, untold) = elements(machine, width.text());
        let mut graph = graph(machine, &elements);
        graph.rows = rows(machine, width);
        let sizes: Vec<Size> =
            graph.chains.iter().map(|chain| size(machine, &elements, chain, &graph.rows, width)).collect();
        let links = linked(machine, &elements, &graph);
        let chains_linked: Vec<(usize, usize)> = links.iter().map(|(_, coil, _, contact)| (*coil, *contact)).collect();
        let wish = Wish {
            graph: &graph,
            sizes: &sizes,
            width: width.units() - 2.0 * MARGIN,
            height_cost: if width == Width::Wide { 0.6 } else { 1.0 },
            name_cost: if width == Width::Narrow { 120.0 } else { 500.0 },
            links: &chains_linked,
            follows: Vec::new(),
        };
        let plan = search(wish);
        let mut layout = Self {
            width: 0.0,
            height: MARGIN,
            elements,
            graph,
            marks: Vec::new(),
            wires: Vec::new(),
            spots: Vec::new(),
            links: Vec::new(),
            untold,
            crossings: 0,
            boxes: Vec::new(),
        };
        layout.build(machine, &plan, &sizes);
        layout.enclose();
        layout.link(&links);
        layout
    }

    /// How many times a wire crosses another.
    pub fn crossings(&self) -> usize {
        self.crossings
    }

    /// How many wires are replaced by a name that stands in several places, grounds apart.
    pub fn parted(&self) -> usize {
        let places = |node: &usize| self.spots.iter().filter(|spot| spot.node == *node).count();
        let nodes = self.nodes();
        let parted = nodes.iter().filter(|node| !self.graph.everywhere[**node]);
        parted.map(|node| places(node).saturating_sub(1)).sum()
    }

    /// Width of the picture, units.
    pub fn width(&self) -> f64 {
        self.width
    }

    /// Height of the picture without legend and heading, units.
    pub fn height(&self) -> f64 {
        self.height
    }

    /// Signs and labels whose boxes overlap, by name: there are none.
    pub fn overlaps(&self) -> Vec<(String, String)> {
        let mut found = Vec::new();
        for (index, (name, one)) in self.boxes.iter().enumerate() {
            for (other_name, other) in &self.boxes[index + 1..] {
                let apart = one[2] <= other[0] || other[2] <= one[0] || one[3] <= other[1] || other[3] <= one[1];
                if !apart {
                    found.push((name.clone(), other_name.clone()));
                }
            }
        }
        found
    }

    /// Labels that a wire or a mechanical link runs through, by name: there are none.
    pub fn struck(&self) -> Vec<String> {
        let corners = self.links.iter().flat_map(|link| link.windows(2));
        let links = corners.map(|pair| [pair[0].0, pair[0].1, pair[1].0, pair[1].1]);
        let lines: Vec<[f64; 4]> = self.wires().chain(links).collect();
        let inside = |[x1, y1, x2, y2]: &[f64; 4], label: &Box4| {
            x1.min(*x2) < label[2] && x1.max(*x2) > label[0] && y1.min(*y2) < label[3] && y1.max(*y2) > label[1]
        };
        let labels = self.boxes.iter().filter(|(name, _)| name.starts_with("label"));
        labels.filter(|(_, label)| lines.iter().any(|line| inside(line, label))).map(|(name, _)| name.clone()).collect()
    }

    /// Nodes that can be touched somewhere, ascending.
    pub fn nodes(&self) -> Vec<usize> {
        let mut nodes: Vec<usize> = self.spots.iter().map(|spot| spot.node).collect();
        nodes.sort_unstable();
        nodes.dedup();
        nodes
    }

    /// All wires: x, y, x, y.
    pub fn wires(&self) -> impl Iterator<Item = [f64; 4]> {
        self.wires.iter().map(|wire| wire.ends)
    }

    /// The largest current that comes to a column of a rail and does not leave it, amperes: nothing but rounding as long
    /// as no fault bridges two nodes.
    pub fn imbalance(&self, solution: &Potentials) -> Amps {
        let amps = |(element, sign): &(usize, f64)| {
            solution.amps.get(self.elements[*element].branch).map_or(0.0, |amps| amps.0 * sign)
        };
        let carried = |wire: &Wire| wire.carries.iter().map(amps).sum::<f64>();
        let mut worst: f64 = 0.0;
        for spot in self.spots.iter().filter(|spot| spot.end == End::Rail && self.is_whole(spot)) {
            for (x, y) in &spot.points {
                let flows = self.wires.iter().map(|wire| {
                    let [x1, y1, x2, y2] = wire.ends;
                    let leaves = (x1, y1) == (*x, *y);
                    let comes = (x2, y2) == (*x, *y);
                    if leaves {
                        -carried(wire)
                    } else if comes {
                        carried(wire)
                    } else {
                        0.0
                    }
                });
                worst = worst.max(flows.sum::<f64>().abs());
            }
        }
        Amps(worst)
    }

    /// Whether a rail is all that is drawn of its node.
    fn is_whole(&self, spot: &Spot) -> bool {
        self.spots.iter().filter(|other| other.node == spot.node).count() == 1
    }

    fn enclose(&mut self) {
        let mut boxes = Vec::new();
        for mark in &self.marks {
            let element = &self.elements[mark.element];
            let middle = mark.top + element.middle;
            for [left, up, right, down] in element.sign.covers() {
                let covered = [mark.x + left, middle + up, mark.x + right, middle + down];
                boxes.push((sign_of(&element.title), covered));
            }
            for (line, y) in self.lines(mark) {
                let x = mark.x + element.label_at();
                boxes.push((format!("label of {}", element.title), text_box(x, y, width(&line))));
            }
        }
        for wire in self.wires.iter().filter(|wire| wire.told) {
            let y = wire.ends[1] + START - 9.0;
            boxes.push(("label of a current".to_owned(), text_box(wire.ends[0] + LABEL, y, VALUE)));
        }
        for spot in &self.spots {
            let (x, y) = spot.points.first().copied().unwrap_or_default();
            let sign = format!("end sign of node {}", spot.name);
            match spot.end {
                End::Foot => boxes.push((sign, [x - 19.0, y + 6.0, x + 13.0, y + 17.0])),
                End::Head => boxes.push((sign, [x - 6.0, y - 14.0, x + 6.0, y - 5.0])),
                End::Rail => boxes.push((sign, [x - 27.0, y - 1.0, x - 5.0, y + 15.0])),
                End::Inner | End::Lead => {}
            }
            let (x, y) = spot.label;
            boxes.push((format!("label of node {}", spot.name), text_box(x, y, width(&spot.name))));
            if spot.end != End::Lead {
                let (x, y) = spot.value;
                boxes.push((format!("label of potential {}", spot.name), text_box(x, y, VALUE - 2.0)));
            }
        }
        self.boxes = boxes;
    }

    /// The lines of a sign's label with the heights of their middles.
    pub(crate) fn lines(&self, mark: &Mark) -> Vec<(String, f64)> {
        let element = &self.elements[mark.element];
        let first = mark.top + element.first_line();
        let line = |(index, line): (usize, &String)| (line.clone(), first + index as f64 * crate::text::LINE);
        element.lines.iter().enumerate().map(line).collect()
    }
}

fn text_box(x: f64, middle: f64, width: f64) -> Box4 {
    [x, middle - 6.0, x + width, middle + 6.0]
}
