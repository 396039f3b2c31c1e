//! Turns a plan into wires, signs, nodes and links with their places.
//! Promise: a rail's wires know whose currents they carry, so that what is drawn obeys Kirchhoff's first law.

use machine::Machine;
use machine::kind::spec::Terminals;

use crate::element::{Element, LEAD_AT};
use crate::graph::{Chain, Graph};
use crate::layout::{End, FOOT_LABEL, LABEL, Layout, MARGIN, Mark, PAD, Spot, VALUE, Width, Wire};
use crate::plan::{Band, GAP, LEFT, Placed, Plan, Size, across, lay};
use crate::symbol::{HALF, LEAD, PLUG, Sign, leads};
use crate::text::{LINE, fit, width};

impl Layout {
    pub(crate) fn build(&mut self, machine: &Machine, plan: &Plan, sizes: &[Size]) {
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
        self.height += 2.0 * MARGIN - GAP;
        // Nothing is narrower than a phone: heading and legend need room too.
        self.width = self.width.max(Width::Narrow.units());
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
        let room = rail.columns.first().map_or(0.0, |column| room[*column]);
        let value = (x + LABEL, y - 11.0);
        let rows = self.graph.rows[node];
        let (label, room) = match rows > 0.0 {
            true => ((x + LABEL, y - 11.0 - rows), room - LABEL),
            false => ((x + LABEL + VALUE, y - 11.0), room - LABEL - VALUE),
        };
        self.spots.push(Spot { node, points, name: fit(&named(machine, node), room), label, value, end: End::Rail });
    }

    fn chain(&mut self, machine: &Machine, chain: usize, place: &Placed, x: f64, down: f64, room: f64) {
        let of = self.graph.chains[chain].clone();
        let rows = self.graph.rows.clone();
        let spot = |node: usize, y: f64, end: End, spots: &mut Vec<Spot>| {
            let value = (x + LABEL, y);
            let (label, room) = match end {
                End::Inner if rows[node] > 0.0 => ((x + LABEL, y + rows[node]), room - LABEL),
                End::Head => ((x + LABEL, y - 14.0), room - LABEL),
                End::Foot => ((x + FOOT_LABEL, y + 14.0), room - FOOT_LABEL),
                _ => ((x + LABEL + VALUE, y), room - LABEL - VALUE),
            };
            // Where a wire is replaced by a name, the name is told in full.
            let name = if end == End::Inner { named(machine, node) } else { machine.node_name(node).to_owned() };
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

    /// The nodes at the leads of a regulator and, behind a plug, of its winding.
    fn leads(&mut self, element: usize, x: f64, top: f64, machine: &Machine) {
        let of = &self.elements[element];
        let (Sign::Regulator(phases) | Sign::Charger(phases, _)) = of.sign else { return };
        let rows = leads(phases);
        for (index, node) in of.leads.iter().enumerate() {
            let behind = index >= rows.len();
            let y = top + of.middle + rows[index % rows.len()];
            let name = machine.node_name(*node).rsplit('.').next().unwrap_or_default();
            self.spots.push(Spot {
                node: *node,
                points: vec![(x + LEAD + if behind { PLUG } else { 0.0 }, y)],
                name: if behind { String::new() } else { fit(name, LEAD_AT - HALF) },
                label: (x + HALF + 4.0, y - 7.0),
                value: (x + HALF + 4.0, y - 7.0),
                end: End::Lead,
            });
        }
    }

    /// Mechanical links from contacts to coils in the next column; stubs where the coil stands elsewhere.
    pub(crate) fn link(&mut self, links: &[(usize, usize, usize, usize)]) {
        for (coil, _, contact, _) in links {
            let find = |element: usize| self.marks.iter().find(|mark| mark.element == element);
            let (Some(coil), Some(contact)) = (find(*coil), find(*contact)) else { continue };
            let from = (contact.x + 3.0, contact.top + self.elements[contact.element].middle);
            let to = (coil.x - 14.0, coil.top + self.elements[coil.element].middle);
            let gutter = coil.x - LEFT + 3.0;
            let way = vec![from, (gutter, from.1), (gutter, to.1), to];
            let own = [coil, contact].map(|mark| sign_of(&self.elements[mark.element].title));
            let clear = way.windows(2).all(|pair| self.is_clear([pair[0].0, pair[0].1, pair[1].0, pair[1].1], &own));
            if gutter > from.0 && clear {
                self.links.push(way);
            } else {
                self.links.push(vec![from, (from.0 + 14.0, from.1)]);
                self.links.push(vec![(to.0 - 10.0, to.1), to]);
            }
        }
    }

    /// Whether a line runs free of everything but some signs, and crosses wires only.
    fn is_clear(&self, [x1, y1, x2, y2]: [f64; 4], own: &[String]) -> bool {
        let (left, right, up, down) = (x1.min(x2), x1.max(x2), y1.min(y2), y1.max(y2));
        let hits =
            |[x1, y1, x2, y2]: [f64; 4], by: f64| x1 - by < right && x2 + by > left && y1 - by < down && y2 + by > up;
        let along = |wire: &Wire| {
            let [x1, y1, x2, y2] = wire.ends;
            let ends = [x1.min(x2), y1.min(y2), x1.max(x2), y1.max(y2)];
            (x1 == x2) == (left == right) && hits(ends, 3.0)
        };
        let other = |name: &String| !own.contains(name);
        !self.boxes.iter().any(|(name, covered)| other(name) && hits(*covered, 1.0)) && !self.wires.iter().any(along)
    }
}

/// What the box of a sign is called.
pub(crate) fn sign_of(title: &str) -> String {
    format!("sign of {title}")
}

/// A node's name, short where its part stands beside it.
fn named(machine: &Machine, node: usize) -> String {
    let name = machine.node_name(node);
    let Some((part, terminal)) = name.split_once('.') else { return name.to_owned() };
    let part = machine.part(part).ok().map(|part| &machine.sheet.parts[part]);
    match part {
        Some(part) if part.kind.name == "cable" => "lug".to_owned(),
        Some(part) if matches!(part.kind.terminals, Terminals::Ends { .. }) => terminal.to_owned(),
        _ => name.to_owned(),
    }
}

/// What the names of nodes need above the line of their potentials: a line where they do not fit into it.
pub(crate) fn rows(machine: &Machine, across: Width) -> Vec<f64> {
    let long = |node: usize| width(&named(machine, node)) > across.name();
    (0..machine.node_count()).map(|node| if long(node) { LINE } else { 0.0 }).collect()
}

/// Coils with their contacts: element and chain of each.
pub(crate) fn linked(machine: &Machine, elements: &[Element], graph: &Graph) -> Vec<(usize, usize, usize, usize)> {
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
pub(crate) fn size(machine: &Machine, elements: &[Element], chain: &Chain, rows: &[f64], across: Width) -> Size {
    let mut right: f64 = LABEL + VALUE;
    for (element, _) in &chain.links {
        let element = &elements[*element];
        right = right.max(element.reach());
        right = element.lines.iter().map(|line| element.label_at() + width(line)).fold(right, f64::max);
    }
    for (place, node) in chain.nodes.iter().enumerate() {
        let own = width(&fit(&named(machine, *node), across.text()));
        right = right.max(LABEL + own + if rows[*node] > 0.0 { 0.0 } else { VALUE });
        if place == 0 || place + 1 == chain.nodes.len() {
            right = right.max(FOOT_LABEL + width(&fit(machine.node_name(*node), across.text())));
        }
    }
    let heights: Vec<f64> = chain.links.iter().map(|(element, _)| elements[*element].height).collect();
    // A name in a line of its own stands below its node; at the chain's top it has room anyway.
    let before = (0..heights.len()).map(|place| if place == 0 { 0.0 } else { rows[chain.nodes[place]] }).collect();
    Size { heights, before, right: right + PAD }
}
