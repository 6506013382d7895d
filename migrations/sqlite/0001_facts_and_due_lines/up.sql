-- Facts and their chains, and the tables that are worked out from them.
--
-- Every table carries `fleet_id`, and it leads every key but the rowids that joins use. Ids made by
-- clients are 16-byte blobs. Days are ISO 8601 text, instants are microseconds since the Unix epoch in
-- UTC, running hours are whole seconds.

CREATE TABLE fleet (
    id INTEGER NOT NULL PRIMARY KEY,
    name TEXT NOT NULL
) STRICT;

INSERT INTO fleet (id, name) VALUES (1, 'fleet');

-- One row per party, aircraft, engine or component that a fact belongs to or names, and one for the fleet.
-- kind: 1 party, 2 aircraft, 3 engine, 4 component, 5 fleet. head_seq 0: named, but without a fact of its own.
CREATE TABLE stream (
    id INTEGER NOT NULL PRIMARY KEY,
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    kind INTEGER NOT NULL CHECK (kind BETWEEN 1 AND 5),
    uid BLOB NOT NULL CHECK (length(uid) = 16),
    head_seq INTEGER NOT NULL DEFAULT 0 CHECK (head_seq >= 0),
    head_hash BLOB NOT NULL CHECK (length(head_hash) = 32),
    UNIQUE (fleet_id, kind, uid)
) STRICT;

-- Append-only. `data` is canonical JSON; `private_digest` is NULL when the fact came without private text.
CREATE TABLE fact (
    id INTEGER NOT NULL PRIMARY KEY,
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    stream_id INTEGER NOT NULL REFERENCES stream (id),
    seq INTEGER NOT NULL CHECK (seq > 0),
    uid BLOB NOT NULL CHECK (length(uid) = 16),
    kind TEXT NOT NULL,
    v INTEGER NOT NULL,
    day TEXT NOT NULL CHECK (length(day) = 10),
    order_in_day INTEGER NOT NULL,
    data TEXT NOT NULL,
    content_digest BLOB NOT NULL CHECK (length(content_digest) = 32),
    private_digest BLOB CHECK (length(private_digest) = 32),
    prev_hash BLOB NOT NULL CHECK (length(prev_hash) = 32),
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    posted_by BLOB CHECK (length(posted_by) = 16),
    recorded_at INTEGER,
    received_at INTEGER NOT NULL,
    UNIQUE (fleet_id, uid),
    UNIQUE (fleet_id, stream_id, seq)
) STRICT;

-- Leads to the last fact that somebody posted.
CREATE INDEX fact_by_poster ON fact (fleet_id, posted_by, received_at) WHERE posted_by IS NOT NULL;

CREATE TRIGGER fact_is_never_updated BEFORE UPDATE ON fact
BEGIN
    SELECT RAISE(ABORT, 'a fact is never changed: amend it');
END;

CREATE TRIGGER fact_is_never_deleted BEFORE DELETE ON fact
BEGIN
    SELECT RAISE(ABORT, 'a fact is never deleted: withdraw it by an amendment');
END;

-- Free text and names. A row may be erased; the chain then still holds by the digest kept in `fact`.
CREATE TABLE fact_private (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    fact_id INTEGER NOT NULL REFERENCES fact (id),
    salt BLOB NOT NULL CHECK (length(salt) = 32),
    body TEXT NOT NULL,
    PRIMARY KEY (fleet_id, fact_id)
) STRICT;

-- Anchors: each stands for the heads of all streams that moved since the one before. Append-only.
CREATE TABLE anchor (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    seq INTEGER NOT NULL CHECK (seq > 0),
    week TEXT NOT NULL,
    made_at INTEGER NOT NULL,
    heads INTEGER NOT NULL CHECK (heads > 0),
    root BLOB NOT NULL CHECK (length(root) = 32),
    previous BLOB NOT NULL CHECK (length(previous) = 32),
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    PRIMARY KEY (fleet_id, seq)
) STRICT;

-- The heads that each anchor stands for. They are written before their anchor, which is worked out from them.
CREATE TABLE anchored_head (
    fleet_id INTEGER NOT NULL,
    stream_id INTEGER NOT NULL REFERENCES stream (id),
    seq INTEGER NOT NULL CHECK (seq > 0),
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    anchor_seq INTEGER NOT NULL,
    PRIMARY KEY (fleet_id, stream_id, seq),
    FOREIGN KEY (fleet_id, anchor_seq) REFERENCES anchor (fleet_id, seq) DEFERRABLE INITIALLY DEFERRED
) STRICT, WITHOUT ROWID;

CREATE TRIGGER anchor_is_never_updated BEFORE UPDATE ON anchor
BEGIN
    SELECT RAISE(ABORT, 'an anchor is never changed');
END;

CREATE TRIGGER anchor_is_never_deleted BEFORE DELETE ON anchor
BEGIN
    SELECT RAISE(ABORT, 'an anchor is never deleted');
END;

CREATE TRIGGER anchored_head_is_never_updated BEFORE UPDATE ON anchored_head
BEGIN
    SELECT RAISE(ABORT, 'an anchor is never changed');
END;

CREATE TRIGGER anchored_head_is_never_deleted BEFORE DELETE ON anchored_head
BEGIN
    SELECT RAISE(ABORT, 'an anchor is never deleted');
END;

-- Which streams tie their hours to one another. Each link has two rows, one from either end.
CREATE TABLE link (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    stream_id INTEGER NOT NULL REFERENCES stream (id),
    other_id INTEGER NOT NULL REFERENCES stream (id),
    PRIMARY KEY (fleet_id, stream_id, other_id)
) STRICT, WITHOUT ROWID;

-- Serial numbers as ever told: those of engines under their type, those of parts under their kind. Never a key.
CREATE TABLE serial_claim (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    kind INTEGER NOT NULL CHECK (kind IN (3, 4)),
    name TEXT NOT NULL,
    serial TEXT NOT NULL,
    stream_id INTEGER NOT NULL REFERENCES stream (id),
    PRIMARY KEY (fleet_id, kind, name, serial, stream_id)
) STRICT, WITHOUT ROWID;

CREATE INDEX serial_claim_by_stream ON serial_claim (fleet_id, stream_id);

-- What was ever told to belong to somebody: where to look for what did, and when.
CREATE TABLE owner_claim (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    owner BLOB NOT NULL CHECK (length(owner) = 16),
    stream_id INTEGER NOT NULL REFERENCES stream (id),
    PRIMARY KEY (fleet_id, owner, stream_id)
) STRICT, WITHOUT ROWID;

-- The days, first and last included, on which a workshop may see and post about an engine. The one that
-- begins last is its custodian.
CREATE TABLE custody (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    shop BLOB NOT NULL CHECK (length(shop) = 16),
    engine_id INTEGER NOT NULL REFERENCES stream (id),
    fact_uid BLOB NOT NULL CHECK (length(fact_uid) = 16),
    from_day TEXT NOT NULL CHECK (length(from_day) = 10),
    until_day TEXT NOT NULL CHECK (length(until_day) = 10),
    order_in_day INTEGER NOT NULL,
    PRIMARY KEY (fleet_id, shop, engine_id, fact_uid)
) STRICT, WITHOUT ROWID;

CREATE INDEX custody_by_engine ON custody (fleet_id, engine_id);

-- Only the SHA-256 of a key is kept.
CREATE TABLE api_key (
    id INTEGER NOT NULL PRIMARY KEY,
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    hash BLOB NOT NULL CHECK (length(hash) = 32),
    role TEXT NOT NULL,
    party BLOB CHECK (length(party) = 16),
    label TEXT NOT NULL,
    created_at INTEGER NOT NULL,
    expires_at INTEGER,
    revoked_at INTEGER,
    UNIQUE (fleet_id, hash)
) STRICT;

-- Names and addresses as the standing registration gives them, until they are erased.
CREATE TABLE party (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    stream_id INTEGER NOT NULL REFERENCES stream (id),
    uid BLOB NOT NULL CHECK (length(uid) = 16),
    role TEXT NOT NULL,
    name TEXT NOT NULL,
    email TEXT,
    -- The day since which name and address are erased.
    erased_on TEXT CHECK (length(erased_on) = 10),
    PRIMARY KEY (fleet_id, stream_id)
) STRICT;

CREATE INDEX party_by_role ON party (fleet_id, role, stream_id);

-- How each party wants each kind of weekly report; who never chose has no row. weekday: Monday 1 to Sunday 7.
-- zone NULL: that of the service. A link in a mail holds while it names links_generation.
CREATE TABLE preference (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    party BLOB NOT NULL CHECK (length(party) = 16),
    kind TEXT NOT NULL CHECK (kind IN ('owner', 'shop', 'inspector')),
    weekday INTEGER NOT NULL CHECK (weekday BETWEEN 1 AND 7),
    minute_of_day INTEGER NOT NULL CHECK (minute_of_day BETWEEN 0 AND 1439),
    zone TEXT,
    mode TEXT NOT NULL CHECK (mode IN ('every-week', 'when-due-or-changed', 'overdue-only', 'off')),
    dates TEXT NOT NULL CHECK (dates IN ('iso', 'day-month-year', 'month-day-year')),
    decimal_mark TEXT NOT NULL CHECK (decimal_mark IN ('point', 'comma')),
    hours TEXT NOT NULL CHECK (hours IN ('decimal', 'hours-minutes')),
    changed_at INTEGER,
    links_generation INTEGER NOT NULL CHECK (links_generation >= 0),
    PRIMARY KEY (fleet_id, party, kind)
) STRICT;

-- Leads to those who want no mails.
CREATE INDEX preference_by_mode ON preference (fleet_id, mode, changed_at DESC, party);

-- What the calendar of each owner told so far, by the identifier of each event.
CREATE TABLE calendar_entry (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    party BLOB NOT NULL CHECK (length(party) = 16),
    uid BLOB NOT NULL CHECK (length(uid) = 16),
    sequence INTEGER NOT NULL CHECK (sequence >= 0),
    day TEXT NOT NULL CHECK (length(day) = 10),
    summary TEXT NOT NULL,
    cancelled INTEGER NOT NULL CHECK (cancelled IN (0, 1)),
    changed_at INTEGER NOT NULL,
    PRIMARY KEY (fleet_id, party, uid)
) STRICT, WITHOUT ROWID;

-- Every version of every engine type. The activations on record say which version of a name is active, and
-- since when; at most one is.
CREATE TABLE engine_type (
    id INTEGER NOT NULL PRIMARY KEY,
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    name TEXT NOT NULL,
    digest BLOB NOT NULL CHECK (length(digest) = 32),
    toml TEXT NOT NULL,
    added_at INTEGER NOT NULL,
    active_from TEXT CHECK (length(active_from) = 10),
    -- The version that was active before the active one.
    replaces BLOB CHECK (length(replaces) = 32),
    UNIQUE (fleet_id, name, digest)
) STRICT;

CREATE UNIQUE INDEX engine_type_active ON engine_type (fleet_id, name) WHERE active_from IS NOT NULL;

-- How each engine stands on record.
CREATE TABLE engine_status (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    engine_id INTEGER NOT NULL REFERENCES stream (id),
    engine BLOB NOT NULL CHECK (length(engine) = 16),
    -- Grows whenever the engine is worked out anew, which every fact that its due lines rest on brings about.
    revision INTEGER NOT NULL CHECK (revision > 0),
    engine_type TEXT,
    type_digest BLOB CHECK (length(type_digest) = 32),
    serial TEXT,
    aircraft BLOB CHECK (length(aircraft) = 16),
    mark TEXT,
    owner BLOB CHECK (length(owner) = 16),
    custodian BLOB CHECK (length(custodian) = 16),
    custodian_until TEXT,
    tsn_seconds INTEGER,
    tso_seconds INTEGER,
    overhauls INTEGER NOT NULL CHECK (overhauls >= 0),
    -- The engine's own count at the last reading: since new when logged, else since it was registered.
    clock_seconds INTEGER,
    hours_on TEXT,
    meter_seconds INTEGER,
    logged INTEGER NOT NULL CHECK (logged IN (0, 1)),
    -- How its aircraft flies, as JSON: what forecasts of its lines need beside them.
    flying TEXT NOT NULL,
    -- The day to plan each due line by, in the order of the lines: ten characters and a space for each.
    plan_by TEXT NOT NULL,
    conflicts TEXT NOT NULL,
    -- What was measured of an engine with a log, as JSON; none where nothing was.
    wear TEXT,
    -- What the parts of an engine with a log tell of how its type wears, as JSON; none where they tell nothing.
    trends TEXT,
    -- The version of how its type wears that its lines follow; 0 where there was none yet, none where nothing that
    -- wears was measured of it.
    wear_version INTEGER,
    PRIMARY KEY (fleet_id, engine_id)
) STRICT;

CREATE INDEX engine_status_by_owner ON engine_status (fleet_id, owner, engine_id);
-- Leads to the measured engines of a type, those registered last first.
CREATE INDEX engine_status_measured ON engine_status (fleet_id, engine_type, engine_id) WHERE wear IS NOT NULL;
-- Leads to the engines of a type that tell how it wears, those registered last first.
CREATE INDEX engine_status_telling ON engine_status (fleet_id, engine_type, engine_id) WHERE trends IS NOT NULL;
-- Leads to the engines that follow an early version of how their type wears.
CREATE INDEX engine_status_by_wear ON engine_status (fleet_id, engine_type, wear_version) WHERE wear_version IS NOT NULL;
-- Leads to the engines that are still counted by an earlier version of their type.
CREATE INDEX engine_status_by_version ON engine_status (fleet_id, engine_type, type_digest, engine_id);

-- The worst status over an engine's lines, day by day: true from from_day to until_day, both included.
-- rank: 0 the worst, 6 the best.
CREATE TABLE engine_span (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    engine_id INTEGER NOT NULL REFERENCES stream (id),
    from_day TEXT NOT NULL CHECK (length(from_day) = 10),
    until_day TEXT NOT NULL CHECK (length(until_day) = 10),
    rank INTEGER NOT NULL CHECK (rank BETWEEN 0 AND 6),
    PRIMARY KEY (fleet_id, engine_id, from_day)
) STRICT, WITHOUT ROWID;

CREATE INDEX engine_span_worst_first ON engine_span (fleet_id, rank, engine_id, from_day, until_day);

-- One row per due line, in the order of the programme. `detail` is JSON with all the rest.
-- beyond: 0 a tolerance follows due, 1 an extension does.
CREATE TABLE due_line (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    engine_id INTEGER NOT NULL REFERENCES stream (id),
    ordinal INTEGER NOT NULL,
    item TEXT NOT NULL,
    position TEXT,
    component BLOB CHECK (length(component) = 16),
    due_on TEXT,
    due_seconds INTEGER,
    latest_on TEXT,
    latest_seconds INTEGER,
    unknown_from TEXT,
    coming_from TEXT,
    due_from TEXT,
    late_from TEXT,
    beyond INTEGER NOT NULL CHECK (beyond IN (0, 1)),
    -- How far the line's own count stands behind the engine's: a reading moves both, and leaves this row alone.
    behind_seconds INTEGER,
    type_digest BLOB NOT NULL CHECK (length(type_digest) = 32),
    detail TEXT NOT NULL,
    PRIMARY KEY (fleet_id, engine_id, ordinal)
) STRICT;

-- Photographs, by the SHA-256 of their bytes. Of one that was erased the row stays, without its bytes, so that
-- nobody sends it again.
CREATE TABLE photo (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    digest BLOB NOT NULL CHECK (length(digest) = 32),
    bytes BLOB,
    received_at INTEGER NOT NULL,
    PRIMARY KEY (fleet_id, digest)
) STRICT;

-- Who sent a photograph, and when: the party of a workshop's key, or the nil UUID for the operator.
CREATE TABLE photo_sender (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    digest BLOB NOT NULL CHECK (length(digest) = 32),
    sender BLOB NOT NULL CHECK (length(sender) = 16),
    sent_at INTEGER NOT NULL,
    size INTEGER NOT NULL,
    PRIMARY KEY (fleet_id, digest, sender)
) STRICT, WITHOUT ROWID;

CREATE INDEX photo_sender_by_time ON photo_sender (fleet_id, sender, sent_at);

-- The records that name a photograph, with the engines that they are about and who posted them.
CREATE TABLE photo_use (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    digest BLOB NOT NULL CHECK (length(digest) = 32),
    fact_uid BLOB NOT NULL CHECK (length(fact_uid) = 16),
    engine BLOB NOT NULL CHECK (length(engine) = 16),
    posted_by BLOB NOT NULL CHECK (length(posted_by) = 16),
    PRIMARY KEY (fleet_id, digest, fact_uid)
) STRICT, WITHOUT ROWID;

-- Parts as searches find them: one row for each engine that a part is on, or one with engine_id 0 for a part
-- that is on none. made_first: the first day on which it may have been made; the first of all days when its age is
-- not known.
CREATE TABLE part (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    stream_id INTEGER NOT NULL REFERENCES stream (id),
    engine_id INTEGER NOT NULL,
    uid BLOB NOT NULL CHECK (length(uid) = 16),
    kind TEXT NOT NULL,
    lot TEXT,
    serial TEXT,
    maker_part TEXT,
    position TEXT,
    made_first TEXT NOT NULL CHECK (length(made_first) = 10),
    made_last TEXT CHECK (length(made_last) = 10),
    PRIMARY KEY (fleet_id, stream_id, engine_id)
) STRICT, WITHOUT ROWID;

CREATE INDEX part_by_engine ON part (fleet_id, engine_id, stream_id);
CREATE INDEX part_by_made ON part (fleet_id, made_first, stream_id, engine_id);
CREATE INDEX part_by_kind ON part (fleet_id, kind, made_first, stream_id, engine_id);
CREATE INDEX part_by_kind_and_lot ON part (fleet_id, kind, lot, made_first, stream_id, engine_id);
CREATE INDEX part_by_lot ON part (fleet_id, lot, made_first, stream_id, engine_id);

-- How many rows the first column of each index leaves, then the first two, and so on, in a large fleet. Without
-- these numbers the planner takes the fleet alone for a narrow choice, and goes through all of it where another
-- index leads straight to the row (https://www.sqlite.org/optoverview.html#manctrl).
ANALYZE part;
INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES
    ('serial_claim', 'serial_claim', '1000000 1000000 500000 50000 2 1'),
    ('serial_claim', 'serial_claim_by_stream', '1000000 1000000 2 2 2 1'),
    ('custody', 'custody', '1000000 1000000 5000 2 1'),
    ('custody', 'custody_by_engine', '1000000 1000000 2 2 1'),
    ('part', 'part', '1000000 1000000 1 1'),
    ('part', 'part_by_engine', '1000000 1000000 20 1'),
    ('part', 'part_by_made', '1000000 1000000 300 1 1'),
    ('part', 'part_by_kind', '1000000 1000000 50000 20 1 1'),
    ('part', 'part_by_kind_and_lot', '1000000 1000000 50000 100 10 1 1'),
    ('part', 'part_by_lot', '1000000 1000000 100 10 1 1');
ANALYZE sqlite_schema;

-- The outbox: planned first, composed when it is about to leave; the columns from as_of to composed_at are NULL
-- until then. How far each has come is told in `deliveries.rs`; withdrawn is one whose recipient was erased.
-- `digest` is that of subject and parts, and stays when their words are taken.
CREATE TABLE report (
    id INTEGER NOT NULL PRIMARY KEY,
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    recipient BLOB NOT NULL CHECK (length(recipient) = 16),
    kind TEXT NOT NULL CHECK (kind IN ('owner', 'shop', 'inspector')),
    week TEXT NOT NULL,
    -- The zone that the recipient's day is told in.
    zone TEXT NOT NULL,
    send_at INTEGER NOT NULL,
    -- The day to work it out for, when it is not the recipient's own.
    fixed_as_of TEXT CHECK (length(fixed_as_of) = 10),
    state TEXT NOT NULL CHECK (state IN ('planned', 'sending', 'transmitting', 'deferred', 'accepted',
        'unknown', 'failed', 'skipped', 'suppressed', 'withdrawn')),
    reason TEXT,
    next_try_at INTEGER NOT NULL,
    attempts INTEGER NOT NULL CHECK (attempts >= 0),
    as_of TEXT CHECK (length(as_of) = 10),
    message_id TEXT,
    to_name TEXT,
    to_address TEXT,
    subject TEXT,
    -- Compressed; empty once they are taken.
    body_text BLOB,
    body_html BLOB,
    digest BLOB CHECK (length(digest) = 32),
    -- Another one when any of what it was composed from has changed.
    composed_from BLOB CHECK (length(composed_from) = 32),
    composed_at INTEGER,
    -- Of the address that it comes back to; drawn when it is first composed.
    return_tag TEXT,
    ended_at INTEGER,
    -- How often it was claimed: who holds another number holds nothing.
    generation INTEGER NOT NULL,
    claimed_by TEXT,
    lease_until INTEGER,
    -- Whether it waits for a turn of its domain that is its own.
    has_turn INTEGER NOT NULL CHECK (has_turn IN (0, 1)),
    UNIQUE (fleet_id, recipient, kind, week)
) STRICT;

CREATE INDEX report_by_state ON report (fleet_id, state, next_try_at, id);
CREATE UNIQUE INDEX report_by_return_tag ON report (fleet_id, return_tag);
CREATE INDEX report_by_week ON report (fleet_id, week, state, id);
-- Leads to the old ones whose words are still kept.
CREATE INDEX report_with_words ON report (fleet_id, composed_at) WHERE subject <> '';

-- Mails that came back, each once for each kind of failure; permanent: a status of class 5. `address` is the
-- digest of where it was sent.
CREATE TABLE bounce (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    recipient BLOB NOT NULL CHECK (length(recipient) = 16),
    kind TEXT NOT NULL,
    week TEXT NOT NULL,
    permanent INTEGER NOT NULL CHECK (permanent IN (0, 1)),
    status TEXT NOT NULL,
    address BLOB NOT NULL CHECK (length(address) = 32),
    noted_at INTEGER NOT NULL,
    PRIMARY KEY (fleet_id, recipient, kind, week, permanent)
) STRICT, WITHOUT ROWID;

CREATE INDEX bounce_by_address ON bounce (fleet_id, permanent, address);

-- Every attempt to hand a mail over, from 1, and how it ended. `words` may name the address.
CREATE TABLE attempt (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    report_id INTEGER NOT NULL REFERENCES report (id),
    number INTEGER NOT NULL CHECK (number > 0),
    at INTEGER NOT NULL,
    ended_at INTEGER,
    outcome TEXT NOT NULL CHECK (outcome IN ('begun', 'accepted', 'deferred', 'refused', 'unknown')),
    code INTEGER,
    enhanced TEXT,
    words TEXT NOT NULL,
    PRIMARY KEY (fleet_id, report_id, number)
) STRICT, WITHOUT ROWID;

-- When the next mail to each domain has its turn, and until when none is sent there. `domain` is a SHA-256.
CREATE TABLE domain_pace (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    domain BLOB NOT NULL CHECK (length(domain) = 32),
    next_turn_at INTEGER NOT NULL,
    slow_until INTEGER NOT NULL,
    PRIMARY KEY (fleet_id, domain)
) STRICT, WITHOUT ROWID;

-- What each week's reports came to when they were planned.
CREATE TABLE week_run (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    week TEXT NOT NULL,
    planned_at INTEGER NOT NULL,
    mails INTEGER NOT NULL,
    items INTEGER NOT NULL,
    overdue INTEGER NOT NULL,
    PRIMARY KEY (fleet_id, week)
) STRICT, WITHOUT ROWID;

-- How the logged engines of each type wear, as it was worked out on a day. A version stays as it is, for lines follow it.
CREATE TABLE wear_prior (
    fleet_id INTEGER NOT NULL REFERENCES fleet (id),
    engine_type TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version > 0),
    worked_out_on TEXT NOT NULL CHECK (length(worked_out_on) = 10),
    -- The lines of each quantity with how many engines they were learnt from, as JSON.
    fleets TEXT NOT NULL,
    PRIMARY KEY (fleet_id, engine_type, version)
) STRICT, WITHOUT ROWID;

-- While there is a row, no mail leaves: `reason` says why.
CREATE TABLE mail_hold (
    fleet_id INTEGER NOT NULL PRIMARY KEY REFERENCES fleet (id),
    since INTEGER NOT NULL,
    reason TEXT NOT NULL
) STRICT;
