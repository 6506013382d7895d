//! Statements that are written and compiled once for each connection, and not each time.
//!
//! Diesel keeps compiled what it knows to have one text. It takes every UPDATE for one of unboundedly many, as what is
//! set may differ; of those that a post runs, nothing but the values does. And the connection that stands for any
//! database writes out the text of every statement each time it runs, however well it is known.

use crate::dialect::AnyConn;
use diesel::backend::Backend;
use diesel::connection::Connection;
use diesel::expression::{AppearsOnTable, Expression};
use diesel::pg::Pg;
use diesel::prelude::*;
use diesel::query_builder::{AsChangeset, AstPass, QueryFragment, QueryId};
use diesel::query_source::QuerySource;
use diesel::sql_types::Bool;
use diesel::sqlite::Sqlite;
use std::marker::PhantomData;

/// Runs a statement that gives no rows; gives how many rows it changed.
pub(crate) fn execute<Q>(conn: &mut AnyConn, statement: &Q) -> QueryResult<usize>
where
    Q: QueryFragment<Sqlite> + QueryFragment<Pg> + QueryId,
{
    match conn {
        AnyConn::Sqlite(conn) => conn.execute_returning_count(statement),
        AnyConn::Postgres(conn) => conn.execute_returning_count(statement),
    }
}

/// An UPDATE whose text is the same whatever its values are, and that is found again by the type `Name`, which stands
/// for this text alone.
pub(crate) struct Update<Name, T: QuerySource, C, W> {
    table: T::FromClause,
    changes: C,
    condition: W,
    name: PhantomData<Name>,
}

impl<Name, T: Table, C, W> Update<Name, T, C, W> {
    /// Sets `changes` in the rows of a table for which `condition` holds.
    pub(crate) fn of<S>(_: Name, table: &T, changes: S, condition: W) -> Self
    where
        S: AsChangeset<Target = T, Changeset = C>,
        W: AppearsOnTable<T> + Expression<SqlType = Bool>,
    {
        let (table, changes) = (table.from_clause(), changes.as_changeset());
        Self { table, changes, condition, name: PhantomData }
    }
}

impl<DB, Name, T, C, W> QueryFragment<DB> for Update<Name, T, C, W>
where
    DB: Backend,
    T: QuerySource,
    T::FromClause: QueryFragment<DB>,
    C: QueryFragment<DB>,
    W: QueryFragment<DB>,
{
    fn walk_ast<'b>(&'b self, mut pass: AstPass<'_, 'b, DB>) -> QueryResult<()> {
        pass.push_sql("UPDATE ");
        self.table.walk_ast(pass.reborrow())?;
        pass.push_sql(" SET ");
        self.changes.walk_ast(pass.reborrow())?;
        pass.push_sql(" WHERE ");
        self.condition.walk_ast(pass)
    }
}

impl<Name: 'static, T: QuerySource, C, W> QueryId for Update<Name, T, C, W> {
    type QueryId = Name;

    const HAS_STATIC_QUERY_ID: bool = true;
}
