//! What became of the reports of a week: how many are in which state, and those that were not accepted. Nothing in it
//! is personal but the recipients' ids.

use super::fleet::page;
use crate::answers::instant;
use crate::auth::Inspector;
use crate::call::{Call, cursor};
use crate::problem::{Kind, Problem};
use actix_web::{HttpResponse, web};
use gudgeon_life::week::ReportWeek;
use gudgeon_store::{NotAccepted, OutboxQuery};
use serde_json::{Map, Value, json};

/// A week's counts, and page by page the reports that were not accepted, in the order of their planning.
pub(super) async fn get(_: Inspector, call: Call) -> Result<HttpResponse, Problem> {
    let week = ReportWeek::parse(call.path("week"));
    let week = week.map_err(|error| Problem::new(Kind::MALFORMED, error.to_string()))?;
    let asked = call.query(&["after", "limit"])?;
    let limit = asked.limit()?;
    let after_key = asked.after()?.map_or(0, |(_, key)| key);
    let query = OutboxQuery { week: Some(week), state: None, after_key, limit };
    let app = call.app.clone();
    let (counts, rows) = web::block(move || {
        let counts = app.store.report_counts(week)?;
        Ok::<_, Problem>((counts, app.store.not_accepted(&query)?))
    })
    .await??;
    let full = i64::try_from(rows.len()).is_ok_and(|count| count == limit);
    let next = rows.last().filter(|_| full).map(|last| {
        let after = cursor(0, last.key);
        format!("{}/v1/weeks/{week}?limit={limit}&after={after}", call.app.base_url)
    });
    let counts = counts.iter().map(|(state, count)| (state.word().to_owned(), json!(count)));
    let body = json!({
        "week": week.to_string(),
        "counts": counts.collect::<Map<_, _>>(),
        "not_accepted": rows.iter().map(report).collect::<Vec<_>>(),
        "next": next,
    });
    Ok(page(body, next.as_deref()))
}

fn report(row: &NotAccepted) -> Value {
    let answered = row.answered.as_ref();
    json!({
        "recipient": row.recipient.to_string(),
        "kind": row.kind.word(),
        "state": row.state.word(),
        "reason": row.reason,
        "attempts": row.attempts,
        "next_try_at": row.next_try_at.map(instant),
        "code": answered.map(|(code, _)| code),
        "enhanced": answered.and_then(|(_, enhanced)| enhanced.as_ref()),
    })
}
