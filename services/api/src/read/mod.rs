//! The strict JSON reader: every number keeps its exact text, and every fault is found in one pass.
//!
//! ```
//! use gudgeon_api::read::{self, Found, Value};
//!
//! let node = read::parse(br#"{"meter": "1043:12", "on": "2026-11-25"}"#).unwrap();
//! let found = Found::default();
//! let (meter, on) = {
//!     let fields = found.object(&node);
//!     let meter = fields.required("meter").and_then(|it| it.hours());
//!     let on = fields.required("on").and_then(|it| it.day());
//!     (meter, on)
//! }; // What was not asked for is reported when the view ends.
//! assert!(found.into_result().is_ok());
//! assert_eq!(meter.unwrap().to_string(), "1043.2");
//! assert!(on.is_some());
//! ```
//!
//! A reader asks for its fields one after the other and gets `None` where something is wrong; it goes on
//! asking, so that the sender learns of everything at once. [`Found::into_result`] then says whether all
//! of it was right: `None` from a required field without a fault does not happen.

mod fields;
mod hours;
mod node;
mod words;

pub use fields::{Fields, Value, day};
pub use node::{DEPTH_MAX, Node, parse};
pub use words::nearest;

use std::cell::RefCell;
use std::collections::BTreeMap;

/// One thing that is wrong with a body, and what would be right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Where: a JSON pointer (RFC 6901) into the body; empty for the body as a whole.
    pub pointer: String,
    /// What kind of fault, as a word that programs can rely on, such as `bad-date`.
    pub code: &'static str,
    /// A sentence that says what would be right.
    pub detail: String,
}

/// What reading a body brought to light: the faults, and numbers as their sender wrote them.
#[derive(Debug, Default)]
pub struct Found {
    faults: RefCell<Vec<Fault>>,
    as_posted: RefCell<BTreeMap<String, String>>,
}

impl Found {
    /// The view of a body that has to be an object.
    pub fn object<'a>(&'a self, body: &'a Node) -> Fields<'a> {
        Value::new(self, String::new(), body).object()
    }

    /// The body as a value of any kind.
    pub fn value<'a>(&'a self, body: &'a Node) -> Value<'a> {
        Value::new(self, String::new(), body)
    }

    /// Adds a fault.
    pub fn fault(&self, pointer: &str, code: &'static str, detail: impl Into<String>) {
        self.faults.borrow_mut().push(Fault {
            pointer: pointer.to_owned(),
            code,
            detail: detail.into(),
        });
    }

    /// Hours and decimals as written, by JSON pointer; to be kept beside what they mean.
    ///
    /// # Errors
    /// Every fault found, in the order of the pointers.
    pub fn into_result(self) -> Result<BTreeMap<String, String>, Vec<Fault>> {
        let mut faults = self.faults.into_inner();
        if faults.is_empty() {
            return Ok(self.as_posted.into_inner());
        }
        faults.sort_by(|a, b| a.pointer.cmp(&b.pointer));
        Err(faults)
    }

    fn keep(&self, pointer: &str, text: &str) {
        self.as_posted.borrow_mut().insert(pointer.to_owned(), text.to_owned());
    }
}

/// `pointer/name` with the name escaped as RFC 6901 section 3 says.
fn join(pointer: &str, name: &str) -> String {
    format!("{pointer}/{}", name.replace('~', "~0").replace('/', "~1"))
}

/// A text short enough to be quoted in a message.
fn quoted(text: &str) -> String {
    const QUOTED_CHARS_MAX: usize = 40;
    if text.chars().count() <= QUOTED_CHARS_MAX {
        return format!("`{text}`");
    }
    format!("`{}…`", text.chars().take(QUOTED_CHARS_MAX).collect::<String>())
}
