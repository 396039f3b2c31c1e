//! Worlds that are drawn for one job, and what they show on the probes that were taken.
//! A world of two faults is looked at once for each set of remedies that was tried before a reading.

use machine::{Machine, Observer, Probe, Program, Signs};

use super::clue::{Clue, ClueSort, neighbors};
use super::subject::Subject;
use crate::atlas::Atlas;
use crate::cast::{Draw, SEVERITY};
use crate::cell::Cell;
use crate::round::Round;

/// What has to be watched in this job: the probes taken, the points a tip could have slipped to, and after which
/// remedies.
pub(super) struct Watch<'a> {
    machine: &'a Machine,
    atlas: &'a Atlas,
    columns: Vec<usize>,
    probes: Vec<Probe>,
    program: Program,
    /// The probes taken alone.
    taken: Program,
    /// The same without what the owner tried before: enough where no fuse has opened.
    lean: Program,
    /// The empty one first.
    phases: Vec<Phase<'a>>,
}

/// A machine after a set of remedies that changed nothing, or as the last of them left it.
struct Phase<'a> {
    tried: Vec<usize>,
    /// Whom they fix.
    fixes: Vec<&'a [u32]>,
    /// Whether a reading was taken on it.
    read: bool,
}

/// One world, seen.
pub(super) struct Sight {
    /// Cells of the watched columns, phase after phase.
    cells: Vec<Cell>,
    /// Signs, phase after phase.
    signs: Vec<Signs>,
    air: f64,
}

/// Worlds that were drawn, as seen.
#[derive(Default)]
pub(super) struct Seen {
    pub(super) subjects: Vec<Subject>,
    pub(super) draws: Vec<Draw>,
    pub(super) air: Vec<f64>,
    columns: Vec<usize>,
    phases: Vec<Vec<usize>>,
    /// One row for each phase.
    signs: Vec<Vec<Signs>>,
    /// One row of cells for each phase and watched column.
    cells: Vec<Vec<Cell>>,
}

impl<'a> Watch<'a> {
    pub(super) fn new(
        machine: &'a Machine,
        atlas: &'a Atlas,
        clues: &[Clue<'a>],
        fixed_by: impl Fn(&[usize]) -> Vec<&'a [u32]>,
    ) -> Self {
        let mut columns = Vec::new();
        let mut tried = vec![Vec::new()];
        let mut left_by = Vec::new();
        for clue in clues {
            match &clue.sort {
                ClueSort::Read { column, .. } => {
                    columns.push(*column);
                    tried.push(clue.tried.clone());
                }
                ClueSort::Tried { then, .. } => left_by.push(then.clone()),
                _ => {}
            }
        }
        columns.sort_unstable();
        columns.dedup();
        let taken = columns.len();
        let mut near: Vec<usize> = columns.iter().flat_map(|column| neighbors(atlas, *column)).collect();
        near.sort_unstable();
        near.dedup();
        near.retain(|column| !columns.contains(column));
        columns.extend(near);
        tried.sort();
        tried.dedup();
        left_by.sort();
        left_by.dedup();
        left_by.retain(|then| !tried.contains(then));
        let probes: Vec<Probe> = columns.iter().map(|column| atlas.probes[*column].clone()).collect();
        let program = Program::new(machine, &probes);
        let (taken, lean) = (Program::new(machine, &probes[..taken]), Program::plain(machine, &probes[..taken]));
        let phase = |tried: Vec<usize>, read: bool| Phase { fixes: fixed_by(&tried), tried, read };
        let read = tried.into_iter().map(|tried| phase(tried, true));
        let phases = read.chain(left_by.into_iter().map(|then| phase(then, false))).collect();
        Self { machine, atlas, columns, probes, program, taken, lean, phases }
    }

    /// Looks at one world.
    pub(super) fn look(&self, observer: &mut Observer, subject: Subject, draw: &Draw) -> Sight {
        self.look_through(&self.program, |_| true, observer, subject, draw)
    }

    /// Looks at one world for the probes taken alone, signs included: neighboring points are missing.
    pub(super) fn stare(&self, observer: &mut Observer, subject: Subject, draw: &Draw) -> Sight {
        self.look_through(&self.taken, |_| true, observer, subject, draw)
    }

    /// The worlds that an observer stares at from now on are changes of a machine with one fault.
    pub(super) fn start_near(&self, observer: &mut Observer, suspect: u32, draw: &Draw) {
        let base = self.atlas.cast.world_at(&[(suspect, SEVERITY)], draw);
        observer.start_from(self.machine, &self.taken, &base.edits, Some(base.air));
    }

    /// Looks at one world for the probes taken alone: neighboring points and signs may be missing.
    pub(super) fn glance(&self, observer: &mut Observer, subject: Subject, draw: &Draw) -> Sight {
        let cast = &self.atlas.cast;
        let blows = |(suspect, _): (u32, usize)| {
            let first = suspect as usize * cast.worlds_each;
            self.atlas.signs[first..first + cast.worlds_each].iter().any(|signs| signs.blows)
        };
        let program = if subject.suspects().any(blows) { &self.taken } else { &self.lean };
        self.look_through(program, |phase| phase.read, observer, subject, draw)
    }

    /// Looks at one world in the phases that are wanted; the others are shown as the one before them.
    fn look_through(
        &self,
        program: &Program,
        wanted: impl Fn(&Phase<'_>) -> bool,
        observer: &mut Observer,
        subject: Subject,
        draw: &Draw,
    ) -> Sight {
        let round = Round { machine: self.machine, probes: &self.probes, program };
        let look = |observer: &mut Observer, left: &[(u32, usize)]| {
            let world = self.atlas.cast.world_at(left, draw);
            let (cells, signs) = round.watch(observer, &world);
            (cells, signs, world.air.0)
        };
        // The first phase is before any remedy.
        let mut left: Vec<(u32, usize)> = subject.suspects().collect();
        let mut now = look(observer, &left);
        let mut sight = Sight { cells: now.0.clone(), signs: vec![now.1], air: now.2 };
        for phase in self.phases.iter().skip(1) {
            let then = subject.left(&phase.fixes);
            if then != left && wanted(phase) {
                now = look(observer, &then);
                left = then;
            }
            sight.cells.extend_from_slice(&now.0);
            sight.signs.push(now.1);
        }
        sight
    }

    /// The residuals of clues in a world.
    pub(super) fn residuals(&self, clues: &[Clue<'_>], sight: &Sight) -> Vec<f64> {
        let cell = |tried: &[usize], column: usize| {
            let phase = self.phases.iter().position(|phase| phase.tried == tried).unwrap_or(0);
            let at = self.columns.iter().position(|known| *known == column);
            at.map_or(Cell::NOTHING, |at| sight.cells[phase * self.columns.len() + at])
        };
        clues.iter().map(|clue| clue.residual(cell, sight.air)).collect()
    }

    /// No world yet.
    pub(super) fn nobody(&self) -> Seen {
        let phases: Vec<Vec<usize>> = self.phases.iter().map(|phase| phase.tried.clone()).collect();
        let cells = vec![Vec::new(); phases.len() * self.columns.len()];
        let signs = vec![Vec::new(); phases.len()];
        Seen { columns: self.columns.clone(), phases, signs, cells, ..Seen::default() }
    }
}

impl Seen {
    /// Takes in a world.
    pub(super) fn take(&mut self, subject: Subject, draw: Draw, sight: &Sight) {
        self.subjects.push(subject);
        self.draws.push(draw);
        self.air.push(sight.air);
        for (row, signs) in self.signs.iter_mut().zip(&sight.signs) {
            row.push(*signs);
        }
        for (row, cell) in self.cells.iter_mut().zip(&sight.cells) {
            row.push(*cell);
        }
    }

    /// Takes in all worlds of another that was watched alike.
    pub(super) fn append(&mut self, mut other: Self) {
        self.subjects.append(&mut other.subjects);
        self.draws.append(&mut other.draws);
        self.air.append(&mut other.air);
        for (row, more) in self.signs.iter_mut().zip(&mut other.signs) {
            row.append(more);
        }
        for (row, more) in self.cells.iter_mut().zip(&mut other.cells) {
            row.append(more);
        }
    }

    /// What the worlds show in a column after some remedies; nothing when that is not watched.
    pub(super) fn cells(&self, tried: &[usize], column: usize) -> &[Cell] {
        let phase = self.phases.iter().position(|known| known == tried);
        let at = self.columns.iter().position(|known| *known == column);
        match (phase, at) {
            (Some(phase), Some(at)) => &self.cells[phase * self.columns.len() + at],
            _ => &[],
        }
    }

    /// Signs of the worlds after some remedies; nothing when they are not watched then.
    pub(super) fn signs(&self, tried: &[usize]) -> &[Signs] {
        let phase = self.phases.iter().position(|known| known == tried);
        phase.map_or(&[], |phase| &self.signs[phase])
    }

    /// How many worlds there are.
    pub(super) fn len(&self) -> usize {
        self.subjects.len()
    }
}
