//! The workshop's own settings: its heading, what an hour and parts cost, what lies on the shelf.
//! Idea: one TOML file of the person, all of it optional; without prices, minutes are the only currency.
//! Promise: a key that is not known is refused with its line; nothing is ever written here.
//! Not here: what a job costs (`bill`).

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use machine::kind::CATALOGUE;
use quantity::{Dimension, read};
use serde::de::{Error, Visitor};
use serde::{Deserialize, Deserializer, Serialize};

use super::folders;

/// What names another file than the person's own, beside `--settings`.
pub const VARIABLE: &str = "PROBEWRIGHT_SETTINGS";

/// A file of settings to begin with.
pub const EXAMPLE: &str = include_str!("settings.toml");

/// The workshop's settings.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// Version of the form: 1.
    #[serde(default = "first")]
    settings: u32,
    /// What stands over a report.
    #[serde(default)]
    pub workshop: Heading,
    /// What things cost; nothing where only minutes count.
    #[serde(default)]
    pub money: Option<Money>,
    /// Parts by the remedy that uses them: `VERB@KIND`, or `MACHINE/VERB@PART` for one machine's.
    #[serde(default)]
    pub stock: BTreeMap<String, Stock>,
}

/// What stands over a report.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Heading {
    /// The workshop's name.
    pub name: String,
    /// Its address, a line each.
    pub address: Vec<String>,
    /// Telephone or mail.
    pub contact: String,
    /// What stands at the foot of reports.
    pub note: String,
}

/// What things cost.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Money {
    /// As it is to be printed, by ISO 4217: `EUR`.
    pub currency: String,
    /// Price of an hour of attended work.
    #[serde(deserialize_with = "amount")]
    pub hour: f64,
    /// What a day costs on which the machine stands and waits for a part.
    #[serde(default, deserialize_with = "amount", rename = "standing-day")]
    pub standing_day: f64,
}

/// A part as the workshop has it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stock {
    /// What the owner pays for it.
    #[serde(deserialize_with = "amount")]
    pub price: f64,
    /// How many lie on the shelf; as many as are wanted where it is not said.
    #[serde(default)]
    pub shelf: Option<u32>,
    /// Days until one that is not there arrives.
    #[serde(default, deserialize_with = "days", rename = "lead")]
    pub lead_days: f64,
    /// Whether it goes back when it was not the fault.
    #[serde(default)]
    pub returnable: bool,
}

/// Why there are no settings.
#[derive(Debug, thiserror::Error)]
pub enum NoSettings {
    /// The file cannot be read.
    #[error("cannot read `{}`: {source}", path.display())]
    Disk {
        /// Which.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// It is not what it should be.
    #[error("{}: {problem}", path.display())]
    Text {
        /// Which.
        path: PathBuf,
        /// Line, column and what is wrong there.
        problem: String,
    },
}

impl Settings {
    /// The settings of a file, or the person's own, or none where that is not there; and which file it was.
    ///
    /// # Errors
    /// When a file cannot be read or has something in it that is not known.
    pub fn open(asked: Option<&Path>) -> Result<(Self, Option<PathBuf>), NoSettings> {
        let own = || folders::configuration().ok().map(|folder| folder.join("settings.toml"));
        let Some(path) = asked.map(Path::to_owned).or_else(|| own().filter(|path| path.exists())) else {
            return Ok((Self::default(), None));
        };
        let text = std::fs::read_to_string(&path).map_err(|source| NoSettings::Disk { path: path.clone(), source })?;
        let settings = Self::read(&text).map_err(|problem| NoSettings::Text { path: path.clone(), problem })?;
        Ok((settings, Some(path)))
    }

    /// Reads the text of a file.
    ///
    /// # Errors
    /// In words, with line and column where there is one.
    pub fn read(text: &str) -> Result<Self, String> {
        let settings: Self = toml::from_str(text).map_err(|error| error.to_string().trim_end().to_owned())?;
        if settings.settings != 1 {
            return Err(format!("settings = {} is of a later program; this one knows 1", settings.settings));
        }
        if let Some(key) = settings.stock.keys().find(|key| !is_remedy(key)) {
            let allowed = "VERB@KIND as in \"replace@relay\", or MACHINE/VERB@PART as in \"curlew/replace@starter\"";
            return Err(format!("stock \"{key}\" is no remedy: {allowed}{}", kinds_like(key)));
        }
        Ok(settings)
    }

    /// The part that a remedy uses: that of this machine's own part, else that of its kind.
    pub fn part(&self, machine: &str, verb: &str, part: &str, kind: &str) -> Option<&Stock> {
        let own = self.stock.get(&format!("{machine}/{verb}@{part}"));
        own.or_else(|| self.stock.get(&format!("{verb}@{kind}")))
    }
}

impl Stock {
    /// Days until one is at hand.
    pub fn days(&self) -> f64 {
        if self.shelf == Some(0) { self.lead_days } else { 0.0 }
    }
}

fn first() -> u32 {
    1
}

/// Whether a key names a remedy: those of a kind are known, those of a machine's part are not looked up.
fn is_remedy(key: &str) -> bool {
    let Some((verb, of)) = key.split_once('@') else { return false };
    let own = verb.contains('/');
    !verb.is_empty() && !of.is_empty() && (own || kind_has(verb, of))
}

fn kind_has(verb: &str, kind: &str) -> bool {
    let known = machine::kind::find(kind);
    known.is_some_and(|kind| kind.modes.iter().any(|mode| mode.remedy.verb == verb))
}

/// The remedies of the kind that was meant, as a hint.
fn kinds_like(key: &str) -> String {
    let of = key.split_once('@').map_or(key, |(_, of)| of);
    match machine::kind::find(of) {
        Some(kind) => {
            let mut verbs: Vec<String> =
                kind.modes.iter().map(|mode| format!("{}@{}", mode.remedy.verb, kind.name)).collect();
            verbs.sort();
            verbs.dedup();
            format!("; of this kind: {}", verbs.join(", "))
        }
        None => {
            let kinds: Vec<&str> = CATALOGUE.iter().map(|kind| kind.name).collect();
            format!("; kinds: {}", kinds.join(", "))
        }
    }
}

/// A price: a number, or one in quotes that may have a comma.
fn amount<'de, D: Deserializer<'de>>(from: D) -> Result<f64, D::Error> {
    struct Amount;
    impl Visitor<'_> for Amount {
        type Value = f64;

        fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
            f.write_str("a price as in 18.50")
        }

        fn visit_f64<E: Error>(self, value: f64) -> Result<f64, E> {
            if value.is_finite() && value >= 0.0 { Ok(value) } else { Err(E::custom("a price is 0 or more")) }
        }

        fn visit_i64<E: Error>(self, value: i64) -> Result<f64, E> {
            self.visit_f64(value as f64)
        }

        fn visit_str<E: Error>(self, text: &str) -> Result<f64, E> {
            match money(text) {
                Some(value) => self.visit_f64(value),
                None => Err(E::custom(format!("\"{text}\" is no price: write 18.50"))),
            }
        }
    }
    from.deserialize_any(Amount)
}

/// An amount of money as it is typed: `18.50`, `18,5`.
pub fn money(text: &str) -> Option<f64> {
    let value: f64 = text.trim().replace(',', ".").parse().ok()?;
    (value.is_finite() && value >= 0.0).then_some(value)
}

/// A time in days, as text with a unit.
fn days<'de, D: Deserializer<'de>>(from: D) -> Result<f64, D::Error> {
    let text = String::deserialize(from)?;
    let seconds = read(&text, Dimension::Time).map_err(|error| D::Error::custom(error.to_string()))?;
    if seconds < 0.0 {
        return Err(D::Error::custom(format!("\"{text}\" lies in the past: write \"3 d\"")));
    }
    Ok(seconds / 86_400.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_the_example_is_read_and_prices_the_most_special_part() {
        let settings = Settings::read(EXAMPLE).unwrap();
        let general = settings.part("dunlin", "replace", "relay", "relay").unwrap();
        let special = settings.part("curlew", "replace", "starter", "starter").unwrap();
        assert!(general.price > 0.0 && special.price != settings.stock["replace@starter"].price);
        assert!(settings.part("dunlin", "clean", "relay", "relay").is_none());
    }

    #[test]
    fn law_a_mistake_is_told_with_its_line_and_what_is_allowed() {
        let told = |text: &str| Settings::read(text).unwrap_err();
        assert!(told("[money]\ncurrency = \"EUR\"\nhour = -3\n").contains("line 3"));
        assert!(told("[workshop]\nnamme = \"x\"\n").contains("`name`"));
        assert!(told("[stock.\"swap@relay\"]\nprice = 1\n").contains("replace@relay"));
        assert!(told("[stock.\"replace@wheel\"]\nprice = 1\n").contains("starter"));
        assert!(told("[stock.\"replace@relay\"]\nprice = 1\nlead = \"3 m\"\n").contains("line 3"));
        assert!(told("settings = 2").contains("later program"));
    }

    #[test]
    fn law_a_comma_is_a_point() {
        let settings = Settings::read("[money]\ncurrency = \"EUR\"\nhour = \"62,50\"\n").unwrap();
        assert_eq!(settings.money.map(|money| money.hour), Some(62.5));
    }
}
