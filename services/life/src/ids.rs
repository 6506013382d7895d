//! Names of things: 16-byte identifiers made by clients, and the short words of a programme, which every record and
//! line that names one shares.

use std::fmt;
use std::str;
use std::sync::Arc;

/// A UUID as 16 bytes. Clients make them (version 7 by custom); nothing here looks inside.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Uid([u8; 16]);

impl Uid {
    /// The identifier with these bytes.
    #[must_use]
    pub const fn from_bytes(bytes: [u8; 16]) -> Self {
        Self(bytes)
    }

    /// Its bytes.
    #[must_use]
    pub const fn bytes(self) -> [u8; 16] {
        self.0
    }

    /// Reads the hyphenated form of RFC 9562, in either case. Anything else is `None`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let hyphens: Vec<usize> = text.match_indices('-').map(|(at, _)| at).collect();
        if text.len() != 36 || hyphens != [8, 13, 18, 23] {
            return None;
        }
        let digits: Vec<u8> = text
            .chars()
            .filter(|c| *c != '-')
            .map(|c| c.to_digit(16).and_then(|d| u8::try_from(d).ok()))
            .collect::<Option<_>>()?;
        let mut bytes = [0; 16];
        for (byte, pair) in bytes.iter_mut().zip(digits.chunks_exact(2)) {
            *byte = pair.iter().fold(0, |acc, digit| acc * 16 + digit);
        }
        Some(Self(bytes))
    }
}

impl fmt::Display for Uid {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut text = *b"00000000-0000-0000-0000-000000000000";
        let places = text.iter_mut().filter(|place| **place == b'0');
        let digits = self.0.iter().flat_map(|byte| [byte >> 4, byte & 0xf]);
        for (place, digit) in places.zip(digits) {
            *place = if digit < 10 { b'0' + digit } else { b'a' + digit - 10 };
        }
        f.write_str(str::from_utf8(&text).unwrap_or_default())
    }
}

macro_rules! typed_ids {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub Uid);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }
    )*};
}

typed_ids! {
    /// One aircraft.
    AircraftId;
    /// One engine.
    EngineId;
    /// One component: a part with its own hours or age.
    ComponentId;
    /// A person, club, school or workshop.
    PartyId;
    /// One recorded fact.
    FactId;
}

/// Whether a word may name an item, a position or a kind of part: 1 to 60 lower-case letters, digits and
/// hyphens, beginning with a letter or digit.
#[must_use]
pub fn is_slug(text: &str) -> bool {
    (1..=60).contains(&text.len())
        && !text.starts_with('-')
        && text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
}

macro_rules! slugs {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(Arc<str>);

        impl $name {
            /// The word, if [`is_slug`] allows it.
            #[must_use]
            pub fn new(text: &str) -> Option<Self> {
                is_slug(text).then(|| Self(text.into()))
            }

            /// The word itself.
            #[must_use]
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }
    )*};
}

slugs! {
    /// An item of a programme, such as `fan-belt`.
    ItemId;
    /// A place on the engine, such as `mag` or `pto`.
    PositionId;
    /// A kind of component, such as `fan-belt` or `crankshaft`.
    PartKind;
    /// What a measurement measures, such as `bore` or `ring-gap`.
    Quantity;
}

#[cfg(test)]
mod tests {
    use super::*;

    // The example UUID of RFC 9562 appendix A.6 (version 7).
    #[test]
    fn reads_and_prints_the_rfc_example() {
        let text = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f";
        let id = Uid::parse(text).expect("the example parses");
        assert_eq!(id.to_string(), text);
        assert_eq!(Uid::parse(&text.to_uppercase()), Some(id));
        for bad in [
            "",
            "017f22e279b07cc398c4dc0c0c07398f",
            "017f22e2-79b0-7cc3-98c4-dc0c0c07398g",
            "017f22e-279b0-7cc3-98c4-dc0c0c07398f",
            "é17f22e2-79b0-7cc3-98c4-dc0c0c0739",
        ] {
            assert_eq!(Uid::parse(bad), None, "{bad}");
        }
    }
}
