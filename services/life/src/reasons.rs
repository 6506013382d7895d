//! Why a leg cannot be told, and what a reader should know besides the figures: words for each.

/// Why a leg cannot be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Missing {
    /// No record that it was ever done.
    NeverDone,
    /// No record of when the engine or part was new.
    NoStart,
    /// No record of an overhaul, and the engine has no log.
    NoOverhaul,
    /// No record of when the part was fitted.
    NotFitted,
    /// No readable date code.
    NoCode,
    /// The hours at that time are not on record.
    NoHours,
    /// Records contradict one another and nobody has settled it.
    Conflict,
    /// No such part is on record.
    NoComponent,
    /// The records do not say whether it applies.
    Applicability,
}

impl Missing {
    /// All reasons.
    pub const ALL: [Self; 9] = [
        Self::NeverDone,
        Self::NoStart,
        Self::NoOverhaul,
        Self::NotFitted,
        Self::NoCode,
        Self::NoHours,
        Self::Conflict,
        Self::NoComponent,
        Self::Applicability,
    ];

    /// The word used in the API and in stored rows.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::NeverDone => "never-done",
            Self::NoStart => "no-start",
            Self::NoOverhaul => "no-overhaul",
            Self::NotFitted => "not-fitted",
            Self::NoCode => "no-code",
            Self::NoHours => "no-hours",
            Self::Conflict => "conflict",
            Self::NoComponent => "no-component",
            Self::Applicability => "applicability",
        }
    }

    /// Whether it leaves open how much of a life is used up, rather than whether something was done or asked.
    #[must_use]
    pub const fn loses_a_life(self) -> bool {
        !matches!(self, Self::NeverDone | Self::Applicability)
    }

    /// The words printed on paper and pages.
    #[must_use]
    pub const fn printed(self) -> &'static str {
        match self {
            Self::NeverDone => "no record that it was ever done",
            Self::NoStart => "no record of when it was new",
            Self::NoOverhaul => "no record of an overhaul, and no log from new",
            Self::NotFitted => "no record of when it was fitted",
            Self::NoCode => "no readable date code on record",
            Self::NoHours => "the hours at that time are not on record",
            Self::Conflict => "records contradict one another",
            Self::NoComponent => "no such part is on record",
            Self::Applicability => "the records do not say whether this applies",
        }
    }
}

/// What a reader should know besides the figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Note {
    /// Never overhauled on record: counted from new.
    CountedFromNew,
    /// The work was so late that whole intervals were skipped.
    SkippedIntervals,
    /// The hours at the last work were not read then; the last reading before it is used.
    EarlierReading,
    /// The hour allowance is only to reach a place where the work can be done.
    EnRouteOnly,
    /// A tolerance needs a recorded permission dated before due, and there is none.
    NoGrant,
    /// A permission was recorded before due.
    Permitted,
    /// The part was fitted after its shelf life had ended.
    FittedPastShelfLife,
    /// A life-limited part of unknown life has none left (common practice; consistent with 14 CFR 43.10).
    NoneLeft,
    /// Reported done without a recorded release.
    NoRelease,
    /// A full overhaul is not complete until a test run is posted.
    NoTestRun,
    /// No log tells its hours, and an accepted estimate is counted by.
    EstimatedHours,
}

impl Note {
    /// All notes.
    pub const ALL: [Self; 11] = [
        Self::CountedFromNew,
        Self::SkippedIntervals,
        Self::EarlierReading,
        Self::EnRouteOnly,
        Self::NoGrant,
        Self::Permitted,
        Self::FittedPastShelfLife,
        Self::NoneLeft,
        Self::NoRelease,
        Self::NoTestRun,
        Self::EstimatedHours,
    ];

    /// The word used in the API and in stored rows.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::CountedFromNew => "counted-from-new",
            Self::SkippedIntervals => "skipped-intervals",
            Self::EarlierReading => "earlier-reading",
            Self::EnRouteOnly => "en-route-only",
            Self::NoGrant => "no-grant",
            Self::Permitted => "permitted",
            Self::FittedPastShelfLife => "fitted-past-shelf-life",
            Self::NoneLeft => "none-left",
            Self::NoRelease => "no-release",
            Self::NoTestRun => "no-test-run",
            Self::EstimatedHours => "estimated-hours",
        }
    }

    /// The words printed on paper and pages.
    #[must_use]
    pub const fn printed(self) -> &'static str {
        match self {
            Self::CountedFromNew => "never overhauled on record: counted from new",
            Self::SkippedIntervals => {
                "last done so late that at least one whole interval was missed"
            }
            Self::EarlierReading => {
                "no reading with the last work: the reading before it is used, which is the cautious side"
            }
            Self::EnRouteOnly => {
                "the hours past due are allowed only to reach a place where the work can be done"
            }
            Self::Permitted => "a permission to run past due is on record",
            Self::NoGrant => {
                "a tolerance needs a permission recorded before due; none is on record"
            }
            Self::FittedPastShelfLife => "it was fitted after its shelf life had ended",
            Self::NoneLeft => "a life limit that cannot be told: count none of the life as left",
            Self::NoRelease => "reported done, no release recorded",
            Self::NoTestRun => "overhaul not complete: no test run posted",
            Self::EstimatedHours => {
                "estimated: no log tells its hours, and an accepted estimate may make this more urgent, never less"
            }
        }
    }
}
