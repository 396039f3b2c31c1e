//! The desk at which a job is worked: a machine, its atlas, and advice for what is known so far.
//! Order of thought: readings → beliefs → has the leader won, and on which reading does it rest → what next (`turn`).
//! Promise: advice is a function of the request alone; the order of independent readings does not matter.

use machine::{Fault, Machine, Probe};
use quantity::Celsius;

use crate::advice::{Advice, Band, Stop};
use crate::atlas::Atlas;
use crate::band::band;
use crate::cast::Cast;
use crate::field::{Kept, Sources};
use crate::learned::{Lessons, Pace};
use crate::remedies::{Mend, Remedies};
use crate::request::{BadRequest, Entry, Known, Request, after_repair};
use crate::turn::Turn;

/// A machine with its atlas, ready to give advice.
pub struct Desk {
    /// The machine.
    pub machine: Machine,
    pub(crate) atlas: Atlas,
    kept: Kept,
    faults: Vec<Fault>,
    remedies: Remedies,
    /// What jobs have taught; nothing where none has.
    lessons: Lessons,
}

/// What one hand has worked out while several ask a desk at once.
#[derive(Default)]
pub struct Scratch(Kept);

/// What a glance at the readings tells.
pub(crate) struct Glance {
    /// Each suspect's share.
    pub(crate) shares: Vec<f64>,
    /// How likely the leading remedy's suspects are together.
    pub(crate) leading: f64,
}

impl Desk {
    /// A desk for a machine and its atlas.
    pub fn new(machine: Machine, atlas: Atlas) -> Self {
        let remedies = Remedies::of(&machine, &atlas.cast);
        let faults = atlas.cast.suspects.iter().filter_map(|suspect| suspect.fault.clone()).collect();
        Self { machine, atlas, kept: Kept::default(), faults, remedies, lessons: Lessons::default() }
    }

    /// The atlas.
    pub fn atlas(&self) -> &Atlas {
        &self.atlas
    }

    /// Advice for what is known.
    ///
    /// # Errors
    /// When the request names something that does not exist or a value cannot be read.
    pub fn advise(&mut self, request: &Request) -> Result<Advice, BadRequest> {
        self.weigh(request, true)
    }

    /// Odds and verdict as in [`Desk::advise`], without planning: nothing is next but a measurement to be taken again.
    ///
    /// # Errors
    /// When the request names something that does not exist or a value cannot be read.
    pub fn judge(&mut self, request: &Request) -> Result<Advice, BadRequest> {
        self.weigh(request, false)
    }

    /// Gives each suspect, healthy first, its share of jobs, unnormalized.
    pub fn set_odds(&mut self, odds: &[f64]) {
        for (suspect, odds) in self.atlas.cast.suspects.iter_mut().zip(odds) {
            suspect.odds = *odds;
        }
        self.kept.forget_odds();
    }

    /// Takes what jobs have taught in place of what it was taught before; without lessons the sheet's own odds stand.
    pub fn learn(&mut self, lessons: &Lessons) {
        if *lessons == self.lessons {
            return;
        }
        self.atlas.cast.suspects = Cast::new(&self.machine, self.atlas.cast.worlds_each).suspects;
        lessons.apply(&mut self.atlas.cast.suspects);
        self.lessons = lessons.clone();
        self.kept.forget_odds();
    }

    /// How long things take in the hands that it was taught by.
    pub(crate) fn pace(&self) -> &Pace {
        &self.lessons.pace
    }

    /// Says what a remedy that was tried in vain costs beside its minutes, in minutes of work, by a fault that asks for it: a
    /// part that cannot be given back, say. Nothing is lost where this is never said.
    pub fn price(&mut self, lost: impl Fn(&Fault) -> f64) {
        self.remedies.price(&self.atlas.cast, lost);
    }

    /// Rough odds: over the cast's own worlds, none drawn anew. Cheap, and enough to see that a verdict is far.
    ///
    /// # Errors
    /// When the request names something that does not exist or a value cannot be read.
    pub(crate) fn glance(&mut self, request: &Request) -> Result<Glance, BadRequest> {
        self.with_sources(request, |desk, _, sources, kept| {
            let shares = sources.coarse(kept);
            let of = |remedy: &Mend| remedy.fixes.iter().map(|suspect| shares[*suspect as usize]).sum::<f64>();
            Glance { leading: desk.remedies.iter().map(of).fold(shares[0], f64::max), shares }
        })
    }

    /// Natural log of the probability of the readings on this machine, whatever is wrong with it, and how likely each
    /// case of its table is then; nothing when no case has any weight.
    ///
    /// # Errors
    /// When the request names something that does not exist or a value cannot be read.
    pub(crate) fn evidence(&mut self, request: &Request) -> Result<Option<(f64, Vec<f64>)>, BadRequest> {
        self.with_sources(request, |desk, _, sources, kept| {
            let field = sources.field(kept)?;
            let cases = field.belief.worlds()[..desk.atlas.cast.len()].to_vec();
            Some((field.belief.log_evidence_of_all(&field.worlds), cases))
        })
    }

    /// Advice as in [`Desk::advise`], the desk as it is: several hands may ask at once, each with a scratch of its own.
    /// Readings of probes that the wiring does not suggest are not heard.
    ///
    /// # Errors
    /// When the request names something that does not exist or a value cannot be read.
    pub fn consider(&self, request: &Request, scratch: &mut Scratch) -> Result<Advice, BadRequest> {
        let known = request.read(&self.machine, &self.faults)?;
        let column = |entry: &Entry| match entry {
            Entry::Took(probe, _) => self.atlas.column_of(probe),
            _ => None,
        };
        let columns: Vec<Option<usize>> = known.entries.iter().map(column).collect();
        let sources = self.sources(request, &known, &columns);
        Ok(self.concluded(&sources, &mut scratch.0, true))
    }

    fn weigh(&mut self, request: &Request, plans: bool) -> Result<Advice, BadRequest> {
        self.with_sources(request, |desk, _, sources, kept| desk.concluded(sources, kept, plans))
    }

    fn concluded(&self, sources: &Sources<'_>, kept: &mut Kept, plans: bool) -> Advice {
        let Some(field) = sources.field(kept) else { return nothing_fits() };
        let (Self { machine, atlas, remedies, .. }, Sources { request, known, .. }) = (self, sources);
        let pace = self.pace();
        Turn { machine, atlas, remedies, pace, request, known, field, belief: &field.belief }.conclude(plans)
    }

    /// Reads a request and hands on all that is known.
    fn with_sources<T>(
        &mut self,
        request: &Request,
        conclude: impl FnOnce(&Self, &Known, &Sources<'_>, &mut Kept) -> T,
    ) -> Result<T, BadRequest> {
        let known = request.read(&self.machine, &self.faults)?;
        let columns = self.columns(&known);
        let mut kept = std::mem::take(&mut self.kept);
        let concluded = conclude(self, &known, &self.sources(request, &known, &columns), &mut kept);
        self.kept = kept;
        Ok(concluded)
    }

    fn sources<'a>(&'a self, request: &'a Request, known: &'a Known, columns: &'a [Option<usize>]) -> Sources<'a> {
        Sources {
            machine: &self.machine,
            atlas: &self.atlas,
            request,
            known,
            columns,
            remedies: self.remedies.iter().map(|remedy| (remedy.name.as_str(), remedy.fixes.as_slice())).collect(),
        }
    }

    /// The column of each reading's probe; what is evidence and outside the atlas is observed now.
    fn columns(&mut self, known: &Known) -> Vec<Option<usize>> {
        let mut columns = Vec::with_capacity(known.entries.len());
        for (index, entry) in known.entries.iter().enumerate() {
            columns.push(match entry {
                Entry::Took(probe, _) => match self.atlas.column_of(probe) {
                    None if !after_repair(&known.entries[..index]) => {
                        Some(self.atlas.add_probe(&self.machine, probe.clone()))
                    }
                    column => column,
                },
                _ => None,
            });
        }
        columns
    }

    /// What healthy machines show on a probe, at the job's temperature.
    pub fn band(&self, column: usize, air: Option<Celsius>) -> Band {
        band(&self.atlas, column, air)
    }

    /// The probes that the wiring suggests.
    pub fn probes(&self) -> &[Probe] {
        self.atlas.suggested()
    }
}

pub(crate) fn nothing_fits() -> Advice {
    Advice {
        suspects: Vec::new(),
        unexplained: 1.0,
        leading: 0.0,
        next: Vec::new(),
        stop: Some(Stop::NoneOfThese),
        verdict: None,
        keystone: None,
        outliers: Vec::new(),
        reasons: Vec::new(),
        entropy_bits: 0.0,
    }
}
