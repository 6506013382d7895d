//! Statements that are compiled once for each connection, and not each time.
//!
//! Diesel keeps compiled what it knows to have one text. It takes every UPDATE for one of unboundedly many, as what
//! is set may differ; of those that a post runs, nothing but the values does.

use diesel::backend::Backend;
use diesel::prelude::*;
use diesel::query_builder::{AstPass, QueryFragment, QueryId};

/// A statement whose text is the same whatever its values are.
pub(crate) struct Fixed<Q>(pub(crate) Q);

impl<DB: Backend, Q: QueryFragment<DB>> QueryFragment<DB> for Fixed<Q> {
    fn walk_ast<'b>(&'b self, pass: AstPass<'_, 'b, DB>) -> QueryResult<()> {
        self.0.walk_ast(pass)
    }

    fn is_safe_to_cache_prepared(&self, _: &DB) -> QueryResult<bool> {
        Ok(true)
    }
}

/// Found again by its text.
impl<Q> QueryId for Fixed<Q> {
    type QueryId = ();

    const HAS_STATIC_QUERY_ID: bool = false;
}

impl<Q, Conn> RunQueryDsl<Conn> for Fixed<Q> {}
