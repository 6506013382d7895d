//! The weekly reports: composed from what is on record, rendered, queued once, delivered.
//!
//! `contents` is the one door to what each kind of report says: `compose` is pure, `render` knows the templates; `enqueue` runs a week over all owners and can be
//! repeated; `message` makes the bytes of a mail; `deliver` hands each queued report over once, however many
//! processes do, and `hand_over` is what it hands them to. Times and days are arguments: nothing here reads a clock.

pub mod compose;
pub mod contents;
pub mod deliver;
mod engine;
pub mod enqueue;
#[cfg(test)]
mod fixtures;
pub mod hand_over;
pub mod message;
mod quiet;
pub mod render;
mod sample;
pub mod sender;
pub mod view;
pub mod witness;
