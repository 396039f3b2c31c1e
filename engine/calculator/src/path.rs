//! The way of the motor's current in a solved machine: from the battery's plus through the motor to its minus.
//! Law: at each node the way goes on by the branch that carries most; by Kirchhoff's voltage law the drops along any way
//! add up to the same. Promise: each branch once; nothing where the motor gets no current.

use machine::Machine;
use machine::kind::find as kind;

use crate::own::Solved;

/// On which side of the motor a piece of the path lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Between battery plus and motor.
    Positive,
    /// Between motor and battery minus.
    Ground,
}

impl Side {
    /// As printed.
    pub fn word(self) -> &'static str {
        match self {
            Self::Positive => "positive",
            Self::Ground => "ground",
        }
    }
}

/// What a piece of the path is, as far as a usual limit goes with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sort {
    /// Copper between two ends.
    Cable,
    /// What is bolted, crimped or plugged.
    Joint,
    /// A relay's or switch's contact, a fuse.
    Contact,
}

/// A piece of the path.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// In the technician's words.
    pub title: String,
    /// Where.
    pub side: Side,
    /// What.
    pub sort: Sort,
    /// Its current, A.
    pub current: f64,
    /// Its drop, V.
    pub drop: f64,
}

/// The pieces from battery plus to battery minus, the motor left out; nothing when it gets no current.
pub fn motor_path(machine: &Machine, solved: &Solved<'_>) -> Option<Vec<Piece>> {
    const LEAST: f64 = 1.0;
    let motor = solved.motor()?.branch;
    let supply = solved.battery()?;
    let ends = |branch: usize| (machine.branches()[branch].from, machine.branches()[branch].to);
    let (plus, minus) = ends(supply);
    let (mut inlet, mut outlet) = ends(motor);
    if solved.current(motor).0 < 0.0 {
        std::mem::swap(&mut inlet, &mut outlet);
    }
    if solved.current(motor).0.abs() < LEAST {
        return None;
    }
    let mut used = vec![motor, supply];
    let mut pieces = walk(machine, solved, &mut used, Side::Positive, inlet, plus)?;
    pieces.reverse();
    pieces.extend(walk(machine, solved, &mut used, Side::Ground, outlet, minus)?);
    Some(pieces)
}

/// From a node of the motor to a post of the battery: against the current on the positive side, with it on the other.
fn walk(
    machine: &Machine,
    solved: &Solved<'_>,
    used: &mut Vec<usize>,
    side: Side,
    from: usize,
    post: usize,
) -> Option<Vec<Piece>> {
    let mut pieces = Vec::new();
    let mut at = from;
    while at != post {
        // What flows towards the motor on the positive side flows out of the next node, and the other way round.
        let (branch, next, current) = (0..machine.branches().len())
            .filter(|branch| !used.contains(branch))
            .filter_map(|branch| {
                let conductor = &machine.branches()[branch];
                let through = solved.current(branch).0;
                let (next, towards) = match (conductor.from == at, conductor.to == at) {
                    (true, false) => (conductor.to, -through),
                    (false, true) => (conductor.from, through),
                    _ => return None,
                };
                let along = if side == Side::Positive { towards } else { -towards };
                (along > 0.0).then_some((branch, next, along))
            })
            .max_by(|left, right| left.2.total_cmp(&right.2))?;
        used.push(branch);
        pieces.push(piece(machine, branch, side, current, solved.across(branch).0.abs()));
        at = next;
    }
    Some(pieces)
}

fn piece(machine: &Machine, branch: usize, side: Side, current: f64, drop: f64) -> Piece {
    let conductor = &machine.branches()[branch];
    let part = &machine.sheet.parts[conductor.part];
    let of_part = conductor.name.split_once('.').map_or("", |(_, name)| name);
    let is = |name: &str| kind(name).is_some_and(|known| std::ptr::eq(known, part.kind));
    let (sort, title) = match of_part {
        "from-ring" | "to-ring" => {
            let end = if of_part == "from-ring" { &part.terminals[0].1 } else { &part.terminals[1].1 };
            let at = end.as_ref().map_or("its end", |named| named.name.as_str());
            (Sort::Joint, format!("{}, ring at {}", part.title, words(machine, at)))
        }
        "" if is("cable") || is("wire") => (Sort::Cable, part.title.clone()),
        "" if is("joint") => (Sort::Joint, part.title.clone()),
        _ if is("connector") => (Sort::Joint, format!("{}, way {of_part}", part.title)),
        "contact" => (Sort::Contact, format!("{}, contact", part.title)),
        "" => (Sort::Contact, part.title.clone()),
        other => (Sort::Contact, format!("{}, {other}", part.title)),
    };
    Piece { title, side, sort, current, drop }
}

/// A terminal's name in words.
fn words(machine: &Machine, name: &str) -> String {
    machine.node(name).map_or_else(
        |_| name.to_owned(),
        |_| {
            let Some((part, terminal)) = name.split_once('.') else { return name.replace('-', " ") };
            let title = machine.part(part).map_or(part, |part| machine.sheet.parts[part].title.as_str());
            format!("{title} {terminal}")
        },
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::own::{solved, tests::school};

    /// Kirchhoff's voltage law round the loop: drops, motor and battery add up to nothing.
    #[test]
    fn law_the_drops_along_the_path_and_the_motor_are_the_battery() {
        for id in ["curlew", "moorhen", "dunlin", "dabchick"] {
            let machine = school(id);
            for state in ["held", "pull-in"] {
                let held = solved(&machine, state, &[]).unwrap();
                let pieces = motor_path(&machine, &held).unwrap();
                let drops: f64 = pieces.iter().map(|piece| piece.drop).sum();
                let motor = held.across(held.motor().unwrap().branch).0.abs();
                let battery = held.across(held.battery().unwrap()).0;
                assert!((drops + motor - battery).abs() < 1e-6, "{id} {state}: {drops} + {motor} is not {battery}");
                assert!(pieces.iter().any(|piece| piece.side == Side::Ground));
            }
        }
    }
}
