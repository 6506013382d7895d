//! What is measured on a bench: units, derived figures, and the judgement of a reading against its limits.
//!
//! Exact throughout. A reading is a decimal as written; what a conversion or a quotient makes of it is a
//! fraction of whole numbers, and only what is printed is rounded. Nothing here is a float, so that no reading
//! passes or fails by a binary digit.

pub mod derive;
mod interval;
mod judged;
mod plausible;
mod quantity;
mod ratio;
mod read;
mod unit;
mod verdict;

pub use interval::Interval;
pub use judged::{Judgement, Outcome, Why, judgements, readings_of};
pub use plausible::{Odd, Oddity, odd, slip};
pub use quantity::{CorrectedBy, Correction, Derivation, Derived, Gauge, QuantityRule, Wear};
pub use ratio::Ratio;
pub use read::{Read, Unread, impossible, read};
pub use unit::{Dimension, Unit};
pub use verdict::{Bounds, Verdict, judge};
