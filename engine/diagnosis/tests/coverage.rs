//! Which faults cannot be told apart: the matrix against readings taken anew, and the desk against the matrix.
#![expect(clippy::disallowed_methods, clippy::print_stdout, reason = "a test that reads sheets and shows how it went")]
#![allow(clippy::unwrap_used, reason = "a test")]

use diagnosis::coverage::{Matrix, Question, Split, TELLS};
use diagnosis::planted::{Planted, work};
use diagnosis::spread::sigma;
use diagnosis::{Atlas, Desk, Request, Stop};
use machine::{Fault, Machine, Observer, Probe, Program, Seen};

fn machine(id: &str) -> Machine {
    let path = format!("{}/../../machines/{id}.toml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    Machine::new(machine::sheet::read(&text).sheet.unwrap())
}

/// What a machine with a fault shows on some probes.
fn look(machine: &Machine, probes: &[Probe], program: &Program, fault: Option<&Fault>, quantile: f64) -> Vec<Seen> {
    let edits = fault.map_or_else(Vec::new, |fault| fault.edits(fault.severity_at(quantile)));
    let mut seen = vec![Seen::Nothing; probes.len()];
    Observer::new().observe(machine, program, probes, &edits, None, &mut seen).unwrap();
    seen
}

/// σ between two readings that are no ranges; a range is left to the matrix.
fn apart(probe: &Probe, left: Seen, right: Seen) -> f64 {
    let sign = |value: f64| if probe.dimension() == quantity::Dimension::Current { value.abs() } else { value };
    match (left, right) {
        (Seen::Number(left), Seen::Number(right)) => {
            (sign(left) - sign(right)).abs() / sigma(probe, left).max(sigma(probe, right))
        }
        (Seen::Nothing, _) | (_, Seen::Nothing) => 0.0,
        (Seen::Range(..), _) | (_, Seen::Range(..)) => 0.0,
        _ if left == right => 0.0,
        _ => f64::INFINITY,
    }
}

fn most(probes: &[Probe], left: &[Seen], right: &[Seen]) -> f64 {
    probes
        .iter()
        .zip(left.iter().zip(right))
        .map(|(probe, (left, right))| apart(probe, *left, *right))
        .fold(0.0, f64::max)
}

#[test]
fn law_no_probe_tells_the_members_of_a_group_apart() {
    for id in ["curlew", "dabchick"] {
        let machine = machine(id);
        let matrix = Matrix::of(&machine, None);
        let probes = &matrix.probes[..matrix.at_hand];
        let program = Program::new(&machine, probes);
        let mut pairs = 0;
        for group in &matrix.groups {
            for (imitated, imitator) in
                group.members.iter().flat_map(|one| group.members.iter().map(move |two| (*one, *two)))
            {
                let nearest = matrix.nearest(imitated, imitator);
                let fault = |subject: usize| matrix.subjects[subject].fault.as_ref();
                let left = look(&machine, probes, &program, fault(imitated), 0.5);
                let right = look(&machine, probes, &program, fault(imitator), nearest.quantile);
                let distance = most(probes, &left, &right);
                assert!(
                    distance <= TELLS + 0.01 && distance <= nearest.separation + 0.01,
                    "{id}: {distance}, {nearest:?}"
                );
                pairs += usize::from(imitated != imitator);
            }
        }
        assert!(pairs > 60, "{id}: {pairs}");
        let imitated: Vec<&str> = matrix.imitated().collect();
        let alike = matrix.groups_by_name().into_iter().filter(|group| group.len() > 1).flatten();
        assert!(alike.into_iter().all(|fault| imitated.contains(&fault.as_str())), "{id}: {imitated:?}");
    }
}

/// Severities that the matrix never solves: hundredths of the spread.
#[test]
fn law_who_is_told_apart_is_told_apart_at_every_severity() {
    let machine = machine("curlew");
    let matrix = Matrix::of(&machine, None);
    let probes = &matrix.probes[..matrix.at_hand];
    let program = Program::new(&machine, probes);
    let middles: Vec<Vec<Seen>> =
        matrix.subjects.iter().map(|subject| look(&machine, probes, &program, subject.fault.as_ref(), 0.5)).collect();
    let (mut checked, mut nearest) = (0, f64::INFINITY);
    for (imitator, subject) in matrix.subjects.iter().enumerate() {
        for step in 0..=100 {
            let seen = look(&machine, probes, &program, subject.fault.as_ref(), f64::from(step) / 100.0);
            if seen.iter().any(|seen| matches!(seen, Seen::Range(..))) {
                continue;
            }
            for (imitated, middle) in middles.iter().enumerate() {
                let known = matrix.nearest(imitated, imitator).separation;
                if imitated == imitator || known <= TELLS || middle.iter().any(|seen| matches!(seen, Seen::Range(..))) {
                    continue;
                }
                let distance = most(probes, middle, &seen);
                let of = (&matrix.subjects[imitated].name, &subject.name);
                assert!(distance > TELLS, "{of:?}: {distance} at {step} %, {known} in the matrix");
                checked += 1;
                nearest = f64::min(nearest, distance);
            }
        }
    }
    println!("{checked} pairs and severities, the nearest {nearest:.2} sigma apart");
    assert!(checked > 500_000, "{checked}");
}

#[test]
fn law_another_instrument_never_brings_two_faults_nearer() {
    let machine = machine("moorhen");
    let list = |names: &[&str]| -> Vec<String> { names.iter().map(|name| (*name).to_owned()).collect() };
    let matrices =
        [list(&[]), list(&["meter"]), list(&["meter", "clamp", "jumper"])].map(|all| Matrix::of(&machine, Some(&all)));
    for (fewer, more) in matrices.iter().zip(&matrices[1..]) {
        for left in 0..fewer.subjects.len() {
            for right in 0..fewer.subjects.len() {
                let (before, after) = (fewer.nearest(left, right).separation, more.nearest(left, right).separation);
                // Severities are sought with what is at hand, so that a valley may be found a little deeper.
                assert!(after >= before - 0.1 || before > 8.0, "{left} {right}: {before} falls to {after}");
            }
        }
        assert!(more.sizes().1 <= fewer.sizes().1);
    }
}

#[test]
fn law_a_question_about_some_faults_gets_the_answer_of_the_whole() {
    let machine = machine("curlew");
    let whole = Matrix::of(&machine, None);
    let faults: Vec<String> = whole.subjects.iter().skip(1).step_by(7).map(|subject| subject.name.clone()).collect();
    let part = Matrix::answer(&machine, &Question { faults, ..Question::default() });
    assert!(part.subjects.len() > 12);
    for (left, one) in part.subjects.iter().enumerate() {
        for (right, other) in part.subjects.iter().enumerate() {
            let (left_in_whole, right_in_whole) =
                (whole.subject(&one.name).unwrap(), whole.subject(&other.name).unwrap());
            assert_eq!(
                part.nearest(left, right),
                whole.nearest(left_in_whole, right_in_whole),
                "{} {}",
                one.name,
                other.name
            );
        }
    }
}

#[test]
fn law_what_splits_a_group_does() {
    let machine = machine("curlew");
    let list = ["eyes".to_owned()];
    let question = Question { instruments: Some(list.to_vec()), ..Question::default() };
    let mut matrix = Matrix::answer(&machine, &question);
    matrix.look_further(&machine, &question);
    let (mut split, mut repair) = (0, 0);
    for group in &matrix.groups {
        match group.split {
            Some(Split::Probe { probe, pairs, of }) => {
                split += 1;
                let probe = std::slice::from_ref(&matrix.probes[probe]);
                let program = Program::new(&machine, probe);
                let seen: Vec<Vec<Seen>> = group
                    .members
                    .iter()
                    .map(|member| look(&machine, probe, &program, matrix.subjects[*member].fault.as_ref(), 0.5))
                    .collect();
                let differ =
                    seen.iter().enumerate().flat_map(|(index, one)| seen[..index].iter().map(move |two| (one, two)));
                // A chattering reading is left out here.
                let differ = differ.filter(|(one, two)| most(probe, one, two) > TELLS).count();
                let ranges = seen.iter().filter(|seen| matches!(seen[0], Seen::Range(..))).count();
                assert!(
                    differ + ranges * group.members.len() >= pairs && pairs <= of,
                    "{differ} {pairs} {of} {}",
                    probe[0].name
                );
            }
            Some(Split::Repair { first, minutes }) => {
                repair += 1;
                let quickest =
                    group.members.iter().filter(|member| **member > 0).map(|member| matrix.subjects[*member].minutes);
                assert!(minutes <= quickest.fold(f64::INFINITY, f64::min) && group.members.contains(&first));
            }
            Some(Split::SameRemedy) => assert!(group.members.len() > 1),
            None => assert_eq!(group.members.len(), 1),
        }
    }
    assert!(split > 5 && repair > 0, "{split} {repair}");
}

/// How a job on a planted fault ended, by the matrix.
#[derive(Debug, PartialEq)]
enum End {
    Named,
    Group,
    ShowsNothing,
    Missed(String),
}

fn end(desk: &mut Desk, matrix: &Matrix, subject: usize) -> End {
    const MOST_STEPS: usize = 40;
    let machine = desk.machine.clone();
    let planted = matrix.subjects[subject].fault.clone().unwrap();
    let mut with = Planted::new(&machine, &[(planted.clone(), planted.severity_at(0.5))], None).unwrap();
    let complaint = with.complaint(&machine).unwrap().map(str::to_owned);
    let worked = work(desk, &mut with, Request { complaint, ..Request::default() }, MOST_STEPS, |_| false).unwrap();
    let remedy = |name: &str| machine.fault(name).map(|fault| (fault.part, fault.remedy.verb)).ok();
    let verdict = worked.verdict.as_ref().map(|(verdict, _)| verdict.faults.clone()).unwrap_or_default();
    let named = |fault: &String| remedy(fault) == remedy(&planted.name);
    let alike = |fault: &String| {
        matrix.is_alike(fault, &planted.name)
            || matrix.subject(fault).is_some_and(|other| matrix.imitators(subject).any(|known| known == other))
    };
    // Where no probe is worth its minutes any more, the odds that are left are the answer.
    let open = verdict.is_empty() && worked.stop == Some(Stop::NotWorthMore);
    let left = worked.last.suspects.iter().filter(|suspect| named(&suspect.fault) || alike(&suspect.fault));
    if verdict.iter().any(named) {
        End::Named
    } else if verdict.iter().any(alike) || open && left.map(|suspect| suspect.probability).sum::<f64>() >= 0.95 {
        End::Group
    } else if !matrix.shows(subject) {
        End::ShowsNothing
    } else {
        let leader =
            worked.last.suspects.first().map(|suspect| format!("{} {:.2}", suspect.fault, suspect.probability));
        let nearest = matrix.nearest(subject, 0);
        let shown = nearest.probe.map_or("", |probe| &matrix.probes[probe].name);
        let why = format!(
            "verdict {verdict:?}, stop {:?} after {} steps, leader {leader:?}; {shown} shows it, {:.1} sigma",
            worked.stop,
            worked.steps.len(),
            nearest.separation
        );
        End::Missed(why)
    }
}

/// Every fault at the middle of its severity, read exactly, worked by the desk; the matrix says what was to be found.
/// What is missed is listed with the reason; it may become less, never more.
fn arbitrate(id: &str, most: usize) {
    let machine = machine(id);
    let matrix = Matrix::of(&machine, None);
    let mut desk = Desk::new(machine.clone(), Atlas::build(&machine, 64));
    let ends: Vec<(usize, End)> =
        (1..matrix.subjects.len()).map(|subject| (subject, end(&mut desk, &matrix, subject))).collect();
    let count = |wanted: &End| ends.iter().filter(|(_, end)| end == wanted).count();
    println!(
        "{id}: {} faults, {} named, {} by the group, {} show nothing",
        ends.len(),
        count(&End::Named),
        count(&End::Group),
        count(&End::ShowsNothing)
    );
    let mut missed = Vec::new();
    for (subject, end) in &ends {
        let name = matrix.subjects[*subject].name.as_str();
        match end {
            End::Named => {}
            End::Missed(why) => {
                println!("  missed: {name}: {why}");
                missed.push(name);
            }
            other => println!("  {other:?}: {name}"),
        }
    }
    assert!(missed.len() <= most, "{id}: {missed:?}");
}

/// Missed with 64 what-if cases: a battery cable that is corroded along its length, first called a corroded ring.
#[test]
fn law_every_fault_of_curlew_is_named_or_its_group_is() {
    arbitrate("curlew", 1);
}

/// Missed: a chafed motor cable, of which no owner complains; only a clamp shows it, 4.5 σ from healthy. And a shorted
/// lamp that has blown the main fuse: the fuse leads with 0.51, and no probe is thought worth its minutes.
#[test]
fn law_every_fault_of_moorhen_is_named_or_its_group_is() {
    arbitrate("moorhen", 2);
}
