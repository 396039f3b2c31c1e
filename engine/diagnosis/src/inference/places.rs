//! Places where a hand or a probe must go: access is paid once, then the place stays open.
//! Promise: no place, or one that is not listed, costs nothing; a copy is cheap.
//! Limit: up to 128 places (further ones are free); access does not depend on which other places are open.

use std::sync::Arc;

/// Access minutes of each place, and which places are open already.
#[derive(Debug, Clone, PartialEq)]
pub struct Places {
    minutes: Arc<[f64]>,
    open: u128,
}

impl Places {
    /// All places still closed.
    pub fn new(access_minutes: Vec<f64>) -> Self {
        Places { minutes: access_minutes.into(), open: 0 }
    }

    /// Opens a place for the rest of the job.
    pub fn open(&mut self, place: Option<usize>) {
        self.open |= bit(place);
    }

    /// Minutes still to be paid before working there.
    pub fn unpaid(&self, place: Option<usize>) -> f64 {
        let closed = bit(place) & !self.open != 0;
        place.filter(|_| closed).and_then(|place| self.minutes.get(place)).copied().unwrap_or(0.0)
    }
}

impl Default for Places {
    fn default() -> Self {
        Places::new(Vec::new())
    }
}

fn bit(place: Option<usize>) -> u128 {
    place.and_then(|place| 1u128.checked_shl(place as u32)).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_access_is_paid_once() {
        let mut places = Places::new(vec![2.0, 5.0]);
        assert_eq!((places.unpaid(Some(1)), places.unpaid(None), places.unpaid(Some(9))), (5.0, 0.0, 0.0));
        places.open(Some(1));
        assert_eq!((places.unpaid(Some(0)), places.unpaid(Some(1))), (2.0, 0.0));
    }
}
