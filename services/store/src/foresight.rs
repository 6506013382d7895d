//! Working a post out before its turn to write comes, so that writers wait for one another only while they
//! write.
//!
//! What the engines amount to with the new fact is worked out on what is committed by then. Every fact that
//! an engine's due lines rest on brings about that it is worked out anew, which its `revision` counts: while
//! that is the same when the turn comes, and the same engines are touched, nothing that was read has changed.
//! Otherwise all is worked out again, in the turn.

use crate::append::{self, Ready};
use crate::dialect::AnyConn;
use crate::error::StoreError;
use crate::graph;
use crate::recompute::{self, WorkedOut};
use crate::serials;
use crate::streams;
use crate::values::{Appended, Post, Programmes};
use gudgeon_life::conflict::Conflict;
use gudgeon_life::fact::{Content, StreamKind};
use gudgeon_life::ids::EngineId;

/// What is known of a post before its turn.
pub(crate) enum Foreseen {
    /// It, or another under its id, is kept already.
    Kept(Box<Appended>),
    /// It is new; and what it brings about, if that can be foreseen.
    New(Option<Foresight>),
}

/// What a post brings about.
pub(crate) struct Foresight {
    /// The engines that it touches, in id order.
    engines: Vec<(EngineId, i64)>,
    worked_out: Vec<WorkedOut>,
    conflicts: Vec<Conflict>,
}

/// Looks at a post before its turn to write.
pub(crate) fn foresee(
    conn: &mut AnyConn,
    post: &Post,
    ready: &Ready,
    programmes: &dyn Programmes,
) -> Result<Foreseen, StoreError> {
    if let Some(kept) = append::kept(conn, post, ready)? {
        return append::with_conflicts(conn, kept).map(|kept| Foreseen::Kept(Box::new(kept)));
    }
    let content = &post.fact.entry.content;
    let stream = content.stream();
    if stream.kind != StreamKind::Engine || ties(content) {
        return Ok(Foreseen::New(None));
    }
    let Some(row) = streams::find(conn, stream)? else { return Ok(Foreseen::New(None)) };
    let touched = graph::touched(conn, row.id, stream)?;
    let engines: Vec<(EngineId, i64)> = graph::engines_in_id_order(&touched).collect();
    let (mut worked_out, mut conflicts) = (Vec::new(), Vec::new());
    for (engine, key) in &engines {
        let of_engine = recompute::work_out(conn, *key, *engine, Some(&post.fact), programmes)?;
        if *key == row.id {
            conflicts = of_engine.brought_out_by(post.fact.id);
        }
        worked_out.push(of_engine);
    }
    Ok(Foreseen::New(Some(Foresight { engines, worked_out, conflicts })))
}

/// Whether a fact ties its stream to others, and so changes which engines rest on which facts.
fn ties(content: &Content) -> bool {
    !content.links().is_empty() || serials::told(content).is_some()
}

impl Foresight {
    /// Whether it is still true, now that the fact touches these engines.
    pub(crate) fn still_holds(
        &self,
        conn: &mut AnyConn,
        engines: &[(EngineId, i64)],
    ) -> Result<bool, StoreError> {
        if self.engines != engines {
            return Ok(false);
        }
        for engine in &self.worked_out {
            if !engine.still_holds(conn)? {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Writes it, and gives the contradictions that the fact brings out.
    pub(crate) fn write(self, conn: &mut AnyConn) -> Result<Vec<Conflict>, StoreError> {
        for engine in self.worked_out {
            engine.write(conn)?;
        }
        Ok(self.conflicts)
    }
}
