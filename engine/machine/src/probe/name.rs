//! Names of probes, read: `instrument@state:red,black`, `instrument@state:PART`, `mohm@state:red,black/PART`, `ask:since`.

use crate::machine::{Machine, UnknownName, unknown};
use crate::meter::{Hookup, Instrument};

use super::{Probe, Question, Sort};

/// Why a name is no probe of this machine.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BadProbe {
    /// It has not the form of a probe's name.
    #[error("`{0}` is not the name of a probe")]
    Form(String),
    /// It names something that the machine does not have.
    #[error(transparent)]
    Unknown(#[from] UnknownName),
    /// It asks a part for something that its kind does not have.
    #[error("`{part}` is a {kind}; {what} wants {wanted}")]
    Kind {
        /// The part.
        part: String,
        /// Its kind.
        kind: &'static str,
        /// What was asked.
        what: &'static str,
        /// What it can be asked of.
        wanted: &'static str,
    },
}

impl BadProbe {
    /// What a name may look like.
    pub const ALLOWED: &'static str = "INSTRUMENT@STATE:RED,BLACK (volts low-z ohms diode lamp), INSTRUMENT@STATE:PART (amps clamp), mohm@STATE:RED,BLACK/PART, listen@ watch@ feel@ feed@ turn@ look@ wiggle@ size@STATE:PART, ask:since";
}

/// What observations by eye, ear and hand want: word, kinds, and the same in words.
const OF_PARTS: [(&str, &[&str], &str); 8] = [
    ("listen", &["relay", "solenoid"], "a relay or a solenoid"),
    ("watch", &["lamp", "instrument-lamp"], "a lamp"),
    ("feel", &["starter", "motor"], "a motor"),
    ("feed", &["starter", "motor"], "a motor"),
    ("turn", &["engine"], "an engine"),
    ("look", &["fuse", "breaker", "switch", "connector", "joint", "cable", "battery"], "a part that shows its faults"),
    ("wiggle", &["joint", "cable", "connector"], "a connection"),
    ("size", &["bushing"], "a bushing"),
];

impl Machine {
    /// The probe of that name, with title, set-up, place and cost.
    ///
    /// # Errors
    /// When it is not a probe's name, or names something that this machine does not have.
    pub fn probe(&self, name: &str) -> Result<Probe, BadProbe> {
        let name = name.trim();
        if name == "ask:since" {
            return Ok(self.describe(Sort::Ask(Question::Since), "", name));
        }
        let form = || BadProbe::Form(name.to_owned());
        let (word, rest) = name.split_once('@').ok_or_else(form)?;
        let (state, of) = rest.split_once(':').ok_or_else(form)?;
        let (word, state, of) = (word.trim(), state.trim(), of.trim());
        self.state(state)?;
        if let Some(instrument) = Instrument::find(word) {
            let hookup = match of.split_once(',') {
                Some((red, black)) => Hookup::Between { red: self.node(red)?, black: self.node(black)? },
                None => Hookup::In(self.branch(of)?),
            };
            let between = matches!(hookup, Hookup::Between { .. });
            let wants_between = !matches!(instrument, Instrument::Amps | Instrument::Clamp | Instrument::Lamp);
            if between != wants_between && instrument != Instrument::Lamp {
                return Err(form());
            }
            return Ok(self.describe(Sort::Meter(instrument, hookup), state, name));
        }
        if word == "mohm" {
            let (leads, clamped) = of.rsplit_once('/').ok_or_else(form)?;
            let (red, black) = leads.split_once(',').ok_or_else(form)?;
            let (red, black, clamped) = (self.node(red)?, self.node(black)?, self.branch(clamped)?);
            return Ok(self.describe(Sort::PerAmp { red, black, clamped }, state, name));
        }
        let known =
            Instrument::NAMES.iter().map(|(known, _)| *known).chain(OF_PARTS.iter().map(|(known, _, _)| *known));
        let Some((what, kinds, wanted)) = OF_PARTS.iter().find(|(known, _, _)| *known == word) else {
            return Err(unknown("instrument", word, known).into());
        };
        let part = self.part(of)?;
        let kind = self.sheet.parts[part].kind.name;
        if !kinds.contains(&kind) {
            return Err(BadProbe::Kind { part: of.to_owned(), kind, what, wanted });
        }
        let sort = match *what {
            "listen" => Sort::Listen(part),
            "watch" => Sort::Watch(part),
            "feel" => Sort::Feel(part),
            "feed" => Sort::Feed(part),
            "turn" => Sort::Turn(part),
            "size" => Sort::Size(part),
            "wiggle" => Sort::Wiggle(part),
            _ => Sort::Look(part),
        };
        Ok(self.describe(sort, state, name))
    }

    /// The canonical name of a probe.
    pub fn probe_name(&self, sort: Sort, state: &str) -> String {
        let part = |part: usize| &self.sheet.parts[part].name.name;
        match sort {
            Sort::Meter(instrument, Hookup::Between { red, black }) => {
                format!("{}@{state}:{},{}", instrument.name(), self.node_name(red), self.node_name(black))
            }
            Sort::Meter(instrument, Hookup::In(branch)) => {
                format!("{}@{state}:{}", instrument.name(), self.branches()[branch].name)
            }
            Sort::PerAmp { red, black, clamped } => {
                let clamped = &self.branches()[clamped].name;
                format!("mohm@{state}:{},{}/{clamped}", self.node_name(red), self.node_name(black))
            }
            Sort::Listen(index) => format!("listen@{state}:{}", part(index)),
            Sort::Watch(index) => format!("watch@{state}:{}", part(index)),
            Sort::Feel(index) => format!("feel@{state}:{}", part(index)),
            Sort::Feed(index) => format!("feed@{state}:{}", part(index)),
            Sort::Turn(index) => format!("turn@{state}:{}", part(index)),
            Sort::Look(index) => format!("look@{state}:{}", part(index)),
            Sort::Wiggle(index) => format!("wiggle@{state}:{}", part(index)),
            Sort::Size(index) => format!("size@{state}:{}", part(index)),
            Sort::Ask(Question::Since) => "ask:since".to_owned(),
        }
    }
}
