//! Hours, days, real numbers and words as the JSON of what is worked out writes them.

use crate::days;
use chrono::NaiveDate;
use gudgeon_life::fact::EventKind;
use gudgeon_life::hours::Hours;
use gudgeon_life::line::{Axis, Missing, Note};
use gudgeon_life::programme::{Action, Class};
use gudgeon_life::status::Beyond;
use gudgeon_life::sure::rate::Owner;
use gudgeon_life::sure::season::Hemisphere;
use gudgeon_life::wear::{Caution, WhyNot};
use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::borrow::Cow;

/// Running hours as whole seconds.
#[derive(Serialize, Deserialize)]
pub(super) struct Seconds(i64);

impl From<Hours> for Seconds {
    fn from(hours: Hours) -> Self {
        Self(hours.seconds())
    }
}

impl From<Seconds> for Hours {
    fn from(seconds: Seconds) -> Self {
        Self::from_seconds(seconds.0)
    }
}

/// A day as ISO 8601 writes it.
pub(super) struct Day(pub(super) NaiveDate);

impl Serialize for Day {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&days::iso(self.0))
    }
}

impl<'de> Deserialize<'de> for Day {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = <Cow<'_, str>>::deserialize(deserializer)?;
        text.parse().map(Self).map_err(D::Error::custom)
    }
}

/// A real number, as the shortest text that reads back to the same.
#[derive(Clone, Copy)]
pub(super) struct Number(pub(super) f64);

impl Serialize for Number {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.0.to_string())
    }
}

impl<'de> Deserialize<'de> for Number {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = <Cow<'_, str>>::deserialize(deserializer)?;
        let number = text.parse().ok().filter(|number: &f64| number.is_finite());
        number.map(Self).ok_or_else(|| D::Error::custom(format!("`{text}` is not a number")))
    }
}

/// One of a few values, as its word.
pub(super) struct Word<T>(pub(super) T);

/// What a [`Word`] can hold.
pub(super) trait Worded: Copy + 'static {
    const ALL: &'static [Self];
    fn word(self) -> &'static str;
}

macro_rules! worded {
    ($($of:ty),*) => {$(
        impl Worded for $of {
            const ALL: &'static [Self] = &Self::ALL;
            fn word(self) -> &'static str {
                self.word()
            }
        }
    )*};
}

worded!(Action, Caution, Class, EventKind, Hemisphere, Missing, Note, Owner, WhyNot);

impl Worded for Axis {
    const ALL: &'static [Self] = &[Self::Hours, Self::Calendar];
    fn word(self) -> &'static str {
        match self {
            Self::Hours => "hours",
            Self::Calendar => "calendar",
        }
    }
}

impl Worded for Beyond {
    const ALL: &'static [Self] = &[Self::Tolerance, Self::Extension];
    fn word(self) -> &'static str {
        match self {
            Self::Tolerance => "tolerance",
            Self::Extension => "extension",
        }
    }
}

impl<T: Worded> Serialize for Word<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.0.word())
    }
}

impl<'de, T: Worded> Deserialize<'de> for Word<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let word = <Cow<'_, str>>::deserialize(deserializer)?;
        let one = T::ALL.iter().copied().find(|one| one.word() == word);
        one.map(Self).ok_or_else(|| D::Error::custom(format!("the unknown word `{word}`")))
    }
}
