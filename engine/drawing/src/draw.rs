//! Writes a layout and what is laid on it as one SVG element.
//! Conventions: width of a line tells the current on a logarithmic scale, an arrow head its way; a dot's color and the
//! number beside it tell the potential, hatching that it floats; contacts stand as the state has them.
//! Promise: presentation attributes and classes only, text escaped, the page's own color unless it stands alone.

use machine::{Instrument, Machine};
use quantity::{Amps, Dimension, Face};

use crate::color;
use crate::layout::{End, LABEL, Layout, MARGIN, Mark, Spot, Wire};
use crate::overlay::{Overlay, Potentials};
use crate::plan::START;
use crate::svg::{DROP, Stroke, Svg, short};
use crate::symbol::{self, Sign, Stand};
use crate::text::{LINE, escape, wrap};

/// A current below this is none, A.
const LEAST: f64 = 1e-3;

/// Draws a machine.
pub fn draw(machine: &Machine, layout: &Layout, overlay: &Overlay<'_>) -> String {
    let picture = Picture { machine, layout, overlay };
    let mut svg = Svg::default();
    picture.all(&mut svg);
    svg.done()
}

struct Picture<'a> {
    machine: &'a Machine,
    layout: &'a Layout,
    overlay: &'a Overlay<'a>,
}

impl Picture<'_> {
    fn all(&self, svg: &mut Svg) {
        let widest = self.layout.width - 2.0 * MARGIN;
        let mut heading = Vec::new();
        let mut bold = 0;
        if self.overlay.standalone {
            heading.extend(wrap(&self.machine.sheet.title, widest / 1.15, 3));
            bold = heading.len();
            heading.extend(wrap(self.overlay.caption, widest, 3));
        }
        let legend: Vec<String> = self.legend().iter().flat_map(|line| wrap(line, widest, 6)).collect();
        let above = heading.len() as f64 * LINE + if heading.is_empty() { 0.0 } else { 10.0 };
        let lines = legend.len() + usize::from(self.overlay.solution.is_some());
        let below = lines as f64 * LINE + if lines == 0 { 0.0 } else { 14.0 };
        let (width, height) = (self.layout.width, above + self.layout.height + below);
        let role = if self.overlay.link.is_some() { "group" } else { "img" };
        let color = if self.overlay.standalone { r##" color="#000000""## } else { "" };
        svg.raw(&format!(
            r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {w} {h}" width="{w}" height="{h}" class="schematic" role="{role}" font-family="system-ui, 'DejaVu Sans', sans-serif" font-size="12" fill="currentColor"{color}>"#,
            w = short(width),
            h = short(height),
        ));
        svg.raw("<title>");
        svg.say(&format!("Schematic of {}", self.machine.sheet.title));
        svg.raw("</title><desc>");
        svg.say(&self.described());
        svg.raw("</desc>");
        let hatch = self.hatch();
        svg.raw(&format!(
            r#"<defs><pattern id="{hatch}" width="4" height="4" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M0 2h4" stroke="currentColor" stroke-width="1.5"/></pattern></defs>"#
        ));
        if self.overlay.standalone {
            svg.raw(r##"<rect width="100%" height="100%" fill="#ffffff"/>"##);
        }
        for (index, line) in heading.iter().enumerate() {
            let weight = if index < bold { r#" font-weight="bold""# } else { "" };
            svg.words(MARGIN, MARGIN + 10.0 + index as f64 * LINE, "heading", weight, line);
        }
        svg.raw(&format!(r#"<g transform="translate(0 {})">"#, short(above)));
        self.wires(svg);
        for mark in &self.layout.marks {
            self.part(mark, svg);
        }
        svg.raw(r#"<g class="nodes">"#);
        for (index, spot) in self.layout.spots.iter().enumerate() {
            let again = self.layout.spots[..index].iter().any(|other| other.node == spot.node);
            self.node(spot, again, svg);
        }
        svg.raw("</g></g>");
        let mut y = above + self.layout.height + 14.0;
        for line in &legend {
            svg.words(MARGIN, y, "legend", "", line);
            y += LINE;
        }
        if self.overlay.solution.is_some() {
            scale(&hatch, y, svg);
        }
        svg.raw("</svg>\n");
    }

    /// The name of the hatching: a page may hold a wide and a narrow picture, of several states, and names are the whole
    /// page's.
    fn hatch(&self) -> String {
        let caption: String = self.overlay.caption.chars().filter(char::is_ascii_alphanumeric).collect();
        format!("floating-{}{caption}", short(self.layout.width))
    }

    fn described(&self) -> String {
        let nodes = self.layout.nodes().len();
        let parts = self.machine.sheet.parts.len();
        let state = if self.overlay.caption.is_empty() { String::new() } else { format!(" {}", self.overlay.caption) };
        format!("{parts} parts, {nodes} nodes; supply at the top, ground at the bottom.{state}")
    }

    fn legend(&self) -> Vec<String> {
        let mut lines = Vec::new();
        if !self.layout.untold.is_empty() {
            let titles: Vec<&str> =
                self.layout.untold.iter().map(|part| self.machine.sheet.parts[*part].title.as_str()).collect();
            lines.push(format!("Without connection: {}.", titles.join(", ")));
        }
        lines.push("Triangle at a wire's end: it goes on at the same name.".to_owned());
        if self.overlay.solution.is_some() {
            let reference = self.machine.node_name(self.machine.reference());
            lines.push(format!("Volts against {reference}. Thicker wire: more current; arrow: its way. Cross: open."));
        }
        lines
    }

    /// The current that a wire carries from its first end to its second; nothing without a solution.
    fn current(&self, wire: &Wire) -> Option<f64> {
        let solution = self.overlay.solution?;
        let amps = |(element, sign): &(usize, f64)| sign * amps(solution, self.layout.elements[*element].branch);
        Some(wire.carries.iter().map(amps).sum())
    }

    fn wires(&self, svg: &mut Svg) {
        svg.raw(r#"<g class="wires" stroke="currentColor" fill="none" stroke-linecap="square">"#);
        for wire in &self.layout.wires {
            let [x1, y1, x2, y2] = wire.ends;
            let current = self.current(wire);
            svg.line(x1, y1, x2, y2, Stroke::wire(weight(current, wire.heavy)));
        }
        svg.raw(r#"</g><g class="links" stroke="currentColor" fill="none">"#);
        for link in &self.layout.links {
            for pair in link.windows(2) {
                svg.line(pair[0].0, pair[0].1, pair[1].0, pair[1].1, Stroke::link());
            }
        }
        svg.raw(r#"</g><g class="currents">"#);
        for wire in &self.layout.wires {
            let Some(current) = self.current(wire).filter(|current| current.abs() >= LEAST) else { continue };
            let [x1, y1, x2, y2] = wire.ends;
            let onward = current > 0.0;
            let wide = weight(Some(current), wire.heavy);
            if wire.told {
                let y = y1 + START - 9.0;
                arrow(x1, y, if onward { (0.0, 1.0) } else { (0.0, -1.0) }, wide, svg);
                svg.words(x1 + LABEL + 2.0, y + DROP, "amps", "", &shown_amps(self.machine, current));
            } else if y1 == y2 && (x2 - x1).abs() > 40.0 {
                // Near its right end, where no label stands above.
                arrow(x2 - 18.0, y1, if onward { (1.0, 0.0) } else { (-1.0, 0.0) }, wide, svg);
            }
        }
        svg.raw("</g>");
    }

    fn part(&self, mark: &Mark, svg: &mut Svg) {
        let element = &self.layout.elements[mark.element];
        let heavy = self.layout.graph.heavy[mark.element];
        let closed = self.overlay.solution.map(|solution| !solution.open.get(element.branch).unwrap_or(&false));
        let current = self.overlay.solution.map(|solution| amps(solution, element.branch));
        let faulty = self.overlay.faults.contains(&element.part)
            || element.with.iter().any(|part| self.overlay.faults.contains(part));
        let name = &self.machine.sheet.parts[element.part].name.name;
        svg.raw(&format!(r#"<g class="part{}" data-part=""#, if faulty { " fault" } else { "" }));
        svg.say(name);
        svg.raw(r#""><title>"#);
        svg.say(&element.title);
        svg.raw(r#"</title><g stroke="currentColor" fill="none">"#);
        let middle = mark.top + element.middle;
        let stand = Stand {
            x: mark.x,
            top: mark.top,
            foot: mark.top + element.height,
            middle,
            turned: mark.turned,
            closed,
            weight: weight(current, heavy),
        };
        symbol::draw(element.sign, stand, svg);
        let moves = matches!(element.sign, Sign::Switch(_) | Sign::Contact | Sign::Breaker);
        if closed == Some(false) && !moves {
            let cross = format!("M{} {} l10 10 m0 -10 l-10 10", short(mark.x - 5.0), short(middle - 5.0));
            svg.path(&cross, Stroke::wire(2.4));
        }
        if faulty && !element.lines.is_empty() {
            let (x, y) = (mark.x - 19.0, middle - 13.0);
            svg.path(&format!("M{} {} l8 15 h-16 z", short(x), short(y)), Stroke::wire(1.6));
            svg.path(&format!("M{} {} v5 m0 1.8 v1.4", short(x), short(y + 5.0)), Stroke::wire(1.4));
        }
        svg.raw("</g>");
        for (line, y) in self.layout.lines(mark) {
            let more = if faulty { r#" font-weight="bold""# } else { "" };
            svg.words(mark.x + element.label_at(), y + DROP, "title", more, &line);
        }
        svg.raw("</g>");
    }

    fn node(&self, spot: &Spot, again: bool, svg: &mut Svg) {
        let name = self.machine.node_name(spot.node);
        let volts = self.overlay.solution.map(|solution| solution.volts.get(spot.node).copied().flatten());
        let value = volts.map(|volts| match volts {
            Some(volts) => self.machine.face(Instrument::Volts).show(volts.0, Dimension::Voltage),
            None => "floating".to_owned(),
        });
        if let Some(link) = self.overlay.link {
            // One stop of the keyboard a node; all its places can be touched.
            let stop = if again { r#" tabindex="-1""# } else { "" };
            svg.raw(&format!(r#"<a class="node" href="{}"{stop}>"#, escape(&link(name))));
        } else {
            svg.raw(r#"<g class="node">"#);
        }
        svg.raw("<title>");
        svg.say(&match &value {
            Some(value) => format!("{name}: {value}"),
            None => name.to_owned(),
        });
        svg.raw("</title>");
        let Some((x, y)) = spot.points.first().copied() else { return };
        svg.raw(r#"<g stroke="currentColor" fill="none">"#);
        match spot.end {
            End::Foot if spot.node == self.machine.ground() => {
                svg.line(x, y, x, y + 8.0, Stroke::wire(1.6));
                symbol::frame(x, y + 8.0, 12.0, svg);
            }
            End::Foot => symbol::elsewhere(x, y + 5.0, (0.0, 1.0), svg),
            End::Head => symbol::elsewhere(x, y - 5.0, (0.0, -1.0), svg),
            End::Rail if spot.node == self.machine.ground() => {
                svg.line(x - 15.0, y, x, y, Stroke::wire(1.6));
                svg.line(x - 15.0, y, x - 15.0, y + 6.0, Stroke::wire(1.6));
                symbol::frame(x - 15.0, y + 6.0, 7.0, svg);
            }
            End::Rail if self.elsewhere(spot) => {
                svg.line(x - 9.0, y, x, y, Stroke::wire(1.6));
                symbol::elsewhere(x - 9.0, y, (-1.0, 0.0), svg);
            }
            _ => {}
        }
        for (x, y) in &spot.points {
            self.dot(*x, *y, volts, svg);
        }
        if self.overlay.link.is_some() {
            for (x, y) in &spot.points {
                svg.raw(&format!(
                    r#"<circle class="hit" cx="{}" cy="{}" r="12.5" stroke="none" pointer-events="all"/>"#,
                    short(*x),
                    short(*y),
                ));
            }
        }
        for (lead, letter, color) in [(self.overlay.red, "R", "#c4161c"), (self.overlay.black, "B", "#000000")] {
            if lead == Some(spot.node) && !again {
                probe(x, y, letter, color, svg);
            }
        }
        svg.raw("</g>");
        let value = value.filter(|_| spot.end != End::Lead);
        if let Some(value) = &value {
            svg.words(spot.value.0, spot.value.1 + DROP, "volts", r#" font-weight="bold""#, value);
        }
        // Without potentials the name stands in their place.
        let name_x = if value.is_none() && spot.label.1 == spot.value.1 { spot.value.0 } else { spot.label.0 };
        if !spot.name.is_empty() {
            svg.words(name_x, spot.label.1 + DROP, "name", r#" font-style="italic""#, &spot.name);
        }
        svg.raw(if self.overlay.link.is_some() { "</a>" } else { "</g>" });
    }

    /// Whether the node is drawn somewhere else too.
    fn elsewhere(&self, spot: &Spot) -> bool {
        self.layout.spots.iter().filter(|other| other.node == spot.node).count() > 1
    }

    fn dot(&self, x: f64, y: f64, volts: Option<Option<quantity::Volts>>, svg: &mut Svg) {
        let (radius, fill) = match volts {
            None => (2.5, "currentColor".to_owned()),
            Some(Some(volts)) => (4.5, color::of(volts.0)),
            Some(None) => (4.5, format!("url(#{})", self.hatch())),
        };
        svg.raw(&format!(
            r#"<circle class="dot" cx="{}" cy="{}" r="{radius}" fill="{fill}" stroke-width="1"/>"#,
            short(x),
            short(y)
        ));
    }
}

/// What the colors of the dots mean.
fn scale(hatch: &str, y: f64, svg: &mut Svg) {
    let mut x = MARGIN + 6.0;
    let mut dot = |fill: &str, words: &str, wide: f64| {
        svg.raw(&format!(
            r#"<circle cx="{}" cy="{}" r="4.5" fill="{fill}" stroke="currentColor" stroke-width="1"/>"#,
            short(x),
            short(y - DROP)
        ));
        svg.words(x + 8.0, y, "legend", "", words);
        x += wide;
    };
    for volts in [0.0, 5.0, 10.0, color::FULL] {
        dot(&color::of(volts), &format!("{volts} V"), 52.0);
    }
    dot(&format!("url(#{hatch})"), "floating", 0.0);
}

fn amps(solution: &Potentials, branch: usize) -> f64 {
    solution.amps.get(branch).map_or(0.0, |amps| amps.0)
}

/// Width of a wire's line: a unit a decade from 10 mA on; the starter's circuit is never thin.
fn weight(current: Option<f64>, heavy: bool) -> f64 {
    let least: f64 = if heavy { 3.2 } else { 1.4 };
    let decades = current.map_or(0.0, |current| libm::log10(current.abs().max(0.01) / 0.01));
    least.max(1.4 + 1.1 * decades.min(4.3))
}

fn shown_amps(machine: &Machine, current: f64) -> String {
    let face = if current.abs() < 1.0 { Face::amps() } else { machine.face(Instrument::Clamp) };
    face.show(Amps(current.abs()).0, Dimension::Current)
}

/// An arrow head, wider than its wire.
fn arrow(x: f64, y: f64, (across, down): (f64, f64), wide: f64, svg: &mut Svg) {
    let (tip, side) = (6.0, 3.0 + wide / 2.0);
    let points = [
        (x + across * tip, y + down * tip),
        (x - across * tip + down * side, y - down * tip + across * side),
        (x - across * tip - down * side, y - down * tip - across * side),
    ];
    let [first, second, third] = points.map(|(x, y)| format!("{} {}", short(x), short(y)));
    svg.raw(&format!(r#"<path class="arrow" d="M{first} L{second} L{third} Z"/>"#));
}

/// A meter's tip on a node: a ring with its letter, above to the left.
fn probe(x: f64, y: f64, letter: &str, color: &str, svg: &mut Svg) {
    let (cx, cy) = (x - 16.0, y - 13.0);
    svg.raw(&format!(
        r##"<g class="lead"><path d="M{} {} L{} {}" stroke="{color}" stroke-width="3"/><circle cx="{}" cy="{}" r="8.5" fill="{color}" stroke="#ffffff"/><text x="{}" y="{}" text-anchor="middle" font-weight="bold" fill="#ffffff" stroke="none">{letter}</text></g>"##,
        short(cx),
        short(cy),
        short(x - 3.0),
        short(y - 3.0),
        short(cx),
        short(cy),
        short(cx),
        short(cy + DROP),
    ));
}
