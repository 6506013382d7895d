//! The engines of one type, for what is learnt from all of them.

use crate::FLEET;
use crate::conn::Store;
use crate::engines::{EngineRow, StatusRow};
use crate::error::StoreError;
use crate::schema::engine_status;
use diesel::prelude::*;

impl Store {
    /// The engines of a type, by key, after one.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn engines_of_type(
        &self,
        engine_type: &str,
        after_key: i64,
        limit: i64,
    ) -> Result<Vec<EngineRow>, StoreError> {
        self.read(|conn| {
            let rows: Vec<StatusRow> = engine_status::table
                .filter(engine_status::fleet_id.eq(FLEET))
                .filter(engine_status::engine_type.eq(engine_type))
                .filter(engine_status::engine_id.gt(after_key))
                .order(engine_status::engine_id)
                .limit(limit)
                .select(StatusRow::as_select())
                .load(conn)?;
            rows.into_iter().map(StatusRow::row).collect()
        })
    }
}
