//! A complaint's course: what it promises whatever the machine, on a table of few what-if cases.
#![expect(clippy::disallowed_methods, reason = "a test that reads sheets")]
#![allow(clippy::unwrap_used, reason = "a test")]

use diagnosis::desk::Scratch;
use diagnosis::tree::{End, Limits, Tree, Way, complaints};
use diagnosis::{Atlas, Desk};
use machine::Machine;

fn desk(id: &str) -> Desk {
    let path = format!("{}/../../machines/{id}.toml", env!("CARGO_MANIFEST_DIR"));
    let machine = Machine::new(machine::sheet::read(&std::fs::read_to_string(path).unwrap()).sheet.unwrap());
    let atlas = Atlas::build(&machine, 12);
    Desk::new(machine, atlas)
}

/// The tree of a complaint, followed where most jobs come along.
fn grown(desk: &Desk, complaint: &str, limits: Limits) -> Tree {
    let all = complaints(desk.atlas());
    let (known, share) = all.iter().find(|(known, _)| known.name == complaint).unwrap();
    let mut tree = Tree::new(known, *share, limits);
    loop {
        for (index, request) in tree.wanted() {
            tree.take(index, desk.consider(&request, &mut Scratch::default()).unwrap());
        }
        let Some((index, _)) = tree.frontier().max_by(|left, right| left.1.total_cmp(&right.1)) else { return tree };
        tree.follow(index);
    }
}

/// Probability: an owner says one thing, so that the shares of all complaints are at most all jobs.
#[test]
fn law_shares_of_complaints_are_parts_of_all_jobs() {
    let desk = desk("curlew");
    let shares = complaints(desk.atlas());
    assert!(shares.iter().all(|(_, share)| (0.0..=1.0).contains(share)));
    assert!(shares.is_sorted_by(|left, right| left.1 >= right.1));
    let sum: f64 = shares.iter().map(|(_, share)| share).sum();
    assert!(sum > 0.5 && sum < 1.0 + 1e-9, "{sum}");
}

/// Whoever enters at the beginning comes out at an end, and nobody at two: reach is shared out, nothing lost or added.
#[test]
fn law_odds_of_all_ends_and_of_anything_else_sum_to_one() {
    let desk = desk("curlew");
    let limits = Limits { depth: 3, branch: 0.05, reach: 0.05, spots: 40 };
    let tree = grown(&desk, "nothing-happens", limits);
    let ends: f64 =
        (0..tree.spots.len()).filter(|spot| tree.end(*spot).is_some()).map(|spot| tree.spots[spot].reach).sum();
    let off = tree.spots.iter().flat_map(|spot| {
        spot.branches.iter().filter(|branch| branch.to == Way::Off).map(|branch| spot.reach * branch.odds)
    });
    let all = ends + off.sum::<f64>();
    assert!(tree.spots.len() > 8 && (all - 1.0).abs() < 1e-9, "{all} over {}", tree.spots.len());
    let walked = tree.walked(&desk.machine, desk.atlas());
    let sum = walked.right + walked.listed + walked.wrong + walked.off;
    assert!((sum - 1.0).abs() < 1e-9 && walked.minutes > 0.0, "{walked:?}");
}

/// The limits: no step behind more probes than the depth, none followed that few reach.
#[test]
fn law_a_tree_keeps_to_its_limits() {
    let desk = desk("curlew");
    let limits = Limits { depth: 2, branch: 0.05, reach: 0.1, spots: 40 };
    let tree = grown(&desk, "one-click", limits);
    for spot in &tree.spots {
        assert!(spot.depth <= limits.depth);
        assert!(spot.branches.is_empty() || spot.reach >= limits.reach);
    }
    let uncut = grown(&desk, "one-click", Limits { depth: 0, ..limits });
    assert_eq!((uncut.spots.len(), uncut.end(0)), (1, Some(End::Open)));
}
