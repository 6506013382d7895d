//! How sure: what readings and measurements say about days and hours nobody has seen yet, and how far.
//!
//! A due line counts exactly: whole seconds, calendar days, published limits. This module answers what no count
//! can: when will the hours be used up, when will wear reach its limit. Its answers are estimates, so each comes
//! with what an estimate owes its reader:
//!
//! - **how far**: an early, a middle and a late figure (P10, P50, P90), or a bound that holds 95 times in 100;
//! - **from what**: how many readings it rests on, and whether they are this engine's own or its fleet's;
//! - **what to mind**: readings that are old, one reading that decides everything, a line drawn far past its data;
//! - or **why not**: "cannot say" with its reason is a normal answer, not an error.
//!
//! Nothing here moves a due hour or a due day. A published limit stands; an estimate says when it will come, and
//! may make somebody look earlier, never later. This is why floating-point numbers live here and nowhere near a
//! due line: hours come in as [`Hours`](crate::hours::Hours), days go out as dates.
//!
//! Whatever finite numbers go in, no NaN and no infinity comes out.

#![expect(
    clippy::float_arithmetic,
    reason = "statistics are made of real numbers; none of them reaches a due hour"
)]

pub mod agreement;
pub mod fleet;
pub mod forecast;
#[cfg(test)]
mod forecast_tests;
pub mod line;
mod matrix;
pub mod part_life;
pub mod rate;
pub mod season;
pub mod special;
pub mod spread;
pub mod trend;
#[cfg(test)]
mod trend_tests;
pub mod unlogged;
pub mod visit;
mod words;

use crate::hours::Hours;

/// Hours as a real number; beyond a million either way, about a million.
fn decimal_hours(hours: Hours) -> f64 {
    let seconds = hours.seconds();
    let size = u32::try_from(seconds.unsigned_abs()).unwrap_or(u32::MAX);
    f64::from(size) / if seconds < 0 { -3600.0 } else { 3600.0 }
}

/// A count as a real number; beyond two thousand million, as that.
fn real<T: TryInto<i32>>(count: T) -> f64 {
    f64::from(count.try_into().unwrap_or(i32::MAX))
}
