//! Where everything stands: the plan turned into signs, wires, nodes and labels with their places.
//! Promise: a box for everything that is drawn and read, so that overlaps can be looked for and not only seen.

use machine::Machine;
use machine::kind::spec::Terminals;
use quantity::Amps;

use crate::element::{Element, LEAD_AT, elements};
use crate::graph::{Graph, graph};
use crate::overlay::Potentials;
use crate::plan::{Band, GAP, LEFT, Placed, Plan, START, Size, across, lay};
use crate::search::{Wish, search};
use crate::symbol::{HALF, LEAD, Sign, leads};
use crate::text::{fit, width};

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
    fn units(self) -> f64 {
        match self {
            Self::Wide => 1240.0,
            Self::Narrow => 390.0,
            Self::Print => 718.0,
        }
    }

    /// Widest text beside a wire.
    fn text(self) -> f64 {
        match self {
            Self::Wide => 150.0,
            Self::Narrow => 134.0,
            Self::Print => 122.0,
        }
    }
}

/// Around the picture.
pub(crate) const MARGIN: f64 = 6.0;
/// From a node to its label.
pub(crate) const LABEL: f64 = 9.0;
/// Width kept free for a potential before a node's name.
pub(crate) const VALUE: f64 = 60.0;

/// From a foot to its name.
const FOOT_LABEL: f64 = 16.0;
/// Right of a column's texts.
const PAD: f64 = 6.0;

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
    crossings: usize,
    boxes: Vec<(String, Box4)>,
}

impl Layout {
    /// Lays out a machine.
    pub fn new(machine: &Machine, width: Width) -> Self {
        let (elements, untold) = elements(machine, width.text());
        let graph = graph(machine, &elements);
        let sizes: Vec<Size> = graph.chains.iter().map(|chain| size(machine, &elements, chain, width)).collect();
        let links = linked(machine, &elements, &graph);
        let chains_linked: Vec<(usize, usize)> = links.iter().map(|(_, coil, _, contact)| (*coil, *contact)).collect();
        let wish = Wish {
            graph: &graph,
            sizes: &sizes,
            width: width.units() - 2.0 * MARGIN,
            height_cost: if width == Width::Wide { 0.6 } else { 1.0 },
            name_cost: if width == Width::Narrow { 120.0 } else { 500.0 },
            links: &chains_linked,
        };
        let plan = search(&wish);
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
        layout.build(machine, &plan, &sizes, width);
        layout.link(&links);
        layout.enclose();
        layout
    }

    /// How many times a wire crosses another.
    pub fn crossings(&self) -> usize {
        self.crossings
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

    /// Labels that a wire runs through, by name: there are none.
    pub fn struck(&self) -> Vec<String> {
        let inside = |wire: &Wire, label: &Box4| {
            let [x1, y1, x2, y2] = wire.ends;
            x1.min(x2) < label[2] && x1.max(x2) > label[0] && y1.min(y2) < label[3] && y1.max(y2) > label[1]
        };
        let labels = self.boxes.iter().filter(|(name, _)| name.starts_with("label"));
        labels
            .filter(|(_, label)| self.wires.iter().any(|wire| inside(wire, label)))
            .map(|(name, _)| name.clone())
            .collect()
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

    fn build(&mut self, machine: &Machine, plan: &Plan, sizes: &[Size], width: Width) {
        for columns in plan {
            let band = lay(columns, &self.graph, sizes);
            let (mut wires, across) = across(columns, sizes);
            // What a column has beside its wire is room for names.
            let right = |column: &Vec<usize>| column.iter().map(|chain| sizes[*chain].right).fold(0.0, f64::max);
            let room: Vec<f64> = columns.iter().map(|column| right(column) - PAD).collect();
            wires.iter_mut().for_each(|x| *x += MARGIN);
            self.width = self.width.max(across + 2.0 * MARGIN);
            self.crossings += band.crossings;
            let down = self.height;
            let mut placed: Vec<&(usize, Placed)> = band.placed.iter().collect();
            placed.sort_by(|(_, left), (_, right)| left.column.cmp(&right.column).then(left.top.total_cmp(&right.top)));
            let mut railed = vec![false; band.rails.len()];
            for (chain, place) in placed {
                let ends = [(!place.named_top, self.graph.chains[*chain].top())];
                for (_, node) in ends.iter().filter(|(on_rail, _)| *on_rail) {
                    self.rail_once(machine, *node, &band, &mut railed, &wires, down, &room);
                }
                self.chain(machine, *chain, place, wires[place.column], down, room[place.column]);
                if !place.named_foot {
                    let node = self.graph.chains[*chain].foot();
                    self.rail_once(machine, node, &band, &mut railed, &wires, down, &room);
                }
            }
            self.height += band.height + GAP;
        }
        self.height += MARGIN - GAP;
        if width == Width::Narrow {
            self.width = self.width.max(width.units());
        }
    }

    #[expect(clippy::too_many_arguments, reason = "a step of `build`, which knows all of it")]
    fn rail_once(
        &mut self,
        machine: &Machine,
        node: usize,
        band: &Band,
        done: &mut [bool],
        wires: &[f64],
        down: f64,
        room: &[f64],
    ) {
        let Some(index) = band.rails.iter().position(|rail| rail.node == node) else { return };
        if std::mem::replace(&mut done[index], true) {
            return;
        }
        let rail = &band.rails[index];
        let y = down + rail.y;
        // What each column takes from the rail.
        let mut taken: Vec<Vec<(usize, f64)>> = vec![Vec::new(); rail.columns.len()];
        let mut heavy = vec![0_usize; rail.columns.len()];
        for (chain, placed) in &band.placed {
            let of = &self.graph.chains[*chain];
            let Some(place) = rail.columns.iter().position(|column| *column == placed.column) else { continue };
            let ends = [
                (!placed.named_top && of.top() == node, of.links.first(), 1.0),
                (!placed.named_foot && of.foot() == node, of.links.last(), -1.0),
            ];
            for (_, link, sign) in ends.iter().filter(|(here, ..)| *here) {
                if let Some((element, turned)) = link {
                    taken[place].push((*element, if *turned { -sign } else { *sign }));
                    heavy[place] += usize::from(of.heavy);
                }
            }
        }
        for place in 1..rail.columns.len() {
            let carries = taken[place..].iter().flatten().copied().collect();
            let both = heavy[..place].iter().sum::<usize>() > 0 && heavy[place..].iter().sum::<usize>() > 0;
            self.wires.push(Wire {
                ends: [wires[rail.columns[place - 1]], y, wires[rail.columns[place]], y],
                carries,
                heavy: both,
                told: false,
            });
        }
        let points: Vec<(f64, f64)> = rail.columns.iter().map(|column| (wires[*column], y)).collect();
        let x = points.first().map_or(0.0, |(x, _)| *x);
        let room = rail.columns.first().map_or(0.0, |column| room[*column]) - LABEL - VALUE;
        self.spots.push(Spot {
            node,
            points,
            name: fit(&named(machine, node, room), room),
            label: (x + LABEL + VALUE, y - 11.0),
            value: (x + LABEL, y - 11.0),
            end: End::Rail,
        });
    }

    fn chain(&mut self, machine: &Machine, chain: usize, place: &Placed, x: f64, down: f64, room: f64) {
        let of = self.graph.chains[chain].clone();
        let spot = |node: usize, y: f64, end: End, spots: &mut Vec<Spot>| {
            let value = (x + LABEL, y);
            let (label, room) = match end {
                End::Head => ((x + LABEL, y - 14.0), room - LABEL),
                End::Foot => ((x + FOOT_LABEL, y + 14.0), room - FOOT_LABEL),
                _ => ((x + LABEL + VALUE, y), room - LABEL - VALUE),
            };
            // Where a wire is replaced by a name, the name is told in full.
            let name = if end == End::Inner { named(machine, node, room) } else { machine.node_name(node).to_owned() };
            spots.push(Spot { node, points: vec![(x, y)], name: fit(&name, room), label, value, end });
        };
        if place.named_top {
            spot(of.top(), place.top + down, End::Head, &mut self.spots);
        }
        let mut above = place.top + down;
        for (index, ((element, turned), top)) in of.links.iter().zip(&place.elements).enumerate() {
            let top = top + down;
            let sign = if *turned { -1.0 } else { 1.0 };
            let heavy = self.graph.heavy[*element];
            if top > above {
                let carries = vec![(*element, sign)];
                self.wires.push(Wire { ends: [x, above, x, top], carries, heavy, told: index == 0 });
            }
            self.marks.push(Mark { element: *element, x, top, turned: *turned });
            above = top + self.elements[*element].height;
            self.leads(*element, x, top, machine);
            if index + 1 < of.links.len() {
                spot(of.nodes[index + 1], above, End::Inner, &mut self.spots);
            } else {
                let foot = place.foot + down;
                if foot > above {
                    let carries = vec![(*element, sign)];
                    self.wires.push(Wire { ends: [x, above, x, foot], carries, heavy, told: false });
                }
            }
        }
        if place.named_foot {
            spot(of.foot(), place.foot + down, End::Foot, &mut self.spots);
        }
    }

    /// The nodes at the leads of a regulator.
    fn leads(&mut self, element: usize, x: f64, top: f64, machine: &Machine) {
        let of = &self.elements[element];
        let phases = if of.leads.len() == 2 { 1 } else { 3 };
        for (node, height) in of.leads.iter().zip(leads(phases)) {
            let at = (x + LEAD, top + of.middle + height);
            let name = machine.node_name(*node).rsplit('.').next().unwrap_or_default();
            self.spots.push(Spot {
                node: *node,
                points: vec![at],
                name: fit(name, LEAD_AT - HALF),
                label: (x + HALF + 4.0, at.1 - 7.0),
                value: at,
                end: End::Lead,
            });
        }
    }

    /// Mechanical links from contacts to coils in the next column; stubs where the coil stands elsewhere.
    fn link(&mut self, links: &[(usize, usize, usize, usize)]) {
        for (coil, _, contact, _) in links {
            let find = |element: usize| self.marks.iter().find(|mark| mark.element == element);
            let (Some(coil), Some(contact)) = (find(*coil), find(*contact)) else { continue };
            let from = (contact.x + 3.0, contact.top + self.elements[contact.element].middle);
            let to = (coil.x - 14.0, coil.top + self.elements[coil.element].middle);
            let gutter = coil.x - LEFT + 3.0;
            let between = self.marks.iter().any(|mark| mark.x > contact.x && mark.x < coil.x)
                && self.struck_by([from.0, from.1, gutter, from.1]);
            let beside =
                coil.x > contact.x && !between && !self.struck_by([gutter, from.1.min(to.1), gutter, from.1.max(to.1)]);
            if beside {
                self.links.push(vec![from, (gutter, from.1), (gutter, to.1), to]);
            } else {
                self.links.push(vec![from, (from.0 + 14.0, from.1)]);
                self.links.push(vec![(to.0 - 10.0, to.1), to]);
            }
        }
    }

    /// Whether a line would run through a sign or a sign's column.
    fn struck_by(&self, line: [f64; 4]) -> bool {
        self.marks.iter().any(|mark| {
            let element = &self.elements[mark.element];
            let right = mark.x + element.lines.iter().map(|line| width(line)).fold(HALF, f64::max) + HALF;
            line[0] <= right
                && line[2] >= mark.x - HALF
                && line[1] < mark.top + element.height
                && line[3] > mark.top
                && mark.x > line[0] - 1.0
        })
    }

    fn enclose(&mut self) {
        let mut boxes = Vec::new();
        for mark in &self.marks {
            let element = &self.elements[mark.element];
            let middle = mark.top + element.middle;
            for [left, up, right, down] in element.sign.covers() {
                let covered = [mark.x + left, middle + up, mark.x + right, middle + down];
                boxes.push((format!("sign of {}", element.title), covered));
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

/// A node's name, short where it is long and its part stands beside it.
fn named(machine: &Machine, node: usize, room: f64) -> String {
    let name = machine.node_name(node);
    let Some((part, terminal)) = name.split_once('.') else { return name.to_owned() };
    let part = machine.part(part).ok().map(|part| &machine.sheet.parts[part]);
    match part {
        Some(part) if part.kind.name == "cable" => "lug".to_owned(),
        Some(part) if matches!(part.kind.terminals, Terminals::Ends { .. }) => terminal.to_owned(),
        _ if width(name) > room => terminal.to_owned(),
        _ => name.to_owned(),
    }
}

/// Coils with their contacts: element and chain of each.
fn linked(machine: &Machine, elements: &[Element], graph: &Graph) -> Vec<(usize, usize, usize, usize)> {
    let chain_of =
        |element: usize| graph.chains.iter().position(|chain| chain.links.iter().any(|(other, _)| *other == element));
    let mut links = Vec::new();
    for (contact, element) in elements.iter().enumerate().filter(|(_, element)| element.sign == Sign::Contact) {
        let coil = elements.iter().position(|other| {
            let kind = machine.sheet.parts[other.part].kind.name;
            other.part == element.part
                && (other.sign == Sign::Coil || kind == "solenoid" && other.title.ends_with("hold-in winding"))
        });
        let Some(coil) = coil else { continue };
        if let (Some(coil_chain), Some(contact_chain)) = (chain_of(coil), chain_of(contact)) {
            links.push((coil, coil_chain, contact, contact_chain));
        }
    }
    links
}

/// Sizes of a chain with its labels.
fn size(machine: &Machine, elements: &[Element], chain: &crate::graph::Chain, across: Width) -> Size {
    let room = across.text() - VALUE;
    let mut right: f64 = LABEL + VALUE;
    for (element, _) in &chain.links {
        let element = &elements[*element];
        right = right.max(element.reach());
        right = element.lines.iter().map(|line| element.label_at() + width(line)).fold(right, f64::max);
    }
    for (place, node) in chain.nodes.iter().enumerate() {
        let end = place == 0 || place + 1 == chain.nodes.len();
        right = right.max(LABEL + VALUE + width(&fit(&named(machine, *node, room), room)));
        if end {
            right = right.max(FOOT_LABEL + width(&fit(machine.node_name(*node), across.text())));
        }
        if end && across == Width::Wide {
            right = right.max(LABEL + VALUE + width(&fit(machine.node_name(*node), 120.0)));
        }
    }
    let heights = chain.links.iter().map(|(element, _)| elements[*element].height).collect();
    Size { heights, right: right + PAD }
}
