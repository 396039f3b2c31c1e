//! Whom a world accuses: one suspect, or two at once.

use crate::cast::{SECOND, SEVERITY};

/// One suspect, or two whose faults are present together; suspects by their index in the cast.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Subject {
    /// A single suspect; the healthy machine is suspect 0.
    One(u32),
    /// Two faults at once, the lower index first.
    Both(u32, u32),
}

impl Subject {
    /// Its suspects, each with the axis of its severity.
    pub(crate) fn suspects(self) -> impl Iterator<Item = (u32, usize)> {
        let (first, second) = match self {
            Self::One(suspect) => (suspect, None),
            Self::Both(first, second) => (first, Some(second)),
        };
        std::iter::once((first, SEVERITY)).chain(second.map(|second| (second, SECOND)))
    }

    /// The suspects that are left after remedies that changed nothing to the eye: a remedy that was right for one of
    /// two has mended it; one that was right for a single fault would have been noticed, so it has failed.
    pub(crate) fn left(self, mended: &[&[u32]]) -> Vec<(u32, usize)> {
        let stays = |(suspect, _): &(u32, usize)| mended.iter().all(|fixes| !fixes.contains(suspect));
        match self {
            Self::One(_) => self.suspects().collect(),
            Self::Both(..) => self.suspects().filter(stays).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_a_remedy_takes_its_fault_out_of_a_pair_but_not_out_of_a_single() {
        let remedy: &[u32] = &[3, 4];
        let left = |subject: Subject, mended: &[&[u32]]| -> Vec<u32> {
            subject.left(mended).into_iter().map(|(suspect, _)| suspect).collect()
        };
        assert_eq!(left(Subject::Both(3, 7), &[remedy]), [7]);
        assert_eq!(left(Subject::Both(3, 7), &[]), [3, 7]);
        assert_eq!(left(Subject::Both(3, 4), &[remedy]), [0; 0]);
        assert_eq!(left(Subject::One(3), &[remedy]), [3]);
    }
}
