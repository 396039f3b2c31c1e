//! A cut-out of the schematic: the parts between the two tips of a meter, in the order in which current would pass them.
//! Idea: a reading between two points is told by what lies between them; a strip of a few signs says it at a glance
//! where a whole schematic would be too small to read. Of several ways the one over the fewest parts is drawn, parts
//! that conduct easily before others (common practice, no source).
//! Promise: same words, signs and escapes as the whole schematic. Limit: parallel ways are not drawn.

use machine::Machine;

use crate::element::{Element, elements};
use crate::svg::{DROP, Stroke, Svg, short};
use crate::symbol::{self, Stand};
use crate::text::{LINE, width, wrap};

/// Where the wire stands, and where text begins.
const WIRE: f64 = 24.0;
const TEXT: f64 = 46.0;
/// Widest text.
const WIDEST: f64 = 190.0;
/// Parts at each end that are drawn where there are many between.
const ENDS: usize = 2;
/// Parts that are drawn before any is left out.
const MOST: usize = 2 * ENDS + 1;
/// Height of a tip and of a gap.
const TIP: f64 = 26.0;
const GAP: f64 = 28.0;

/// Draws what lies between two nodes, the red lead's at the top; nothing where no part joins them.
pub fn between(machine: &Machine, red: usize, black: usize) -> Option<String> {
    let (elements, _) = elements(machine, WIDEST);
    let way = way(machine.node_count(), &elements, red, black)?;
    let mut strip = Svg::default();
    let mut y = tip(&mut strip, 0.0, "R", "#a3160f", &machine.node_title(red), true);
    let left_out = if way.len() > MOST { way.len() - 2 * ENDS } else { 0 };
    for (index, (element, turned)) in way.iter().enumerate() {
        if left_out > 0 && (ENDS..ENDS + left_out).contains(&index) {
            if index == ENDS {
                y = gap(&mut strip, y, left_out);
            }
            continue;
        }
        let element = &elements[*element];
        // A ring stands beside the cable that says its name; alone it has to say it itself.
        let beside =
            |(other, _): &(usize, bool)| elements[*other].part == element.part && !elements[*other].lines.is_empty();
        let lines = match element.lines.is_empty() && !way.iter().any(beside) {
            true => wrap(&element.title, WIDEST, 3),
            false => element.lines.clone(),
        };
        y = part(&mut strip, y, element, &lines, *turned);
    }
    let height = tip(&mut strip, y, "B", "#101413", &machine.node_title(black), false);
    let names = [red, black].map(|node| machine.node_title(node));
    let mut svg = Svg::default();
    let wide = short(TEXT + WIDEST + 8.0);
    svg.raw(&format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" width="{wide}" height="{high}" class="between" role="img" font-family="system-ui, 'DejaVu Sans', sans-serif" font-size="12" fill="currentColor"><title>"#,
        high = short(height),
    ));
    svg.say(&described(&names, &way, &elements));
    svg.raw("</title>");
    svg.raw(&strip.done());
    svg.raw("</svg>\n");
    Some(svg.done())
}

/// What the strip shows, in words.
fn described(names: &[String; 2], way: &[(usize, bool)], elements: &[Element]) -> String {
    let mut titles: Vec<&str> = way.iter().map(|(element, _)| elements[*element].title.as_str()).collect();
    titles.dedup();
    let [red, black] = names;
    format!("Red lead on {red}, black lead on {black}; between them: {}", titles.join(", "))
}

/// The same as one line of text; nothing where no part joins the nodes.
pub fn between_in_words(machine: &Machine, red: usize, black: usize) -> Option<String> {
    let (elements, _) = elements(machine, WIDEST);
    let way = way(machine.node_count(), &elements, red, black)?;
    Some(described(&[red, black].map(|node| machine.node_title(node)), &way, &elements))
}

/// The elements from one node to another, each with whether it is passed from its second end to its first.
fn way(nodes: usize, elements: &[Element], from: usize, to: usize) -> Option<Vec<(usize, bool)>> {
    let mut cost = vec![u32::MAX; nodes];
    let mut came: Vec<Option<(usize, bool)>> = vec![None; nodes];
    let mut done = vec![false; nodes];
    *cost.get_mut(from)? = 0;
    while let Some(here) =
        (0..nodes).filter(|node| !done[*node] && cost[*node] < u32::MAX).min_by_key(|node| cost[*node])
    {
        done[here] = true;
        for (index, element) in elements.iter().enumerate() {
            let (next, turned) = match here {
                _ if element.from == here => (element.to, false),
                _ if element.to == here => (element.from, true),
                _ => continue,
            };
            let longer = cost[here] + if element.easy { 2 } else { 3 };
            if longer < cost[next] {
                cost[next] = longer;
                came[next] = Some((index, turned));
            }
        }
    }
    let mut way = Vec::new();
    let mut at = to;
    while at != from {
        let (element, turned) = (*came.get(at)?)?;
        way.push((element, turned));
        at = if turned { elements[element].to } else { elements[element].from };
    }
    way.reverse();
    (!way.is_empty()).then_some(way)
}

/// A meter's tip with the name of its node; gives where the next thing begins.
fn tip(svg: &mut Svg, top: f64, letter: &str, color: &str, name: &str, above: bool) -> f64 {
    let y = if above { top + 11.0 } else { top + TIP - 11.0 };
    svg.raw(r#"<g stroke="currentColor" fill="none">"#);
    match above {
        true => svg.line(WIRE, y + 8.0, WIRE, top + TIP, Stroke::wire(1.6)),
        false => svg.line(WIRE, top, WIRE, y - 8.0, Stroke::wire(1.6)),
    }
    svg.raw("</g>");
    svg.raw(&format!(
        r##"<g class="lead"><circle cx="{x}" cy="{y}" r="9" fill="{color}" stroke="#ffffff"/><text x="{x}" y="{base}" text-anchor="middle" font-weight="bold" fill="#ffffff" stroke="none">{letter}</text></g>"##,
        x = short(WIRE),
        y = short(y),
        base = short(y + DROP),
    ));
    // In bold, and so a little wider than it is reckoned.
    let name = if width(name) > WIDEST * 0.92 { wrap(name, WIDEST * 0.92, 1).concat() } else { name.to_owned() };
    svg.words(TEXT, y + DROP, "name", r#" font-weight="bold""#, &name);
    top + TIP
}

/// Parts that are left out.
fn gap(svg: &mut Svg, top: f64, count: usize) -> f64 {
    svg.raw(r#"<g stroke="currentColor" fill="none">"#);
    svg.line(WIRE, top, WIRE, top + GAP, Stroke::link());
    svg.raw("</g>");
    let parts = if count == 1 { "part" } else { "parts" };
    svg.words(TEXT, top + GAP / 2.0 + DROP, "legend", "", &format!("{count} more {parts}"));
    top + GAP
}

fn part(svg: &mut Svg, top: f64, element: &Element, lines: &[String], turned: bool) -> f64 {
    // Its own height is that of its own lines.
    let text = lines.len() as f64 * LINE + 10.0;
    let height = libm::ceil(element.height.max(text));
    let middle = top + if element.lines.is_empty() { height / 2.0 } else { element.middle };
    svg.raw(r#"<g class="part"><g stroke="currentColor" fill="none">"#);
    let stand = Stand { x: WIRE, top, foot: top + height, middle, turned, closed: None, weight: 1.6 };
    symbol::draw(element.sign, stand, svg);
    svg.raw("</g>");
    let first = match element.lines.is_empty() {
        true => height / 2.0 - (lines.len().max(1) - 1) as f64 * LINE / 2.0,
        false => element.first_line(),
    };
    for (index, line) in lines.iter().enumerate() {
        svg.words(TEXT, top + first + index as f64 * LINE + DROP, "title", "", line);
    }
    svg.raw("</g>");
    top + height
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A source, a fuse, a lamp and a stray part whose title is no name but a trap.
    const SHEET: &str = r#"
sheet = 1
[machine]
id = "three"
title = "Three"
[part.source]
kind = "source"
voltage = "12 V"
resistance = "0.1 ohm"
[part.main-fuse]
kind = "fuse"
title = "Fuse <script>"
from = "source.plus"
to = "feed"
resistance = "0.1 ohm"
rating = "10 A"
[part.lamp]
kind = "resistance"
from = "feed"
to = "source.minus"
resistance = "4 ohm"
[part.stray]
kind = "resistance"
from = "nowhere"
to = "stray-end"
resistance = "4 ohm"
"#;

    fn machine() -> Machine {
        Machine::new(machine::sheet::read(SHEET).sheet.unwrap())
    }

    fn strip(red: &str, black: &str) -> Option<String> {
        let machine = machine();
        between(&machine, machine.node(red).unwrap(), machine.node(black).unwrap())
    }

    #[test]
    fn law_the_strip_names_the_parts_from_red_to_black_and_no_others() {
        let svg = strip("source.plus", "feed").unwrap();
        assert!(svg.contains("Fuse &lt;script&gt;") && !svg.contains("<script>") && !svg.contains("amp"), "{svg}");
        assert!(svg.find(">R<").unwrap() < svg.find("Fuse &lt;script&gt;</text>").unwrap(), "{svg}");
        assert!(svg.find("Fuse &lt;script&gt;</text>").unwrap() < svg.find(">B<").unwrap(), "{svg}");
    }

    #[test]
    fn law_points_that_nothing_joins_have_no_strip() {
        assert_eq!(strip("source.plus", "nowhere"), None);
        assert_eq!(strip("feed", "feed"), None);
    }

    #[test]
    fn law_a_way_over_many_parts_is_shortened_in_the_middle() {
        let chain: String = (0..9)
            .map(|link| {
                format!(
                    "[part.r{link}]\nkind = \"resistance\"\nfrom = \"n{link}\"\nto = \"n{}\"\nresistance = \"1 ohm\"\n",
                    link + 1
                )
            })
            .collect();
        let machine = Machine::new(machine::sheet::read(&format!("{SHEET}{chain}")).sheet.unwrap());
        let ends = ["n0", "n9"].map(|name| machine.node(name).unwrap());
        let svg = between(&machine, ends[0], ends[1]).unwrap();
        assert!(svg.contains("5 more parts"), "{svg}");
        assert_eq!(svg.matches(r#"<g class="part">"#).count(), 4);
    }
}
