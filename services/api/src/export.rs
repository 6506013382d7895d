//! Everything on record about one owner, as one JSON document written piece by piece, however long it gets.
//!
//! `{exported_at, owner, records, owned: [{kind, id, from, until, records}], mails}`: what the owner was told
//! to be, what belonged to them with all that was told of it on those days, and every mail composed for them.
//! `until` is the day from which a thing was somebody else's.

use crate::answers::{instant, records};
use crate::problem::Problem;
use gudgeon_life::fact::{PartyRole, Stream};
use gudgeon_life::ids::PartyId;
use gudgeon_life::owned::Owned;
use gudgeon_life::version::hex;
use gudgeon_store::{Instant, PartyRow, ReportRow, Store, while_owned};
use serde_json::{Value, json};
use std::vec;

/// Mails read at a time.
const MAILS: i64 = 50;

/// The pieces of an export, one after the other.
pub struct OwnerExport {
    store: Store,
    owner: PartyId,
    next: Step,
}

/// What is written next.
enum Step {
    Head(Box<PartyRow>, Instant),
    /// Whether it is the first of its list, in this step and the next.
    Owned(vec::IntoIter<Owned>, bool),
    Mails(i64, bool),
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
        Ok(party.map(|party| Self { store: store.clone(), owner, next: head(party) }))
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
                match mails.last() {
                    Some(last) => {
                        let written: Vec<Value> = mails.iter().map(mail).collect();
                        (separated(first, &written), Step::Mails(last.key, false))
                    }
                    None => ("]}\n".to_owned(), Step::Done),
                }
            }
            Step::Done => return Ok(None),
        };
        self.next = next;
        Ok(Some(piece))
    }

    fn thing(&self, owned: &Owned) -> Result<Value, Problem> {
        let told = while_owned(self.store.facts_of(owned.of)?, owned);
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
