//! Erasing what is personal: names, addresses, free text and mails go for good, their facts and chains stay.
//!
//! An erasure is a fact of the party's own stream and names every fact whose private text it took, so that a
//! text that is missing elsewhere is known to be lost. It cannot be taken back: whatever private text arrives
//! for the party's stream later is not kept either, and the same posts in another order leave the same.
//!
//! A photograph can show a person. With the notes about what was theirs go the photographs that records of those
//! days name, whoever sent them and whichever other record names them too; with a workshop go those that it sent and
//! no record names. The digests stay in the records, and nobody can send the same photograph again.
//!
//! What a statement deletes, `SQLite` leaves in its file until the space is used again. The file is therefore
//! written anew before an erasure is answered. A `PostgreSQL` server does the same when it is told to
//! (`VACUUM FULL`), which locks its tables and is left to whoever runs it; so are backups of either.

use crate::FLEET;
use crate::append::{self, Ready};
use crate::bytes::{Digest, Id};
use crate::calendars;
use crate::conn::Store;
use crate::deliveries::ReportState;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::facts::{self, FactRow};
use crate::locks::Locks;
use crate::ownership::{owned, while_owned};
use crate::photos;
use crate::preferences;
use crate::reports::Words;
use crate::schema::{api_key, attempt, fact, fact_private, report};
use crate::streams::{self, StreamRow};
use crate::suppressions;
use crate::values::{Appended, Instant, Post, Programmes, Stored};
use diesel::prelude::*;
use gudgeon_life::fact::{Content, Entry, Erased, Stream, StreamKind};
use gudgeon_life::ids::{FactId, PartyId};
use std::collections::BTreeSet;

/// How many facts one statement names.
const FACTS_MAX: usize = 500;
/// The last names of the places where free text stands. A record that says beside its facts only who released
/// the work is left alone: that is another person's word. Beside a note it goes with the note, as both are
/// under one digest; that the work was released stays a fact.
const NOTES: [&str; 2] = ["note", "reason"];

impl Store {
    /// Erases what is personal about a party, and keeps that as a fact. The post holds an [`Erased`] whose
    /// facts are left out: they are found here. Posting it again changes nothing.
    ///
    /// # Errors
    /// [`StoreError::Refused`] for a post of anything else; [`StoreError::Unavailable`] when what was erased
    /// is still in the database's file, as others read from it: then post it again. Others when the database
    /// fails, and nothing is erased then.
    pub fn erase(&self, post: &Post, programmes: &dyn Programmes) -> Result<Appended, StoreError> {
        let Content::Erased(asked) = &post.fact.entry.content else {
            return Err(StoreError::Refused("only an erasure erases".to_owned()));
        };
        let mut locks = Locks::default();
        let appended = self.write(|conn| {
            let stream = streams::find_or_add(conn, Stream::party(asked.party))?;
            dialect::lock_streams(conn, &[stream.id])?;
            let erased = match facts::row(conn, Id::from(post.fact.id.0))? {
                // The same again takes what it took: that is how it is known to be the same.
                Some(kept) => taken(&kept.stored()?.fact.entry.content, asked),
                None => found(conn, &stream, asked)?,
            };
            let mut post = post.clone();
            post.fact.entry = Entry { content: Content::Erased(erased), ..post.fact.entry };
            append::append(conn, &post, &Ready::of(&post)?, programmes, &mut locks)
        })?;
        if !matches!(appended, Appended::Differs(_)) {
            self.scrub()?;
        }
        Ok(appended)
    }
}

fn taken(content: &Content, asked: &Erased) -> Erased {
    match content {
        Content::Erased(it) => {
            Erased { facts: it.facts.clone(), photos: it.photos.clone(), ..asked.clone() }
        }
        _ => asked.clone(),
    }
}

/// What an erasure takes: the facts whose private text it is, and photographs.
fn found(conn: &mut AnyConn, stream: &StreamRow, asked: &Erased) -> Result<Erased, StoreError> {
    let mut photos = BTreeSet::from_iter(photos::unnamed_of(conn, asked.party)?);
    let mut facts: BTreeSet<FactId> = stored(conn, stream.id)?
        .iter()
        .filter(|it| !it.texts.private.is_empty())
        .map(|it| it.fact.id)
        .collect();
    if asked.notes {
        for owned in owned(conn, asked.party)? {
            let Some(of) = streams::find(conn, owned.of)? else { continue };
            let theirs = while_owned(stored(conn, of.id)?, &owned);
            photos
                .extend(theirs.iter().flat_map(|it| photos::photos_named(&it.fact.entry.content)));
            facts.extend(theirs.iter().filter(|it| has_note(it)).map(|it| it.fact.id));
        }
    }
    Ok(Erased { facts, photos, ..asked.clone() })
}

fn stored(conn: &mut AnyConn, stream_id: i64) -> Result<Vec<Stored>, StoreError> {
    facts::rows_of(conn, stream_id)?.iter().map(FactRow::stored).collect()
}

fn has_note(stored: &Stored) -> bool {
    let last = |pointer: &String| pointer.rsplit('/').next().is_some_and(|it| NOTES.contains(&it));
    stored.texts.private.keys().any(last)
}

/// Takes away what an erasure takes: the private texts of its facts, the words of the party's mails, what
/// came back of them, and the keys and links that were theirs.
pub(crate) fn take_away(conn: &mut AnyConn, it: &Erased, at: Instant) -> Result<(), StoreError> {
    let facts: Vec<Id> = it.facts.iter().map(|fact| Id::from(fact.0)).collect();
    for chunk in facts.chunks(FACTS_MAX) {
        let named = fact::table
            .filter(fact::fleet_id.eq(FLEET))
            .filter(fact::uid.eq_any(chunk))
            .select(fact::id);
        diesel::delete(
            fact_private::table
                .filter(fact_private::fleet_id.eq(FLEET))
                .filter(fact_private::fact_id.eq_any(named)),
        )
        .execute(conn)?;
    }
    photos::take_away(conn, it, at)?;
    let party = Id::from(it.party.0);
    let mails =
        || report::table.filter(report::fleet_id.eq(FLEET)).filter(report::recipient.eq(party));
    let not_begun = [ReportState::Planned, ReportState::Sending, ReportState::Deferred];
    diesel::update(mails().filter(report::state.eq_any(not_begun.map(ReportState::word))))
        .set((report::state.eq(ReportState::Withdrawn.word()), report::ended_at.eq(at.0)))
        .execute(conn)?;
    diesel::update(mails().filter(report::digest.is_not_null()))
        .set(Words::default())
        .execute(conn)?;
    let answers = attempt::table
        .filter(attempt::fleet_id.eq(FLEET))
        .filter(attempt::report_id.eq_any(mails().select(report::id)));
    diesel::update(answers).set(attempt::words.eq("")).execute(conn)?;
    suppressions::forget_others(conn, party, None)?;
    let keys =
        || api_key::table.filter(api_key::fleet_id.eq(FLEET)).filter(api_key::party.eq(party));
    diesel::update(keys()).set(api_key::label.eq("")).execute(conn)?;
    diesel::update(keys().filter(api_key::revoked_at.is_null()))
        .set(api_key::revoked_at.eq(at.0))
        .execute(conn)?;
    calendars::take_away(conn, it.party)?;
    preferences::take_away(conn, it.party)
}

/// The private text of a post as it is kept: not that of a party who was erased. Why somebody was erased is
/// told of nobody, and stays until the next erasure.
pub(crate) fn kept_text(
    conn: &mut AnyConn,
    stream: &StreamRow,
    content: &Content,
    private: Option<(Digest, String)>,
) -> QueryResult<Option<(Digest, String)>> {
    let about_party =
        content.stream().kind == StreamKind::Party && !matches!(content, Content::Erased(_));
    let dropped = private.is_some() && about_party && is_erased(conn, stream.id)?;
    Ok(private.filter(|_| !dropped))
}

/// Whether a party is erased. That stays as it is until the transaction ends.
pub(crate) fn is_party_erased(conn: &mut AnyConn, party: PartyId) -> QueryResult<bool> {
    let Some(stream) = streams::find(conn, Stream::party(party))? else { return Ok(false) };
    dialect::lock_streams(conn, &[stream.id])?;
    is_erased(conn, stream.id)
}

/// Whether a stream is that of a party who was erased.
fn is_erased(conn: &mut AnyConn, stream_id: i64) -> QueryResult<bool> {
    let found: Option<i64> = fact::table
        .filter(fact::fleet_id.eq(FLEET))
        .filter(fact::stream_id.eq(stream_id))
        .filter(fact::kind.eq("erased"))
        .select(fact::id)
        .first(conn)
        .optional()?;
    Ok(found.is_some())
}
