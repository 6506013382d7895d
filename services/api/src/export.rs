//! Everything on record about one owner, as one JSON document written piece by piece, however long it gets.
//!
//! `{exported_at, owner, records, owned: [{kind, id, from, until, records}], mails, photos: [{sha256, state,
//! media_type?, base64?}]}`: what the owner was told to be, what belonged to them with all that was told of it on
//! those days, every mail composed for them, and the photographs that those records name.
//! `until` is the day from which a thing was somebody else's.

use crate::answers::{instant, records};
use crate::problem::Problem;
use crate::routes::picture;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use gudgeon_life::fact::{PartyRole, Stream};
use gudgeon_life::ids::PartyId;
use gudgeon_life::owned::Owned;
use gudgeon_life::version::hex;
use gudgeon_store::{Instant, PartyRow, ReportRow, Store, photos_named, while_owned};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::vec;

/// Mails read at a time.
const MAILS: i64 = 50;

/// The pieces of an export, one after the other.
pub struct OwnerExport {
    store: Store,
    owner: PartyId,
    /// The photographs that the records so far name.
    photos: BTreeSet<[u8; 32]>,
    next: Step,
}

/// What is written next.
enum Step {
    Head(Box<PartyRow>, Instant),
    /// Whether it is the first of its list, in this step and the next.
    Owned(vec::IntoIter<Owned>, bool),
    Mails(i64, bool),
    Photos(vec::IntoIter<[u8; 32]>, bool),
    Done,
}

impl OwnerExport {
    /// The export of an owner as of an instant; `None` when nobody of that id is an owner.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn of(store: &Store, owner: PartyId, at: Instant) -> Result<Option<Self>, Problem> {
        let party = store.party(owner)?.filter(|party| party.role == PartyRole::Owner);
        let head = |party| Step::Head(Box::new(party), at);
        Ok(party.map(|party| Self {
            store: store.clone(),
            owner,
            photos: BTreeSet::new(),
            next: head(party),
        }))
    }

    fn piece(&mut self) -> Result<Option<String>, Problem> {
        let (piece, next) = match std::mem::replace(&mut self.next, Step::Done) {
            Step::Head(party, at) => {
                let told = self.store.facts_of(Stream::party(self.owner))?;
                let told: Vec<Value> = told.iter().map(records::record).collect();
                let piece = format!(
                    "{{\"exported_at\":{},\"owner\":{},\"records\":{},\"owned\":[",
                    json!(instant(at)),
                    owner(&party),
                    Value::Array(told)
                );
                let owned = self.store.owned(self.owner)?;
                (piece, Step::Owned(owned.into_iter(), true))
            }
            Step::Owned(mut owned, first) => match owned.next() {
                Some(it) => (separated(first, &[self.thing(&it)?]), Step::Owned(owned, false)),
                None => ("],\"mails\":[".to_owned(), Step::Mails(0, true)),
            },
            Step::Mails(after, first) => {
                let mails = self.store.reports_of(self.owner, after, MAILS)?;
                if let Some(last) = mails.last() {
                    let written: Vec<Value> = mails.iter().map(mail).collect();
                    (separated(first, &written), Step::Mails(last.key, false))
                } else {
                    let photos: Vec<[u8; 32]> =
                        std::mem::take(&mut self.photos).into_iter().collect();
                    ("],\"photos\":[".to_owned(), Step::Photos(photos.into_iter(), true))
                }
            }
            Step::Photos(mut photos, first) => match photos.next() {
                Some(it) => (separated(first, &[self.photo(it)?]), Step::Photos(photos, false)),
                None => ("]}\n".to_owned(), Step::Done),
            },
            Step::Done => return Ok(None),
        };
        self.next = next;
        Ok(Some(piece))
    }

    /// One photograph, read alone: they are the largest of all that is exported.
    fn photo(&self, digest: [u8; 32]) -> Result<Value, Problem> {
        let bytes = self.store.photo(digest)?;
        let states = self.store.photo_states(&[digest])?;
        Ok(json!({
            "sha256": hex(digest),
            "state": states.first().map(|(_, state)| state.word()),
            "media_type": bytes.as_deref().and_then(picture),
            "base64": bytes.map(|bytes| STANDARD.encode(bytes)),
        }))
    }

    fn thing(&mut self, owned: &Owned) -> Result<Value, Problem> {
        let told = while_owned(self.store.facts_of(owned.of)?, owned);
        self.photos.extend(told.iter().flat_map(|it| photos_named(&it.fact.entry.content)));
        Ok(json!({
            "kind": records::stream_word(owned.of.kind),
            "id": owned.of.id.to_string(),
            "from": owned.from.to_string(),
            "until": owned.until.map(|day| day.to_string()),
            "records": told.iter().map(records::record).collect::<Vec<_>>(),
        }))
    }
}

impl Iterator for OwnerExport {
    type Item = Result<String, Problem>;

    fn next(&mut self) -> Option<Self::Item> {
        self.piece().transpose()
    }
}

/// Entries of a list, with commas between them and what came before.
fn separated(first: bool, entries: &[Value]) -> String {
    let entries: Vec<String> = entries.iter().map(Value::to_string).collect();
    format!("{}{}", if first { "" } else { "," }, entries.join(","))
}

fn owner(party: &PartyRow) -> Value {
    json!({
        "id": party.party.to_string(),
        "name": party.name,
        "email": party.email,
        "erased_on": party.erased_on.map(|day| day.to_string()),
    })
}

fn mail(mail: &ReportRow) -> Value {
    json!({
        "kind": mail.kind,
        "week": mail.week,
        "as_of": mail.as_of.to_string(),
        "to_name": mail.to_name,
        "to_address": mail.to_address,
        "subject": mail.subject,
        "text": mail.text,
        "html": mail.html,
        "digest": hex(mail.digest),
        "composed_at": instant(mail.composed_at),
        "state": mail.state.word(),
    })
}
