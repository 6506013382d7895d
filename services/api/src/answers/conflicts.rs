//! Contradictions as clients see them.

use super::Coded;
use gudgeon_life::conflict::{Conflict, ConflictKind};

/// A contradiction with the word for its kind.
pub(crate) fn coded(conflict: &Conflict) -> Coded {
    Coded { code: code(conflict.kind), detail: conflict.printed() }
}

/// The word for a kind of contradiction.
pub(crate) const fn code(kind: ConflictKind) -> &'static str {
    match kind {
        ConflictKind::MeterFell { .. } => "meter-fell",
        ConflictKind::HoursFell { .. } => "hours-fell",
        ConflictKind::HoursDisagree { .. } => "hours-disagree",
        ConflictKind::StatedWithoutLog => "stated-without-log",
        ConflictKind::InstalledTwice => "installed-twice",
        ConflictKind::RemovedWhileOff => "removed-while-off",
        ConflictKind::BasisDiffers { .. } => "basis-differs",
        ConflictKind::ReadingUnplaced => "reading-unplaced",
        ConflictKind::FittedTwice => "fitted-twice",
        ConflictKind::SerialTwice => "serial-twice",
        ConflictKind::RivalAmendments => "rival-amendments",
        ConflictKind::AmendmentPending => "amendment-pending",
    }
}
