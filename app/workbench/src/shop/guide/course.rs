//! The courses: trees of the desk's advice, grown by as many hands as there are, told as numbered places.
//! Promise: answers are put in their places whoever was first, so that the number of hands does not show; numbers are
//! those of the paper, branches in the order of what is seen.

use std::collections::BTreeMap;

use diagnosis::Desk;
use diagnosis::advice::{Advice, Step, Verdict};
use diagnosis::complaint::{self, COMPLAINTS, Complaint};
use diagnosis::desk::Scratch;
use diagnosis::request::{BadRequest, Request, part_name};
use diagnosis::tree::{self, End, Limits, Tree, Way};
use machine::Machine;
use machine::kind::spec::Want;
use machine::probe::Sort;
use quantity::show;
use rayon::prelude::*;

use super::{Chapter, CheckTold, Place, RemedyTold, StepTold, VerdictTold, WayOn, What};
use crate::shop::refusal::{Place as At, Reason, Refusal};
use crate::shop::words::{self, Row};

/// Complaints below this share of a machine's jobs get no chapter.
const MATTERS: f64 = 0.004;
/// Questions to the desk in one guide, at most: ten seconds of two hands.
const MOST_ASKED: usize = 120;
/// Steps that are followed at once, so that several hands have something to do.
const AT_ONCE: usize = 6;
/// What is to be read once more is followed before steps that so many more come to.
const ONCE_MORE: f64 = 4.0;
/// Minutes to see whether a remedy worked.
const TRY_MINUTES: f64 = 1.0;

/// The chapters, and the complaints that have none.
pub fn chapters(desk: &Desk, wanted: &[String], limits: Limits) -> Result<(Vec<Chapter>, Vec<String>), Refusal> {
    let all = tree::complaints(desk.atlas());
    let share = |name: &str| all.iter().find(|(known, _)| known.name == name).map_or(0.0, |(_, share)| *share);
    let chosen: Vec<(&'static Complaint, f64)> = match wanted {
        [] => all.iter().copied().filter(|(_, share)| *share >= MATTERS).collect(),
        named => {
            named.iter().filter_map(|name| complaint::find(name)).map(|known| (known, share(known.name))).collect()
        }
    };
    let mut trees: Vec<Tree> = chosen.iter().map(|(known, share)| Tree::new(known, *share, limits)).collect();
    grow(desk, &mut trees)?;
    let mut first = 1;
    let mut chapters = Vec::new();
    for tree in &trees {
        let chapter = chapter(desk, tree, first)?;
        first += chapter.places.len();
        chapters.push(chapter);
    }
    let absent = COMPLAINTS.iter().filter(|known| trees.iter().all(|tree| tree.complaint.name != known.name));
    Ok((chapters, absent.map(|known| known.title.to_owned()).collect()))
}

/// Asks the desk, always where most jobs come along, until every tree is whole or so much has been asked.
fn grow(desk: &Desk, trees: &mut [Tree]) -> Result<(), Refusal> {
    let mut asked = 0;
    loop {
        let open: Vec<(usize, usize, Request)> = trees
            .iter()
            .enumerate()
            .flat_map(|(tree, of)| of.wanted().into_iter().map(move |(spot, request)| (tree, spot, request)))
            .collect();
        asked += open.len();
        let ask = |scratch: &mut Scratch, (tree, spot, request): &(usize, usize, Request)| {
            desk.consider(request, scratch).map(|advice| (*tree, *spot, advice))
        };
        let told: Vec<_> = open.par_iter().map_init(Scratch::default, ask).collect();
        for answer in told {
            // The desk named every probe and every value itself.
            let (tree, spot, advice) = answer.map_err(|error| not_heard(&error))?;
            trees[tree].take(spot, advice);
        }
        let mut frontier: Vec<(f64, usize, usize)> = trees
            .iter()
            .enumerate()
            .flat_map(|(tree, of)| of.frontier().map(move |(spot, reach)| (reach * weight(of, spot), tree, spot)))
            .collect();
        // Where two are alike the order of chapters and steps decides.
        frontier.sort_by(|left, right| right.0.total_cmp(&left.0));
        if frontier.is_empty() || asked >= MOST_ASKED {
            return Ok(());
        }
        for (_, tree, spot) in frontier.into_iter().take(AT_ONCE) {
            trees[tree].follow(spot);
        }
    }
}

/// How much a step is worth being followed, beside the odds of coming there: rare complaints get their part too, and what
/// is only to be read once more stands before a verdict.
fn weight(tree: &Tree, spot: usize) -> f64 {
    let next = tree.spots[spot].advice.as_ref().and_then(|advice| advice.next.first());
    let again = next.is_some_and(|step| step.again);
    tree.share.sqrt().sqrt() * if again { ONCE_MORE } else { 1.0 }
}

fn not_heard(error: &BadRequest) -> Refusal {
    Refusal::new(Reason::Name, At::Request, error.to_string(), "a course", error.allowed())
}

fn chapter(desk: &Desk, tree: &Tree, first: usize) -> Result<Chapter, Refusal> {
    let order = order(tree);
    let number: BTreeMap<usize, usize> = order.iter().copied().zip(first..).collect();
    let walked = tree.walked(&desk.machine, desk.atlas());
    Ok(Chapter {
        complaint: tree.complaint.name.to_owned(),
        title: tree.complaint.title.to_owned(),
        share: tree.share,
        ends: [walked.right, walked.listed, walked.wrong, walked.off],
        minutes: walked.minutes,
        after_water: after_water(desk, tree.complaint)?,
        places: order.iter().filter_map(|spot| place(&desk.machine, tree, *spot, &number)).collect(),
    })
}

/// Steps and ends as they stand on paper: each before what it leads to, branches in the order of what is seen.
fn order(tree: &Tree) -> Vec<usize> {
    let mut order = Vec::new();
    let mut next = vec![0];
    while let Some(spot) = next.pop() {
        order.push(spot);
        let ways = tree.spots[spot].branches.iter().rev();
        next.extend(ways.filter_map(|branch| if let Way::Step(to) = branch.to { Some(to) } else { None }));
    }
    order
}

/// What the desk puts first after water or a fall, where that is the engine turned by hand.
fn after_water(desk: &Desk, complaint: &Complaint) -> Result<Option<StepTold>, Refusal> {
    let request = Request {
        complaint: Some(complaint.name.to_owned()),
        readings: vec![("ask:since".to_owned(), "wash".to_owned())],
        ..Request::default()
    };
    let advice = desk.consider(&request, &mut Scratch::default()).map_err(|error| not_heard(&error))?;
    let by_hand = |step: &&Step| {
        let probe = desk.machine.probe(&step.probe);
        probe.is_ok_and(|probe| matches!(probe.sort, Sort::Turn(_)))
    };
    Ok(advice.next.first().filter(by_hand).map(|step| told(&desk.machine, step, Vec::new())))
}

fn place(machine: &Machine, tree: &Tree, index: usize, number: &BTreeMap<usize, usize>) -> Option<Place> {
    let spot = &tree.spots[index];
    let advice = spot.advice.as_ref()?;
    let from = spot.from.map(|(before, branch)| (number[&before], tree.spots[before].branches[branch].when.clone()));
    let what = match (tree.end(index), advice.next.first()) {
        (None, Some(step)) => What::Step(told(machine, step, ways(tree, index, number))),
        (Some(End::Verdict), _) => What::Verdict(verdict(machine, advice, advice.verdict.as_ref()?)),
        (Some(End::Stop), _) => What::Stop { text: stopped(advice) },
        (_, next) => What::Open { next: next.map(|step| (step.probe.clone(), words::step_title(step), step.minutes)) },
    };
    Some(Place {
        number: number[&index],
        from,
        reach: spot.reach,
        spent: spot.spent,
        readings: spot.readings.iter().map(|(name, value)| format!("{name}={value}")).collect(),
        suspects: tree::named(advice).map(|suspect| (suspect.title.clone(), suspect.probability)).collect(),
        what,
    })
}

fn ways(tree: &Tree, index: usize, number: &BTreeMap<usize, usize>) -> Vec<WayOn> {
    let way = |branch: &tree::Branch| WayOn {
        when: if branch.to == Way::Off { "anything else".to_owned() } else { branch.when.clone() },
        means: branch.means.clone(),
        odds: branch.odds,
        to: match branch.to {
            Way::Step(to) => Some(number[&to]),
            Way::Back => Some(number[&index]),
            Way::Off => None,
        },
    };
    tree.spots[index].branches.iter().map(way).collect()
}

fn told(machine: &Machine, step: &Step, ways: Vec<WayOn>) -> StepTold {
    let probe = machine.probe(&step.probe).ok();
    let mut rows = probe.as_ref().map_or_else(Vec::new, |probe| words::how(machine, probe));
    let cost = words::cost(probe.as_ref(), step).into_iter();
    rows.extend(cost.filter(|(label, _)| *label == "hands"));
    let (place, caution) = at_its_place(machine, &step.probe, &step.caution);
    rows.extend(place);
    let dimension = words::dimension(machine, &step.probe);
    StepTold {
        probe: step.probe.clone(),
        title: words::step_title(step),
        rows,
        minutes: step.minutes,
        caution,
        healthy: step.band.as_ref().map(|band| words::band(band, dimension)).unwrap_or_default(),
        ways,
    }
}

fn stopped(advice: &Advice) -> String {
    let healthy = advice.suspects.first().filter(|leader| leader.fault == "healthy");
    match (advice.stop, healthy) {
        (Some(diagnosis::Stop::NotWorthMore), Some(leader)) => format!(
            "Nothing is wrong with the starting and charging circuit ({}): look elsewhere.",
            words::odds(leader.probability)
        ),
        (stop, _) => stop.map(words::stop).unwrap_or_default().to_owned(),
    }
}

fn verdict(machine: &Machine, advice: &Advice, verdict: &Verdict) -> VerdictTold {
    let check = |check: &diagnosis::advice::Check| CheckTold {
        text: words::check_line(machine, check),
        caution: words::check_caution(machine, check),
    };
    VerdictTold {
        title: words::verdict(advice, verdict),
        faults: verdict.faults.clone(),
        odds: verdict.probability,
        remedy: verdict.remedy.clone(),
        remedy_title: verdict.remedy_title.clone(),
        caution: at_its_place(machine, &verdict.remedy, &verdict.caution).1,
        consequence: verdict.consequence,
        checks: verdict.proof.iter().map(check).collect(),
        pending: verdict.pending.map(|pending| pending.to_string()),
    }
}

/// The remedies that the chapters come to, in the order of the machine's parts.
pub fn remedies(machine: &Machine, chapters: &[Chapter]) -> Vec<RemedyTold> {
    let mut used: BTreeMap<&str, (Vec<usize>, Vec<CheckTold>)> = BTreeMap::new();
    for place in chapters.iter().flat_map(|chapter| &chapter.places) {
        match &place.what {
            What::Verdict(verdict) => {
                let (from, checks) = used.entry(&verdict.remedy).or_default();
                from.push(place.number);
                for check in &verdict.checks {
                    if !checks.contains(check) {
                        checks.push(check.clone());
                    }
                }
            }
            What::Step(step) if step.probe.starts_with("try:") => {
                used.entry(&step.probe).or_default().0.push(place.number);
            }
            _ => {}
        }
    }
    let mut remedies: Vec<RemedyTold> = Vec::new();
    for fault in machine.faults() {
        let name = format!("try:{}@{}", fault.remedy.verb, part_name(machine, &fault));
        let Some((from, checks)) = used.get(name.as_str()) else { continue };
        if let Some(known) = remedies.iter_mut().find(|known| known.name == name) {
            known.mends.push(fault.title.clone());
            continue;
        }
        let place = place_of(machine, &name);
        let (row, caution) = at_its_place(machine, &name, &fault.remedy.caution);
        let mut rows: Vec<Row> = row.into_iter().collect();
        if let Some(part) = fault.part {
            rows.push(("part", part_line(machine, part)));
        }
        if fault.remedy.elapsed > fault.remedy.minutes + 0.5 {
            rows.push(("waiting", format!("done after {}", words::minutes(fault.remedy.elapsed))));
        }
        remedies.push(RemedyTold {
            name,
            title: fault.remedy.title.clone(),
            mends: vec![fault.title.clone()],
            rows,
            minutes: fault.remedy.minutes + TRY_MINUTES + place.map_or(0.0, |place| place.access_minutes),
            caution,
            from: from.clone(),
            checks: checks.clone(),
        });
    }
    remedies
}

/// Where a remedy's part is; nothing for what is no remedy, or sits nowhere.
fn place_of<'a>(machine: &'a Machine, remedy: &str) -> Option<&'a machine::sheet::Place> {
    let (_, part) = remedy.strip_prefix("try:")?.split_once('@')?;
    let place = machine.sheet.parts[machine.part(part).ok()?].place?;
    Some(&machine.sheet.places[place])
}

/// Where a remedy's part is and how long the way there takes, and what to mind at both; a probe's caution as it is.
fn at_its_place(machine: &Machine, remedy: &str, caution: &str) -> (Option<Row>, String) {
    let Some(place) = place_of(machine, remedy) else { return (None, caution.to_owned()) };
    let access = place.access_minutes;
    let way = if access > 0.0 { format!(", {} to get there", words::minutes(access)) } else { String::new() };
    let row = ("place", format!("{}{way}", place.title));
    let notes = [caution, &place.caution].into_iter().filter(|note| !note.is_empty());
    let mut notes: Vec<&str> = notes.collect();
    notes.dedup();
    (Some(row), notes.join("; "))
}

/// A part as one would ask for it over a counter: what it is and what its sheet says of its size.
fn part_line(machine: &Machine, part: usize) -> String {
    /// What tells one part from another of its kind.
    const SIZES: [&str; 9] =
        ["rating", "power", "length", "area", "capacity", "chemistry", "coil", "clearance", "set-point"];
    let of = &machine.sheet.parts[part];
    let size = |name: &&str| {
        let field = of.kind.fields.iter().position(|field| field.name == *name)?;
        let value = of.values[field];
        let shown = match of.kind.fields[field].want {
            Want::Quantity(dimension) => show(value, dimension),
            Want::Choice(words) => (*words.get(value as usize)?).to_owned(),
            _ => return None,
        };
        value.is_finite().then(|| format!("{} {shown}", name.replace('-', " ")))
    };
    let mut said: Vec<String> = SIZES.iter().filter_map(size).collect();
    if !of.color.is_empty() {
        said.push(of.color.clone());
    }
    if said.is_empty() { of.title.clone() } else { format!("{} ({})", of.title, said.join(", ")) }
}
