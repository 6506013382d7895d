//! What makes every inbox a witness: the heads that were anchored of an engine's records, in a form short enough
//! to print.
//!
//! The anchor stands for all records of all streams up to it, those of parts too, whose own heads are not
//! printed. Whoever changes an old record afterwards cannot change the mails.

use gudgeon_life::version::witness;
use gudgeon_store::{Anchor, AnchoredHead};

/// What a mail says of one engine's records.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Witness {
    /// The last anchor.
    pub anchor: Anchor,
    /// The engine's head.
    pub engine: AnchoredHead,
    /// The head of the aircraft that it is in.
    pub aircraft: Option<AnchoredHead>,
}

impl Witness {
    /// How many records there are of each, with the first digits of the hash of the last.
    pub(crate) fn words(&self) -> String {
        let part = |name: &str, seq: i64, hash| format!("{name} {seq} ({})", witness(hash));
        let engine = Some(part("engine", self.engine.seq, self.engine.hash));
        let aircraft = self.aircraft.map(|head| part("aircraft", head.seq, head.hash));
        let anchor = Some(part("anchor", self.anchor.seq, self.anchor.hash));
        let parts: Vec<String> = [engine, aircraft, anchor].into_iter().flatten().collect();
        format!("Records kept: {}.", parts.join(", "))
    }
}
