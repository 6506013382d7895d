//! Erasing people: nothing of the words is left in the database, and every chain still holds.

use super::mails::compose;
use super::raw::{Line, hex, holds, left, raw};
use super::sample::{
    AT_ONCE, Bench, LATER, NOW, Programme, aircraft, aircraft_registered, amended, claimed, day,
    engine, fact, inspected, installed, owned, owner, party, post, read, registered, uid, verify,
};
use crate::packed::Packed;
use crate::{
    Appended, Begun, Ending, Fault, FaultAt, NewKey, NewMail, Post, ReportState, Role, StoreError,
    Texts, Verified, verify_export,
};
use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use gudgeon_databases::Kind;
use gudgeon_life::fact::{Content, Erased, Fact, Host, PartyRegistered, PartyRole, Stream};
use gudgeon_life::ids::FactId;
use std::collections::BTreeSet;

/// Words that stand nowhere else.
const NAME: &str = "Ermintrude Quillfeather";
const EMAIL: &str = "ermintrude@quillfeather.example";
const LATER_NAME: &str = "Ermintrude Plumtree";
const NOTE: &str = "the owner coughs a lot";
const RELEASED_BY: &str = "B. Inspector";
const PERSONAL: [&str; 5] =
    ["Ermintrude", "Quillfeather", "quillfeather.example", "Plumtree", "coughs"];

/// No word at all.
const NONE: [&str; 0] = [];

fn told(fact: Fact, texts: &[(&str, &str)]) -> Post {
    let private = texts.iter().map(|(at, text)| ((*at).to_owned(), (*text).to_owned())).collect();
    Post { texts: Texts { private, ..Texts::default() }, ..post(fact) }
}

fn append(bench: &Bench, post: &Post) -> Appended {
    bench.store.append(post, &Programme).expect("stored")
}

fn erased(id: u8, n: u8, notes: bool) -> Post {
    let content =
        Erased { party: party(n), notes, facts: BTreeSet::new(), photos: BTreeSet::new() };
    told(fact(id, "2026-11-25", Content::Erased(content)), &[("/reason", "asked for it")])
}

/// A mail to owner 70.
fn mail() -> NewMail<'static> {
    NewMail {
        as_of: day("2026-11-25"),
        message_id: "<1@example.invalid>",
        to_name: LATER_NAME,
        to_address: EMAIL,
        subject: "For Ermintrude",
        text: "Dear Ermintrude",
        html: "<p>Dear Ermintrude</p>",
        composed_from: [7; 32],
        composed_at: NOW,
    }
}

/// The registration of owner 70.
fn registration() -> Post {
    told(owner(70, 70), &[("/name", NAME), ("/email", EMAIL)])
}

/// Owner 70 with an amended name, two mails, and engine 1 in their aircraft from 1 January to 1 June 2026: one
/// inspection with a note and a release and one with a release alone in that time, one with a note after it.
fn story() -> Bench {
    let bench = Bench::with_type();
    append(&bench, &registration());
    let again = amended(71, 70, Stream::party(party(70)), Some(owner(70, 70)));
    append(&bench, &told(again, &[("/reason", "married"), ("/record/name", LATER_NAME)]));
    bench.append(registered(1, "2026-01-01", 1, "1000"));
    bench.append(aircraft_registered(2, "2026-01-01", 50));
    bench.append(installed(3, "2026-01-01", 1, 50, "500"));
    bench.append(owned(4, "2026-01-01", Host::Aircraft(aircraft(50)), 70));
    bench.append(owned(5, "2026-06-01", Host::Aircraft(aircraft(50)), 72));
    let release = ("/release/by", RELEASED_BY);
    append(&bench, &told(inspected(6, "2026-02-01", 1, "510"), &[("/note", NOTE), release]));
    append(&bench, &told(inspected(7, "2026-03-01", 1, "520"), &[release]));
    append(&bench, &told(inspected(8, "2026-07-01", 1, "530"), &[("/note", "a later note")]));
    let store = &bench.store;
    compose(store, 70, "2026-W47", &mail());
    let (claim, _) = claimed(store, 1).remove(0);
    let begun = store.begin_transmitting(claim, AT_ONCE, NOW, LATER).expect("an answer");
    assert_eq!(begun, Begun::Yes);
    let receipt = format!("250 delivered to {EMAIL}");
    assert!(store.end_delivery(claim, Ending::Accepted(&receipt), NOW).expect("an answer"));
    compose(store, 70, "2026-W48", &mail());
    bench
}

fn taken(appended: &Appended) -> Vec<FactId> {
    let (Appended::Created(stored) | Appended::Same(stored) | Appended::Differs(stored)) = appended;
    match &stored.fact.entry.content {
        Content::Erased(it) => it.facts.iter().copied().collect(),
        other => panic!("no erasure: {other:?}"),
    }
}

fn facts(ids: &[u8]) -> Vec<FactId> {
    ids.iter().map(|id| FactId(uid(*id))).collect()
}

#[test]
fn no_erased_word_is_left_and_every_chain_holds() {
    let bench = story();
    assert_eq!(left(&bench, &PERSONAL), PERSONAL, "the words are found where they are");
    let packed = Packed::of(mail().html);
    assert!(holds(&raw(&bench), packed.bytes()), "and those of mails, which are compressed");
    let appended = bench.store.erase(&erased(200, 70, true), &Programme).expect("erased");
    assert!(matches!(appended, Appended::Created(_)), "{appended:?}");
    assert_eq!(taken(&appended), facts(&[6, 70, 71]));
    assert_eq!(left(&bench, &PERSONAL), NONE);
    assert!(!holds(&raw(&bench), packed.bytes()));
    // Another's word, a later owner's note and the reason stay.
    let others = [RELEASED_BY, "a later note", "asked for it"];
    assert_eq!(left(&bench, &others), others);
    assert!(verify(&bench.store).is_ok(), "{:?}", verify(&bench.store));
}

#[test]
fn without_notes_only_what_is_told_of_the_person_goes() {
    let bench = story();
    let appended = bench.store.erase(&erased(200, 70, false), &Programme).expect("erased");
    assert_eq!(taken(&appended), facts(&[70, 71]));
    assert_eq!(left(&bench, &PERSONAL), ["coughs"]);
    assert!(verify(&bench.store).is_ok(), "{:?}", verify(&bench.store));
}

#[test]
fn what_rests_on_a_person_says_that_they_were_erased() {
    let bench = story();
    let (in_hand, _) = claimed(&bench.store, 1).remove(0);
    bench.store.erase(&erased(200, 70, false), &Programme).expect("erased");
    let row = bench.store.party(party(70)).expect("readable").expect("it is there");
    assert_eq!((row.name.as_str(), row.email, row.erased_on), ("", None, Some(day("2026-11-25"))));
    // The mail of this week was in somebody's hands, who must not hand it over any more.
    let begun = bench.store.begin_transmitting(in_hand, AT_ONCE, NOW, LATER).expect("an answer");
    assert_eq!(begun, Begun::Lost);
    assert!(claimed(&bench.store, 9).is_empty());
    // One that was composed before and is kept after comes too late.
    assert_eq!(bench.store.keep_mails(&[(in_hand, mail())]).expect("an answer"), []);
    let mails = bench.store.reports_of(party(70), 0, 9).expect("readable");
    let states: Vec<ReportState> = mails.iter().map(|it| it.state).collect();
    assert_eq!(states, [ReportState::Accepted, ReportState::Withdrawn]);
    // SHA-256 of "gudgeon/mail/v1", a zero, and the three parts, each after its length in eight bytes; by
    // hashlib of Python.
    assert_eq!(hex(&mails[0].digest[..4]), "4fabc7c7");
}

#[test]
fn erased_text_never_comes_back() {
    let bench = story();
    bench.store.erase(&erased(200, 70, true), &Programme).expect("erased");
    assert!(matches!(append(&bench, &registration()), Appended::Same(_)));
    let once_more = amended(72, 70, Stream::party(party(70)), Some(owner(70, 70)));
    let again = append(&bench, &told(once_more, &[("/record/name", NAME)]));
    let Appended::Created(stored) = again else { panic!("{again:?}") };
    assert!(stored.texts.private.is_empty(), "{stored:?}");
    assert_eq!(left(&bench, &PERSONAL), NONE);
    assert!(verify(&bench.store).is_ok(), "{:?}", verify(&bench.store));
    // The same erasure again is the same; another one under its id is not.
    let same = bench.store.erase(&erased(200, 70, true), &Programme).expect("an answer");
    assert!(matches!(same, Appended::Same(_)), "{same:?}");
    let other = bench.store.erase(&erased(200, 70, false), &Programme).expect("an answer");
    assert!(matches!(other, Appended::Differs(_)), "{other:?}");
}

// The same posts in another order leave the same: the person is gone, the chain holds.
#[test]
fn a_registration_that_comes_after_the_erasure_brings_no_name() {
    let bench = Bench::new();
    bench.store.erase(&erased(200, 70, false), &Programme).expect("erased");
    append(&bench, &registration());
    let row = bench.store.party(party(70)).expect("readable").expect("it is there");
    assert_eq!((row.name.as_str(), row.erased_on), ("", Some(day("2026-11-25"))));
    assert_eq!(left(&bench, &PERSONAL), NONE);
    assert!(verify(&bench.store).is_ok(), "{:?}", verify(&bench.store));
}

// A registration that was withdrawn names nobody to write to, and leaves no name for an erasure to miss.
#[test]
fn a_withdrawn_registration_leaves_no_name_behind() {
    let bench = Bench::new();
    append(&bench, &registration());
    bench.append(amended(71, 70, Stream::party(party(70)), None));
    assert_eq!(bench.store.party(party(70)).expect("readable"), None);
    bench.store.erase(&erased(200, 70, false), &Programme).expect("erased");
    assert_eq!(left(&bench, &PERSONAL), NONE);
}

/// What `verify` finds in a database, and in a backup of it.
fn found(bench: &Bench) -> (Result<Verified, Fault>, Result<Verified, Fault>, Vec<u8>) {
    let mut file = Vec::new();
    bench.store.backup(&mut file, NOW, &mut |_| {}).expect("written");
    let there = verify_export(&mut file.as_slice(), &mut |_| {}).expect("readable");
    (verify(&bench.store), there, file)
}

// Three texts, as above: two of the owner and the note. A registration that is told again has none either.
#[test]
fn a_backup_of_what_was_erased_is_whole_and_brings_nothing_back() {
    let bench = story();
    bench.store.erase(&erased(200, 70, true), &Programme).expect("erased");
    let once_more = amended(72, 70, Stream::party(party(70)), Some(owner(70, 70)));
    append(&bench, &told(once_more, &[("/record/name", NAME)]));
    let (here, there, file) = found(&bench);
    assert_eq!(here.clone().map(|it| it.texts_erased), Ok(4));
    assert_eq!(there, here);
    for word in PERSONAL {
        assert!(!file.windows(word.len()).any(|it| it == word.as_bytes()), "{word}");
    }
    let restored = Bench::new();
    let restore = restored.store.restore(&mut file.as_slice(), &Programme, NOW, &mut |_| {});
    assert_eq!(restore.map_err(|error| error.to_string()), here.map_err(|it| it.to_string()));
    assert_eq!(found(&restored).2, file);
    let row = |bench: &Bench| {
        let row = bench.store.party(party(70)).expect("readable").expect("it is there");
        (row.name, row.erased_on)
    };
    assert_eq!(row(&restored), row(&bench));
    let what = |bench: &Bench| {
        let mails = bench.store.reports_of(party(70), 0, 9).expect("readable");
        let mails: Vec<_> = mails.into_iter().map(|it| (it.state, it.digest, it.text)).collect();
        (bench.store.owned(party(70)).expect("readable"), mails)
    };
    assert_eq!(what(&restored), what(&bench));
    append(&restored, &told(owner(73, 70), &[("/name", NAME)]));
    assert_eq!(left(&restored, &PERSONAL), NONE);
}

// A reader of before keeps the words in the file, and then the erasure is not answered as done.
#[test]
fn what_others_still_read_is_not_called_erased() {
    let bench = story();
    let erase = || bench.store.erase(&erased(200, 70, true), &Programme);
    let meanwhile = bench.store.read(|conn| {
        diesel::sql_query("SELECT body AS line FROM fact_private").load::<Line>(conn)?;
        Ok(erase())
    });
    match (bench.database.kind(), meanwhile.expect("readable")) {
        (Kind::Sqlite, Err(StoreError::Unavailable(_))) => {}
        (Kind::Postgres, Ok(Appended::Created(_))) => return,
        (kind, other) => panic!("{kind:?}: {other:?}"),
    }
    let again = erase().expect("nobody reads any more");
    assert!(matches!(again, Appended::Same(_)), "{again:?}");
    assert_eq!(left(&bench, &PERSONAL), NONE);
}

#[test]
fn a_lost_text_is_told_from_an_erased_one() {
    let bench = story();
    bench.store.erase(&erased(200, 70, false), &Programme).expect("erased");
    let lost = "DELETE FROM fact_private WHERE body LIKE '%a later note%'";
    bench.store.write(|conn| Ok(conn.batch_execute(lost)?)).expect("deleted");
    let (here, there, file) = found(&bench);
    let (here, there) = (here.expect_err("found"), there.expect_err("found"));
    let id = Some(FactId(uid(8)));
    // Registered, installed, and then inspected three times: it is the note of the last.
    assert_eq!(here.at, FaultAt::Fact { stream: Stream::engine(engine(1)), seq: 5, id });
    assert!(here.what.contains("private text is missing"), "{here:?}");
    assert_eq!(Fault { line: None, ..there.clone() }, here);
    assert_eq!(there.line, Some(line_of(&file, 8)));
    let restore = Bench::new().store.restore(&mut file.as_slice(), &Programme, NOW, &mut |_| {});
    assert!(matches!(restore, Err(StoreError::Damaged(fault)) if fault == there));
}

// A row of before is kept aside and put back after the erasure, as from an old backup: of the person (first record
// of the party), of a note on the engine (registered, installed, inspected: the third), and of an amendment.
#[test]
fn a_text_that_was_put_back_after_its_erasure_is_found() {
    let engine = Stream::engine(engine(1));
    for (id, of, seq) in
        [(70, Stream::party(party(70)), 1), (6, engine, 3), (71, Stream::party(party(70)), 2)]
    {
        let bench = story();
        let run = |sql: &str| bench.store.write(|conn| Ok(conn.batch_execute(sql)?)).expect("run");
        let of_fact = match bench.database.kind() {
            Kind::Sqlite => {
                format!("(SELECT id FROM fact WHERE uid = x'{}')", hex(&uid(id).bytes()))
            }
            Kind::Postgres => {
                format!("(SELECT id FROM fact WHERE uid = '\\x{}')", hex(&uid(id).bytes()))
            }
        };
        run(&format!("CREATE TABLE kept AS SELECT * FROM fact_private WHERE fact_id = {of_fact}"));
        bench.store.erase(&erased(200, 70, true), &Programme).expect("erased");
        assert!(verify(&bench.store).is_ok(), "{:?}", verify(&bench.store));
        run("INSERT INTO fact_private SELECT * FROM kept; DROP TABLE kept");
        let (here, there, file) = found(&bench);
        let at = FaultAt::Fact { stream: of, seq, id: Some(FactId(uid(id))) };
        let here = here.expect_err("found");
        assert_eq!(here.at, at);
        assert!(here.what.contains("an erasure on record took it"), "{here:?}");
        assert_eq!(there.map_err(|it| (it.line, it.at)), Err((Some(line_of(&file, id)), at)));
    }
}

/// The number of the line of a backup that holds the fact of an id.
fn line_of(file: &[u8], n: u8) -> u64 {
    let text = std::str::from_utf8(file).expect("text");
    let id = format!(r#""uid":"{}""#, uid(n));
    let is_it = |line: &&str| line.starts_with(r#"{"fact":"#) && line.contains(&id);
    text.lines().zip(1..).find(|(line, _)| is_it(line)).expect("it is there").1
}

// The erasure of a party comes behind the facts whose texts it took: only at the end is one known to be lost.
#[test]
fn a_lost_name_is_told_from_an_erased_one() {
    let bench = story();
    let lost = "DELETE FROM fact_private WHERE body LIKE '%Quillfeather%'";
    bench.store.write(|conn| Ok(conn.batch_execute(lost)?)).expect("deleted");
    let (here, there, file) = found(&bench);
    let at = FaultAt::Fact { stream: Stream::party(party(70)), seq: 1, id: Some(FactId(uid(70))) };
    assert_eq!(here.map_err(|it| it.at), Err(at));
    assert_eq!(there.map_err(|it| (it.line, it.at)), Err((Some(line_of(&file, 70)), at)));
}

#[test]
fn an_erased_workshop_loses_its_keys() {
    let bench = Bench::new();
    let content = PartyRegistered { party: party(90), role: PartyRole::Shop };
    let shop = fact(90, "2026-01-01", Content::PartyRegistered(content));
    append(&bench, &told(shop, &[("/name", NAME)]));
    let key = NewKey {
        hash: [1; 32],
        role: Role::Shop,
        party: Some(party(90)),
        label: "tablet of Ermintrude",
        created_at: NOW,
        expires_at: None,
    };
    bench.store.add_key(&key).expect("added");
    bench.store.erase(&erased(200, 90, false), &Programme).expect("erased");
    assert_eq!(bench.store.principal(&[1; 32], NOW).expect("readable"), None);
    assert_eq!(left(&bench, &PERSONAL), NONE);
}

// By hand: the aircraft is owner 70's from 1 January up to and without 1 June; the engine is in it all the
// time, and on its own owner's account from 1 April.
#[test]
fn an_owner_owns_from_day_to_day() {
    let bench = story();
    bench.append(owned(9, "2026-04-01", Host::Engine(engine(1)), 73));
    bench.append(read(10, "2026-02-15", Host::Engine(engine(1)), "515"));
    let owned = bench.store.owned(party(70)).expect("readable");
    let owned: Vec<_> = owned.iter().map(|it| (it.of, it.from, it.until)).collect();
    assert_eq!(
        owned,
        [
            (Stream::aircraft(aircraft(50)), day("2026-01-01"), Some(day("2026-06-01"))),
            (Stream::engine(engine(1)), day("2026-01-01"), Some(day("2026-04-01"))),
        ]
    );
}
