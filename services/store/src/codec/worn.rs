//! What the trend of a measured limit says on a due line, as its JSON writes it.

use super::words::{Day, Seconds, Word};
use crate::error::StoreError;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{PositionId, Quantity};
use gudgeon_life::wear::{Basis, Caution, Says, Wear, WhyNot};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// A trend.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Worn<'a> {
    #[serde(borrow)]
    quantity: Cow<'a, str>,
    #[serde(borrow)]
    title: Cow<'a, str>,
    #[serde(borrow, skip_serializing_if = "Option::is_none")]
    position: Option<Cow<'a, str>>,
    #[serde(borrow)]
    limit: Cow<'a, str>,
    readings: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    last: Option<Seconds>,
    says: Said,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    fleet: Option<Steadied>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    cautions: Vec<Word<Caution>>,
}

/// What steadied it, where anything did.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Steadied {
    engines: usize,
    version: u32,
    on: Day,
}

#[derive(Serialize, Deserialize)]
enum Said {
    Reaches {
        bound: Seconds,
        #[serde(skip_serializing_if = "Option::is_none")]
        point: Option<Seconds>,
    },
    MeasureAgain,
    Reached,
    NotWithin(Seconds),
    NoWear,
    CannotSay(Word<WhyNot>),
}

impl<'a> Worn<'a> {
    pub(super) fn of(wear: &'a Wear) -> Self {
        Self {
            quantity: Cow::Borrowed(wear.quantity.as_str()),
            title: Cow::Borrowed(&wear.title),
            position: wear.position.as_ref().map(|at| Cow::Borrowed(at.as_str())),
            limit: Cow::Borrowed(&wear.limit),
            readings: wear.readings,
            last: wear.last.map(Seconds::from),
            says: match wear.says {
                Says::Reaches { bound, point } => {
                    Said::Reaches { bound: bound.into(), point: point.map(Seconds::from) }
                }
                Says::MeasureAgain => Said::MeasureAgain,
                Says::Reached => Said::Reached,
                Says::NotWithin(hours) => Said::NotWithin(hours.into()),
                Says::NoWear => Said::NoWear,
                Says::CannotSay(why) => Said::CannotSay(Word(why)),
            },
            fleet: match wear.basis {
                Basis::Own => None,
                Basis::Fleet { engines, version, on } => {
                    Some(Steadied { engines, version, on: Day(on) })
                }
            },
            cautions: wear.cautions.iter().copied().map(Word).collect(),
        }
    }

    pub(super) fn read(self) -> Result<Wear, StoreError> {
        let slug = |word: &str| StoreError::Corrupt(format!("a trend: `{word}` is no short name"));
        Ok(Wear {
            quantity: Quantity::new(&self.quantity).ok_or_else(|| slug(&self.quantity))?,
            title: self.title.into_owned(),
            position: self
                .position
                .map(|at| PositionId::new(&at).ok_or_else(|| slug(&at)))
                .transpose()?,
            limit: self.limit.into_owned(),
            readings: self.readings,
            last: self.last.map(Hours::from),
            says: match self.says {
                Said::Reaches { bound, point } => {
                    Says::Reaches { bound: bound.into(), point: point.map(Hours::from) }
                }
                Said::MeasureAgain => Says::MeasureAgain,
                Said::Reached => Says::Reached,
                Said::NotWithin(hours) => Says::NotWithin(hours.into()),
                Said::NoWear => Says::NoWear,
                Said::CannotSay(why) => Says::CannotSay(why.0),
            },
            basis: match self.fleet {
                None => Basis::Own,
                Some(Steadied { engines, version, on }) => {
                    Basis::Fleet { engines, version, on: on.0 }
                }
            },
            cautions: self.cautions.into_iter().map(|it| it.0).collect(),
        })
    }
}
