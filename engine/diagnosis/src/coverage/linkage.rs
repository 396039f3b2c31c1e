//! Groups by complete linkage: the two nearest groups are joined as long as every member of the one lies within
//! [`super::TELLS`] σ of every member of the other.
//! Promise: no group holds two that some probe tells apart; of equals the earlier in the sheet goes first.
//! Limit: likeness is not transitive; one that is like two groups is in one of them only.

use super::{Group, Matrix, TELLS};

pub(super) fn groups(matrix: &Matrix) -> Vec<Group> {
    let count = matrix.subjects.len();
    let mut members: Vec<Vec<usize>> = (0..count).map(|subject| vec![subject]).collect();
    let mut far: Vec<Vec<f64>> = (0..count)
        .map(|left| {
            (0..count).map(|right| if left == right { f64::INFINITY } else { matrix.separation(left, right) }).collect()
        })
        .collect();
    loop {
        let mut best = (TELLS, None);
        for (left, row) in far.iter().enumerate() {
            for (right, distance) in row.iter().enumerate().skip(left + 1) {
                if *distance < best.0 || (best.1.is_none() && *distance <= best.0) {
                    best = (*distance, Some((left, right)));
                }
            }
        }
        let Some((left, right)) = best.1 else { break };
        let joined = std::mem::take(&mut members[right]);
        members[left].extend(joined);
        for row in &mut far {
            row[left] = row[left].max(row[right]);
            row[right] = f64::INFINITY;
        }
        far[left] = far.iter().map(|row| row[left]).collect();
        far[left][left] = f64::INFINITY;
        far[right].fill(f64::INFINITY);
    }
    members.retain(|group| !group.is_empty());
    for group in &mut members {
        group.sort_unstable();
    }
    members.sort_by(|left, right| right.len().cmp(&left.len()).then(left[0].cmp(&right[0])));
    members.into_iter().map(|members| group(matrix, members)).collect()
}

fn group(matrix: &Matrix, members: Vec<usize>) -> Group {
    let pairs = members.iter().flat_map(|left| members.iter().map(move |right| (*left, *right)));
    let mut closest: Option<(usize, f64)> = None;
    for (left, right) in pairs.filter(|(left, right)| left != right) {
        let nearest = matrix.nearest(left, right);
        if let Some(probe) = nearest.probe
            && closest.is_none_or(|(_, known)| nearest.separation > known)
        {
            closest = Some((probe, nearest.separation));
        }
    }
    Group { members, closest, split: None, passing: Vec::new() }
}
