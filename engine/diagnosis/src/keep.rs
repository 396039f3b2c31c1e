//! An atlas as bytes and back, for a cache on disk; the caller decides where it lies and under which key.
//! Form: magic, counts, per column the numbers, ranges, bins and kernel, then the signs, then a sum over all that;
//! little-endian. Promise: bytes of another form, of another size, cut short or changed on the way are refused, never
//! half used. They are read as they come, so that they never lie in memory twice.
//! Limit: the sum guards against accidents, not against intent.

use std::io::Read;

use machine::Signs;

use crate::atlas::{Atlas, Survey};
use crate::bins::{Bins, Outcome};
use crate::column::Column;
use crate::inference::Kernel;

const MAGIC: &[u8; 8] = b"atlas-05";

impl Atlas {
    /// The atlas as bytes.
    pub fn to_bytes(&self) -> Vec<u8> {
        let worlds = self.signs.len();
        let mut out = Vec::with_capacity(64 + worlds * (self.columns.len() * 6 + 49));
        out.extend_from_slice(MAGIC);
        put(&mut out, worlds);
        put(&mut out, self.columns.len());
        for column in &self.columns {
            floats(&mut out, &column.low);
            put(&mut out, column.ranges.len());
            for (world, high) in &column.ranges {
                out.extend_from_slice(&world.to_le_bytes());
                out.extend_from_slice(&high.to_le_bytes());
            }
            out.extend_from_slice(&column.bins.classes);
            put(&mut out, column.bins.outcomes.len());
            for outcome in &column.bins.outcomes {
                let (sort, low, high) = match *outcome {
                    Outcome::Between(low, high) => (0, low, high),
                    Outcome::Over => (1, 0.0, 0.0),
                    Outcome::Unsteady => (2, 0.0, 0.0),
                    Outcome::Word(word) => (3, word as f64, 0.0),
                };
                out.push(sort);
                out.extend_from_slice(&f64::to_le_bytes(low));
                out.extend_from_slice(&f64::to_le_bytes(high));
            }
            let classes = column.bins.kernel.as_ref().map_or(0, Kernel::classes);
            put(&mut out, classes);
            for class in 0..classes {
                for share in column.bins.kernel.iter().flat_map(|kernel| kernel.row(class)) {
                    out.extend_from_slice(&share.to_le_bytes());
                }
            }
        }
        for signs in &self.signs {
            let flags = [signs.click, signs.chatter, signs.spins, signs.engaged, signs.runs_on, signs.blows];
            out.push(flags.iter().enumerate().map(|(bit, set)| u8::from(*set) << bit).sum());
            let numbers =
                [signs.speed, signs.rest_draw, signs.charge, signs.cold_speed, signs.mild_speed, signs.fires_above];
            out.extend(numbers.iter().flat_map(|number| number.to_le_bytes()));
        }
        let mut sum = Sum::default();
        sum.add(&out);
        out.extend_from_slice(&sum.of_all().to_le_bytes());
        out
    }
}

impl Survey<'_> {
    /// The atlas of this survey from what [`Atlas::to_bytes`] gave; nothing if that is not of this survey.
    pub fn restore(self, from: impl Read) -> Option<Atlas> {
        let mut input = Input { from, sum: Sum::default(), taken: Vec::new() };
        if input.take(MAGIC.len())? != MAGIC || input.count()? != self.len() || input.count()? != self.probes.len() {
            return None;
        }
        let worlds = self.len();
        let mut columns = Vec::with_capacity(self.probes.len());
        for _ in 0..self.probes.len() {
            columns.push(input.column(worlds)?);
        }
        let mut signs = Vec::with_capacity(worlds);
        for _ in 0..worlds {
            let flags = input.take(1)?[0];
            let flag = |bit: u8| flags & (1 << bit) != 0;
            signs.push(Signs {
                click: flag(0),
                chatter: flag(1),
                spins: flag(2),
                engaged: flag(3),
                runs_on: flag(4),
                blows: flag(5),
                speed: input.float()?,
                rest_draw: input.float()?,
                charge: input.float()?,
                cold_speed: input.float()?,
                mild_speed: input.float()?,
                fires_above: input.float()?,
            });
        }
        input.ends_whole().then(|| self.finish(columns, signs))
    }
}

/// A sum over eight bytes at a time; each step can be undone, so one changed byte always changes it.
#[derive(Default)]
struct Sum {
    sum: u64,
    length: u64,
    /// Bytes that wait for others to make eight.
    waiting: Vec<u8>,
}

impl Sum {
    const ODD: u64 = 0x9e37_79b9_7f4a_7c15;

    fn mix(&mut self, word: u64) {
        self.sum = (self.sum ^ word).wrapping_mul(Self::ODD).rotate_left(29);
    }

    fn add(&mut self, bytes: &[u8]) {
        self.length += bytes.len() as u64;
        let missing = if self.waiting.is_empty() { 0 } else { (8 - self.waiting.len()).min(bytes.len()) };
        let (first, rest) = bytes.split_at(missing);
        self.waiting.extend_from_slice(first);
        if let Ok(eight) = <[u8; 8]>::try_from(self.waiting.as_slice()) {
            self.mix(u64::from_le_bytes(eight));
            self.waiting.clear();
        }
        let (words, rest) = rest.as_chunks::<8>();
        words.iter().for_each(|eight| self.mix(u64::from_le_bytes(*eight)));
        self.waiting.extend_from_slice(rest);
    }

    fn of_all(&mut self) -> u64 {
        let last = self.waiting.iter().rev().fold(0, |word, byte| word << 8 | u64::from(*byte));
        self.mix(last);
        self.mix(self.length);
        self.sum
    }
}

fn put(out: &mut Vec<u8>, count: usize) {
    out.extend_from_slice(&(count as u64).to_le_bytes());
}

fn floats(out: &mut Vec<u8>, values: &[f32]) {
    out.extend(values.iter().flat_map(|value| value.to_le_bytes()));
}

struct Input<R> {
    from: R,
    sum: Sum,
    taken: Vec<u8>,
}

impl<R: Read> Input<R> {
    fn take(&mut self, count: usize) -> Option<&[u8]> {
        self.taken.resize(count, 0);
        self.from.read_exact(&mut self.taken).ok()?;
        self.sum.add(&self.taken);
        Some(&self.taken)
    }

    /// Whether the sum of all that was taken follows, and nothing after it.
    fn ends_whole(mut self) -> bool {
        let mut kept = [0; 8];
        let sum = self.sum.of_all().to_le_bytes();
        let ends = self.from.read_exact(&mut kept).is_ok() && self.from.read(&mut [0]).is_ok_and(|more| more == 0);
        ends && kept == sum
    }

    fn count(&mut self) -> Option<usize> {
        let bytes = self.take(8)?.try_into().ok()?;
        usize::try_from(u64::from_le_bytes(bytes)).ok()
    }

    fn float(&mut self) -> Option<f64> {
        Some(f64::from_le_bytes(self.take(8)?.try_into().ok()?))
    }

    fn floats(&mut self, count: usize) -> Option<Vec<f32>> {
        let bytes = self.take(count.checked_mul(4)?)?;
        Some(bytes.chunks_exact(4).map(|four| f32::from_le_bytes([four[0], four[1], four[2], four[3]])).collect())
    }

    fn column(&mut self, worlds: usize) -> Option<Column> {
        let low = self.floats(worlds)?;
        let mut ranges = Vec::new();
        for _ in 0..self.count()? {
            let world = u32::from_le_bytes(self.take(4)?.try_into().ok()?);
            ranges.push((world, f32::from_le_bytes(self.take(4)?.try_into().ok()?)));
        }
        let classes = self.take(worlds)?.to_vec();
        let count = self.count()?;
        let mut outcomes = Vec::new();
        for _ in 0..count {
            let sort = self.take(1)?[0];
            let (first, second) = (self.float()?, self.float()?);
            outcomes.push(match sort {
                0 => Outcome::Between(first, second),
                1 => Outcome::Over,
                2 => Outcome::Unsteady,
                _ => Outcome::Word(first as usize),
            });
        }
        let rows = self.count()?.checked_mul(count)?;
        let mut shares = Vec::new();
        for _ in 0..rows {
            shares.push(self.float()?);
        }
        let kernel = if rows > 0 { Some(Kernel::new(count, shares).ok()?) } else { None };
        Some(Column { low, ranges, bins: Bins { classes, outcomes, kernel } })
    }
}
