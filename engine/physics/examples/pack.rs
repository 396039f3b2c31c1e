//! Answers of one cell of a pack, for `referee/battery.py` to check: a question a line on standard input, an answer a line on
//! standard output.
//!
//! `curve CHARGE,VOLTS,MILLIVOLTS_PER_KELVIN…` gives the questions that follow a rest curve; alone it takes the cell's own
//! back. `drop CELL CHARGE CELSIUS AMPS` asks for what is lost at once. `train CELL CHARGE CELSIUS HEAT_CAPACITY COOLING
//! AMPS,SECONDS…` asks for the first and the last voltage and the temperature after each piece, in air of the temperature
//! at the start. CELL is `power`, `energy` or `acid`.

use std::error::Error;
use std::io::{BufRead, Write};

use physics::pack::{Chemistry, Pack};
use quantity::{AmpHours, Amps, Celsius, Seconds};

type Curve = Option<&'static [(f64, f64, f64)]>;

/// One step of the integration (midpoint rule), seconds.
const STEP: f64 = 0.05;

fn main() -> Result<(), Box<dyn Error>> {
    let mut out = std::io::stdout().lock();
    let mut curve: Curve = None;
    for line in std::io::stdin().lock().lines() {
        let line = line?;
        let words: Vec<&str> = line.split_whitespace().collect();
        match words.as_slice() {
            ["curve", rows @ ..] => {
                let rows = rows.iter().map(|row| row_of(row)).collect::<Result<Vec<_>, _>>()?;
                curve = if rows.is_empty() { None } else { Some(Vec::leak(rows)) };
                continue;
            }
            ["drop", cell, rest @ ..] => {
                let numbers = rest.iter().map(|word| word.parse()).collect::<Result<Vec<f64>, _>>()?;
                let [charge, celsius, amps] = numbers[..] else { return Err("drop wants three numbers".into()) };
                let pack = pack(cell, None)?;
                writeln!(out, "{}", pack.cell.drop(Amps(amps), charge, Celsius(celsius)).0)?;
            }
            ["train", cell, charge, celsius, heat_capacity, cooling, pieces @ ..] => {
                let pack = pack(cell, curve)?;
                let cells = pack.chemistry.cells();
                let heat_capacity = heat_capacity.parse::<f64>()? * cells;
                let pack = Pack { heat_capacity, cooling: cooling.parse::<f64>()? * cells, ..pack };
                writeln!(out, "{}", train(&pack, charge.parse()?, Celsius(celsius.parse()?), pieces)?)?;
            }
            _ => return Err("expected: curve, drop or train".into()),
        }
    }
    Ok(())
}

fn row_of(text: &str) -> Result<(f64, f64, f64), Box<dyn Error>> {
    let numbers = text.split(',').map(str::parse).collect::<Result<Vec<f64>, _>>()?;
    let [charge, volts, slope] = numbers[..] else { return Err("a row of a curve has three numbers".into()) };
    Ok((charge, volts, slope))
}

/// A pack whose cells lose what the published cell loses, in its published size.
fn pack(cell: &str, curve: Curve) -> Result<Pack, Box<dyn Error>> {
    let (chemistry, cell) = match cell {
        "power" => (Chemistry::LfpPower, physics::lfp::POWER_CELL),
        "energy" => (Chemistry::LfpEnergy, physics::lfp::ENERGY_CELL),
        "acid" => (Chemistry::GlassMat, physics::lead_acid::CELL),
        _ => return Err("a cell is power, energy or acid".into()),
    };
    let curve = curve.unwrap_or(chemistry.curve());
    Ok(Pack { cell, curve, build: 1.0, ..Pack::new(chemistry, AmpHours(cell.capacity.0)) })
}

/// First and last voltage of a cell and the temperature at the end, for each piece.
fn train(pack: &Pack, charge: f64, air: Celsius, pieces: &[&str]) -> Result<String, Box<dyn Error>> {
    let cells = pack.chemistry.cells();
    let mut held = pack.rested(charge, air);
    let mut said = Vec::new();
    for piece in pieces {
        let (amps, seconds) = piece.split_once(',').ok_or("a piece is AMPS,SECONDS")?;
        let (current, steps) = (Amps(amps.parse()?), (seconds.parse::<f64>()? / STEP).round() as usize);
        let first = pack.voltage(&held, current);
        for _ in 0..steps {
            let half = held.after(&pack.rates(&held, current, air), Seconds(STEP / 2.0));
            held = held.after(&pack.rates(&half, current, air), Seconds(STEP));
        }
        let last = pack.voltage(&held, current);
        said.push(format!("{} {} {}", first.0 / cells, last.0 / cells, held.temperature.0));
    }
    Ok(said.join(" "))
}
