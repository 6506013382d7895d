//! The weekly reports: composed from what is on record, rendered, queued once, delivered.
//!
//! `contents` is the one door to what each kind of report says: `load` reads snapshots of what is on record,
//! composing them (`compose` for owners, `shop`, `inspector`) is pure, `render` knows the templates. `enqueue` runs a
//! week over all owners and can be repeated; `message` makes the bytes of a mail; `deliver` hands each queued report
//! over once, however many processes do, and `hand_over` is what it hands them to. Times and days are arguments:
//! nothing here reads a clock.

mod blocks;
pub mod bounce;
pub mod compose;
pub mod contents;
pub mod deliver;
pub mod dkim;
mod engine;
pub mod enqueue;
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
mod proposed;
mod quiet;
pub mod render;
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
