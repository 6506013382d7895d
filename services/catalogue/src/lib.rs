//! Engine types and their programmes, read from TOML and checked.
//!
//! This is the only place that knows the file format. [`parse`] reads a file into
//! [`EngineType`] or answers with every [`Fault`] found in it. Nothing is passed over: an unknown key, a
//! rule that this version does not count yet, and a key that would act on nothing are all refused, because
//! whoever wrote them counted on them.
//!
//! # The file
//!
//! ```toml
//! name = "example-twin"          # engines are registered under it
//! title = "Example twin"         # printed
//! invented = true                # made up for a demonstration; printed on every line and sheet
//! basis = "engine-run"           # the hours this programme counts: airborne, tach or engine-run
//! entered-up-to = 2026-10-31     # directives and bulletins are entered up to this day
//!
//! [[positions]]                  # the places on the engine, one table each
//! id = "mag"
//! title = "magneto-end cylinder"
//!
//! [[items]]                      # what must be done, one table each
//! id = "spark-plugs"
//! title = "Spark plugs"
//! positions = ["mag"]            # one due line each; left out: the engine as a whole
//! class = "recommended"
//! source = "common practice"
//! counts-from = "new"
//! every = { hours = 25, months = 12 }
//! done-by = ["renewed"]
//! notice = { hours = 5 }
//! ```
//!
//! Names (`name`, `id`, `component`) are short: lower-case letters, digits and hyphens. Hours are `25`,
//! `12.5` or `"12:30"` (hours and minutes). Days are TOML dates, without quotes. Years are written as
//! months.
//!
//! # Keys of an item
//!
//! | key | means |
//! | --- | --- |
//! | `id`, `title` | the short name used in posts, and what people call it |
//! | `component` | the item is about each fitted part of this kind, which carries its own hours and age; left out: the engine itself |
//! | `positions` | where it is done, or where the part is fitted: one due line each |
//! | `class` | `airworthiness-limitation`, `directive`, `required-inspection` or `recommended` |
//! | `source` | where the rule comes from; printed on every line. "common practice" if nowhere better |
//! | `counts-from`, `every`, `calendar`, `effective`, `shelf`, `code-day` | the one limit of the item, see below |
//! | `limits` | several limits instead, one `[[items.limits]]` table each; the earliest governs |
//! | `done-by` | the actions that count as having done it: `inspected`, `cleaned`, `adjusted`, `machined`, `refitted`, `renewed`, `overhauled`. Required, so that "looked at" never passes for "renewed" |
//! | `next` | where the interval after the work starts: `from-due` (late work counts from due, early work from done), `from-done`, or `window` (inside the tolerance either side: from due; outside: from done). Required, with no usual answer, because rule families disagree; left out only when all of `done-by` are `renewed` or `overhauled`, which always count from done |
//! | `tolerance` | permission to run late, never a new due date: `hours`, `months`, `days`, or `percent` of the interval with `hours-max` and `days-max`; several given: the strictest. Never with class `airworthiness-limitation` or `directive`, nor with a shelf life |
//! | `granted` | what the tolerance needs, required beside it: `automatic`, `before-due` (a recorded permission) or `en-route` (only to reach a place where the work can be done) |
//! | `extension-percent` | how far beyond a recommended life the source permits it to run. Only for `recommended`, without tolerance, and never for a pressed crankshaft |
//! | `satisfied-by` | larger items that close this one when they are done. They must cover its positions and be about the same part |
//! | `notice` | `hours` and `days` before due from which the line counts as coming due; 10 hours and 30 days when left out |
//!
//! # Keys of a limit
//!
//! | key | means |
//! | --- | --- |
//! | `name` | what the limit is called; only in `[[items.limits]]`, and required there |
//! | `counts-from` | `new`, `overhaul` (never overhauled but logged: from new), `first-fitted`, `fitted` (parts only), `made` (calendar only), `effective` (a directive's day), `done` (the last time, and nothing else) |
//! | `effective` | the day, with `counts-from = "effective"` |
//! | `every` | `hours`, `months`, `days`; hours and calendar time are counted apart and the first governs |
//! | `calendar` | `day` (same day number, the usual) or `end-of-month` (FAA calendar months) |
//! | `shelf` | `true`: the limit ends when the part is first fitted, and past it the part is not fitted. Counts from `made` |
//! | `code-day` | which day of a date code's interval counts: `first` (the usual, the older) or `last`, where the source says so |
//!
//! # Reserved keys
//!
//! The format keeps these words for rules that this version does not count yet. They are refused, with what
//! to do meanwhile:
//!
//! | key | will mean |
//! | --- | --- |
//! | `once` | steps done once each, such as re-torque at 2, 10, 25 and 50 hours after an overhaul |
//! | `first` | a first interval that differs from the repeat |
//! | `until` | an action that ends the item |
//! | `applies-to` | serial range, lot, ignition, use, fuel, oil or regime to which the rule applies |
//! | `events` | what makes an item due at once: a propeller strike, a seizure, an overheat |
//! | `limit` | a measured limit, due when the trend's cautious bound reaches it (`limits` at the head of the file: of the type) |
//! | `on-condition` | the repeat inspection after a permitted extension |
//! | `recheck` | when a finding to monitor is looked at again |
//! | `preservation` | what storage asks for |

mod checks;
mod items;
mod limits;
mod nearest;
mod read;
#[cfg(test)]
mod tests;

use gudgeon_life::programme::EngineType;
use read::{Source, Table};
use std::fmt;
use toml::de::DeTable;

/// One thing wrong in a file, with its place and what would be right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The file, as it was named to [`parse`].
    pub file: String,
    /// The line, counted from 1.
    pub line: Option<usize>,
    /// The item, by its `id`, or `number 3` when it has none that can be read.
    pub item: Option<String>,
    /// The key, dotted through the tables of the item, such as `every.hours`. Empty when the file is not
    /// TOML at all.
    pub key: String,
    /// What was found and what would be right.
    pub message: String,
}

/// `file:line: item `x`: key `y`: what was found; what would be right`.
impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(f, ":{line}")?;
        }
        if let Some(item) = &self.item {
            write!(f, ": item `{item}`")?;
        }
        if !self.key.is_empty() {
            write!(f, ": key `{}`", self.key)?;
        }
        write!(f, ": {}", self.message)
    }
}

impl std::error::Error for Fault {}

/// Reads an engine type and checks it. `file_name` is only used in messages.
///
/// # Errors
/// Every fault of the file, in its order; those of the TOML itself alone when there are any.
pub fn parse(file_name: &str, text: &str) -> Result<EngineType, Vec<Fault>> {
    let source = Source::new(file_name, text);
    let (document, errors) = DeTable::parse_recoverable(text);
    for error in &errors {
        let at = error.span().map_or(0, |span| span.start);
        source.fault(at, None, "", format!("not TOML: {}", error.message()));
    }
    let engine_type = if errors.is_empty() {
        items::read_engine_type(&Table::root(&source, &document))
    } else {
        None
    };
    let faults = source.take_faults();
    engine_type.filter(|_| faults.is_empty()).ok_or(faults)
}
