//! Changes to a machine as a person writes them: a value of a part, how bad a fault is.
//! Promise: whoever asks (a command, a request, a worksheet) reads the same text the same way; what is wrong comes back as
//! what it is, to be worded where it is shown.

use quantity::{Dimension, ReadError};

use crate::fault::Fault;
use crate::machine::{Edit, Machine, UnknownName};
use crate::sheet::{self, Wrong};

/// Why a value of a part cannot be set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum BadSetting {
    /// It names no field of a part: no dot.
    Form,
    /// No part is called so.
    Part(UnknownName),
    /// The part of that index has no such field.
    Field(usize, UnknownName),
    /// The field does not take that.
    Value(Wrong),
}

/// Why a severity cannot be used.
#[derive(Clone, Debug, PartialEq)]
pub enum BadSeverity {
    /// The fault is there or not.
    AllOrNothing,
    /// It cannot be read.
    Unread(ReadError),
    /// It is below zero; usual are these two, in this dimension.
    BelowZero(f64, f64, Dimension),
}

impl Machine {
    /// The edit that sets `part.field` to a value.
    ///
    /// # Errors
    /// When the path names no field of a part, or the field does not take the value.
    pub fn setting(&self, path: &str, value: &str) -> Result<Edit, BadSetting> {
        let (part_name, field_name) = path.trim().split_once('.').ok_or(BadSetting::Form)?;
        let part = self.part(part_name).map_err(BadSetting::Part)?;
        let slot = self.slot(part, field_name).map_err(|error| BadSetting::Field(part, error))?;
        let kind = self.sheet.parts[part].kind;
        let field = kind.fields.iter().find(|field| field.name == field_name).ok_or(BadSetting::Form)?;
        let to = sheet::value(kind, field, value.trim()).map_err(BadSetting::Value)?;
        Ok(Edit::Set { slot, to })
    }
}

impl Fault {
    /// A severity as written: with its unit, or bare in SI.
    ///
    /// # Errors
    /// When the fault takes none, when it cannot be read, or is below zero where it cannot be.
    pub fn read_severity(&self, text: &str) -> Result<f64, BadSeverity> {
        let dimension = self.dimension.ok_or(BadSeverity::AllOrNothing)?;
        let bare = text.replace(',', ".").trim().parse::<f64>().ok().filter(|value| value.is_finite());
        let severity = match bare {
            Some(bare) => bare,
            None => quantity::read(text, dimension).map_err(BadSeverity::Unread)?,
        };
        let (least, most) = (self.severity_at(0.0), self.severity_at(1.0));
        if severity < 0.0 && least.min(most) >= 0.0 {
            return Err(BadSeverity::BelowZero(least, most, dimension));
        }
        Ok(severity)
    }
}
