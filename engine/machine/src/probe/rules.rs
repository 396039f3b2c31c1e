//! Which probes a machine's wiring suggests: voltages of every reachable point in the standard states, drops along
//! every conductor that carries the motor's current, ohms of what can be isolated with the battery lifted, and what
//! eyes, ears and hands can tell. Minutes are the trade's usual ones (common practice, no source).

use std::borrow::Cow;
use std::collections::BTreeMap;

use circuit::Solution;

use crate::kind::spec::{Terminals, Want};
use crate::machine::Machine;
use crate::meter::{Bench, Hookup, Instrument, Setting};

use super::{Probe, Question, Sort};

/// What to mind whenever the starter may turn.
const CRANK_CAUTION: &str = "neutral, rear wheel off the ground, hands and clothing clear; at most 5 s, then 30 s rest";
/// The same, where the sheet says what to mind at this machine.
const BURST: &str = "at most 5 s, then 30 s rest";
/// What to mind with an ammeter in the battery's lead.
const AMMETER_CAUTION: &str = "never press start with the ammeter in the lead: its fuse opens above 10 A";
/// What to mind when a motor is fed directly.
const FEED_CAUTION: &str =
    "the motor jumps: clamp it or keep hands clear; no fuel vapor near; connect at the motor first, the battery last";

impl Machine {
    /// The probes that the wiring suggests, without doubles.
    pub fn proposed_probes(&self) -> Vec<Probe> {
        let mut sorts: Vec<(Sort, Cow<'static, str>)> = vec![(Sort::Ask(Question::Since), Cow::Borrowed(""))];
        let has = |name: &str| self.state(name).is_ok();
        let minus = self.reference();
        for node in self.touchable() {
            for state in ["rest", "on", "held"] {
                if node != minus {
                    sorts.push((volts(node, minus), Cow::Borrowed(state)));
                }
            }
        }
        for (index, part) in self.sheet.parts.iter().enumerate() {
            let mut own = Vec::new();
            self.suggest_for_part(index, part.kind.name, &mut own);
            sorts.extend(own.into_iter().map(|(sort, state)| (sort, Cow::Borrowed(state))));
            if part.kind.name == "connector" {
                sorts.extend(self.suggest_unplugged(index));
            }
        }
        sorts.extend(self.suggest_per_ampere().into_iter().map(|sort| (sort, Cow::Borrowed("held"))));
        let mut probes: Vec<Probe> = Vec::new();
        let mut solved = BTreeMap::new();
        for (sort, state) in sorts {
            if state.is_empty() || has(&state) {
                let sort = self.upright(sort, &state, &mut solved);
                let name = self.probe_name(sort, &state);
                if probes.iter().all(|known| known.state != state || !is_same(known.sort, sort)) {
                    probes.push(self.describe(sort, &state, &name));
                }
            }
        }
        probes
    }

    /// Volts with the red lead on the side that is the more positive in a healthy machine.
    /// `solved` keeps the healthy machine's solution of each state.
    fn upright(&self, sort: Sort, state: &str, solved: &mut BTreeMap<String, Option<Solution>>) -> Sort {
        let Sort::Meter(Instrument::Volts, Hookup::Between { red, black }) = sort else { return sort };
        let healthy = solved.entry(state.to_owned()).or_insert_with(|| {
            let state = self.state(state).ok()?;
            let setting = Setting { state: &state, edits: &[], air: None };
            Some(Bench::new().solve(self, &setting).ok()?.state.solution)
        });
        match healthy.as_ref().and_then(|solution| solution.between(red, black)) {
            Some(healthy) if healthy.0 < 0.0 => {
                Sort::Meter(Instrument::Volts, Hookup::Between { red: black, black: red })
            }
            _ => sort,
        }
    }

    fn chosen(&self, part: usize, field: &str) -> Option<&'static str> {
        let part = &self.sheet.parts[part];
        part.kind.word(&part.values, field)
    }

    fn suggest_for_part(&self, index: usize, kind: &str, sorts: &mut Vec<(Sort, &'static str)>) {
        if self.is_worth_a_look(index) {
            sorts.push((Sort::Look(index), "rest"));
        }
        let layout = self.layout(index);
        let ends = |from: usize, to: usize| (layout.terminals[from], layout.terminals[to]);
        let across = |instrument, (red, black): (usize, usize)| Sort::Meter(instrument, Hookup::Between { red, black });
        match kind {
            "battery" | "source" => sorts.push((across(Instrument::Volts, ends(0, 1)), "running")),
            "cable" => {
                sorts.push((across(Instrument::Volts, ends(2, 3)), "held"));
                sorts.push((Sort::Wiggle(index), "rest"));
                // From lug to lug, and from the first stud to its lug: a ring or the copper, and which ring.
                if layout.slots[1].is_some() {
                    sorts.push((across(Instrument::Volts, ends(2, 0)), "held"));
                }
                if layout.slots[1].is_some() || layout.slots[2].is_some() {
                    sorts.push((across(Instrument::Volts, ends(0, 1)), "held"));
                }
                if let Some(branch) = layout.slots[0] {
                    sorts.push((Sort::Meter(Instrument::Clamp, Hookup::In(branch)), "held"));
                }
            }
            "joint" => {
                sorts.push((Sort::Wiggle(index), "rest"));
                sorts.push((across(Instrument::Volts, ends(0, 1)), "held"));
                if let (Some(branch), true) = (layout.slots[0], self.is_lifted_when_dead(index)) {
                    sorts.push((Sort::Meter(Instrument::Amps, Hookup::In(branch)), "rest"));
                }
            }
            "relay" => {
                sorts.push((Sort::Listen(index), "held"));
                sorts.push((across(Instrument::Volts, ends(0, 1)), "held"));
                sorts.push((across(Instrument::Volts, ends(2, 3)), "held"));
                sorts.push((across(Instrument::Ohms, ends(0, 1)), "dead"));
                sorts.push((across(Instrument::Ohms, ends(2, 3)), "dead"));
            }
            "solenoid" => {
                let (start, line, load, case) = (ends(0, 0).0, ends(1, 1).0, ends(2, 2).0, ends(3, 3).0);
                sorts.push((Sort::Listen(index), "held"));
                sorts.push((across(Instrument::Volts, (start, case)), "held"));
                sorts.push((across(Instrument::Volts, (line, load)), "held"));
                // Each winding, and the contact at rest.
                sorts.push((across(Instrument::Ohms, (start, case)), "dead"));
                sorts.push((across(Instrument::Ohms, (start, load)), "dead"));
                sorts.push((across(Instrument::Ohms, (line, load)), "dead"));
            }
            "starter" | "motor" => {
                sorts.push((Sort::Feel(index), "held"));
                let drive = self.drive_of(index).map(|drive| &self.sheet.parts[drive]);
                if drive.is_some_and(|drive| drive.kind.word(&drive.values, "type") == Some("one-way-clutch")) {
                    // A clutch that does not let go: the starter whines along.
                    sorts.push((Sort::Feel(index), "running"));
                }
                sorts.push((Sort::Feed(index), "rest"));
                sorts.push((across(Instrument::Volts, ends(0, 1)), "held"));
                sorts.push((across(Instrument::Ohms, ends(0, 1)), "dead"));
            }
            "switch" => {
                sorts.push((across(Instrument::Ohms, ends(0, 1)), "dead"));
                sorts.push((across(Instrument::Ohms, ends(0, 1)), "dead-held"));
                sorts.push((across(Instrument::Volts, ends(0, 1)), "held"));
            }
            "fuse" | "breaker" => {
                sorts.push((across(Instrument::Volts, ends(0, 1)), "on"));
                // Behind a fuse: a short to ground that would blow the next one too.
                let behind = ends(0, 1).1;
                sorts.push((across(Instrument::Ohms, (behind, self.ground())), "dead"));
                sorts.push((across(Instrument::Ohms, (behind, self.ground())), "dead-held"));
            }
            "diode" => sorts.push((across(Instrument::Diode, ends(0, 1)), "dead")),
            "lamp" | "instrument-lamp" => {
                sorts.push((Sort::Watch(index), "on"));
                sorts.push((Sort::Watch(index), "held"));
            }
            "engine" => sorts.push((Sort::Turn(index), "rest")),
            "bushing" => sorts.push((Sort::Size(index), "rest")),
            "stator" => {
                let single = self.chosen(index, "phases") == Some("one");
                let pairs: &[(usize, usize)] = if single { &[(0, 1)] } else { &[(0, 1), (1, 2), (2, 0)] };
                for &(from, to) in pairs {
                    sorts.push((across(Instrument::Ohms, ends(from, to)), "dead"));
                }
                sorts.push((across(Instrument::Ohms, (ends(0, 1).0, self.ground())), "dead"));
            }
            "wire" => sorts.push((across(Instrument::Ohms, ends(0, 1)), "dead")),
            // At its end of the generator's leads: what lies between, plug and leads, counts too.
            "regulator" if self.chosen(index, "phases") == Some("three") => {
                for (from, to) in [(2, 3), (3, 4), (4, 2)] {
                    sorts.push((across(Instrument::Ohms, ends(from, to)), "dead"));
                }
            }
            _ => {}
        }
    }

    /// Drops per ampere along the path of the motor's current, for a workshop that has a meter and a clamp.
    /// The clamp sits round the cable whose current comes nearest.
    fn suggest_per_ampere(&self) -> Vec<Sort> {
        let has = |sort: &str| self.sheet.meters.iter().any(|meter| meter.sort == sort);
        let (Ok(held), true) = (self.state("held"), has("meter") && has("clamp")) else { return Vec::new() };
        let mut bench = Bench::new();
        let setting = Setting { state: &held, edits: &[], air: None };
        let Ok(point) = bench.solve(self, &setting) else { return Vec::new() };
        let current = |branch: usize| point.state.solution.current(branch).0.abs();
        let Some(motor) = bench.network.motors.first().map(|motor| current(motor.branch)) else { return Vec::new() };
        let main = |branch: usize| motor > 0.0 && current(branch) > 0.5 * motor;
        let parts = || self.sheet.parts.iter().zip(&self.parts);
        let cables: Vec<usize> = parts()
            .filter(|(part, _)| part.kind.name == "cable")
            .filter_map(|(_, layout)| layout.slots[0])
            .filter(|branch| main(*branch))
            .collect();
        let nearest = |branch: usize| {
            let off = |cable: &usize| (current(*cable) - current(branch)).abs();
            cables.iter().copied().min_by(|left, right| off(left).total_cmp(&off(right)))
        };
        let mut sorts = Vec::new();
        for (part, layout) in parts() {
            // Path that carries the current, and the two terminals that leads are put on.
            let (path, from, to) = match part.kind.name {
                "cable" => (0, 2, 3),
                "joint" => (0, 0, 1),
                "relay" => (1, 2, 3),
                "solenoid" => (1, 1, 2),
                _ => continue,
            };
            let Some(branch) = layout.slots[path].filter(|branch| main(*branch)) else { continue };
            let Some(clamped) = nearest(branch) else { continue };
            sorts.push(Sort::PerAmp { red: layout.terminals[from], black: layout.terminals[to], clamped });
        }
        sorts
    }

    /// What a look at a part can find; only where eyes can tell.
    pub(super) fn looks(&self, part: usize) -> &'static [&'static str] {
        let kind = self.sheet.parts[part].kind;
        match (kind.name, kind.fields.iter().find(|field| field.name == "looks").map(|field| field.want)) {
            ("fuse", _) => &["whole", "blown", "wrong"],
            ("breaker", _) => &["set", "tripped"],
            (_, Some(Want::Choice(words))) => words,
            _ => &[],
        }
    }

    /// Whether a look is worth proposing: fuses, plugs, breakers with a button, cells whose acid shows, interlocks, and
    /// controls that the sheet's author knows to be left in a wrong position.
    fn is_worth_a_look(&self, index: usize) -> bool {
        let part = &self.sheet.parts[index];
        let word = |field: &str| part.kind.word(&part.values, field);
        let misplaced = || {
            let slot = part.kind.fields.iter().position(|known| known.name == "looks");
            self.sheet
                .faults
                .iter()
                .any(|fault| fault.set.iter().any(|(of, field, _)| *of == index && Some(*field) == slot))
        };
        match part.kind.name {
            "fuse" | "connector" => true,
            "breaker" => word("resets") == Some("by-hand"),
            "battery" => word("chemistry") == Some("flooded"),
            "switch" => word("role") == Some("interlock") || misplaced(),
            _ => false,
        }
    }

    /// Each side of an unplugged connector against the frame: the plug tells on which side a short lies. The battery's
    /// minus would not do: with its lead lifted it leads nowhere but through the battery.
    fn suggest_unplugged(&self, index: usize) -> Vec<(Sort, Cow<'static, str>)> {
        let state = format!("dead~{}", self.sheet.parts[index].name.name);
        let frame = self.ground();
        let sides = self.layout(index).terminals.iter().filter(|node| **node != frame && **node != self.reference());
        let ohms = |red: &usize| Sort::Meter(Instrument::Ohms, Hookup::Between { red: *red, black: frame });
        sides.map(|node| (ohms(node), Cow::Owned(state.clone()))).collect()
    }

    /// Nodes at which a probe's tip can be put: terminals of parts, not the inside of a cable, not mid-loom.
    fn touchable(&self) -> Vec<usize> {
        let mut nodes: Vec<usize> = Vec::new();
        for (part, layout) in self.sheet.parts.iter().zip(&self.parts) {
            match part.kind.terminals {
                Terminals::Named(_) | Terminals::Ways => {
                    let named = part.terminals.iter().zip(&layout.terminals);
                    let outer = named.filter(|((terminal, _), _)| !part.kind.is_inner(&part.values, terminal));
                    nodes.extend(outer.map(|(_, node)| *node));
                }
                Terminals::Ends { rings: true } => nodes.extend(&layout.terminals[2..]),
                Terminals::Ends { .. } if part.kind.name != "wire" => nodes.extend(&layout.terminals[..2]),
                Terminals::Ends { .. } | Terminals::None => {}
            }
        }
        nodes.sort_unstable();
        nodes.dedup();
        nodes
    }

    fn is_lifted_when_dead(&self, part: usize) -> bool {
        let Ok(dead) = self.state("dead") else { return false };
        self.layout(part).slots.iter().flatten().any(|branch| dead.open.contains(branch))
    }

    /// Title, set-up, place and cost of a probe.
    pub(crate) fn describe(&self, sort: Sort, state: &str, name: &str) -> Probe {
        let title_of = |part: usize| self.sheet.parts[part].title.as_str();
        let mut probe = Probe {
            name: name.to_owned(),
            title: String::new(),
            sort,
            state: state.to_owned(),
            red: String::new(),
            black: String::new(),
            setup: self.setup(state),
            places: Vec::new(),
            minutes: 0.3,
            elapsed: 0.0,
            caution: String::new(),
            hands: 1,
            crank_seconds: 0.0,
            face: if let Sort::Meter(instrument, _) = sort { Some(self.face(instrument)) } else { None },
            looks: if let Sort::Look(part) = sort { self.looks(part) } else { &[] },
        };
        let base = state.split('~').next().unwrap_or_default();
        let cranks = base == "held" || base.starts_with("held-");
        let dead = state.starts_with("dead");
        if let Ok(entered) = self.state(base) {
            probe.caution = entered.caution;
        }
        if cranks {
            probe.caution =
                if probe.caution.is_empty() { CRANK_CAUTION.to_owned() } else { format!("{}; {BURST}", probe.caution) };
            probe.crank_seconds = 2.0;
        }
        match sort {
            Sort::Meter(instrument, Hookup::Between { red, black }) => {
                self.node_name(red).clone_into(&mut probe.red);
                self.node_name(black).clone_into(&mut probe.black);
                probe.title =
                    format!("{} from {} to {}", what(instrument), self.node_title(red), self.node_title(black));
                probe.places = [self.place_of_node(red), self.place_of_node(black)].into_iter().flatten().collect();
                probe.minutes = if dead { 0.7 } else { 0.5 } + if cranks { 0.3 } else { 0.0 };
                probe.hands = if cranks { 3 } else { 2 };
            }
            Sort::Meter(instrument, Hookup::In(branch)) => {
                let conductor = &self.branches()[branch];
                probe.places = self.place_of_part(conductor.part).into_iter().collect();
                let part = title_of(conductor.part);
                if instrument == Instrument::Amps {
                    probe.title = format!("current through the meter in place of the {part}");
                    probe.caution = AMMETER_CAUTION.to_owned();
                    self.node_name(conductor.from).clone_into(&mut probe.red);
                    self.node_name(conductor.to).clone_into(&mut probe.black);
                    probe.minutes = 2.5;
                    probe.hands = 2;
                } else {
                    probe.title = format!("{} of the {part}", what(instrument));
                    probe.minutes = if cranks { 0.8 } else { 0.5 };
                    probe.hands = 2;
                }
            }
            Sort::PerAmp { red, black, clamped } => {
                self.node_name(red).clone_into(&mut probe.red);
                self.node_name(black).clone_into(&mut probe.black);
                let clamped = self.branches()[clamped].part;
                let (from, to) = (self.node_title(red), self.node_title(black));
                probe.title = format!("drop per ampere from {from} to {to}, clamp round the {}", title_of(clamped));
                let places = [self.place_of_node(red), self.place_of_node(black), self.place_of_part(clamped)];
                probe.places = places.into_iter().flatten().collect();
                probe.minutes = 1.2;
                probe.hands = 4;
            }
            Sort::Listen(part) => probe.title = format!("listen to the {}", title_of(part)),
            Sort::Watch(part) => probe.title = format!("watch the {}", title_of(part)),
            Sort::Feel(part) => probe.title = format!("does the {} turn (listen, feel)", title_of(part)),
            Sort::Feed(part) => {
                probe.title = format!("feed the {} straight from the battery with jump leads", title_of(part));
                FEED_CAUTION.clone_into(&mut probe.caution);
                probe.places = self.place_of_part(part).into_iter().collect();
                probe.minutes = 4.0;
                probe.hands = 2;
                probe.crank_seconds = 1.0;
            }
            Sort::Turn(part) => {
                probe.title = format!("turn the {} by hand", title_of(part));
                "ignition off; one that does not turn is not cranked: plug out and grounded first, face and flame away, liquid may spray"
                    .clone_into(&mut probe.caution);
                probe.minutes = 1.0;
            }
            Sort::Look(part) => {
                probe.title = format!("look at the {}", title_of(part));
                probe.places = self.place_of_part(part).into_iter().collect();
                probe.minutes = 0.5;
            }
            Sort::Wiggle(part) => {
                probe.title = format!("move the {} by hand: does anything change", title_of(part));
                probe.places = self.place_of_part(part).into_iter().collect();
                probe.hands = if cranks { 2 } else { 1 };
            }
            Sort::Size(part) => {
                probe.title = format!("measure the clearance of the {}", title_of(part));
                "battery's negative lead lifted before the starter comes out".clone_into(&mut probe.caution);
                probe.places = self.place_of_part(part).into_iter().collect();
                probe.minutes = 25.0;
            }
            Sort::Ask(Question::Since) => {
                "ask: what happened since it last worked?".clone_into(&mut probe.title);
                probe.minutes = 0.3;
                probe.hands = 0;
            }
        }
        if state.contains('~') {
            probe.minutes += 0.5;
        }
        probe.places.sort_unstable();
        probe.places.dedup();
        probe.elapsed = probe.minutes;
        probe
    }

    /// How to get into a state, from rest.
    fn setup(&self, name: &str) -> Vec<String> {
        let (Ok(state), rest) = (self.state(name), self.state("rest").ok()) else { return Vec::new() };
        let mut steps = Vec::new();
        let mut lifted: Vec<&str> = state.open.iter().map(|branch| self.part_title_of(*branch)).collect();
        lifted.dedup();
        steps.extend(lifted.into_iter().map(|part| format!("lift or unplug: {part}")));
        for (index, control) in self.sheet.controls.iter().enumerate() {
            let now = state.positions[index];
            if rest.as_ref().is_none_or(|rest| rest.positions[index] != now) {
                steps.push(format!("{}: {}", control.title, control.positions[now]));
            }
        }
        steps
    }

    fn part_title_of(&self, branch: usize) -> &str {
        &self.sheet.parts[self.branches()[branch].part].title
    }

    /// A node in words: its splice, or the part's title and the terminal.
    pub fn node_title(&self, node: usize) -> String {
        let name = self.node_name(node);
        match name.split_once('.') {
            Some((part, terminal)) => match self.part(part) {
                Ok(part) => format!("{} {terminal}", self.sheet.parts[part].title),
                Err(_) => name.to_owned(),
            },
            None => name.replace('-', " "),
        }
    }

    /// The place with the least access among the parts that meet at a node.
    pub fn place_of_node(&self, node: usize) -> Option<usize> {
        let mut best: Option<Option<usize>> = None;
        let minutes = |place: Option<usize>| place.map_or(0.0, |place| self.sheet.places[place].access_minutes);
        for (part, layout) in self.sheet.parts.iter().zip(&self.parts) {
            if layout.terminals.contains(&node)
                && part.place.is_some()
                && best.is_none_or(|known| minutes(part.place) < minutes(known))
            {
                best = Some(part.place);
            }
        }
        best.flatten()
    }

    /// Wire colors at a node and the marks of the part that it is called by, to find the pin; a hint, never evidence.
    pub fn pin_hint(&self, node: usize) -> String {
        let owner = self.node_name(node).split_once('.').map(|(part, _)| part);
        let mut hints: Vec<&str> = Vec::new();
        for (part, layout) in self.sheet.parts.iter().zip(&self.parts) {
            if layout.terminals.contains(&node) {
                hints.push(&part.color);
                if owner == Some(part.name.name.as_str()) {
                    hints.push(&part.cavity);
                }
            }
        }
        hints.retain(|hint| !hint.is_empty());
        hints.sort_unstable();
        hints.dedup();
        hints.join(", ")
    }

    /// For a splice, the two parts that meet there: "where the fuse meets the key switch".
    pub fn meeting(&self, node: usize) -> Option<String> {
        if self.node_name(node).contains('.') {
            return None;
        }
        let at_node = self.sheet.parts.iter().zip(&self.parts).filter(|(_, layout)| layout.terminals.contains(&node));
        let mut titles = at_node.map(|(part, _)| part.title.as_str());
        let (first, second) = (titles.next()?, titles.next()?);
        Some(format!("where the {first} meets the {second}"))
    }

    fn place_of_part(&self, part: usize) -> Option<usize> {
        self.sheet.parts[part].place
    }
}

/// The same instrument on the same points, whichever lead is where.
fn is_same(left: Sort, right: Sort) -> bool {
    match (left, right) {
        (
            Sort::Meter(one, Hookup::Between { red, black }),
            Sort::Meter(other, Hookup::Between { red: other_red, black: other_black }),
        ) => one == other && ((red, black) == (other_red, other_black) || (red, black) == (other_black, other_red)),
        _ => left == right,
    }
}

fn volts(red: usize, black: usize) -> Sort {
    Sort::Meter(Instrument::Volts, Hookup::Between { red, black })
}

fn what(instrument: Instrument) -> &'static str {
    match instrument {
        Instrument::Volts => "volts",
        Instrument::LowZ => "volts under a small load",
        Instrument::Ohms => "ohms",
        Instrument::Diode => "junction voltage",
        Instrument::Lamp => "test lamp",
        Instrument::Amps => "amps",
        Instrument::Clamp => "clamp current",
    }
}
