//! The tables of `migrations/`, as the queries see them. Only column types that every backend has.

diesel::table! {
    stream (id) {
        id -> BigInt,
        fleet_id -> BigInt,
        kind -> SmallInt,
        uid -> Binary,
        head_seq -> BigInt,
        head_hash -> Binary,
    }
}

diesel::table! {
    fact (id) {
        id -> BigInt,
        fleet_id -> BigInt,
        stream_id -> BigInt,
        seq -> BigInt,
        uid -> Binary,
        kind -> Text,
        v -> Integer,
        day -> Date,
        order_in_day -> Integer,
        data -> Text,
        content_digest -> Binary,
        private_digest -> Nullable<Binary>,
        prev_hash -> Binary,
        hash -> Binary,
        posted_by -> Nullable<Binary>,
        recorded_at -> Nullable<BigInt>,
        received_at -> BigInt,
    }
}

diesel::table! {
    fact_private (fleet_id, fact_id) {
        fleet_id -> BigInt,
        fact_id -> BigInt,
        salt -> Binary,
        body -> Text,
    }
}

diesel::table! {
    anchor (fleet_id, seq) {
        fleet_id -> BigInt,
        seq -> BigInt,
        week -> Text,
        made_at -> BigInt,
        heads -> BigInt,
        root -> Binary,
        previous -> Binary,
        hash -> Binary,
    }
}

diesel::table! {
    anchored_head (fleet_id, stream_id, seq) {
        fleet_id -> BigInt,
        stream_id -> BigInt,
        seq -> BigInt,
        hash -> Binary,
        anchor_seq -> BigInt,
    }
}

diesel::table! {
    link (fleet_id, stream_id, other_id) {
        fleet_id -> BigInt,
        stream_id -> BigInt,
        other_id -> BigInt,
    }
}

diesel::table! {
    serial_claim (fleet_id, kind, name, serial, stream_id) {
        fleet_id -> BigInt,
        kind -> SmallInt,
        name -> Text,
        serial -> Text,
        stream_id -> BigInt,
    }
}

diesel::table! {
    owner_claim (fleet_id, owner, stream_id) {
        fleet_id -> BigInt,
        owner -> Binary,
        stream_id -> BigInt,
    }
}

diesel::table! {
    custody (fleet_id, shop, engine_id, fact_uid) {
        fleet_id -> BigInt,
        shop -> Binary,
        engine_id -> BigInt,
        fact_uid -> Binary,
        from_day -> Date,
        until_day -> Date,
        order_in_day -> Integer,
    }
}

diesel::table! {
    api_key (id) {
        id -> BigInt,
        fleet_id -> BigInt,
        hash -> Binary,
        role -> Text,
        party -> Nullable<Binary>,
        label -> Text,
        created_at -> BigInt,
        expires_at -> Nullable<BigInt>,
        revoked_at -> Nullable<BigInt>,
    }
}

diesel::table! {
    party (fleet_id, stream_id) {
        fleet_id -> BigInt,
        stream_id -> BigInt,
        uid -> Binary,
        role -> Text,
        name -> Text,
        email -> Nullable<Text>,
        erased_on -> Nullable<Date>,
    }
}

diesel::table! {
    preference (fleet_id, party, kind) {
        fleet_id -> BigInt,
        party -> Binary,
        kind -> Text,
        weekday -> SmallInt,
        minute_of_day -> SmallInt,
        zone -> Nullable<Text>,
        mode -> Text,
        dates -> Text,
        decimal_mark -> Text,
        hours -> Text,
        changed_at -> Nullable<BigInt>,
        links_generation -> BigInt,
    }
}

diesel::table! {
    calendar_entry (fleet_id, party, uid) {
        fleet_id -> BigInt,
        party -> Binary,
        uid -> Binary,
        sequence -> BigInt,
        day -> Date,
        summary -> Text,
        cancelled -> Bool,
        changed_at -> BigInt,
    }
}

diesel::table! {
    engine_type (id) {
        id -> BigInt,
        fleet_id -> BigInt,
        name -> Text,
        digest -> Binary,
        toml -> Text,
        added_at -> BigInt,
        active_from -> Nullable<Date>,
        replaces -> Nullable<Binary>,
    }
}

diesel::table! {
    engine_status (fleet_id, engine_id) {
        fleet_id -> BigInt,
        engine_id -> BigInt,
        engine -> Binary,
        revision -> BigInt,
        engine_type -> Nullable<Text>,
        type_digest -> Nullable<Binary>,
        serial -> Nullable<Text>,
        aircraft -> Nullable<Binary>,
        mark -> Nullable<Text>,
        owner -> Nullable<Binary>,
        custodian -> Nullable<Binary>,
        custodian_until -> Nullable<Date>,
        tsn_seconds -> Nullable<BigInt>,
        tso_seconds -> Nullable<BigInt>,
        overhauls -> BigInt,
        clock_seconds -> Nullable<BigInt>,
        hours_on -> Nullable<Date>,
        meter_seconds -> Nullable<BigInt>,
        logged -> Bool,
        flying -> Text,
        plan_by -> Text,
        conflicts -> Text,
        wear -> Nullable<Text>,
        trends -> Nullable<Text>,
        wear_version -> Nullable<BigInt>,
    }
}

diesel::table! {
    engine_span (fleet_id, engine_id, from_day) {
        fleet_id -> BigInt,
        engine_id -> BigInt,
        from_day -> Date,
        until_day -> Date,
        rank -> SmallInt,
    }
}

diesel::table! {
    due_line (fleet_id, engine_id, ordinal) {
        fleet_id -> BigInt,
        engine_id -> BigInt,
        ordinal -> Integer,
        item -> Text,
        position -> Nullable<Text>,
        component -> Nullable<Binary>,
        due_on -> Nullable<Date>,
        due_seconds -> Nullable<BigInt>,
        latest_on -> Nullable<Date>,
        latest_seconds -> Nullable<BigInt>,
        unknown_from -> Nullable<Date>,
        coming_from -> Nullable<Date>,
        due_from -> Nullable<Date>,
        late_from -> Nullable<Date>,
        beyond -> SmallInt,
        behind_seconds -> Nullable<BigInt>,
        type_digest -> Binary,
        detail -> Text,
    }
}

diesel::table! {
    report (id) {
        id -> BigInt,
        fleet_id -> BigInt,
        recipient -> Binary,
        kind -> Text,
        week -> Text,
        zone -> Text,
        send_at -> BigInt,
        fixed_as_of -> Nullable<Date>,
        state -> Text,
        reason -> Nullable<Text>,
        next_try_at -> BigInt,
        attempts -> Integer,
        as_of -> Nullable<Date>,
        message_id -> Nullable<Text>,
        to_name -> Nullable<Text>,
        to_address -> Nullable<Text>,
        subject -> Nullable<Text>,
        body_text -> Nullable<Binary>,
        body_html -> Nullable<Binary>,
        digest -> Nullable<Binary>,
        composed_from -> Nullable<Binary>,
        composed_at -> Nullable<BigInt>,
        return_tag -> Nullable<Text>,
        ended_at -> Nullable<BigInt>,
        generation -> BigInt,
        claimed_by -> Nullable<Text>,
        lease_until -> Nullable<BigInt>,
        has_turn -> Bool,
    }
}

diesel::table! {
    attempt (fleet_id, report_id, number) {
        fleet_id -> BigInt,
        report_id -> BigInt,
        number -> Integer,
        at -> BigInt,
        ended_at -> Nullable<BigInt>,
        outcome -> Text,
        code -> Nullable<Integer>,
        enhanced -> Nullable<Text>,
        words -> Text,
    }
}

diesel::table! {
    domain_pace (fleet_id, domain) {
        fleet_id -> BigInt,
        domain -> Binary,
        next_turn_at -> BigInt,
        slow_until -> BigInt,
    }
}

diesel::table! {
    week_run (fleet_id, week) {
        fleet_id -> BigInt,
        week -> Text,
        planned_at -> BigInt,
        mails -> BigInt,
        items -> BigInt,
        overdue -> BigInt,
    }
}

diesel::table! {
    wear_prior (fleet_id, engine_type, version) {
        fleet_id -> BigInt,
        engine_type -> Text,
        version -> BigInt,
        worked_out_on -> Date,
        fleets -> Text,
    }
}

diesel::table! {
    photo (fleet_id, digest) {
        fleet_id -> BigInt,
        digest -> Binary,
        bytes -> Nullable<Binary>,
        received_at -> BigInt,
    }
}

diesel::table! {
    photo_sender (fleet_id, digest, sender) {
        fleet_id -> BigInt,
        digest -> Binary,
        sender -> Binary,
        sent_at -> BigInt,
        size -> BigInt,
    }
}

diesel::table! {
    photo_use (fleet_id, digest, fact_uid) {
        fleet_id -> BigInt,
        digest -> Binary,
        fact_uid -> Binary,
        engine -> Binary,
        posted_by -> Binary,
    }
}

diesel::table! {
    part (fleet_id, stream_id, engine_id) {
        fleet_id -> BigInt,
        stream_id -> BigInt,
        engine_id -> BigInt,
        uid -> Binary,
        kind -> Text,
        lot -> Nullable<Text>,
        serial -> Nullable<Text>,
        maker_part -> Nullable<Text>,
        position -> Nullable<Text>,
        made_first -> Date,
        made_last -> Nullable<Date>,
    }
}

diesel::table! {
    bounce (fleet_id, recipient, kind, week, permanent) {
        fleet_id -> BigInt,
        recipient -> Binary,
        kind -> Text,
        week -> Text,
        permanent -> Bool,
        status -> Text,
        address -> Binary,
        noted_at -> BigInt,
    }
}

diesel::table! {
    mail_hold (fleet_id) {
        fleet_id -> BigInt,
        since -> BigInt,
        reason -> Text,
    }
}

diesel::allow_tables_to_appear_in_same_query!(stream, anchored_head, party, preference);
diesel::allow_tables_to_appear_in_same_query!(
    fact,
    fact_private,
    stream,
    link,
    serial_claim,
    owner_claim
);
diesel::allow_tables_to_appear_in_same_query!(fact, party);
diesel::allow_tables_to_appear_in_same_query!(
    engine_status,
    engine_span,
    custody,
    due_line,
    part,
    engine_type,
    wear_prior
);
diesel::allow_tables_to_appear_in_same_query!(photo_sender, photo_use, report, attempt);
