//! The page of parts: which engines hold parts of a kind, lot or age, and when each comes due.

use super::{Frame, html, rendered, type_title};
use crate::app::App;
use crate::auth::PageReader;
use crate::call::{Call, Query};
use crate::problem::Problem;
use crate::search::{self, Found};
use actix_web::{HttpResponse, web};
use chrono::NaiveDate;
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::words::{day, line_words};
use gudgeon_store::Principal;
use serde::Serialize;

#[derive(Serialize)]
pub(super) struct Parts {
    as_of: String,
    as_of_iso: String,
    kind: String,
    lot: String,
    made_until: String,
    undated: bool,
    rows: Vec<Row>,
    /// The address of the next page.
    next: Option<String>,
    cautions: [&'static str; CAUTIONS.len()],
}

#[derive(Serialize)]
struct Row {
    kind: String,
    marks: Vec<String>,
    made: String,
    /// The engine's page and its name, with its aircraft.
    engine: Option<(String, String)>,
    position: Option<String>,
    lines: Vec<Line>,
}

#[derive(Serialize)]
struct Line {
    key: &'static str,
    status: &'static str,
    title: String,
    due: String,
    plan: Option<String>,
    late: Option<String>,
}

/// `GET /parts?kind&lot&made_until&undated&as_of&after&limit`
pub(super) async fn show(reader: PageReader, call: Call) -> Result<HttpResponse, Problem> {
    let today = call.today();
    let query = call.query(&search::PARAMETERS)?;
    let app = call.app.clone();
    web::block(move || page(&app, &reader.0, &query, today)).await?.map(html)
}

fn page(app: &App, reader: &Principal, query: &Query, today: NaiveDate) -> Result<String, Problem> {
    let as_of = query.as_of(today)?;
    let asked = search::asked(query, reader, today)?;
    let found = search::page(app, &asked, as_of)?;
    let kept_day = query.get("as_of").map(|_| as_of);
    let next = found.next.map(|after| {
        let limit = query.get("limit").map(|_| format!("&limit={}", asked.limit));
        let parameters = search::parameters(&asked, kept_day);
        format!("/parts?{parameters}after={after}{}", limit.unwrap_or_default())
    });
    let rows = found.found.into_iter().map(|it| row(app, it, as_of, kept_day));
    let view = Parts {
        as_of: day(as_of),
        as_of_iso: as_of.to_string(),
        kind: asked.kind.unwrap_or_default(),
        lot: asked.lot.unwrap_or_default(),
        made_until: asked.made_until.map_or_else(String::new, |day| day.to_string()),
        undated: asked.undated,
        rows: rows.collect::<Result<_, _>>()?,
        next,
        cautions: CAUTIONS,
    };
    let frame =
        Frame { title: "Parts".to_owned(), reader: Some(reader.label.clone()), demo: app.demo };
    rendered("parts.html", frame, &view)
}

fn row(
    app: &App,
    it: Found,
    as_of: NaiveDate,
    kept_day: Option<NaiveDate>,
) -> Result<Row, Problem> {
    let part = it.part;
    let engine = match &it.engine {
        Some(row) => {
            let engine_type = app.counted_type_of(row)?;
            let title = type_title(row, engine_type.as_deref());
            let serial = row.serial.as_deref().unwrap_or("not on record");
            let mark = row.mark.as_ref().map_or_else(String::new, |mark| format!(", in {mark}"));
            let day = kept_day.map_or_else(String::new, |day| format!("?as_of={day}"));
            let href = format!("/engines/{}{day}", row.engine);
            Some((href, format!("serial {serial}{mark}; {title}")))
        }
        None => None,
    };
    let marks = [
        part.lot.map(|lot| format!("lot {lot}")),
        part.serial.map(|serial| format!("serial {serial}")),
        part.maker_part,
    ];
    let made = match part.made {
        Some((first, last)) if first == last => first.to_string(),
        Some((first, last)) => format!("{first} to {last}"),
        None => "not known".to_owned(),
    };
    let lines = it.lines.iter().map(|line| {
        let (status, words) = (line.status(as_of), line_words(line, as_of));
        Line {
            key: status.word(),
            status: status.printed(),
            title: line.title.clone(),
            due: words.due,
            plan: words.plan,
            late: words.late,
        }
    });
    Ok(Row {
        kind: part.kind.replace('-', " "),
        marks: marks.into_iter().flatten().collect(),
        made,
        engine,
        position: part.position,
        lines: lines.collect(),
    })
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub(in crate::pages) fn sample(name: &str) -> Parts {
        let text = || name.to_owned();
        Parts {
            as_of: text(),
            as_of_iso: "2026-11-25".to_owned(),
            kind: text(),
            lot: text(),
            made_until: "2019-12-31".to_owned(),
            undated: true,
            rows: vec![Row {
                kind: text(),
                marks: vec![text()],
                made: text(),
                engine: Some(("/engines/x".to_owned(), text())),
                position: Some(text()),
                lines: vec![Line {
                    key: "overdue",
                    status: "overdue",
                    title: text(),
                    due: text(),
                    plan: Some(text()),
                    late: Some(text()),
                }],
            }],
            next: Some("/parts?after=x".to_owned()),
            cautions: CAUTIONS,
        }
    }
}
