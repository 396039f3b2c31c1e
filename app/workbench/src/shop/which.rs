//! Weighing several sheets against what was read.

use diagnosis::Desk;
use diagnosis::which::{Which, which};
use machine::Machine;

use super::advice::{Asked, desk};
use super::refusal::{Place, Reason, Refusal};

/// Sheets with their desks, and what the readings say of them.
pub struct Compared {
    /// Each sheet's name and desk.
    pub desks: Vec<(String, Desk)>,
    /// Odds, and the probes that would tell.
    pub answer: Which,
}

/// Weighs sheets, given as name, machine and text.
///
/// # Errors
/// At the first reading that one of them does not have, with that sheet's name.
pub fn compare(sheets: Vec<(String, Machine, String)>, asked: &Asked) -> Result<Compared, Box<(String, Refusal)>> {
    let mut requests = Vec::new();
    let (mut names, mut desks) = (Vec::new(), Vec::new());
    for (name, machine, text) in sheets {
        requests.push(asked.request(&machine).map_err(|refusal| Box::new((name.clone(), refusal)))?);
        desks.push(desk(machine, &text));
        names.push(name);
    }
    let answer = which(&mut desks, &requests).map_err(|(sheet, error)| {
        let refusal = Refusal::new(Reason::Value, Place::Reading, error.to_string(), "", "a reading of every sheet");
        Box::new((names[sheet].clone(), refusal))
    })?;
    Ok(Compared { desks: names.into_iter().zip(desks).collect(), answer })
}
