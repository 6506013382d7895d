//! What a post writes, written by hand: rows of the same tables, with nothing read, checked, hashed or worked
//! out.

use crate::schema::{due_line, engine_span, engine_status, fact, stream};
use chrono::NaiveDate;
use diesel::prelude::*;

#[derive(Clone, Insertable, Queryable, Selectable)]
#[diesel(table_name = fact)]
struct FactRow {
    fleet_id: i64,
    stream_id: i64,
    seq: i64,
    uid: Vec<u8>,
    kind: String,
    v: i32,
    day: NaiveDate,
    order_in_day: i32,
    data: String,
    content_digest: Vec<u8>,
    private_digest: Option<Vec<u8>>,
    prev_hash: Vec<u8>,
    hash: Vec<u8>,
    posted_by: Option<Vec<u8>>,
    recorded_at: Option<i64>,
    received_at: i64,
}

#[derive(Clone, Insertable, Queryable, Selectable)]
#[diesel(table_name = engine_span)]
struct SpanRow {
    fleet_id: i64,
    engine_id: i64,
    from_day: NaiveDate,
    until_day: NaiveDate,
    rank: i16,
}

#[derive(Clone, Insertable, Queryable, Selectable)]
#[diesel(table_name = due_line)]
struct LineRow {
    fleet_id: i64,
    engine_id: i64,
    ordinal: i32,
    item: String,
    position: Option<String>,
    component: Option<Vec<u8>>,
    due_on: Option<NaiveDate>,
    due_seconds: Option<i64>,
    latest_on: Option<NaiveDate>,
    latest_seconds: Option<i64>,
    unknown_from: Option<NaiveDate>,
    coming_from: Option<NaiveDate>,
    due_from: Option<NaiveDate>,
    late_from: Option<NaiveDate>,
    beyond: i16,
    behind_seconds: Option<i64>,
    type_digest: Vec<u8>,
    detail: String,
}

/// The rows of one post.
pub(crate) struct Rows {
    fact: FactRow,
    spans: Vec<SpanRow>,
    lines: Vec<LineRow>,
}

impl Rows {
    /// The engine that they are about.
    pub(crate) fn engine(&self) -> i64 {
        self.fact.stream_id
    }
}

/// Defines, for one kind of connection, how rows are read and written.
macro_rules! by_hand {
    ($module:ident, $connection:ty) => {
        pub(crate) mod $module {
            use super::{
                ExpressionMethods as _, FactRow, LineRow, QueryDsl as _, QueryResult, Rows,
                RunQueryDsl as _, SelectableHelper as _, SpanRow, due_line, engine_span,
                engine_status, fact, stream,
            };

            /// The rows that the facts after the first `known` brought, as they are in the end.
            pub(crate) fn rows(conn: &mut $connection, known: i64) -> QueryResult<Vec<Rows>> {
                let facts: Vec<FactRow> = fact::table
                    .order(fact::id)
                    .offset(known)
                    .limit(i64::MAX)
                    .select(FactRow::as_select())
                    .load(conn)?;
                let rows = facts.into_iter().map(|fact| {
                    let spans = engine_span::table
                        .filter(engine_span::engine_id.eq(fact.stream_id))
                        .select(SpanRow::as_select())
                        .load(conn)?;
                    let lines = due_line::table
                        .filter(due_line::engine_id.eq(fact.stream_id))
                        .order(due_line::ordinal)
                        .limit(crate::ITEMS_DONE)
                        .select(LineRow::as_select())
                        .load(conn)?;
                    Ok(Rows { fact, spans, lines })
                });
                rows.collect()
            }

            /// Writes the rows of posts that share a commit.
            pub(crate) fn write(conn: &mut $connection, posts: &[Rows]) -> QueryResult<()> {
                use diesel::connection::Connection as _;
                conn.transaction(|conn| {
                    for post in posts {
                        let (engine, to) = (post.fact.stream_id, &post.fact);
                        diesel::insert_into(fact::table).values(to).execute(conn)?;
                        diesel::update(stream::table.find(engine))
                            .set((stream::head_seq.eq(to.seq), stream::head_hash.eq(&to.hash)))
                            .execute(conn)?;
                        diesel::update(engine_status::table.find((1, engine)))
                            .set((
                                engine_status::tsn_seconds.eq(to.seq),
                                engine_status::hours_on.eq(to.day),
                                engine_status::meter_seconds.eq(to.seq),
                            ))
                            .execute(conn)?;
                        let of_engine = engine_span::table
                            .filter(engine_span::fleet_id.eq(1))
                            .filter(engine_span::engine_id.eq(engine));
                        diesel::delete(of_engine).execute(conn)?;
                        diesel::insert_into(engine_span::table)
                            .values(&post.spans)
                            .execute(conn)?;
                        let ordinals: Vec<i32> = post.lines.iter().map(|it| it.ordinal).collect();
                        let of_engine = due_line::table
                            .filter(due_line::fleet_id.eq(1))
                            .filter(due_line::engine_id.eq(engine))
                            .filter(due_line::ordinal.eq_any(ordinals));
                        diesel::delete(of_engine).execute(conn)?;
                        diesel::insert_into(due_line::table).values(&post.lines).execute(conn)?;
                    }
                    Ok(())
                })
            }
        }
    };
}

by_hand!(sqlite, diesel::SqliteConnection);
by_hand!(postgres, diesel::PgConnection);
