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
//!
//! [[items]]                      # a directive for some engines, until the part is renewed
//! id = "crankshaft-bulletin"
//! title = "Crankshaft pins, witness marks"
//! class = "directive"
//! source = "bulletin 26-1"
//! counts-from = "effective"
//! effective = 2026-06-15
//! first = { hours = 10, days = 90 }
//! every = { hours = 50, months = 12 }
//! next = "from-done"
//! done-by = ["inspected"]
//! until = ["renewed"]
//! notice = { hours = 5, days = 30 }
//!
//! [items.applies-to]
//! part = "crankshaft"
//! serials = ["K100-K299"]
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
//! | `counts-from`, `effective`, `once`, `first`, `every`, `calendar`, `shelf`, `code-day` | the one limit of the item, see below; all left out when it only comes `after` something |
//! | `limits` | several limits instead, one `[[items.limits]]` table each; the earliest governs |
//! | `done-by` | the actions that count as having done it: `inspected`, `cleaned`, `adjusted`, `machined`, `refitted`, `renewed`, `overhauled`. Required, so that "looked at" never passes for "renewed" |
//! | `until` | the actions that end the item for good, such as the renewal that a directive asks for in the end. They need not stand in `done-by`, since nothing is due after them. They count when they are recorded under this item, at its position, even before a directive's day. Not beside `after` |
//! | `after` | what makes the item due at once: `propeller-strike`, `sudden-stoppage`, `overheat`, `seizure`, `overspeed`, `immersion`, `fuel-error`, `oil-error`, `return-to-use`. Only work after it closes that; for a `component`, it goes with the part. Beside limits or instead of them |
//! | `applies-to` | which engines or parts the item is for, see below; left out: all of the type |
//! | `next` | where the interval after the work starts: `from-due` (late work counts from due, early work from done), `from-done`, or `window` (inside the tolerance either side: from due; outside: from done). Required, with no usual answer, because rule families disagree; left out only when all of `done-by` are `renewed` or `overhauled`, which always count from done, or when nothing repeats |
//! | `tolerance` | permission to run late, never a new due date: `hours`, `months`, `days`, or `percent` of the interval with `hours-max` and `days-max`; several given: the strictest. Never with class `airworthiness-limitation` or `directive`, nor with a shelf life |
//! | `granted` | what the tolerance needs, required beside it: `automatic`, `before-due` (a recorded permission) or `en-route` (only to reach a place where the work can be done) |
//! | `extension-percent` | how far beyond a recommended life the source permits it to run. Only for `recommended`, without tolerance, and never for a pressed crankshaft |
//! | `on-condition` | how long it runs from one inspection to the next once the extension is past: `hours`, `months`, `days`, whichever comes first. Only beside `extension-percent`. The first inspection is due when the extension ends, and any done after the recommended life counts; it is posted under this item as `inspected`, always counts from done, and has the usual notice. `done-by` names nothing but `renewed` or `overhauled`, which begin the life again |
//! | `trend` | a measured limit: `quantity` is one of this type with a `limit` on the side of its `wear`, and `run-in` the hours (50 when left out) from new, or from the last change of the part, whose readings are left out. The item is due too when the cautious bound of the readings' trend reaches the limit, at each of its positions (without any, at each of the quantity's). That can come earlier than the other limits and never moves them; it takes no tolerance. Fewer than three readings of this engine say nothing yet, unless six logged engines of the type have told how it wears: then one is enough. Machined, renewed or overhauled work on the item, or on one that satisfies it, begins the readings anew. Not beside `extension-percent` |
//! | `satisfied-by` | larger items that close this one when they are done. They must cover its positions and be about the same part |
//! | `notice` | `hours` and `days` before due from which the line counts as coming due; 10 hours and 30 days when left out. Always less than the shortest interval or step |
//!
//! # Keys of a limit
//!
//! | key | means |
//! | --- | --- |
//! | `name` | what the limit is called; only in `[[items.limits]]`, and required there |
//! | `counts-from` | `new`, `overhaul` (never overhauled but logged: from new), `first-fitted`, `fitted` (parts only), `made` (calendar only), `effective` (a directive's day), `done` (the last time, and nothing else) |
//! | `effective` | the day, with `counts-from = "effective"` |
//! | `once` | hours from where the count begins, rising, each done once: re-torque at 2, 10, 25 and 50 hours. A late step never moves the later ones; work closes every step it has reached, or the next one. `every` beside it repeats after the last step |
//! | `first` | the interval until it is done for the first time, where that differs from `every`. What it leaves out is not counted until then. Not beside `once`, nor with `counts-from = "done"` |
//! | `every` | `hours`, `months`, `days`; hours and calendar time are counted apart and the first governs. Left out only beside `once` |
//! | `calendar` | `day` (same day number, the usual) or `end-of-month` (FAA calendar months) |
//! | `shelf` | `true`: the limit ends when the part is first fitted, and past it the part is not fitted. Counts from `made` |
//! | `code-day` | which day of a date code's interval counts: `first` (the usual, the older) or `last`, where the source says so |
//!
//! The life of a part ends with the part. On a `component` the work that `done-by` names begins a count again,
//! except `renewed`, which brings another part that begins at its own beginning: where nothing else is named,
//! `once` and `first` are refused.
//!
//! # Keys of `applies-to`
//!
//! The item is for an engine when every key given here holds. What the records do not tell leaves the line
//! "unknown": it is never dropped for that.
//!
//! | key | means |
//! | --- | --- |
//! | `serials` | serial numbers from one to another, both included, with the same letters in front: `["2000-2349", "K100-K299"]`; one alone is `"K117-K117"`. Of the engine, of the `component`, or of the `part` |
//! | `lots` | lots as marked on the `component` or the `part` |
//! | `part` | the kind of part on the engine that `serials` and `lots` are about, where the item itself is about the engine or another part |
//! | `ignition` | one of these words describes it: single, dual, points, electronic |
//! | `use` | private, school, tow, hire, salt-air |
//! | `fuel` | unleaded, leaded, ethanol-blend |
//! | `oil` | mineral, semi-synthetic, synthetic |
//! | `lubrication` | premixed, injected |
//! | `regime` | the rules it is kept under, such as us-part-91, part-ml, uk-national |
//!
//! Other words may be used, in lower-case letters, digits and hyphens, as long as engines are described with
//! the same ones. Except for `regime`, a word that is nearly one of these is refused as a slip of the keyboard,
//! because it would quietly leave the rule out ([`usual_words`]).
//!
//! # What a bench measures
//!
//! `strokes` at the head of the file, 2 or 4, says how the engine breathes; it is required beside a compression
//! loss. Each `[[quantities]]` table is one thing that is measured, or that follows from what is:
//!
//! | key | means |
//! | --- | --- |
//! | `id`, `title` | the short name used in posts, and what people call it |
//! | `unit` | of the figures here and of judgements: mm, um, in, N·m, lbf·ft, lbf·in, kPa, bar, psi (each also `/min`), ohm, kohm, Mohm, °C, °F, min, s, %, Shore A, deg, V, or `1` for a bare number. A post may use any unit of the same kind |
//! | `positions` | where it is measured; left out: once for the engine |
//! | `source` | where its figures come from, "common practice" if nowhere better |
//! | `new`, `limit` | `min`, `max` or both: what it is when new, and how far it may wear. Only what has a limit is judged |
//! | `range` | `min` and `max`: what it can be at all; anything else is refused. Required of what is measured |
//! | `gauge` | `name` and `uncertainty` (expanded, k = 2, above zero) of what it is usually measured with. Required beside a limit; counts where a post states none |
//! | `wear` | `rises` or `falls` with wear: going the other way between two inspections is doubted aloud |
//! | `apart-max` | how far readings that should be alike may lie apart: those of one measurement, and those of different positions |
//! | `group` | quantities of one group are compared with one another, too; they share unit and `apart-max` |
//! | `feeds` | the item that it bears on. Work there (machined, renewed, overhauled) lets it start anew |
//! | `correction` | `by` (`copper` or `insulation`) and `to`, a whole number of °C: readings are brought to that temperature before they are judged, and cannot be without one of their own |
//! | `derived` | `by` and `of`: it follows from measured quantities, at the same position: `out-of-round` and `taper` (a grid of diameters), `spread` (several readings), `clearance` (bore, piston), `percent-of` (part, whole), `compression-loss` (supply, cylinder), `loss-rate` (before, after, minutes), `quotient` (ten minutes, one) |
//!
//! A two-stroke's compression is comparative only: a limit on it, or on the pressures that it follows from, is
//! refused.
//!
//! # Inspection sheets
//!
//! Each `[[sheets]]` table has an `id`, a `title`, a `kind` (`teardown`, `top-end`, `100-hour`, `annual`,
//! `electrical`, `post-event`) and its `points` in the order of the work:
//!
//! | key | means |
//! | --- | --- |
//! | `asks` | `look` (a finding), `measure`, `torque`, `mark` or `photo` |
//! | `title` | the point in the words of the sheet |
//! | `positions` | one entry each; left out: one for the engine |
//! | `item` | of a look, mark or photo: the short name that the answer has, often an item of the programme |
//! | `quantity` | of a measurement or torque |
//! | `readings`, `grid` | how many readings, or two directions on so many levels; one reading when both are left out |
//! | `lines` | lines to write on, on paper; one when left out |

mod applies;
mod checks;
mod items;
mod limits;
mod nearest;
mod quantities;
mod read;
mod sheets;
#[cfg(test)]
mod tests;
mod trends;

pub use applies::{meant_word, usual_words};
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
