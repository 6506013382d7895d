//! Trends of measured limits as clients see them: where the limit is reached, how far that holds, and from what.

use super::Coded;
use gudgeon_life::hours::Hours;
use gudgeon_life::wear::{Basis, HOLDS_PERCENT, Says, Wear};
use serde::Serialize;

/// What the readings of a quantity at one place say about its limit. Hours are on the line's own count.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct WearOut {
    quantity: String,
    title: String,
    /// Absent where it is the line's own.
    #[serde(skip_serializing_if = "Option::is_none")]
    position: Option<String>,
    limit: String,
    status: &'static str,
    /// The middle of the line reaches the limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    point: Option<String>,
    /// Not before these hours, so often.
    #[serde(skip_serializing_if = "Option::is_none")]
    lower95: Option<String>,
    holds_percent: u32,
    readings: usize,
    last_reading: Option<String>,
    basis: String,
    /// `fleet` where the type's logged engines steady the line, else `own`.
    basis_kind: &'static str,
    /// What was learnt from them, and when.
    #[serde(skip_serializing_if = "Option::is_none")]
    fleet: Option<FleetOut>,
    warnings: Vec<Coded>,
    /// The limit by hours that this sets, if it sets one.
    #[serde(skip_serializing_if = "Option::is_none")]
    leg: Option<String>,
    in_words: String,
}

/// What steadies a line.
#[derive(Clone, Debug, Serialize)]
struct FleetOut {
    engines: usize,
    version: u32,
    worked_out_on: String,
}

impl WearOut {
    pub(crate) fn new(wear: &Wear) -> Self {
        let (status, point, lower95) = match wear.says {
            Says::Reaches { bound, point } => ("ok", point, Some(bound)),
            Says::MeasureAgain => ("measure-again", None, wear.last),
            Says::Reached => ("already-reached", None, wear.last),
            Says::NotWithin(hours) => ("not-within", None, Some(hours)),
            Says::NoWear => ("no-wear-visible", None, None),
            Says::CannotSay(why) => (why.word(), None, None),
        };
        let cannot = matches!(wear.says, Says::CannotSay(_))
            .then(|| Coded { code: status, detail: wear.in_words() });
        let cautions = wear.cautions.iter();
        let cautions =
            cautions.map(|it| Coded { code: it.word(), detail: it.printed().to_owned() });
        Self {
            quantity: wear.quantity.to_string(),
            title: wear.title.clone(),
            position: wear.position.as_ref().map(ToString::to_string),
            limit: wear.limit.clone(),
            status: if cannot.is_some() { "cannot-say" } else { status },
            point: point.map(Hours::tenths_down),
            lower95: lower95.map(Hours::tenths_down),
            holds_percent: HOLDS_PERCENT,
            readings: wear.readings,
            last_reading: wear.last.map(Hours::tenths_up),
            basis: wear.basis.printed(),
            basis_kind: wear.basis.word(),
            fleet: match wear.basis {
                Basis::Own => None,
                Basis::Fleet { engines, version, on } => {
                    Some(FleetOut { engines, version, worked_out_on: on.to_string() })
                }
            },
            warnings: cautions.chain(cannot).collect(),
            leg: wear.due().map(|_| wear.name()),
            in_words: wear.in_words(),
        }
    }
}
