//! How technicians without the desk's planning choose what to measure next. They share its odds and its stop.
//! The list: the order of checks that the trade usually goes (common practice, no source), built from a sheet's probes by
//! the kind of part. Halving: along the path of the motor's or the coil's current, whichever holds more of the belief,
//! the point that has half of it on either side; when no point splits it, the cheapest look at the likeliest part.

use std::collections::VecDeque;

use machine::probe::Sort;
use machine::{Hookup, Instrument, Machine, Probe};

use super::purse::Purse;
use crate::cast::Cast;

/// What the rivals know of a machine.
#[derive(Clone, Debug)]
pub(crate) struct Rivals {
    /// Probes of the list, by index, with the group that each belongs to.
    list: Vec<(u8, usize)>,
    /// Paths of current.
    paths: Vec<Vec<Stretch>>,
    /// The part of each suspect's fault.
    parts: Vec<(String, Option<usize>)>,
    /// What a good technician tries first: press start, listen, look.
    opening: Vec<usize>,
}

/// A part that current flows through, and the probe of the point behind it.
#[derive(Clone, Debug)]
struct Stretch {
    part: usize,
    behind: Option<usize>,
}

/// Belief on a part below this is not pursued.
const PURSUED: f64 = 0.03;
/// A point is a midpoint when the smaller side holds this share of the path's belief.
const SPLITS: f64 = 0.12;
/// Points that split nearly as well are taken by cost.
const NEARLY: f64 = 0.7;

impl Rivals {
    pub(crate) fn new(machine: &Machine, probes: &[Probe], cast: &Cast) -> Self {
        let ranked = probes.iter().enumerate().filter_map(|(index, probe)| Some((rank(machine, probe)?, index)));
        let mut list: Vec<((u8, u8), usize)> = ranked.collect();
        list.sort_unstable();
        let part = |name: &str, part| (if name.is_empty() { "healthy".to_owned() } else { name.to_owned() }, part);
        let held = |probe: &Probe| probe.state == "held";
        let opens =
            |probe: &Probe| held(probe) && matches!(probe.sort, Sort::Listen(_) | Sort::Feel(_) | Sort::Watch(_));
        Self {
            list: list.into_iter().map(|((group, _), index)| (group, index)).collect(),
            paths: paths(machine, probes),
            parts: cast
                .suspects
                .iter()
                .map(|suspect| part(&suspect.name, suspect.fault.as_ref().and_then(|fault| fault.part)))
                .collect(),
            opening: (0..probes.len()).filter(|index| opens(&probes[*index])).collect(),
        }
    }

    /// The next check of the list; where a battery goes flat the trade looks for a leak first.
    pub(crate) fn next_of_list(&self, complaint: &str, open: impl Fn(usize) -> bool) -> Option<usize> {
        let order = |group: u8| if complaint == "goes-flat" && group == LEAK { 1 } else { group * 2 };
        let left = self.list.iter().filter(|(_, index)| open(*index));
        left.min_by_key(|(group, _)| order(*group)).map(|(_, index)| *index)
    }

    /// The next probe of a technician who halves the suspected path.
    pub(crate) fn next_of_halving(
        &self,
        machine: &Machine,
        probes: &[Probe],
        belief: &[f64],
        purse: &Purse,
        open: impl Fn(usize) -> bool,
    ) -> Option<usize> {
        let cheapest = |left: &&usize, right: &&usize| {
            purse.price(&probes[**left]).total_cmp(&purse.price(&probes[**right])).then(left.cmp(right))
        };
        if let Some(first) = self.opening.iter().find(|index| open(**index)) {
            return Some(*first);
        }
        let mass = |path: &Vec<Stretch>| path.iter().map(|stretch| belief[stretch.part]).sum::<f64>();
        let path = self.paths.iter().max_by(|left, right| mass(left).total_cmp(&mass(right)));
        if let Some(path) = path.filter(|path| mass(path) > PURSUED) {
            let total = mass(path);
            let mut before = 0.0;
            let mut points: Vec<(usize, f64)> = Vec::new();
            for stretch in path {
                before += belief[stretch.part];
                if let Some(index) = stretch.behind.filter(|index| open(*index)) {
                    points.push((index, before.min(total - before) / total));
                }
            }
            let best = points.iter().map(|(_, split)| *split).fold(0.0, f64::max);
            if best >= SPLITS {
                let near: Vec<usize> =
                    points.iter().filter(|(_, split)| *split >= NEARLY * best).map(|(index, _)| *index).collect();
                return near.iter().min_by(cheapest).copied();
            }
        }
        let mut likely: Vec<usize> = (0..belief.len()).filter(|part| belief[*part] > PURSUED).collect();
        likely.sort_by(|left, right| belief[*right].total_cmp(&belief[*left]).then(left.cmp(right)));
        likely.into_iter().find_map(|part| {
            let looks: Vec<usize> =
                (0..probes.len()).filter(|index| open(*index) && is_of(machine, &probes[*index], part)).collect();
            looks.iter().min_by(cheapest).copied()
        })
    }

    /// Belief on each part.
    pub(crate) fn belief(&self, machine: &Machine, suspects: impl Iterator<Item = (usize, f64)>) -> Vec<f64> {
        let mut belief = vec![0.0; machine.sheet.parts.len()];
        for (suspect, share) in suspects {
            if let Some((_, Some(part))) = self.parts.get(suspect) {
                belief[*part] += share;
            }
        }
        belief
    }

    /// Index of a suspect.
    pub(crate) fn index_of(&self, fault: &str) -> Option<usize> {
        self.parts.iter().position(|(name, _)| name == fault)
    }
}

const LEAK: u8 = 7;

/// Where a probe stands in the list: group, then place in it. Nothing when the list does without it.
fn rank(machine: &Machine, probe: &Probe) -> Option<(u8, u8)> {
    let kind = |part: usize| machine.sheet.parts[part].kind.name;
    let state = probe.state.as_str();
    match (probe.sort, state) {
        (Sort::Look(part), _) if matches!(kind(part), "fuse" | "breaker") => Some((2, 0)),
        (Sort::Listen(_), "held") => Some((3, 0)),
        (Sort::Feed(_), _) => Some((5, 0)),
        (Sort::Turn(_), _) => Some((6, 0)),
        (Sort::Look(_), _) => Some((6, 1)),
        (Sort::Size(_), _) => Some((6, 2)),
        (Sort::Meter(Instrument::Amps, _), "rest") => Some((LEAK, 0)),
        (Sort::Meter(instrument, Hookup::Between { red, black }), _) => {
            let part = (0..machine.sheet.parts.len()).find(|part| is_across(machine, *part, red, black));
            match (instrument, state, part.map(kind)) {
                (Instrument::Volts, "rest", Some("battery" | "source")) => Some((0, 0)),
                (Instrument::Volts, "held", Some("battery" | "source")) => Some((0, 1)),
                (Instrument::Volts, "held", Some("joint")) => Some((1, 0)),
                (Instrument::Volts, "held", Some("cable")) => {
                    part.map(|part| if feeds_motor(machine, part) { (4, 0) } else { (1, 1) })
                }
                (Instrument::Ohms, "dead-held", Some("switch")) => Some((2, 2)),
                (Instrument::Volts, "held", Some("relay" | "solenoid")) => Some((3, 1)),
                (Instrument::Ohms, "dead", Some("relay" | "solenoid")) => Some((3, 2)),
                (Instrument::Volts, "held", Some("starter" | "motor")) => Some((5, 1)),
                (Instrument::Volts, "held", None) if black == machine.reference() => {
                    let plug = (0..machine.sheet.parts.len())
                        .any(|part| kind(part) == "connector" && machine.layout(part).terminals.contains(&red));
                    plug.then_some((2, 1))
                }
                _ => None,
            }
        }
        _ => None,
    }
}

/// Whether two points are the two ends of a part, of its coil, or of its contact.
fn is_across(machine: &Machine, part: usize, red: usize, black: usize) -> bool {
    let ends = &machine.layout(part).terminals;
    let pair = |from: usize, to: usize| match (ends.get(from), ends.get(to)) {
        (Some(from), Some(to)) => (*from, *to) == (red, black) || (*to, *from) == (red, black),
        _ => false,
    };
    match machine.sheet.parts[part].kind.name {
        "relay" => pair(0, 1) || pair(2, 3),
        "solenoid" => pair(0, 3) || pair(1, 2),
        "cable" => pair(2, 3),
        "connector" => false,
        _ => pair(0, 1),
    }
}

fn feeds_motor(machine: &Machine, cable: usize) -> bool {
    let ends = &machine.layout(cable).terminals;
    machine.sheet.parts.iter().enumerate().any(|(part, known)| {
        matches!(known.kind.name, "starter" | "motor") && ends.contains(&machine.layout(part).terminals[0])
    })
}

/// Whether a probe looks at a part: across it, in it, or at a point of it.
fn is_of(machine: &Machine, probe: &Probe, part: usize) -> bool {
    match probe.sort {
        Sort::Meter(_, Hookup::Between { red, black }) | Sort::PerAmp { red, black, .. } => {
            let ends = &machine.layout(part).terminals;
            is_across(machine, part, red, black)
                || (ends.contains(&red) && (ends.contains(&black) || probe.state == "held"))
        }
        Sort::Meter(_, Hookup::In(branch)) => {
            let battery = matches!(machine.sheet.parts[part].kind.name, "load" | "regulator" | "control-unit");
            machine.branches()[branch].part == part || (battery && probe.state == "rest")
        }
        Sort::Feed(at) | Sort::Feel(at) | Sort::Listen(at) | Sort::Watch(at) | Sort::Turn(at) | Sort::Look(at) => {
            at == part
        }
        Sort::Size(at) | Sort::Wiggle(at) => at == part,
        Sort::Ask(_) => false,
    }
}

/// The ways of the motors' and the coils' current, from the battery and back.
fn paths(machine: &Machine, probes: &[Probe]) -> Vec<Vec<Stretch>> {
    let parts = &machine.sheet.parts;
    let Some(battery) = parts.iter().position(|part| matches!(part.kind.name, "battery" | "source")) else {
        return Vec::new();
    };
    let poles = machine.layout(battery).terminals.clone();
    let behind = |node: usize| {
        let here = Sort::Meter(Instrument::Volts, Hookup::Between { red: node, black: machine.reference() });
        probes.iter().position(|probe| probe.state == "held" && probe.sort == here)
    };
    let users = parts
        .iter()
        .enumerate()
        .filter(|(_, part)| matches!(part.kind.name, "starter" | "motor" | "relay" | "solenoid"));
    users
        .filter_map(|(user, part)| {
            let ends = &machine.layout(user).terminals;
            let (into, out) = (ends[0], ends[if part.kind.name == "solenoid" { 3 } else { 1 }]);
            let feed = way(machine, poles[0], into)?;
            let back = way(machine, out, poles[1])?;
            let mut path = vec![Stretch { part: battery, behind: behind(poles[0]) }];
            let mut add = |(branch, node): (usize, usize)| {
                let part = machine.branches()[branch].part;
                match path.iter_mut().find(|known| known.part == part) {
                    Some(known) => known.behind = behind(node).or(known.behind),
                    None => path.push(Stretch { part, behind: behind(node) }),
                }
            };
            feed.into_iter().for_each(&mut add);
            add((machine.layout(user).slots[0]?, out));
            back.into_iter().for_each(&mut add);
            Some(path)
        })
        .collect()
}

/// The shortest way through conductors and contacts: branches, each with the node behind it.
fn way(machine: &Machine, from: usize, to: usize) -> Option<Vec<(usize, usize)>> {
    let conducts = |branch: usize| {
        let part = machine.branches()[branch].part;
        let kind = machine.sheet.parts[part].kind.name;
        matches!(kind, "cable" | "joint" | "wire" | "fuse" | "breaker" | "switch" | "connector" | "diode")
            || (matches!(kind, "relay" | "solenoid") && machine.layout(part).slots[1] == Some(branch))
    };
    let mut came: Vec<Option<(usize, usize)>> = vec![None; machine.node_count()];
    let mut waiting = VecDeque::from([from]);
    let mut seen = vec![false; machine.node_count()];
    seen[from] = true;
    while let Some(node) = waiting.pop_front() {
        for (branch, conductor) in machine.branches().iter().enumerate().filter(|(branch, _)| conducts(*branch)) {
            let next = match (conductor.from == node, conductor.to == node) {
                (true, _) => conductor.to,
                (_, true) => conductor.from,
                _ => continue,
            };
            if !seen[next] {
                seen[next] = true;
                came[next] = Some((branch, node));
                waiting.push_back(next);
            }
        }
    }
    let mut way = Vec::new();
    let mut node = to;
    while node != from {
        let (branch, before) = came[node]?;
        way.push((branch, node));
        node = before;
    }
    way.reverse();
    Some(way)
}
