//! What parties are here.

/// What a party is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PartyRole {
    /// Owns aircraft or engines; receives the weekly mail.
    Owner,
    /// A workshop.
    Shop,
    /// Looks after the fleet, or is an authority; receives how it stands.
    Inspector,
}

impl PartyRole {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Owner, Self::Shop, Self::Inspector];

    /// The word used in records and answers.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Owner => "owner",
            Self::Shop => "shop",
            Self::Inspector => "inspector",
        }
    }
}
