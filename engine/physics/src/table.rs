//! A value between the rows of a table. Law: straight between rows, level beyond the ends.

/// The second column at a place in the first, which rises.
pub(crate) fn interpolate(at: f64, rows: impl Iterator<Item = (f64, f64)>) -> f64 {
    let mut last: Option<(f64, f64)> = None;
    for (place, value) in rows {
        match last {
            _ if at > place => last = Some((place, value)),
            Some((before, from)) => return from + (value - from) * (at - before) / (place - before),
            None => return value,
        }
    }
    last.map_or(f64::NAN, |(_, value)| value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_straight_between_rows_and_level_beyond() {
        let rows = [(1.0, 10.0), (2.0, 20.0), (4.0, 0.0)];
        for (at, expected) in [(0.0, 10.0), (1.0, 10.0), (1.5, 15.0), (2.0, 20.0), (3.0, 10.0), (4.0, 0.0), (9.0, 0.0)]
        {
            assert_eq!(interpolate(at, rows.into_iter()), expected);
        }
    }
}
