//! Remedies: what mends which suspects, and whom one of them would have to mend now.
//! A remedy is one act on one part; the faults that it mends need not be told apart.

use machine::{Fault, Machine};

use crate::cast::Cast;
use crate::field::Pairs;
use crate::inference::Belief;
use crate::request::{Known, part_name};

/// Minutes to see whether a remedy worked.
pub(crate) const TRY_MINUTES: f64 = 1.0;

/// A remedy and whom it fixes.
#[derive(Clone, Debug)]
pub(crate) struct Mend {
    /// `try:VERB@PART`.
    pub(crate) name: String,
    pub(crate) title: String,
    pub(crate) caution: String,
    /// Attended work and trial start, access apart.
    pub(crate) minutes: f64,
    /// Minutes of waiting beside that.
    pub(crate) wait: f64,
    /// What is lost when it was not the fault, in minutes of work; see [`crate::Desk::price`].
    pub(crate) lost: f64,
    pub(crate) place: Option<usize>,
    /// Suspects of the cast.
    pub(crate) fixes: Vec<u32>,
}

/// All remedies of a machine, in the order of its faults.
#[derive(Clone, Debug)]
pub(crate) struct Remedies(Vec<Mend>);

impl Remedies {
    /// The remedies of a cast.
    pub(crate) fn of(machine: &Machine, cast: &Cast) -> Self {
        let mut remedies: Vec<Mend> = Vec::new();
        for (index, suspect) in cast.suspects.iter().enumerate() {
            let Some(fault) = &suspect.fault else { continue };
            let name = Self::name_of(machine, fault);
            match remedies.iter_mut().find(|known| known.name == name) {
                Some(known) => known.fixes.push(index as u32),
                None => remedies.push(Mend {
                    name,
                    title: fault.remedy.title.clone(),
                    caution: fault.remedy.caution.clone(),
                    minutes: fault.remedy.minutes + TRY_MINUTES,
                    wait: fault.remedy.elapsed - fault.remedy.minutes,
                    lost: 0.0,
                    place: fault.part.and_then(|part| machine.sheet.parts[part].place),
                    fixes: vec![index as u32],
                }),
            }
        }
        Self(remedies)
    }

    /// Says what each is worth when it was tried in vain, in minutes of work, by a fault that asks for it.
    pub(crate) fn price(&mut self, cast: &Cast, lost: impl Fn(&Fault) -> f64) {
        for remedy in &mut self.0 {
            let asks = remedy.fixes.first().and_then(|suspect| cast.suspects.get(*suspect as usize));
            remedy.lost = asks.and_then(|suspect| suspect.fault.as_ref()).map_or(0.0, &lost).max(0.0);
        }
    }

    /// The name of what mends a fault.
    pub(crate) fn name_of(machine: &Machine, fault: &Fault) -> String {
        format!("try:{}@{}", fault.remedy.verb, part_name(machine, fault))
    }

    /// One after the other.
    pub(crate) fn iter(&self) -> std::slice::Iter<'_, Mend> {
        self.0.iter()
    }

    /// Suspects of a field that want a remedy: single faults that it fixes, and pairs of which it fixes one that no
    /// remedy has mended yet.
    pub(crate) fn wanting(&self, remedy: &Mend, known: &Known, pairs: &Pairs) -> Vec<u32> {
        self.left_to(remedy, pairs, |other| known.tried(&other.name))
    }

    /// Suspects that wanted a remedy when some others had been tried.
    fn left_to(&self, remedy: &Mend, pairs: &Pairs, tried: impl Fn(&Mend) -> bool) -> Vec<u32> {
        let tried: Vec<&Mend> = self.iter().filter(|remedy| tried(remedy)).collect();
        let mended = |fault: &u32| tried.iter().any(|remedy| remedy.fixes.contains(fault));
        let wants = |faults: &[u32; 2]| faults.iter().any(|fault| remedy.fixes.contains(fault) && !mended(fault));
        let pairs = pairs.numbered().filter(|(_, faults)| wants(faults));
        remedy.fixes.iter().copied().chain(pairs.map(|(suspect, _)| suspect)).collect()
    }

    /// The suspects that want one remedy of one part, with the largest sum, and that remedy; the healthy machine wants
    /// none.
    pub(crate) fn leading(&self, known: &Known, pairs: &Pairs, belief: &Belief) -> Group<'_> {
        let mut best = (vec![0], None);
        let mut most = belief.suspects()[0];
        for remedy in self.iter() {
            let wanting = self.wanting(remedy, known, pairs);
            let sum = belief.together(&wanting);
            if sum > most {
                most = sum;
                best = (wanting, Some(remedy));
            }
        }
        Group::new(best.0, best.1, belief)
    }

    /// The suspects that want the remedy that has fixed the machine; nothing while it is not fixed.
    pub(crate) fn fixing(&self, known: &Known, pairs: &Pairs, belief: &Belief) -> Option<Group<'_>> {
        let remedy = self.iter().find(|remedy| known.fixed_by(&remedy.name))?;
        // Of a pair it has mended what was left: it does not count as tried before itself.
        let wanted = self.left_to(remedy, pairs, |other| other.name != remedy.name && known.tried(&other.name));
        Some(Group::new(wanted, Some(remedy), belief))
    }
}

/// Suspects that want one remedy.
pub(crate) struct Group<'a> {
    /// Suspects with their shares, likeliest first.
    pub(crate) suspects: Vec<(u32, f64)>,
    /// Nothing for the healthy machine.
    pub(crate) remedy: Option<&'a Mend>,
}

impl<'a> Group<'a> {
    fn new(suspects: Vec<u32>, remedy: Option<&'a Mend>, belief: &Belief) -> Self {
        let mut suspects: Vec<(u32, f64)> =
            suspects.into_iter().map(|suspect| (suspect, belief.suspects()[suspect as usize])).collect();
        suspects.sort_by(|left, right| right.1.total_cmp(&left.1).then(left.0.cmp(&right.0)));
        Self { suspects, remedy }
    }

    /// Sum of the shares.
    pub(crate) fn share(&self) -> f64 {
        self.suspects.iter().map(|(_, share)| share).sum()
    }

    /// Its suspects.
    pub(crate) fn members(&self) -> Vec<u32> {
        self.suspects.iter().map(|(suspect, _)| *suspect).collect()
    }
}
