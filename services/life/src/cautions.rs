//! The cautions that every page, mail and due list carries.
//!
//! Wording of our own; what they must say is in FAA practice (14 CFR 43.9, 43.11, 91.403(a), 91.417) and
//! its equals elsewhere. Nothing here may be read as saying that an engine is safe or may fly.

/// The cautions in full, in the order in which they are printed.
pub const CAUTIONS: [&str; 8] = [
    "This is an advisory planning report. It is not a maintenance record and not an approval for return to service.",
    "The owner or operator is primarily responsible for airworthiness (14 CFR 91.403(a) or the local equal).",
    "The maker's instructions, the local rules and a licensed person decide. Where they say otherwise, follow them.",
    "Directives, airworthiness limitations and maker's bulletins are tracked only as entered here. Others may apply.",
    "Hours are as of the last reading on record. Running since that reading is not counted.",
    "Estimated hours and histories are flagged as estimates. An estimate may make an item more urgent, never less.",
    "A tolerance is permission to run late. It is never a new due date.",
    "\"Not due on record\" means only that nothing on record makes the item due. It says nothing about the state of the engine.",
];
