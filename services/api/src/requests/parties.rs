//! Owners, workshops and inspectors. Their names and addresses are personal: they travel beside the fact.

use super::{Context, NAME_CHARS_MAX, NOTE_CHARS_MAX, UNDATED, end, entry};
use crate::read::{Fields, Value};
use gudgeon_life::fact::{
    Content, Custody, Entry, Erased, Host, Ownership, PartyRegistered, PartyRole,
};
use gudgeon_life::ids::{EngineId, PartyId};
use std::collections::BTreeSet;

/// Characters in an e-mail address (RFC 5321 section 4.5.3.1.3 allows a path of 256 with its brackets).
const EMAIL_CHARS_MAX: usize = 254;

/// `{name, email?}`.
pub(crate) fn shop(id: PartyId, fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    party(id, PartyRole::Shop, fields, context)
}

/// `{name, email?}`.
pub(crate) fn owner(id: PartyId, fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    party(id, PartyRole::Owner, fields, context)
}

/// `{name, email?}`.
pub(crate) fn inspector(id: PartyId, fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    party(id, PartyRole::Inspector, fields, context)
}

fn party(party: PartyId, role: PartyRole, fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    context.private(fields.required("name"), NAME_CHARS_MAX);
    let email = fields.optional("email");
    if email.as_ref().is_none_or(is_address) {
        context.private(email, EMAIL_CHARS_MAX);
    }
    entry(fields, Some(UNDATED), Some(Content::PartyRegistered(PartyRegistered { party, role })))
}

/// `{on, owner}`.
pub(crate) fn ownership(of: Host, fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    let owner = fields.required("owner").and_then(|it| it.uid()).map(PartyId);
    context.dated(fields, owner.map(|owner| Content::Ownership(Ownership { of, owner })))
}

/// `{on, shop, until?}`.
pub(crate) fn custody(engine: EngineId, fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    let on = context.day(fields.required("on"));
    let shop = fields.required("shop").and_then(|it| it.uid()).map(PartyId);
    let until = end(fields.optional("until"), on);
    let says = shop.map(|shop| Content::Custody(Custody { engine, shop, until }));
    entry(fields, on, says)
}

/// `{on, reason?}`, and `notes?: true` for an owner. Which facts it takes is found when it is stored.
pub(crate) fn erasure(
    party: PartyId,
    role: PartyRole,
    fields: &Fields<'_>,
    context: &Context,
) -> Option<Entry> {
    let notes = match role {
        PartyRole::Owner => fields.optional("notes").and_then(|it| it.flag()).unwrap_or(false),
        PartyRole::Shop | PartyRole::Inspector => false,
    };
    context.private(fields.optional("reason"), NOTE_CHARS_MAX);
    let says =
        Content::Erased(Erased { party, notes, facts: BTreeSet::new(), photos: BTreeSet::new() });
    context.dated(fields, Some(says))
}

/// Whether a text can be an e-mail address: one `@` with something on both sides, plain ASCII, no space.
/// More can only be learnt by writing to it.
fn is_address(value: &Value<'_>) -> bool {
    let Some(text) = value.string("an e-mail address") else { return false };
    let parts = text.trim().split_once('@');
    let plain = text.trim().bytes().all(|b| b.is_ascii_graphic() && !b"<>()[],;:\\\"".contains(&b));
    let right = plain
        && parts.is_some_and(|(local, domain)| {
            !local.is_empty() && domain.contains('.') && !domain.contains('@')
        });
    if !right {
        let detail = "this is not an e-mail address; write it such as name@example.org";
        value.fault::<()>("bad-email", detail);
    }
    right
}
