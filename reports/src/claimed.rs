//! From claimed reports to mails that are ready to leave: composed from what is on record now, so that nobody is
//! told to do what is done. One composed before is kept while nothing that it was composed from has changed.

use crate::contents::{Asked, ComposeError, Contents, Snapshot};
use crate::deliver::{Delivery, DeliveryError, DeliverySummary, Ready};
use crate::sender::address;
use chrono::NaiveDate;
use gudgeon_life::ids::PartyId;
use gudgeon_life::preference::ReportKind;
use gudgeon_store::{Claim, NewMail, OutboxRow, PartyRow, Unsent};
use std::collections::{BTreeMap, HashMap};

/// Why one is not sent that should have been long ago.
const TOO_LATE: &str = "too late";

/// A claimed report of which it is not known yet what it says.
type Claimed<'a> = &'a (Claim, OutboxRow);

/// How many reports of a kind are composed together: an owner has a few engines and all inspectors are told of the same
/// ones, but a workshop holds hundreds, whose records are in memory meanwhile.
const fn at_once(kind: ReportKind) -> usize {
    match kind {
        ReportKind::Owner | ReportKind::Inspector => 20,
        ReportKind::Shop => 1,
    }
}

/// What was composed just now, before it is kept.
struct Draft {
    claim: Claim,
    asked: Asked,
    message_id: String,
    to_name: String,
    to_address: String,
    subject: String,
    text: String,
    html: String,
    composed_from: [u8; 32],
}

impl Delivery<'_> {
    /// The mails of claimed reports. What does not leave has been ended for its reason.
    pub(crate) fn compose_all(
        &self,
        claimed: &[(Claim, OutboxRow)],
        summary: &mut DeliverySummary,
    ) -> Result<Vec<Ready>, DeliveryError> {
        let now = (self.clock)();
        let mut timely = Vec::new();
        for it in claimed {
            let (claim, row) = it;
            if row.attempts == 0 && self.rules.is_too_late(row.send_at, now) {
                summary.skipped += 1;
                self.leave(*claim, Unsent::Skipped(TOO_LATE))?;
            } else {
                timely.push(it);
            }
        }
        // In the east it may be another day already.
        let mut alike: BTreeMap<(&str, NaiveDate), Vec<Claimed<'_>>> = BTreeMap::new();
        for it in timely {
            let day = || it.1.zone.day(now.0);
            let as_of = it.1.fixed_as_of.unwrap_or_else(day);
            alike.entry((it.1.kind.word(), as_of)).or_default().push(it);
        }
        let mut ready = Vec::new();
        for ((_, as_of), claimed) in alike {
            let kind = claimed.first().map_or(ReportKind::Owner, |(_, row)| row.kind);
            for some in claimed.chunks(at_once(kind)) {
                ready.extend(self.compose_alike(as_of, some, summary)?);
            }
        }
        ready.sort_by_key(|ready| (ready.row.next_try_at, ready.row.key));
        Ok(ready)
    }

    /// Reports of one kind, all as of one day.
    fn compose_alike(
        &self,
        as_of: NaiveDate,
        claimed: &[Claimed<'_>],
        summary: &mut DeliverySummary,
    ) -> Result<Vec<Ready>, DeliveryError> {
        let Some((_, first)) = claimed.first() else { return Ok(Vec::new()) };
        let (kind, store) = (first.kind, self.composer.store);
        let ids: Vec<PartyId> = claimed.iter().map(|(_, row)| row.recipient).collect();
        let parties = store.parties_of(&ids)?.into_iter();
        let parties: HashMap<PartyId, PartyRow> = parties.map(|it| (it.party, it)).collect();
        let preferences = store.preferences(&ids, kind)?;
        let mut known = Vec::new();
        for it in claimed {
            let party = parties.get(&it.1.recipient).filter(|party| party.erased_on.is_none());
            if let Some(party) = party {
                known.push((*it, party.clone()));
            } else {
                summary.skipped += 1;
                self.leave(it.0, Unsent::Skipped("its recipient is not on record"))?;
            }
        }
        let (known, recipients): (Vec<Claimed<'_>>, Vec<PartyRow>) = known.into_iter().unzip();
        let snapshots = self.composer.load(kind, &recipients, as_of, (self.clock)())?;
        let (mut ready, mut drafts, mut rows) = (Vec::new(), Vec::new(), HashMap::new());
        for ((it, party), snapshot) in known.into_iter().zip(&recipients).zip(&snapshots) {
            let preference = preferences.get(&party.party).copied().unwrap_or_default();
            let asked = self.composer.asked((kind, party.party), (it.1.week, as_of), &preference);
            match self.compose_one(it, party, (snapshot, asked), summary)? {
                Composed::AsBefore(it) => ready.push(*it),
                Composed::New(draft) => {
                    rows.insert(it.1.key, &it.1);
                    drafts.push(draft);
                }
                Composed::Ended => {}
            }
        }
        let mails: Vec<(Claim, NewMail<'_>)> =
            drafts.iter().map(|draft| (draft.claim, draft.mail((self.clock)()))).collect();
        for (claim, mail) in store.keep_mails(&mails)? {
            if let Some(row) = rows.remove(&mail.key) {
                ready.push(Ready { claim, row: row.clone(), mail });
            }
        }
        Ok(ready)
    }

    fn compose_one(
        &self,
        (claim, row): Claimed<'_>,
        party: &PartyRow,
        (snapshot, asked): (&Snapshot, Asked),
        summary: &mut DeliverySummary,
    ) -> Result<Composed, DeliveryError> {
        let rendered = match self.composer.contents(snapshot, &asked).map_err(ComposeError::from)? {
            Contents::Composed(rendered) => rendered,
            Contents::NothingToSay(why) => {
                summary.skipped += 1;
                self.leave(*claim, Unsent::Skipped(why))?;
                return Ok(Composed::Ended);
            }
        };
        let to_address = match party.email.as_deref().map(address) {
            Some(Some(to_address)) => to_address.to_string(),
            no_address => {
                let why = if no_address.is_none() {
                    "no address on record"
                } else {
                    "not a mail address"
                };
                self.give_up(*claim, row, why, summary)?;
                return Ok(Composed::Ended);
            }
        };
        if self.composer.store.is_suppressed(&to_address)? {
            summary.suppressed += 1;
            self.leave(*claim, Unsent::Suppressed)?;
            return Ok(Composed::Ended);
        }
        let composed_from = snapshot.digest(asked.preference.style, &to_address);
        if let Some(mail) = row.mail.clone().filter(|_| row.composed_from == Some(composed_from)) {
            let ready = Ready { claim: *claim, row: row.clone(), mail };
            return Ok(Composed::AsBefore(Box::new(ready)));
        }
        Ok(Composed::New(Box::new(Draft {
            claim: *claim,
            asked,
            message_id: self.sender.message_id(
                row.kind.word(),
                &row.week.to_string(),
                row.recipient,
            ),
            to_name: snapshot.name().to_owned(),
            to_address,
            subject: rendered.subject,
            text: rendered.text,
            html: rendered.html,
            composed_from,
        })))
    }
}

/// What composing one report came to.
enum Composed {
    /// A mail that was composed earlier, and still says what it would say now.
    AsBefore(Box<Ready>),
    /// A new mail.
    New(Box<Draft>),
    /// No mail; the report was ended for its reason.
    Ended,
}

impl Draft {
    fn mail(&self, composed_at: gudgeon_store::Instant) -> NewMail<'_> {
        NewMail {
            as_of: self.asked.as_of,
            message_id: &self.message_id,
            to_name: &self.to_name,
            to_address: &self.to_address,
            subject: &self.subject,
            text: &self.text,
            html: &self.html,
            composed_from: self.composed_from,
            composed_at,
        }
    }
}
