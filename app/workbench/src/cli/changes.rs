//! The arguments that change a machine before it is solved, the same for every command that solves.

use clap::Args;

use crate::shop::changes::Changes;
use crate::shop::refusal::{Place, Reason, Refusal};

/// Faults and raw edits.
#[derive(Clone, Debug, Default, Args)]
pub struct ChangeArguments {
    /// Plant a fault: PART:MODE or PART:MODE=SEVERITY (repeatable)
    ///
    /// The severity is a number with its unit (`20 mohm`) or a bare number in
    /// SI units; without one, the middle of the mode's usual spread is taken.
    #[arg(long = "fault", value_name = "PART:MODE[=SEVERITY]")]
    faults: Vec<String>,
    /// Give a field of a part another value (repeatable)
    #[arg(long, value_name = "PART.FIELD=VALUE")]
    set: Vec<String>,
    /// Lift a joint, pull a fuse or a connector, cut a path (repeatable)
    #[arg(long, value_name = "PART|PART.PATH")]
    open: Vec<String>,
    /// Connect two nodes by a resistance (repeatable)
    #[arg(long, value_name = "NODE,NODE=OHMS")]
    bridge: Vec<String>,
    /// Air temperature, as in -5C; without it all is at 20 °C as written
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    air: Option<String>,
}

impl ChangeArguments {
    /// The changes that these arguments ask for.
    ///
    /// # Errors
    /// When a `--set` has no equals sign.
    pub fn changes(&self) -> Result<Changes, Refusal> {
        let pair = |text: &String| match text.split_once('=') {
            Some((path, value)) => Ok((path.to_owned(), value.to_owned())),
            None => {
                let message = format!("`{text}` gives no value");
                Err(Refusal::new(Reason::Form, Place::Set, message, text, "PART.FIELD=VALUE")
                    .with_hint("write it as in `starter-relay.pull-in=8 V`"))
            }
        };
        Ok(Changes {
            faults: self.faults.clone(),
            set: self.set.iter().map(pair).collect::<Result<_, _>>()?,
            open: self.open.clone(),
            bridge: self.bridge.clone(),
            air: self.air.clone(),
        })
    }
}
