//! In which order to pull fuses and plugs so that each halves what can leak.
//! Law: a part can leak at rest if one of its terminals has the battery's voltage then; what loses it when a fuse is pulled
//! or a plug taken off lies behind that. The best next one tells most bits a minute (Shannon), access paid once a place.
//! Promise: every step parts something; each suspect is one part. Limit: minutes and odds of suspects are estimates; what
//! leaks ahead of every fuse (the battery's own case, a stud) can only be found by what stays.

use machine::Machine;

use crate::own::{Solved, solved};

/// Kinds that can take a current while everything is off: consumers, what water bridges, studs.
const LEAK: &[&str] =
    &["load", "regulator", "control-unit", "ignition", "horn", "lamp", "instrument-lamp", "pump", "switch", "relay"];

/// Kinds that leak rarely: only when wet (odds against a consumer, estimate).
const RARELY: (&[&str], f64) = (&["switch", "relay"], 0.3);
/// Minutes to pull a fuse, to part a connector, to find and part the plug of one part (estimates).
const MINUTES: [f64; 3] = [0.5, 1.0, 3.0];

/// One thing to pull.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// When it is its turn: first, or after which step did what.
    pub when: String,
    /// What to do.
    pub act: String,
    /// Where; empty when the sheet does not say.
    pub place: String,
    /// What a healthy machine's rest current falls by, A.
    pub healthy: f64,
    /// Titles of what it is if the leak falls.
    pub falls: Vec<String>,
    /// Titles of what it is if the leak stays.
    pub stays: Vec<String>,
}

/// What can be pulled: its words, the place, what falls dark behind it, and the healthy current that ends with it.
struct Pull {
    act: String,
    place: String,
    minutes: f64,
    access: f64,
    behind: Vec<usize>,
    healthy: f64,
}

/// The plan for a machine at rest; nothing when it has no such state.
pub fn plan(machine: &Machine) -> Option<Vec<Step>> {
    let rest = solved(machine, "rest", &[])?;
    let suspects: Vec<usize> = (0..machine.sheet.parts.len())
        .filter(|part| LEAK.contains(&machine.sheet.parts[*part].kind.name) && is_hot(machine, &rest, *part))
        .collect();
    let pulls: Vec<Pull> =
        (0..machine.sheet.parts.len()).filter_map(|part| pull(machine, &rest, &suspects, part)).collect();
    let mut steps = Vec::new();
    split(machine, &pulls, &suspects, "first".to_owned(), &[], &mut steps);
    Some(steps)
}

/// Whether a terminal of the part has more than half of the battery's voltage.
fn is_hot(machine: &Machine, at: &Solved<'_>, part: usize) -> bool {
    let half = at.battery().map_or(f64::INFINITY, |battery| 0.5 * at.across(battery).0.abs());
    let minus =
        at.battery().and_then(|battery| at.potential(machine.branches()[battery].to)).map_or(0.0, |volts| volts.0);
    machine.layout(part).terminals.iter().any(|node| at.potential(*node).is_some_and(|volts| volts.0 - minus > half))
}

fn pull(machine: &Machine, rest: &Solved<'_>, suspects: &[usize], part: usize) -> Option<Pull> {
    let (sheet, kind) = (&machine.sheet, machine.sheet.parts[part].kind.name);
    let (verb, minutes) = match kind {
        "fuse" | "breaker" => ("pull", MINUTES[0]),
        "connector" => ("unplug", MINUTES[1]),
        // A relay's studs are not pulled, they are measured.
        _ if kind != "relay" && suspects.contains(&part) => ("unplug", MINUTES[2]),
        _ => return None,
    };
    let open: Vec<usize> = machine.layout(part).slots.iter().flatten().copied().collect();
    let after = solved(machine, "rest", &open)?;
    let behind =
        suspects.iter().copied().filter(|suspect| *suspect == part || !is_hot(machine, &after, *suspect)).collect();
    let place = sheet.parts[part].place.map(|place| &sheet.places[place]);
    Some(Pull {
        act: format!("{verb} the {}", sheet.parts[part].title),
        place: place.map_or(String::new(), |place| place.title.clone()),
        minutes,
        access: place.map_or(0.0, |place| place.access_minutes),
        behind,
        healthy: rest.draw()?.0 - after.draw()?.0,
    })
}

/// What the answer to "does the leak fall?" tells, in bits, by the odds of the suspects on either side.
fn bits(falls: f64, stays: f64) -> f64 {
    let share = falls / (falls + stays);
    -share * libm::log2(share) - (1.0 - share) * libm::log2(1.0 - share)
}

/// Parts the suspects and goes on with both halves; `opened` are the places already paid for on this way.
fn split(machine: &Machine, pulls: &[Pull], suspects: &[usize], when: String, opened: &[&str], steps: &mut Vec<Step>) {
    let odds = |parts: &[usize]| -> f64 {
        let one = |part: &usize| if RARELY.0.contains(&machine.sheet.parts[*part].kind.name) { RARELY.1 } else { 1.0 };
        parts.iter().map(one).sum()
    };
    let halves = |pull: &Pull| -> (Vec<usize>, Vec<usize>) {
        suspects.iter().copied().partition(|suspect| pull.behind.contains(suspect))
    };
    let best = pulls
        .iter()
        .map(|pull| (pull, halves(pull)))
        .filter(|(_, (falls, stays))| !falls.is_empty() && !stays.is_empty())
        .map(|(pull, (falls, stays))| {
            let access = if opened.contains(&pull.place.as_str()) { 0.0 } else { pull.access };
            (bits(odds(&falls), odds(&stays)) / (pull.minutes + access), pull, (falls, stays))
        })
        // The first of equals in sheet order.
        .fold(None, |best: Option<(f64, &Pull, _)>, next| match best {
            Some(best) if best.0 >= next.0 => Some(best),
            _ => Some(next),
        });
    let Some((_, pull, (falls, stays))) = best else { return };
    let opened: Vec<&str> = opened.iter().copied().chain([pull.place.as_str()]).collect();
    let titles = |parts: &[usize]| parts.iter().map(|part| machine.sheet.parts[*part].title.clone()).collect();
    steps.push(Step {
        when,
        act: pull.act.clone(),
        place: pull.place.clone(),
        healthy: pull.healthy,
        falls: titles(&falls),
        stays: titles(&stays),
    });
    let number = steps.len();
    split(machine, pulls, &falls, format!("if {number} made it fall"), &opened, steps);
    split(machine, pulls, &stays, format!("if {number} left it as it was"), &opened, steps);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::own::tests::school;

    /// However it leaks, answering each step truly leaves one suspect, or suspects that nothing can part.
    #[test]
    fn law_each_suspect_is_found_and_the_way_is_short() {
        for id in ["curlew", "moorhen", "dunlin", "dabchick"] {
            let machine = school(id);
            let steps = plan(&machine).unwrap();
            let suspects: Vec<String> = steps[0].falls.iter().chain(&steps[0].stays).cloned().collect();
            let mut longest = 0;
            for leak in &suspects {
                let (mut left, mut asked) = (suspects.clone(), 0);
                for step in &steps {
                    if step.falls.len() + step.stays.len() != left.len()
                        || !step.falls.iter().chain(&step.stays).all(|title| left.contains(title))
                    {
                        continue;
                    }
                    left = if step.falls.contains(leak) { step.falls.clone() } else { step.stays.clone() };
                    asked += 1;
                }
                assert_eq!(left, std::slice::from_ref(leak), "{id}: {leak} after {asked}");
                longest = longest.max(asked);
            }
            assert!(longest < suspects.len(), "{id}: {longest} steps for {}", suspects.len());
        }
    }

    /// Curlew's main fuse carries all that its sheet lets draw at rest.
    #[test]
    fn law_what_a_fuse_carries_at_rest_is_what_falls_when_it_is_pulled() {
        let curlew = school("curlew");
        let rest = solved(&curlew, "rest", &[]).unwrap();
        let all: Vec<usize> = (0..curlew.sheet.parts.len()).filter(|part| is_hot(&curlew, &rest, *part)).collect();
        let fuse = pull(&curlew, &rest, &all, curlew.part("main-fuse").unwrap()).unwrap();
        let carried = rest.current(curlew.branch("main-fuse").unwrap()).0;
        assert!((fuse.healthy - carried).abs() < 1e-6 && carried > 1e-3, "{} {carried}", fuse.healthy);
    }
}
