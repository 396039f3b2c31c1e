//! The atlas: what every world shows on every probe.
//! It is built in pieces that do not depend on each other, so that a caller may use several hands; the result does
//! not depend on how many. Columns are kept as pairs of single-precision numbers (a chattering reading is a range).

use machine::probe::Sort;
use machine::{Machine, Observer, Probe, Program, Signs};

use crate::cast::Cast;
use crate::cell::Cell;
use crate::column::Column;
use crate::round::Round;

/// Some worlds, observed.
#[derive(Clone, Debug, Default)]
pub struct Piece {
    first: usize,
    cells: Vec<Cell>,
    signs: Vec<Signs>,
}

/// What every world shows on every probe.
#[derive(Clone, Debug)]
pub struct Atlas {
    /// Suspects and worlds.
    pub cast: Cast,
    /// Probes that the machine's wiring suggests, then those that somebody typed.
    pub probes: Vec<Probe>,
    /// How many of them the wiring suggests: no other job may see what somebody typed in this one.
    suggested: usize,
    /// One column a probe.
    pub columns: Vec<Column>,
    /// What each world would make its owner say.
    pub signs: Vec<Signs>,
    /// Air temperature of each world, °C.
    pub air: Vec<f32>,
    /// The same of the machine exactly as its sheet gives it, at 20 °C.
    pub nominal: Signs,
}

/// The work of building an atlas, to be done in pieces.
#[derive(Clone)]
pub struct Survey<'a> {
    machine: &'a Machine,
    /// Suspects and worlds.
    pub cast: Cast,
    /// Probes to be observed.
    pub probes: Vec<Probe>,
    program: Program,
}

impl<'a> Survey<'a> {
    /// A survey of all probes that the wiring suggests.
    pub fn new(machine: &'a Machine, worlds_each: usize) -> Self {
        Self::of(machine, worlds_each, machine.proposed_probes())
    }

    /// A survey of some probes.
    pub fn of(machine: &'a Machine, worlds_each: usize, probes: Vec<Probe>) -> Self {
        let program = Program::new(machine, &probes);
        Self { machine, cast: Cast::new(machine, worlds_each), probes, program }
    }

    /// Number of worlds.
    pub fn len(&self) -> usize {
        self.cast.len()
    }

    /// Whether there is nothing to do.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Observes a range of the worlds, taken point by point: all suspects at the first point of the sequence, then all
    /// at the next. Those of a point differ from its healthy machine by a fault, so each is solved as a change of that.
    /// A world whose network has no solution says nothing.
    pub fn piece(&self, worlds: std::ops::Range<usize>) -> Piece {
        let mut observer = Observer::new();
        let mut piece = Piece { first: worlds.start, ..Piece::default() };
        let mut base = None;
        for turn in worlds {
            let index = self.world_at(turn);
            let point = index % self.cast.worlds_each;
            if base != Some(point) {
                let healthy = self.cast.world(point);
                observer.start_from(self.machine, &self.program, &healthy.edits, Some(healthy.air));
                base = Some(point);
            }
            let (cells, signs) = self.round().watch(&mut observer, &self.cast.world(index));
            piece.cells.extend(cells);
            piece.signs.push(signs);
        }
        piece
    }

    /// The world whose turn it is when worlds are taken point by point.
    fn world_at(&self, turn: usize) -> usize {
        let suspects = self.cast.suspects.len();
        turn % suspects * self.cast.worlds_each + turn / suspects
    }

    fn round(&self) -> Round<'_> {
        Round { machine: self.machine, probes: &self.probes, program: &self.program }
    }

    /// Puts the pieces together, in whatever order they come.
    pub fn assemble(self, mut pieces: Vec<Piece>) -> Atlas {
        pieces.sort_by_key(|piece| piece.first);
        let count = self.probes.len();
        let mut cells = vec![vec![Cell::NOTHING; self.len()]; count];
        let mut signs = vec![Signs::default(); self.len()];
        let rows = pieces.iter().flat_map(|piece| piece.cells.chunks_exact(count.max(1)));
        for (turn, row) in rows.enumerate() {
            for (column, cell) in cells.iter_mut().zip(row) {
                column[self.world_at(turn)] = *cell;
            }
        }
        for (turn, own) in pieces.iter().flat_map(|piece| &piece.signs).enumerate() {
            signs[self.world_at(turn)] = *own;
        }
        let columns = self.probes.iter().zip(&cells).map(|(probe, cells)| Column::new(probe, cells)).collect();
        self.finish(columns, signs)
    }

    /// All of it by one hand.
    pub fn by_one_hand(self) -> Atlas {
        let piece = self.piece(0..self.len());
        self.assemble(vec![piece])
    }

    pub(crate) fn finish(self, columns: Vec<Column>, signs: Vec<Signs>) -> Atlas {
        let (_, nominal) = self.round().look(&mut Observer::new(), &[], None);
        let air = (0..self.cast.len()).map(|world| self.cast.air(world).0 as f32).collect();
        Atlas { cast: self.cast, suggested: self.probes.len(), probes: self.probes, columns, signs, air, nominal }
    }
}

impl Atlas {
    /// The probes that the wiring suggests; those added for typed readings come behind them.
    pub fn suggested(&self) -> &[Probe] {
        &self.probes[..self.suggested]
    }

    /// The atlas of a machine, built by one hand.
    pub fn build(machine: &Machine, worlds_each: usize) -> Self {
        Survey::new(machine, worlds_each).by_one_hand()
    }

    /// The index of a probe among the columns.
    pub fn column_of(&self, probe: &Probe) -> Option<usize> {
        self.probes.iter().position(|known| known.sort == probe.sort && known.state == probe.state)
    }

    /// Adds a probe that the wiring did not suggest; gives its column. Where no fuse has opened, a meter's state is
    /// the only one that needs to be solved.
    pub fn add_probe(&mut self, machine: &Machine, probe: Probe) -> usize {
        let probes = [probe];
        let (whole, lean) = (Program::new(machine, &probes), Program::plain(machine, &probes));
        let meter = matches!(probes[0].sort, Sort::Meter(..));
        let mut observer = Observer::new();
        let cells: Vec<Cell> = (0..self.signs.len())
            .map(|index| {
                let program = if meter && !self.signs[index].blows { &lean } else { &whole };
                let round = Round { machine, probes: &probes, program };
                round.watch(&mut observer, &self.cast.world(index)).0[0]
            })
            .collect();
        self.columns.push(Column::new(&probes[0], &cells));
        self.probes.extend(probes);
        self.probes.len() - 1
    }
}
