//! Posts a second with every answer durable, beside the same rows written by hand.
//!
//!     cargo bench -p gudgeon-store --bench posts
//!
//! Each post is an inspection of an engine of thirty items, three of them done. By hand means the same rows
//! from the same number of connections, and on `SQLite` as many posts in one commit as ours had on average,
//! so that both wait for the disk equally often. The bench runs on the disk of the temporary folder as it is,
//! and once more with 2 ms added to every sync, by a library that it compiles and preloads.

#![expect(clippy::print_stdout, reason = "a bench prints what it measured")]
#![expect(clippy::float_arithmetic, reason = "rates are for people to read")]
#![expect(clippy::expect_used, reason = "a bench that cannot go on has failed")]

mod by_hand;
mod sample;
#[path = "../../src/schema.rs"]
mod schema;

use diesel::prelude::*;
use gudgeon_databases::{Database, Folder, Server};
use gudgeon_store::Store;
use sample::{Types, next_inspection};
use std::num::NonZeroUsize;
use std::path::Path;
use std::process::Command;
use std::time::Instant;
use std::{env, fs, thread};

/// Items that each inspection does.
const ITEMS_DONE: i64 = 3;
const POSTS: u32 = 1_280;
const CLIENTS: [u32; 3] = [1, 8, 64];
const ENGINES: u32 = 64;
/// How often many clients are measured, for the machine is not always as fast: one after the other, in the same run.
const ROUNDS: usize = 7;
const DELAY: &str = "SYNC_DELAY_US";
const COUNT: &str = "SYNC_COUNT";

fn main() {
    if env::var_os(COUNT).is_some() {
        measure();
        return;
    }
    let folder = Folder::new();
    let library = folder.path().join("late_sync.so");
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/posts/late_sync.c");
    let mut compiler = Command::new("cc");
    compiler.args(["-shared", "-fPIC", "-o"]).arg(&library).arg(source).arg("-ldl");
    assert!(compiler.status().expect("a C compiler").success(), "the library compiles");
    for delay in ["0", "2000"] {
        let this = env::current_exe().expect("a program knows where it is");
        let mut again = Command::new(this);
        again.env("LD_PRELOAD", &library).env(DELAY, delay);
        again.env(COUNT, folder.path().join(format!("syncs-{delay}")));
        assert!(again.status().expect("it runs again").success(), "the measurement went through");
    }
    // Its server runs as another user, who could not count in our folder.
    heading("nothing");
    let server = Server::start_durable();
    for clients in CLIENTS {
        let (ours, by_hand) = on_postgres(&server, clients);
        row("PostgreSQL", clients, ours, None, by_hand);
    }
}

fn measure() {
    let delay = env::var(DELAY).unwrap_or_default();
    heading(&format!("{delay} us"));
    for clients in CLIENTS {
        if clients < ENGINES {
            grouped(clients);
            continue;
        }
        let mut ratios: Vec<f64> =
            (0..ROUNDS).map(|_| grouped(clients) / single(clients)).collect();
        ratios.sort_by(f64::total_cmp);
        let printed: Vec<String> = ratios.iter().map(|it| format!("{it:.1}")).collect();
        println!("grouped / one a commit, from the least: {}", printed.join(", "));
    }
}

fn grouped(clients: u32) -> f64 {
    let (ours, a_sync, by_hand) = on_sqlite(clients, Store::GROUP_MAX);
    row("SQLite", clients, ours, Some(a_sync), by_hand);
    ours
}

fn single(clients: u32) -> f64 {
    let (ours, a_sync, by_hand) = on_sqlite(clients, NonZeroUsize::MIN);
    row("SQLite, one a commit", clients, ours, Some(a_sync), by_hand);
    ours
}

fn heading(added: &str) {
    println!("\n{POSTS} posts, {added} added to every sync");
    println!("                      clients   posts/s  posts/sync   by hand   ours/by hand");
}

fn row(name: &str, clients: u32, ours: f64, a_sync: Option<f64>, by_hand: f64) {
    let a_sync = a_sync.map_or_else(|| "-".to_owned(), |it| format!("{it:.1}"));
    println!("{name:22} {clients:6} {ours:9.0} {a_sync:>11} {by_hand:9.0} {:14.2}", ours / by_hand);
}

/// Posts a second of ours, how many of them a sync was for, and posts a second by hand.
fn on_sqlite(clients: u32, group_max: NonZeroUsize) -> (f64, f64, f64) {
    let (ours, hand) = (Database::sqlite(migrate), Database::sqlite(migrate));
    let known = fill(hand.url());
    fill(ours.url());
    let store = Store::open(ours.url(), false).expect("it opens").with_group_max(group_max);
    let before = syncs();
    let rate = ours_posted(&store, clients);
    let a_sync = f64::from(POSTS) / f64::from(u32::try_from(syncs() - before).expect("few").max(1));
    drop(store);

    let connect = |database: &Database| {
        let path = database.folder().join("fleet.db");
        let mut conn = SqliteConnection::establish(path.to_str().expect("plain")).expect("opens");
        let settings = "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;";
        diesel::connection::SimpleConnection::batch_execute(&mut conn, settings).expect("set");
        conn
    };
    let rows = by_hand::sqlite::rows(&mut connect(&ours), known).expect("readable");
    let mut conn = connect(&hand);
    let size = format!("{a_sync:.0}").parse::<usize>().expect("a number").max(1);
    let start = Instant::now();
    for posts in rows.chunks(size) {
        by_hand::sqlite::write(&mut conn, posts).expect("written");
    }
    (rate, a_sync, f64::from(POSTS) / start.elapsed().as_secs_f64())
}

/// Posts a second of ours, and by hand from as many connections.
fn on_postgres(server: &Server, clients: u32) -> (f64, f64) {
    let create = |name: &str| {
        let url = server.create(&format!("{name}_{clients}"), None);
        migrate(&url);
        let known = fill(&url);
        (url, known)
    };
    let ((ours, known), (hand, _)) = (create("ours"), create("hand"));
    let connections = usize::try_from(clients).ok().and_then(NonZeroUsize::new).expect("some");
    let store = Store::open_with(&ours, false, connections).expect("it opens");
    let rate = ours_posted(&store, clients);
    let connect = |url: &str| PgConnection::establish(url).expect("it opens");
    let rows = by_hand::postgres::rows(&mut connect(&ours), known).expect("readable");
    // Each connection writes about engines of its own, in their order.
    let mut of_client: Vec<Vec<by_hand::Rows>> = (0..clients).map(|_| Vec::new()).collect();
    for row in rows {
        let client = usize::try_from(row.engine()).expect("positive") % of_client.len();
        of_client.get_mut(client).expect("there is one").push(row);
    }
    let conns: Vec<_> = of_client.iter().map(|_| connect(&hand)).collect();
    let start = Instant::now();
    thread::scope(|scope| {
        for (rows, mut conn) in of_client.iter().zip(conns) {
            scope.spawn(move || {
                for post in rows.chunks(1) {
                    by_hand::postgres::write(&mut conn, post).expect("written");
                }
            });
        }
    });
    (rate, f64::from(POSTS) / start.elapsed().as_secs_f64())
}

/// Posts all from so many clients at once, each about engines of its own; gives posts a second.
fn ours_posted(store: &Store, clients: u32) -> f64 {
    let types = Types::new();
    let each = POSTS / clients;
    let own = ENGINES / clients;
    let start = Instant::now();
    thread::scope(|scope| {
        for client in 0..clients {
            let types = &types;
            scope.spawn(move || {
                for number in 0..each {
                    let engine = client * own + number % own;
                    let post = next_inspection(engine, number / own + 1);
                    store.append(&post, types).expect("it is kept");
                }
            });
        }
    });
    f64::from(POSTS) / start.elapsed().as_secs_f64()
}

fn migrate(url: &str) {
    Store::open(url, true).and_then(|store| store.migrate()).expect("a new database");
}

fn fill(url: &str) -> i64 {
    Types::new().fill(&Store::open(url, false).expect("it opens"), ENGINES)
}

/// Syncs of this program so far.
fn syncs() -> u64 {
    env::var_os(COUNT).and_then(|path| fs::metadata(path).ok()).map_or(0, |file| file.len())
}
