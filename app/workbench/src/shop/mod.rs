//! The shop: one verb for each thing that a person does, and the one door to disk, clock and configuration.
//! Idea: command line and pages are mouths over the same verbs, so that both give the same answer.
//! Promise: nothing here prints or exits; what cannot be done comes back as a [`refusal::Refusal`] or an error of the
//! verb. Not here: arithmetic (the engine's), wording of tables (the mouth's).

pub mod advice;
pub mod answer;
pub mod bill;
pub mod card;
pub mod changes;
pub mod coverage;
pub mod desks;
pub mod fit;
pub mod fleet;
pub mod folders;
pub mod guide;
pub mod history;
pub mod job;
pub mod journals;
pub mod learned;
pub mod machines;
pub mod owner;
pub mod patterns;
pub mod plot;
pub mod practice;
pub mod probes;
pub mod readings;
pub mod refusal;
pub mod requests;
pub mod schematic;
pub mod settings;
pub mod sheets;
pub mod stand;
pub mod tables;
pub mod trial;
pub mod wants;
pub mod which;
pub mod words;
pub mod workshop;
pub mod written;
