//! The trade's arithmetic: running hours, calendars, date codes, meters, histories, due lines.
//!
//! Pure values in, pure values out: no input or output, no clock, no serialisation, no SQL, nothing
//! asynchronous. Nothing here can fail for any reason but its arguments.

pub mod amend;
mod applies;
mod asked;
pub mod bench;
pub mod calendar;
pub mod cautions;
pub mod changed;
pub mod clock;
pub mod conflict;
pub mod copper;
mod count;
pub mod custody;
pub mod date_code;
pub mod decimal;
pub mod due;
pub mod fact;
mod finding;
mod fold;
mod governs;
pub mod history;
pub mod hours;
pub mod ids;
pub mod line;
pub mod matched;
pub mod measure;
pub mod no_log;
mod on_condition;
pub mod owned;
mod part_finding;
pub mod preference;
pub mod programme;
mod reasons;
pub mod renewals;
pub mod rule;
mod rule_days;
pub mod serial;
mod series;
pub mod sheet;
pub mod shelf;
mod start;
pub mod status;
mod subject;
pub mod sum;
pub mod sure;
pub mod version;
pub mod wear;
pub mod week;
pub mod words;
pub mod working;
mod working_applies;
mod working_asked;
mod working_rule;
mod working_status;
mod working_wear;
pub mod zone;

#[doc = include_str!("chapter.md")]
pub mod how_a_due_date_comes_about {}
