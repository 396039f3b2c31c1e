//! Every machine and every pattern of the repository at every width: nothing overlaps, nothing is missing, and what is
//! written is XML that an independent reader takes.

use circuit::{Network, Solver};
use drawing::{Layout, Overlay, Potentials, Width, draw};
use machine::{Machine, sheet};

macro_rules! sheets {
    ($($name:literal),+ $(,)?) => {
        [$(($name, include_str!(concat!("../../../machines/", $name, ".toml")))),+]
    };
}

const SHEETS: [(&str, &str); 15] = sheets![
    "curlew",
    "moorhen",
    "dunlin",
    "dabchick",
    "plover",
    "sandpiper",
    "turnstone",
    "fieldfare",
    "patterns/generator",
    "patterns/mower",
    "patterns/outboard",
    "patterns/quad",
    "patterns/scooter",
    "patterns/trail-bike-feed-switched",
    "patterns/trail-bike-ground-switched",
];
const WIDTHS: [Width; 3] = [Width::Wide, Width::Narrow, Width::Print];

fn machine(text: &str) -> Machine {
    Machine::new(sheet::read(text).sheet.expect("a sheet without problems"))
}

fn all() -> impl Iterator<Item = (&'static str, Machine, Width, Layout)> {
    SHEETS.into_iter().flat_map(|(name, text)| {
        WIDTHS.into_iter().map(move |width| {
            let machine = machine(text);
            let layout = Layout::new(&machine, width);
            (name, machine, width, layout)
        })
    })
}

fn solved(machine: &Machine, state: &str) -> Potentials {
    let mut network = Network::default();
    machine.network(&machine.state(state).expect("a state"), &[], None, &mut network);
    let point = Solver::new().solve(&network).expect("an operating point");
    Potentials::new(machine, &network, &point.state)
}

#[test]
fn law_no_sign_and_no_label_overlaps_another_and_no_wire_strikes_a_label() {
    for (name, _, width, layout) in all() {
        let overlaps = layout.overlaps();
        assert!(overlaps.is_empty(), "{name} {width:?}: {overlaps:?}");
        let struck = layout.struck();
        assert!(struck.is_empty(), "{name} {width:?}: {struck:?}");
    }
}

#[test]
fn law_every_terminal_of_every_part_can_be_touched() {
    for (name, machine, width, layout) in all() {
        let nodes = layout.nodes();
        for (index, part) in machine.sheet.parts.iter().enumerate() {
            let single = part.kind.word(&part.values, "phases") == Some("one");
            for (terminal, node) in part.terminals.iter().zip(&machine.layout(index).terminals) {
                // The third lead of a single phase is not there.
                let absent = single && terminal.0 == "c";
                assert!(absent || nodes.contains(node), "{name} {width:?}: {}.{}", part.name.name, terminal.0);
            }
        }
    }
}

#[test]
fn law_every_wire_is_horizontal_or_vertical_and_within_the_picture() {
    for (name, _, width, layout) in all() {
        for [x1, y1, x2, y2] in layout.wires() {
            assert!((x1 == x2) != (y1 == y2), "{name} {width:?}: {x1} {y1} {x2} {y2}");
            let inside = [x1, x2].iter().all(|x| (0.0..=layout.width()).contains(x))
                && [y1, y2].iter().all(|y| (0.0..=layout.height()).contains(y));
            assert!(inside, "{name} {width:?}: {x1} {y1} {x2} {y2}");
        }
        let widest = match width {
            Width::Wide => 1240.0,
            Width::Narrow => 390.0,
            Width::Print => 718.0,
        };
        assert!(layout.width() <= widest, "{name} {width:?}: {}", layout.width());
    }
}

#[test]
fn measured_hardly_a_wire_crosses_another_and_few_are_replaced_by_names() {
    for (name, _, width, layout) in all() {
        let (across, down, parted) = (layout.width(), layout.height(), layout.parted());
        let crossings = layout.crossings();
        println!("{name:40} {width:?}: {crossings} crossings, {parted} names, {across:.0} x {down:.0}");
        // What is reached today; a narrow picture has two columns and needs names.
        assert!(crossings <= usize::from(width == Width::Print), "{name} {width:?}: {crossings}");
        let most = match width {
            Width::Wide => 1,
            Width::Print => 4,
            Width::Narrow => 9,
        };
        assert!(parted <= most, "{name} {width:?}: {parted}");
    }
}

#[test]
fn law_currents_on_the_wires_of_a_rail_are_those_of_its_chains() {
    // Kirchhoff's first law at every rail: what its wires bring to a column is what the column takes.
    for (name, text) in SHEETS.into_iter().filter(|(name, _)| !name.contains('/')) {
        let machine = machine(text);
        let layout = Layout::new(&machine, Width::Wide);
        let potentials = solved(&machine, "held");
        let worst = layout.imbalance(&potentials).0;
        assert!(worst < 1e-6, "{name}: {worst} A");
    }
}

#[test]
fn law_what_is_written_is_xml_with_classes_and_attributes_only() {
    for (name, machine, width, layout) in all() {
        let link = |node: &str| format!("?red={node}&x=\"");
        let state = if machine.state("held").is_ok() { "held" } else { "rest" };
        let potentials = solved(&machine, state);
        let plain = draw(&machine, &layout, &Overlay::default());
        let full = Overlay {
            solution: Some(&potentials),
            red: Some(machine.ground()),
            black: Some(0),
            faults: &[0, 3],
            link: Some(&link),
            caption: "held",
            standalone: true,
        };
        for text in [plain, draw(&machine, &layout, &full)] {
            let document =
                roxmltree::Document::parse(&text).unwrap_or_else(|error| panic!("{name} {width:?}: {error}"));
            for element in document.descendants().filter(|element| element.is_element()) {
                let tag = element.tag_name().name();
                assert!(!matches!(tag, "style" | "script" | "foreignObject" | "image"), "{name}: {tag}");
                for attribute in element.attributes() {
                    let known = attribute.name() != "style" && !attribute.name().starts_with("on");
                    assert!(known, "{name}: {}", attribute.name());
                }
            }
        }
    }
}

#[test]
fn law_every_node_is_a_link_with_a_title_and_a_circle_wide_enough() {
    for (name, machine, width, layout) in all() {
        let link = |node: &str| format!("#{node}");
        let text = draw(&machine, &layout, &Overlay { link: Some(&link), ..Overlay::default() });
        let document = roxmltree::Document::parse(&text).unwrap();
        let links: Vec<_> = document
            .descendants()
            .filter(|element| element.has_tag_name(("http://www.w3.org/2000/svg", "a")))
            .collect();
        for node in layout.nodes() {
            let href = link(machine.node_name(node));
            let of_node: Vec<_> = links.iter().filter(|link| link.attribute("href") == Some(&href)).collect();
            let stops = of_node.iter().filter(|link| link.attribute("tabindex").is_none()).count();
            assert_eq!(stops, 1, "{name} {width:?}: {href}");
            for link in of_node {
                assert!(link.children().any(|child| child.tag_name().name() == "title"), "{name}: {href}");
                let hits = link.descendants().filter(|element| element.attribute("class") == Some("hit"));
                let radii: Vec<f64> = hits.map(|hit| hit.attribute("r").unwrap().parse().unwrap()).collect();
                assert!(radii.iter().all(|radius| *radius >= 12.0) && !radii.is_empty(), "{name}: {href} {radii:?}");
            }
        }
    }
}

/// A sheet of so many parts strewn between so many nodes.
fn strewn(seed: u64, parts: usize, nodes: usize) -> String {
    let mut state = seed;
    // Knuth's multiplier, as every linear generator of 64 bits has it.
    let mut draw = |below: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % below
    };
    let mut text =
        String::from("sheet = 1\n[machine]\nid = \"strewn\"\n[control.key]\npositions = [\"off\", \"on\"]\n");
    text.push_str("[part.source]\nkind = \"source\"\nvoltage = \"12 V\"\nresistance = \"0.1 ohm\"\n");
    text.push_str("[part.first]\nkind = \"wire\"\nfrom = \"source.plus\"\nto = \"n0\"\nresistance = \"1 mohm\"\n");
    text.push_str("[part.last]\nkind = \"wire\"\nfrom = \"source.minus\"\nto = \"n1\"\nresistance = \"1 mohm\"\n");
    for part in 0..parts {
        let from = draw(nodes);
        let to = (from + 1 + draw(nodes - 1)) % nodes;
        let kind = ["wire", "resistance", "lamp", "joint", "switch"][draw(5)];
        let more = match kind {
            "wire" | "resistance" => "resistance = \"1 ohm\"\n",
            "lamp" => "power = \"5 W\"\n",
            "switch" => "closed-when = { key = \"on\" }\n",
            _ => "",
        };
        text.push_str(&format!("[part.p{part}]\ntitle = \"part of many words number {part}\"\n"));
        text.push_str(&format!("kind = \"{kind}\"\nfrom = \"n{from}\"\nto = \"n{to}\"\n{more}"));
    }
    text.push_str("[state.rest]\n");
    text
}

#[test]
fn law_any_wiring_is_drawn_whole_and_without_overlaps() {
    for (seed, parts, nodes) in [(1, 1, 2), (2, 8, 4), (3, 20, 18), (4, 30, 12), (5, 40, 40), (6, 55, 60)] {
        let machine = machine(&strewn(seed, parts, nodes));
        for width in [Width::Wide, Width::Narrow] {
            let layout = Layout::new(&machine, width);
            println!(
                "strewn {parts} {nodes} {width:?}: {} crossings, {:.0} x {:.0}",
                layout.crossings(),
                layout.width(),
                layout.height()
            );
            assert_eq!(layout.overlaps(), [], "{seed} {width:?}");
            assert_eq!(layout.struck(), [""; 0], "{seed} {width:?}");
            assert_eq!(layout.nodes().len(), machine.node_count(), "{seed} {width:?}");
            let across = if width == Width::Wide { 1240.0 } else { 390.0 };
            assert!(layout.width() <= across, "{seed} {width:?}: {}", layout.width());
        }
    }
}

#[test]
fn law_a_title_that_means_harm_is_text() {
    let harm = r#"<script>alert(1)</script>"&'<!--]]>"#;
    let text = SHEETS[0].1.replace("title = \"starter relay\"", &format!("title = '''{harm}'''"));
    let machine = machine(&text);
    let layout = Layout::new(&machine, Width::Wide);
    let drawn = draw(&machine, &layout, &Overlay { caption: harm, standalone: true, ..Overlay::default() });
    assert!(!drawn.contains("<script") && !drawn.contains("<!--"), "{drawn}");
    let document = roxmltree::Document::parse(&drawn).unwrap();
    assert!(document.descendants().any(|node| node.text().is_some_and(|text| text.contains(harm))));
}

#[test]
fn law_the_same_sheet_gives_the_same_bytes() {
    for (name, text) in SHEETS {
        let drawn = || {
            let machine = machine(text);
            draw(&machine, &Layout::new(&machine, Width::Narrow), &Overlay::default())
        };
        assert_eq!(drawn(), drawn(), "{name}");
    }
}

#[test]
fn law_a_contact_stands_as_the_state_has_it() {
    let machine = machine(SHEETS[0].1);
    let layout = Layout::new(&machine, Width::Wide);
    // Whether a line of the part's sign is slanted: the blade of an open contact, or of one that lies across its stop.
    let slanted = |state: Option<&str>, part: &str| {
        let potentials = state.map(|state| solved(&machine, state));
        let text = draw(&machine, &layout, &Overlay { solution: potentials.as_ref(), ..Overlay::default() });
        let document = roxmltree::Document::parse(&text).unwrap();
        let sign = document.descendants().find(|element| element.attribute("data-part") == Some(part)).unwrap();
        let apart = |line: &roxmltree::Node<'_, '_>, first: &str, second: &str| {
            line.attribute(first).is_some() && line.attribute(first) != line.attribute(second)
        };
        sign.descendants().any(|line| apart(&line, "x1", "x2") && apart(&line, "y1", "y2"))
    };
    assert!(slanted(None, "button-contact"), "at rest the start button is open");
    assert!(!slanted(Some("held"), "button-contact"), "held it is closed");
    assert!(slanted(Some("on"), "button-contact"), "released it is open");
}
