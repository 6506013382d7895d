//! The fleet page: every engine the reader may see, the worst first, with what is worst about it.

use super::{Frame, day_query, engine_types, html, place, rendered, type_title};
use crate::access;
use crate::app::App;
use crate::auth::PageReader;
use crate::call::{Call, Query, cursor};
use crate::problem::Problem;
use actix_web::{HttpResponse, web};
use chrono::NaiveDate;
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::line::DueLine;
use gudgeon_life::programme::EngineType;
use gudgeon_life::status::Status;
use gudgeon_life::words::{counted, day, distance, line_words, urgency};
use gudgeon_store::{EngineRow, FleetQuery, Principal};
use serde::Serialize;
use std::collections::HashMap;

#[derive(Serialize)]
pub(super) struct Fleet {
    /// The day everything is worked out for: in words, and as the form's value.
    as_of: String,
    as_of_iso: String,
    /// One link per status, and one for all.
    counts: Vec<CountLink>,
    /// The status filtered by: its word and how it prints.
    status: Option<(&'static str, &'static str)>,
    caption: String,
    rows: Vec<Row>,
    /// The address of the next page.
    next: Option<String>,
    cautions: [&'static str; CAUTIONS.len()],
}

#[derive(Serialize)]
struct CountLink {
    name: &'static str,
    count: i64,
    href: String,
    current: bool,
}

#[derive(Serialize)]
struct Row {
    key: &'static str,
    status: &'static str,
    href: String,
    engine_type: String,
    serial: String,
    mark: String,
    /// The worst line: what, where, when, how late.
    worst: Option<Worst>,
    conflicts: usize,
    hours: String,
    /// The day of the last reading and how long ago that is.
    read: Option<(String, String)>,
    log: &'static str,
}

#[derive(Serialize)]
struct Worst {
    title: String,
    place: Option<String>,
    due: String,
    plan: Option<String>,
    late: Option<String>,
}

/// `GET /?as_of&status&after&limit`
pub(super) async fn show(reader: PageReader, call: Call) -> Result<HttpResponse, Problem> {
    let today = call.today();
    let query = call.query(&["as_of", "status", "after", "limit"])?;
    let app = call.app.clone();
    web::block(move || page(&app, &reader.0, &query, today)).await?.map(html)
}

fn page(app: &App, reader: &Principal, query: &Query, today: NaiveDate) -> Result<String, Problem> {
    let as_of = query.as_of(today)?;
    let status = query.status()?;
    let limit = query.limit()?;
    let sight = access::narrowed_to(reader, today)?;
    // One more than is shown tells whether there is a next page.
    let asked = FleetQuery { as_of, sight, status, after: query.after()?, limit: limit + 1 };
    let mut engines = app.store.fleet(&asked)?;
    let shown = usize::try_from(limit).unwrap_or(usize::MAX);
    let more = engines.len() > shown;
    engines.truncate(shown);
    let kept_day = query.get("as_of").map(|_| as_of);
    let next = engines.last().filter(|_| more).map(|(worst, engine)| {
        let after = cursor(worst.rank(), engine.key);
        let limit = query.get("limit").map(|_| limit.to_string());
        address(kept_day, status, &[("after", Some(after)), ("limit", limit)])
    });
    let counts = app.store.fleet_counts(as_of, sight)?;
    let total = counts.iter().map(|(_, count)| count).sum();
    let listed = status.map_or(total, |it| count_of(&counts, it));
    let what = status.map_or_else(String::new, |it| format!(", {}", it.printed()));
    let view = Fleet {
        as_of: day(as_of),
        as_of_iso: as_of.to_string(),
        counts: count_links(&counts, total, status, kept_day),
        status: status.map(|it| (it.word(), it.printed())),
        caption: format!("{}{what}, worst first, as of {}", counted(listed, "engine"), day(as_of)),
        rows: rows(app, engines, as_of, &day_query(query.get("as_of"), as_of))?,
        next,
        cautions: CAUTIONS,
    };
    let frame =
        Frame { title: "Fleet".to_owned(), reader: Some(reader.label.clone()), demo: app.demo };
    rendered("fleet.html", frame, &view)
}

fn count_of(counts: &[(Status, i64)], status: Status) -> i64 {
    counts.iter().find(|(known, _)| *known == status).map_or(0, |(_, count)| *count)
}

fn count_links(
    counts: &[(Status, i64)],
    total: i64,
    current: Option<Status>,
    day: Option<NaiveDate>,
) -> Vec<CountLink> {
    let link = |name, count, status: Option<Status>| CountLink {
        name,
        count,
        href: address(day, status, &[]),
        current: current == status,
    };
    let all = link("all", total, None);
    let each = Status::ALL
        .into_iter()
        .map(|status| link(status.printed(), count_of(counts, status), Some(status)));
    std::iter::once(all).chain(each).collect()
}

/// An address of this page. Every value in it is a word, a number or a day: nothing needs escaping.
fn address(
    day: Option<NaiveDate>,
    status: Option<Status>,
    more: &[(&str, Option<String>)],
) -> String {
    let day = ("as_of", day.map(|day| day.to_string()));
    let status = ("status", status.map(|status| status.word().to_owned()));
    let pairs: Vec<String> = [day, status]
        .iter()
        .chain(more)
        .filter_map(|(name, value)| value.as_ref().map(|value| format!("{name}={value}")))
        .collect();
    if pairs.is_empty() { "/".to_owned() } else { format!("/?{}", pairs.join("&")) }
}

fn rows(
    app: &App,
    engines: Vec<(Status, EngineRow)>,
    as_of: NaiveDate,
    day_query: &str,
) -> Result<Vec<Row>, Problem> {
    let types = engine_types(app)?;
    let keys: Vec<i64> = engines.iter().map(|(_, engine)| engine.key).collect();
    let mut worst: HashMap<i64, DueLine> = HashMap::new();
    for (key, line) in app.store.due_lines(&keys)? {
        let known = worst.get(&key);
        if known.is_none_or(|known| urgency(&line, as_of) < urgency(known, as_of)) {
            worst.insert(key, line);
        }
    }
    Ok(engines
        .into_iter()
        .map(|(status, engine)| {
            let engine_type =
                engine.engine_type.as_ref().and_then(|name| types.get(name)).map(AsRef::as_ref);
            row(status, &engine, engine_type, worst.get(&engine.key), as_of, day_query)
        })
        .collect())
}

fn row(
    status: Status,
    engine: &EngineRow,
    engine_type: Option<&EngineType>,
    worst: Option<&DueLine>,
    as_of: NaiveDate,
    day_query: &str,
) -> Row {
    Row {
        key: status.word(),
        status: status.printed(),
        href: format!("/engines/{}{day_query}", engine.engine),
        engine_type: type_title(engine, engine_type),
        serial: engine.serial.clone().unwrap_or_else(|| "not on record".to_owned()),
        mark: engine.mark.clone().unwrap_or_else(|| "not installed".to_owned()),
        worst: worst.map(|line| worst_of(line, engine_type, as_of)),
        conflicts: engine.conflicts.len(),
        hours: match (engine.tsn, engine.tso) {
            (None, None) => "not on record".to_owned(),
            (tsn, tso) => {
                let tsn = tsn.map(|hours| format!("TSN {} h", hours.tenths_up()));
                let tso = tso.map(|hours| format!("TSO {} h", hours.tenths_up()));
                tsn.into_iter().chain(tso).collect::<Vec<_>>().join(", ")
            }
        },
        read: engine.hours_on.map(|on| (on.to_string(), distance(on, as_of))),
        log: if engine.logged { "logged" } else { "no log" },
    }
}

fn worst_of(line: &DueLine, engine_type: Option<&EngineType>, as_of: NaiveDate) -> Worst {
    let words = line_words(line, as_of);
    let invented = if engine_type.is_some_and(|it| it.invented) { " (invented)" } else { "" };
    Worst {
        title: format!("{}{invented}", line.title),
        place: line.position.as_ref().map(|it| place(engine_type, it.as_str())),
        due: words.due,
        plan: words.plan,
        late: words.late,
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub(in crate::pages) fn sample(name: &str) -> Fleet {
        let text = || name.to_owned();
        Fleet {
            as_of: text(),
            as_of_iso: "2026-11-25".to_owned(),
            counts: count_links(&[(Status::Overdue, 1)], 1, Some(Status::Overdue), None),
            status: Some(("overdue", "overdue")),
            caption: text(),
            rows: vec![Row {
                key: "overdue",
                status: "overdue",
                href: "/engines/x".to_owned(),
                engine_type: text(),
                serial: text(),
                mark: text(),
                worst: Some(Worst {
                    title: text(),
                    place: Some(text()),
                    due: text(),
                    plan: Some(text()),
                    late: Some(text()),
                }),
                conflicts: 1,
                hours: text(),
                read: Some((text(), text())),
                log: "logged",
            }],
            next: Some("/?after=r0k1".to_owned()),
            cautions: CAUTIONS,
        }
    }

    // All, then one link for each of the seven statuses, worst first.
    #[test]
    fn every_status_has_a_link_that_keeps_the_day() {
        let day: NaiveDate = "2026-11-25".parse().expect("a day");
        let links = count_links(&[(Status::ComingDue, 3)], 3, None, Some(day));
        let found: Vec<(&str, i64, &str)> =
            links.iter().map(|it| (it.name, it.count, it.href.as_str())).collect();
        assert_eq!(found.len(), 8);
        assert_eq!(found[0], ("all", 3, "/?as_of=2026-11-25"));
        assert_eq!(found[1], ("overdue", 0, "/?as_of=2026-11-25&status=overdue"));
        assert_eq!(found[5], ("coming due", 3, "/?as_of=2026-11-25&status=coming-due"));
        assert!(links[0].current);
    }
}
