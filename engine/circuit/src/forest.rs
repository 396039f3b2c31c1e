//! The shape of a network under one pattern of open and closed: a spanning forest and its fundamental loops.
//! Idea: branches enter the forest in order of rising resistance (Kruskal), so each loop's closing branch, its
//! *link*, is not much smaller than any forest branch of that loop; loop equations are then well conditioned however
//! far apart milliohms and megohms lie, and ideal connections need no special row.
//! Promise: resistances count only by their [`rank`], ties by index, and loops are in order of their links; so a
//! forest that is kept and still [fits](Forest::fits) is the very forest that would be grown, to the last bit.
//! Source: loop analysis on a tree, Desoer & Kuh, *Basic Circuit Theory*, ch. 10–11 (`from memory`).

use crate::pattern::Piece;

/// What a branch is for the shape: present or not, ideal or not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub(crate) enum Role {
    Absent,
    Ideal,
    IdealCurve,
    Resistive,
    Draw,
    Source,
}

/// A branch of a loop and the sense in which the loop's current passes it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Step {
    pub(crate) branch: u32,
    pub(crate) sign: f64,
}

/// A loop closed by a link: `steps` lead from the link's `to` back to its `from` through the forest.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Loop {
    pub(crate) link: u32,
    pub(crate) first: u32,
    pub(crate) end: u32,
}

/// A node reached from its parent by a forest branch; `sign` is +1 when the branch's `from` is the child.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Twig {
    pub(crate) node: u32,
    pub(crate) parent: u32,
    pub(crate) branch: u32,
    pub(crate) sign: f64,
}

/// Forest and loops of one pattern.
#[derive(Clone, Debug, Default)]
pub(crate) struct Forest {
    pub(crate) roles: Vec<Role>,
    ends: Vec<(u32, u32)>,
    pub(crate) reference: usize,
    /// Twigs in an order in which parents come before children.
    pub(crate) twigs: Vec<Twig>,
    /// Whether a node has no conducting path to the reference.
    pub(crate) floating: Vec<bool>,
    /// All steps of all loops.
    pub(crate) steps: Vec<Step>,
    /// Loops that hold a resistance: the unknowns of the solution, in order.
    pub(crate) meshes: Vec<Loop>,
    /// Nonlinear links whose loop holds no resistance: their voltage follows from the forest's.
    pub(crate) slaves: Vec<Loop>,
    /// Ideal links in loops of ideal branches only.
    pub(crate) ideals: Vec<Loop>,
    /// Ideal current sources.
    pub(crate) sources: Vec<Loop>,
    /// Ideal current sources without a way back.
    pub(crate) stranded: Vec<u32>,
    /// For each branch the meshes that pass it: (mesh, sign), by `through_start`.
    pub(crate) through: Vec<(u32, f64)>,
    pub(crate) through_start: Vec<u32>,
}

impl Forest {
    /// Whether growing would give this same forest: same roles and ends, and no link before a branch of its loop.
    pub(crate) fn fits(
        &self,
        nodes: usize,
        reference: usize,
        ends: &[(u32, u32)],
        roles: &[Role],
        ranks: &[u16],
    ) -> bool {
        self.roles == roles
            && self.reference == reference
            && self.floating.len() == nodes
            && self.ends == ends
            && self.meshes.iter().all(|mesh| {
                let limit = (ranks[mesh.link as usize], mesh.link);
                self.steps_of(mesh).iter().all(|step| (ranks[step.branch as usize], step.branch) < limit)
            })
    }

    /// The steps of a loop.
    pub(crate) fn steps_of(&self, of: &Loop) -> &[Step] {
        &self.steps[of.first as usize..of.end as usize]
    }

    /// The meshes that pass a branch.
    pub(crate) fn through(&self, branch: usize) -> &[(u32, f64)] {
        &self.through[self.through_start[branch] as usize..self.through_start[branch + 1] as usize]
    }

    /// Forest branches between two nodes, each with the sense in which its voltage adds to that between them; nothing
    /// when they are in two trees.
    pub(crate) fn path(&self, from: u32, to: u32) -> Option<Vec<(u32, f64)>> {
        let mut path: Vec<(u32, f64)> = Vec::new();
        let mut climb = |start: u32, sense: f64| {
            let mut node = start;
            for twig in self.twigs.iter().rev() {
                if twig.node == node {
                    path.push((twig.branch, sense * twig.sign));
                    node = twig.parent;
                }
            }
            node
        };
        if climb(from, 1.0) != climb(to, -1.0) {
            return None;
        }
        // What both walks pass cancels.
        path.sort_unstable_by_key(|(branch, _)| *branch);
        path.dedup_by(|next, last| {
            next.0 == last.0 && {
                last.1 += next.1;
                true
            }
        });
        path.retain(|(_, sign)| *sign != 0.0);
        Some(path)
    }

    /// Grows the forest of a pattern.
    pub(crate) fn grow(
        nodes: usize,
        reference: usize,
        ends: &[(u32, u32)],
        roles: &[Role],
        ranks: &[u16],
        pieces: &[Piece],
    ) -> Self {
        let mut order: Vec<u32> = (0..roles.len() as u32)
            .filter(|&branch| !matches!(roles[branch as usize], Role::Absent | Role::Source))
            .collect();
        order.sort_unstable_by_key(|&branch| (ranks[branch as usize], branch));
        let mut sets = Sets::new(nodes);
        let mut paths = Sets::new(nodes);
        let mut in_forest = vec![false; ends.len()];
        for &branch in &order {
            let index = branch as usize;
            let (from, to) = (ends[index].0 as usize, ends[index].1 as usize);
            in_forest[index] = sets.join(from, to);
            if roles[index] != Role::Draw {
                paths.join(from, to);
            }
        }
        let floating = paths.apart_from(reference);
        let mut forest = Self {
            roles: roles.to_vec(),
            ends: ends.to_vec(),
            reference,
            floating,
            twigs: twigs(nodes, reference, ends, &in_forest),
            ..Self::default()
        };
        forest.close_loops(nodes, &in_forest, pieces, &mut sets);
        forest
    }

    fn close_loops(&mut self, nodes: usize, in_forest: &[bool], pieces: &[Piece], sets: &mut Sets) {
        let mut up = vec![None; nodes];
        let mut depth = vec![0_u32; nodes];
        for twig in &self.twigs {
            up[twig.node as usize] = Some(*twig);
            depth[twig.node as usize] = depth[twig.parent as usize] + 1;
        }
        let links: Vec<u32> = (0..self.roles.len() as u32)
            .filter(|&branch| !in_forest[branch as usize] && self.roles[branch as usize] != Role::Absent)
            .collect();
        for link in links {
            let role = self.roles[link as usize];
            let (from, to) = self.ends[link as usize];
            if role == Role::Source && sets.find(from as usize) != sets.find(to as usize) {
                self.stranded.push(link);
                continue;
            }
            let first = self.steps.len() as u32;
            let (mut tail, mut head) = (to, from);
            while tail != head {
                let climb_tail = depth[tail as usize] >= depth[head as usize];
                let node = if climb_tail { tail } else { head };
                let Some(twig) = up[node as usize] else { break };
                let sign = if climb_tail { twig.sign } else { -twig.sign };
                self.steps.push(Step { branch: twig.branch, sign });
                if climb_tail {
                    tail = twig.parent;
                } else {
                    head = twig.parent;
                }
            }
            let closed = Loop { link, first, end: self.steps.len() as u32 };
            let resistance = pieces[link as usize].resistance()
                + self.steps_of(&closed).iter().map(|step| pieces[step.branch as usize].resistance()).sum::<f64>();
            match role {
                Role::Source => self.sources.push(closed),
                _ if resistance > 0.0 => self.meshes.push(closed),
                Role::Ideal => self.ideals.push(closed),
                _ => self.slaves.push(closed),
            }
        }
        self.index_passages();
    }

    fn index_passages(&mut self) {
        let branches = self.roles.len();
        let mut start = vec![0_u32; branches + 1];
        let mut visit = |steps: &[Step], link: u32| {
            start[link as usize + 1] += 1;
            for step in steps {
                start[step.branch as usize + 1] += 1;
            }
        };
        for mesh in &self.meshes {
            visit(&self.steps[mesh.first as usize..mesh.end as usize], mesh.link);
        }
        for branch in 0..branches {
            start[branch + 1] += start[branch];
        }
        let mut next = start.clone();
        let mut through = vec![(0, 0.0); start[branches] as usize];
        for (index, mesh) in self.meshes.iter().enumerate() {
            let own = Step { branch: mesh.link, sign: 1.0 };
            for step in self.steps[mesh.first as usize..mesh.end as usize].iter().chain(std::iter::once(&own)) {
                let place = &mut next[step.branch as usize];
                through[*place as usize] = (index as u32, step.sign);
                *place += 1;
            }
        }
        self.through = through;
        self.through_start = start;
    }
}

/// When a branch enters the forest: ideal ones first, then those that are a voltage to the rest, then resistances
/// by their size in steps of 1024.
pub(crate) fn rank(role: Role, ohms: f64) -> u16 {
    match role {
        Role::Ideal => 0,
        Role::IdealCurve | Role::Draw => 1,
        Role::Resistive => 2 + (ohms.to_bits() >> 52) as u16 / 10,
        Role::Absent | Role::Source => u16::MAX,
    }
}

/// Whether each node has no conducting path to the reference.
pub(crate) fn floating_nodes(reference: usize, nodes: usize, ends: &[(u32, u32)], pieces: &[Piece]) -> Vec<bool> {
    let mut paths = Sets::new(nodes);
    for ((from, to), piece) in ends.iter().zip(pieces) {
        if !matches!(piece.role(), Role::Absent | Role::Source | Role::Draw) {
            paths.join(*from as usize, *to as usize);
        }
    }
    paths.apart_from(reference)
}

fn twigs(nodes: usize, reference: usize, ends: &[(u32, u32)], in_forest: &[bool]) -> Vec<Twig> {
    let mut start = vec![0_u32; nodes + 1];
    for (index, &(from, to)) in ends.iter().enumerate() {
        if in_forest[index] {
            start[from as usize + 1] += 1;
            start[to as usize + 1] += 1;
        }
    }
    for node in 0..nodes {
        start[node + 1] += start[node];
    }
    let mut next = start.clone();
    let mut beside = vec![0_u32; start[nodes] as usize];
    for (index, &(from, to)) in ends.iter().enumerate() {
        if in_forest[index] {
            for node in [from, to] {
                beside[next[node as usize] as usize] = index as u32;
                next[node as usize] += 1;
            }
        }
    }
    let mut seen = vec![false; nodes];
    let mut found: Vec<Twig> = Vec::with_capacity(nodes);
    let mut queue: Vec<u32> = Vec::with_capacity(nodes);
    for root in std::iter::once(reference).chain(0..nodes) {
        if seen[root] {
            continue;
        }
        seen[root] = true;
        queue.clear();
        queue.push(root as u32);
        let mut head = 0;
        while head < queue.len() {
            let parent = queue[head];
            head += 1;
            for &branch in &beside[start[parent as usize] as usize..start[parent as usize + 1] as usize] {
                let (from, to) = ends[branch as usize];
                let node = if from == parent { to } else { from };
                if !seen[node as usize] {
                    seen[node as usize] = true;
                    let sign = if from == node { 1.0 } else { -1.0 };
                    found.push(Twig { node, parent, branch, sign });
                    queue.push(node);
                }
            }
        }
    }
    found
}

/// Disjoint sets of nodes.
struct Sets(Vec<u32>);

impl Sets {
    fn new(nodes: usize) -> Self {
        Self((0..nodes as u32).collect())
    }

    fn find(&mut self, node: usize) -> usize {
        let mut node = node;
        while self.0[node] as usize != node {
            self.0[node] = self.0[self.0[node] as usize];
            node = self.0[node] as usize;
        }
        node
    }

    fn join(&mut self, left: usize, right: usize) -> bool {
        let (left, right) = (self.find(left), self.find(right));
        self.0[left] = right as u32;
        left != right
    }

    fn apart_from(&mut self, reference: usize) -> Vec<bool> {
        let home = self.find(reference);
        (0..self.0.len()).map(|node| self.find(node) != home).collect()
    }
}
