//! The weekly reports: planned once, composed from what is on record when they leave, delivered.
//!
//! `plan` gives every recipient of a week one report, which leaves at the hour he or she asked for. `contents` is the
//! one door to what each kind of report says: `load` reads snapshots of what is on record, composing them (`compose`
//! for owners, `shop`, `inspector`) is pure, `render` knows the templates. `message` makes the bytes of a mail;
//! `deliver` composes what is due (`claimed`) and hands each mail over once, however many processes do, and
//! `hand_over` is what it hands them to; `retry` says when one is tried again. Times and days are arguments: nothing
//! here reads a clock.

mod blocks;
pub mod bounce;
mod claimed;
pub mod compose;
pub mod contents;
pub mod deliver;
pub mod dkim;
mod engine;
#[cfg(test)]
mod fixtures;
#[cfg(test)]
mod fixtures_told;
pub mod hand_over;
pub mod inspector;
mod line;
mod lists;
pub mod load;
pub mod message;
#[cfg(test)]
mod place;
pub mod plan;
mod proposed;
mod quiet;
pub mod render;
pub mod retry;
mod sample;
pub mod sender;
pub mod shop;
pub mod smtp;
pub mod snapshot;
mod style;
mod templates;
pub mod told;
pub mod view;
pub mod witness;
