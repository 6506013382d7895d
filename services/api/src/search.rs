//! Which engines hold which parts, and when each comes due: the search behind the API's list and the page.

use crate::access;
use crate::app::App;
use crate::call::{Query, bad_parameter};
use crate::problem::Problem;
use crate::read::day;
use chrono::NaiveDate;
use gudgeon_life::ids::PartKind;
use gudgeon_life::line::DueLine;
use gudgeon_store::{EngineRow, PartPlace, PartQuery, PartRow, Principal};
use std::collections::{BTreeMap, BTreeSet};

/// The parameters of a search.
pub(crate) const PARAMETERS: [&str; 7] =
    ["kind", "lot", "made_until", "undated", "as_of", "after", "limit"];

/// A part that was found, the engine that it is on, and the engine's lines about it, the worst first.
pub(crate) struct Found {
    pub(crate) part: PartRow,
    pub(crate) engine: Option<EngineRow>,
    pub(crate) lines: Vec<DueLine>,
}

/// One page of a search.
pub(crate) struct Page {
    pub(crate) found: Vec<Found>,
    /// Where the next page begins, when there is one.
    pub(crate) next: Option<String>,
}

/// A search as it was asked for.
pub(crate) fn asked(
    query: &Query,
    reader: &Principal,
    today: NaiveDate,
) -> Result<PartQuery, Problem> {
    let made_until = match query.get("made_until") {
        None | Some("") => None,
        Some(text) => Some(day(text).ok_or_else(|| {
            bad_parameter("`made_until` is a day such as 2019-12-31, the last on which it was made")
        })?),
    };
    let undated = match query.get("undated") {
        None | Some("" | "false") => false,
        Some("true") => true,
        Some(_) => return Err(bad_parameter("`undated` is `true` or `false`")),
    };
    let kind = query.get("kind").map(str::trim).filter(|kind| !kind.is_empty());
    if let Some(kind) = kind.filter(|kind| PartKind::new(kind).is_none()) {
        let detail = format!(
            "`kind` is a short name such as `fan-belt`, and `{kind}` is not: write lower-case letters, digits and hyphens"
        );
        return Err(bad_parameter(&detail));
    }
    let lot = query.get("lot").map(str::trim).filter(|lot| !lot.is_empty());
    Ok(PartQuery {
        kind: kind.map(str::to_owned),
        lot: lot.map(str::to_owned),
        made_until,
        undated,
        sight: access::narrowed_to(reader, today)?,
        after: query.get("after").map(place).transpose()?,
        limit: query.limit()?,
    })
}

/// What a search finds, with what is due on each.
pub(crate) fn page(app: &App, query: &PartQuery, as_of: NaiveDate) -> Result<Page, Problem> {
    // One more than is shown tells whether there is a next page.
    let mut parts = app.store.parts(&PartQuery { limit: query.limit + 1, ..query.clone() })?;
    let shown = usize::try_from(query.limit).unwrap_or(usize::MAX);
    let more = parts.len() > shown;
    parts.truncate(shown);
    let next = parts.last().filter(|_| more).map(|last| cursor(last.place));
    let keys: BTreeSet<i64> = parts.iter().map(|part| part.place.engine).collect();
    let keys: Vec<i64> = keys.into_iter().collect();
    let engines: BTreeMap<i64, EngineRow> =
        app.store.engine_rows(&keys)?.into_iter().map(|row| (row.key, row)).collect();
    let mut lines: BTreeMap<_, Vec<DueLine>> = BTreeMap::new();
    for (key, line) in app.store.due_lines(&keys)? {
        if let Some(component) = line.component {
            lines.entry((key, component)).or_default().push(line);
        }
    }
    let found = parts.into_iter().map(|part| {
        let engine = part.place.engine;
        let mut lines = lines.remove(&(engine, part.component)).unwrap_or_default();
        lines.sort_by_key(|line| gudgeon_life::words::urgency(line, as_of));
        Found { engine: engines.get(&engine).cloned(), part, lines }
    });
    Ok(Page { found: found.collect(), next })
}

/// The place where a page ends. Clients hand it back as it is and read nothing from it.
fn cursor(place: PartPlace) -> String {
    format!("d{}p{}e{}", place.made_first, place.part, place.engine)
}

fn place(text: &str) -> Result<PartPlace, Problem> {
    let parts = || {
        let (made, rest) = text.strip_prefix('d')?.split_once('p')?;
        let (part, engine) = rest.split_once('e')?;
        Some(PartPlace {
            made_first: day(made)?,
            part: part.parse().ok()?,
            engine: engine.parse().ok()?,
        })
    };
    parts().ok_or_else(|| {
        bad_parameter("`after` is what `next` of the page before held; nothing else is known")
    })
}

/// The parameters of a search without its page, to be followed by more: each with `&` behind it.
pub(crate) fn parameters(query: &PartQuery, as_of: Option<NaiveDate>) -> String {
    let day = |day: NaiveDate| day.to_string();
    let told = [
        ("kind", query.kind.clone()),
        ("lot", query.lot.as_deref().map(encoded)),
        ("made_until", query.made_until.map(day)),
        ("undated", query.undated.then(|| "true".to_owned())),
        ("as_of", as_of.map(day)),
    ];
    let told = told.into_iter().filter_map(|(name, value)| Some(format!("{name}={}&", value?)));
    told.collect()
}

/// A text inside a query: what RFC 3986 does not reserve stays, every other byte as `%` and two digits.
fn encoded(text: &str) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"-._~".contains(&byte);
    let one = |byte: u8| {
        if plain(byte) { char::from(byte).to_string() } else { format!("%{byte:02X}") }
    };
    text.bytes().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    // RFC 3986, sections 2.1 and 2.3.
    #[test]
    fn a_lot_is_written_into_an_address_so_that_it_comes_back() {
        assert_eq!(encoded("L7-a_b.c~d"), "L7-a_b.c~d");
        assert_eq!(encoded("A&B=1 é"), "A%26B%3D1%20%C3%A9");
    }

    #[test]
    fn a_place_comes_back_as_it_was() {
        let at = PartPlace { made_first: day("0001-01-01").expect("a day"), part: 12, engine: 0 };
        assert_eq!(place(&cursor(at)).ok(), Some(at));
        for wrong in
            ["", "d2019-07-01", "d2019-07-01p1", "p1e2", "d2019-7-1p1e2", "d2019-07-01p1ex"]
        {
            assert!(place(wrong).is_err(), "{wrong}");
        }
    }
}
